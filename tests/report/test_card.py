"""The user's card: what each press does, in words of what is seen."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from nudgeproof.report.card import EMPTY, about, make_card, round_down, to_text
from nudgeproof.report.card_page import to_page
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER, Span
from tests.snapshots.screens import ROOT, specs
from tests.spec.good import GOOD

ALL = [*(ROOT / spec for spec in specs()), *sorted((ROOT / "src" / "nudgeproof" / "starters").glob("*.yaml"))]
DEMO = "specs/rain-cover-light.yaml"


def demo() -> Device:
    return read_device((ROOT / DEMO).read_text(encoding="utf-8"), DEMO)


@pytest.mark.parametrize("spec", ALL, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_every_gesture_of_every_state_is_on_the_card(spec: Path) -> None:
    device = read_device(spec.read_text(encoding="utf-8"), spec.name)
    card = make_card(device)
    names = [name for name, _ in card.gestures]
    assert len(card.rows) == len(device.states)
    assert len({row.seen for row in card.rows}) == len(card.rows)
    for state, row in zip(device.states, card.rows, strict=True):
        used = set(state.gestures) - set(device.unmade)
        assert {name for name, cell in zip(names, row.cells, strict=True) if cell} == used
        noticed = [
            t for t in state.timeouts if t.target is not None or state.shows in (*t.next, *t.previous, *dict(t.set))
        ]
        events = set(state.gestures) & set(device.unmade)
        assert len(row.by_itself) == len(noticed) + len(events) + state.unpowered
    text = to_text(card)
    assert max(map(len, text.splitlines())) <= 80
    assert to_text(card, ascii_only=True).isascii()


def test_the_demo_reads_as_its_user_would_say_it() -> None:
    card = make_card(demo())
    assert dict(card.gestures) == {
        "tap": "one quick press of pad (under 0.38 s)",
        "two taps": "two quick presses of pad (each under 0.38 s, the next within 0.24 s)",
        "hold": "press and hold pad for about 1.2 s, until you notice a faint glow",
        "tap then hold": "one quick press of pad (under 0.38 s), then within 0.24 s press again and hold for about 1.2 s,"
        " until it goes out",
    }
    assert [(row.seen, row.cells, row.by_itself) for row in card.rows] == [
        ("nothing shows (stowed)", ("", "", "a faint glow", ""), ()),
        ("a faint glow", ("", "shows the beam", "", ""), ("goes out by itself 3 s after pad was let go",)),
        ("beam: low, high or slow blink", ("next beam", "", "", "goes out"), ("goes out by itself after 4 h",)),
    ]
    assert card.values == (("beam", "low → high → slow blink → low"),)


GROUPED_LIGHT = """spec: 1
device: reading lamp
buttons: {pad: {debounce: 20 ms}}
gestures:
  tap: {taps: 1, press: up to 400 ms}
  hold: {held: 1 s}
variables:
  beam: [low, high]
  left: 0 to 3
  blinks: {values: 0 to 9, at the ends: wrap}
  minutes: {values: [1 min, 5 min], at the ends: stop}
initial: stowed
states:
  stowed: {transitions: {hold: lit, tap: {to: timed, keep: left}}}
  lit:
    shows: beam
    states:
      steady:
        transitions:
          tap: [{if: beam is high and left is at least 1, to: timed}, {if: beam is low, next: beam}]
      timed:
        shows: left
        on entering: {set: {left: 3}}
        transitions:
          every 1 min: [{if: left is at least 1, previous: [left, beam]}, {if: left is 0, to: steady, set: {beam: low}}]
          every 1 s: {next: blinks}
    transitions:
      hold: stowed
      tap: {previous: [left, minutes], restarts: true}
      after minutes with pad open: [{if: beam is low, to: stowed}]
