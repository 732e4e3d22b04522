"""What was reckoned of the supply, for other programs: numbers with their units, as in `check --json` (format 1)."""

from __future__ import annotations

import json
from collections.abc import Sequence
from fractions import Fraction

from nudgeproof.parts.budget import Budget
from nudgeproof.quantities import Amount, Band, exact
from nudgeproof.reckoned import Reckoned, Standing
from nudgeproof.units import FOREVER, Bound, Span

FORMAT = 1
"""Version of the form."""


def to_json(variants: Sequence[tuple[str, Reckoned]]) -> str:
    """All variants, the spec as it is first, as text in ASCII that ends in a line feed."""
    document = {"format": FORMAT, "variants": [{"with": name, **_all(found)} for name, found in variants]}
    return json.dumps(document, indent=1) + "\n"


def _all(found: Reckoned) -> dict[str, object]:
    advice = found.advice
    return {
        "states": [_standing(one) for one in found.standings],
        "longest_loss_us": found.longest_loss,
        "capacitor": None
        if advice is None
        else {
            "loss_us": advice.loss_us,
            "needs": None if advice.needs is None else _amount(advice.needs, "F"),
            "choose": None if advice.choose is None else _amount(advice.choose, "F"),
            "hardest": str(advice.hardest),
        },
        "uses": [{"name": name, **_budget(budget)} for name, budget in found.budgets],
        "wakes": [{"what": wake.what, "takes": _any(wake.takes)} for wake in found.wakes],
    }


def _standing(one: Standing) -> dict[str, object]:
    some, every = one.resets
    return {
        "where": str(one.config),
        "draws": _band(one.current, "A"),
        "fresh": _band(one.fresh, "V"),
        "used": _band(one.used, "V"),
        "to_reset": None if one.margin is None else _amount(one.margin, "V"),
        "resets_from": {"some_unit": _share(some), "every_unit": _share(every)},
        "hold_up_us": None if one.hold_up is None else _span(one.hold_up),
    }


def _budget(budget: Budget) -> dict[str, object]:
    return {
        "shares": [{"name": share.name, "a_day": _band(share.a_day, "A*h")} for share in budget.shares],
        "current": _band(budget.current, "A"),
        "done_at": {"worst": _share(budget.ends[0]), "best": _share(budget.ends[1])},
        "lasts": None if budget.hours is None else _band(budget.hours, "h"),
    }


def _any(band: Band) -> dict[str, object]:
    return _band(band, "A" if band.lo.check("A") else "A*h")


def _band(band: Band, unit: str) -> dict[str, object]:
    return {"from": _number(exact(band.lo, unit)), "to": _number(exact(band.hi, unit)), "unit": unit.replace("*", "")}


def _amount(amount: Amount, unit: str) -> dict[str, object]:
    return {"value": _number(exact(amount, unit)), "unit": unit}


def _number(value: Fraction) -> float:
    """To nine figures: nothing is compared from here on."""
    return float(f"{float(value):.9g}")


def _share(share: Fraction | None) -> float | None:
    return None if share is None else _number(share)


def _span(span: Span) -> dict[str, object]:
    return {"from": span.lo, "to": _bound(span.hi)}


def _bound(bound: Bound) -> int | None:
    return None if bound == FOREVER else int(bound)
