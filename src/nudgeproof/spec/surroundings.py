"""The section `surroundings`: what closes a button without meaning it, what takes the cell away, what makes events."""

from __future__ import annotations

from typing import Final

from nudgeproof.diagnostics import Place
from nudgeproof.spec.events import is_maker, is_sag, read_maker, read_sag
from nudgeproof.spec.fields import Found, Keys, TimeWanted, read_mapping, read_name, read_span, refer, sort_keys
from nudgeproof.spec.nodes import Mapping, Words
from nudgeproof.spec.notes import Notes, show
from nudgeproof.spec.types import Disturbance, Outage, Source
from nudgeproof.units import FOREVER, Form, Span

FOR_GOOD: Final = "for good"

_ANY: Final = (Form.RANGE, Form.UP_TO, Form.EXACT, Form.PLUS_MINUS)
_CLOSES: Final = TimeWanted(_ANY, "it is how long the contact is closed by it", "2 to 40 ms")
_GONE: Final = TimeWanted(_ANY, "it is how long the cell loses contact", "up to 40 ms", reaches_us=1)
_APART: Final = TimeWanted((Form.EXACT,), "the key says `at least` already", "300 ms")
_SLEEPS: Final = TimeWanted(
    (Form.EXACT,), "it is how soon the processor must sleep although the button is down", "10 min", least_us=1
)
_OPEN: Final = "then open at least"
_ASLEEP: Final = "then asleep within"
_STEADY: Final = "then steady at least"
_CELL: Final = "cell gone"
_TAKEN: Final = ("person", "anything", "blank memory", "damaged memory")
_NEEDED: Final = {
    "supply": ("only it says which losses of contact go unnoticed", "add a line such as `supply: {hold-up: 5 ms}`"),
    "power up": ("only it says how the device starts again", "add a line such as `power up: {takes: 70 ms ± 10 ms}`"),
}


def read_surroundings(
    found: Found,
    buttons: tuple[str, ...] | None,
    events: tuple[str, ...] | None,
    states: tuple[Words, ...],
    notes: Notes,
) -> tuple[Source, ...]:
    """The section `surroundings`; `buttons`, `events` None when they are not known, `states` are the names of the states."""
    mapping = read_mapping(found, "`surroundings`", "knocks: {closes pad: 2 to 40 ms}", notes)
    sources: list[Source] = []
    for key, value in mapping.entries if mapping is not None else ():
        if (key.text == _CELL or _closes_a_button(key)) and isinstance(value, Words):
            written = f"{key.text}: {value.text or _CLOSES.example}"
            example = "cell rattle" if key.text == _CELL else "knocks"
            why, cure = "a report and promises call it by a name", f"write such as `{example}: {{{show(written, 90)}}}`"
            notes.complain(key.place, f"`{show(key.text)}` in `surroundings` has no name before it", why, cure)
            continue
        name = read_name(key, "disturbance", notes)
        namesake = next((state for state in states if state.text == key.text), None)
        if namesake is not None or key.text in _TAKEN:
            what = f"a disturbance named `{show(key.text)}`"
            why = (
                "a promise couldn't tell it from the state" if namesake else "that word has its own meaning in promises"
            )
            cure = "use another name"
            notes.complain(key.place, what, why, cure, also=None if namesake is None else namesake.place)
        source = _read_source(Found(key, value), buttons, events, notes)
        if name is not None and source is not None:
            sources.append(source)
    return tuple(sources)


def check_outages(keys: Keys, notes: Notes) -> None:
    """Note the sections of the spec that are missing beside the first outage in its surroundings."""
    surroundings = keys.found.get("surroundings")
    entries = surroundings.value.entries if surroundings and isinstance(surroundings.value, Mapping) else ()
    for key, value in entries:
        if isinstance(value, Mapping) and any(part.text == _CELL for part, _ in value.entries):
            for section, (why, cure) in _NEEDED.items():
                if section not in keys.found and section not in keys.guessed:
                    what = f"`{show(key.text)}` takes the cell away, and the spec has no `{section}`"
                    notes.complain(key.place, what, why, cure)
            return


def _read_source(
    found: Found, buttons: tuple[str, ...] | None, events: tuple[str, ...] | None, notes: Notes
) -> Source | None:
    owner, at = f"`{show(found.key.text)}` in `surroundings`", found.key.place
    example = f"closes {buttons[0] if buttons else 'pad'}"
    mapping = read_mapping(found, owner, f"{{{example}: {_CLOSES.example}}}", notes)
    if mapping is None:
        return None
    if is_maker(mapping):
        return read_maker(found, mapping, events, notes)
    if is_sag(mapping):
        return read_sag(found, mapping, notes)
    closing = [Found(key, value) for key, value in mapping.entries if _closes_a_button(key)]
    others = tuple((key, value) for key, value in mapping.entries if not _closes_a_button(key))
    if stuck := next((key for key, _ in others if key.text == "stuck"), None):
        what, why = f"`stuck` is no key of {owner}", "what isn't understood can't be checked"
        notes.complain(stuck.place, what, why, f"write `{example}: {FOR_GOOD}`")
        return None
    known = (example, _OPEN, _CELL, _STEADY, _ASLEEP)
    keys = sort_keys(Mapping(others, mapping.place), at, owner, known, (), notes)
    gone = keys.found.get(_CELL)
    if gone is not None and closing:
        why = "each source does one thing"
        cure = "write two entries, and a promise such as `knocks and cell rattle, together, never reach glowing`"
        what = f"{owner} has both `{show(closing[0].key.text)}` and `{_CELL}`"
        notes.complain(gone.key.place, what, why, cure, also=closing[0].key.place)
        return None
    if gone is not None or (_STEADY in keys.found and not closing):
        return _read_outage(found.key.text, keys, owner, notes)
    return _read_disturbance(found.key.text, keys, closing, buttons, example, notes)


