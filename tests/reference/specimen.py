"""One specimen played by the tool's own parts: every time drawn when it begins, every edge and visible thing noted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from itertools import count, product
from random import Random

from nudgeproof.engines.concrete import Run
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Model, Timer
from nudgeproof.parts.attention import GOES_ON
from nudgeproof.parts.cell_level import LEVEL_CHANGES, LEVELS, SAGS_TO
from nudgeproof.parts.chord import TOO_LATE
from nudgeproof.parts.comes_round import COMES_ROUND
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.memory import BLANK, ERASED, GARBAGE, Store
from nudgeproof.parts.ram import DECAYED, Cells
from nudgeproof.parts.script import Edge
from nudgeproof.parts.sleep import OUTSIDE, STILL_CLOSED
from nudgeproof.spec.fixed import fixed_times
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER
from tests.reference.clock import Draw, Seen, draw_fixed


@dataclass(frozen=True, slots=True)
class Played:
    """What came out: contact and cell edges, what was seen, and up to when (less than asked for after a tie).

    `happened`: events, `voltage`: changes of the cell's, `rounds`: when the clock comes round.
    `met`: rare things that happened, in words.
    """

    levels: dict[str, list[tuple[int, bool]]]
    cell: list[tuple[int, bool]]
    seen: list[Seen]
    end_us: int
    is_tie: bool
    draw: Draw
    met: set[str]
    happened: list[tuple[int, str]] = field(default_factory=list)
    voltage: list[tuple[int, str]] = field(default_factory=list)
    rounds: list[int] = field(default_factory=list)


def draw_for(seed: int | str) -> Draw:
    """Durations that hang on nothing but the seed, the kind and which one it is; often an end of the span."""

    def draw(kind: str, number: int, lo: int, hi: int) -> int:
        rng = Random(f"{seed}/{kind}/{number}")
        where = rng.random()
        if where < 0.1:
            return lo if where < 0.05 else hi
        return rng.randint(lo, hi)

    return draw


def play(
    device: Device, script: tuple[Edge, ...], sources: tuple[str, ...], end_us: int, seed: int, most: int | None = None
) -> Played:
    """Run the tool's model until `end_us`, or until just before two timers expire at the same microsecond.

    `most`: after so many steps it ends sooner.
    """
    return play_in(device, Environment(script=script, sources=sources), end_us, seed, most=most)


Led = Callable[[str, Timer, int], int | None]
"""A part, its timer, and when it begins: how long it is to last; None if nobody says so."""


def play_in(
    device: Device,
    environment: Environment,
    end_us: int,
    seed: int,
    led: Led | None = None,
    most: int | None = None,
) -> Played:
    """The same in any environment, some times being `led`."""
    model = compile_model(device, environment)
    rng = Random(seed)
    garbage: dict[str, list[int]] = {}
    times = draw_for(seed)

    def draw(kind: str, number: int, lo: int, hi: int) -> int:
        known = garbage.get(kind, [])
        return known[number] if number < len(known) else times(kind, number, lo, hi)

    fixed = {str(one): one for one in fixed_times(device)}

    def once(name: str) -> int:
        return draw_fixed(draw, fixed[name], device.off_by)

    played = Played({button.name: [] for button in device.buttons}, [], [], end_us, False, draw, set())
    outages, sags = _published(model, " opens the cell"), _published(model, SAGS_TO)
    run = Run(model)
    ends: list[int] = []
    kept: tuple[int, ...] = (-1,) * len(run.timers)
    for step in count():
        ends = [
            ends[k] if k >= 0 else run.now + _lasts(model, part, timer, rng, draw, once, run.now, led)
            for (part, timer), k in zip(run.timers, kept, strict=True)
        ]
        soonest = min(ends, default=end_us + 1)
        if soonest > end_us:
            return played
        if most is not None and step >= most and soonest > run.now:
            return replace(played, end_us=soonest - 1)
        if ends.count(soonest) > 1:
            seen = [one for one in played.seen if one[0] < soonest]  # the same instant may have begun already
            return replace(played, seen=seen, end_us=soonest - 1, is_tie=True)
        position = ends.index(soonest)
        number = rng.randrange(len(run.outcomes(position)))
        before = run.situation
        run.advance(soonest - run.now)
        move = run.take(position, number)
        kept = move.kept
        part, timer = model.parts[move.taken[0].part].name, move.taken[0].cause.removeprefix("timer ")
        value = _looker(model, before, move)
        for button, edges in played.levels.items():
            was, level = value(f"level {button}")
            if was != level:
                edges.append((run.now, bool(level)))
        was_gone, gone = (any(value(name)[i] for name in outages) for i in (0, 1))
        if was_gone != gone:
            played.cell.append((run.now, not gone))
        sent = move.taken[0].choice.send
        played.happened.extend((run.now, s.removeprefix(OUTSIDE)) for s in sent if s.startswith(OUTSIDE))
        if COMES_ROUND in sent:
            played.rounds.append(run.now)
        if LEVEL_CHANGES in sent:
            lowest = min(LEVELS.index(str(value(name)[1])) for name in sags)
            played.voltage.append((run.now, LEVELS[lowest]))
        if (part, timer) == ("supply", "starts") and device.memory is not None:
            _note_garbage(model, device, before, move, garbage)
        if (part, timer) == ("supply", "starts") and device.ram is not None:
            _note_ram(model, device, before, move, garbage)
        played.met.update(_meets(model, before, move))
        played.seen.extend((run.now, what) for what in _see(model, device, before, move))
    raise AssertionError  # it only ends within


def _looker(model: Model, before: tuple[object, ...], move: Move) -> Callable[[str], tuple[object, object]]:
    return lambda name: (model.value(before, name), model.value(move.situation, name))


def _published(model: Model, ending: str) -> tuple[str, ...]:
    return tuple(name for part in model.parts for name in part.publishes if name.endswith(ending))


def _lasts(
    model: Model,
    part: int,
    timer: Timer,
    rng: Random,
    draw: Draw,
    once: Callable[[str], int],
    now: int,
    led: Led | None,
) -> int:
    """How long a timer that begins now lasts: what the device does by its kind, what surrounds it at random."""
    if timer.of:
        return once(timer.of)
    owner = model.parts[part].name
    if led is not None and (told := led(owner, timer, now)) is not None:
        return told
    kind = kind_of(owner, timer)
    if kind is not None:
        return draw(kind, now, timer.lo, int(timer.hi))
    if timer.hi != FOREVER:
        return rng.randint(timer.lo, int(timer.hi))
    if owner.startswith("contact "):
        return timer.lo + int(rng.expovariate(1 / 1_500))
    return timer.lo + int(rng.expovariate(1 / 900_000))


def kind_of(part: str, timer: Timer) -> str | None:
    """The kind under which the simulator draws this time; None if it belongs to the surroundings."""
    button = part.split(" ", 1)[-1]
    limits = {
        "tap limit": "tap limit",
        "hold time of": "hold",
        "limit between": "press to press",
        "pause limit": "pause",
        "repeats": "repeat",
        "extra taps": "extra",
        "elapsed time": "comes round",
        "press comes round": "press round",
        "a tick": "tick",
    }
    if part.startswith("reader "):
        kind = {"accepts": "debounce", "hears again": "lockout"}.get(timer.name, timer.name)
        return f"{kind} {button}"
    if part.startswith("chord "):
        return f"{'join' if timer.name == TOO_LATE else 'held together'} {button}"
    if part.startswith("recogniser "):
        kind = next(limits[start] for start in limits if timer.name.startswith(start))
        return f"{kind} {button}: {timer.lo} {timer.hi}"
    if part == "processor":
        if timer.name.startswith("gives up on "):
            held = timer.name.removeprefix("gives up on ").rsplit(" in ", 1)[0]
            return f"gives up {held}"
        if timer.name in (STILL_CLOSED, "woken", "late"):
            return None
        return "doze" if timer.name.startswith("dozes") else "ready" if timer.name == "waking" else "step"
    if timer.name == GOES_ON:
        return None
    if part in ("attention", "gauge"):
        return {"attention": "busy", "gauge": "read cell"}[part]
    if part == "device":
        return f"timeout {timer.name}"
    if part == "latch":
        return "lets go"
    if part == "power switch":
        return timer.name if timer.name == "lets go" else f"switch on {timer.name.removesuffix(' switches on')}"
    if part in ("cut-off", "supervisor", "ram"):
        return part
    if part == "supply":
        return "start" if timer.name == "starts" else "hold-up"
    if part == "memory":
        return {"writes": "write", "quiet for": "quiet"}[timer.name]
    return None


def _note_garbage(
    model: Model, device: Device, before: tuple[object, ...], move: Move, garbage: dict[str, list[int]]
) -> None:
    """Write down what the tool let the start find in each garbage cell, as the simulator numbers it."""
    assert device.memory is not None
    store = before[model.index("memory")]
    assert isinstance(store, Store)
    found = next(
        t.choice.to.found for t in move.taken if isinstance(t.choice.to, Store) and t.cause == "signal restore"
    )
    if ERASED in store.cells:
        garbage.setdefault("erased", []).append(int(found == BLANK))
    if device.memory.guard != "none":
        return
    for i, (name, cell) in enumerate(zip(device.memory.keeps, store.cells, strict=True)):
        if cell != GARBAGE:
            continue
        legal = tuple(s.name for s in device.states) if name == "state" else device.variable(name).values
        number = legal.index(found[i]) if isinstance(found, tuple) else len(legal)
        garbage.setdefault(f"garbage {name}", []).append(number)


def _note_ram(
    model: Model, device: Device, before: tuple[object, ...], move: Move, garbage: dict[str, list[int]]
) -> None:
    """The same for RAM that has decayed and is believed all the same, or isn't."""
    assert device.ram is not None
    cells = before[model.index("ram")]
    assert isinstance(cells, Cells)
    if cells.phase == DECAYED and not device.ram.is_checked:
        states = tuple(state.name for state in device.states)
        domains = (states if name == "state" else device.variable(name).values for name in device.ram.keeps)
        given = next(t.choice.to.gives for t in move.taken if isinstance(t.choice.to, Cells))
        garbage.setdefault("ram garbage", []).append([None, *product(*domains)].index(given))


