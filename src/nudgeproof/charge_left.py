"""Whether a story's outages fit one capacitor: what was drawn from it in each configuration adds up to its charge.

The explorer takes what is left of the charge, once another load draws from it, for anything (see `parts.capacitor`). Here
the story's own times are counted: on a unit whose hold-up lies at the share u of each span, each stretch takes its part
of the charge, and at the reset the parts must add up to all of it. So they must add up to no less than all for the
shortest hold-up, and to no more for the longest. What doesn't is no story; what does may still be one that no unit gives to
the microsecond, since the longest hold-up after a change is reckoned from cells without a load.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from nudgeproof.engines.story import Story
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.supply import HOLDS_UP, RESET, SAGS
from nudgeproof.units import FOREVER, Bound

_Stretch = tuple[int, int, Bound]
"""How long one configuration drew from the capacitor, and the ends of its hold-up if it did so alone, in microseconds."""


def fits(model: Model, story: Story) -> bool:
    """Whether one capacitor gives every reset of the story that comes after a change of the load during an outage."""
    return not model.publishes(HOLDS_UP) or all(_adds_up(stretches) for stretches in _resets(model, story))


def _adds_up(stretches: list[_Stretch]) -> bool:
    if len(stretches) < 2:
        return True  # it was in the span, as the explorer knows
    most = sum((Fraction(time, low) if low else Fraction(1) for time, low, _ in stretches), Fraction(0))
    least = sum(
        (Fraction(0) if high == FOREVER else Fraction(time, int(high)) for time, _, high in stretches), Fraction(0)
    )
    return least <= 1 <= most


def _resets(model: Model, story: Story) -> Iterator[list[_Stretch]]:
    """For each reset by an empty capacitor the stretches before it."""
    begun: int | None = None
    stretches: list[_Stretch] = []
    for beat in story.beats:
        sent = [signal for taken in beat.move.taken for signal in taken.choice.send]
        if begun is not None:
            _, low, high = _told(model, beat.before)
            if _told(model, beat.before) != _told(model, beat.after) or RESET in sent:
                stretches.append((beat.at_us - begun, low, high))
                begun = beat.at_us
        if RESET in sent and begun is not None:
            yield stretches
            begun, stretches = None, []
        elif SAGS in sent:
            begun, stretches = beat.at_us, []


def _told(model: Model, situation: Situation) -> tuple[str, int, Bound]:
    """The name, the shortest and the longest hold-up of a full capacitor, as it is drawn from in a situation."""
    told = model.value(situation, HOLDS_UP)
    assert isinstance(told, tuple)
    name, _, high, low = told
    return name, low, high