"""


def test_groups_conditions_and_steps_of_time() -> None:
    """What a case does stands behind its condition; a step of time that nobody sees isn't told."""
    card = make_card(read_device(GROUPED_LIGHT, "reading.yaml"))
    assert [(row.seen, row.cells, row.by_itself) for row in card.rows] == [
        ("nothing shows (stowed)", ("shows the left", "shows the beam"), ()),
        (
            "beam: low or high",
            ("when the beam is high and the left is at least 1: left becomes 3, shows the left\n"
             "when the beam is low: next beam", "goes out"),
            ("goes out by itself 1 min or 5 min after pad was let go (minutes says which), when the beam is low",),
        ),
        (
            "left: 0 to 3",
            ("left goes down by one, previous minutes, its time begins again", "goes out"),
            (
                "each 1 min, when the left is at least 1: left goes down by one, previous beam",
                "each 1 min, when the left is 0: shows the beam, beam becomes low",
                "goes out by itself 1 min or 5 min after pad was let go (minutes says which), when the beam is low",
            ),
        ),
    ]  # fmt: skip
    assert card.values == (
        ("beam", "low → high → low"),
        ("left", "0 to 3, no further"),
        ("minutes", "1 min → 5 min, no further"),
    )
    text = to_text(card)
    assert max(map(len, text.splitlines())) <= 80
    column = [line.split("|")[1].strip() for line in text.splitlines() if line.count("|") == 2]
    assert "when the beam is low: next" in column, "each case begins on a line of its own"
    page = Tags()
    page.feed(to_page(card))
    assert page.open == []
    assert "when the beam is low: next beam" in page.words


def lamp(gestures: str, does: str) -> dict[str, str]:
    text = f"spec: 1\ndevice: lamp\nbuttons: {{pad: {{debounce: 20 ms}}}}\ngestures:\n{gestures}\ninitial: dark\n"
    text += f"states:\n  dark: {{transitions: {{{does}}}}}\n  lit: {{shows: a light, transitions: {{}}}}\n"
    return dict(make_card(read_device(text, "lamp.yaml")).gestures)


def test_a_hold_is_let_go_where_the_firmware_waits_for_it() -> None:
    """While a longer hold may come, the shorter one is seen at its release only."""
    short, long = "  hold: {held: 1 s}", "  long hold: {held: 3 s}"
    assert lamp(short, "hold: lit")["hold"] == "press and hold pad for about 1 s, until you notice a light"
    both = lamp(f"{short}\n{long}", "hold: lit, long hold: lit")
    assert both["hold"] == "press and hold pad for about 1 s, then let go"
    assert both["long hold"] == "press and hold pad for about 3 s, until you notice a light"
    release = lamp("  hold: {held: 1 s, acts at: release}", "hold: lit")
    assert release["hold"] == "press and hold pad for about 1 s, then let go"


def test_rows_of_taps_and_holds() -> None:
    row = lamp(
        "  code: {presses: [hold, tap, tap], held: 1 s, press: up to 400 ms, between: up to 250 ms}", "code: lit"
    )
    assert row["code"] == (
        "press and hold pad for about 1 s, let go, then within 0.25 s two quick presses (each under 0.4 s, the next"
        " within 0.25 s)"
    )
    again = lamp("  dim: {held: 1 s, repeats every: 200 ms}", "dim: lit")
    assert again["dim"].endswith("; held on, it comes again each 0.2 s")


def test_states_that_look_alike_are_told_apart_by_name() -> None:
    text = (ROOT / DEMO).read_text(encoding="utf-8").replace("shows: beam", "shows: a faint glow")
    seen = [row.seen for row in make_card(read_device(text, DEMO)).rows]
    assert seen == ["nothing shows (stowed)", "a faint glow (armed)", "a faint glow (glowing)"]


def test_limits_are_never_told_longer_than_they_are() -> None:
    assert round_down(399_999) == "0.39 s"
    assert round_down(400_000) == "0.4 s"
    assert round_down(247_619) == "0.24 s"
    assert round_down(12_000) == "0.012 s"
    assert round_down(0) == "no time"
    for us in range(1, 5_000_000, 9_973):
        number, unit = round_down(us).split()
        assert unit == "s"
        assert float(number) * 1e6 <= us + 1e-3
        assert float(number) * 1e6 > us * 0.9


