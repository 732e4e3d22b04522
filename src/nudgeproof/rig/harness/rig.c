/* The rig: a firmware in virtual time. One process reads what happens outside; each power-up is a fork of it that has
 * never run the firmware, so its RAM is clean. What outlasts a power-up is in the shared world: time, outside, memory,
 * and the record. A firmware that crashes, hangs or forks takes only its own process with it.
 */
#define _GNU_SOURCE
#include "inside.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/resource.h>
#include <sys/time.h>
#include <sys/wait.h>
#include <unistd.h>

#include "fence.h"

enum { CHANNELS = 64, BYTES = 65536, NEVER_SET = -1 };
#define NEVER UINT64_MAX
enum kind { SUPPLY, INPUT_PIN, OUTPUT_PIN, ASLEEP, WRITING };
enum ended { NOT_YET, AT_END, CUT, RESET, FOUND };

struct event { uint64_t at; unsigned channel, level; };
struct row { uint64_t at, levels; };
struct channel { enum kind kind; unsigned pin, low, high; };

/* Set before the first start and never changed. */
static struct channel channels[CHANNELS];
static unsigned n_channels, bytes = 0;
static struct event *events;
static size_t n_events;
static uint64_t end_us, block_us = 1, call_us = 1, wakes_us, hold_us, start_us, write_us, spin_us = 1000000, lets_go_us;
static uint64_t clock_starts_ms, clock_mask = 0xffffffffu, wall_ms = 20000, seed;
static size_t most_rows = 200000;
static int latch_pin = NEVER_SET;
static uint64_t feeds;
static rlim_t most_said = 65536;
uint64_t rig_step_us = 1000;
unsigned rig_external[2] = {26, 27};
__attribute__((weak)) int rig_starts_off = 0;

/* What outlasts a power-up. */
static struct world {
    uint64_t now, cut_at, latch_ends;
    size_t next_event, n_rows;
    int supply, feeding, ended, cause, storing_at;
    uint64_t stored_by;
    uint8_t storing, memory[BYTES], input[RIG_PINS], driven[RIG_PINS];
    uint64_t levels;
    char finding[32], detail[160];
} nowhere, *w = &nowhere; /* nowhere: where what the firmware constructs comes before `begin` all the same */
static struct row *rows;

/* RAM of the controller. */
static uint64_t served, kept_awake_at = NEVER, next_look, boot, asleep_us, last_call, watch_us, watch_at = NEVER;
static uint8_t out[RIG_PINS], drives[RIG_PINS], pulled[RIG_PINS], edges[RIG_PINS], group[RIG_PINS];
static rig_handler handlers[RIG_PINS];
static uint64_t pending_pins, low_pins;
static unsigned pending_timers, running_timers;
static struct timer { uint64_t at, every; int deep; rig_handler handler; } timers[RIG_TIMERS];
static int is_on = 1, runs, sleeps; /* sleeps: 1 lightly, 2 deeply */
void (*rig_look)(void);

static void leave(int how) {
    w->ended = how;
    _exit(0);
}

static void find(const char *name, const char *detail) {
    snprintf(w->finding, sizeof w->finding, "%s", name);
    snprintf(w->detail, sizeof w->detail, "%s", detail);
    leave(FOUND);
}

void rig_misuse(const char *what, unsigned value) {
    char text[120];
    snprintf(text, sizeof text, "%s %u", what, value);
    find("asks amiss", text);
}

/* -- the record ---------------------------------------------------------------------------------------------- */

static int channel_level(const struct channel *c) {
    if (c->kind == SUPPLY) return w->supply;
    if (c->kind == ASLEEP) return runs && (unsigned)sleeps >= c->low;
    if (c->kind == WRITING) return runs && w->storing_at != NEVER_SET;
    if (c->kind == INPUT_PIN) return w->input[c->pin] == c->high;
    return runs && out[c->pin] >= c->low && out[c->pin] <= c->high;
}

