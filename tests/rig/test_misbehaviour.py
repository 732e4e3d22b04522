"""Whatever a firmware does, an answer comes, and each way to misbehave has its name."""

from __future__ import annotations

import platform
import sys
from pathlib import Path

import pytest

from nudgeproof.rig.run import FINDINGS, Limits
from tests.rig.devices import rows, small, turns

TEN = "for (int i = 0; i < 10; i++) { rig_write(5, 1); rig_delay(1000); rig_write(5, 0); rig_delay(1000); }"
"""Ten flashes before it goes wrong, so that the record up to there is seen to be kept."""

WAYS = {
    "spins": ("", "rig_interrupts(0); for (volatile int i = 0;; i++) {}"),
    "spins, empty": ("", "for (;;) {}"),
    "floods": ("", "for (int i = 0;; i = !i) rig_write(5, i);"),
    "floods, printing": ("#include <stdio.h>", 'for (;;) puts("and so on and so on");'),
    "crashes": ("", "*(volatile int *)8 = 1;"),
    "crashes, dividing": ("", "volatile int none = 0; volatile int x = 7 / none; (void)x;"),
    "crashes, aborting": ("#include <stdlib.h>", "abort();"),
    "crashes, too deep": (
        "static int deep(volatile int n) { volatile int a[999]; a[n] = n; return deep(n) + a[n]; }", "deep(0);"
    ),
    "exits": ("#include <stdlib.h>", "exit(0);"),
    "returns": ("", ""),
    "forks": ("#include <unistd.h>", "for (;;) fork();"),
    "leaves the rig, by system": ("#include <stdlib.h>", 'system("true"); for (;;) rig_delay(99);'),
    "leaves the rig": ("#include <stdio.h>", 'fopen("made.txt", "w"); for (;;) rig_delay(99);'),
    "leaves the rig, killing": ("#include <signal.h>\n#include <unistd.h>", "kill(getppid(), 9); for (;;) rig_delay(99);"),
    "leaves the rig, killing by thread": (
        "#include <sys/syscall.h>\n#include <unistd.h>",
        "for (int i = 1; i < 3; i++) syscall(SYS_tgkill, getpid() - i, getpid() - i, 9); for (;;) rig_delay(99);",
    ),
    "asks amiss": ("", "rig_write(64, 1);"),
    "asks amiss, memory": ("", "rig_load(4);"),
    "resets": ("", "rig_watch(1); for (;;) rig_delay(99);"),
    "takes too long": ("#include <time.h>", "struct timespec t = {99, 0}; nanosleep(&t, 0); for (;;) {}"),
}  # fmt: skip


@pytest.mark.parametrize("way", WAYS)
def test_misbehaviour_has_its_name(way: str, tmp_path: Path) -> None:
    before, code = WAYS[way]
    name = way.split(",")[0]
    first = "" if name == "resets" else TEN
    code = f"{before}\nint main(void) {{ {first} {code} }}"
    limits = Limits(wall_ms=800 if name == "takes too long" else 30_000, rows=2000)
    result = small(code, tmp_path, until_ms=5000, limits=limits)
    assert result.finding == name, result
    assert name in FINDINGS
    assert result.detail
    if first:
        assert len(turns(result, "lamp")) >= 20
    assert all(len(row) == 4 for row in rows(result))
    assert not list(tmp_path.glob("made*"))


def test_what_it_prints_is_no_part_of_the_recording(tmp_path: Path) -> None:
    code = '#include <stdio.h>\nint main(void) { printf("9,9\\nhalf a li"); fflush(stdout); for (;;) rig_delay(999); }'
    result = small(code, tmp_path, until_ms=50)
    assert result.said == "9,9\nhalf a li"
    assert result.finding == ""
    assert rows(result) == [(0, 1, 0, 0), (50_000, 1, 0, 0)]


def test_writing_over_the_rig_is_found(tmp_path: Path) -> None:
    code = """#include <sys/mman.h>
    #include <string.h>
    #include <stdio.h>
    #include <stdint.h>
    int main(void) { uintptr_t here = (uintptr_t)mmap(0, 4096, 3, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
      rig_delay(1000); for (uintptr_t at = here; ; at += 4096) memset((void *)at, 0x7f, 4096); }"""
    assert small(code, tmp_path, until_ms=50).finding in ("breaks the rig", "crashes")


BEFORE_MAIN = {
    "": "rig_write(5, 1);",
    "spins": "rig_interrupts(0); for (;;) {}",
    "crashes": "*(volatile int *)8 = 1;",
    "exits": "_exit(0);",
    "forks": "fork();",
    "leaves the rig": 'fopen("made.txt", "w");',
    "floods": 'for (;;) { puts("and so on"); fflush(stdout); }',
}