def test_about_is_the_middle_in_two_digits() -> None:
    assert about(Span(1_142_857, 1_263_158)) == "1.2 s"
    assert about(Span(1_200_000, FOREVER)) == "1.2 s"
    assert about(Span(13_714_285_714, 15_157_894_737)) == "4 h"
    assert about(Span(600_000_000, 600_000_000)) == "10 min"
    assert about(Span(86_400_000_000, 86_400_000_000)) == "1 d"


def test_more_gestures_than_fit_give_several_tables() -> None:
    taps = [f"{word} taps: {{taps: {n}, press: up to 400 ms, between: up to 250 ms}}" for n, word in
            enumerate(("two", "three", "four", "five", "six", "seven"), start=2)]  # fmt: skip
    used = ", ".join(f"{line.partition(':')[0]}: lit" for line in taps)
    text = "spec: 1\ndevice: many\nbuttons: {pad: {debounce: 20 ms}}\ngestures:\n  " + "\n  ".join(taps)
    text += f"\ninitial: lit\nstates: {{lit: {{transitions: {{{used}}}}}}}\n"
    out = to_text(make_card(read_device(text, "many.yaml")))
    assert out.count("you see") == 2
    assert max(map(len, out.splitlines())) <= 80
    assert EMPTY not in out


class Tags(HTMLParser):
    """What is opened and closed, what is written, and where anything else is fetched from."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.words: list[str] = []
        self.fetched: list[str] = []
        self.feeds = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.fetched += [str(value) for name, value in attrs if name in ("src", "href", "srcset", "action")]
        if tag not in ("meta", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data.strip())


def test_the_page_is_whole_and_needs_nothing_else() -> None:
    card = make_card(demo())
    page = Tags()
    page.feed(to_page(card))
    assert page.open == []
    assert page.fetched == []
    assert not re.search(r"https?:|@import|url\(", to_page(card))
    for text in (*(how for _, how in card.gestures), *(row.seen for row in card.rows), EMPTY):
        assert text in page.words


def test_no_word_of_a_spec_is_taken_for_markup() -> None:
    text = GOOD.replace("device: desk lamp", "device: <b>lamp</b> & co").replace(
        "a faint glow", "<script>alert(1)</script>"
    )
    text = text.replace('  - {reach: [glowing, armed], why: "first: light"}\n', "")
    page = to_page(make_card(read_device(text, "lamp.yaml")))
    assert "<script" not in page
    assert "<b>lamp" not in page
    assert "&lt;b&gt;lamp&lt;/b&gt; &amp; co" in page


TWO_BUTTONS = """spec: 1
device: step counter
buttons: {pad: {debounce: 20 ms}, rim: {lockout: 30 ms}}
events: {footfall: {}, charger in: {}}
gestures:
  tap: {taps: 1, press: up to 400 ms, on: pad}
  turn: {held: 1 s, on: rim}
  both: {together: [pad, rim], within: 60 ms ± 5 ms}
  squeeze: {together: [rim, pad], within: 60 ms, held: 2 s}
variables:
  steps: {values: 0 to 3, at the ends: stop}
initial: resting
states:
  resting: {transitions: {turn: counting, squeeze: counting}}
  counting:
    shows: steps
    transitions: {footfall: [{if: steps is at most 2, next: steps}], charger in: resting, both: {set: {steps: 0}},
      tap: counting}
surroundings: {walkers: {makes: [footfall, charger in]}}
"""


def test_chords_several_buttons_and_events() -> None:
    card = make_card(read_device(TWO_BUTTONS, "steps.yaml"))
    assert dict(card.gestures) == {
        "tap": "one quick press of pad (under 0.4 s)",
        "turn": "press and hold rim for about 1 s, until you notice the steps",
        "both": "press pad and rim together (the second within 0.055 s of the first)",
        "squeeze": "press rim and pad together (the second within 0.06 s of the first) and hold both for about 2 s, until"
        " you notice the steps",
    }
    assert [(row.seen, row.cells, row.by_itself) for row in card.rows] == [
        ("nothing shows (resting)", ("", "shows the steps", "", "shows the steps"), ()),
        (
            "steps: 0 to 3",
            ("begins again", "", "steps becomes 0", ""),
            ("footfall: when the steps is at most 2: steps goes up by one", "charger in: goes out"),
        ),
    ]
