"""Exit codes, files and messages of the command line."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from nudgeproof.cli import checks
from nudgeproof.cli.commands import EVERYDAY, REST
from nudgeproof.cli.terminal import complain
from tests.snapshots.screens import ROOT, run

GOOD = "specs/failures/accidental-wake/mended.yaml"
BROKEN = "specs/failures/accidental-wake/broken.yaml"


def test_holds_is_0_and_broken_is_1() -> None:
    assert run("check", GOOD)[0] == 0
    assert run("check", BROKEN)[0] == 1
    assert run("check", GOOD, BROKEN)[0] == 1


@pytest.mark.usefixtures("few_random_steps")
def test_an_effort_that_runs_out_is_undecided_and_no_pass(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("nudgeproof.check.BUDGETS", {"usual": 10, "deep": 20})
    code, out, _ = run("check", "--only", "accidental-wake", GOOD)
    assert code == 3
    assert "UNDECIDED" in out
    assert "Next: nudgeproof check --effort deep" in out
    code, out, _ = run("check", "--only", "accidental-wake", "--effort", "deep", GOOD)
    assert code == 3
    assert "--effort deep" not in out
    assert "Next: nudgeproof fuzz" in out


@pytest.mark.usefixtures("few_random_steps")
def test_an_easy_question_is_answered_wherever_it_stands(monkeypatch: pytest.MonkeyPatch) -> None:
    """The questions before it used everything up, and yet the last promise gets its little."""
    monkeypatch.setattr("nudgeproof.check.BUDGETS", {"usual": 5_000})
    _, out, _ = run("check", "specs/trail-counter.yaml")
    assert "UNDECIDED  accidental-wake" in out
    assert "UNDECIDED  promise: damaged memory never reaches showing" not in out


def test_a_long_message_is_folded_on_a_terminal_only(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = "tests/spec/bad/" + sorted(path.name for path in (ROOT / "tests/spec/bad").glob("*.yaml"))[0]
    complain((ROOT / bad).with_suffix(".txt").read_text(encoding="utf-8"))
    piped = capsys.readouterr().err
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    complain(piped)
    folded = capsys.readouterr().err
    widths = [max(len(line) for line in text.splitlines() if not line.startswith("    ")) for text in (piped, folded)]
    assert widths[0] > 80 >= widths[1]
    assert "".join(piped.split()) == "".join(folded.split())


def test_a_question_that_never_came_up_is_no_pass(tmp_path: Path) -> None:
    spec = tmp_path / "stuck.yaml"
    text = (ROOT / "specs/failures/accidental-wake/broken.yaml").read_text(encoding="utf-8")
    text = text.replace("initial: stowed", "initial: lit").replace("{two taps: stowed}", "{two taps: lit}")
    spec.write_text(text, encoding="utf-8")
    code, out, _ = run("check", "--only", "accidental-wake", str(spec))
    assert code == 3
    assert "NEVER CAME UP" in out


def test_bad_input_is_2_and_the_other_specs_are_still_checked(tmp_path: Path) -> None:
    bad = tmp_path / "bad.yaml"
    bad.write_text("spec: 1\ndevice: x\nbutons: {}\n", encoding="utf-8")
    code, out, err = run("check", str(bad), BROKEN)
    assert code == 2
    assert "did you mean `buttons`" in err
    assert "strap light: 1 broken" in out


@pytest.mark.parametrize("spec", ["nowhere.yaml", ".", "bad\0name"])
def test_a_file_that_cannot_be_read_is_one_line(spec: str) -> None:
    code, _, err = run("check", spec)
    assert code == 2
    assert len(err.splitlines()) == 1


def test_a_question_that_must_be_asked_and_is_not_fails() -> None:
    code, out, _ = run("check", "--require", "accidental-wake", GOOD)
    assert code == 0
    assert "required" not in out
    code, out, _ = run("check", "--require", "stuck-button", "--require", "accidental-wake", GOOD)
    assert code == 3
    assert "1 of them required" in out.splitlines()[0]
    assert "- stuck-button (required):" in out
    assert run("check", "--require", "all", GOOD)[0] == 3
    code, _, err = run("check", "--require", "stuck-buton", GOOD)
    assert code == 2
    assert err == "nudgeproof check: --require: there is no hazard `stuck-buton`; did you mean `stuck-button`?\n"


def test_only_asks_one_hazard_and_knows_the_nearest_name() -> None:
    code, out, _ = run("check", "--only", "unreachable-mode", BROKEN)
    assert code == 0
    assert "accidental-wake:" not in out
    code, _, err = run("check", "--only", "accidental-woke", BROKEN)
    assert code == 2
    assert "did you mean `accidental-wake`" in err


def test_closest_calls_are_told_on_the_screen_and_exactly_in_json(tmp_path: Path) -> None:
    spec, target = "specs/failures/accidental-wake/mended.yaml", tmp_path / "out.json"
    code, out, _ = run("check", "--closest", "--json", str(target), spec)
    assert code == 0
    assert "then open at least  805 ms or less  1 s        195 ms (19 %)" in out
    assert max(map(len, out.splitlines())) <= 80
    calls = json.loads(target.read_text(encoding="utf-8"))["specs"][0]["closest"]
    assert calls[0] == {
        "hazard": "accidental-wake",
        "subject": "squeeze",
        "source": "squeeze",
        "bound": "closes pad",
        "side": "longest",
        "stated_us": 20_000_000,
        "holds_to_us": None,
        "breaks_at_us": None,
        "spare_us": None,
        "no_limit_needed": True,
    }
    pause = next(call for call in calls if call["bound"] == "then open at least")
    assert (pause["holds_to_us"], pause["breaks_at_us"], pause["spare_us"]) == (805_001, 805_000, 195_000)
    plain = run("check", "--json", "-", spec)[1]
    assert json.loads(plain)["specs"][0]["closest"] is None


def test_json_goes_to_a_file_whole_or_not_at_all(tmp_path: Path) -> None:
    target = tmp_path / "out.json"
    assert run("check", "--json", str(target), BROKEN)[0] == 1
    document = json.loads(target.read_text(encoding="utf-8"))
    assert document["format"] == 1
    finding = document["specs"][0]["findings"][0]
    assert finding["hazard"] == "accidental-wake"
    assert finding["story"][-1]["situation"]["state"] == "lit"
    assert list(tmp_path.iterdir()) == [target]
    code, _, err = run("check", "--json", str(tmp_path / "no" / "out.json"), BROKEN)
    assert code == 2
    assert "can't be written" in err


def test_draw_writes_each_form_and_refuses_others(tmp_path: Path) -> None:
    for form, begin in (("svg", b"<?xml"), ("png", b"\x89PNG"), ("dot", b"digraph")):
        target = tmp_path / f"x.{form}"
        assert run("draw", GOOD, "-o", str(target))[0] == 0
        assert target.read_bytes().lstrip(b"/*- \n")[: len(begin)] == begin or form == "dot"
    code, _, err = run("draw", GOOD, "-o", str(tmp_path / "x.gif"))
    assert code == 2
    assert ".svg, .png or .dot" in err


def test_interrupt_is_130_and_a_fault_of_the_tool_is_70(monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(arguments: object) -> int:
        raise KeyboardInterrupt

    def failing(arguments: object) -> int:
        raise RuntimeError("no such thing")

    monkeypatch.setattr(checks, "check", interrupted)
    assert run("check", GOOD)[0] == 130
    monkeypatch.setattr(checks, "check", failing)
    code, _, err = run("check", GOOD)
    assert code == 70
    assert "no fault of your spec" in err
    assert "Traceback" not in err
    monkeypatch.setenv("NUDGEPROOF_TRACEBACK", "1")
    code, _, err = run("check", GOOD)
    assert code == 70
    assert "Traceback" in err


def test_a_reader_that_closes_early_is_no_fault() -> None:
    command = f'"{sys.executable}" -m nudgeproof check "{GOOD}" "{BROKEN}" | head -n 1'
    done = subprocess.run(command, shell=True, cwd=ROOT, capture_output=True, text=True)
    assert done.stderr == ""


@pytest.mark.parametrize("command", [(), *((command.name,) for command in (*EVERYDAY, *REST))])
def test_help_fits_a_terminal(command: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    code, out, _ = run(*command, "--help")
    assert code == 0
    assert "exit codes" in out
    assert max(map(len, out.splitlines())) <= 80


def test_the_first_help_lists_the_commands_of_every_day_first() -> None:
    _, out, _ = run("--help")
    names = [line.split()[0] for line in out.splitlines() if line.startswith("  ") and not line.startswith("  -")]
    everyday = ["new", "check", "why", "explain", "supply", "draw", "card"]
    assert names == [*everyday, "replay", "fuzz", "follow", "rig", "trial", "stimulus", "measure", "audit"]


def test_help_imports_no_library() -> None:
    """The command line answers at once because nothing heavy is imported before a command runs."""
    code = "import sys; from nudgeproof.cli import main; main(['--help']); print(sorted(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    for heavy in (
        "yaml",
        "networkx",
        "graphviz",
        "hypothesis",
        "vcd",
        "nudgeproof.check",
        "nudgeproof.spec",
        "nudgeproof.report",
    ):
        assert f"'{heavy}'" not in done.stdout


def test_output_in_a_terminal_without_unicode() -> None:
    environment = {**os.environ, "PYTHONIOENCODING": "ascii"}
    command = [sys.executable, "-m", "nudgeproof", "check", BROKEN]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, env=environment)
    assert done.returncode == 1
    assert b"####" in done.stdout
    assert b"?" not in done.stdout