static void note(void) {
    uint64_t levels = 0;
    for (unsigned i = 0; i < n_channels; i++) levels |= (uint64_t)channel_level(&channels[i]) << i;
    if (levels == w->levels && w->n_rows) return;
    w->levels = levels;
    if (w->n_rows && rows[w->n_rows - 1].at == w->now) {
        rows[w->n_rows - 1].levels = levels;
        return;
    }
    if (w->n_rows == most_rows) {
        if (runs) find("floods", "more changes than are recorded");
        return;
    }
    rows[w->n_rows] = (struct row){w->now, levels};
    /* Whoever kills this process finds whole rows. */
    __asm__ volatile("" ::: "memory");
    w->n_rows++;
}

/* -- outside: supply and pins --------------------------------------------------------------------------------- */

static int is_fed(void) {
    if (!w->supply) return 0;
    if (latch_pin == NEVER_SET) return 1;
    if (runs && out[latch_pin]) return 1;
    if (w->now < w->latch_ends) return 1;
    for (unsigned i = 0; i < n_channels; i++)
        if (feeds >> i & 1 && channel_level(&channels[i])) return 1;
    return 0;
}

static void watch_supply(void) {
    int fed = is_fed();
    if (fed) w->cut_at = NEVER;
    else if (w->feeding) w->cut_at = w->now + hold_us;
    w->feeding = fed;
}

static void edge(unsigned pin, unsigned level) {
    if (level) low_pins &= ~(1ull << pin);
    else low_pins |= 1ull << pin;
    if (edges[pin] & (level ? RIG_RISING : RIG_FALLING)) pending_pins |= 1ull << pin;
}

static void happens(const struct event *e) {
    struct channel *c = &channels[e->channel];
    if (c->kind == SUPPLY) {
        w->supply = (int)e->level;
    } else {
        unsigned level = e->level ? c->high : !c->high;
        if (level != w->input[c->pin]) {
            w->input[c->pin] = (uint8_t)level;
            if (runs) edge(c->pin, level);
        }
    }
    watch_supply();
    note();
}

static uint64_t min(uint64_t a, uint64_t b) { return a < b ? a : b; }

static uint64_t next_outside(void) {
    uint64_t at = w->next_event < n_events ? events[w->next_event].at : NEVER;
    at = min(at, w->cut_at);
    if (w->latch_ends > w->now) at = min(at, w->latch_ends);
    return min(at, end_us);
}

/* -- time in the controller ----------------------------------------------------------------------------------- */

static uint64_t soonest(int deep) {
    uint64_t at = next_outside();
    for (unsigned left = running_timers; left; left &= left - 1) {
        struct timer *timer = &timers[__builtin_ctz(left)];
        if (!deep || timer->deep) at = min(at, timer->at);
    }
    if (w->storing_at != NEVER_SET) at = min(at, w->stored_by);
    return min(at, watch_at);
}

/* All that is due now. What ends the power-up ends the process. */
static void due(int deep) {
    if (w->storing_at != NEVER_SET && w->stored_by <= w->now) {
        w->memory[w->storing_at] = w->storing;
        w->storing_at = NEVER_SET;
        note();
    }
    if (w->latch_ends && w->latch_ends <= w->now) {
        w->latch_ends = 0;
        watch_supply();
    }
    while (w->next_event < n_events && events[w->next_event].at <= w->now) happens(&events[w->next_event++]);
    if (w->cut_at <= w->now) {
        w->cause = RIG_POWER;
        leave(CUT);
    }
    if (end_us <= w->now) leave(AT_END);
    if (watch_at <= w->now) {
        w->cause = RIG_WATCHDOG;
        leave(RESET);
    }
    for (unsigned left = running_timers; left; left &= left - 1) {
        struct timer *timer = &timers[__builtin_ctz(left)];
        while (timer->at <= w->now && (!deep || timer->deep)) {
            pending_timers |= left & -left;
            timer->at = timer->every ? timer->at + timer->every : NEVER;
        }
    }
}

static uint64_t asking(void) {
    uint64_t low = 0;
    for (uint64_t left = low_pins; left; left &= left - 1) {
        int pin = __builtin_ctzll(left);
        if (edges[pin] & RIG_LOW) low |= 1ull << pin;
    }
    return pending_pins | low;
}

