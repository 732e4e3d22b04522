from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from nudgeproof.diagnostics import Place, SpecErrors
from nudgeproof.spec.read import decode, read_device
from nudgeproof.spec.types import (
    Accepted,
    Assumption,
    Button,
    Device,
    Disturbance,
    Gesture,
    Memory,
    Outage,
    Person,
    PowerUp,
    PromiseText,
    Sleep,
    State,
    Supply,
    Timeout,
    Transition,
    Variable,
)
from nudgeproof.units import FOREVER, Span
from tests.spec.good import GOOD

MS = 1_000
S = 1_000_000
EXAMPLES = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))


CLOCK = "clock: {off by: 5 %}\n"


def at(line: int, column: int) -> Place:
    return Place("lamp.yaml", line, column)


@pytest.fixture(scope="module")
def device() -> Device:
    return read_device(GOOD, "lamp.yaml")


def read_with(old: str, new: str) -> Device:
    """The good spec after one change, read with an exact clock so that times are those that are written."""
    assert GOOD.count(old) == GOOD.count(CLOCK) == 1
    return read_device(GOOD.replace(old, new).replace(CLOCK, ""), "lamp.yaml")


def complaints(text: str) -> list[str]:
    with pytest.raises(SpecErrors) as caught:
        read_device(text, "lamp.yaml")
    return [f"{problem.place.line}: {problem.what}" for problem in caught.value.problems]


def test_head(device: Device) -> None:
    assert (device.file, device.name, device.initial) == ("lamp.yaml", "desk lamp", "stowed")
    assert device.digest == hashlib.sha256(GOOD.encode()).hexdigest()
    assert device.lines == tuple(GOOD.splitlines())
    assert device.at == at(2, 1)


def test_button(device: Device) -> None:
    assert device.buttons == (Button("pad", 8 * MS, Span(15 * MS, 25 * MS), 50, at(5, 3)),)


def test_gestures(device: Device) -> None:
    limit, gap = Span(380_952, 421_053), Span(247_619, 273_685)
    assert device.gestures == (
        Gesture("tap", "pad", ("tap",), Span(380 * MS, 420 * MS), None, False, None, at(7, 3)),
        Gesture("two taps", "pad", ("tap", "tap"), limit, gap, True, None, at(8, 3)),
        Gesture("hold", "pad", ("hold",), None, None, False, Span(1_200 * MS, 1_300 * MS), at(9, 3)),
        Gesture("tap then hold", "pad", ("tap", "hold"), limit, gap, False, Span(1_142_857, 1_263_158), at(10, 3)),
    )


def test_variables(device: Device) -> None:
    assert device.variables == (
        Variable("beam", ("low", "high", "slow blink"), at(12, 3)),
        Variable("warmth", ("warm", "cold"), at(13, 3)),
    )


def test_states(device: Device) -> None:
    sleep = Sleep(("pad",), "level", Span(0, 2 * MS), Span(47_619, 52_632), Span(0, 30), at(17, 5))
    stowed = State(
        "stowed", sleep, False, None, False, (Transition("hold", "armed", (), False, at(18, 19)),), (), at(16, 3)
    )
    armed = State(
        "armed",
        None,
        True,
        "a faint glow",
        False,
        (Transition("two taps", "glowing", ("beam", "warmth"), False, at(23, 7)),),
        (Timeout(Span(2_857_142, 3_157_895), "pad", "stowed", "after 3 s with pad open", at(24, 7)),),
        at(19, 3),
    )
    glowing = State(
        "glowing",
        None,
        False,
        "beam",
        True,
        (
            Transition("tap", None, ("beam",), True, at(27, 19)),
            Transition("tap then hold", "stowed", (), False, at(27, 54)),
            Transition("hold", "glowing", (), False, at(27, 77)),
        ),
        (Timeout(Span(13_714_285_714, 15_157_894_737), None, "stowed", "after 4 h", at(27, 92)),),
        at(25, 3),
    )
    assert device.states == (stowed, armed, glowing)


