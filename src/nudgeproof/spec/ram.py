"""The section `ram`: values that stay there through a short interruption, and how the firmware knows whether they did."""

from __future__ import annotations

from typing import Final

from nudgeproof.spec.fields import Found, TimeWanted, read_choice, read_mapping, read_span, sort_keys
from nudgeproof.spec.notes import Notes
from nudgeproof.spec.power import read_keeps
from nudgeproof.spec.powered import Ram
from nudgeproof.spec.types import PowerUp
from nudgeproof.units import Form, show_us

_LASTS: Final = TimeWanted(
    (Form.EXACT, Form.RANGE, Form.PLUS_MINUS, Form.UP_TO),
    "it is how long the values last without power",
    "200 to 900 ms",
    reaches_us=1,
)
_BLIPS: Final = TimeWanted((Form.EXACT, Form.UP_TO), "an interruption no longer than that is a blip", "up to 300 ms", 1)
_NEW: Final = TimeWanted((Form.EXACT, Form.AT_LEAST), "putting new cells in takes at least that", "at least 5 s", 1)
_CHECKS: Final = ("marker", "checksum")


def read_ram(found: Found, variables: tuple[str, ...] | None, notes: Notes) -> Ram | None:
    """The section `ram`; `variables` None when they are not known."""
    owner = "`ram`"
    example = f"ram: {{keeps: state, lasts: {_LASTS.example}, checked by: checksum}}"
    mapping = read_mapping(found, owner, example, notes)
    if mapping is None:
        return None
    keys = sort_keys(mapping, found.key.place, owner, ("keeps", "lasts", "checked by", "blips", "new cells"), (), notes)
    keeps = read_keeps(keys, owner, variables, notes)
    timed = keys.require("lasts", owner, _LASTS.meaning, f"write `lasts: {_LASTS.example}`", notes)
    lasts = read_span(timed, owner, _LASTS, notes)
    why = "it says how the firmware knows that the values are still there"
    told = keys.require("checked by", owner, why, "write `checked by: marker` or `checked by: checksum`", notes)
    check = None if told is None else read_choice(told, owner, _CHECKS, (), why, notes)
    blips, new = (
        read_span(keys.found.get(key), owner, wanted, notes) for key, wanted in (("blips", _BLIPS), ("new cells", _NEW))
    )
    for key, other in (("blips", "new cells"), ("new cells", "blips")):
        if key in keys.found and other not in keys.found and other not in keys.guessed:
            why = "only the two together say what is to be told apart"
            notes.complain(keys.found[key].key.place, f"{owner} has `{key}`, and no `{other}`", why, f"add `{other}`")
    if blips is not None and new is not None and new.lo <= blips.hi:
        what = f"new cells take at least {show_us(new.lo)}, and a blip lasts up to {show_us(int(blips.hi))}"
        notes.complain(
            keys.found["new cells"].key.place, what, "nothing could tell the two", "write a longer time here"
        )
    if lasts is None or check is None:
        return None
    known = (None if blips is None else int(blips.hi), None if new is None else new.lo)
    return Ram(keeps, lasts, check == "checksum", found.key.place, *known)


def check_ram(ram: Ram | None, power_up: PowerUp | None, notes: Notes) -> None:
    """Note values in RAM where nothing says how the device starts."""
    if ram is not None and power_up is None:
        why, cure = "only a start looks at them", "add such as `power up: {takes: 70 ms ± 10 ms}`"
        notes.complain(ram.at, "`ram`, and the spec has no `power up`", why, cure)
