"""Which steps a question looks for, as tests of (model, situation before, move)."""

from __future__ import annotations

from functools import partial

from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.attention import GESTURES_WAIT
from nudgeproof.parts.brown_out import BY_BROWN_OUT
from nudgeproof.parts.changes import first_values
from nudgeproof.parts.chart import STARTED, STARTS_AFRESH
from nudgeproof.parts.events import EVENT_WAITS
from nudgeproof.parts.ledger import ALLOWED
from nudgeproof.parts.limits import AGAIN, IN_A_ROW, LATE_NOW, NOTED, SETTLES
from nudgeproof.parts.memory import TORN, read_as, snapshot, whole
from nudgeproof.parts.people import LEFT, LEFT_IN
from nudgeproof.parts.performer import ACT, DONE, EXCUSED, LATE, OTHER, PERFORMED, SEEN, STAYING
from nudgeproof.parts.rest import is_at_rest
from nudgeproof.parts.sleep import WAKING_WAITS
from nudgeproof.parts.supply import RESET
from nudgeproof.parts.trail import GESTURE, LEFT_BY, RESTED_IN, START, TIME
from nudgeproof.questions.ask import Mode
from nudgeproof.spec.types import CELL_CAUSE, Device


def left_alone(model: Model, situation: Situation) -> bool:
    """Whether the history, if the environment has one, is over."""
    return not model.publishes(LEFT) or bool(model.value(situation, LEFT))


def left_in(model: Model, situation: Situation, states: frozenset[str]) -> bool:
    """Whether the history, if there is one, is over and ended in one of `states`."""
    if not model.publishes(LEFT):
        return True
    return bool(model.value(situation, LEFT)) and model.value(situation, LEFT_IN) in states


def entering(mode: Mode, lasting: frozenset[str] = frozenset()) -> Test:
    """Steps that bring the device into `mode` from outside, once it was left alone.

    Timeouts of the `lasting` states don't count: they would have come anyway.
    """

    def test(model: Model, before: Situation, move: Move) -> bool:
        if model.parts[move.taken[0].part].name == "device" and model.value(before, "state") in lasting:
            return False
        now = mode.holds(model, move.situation) and not mode.holds(model, before)
        return now and left_alone(model, before)

    return test


def coming_on(device: Device) -> Test:
    """Steps from a state that sleeps or only waits into one that does neither, once the device was left alone asleep.

    A start that brings back what memory may bring back is none.
    """
    on = {state.name: state.is_on for state in device.states}
    asleep = frozenset(state.name for state in device.states if state.is_off)

    def test(model: Model, before: Situation, move: Move) -> bool:
        was, now = model.value(before, "state"), model.value(move.situation, "state")
        if on[str(was)] or not on[str(now)] or not left_in(model, before, asleep):
            return False
        return not _as_it_was(device, model, before, move, ("state",))

    return test


def changing(device: Device, to_sleep: bool) -> Test:
    """Steps that change the state or a variable of a device that is on, once it was left alone on.

    With `to_sleep` only those into a state that sleeps, else only the others. A timeout of the state isn't counted, since it
    would have come anyway, nor a start that brings back what memory may bring back.
    """
    on = {state.name: state.is_on for state in device.states}
    sleeps = {state.name: state.is_off for state in device.states}
    names = ("state", *(f"value {variable.name}" for variable in device.variables))
    lit = frozenset(name for name, is_on in on.items() if is_on)

    def test(model: Model, before: Situation, move: Move) -> bool:
        state = str(model.value(before, "state"))
        if not on[state] or not left_in(model, before, lit) or model.parts[move.taken[0].part].name == "device":
            return False
        if all(model.value(before, name) == model.value(move.situation, name) for name in names):
            return False
        if _as_it_was(device, model, before, move, whole(device)):
            return False
        return sleeps[str(model.value(move.situation, "state"))] == to_sleep

    return test


def stepping_otherwise(names: tuple[str, ...]) -> Test:
    """Steps that change `state` or one of the variables named, once the device was left alone; timeouts don't count."""
    published = tuple(name if name == "state" else f"value {name}" for name in names)

    def test(model: Model, before: Situation, move: Move) -> bool:
        if not left_alone(model, before) or model.parts[move.taken[0].part].name == "device":
            return False
        return any(model.value(before, name) != model.value(move.situation, name) for name in published)

    return test


