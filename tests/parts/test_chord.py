"""Two buttons: which presses make a chord, whose presses they are, and who presses them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nudgeproof.engines.explore import explore
from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.parts.contact import contact
from nudgeproof.parts.performer import Act
from nudgeproof.parts.script import Edge
from nudgeproof.questions.steps import failing, succeeding
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.units import Span
from tests.devices import can_enter, enters, look, seen
from tests.parts.test_recogniser import fires_at
from tests.reference.specimen import play

MS = 1_000


def device(
    transitions: str = "both: {next: beam}, pad tap: {next: beam}, rim tap: {next: beam}, pad hold: {next: beam}",
    both: str = "within: 60 ms",
    extra: str = "",
    more: str = "",
    reader: str = "debounce: 0 ms",
) -> Device:
    return read_device(
        f"""spec: 1
device: two pads
buttons:
  pad: {{bounce: up to 0 ms, {reader}, edges apart: at least 10 us}}
  rim: {{bounce: up to 0 ms, {reader}, edges apart: at least 10 us}}
gestures:
  pad tap: {{on: pad, taps: 1, press: up to 400 ms}}
  rim tap: {{on: rim, taps: 1, press: up to 400 ms}}
  pad hold: {{on: pad, held: 500 ms}}
  both: {{together: [pad, rim], {both}}}
variables:
  beam: [low, high]
initial: idle
states:
  idle: {{transitions: {{{transitions}}}}}
{extra}
{more}
""",
        "two.yaml",
    )


def press(button: str, down_ms: float, up_ms: float) -> tuple[Edge, Edge]:
    return Edge(int(down_ms * MS), button, True), Edge(int(up_ms * MS), button, False)


def together(*pairs: tuple[Edge, Edge]) -> tuple[Edge, ...]:
    return tuple(sorted(edge for pair in pairs for edge in pair))


TWO = device()


@pytest.mark.parametrize(
    ("apart", "expected"), [(59, {"both"}), (60, {"both", "pad tap", "rim tap"}), (61, {"pad tap", "rim tap"})]
)
@pytest.mark.parametrize("first", ["pad", "rim"])
def test_the_second_button_may_come_this_late(first: str, apart: int, expected: set[str]) -> None:
    second = "rim" if first == "pad" else "pad"
    assert seen(TWO, together(press(first, 10, 200), press(second, 10 + apart, 220))) == expected


def test_the_first_must_still_be_down() -> None:
    assert seen(TWO, together(press("pad", 10, 30), press("rim", 40, 100))) == {"pad tap", "rim tap"}


def test_a_chord_that_is_held_counts_when_both_stayed_down_that_long() -> None:
    held = device(both="within: 60 ms, held: 1 s")
    assert seen(held, together(press("pad", 10, 1_041), press("rim", 40, 1_300))) == {"both"}
    assert seen(held, together(press("pad", 10, 1_039), press("rim", 40, 1_300))) == set()
    assert seen(held, together(press("pad", 10, 1_300), press("rim", 40, 1_039))) == set()


def test_a_press_whose_own_gesture_fired_cannot_be_joined() -> None:
    slow = device(both="within: 600 ms")
    assert seen(slow, together(press("pad", 10, 900), press("rim", 500, 800))) == {"both"}
    assert seen(slow, together(press("pad", 10, 900), press("rim", 520, 800))) == {"pad hold", "rim tap"}


def test_a_press_from_before_a_change_of_state_cannot_be_joined() -> None:
    moving = device("both: idle, after 50 ms: other", extra="  other: {transitions: {both: other, rim tap: other}}")
    assert seen(moving, together(press("pad", 20, 200), press("rim", 49, 150))) == {"both"}
    assert seen(moving, together(press("pad", 20, 200), press("rim", 51, 150))) == {"rim tap"}


def test_a_chord_counts_only_where_it_is_in_use() -> None:
    unused = device("pad tap: {next: beam}, rim tap: {next: beam}")
    assert seen(unused, together(press("pad", 10, 100), press("rim", 30, 120))) == {"pad tap", "rim tap"}


def test_until_both_are_let_go_further_presses_belong_to_the_chord() -> None:
    first = (press("pad", 10, 400), press("rim", 30, 100))
    assert seen(TWO, together(*first, press("rim", 200, 300))) == {"both"}
    assert seen(TWO, together(*first, press("rim", 200, 500), press("pad", 450, 480))) == {"both"}
    assert seen(TWO, together(*first, press("rim", 450, 500))) == {"both", "rim tap"}


def test_the_releases_of_a_chord_may_each_be_a_tap() -> None:
    gives_back = device(both="within: 60 ms, releases: are taps")
    says_so = device(both="within: 60 ms, releases: belong to the chord")
    edges = together(press("pad", 10, 100), press("rim", 30, 900))
    assert seen(gives_back, edges) == {"both", "pad tap", "rim tap"}
    assert seen(says_so, edges) == {"both"}
    late = together(press("pad", 10, 100), press("rim", 80, 900))
    assert seen(gives_back, late) == {"pad tap"}, "not joined, it is a press like any other"


def test_the_releases_of_a_chord_that_did_not_count_are_nobodys() -> None:
    held = device(both="within: 60 ms, held: 300 ms, releases: are taps")
    assert seen(held, together(press("pad", 10, 200), press("rim", 30, 600))) == set()
    assert seen(held, together(press("pad", 10, 400), press("rim", 30, 600))) == {"both", "pad tap", "rim tap"}


def test_the_releases_of_a_chord_count_in_the_state_of_then() -> None:
    moving = device(
        "both: there, pad tap: idle",
        both="within: 60 ms, releases: are taps",
        extra="  there: {transitions: {rim tap: idle, pad tap: there, after 300 ms: late}}\n  late: {}",
    )
    assert seen(moving, together(press("rim", 10, 100), press("pad", 30, 120))) == {"both", "rim tap", "pad tap"}
    assert seen(moving, together(press("pad", 10, 200), press("rim", 30, 450))) == {"both", "pad tap", "rim tap"}
    assert seen(moving, together(press("pad", 10, 400), press("rim", 30, 600))) == {"both"}


def test_a_further_press_is_the_chords_though_its_releases_are_taps() -> None:
    gives_back = device(both="within: 60 ms, releases: are taps")
    edges = together(press("pad", 10, 100), press("rim", 30, 400), press("pad", 200, 300))
    assert fires_at(gives_back, edges, "pad tap") == {100 * MS}


def test_a_press_anew_is_one_like_any_other_though_a_chord_gave_its_release_back() -> None:
    pads = "{bounce: up to 0 ms, debounce: 0 ms, new state: begins it anew}"
    text = f"""spec: 1
