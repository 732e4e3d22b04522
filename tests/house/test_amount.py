"""One switch gives the tests their full size."""

from __future__ import annotations

import pytest

from tests.amount import SWITCH, amount, each, is_whole


def test_a_sample_is_the_rule_and_the_switch_gives_all(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(SWITCH, raising=False)
    assert amount(2, 40) == 2
    assert each(3, "abcdefgh") == ["a", "d", "g"]
    assert each(3, "abcdefgh", "fa") == ["a", "d", "f", "g"]
    monkeypatch.setenv(SWITCH, "whole")
    assert amount(2, 40) == 40
    assert each(3, "abcdefgh", "fa") == list("abcdefgh")


def test_another_word_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(SWITCH, "all")
    with pytest.raises(pytest.UsageError, match="NUDGEPROOF_TESTS is `all`: it can be `whole`"):
        is_whole()