static int is_armed(void) {
    for (int i = 0; i < RIG_PINS; i++)
        if (handlers[i]) return 1;
    for (int i = 0; i < RIG_TIMERS; i++)
        if (timers[i].handler && timers[i].at != NEVER) return 1;
    return 0;
}

/* Time passes, and nothing is delivered. */
static void walk(uint64_t until, int deep) {
    while (w->now < until) {
        uint64_t at = soonest(deep);
        w->now = at > until ? until : at > w->now ? at : w->now;
        due(deep);
    }
}

static void call_handler(rig_handler handler) {
    is_on = 0;
    served++;
    walk(w->now + call_us, 0);
    last_call = w->now;
    handler();
    if (rig_look) rig_look();
    is_on = 1;
}

static void deliver(void) {
    while (is_on) {
        uint64_t pins = asking();
        if (pins) {
            int pin = __builtin_ctzll(pins);
            pending_pins &= ~(1ull << pin);
            for (int i = 0; group[pin] && i < RIG_PINS; i++)
                if (group[i] == group[pin]) pending_pins &= ~(1ull << i);
            if (handlers[pin]) call_handler(handlers[pin]);
        } else if (pending_timers) {
            int slot = __builtin_ctz(pending_timers);
            rig_handler handler = timers[slot].handler;
            pending_timers &= ~(1u << slot);
            if (slot == RIG_ALARM) timers[slot].handler = 0, running_timers &= ~1u;
            if (handler) call_handler(handler);
        } else {
            break;
        }
    }
}

static void plan(void) { next_look = min(soonest(0), last_call + spin_us); }

static void pass(uint64_t until) {
    while (w->now < until) {
        uint64_t at = soonest(0);
        walk(min(until, at > w->now ? at : w->now + 1), 0);
        deliver();
    }
}

static void go_on(uint64_t us) {
    if (!runs) return;
    pass(w->now + us);
    due(0);
    deliver();
    plan();
}

/* Most calls meet nothing on their way: what is due next, or asks to be looked at, lies behind `next_look`. */
static void called(uint64_t us) {
    if (rig_look) rig_look();
    if (us < next_look - w->now && w->now < next_look) {
        w->now += us;
    } else {
        go_on(us);
    }
    last_call = w->now;
}

void rig_called(void) { called(call_us); }
uint64_t rig_now(void) { return w->now; }
void rig_look_soon(void) { next_look = 0; }

#ifdef RIG_BLOCKS
void __sanitizer_cov_trace_pc(void);
void __sanitizer_cov_trace_pc(void) {
    if (w->now + block_us < next_look) {
        w->now += block_us;
        return;
    }
    if (rig_look) rig_look();
    go_on(block_us);
    if (w->now - last_call >= spin_us) {
        if ((!is_on || !is_armed()) && watch_at == NEVER)
            find("spins", "it runs in a loop without a call, and no interrupt can end it");
        last_call = w->now;
    }
}
#endif

/* -- the calls ------------------------------------------------------------------------------------------------ */

static uint64_t clock_us(void) { return w->now - boot - asleep_us + clock_starts_ms * 1000; }

uint32_t rig_us(void) {
    rig_called();
    return (uint32_t)(clock_us() & clock_mask);
}

uint32_t rig_ms(void) {
    rig_called();
    return (uint32_t)(clock_us() / 1000 & clock_mask);
}

static void check_pin(unsigned pin) {
    if (pin >= RIG_PINS) rig_misuse("there is no pin", pin);
}

int rig_level_of(unsigned pin) {
    check_pin(pin);
    if (drives[pin]) return out[pin] != 0;
    return w->driven[pin] ? w->input[pin] : pulled[pin];
}

int rig_read(unsigned pin) {
    rig_called();
    return rig_level_of(pin);
}

void rig_drive(unsigned pin, int is_driven, unsigned level) {
    check_pin(pin);
    if (level > 255) rig_misuse("a level is at most 255, not", level);
    drives[pin] = is_driven != 0;
    if (out[pin] == level) return;
    if ((int)pin == latch_pin && out[pin] && !level) w->latch_ends = w->now + lets_go_us;
    out[pin] = (uint8_t)level;
    if ((int)pin == latch_pin) {
        watch_supply();
        next_look = 0;
    }
    note();
}

