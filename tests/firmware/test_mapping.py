"""Maps: what they mean, and the whole message for each way of going wrong."""

from __future__ import annotations

from random import Random

import pytest

from nudgeproof.diagnostics import SpecErrors
from nudgeproof.firmware.mapping import Map, read_map, taken_for_granted
from nudgeproof.parts.recorded import When
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device

TEXT = """\
spec: 1
device: lamp
buttons: {key: {debounce: 20 ms}, side: {debounce: 20 ms}}
gestures: {hold: {on: key, held: 1 s}, tap: {on: key, taps: 1, press: up to 300 ms}}
variables: {beam: [low, high, slow blink]}
initial: dark
events: {footfall: {}}
outputs: {pump: {on in: lit, in reset: off}}
states:
  dark:
    sleep: {woken by: [key], on: edge, ready in: 2 ms, dozes again after: 50 ms}
    transitions: {hold: lit, footfall: lit}
  dim: {transitions: {hold: dark}}
  lit: {transitions: {hold: dim, tap: {next: beam}, cell low: dim}}
cell: {low below: 2.4 V, fine above: 2.6 V, read every: 1 s}
memory: {keeps: [beam], written: at once, write takes: 4 ms, guard: two copies, may lose: nothing}
power up: {takes: 70 ms, if blank: dark, if damaged: dark, button held: ignored until released}
supply: {hold-up: 5 ms}
surroundings:
  walkers: {makes: footfall, then none for at least: 300 ms}
  weak cell: {cell: sags and recovers, meant: true}
  rattle: {cell gone: up to 40 ms, then steady at least: 2 s}
  knocks: {closes side: up to 40 ms, then open at least: 300 ms}
"""
GOOD = """\
recording: 1
sample period: 10 us
channels:
  Channel 0: {button: key, pressed when: low}
  LED: {on in: [dim, lit with beam high], off in: all others, pulses up to: 5 ms}
  VCC: {cell there when: high}
  STEP: {event: footfall, happens when: goes high}
  PUMP: {output: pump, on when: low}
unseen: knocks
"""


@pytest.fixture(scope="module")
def device() -> Device:
    return read_device(TEXT, "lamp.yaml")


def read(text: str, device: Device) -> Map:
    return read_map(text, "map", device)[0]


def test_a_whole_map(device: Device) -> None:
    what = read(GOOD, device)
    assert (what.period_us, what.powers_up, what.used, what.unseen) == (10, False, False, ("knocks",))
    assert [channel.kind for channel in what.channels] == ["button", "light", "cell", "event", "light"]
    led, pump = what.of("light")
    assert led.on == (When(frozenset(["dim"])), When(frozenset(["lit"]), "beam", ("high",)))
    assert led.off == (When(frozenset(["dark"])), When(frozenset(["lit"]), "beam", ("low", "slow blink")))
    assert (led.high, led.pulses_us, pump.high, pump.output) == (True, 5_000, False, "pump")
    assert not what.of("button")[0].high
    # `knocks` may press the other button unseen.
    assert taken_for_granted(device, what) == ("the voltage of the cell stays high, since it isn't recorded",)
    assert taken_for_granted(device, read(SHOWING, device)) == ()


SHOWING = GOOD.replace(
    "unseen:",
    "  Z: {asleep when: high, within: 100 ms}\n"
    "  M: {saves when: low, within: 20 ms, pulses up to: 5 ms}\n"
    "  LOW: {cell low when: high}\nmemory: damaged\nunseen:",
)


def test_what_shows_no_state(device: Device) -> None:
    what = read(SHOWING, device)
    asleep, saves = (channel for channel in what.of("light") if channel.shows)
    assert (asleep.shows, asleep.high, asleep.within_us, asleep.pulses_us) == ("asleep", True, 100_000, 0)
    assert (saves.shows, saves.high, saves.within_us, saves.pulses_us) == ("saves", False, 20_000, 5_000)
    assert what.telling == {"LED", "PUMP"}
    assert [channel.made for channel in what.of("level")] == [("event", "cell low")]
    assert what.damaged
    assert not read(GOOD, device).damaged