device: two pads
buttons: {{pad: {pads}, rim: {pads}}}
gestures:
  pad tap: {{on: pad, taps: 1, press: up to 400 ms}}
  both: {{together: [pad, rim], within: 60 ms, releases: are taps}}
initial: idle
states:
  idle: {{transitions: {{both: there}}}}
  there: {{transitions: {{pad tap: idle}}}}
"""
    anew = read_device(text, "two.yaml")
    assert seen(anew, together(press("pad", 10, 500), press("rim", 30, 600))) == {"both"}
    assert seen(anew, together(press("pad", 10, 420), press("rim", 30, 600))) == {"both", "pad tap"}


def test_of_two_chords_one_may_give_back_what_the_other_keeps() -> None:
    text = """spec: 1
device: three pads
buttons:
  pad: {bounce: up to 0 ms, debounce: 0 ms}
  rim: {bounce: up to 0 ms, debounce: 0 ms}
  top: {bounce: up to 0 ms, debounce: 0 ms}
gestures:
  upper: {together: [top, rim], within: 60 ms, releases: are taps}
  lower: {together: [pad, rim], within: 60 ms}
  rim tap: {on: rim, taps: 1, press: up to 400 ms}
variables:
  beam: [low, high]
initial: idle
states:
  idle: {transitions: {upper: {next: beam}, lower: {next: beam}, rim tap: {next: beam}}}
"""
    three = read_device(text, "three.yaml")
    assert seen(three, together(press("top", 10, 100), press("rim", 30, 120))) == {"upper", "rim tap"}
    assert seen(three, together(press("pad", 10, 100), press("rim", 30, 120))) == {"lower"}


RIM_AT_PRESS = "  rim tap: {on: rim, taps: 1, press: up to 400 ms, acts at: press}"


def at_the_press(transitions: str = "both: {next: beam}, pad tap: {next: beam}, rim tap: {next: beam}") -> Device:
    """Taps of the rim act at their press; power may be lost."""
    text = "\n".join(device(transitions, more=POWER).lines)
    return read_device(text.replace("  rim tap: {on: rim, taps: 1, press: up to 400 ms}", RIM_AT_PRESS), "two.yaml")


POWER = """surroundings: {rattle: {cell gone: up to 10 ms, then steady at least: 1 s}}
supply: {hold-up: 40 ms}
power up: {takes: 5 ms, if blank: idle}
memory: {keeps: [beam], written: at once, write takes: 1 ms, guard: none}
"""


def test_a_further_press_fires_nothing_even_at_its_very_beginning() -> None:
    tested = at_the_press()
    first = (press("pad", 10, 400), press("rim", 30, 100))
    fired = [what for _, what in play(tested, together(*first), (), 900_000, 0).seen if what.startswith("fired")]
    assert fired == ["fired rim tap", "fired both"], "the press that joins fires as it begins"
    again = together(*first, press("rim", 200, 300))
    assert [w for _, w in play(tested, again, (), 900_000, 0).seen if w.startswith("fired")] == fired


def test_what_the_second_button_fires_is_done_with_before_the_chord_fires() -> None:
    """So memory is told of the value between the two, and writes it, although the chord sets it back at once."""
    tested = at_the_press()
    edges = (*together(press("rim", 10, 50), press("rim", 500, 550), press("pad", 1_000, 1_200)),)
    edges = tuple(sorted((*edges, *press("rim", 1_030, 1_100), Edge(3_000_000, "", False), Edge(3_000_001, "", True))))
    wrote = [what for _, what in play(tested, edges, (), 2_500_000, 0).seen if what.startswith("wrote")]
    assert wrote == ["wrote beam high", "wrote beam low", "wrote beam high", "wrote beam low"]


def test_a_press_that_a_state_begins_anew_as_it_is_joined_is_the_chords() -> None:
    """What the second button fires at its press enters the state just before both are joined."""
    pad = "bounce: up to 0 ms, debounce: 0 ms, edges apart: at least 10 us"
    text = f"""spec: 1
