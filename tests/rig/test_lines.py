"""Programs of the line protocol: the same recording as C firmware that does the same; docs/line-protocol.md as it is."""

from __future__ import annotations

import random
import re
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from nudgeproof.cli import main
from nudgeproof.firmware.acts import Acts
from nudgeproof.firmware.mapping import read_map
from nudgeproof.firmware.performed import Performed, Setup
from nudgeproof.firmware.recording import Recording
from nudgeproof.firmware.trials import kinds_for, stimuli
from nudgeproof.performing import chip_of
from nudgeproof.rig.build import build
from nudgeproof.rig.lines import run_program
from nudgeproof.rig.run import Limits, Run, run
from nudgeproof.rig.settings import SUPPLY, read_settings
from nudgeproof.rig.stimulus import Change, Stimulus, read_stimulus
from nudgeproof.rig.talk import Talk
from nudgeproof.spec.read import read_device
from tests.firmware import lamp
from tests.rig.devices import FIRMWARE, ROOT, Act, act, build_shipped, rows, settings_of, small, turns
from tests.rig.lines import ECHO, HEAD, HELLO, speak
from tests.rig.presses import use
from tests.snapshots import screens

PAGE = (ROOT / "docs" / "line-protocol.md").read_text(encoding="utf-8")
LIGHT = "rain-cover-light-lines"
BLOCKS = re.findall(r"```(\w+)\n(.*?)```", PAGE, re.DOTALL)


@pytest.fixture(autouse=True)
def _this_python_is_python3(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "bin").mkdir()
    (tmp_path / "bin" / "python3").symlink_to(sys.executable)
    monkeypatch.setenv("PATH", str(tmp_path / "bin"), prepend=":")


def test_the_page_says_what_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (_, wires), (_, program), (_, table), (_, dialogue), (_, recording) = BLOCKS
    (tmp_path / "lamp.py").write_text(program, encoding="utf-8")
    settings = read_settings(wires, "rig.yaml")
    said: list[str] = []
    tell, read_line = Talk.tell, Talk.read_line

    def tell_too(talk: Talk, line: bytes) -> None:
        said.append(f"> {line.decode()}")
        tell(talk, line)

    def read_too(talk: Talk) -> bytes:
        line = read_line(talk)
        said.append(f"< {line.decode()}\n")
        return line

    monkeypatch.setattr(Talk, "tell", tell_too)
    monkeypatch.setattr(Talk, "read_line", read_too)
    result = run_program(settings, tmp_path, read_stimulus(table, "s.csv", settings))
    assert "".join(said) == dialogue
    assert (result.recording, result.memory, result.finding) == (recording, b"\1", "")