def test_person_and_surroundings(device: Device) -> None:
    assert device.person == Person(
        Span(60 * MS, 350 * MS), Span(80 * MS, 220 * MS), Span(1_400 * MS, 2_500 * MS), Span(0, 1_500 * MS), at(28, 1)
    )
    assert device.surroundings == (
        Disturbance("knocks", "pad", Span(2 * MS, 40 * MS), 300 * MS, at(30, 3)),
        Outage("cell rattle", Span(0, 40 * MS), 2 * S, at(31, 3)),
        Disturbance("stuck pad", "pad", Span(0, FOREVER), 0, at(32, 3), for_good=True),
    )


def test_promises(device: Device) -> None:
    keys = (("reach", ("glowing", "armed"), at(35, 6)), ("why", ("first: light",), at(35, 31)))
    assert device.promises == (
        PromiseText("knocks never reach glowing", (), at(34, 5)),
        PromiseText("", keys, at(35, 5)),
    )


def test_memory(device: Device) -> None:
    assert device.memory == Memory(
        ("state", "beam"), Span(1_904_761, 2_105_264), Span(3_200, 3_600), "two copies", 10 * MS, at(37, 1)
    )


def test_power_up_and_supply(device: Device) -> None:
    assert device.power_up == PowerUp(Span(60 * MS, 80 * MS), "stowed", "armed", False, at(44, 1))
    assert device.supply == Supply(Span(5 * MS, 6 * MS), at(45, 1))


def test_accepts(device: Device) -> None:
    knocks = ("knocks", "cell rattle")
    assert device.accepts == (
        Accepted("accidental-change", knocks, "glowing", "it looks like a tap", "maker", "2026-11-20", at(47, 5)),
        Accepted("accidental-wake", ("stuck pad",), "stowed", "a pad, once stuck", "maker", "2024-02-29", at(49, 5)),
    )


def test_all_that_is_stated_is_no_assumption(device: Device) -> None:
    assert device.assumptions == ()


def test_every_default_is_listed_as_it_could_be_written() -> None:
    text = """\
spec: 1
device: lamp
buttons:
  pad: {debounce: 20 ms}
gestures:
  hold: {held: 1 s}
initial: off
states:
  off:
    sleep: {ready in: 2 ms, dozes again after: 50 ms}
    transitions: {hold: lit}
  lit: {}
surroundings:
  knocks: {closes pad: 5 ms}
  rattle: {cell gone: 5 ms}
  stuck: {closes pad: for good}
memory: {keeps: state, write takes: up to 4 ms, guard: none}
power up: {takes: 0 ms}
supply: {hold-up: 0 ms}
"""
    device = read_device(text, "lamp.yaml")
    assert device.assumptions == (
        Assumption("clock: {off by: 0 %}", at(1, 1)),
        Assumption("bounce: up to 10 ms (button pad)", at(4, 3)),
        Assumption("edges apart: at least 10 us (button pad)", at(4, 3)),
        Assumption("woken by: [pad] (sleep of state off)", at(10, 5)),
        Assumption("each step: up to 20 us (sleep of state off)", at(10, 5)),
        Assumption("on: edge (sleep of state off)", at(10, 5)),
        Assumption("then open at least: 0 ms (knocks in surroundings)", at(14, 3)),
        Assumption("then steady at least: 0 ms (rattle in surroundings)", at(15, 3)),
        Assumption("written: at once (memory)", at(17, 1)),
        Assumption("may lose: nothing (memory)", at(17, 1)),
        Assumption("while writing: listens (memory)", at(17, 1)),
        Assumption("if blank: off (power up)", at(18, 1)),
        Assumption("if damaged: off (power up)", at(18, 1)),
        Assumption("button held: ignored until released (power up)", at(18, 1)),
    )
    assert device.memory == Memory(("state",), None, Span(0, 4 * MS), "none", 0, at(17, 1))
    assert device.power_up == PowerUp(Span(0, 0), "off", "off", True, at(18, 1))
    assert device.supply == Supply(Span(0, 0), at(19, 1))
    assert device.surroundings[1] == Outage("rattle", Span(5 * MS, 5 * MS), 0, at(15, 3))
    assert (device.button("pad").bounce_us, device.button("pad").edges_apart_us) == (10 * MS, 10)
    sleep = device.state("off").sleep
    assert sleep is not None
    assert (sleep.woken_by, sleep.on, sleep.step) == (("pad",), "edge", Span(0, 20))
    assert isinstance(device.surroundings[0], Disturbance)
    assert device.surroundings[0].apart_us == 0
    assert device.accepts == ()
    assert (device.person, device.promises, device.variables) == (None, (), ())