device: two pads
buttons: {{pad: {{{pad}, new state: begins it anew}}, rim: {{{pad}}}}}
gestures:
  pad tap: {{on: pad, taps: 1, press: up to 400 ms}}
  rim tap: {{on: rim, taps: 1, press: up to 400 ms, acts at: press}}
  both: {{together: [pad, rim], within: 60 ms, held: 900 ms}}
initial: idle
states:
  idle: {{transitions: {{both: late, rim tap: there}}}}
  there: {{transitions: {{pad tap: late}}}}
  late: {{}}
"""
    tested = read_device(text, "two.yaml")
    assert seen(tested, together(press("pad", 10, 200), press("rim", 30, 100))) == {"rim tap"}
    assert seen(tested, together(press("pad", 10, 200), press("rim", 80, 100))) == {"rim tap", "pad tap"}


def test_the_first_of_two_chords_in_the_file_is_joined() -> None:
    text = """spec: 1
device: three pads
buttons:
  pad: {bounce: up to 0 ms, debounce: 0 ms}
  rim: {bounce: up to 0 ms, debounce: 0 ms}
  top: {bounce: up to 0 ms, debounce: 0 ms}
gestures:
  upper: {together: [top, rim], within: 60 ms}
  lower: {together: [pad, rim], within: 60 ms}
  pad tap: {on: pad, taps: 1, press: up to 400 ms}
variables:
  beam: [low, high]
initial: idle
states:
  idle: {transitions: {upper: {next: beam}, lower: {next: beam}, pad tap: {next: beam}}}
"""
    three = read_device(text, "three.yaml")
    edges = together(press("pad", 10, 100), press("top", 20, 110), press("rim", 30, 120))
    assert seen(three, edges) == {"upper", "pad tap"}
    swapped = replace(three, gestures=(three.gestures[1], three.gestures[0], three.gestures[2]))
    assert seen(swapped, edges) == {"lower"}


PERSON = "person: {tap: 60 to 300 ms, between: 80 to 200 ms, hold: 600 ms to 1 s"


def test_one_finger_makes_a_chord_as_one_act_and_nothing_else_overlaps() -> None:
    both = device("both: hit", extra="  hit: {}", more=PERSON + ", fingers: 1, together: up to 40 ms}")
    assert can_enter(both, Environment(("person",)), "hit")
    apart = device("both: hit", both="within: 60 ms, held: 1060 ms", extra="  hit: {}", more=PERSON + "}")
    assert not can_enter(apart, Environment(("person",)), "hit")
    alone = replace(both, gestures=tuple(g for g in both.gestures if g.chord is None))
    assert not look(alone, Environment(("person",)), _both_closed).paths[0]


def test_two_fingers_press_independently_of_each_other() -> None:
    both = device(both="within: 60 ms", more=PERSON + ", fingers: 2}")
    alone = replace(both, gestures=tuple(g for g in both.gestures if g.chord is None))
    assert look(alone, Environment(("person",)), _both_closed).paths[0]


def test_two_fingers_hold_two_of_three_buttons_at_most() -> None:
    text = """spec: 1
device: three pads
buttons:
  pad: {bounce: up to 0 ms, debounce: 0 ms}
  rim: {bounce: up to 0 ms, debounce: 0 ms}
  top: {bounce: up to 0 ms, debounce: 0 ms}
gestures:
  pad hold: {on: pad, held: 500 ms}
initial: idle
states:
  idle: {transitions: {pad hold: idle}}
