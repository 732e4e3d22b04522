"""Readers of recordings: both forms give the same recording, and whatever is wrong is told with its place."""

from __future__ import annotations

import io
from fractions import Fraction
from random import Random

import pytest
from vcd import VCDWriter

from nudgeproof.diagnostics import Place, SpecErrors
from nudgeproof.firmware.recording import Change, Recording, Wanted, read_csv
from nudgeproof.firmware.vcd import _Bytes, read_vcd
from nudgeproof.spec.notes import Notes

CSV = "time_us,KEY,LAMP\n0,0,1\n120,1,1\n340,1,0\n500,1,0\n"
WHOLE = Recording("r", (("KEY", False), ("LAMP", True)), (Change(120, "KEY", True), Change(340, "LAMP", False)), 500)


def wanted(*names: str) -> tuple[Wanted, ...]:
    return tuple(Wanted(name, Place("map", 3 + i, 3)) for i, name in enumerate(names))


def csv(text: str, *names: str) -> Recording:
    return read_csv(text, "r", wanted(*(names or ("KEY", "LAMP"))), Notes("map", ("a",) * 9))


def vcd(data: bytes, *names: str) -> Recording:
    return read_vcd(data, "r", wanted(*(names or ("KEY", "LAMP"))), Notes("map", ("a",) * 9))


def test_rows_of_changes_of_samples_and_an_analysers_export_are_the_same() -> None:
    assert csv(CSV) == WHOLE
    samples = [(t, int(t >= 120), int(t < 340)) for t in range(0, 501, 20)]
    assert csv("time_us,KEY,LAMP\n" + "".join(f"{t},{k},{lamp}\n" for t, k, lamp in samples)) == WHOLE
    export = 'Time [s], "LAMP" ,KEY,other\n-0.000100,1,0,x\n0.000020,1,1,x\n0.000240000,0,1,\n4.0e-4,0,1,1\n'
    assert csv(export) == WHOLE
    assert csv("; made by hand\n# so\n\ntime_ms;LAMP;KEY\r\n5;1;0\r\n5.12;1;1\r\n5.34;0;1\r\n5.5;0;1\r\n") == WHOLE


def test_a_time_between_two_microseconds_is_rounded_up() -> None:
    assert csv("time_ns,KEY,LAMP\n0,0,1\n119001,1,1\n340000,1,0\n499999,1,0\n") == WHOLE
    # What counts is the time since the beginning.
    assert csv("time_s,KEY,LAMP\n0.1234567,0,1\n0.1235767,1,1\n0.1237967,1,0\n0.1239567,1,0\n") == WHOLE


DUMP = """\
$date
   November 30
$end
$comment
   All that clause 18 has in it, four-state.
$end
$version a logic analyser 1.0 $end
$timescale
  1 us
$end
$scope module board $end
$var wire 1 ! KEY $end
$var reg 8 # counts [7:0] $end
$scope task inner $end
$var wire 1 " LAMP $end
$var real 64 r volts $end
$upscope $end
$var parameter 32 p size $end
$upscope $end
$enddefinitions $end
$comment before the first level $end
#1000
$dumpvars
0!
b0000xz01 #
1"
r2.75 r
b101 p
$end
#1120
1!
bx #
#1340
0"
r-1e3 r
#1400
$dumpall
1!
b00000001 #
0"
$end
#1500
"""


def test_a_dump_with_all_that_the_standard_allows_is_read() -> None:
    assert vcd(DUMP.encode()) == WHOLE
    assert vcd(DUMP.encode(), "board.KEY", "board.inner.LAMP").changes == (
        Change(120, "board.KEY", True),
        Change(340, "board.inner.LAMP", False),
    )
    one_line = " ".join(DUMP.split())
    assert vcd(one_line.encode()) == WHOLE


SCALES = [("1 us", Fraction(1)), ("10 ns", Fraction(1, 100)), ("100 ps", Fraction(1, 10_000))]


@pytest.mark.parametrize(("scale", "unit_us"), SCALES)
def test_a_dump_that_a_library_wrote_is_read(scale: str, unit_us: Fraction) -> None:
    rng = Random(scale)
    out = io.StringIO()
    changes: list[Change] = []
    now = {"KEY": False, "LAMP": True}
    at = 0
    with VCDWriter(out, timescale=scale, date="today", version="one") as writer:
        signals = {
            name: writer.register_var("top", name, "wire", size=1, init=int(level)) for name, level in now.items()
        }
        writer.register_var("top", "voltage", "real", init=1.5)
        for _ in range(50):
            at += rng.randint(1, 1_000)
            name = rng.choice(("KEY", "LAMP"))
            now[name] = not now[name]
            writer.change(signals[name], int(at / unit_us), int(now[name]))
            changes.append(Change(at, name, now[name]))
        writer.close(int((at + 10) / unit_us))
    read = vcd(out.getvalue().encode())
    assert read == Recording("r", WHOLE.first, tuple(changes), at + 10)


def test_the_end_of_a_dump_is_the_end_of_a_line() -> None:
    """Behind an open bracket the library would wait for ever."""
    stream, buffer = _Bytes(b"$var wire 1 ! KEY ["), bytearray(8)
    read = b""
    while size := stream.readinto(buffer):
        read += buffer[:size]
    assert read == b"$var wire 1 ! KEY [\n"