def _meets(model: Model, before: tuple[object, ...], move: Move) -> list[str]:
    """What is rare and worth counting."""
    first = move.taken[0]
    owner, timer = model.parts[first.part].name, first.cause.removeprefix("timer ")
    met = ["an event lost" for t in move.taken if " is lost: " in t.choice.says]
    met += [
        "an event kept"
        for t in move.taken
        if model.parts[t.part].name == "events" and t.choice.to not in ("", before[t.part])
    ]
    met += [
        "a gesture waits" if told.endswith("until the firmware is free") else "a gesture is lost"
        for told in (t.choice.says for t in move.taken)
        if told.startswith("an interrupt recognises ")
    ]
    met += ["deaf for good" for t in move.taken if t.choice.says.endswith("it is read no more")]
    met += ["gets deaf" for t in move.taken if "stops hearing" in t.choice.send]
    if owner == "processor" and timer in ("checking", "dropping") and first.choice.to == ("awake", False):
        met.append(f"stays awake at {timer}")
    if owner.startswith("contact ") and timer == "chatters":
        met.append("chatter")
    if owner.startswith("recogniser ") and timer.startswith(("pause", "limit")):
        met.append("a pause is too long")
    if any(t.cause.startswith("signal up ") and before[t.part] == ("spent",) for t in move.taken):
        met.append("nobody's press")
    stores = [local for local in before if isinstance(local, Store)]
    if owner == "supply" and timer.startswith("hold-up"):
        met.append("reset" if before[first.part] == "sagging" else "start-up ended")
        met += ["torn write" for store in stores if store.target is not None]
    if any("recovers" in taken.choice.send for taken in move.taken):
        met.append("loss unnoticed")
    if (owner, timer) == ("supply", "starts"):
        met += [
            f"{'nothing' if t.choice.to.gives is None else 'values'} from {t.choice.to.phase} RAM"
            for t in move.taken
            if isinstance(t.choice.to, Cells) and t.cause == "signal restore"
        ]
        found = next(t.choice.to.found for t in move.taken if isinstance(t.choice.to, Store))
        met.append("restored" if isinstance(found, tuple) and found else f"started from {found or 'nothing'}")
        met += ["garbage read" for store in stores if GARBAGE in store.cells]
        met += [
            "started with a button down"
            for name in model.receivers["started"]
            if "reader" in model.parts[name].name and move.situation[name] != (False, False)
        ]
    return met


