"""Full disks, closed streams, several at once: an answer or one clear line, and nothing lost."""

from __future__ import annotations

import itertools
import json
import subprocess
import sys
import time
from pathlib import Path

import pytest

from nudgeproof.cli.files import BadInput, alone_beside
from nudgeproof.diagnostics import MOST_PROBLEMS, SpecErrors
from nudgeproof.spec.read import read_device
from tests.amount import amount
from tests.snapshots.screens import ROOT, run

GOOD, BAD = (f"specs/failures/missed-gesture/{which}.yaml" for which in ("mended", "broken"))
"""The quickest to check."""
BROKEN = "specs/failures/accidental-wake/broken.yaml"
FULL = Path("/dev/full")
COMMAND = [sys.executable, "-m", "nudgeproof"]


def start(*words: str, **streams: object) -> subprocess.Popen[bytes]:
    return subprocess.Popen([*COMMAND, *words], cwd=ROOT, **streams)  # type: ignore[call-overload, no-any-return]


@pytest.mark.skipif(not FULL.exists(), reason="only there is a disk that is always full")
@pytest.mark.parametrize("words", [("check", GOOD), ("check", "--json", "-", BAD), ("explain", "promises")])
def test_a_full_disk_is_one_line_and_no_pass(words: tuple[str, ...]) -> None:
    with FULL.open("wb") as full:
        process = start(*words, stdout=full, stderr=subprocess.PIPE)
        _, err = process.communicate()
    assert process.returncode == 2
    assert err.decode() == "nudgeproof: what it has to say can't be written: No space left on device\n"


@pytest.mark.skipif(not FULL.exists(), reason="only there is a disk that is always full")
def test_a_complaint_that_nobody_can_read_still_fails() -> None:
    with FULL.open("wb") as full:
        assert start("check", "nowhere.yaml", stdout=subprocess.DEVNULL, stderr=full).wait() == 2


@pytest.mark.parametrize("closed", ["1>&-", "2>&-", "1>&- 2>&-"])
def test_closed_streams_change_no_answer(closed: str) -> None:
    answers = ((GOOD, 0), (BAD, 1), ("nowhere.yaml", 2))
    for spec, code in answers if closed == "1>&-" else answers[1:2]:
        line = f'"{sys.executable}" -m nudgeproof check {spec} {closed}'
        done = subprocess.run(["sh", "-c", line], cwd=ROOT, capture_output=True)
        assert (done.returncode, b"Traceback" in done.stderr) == (code, False)


def test_a_corpus_that_cannot_be_written_loses_no_story(tmp_path: Path) -> None:
    for corpus in (tmp_path / "missing" / "kept.json", tmp_path):
        code, out, err = run("fuzz", BROKEN, "--corpus", str(corpus), "--steps", "2000")
        assert code == 2
        assert len(err.splitlines()) == 1
        assert "Traceback" not in err
        if not corpus.is_dir():
            assert "accidental-wake" in out


def test_what_others_found_meanwhile_is_kept_too(tmp_path: Path) -> None:
    """Several at once on one corpus, each with its own device: every entry that any of them finds is there at the end."""
    names = ("missed-gesture", "output-in-reset", *amount((), ("accidental-wake", "held-at-power-up")))
    specs = [f"specs/failures/{name}/broken.yaml" for name in names]
    together = tmp_path / "together.json"
    wanted: set[str] = set()
    for number, spec in enumerate(specs):
        alone = tmp_path / f"{number}.json"
        assert run("fuzz", spec, "--corpus", str(alone), "--steps", "200")[0] == 1
        wanted |= {json.dumps(entry) for entry in json.loads(alone.read_text())["entries"]}
    words = ("--corpus", str(together), "--steps", "200")
    processes = [start("fuzz", spec, *words, stdout=subprocess.DEVNULL) for spec in specs]
    assert [process.wait() for process in processes] == [1] * len(specs)
    assert len(wanted) >= len(specs)
    assert {json.dumps(entry) for entry in json.loads(together.read_text())["entries"]} == wanted
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


def test_two_are_not_in_the_same_place_at_once(tmp_path: Path) -> None:
    pytest.importorskip("fcntl")
    waits = (
        "import sys\nfrom nudgeproof.cli.files import alone_beside\nprint('waits', flush=True)\n"
        "with alone_beside(sys.argv[1]):\n    print('is in', flush=True)\n"
    )
    name = str(tmp_path / "kept.json")
    inside = alone_beside(name)
    inside.__enter__()
    with subprocess.Popen([sys.executable, "-c", waits, name], stdout=subprocess.PIPE, text=True) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "waits\n"
        time.sleep(0.3)
        assert other.poll() is None
        inside.__exit__(None, None, None)
        assert other.stdout.read() == "is in\n"
    assert other.returncode == 0
    with pytest.raises(BadInput), alone_beside(str(tmp_path / "missing" / "kept.json")):
        pass


def test_what_is_no_file_or_no_spec_is_one_clear_complaint(tmp_path: Path) -> None:
    loop, deep, bomb, wide = (tmp_path / name for name in ("loop", "deep.yaml", "bomb.yaml", "wide.yaml"))
    loop.symlink_to(loop)
    deep.write_text("a: " + "[" * 10_000 + "]" * 10_000)
    bomb.write_text("a: &a [x, x]\n" + "".join(f"{b}: &{b} [*{a}, *{a}]\n" for a, b in itertools.pairwise("abcdefgh")))
    wide.write_text("a: 1\n" * 200_001)
    told = (
        (loop, "symbolic links"),
        (deep, "inside each other"),
        (bomb, "label"),
        (wide, "larger"),
        (tmp_path, "directory"),
    )
    for path, why in told:
        code, out, err = run("check", str(path))
        assert (code, out) == (2, "")
        assert why in err
    for words in (("--json", str(loop)), ("--certificate", str(loop))):
        assert run("check", "--only", "accidental-wake", BROKEN, *words)[0] == 2
    assert loop.is_symlink()


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="only there is a file without an end")
@pytest.mark.parametrize(
    "words",
    [
        ("check", "/dev/zero"),
        ("replay", "/dev/zero", BROKEN),
        ("audit", "/dev/zero"),
        ("fuzz", BROKEN, "--corpus", "/dev/zero"),
    ],
)
def test_a_file_without_an_end_is_refused(words: tuple[str, ...]) -> None:
    code, out, err = run(*words)
    assert (code, out, len(err.splitlines())) == (2, "", 1)


def test_a_link_is_written_through(tmp_path: Path) -> None:
    target, link = tmp_path / "kept.json", tmp_path / "link.json"
    target.write_text("old")
    link.symlink_to(target)
    assert run("check", "--only", "accidental-wake", BROKEN, "--json", str(link))[0] == 1
    assert link.is_symlink()
    assert json.loads(target.read_text())["format"] == 1


def test_a_file_that_is_no_spec_at_all_ends_soon() -> None:
    text = "spec: 1\n" + "".join(f"k{number}: 1\n" for number in range(3_000))
    with pytest.raises(SpecErrors) as caught:
        read_device(text, "x.yaml")
    assert len(caught.value.problems) == MOST_PROBLEMS
    assert str(caught.value).endswith("... and at least 995 more problems in this file")


def test_sarif_needs_a_file_since_the_screen_has_the_findings() -> None:
    code, _, err = run("check", str(ROOT / "specs" / "rain-cover-light.yaml"), "--sarif", "-")
    assert (code, "name a file" in err) == (2, True)
