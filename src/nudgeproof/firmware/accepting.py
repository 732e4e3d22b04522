"""Which one time of a spec would have to be another one, so that a refused recording conforms: what the firmware has.

Each time of the spec that the firmware counts is tried by itself, in the text: made as wide as it can be read, downward and
then upward. Where the recording conforms then, the range is made narrow again from both ends, by bisection, as far as it
still does. What is left is the firmware's own time, as far as this recording tells. Nothing is offered that wasn't followed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from nudgeproof.diagnostics import SpecErrors
from nudgeproof.firmware.acts import Acts
from nudgeproof.firmware.mapping import Map
from nudgeproof.firmware.outcome import STILL, Result, follow
from nudgeproof.firmware.performed import Perform, Performed, Setup
from nudgeproof.firmware.recording import Recording
from nudgeproof.firmware.trials import Failed, begun_as
from nudgeproof.spec.edit import Edit, Path, Places, Spot, apply, tell
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER, NotAQuantity, Span, read_limit, show_us

BUDGET: Final = 3_000
"""The most classes looked at between two recorded changes."""

MOST: Final = 400
"""Most times that a recording is followed."""

_TIMED: Final[tuple[Path, ...]] = (
    ("gestures", "*", "held"),
    ("gestures", "*", "then held"),
    ("gestures", "*", "press"),
    ("gestures", "*", "between"),
    ("gestures", "*", "within"),
    ("gestures", "*", "repeats every"),
    ("states", "**", "transitions", "after *"),
    ("states", "**", "transitions", "every *"),
    ("buttons", "*", "debounce"),
    ("buttons", "*", "lockout"),
    ("states", "**", "sleep", "ready in"),
    ("states", "**", "sleep", "dozes again after"),
    ("states", "**", "sleep", "ignores a held button after"),
    ("states", "**", "busy"),
    ("power up", "takes"),
    ("supply", "hold-up"),
    ("supply", "latch", "lets go"),
    ("supply", "cut-off", "for"),
    ("supply", "cut-off", "closed for"),
    ("supply", "cut-off", "lets go"),
    ("memory", "write takes"),
    ("supervisor", "after"),
)
"""Where a spec states a time that the firmware, or its supply, takes. Not those of people and of surroundings."""

_LIMITS: Final = ("press", "between")
_WIDER: Final = (Fraction(20), Fraction(5), Fraction(2), Fraction(5, 4))
_KEY: Final = re.compile(r"(?P<head>(?:after|every) )(?P<time>.+?)(?P<tail>( with .+ open)?)")
_PER_UNIT: Final = " per unit"
_FROM_PRESS: Final = re.compile(r"(?P<time>.+?)(?P<tail>(?:\s*,\s*|\s+)(?:from )?press to press)")
_LEAST_STEP_US: Final = 500
_ROUND_FROM_US: Final = 20_000
_LATER: Final = 20
_LONGEST_US: Final = 6 * 3_600_000_000


@dataclass(frozen=True, slots=True)
class Acceptable:
    """One time with which the recording conforms. `edits`: of the text; `measured`: the firmware's, by it.

    Several edits are the same time under the same key, which a firmware has once.

    `beyond`: `more` or `less` where a time still further off does as well, "" where the recording tells the time itself.
    `holds_other`: so does another recording that was to be looked at.
    """

    edits: tuple[Edit, ...]
    measured: Span
    stated: str
    change: Fraction
    beyond: str = ""
    holds_other: bool = True

    @property
    def edit(self) -> Edit:
        """The first of them."""
        return self.edits[0]

    @property
    def words(self) -> str:
        """The line to write, and what stands there now."""
        more = f", or {self.beyond}" if self.beyond else ""
        if len(self.edits) > 1:
            more += f", likewise in line {', '.join(str(edit.line) for edit in self.edits[1:])}"
        if self.edit.was_key:
            shown = self.edit.path[-1]
            return f"`{shown}`{more} (line {self.edit.line}; the spec says `{self.edit.was_key}`)"
        return f"`{tell(self.edit.path, self.edit.new)}`{more} (line {self.edit.line}; the spec says `{self.edit.old}`)"


class _Enough(Exception):
    pass


@dataclass(slots=True)
class _Time:
    """A time in the text: where, what stands before and after it, and what its span is."""

    spot: Spot
    words: str
    head: str
    tail: str
    span: Span
    in_key: bool
    is_limit: bool

    def written(self, low: int, high: int) -> str:
        """Another range in its place."""
        if self.is_limit:
            middle = (low + high) // 2
            told = (
                f"up to {show_us(middle)} ± {show_us(max(high - middle, middle - low))}"
                if high > low
                else f"up to {show_us(low)}"
            )
        else:
            told = f"{show_us(low)} to {show_us(high)}" if high > low else show_us(low)
        return f"{self.head}{told}{self.tail}"


def go_on(failed: Failed, what: Map, perform: Perform) -> Recording:
    """The recording of what was refused; where a light didn't change in time, on to where it does.

    Only that tells how long the firmware takes.
    """
    recording = failed.performed.recording
    if failed.outcome is None or STILL not in failed.outcome.seen:
        return recording
    acts, end = failed.shrunk.acts, failed.shrunk.end_us
    lights = {channel.name for channel in what.of("light")}
    later = perform(acts, min(end * _LATER, end + _LONGEST_US))
    at = next(
        (c.at_us for c in later.recording.changes if c.channel in lights and c.at_us >= failed.outcome.at_us), None
    )
    if at is None or later.finding:
        return recording
    longer = perform(acts, at + 1_000)
    return recording if longer.finding else longer.recording


def accept(
    device: Device, what: Map, failed: Failed, perform: Perform, tick: Callable[[str], None] = lambda words: None
) -> tuple[Acceptable, ...]:
    """What would have to change for a refusal in a trial.

    What it was shortened from is asked first: where a press is cut off just before it is answered no time can be read.
    """
    what = begun_as(what, failed.setup)

    def again(acts: Acts, end_us: int, setup: Setup = failed.setup) -> Performed:
        return perform(acts, end_us, setup)

    longer = go_on(failed, what, again)
    if failed.whole is None:
        return find_acceptable(device, what, longer, None, tick)
    whole = failed.whole.recording
    first = find_acceptable(device, what, whole, longer, tick)
    if any(one.holds_other and not one.beyond for one in first):
        return first
    second = find_acceptable(device, what, longer, whole, tick)
    # The recording that tells the time itself counts, not one that only says that it is more.
    return min(
        (first, second),
        key=lambda found: (not found, not any(one.holds_other for one in found), all(one.beyond for one in found)),
    )


def find_acceptable(
    device: Device,
    what: Map,
    recording: Recording,
    other: Recording | None = None,
    tick: Callable[[str], None] = lambda words: None,
    budget: int = BUDGET,
) -> tuple[Acceptable, ...]:
    """The times of the spec that alone would have to be others, the least change first; none if no single one is enough.

    `other`: a second recording of the same firmware. If it conforms with some of them only these are told.
    """
    places = Places(device.lines)
    left = MOST

    def conforms(edits: tuple[Edit, ...], recording: Recording = recording) -> bool | None:
        """None: the text can't be read so."""
        nonlocal left
        if not left:
            raise _Enough
        try:
            changed = read_device(apply(places.text, edits), device.file)
        except SpecErrors:
            return None
        left -= 1
        try:
            return follow(changed, what, recording, budget).result is Result.CONFORMS
        except SpecErrors:
            return None

    found = []
    try:
        for times in _rows(places):
            tick(times[0].words)
            for up in (False, True):
                one = _narrow(places, times, up, conforms)
                if one is not None:
                    holds = other is None or bool(conforms(one.edits, other))
                    found.append(replace(one, holds_other=holds))
                    break
    except _Enough:
        pass
    if any(one.holds_other for one in found):
        found = [one for one in found if one.holds_other]
    return tuple(sorted(found, key=lambda one: (one.change, one.edit.line)))


