"""Changes to a spec that may cure a failure: what could be tried, the smallest first. Nothing here is tried.

One table for each kind of change says where it may be made; a key of the spec that is in none is never changed. What only
promises or expects less (person, surroundings, promises, accepted cases, what may be lost) is in no table, nor what
describes the hardware as it is. New values come from the times that the spec states: just beyond what must be outlasted, or
just below what must not be reached.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations

from nudgeproof import supply_remedies
from nudgeproof.parts.attention import can_be_deaf, has_queue
from nudgeproof.parts.chart import timer_name
from nudgeproof.spec.edit import Edit, Path, Places, fits
from nudgeproof.spec.types import Device, Disturbance, Outage, Source, State, Timeout, Transition
from nudgeproof.structure import Change, Line, Scope, find_line, restructure
from nudgeproof.units import FOREVER, find_middle, find_tolerance, move, read_share
from nudgeproof.verdict import Finding


@dataclass(frozen=True, slots=True)
class _Timed:
    """A time that may be made longer or shorter.

    `longer`, `shorter`: which of the stated times (see `_stated`) it should outlast, or stay below. `least_us`, `most_us`:
    what people and parts put up with. `read`: it is compared with presses as the firmware reads them, which chatter and
    debounce lengthen and shorten.
    """

    path: Path
    longer: tuple[str, ...]
    shorter: tuple[str, ...]
    least_us: int
    most_us: int
    read: bool = True


_TIMED = (
    _Timed(("buttons", "*", "debounce"), ("closes", "bounce"), ("tap least", "between least"), 1_000, 100_000),
    _Timed(("gestures", "*", "press"), ("tap",), ("closes least", "held beside"), 50_000, 2_000_000),
    _Timed(("gestures", "*", "between"), ("between",), ("apart", "answered"), 50_000, 2_000_000),
    _Timed(("gestures", "*", "held"), ("closes", "tap", "shorter holds"), ("hold least",), 200_000, 5_000_000),
    _Timed(("gestures", "*", "then held"), ("closes", "tap", "shorter holds"), ("hold least",), 200_000, 5_000_000),
    _Timed(("states", "**", "sleep", "dozes again after"), ("between", "answers"), (), 1_000, 10_000_000),
    _Timed(("supply", "cut-off", "closed for"), ("closes", "bounce"), ("tap least",), 1_000, 5_000_000),
    _Timed(("supply", "hold-up"), ("write", "gone"), (), 1, 1_000_000, read=False),
)

_TIMEOUT = _Timed(("states", "**", "transitions", "after *"), ("answers", "whole act"), ("apart",), 100_000, 60_000_000)
"""The time in the key of a timeout; only those of waiting states are changed."""

_WORDS: tuple[tuple[Path, str, tuple[str, ...], str], ...] = (
    (("memory",), "guard", ("none",), "checksum"),
    (("memory",), "guard", ("none", "checksum"), "two copies"),
    (("memory",), "written", ("after ",), "at once"),
    (("memory",), "old layout", ("read as it is",), "recognised"),
    (("power up",), "causes", ("left",), "read and cleared"),
    (("power up",), "button held", ("counts",), "ignored until released"),
    (("power up",), "button held", ("counts from",), "counts as a press"),
    (("outputs", "*"), "in reset", ("on", "floating"), "off"),
    (("buttons", "*"), "release of a hold", ("a tap",), "nobody's"),
    (("buttons", "*"), "new state", ("keeps", "begins"), "forgets the press"),
    (("buttons", "*"), "hold counts from", ("any",), "its press"),
    (("buttons", "*"), "waking press", ("no tap until",), "no tap"),
    (("buttons", "*"), "listens again", ("waits",), "looks"),
    (("buttons", "*"), "length of a press", ("reckoned",), "looked at all the while"),
    (("buttons", "*"), "lockout ends", ("at a moment",), "after its time"),
    (("buttons", "*"), "extra taps", ("begin",), "swallowed"),
    (("gestures", "*"), "acts at", ("release", "press"), "pause"),
    (("gestures", "*"), "releases", ("are",), "belong to the chord"),
    (("states", "**", "sleep"), "pending taps", ("outlast", "begin", "go on"), "keep it awake"),
    (("states", "**", "sleep"), "late edge", ("goes",), "keeps it awake"),
    (("states", "**", "sleep"), "press counts from", ("waking",), "reading"),
)
"""A key of a mapping, how its words begin now, and the more careful ones."""

_OF_PRESSES = ("buttons", "gestures", "states")
"""The sections that say what a press counts for."""

_ADDED: tuple[tuple[Path, str, tuple[str, ...]], ...] = (
    (("states", "**", "sleep"), "ignores a held button after", ("10 s", "1 min")),
)
"""A key that a mapping may get, with its words."""

_WHILE_DEAF: tuple[tuple[Path, str], ...] = ((("buttons", "*"), "read in"), ((), "queue"))
"""How a button is read while the firmware is deaf, and how many gestures may wait then."""

_LENGTHS = (4, 8, 16)
"""Lengths of a queue that could do."""

_START_STATES: tuple[tuple[Path, str], ...] = ((("power up",), "if damaged"), (("power up",), "if blank"))
"""Keys that may name a state that sleeps instead."""

_LISTED: tuple[tuple[Path, str], ...] = ((("memory",), "keeps"),)
"""Keys whose list may name more: the state and variables."""

_STRUCTURE: tuple[Path, ...] = (
    ("gestures", "*"),
    ("states", "*"),
    ("states", "**", "transitions"),
    *(("states", "**", "transitions", *below) for below in (("*",), ("*", "to"), ("*", "*"))),
)
"""Where `structure` changes transitions and where they lead, one case of several too, and adds gestures and states."""

_LESS: tuple[tuple[Path, str], ...] = ((("memory",), "may lose"),)
"""What only promises less: tried to show that it is no cure, never offered."""

_WORD_SIZE, _LIST_SIZE = 2, 3


@dataclass(frozen=True, slots=True)
class Remedy:
    """Changes to try together.

    `size`: how big a change it is; a small one is better. `near`: it is about the very thing the failure comes from.
    `replaced`: (state, gesture) whose transition is on another gesture then. `lessens`: it only promises less.
    """

    edits: tuple[Edit, ...]
    size: Fraction | int
    replaced: tuple[tuple[str, str], ...] = ()
    lessens: bool = False
    near: bool = False


def propose(device: Device, finding: Finding) -> tuple[Remedy, ...]:
    """What could be tried for a broken finding, the smallest change first; the order is the same each time."""
    places = Places(device.lines)
    scope = _scope(device, places, finding)
    sources = _sources(device, finding)
    stated = _stated(device, sources)
    found: list[Remedy] = []
    electrical = finding.hazard in supply_remedies.HAZARDS or finding.subject == supply_remedies.WEAK_CELLS
    if electrical:
        tried = supply_remedies.changes(device, finding.hazard)
        found += [Remedy(edits, size, lessens=lessens, near=not lessens) for edits, size, lessens in tried]
        found += _words(device, places)
    elif not sources or any(isinstance(what, Disturbance) for what in sources):
        found += [*_times(device, places, scope, stated, read=True), *_timeouts(device, places, stated)]
        found += [_remedy(change) for change in restructure(device, places, scope)]
        # Knocks and squeezes have to do with how presses are read, not with power and memory.
        words = _words(device, places)
        found += [*_additions(places), *_while_deaf(device, places)]
        found += [*(one for one in words if not sources or one.edits[0].path[0] in _OF_PRESSES)]
    if not electrical and any(isinstance(what, Outage) for what in sources):
        kept = [*_times(device, places, scope, stated, read=False), *_words(device, places)]
        found += [*(replace(one, near=not _is_listed(one)) for one in kept), *_pairs(kept), *_less(device, places)]
    own = {line.name for line in scope.taken}
    found = [replace(one, near=one.near or any(_is_of(edit, own) for edit in one.edits)) for one in found]
    whole = {remedy.edits: remedy for remedy in reversed(found)}
    return tuple(sorted(whole.values(), key=lambda remedy: (remedy.lessens, remedy.size, _order(remedy))))


def may_change(path: Path) -> bool:
    """Whether something offered as a cure may change, or add, what stands at `path`."""
    named = [
        *((*at, key) for at, key, *_ in (*_WORDS, *_ADDED)),
        *((*at, key) for at, key in (*_START_STATES, *_LISTED, *_WHILE_DEAF)),
    ]
    patterns = [*(row.path for row in _TIMED), *named, *((*path, "*") for path in named), *_STRUCTURE]
    patterns += supply_remedies.PATHS
    return any(fits(path, pattern) for pattern in patterns)


def _is_listed(remedy: Remedy) -> bool:
    return any((edit.path[:-1], edit.path[-1]) in _LISTED for edit in remedy.edits)


def _is_of(edit: Edit, gestures: set[str]) -> bool:
    """Whether it is about one of these gestures, or about how the button is read."""
    if edit.path[0] == "buttons":
        return True
    return edit.path[0] == "gestures" and edit.path[1] in gestures and bool(edit.old)


def _sources(device: Device, finding: Finding) -> tuple[Source, ...]:
    """The surroundings that act in a failure."""
    acting = finding.surroundings.removesuffix(", after any use").split(" and ")
    return tuple(what for what in device.surroundings if what.name in acting)


def _remedy(change: Change) -> Remedy:
    return Remedy(change.edits, change.size, change.replaced)


def _order(remedy: Remedy) -> tuple[tuple[int, str], ...]:
    return tuple((edit.line, str(edit)) for edit in remedy.edits)


def _scope(device: Device, places: Places, finding: Finding) -> Scope:
    """The states and transitions that a failure is about: those its story goes through, or the subject's own."""
    names = {state.name for state in device.states}
    if finding.story is None:
        at = [state.name for state in device.states if state.at.line == finding.place.line]
        return Scope(frozenset(at) or frozenset(names), (), proof=True)
    visited = frozenset(scene.state for scene in finding.scenes)
    taken: dict[tuple[Path, Path], Line] = {}
    steps = zip(finding.story.beats, finding.scenes[:-1], finding.scenes[1:], strict=True)
    for beat, before, after in steps:
        for option in beat.move.taken:
            for piece in _lines(device.state(before.state), option.cause, dict(before.values)):
                if piece.at.line == option.choice.line and (piece.target or before.state) == after.state:
                    line = find_line(device, places, device.state(before.state), piece)
                    if line is not None and line.name not in device.unmade:
                        taken.setdefault((line.key.path, line.case.path if line.case else ()), line)
    return Scope(visited & names, tuple(taken.values()), proof=False)