person: {tap: 60 to 300 ms, between: 80 to 200 ms, fingers: 2}
"""
    three = read_device(text, "three.yaml")
    result = look(three, Environment(("person",)), _both_closed, _three_closed)
    assert result.complete
    assert result.paths[0] is not None
    assert result.paths[1] is None
    assert look(three, Environment(("anything",)), _three_closed).paths[0] is not None


def _closed(model: Model, situation: Situation) -> int:
    return sum(bool(model.value(situation, f"level {part.button}")) for part in model.parts if "contact" in part.name)


def _both_closed(model: Model, before: Situation, move: Move) -> bool:
    return _closed(model, move.situation) == 2


def _three_closed(model: Model, before: Situation, move: Move) -> bool:
    return _closed(model, move.situation) == 3


@pytest.mark.parametrize(("within", "missed"), [(56, False), (55, True)])
def test_a_chord_done_as_the_person_does_it_is_seen_if_the_time_covers_habit_and_reader(
    within: int, missed: bool
) -> None:
    """The contacts are up to 40 ms apart, one is accepted after 15 ms, the other after 25 ms and 5 ms of chatter: 55 ms."""
    both = device(
        both=f"within: {within} ms", more=PERSON + ", together: up to 40 ms}", reader="debounce: 20 ms ± 5 ms"
    )
    both = replace(both, buttons=tuple(replace(b, bounce_us=5 * MS) for b in both.buttons))
    act = Act("idle", ("both",))
    result = look(both, Environment((), "anything", acts=(act,)), failing(both, 0), succeeding(0))
    assert result.complete or missed
    assert (result.paths[0] is not None) == missed
    assert result.paths[1] is not None


def test_a_second_button_that_does_not_wake_is_forgotten_at_sleep_and_read_at_waking() -> None:
    """Pressed after the last look, its press is dropped; what is found closed when the processor is ready is a new press."""
    text = """spec: 1
device: sleeper
buttons:
  pad: {bounce: up to 0 ms, debounce: 20 ms}
  rim: {bounce: up to 0 ms, READER}
gestures:
  rim tap: {on: rim, taps: 1, press: up to 400 ms}
initial: stowed
states:
  stowed:
    sleep: {woken by: [pad], on: edge, ready in: 1 ms, dozes again after: 50 ms, each step: up to 9 ms}
    transitions: {rim tap: lit}
  lit: {}
"""
    wakes = press("pad", 10, 11)
    sleeping = [Edge(int(at * MS), "pad", closes) for at, closes in ((150, True), (151, False))]
    late = Edge(88 * MS, "rim", True)
    for reader, seen_at_once in (("debounce: 20 ms", False), ("lockout: 5 ms", True)):
        tried = read_device(text.replace("READER", reader), "sleeper.yaml")
        released = (*wakes, late, *sleeping, Edge(300 * MS, "rim", False))
        assert can_enter(tried, Environment(script=tuple(sorted(released))), "lit")
        # Never woken again, so never seen: only a press that kept the processor awake can count.
        unseen = look(tried, Environment(script=(*wakes, late)), enters("lit"), _asleep_with(seen_at_once))
        assert unseen.paths[0] is None
        assert unseen.paths[1] is not None


def _asleep_with(reads_down: bool) -> Test:
    """Falling asleep with the second contact closed, read down or not, and nothing pending."""

    def test(model: Model, before: Situation, move: Move) -> bool:
        now = move.situation
        reads = bool(model.value(now, "reading rim")) == reads_down and not model.value(now, "pattern rim")
        return "asleep" in move.taken[0].choice.send and bool(model.value(before, "level rim")) and reads

    return test


def test_any_press_at_all_of_two_buttons_is_the_same_with_and_without_chatter() -> None:
    """Contacts that anything presses are explored without chatter; what the firmware may read must be all that it may."""
    plain = device(reader="debounce: 3 to 4 us")
    short = Span(6, 6)
    tiny = replace(
        plain,
        buttons=tuple(replace(button, bounce_us=2, edges_apart_us=1) for button in plain.buttons),
        gestures=tuple(
            replace(g, press=None if g.press is None else short, held=None if g.held is None else short)
            for g in plain.gestures
            if g.name in ("pad tap", "pad hold")
        ),
    )
    model = compile_model(tiny, Environment(("anything",)))
    chattering = Model(
        tuple(
            contact(tiny.button(part.button or ""), ("anything",)) if part.name.startswith("contact ") else part
            for part in model.parts
        )
    )
    assert _readings(chattering) == _readings(model)


def _readings(model: Model) -> set[tuple[object, ...]]:
    names = [f"{what} {b}" for b in ("pad", "rim") for what in ("level", "reading", "pattern")]
    found = explore(model, (lambda model, before, move: False,), 200_000, keep=True)
    assert found.complete
    return {tuple(model.value(situation, name) for name in names) for situation, _ in found.kept}