@pytest.mark.parametrize("spec", EXAMPLES, ids=lambda spec: spec.stem)
def test_examples_are_read(spec: Path) -> None:
    device = read_device(decode(spec.read_bytes(), spec.name), spec.name)
    assert device.states
    assert device.lines[device.at.line - 1].startswith("spec")


def test_words_that_yaml_1_1_takes_for_booleans_are_names() -> None:
    device = read_device(GOOD.replace("armed", "on").replace("high", "no").replace("cold", "null"), "lamp.yaml")
    assert device.state("on").waiting
    assert device.variable("beam").values == ("low", "no", "slow blink")
    assert device.variable("warmth").values == ("warm", "null")


def test_letters_of_any_script_make_names() -> None:
    device = read_device(GOOD.replace("glowing", "свет-2").replace("armed", "รอ_ก่อน"), "lamp.yaml")
    assert [state.name for state in device.states] == ["stowed", "รอ_ก่อน", "свет-2"]


def test_a_letter_and_its_composed_form_are_one_name() -> None:
    device = read_device(GOOD.replace("armed", "e\u0301te\u0301", 1).replace("armed", "\u00e9t\u00e9"), "lamp.yaml")
    assert device.states[1].name == device.states[0].transitions[0].target == "\u00e9t\u00e9"


def test_a_level_may_count_at_once_and_a_contact_may_not_bounce() -> None:
    device = read_with(
        "bounce: up to 8 ms, debounce: 20 ms ± 5 ms, edges apart: at least 50 us", "bounce: 0 ms, debounce: 0 ms"
    )
    assert (device.buttons[0].bounce_us, device.buttons[0].debounce) == (0, Span(0, 0))


def test_a_gap_counts_from_press_to_press_in_either_spelling() -> None:
    block = "two taps:\n    taps: 2\n    press: up to 400 ms\n    between: up to 260 ms ± 10 ms, press to press"
    device = read_with("two taps: {taps: 2, press: up to 400 ms, between: up to 260 ms from press to press}", block)
    assert device.gesture("two taps").between == Span(250 * MS, 270 * MS)
    assert device.gesture("two taps").between_presses


def test_if_damaged_is_like_if_blank_unless_it_is_written() -> None:
    device = read_with("if blank: stowed, if damaged: armed, ", "if blank: armed, ")
    assert device.power_up is not None
    assert (device.power_up.if_blank, device.power_up.if_damaged) == ("armed", "armed")
    assert [assumption.text for assumption in device.assumptions] == [
        "clock: {off by: 0 %}",
        "if damaged: armed (power up)",
    ]


@pytest.mark.parametrize("guard", ["none", "checksum", "two copies"])
def test_every_guard_is_read(guard: str) -> None:
    memory = read_with("guard: two copies", f"guard: {guard}").memory
    assert memory is not None
    assert memory.guard == guard


@pytest.mark.parametrize(
    ("written", "quiet"),
    [
        ("at once", None),
        ("after 2 s of quiet", Span(2 * S, 2 * S)),
        ("after 1 to 2 s of quiet", Span(S, 2 * S)),
        ("after 2 s ± 1 s of quiet", Span(S, 3 * S)),
    ],
)
def test_when_memory_is_written(written: str, quiet: Span | None) -> None:
    memory = read_with("written: after 2 s of quiet", f"written: {written}").memory
    assert memory is not None
    assert memory.quiet == quiet