void rig_level(unsigned pin, unsigned level) {
    rig_called();
    rig_drive(pin, 1, level);
}

void rig_write(unsigned pin, int level) { rig_level(pin, level ? 255 : 0); }

void rig_pull(unsigned pin, int up) {
    rig_called();
    rig_release(pin, up);
}

void rig_on_edge(unsigned pin, int which, rig_handler handler) {
    rig_called();
    rig_arm(pin, which, handler);
}

void rig_arm(unsigned pin, int which, rig_handler handler) {
    check_pin(pin);
    edges[pin] = (uint8_t)(handler ? which : 0);
    handlers[pin] = handler;
    if (!handler) pending_pins &= ~(1ull << pin);
    if (rig_level_of(pin)) low_pins &= ~(1ull << pin);
    else low_pins |= 1ull << pin;
    next_look = 0;
}

void rig_forget(unsigned pin) { pending_pins &= ~(1ull << pin); }

void rig_release(unsigned pin, int up) {
    rig_drive(pin, 0, 0);
    pulled[pin] = up != 0;
}

void rig_clear(unsigned pin) {
    rig_called();
    check_pin(pin);
    pending_pins &= ~(1ull << pin);
}

void rig_group(unsigned pin, int number) { group[pin] = (uint8_t)number; }
int rig_is_pending(unsigned pin) { return (int)(pending_pins >> pin & 1); }
int rig_is_on(void) { return is_on; }

void rig_timer(int slot, uint64_t first, uint64_t every, int deep, rig_handler handler) {
    timers[slot] = (struct timer){w->now + first, every, deep, handler};
    running_timers |= 1u << slot;
    if (!handler) {
        running_timers &= ~(1u << slot);
        pending_timers &= ~(1u << slot);
    }
    plan();
}

void rig_alarm(uint32_t us, rig_handler handler) {
    rig_called();
    pending_timers &= ~(1u << RIG_ALARM);
    rig_timer(RIG_ALARM, us, 0, 0, handler);
}

void rig_rouse(uint32_t ms, rig_handler handler) {
    rig_called();
    if (!ms && handler) rig_misuse("a time to be roused after is more than", 0);
    rig_timer(RIG_ROUSE, ms * 1000ull, ms * 1000ull, 1, handler);
}

/* What is pending is delivered at once; an instruction to sleep that comes next doesn't sleep then, as on real ones, where
 * one more instruction is carried out before the handler.
 */
void rig_interrupts(int on) {
    rig_called();
    is_on = on != 0;
    if (!is_on || !(asking() || pending_timers)) return;
    deliver();
    plan();
    last_call = w->now;
    kept_awake_at = w->now;
}

static void sleep_until_asked(int depth, int only_if_on) {
    uint64_t began = w->now;
    if (rig_look) rig_look();
    if (kept_awake_at == w->now) return;
    if (!((asking() || pending_timers) && (is_on || !only_if_on))) {
        sleeps = depth == RIG_DEEP ? 2 : 1;
        note();
    }
    while (!((asking() || pending_timers) && (is_on || !only_if_on))) {
        uint64_t at = soonest(depth == RIG_DEEP);
        if (at > w->now) w->now = at;
        due(depth == RIG_DEEP);
    }
    if (w->now > began) walk(w->now + wakes_us, depth == RIG_DEEP);
    if (depth == RIG_DEEP) {
        asleep_us += w->now - began;
        for (int i = 0; i < RIG_TIMERS; i++)
            if (timers[i].handler && !timers[i].deep && timers[i].at != NEVER) timers[i].at += w->now - began;
    }
    last_call = w->now;
    sleeps = 0;
    note();
    deliver();
    plan();
}

void rig_sleep(int depth) { sleep_until_asked(depth, 0); }
void rig_sleep_only_if_on(int depth) { sleep_until_asked(depth, 1); }

void rig_delay(uint32_t us) { called(us ? us : call_us); }

void rig_watch(uint32_t ms) {
    rig_called();
    watch_us = ms * 1000ull;
    watch_at = ms ? w->now + watch_us : NEVER;
    plan();
}

