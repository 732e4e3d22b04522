"""How much the tests do: a sample in the suite, all of it where the environment says `NUDGEPROOF_TESTS=whole`.

A sample has a case of every kind; what it leaves out is more of the same.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import TypeVar

import pytest

SWITCH = "NUDGEPROOF_TESTS"
WHOLE = "whole"

T = TypeVar("T")


def is_whole() -> bool:
    """Whether all is wanted; raises `UsageError` for a value that means nothing."""
    value = os.environ.get(SWITCH, "")
    if value not in ("", WHOLE):
        raise pytest.UsageError(f"{SWITCH} is `{value}`: it can be `{WHOLE}`, for tests at full size, or not be set")
    return value == WHOLE


def amount(suite: T, whole: T) -> T:
    """`suite`, or `whole` where that is wanted."""
    return whole if is_whole() else suite


def each(number: int, of: Sequence[T], and_also: Sequence[T] = ()) -> list[T]:
    """In the suite every `number`th of them, and what else may not be missing; in the order that they have."""
    return [one for place, one in enumerate(of) if is_whole() or place % number == 0 or one in and_also]
