"""What a firmware was measured to do, as text of 80 columns: what was pressed, what was seen, and the range it lies in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from nudgeproof.diagnostics import printable
from nudgeproof.firmware.acts import tell_acts
from nudgeproof.measuring.bench import Misbehaves, Word
from nudgeproof.measuring.measured import BOUNCE_US, Fact, Range
from nudgeproof.measuring.starter import Starter
from nudgeproof.report.width import wrap
from nudgeproof.units import show_us

WIDTH: Final = 80
_LABEL: Final = 26

_ALWAYS: Final = (
    "chatter longer than "
    + show_us(BOUNCE_US)
    + ", a press while it starts after a cut, and what only three moves in a row would"
    " tell apart",
    "what a person means: whether a number is what it should be",
)


def show_measured(starter: Starter, rig: str) -> str:
    """The screen."""
    done = starter.done
    bench = done.explorer.bench
    lines = [f"{starter.device}: measured", f"({printable(rig)})", ""]
    runs = f"{bench.runs} runs from power-up with blank memory, each limit to {show_us(starter.resolution_us)}"
    lines += _row("how", f"{runs}, in several phases; left alone for {show_us(bench.longest_us)}")
    sections = (
        ("Situations that were told apart", _situations(starter)),
        ("How the buttons are read", _readers(starter)),
        ("What means something", _gestures(starter)),
        ("What comes by itself", _times(starter)),
        ("Power", _power(starter)),
    )
    for title, rows in sections:
        told = list(rows)
        if told:
            lines += ["", title]
            for label, text in told:
                lines += _row(label, text)
    lines += ["", "Not measured"]
    for text in (*done.unmeasured, *starter.chart.doubts, *_ALWAYS):
        lines += wrap(printable(text), WIDTH, "  - ", "    ", break_on_hyphens=False)
    return "\n".join(lines) + "\n"


def show_misbehaving(error: Misbehaves, rig: str, meanings: Mapping[str, str]) -> str:
    """The screen of a firmware that misbehaved while it was measured."""
    performed = error.performed
    lines = [f"THE FIRMWARE MISBEHAVES: {performed.finding}", f"({printable(rig)})", ""]
    detail = f"; {performed.detail}" if performed.detail else ""
    lines += _row("finding", f"{meanings.get(performed.finding, '')}{detail}")
    acts = tuple(act for act in error.acts if act.at_us <= performed.recording.end_us)
    done = tell_acts(acts, performed.recording.end_us)
    lines += _row("do this", f"power up, {done}" if done else "power up")
    lines += _row("means", "nothing is measured of a firmware that does this")
    return "\n".join(lines) + "\n"


def _row(label: str, text: str) -> list[str]:
    head = f"  {label:<{_LABEL}} "
    lines = wrap(printable(text), WIDTH, " " * len(head), " " * len(head), break_on_hyphens=False)
    if len(head) > _LABEL + 3:
        return [*wrap(printable(head), WIDTH, "", "    "), *lines]
    return [head + lines[0][len(head) :], *lines[1:]]


def _in(found: Range) -> str:
    low, high = (show_us(_round(us)) for us in (found.lo, found.hi))
    return low if low == high else f"{low} to {high}"


def _round(us: int) -> int:
    """To a tenth of a millisecond, to a whole one from 1 s on."""
    if us < 1_000:
        return us
    return (us + 50) // 100 * 100 if us < 1_000_000 else (us + 500) // 1_000 * 1_000


def _way(word: Word) -> str:
    return (
        ", then ".join(f"{show_us(move.length_us)} of nothing" if move.kind == "wait" else move.name for move in word)
        or "power-up alone"
    )


def _situations(starter: Starter) -> Iterator[tuple[str, str]]:
    done, chart = starter.done, starter.chart
    for spot in done.explorer.spots:
        sleeps = "; the processor sleeps" if spot.asleep else ""
        cut = done.explorer.cuts.get(spot.number)
        back = (
            ""
            if cut is None
            else "; after a cut it is back"
            if cut == spot.number
            else f"; a cut leads to {chart.where(cut)}"
        )
        yield chart.where(spot.number), f"by {_way(spot.path)}{sleeps}{back}"
    if done.explorer.gives_up:
        yield "and more", done.explorer.gives_up


def _readers(starter: Starter) -> Iterator[tuple[str, str]]:
    for reader in starter.done.readers:
        if reader.deaf is not None:
            yield f"{reader.button}, first edge", "counts at once, however short the press"
            yield f"{reader.button}, deaf", f"then for {_in(reader.deaf)}"
            continue
        if reader.closing is not None:
            yield f"{reader.button}, shortest press", f"{_in(reader.closing)}: a shorter one isn't taken"
        if reader.opening is not None:
            yield f"{reader.button}, shortest gap", f"{_in(reader.opening)}: a shorter one isn't seen"
        if reader.glitch_us:
            less = show_us(_round(reader.glitch_us))
            text = f"it looks now and then: flips of 30 us go unseen, so up to {less} less since the last edge"
            yield f"{reader.button}, chatter", text
        elif reader.closing is not None:
            yield (
                f"{reader.button}, chatter",
                f"a flip {show_us(BOUNCE_US)} after the first edge is borne; the time counts from it",
            )


def _gestures(starter: Starter) -> Iterator[tuple[str, str]]:
    done, chart = starter.done, starter.chart
    for fact in done.facts:
        pressed = "; ".join(_limits(fact))
        if pressed:
            yield fact.move.name, pressed
        shown: dict[str, list[str]] = {}
        for spot in fact.spots:
            to = done.explorer.edges[spot, fact.move.name].to
            shown.setdefault(chart.where(to), []).append(chart.where(spot))
        for number, (goal, whence) in enumerate(shown.items()):
            label = fact.move.name if not number and not pressed else ""
            yield label, f"from {' or '.join(whence)} to {goal}"


def _limits(fact: Fact) -> Iterator[str]:
    if fact.press is not None:
        yield (
            f"tap up to {_in(fact.press)}"
            if not fact.press.beyond
            else f"a press of any length that was tried ({_in(fact.press)}) is a tap"
        )
    if fact.between is not None:
        yield (
            f"pause up to {_in(fact.between)}"
            if not fact.between.beyond
            else f"any pause that was tried ({_in(fact.between)}) will do"
        )
    if fact.held is not None:
        yield f"held for {_in(fact.held)}"
    if fact.within is not None:
        yield f"both within {_in(fact.within)}"
    how = {
        "press": "acts as it is pressed",
        "release": "acts as it is let go",
        "pause": "acts once no further tap can come",
        "threshold": "acts while it is held",
    }
    if fact.acts_at:
        yield how[fact.acts_at]


def _times(starter: Starter) -> Iterator[tuple[str, str]]:
    done, chart = starter.done, starter.chart
    for lapse in done.lapses:
        how = ", anew with each press" if lapse.open_only else ""
        hidden = "; nothing shows it" if lapse.hidden else ""
        yield chart.where(lapse.spot), f"after {_in(lapse.after)}{how} to {chart.where(lapse.to)}{hidden}"
    if done.dozes is not None:
        yield "dozes off", f"{_in(done.dozes)} after all is quiet"
    if done.ready is not None:
        by = f", by {' or '.join(done.wakers)}" if done.wakers else ""
        yield "wakes", f"{_in(done.ready)} from the edge until it runs{by}"
    quiet = [chart.where(spot.number) for spot in done.explorer.spots if done.lapse(spot.number) is None]
    if quiet:
        yield "nothing by itself", f"within {show_us(done.explorer.bench.longest_us)} in {', '.join(quiet)}"


def _power(starter: Starter) -> Iterator[tuple[str, str]]:
    done = starter.done
    if done.boot is not None:
        held = "counts as a press" if done.held_counts else "is ignored until it is let go"
        yield "listens", f"{_in(done.boot)} after power-up; a button held meanwhile {held}"
    if done.hold_up is not None:
        yield "runs on without its cell", f"for {_in(done.hold_up)}"
    if done.writes is not None:
        yield "keeps a change", f"if power lasts {_in(done.writes)} from when it shows"