void rig_feed(void) {
    rig_called();
    if (watch_at != NEVER) watch_at = w->now + watch_us;
    plan();
}

void rig_wait(uint64_t until) {
    if (until > w->now) called(until - w->now);
}

static void check_byte(unsigned at) {
    if (at >= bytes) rig_misuse("memory has no byte", at);
}

void rig_finish(void) {
    rig_called();
    while (w->storing_at != NEVER_SET) pass(w->stored_by);
}

uint8_t rig_load(unsigned at) {
    check_byte(at);
    rig_finish();
    return w->memory[at];
}

static uint8_t garbage(unsigned at) {
    uint64_t x = (seed << 32 ^ w->now << 16 ^ at) * 0x9e3779b97f4a7c15ull;
    x = (x ^ x >> 29) * 0xbf58476d1ce4e5b9ull;
    return (uint8_t)(x >> 32);
}

/* Until it is written the byte is garbage, as it stays if power is cut meanwhile. */
void rig_store(unsigned at, uint8_t byte) {
    check_byte(at);
    rig_finish();
    if (!write_us) {
        w->memory[at] = byte;
        return;
    }
    w->memory[at] = garbage(at);
    w->storing = byte;
    w->storing_at = (int)at;
    w->stored_by = w->now + write_us;
    note();
    plan();
}

int rig_cause(void) {
    rig_called();
    return w->cause;
}

/* -- power-ups ------------------------------------------------------------------------------------------------ */

static uint64_t ticked_at = NEVER;
static int still;

/* A loop in which no time passes. Where blocks pass time it is an empty one, `for (;;) {}`, since compilers leave empty blocks
 * unmarked: it never ends, and what happens is in handlers. Elsewhere it may be one that waits for a handler, so it is looked
 * at again after each.
 */
static void stand_still(void) {
    uint64_t before = served;
    if ((!is_on || !is_armed()) && watch_at == NEVER) find("spins", "it runs in a loop in which no time passes");
    deliver();
#ifdef RIG_BLOCKS
    (void)before;
    for (;;) go_on(NEVER / 2 - w->now);
#else
    while (served == before) {
        uint64_t at = soonest(0);
        walk(at > w->now ? at : w->now + 1, 0);
        deliver();
    }
    plan();
#endif
}

static void tick(int signal_number) {
    (void)signal_number;
    if (w->now != ticked_at) {
        still = 0;
    } else if (++still == 5) {
        still = 0;
        stand_still();
    }
    ticked_at = w->now;
}

static void power_up(void) {
    struct itimerval every = {{0, 10000}, {0, 10000}};
    signal(SIGVTALRM, tick);
    setitimer(ITIMER_VIRTUAL, &every, 0);
    fence(most_said, find);
    runs = 1;
    is_on = !rig_starts_off;
    boot = last_call = w->now;
    for (unsigned i = 0; i < RIG_PINS; i++)
        if (!w->input[i]) low_pins |= 1ull << i;
    watch_supply();
    due(0);
    note();
    plan();
}

/* Only a power-up comes here. */
int main(void) {
    rig_firmware();
    /* A controller whose main is over stands still. */
    snprintf(w->finding, sizeof w->finding, "%s", "returns");
    snprintf(w->detail, sizeof w->detail, "%s", "its main function ended; the controller stands still from then on");
    is_on = 0;
    for (;;) go_on(NEVER - w->now - 1);
}

/* Waits without power, or for the start; 0 at the end of the recording. */
static int wait_for_power(int by_itself) {
    uint64_t starts = by_itself ? w->now + start_us : NEVER;
    for (;;) {
        if (starts == NEVER && w->feeding) starts = w->now + start_us;
        if (starts <= w->now) return 1;
        uint64_t at = min(next_outside(), starts);
        if (at > w->now) w->now = at;
        if (w->latch_ends && w->latch_ends <= w->now) w->latch_ends = 0;
        while (w->next_event < n_events && events[w->next_event].at <= w->now) happens(&events[w->next_event++]);
        watch_supply();
        if (w->cut_at <= w->now) {
            starts = NEVER;
            w->cut_at = NEVER;
        }
        if (end_us <= w->now) return 0;
    }
}

