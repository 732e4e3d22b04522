"""Each bad spec of the corpus gives exactly the message that is written beside it."""

from __future__ import annotations

from pathlib import Path

import pytest

from nudgeproof.diagnostics import SHOWN_AT_ONCE, SpecErrors
from nudgeproof.spec.read import read_device
from tests.spec.regenerate import BAD, read, write

SPECS = sorted(BAD.glob("*.yaml"))


@pytest.mark.parametrize("spec", SPECS, ids=lambda spec: spec.stem)
def test_message_is_the_one_beside_it_and_every_caret_stands_under_its_column(spec: Path) -> None:
    with pytest.raises(SpecErrors) as caught:
        read(spec)
    assert write(caught.value) == spec.with_suffix(".txt").read_text(encoding="utf-8")
    lines = spec.read_bytes().decode("utf-8", errors="replace").splitlines()
    for problem in caught.value.problems:
        line = problem.place.line
        assert 1 <= line <= len(lines)
        assert problem.place.column >= 1
        assert len(problem.source) <= 100
        assert "\t" not in problem.source
        assert not problem.source or problem.source.isprintable()
        shown = str(problem).splitlines()
        assert shown[-1].index("^") - 4 == min(problem.place.column - 1, len(problem.source))


def test_corpus_is_whole() -> None:
    assert len(SPECS) >= 150
    assert {path.stem for path in BAD.glob("*.txt")} == {path.stem for path in SPECS}


def test_messages_hold_no_word_of_the_yaml_library() -> None:
    for path in BAD.glob("*.txt"):
        text = (
            path.read_text(encoding="utf-8")
            .lower()
            .replace("`none`", "")
            .replace("guard: none", "")
            .replace("then none for", "")
        )
        for jargon in ("scalar", "token", "scanning", "parsing", "flow", "anchor", "alias", "traceback", "none"):
            assert jargon not in text, (path.name, jargon)


def test_only_some_of_many_problems_are_printed() -> None:
    spec = BAD / "many-problems.yaml"
    with pytest.raises(SpecErrors) as caught:
        read_device(spec.read_text(encoding="utf-8"), spec.name)
    assert len(caught.value.problems) > SHOWN_AT_ONCE
    assert str(caught.value).endswith(
        f"... and {len(caught.value.problems) - SHOWN_AT_ONCE} more problems in this file"
    )
