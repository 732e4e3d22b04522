"""Going to sleep in another order, a late edge, what waking does by itself, and a press that counts from waking.

All times are worked out by hand. The device sleeps at first; a touch at 0 wakes it, it runs at once, reads it, and begins to
go to sleep 50 ms after the release was accepted. Each of the steps takes up to 1 ms.
"""

import pytest

from nudgeproof.model.step import Move
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.sleep import ASLEEP
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from tests.devices import can_enter, enters, look, presses

MS = 1_000


def device(keys: str = "", on: str = "edge", line: str = "press: lit", ready: str = "0 ms", more: str = "") -> Device:
    return read_device(
        f"""spec: 1
device: sleeper
buttons:
  pad: {{bounce: up to 0 ms, debounce: 10 ms, edges apart: at least 10 us}}
gestures:
  press: {{held: 300 ms}}
  off: {{held: 400 ms}}
initial: stowed
states:
  stowed:
    sleep: {{woken by: pad, on: {on}, ready in: {ready}, dozes again after: 50 ms, each step: up to 1 ms{keys}}}
    transitions: {{{line}}}
  lit:
    transitions: {{off: stowed}}
{more}""",
        "sleeper.yaml",
    )


def asleep_while_down(model: Model, before: Situation, move: Move) -> bool:
    """It falls asleep although the contact is closed."""
    return bool(model.value(move.situation, "level pad")) and ASLEEP in move.taken[0].choice.send


def lost(model: Model, before: Situation, move: Move) -> bool:
    """A long press is let go, and nothing was seen of it."""
    opens = bool(model.value(before, "level pad")) and not model.value(move.situation, "level pad")
    return opens and not model.value(before, "running")


ANYTHING = Environment(("anything",))


@pytest.mark.parametrize("keys", ["", ", steps: [clear, check, sleep]", ", steps: [arm, clear, check, sleep]"])
def test_where_the_flag_is_cleared_and_then_looked_at_no_wake_is_lost(keys: str) -> None:
    for on in ("edge", "level"):
        result = look(device(keys, on), ANYTHING, asleep_while_down)
        assert result.complete
        assert result.paths[0] is None


@pytest.mark.parametrize(
    "keys",
    [", late edge: goes unseen", ", steps: [check, clear, sleep]", ", steps: [clear, sleep], late edge: goes unseen"],
)
def test_an_edge_that_comes_too_late_for_the_last_look_is_lost(keys: str) -> None:
    """A level that lasts is still there at the last step."""
    assert look(device(keys), ANYTHING, asleep_while_down).paths[0] is not None
    result = look(device(keys, "level"), ANYTHING, asleep_while_down)
    assert result.complete
    assert result.paths[0] is None


def test_a_press_that_went_unseen_is_lost_whole_and_only_just_before_sleep() -> None:
    """Quiet from 20 + 10 ms on it looks once more at 80 ms at the soonest, and sleeps by 84 ms at the latest."""
    tested = device(", late edge: goes unseen")
    for down, can in ((79, False), (80, True), (84, True), (85, False)):
        script = presses((0, 20 * MS), (down * MS, (down + 1_000) * MS))
        assert (look(tested, Environment(script=script), lost).paths[0] is not None) == can, down
    assert look(device(), Environment(script=presses((0, 20 * MS), (82 * MS, 1_082 * MS))), lost).paths[0] is None


def sleeps_at_once(model: Model, before: Situation, move: Move) -> bool:
    return ASLEEP in move.taken[0].choice.send


STAYS = ", steps: [arm, check, sleep]"


@pytest.mark.parametrize(("keys", "can"), [(STAYS, True), (", steps: [sleep]", True), ("", False)])
def test_a_flag_that_nobody_cleared_ends_the_sleep_at_once(keys: str, can: bool) -> None:
    """The touch sets the flag when it is let go. The firmware goes on behind the sleep, and takes it that it woke."""
    tested = device(keys, line="waking: again", more="  again: {transitions: {press: stowed}}\n")
    assert can_enter(tested, Environment(script=presses((0, 20 * MS))), "again"), "the touch wakes it"
    twice = device(
        keys, line="press: lit", more="  dark: {sleep: {ready in: 0 ms, dozes again after: 50 ms, each step: up to 1 ms"
        f"{keys}}}, transitions: {{waking: again}}}}\n  again: {{}}\n"
    )  # fmt: skip
    twice = read_device("\n".join(twice.lines).replace("{off: stowed}", "{off: dark}"), "sleeper.yaml")
    script = presses((0, 500 * MS), (600 * MS, 1_100 * MS))
    assert can_enter(twice, Environment(script=script), "dark")
    assert can_enter(twice, Environment(script=script), "again") == can