def passing(before: str, after: str, how: str, cause: str = "") -> Test:
    """Steps from state `before` to `after`, once the device was left alone; states that only wait may lie between.

    `how` it left: `gesture`, `time` or `start` (see `parts.trail`, which must take part). `cause`: only by this gesture or
    timer, at once; "" for any, and only through waiting states unless by a start.
    """

    def test(model: Model, was: Situation, move: Move) -> bool:
        state = model.value(was, "state")
        if model.value(move.situation, "state") != after or state == after or not left_alone(model, was):
            return False
        if state == before and (cause or how == START):
            return _by(model, move) == (how, cause)
        return (
            not cause
            and state != before
            and model.value(was, RESTED_IN) == before
            and (START if starts(move) else model.value(was, LEFT_BY)) == how
        )

    return test


def stepping(before: str, after: str, variable: str, how: str, cause: str = "") -> Test:
    """Steps that change a variable and lead from state `before` to `after`, perhaps the same, once it was left alone.

    `how`, `cause` as in `passing`.
    """
    value = f"value {variable}"

    def test(model: Model, was: Situation, move: Move) -> bool:
        leads = (model.value(was, "state"), model.value(move.situation, "state")) == (before, after)
        if not leads or model.value(was, value) == model.value(move.situation, value) or not left_alone(model, was):
            return False
        return _by(model, move) == (how, cause)

    return test


def _by(model: Model, move: Move) -> tuple[str, str]:
    """How the chart took a step: by which gesture or event, which timer, or a reset or start (then without a cause)."""
    if starts(move):
        return START, ""
    first = move.taken[0]
    if model.parts[first.part].name == "device":
        return TIME, first.cause.removeprefix("timer ")
    signals = [taken.cause for taken in move.taken if model.parts[taken.part].name == "device"]
    if f"signal {RESET}" in signals:
        return START, ""
    heard = next((cause for cause in signals if cause.startswith(("signal gesture ", "signal event "))), "")
    return GESTURE, heard.removeprefix("signal ").partition(" ")[2]


def at_start(device: Device, test: Test) -> Test:
    """Starts after an interruption that meet `test`, or lead into a waiting state, from which more may follow by itself."""
    waiting = {state.name for state in device.states if state.waiting}

    def narrowed(model: Model, before: Situation, move: Move) -> bool:
        if not starts(move):
            return False
        return test(model, before, move) or model.value(move.situation, "state") in waiting

    return narrowed


def starting_otherwise(device: Device, names: tuple[str, ...]) -> Test:
    """Starts after an interruption at which `names` are not as they may be."""

    def test(model: Model, before: Situation, move: Move) -> bool:
        return starts(move) and not _as_it_was(device, model, before, move, names)

    return test


def starting_wrongly(device: Device, torn: bool) -> Test:
    """Starts after an interruption at which the kept values are not as they may be, see `parts.ledger`.

    With `torn` only those where a write had been cut, else only the others.
    """

    def test(model: Model, before: Situation, move: Move) -> bool:
        if not starts(move) or model.value(before, TORN) != torn:
            return False
        kept = device.memory.keeps if device.memory is not None else ()
        names = tuple(name for name in kept if name != "state") if starts_afresh(model, before) else None
        return not _as_it_was(device, model, before, move, names)

    return test


def starts_afresh(model: Model, situation: Situation) -> bool:
    """Whether the next start is one as after a brown-out, whose state the spec gives."""
    return model.publishes(STARTS_AFRESH) and bool(model.value(situation, STARTS_AFRESH))


def browned_off(device: Device) -> Test:
    """Steps with which a device that was on is off after a brown-out; not where the spec gives the state after one."""
    on = {state.name: state.is_on for state in device.states}
    off = {state.name: state.is_off for state in device.states}

    def test(model: Model, before: Situation, move: Move) -> bool:
        if not on[str(model.value(before, "state"))] or not off[str(model.value(move.situation, "state"))]:
            return False
        if starts(move):
            return bool(model.value(before, IN_A_ROW)) and not starts_afresh(model, before)
        return any(BY_BROWN_OUT in taken.choice.send for taken in move.taken)  # a latch opens at once

    return test


def starts(move: Move) -> bool:
    """Whether the firmware starts with this step."""
    return any(STARTED in taken.choice.send for taken in move.taken)