static pid_t child;
static void too_long(int signal_number) {
    (void)signal_number;
    if (child > 0) kill(child, SIGKILL);
    snprintf(w->finding, sizeof w->finding, "%s", "takes too long");
    snprintf(w->detail, sizeof w->detail, "%s", "the time on the wall was over before the recording was");
}

/* 1 in the process of a power-up, which goes on from there; 0 once all is over. */
static int run_all(void) {
    struct itimerval wall = {{0, 0}, {(time_t)(wall_ms / 1000), (suseconds_t)(wall_ms % 1000 * 1000)}};
    struct sigaction action = {.sa_handler = too_long};
    int by_itself = 0, starts = 0, status;
    sigaction(SIGALRM, &action, 0);
    setitimer(ITIMER_REAL, &wall, 0);
    w->feeding = is_fed();
    note();
    while (!w->finding[0] && wait_for_power(by_itself)) {
        uint64_t began = w->now;
        w->ended = NOT_YET;
        child = fork();
        if (child == 0) {
            power_up();
            return 1;
        } else if (child < 0) {
            snprintf(w->finding, sizeof w->finding, "%s", "no room");
            snprintf(w->detail, sizeof w->detail, "%s", "no further process could be started");
            return 0;
        }
        while (waitpid(child, &status, 0) < 0 && errno == EINTR) {}
        child = 0;
        starts = w->ended == RESET && w->now < began + 100000 ? starts + 1 : 0;
        if (WIFSIGNALED(status) && WTERMSIG(status) == SIGSYS && !w->finding[0]) {
            /* It came while signals were blocked, as when a library starts a process. */
            snprintf(w->finding, sizeof w->finding, "%s", "leaves the rig");
            snprintf(w->detail, sizeof w->detail, "%s", "it wants a file, the network or another process");
        } else if (WIFSIGNALED(status) && !w->finding[0]) {
            const char *name = WTERMSIG(status) == SIGXFSZ ? "floods" : "crashes";
            snprintf(w->finding, sizeof w->finding, "%s", name);
            snprintf(w->detail, sizeof w->detail, "signal %d: %.100s", WTERMSIG(status), strsignal(WTERMSIG(status)));
        } else if (w->ended == NOT_YET && !w->finding[0]) {
            snprintf(w->finding, sizeof w->finding, "%s", "exits");
            snprintf(w->detail, sizeof w->detail, "%s", "it ended its process, which no controller can");
        } else if (starts > 200 && !w->finding[0]) {
            snprintf(w->finding, sizeof w->finding, "%s", "resets");
            snprintf(w->detail, sizeof w->detail, "%s", "two hundred starts in a row lasted less than 100 ms each");
        }
        if (w->storing_at != NEVER_SET) w->storing_at = NEVER_SET;
        w->latch_ends = 0;
        if (w->ended == AT_END) break;
        by_itself = w->ended == RESET;
        /* A reset lets go of the latch: what then isn't fed has its hold-up time from there. */
        w->cut_at = NEVER;
        w->feeding = by_itself || is_fed();
        watch_supply();
        note();
    }
    setitimer(ITIMER_REAL, &(struct itimerval){{0, 0}, {0, 0}}, 0);
    return 0;
}

/* -- what it is told, and what it tells ----------------------------------------------------------------------- */

static void bad_line(const char *line) {
    fprintf(stderr, "rig: not understood: %s", line);
    exit(3);
}