def test_the_command_runs_a_program(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (_, wires), (_, program), (_, table), _, (_, recording) = BLOCKS
    rig, presses, memory = tmp_path / "rig.yaml", tmp_path / "s.csv", tmp_path / "memory.bin"
    (tmp_path / "lamp.py").write_text(program, encoding="utf-8")
    rig.write_text(wires, encoding="utf-8")
    presses.write_text(table, encoding="utf-8")
    assert main(["rig", str(rig), "--stimulus", str(presses), "--memory", str(memory)]) == 0
    screen = capsys.readouterr()
    assert screen.out == recording
    assert screen.err.endswith("time passed as the program says\n")
    assert memory.read_bytes() == b"\1"
    (tmp_path / "lamp.py").write_text("print('Hello!')", encoding="utf-8")
    assert main(["rig", str(rig), "--stimulus", str(presses)]) == 1
    assert "FINDING  no message: it wrote a line that the line protocol doesn't have" in capsys.readouterr().err
    rig.write_text(wires.replace("python3", "no-such-command"), encoding="utf-8")
    assert main(["rig", str(rig), "--stimulus", str(presses)]) == 2
    assert "`no-such-command` can't be started" in capsys.readouterr().err


# A key that is looked at each millisecond, a lamp, and a counter in two bytes; each call takes a microsecond. In C where
# time passes in calls alone, and the same in Python.
COUNTER_C = """
static unsigned char was, lit;
static void save(unsigned n) { rig_store(0, (unsigned char)n); rig_store(1, (unsigned char)~n); }
void start(void) { lit = rig_load(0) & 1; rig_write(5, lit); }
void step(void) {
    unsigned char is = !rig_read(2);
    if (is && !was) { lit = !lit; rig_write(5, lit); save(rig_load(0) + 1u); }
    was = is;
}
"""
COUNTER = """
CALL, STEP = 1, 1000
def begin(told):
    global now, next_us, was, lit, memory, busy, closed
    now, was, closed = told["at"], 0, told["set"]["key"]
    memory, busy = bytearray.fromhex(told["memory"]), 0
    steps = run()
    return steps, next(steps)
def run():
    # Each `yield T`: nothing more until T has come, with all that happens then.
    global now, was, lit, busy
    yield from load_waits()
    lit = memory[0] & 1
    now += CALL; yield now
    tell(at=now, set={"lamp": lit})
    next_us = now
    while True:
        while next_us < now: next_us += STEP
        if next_us > now: now = next_us; yield now
        now += CALL; yield now
        is_down = closed
        if is_down and not was:
            lit = 1 - lit
            now += CALL; yield now
            tell(at=now, set={"lamp": lit})
            yield from load_waits()
            n = memory[0] + 1 & 255
            yield from store(0, n)
            yield from store(1, 255 - n)
        was = is_down
        next_us += STEP
def load_waits():
    global now
    now += CALL; yield now
    if busy > now: now = busy; yield now
def store(address, byte):
    global busy
    yield from load_waits()
    tell(at=now, write=address, byte=byte)
    memory[address] = byte
    busy = now + 1000
while True:
    told = hear()
    if "start" in told:
        steps, due = begin(told)
    elif "cut" not in told:
        while due < told["at"]: due = next(steps)
        closed = told.get("set", {}).get("key", closed)
    tell(now=told["at"])
"""


def counted(folder: Path, acts: Sequence[Act], memory: bytes, seed: int, cut: str) -> tuple[Run, Run]:
    more = "power: {hold-up: 2 ms, starts in: 7 ms}\neach call: 1 us"
    entry = "step every 1 ms"
    (folder / "a.c").write_text(f'#include "rig.h"\n{COUNTER_C}', encoding="utf-8")
    text = "rig: 1\nsources: [a.c]\nbuttons: {key: {pin: 2}}\noutputs: {lamp: {pin: 5}}\n"
    text += f"memory: {{bytes: 4, write takes: 1 ms}}\nentry: {entry}\n{more}\n"
    settings = read_settings(text, "rig.yaml")
    first = run(build(settings, folder, use_blocks=False), settings, act(acts, 1000), memory, seed)
    code = f'tell(hello=1, outputs=["lamp"], cut="{cut}")\n{COUNTER}'
    second = speak(code, folder, acts, 1000, more.replace("each call: 1 us", ""), memory, None, seed)
    return first, second


@pytest.mark.parametrize("seed", range(12))
def test_a_program_and_c_that_do_the_same_are_recorded_the_same(seed: int, tmp_path: Path) -> None:
    chance = random.Random(seed)
    acts, now = list[Act](), 20.0
    for _ in range(12):
        now += chance.choice((0.4, 3, 7.5, 40)) + chance.randrange(1000) / 1000
        lasts = chance.choice((0.3, 2, 2.001, 5, 30)) + chance.randrange(3) / 1000
        acts.append((now, lasts, chance.choice(("key", "key", SUPPLY))))
        now += lasts
        if acts[-1][2] == "key" and chance.random() < 0.7:
            # While it writes, or just before or after.
            acts.append((now + chance.randrange(7000) / 1000, 20, SUPPLY))
            now += 28
    first, second = counted(tmp_path, acts, bytes([0, 255, 7, 9]), seed, "ends" if seed % 4 == 0 else "told")
    assert (first.finding, second.finding) == ("", ""), (first, second)
    assert first.recording == second.recording
    assert first.memory == second.memory
    assert len(turns(first, "lamp")) > 3


def test_torn_bytes_are_among_them(tmp_path: Path) -> None:
    acts: list[Act] = [(100, 20, "key"), (99.5, 30, SUPPLY)]
    first, second = counted(tmp_path, acts, b"\0\xff\0\0", 3, "told")
    assert first.memory == second.memory
    assert first.memory[0] == 1
    assert first.memory[1] not in (0xFE, 0xFF)
    assert counted(tmp_path, acts, b"\0\xff\0\0", 4, "told")[1].memory[1] != second.memory[1]


PLAIN: list[Act] = [(500, 1500, "pad"), (2500, 100, "pad"), (2700, 100, "pad"), (4000, 150, "pad"), (6000, 30, "supply"),
                    (8000, 150, "pad"), (9000, 100, "pad"), (9200, 1500, "pad")]  # fmt: skip


def test_the_light_in_python_shows_what_the_one_in_c_does(tmp_path: Path) -> None:
    settings = settings_of("rain-cover-light")
    first = run(build_shipped("rain-cover-light", tmp_path), settings, act(PLAIN))
    second = run_program(settings_of(LIGHT), FIRMWARE / LIGHT, act(PLAIN))
    assert not second.finding, second
    for name in ("glow", "low", "high"):
        (c, python) = (turns(result, name) for result in (first, second))
        assert [level for _, level in c] == [level for _, level in python]
        # Their moments may differ by a look of the one in C.
        assert all(abs(a - b) < 25_000 for (a, _), (b, _) in zip(c, python, strict=True))
        assert python
    assert abs(len(turns(first, "blink")) - len(turns(second, "blink"))) <= 1


def test_any_use_of_the_light_is_recorded_as_it_was_done() -> None:
    settings = settings_of(LIGHT)
    for seed in range(6):
        stimulus = use("rain-cover-light", seed)
        result = run_program(settings, FIRMWARE / LIGHT, stimulus)
        assert not result.finding, (seed, result)
        assert read_stimulus(result.recording, "r.csv", settings) == stimulus
        assert run_program(settings, FIRMWARE / LIGHT, stimulus) == result


def test_nobody_sets_the_clock_of_a_program(capsys: pytest.CaptureFixture[str]) -> None:
    wires = FIRMWARE / LIGHT / "rig.yaml"
    assert main(["rig", str(wires), "--stimulus", str(wires), "--clock", "65000"]) == 2
    assert "starts a program, whose clock is its own" in capsys.readouterr().err
    spec, mapped = ROOT / "specs" / "rain-cover-light.yaml", FIRMWARE / LIGHT / "map.yaml"
    device = read_device(spec.read_text(encoding="utf-8"), spec.name)
    what, _ = read_map(mapped.read_text(encoding="utf-8"), mapped.name, device)
    for name, is_tried in ((LIGHT, False), ("rain-cover-light", True)):
        chip = chip_of(settings_of(name))
        assert ("clock" in kinds_for(device, what, chip, shows_sleep=True)) is is_tried

        def unseen(acts: Acts, end_us: int, setup: Setup | None = None) -> Performed:
            return Performed(Recording("none", (), (), end_us), "")

        found = next(stimuli(device, what, 0, chip, unseen, ("clock",)), None)
        assert (found is not None) is is_tried


def test_the_light_passes_its_trial() -> None:
    where = ("--rig", str(FIRMWARE / LIGHT / "rig.yaml"), "--map", str(FIRMWARE / LIGHT / "map.yaml"))
    code, out, _ = screens.run("trial", str(ROOT / "specs" / "rain-cover-light.yaml"), *where, "--edges", "250")
    assert code == 0, out
    assert "all trials conform" in out
    assert "8 of the 8 lines" in out
    assert "what the program leaves out" in out
    assert "int" not in out.partition("The host can't show")[2].replace("into", "")


HOLDING = """
hello = tell(hello=1, outputs=["LAMP"], cut="told")
lit, closed, reading, due, presses = 0, 0, 0, {}, 0
while True:
    told = hear()
    while due and min(due.values()) <= told["at"]:
        name = min(due, key=due.get)
        now = due.pop(name)
        if name == "hold":
            lit = 1 - lit
            tell(at=now, set={"LAMP": lit})
        elif closed != reading:
            reading = closed
            due.pop("hold", None)
            if reading:
                presses += 1
                PRESSED
                due["hold"] = now + HELD
    for closed in () if "start" in told else told.get("set", {}).values():
        due["settle"] = told["at"] + 20000
    tell(now=told["at"])
"""


@pytest.mark.parametrize(
    ("held", "pressed", "code", "says"),
    [
        (1_000_000, "pass", 0, "2 of the 2 lines"),
        (950_000, "pass", 1, "LAMP is seen on"),
        (1_000_000, "if presses == 2: sys.exit(1)", 1, "  finding    exits: it ended its process"),
        (1_000_000, "if presses == 2: tell(now=0)", 1, "  finding    stops short: it answered before"),
    ],
)
def test_a_lamp_conforms_and_with_a_fault_it_is_refused(
    held: int, pressed: str, code: int, says: str, tmp_path: Path
) -> None:
    program = HOLDING.replace("HELD", str(held)).replace("PRESSED", pressed)
    (tmp_path / "program.py").write_text(HEAD + program, encoding="utf-8")
    (tmp_path / "spec.yaml").write_text(lamp.TEXT, encoding="utf-8")
    (tmp_path / "map.yaml").write_text(lamp.MAP.format(period=1), encoding="utf-8")
    (tmp_path / "rig.yaml").write_text(LAMP, encoding="utf-8")
    rig, kept = str(tmp_path / "rig.yaml"), tmp_path / "kept"
    where = ("--rig", rig, "--map", str(tmp_path / "map.yaml"), "--edges", "100", "--keep", str(kept))
    found, out, _ = screens.run("trial", str(tmp_path / "spec.yaml"), *where)
    assert (found, says in out) == (code, True), out
    if not code:
        return
    # What is kept does it again, to the byte.
    again = tmp_path / "again.csv"
    found = screens.run("rig", rig, "--stimulus", str(kept / "stimulus.csv"), "--csv", str(again))[0]
    assert found == ("finding" in out)
    assert again.read_bytes() == (kept / "recording.csv").read_bytes()


LAMP = f"""rig: 1
program: [{sys.executable}, -I, -S, program.py]
buttons: {{KEY: {{}}}}
outputs: {{LAMP: {{}}}}
"""

LATCHED = """
lit = held = 0
while True:
    told = hear()
    if "start" in told:
        off = told["at"] + 300000
        tell(at=told["at"], set={"lamp": 1, "hold": 1})
    elif off and off <= told["at"]:
        tell(at=off, set={"hold": 0})
        tell(at=off + 1500, set={"lamp": 0})
        tell(at=off + 2500, set={"lamp": 1})
        off = 0
    tell(now=told["at"])
"""


@pytest.mark.parametrize("cut", ["ends", "told"])
def test_a_latch_holds_the_power_and_lets_go(cut: str, tmp_path: Path) -> None:
    settings = read_settings(
        f"rig: 1\nprogram: [{sys.executable}, program.py]\nbuttons: {{key: {{}}}}\noutputs: {{lamp: {{}}, hold: {{}}}}\n"
        "power: {starts in: 40 ms, latch: hold, closed by: [key], lets go: 2 ms}\n", "rig.yaml",
    )  # fmt: skip
    hello = f'tell(hello=1, outputs=["hold", "lamp"], cut="{cut}")\n'
    (tmp_path / "program.py").write_text(HEAD + hello + LATCHED, encoding="utf-8")
    result = run_program(settings, tmp_path, act([(100, 60, "key"), (900, 60, "key")], 2000))
    assert not result.finding, result
    # What it told of moments after the latch let go is passed over, though it told of them in one answer.
    assert turns(result, "hold") == [(140_000, 1), (440_000, 0), (940_000, 1), (1_240_000, 0)]
    assert turns(result, "lamp") == [(140_000, 1), (441_500, 0), (940_000, 1), (1_241_500, 0)]
    assert not turns(run_program(settings, tmp_path, act([(100, 39, "key")], 1000)), "lamp")


def test_a_latch_ends_as_it_does_in_c(tmp_path: Path) -> None:
    code = "int main(void) { rig_write(7, 1); rig_delay(300000); rig_write(7, 0); for (;;) rig_delay(99); }"
    power = "power: {starts in: 40 ms, hold-up: 3 ms, latch: 7, closed by: [key], lets go: 2 ms}\neach call: 1 us"
    changed = power.replace("latch: 7", "latch: lamp").replace("\neach call: 1 us", "")
    acts: list[Act] = [(100, 60, "key"), (700, 30, "key"), (800, 60, "key"), (1000, 2, SUPPLY)]
    wired = small(
        code.replace("7", "5"), tmp_path, acts, 2000, more=power.replace("latch: 7", "latch: 5"), use_blocks=False
    )
    program = """
while True:
    told = hear()
    if "start" in told:
        on, off = told["at"] + 1, told["at"] + 300002
    if on and on < told["at"]: on = tell(at=on, set={"lamp": 1})
    if off and off < told["at"]: off = tell(at=off, set={"lamp": 0})
    tell(now=told["at"])
"""
    assert speak(HELLO + program, tmp_path, acts, 2000, more=changed).recording == wired.recording


def test_who_does_the_power_itself_is_told_of_the_cell_as_of_any_input(tmp_path: Path) -> None:
    code = """
tell(hello=1, outputs=["lamp"], cut="own")
starts, closed = 0, 0
while True:
    told = hear()
    starts += "start" in told
    there = told.get("set", {}).get("supply")
    if there is not None:
        tell(at=told["at"], set={"lamp": there})
        tell(at=told["at"], write=starts, byte=starts)
    sys.stderr.write(json.dumps(told) + " "); sys.stderr.flush()
    tell(now=told["at"])
"""
    result = speak(
        code, tmp_path, [(0, 100, SUPPLY), (200, 50, "key"), (300, 100, SUPPLY)], 500, "power: {hold-up: 5 ms}"
    )
    assert not result.finding
    assert turns(result, "lamp") == [(100_000, 1), (300_000, 0), (400_000, 1)]
    start = '{"at": 0, "start": true, "set": {"supply": 0, "key": 0}, "memory": "ffffffff"}'
    assert result.said.startswith(f'{start} {{"at": 100000, "set": {{"supply": 1}}}} {{"at": 200000')
    assert result.said.count("start") == 1
    assert result.memory == bytes([255, 1, 255, 255])


def test_a_driver_has_time_to_put_things_away(tmp_path: Path) -> None:
    code = 'tell(hello=1, outputs=["lamp"], cut="told")\ndef hear_or_tidy():\n    line = sys.stdin.readline()\n'
    code += "    if not line: time.sleep(0.05); open('tidy', 'w').close(); sys.exit(0)\n    return json.loads(line)\n"
    assert not speak(code + ECHO.replace("hear()", "hear_or_tidy()"), tmp_path).finding
    assert (tmp_path / "tidy").exists()


def test_bytes_may_be_written_at_once_and_anew(tmp_path: Path) -> None:
    code = (
        HELLO
        + """
while True:
    told = hear()
    if told["at"] >= 10000 and "set" in told and "start" not in told:
        for address, byte, after in ((0, 1, 0), (1, 2, 0), (2, 3, 500), (0, 9, 600)):
            if told["set"]["key"] == 0: tell(at=10000 + after, write=address, byte=byte)
    tell(now=told["at"])
"""
    )
    whole = speak(code, tmp_path, [(5, 10, "key")], 100, memory=bytes(4)).memory
    assert whole == bytes([9, 2, 3, 0])
    torn = speak(code, tmp_path, [(5, 6.55, "key"), (11.55, 99, SUPPLY)], 100, memory=bytes(4)).memory
    assert torn[1:] == bytes([2, 3, 0])
    assert torn[0] not in (0, 1, 9)


def test_a_byte_is_whole_at_the_very_end_of_its_time_as_in_c(tmp_path: Path) -> None:
    program = (
        HELLO
        + """
while True:
    told = hear()
    if "set" in told and "start" not in told: tell(at=told["at"], write=0, byte=7)
    tell(now=told["at"])
"""
    )
    in_c = "int main(void) { rig_delay(1000); rig_store(0, 7); for (;;) rig_delay(99); }"
    for early_ms, is_whole in ((0.0, True), (0.001, False)):
        result = speak(program, tmp_path, [(10, 90, "key"), (11 - early_ms, 99, SUPPLY)], 50)
        assert (result.memory[0] == 7) is is_whole
        # A call takes a microsecond.
        result = small(in_c, tmp_path, [(2.001 - early_ms, 99, SUPPLY)], 50, use_blocks=False)
        assert (result.memory[0] == 7) is is_whole


def test_a_program_with_more_outputs_than_are_wired_may_tell_of_them(tmp_path: Path) -> None:
    code = 'tell(hello=1, outputs=["pump", "lamp"])\n' + ECHO.replace('{"lamp"', '{"pump": 1, "lamp"')
    result = speak(code, tmp_path, [(300, 50, "key")])
    assert (result.finding, turns(result, "lamp")) == ("", [(300_000, 1), (350_000, 0)])


def test_two_inputs_that_change_at_once_are_told_in_one_line(tmp_path: Path) -> None:
    settings = read_settings(
        f"rig: 1\nprogram: [{sys.executable}, program.py]\nbuttons: {{a: {{}}, b: {{}}}}\noutputs: {{both: {{}}}}\n",
        "rig.yaml",
    )
    code = 'tell(hello=1, outputs=["both"])\nwhile True:\n    told = hear()\n    if len(told.get("set", {})) == 2:\n'
    code += '        tell(at=told["at"], set={"both": told["set"]["a"] & told["set"]["b"]})\n    tell(now=told["at"])\n'
    (tmp_path / "program.py").write_text(HEAD + code, encoding="utf-8")
    changes = (Change(5000, "a", True), Change(5000, "b", True), Change(9000, "a", False))
    result = run_program(settings, tmp_path, Stimulus(changes, 20_000))
    assert turns(result, "both") == [(5000, 1)]
    assert rows(result)[1] == (5000, 1, 1, 1, 1)


def test_a_slow_program_is_given_the_time_that_the_file_says(tmp_path: Path) -> None:
    code = HELLO + ECHO.replace("    told = hear()", "    told = hear(); time.sleep(0.15)")
    acts: list[Act] = [(100, 50, "key"), (200, 50, "key")]
    assert speak(code, tmp_path, acts, limits=Limits(wall_ms=500)).finding == "takes too long"
    assert not speak(code, tmp_path, acts, more="answers within: 9 s", limits=Limits(wall_ms=500)).finding