def test_what_is_not_recorded_is_told(device: Device) -> None:
    what = read("recording: 1\nsample period: 0 us\nchannels: {LED: {on in: lit}}\n", device)
    assert taken_for_granted(device, what) == (
        "`key` is never pressed, since it isn't recorded",
        "`side` is never pressed, since it isn't recorded",
        "`footfall` never happens, since it isn't recorded",
        "the cell never loses contact, since it isn't recorded",
        "the voltage of the cell stays high, since it isn't recorded",
    )
    assert what.of("light")[0].off == ()


def test_a_time_of_less_than_a_microsecond_is_rounded_outward(device: Device) -> None:
    what = read(GOOD.replace("10 us", "0.1 us").replace("5 ms", "5.0004 ms"), device)
    assert (what.period_us, what.of("light")[0].pulses_us) == (1, 5_001)


BAD = {
    "": "map:1:1: the map is empty",
    "- a": "map:1:1: the map is a list; a map says which channel is what",
    "# nothing but a comment": "map:1:1: the map is empty",
    GOOD.replace("recording: 1", "recording: 2"): "map:1:12: `recording` of the map is `2`",
    GOOD.replace("sample period: 10 us\n", ""): "map:1:1: the map has no `sample period`",
    GOOD.replace("10 us", "up to 10 us"): "map:2:16: `sample period` of the map: `up to 10 us` is an upper limit",
    GOOD.replace("channels", "chanels"): "map:3:1: `chanels` is no key of the map",
    GOOD.replace("button: key", "button: kee"): "map:4:23: the spec has no button `kee`; the map is about the device of the "
    "spec; did you mean `key`?",
    GOOD.replace(", pressed when: low", ""): "map:4:3: channel `Channel 0` has no `pressed when`",
    GOOD.replace("pressed when: low", "pressed when: yes"): "map:4:42: `pressed when` of channel `Channel 0` is `yes`",
    GOOD.replace("pressed when: low", "pressed when: low, on when: low"): "map:4:47: `on when` of channel `Channel 0`",
    GOOD.replace("lit with beam high", "lit with beam bright"): "map:5:22: `beam bright` is no variable with one of",
    GOOD.replace("[dim, lit", "[dimm, lit"): "map:5:17: there is no state `dimm`",
    GOOD.replace("off in: all others", "off in: lit"): "map:5:43: channel `LED` is on and off in `lit`",
    GOOD.replace("on in: [dim, lit with beam high]", "on in: all others"): "map:5:3: channel `LED` is `all others` twice",
    GOOD.replace("pulses up to: 5 ms", "pulses: 5 ms"): "map:5:63: `pulses` is no key of channel `LED`",
    GOOD.replace("{cell there when: high}", "{}"): "map:6:3: channel `VCC` is empty",
    GOOD.replace("{cell there when: high}", "{on when: high}"): "map:6:3: channel `VCC` doesn't say what it is",
    GOOD.replace("goes high", "high"): "map:7:41: `happens when` of channel `STEP` is `high`",
    GOOD.replace("output: pump", "output: pumps"): "map:8:18: the spec has no output `pumps`",
    GOOD.replace("unseen: knocks", "unseen: rattle"): "map:9:9: `rattle` is recorded",
    GOOD.replace("unseen: knocks", "unseen: ratle"): "map:9:9: the spec has no surroundings `ratle`",
    GOOD + "begins: anyhow\n": "map:10:9: `begins` of the map is `anyhow`",
    GOOD.replace("  VCC", "  B: {button: key, pressed when: high}\n  VCC"): "map:6:3: channel `B` is the same as",
    "recording: 1\nsample period: 1 us\nchannels: {K: {button: key, pressed when: low}}\n": "map:3:1: no channel shows",
    SHOWING.replace("asleep when: high", "asleep when: yes"): "map:9:20: `asleep when` of channel `Z` is `yes`",
    SHOWING.replace("within: 100 ms", "within: up to 1 s"): "map:9:34: `within` of channel `Z`: `up to 1 s` is an upper",
    SHOWING.replace("{saves when: low, ", "{saves when: low, on when: low, "): "map:10:24: `on when` of channel `M`",
    SHOWING.replace("{saves when: low, ", "{asleep when: low, ").replace(", pulses up to: 5 ms}\n  LOW", "}\n  LOW"):
    "map:10:3: channel `M` is the same as `Z`",
    SHOWING.replace("memory: damaged", "memory: torn"): "map:12:9: `memory` of the map is `torn`",
    SHOWING.replace("memory: damaged", "memory: damaged\nbegins: with power up after use"):
    "map:12:9: `memory: damaged` beside",
}  # fmt: skip