static void read_all(void) {
    static char line[2 * BYTES + 64];
    size_t room = 0;
    while (fgets(line, sizeof line, stdin)) {
        char word[32];
        unsigned long long a = 0, b = 0, c = 0;
        int n;
        if (line[0] == 'a' && line[1] == 't') {
            /* Most lines by far. */
            char *rest = line + 2;
            a = strtoull(rest, &rest, 10);
            b = strtoull(rest, &rest, 10);
            c = strtoull(rest, &rest, 10);
            if (n_events == room) {
                room = room ? 2 * room : 1024;
                events = realloc(events, room * sizeof *events);
                if (!events) bad_line("no room\n");
            }
            events[n_events++] = (struct event){a, (unsigned)b, (unsigned)c};
            continue;
        }
        n = sscanf(line, "%31s %llu %llu %llu", word, &a, &b, &c);
        static const struct { const char *word; uint64_t *into; } numbers[] = {
            {"end", &end_us}, {"block", &block_us}, {"call", &call_us}, {"wakes", &wakes_us}, {"hold-up", &hold_us},
            {"starts", &start_us}, {"write", &write_us}, {"spin", &spin_us}, {"lets-go", &lets_go_us},
            {"clock", &clock_starts_ms}, {"mask", &clock_mask}, {"wall", &wall_ms}, {"seed", &seed},
            {"step", &rig_step_us}, {"feeds", &feeds}};
        size_t i = 0, known = sizeof numbers / sizeof *numbers;
        if (n < 1) continue;
        while (i < known && strcmp(numbers[i].word, word) != 0) i++;
        if (i < known) *numbers[i].into = a;
        else if (!strcmp(word, "latch")) latch_pin = (int)a;
        else if (!strcmp(word, "rows")) most_rows = a;
        else if (!strcmp(word, "said")) most_said = a;
        else if (!strcmp(word, "external")) rig_external[0] = (unsigned)a, rig_external[1] = (unsigned)b;
        else if (!strcmp(word, "memory")) {
            bytes = (unsigned)a;
            memset(w->memory, 0xff, BYTES);
        } else if (!strcmp(word, "bytes")) {
            const char *hex = line + 6;
            for (unsigned at = 0, value; at < bytes && sscanf(hex, "%2x", &value) == 1; at++, hex += 2)
                w->memory[at] = (uint8_t)value;
        } else if (!strcmp(word, "supply")) {
            channels[n_channels++] = (struct channel){SUPPLY, 0, 0, 0};
        } else if (!strcmp(word, "in")) {
            channels[n_channels++] = (struct channel){INPUT_PIN, (unsigned)a, 0, (unsigned)b};
            w->input[a] = !b;
            w->driven[a] = 1;
        } else if (!strcmp(word, "out")) {
            channels[n_channels++] = (struct channel){OUTPUT_PIN, (unsigned)a, (unsigned)b, (unsigned)c};
        } else if (!strcmp(word, "asleep")) {
            channels[n_channels++] = (struct channel){ASLEEP, 0, (unsigned)a, 0};
        } else if (!strcmp(word, "writing")) {
            channels[n_channels++] = (struct channel){WRITING, 0, 0, 0};
        } else bad_line(line);
    }
}

static void tell_row(uint64_t at, uint64_t levels) {
    char text[24 + 2 * CHANNELS], *end = text + sizeof text, *begin = end;
    *--begin = '\n';
    for (unsigned c = n_channels; c--;) {
        *--begin = levels >> c & 1 ? '1' : '0';
        *--begin = ',';
    }
    do *--begin = (char)('0' + at % 10);
    while (at /= 10);
    fwrite(begin, 1, (size_t)(end - begin), stdout);
}

static void tell_all(void) {
    for (size_t i = 0; i < w->n_rows; i++) tell_row(rows[i].at, rows[i].levels);
    if (w->n_rows && rows[w->n_rows - 1].at != w->now) tell_row(w->now, w->levels);
    printf("memory ");
    for (unsigned i = 0; i < bytes; i++) printf("%02x", w->memory[i]);
    printf("\nfinding %s\ndetail %s\nend\n", w->finding, w->detail);
}

/* Before what the firmware constructs: that belongs to each power-up, inside the fence. */
__attribute__((constructor(101))) static void begin(void) {
    w = mmap(0, sizeof *w, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (w == MAP_FAILED) _exit(4);
    w->cut_at = NEVER;
    w->cause = RIG_POWER;
    w->storing_at = NEVER_SET;
    w->supply = 1;
    read_all();
    rows = mmap(0, (most_rows + 1) * sizeof *rows, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (rows == MAP_FAILED) _exit(4);
    while (w->next_event < n_events && !events[w->next_event].at) happens(&events[w->next_event++]);
    if (run_all()) return;
    tell_all();
    fflush(stdout);
    _exit(0);
}
