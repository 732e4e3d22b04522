"""The map of a starter spec: what each output shows in each state."""

from __future__ import annotations

from nudgeproof.measuring.starter import STARTING, Starter
from nudgeproof.units import show_us


def write_map(starter: Starter, writes: tuple[str, ...] = ()) -> str:
    """The text of the map; `writes`: columns that show writes of memory.

    What shows sleep and writes stands there as a comment: the measured spec is too rough for it.
    """
    done, bench = starter.done, starter.done.explorer.bench
    lines = [
        "# Which column of a recording is what; written by `nudgeproof measure`, with the spec beside it.",
        "recording: 1",
        f"sample period: {show_us(starter.period_us)} # how much later than it saw something the firmware may show it",
        f"begins: {'with power up' if done.boot is not None and not starter.latched else 'at rest'}",
        "channels:",
    ]
    lines += [f"  {name}: {{button: {name}, pressed when: high}}" for name in bench.buttons]
    lines += [
        f"  {fact.move.name}: {{event: {fact.move.name}, happens when: goes high}}"
        for fact in done.facts
        if fact.move.kind == "event"
    ]
    if done.hold_up is not None and done.boot is not None:
        lines.append("  supply: {cell there when: high}")
    for number, name in enumerate(bench.outputs):
        on = [spot.number for spot in done.explorer.spots if spot.picture[number]]
        off = [spot.number for spot in done.explorer.spots if not spot.picture[number]]
        starting = starter.starting is not None and bool(starter.starting[0][number])
        if not on and not starting:
            lines.append(f"  # {name}: it was never seen on")
            continue
        keys = [
            f"{word} in: [{', '.join(where)}]"
            for word, where in (
                ("on", _where(starter, on, starting)),
                ("off", _where(starter, off, starter.starting is not None and not starting)),
            )
            if where
        ]
        if number in bench.gaps:
            keys.append(f"pulses up to: {show_us(bench.gaps[number])}")
        lines.append(f"  {name}: {{{', '.join(keys)}}}")
    beside = [(name, "asleep when: high, within: 100 ms") for name in filter(None, (bench.asleep,))]
    if starter.chart.keeps and done.hold_up is not None:
        beside += [(name, "saves when: high, within: 20 ms, pulses up to: 1 ms") for name in writes]
    if beside:
        lines += [
            "  # Take these in once the spec is yours: faults that cost only current, or only memory, show nowhere else."
        ]
        lines += [f"  # {name}: {{{keys}}}" for name, keys in beside]
    return "\n".join(lines) + "\n"


def _where(starter: Starter, spots: list[int], starting: bool) -> list[str]:
    """Spots as states with values, whole states first."""
    found: list[str] = []
    for name, whole in starter.chart.states().items():
        own = [spot for spot in whole if spot in spots]
        found += [name] if own and len(own) == len(whole) else [starter.chart.where(spot) for spot in own]
    return [*found, *([STARTING] if starting else [])]