def _rows(places: Places) -> list[list[_Time]]:
    """The times, those of one key and the same words together: a firmware has such a time once."""
    rows: dict[tuple[str, str, str], list[_Time]] = {}
    for time in times_of(places):
        key = "after" if time.in_key else time.spot.path[-1].removeprefix("then ")
        rows.setdefault((time.spot.path[0], key, time.spot.path[-1] if time.in_key else time.words), []).append(time)
    return list(rows.values())


def times_of(places: Places) -> Iterator[_Time]:
    """All times of a text that are tried."""
    for pattern in _TIMED:
        for spot in places.find(*pattern):
            in_key = pattern[-1].endswith("*")
            words, head, tail = (spot.path[-1] if in_key else spot.words), "", ""
            if in_key:
                match = _KEY.fullmatch(words)
                if match is None:
                    continue
                words, head, tail = match["time"], match["head"], match["tail"]
            if match := _FROM_PRESS.fullmatch(words):
                words, tail = match["time"], match["tail"] + tail
            words = words.removesuffix(_PER_UNIT)
            try:
                span = read_limit(words)
            except NotAQuantity:
                continue  # a time that is the value of a variable, or a number
            if span.hi == FOREVER or span.hi == 0:
                continue
            lo, hi = (
                (0, int(span.hi))
                if words.startswith("up to") and pattern[-1] not in _LIMITS
                else (span.lo, int(span.hi))
            )
            yield _Time(spot, words, head, tail, Span(lo, hi), in_key, pattern[-1] in _LIMITS)


