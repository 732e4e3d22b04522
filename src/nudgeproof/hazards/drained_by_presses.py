"""Drained by presses: what wakes the processor without meaning it takes so much charge that the cells don't last as
promised.

Each knock, squeeze or event that wakes a sleeping processor costs the current of a running one until it sleeps again; so
many a day, as the `use` states. A promise that cells last is reckoned with and without them: kept without, broken with them.
"""

from __future__ import annotations

from fractions import Fraction

from nudgeproof.hazards.weak_cells import NO_CELLS, failing, holding, open_answer
from nudgeproof.parts.budget import budget, wake_charge
from nudgeproof.quantities import exact, show
from nudgeproof.questions.ask import Derived, NotAsked
from nudgeproof.questions.grammar import read_promises
from nudgeproof.questions.lasting import Lasts, find_day, say_hours, why_unknown
from nudgeproof.spec.electrical import Day
from nudgeproof.spec.types import Device

NAME = "drained-by-presses"
MEANS = "what wakes the processor without meaning it takes so much charge that the cells don't last as promised"
CURE = (
    "go back to sleep sooner, wake on less (an edge and not a level, one button and not all), look with a slow clock"
    " first, or wake on nothing but a charger once the cells are low"
)
SHOWN = """\
knocks     ▁█▁▁█▁█▁▁▁█▁█▁▁█▁▁▁█▁█▁▁█▁█▁  each wakes the processor for nothing
charge     ▇▇▇▇▆▆▆▅▅▅▅▅▄▄▄▃▃▃▃▂▂▂▂▂▁▁▁▁  gone before anybody used it"""
ASKED_IF = "a promise `cells last at least ...` about a `use` with `times`"
TEMPTING = "a smaller current in sleep: it isn't sleep that takes the charge"
EXACT = "exact for the currents and times stated; each source acts as often as stated, at its longest"


def ask(device: Device) -> tuple[Derived, ...] | NotAsked:
    """One answer for each use with sources that act, about which something is promised."""
    if device.electricity is None:
        return NotAsked(NAME, NO_CELLS)
    found = []
    for promise in read_promises(device):
        day = find_day(device, promise.use) if isinstance(promise, Lasts) else None
        if isinstance(promise, Lasts) and day is not None and day.times:
            found.append(_answer(device, promise, day))
    return tuple(found) if found else NotAsked(NAME, "no promise says how long cells last in a `use` with `times`")


def _answer(device: Device, promise: Lasts, day: Day) -> Derived:
    with_them = budget(device, day)
    if with_them.hours is None:
        return open_answer(NAME, day.name, why_unknown(device), day.at)
    rest = device.state(day.rest)
    costs = [(name, times, wake_charge(device, rest, name, Fraction(0))) for name, times in day.times]
    name, times, each = max(costs, key=lambda cost: exact(cost[2].hi, "A*h") * cost[1] if cost[2] is not None else 0)
    if each is None:
        return holding(NAME, day.name, f"in {day.name} nothing but presses wakes the processor in {day.rest}", day.at)
    cost = f"{times} {name} a day take up to {show(each.hi)} each"
    if exact(with_them.hours.lo, "h") >= promise.hours:
        return holding(NAME, day.name, f"in {day.name} {cost}, and the cells last {say_hours(with_them.hours)}", day.at)
    without = budget(device, day, disturbed=False)
    if without.hours is None:
        return open_answer(NAME, day.name, why_unknown(device), day.at)
    if exact(without.hours.lo, "h") < promise.hours:
        said = f"in {day.name} the cells don't last {promise.time} even if nothing wakes the processor by itself"
        return holding(NAME, day.name, said, day.at)
    told = (
        f"in {day.name} {cost}: the cells last {say_hours(with_them.hours)}, without them {say_hours(without.hours)};"
    )
    return failing(NAME, day.name, f"{told} promised are {promise.time}", CURE, promise.at)
