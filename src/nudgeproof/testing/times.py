"""Times in tests: whole microseconds, written as `100 * ms`."""

from __future__ import annotations

from typing import Final

us: Final = 1
ms: Final = 1_000
s: Final = 1_000_000
minute: Final = 60_000_000

_MOST_US: Final = 10**15
"""About thirty years, as for a stimulus."""


def whole_us(time: float, least: int = 0) -> int:
    """A time of at least `least`, as it is, or rounded where a product such as `1.1 * s` misses by a rounding error.

    Raises `ValueError` for one that is no whole number of microseconds, or that no board lasts for.
    """
    near = round(time) if abs(time) <= _MOST_US else -1
    if abs(time - near) > 1e-3 or near < least:
        raise ValueError(
            f"a time of {time} us; write a whole number of microseconds, at least {least}, such as `100 * ms`"
        )
    return near
