"""The pages about tests and CI: what they tell to write is written into a project, what they tell to run is run there."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from nudgeproof.cli import main
from nudgeproof.testing import Place, ms, s
from tests.pytest_plugin.project import add_lamp, run
from tests.snapshots.screens import ROOT

pytest_plugins = "pytester"

CI, TESTS = (ROOT / "docs" / f"{name}.md" for name in ("ci", "tests"))
_FILE = re.compile(r"<!-- project: (\S+) -->\n\n```\w+\n(.*?)```", re.DOTALL)
_NAMES = re.compile(r"<!-- names: [\w ]+ -->\n\n```text\n(.*?)```", re.DOTALL)
_SHELL = re.compile(r"^```sh\n(.*?)^```|^ +- run: ([^\n]*)$", re.DOTALL | re.MULTILINE)


def begin(folder: Path) -> None:
    """The project of the pages: a lamp with its spec, firmware, map and a recording, and what docs/tests.md writes."""
    add_lamp(folder)
    (folder / "lamp").rename(folder / "firmware")
    for name in ("specs", "recordings", "tests", "told"):
        (folder / name).mkdir()
    (folder / "lamp.yaml").rename(folder / "specs" / "lamp.yaml")
    board = Place(folder).rig("firmware/rig.yaml")
    board.wait(100 * ms)
    board.press("KEY", 2 * s)
    board.wait(1 * s)
    (folder / "recordings" / "hold.csv").write_text(board.recording, encoding="utf-8")
    for name, text in _FILE.findall(TESTS.read_text(encoding="utf-8")):
        (folder / name).write_text(text, encoding="utf-8")


def test_the_page_about_tests(pytester: pytest.Pytester) -> None:
    begin(pytester.path)
    (told,) = _NAMES.findall(TESTS.read_text(encoding="utf-8"))
    listed = [line for line in run(pytester, "--collect-only", "-q").outlines if "::" in line]
    assert [line for line in listed if not line.startswith("tests/")] == told.splitlines()
    run(pytester, "-W", "error").assert_outcomes(passed=10)


def shell_lines() -> list[str]:
    found = _SHELL.findall(CI.read_text(encoding="utf-8"))
    return [line for block, one in found for line in (block or one).strip().splitlines()]


def test_every_line_of_shell_in_the_page_about_ci(pytester: pytest.Pytester) -> None:
    folder = pytester.path
    begin(folder)
    lines = shell_lines()
    offline = [line for line in lines if "pip install" not in line]
    # What is installed from a registry can't be tried here.
    assert len(lines) - len(offline) == 2
    assert len(offline) == 13
    for line in offline:
        # The shell puts in names of files and dates; the commands then run in this process, which saves starting Python.
        words = subprocess.run(["sh", "-c", f"printf '%s\\n' {line}"], cwd=folder, capture_output=True, text=True)
        program, *arguments = words.stdout.splitlines()
        if program == "pytest":
            assert run(pytester, *arguments).ret is pytest.ExitCode.OK
        elif program == "nudgeproof":
            assert main(arguments) == 0, line
        else:
            assert line == "mkdir -p told"
    told = {path.name for path in (folder / "told").iterdir()}
    assert told == {
        "findings.sarif",
        "findings.json",
        "recordings.json",
        "junit.xml",
        "card.html",
        "states.svg",
        "proofs",
    }


def test_its_settings_are_those_that_the_plugin_has() -> None:
    names = re.findall(r"^\| `(nudgeproof_\w+)` \|", TESTS.read_text(encoding="utf-8"), re.MULTILINE)
    from nudgeproof import pytest_plugin

    assert set(names) == {*pytest_plugin._PATTERNS, *pytest_plugin._LINES, *pytest_plugin._WORDS}


@pytest.mark.parametrize("page", [CI, TESTS], ids=lambda page: page.name)
def test_every_link_leads_somewhere(page: Path) -> None:
    for link, heading in re.findall(r"\]\((?!https?:)([^)#]*)(?:#([^)]*))?\)", page.read_text(encoding="utf-8")):
        target = page.parent / link if link else page
        assert target.exists(), link
        titles = re.findall(r"^#+ (.*)$", target.read_text(encoding="utf-8"), re.MULTILINE)
        anchors = {re.sub(r"[^\w -]", "", title.lower()).replace(" ", "-") for title in titles}
        assert not heading or heading in anchors, heading