def test_nothing_may_be_lost_in_either_spelling() -> None:
    for words in ("nothing", "the last 0 ms", "the last 0.5 us"):
        memory = read_with("the last 10 ms", words).memory
        assert memory is not None
        assert memory.may_lose_us == 0


@pytest.mark.parametrize(
    ("words", "gone"),
    [
        ("0 to 40 ms", Span(0, 40 * MS)),
        ("40 ms ± 5 ms", Span(35 * MS, 45 * MS)),
        ("1 us", Span(1, 1)),
    ],
)
def test_how_long_the_cell_may_be_gone(words: str, gone: Span) -> None:
    outage = read_with("cell gone: up to 40 ms", f"cell gone: {words}").surroundings[1]
    assert isinstance(outage, Outage)
    assert outage.gone == gone


@pytest.mark.parametrize("section", ["memory", "power up", "supply", "clock", "surroundings"])
def test_a_misspelt_new_section_gives_no_echo(section: str) -> None:
    (complaint,) = complaints(GOOD.replace(f"\n{section}:", f"\n{section[:-1]}:"))
    assert f"`{section[:-1]}` is no key of the spec" in complaint


def test_supply_and_memory_may_stand_without_an_outage() -> None:
    rattle = "  cell rattle: {cell gone: up to 40 ms, then steady at least: 2 s}\n"
    without = GOOD.replace(rattle, "").replace("[knocks, cell rattle]", "knocks")
    assert read_device(without, "lamp.yaml").supply is not None
    alone = "".join(line for line in without.splitlines(True) if not line.startswith(("supply", "power up")))
    device = read_device(alone, "lamp.yaml")
    assert (device.supply, device.power_up) == (None, None)
    assert device.memory is not None


def test_a_line_break_in_plain_words_is_one_blank() -> None:
    for gap in ("\n", "\n\n", "\n\n\n"):
        accepted = read_with("it looks\n     like a tap", f"it looks  {gap}    like a tap").accepts[0]
        assert accepted.why == "it looks like a tap"
    assert read_with("device: desk lamp", "device: desk\n\n  lamp").name == "desk lamp"


def test_texts_of_an_acceptance_have_a_longest_length() -> None:
    assert read_with("a pad, once stuck", "x" * 200).accepts[1].why == "x" * 200
    (complaint,) = complaints(GOOD.replace("a pad, once stuck", "x" * 201))
    assert complaint == "49: `why` of an entry of `accepts` is 201 characters long"


@pytest.mark.parametrize("date", ["2025-02-29", "2026-04-31", "2026-13-01", "2026-00-10", "0000-01-01", "1900-02-29"])
def test_a_day_that_the_calendar_has_not_is_refused(date: str) -> None:
    assert complaints(GOOD.replace("2024-02-29", date)) == [f"49: there is no day `{date}`"]


@pytest.mark.parametrize("date", ["2026-1-2", "20260102", "2026-W01-1", "２０２６-01-01", "today"])
def test_a_date_is_written_as_year_month_and_day(date: str) -> None:
    assert complaints(GOOD.replace("2024-02-29", date)) == [f"49: `{date}` is no date"]


def test_a_date_far_off_is_as_good_as_any() -> None:
    assert read_with("2024-02-29", "9999-12-31").accepts[1].granted == "9999-12-31"


def test_a_block_of_text_is_a_sentence() -> None:
    device = read_with("- knocks never reach glowing", "- >\n    knocks never\n    reach glowing")
    assert device.promises[0].sentence == "knocks never reach glowing"


def test_a_real_comment_may_follow_anything() -> None:
    device = read_with("device: desk lamp", "device: desk lamp # the small one")
    assert device.name == "desk lamp"


def test_a_byte_order_mark_and_windows_lines_change_nothing(device: Device) -> None:
    data = b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode()
    windows = read_device(decode(data, "lamp.yaml"), "lamp.yaml")
    assert (windows.states, windows.lines, windows.at) == (device.states, device.lines, device.at)


def test_the_same_text_gives_the_same_device(device: Device) -> None:
    assert read_device(GOOD, "lamp.yaml") == device


