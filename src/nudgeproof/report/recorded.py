"""What a recording came to, as text of 80 columns and as JSON, format 1."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from nudgeproof.diagnostics import printable
from nudgeproof.firmware.mapping import Channel, Map
from nudgeproof.firmware.outcome import Allowed, Outcome, Result
from nudgeproof.firmware.recording import Recording
from nudgeproof.parts.recorded import SAVES
from nudgeproof.report.dot_text import columns
from nudgeproof.report.strip import ASCII, BLOCKS
from nudgeproof.report.width import cut, pad, wrap
from nudgeproof.units import show_moment, show_us

FORMAT: Final = 1
WIDTH: Final = 80
_LABEL: Final = 11
_WIDEST_NAME: Final = 16
_BEFORE, _AFTER = 14, 4
_MOST_ALLOWED = 8
_MOST_STATES = 6


@dataclass(frozen=True, slots=True)
class Judged:
    """One recording of one device with what came of it."""

    file: str
    device: str
    spec: str
    what: Map
    recording: Recording
    outcome: Outcome


def show_recorded(judged: Judged, ascii_only: bool = False) -> str:
    """The screen of one recording."""
    outcome = judged.outcome
    at = show_moment(outcome.at_us)
    head = {
        Result.CONFORMS: "conforms",
        Result.REFUSED: f"REFUSED at {at}",
        Result.LEFT: f"NO VERDICT after {at}",
        Result.UNDECIDED: f"UNDECIDED at {at}",
        Result.NOTHING: "NOTHING HAPPENS in it",
    }[outcome.result]
    lines = [f"{judged.device}: {head}", f"({printable(judged.file)},", f" by {printable(judged.what.file)})"]
    if outcome.result in (Result.REFUSED, Result.UNDECIDED, Result.LEFT):
        lines += ["", *("  " + row for row in draw_channels(judged, WIDTH - 2, ascii_only))]
    lines += ["", *_body(judged)]
    if outcome.taken_for or outcome.drawn_anew:
        lines += ["", "Taken for granted"]
        told = list(outcome.taken_for)
        if outcome.drawn_anew:
            told.append(
                "times that a specimen has one value of were drawn anew each time: a recording that conforms may still "
                "fit no single specimen"
            )
        lines += _items(told)
    return "\n".join(lines) + "\n"


def _body(judged: Judged) -> list[str]:
    outcome = judged.outcome
    edges = _count(outcome.edges, "edge of contacts or events", "edges of contacts and events")
    turns = _count(outcome.turns, "change of what it shows", "changes of what it shows")
    period = show_us(judged.what.period_us)
    if outcome.result is Result.REFUSED:
        return _refusal(judged)
    if outcome.result is Result.CONFORMS:
        lines = _wrap(
            f"{edges} and {turns} in {show_moment(judged.recording.end_us)} are what a device of the spec may do, each "
            f"recorded up to {period} late."
        )
        lines += ["", *_field("surely in", ", ".join(outcome.sure) or "no state for sure")]
        lines += [
            "",
            *_wrap(
                "Conforms means: some run that the spec allows gives this recording. It says nothing of other presses "
                "and other timings of this firmware."
            ),
        ]
        return lines
    if outcome.result is Result.LEFT:
        lines = _field("left", outcome.seen)
        lines += _field("before", f"it conforms: {edges} and {turns}")
        return [*lines, *_field("after", "the spec says nothing of that, so nothing is said of the firmware")]
    if outcome.result is Result.UNDECIDED:
        lines = _field("before", f"it conforms: {edges} and {turns}")
        lines += _field("why", outcome.seen)
        return [*lines, *_field("try", "--effort deep; or record one more of what the device shows")]
    return _wrap("No contact changes and nothing that it shows: that is no evidence of anything. Record some presses.")


def _refusal(judged: Judged) -> list[str]:
    outcome = judged.outcome
    lines = _field("seen", f"{outcome.seen}, at {show_moment(outcome.at_us)}")
    told = [_tell(one) for one in outcome.allowed[:_MOST_ALLOWED]]
    if len(outcome.allowed) > _MOST_ALLOWED:
        told.append(f"and {len(outcome.allowed) - _MOST_ALLOWED} more")
    if outcome.may_stay:
        told.append("that nothing changes")
    lines += _field("allowed", (told or ["nothing that was found"])[0])
    for one in told[1:]:
        lines += _field("", one)
    states = list(outcome.states[:_MOST_STATES])
    if len(outcome.states) > _MOST_STATES:
        states.append(f"{len(outcome.states) - _MOST_STATES} more")
    lines += _field("by then in", "; or ".join(states))
    lines += _field(
        "means", f"no run of the spec's device gives this recording, even if each level is {_late(judged)} late"
    )
    unjoined = any(c.shows == SAVES and not c.pulses_us and c.name == outcome.light for c in judged.what.channels)
    return [
        *lines,
        *_field(
            "usually",
            "the firmware writes too often; or it writes byte by byte, and the map doesn't join the bytes"
            " (`pulses up to: 1 ms`, or whatever lies between them)"
            if unjoined
            else "the firmware differs from the spec there, or the map names a wrong level or channel",
        ),
    ]


def _late(judged: Judged) -> str:
    return f"up to {show_us(judged.what.period_us)}"


def _tell(one: Allowed) -> str:
    turns = f"{one.light} goes {'on' if one.on else 'off'}"
    first, last = show_moment(max(0, one.earliest_us)), show_moment(max(0, one.latest_us))
    when = f"at {first}" if first == last else f"from {first} to {last}"
    return f"{turns} {when}" + (f" ({one.by})" if one.by else " (due before)")


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def _field(label: str, text: str) -> list[str]:
    head = f"  {label:<{_LABEL}}"
    return wrap(printable(text), WIDTH, head, " " * len(head), break_on_hyphens=False)


def _wrap(text: str) -> list[str]:
    return wrap(printable(text), WIDTH, "  ", "  ", break_on_hyphens=False)


def _items(texts: Iterable[str]) -> list[str]:
    return [line for text in texts for line in wrap(printable(text), WIDTH, "  - ", "    ", break_on_hyphens=False)]


def draw_channels(judged: Judged, width: int, ascii_only: bool) -> list[str]:
    """The channels around the moment that matters, a row each, high where pressed, there or on; a mark under the moment.

    A longer wait is drawn longer, on a logarithmic scale.
    """
    at = judged.outcome.at_us
    changes = judged.recording.changes
    times = sorted({0, at, judged.recording.end_us, *(change.at_us for change in changes)})
    here = times.index(at)
    shown = times[max(0, here - _BEFORE) : here + _AFTER + 1]
    low, high = ASCII if ascii_only else BLOCKS
    label = 2 + min(_WIDEST_NAME, max(columns(printable(name)) for name in judged.recording.channels))
    sizes = _share(shown, width - label)
    rows = []
    for channel in judged.what.channels:
        levels = _levels(channel, judged.recording, shown)
        row = "".join((high if level else low) * size for level, size in zip(levels, sizes, strict=True))
        rows.append(pad(cut(printable(channel.name), label - 2), label) + row)
    before = sum(sizes[: shown.index(at)])
    told = f"^ {show_moment(at)}"
    indent = min(label + before, width - len(told))
    rows.append(" " * indent + told if indent == label + before else " " * (label + before) + "^")
    return rows


def _share(times: Sequence[int], room: int) -> list[int]:
    """Columns for each stretch that begins at one of `times`; the last one has four."""
    weights = [math.log10(1 + (after - at) / 100) for at, after in pairwise(times)]
    left = max(0, room - 4 - len(weights))
    total = sum(weights) or 1.0
    return [*(1 + int(left * weight / total) for weight in weights), 4]


def _levels(channel: Channel, recording: Recording, times: Sequence[int]) -> list[bool]:
    """Whether a channel is pressed, there or on from each of `times` on."""
    own = [change for change in recording.changes if change.channel == channel.name]
    found = []
    level, number = dict(recording.first)[channel.name], 0
    for at in times:
        while number < len(own) and own[number].at_us <= at:
            level = own[number].level
            number += 1
        found.append(level is channel.high)
    return found


def recorded_to_json(judged: Sequence[Judged]) -> str:
    """All recordings as one document that ends in a newline; times in whole microseconds of the recording's clock."""
    document = {"format": FORMAT, "recordings": [_as_json(one) for one in judged]}
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def _as_json(judged: Judged) -> dict[str, object]:
    outcome = judged.outcome
    return {
        "file": _text(judged.file),
        "map": _text(judged.what.file),
        "spec": _text(judged.spec),
        "device": judged.device,
        "result": outcome.result.value,
        "at_us": outcome.at_us,
        "seen": outcome.seen,
        "channel": outcome.light,
        "allowed": [
            {"channel": a.light, "on": a.on, "earliest_us": a.earliest_us, "latest_us": a.latest_us, "by": a.by}
            for a in outcome.allowed
        ],
        "no_change_allowed": outcome.may_stay,
        "states": list(outcome.states),
        "surely_in": list(outcome.sure),
        "edges": outcome.edges,
        "turns": outcome.turns,
        "length_us": judged.recording.end_us,
        "sample_period_us": judged.what.period_us,
        "taken_for_granted": list(outcome.taken_for),
        "drawn_anew": outcome.drawn_anew,
    }


def _text(name: str) -> str:
    return name.encode("utf-8", "replace").decode("utf-8")
