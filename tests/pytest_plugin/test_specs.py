"""Specs as tests: names, verdicts, texts, settings; and what happens when there is nothing to test."""

from __future__ import annotations

import re
import subprocess
import sys

import pytest

from nudgeproof import answers, check
from tests.pytest_plugin.project import INI, begin, names, run, run_apart
from tests.snapshots.screens import run as run_command

pytest_plugins = "pytester"

SPECS = "nudgeproof_specs = specs/*.yaml"
BROKEN = [
    "specs/broken.yaml::accidental-wake::squeeze",
    "specs/broken.yaml::unreachable-mode::lit",
    "specs/broken.yaml::accidental-off::squeeze",
    "specs/broken.yaml::accidental-change::squeeze",
    "specs/broken.yaml::never-settles::left alone",
]


def test_an_item_for_each_question_with_a_readable_name(pytester: pytest.Pytester) -> None:
    begin(pytester, SPECS)
    told = names(pytester)
    assert told[:5] == BROKEN
    assert {name.partition("::")[0] for name in told} == {"specs/broken.yaml", "specs/mended.yaml"}


def test_a_failure_is_what_the_terminal_shows_and_no_traceback(pytester: pytest.Pytester) -> None:
    begin(pytester, SPECS)
    done = run(pytester)
    done.assert_outcomes(passed=10, failed=1)
    screen = run_command("check", "specs/failures/accidental-wake/broken.yaml")[1]
    block = screen[screen.index("BROKEN") : screen.index("What it would take")].rstrip()
    out = done.stdout.str()
    assert block in out
    assert "Next: nudgeproof check --cures specs/broken.yaml" in out
    assert "Traceback" not in out
    assert ".py:" not in out
    done.stdout.fnmatch_lines("FAILED specs/broken.yaml::accidental-wake::squeeze - with squeeze*")


def test_marks_keywords_and_names_choose(pytester: pytest.Pytester) -> None:
    begin(pytester, SPECS)
    assert names(pytester, "-m", "accidental-wake", "specs/broken.yaml") == BROKEN[:1]
    assert names(pytester, "-k", "unreachable-mode", "specs/broken.yaml") == BROKEN[1:2]
    assert names(pytester, "-m", "nudgeproof", "specs/broken.yaml") == BROKEN
    assert names(pytester, "specs/broken.yaml::accidental-off") == BROKEN[2:3]
    run(pytester, BROKEN[4]).assert_outcomes(passed=1)


def test_nothing_is_collected_unless_asked_for(pytester: pytest.Pytester) -> None:
    folder = begin(pytester)
    (folder / "other.yaml").write_text("cases:\n  - device: x\n", encoding="utf-8")
    assert run(pytester).ret is pytest.ExitCode.NO_TESTS_COLLECTED
    assert run(pytester, "specs").ret is pytest.ExitCode.NO_TESTS_COLLECTED
    assert names(pytester, "specs/broken.yaml") == BROKEN
    assert run(pytester, "other.yaml").ret is pytest.ExitCode.USAGE_ERROR


def test_specs_beside_the_test_paths_are_collected_too_but_not_when_a_path_was_named(
    pytester: pytest.Pytester,
) -> None:
    folder = begin(pytester, SPECS, "testpaths = tests")
    (folder / "tests").mkdir()
    (folder / "tests" / "test_one.py").write_text("def test_one(): pass\n", encoding="utf-8")
    told = names(pytester)
    assert told[:2] == ["tests/test_one.py::test_one", BROKEN[0]]
    assert len(told) == len(set(told)) == 12
    assert names(pytester, "tests") == told[:1]


@pytest.mark.parametrize(
    ("setting", "says"),
    [
        ("nudgeproof_specs = spec/*.yaml", "nudgeproof_specs: no file fits `spec/*.yaml`"),
        ("nudgeproof_specs = specs", "nudgeproof_specs: no file fits `specs`"),
        ("nudgeproof_trials =\n  specs/mended.yaml --rig specs --map m", "nudgeproof_trials: no file fits `specs`"),
        ("nudgeproof_effort = huge", "nudgeproof_effort: `huge` is none of quick, usual, deep"),
        ("nudgeproof_undecided = pass", "nudgeproof_undecided: `pass` is none of fail, skip"),
        ("nudgeproof_require = accidental-wak", "did you mean `accidental-wake`?"),
        ("nudgeproof_known = nowhere.txt", "nudgeproof_known: "),
        ("nudgeproof_trials =\n  specs/mended.yaml --rig rig.yaml", "the following arguments are required: --map"),
        ("nudgeproof_recordings =\n  specs/mended.yaml 'a.csv", "No closing quotation"),
    ],
)
def test_a_setting_that_would_test_nothing_is_refused(pytester: pytest.Pytester, setting: str, says: str) -> None:
    begin(pytester, setting)
    done = run(pytester)
    assert done.ret is pytest.ExitCode.USAGE_ERROR
    assert says in done.stderr.str()
    assert "Traceback" not in done.stderr.str()


