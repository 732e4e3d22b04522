"""What it means that nothing is going on, in the values that parts publish of each button.

Quiet is for the firmware: no button reads down and no pattern is pending. A chord that is begun or joined needs no word of
its own here, since one of its buttons reads down all the while. Rest is for who watches from outside: quiet, and all
contacts open and settled.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from nudgeproof.model.tables import Value

Look = Callable[[str], Value]
"""Gives a published value by its name."""


def quiet_names(buttons: Iterable[str]) -> tuple[str, ...]:
    """The published values that tell whether the firmware has nothing to do."""
    return tuple(f"{what} {button}" for button in buttons for what in ("reading", "pattern"))


def is_quiet(look: Look, buttons: Iterable[str]) -> bool:
    """Whether all buttons read released and no pattern is begun or pending."""
    return not any(look(name) for name in quiet_names(buttons))


def rest_names(buttons: Iterable[str]) -> tuple[str, ...]:
    """The published values that tell whether everything is at rest."""
    return tuple(f"{what} {button}" for button in buttons for what in ("level", "quiet", "reading", "pattern"))


def is_at_rest(look: Look, buttons: Iterable[str]) -> bool:
    """Whether all contacts are open and don't chatter, and the firmware has nothing to do."""
    names = tuple(buttons)
    moves = any(look(f"level {button}") or not look(f"quiet {button}") for button in names)
    return not moves and is_quiet(look, names)