@pytest.mark.parametrize("section", ["buttons", "gestures", "variables", "states"])
def test_a_broken_section_is_the_only_problem(section: str) -> None:
    assert len(complaints(GOOD.replace(f"\n{section}:", f"\n{section[:-1]}:"))) == 1


def test_a_missing_section_gives_no_echo() -> None:
    head, tail = GOOD.split("gestures:\n")
    assert complaints(head + tail[tail.index("variables:") :]) == ["2: the spec has no `gestures`"]


def test_gestures_are_compared_only_within_a_state() -> None:
    long_tap = "  long tap: {taps: 1, press: up to 1.5 s}\n  hold: {held"
    device = read_with("  hold: {held", long_tap)
    assert device.gesture("long tap").press == Span(1_500 * MS, 1_500 * MS)
    used = GOOD.replace("  hold: {held", long_tap).replace("{hold: armed}", "{hold: armed, long tap: armed}")
    (complaint,) = complaints(used)
    told = (
        "19: in state `stowed` a press of 1.2 s is both a tap of `long tap` (up to 1578.948 ms) and the hold of `hold`"
    )
    assert complaint == f"{told} (from 1.2 s), as far as the clock may be off (5 %)"


def test_a_tap_is_no_hold_after_other_taps() -> None:
    device = read_with("then held: at least 1.2 s", "then held: 410 ms")
    assert device.gesture("tap then hold").held == Span(410 * MS, 410 * MS)


def test_a_press_limit_that_meets_the_hold_is_refused_and_one_below_is_not() -> None:
    whole = "hold: {held: 1.2 to 1.3 s}"
    meets = GOOD.replace(whole, "hold: {held: 420 ms}")
    assert any("in state `glowing` a press of 420 ms is both" in c for c in complaints(meets.replace(CLOCK, "")))
    assert any("in state `glowing` a press of 400 ms is both" in complaint for complaint in complaints(meets))
    assert read_with(whole, "hold: {held: 420.001 ms}").gesture("hold").held == Span(420_001, 420_001)


def test_a_file_that_is_too_large_is_refused_before_it_is_read() -> None:
    (complaint,) = complaints("#" * 1_000_001)
    assert complaint == "0: the file is larger than 1 MB"
    with pytest.raises(SpecErrors, match="larger than 1 MB"):
        decode(b"#" * 1_000_001, "lamp.yaml")


def test_no_depth_exhausts_the_stack() -> None:
    for text in (
        "[" * 200_000,
        "{a: " * 100_000,
        "- " * 200_000,
        "a:\n" + "".join(" " * n + "- \n" for n in range(900)),
    ):
        assert complaints(text)


def test_an_empty_text_is_refused() -> None:
    assert complaints("") == ["0: the file is empty"]
    assert complaints("---\n") == ["1: the spec is empty"]


def test_bytes_that_are_no_text_are_located_by_character() -> None:
    with pytest.raises(SpecErrors) as caught:
        decode("spec: 1\ndevice: ±".encode() + b"\xff lamp", "lamp.yaml")
    (problem,) = caught.value.problems
    assert (problem.place, problem.source) == (at(2, 10), "device: ±\ufffd lamp")


def test_half_a_surrogate_pair_is_a_problem_and_no_crash() -> None:
    assert complaints(GOOD.replace("device: desk", "device: d\ud800sk")) == ["3: the invisible character U+D800"]
    assert complaints(GOOD.replace("desk lamp", '"d\\ud800sk"')) == [
        "3: the text in quotes holds the character `\\ud800`"
    ]


HELD = "  hold: {held: 1.2 to 1.3 s}\n"
LIMITS = "press: up to 400 ms, between: up to 260 ms"