def _see_chart(model: Model, device: Device, before: tuple[object, ...], move: Move) -> list[str]:
    """States entered and values changed, one after the other: a start may see a gesture in the same instant."""
    chart, names = model.index("device"), [variable.name for variable in device.variables]
    seen, local = [], before[chart]
    for taken in (taken for taken in move.taken if taken.part == chart):
        assert isinstance(local, tuple)
        assert isinstance(taken.choice.to, tuple)
        (_, was), (state, now) = local, taken.choice.to
        if "started" in taken.choice.send:
            seen.append(" ".join(["started", *(f"{name}={one}" for name, one in zip(names, now, strict=True))]))
        else:
            seen += [f"{name} = {two}" for name, one, two in zip(names, was, now, strict=True) if one != two]
        seen += [f"entered {state}"] if "changed" in taken.choice.send else []
        local = taken.choice.to
    return seen


def _see(model: Model, device: Device, before: tuple[object, ...], move: Move) -> list[str]:
    seen: list[str] = []
    first = move.taken[0]
    owner, cause = model.parts[first.part].name, first.cause
    signals = [signal for taken in move.taken for signal in taken.choice.send]
    is_start = "started" in signals
    for signal in signals:
        if signal.startswith(("down ", "up ")):
            seen.append(signal)
        if signal.startswith("gesture "):
            seen.append(f"fired {signal.removeprefix('gesture ')}")
        if signal.startswith("event "):
            seen.append(f"saw {signal.removeprefix('event ')}")
    seen += _see_chart(model, device, before, move)
    if owner == "supply" and cause.startswith("timer hold-up"):
        seen.append("power lost")
    if (owner, cause) == ("brown-out", "timer sags"):
        seen.append("browned out")
    if owner == "power switch":
        seen.append("switched off" if cause == "timer lets go" else "switched on")
    if owner in ("cut-off", "supervisor"):
        seen.append({"cut-off": "cut off", "supervisor": "not fed"}[owner])
    if (owner, cause) == ("memory", "timer writes"):
        store = before[first.part]
        assert isinstance(store, Store)
        assert store.target is not None
        assert device.memory is not None
        is_cell = device.memory.guard == "none"
        seen.append(f"wrote {device.memory.keeps[store.at]} {store.target[store.at]}" if is_cell else "")
        seen[-1] = seen[-1] or f"wrote {' '.join(store.target)}"
    if owner == "processor" and not is_start:
        local = first.choice.to
        assert isinstance(local, tuple)
        if cause == "timer waking":
            seen.append("awake")
        elif cause in ("timer checking", "timer dropping") and local[0] == "awake":
            seen.append("stays awake")
        elif local[0] == "asleep":
            seen.append("asleep")
    return seen
