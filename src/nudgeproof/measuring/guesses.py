"""What nobody can measure and a spec wants all the same: habits of people, and what the surroundings do."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nudgeproof.measuring.measured import Measured
from nudgeproof.units import show_us

GUESS: Final = "# a guess: correct it"
_EVENTS_APART: Final = "300 ms"


def guess_person(done: Measured) -> str:
    """Habits that fit the firmware's limits."""
    facts = done.facts
    press = min((f.press.lo for f in facts if f.press is not None and not f.press.beyond), default=400_000)
    holds = [f.held for f in facts if f.held is not None]
    if holds and any(f.move.kind == "tap" for f in facts):
        press = min([press, *(held.lo for held in holds)])
    between = min((f.between.lo for f in facts if f.between is not None and not f.between.beyond), default=300_000)
    least = max([60_000, *(r.seen.hi + r.seen.hi // 2 for r in done.readers)])
    most = max(least + 10_000, min(350_000, press * 85 // 100) // 1000 * 1000)
    gap = max(least + 10_000, min(300_000, between * 8 // 10) // 1000 * 1000)
    inner = [
        f"tap: {show_us(least)} to {show_us(most)}",
        f"between: {show_us(max(80_000, least) if gap > 80_000 else least)} to {show_us(gap)}",
    ]
    times = sorted({(f.held.hi, f.move.name) for f in facts if f.held is not None and f.move.kind == "hold"})
    if times:
        low = (times[0][0] * 11 // 10 + 100_000) // 10_000 * 10_000
        next_us = next((hi for hi, _ in times if hi > low * 6 // 5), None)
        high = (
            low * 3 // 2
            if next_us is None
            else max(low + 10_000, min(low * 3 // 2, next_us * 9 // 10)) // 10_000 * 10_000
        )
        told = {"hold": f"{show_us(low)} to {show_us(high)}"}
        if any(name == "hold" and hi > low * 6 // 5 for hi, name in times):
            # `hold` is what is said of all holds: if a gesture has that name, its own time stands there.
            told = {times[0][1]: told["hold"]}
        for hi, name in times:
            if hi > low * 6 // 5:
                own = (hi * 11 // 10 + 100_000) // 10_000 * 10_000
                told[name] = f"{show_us(own)} to {show_us(own * 5 // 4)}"
        inner += [f"{name}: {habit}" for name, habit in told.items()]
    return f"person: {{{', '.join(inner)}}} {GUESS}"


def guess_surroundings(done: Measured, events: list[str]) -> Iterator[str]:
    """What makes the events, and a cell that loses contact."""
    inner = [
        f"  makers of {name}: {{makes: {name}, then none for at least: {_EVENTS_APART}, meant: true}}"
        for name in events
    ]
    if done.hold_up is not None and done.boot is not None:
        inner.append("  cell rattle: {cell gone: up to 40 ms, then steady at least: 2 s}")
    if inner:
        yield f"surroundings: {GUESS}"
        yield from inner