@pytest.mark.parametrize("text", BAD, ids=lambda text: BAD[text][:40])
def test_a_bad_map_is_told_with_its_place(text: str, device: Device) -> None:
    with pytest.raises(SpecErrors) as caught:
        read(text, device)
    assert str(caught.value).startswith(BAD[text])


def test_power_up_needs_its_section(device: Device) -> None:
    bare = read_device(
        "spec: 1\ndevice: lamp\nbuttons: {key: {debounce: 20 ms}}\ngestures: {hold: {held: 1 s}}\ninitial: dark\n"
        "states: {dark: {transitions: {hold: lit}}, lit: {transitions: {hold: dark}}}\n",
        "bare",
    )
    text = "recording: 1\nsample period: 0 us\nbegins: with power up\nchannels: {LED: {on in: lit}}\n"
    assert read(text, device).powers_up
    with pytest.raises(SpecErrors, match="the spec doesn't say what happens then"):
        read(text, bare)


def test_times_that_began_before_the_recording_are_told_of() -> None:
    text = "spec: 1\ndevice: lamp\nbuttons: {key: {debounce: 20 ms}}\ngestures: {hold: {held: 1 s}}\ninitial: dark\n"
    text += "states: {dark: {transitions: {hold: lit, after 3 s: lit}}, lit: {transitions: {hold: dark}}}\n"
    blinking = read_device(text, "lamp")
    told = "recording: 1\nsample period: 0 us\nchannels: {K: {button: key, pressed when: low}, L: {on in: lit}}\n"
    assert taken_for_granted(blinking, read(told, blinking)) == ("the times of `dark` began with the recording",)


def test_a_mutated_map_is_read_or_told_of_and_nothing_else(device: Device) -> None:
    read_ones = 0
    lines = GOOD.splitlines()
    words = sorted(
        {word for line in lines for word in line.split()} | {"", "[]", "{}", "- a", "?", "'", "with", "é", "0"}
    )
    for seed in range(500):
        rng = Random(seed)
        text = list(lines)
        for _ in range(rng.randint(1, 3)):
            at = rng.randrange(len(text))
            old = rng.choice(text[at].split() or [""])
            text[at] = rng.choice(
                (text[at].replace(old, rng.choice(words), 1), text[at][:-1], "", text[rng.randrange(9) % len(text)])
            )
        try:
            what = read("\n".join(text) + "\n", device)
        except SpecErrors as errors:
            told = [problem.place.file for problem in errors.problems]
        else:
            read_ones += 1
            told = []
            assert any(channel.kind == "light" for channel in what.channels)
        assert set(told) <= {"map"}
    assert read_ones > 20


def test_a_start_that_nothing_feeds_is_refused() -> None:
    fed = read_device(
        "spec: 1\ndevice: lamp\nbuttons: {key: {debounce: 20 ms}}\ngestures: {hold: {held: 1 s}}\ninitial: dark\n"
        "states: {dark: {transitions: {hold: lit}}, lit: {transitions: {hold: dark}}}\npower up: {takes: 50 ms}\n",
        "fed",
    )
    text = "recording: 1\nsample period: 0 us\nbegins: with power up\nchannels: {LED: {on in: lit}}\n"
    with pytest.raises(SpecErrors, match="add `power up` and `supply`"):
        read(text, fed)


@pytest.mark.parametrize(
    ("channel", "told"),
    [
        ("{cell low when: high}", "the spec has no `cell`, and channel `X` says `cell low when`"),
        ("{asleep when: high}", "channel `X` shows sleep, and no state of the spec sleeps"),
        ("{saves when: high}", "channel `X` shows saves, and the spec keeps nothing"),
    ],
)
def test_what_the_spec_does_not_have_cannot_be_shown(channel: str, told: str) -> None:
    bare = "\n".join(
        line for line in TEXT.splitlines() if not line.strip().startswith(("cell:", "memory:", "weak cell:", "sleep:"))
    )
    device = read_device(bare.replace(", cell low: dim", ""), "lamp.yaml")
    with pytest.raises(SpecErrors) as caught:
        read(GOOD.replace("unseen:", f"  X: {channel}\nunseen:"), device)
    assert told in str(caught.value)
