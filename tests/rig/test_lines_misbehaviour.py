"""Whatever a program of the line protocol does, an answer comes, and each way to misbehave has its name."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from nudgeproof.rig.build import CantBuild
from nudgeproof.rig.lines import run_program
from nudgeproof.rig.run import FINDINGS, Limits
from nudgeproof.rig.settings import read_settings
from tests.rig.devices import ROOT, act, becomes_free, rows, turns
from tests.rig.lines import ECHO, HEAD, HELLO, WIRES, speak, wires

SOON = "answers within: 1 s"
"""A machine that is busy may take long to start a program: only ways whose finding is the wait itself have a short one."""

# What it does once it was told of the press at 500 ms; all before is as it should be.
WAYS = {
    "no message": 'raw(b"[1, 2]\\n")',
    "no message, no JSON": 'raw(b"now 500000\\n")',
    "no message, an empty line": 'raw(b"\\n")',
    "no message, NaN": 'raw(b\'{"now": NaN}\\n\')',
    "no message, a broken number": 'raw(b\'{"now": 500000.0}\\n\')',
    "no message, an endless number": 'raw(b\'{"now": \' + b"9" * 60000 + b"}\\n")',
    "no message, a far exponent": 'raw(b\'{"now": 1e999}\\n\')',
    "no message, deep brackets": 'raw(b\'{"now": \' + b"[" * 60000 + b"\\n")',
    "no message, a key twice": 'raw(b\'{"now": 1, "now": 500000}\\n\')',
    "no message, a key too many": 'tell(now=told["at"], done=True)',
    "no message, yes for a time": "tell(now=True)",
    "no message, a time before all": "tell(at=-1, set={})",
    "no message, a level of 2": 'tell(at=told["at"], set={"lamp": 2})',
    "no message, yes for a level": 'tell(at=told["at"], set={"lamp": True})',
    "no message, a big byte": 'tell(at=told["at"], write=0, byte=256)',
    "no message, hello again": HELLO,
    "no text": 'raw(b"\\xff\\xfe\\n")',
    "no text, a surrogate": 'raw(b\'{"now": "\\xed\\xa0\\x80"}\\n\')',
    "long line": 'raw(b"x" * 70000); time.sleep(9)',
    "long line, without an end": "while True: raw(b'x' * 4096)",
    "half a line": "raw(b'{\"now\": 5'); sys.exit()",
    "half a line, waiting": "raw(b'{\"now\": 5'); time.sleep(9)",
    "unknown output": 'tell(at=told["at"], set={"pump": 1})',
    "unknown output, by a surrogate": 'tell(at=told["at"], set={"\\ud800": 1})',
    "goes back": 'tell(at=200, set={"lamp": 1})',
    "goes back, inside an answer": 'tell(at=told["at"], set={"lamp": 1}); tell(at=told["at"] - 1, set={"lamp": 0})',
    "runs ahead": 'tell(at=told["at"] + 1, set={"lamp": 1})',
    "runs ahead, by now": 'tell(now=told["at"] + 1)',
    "stops short": 'tell(now=told["at"] - 1)',
    "asks amiss": 'tell(at=told["at"], write=4, byte=0)',
    "floods": 'while True: tell(at=told["at"], set={"lamp": 1})',
    "floods, printing": "while True: os.write(2, b'and so on ' * 100)",
    "no answer": "time.sleep(9)",
    "no answer, spinning": "while True: pass",
    "no answer, deaf to signals": "import signal; signal.signal(signal.SIGTERM, signal.SIG_IGN); time.sleep(9)",
    "closes its output": "os.close(1); time.sleep(9)",
    "exits": "sys.exit(3)",
    "exits, with all closed": "os.close(0); os.close(1); os.close(2); os._exit(0)",
    "exits, a child holds the pipes": "if os.fork(): os._exit(0)\n        time.sleep(9)",
    "crashes": "os.abort()",
    "crashes, killed": "os.kill(os.getpid(), 9)",
    "takes too long": 'for i in range(99): tell(at=told["at"], set={"lamp": i % 2}); time.sleep(0.1)',
}  # fmt: skip


@pytest.mark.parametrize("way", WAYS)
def test_misbehaviour_has_its_name(way: str, tmp_path: Path) -> None:
    name = way.split(",")[0]
    code = HELLO + ECHO.replace(
        "    told = hear()", f"    told = hear()\n    if told['at'] == 500000:\n        {WAYS[way]}"
    )
    is_wait = name == "no answer" or way == "half a line, waiting"
    limits = Limits(wall_ms=900 if name == "takes too long" else 30_000, rows=2000, said=10_000)
    began = time.monotonic()
    acts = [(100.0, 50.0, "key"), (500.0, 50.0, "key")]
    result = speak(code, tmp_path, acts, more=SOON if is_wait else "", limits=limits)
    assert result.finding == name, result
    assert name in FINDINGS
    assert result.detail
    assert len(result.said) <= 10_000
    assert turns(result, "lamp")[:2] == [(100_000, 1), (150_000, 0)]
    assert all(len(row) == 4 and row[0] <= 500_000 for row in rows(result))
    assert time.monotonic() - began < 8, "it was waited for"


BEFORE_IT_STARTS = {
    "no message": 'tell(at=0, set={"lamp": 1})',
    "no message, a number": "raw(b'7\\n')",
    "no message, no names": 'tell(hello=1, outputs="lamp")',
    "no message, names that are numbers": 'tell(hello=1, outputs=["lamp", 5])',
    "no message, another cut": 'tell(hello=1, outputs=["lamp"], cut="never")',
    "no message, more than a hello": 'tell(hello=1, outputs=["lamp"], pins=3)',
    "no message, no version": 'tell(hello="1", outputs=["lamp"])',
    "other version": 'tell(hello=2, names=["lamp"])',
    "lacks an output": 'tell(hello=1, outputs=["lmap"])',
    "exits": "sys.exit(0)",
    "no answer": "time.sleep(9)",
}


@pytest.mark.parametrize("way", BEFORE_IT_STARTS)
def test_misbehaviour_before_the_start_has_its_name(way: str, tmp_path: Path) -> None:
    more = SOON if way == "no answer" else ""
    result = speak(BEFORE_IT_STARTS[way], tmp_path, more=more)
    assert result.finding == way.split(",")[0], result
    assert result.recording.startswith("time_us,supply,key,lamp\n")


def test_a_hello_that_changes_from_start_to_start_is_no_message(tmp_path: Path) -> None:
    code = 'tell(hello=1, outputs=["lamp", str(os.getpid())])' + ECHO
    assert speak(code, tmp_path).finding == ""
    result = speak(code, tmp_path, [(300, 100, "supply")])
    assert (result.finding, "first start" in result.detail) == ("no message", True)


def test_a_finding_in_the_second_power_up_keeps_what_came_before(tmp_path: Path) -> None:
    code = HELLO + ECHO.replace("    told = hear()", "    told = hear()\n    if told['at'] > 400000: sys.exit(7)")
    result = speak(code, tmp_path, [(100, 50, "key"), (300, 100, "supply"), (600, 10, "key")])
    assert (result.finding, result.detail) == ("exits", "it ended with code 7")
    assert rows(result)[-1] == (400_000, 1, 0, 0)
    assert [at for at, _ in turns(result, "lamp")] == [100_000, 150_000]


def test_what_it_started_ends_with_it(tmp_path: Path) -> None:
    locks = "import fcntl; held = open('held', 'w'); fcntl.flock(held, fcntl.LOCK_EX)\n"
    forks = "if not os.fork():\n    import signal; signal.signal(signal.SIGTERM, signal.SIG_IGN); time.sleep(60)\n"
    result = speak(HELLO + locks + forks + ECHO, tmp_path, [(100, 50, "key")])
    assert result.finding == ""
    # The child has the lock as long as it lives.
    assert becomes_free(tmp_path / "held")


@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, -signal.SIGTERM)])
def test_a_command_that_is_stopped_takes_it_along(number: signal.Signals, code: int, tmp_path: Path) -> None:
    stubborn = (
        "import signal; signal.signal(signal.SIGTERM, signal.SIG_IGN); signal.signal(signal.SIGINT, signal.SIG_IGN)\n"
    )
    locks = (
        "import fcntl; held = open('held', 'w'); fcntl.flock(held, fcntl.LOCK_EX); open('began', 'w')\ntime.sleep(60)\n"
    )
    (tmp_path / "program.py").write_text(HEAD + stubborn + locks, encoding="utf-8")
    (tmp_path / "rig.yaml").write_text(
        WIRES.format(python=sys.executable, more="answers within: 60 s"), encoding="utf-8"
    )
    (tmp_path / "s.csv").write_text("time_us,key\n0,0\n5000,0\n", encoding="utf-8")
    words = [
        sys.executable,
        "-m",
        "nudgeproof",
        "rig",
        str(tmp_path / "rig.yaml"),
        "--stimulus",
        str(tmp_path / "s.csv"),
    ]

    # A shell makes what it starts in the background deaf to interrupts, these tests included.
    heeds = "import os, signal, sys; signal.signal(signal.SIGINT, signal.SIG_DFL); os.execv(sys.argv[1], sys.argv[1:])"
    words = [sys.executable, "-c", heeds, *words]
    with subprocess.Popen(words, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as command:
        while not (tmp_path / "began").exists():
            assert command.poll() is None
            time.sleep(0.01)
        command.send_signal(number)
        assert command.wait(20) == code
    assert becomes_free(tmp_path / "held")


def test_what_it_prints_is_no_part_of_the_recording(tmp_path: Path) -> None:
    result = speak("sys.stderr.write('9,9\\nhalf a li')\n" + HELLO + ECHO, tmp_path, [(300, 50, "key")])
    assert (result.said, result.finding) == ("9,9\nhalf a li", "")
    assert turns(result, "lamp") == [(300_000, 1), (350_000, 0)]


def test_lines_may_come_in_pieces_and_many_at_once(tmp_path: Path) -> None:
    code = HELLO + ECHO.replace("tell(now=told[", "slowly(now=told[").replace("while True", "\nwhile True", 1)
    slowly = """