def _narrow(
    places: Places, times: list[_Time], up: bool, conforms: Callable[[tuple[Edit, ...]], bool | None]
) -> Acceptable | None:
    """The least range beyond the stated one with which it conforms, None if it doesn't however wide."""
    low, high = times[0].span.lo, int(times[0].span.hi)

    def edit(new_low: int, new_high: int) -> tuple[Edit, ...]:
        found = []
        for time in times:
            words = time.written(new_low, new_high)
            found.append(places.rename(time.spot, words) if time.in_key else places.put(time.spot, words))
        return tuple(found)

    def fits(new_low: int, new_high: int) -> bool:
        return bool(conforms(edit(new_low, new_high)))

    wide = None
    for factor in _WIDER:
        far = int(high * factor) if up else max(1, int(low / factor))
        works = conforms(edit(low, far) if up else edit(far, high)) if far != (high if up else low) else None
        if works is not None:
            wide = far if works else None
            break
    if wide is None:
        return None
    # The far end first, as near as can be; then the end that was stated is moved after it.
    step = max(_LEAST_STEP_US, (high if up else low) // 200)
    near, far = (high, wide) if up else (low, wide)
    while abs(far - near) > step:
        middle = (near + far) // 2
        ok = fits(low, middle) if up else fits(middle, high)
        near, far = (near, middle) if ok else (middle, far)
    other, stays = (low, far) if up else (high, far)
    if fits(far, far):
        other = far
    else:
        bad = far
        while abs(bad - other) > step:
            middle = (bad + other) // 2
            ok = fits(middle, far) if up else fits(far, middle)
            other, bad = (middle, bad) if ok else (other, middle)
    new_low, new_high = (other, stays) if up else (stays, other)
    new_low, new_high = max(1, new_low - step), new_high + step
    if new_low > _ROUND_FROM_US:
        new_low, new_high = new_low // 1_000 * 1_000, -(-new_high // 1_000) * 1_000
    if not fits(new_low, new_high):
        return None
    found, was = Fraction(new_low + new_high, 2), Fraction(low + high, 2)
    change = abs(found - was) / max(was, Fraction(1))
    beyond = ("more" if up else "less") if fits(wide, wide) else ""
    return Acceptable(edit(new_low, new_high), Span(new_low, new_high), times[0].words, change, beyond)
