"""The ways in which a symptom can come about, as text: 80 columns, the shortest first, each with what tells it apart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from nudgeproof.diagnostics import printable
from nudgeproof.model.step import Move
from nudgeproof.parts.chart import CHANGED
from nudgeproof.parts.people import ANYTHING, PERSON
from nudgeproof.parts.stroke import LETS_GO
from nudgeproof.parts.supply import CELL_IS_BACK
from nudgeproof.parts.trail import START, TIME
from nudgeproof.report.screen import WIDTH, list_steps
from nudgeproof.report.width import wrap
from nudgeproof.spec.types import Device, Disturbance, Outage, State
from nudgeproof.units import show_us
from nudgeproof.why import Way, Ways


def show_ways(device: Device, ways: Ways) -> str:
    """The whole answer; a way that isn't there is proved or said to be open, never passed over."""
    found, symptom = ways.found, ways.symptom
    count = f"{len(found)} {'way' if len(found) == 1 else 'ways'}" if found else "no way found"
    if not found and not ways.open:
        count = "it can't come about in any way that was tried" if ways.untried else "it can't come about"
    lines = [f"{device.name}: {symptom}: {count}", f"({printable(device.file)})"]
    for number, way in enumerate(found, start=1):
        lines += ["", *_show_way(device, found, number, way)]
    for title, texts in (
        ("Can't do it: proved, whatever the timing", ways.proved),
        ("Not found out", ways.open),
        ("Not tried", ways.untried),
    ):
        if texts:
            lines += ["", title, *(line for text in texts for line in _item(text))]
    if ways.open:
        lines += ["", "`--effort deep` looks further."]
    return "\n".join(lines) + "\n"


def _show_way(device: Device, found: Sequence[Way], number: int, way: Way) -> list[str]:
    first = _first_beat(device, way)
    # Times count from the moment of entering, or from the loss of contact that is then shown first.
    begin = way.story.beats[first - (first == way.begins)].at_us if first else 0
    beats = [replace(beat, at_us=_rounded(beat.at_us - begin)) for beat in way.story.beats[first:]]
    interrupted = _is_interrupted(device, way)
    edges = "presses, releases and losses of contact" if interrupted else "presses and releases"
    lines = [*_hang(f"{number}  ", f"{way.by}: {_steps_taken(way)}")]
    fewest = "none has fewer" if way.shortest else "perhaps another has fewer"
    lines += [*_hang("   ", f"{way.story.actions} {edges} since the start; {fewest}"), ""]
    if first:
        when = "the moment at which" if first == way.begins else "shortly before"
        lines.append(f"   from {when} it comes into {way.before}:")
    lines += [f"   {line}" for line in list_steps(beats, WIDTH - 3)]
    return [*lines, "", *_hang("   told apart: ", f"{_tell_apart(device, found, number - 1)}.")]


def _first_beat(device: Device, way: Way) -> int:
    """The first beat to show: since the state before was entered, or since the loss of contact that the reset came from."""
    if not _is_interrupted(device, way):
        return way.begins
    lost = [i for i, beat in enumerate(way.story.beats) if beat.part == way.source and beat.timer != CELL_IS_BACK]
    return min(way.begins, lost[-1])


def _is_interrupted(device: Device, way: Way) -> bool:
    """Whether a loss of the cell's contact did it, and not a key that brings power to a device without any."""
    return way.step.how == START and not device.state(way.before).unpowered


def _rounded(us: int) -> int:
    """Long waits are told to the second."""
    return us if us < 60_000_000 else round(us, -6)


def _steps_taken(way: Way) -> str:
    """The gestures or the time on the way from one state to the other."""
    if way.step.cause or way.step.how == START:
        return way.step.words
    taken = []
    for beat in way.story.beats[way.begins :]:
        changes = any(CHANGED in one.choice.send for one in beat.move.taken)
        heard = [one.cause for one in beat.move.taken if one.cause.startswith("signal gesture ")]
        if changes and heard:
            taken.append(heard[0].removeprefix("signal gesture "))
        elif changes:
            taken.append(beat.timer.partition(": ")[2])
    return ", then ".join(taken)