def test_such_a_flag_is_kept_from_states_that_never_sleep_and_is_cleared_by_waking() -> None:
    """The press that switches off is let go in `going`; 100 ms later the device is to sleep with its flag set."""
    more = "  going: {transitions: {after 100 ms: stowed}}\n"
    text = "\n".join(device(STAYS, line="press: lit", more=more).lines).replace("{off: stowed}", "{off: going}")
    tested = read_device(text, "sleeper.yaml")
    script = Environment(script=presses((0, 500 * MS), (600 * MS, 1_050 * MS)))

    def kept(model: Model, before: Situation, move: Move) -> bool:
        return "keeps the processor from sleeping" in move.taken[0].choice.says

    assert look(tested, script, kept).paths[0] is not None
    assert look(tested, script, sleeps_at_once).paths[0] is not None, (
        "the flag is taken with it, and the next sleep lasts"
    )
    cleared = read_device(text.replace(STAYS, ""), "sleeper.yaml")
    assert look(cleared, script, kept).paths[0] is None


@pytest.mark.parametrize(("steps", "can"), [("[arm, check, sleep]", True), ("[clear, arm, check, sleep]", False)])
def test_such_a_flag_is_kept_where_only_levels_wake_too(steps: str, can: bool) -> None:
    """Awake at 0 for a touch that it doesn't read, it clears its flag from 50 ms on. A tap leads on before it looks."""
    sleep = "woken by: pad, on: level, ready in: 0 ms, dozes again after: 50 ms, each step: up to 60 ms"
    text = "\n".join(device("", "level").lines).replace("up to 1 ms", "up to 60 ms")
    text = text.replace("press: lit", "tap: dark").replace(
        "press: {held", "tap: {taps: 1, press: up to 200 ms}\n  press: {held"
    )
    text += f"\n  dark:\n    sleep: {{{sleep}, steps: {steps}}}\n    transitions: {{waking: again}}\n  again: {{}}\n"
    tested = read_device(text, "sleeper.yaml")
    script = Environment(script=presses((0, 5 * MS), (95 * MS, 106 * MS)))
    assert can_enter(tested, script, "dark")
    assert can_enter(tested, script, "again") == can


@pytest.mark.parametrize(("keys", "can"), [("", False), (", steps: [clear, check, sleep]", True)])
def test_a_level_that_is_still_there_wakes_again_unless_the_source_is_armed_anew(keys: str, can: bool) -> None:
    tested = device(f", ignores a held button after: 1 s{keys}", "level", line="waking: lit")
    held = device(f", ignores a held button after: 1 s{keys}", "level", line="press: lit")

    def woken_again(model: Model, before: Situation, move: Move) -> bool:
        return "still closed" in move.taken[0].choice.says

    down = Environment(script=presses((0, 9_000 * MS))[:1])
    stuck = read_device(
        "\n".join(held.lines).replace("press: {held: 300 ms}", "press: {taps: 1, press: up to 300 ms}"), "s"
    )
    assert (look(stuck, down, woken_again).paths[0] is not None) == can
    assert can_enter(tested, down, "lit"), "it is a waking like any other"


def test_waking_is_seen_whatever_woke_it_and_before_anything_else() -> None:
    """A touch far too short to be read wakes it; `lit` knows no press that began before."""
    tested = device(line="waking: lit", ready="20 ms")
    assert can_enter(tested, Environment(script=presses((0, 1))), "lit")
    short, long = presses((0, 419 * MS)), presses((0, 420 * MS))

    def off(model: Model, before: Situation, move: Move) -> bool:
        return model.value(before, "state") == "lit" and model.value(move.situation, "state") == "stowed"

    assert look(tested, Environment(script=short), off).paths[0] is None
    assert look(tested, Environment(script=long), off).paths[0] is not None, (
        "read from 20 ms on, both edges 10 ms later"
    )


COUNTS = ", press counts from: waking"


@pytest.mark.parametrize(("keys", "needs_us"), [("", 500 * MS), (COUNTS, 290 * MS)])
def test_a_hold_counts_from_the_edge_that_woke(keys: str, needs_us: int) -> None:
    """Ready after 200 ms, held for 300 ms; press and release are accepted 10 ms later, but the waking edge is no later."""
    tested = device(keys, ready="200 ms")
    assert can_enter(tested, Environment(script=presses((0, needs_us))), "lit")
    assert not can_enter(tested, Environment(script=presses((0, needs_us - 1))), "lit")


def test_what_is_held_long_enough_before_it_is_read_is_seen_when_it_is_accepted() -> None:
    tested = device(COUNTS, ready="500 ms")
    assert can_enter(tested, Environment(script=presses((0, 510 * MS))), "lit")
    assert not can_enter(tested, Environment(script=presses((0, 509 * MS))), "lit")