def slowly(**message):
    for byte in (json.dumps(message) + "\\r\\n").encode():
        raw(bytes([byte]))
"""
    result = speak(slowly + code, tmp_path, [(300, 50, "key")])
    assert result.finding == ""
    assert turns(result, "lamp") == [(300_000, 1), (350_000, 0)]


def test_a_program_that_reads_nothing_of_a_long_message_doesnt_hang(tmp_path: Path) -> None:
    (tmp_path / "program.py").write_text(HEAD + HELLO + "time.sleep(9)", encoding="utf-8")
    # More than a pipe holds.
    settings = replace(wires(SOON), bytes=65_536)
    assert run_program(settings, tmp_path, act([], 10)).finding == "no answer"


@pytest.mark.parametrize(
    ("command", "why"),
    [
        ("[./none]", "`./none` can't be started: No such file or directory"),
        ("[./rig.yaml]", "can't be started: Permission denied"),
        ("[./broken]", "can't be started: Exec format error"),
    ],
)
def test_what_cant_be_started_is_told(command: str, why: str, tmp_path: Path) -> None:
    (tmp_path / "rig.yaml").write_text("")
    (tmp_path / "broken").write_bytes(b"\x7fELF and no more")
    (tmp_path / "broken").chmod(0o755)
    settings = read_settings(f"rig: 1\nprogram: {command}\noutputs: {{lamp: {{}}}}\n", "rig.yaml")
    with pytest.raises(CantBuild, match=re.escape(why)):
        run_program(settings, tmp_path, act([], 10))
