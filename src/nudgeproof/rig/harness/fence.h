/* What keeps a firmware inside its process: limits everywhere, and a filter of system calls where the system has one.
 * Text that it prints goes to the file that is standard error, at most so many bytes of it.
 */
#ifndef RIG_FENCE_H
#define RIG_FENCE_H

#include <stddef.h>

static void (*fence_find)(const char *, const char *);

#if defined(__linux__)
#include <linux/audit.h>
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <sys/prctl.h>
#include <sys/syscall.h>

static void fence_caught(int number, siginfo_t *info, void *context) {
    static const int forks[] = {
#ifdef SYS_fork
        SYS_fork, SYS_vfork,
#endif
#ifdef SYS_clone3
        SYS_clone3,
#endif
        SYS_clone, SYS_execve};
    (void)number;
    (void)context;
    for (size_t i = 0; i < sizeof forks / sizeof *forks; i++)
        if (info->si_syscall == forks[i]) fence_find("forks", "it wants a process or a thread of its own");
    fence_find("leaves the rig", "it wants a file, the network or another process");
}

/* System calls of another kind of processor have other numbers: those of 32 bits on one of 64, for one. */
#if defined(__x86_64__)
#define FENCE_PROCESSOR AUDIT_ARCH_X86_64
#elif defined(__aarch64__)
#define FENCE_PROCESSOR AUDIT_ARCH_AARCH64
#elif defined(__i386__)
#define FENCE_PROCESSOR AUDIT_ARCH_I386
#elif defined(__riscv) && __riscv_xlen == 64
#define FENCE_PROCESSOR AUDIT_ARCH_RISCV64
#endif
#if __BYTE_ORDER__ == __ORDER_BIG_ENDIAN__
enum { FENCE_LOW_HALF = 4 };
#else
enum { FENCE_LOW_HALF = 0 };
#endif

#define FENCE_ALLOW(name) BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, SYS_##name, 0, 1), BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ALLOW)

static void fence_calls(void) {
    struct sock_filter filter[] = {
#ifdef FENCE_PROCESSOR
        BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, arch)),
        BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, FENCE_PROCESSOR, 1, 0),
        BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_TRAP),
#endif
        BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, nr)),
        FENCE_ALLOW(write), FENCE_ALLOW(writev), FENCE_ALLOW(read), FENCE_ALLOW(lseek), FENCE_ALLOW(exit_group),
        FENCE_ALLOW(exit), FENCE_ALLOW(rt_sigreturn), FENCE_ALLOW(rt_sigaction), FENCE_ALLOW(rt_sigprocmask),
        FENCE_ALLOW(brk), FENCE_ALLOW(mmap), FENCE_ALLOW(munmap), FENCE_ALLOW(mremap), FENCE_ALLOW(mprotect),
        FENCE_ALLOW(madvise), FENCE_ALLOW(futex), FENCE_ALLOW(getpid), FENCE_ALLOW(gettid),
        FENCE_ALLOW(fstat), FENCE_ALLOW(ioctl), FENCE_ALLOW(close), FENCE_ALLOW(clock_gettime), FENCE_ALLOW(getrandom),
        FENCE_ALLOW(nanosleep), FENCE_ALLOW(clock_nanosleep), FENCE_ALLOW(gettimeofday),
#ifdef SYS_newfstatat
        FENCE_ALLOW(newfstatat),
#endif
#ifdef SYS_time
        FENCE_ALLOW(time), FENCE_ALLOW(pause),
#endif
        /* A signal to itself, as `raise` and `abort` send it, and to nobody else. */
        BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, SYS_tgkill, 0, 3),
        BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, args[0]) + FENCE_LOW_HALF),
        BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, (unsigned)getpid(), 0, 1),
        BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ALLOW),
        BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_TRAP)};
    struct sock_fprog program = {sizeof filter / sizeof *filter, filter};
    struct sigaction action = {.sa_sigaction = fence_caught, .sa_flags = SA_SIGINFO};
    sigaction(SIGSYS, &action, 0);
    if (prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) == 0) prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &program);
}
#else
static void fence_calls(void) {}
#endif

static void fence(rlim_t most_said, void (*find)(const char *, const char *)) {
    static const struct { int which; rlim_t most; } limits[] = {
        {RLIMIT_CORE, 0}, {RLIMIT_AS, 1ul << 30}, {RLIMIT_NOFILE, 4}};
    struct rlimit said = {most_said, most_said};
    fence_find = find;
    for (size_t i = 0; i < sizeof limits / sizeof *limits; i++) {
        struct rlimit limit = {limits[i].most, limits[i].most};
        setrlimit((__typeof__(RLIMIT_AS))limits[i].which, &limit);
    }
    setrlimit(RLIMIT_FSIZE, &said);
    /* What is printed is text of the firmware, and never part of the record. */
    dup2(2, 1);
    fence_calls();
}
#endif