@pytest.mark.parametrize(
    ("written", "presses"),
    [
        (f"{{held: 2 s, then taps: 2, {LIMITS}}}", ("hold", "tap", "tap")),
        (f"{{taps: 1, then held: 2 s, then taps: 1, {LIMITS}}}", ("tap", "hold", "tap")),
        (f"{{presses: [tap, hold, tap], held: 2 s, {LIMITS}}}", ("tap", "hold", "tap")),
        (f"{{presses: [tap, tap], {LIMITS}}}", ("tap", "tap")),
        ("{presses: hold, held: 2 s}", ("hold",)),
        ("{presses: [hold, hold], held: 2 s, between: up to 1 s}", ("hold", "hold")),
        (f"{{taps: 4, then held: 2 s, then taps: 5, {LIMITS}}}", ("tap",) * 4 + ("hold",) + ("tap",) * 5),
    ],
)
def test_a_gesture_is_a_row_of_presses(written: str, presses: tuple[str, ...]) -> None:
    gesture = read_with(HELD, f"{HELD}  odd: {written}\n").gesture("odd")
    assert gesture.presses == presses
    assert gesture.taps == (0 if "hold" in presses else len(presses))
    assert (gesture.held is None) == ("hold" not in presses)
    assert (gesture.at_release, gesture.repeats) == (False, None)


def test_what_a_hold_does_at_its_end() -> None:
    late = read_with(HELD, f"{HELD}  odd: {{held: 3 s, acts at: release}}\n").gesture("odd")
    assert (late.at_release, late.repeats) == (True, None)
    early = read_with(HELD, f"{HELD}  odd: {{held: 3 s, acts at: threshold, repeats every: 90 to 110 ms}}\n")
    assert (early.gesture("odd").at_release, early.gesture("odd").repeats) == (False, Span(90 * MS, 110 * MS))


@pytest.mark.parametrize("extra", ["begin anew", "swallowed", "count as the largest"])
def test_extra_taps(extra: str, device: Device) -> None:
    assert device.buttons[0].extra_taps == "begin anew"
    read = read_with("edges apart: at least 50 us", f"edges apart: at least 50 us, extra taps: {extra}")
    assert read.buttons[0].extra_taps == extra


LONG = f"{HELD}  long hold: {{held: 3 s}}\n"
USED = ("tap then hold: stowed, hold: glowing", "tap then hold: stowed, hold: glowing, long hold: stowed")


def test_a_longer_hold_is_held_longer_by_as_much_and_that_is_an_assumption() -> None:
    text = GOOD.replace(HELD, LONG).replace(CLOCK, "").replace(*USED)
    device = read_device(text, "lamp.yaml")
    assert device.person is not None
    assert device.person.holds == (("long hold", Span(3_150 * MS, 4_250 * MS)),)
    told = [a.text for a in device.assumptions if "long hold" in a.text]
    assert told == ["person: {long hold: 3.15 s to 4.25 s}, longer than `hold` by as much as the gesture is"]
    stated = read_device(text.replace("hold: 1.4 to 2.5 s", "hold: 1.4 to 2.5 s, long hold: 3.2 to 5 s"), "lamp.yaml")
    assert stated.person is not None
    assert stated.person.holds == (("long hold", Span(3_200 * MS, 5_000 * MS)),)
    assert not [a for a in stated.assumptions if "long hold" in a.text]


def test_holds_that_no_state_uses_together_are_held_alike() -> None:
    device = read_device(GOOD.replace(HELD, LONG).replace("{hold: armed}", "{long hold: armed}"), "lamp.yaml")
    assert device.person is not None
    assert device.person.holds == ()


def test_holds_are_compared_as_far_as_the_clock_goes_and_only_after_the_same_presses() -> None:
    near = GOOD.replace(HELD, f"{HELD}  long hold: {{held: 1.36 s}}\n").replace(*USED)
    (complaint,) = complaints(near)
    told = "28: in state `glowing` the holds of `hold` (1.2 s to 1.3 s) and `long hold` (1295.238 ms to 1431.579 ms)"
    assert complaint == f"{told} overlap, as far as the clock may be off (5 %)"
    assert read_device(near.replace(CLOCK, ""), "lamp.yaml").gesture("long hold").held == Span(1_360 * MS, 1_360 * MS)
    other = GOOD.replace("then held: at least 1.2 s", "then held: 1.25 s")
    assert read_device(other, "lamp.yaml").gesture("tap then hold").held == Span(1_190_476, 1_315_790)