def _lines(state: State, cause: str, values: dict[str, str]) -> Iterator[Transition | Timeout]:
    """The lines of a state that the chart may have taken upon this cause, while the variables had these values."""
    heard = cause.removeprefix("signal gesture ")
    lines: list[Transition | Timeout] = [t for t in state.transitions if t.gesture == heard]
    lines += [t for t in state.timeouts if cause == f"timer {timer_name(state, t, values)}"]
    return (line for line in lines if line.condition is None or line.condition.holds(values))


def _stated(device: Device, sources: tuple[Source, ...]) -> dict[str, tuple[int, ...]]:
    """The times that the spec states of what acts on the device, by name; of all surroundings if `sources` are none."""
    sources = sources or device.surroundings
    contacts = [what for what in sources if isinstance(what, Disturbance) and not what.for_good]
    outages = [what for what in sources if isinstance(what, Outage)]
    person, memory = device.person, device.memory
    times: dict[str, tuple[int | float, ...]] = {
        "closes": tuple(what.closes.hi for what in contacts),
        "closes least": tuple(what.closes.lo for what in contacts),
        "apart": tuple(what.apart_us for what in contacts),
        "gone": tuple(what.gone.hi for what in outages),
        "bounce": tuple(button.bounce_us for button in device.buttons),
        "answered": tuple(gesture.answer_us or 0 for gesture in device.gestures),
        "held beside": tuple(
            gesture.held.lo
            for button in device.buttons
            for gesture in device.gestures
            if button.claims.first_fits and gesture.button == button.name and gesture.held is not None
        ),
        "write": () if memory is None else (memory.write.hi, memory.write.hi * len(memory.keeps)),
    }
    if person is not None:
        hold = () if person.hold is None else (person.hold.lo,)
        answers = () if person.answers is None else (person.answers.hi,)
        longest = max(person.tap.hi, 0 if person.hold is None else person.hold.hi)
        times |= {
            "tap": (person.tap.hi,),
            "tap least": (person.tap.lo,),
            "between": (person.between.hi,),
            "between least": (person.between.lo,),
            "hold least": hold,
            "answers": answers,
            "whole act": tuple(answer + longest + person.between.hi for answer in answers or (0,)),
        }
    return {name: tuple(int(us) for us in found if 0 < us < FOREVER) for name, found in times.items()}