def _read_outage(name: str, keys: Keys, owner: str, notes: Notes) -> Outage | None:
    gone, steady = keys.found.get(_CELL), keys.found.get(_STEADY)
    if _ASLEEP in keys.found:
        why, cure = "it is about a button that stays closed", "take it out"
        notes.complain(keys.found[_ASLEEP].key.place, f"{owner} has `{_ASLEEP}` and closes nothing", why, cure)
    if _OPEN in keys.found:
        _complain_of_pause(
            keys.found[_OPEN],
            owner,
            "that pause is about a contact of a button, and this takes the cell away",
            _STEADY,
            notes,
        )
    keys.require(_CELL, owner, _GONE.meaning, f"write `{_CELL}: {_GONE.example}`", notes)
    span = read_span(gone, owner, _GONE, notes)
    apart = read_span(steady, owner, _APART, notes)
    if steady is None and _STEADY not in keys.guessed and _OPEN not in keys.found:
        notes.assume(f"{_STEADY}: 0 ms ({name} in surroundings)", keys.at)
    return None if span is None else Outage(name, span, 0 if apart is None else apart.lo, keys.at)


def _read_disturbance(
    name: str, keys: Keys, closing: list[Found], buttons: tuple[str, ...] | None, example: str, notes: Notes
) -> Disturbance | None:
    owner, at = f"`{show(name)}` in `surroundings`", keys.at
    if _STEADY in keys.found:
        _complain_of_pause(
            keys.found[_STEADY], owner, "that pause is about the cell, and this closes a button", _OPEN, notes
        )
    is_for_good = bool(closing) and isinstance(closing[0].value, Words) and closing[0].value.text == FOR_GOOD
    pause = keys.found.get(_OPEN)
    if is_for_good and pause is not None:
        why, cure = (
            "a contact that is closed for good never opens",
            f"take `{_OPEN}` out, or write how long it is closed",
        )
        notes.complain(pause.key.place, f"{owner} has `{_OPEN}` beside `{FOR_GOOD}`", why, cure)
    apart = None if is_for_good else read_span(pause, owner, _APART, notes)
    if pause is None and not is_for_good and _OPEN not in keys.guessed and _STEADY not in keys.found:
        notes.assume(f"{_OPEN}: 0 ms ({name} in surroundings)", at)
    if not closing:
        if not keys.guessed & {example, _CELL}:
            why = "it must be told which contact it closes and how long"
            cure = f"write `{example}: {_CLOSES.example}`, or `{_CELL}: {_GONE.example}`"
            notes.complain(at, f"{owner} closes nothing", why, cure)
        return None
    for more in closing[1:]:
        why, cure = "it can close one", "give the other a name of its own"
        notes.complain(more.key.place, f"{owner} closes a second button", why, cure)
    word = _refer_to_button(closing[0].key, buttons, notes)
    asleep = keys.found.get(_ASLEEP)
    if asleep is not None and not is_for_good:
        why, cure = "it is about a button that stays closed", f"take it out, or write `{example}: {FOR_GOOD}`"
        notes.complain(asleep.key.place, f"{owner} has `{_ASLEEP}` and isn't for good", why, cure)
    if is_for_good:
        within = read_span(asleep, owner, _SLEEPS, notes)
        asleep_us = None if within is None else within.lo
        return Disturbance(name, word, Span(0, FOREVER), 0, at, for_good=True, asleep_us=asleep_us)
    if isinstance(closing[0].value, Words) and closing[0].value.text in ("forever", "always", "permanently"):
        what = f"`{show(closing[0].key.text)}` of {owner} is `{closing[0].value.text}`"
        notes.complain(closing[0].value.place, what, _CLOSES.meaning, f"write `{example}: {FOR_GOOD}`")
        return None
    closes = read_span(closing[0], owner, _CLOSES, notes)
    return None if closes is None else Disturbance(name, word, closes, 0 if apart is None else apart.lo, at)


def _complain_of_pause(found: Found, owner: str, why: str, right: str, notes: Notes) -> None:
    """Note the pause that belongs to the other kind of source."""
    what = f"{owner} has `{show(found.key.text)}`"
    pause = found.value.text if isinstance(found.value, Words) and found.value.text else _APART.example
    notes.complain(found.key.place, what, why, f"write `{right}: {show(pause)}`")


def _refer_to_button(key: Words, buttons: tuple[str, ...] | None, notes: Notes) -> str:
    """The button in `closes pad`, located within the key."""
    word = key.text.removeprefix("closes").strip()
    indent = len(key.text) - len(word) + (0 if key.plain else 1)
    at = Place(key.place.file, key.place.line, key.place.column + indent)
    return refer(Words(word, at, key.plain), buttons, "button", notes)


def _closes_a_button(key: Words) -> bool:
    return key.text.startswith("closes ") and bool(key.text.removeprefix("closes ").strip())