def test_two_short_presses_add_up_only_if_the_second_is_there_when_it_runs() -> None:
    """It runs at 200 ms. Found open then, or open for a moment later, the button counts from when it is read."""
    tested = device(COUNTS, ready="200 ms")

    def lights(*pairs: tuple[int, int]) -> bool:
        return can_enter(tested, Environment(script=presses(*((a * MS, b * MS) for a, b in pairs))), "lit")

    assert lights((0, 20), (199, 290))
    assert not lights((0, 20), (199, 289))
    assert not lights((0, 20), (201, 500))
    assert not lights((0, 20), (190, 205), (206, 505))
    assert lights((0, 20), (190, 205), (206, 506))


def test_a_press_that_counts_from_waking_may_be_long_no_tap() -> None:
    """The limit of a tap runs from the waking edge as well."""
    tap = "press: {taps: 1, press: up to 300 ms}"
    credited = read_device("\n".join(device(COUNTS, ready="200 ms").lines).replace("press: {held: 300 ms}", tap), "s")
    usual = read_device("\n".join(device("", ready="200 ms").lines).replace("press: {held: 300 ms}", tap), "s")
    script = Environment(script=presses((0, 291 * MS)))
    assert can_enter(usual, script, "lit")
    assert not can_enter(credited, script, "lit")
    assert can_enter(credited, Environment(script=presses((0, 290 * MS))), "lit")


def test_entering_a_state_forgets_what_counts_from_waking() -> None:
    """Waking leads to `lit` before the button is read, so a hold there counts from when it is read."""
    tested = device(COUNTS, ready="200 ms", line="waking: lit")

    def off(model: Model, before: Situation, move: Move) -> bool:
        return enters("stowed")(model, before, move)

    assert look(tested, Environment(script=presses((0, 599 * MS))), off).paths[0] is None
    assert look(tested, Environment(script=presses((0, 600 * MS))), off).paths[0] is not None


def test_a_chip_that_drops_unarmed_edges_does_so_in_all_states() -> None:
    """A state that doesn't clear the flag would find it set by the button's release in `lit`, and stay awake."""
    more = (
        "  dim:\n    sleep: {ready in: 0 ms, dozes again after: 50 ms, unarmed edges: are lost}\n    transitions: {}\n"
    )
    tested = device(", steps: [arm, sleep]", more=more)
    assert [state.sleep.drops_unarmed for state in tested.states if state.sleep is not None] == [True, True]
    script = Environment(script=presses((0, 350 * MS), (600 * MS, 1_050 * MS)))

    def falls_asleep_again(model: Model, before: Situation, move: Move) -> bool:
        return model.value(before, "state") == "stowed" and ASLEEP in move.taken[0].choice.send

    def stays_awake(model: Model, before: Situation, move: Move) -> bool:
        return any("wake flag keeps" in taken.choice.says for taken in move.taken)

    for tried, awake in ((tested, False), (device(", steps: [arm, sleep]"), True)):
        assert look(tried, script, falls_asleep_again).paths[0] is not None
        assert (look(tried, script, stays_awake).paths[0] is not None) == awake


@pytest.mark.parametrize(
    ("keys", "on", "loses"),
    [
        ("", "edge", False),
        (", late edge: goes unseen", "edge", True),
        (", late edge: goes unseen", "level", False),
        (", steps: [check, clear, sleep]", "edge", True),
        (", steps: [clear, arm, sleep]", "edge", True),
        (", steps: [arm, check, sleep]", "edge", False),
        (", steps: [sleep]", "edge", False),
        (", unarmed edges: are lost", "edge", False),
        (", steps: [clear, check, arm, sleep]", "edge", False),
        (", steps: [clear, check, arm, sleep], unarmed edges: are lost", "edge", True),
        (", steps: [clear, check, arm, sleep], unarmed edges: are lost", "level", False),
        (", steps: [check, arm, sleep], unarmed edges: are lost", "edge", True),
        (", steps: [arm, sleep], unarmed edges: are lost", "edge", True),
        (", steps: [check, sleep], unarmed edges: are lost", "edge", False),
    ],
)
def test_it_is_known_which_orders_lose_an_edge_for_good(keys: str, on: str, loses: bool) -> None:
    """Looked for in all runs: a device asleep with its button down, having been awake when that closed."""
    tested = device(keys, on)
    sleep = tested.state("stowed").sleep
    assert sleep is not None
    assert sleep.loses_edges == loses
    assert (look(tested, ANYTHING, asleep_while_down).paths[0] is not None) == loses