def _times(
    device: Device, places: Places, scope: Scope, stated: dict[str, tuple[int, ...]], read: bool
) -> Iterator[Remedy]:
    visited = [state for state in device.states if scope.proof or state.name in scope.states]
    used = {transition.gesture for state in visited for transition in state.transitions}
    for row in _TIMED:
        if row.read != read:
            continue
        together: dict[int, list[tuple[Edit, Fraction]]] = {}
        for spot in places.find(*row.path):
            if spot.path[0] == "gestures" and spot.path[1] not in used:
                continue
            known = stated | _held(device, spot.path[1]) if spot.path[0] == "gestures" else stated
            for rank, us in enumerate(_values(device, places, row, spot.words, known)):
                edit = places.put(spot, move(spot.words, us))
                size = _distance(find_middle(spot.words) or us, us)
                yield Remedy((edit,), size)
                together.setdefault(rank, []).append((edit, size))
        for edits in together.values():
            if len(edits) > 1 and len({edit.new for edit, _ in edits}) == 1:
                yield Remedy(tuple(edit for edit, _ in edits), sum(size for _, size in edits))


def _held(device: Device, gesture: str) -> dict[str, tuple[int, ...]]:
    """How long the person holds at least for a gesture, and at most for each that is held for less."""
    person = device.person
    if person is None or person.hold is None:
        return {}
    own = dict(person.holds).get(gesture, person.hold)
    others = (dict(person.holds).get(g.name, person.hold) for g in device.gestures if g.held is not None)
    return {"hold least": (own.lo,), "shorter holds": tuple(int(span.hi) for span in others if span.hi < own.lo)}