@pytest.mark.parametrize("name", BEFORE_MAIN)
def test_what_is_constructed_before_main_is_part_of_each_power_up(name: str, tmp_path: Path) -> None:
    code = "#include <stdio.h>\n#include <unistd.h>\n__attribute__((constructor)) static void early(void) {"
    code += f' write(1, "0,0,0,0\\n", 8); {BEFORE_MAIN[name]} }} int main(void) {{ for (;;) rig_delay(99); }}'
    result = small(code, tmp_path, [(100, 50, "supply")], until_ms=300)
    assert result.finding == name, result
    assert result.said.startswith("0,0,0,0\n")
    assert rows(result)[0] == (0, 1, 0, 0)
    assert not list(tmp_path.glob("made*"))
    if not name:
        assert [at // 1000 for at, _ in turns(result, "lamp")] == [0, 100, 150]


OVER = """
#include <unistd.h>
#include <string.h>
extern char __data_start, _end;
/* What the rig keeps of this run, known by the bytes in memory. */
static unsigned char *find_kept(void) {
    unsigned long *p = (unsigned long *)((unsigned long)&__data_start & ~7ul);
    for (; (char *)p < &_end; p++)
        if (*p > 0x100000000000ul && !(*p & 4095) && !memcmp((void *)(*p + 73), "\\xde\\xad\\xbe\\xef", 4))
            return (unsigned char *)*p;
    rig_write(99, 1);
    return 0;
}
int main(void) {
    unsigned char *kept = find_kept();
    unsigned long *now = (unsigned long *)kept, *n_rows = now + 4;
    char *finding = (char *)(((unsigned long)kept + 73 + 65536 + 128 + 7 & ~7ul) + 8);
    unsigned char *input = kept + 73 + 65536;
    (void)n_rows, (void)finding, (void)input;
    rig_delay(1000); rig_write(5, 1); rig_delay(1000);
    WRONG
    for (;;) rig_delay(99);
}
"""

BREAKS = {
    "a name of its own": 'strcpy(finding, "made up"); _exit(0);',
    "a name without an end": "memset(finding, 65, 192); _exit(0);",
    "more rows": "*n_rows = 1000; _exit(0);",
    "rows without an end": "*n_rows = 1ul << 40; _exit(0);",
    "time goes back": "*now = 500; rig_write(5, 0);",
    "time after the end": "*now = 1ul << 60;",
    "a press that nobody made": "input[2] = 0; rig_write(5, 0);",
}


@pytest.mark.skipif(sys.platform != "linux" or sys.maxsize < 2**32, reason="it knows where Linux lays things")
@pytest.mark.parametrize("way", BREAKS)
def test_a_record_that_was_written_over_isnt_believed(way: str, tmp_path: Path) -> None:
    code, memory = OVER.replace("WRONG", BREAKS[way]), b"\xde\xad\xbe\xef"
    result = small(code, tmp_path, until_ms=50, memory=memory, use_blocks=False)
    assert (result.finding, result.recording.count("\n")) == ("breaks the rig", 1), result
    sound = small(OVER.replace("WRONG", ""), tmp_path, until_ms=50, memory=memory, use_blocks=False)
    assert (sound.finding, sound.memory) == ("", memory), sound


@pytest.mark.skipif(platform.machine() != "x86_64" or sys.platform != "linux", reason="calls as of 32 bits are theirs")
def test_calls_of_another_processor_are_no_way_round_the_fence(tmp_path: Path) -> None:
    call = 'long r; __asm__ volatile("int $0x80" : "=a"(r) : "a"(20) : "memory", "r8", "r9", "r10", "r11"); (void)r;'
    result = small(f"int main(void) {{ {call} for (;;) rig_delay(99); }}", tmp_path, until_ms=50)
    assert result.finding in ("leaves the rig", "crashes")


def test_an_empty_loop_leaves_the_work_to_interrupts(tmp_path: Path) -> None:
    code = (
        "static void on(void) { rig_write(5, !rig_read(2)); } int main(void) { rig_on_edge(2,"
        " RIG_CHANGE, on); for (;;) {} }"
    )
    for use_blocks in (True, False):
        result = small(code, tmp_path, [(300, 50, "key")], use_blocks=use_blocks)
        assert [at // 1000 for at, _ in turns(result, "lamp")] == [300, 350]


def test_without_blocks_a_loop_that_waits_for_a_handler_is_freed_too(tmp_path: Path) -> None:
    code = (
        "static volatile int flag; static void on(void) { flag = 1; }"
        "int main(void) { rig_on_edge(2, RIG_FALLING, on); while (!flag) {} rig_write(5, 1); for (;;) rig_delay(99); }"
    )
    result = small(code, tmp_path, [(300, 50, "key")], use_blocks=False)
    assert [at // 1000 for at, _ in turns(result, "lamp")] == [300]