BAD_CSV = {
    "": "r: the file holds no row",
    "a,KEY,LAMP\n": "r:1:1: the first column is called `a`; the first column is the time, with its unit",
    "time_us,KEY\n0,0\n1,1\n": "map:4:3: r has no channel `LAMP`",
    "time_us,KEY,LAMP,KEY\n0,0,0,0\n1,1,1,1\n": "map:3:3: r has more than one channel `KEY`",
    "time_us,KEY,LAMP\n0,0\n": "r:2:1: the row has 2 cells, and the header 3",
    "time_us,KEY,LAMP\n0,0,2\n": "r:2:5: the level of `LAMP` is `2`",
    "time_us,KEY,LAMP\n0, ,0\n": "r:2:4: `KEY` has no level here",
    "time_us,KEY,LAMP\n0,0,0\nx,0,0\n": "r:3:1: `x` is no time",
    "time_us,KEY,LAMP\n0,0,0\n1_0,0,0\n": "r:3:1: `1_0` is no time",
    "time_us,KEY,LAMP\n0,0,0\n1e99,0,0\n": "r:3:1: the time `1e99` lies more than ten years after the first",
    "time_us,KEY,LAMP\n5,0,0\n4,0,0\n": "r:3:1: the time `4` goes back",
    "time_us,KEY,LAMP\n5,0,0\n": "r:2:6: the recording ends as it begins",
    "time_us,KEY,LAMP\n": "r:1:17: the recording ends as it begins",
}  # fmt: skip

HEAD = (
    b'$timescale 1 us $end $scope module top $end $var wire 1 ! KEY $end $var wire 1 " LAMP $end $enddefinitions $end\n'
)
BAD_VCD = {
    b"$enddefinitions $end\n": "the recording has no `$timescale`",
    b"$timescale 1 us $end\n": "the definitions have no end",
    HEAD.replace(b"LAMP", b"LUMP") + b"#0 0! 0\"\n#5\n": "map:4:3: r has no channel `LAMP`; what isn't recorded can't be "
    "compared; did you mean `LUMP`?",
    HEAD + b"#0 0!\n#5\n": "r:3:1: there is no level of `LAMP` at the beginning",
    HEAD + b"#0 0! x\"\n#5\n": "r:2:7: the level of `LAMP` is `x`",
    HEAD + b"#0 0! 0\"\n#5 z!\n#9\n": "r:3:4: the level of `KEY` is `z`",
    HEAD + b"#5 0! 0\"\n#4\n": "r:3:1: the time `#4` goes back",
    HEAD + b"#5 0! 0\"\n": "the recording ends as it begins",
    HEAD + b"#0 0! 0\"\n#5 ?\n": "r:3:4: this can't be read: confused: ?",
    HEAD.replace(b"wire 1 !", b"wire 4 !") + b"#0 b0 ! 0\"\n#5\n": "map:3:3: `KEY` has 4 bits",
    HEAD.replace(b"1 us", b"1 parsec") + b"#0 0! 0\"\n#5\n": "this can't be read: invalid $timescale unit",
    HEAD.replace(b"1 us", b"7 us") + b"#0 0! 0\"\n#5\n": "r:1:1: the `$timescale` is another one",
    HEAD.replace(b"1 us", b"1 zs") + b"#0 0! 0\"\n#5\n": "r:1:1: the `$timescale` is another one",
    b"$timescale 1 us $end $var wire 1 ! KEY [": "r:1:41: the definitions have no end",
    b"$timescale 1 us $end 0!\n": "a level before `$enddefinitions`",
    b"#12\n" + HEAD: "a time before any `$timescale`",
}  # fmt: skip


@pytest.mark.parametrize("text", BAD_CSV, ids=lambda text: repr(text)[-24:])
def test_a_bad_table_is_told_with_its_place(text: str) -> None:
    with pytest.raises(SpecErrors) as caught:
        csv(text)
    assert str(caught.value).startswith(BAD_CSV[text])


@pytest.mark.parametrize("data", BAD_VCD, ids=lambda data: repr(data)[-24:])
def test_a_bad_dump_is_told_with_its_place(data: bytes) -> None:
    with pytest.raises(SpecErrors) as caught:
        vcd(data)
    assert BAD_VCD[data] in str(caught.value)
    assert str(caught.value).startswith(("r:", "map:"))


PIECES = (
    "#",
    "$end",
    "$var",
    "$scope",
    "b",
    "x",
    "z",
    "1e9",
    "-",
    "0",
    "1",
    ",",
    '"',
    "\n",
    " ",
    "é",
    "\x01",
    "9" * 5_000,
)
MORE = ("$dumpoff", "r", "s", "#9", ";", "b" + "10" * 9_000 + " !")


def mutate(text: str, rng: Random) -> str:
    for _ in range(rng.randint(1, 4)):
        at, other = sorted((rng.randint(0, len(text)), rng.randint(0, len(text))))
        piece = rng.choice((*PIECES, *MORE))
        text = rng.choice(
            (
                text[:at] + piece + text[at:],
                text[:at] + text[at + rng.randint(1, 8) :],
                text[:at] + piece + text[at + 1 :],
                text[:at] + text[other:],
                text[:other] + text[at:],
                text[:at],
            )
        )
    return text or "0"


def test_a_mutated_recording_is_read_or_told_of_and_nothing_else() -> None:
    read = told = unplaced = 0
    for seed in range(6_000):
        rng = Random(seed)
        try:
            got = csv(mutate(CSV * rng.choice((1, 1, 3)), rng)) if seed % 3 == 0 else vcd(mutate(DUMP, rng).encode())
        except SpecErrors as errors:
            told += 1
            unplaced += sum(not problem.place.line for problem in errors.problems)
            continue
        read += 1
        assert got.end_us > 0
        assert [c.at_us for c in got.changes] == sorted(c.at_us for c in got.changes)
        assert all(0 <= c.at_us <= got.end_us for c in got.changes)
        for name, first in got.first:
            levels = [c.level for c in got.changes if c.channel == name]
            assert levels == [(i % 2 == 0) is not first for i in range(len(levels))]
    assert read > 250
    assert told > 1_000
    assert unplaced < 20, "only of a file that holds no row"