def _timeouts(device: Device, places: Places, stated: dict[str, tuple[int, ...]]) -> Iterator[Remedy]:
    """Other times after which a waiting state is left, and times that run only while the button is open."""
    buttons = [button.name for button in device.buttons]
    waiting = [(state, timeout) for state in device.states if state.waiting for timeout in state.timeouts]
    found = [find_line(device, places, state, timeout) for state, timeout in waiting]
    for path, spot in {line.key.path: line.key for line in found if line is not None}.items():
        key = path[-1]
        if not fits(path, _TIMEOUT.path):
            continue
        if not key.endswith(" open"):
            yield from (Remedy((places.rename(spot, f"{key} with {b} open"),), _WORD_SIZE) for b in buttons)
        for us in _values(device, places, _TIMEOUT, key, stated):
            size = _distance(find_middle(key) or us, us)
            yield Remedy((places.rename(spot, move(key, us)),), size)


def _values(
    device: Device, places: Places, row: _Timed, words: str, stated: dict[str, tuple[int, ...]]
) -> Iterator[int]:
    """Values to try for a time: for each stated time the first beyond it, and its two neighbours."""
    now = find_middle(words)
    if not now:
        return
    clock = places.get("clock", "off by")
    loose = 1 + 2 * (read_share(clock.words) if clock is not None and clock.words else Fraction(0))
    slack = 0
    for button in device.buttons if row.read else ():
        own = 0 if row.path[-1] == "debounce" or button.debounce is None else button.debounce.width_us
        slack = max(slack, button.bounce_us + own)
    # A tolerance keeps its share of the value, so the whole span clears the bound when the middle clears a wider one.
    width = min(find_tolerance(words), Fraction(9, 10))
    seen = {now}
    for names, up in ((row.longer, True), (row.shorter, False)):
        bounds = {us for name in names for us in stated.get(name, ())}
        goals = {(us + slack + 1) * loose / (1 - width) if up else (us - slack) / loose / (1 + width) for us in bounds}
        for goal in sorted(goal for goal in goals if (goal > now) == up):
            value, back = _round(goal, up), 1 if up else -1
            for near in (value, _round(Fraction(value + back), up), _round(Fraction(value - back), not up)):
                held = min(max(near, row.least_us), row.most_us)
                if held not in seen and (held > now) == up:
                    seen.add(held)
                    yield held


