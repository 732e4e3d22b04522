"""`replay`, `--certificate` and `audit`: what was told or proved once can be tried again."""

import json
import re
from pathlib import Path

import pytest

from tests.snapshots.screens import ROOT, run

BROKEN = "specs/failures/accidental-off/broken.yaml"
MENDED = "specs/failures/accidental-off/mended.yaml"


def test_replay_tells_every_step_of_a_hazards_stories() -> None:
    code, out, _ = run("replay", "accidental-off", BROKEN)
    assert code == 1
    assert "bumps: pad is pressed" in out
    assert "lit, pad closed/released, processor runs" in out
    code, out, _ = run("replay", "accidental-off", MENDED)
    assert code == 0
    assert "no failure with a story" in out


def test_an_old_story_still_happens_or_no_longer(tmp_path: Path) -> None:
    told = tmp_path / "told.json"
    run("check", BROKEN, "--json", str(told))
    code, out, _ = run("replay", str(told), BROKEN)
    assert code == 1
    assert out.startswith("STILL HAPPENS")
    code, out, _ = run("replay", str(told), MENDED)
    assert code == 0
    assert "no longer happens" in out


@pytest.mark.parametrize("change", [{"at_us": 10**12}, {"part": "nobody"}, {"timer": "never"}, {"choice": 99}])
def test_a_changed_story_is_refused_not_believed(tmp_path: Path, change: dict[str, object]) -> None:
    told = tmp_path / "told.json"
    run("check", BROKEN, "--json", str(told))
    document = json.loads(told.read_text(encoding="utf-8"))
    for finding in document["specs"][0]["findings"]:
        if finding["verdict"] == "broken":
            finding["story"][5].update(change)
    told.write_text(json.dumps(document), encoding="utf-8")
    code, out, _ = run("replay", str(told), BROKEN)
    assert code == 0
    assert "can't happen then" in out


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"format": 2}', '{"format": 1, "specs": [{}]}', '{"format": 1, "specs": []}']
)
def test_what_is_no_findings_file_is_one_clear_line(tmp_path: Path, text: str) -> None:
    told = tmp_path / "told.json"
    told.write_text(text, encoding="utf-8")
    code, _, err = run("replay", str(told), BROKEN)
    assert code == 2
    assert "no story to replay" in err
    assert len(err.splitlines()) == 1


def test_draw_marks_what_findings_touch(tmp_path: Path) -> None:
    told, plain, marked = tmp_path / "told.json", tmp_path / "plain.dot", tmp_path / "marked.dot"
    run("check", BROKEN, "--json", str(told))
    assert run("draw", BROKEN, "-o", str(plain))[0] == 0
    assert run("draw", BROKEN, "-o", str(marked), "--findings", str(told))[0] == 0
    assert "finding here" not in plain.read_text(encoding="utf-8")
    assert marked.read_text(encoding="utf-8").count("! finding here") >= 1
    told.write_text("{}", encoding="utf-8")
    code, _, err = run("draw", BROKEN, "-o", str(marked), "--findings", str(told))
    assert code == 2
    assert "no findings to mark" in err


def test_an_unknown_hazard_or_file_is_one_clear_line() -> None:
    code, _, err = run("replay", "accidental-of", BROKEN)
    assert err.startswith("nudgeproof replay: there is no hazard")
    assert code == 2
    assert "did you mean `accidental-off`" in err


def test_certificates_are_written_and_pass_and_a_changed_one_is_refused(tmp_path: Path) -> None:
    folder = tmp_path / "proofs"
    assert run("check", MENDED, "--certificate", str(folder))[0] == 0
    proofs = sorted(str(path) for path in folder.glob("*.json"))
    assert len(proofs) == 8
    code, out, _ = run("audit", *proofs)
    assert code == 0
    assert out.count("proved") == len(proofs)
    smallest = min(proofs, key=lambda name: Path(name).stat().st_size)
    document = json.loads(Path(smallest).read_text(encoding="utf-8"))
    situation = next(iter(document["classes"]))
    document["classes"].remove(situation)
    Path(smallest).write_text(json.dumps(document), encoding="utf-8")
    code, out, _ = run("audit", smallest)
    assert code == 1
    assert out.startswith("REFUSED")
    code, out, _ = run("audit", proofs[0], "--spec", BROKEN)
    assert code == 1


def test_audit_of_something_else_is_one_clear_line(tmp_path: Path) -> None:
    other = tmp_path / "other.json"
    other.write_text("[1]", encoding="utf-8")
    code, _, err = run("audit", str(other))
    assert code == 2
    assert "no certificate" in err


NOWHERE = {
    "ambiguous-gesture",
    "held-at-power-up",
    "late-answer",
    "misread-gesture",
    "missed-gesture",
    "never-settles",
    "restarted-timer",
    "stale-memory",
    "stuck-button",
}
"""Hazards whose stories aren't played as a script yet, see `docs/not-covered.md`."""

NOWHERE_IN = ("from ", "left alone, ")
"""How promises begin of which the same is true."""


FIGURES = {"unlit-output", "over-limit", "undefined-voltage", "short-hold-up"}
"""Whether it happens on a unit hangs on its electricity, and is told in the sentence."""


def test_every_story_in_the_shipped_specs_says_where_and_how() -> None:
    for spec in sorted((ROOT / "specs/failures").glob("*/broken.yaml")):
        document = json.loads(run("check", "--json", "-", str(spec.relative_to(ROOT)))[1])
        for finding in document["specs"][0]["findings"]:
            if finding["verdict"] == "broken" and finding["story"]:
                acts = finding["hazard"] != "stale-memory"
                begins = r"(press( \w+)?|cell out|hold \w+ down and put the cell in|pulled out|mains gone) at 0 ms"
                weak = r"feed it from [\d.]+ V, or a little less, behind [\d.]+ ohm; "
                assert re.match(f"({weak})?{begins}|{weak}and leave it alone" if acts else "", finding["bench"])
                by_figures = finding["subject"] == "weak cells" or finding["hazard"] in FIGURES
                told = finding["where"] or finding["hazard"] in NOWHERE or finding["subject"].startswith(NOWHERE_IN)
                assert told or by_figures