def _tell_apart(device: Device, found: Sequence[Way], at: int) -> str:
    """The one observation that tells a way from all others found, as well as there is one."""
    way, others = found[at], [other for i, other in enumerate(found) if i != at]
    if _is_interrupted(device, way):
        return _tell_reset(device, way, others, found)
    if way.step.how == TIME:
        return f"did nothing press {_buttons(device)} at that moment, and was it {_wait(device, way)}? Then it was this"
    alike = [other for other in others if (other.step, _steps_taken(other)) == (way.step, _steps_taken(way))]
    between = _shown_between(device, way)
    if not alike:
        seen = f"did {between} come first" if between else f"did {_buttons(device)} go down as for {_steps_taken(way)}"
        return f"{seen}? Then it was this"
    numbers = " and ".join(str(found.index(other) + 1) for other in alike)
    seen = f"{between} comes first, as in {numbers}" if between else f"from outside it looks like {numbers}"
    lengths = "; ".join(_tell_lengths(device, one) for one in (way, *alike))
    return f"{seen}; what closed {_buttons(device)}, and how long, tells ({lengths})"


def _shown_between(device: Device, way: Way) -> str:
    """What shows on the way in states that only wait."""
    passed = [beat.move for beat in way.story.beats[way.begins : -1]]
    names = dict.fromkeys(name for move in passed for name in _entered(move))
    return ", then ".join(shown for name in names if (shown := _shows(device, device.state(str(name)))))


def _entered(move: Move) -> Iterable[str]:
    """The states that the chart enters in this step."""
    for taken in move.taken:
        if CHANGED in taken.choice.send and isinstance(taken.choice.to, tuple):
            yield str(taken.choice.to[0])


def _tell_reset(device: Device, way: Way, others: Sequence[Way], found: Sequence[Way]) -> str:
    symptom = way.symptom
    alike = [other for other in others if _is_interrupted(device, other)]
    assert device.power_up is not None
    takes = show_us(device.power_up.takes.lo)
    shown = _shows(device, device.state(symptom.before))
    seen = f"did {shown} go out first, for {takes} at least? Then it was a reset"
    if not shown:
        seen = f"nothing shows before, so only the supply tells: it is gone, and back {takes} before at least"
    if not symptom.variable and device.state(symptom.after).unpowered:
        seen = f"did it happen with nothing pressing {_buttons(device)}? Then it lost its power"
    outage = next((what for what in device.surroundings if isinstance(what, Outage) and what.name == way.source), None)
    gone = f"by {outage.name} the cell is gone {outage.gone}" if outage is not None else "any loss beyond the hold-up"
    numbers = " and ".join(str(found.index(other) + 1) for other in alike)
    return f"{seen}, as in {numbers}; how long the cell is gone tells which: here {gone}" if alike else seen


def _tell_lengths(device: Device, way: Way) -> str:
    """How long whoever acts here presses."""
    if way.source == PERSON and device.person is not None:
        hold = f", a hold {device.person.hold}" if device.person.hold is not None else ""
        return f"the person: a tap {device.person.tap}{hold}"
    what = next((w for w in device.surroundings if isinstance(w, Disturbance) and w.name == way.source), None)
    if what is not None:
        return f"{what.name}: {'for good' if what.for_good else what.closes}"
    assert way.source == ANYTHING
    return f"any press: here {_tell_presses(way)}"


def _tell_presses(way: Way) -> str:
    """The presses of the story since the state was entered, as lengths; the last may still go on."""
    acting = [beat for beat in way.story.beats[way.begins :] if beat.actions]
    times = [beat.at_us for beat in acting]
    if acting and acting[0].timer == LETS_GO:
        del times[0]
    times += [way.story.beats[-1].at_us] if len(times) % 2 else []
    lengths = [show_us(end - begin) for begin, end in zip(times[::2], times[1::2], strict=True)]
    return ", then ".join(lengths) or "one that began before"


def _wait(device: Device, way: Way) -> str:
    name, _, text = way.step.cause.partition(": ")
    timeouts = [t for state in device.states if name in (state.name, state.group) for t in state.timeouts]
    timeout = next((t for t in timeouts if t.text == text and (t.group or name) == name), None)
    if timeout is None:
        return "long after the last press"
    word, _, time = text.partition(" with ")[0].partition(" ")
    if timeout.by:
        time = f"{time} ({' or '.join(value for value, _ in timeout.times)})"
    since = f"{timeout.with_open} was let go" if timeout.with_open is not None else f"{name} began"
    return f"{time} since {since}" if word == "after" else f"{time}, or a multiple of it, since {since}"


def _shows(device: Device, state: State) -> str:
    if state.shows is None:
        return ""
    return f"the {state.shows}" if state.shows_variable else state.shows


def _buttons(device: Device) -> str:
    return " or ".join(button.name for button in device.buttons)


def _hang(first: str, text: str) -> list[str]:
    return wrap(text, WIDTH, initial_indent=first, subsequent_indent="   ", break_on_hyphens=False)


def _item(text: str) -> Iterable[str]:
    return wrap(text, WIDTH, initial_indent="  - ", subsequent_indent="    ", break_on_hyphens=False)