def _as_it_was(
    device: Device, model: Model, before: Situation, move: Move, names: tuple[str, ...] | None = None
) -> bool:
    """Whether this is a start after an interruption at which `names` (all that memory keeps) are as they may be."""
    if not starts(move) or not model.publishes(ALLOWED) or device.memory is None:
        return False
    order = whole(device)
    places = [order.index(name) for name in (device.memory.keeps if names is None else names)]
    reads = {name: model.value(move.situation, name) for name in read_as(order)}
    found = snapshot(device, order, reads)
    allowed = model.value(before, ALLOWED)
    assert isinstance(allowed, frozenset)
    return tuple(found[i] for i in places) in {tuple(values[i] for i in places) for values in allowed}


def failing(device: Device, act: int) -> Test:
    """Steps after which act number `act` was performed and has failed.

    Failed: the firmware saw something else, the limit passed, or everything has settled without what was wanted.
    """
    missed = missing(device, act)

    def test(model: Model, before: Situation, move: Move) -> bool:
        return missed(model, before, move) or ending_as(act, OTHER, LATE)(model, before, move)

    return test


def ending_as(act: int, *ends: str) -> Test:
    """Steps after which act number `act` has become one of `ends` (see `parts.performer`)."""

    def test(model: Model, before: Situation, move: Move) -> bool:
        return model.value(move.situation, ACT) == act and model.value(move.situation, SEEN) in ends

    return test


def missing(device: Device, act: int) -> Test:
    """Steps after which act number `act` was performed and everything has settled, and nothing was seen."""
    names = tuple(button.name for button in device.buttons)

    def test(model: Model, before: Situation, move: Move) -> bool:
        after = move.situation
        waiting = (EVENT_WAITS, GESTURES_WAIT, WAKING_WAITS)
        if any(model.publishes(name) and model.value(after, name) for name in waiting):
            return False
        if model.value(after, ACT) != act or model.value(after, SEEN) in (STAYING, DONE, EXCUSED, OTHER, LATE):
            return False
        return bool(model.value(after, PERFORMED)) and is_at_rest(partial(model.value, after), names)

    return test


def succeeding(act: int) -> Test:
    """Steps with which act number `act` succeeds."""
    return ending_as(act, DONE)


def performed(model: Model, before: Situation, move: Move) -> bool:
    """Steps with which the last press of an act is over."""
    return bool(model.value(move.situation, PERFORMED)) and not model.value(before, PERFORMED)


def being_late(model: Model, before: Situation, move: Move) -> bool:
    """Steps with which a limit (see `parts.limits`) passes."""
    return bool(model.value(move.situation, LATE_NOW)) and not model.value(before, LATE_NOW)


def going_round(model: Model, before: Situation, move: Move) -> bool:
    """Steps with which the device is again what it was before, although nobody did anything."""
    return model.value(move.situation, SETTLES) == AGAIN


def being_noted(model: Model, before: Situation, move: Move) -> bool:
    """Steps with which the device was left alone long enough for the observer of settling to look at it."""
    return model.value(move.situation, SETTLES) == NOTED


def changing_to(mode: Mode) -> Test:
    """Steps into `mode` from outside, of a device that was left alone, of whatever cause."""

    def test(model: Model, before: Situation, move: Move) -> bool:
        return left_alone(model, before) and mode.holds(model, move.situation) and not mode.holds(model, before)

    return test


def starting(model: Model, before: Situation, move: Move) -> bool:
    """Steps with which the firmware starts."""
    return starts(move)


def starting_unlike_blank(device: Device) -> Test:
    """Starts after which the device isn't what it would be with a blank memory."""
    assert device.power_up is not None
    state = device.power_up.state_after(CELL_CAUSE)
    values = first_values(device) | dict(device.state(state).on_entering)
    first = {f"value {name}": value for name, value in values.items()}

    def test(model: Model, before: Situation, move: Move) -> bool:
        if not starts(move):
            return False
        after = move.situation
        return model.value(after, "state") != state or any(model.value(after, n) != v for n, v in first.items())

    return test


def acting(source: str, states: frozenset[str] | None = None) -> Test:
    """Steps in which `source` presses, in one of `states` if given, once the device was left alone."""

    def test(model: Model, before: Situation, move: Move) -> bool:
        first = move.taken[0]
        if model.parts[first.part].name != source or not first.choice.actions:
            return False
        return left_alone(model, before) and (states is None or model.value(before, "state") in states)

    return test


def any_of(tests: tuple[Test, ...]) -> Test:
    """Steps that meet one of `tests`."""

    def test(model: Model, before: Situation, move: Move) -> bool:
        return any(one(model, before, move) for one in tests)

    return test
