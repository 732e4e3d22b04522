"""`fuzz`: finds without the explorer, keeps what it found, never passes off nothing found as a proof."""

import shutil
from pathlib import Path

from tests.snapshots.screens import ROOT, run

BROKEN = ROOT / "specs/failures/accidental-off/broken.yaml"
MENDED = ROOT / "specs/failures/accidental-off/mended.yaml"


def test_it_finds_and_keeps_and_tries_first(tmp_path: Path) -> None:
    spec = tmp_path / "marker.yaml"
    shutil.copy(BROKEN, spec)
    code, first, _ = run("fuzz", str(spec), "--steps", "2000")
    assert code == 1
    assert "accidental-off: bumps" in first
    kept = tmp_path / "marker.corpus.json"
    text = kept.read_bytes()
    code, again, _ = run("fuzz", str(spec), "--steps", "0")
    assert code == 1
    assert "accidental-off: bumps" in again
    assert kept.read_bytes() == text
    assert sorted(path.name for path in tmp_path.iterdir()) == ["marker.corpus.json", "marker.yaml"]


def test_nothing_found_is_told_as_no_proof(tmp_path: Path) -> None:
    spec = tmp_path / "marker.yaml"
    shutil.copy(MENDED, spec)
    code, out, _ = run("fuzz", str(spec), "--steps", "500", "--seed", "7")
    assert code == 0
    assert "nothing found in" in out
    assert "prove nothing" in " ".join(out.split())
    assert list(tmp_path.iterdir()) == [spec]


def test_a_corpus_that_cannot_be_read_is_one_clear_error_and_stays(tmp_path: Path) -> None:
    corpus = tmp_path / "c.json"
    corpus.write_text("{", encoding="utf-8")
    code, _, err = run("fuzz", str(BROKEN), "--corpus", str(corpus))
    assert code == 2
    assert err.startswith(str(corpus))
    assert corpus.read_text(encoding="utf-8") == "{"


def test_numbers_are_checked() -> None:
    for option in ("--steps", "--seed"):
        assert run("fuzz", str(BROKEN), option, "-1")[0] == 2
        assert run("fuzz", str(BROKEN), option, "many")[0] == 2
