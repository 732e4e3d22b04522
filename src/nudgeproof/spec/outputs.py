"""What a device switches, and what that can do: the sections `outputs` and `harm`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from nudgeproof.spec.fields import (
    Found,
    Keys,
    read_choice,
    read_list,
    read_mapping,
    read_name,
    read_text,
    read_yes,
    refer,
    sort_keys,
)
from nudgeproof.spec.notes import Notes, show, suggest
from nudgeproof.spec.outside import Harm, Output
from nudgeproof.spec.types import Accepted, Memory, PowerUp, State

PINS: Final = ("off", "on", "floating")

_SECOND: Final = "second means"


def read_outputs(found: Found, states: tuple[str, ...] | None, notes: Notes) -> tuple[Output, ...]:
    """The section `outputs`; `states` None when they are not known."""
    example = f"outputs: {{pump: {{on in: [{states[0] if states else 'watering'}], in reset: off}}}}"
    mapping = read_mapping(found, "`outputs`", example, notes)
    outputs = (_read_output(Found(*entry), states, notes) for entry in (mapping.entries if mapping is not None else ()))
    return tuple(output for output in outputs if output is not None)


def _read_output(found: Found, states: tuple[str, ...] | None, notes: Notes) -> Output | None:
    name, at = read_name(found.key, "output", notes), found.key.place
    owner = f"output `{show(found.key.text)}`"
    example = f"on in: [{states[0] if states else 'watering'}]"
    mapping = read_mapping(found, owner, f"{{{example}, in reset: off}}", notes)
    if mapping is None:
        return None
    if name is not None and name in (states or ()):
        what, why = f"an output named like the state `{show(name)}`", "`harm` couldn't tell the two"
        notes.complain(at, what, why, "use another name")
    keys = sort_keys(mapping, at, owner, ("on in", "in reset"), (), notes)
    why = "it names the states in which it is on"
    on_in = keys.require("on in", owner, why, f"write `{example}`", notes)
    words = () if on_in is None else read_list(on_in.value, on_in.key.place, f"`on in` of {owner}", why, example, notes)
    for word in words:
        refer(word, states, "state", notes)
    why = "it says what the pin does before any firmware runs"
    reset = keys.require(
        "in reset", owner, why, "write `in reset: off`, `on` or `floating`, as the circuit has it", notes
    )
    pin = None if reset is None else read_choice(reset, owner, PINS, (), why, notes)
    if name is None or not words or pin is None:
        return None
    return Output(name, tuple(word.text for word in words), pin, at)


def read_harm(
    found: Found, states: tuple[str, ...] | None, outputs: tuple[str, ...] | None, notes: Notes
) -> tuple[Harm, ...]:
    """The section `harm`: states and outputs that can do some; None when the names of one kind are not known."""
    mapping = read_mapping(found, "`harm`", "harm: {watering: {what: floods the room}}", notes)
    harm = []
    for key, value in mapping.entries if mapping is not None else ():
        if states is not None and outputs is not None and key.text not in (*states, *outputs):
            what, why = f"there is no state or output `{show(key.text)}`", "those are what can do harm"
            notes.complain(key.place, what, why, suggest(key.text, (*states, *outputs), "known"))
        one = _read_one(Found(key, value), notes)
        harm.extend([one] if one is not None else [])
    return tuple(harm)


def _read_one(found: Found, notes: Notes) -> Harm | None:
    owner, at = f"`{show(found.key.text)}` in `harm`", found.key.place
    mapping = read_mapping(found, owner, "{what: floods the room}", notes)
    if mapping is None:
        return None
    keys = sort_keys(mapping, at, owner, ("what", _SECOND, "restored", "why"), (), notes)
    why = "who reads the report must see what can happen"
    keys.require("what", owner, why, "write such as `what: floods the room`", notes)
    what = _read_text(keys, "what", owner, why, "floods the room", notes)
    second = _read_text(keys, _SECOND, owner, "it says what else prevents the harm", "a float switch", notes)
    reason = _read_text(
        keys, "why", owner, "it says why it must go on after a power cut", "a pot must not dry out", notes
    )
    restored = keys.found.get("restored")
    why = "it says whether it may go on after a power cut"
    # What isn't understood is taken for a yes, so that nothing more is said about it.
    is_restored = restored is not None and read_yes(restored, f"`restored` of {owner}", why, notes) is not False
    if restored is not None and is_restored and "why" not in keys.found and "why" not in keys.guessed:
        why, cure = "who reads the spec must see the reason", "write such as `why: a pot must not dry out`"
        notes.complain(restored.key.place, f"{owner} has `restored` without `why`", why, cure)
    if "why" in keys.found and not is_restored and "restored" not in keys.guessed:
        cure = "write `restored: true` beside it, or take it out"
        notes.complain(
            keys.found["why"].key.place, f"{owner} has `why` without `restored: true`", "it has no use", cure
        )
    return Harm(found.key.text, what, second, is_restored, reason, at)


def _read_text(keys: Keys, key: str, owner: str, why: str, example: str, notes: Notes) -> str:
    found = keys.found.get(key)
    if found is None:
        return ""
    words = read_text(found.value, found.key.place, f"`{key}` of {owner}", why, f"{key}: {example}", notes)
    return "" if words is None else words.text


def states_of(harm: Harm, outputs: Sequence[Output]) -> tuple[str, ...]:
    """The states in which this harm can be done."""
    return next((output.on_in for output in outputs if output.name == harm.name), (harm.name,))


def check_harm(
    harm: Sequence[Harm],
    outputs: Sequence[Output],
    states: Sequence[State],
    memory: Memory | None,
    power_up: PowerUp | None,
    accepts: Sequence[Accepted],
    notes: Notes,
) -> None:
    """Note what can do harm and comes back by itself after a power cut, or is accepted with nothing else against it."""
    lasting = {state.name for state in states if not state.waiting}  # a waiting state is kept as the one after it
    for one in harm:
        names = states_of(one, outputs)
        kept = [name for name in names if name in lasting]
        if memory is not None and "state" in memory.keeps and kept and not one.restored:
            what = f"after a power cut memory brings back `{show(kept[0])}`, and {_tell(one)}"
            why = "it would begin by itself, perhaps with nobody there"
            cure = "keep no `state` in memory, or write `restored: true` and `why: ...` if it must go on"
            notes.complain(one.at, what, why, cure, also=memory.at)
        started = power_up is not None and next(
            (n for n in (*power_up.afresh, power_up.if_damaged) if n in names), None
        )
        if power_up is not None and started and not one.restored:
            what = f"the device may start in `{show(started)}`, and {_tell(one)}"
            why = "it would begin by itself, perhaps with nobody there"
            cure = "name another state under `power up`, or write `restored: true` and `why: ...` if it must go on"
            notes.complain(one.at, what, why, cure, also=power_up.at)
        for entry in accepts:
            if entry.within in names and not one.second_means:
                what = f"what is accepted happens in `{show(entry.within)}`, and {_tell(one)}"
                why = "nothing else is said to prevent it"
                cure = f"write `{_SECOND}: ` and what else prevents it in `harm`, or take the entry out"
                notes.complain(entry.at, what, why, cure, also=one.at)


def _tell(harm: Harm) -> str:
    return f"`{show(harm.name)}` {show(harm.what)}" if harm.what else f"`{show(harm.name)}` can do harm"
