"""A starter spec and its map, written from what was measured. Measured times are stated with the resolution as a margin.

What nobody can measure (habits of people, what the surroundings do, chatter) is a guess, and the file says so beside it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from nudgeproof.measuring.bench import Move, Picture
from nudgeproof.measuring.charting import VARIABLE, Chart, make_chart
from nudgeproof.measuring.guesses import GUESS, guess_person, guess_surroundings
from nudgeproof.measuring.measured import BOUNCE_US, Fact, Lapse, Measured, Range
from nudgeproof.spec.notes import put_in_quotes
from nudgeproof.units import show_us

_MEASURED = "# measured"
_CAUSE = "# not measured: correct it"
STARTING = "starting"
_PLAIN = re.compile(r"[^\W\d_][\w -]*")
_UNUSED = "unused"
_ROUND_FROM_US = 20_000


@dataclass(slots=True)
class Starter:
    """The texts for one device. `period_us`: the sample period of the map."""

    done: Measured
    device: str
    resolution_us: int
    latched: tuple[str, ...] = ()
    lets_go_us: int = 0
    chart: Chart = field(init=False)

    @property
    def starting(self) -> tuple[Picture, Range] | None:
        """What is shown as it starts, where it holds its own power."""
        return self.done.starting if self.latched else None

    def __post_init__(self) -> None:
        self.chart = make_chart(self.done)

    @property
    def period_us(self) -> int:
        """How much later than it was seen something may show."""
        return 2 * self.resolution_us

    # -- words -------------------------------------------------------------------------------------------------------

    def span(self, found: Range) -> str:
        """A range with its margin."""
        low, high = self._outward(found)
        return f"{show_us(low)} to {show_us(high)}"

    def limit(self, found: Range) -> str:
        """A limit that lies in a range, with its margin."""
        low, high = self._outward(found)
        middle = (low + high) // 2
        return f"up to {show_us(middle)} ± {show_us(max(high - middle, middle - low))}"

    def _outward(self, found: Range) -> tuple[int, int]:
        low, high = max(1, found.lo - self.resolution_us), found.hi + self.resolution_us
        return (low // 1_000 * 1_000, -(-high // 1_000) * 1_000) if low >= _ROUND_FROM_US else (low, high)

    # -- the spec ----------------------------------------------------------------------------------------------------

    def spec(self) -> str:
        """The text of the spec."""
        lines = [
            "# Written by `nudgeproof measure`: what the firmware does, not what it is meant to do.",
            "#",
            "# `measured` stands beside what was measured, as a range with its margin; `guess` beside what nobody could.",
            "# Correct names, guesses, and each number that isn't what you mean; then say what must hold, under `promises`.",
            *(f"# {text}." for text in (*self.done.unmeasured, *self.chart.doubts)),
            "spec: 1",
            f"device: {self.device if _PLAIN.fullmatch(self.device) else put_in_quotes(self.device)}",
            "buttons:",
            *self._buttons(),
            "gestures:",
            *self._gestures(),
        ]
        if self.chart.has_variable:
            values = sorted(set(self.chart.values.values()), key=lambda value: int(value[1:]))
            lines.append(
                f"variables: {{{VARIABLE}: {{values: [{', '.join(values)}], starts as: {self.chart.values[0]}}}}}"
            )
            lines[-1] = lines[-1][:-1] + (f", {_UNUSED}: [a, b]}}" if self.done.waits_for else "}")
        elif self.done.waits_for:
            lines.append(
                f"variables: {{{_UNUSED}: [a, b]}} # nothing changes it: so a line that does nothing can be written"
            )
        events = [fact.move.name for fact in self.done.facts if fact.move.kind == "event"]
        if events:
            lines.append(f"events: {{{', '.join(f'{name}: {{}}' for name in events)}}}")
        lines += [f"initial: {self.chart.names[0]}", "states:", *self._states()]
        lines += self._power()
        lines += [guess_person(self.done), *guess_surroundings(self.done, events)]
        return "\n".join(lines) + "\n"

    def _buttons(self) -> Iterator[str]:
        for reader in self.done.readers:
            if reader.deaf is not None:
                how = f"lockout: {self.span(reader.deaf)}"
                told = _MEASURED
            elif reader.closing is None and reader.opening is None:
                how, told = "debounce: 5 to 35 ms", _CAUSE
            else:
                seen = reader.seen
                how = f"debounce: {self.span(Range(max(1, seen.lo - reader.glitch_us), seen.hi))}"
                told = _MEASURED + (
                    " (shorter since the last edge, as chatter between two looks goes unseen)"
                    if reader.glitch_us
                    else ""
                )
            extra = ", extra taps: count as the largest" if reader.button in self.done.counts_on else ""
            yield f"  {reader.button}: {{bounce: up to {show_us(BOUNCE_US)}, {how}{extra}}} {told}; bounce is a guess"

    def _gestures(self) -> Iterator[str]:
        several = len(self.done.explorer.bench.buttons) > 1
        for fact in self.done.facts:
            keys: list[str] = []
            doubts: list[str] = []
            move = fact.move
            if move.kind == "event":
                continue
            if move.kind == "chord":
                names = ", ".join(act.what for act in move.acts)
                within = self.span(fact.within) if fact.within is not None else "60 ms"
                told = _MEASURED if fact.within is not None else _CAUSE
                yield f"  {_named(move)}: {{together: [{names}], within: {within}}} {told}"
                continue
            count = len(move.acts)
            if several:
                keys.append(f"on: {move.acts[0].what}")
            if move.kind == "tap":
                keys.append(f"taps: {count}")
            elif count == 1:
                keys.append(
                    f"held: {self.span(fact.held)}"
                    if fact.held is not None
                    else f"held: {show_us(move.acts[0].lasts_us)}"
                )
            else:
                keys += [
                    f"taps: {count - 1}",
                    f"then held: {self.span(fact.held)}"
                    if fact.held is not None
                    else f"then held: {show_us(move.acts[-1].lasts_us)}",
                ]
            if move.kind == "hold" and fact.held is None:
                doubts.append("the hold")
            if move.kind == "tap" or count > 1:
                keys.append(f"press: {self._press(fact)}")
                if fact.press is None or fact.press.beyond:
                    doubts.append("press")
            if count > 1:
                between = self._like(fact, lambda one: one.between)
                keys.append(f"between: {self.limit(between)}" if between is not None else "between: up to 2 s")
                if fact.between is None or fact.between.beyond:
                    doubts.append("between")
            if fact.acts_at in ("press", "release") and self._needs_to_say(fact):
                keys.append(f"acts at: {fact.acts_at}")
            told = f"{_MEASURED}; not measured: {', '.join(doubts)}" if doubts else _MEASURED
            yield f"  {move.name}: {{{', '.join(keys)}}} {told}"
            if self._is_waited_on(fact):
                more = [key for key in keys if not key.startswith(("taps", "acts", "between"))]
                between = self._like(fact, lambda one: one.between)
                more.insert(len(more) - 1, f"taps: {count + 1}")
                more.append(f"between: {self.limit(between)}" if between is not None else "between: up to 300 ms")
                yield f"  {self._waited(fact)}: {{{', '.join(more)}}} # nothing comes of it, but it is waited for"

    def _is_waited_on(self, fact: Fact) -> bool:
        return fact.move.kind == "tap" and self.done.waits_for.get(fact.move.acts[0].what) == len(fact.move.acts) + 1

    def _waited(self, fact: Fact) -> str:
        """The name of the gesture that does nothing and is waited for."""
        button = fact.move.acts[0].what
        return self.done.explorer.named(
            button,
            f"{len(fact.move.acts) + 1} taps in vain".replace("2", "two").replace("3", "three").replace("4", "four"),
        )

    def _like(self, fact: Fact, part: Callable[[Fact], Range | None]) -> Range | None:
        """A limit of a gesture; where none was found that of another gesture of the button."""
        own = fact.move.acts[0].what
        others = [one for one in self.done.facts if one.move.kind in ("tap", "hold") and one.move.acts[0].what == own]
        found = (part(one) for one in (fact, *others))
        return next((limit for limit in found if limit is not None and not limit.beyond), None)

    def _press(self, fact: Fact) -> str:
        own = fact.move.acts[0].what
        least = min(
            (self._outward(f.held)[0] for f in self.done.facts if f.held is not None and f.move.acts[0].what == own),
            default=None,
        )

        def below(one: Fact) -> Range | None:
            return (
                one.press if one.press is not None and (least is None or self._outward(one.press)[1] < least) else None
            )

        press = self._like(fact, below)
        if press is not None:
            return self.limit(press)
        # A longer press is a hold by then, so no more can be seen of the limit.
        return f"up to {show_us(least - 1_000)}" if least is not None else "up to 9 s"

    def _needs_to_say(self, fact: Fact) -> bool:
        """A tap is seen at its release anyway where nothing longer is in use."""
        if fact.acts_at == "press" or fact.move.kind == "hold":
            return True
        longer = [
            f
            for f in self.done.facts
            if len(f.move.acts) > len(fact.move.acts)
            and f.move.kind != "chord"
            and f.move.acts[0].what == fact.move.acts[0].what
        ]
        return any(set(f.spots) & set(fact.spots) for f in longer)

    def _states(self) -> Iterator[str]:
        grouped = {spot: group for group in self.chart.groups for spot in group}
        told: set[tuple[int, ...]] = set()
        for name, spots in self.chart.states().items():
            group = grouped.get(spots[0])
            if group is None:
                yield from self._state(name, spots, "  ", True)
            elif group not in told:
                told.add(group)
                lapses = [lapse for one in group if (lapse := self.done.lapse(one)) is not None]
                after = lapses[0].after
                for lapse in lapses[1:]:
                    after = after.joined(lapse.after)
                yield f"  together {self.chart.groups.index(group) + 1}: # a time goes on from one of these to the other"
                yield "    states:"
                for one in group:
                    yield from self._state(self.chart.names[one], [one], "      ", False)
                yield f"    transitions: {{after {self.span(after)}: {self.chart.names[lapses[0].to]}}} {_MEASURED}"
        if self.starting is not None:
            _, lasts = self.starting
            hold = next((f.move.name for f in self.done.facts if f.move.kind == "hold" and 0 in f.spots), None)
            inner = [f"{hold}: {self.chart.names[self.done.explorer.edges[0, hold].to]}"] if hold is not None else []
            inner.append(f"after {self.span(lasts)}: {self.chart.names[0]}")
            yield f"  {STARTING}:"
            yield "    waiting: true"
            yield f"    transitions: {{{', '.join(inner)}}} {_MEASURED}"

    def _state(self, name: str, spots: list[int], indent: str, with_times: bool) -> Iterator[str]:
        ex = self.done.explorer
        yield f"{indent}{name}:"
        below = indent + "  "
        empty = True
        sleeps = all(ex.spots[spot].asleep for spot in spots)
        if self.latched and 0 in spots:
            yield f"{below}unpowered: true"
            empty = False
        elif sleeps:
            ready = self.span(self.done.ready) if self.done.ready is not None else "2 ms"
            dozes = self.span(self.done.dozes) if self.done.dozes is not None else "50 ms"
            what = (
                _MEASURED
                if self.done.ready is not None and self.done.dozes is not None
                else f"{_MEASURED}; dozes is a guess"
            )
            wakers = ", ".join(self.done.wakers or self.done.explorer.bench.buttons)
            yield f"{below}sleep: {{woken by: [{wakers}], ready in: {ready}, dozes again after: {dozes}}} {what}"
            empty = False
        if any(spot in self.chart.waiting for spot in spots):
            yield f"{below}waiting: true # it isn't kept through a cut"
            empty = False
        lines = list(self._lines(spots, with_times and not sleeps))
        if lines:
            yield f"{below}transitions:"
            yield from (f"{below}  {line}" for line in lines)
        elif empty:
            yield f"{below}transitions: {{}}"

    def _lines(self, spots: list[int], with_times: bool) -> Iterator[str]:
        for fact in self.done.facts:
            # In one state a gesture means something or nothing: where it does for one value, what it does is said for all.
            own = [spot for spot in spots if spot in fact.spots or self._acts(spot, fact.move.name)]
            own = own if set(own) & set(fact.spots) else []
            if own:
                ways = [(spot, self._target(spot, fact.move.name)) for spot in own]
                yield f"{_named(fact.move)}: {self._cases(ways, spots, fact.move.name)}"
                if self._is_waited_on(fact):
                    yield f"{self._waited(fact)}: {{set: {{{_UNUSED}: a}}}}"
        lapses = [lapse for spot in spots if (lapse := self.done.lapse(spot)) is not None] if with_times else []
        by_time: dict[tuple[bool, bool], list[Lapse]] = {}
        for lapse in lapses:
            by_time.setdefault((lapse.open_only, lapse.hidden), []).append(lapse)
        merged: list[list[Lapse]] = []
        for lapse in lapses:
            home = next(
                (
                    group
                    for group in merged
                    if group[0].open_only == lapse.open_only
                    and abs(group[0].after.lo - lapse.after.lo) < 50_000 + lapse.after.lo // 50
                ),
                None,
            )
            if home is None:
                merged.append([lapse])
            else:
                home.append(lapse)
        for group in merged:
            after = group[0].after
            for lapse in group[1:]:
                after = after.joined(lapse.after)
            way = f" with {self.done.explorer.bench.buttons[0]} open" if group[0].open_only else ""
            cases = self._cases([(lapse.spot, lapse.to) for lapse in group], spots, "")
            if not any(self.chart.names[lapse.to] != self.chart.names[lapse.spot] for lapse in group) or "[" in cases:
                # What leads nowhere begins anew by itself.
                yield f"every {self.span(after)}{way}: {cases} {_MEASURED}"
            else:
                yield f"after {self.span(after)}{way}: {cases} {_MEASURED}"

    def _acts(self, spot: int, move: str) -> bool:
        edge = self.done.explorer.edges.get((spot, move))
        return edge is not None and edge.to != spot

    def _target(self, spot: int, move: str) -> int:
        return self.done.explorer.edges[spot, move].to

    def _cases(self, ways: list[tuple[int, int]], spots: list[int], move: str) -> str:
        """What is done from each spot, as one line or as cases."""
        if not self.chart.has_variable:
            return self.chart.names[ways[0][1]]
        done: dict[str, list[str]] = {}
        for spot, to in ways:
            inner: list[str] = []
            moves = self.chart.names[to] != self.chart.names[spot]
            if moves:
                inner.append(f"to: {self.chart.names[to]}")
            if self.chart.values[to] != self.chart.values[spot]:
                inner.append(f"set: {{{VARIABLE}: {self.chart.values[to]}}}")
            if not inner:
                inner.append(f"to: {self.chart.names[to]}")
            elif not moves and self.done.lapse(spot) is not None and move and (spot, move) not in self.done.goes_on:
                inner.append("restarts: true")
            done.setdefault(", ".join(inner), []).append(self.chart.values[spot])
        values = {self.chart.values[spot] for spot in spots}
        if len(done) == 1 and len(ways) == len(values):
            only = next(iter(done))
            return only.removeprefix("to: ") if only.startswith("to: ") and "," not in only else f"{{{only}}}"
        return (
            "[" + ", ".join(f"{{if: {VARIABLE} is {' or '.join(given)}, {what}}}" for what, given in done.items()) + "]"
        )

    def _power(self) -> Iterator[str]:
        done, chart = self.done, self.chart
        if chart.keeps and done.hold_up is not None:
            takes = self.span(done.writes) if done.writes is not None else "up to 10 ms"
            lose = max(10_000, done.writes.hi * 2 if done.writes is not None else 0)
            yield "memory:"
            yield f"  keeps: [{', '.join(chart.keeps)}] {_MEASURED}"
            yield f"  write takes: {takes} {_MEASURED if done.writes is not None else _CAUSE}"
            yield f"  guard: two copies {GUESS}"
            yield f"  may lose: the last {show_us(-(-lose // 1000) * 1000)} {GUESS}"
            yield "  while writing: listens # a guess: correct it"
        if done.boot is not None:
            first = STARTING if self.starting is not None else chart.names[0]
            held = "counts as a press" if done.held_counts else "ignored until released"
            how = f"takes: {self.span(done.boot)}, if blank: {first}, if damaged: {first}, button held: {held}"
            yield f"power up: {{{how}}} {_MEASURED}; damaged is a guess"
        if done.boot is not None:
            hold_up = self.span(done.hold_up) if done.hold_up is not None else "1 ms"
            told = _MEASURED if done.hold_up is not None else _CAUSE
            opens = show_us(max(self.lets_go_us, 1) + self.resolution_us)
            latch = (
                f", latch: {{closed by: [{', '.join(self.latched)}], lets go: up to {opens}}}" if self.latched else ""
            )
            yield f"supply: {{hold-up: {hold_up}{latch}}} {told}"


def _named(move: Move) -> str:
    """A move as a gesture's name: promises use `and` for something else."""
    return f"both {move.name.replace(' and ', '-')}" if move.kind == "chord" else move.name