def _round(us: Fraction, up: bool) -> int:
    """The next value on a grid of 1, 2 or 5 times a power of ten, whose step is at most a fifth of the value."""
    step = Fraction(1)
    for factor in (2, Fraction(5, 2), 2) * 20:
        if step * factor > max(us, Fraction(5)) / 5:
            break
        step *= factor
    count = us / step
    return int((-(-count.numerator // count.denominator) if up else count.numerator // count.denominator) * step)


def _distance(was: int, now: int) -> Fraction:
    """How far apart two times are on a scale of steps 1, 2, 5, 10, ..., and in proportion between two steps."""
    ratio, steps = Fraction(max(was, now), min(was, now)), Fraction(0)
    for factor in (Fraction(2), Fraction(5, 2), Fraction(2)) * 10:
        if ratio <= factor:
            return steps + (ratio - 1) / (factor - 1)
        ratio, steps = ratio / factor, steps + 1
    return steps


def _additions(places: Places) -> Iterator[Remedy]:
    for path, key, words in _ADDED:
        for spot in places.find(*path):
            if spot.keys is not None and key not in spot.keys:
                yield from (Remedy((places.add(spot, key, word),), _WORD_SIZE) for word in words)


def _while_deaf(device: Device, places: Places) -> Iterator[Remedy]:
    """A busy firmware whose buttons are read in an interrupt, and more room for what waits then."""
    if not can_be_deaf(device):
        return
    joined = {name for gesture in device.gestures if gesture.chord is not None for name in gesture.buttons}
    for spot in places.find("buttons", "*"):
        name = spot.path[-1]
        if spot.keys is not None and "read in" not in spot.keys and name not in joined:
            yield Remedy((places.add(spot, "read in", "interrupt"),), _WORD_SIZE)
    whole = places.get()
    lengths = [length for length in _LENGTHS if length > device.queue and has_queue(device)]
    edits = {length: places.set(whole, "queue", str(length)) for length in lengths} if whole is not None else {}
    # The shortest one that may do comes first.
    yield from (
        Remedy((edit,), _WORD_SIZE + Fraction(length, 100)) for length, edit in edits.items() if edit is not None
    )


def _words(device: Device, places: Places) -> Iterator[Remedy]:
    for path, key, starts, word in _WORDS:
        written = (spot for spot in places.find(*path, key) if spot.words.startswith(starts))
        yield from (Remedy((places.put(spot, word),), _WORD_SIZE) for spot in written)
    asleep = [state.name for state in device.states if state.sleep is not None]
    for path, key in _START_STATES:
        spot = places.get(*path)
        edits = [places.set(spot, key, name) for name in asleep] if spot is not None else []
        yield from (Remedy((edit,), _WORD_SIZE) for edit in edits if edit is not None)
    for path, key in _LISTED:
        spot = places.get(*path, key)
        if spot is not None and device.memory is not None:
            missing = [n for n in ("state", *(v.name for v in device.variables)) if n not in device.memory.keeps]
            more = [*((name,) for name in missing), *([tuple(missing)] if len(missing) > 1 else [])]
            for names in more:
                whole = ", ".join((*device.memory.keeps, *names))
                yield Remedy((places.put(spot, f"[{whole}]"),), _LIST_SIZE + len(names) - 1)


def _pairs(found: list[Remedy]) -> list[Remedy]:
    """A change of the memory together with one of the supply: neither alone may be enough."""
    memory = [r for r in found if r.edits[0].path[0] == "memory"]
    supply = [r for r in found if r.edits[0].path[0] == "supply"]
    both = [Remedy((*one.edits, *two.edits), one.size + two.size) for one in memory for two in supply]
    at_once = [r for r in memory if r.edits[0].path[-1] in ("written", "guard")]
    two = [Remedy((*a.edits, *b.edits), a.size + b.size) for a, b in combinations(memory, 2) if a in at_once]
    return both + [pair for pair in two if len({edit.path for edit in pair.edits}) == len(pair.edits)]


def _less(device: Device, places: Places) -> Iterable[Remedy]:
    memory = device.memory
    if memory is None:
        return
    longest = int(memory.write.hi) * len(memory.keeps) + (0 if memory.quiet is None else int(memory.quiet.hi))
    for path, key in _LESS:
        spot = places.get(*path)
        value = _round(Fraction(2 * longest), up=True)
        if spot is not None and value > memory.may_lose_us:
            there = places.get(*path, key)
            words = move("the last 1 s", value)
            edit = places.put(there, words) if there is not None else places.add(spot, key, words)
            yield replace(Remedy((edit,), _WORD_SIZE), lessens=True)