def test_a_mistake_in_a_spec_is_an_error_of_collection_with_its_place(pytester: pytest.Pytester) -> None:
    folder = begin(pytester, SPECS)
    text = (folder / "specs" / "broken.yaml").read_text(encoding="utf-8")
    (folder / "specs" / "broken.yaml").write_text(text.replace("buttons:", "butons:"), encoding="utf-8")
    done = run(pytester)
    done.assert_outcomes(errors=1)
    out = done.stdout.str()
    assert re.search(r"^specs/broken\.yaml:\d+:1: .*did you mean `buttons`", out, re.MULTILINE)
    assert "    ^" in out
    assert "Traceback" not in out
    assert ".py:" not in out


def test_what_is_undecided_fails_or_is_skipped_and_never_passes(
    pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(check.BUDGETS, "usual", 10)
    monkeypatch.setattr(answers, "RANDOM_STEPS", 100)
    monkeypatch.setattr(answers, "LEAST_RANDOM_STEPS", 100)
    folder = begin(pytester, SPECS)
    done = run(pytester, "specs/mended.yaml", "-k", "accidental-wake")
    done.assert_outcomes(failed=1)
    assert "UNDECIDED  accidental-wake: squeeze" in done.stdout.str()
    (folder / "pytest.ini").write_text(INI + "nudgeproof_undecided = skip\n", encoding="utf-8")
    done = run(pytester, "specs/mended.yaml", "-k", "accidental-wake", "-rs")
    done.assert_outcomes(skipped=1)
    assert "undecided: the effort ran out" in done.stdout.str()


def test_a_question_that_never_came_up_fails(pytester: pytest.Pytester) -> None:
    folder = begin(pytester)
    text = (folder / "specs" / "broken.yaml").read_text(encoding="utf-8")
    text = text.replace("initial: stowed", "initial: lit").replace("{two taps: stowed}", "{two taps: lit}")
    (folder / "specs" / "broken.yaml").write_text(text, encoding="utf-8")
    done = run(pytester, "specs/broken.yaml", "-k", "accidental-wake")
    done.assert_outcomes(failed=1)
    assert "NEVER CAME UP" in done.stdout.str()


def test_a_hazard_that_must_be_asked_fails_where_it_is_not(pytester: pytest.Pytester) -> None:
    begin(pytester, "nudgeproof_require = lost-state accidental-wake")
    done = run(pytester, "specs/mended.yaml")
    done.assert_outcomes(passed=6, failed=1)
    text = "specs/mended.yaml: lost-state is required and isn't asked: the spec has no `memory`"
    assert text in done.stdout.str()
    assert "::lost-state::required" in done.stdout.str()


def test_what_is_known_to_fail_fails_once_it_holds(pytester: pytest.Pytester) -> None:
    folder = begin(pytester, SPECS, "nudgeproof_known = known.txt")
    (folder / "known.txt").write_text(f"  # since the first prototype\n{BROKEN[0]}\n", encoding="utf-8")
    run(pytester).assert_outcomes(passed=10, xfailed=1)
    (folder / "known.txt").write_text("\n".join(BROKEN[:2]), encoding="utf-8")
    run(pytester).assert_outcomes(passed=9, xfailed=1, failed=1)


def test_several_processes_and_an_xml_report(pytester: pytest.Pytester) -> None:
    folder = begin(pytester, SPECS)
    done = run_apart(pytester, "-n", "2", "--junitxml", "told.xml")
    done.assert_outcomes(passed=10, failed=1)
    assert "usually   ask for a second, different step" in done.stdout.str()
    xml = (folder / "told.xml").read_text(encoding="utf-8")
    assert '<property name="verdict" value="broken"' in xml
    assert "the firmware sees hold" in xml


def test_loading_it_costs_next_to_nothing() -> None:
    """pytest loads it at every start, also in projects that have nothing to do with it."""
    code = "import sys, pytest; old = set(sys.modules); import nudgeproof.pytest_plugin; print(*set(sys.modules) - old)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert set(done.stdout.split()) == {"nudgeproof", "nudgeproof.pytest_plugin"}
