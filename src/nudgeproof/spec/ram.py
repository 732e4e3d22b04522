"""The section `ram`: values that stay there through a short interruption, and how the firmware knows whether they did."""

from __future__ import annotations

from typing import Final

from nudgeproof.spec.fields import Found, TimeWanted, read_choice, read_mapping, read_span, sort_keys
from nudgeproof.spec.notes import Notes
from nudgeproof.spec.power import read_keeps
from nudgeproof.spec.powered import Ram
from nudgeproof.spec.types import PowerUp
from nudgeproof.units import Form

_LASTS: Final = TimeWanted(
    (Form.EXACT, Form.RANGE, Form.PLUS_MINUS, Form.UP_TO),
    "it is how long the values last without power",
    "200 to 900 ms",
    reaches_us=1,
)
_CHECKS: Final = ("marker", "checksum")


def read_ram(found: Found, variables: tuple[str, ...] | None, notes: Notes) -> Ram | None:
    """The section `ram`; `variables` None when they are not known."""
    owner = "`ram`"
    example = f"ram: {{keeps: state, lasts: {_LASTS.example}, checked by: checksum}}"
    mapping = read_mapping(found, owner, example, notes)
    if mapping is None:
        return None
    keys = sort_keys(mapping, found.key.place, owner, ("keeps", "lasts", "checked by"), (), notes)
    keeps = read_keeps(keys, owner, variables, notes)
    timed = keys.require("lasts", owner, _LASTS.meaning, f"write `lasts: {_LASTS.example}`", notes)
    lasts = read_span(timed, owner, _LASTS, notes)
    why = "it says how the firmware knows that the values are still there"
    told = keys.require("checked by", owner, why, "write `checked by: marker` or `checked by: checksum`", notes)
    check = None if told is None else read_choice(told, owner, _CHECKS, (), why, notes)
    return None if lasts is None or check is None else Ram(keeps, lasts, check == "checksum", found.key.place)


def check_ram(ram: Ram | None, power_up: PowerUp | None, notes: Notes) -> None:
    """Note values in RAM where nothing says how the device starts."""
    if ram is not None and power_up is None:
        why, cure = "only a start looks at them", "add such as `power up: {takes: 70 ms ± 10 ms}`"
        notes.complain(ram.at, "`ram`, and the spec has no `power up`", why, cure)
