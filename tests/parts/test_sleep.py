"""Going to sleep step by step: no wake is lost in the order that is built in, and the level at wake is read as usual."""

from nudgeproof.model.step import Move
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from tests.devices import can_enter, look, presses

MS = 1_000


def device(on: str = "edge", debounce: str = "20 ms", woken_by: str = "[pad]", press: str = "{held: 300 ms}") -> Device:
    return read_device(
        f"""spec: 1
device: sleeper
buttons:
  pad: {{bounce: up to 0 ms, debounce: {debounce}, edges apart: at least 10 us}}
gestures:
  press: {press}
initial: stowed
states:
  stowed:
    sleep: {{woken by: {woken_by}, on: {on}, ready in: 1 to 3 ms, dozes again after: 50 ms, each step: up to 20 us}}
    transitions: {{press: lit}}
  lit:
    transitions: {{press: stowed}}
""",
        "sleeper.yaml",
    )


def released_in_vain(model: Model, before: Situation, move: Move) -> bool:
    """The firmware saw the press and its release, and the device is still stowed."""
    was, now = model.value(before, "reading pad"), model.value(move.situation, "reading pad")
    return bool(was) and not now and model.value(move.situation, "state") == "stowed"


def test_the_press_that_wakes_counts_from_when_the_processor_is_ready() -> None:
    """Ready after 1 to 3 ms; debounce delays press and release alike, so a press counts from ready + hold time on."""
    earliest, surest = (1 + 300) * MS, (3 + 300) * MS
    assert can_enter(device(), Environment(script=presses((0, earliest))), "lit")
    assert not can_enter(device(), Environment(script=presses((0, earliest - 1))), "lit")
    assert look(device(), Environment(script=presses((0, surest))), released_in_vain).paths[0] is not None
    assert look(device(), Environment(script=presses((0, surest + 1))), released_in_vain).paths[0] is None


def never_seen_while_held(model: Model, before: Situation, move: Move) -> bool:
    """The processor sleeps although the contact is closed: that press is lost for good."""
    return bool(model.value(move.situation, "level pad")) and "asleep" in move.taken[0].choice.send


def test_no_wake_is_lost_between_the_last_check_and_sleep() -> None:
    for on in ("edge", "level"):
        result = look(device(on), Environment(("anything",)), never_seen_while_held)
        assert result.complete
        assert result.paths[0] is None


def test_a_press_at_every_point_of_going_to_sleep_still_counts() -> None:
    """A knock wakes the processor; a long press that begins just as it dozes off again must not be lost."""
    for on in ("edge", "level"):
        for late in range(50, 56):
            script = presses((0, 1 * MS), (late * MS, (late + 1_000) * MS))
            assert look(device(on), Environment(script=script), released_in_vain).paths[0] is None
            assert can_enter(device(on), Environment(script=script), "lit")


def test_it_stays_awake_for_a_pause_that_is_longer_than_the_time_before_it_dozes() -> None:
    """It dozes 50 ms after everything is quiet, but a second tap may come for 300 ms."""
    tested = device(press="{taps: 2, press: up to 200 ms, between: up to 300 ms}")
    assert can_enter(tested, Environment(script=presses((0, 50 * MS), (300 * MS, 350 * MS))), "lit")
