"""The supply on the screen: voltages by state, what a loss of contact does, a day of use, and what to be careful with."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from nudgeproof.parts.budget import Budget
from nudgeproof.quantities import Amount, Band, decimal, exact, microseconds, show
from nudgeproof.questions.lasting import say_hours
from nudgeproof.reckoned import Advice, Reckoned, Standing
from nudgeproof.report.cautions import cautions
from nudgeproof.report.width import pad, wrap
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER, round_us, show_us

WIDTH = 80


def to_screen(device: Device, found: Reckoned) -> str:
    """Everything about one device as text that ends in a line feed."""
    lines = [f"{device.name}: its supply", f"({device.file})", ""]
    lines += _cells(device)
    lines += ["", *_standings(device, found.standings)]
    lines += ["", *_losses(device, found)]
    for name, budget in found.budgets:
        lines += ["", *_day(name, budget)]
    if found.wakes:
        lines += ["", "What is woken or held for nothing takes"]
        lines += _table([[f"  {wake.what}", str(wake.takes)] for wake in found.wakes])
    if found.dips:
        lines += ["", "A dip to a share of the fresh voltage (levels of IEC 61000-4-29)"]
        lines += _table([[f"  to {decimal(d.share * 100, 3)} %", show(d.volts), d.does.value] for d in found.dips])
    lines += ["", "Careful"]
    for caution in cautions(device):
        lines += wrap(caution, WIDTH, "  - ", "    ")
    assumed = [one.text for one in device.assumptions if one.text.endswith(_ELECTRICAL)]
    if assumed:
        lines += ["", "Assumed, since the spec doesn't say"]
        for text in assumed:
            lines += wrap(text, WIDTH, "  - ", "    ")
    return "\n".join(lines) + "\n"


_ELECTRICAL = ("(cells)", "(capacitor)", "(brown-out)", "(regulator)", "(supply)")


def _cells(device: Device) -> list[str]:
    electricity = device.electricity
    assert electricity is not None
    cells = electricity.source.cells
    shares = sorted({*cells.corners, electricity.until})
    levels = [cells.at(share) for share in shares]
    rows = [["Cells", *(_used(level.used) for level in levels)]]
    rows += [["  without a load", *(str(level.open) for level in levels)]]
    rows += [["  resistance", *(str(level.resistance) for level in levels)]]
    return _table(rows)


def _used(share: Fraction) -> str:
    if share in (0, 1):
        return "fresh" if share == 0 else "used up"
    return f"{decimal(share * 100, 3)} % used"


def _standings(device: Device, standings: Sequence[Standing]) -> list[str]:
    electricity = device.electricity
    assert electricity is not None
    ends = _used(electricity.until)
    rows = [["Where", "draws", "fresh", ends, "to reset", "resets from"]]
    for one in standings:
        margin = "" if one.margin is None else _signed(one.margin)
        rows.append([f"  {one.config}", _short(one.current), _short(one.fresh), _short(one.used), margin, _resets(one)])
    lines = _table(rows)
    lines += wrap(
        "Voltages are those that a meter reads at the processor, between peaks; `to reset` is what is left of the lowest one"
        f" above the most sensitive brown-out level once cells are {ends}.", WIDTH, "  ", "  ")  # fmt: skip
    return lines


def _signed(volts: Amount) -> str:
    return show(volts) if volts.magnitude < 0 else f"+{show(volts)}"


def _short(band: Band) -> str:
    """A band in few characters: `2.5-2.9 V`."""
    low, high = show(band.lo), show(band.hi)
    if low == high:
        return low
    first, _, unit = low.partition(" ")
    return f"{first}-{high}" if high.endswith(f" {unit}") else f"{low}-{high}"


def _resets(one: Standing) -> str:
    some, every = one.resets
    if one.margin is None:
        return "no reset"
    if some is None:
        return "never"
    if every == some:
        return f"{_percent(some)} used"
    return f"{_percent(some)}, some units" if every is None else f"{_percent(some)} (all: {_percent(every)})"


def _percent(share: Fraction) -> str:
    return f"{decimal(share * 100, 3)} %"


def _losses(device: Device, found: Reckoned) -> list[str]:
    """What a loss of contact does."""
    if all(one.hold_up is not None and one.hold_up.hi == 0 for one in found.standings):
        return ["When contact is lost", "  Nothing holds the device up: any loss of contact may reset it."]
    rows = [["When contact is lost", "surely rides through", "surely resets after"]]
    for one in found.standings:
        if one.hold_up is not None:
            high = one.hold_up.hi
            last = "never" if high == FOREVER else show_us(round_us(int(high), up=True))
            rows.append([f"  {one.config}", show_us(round_us(one.hold_up.lo, up=False)), last])
    lines = _table(rows)
    if found.longest_loss is not None:
        lines += wrap(f"The longest loss of contact that surely goes unnoticed anywhere: {show_us(found.longest_loss)}.",
                      WIDTH, "  ", "  ")  # fmt: skip
    if found.advice is not None:
        lines += wrap(_advise(found.advice), WIDTH, "  ", "  ")
    if found.inrush is not None:
        told = f"When fresh cells are put in, up to {show(found.inrush.current)} flow into the empty capacitor"
        starts = found.inrush.starts
        if starts is not None:
            soonest = show_us(round_us(int(microseconds(starts.lo)), up=False))
            latest = show_us(round_us(int(microseconds(starts.hi)), up=True))
            told += f", and the processor may start after {soonest} to {latest}"
        lines += wrap(told + ".", WIDTH, "  ", "  ")
    return lines


def _advise(advice: Advice) -> str:
    loss = show_us(advice.loss_us)
    if advice.needs is None or advice.choose is None:
        return f"No capacitor bridges {loss} in {advice.hardest}: on used cells it is reset there without any loss."
    if not advice.needs.magnitude:
        return f"Any capacitor bridges {loss}: nothing draws from it."
    return (
        f"To bridge {loss} everywhere it takes a capacitor of {show(advice.needs)}, tolerance included; the next preferred"
        f" size (E12) is {show(advice.choose)}. Most is needed in {advice.hardest}."
    )


def _day(name: str, budget: Budget) -> list[str]:
    whole = sum((share.a_day.hi for share in budget.shares[1:]), budget.shares[0].a_day.hi)
    rows = [[f"A day of {name}", "a day", "share"]]
    for share in sorted(budget.shares, key=lambda one: -exact(one.a_day.hi, "A*h")):
        part = exact(share.a_day.hi, "A*h") / exact(whole, "A*h") if whole.magnitude else Fraction(0)
        rows.append([f"  {share.name}", _short(share.a_day), _percent(part)])
    lines = _table(rows)
    lines += wrap(f"That is {budget.current} on average.", WIDTH, "  ", "  ")
    if budget.hours is None:
        return [*lines, "  How long the cells last isn't known: `cells` state no `charge`."]
    low, high = (_percent(end) for end in budget.ends)
    done = f"when {low} of them is used" if low == high else f"when {low} to {high} of them is used"
    lines += wrap(f"The cells last {say_hours(budget.hours)}; they are done {done}.", WIDTH, "  ", "  ")
    return lines


def _table(rows: Sequence[Sequence[str]]) -> list[str]:
    """Rows in columns, two blanks apart; where they don't fit the screen, the first column on lines of its own."""
    lines = _columns(rows)
    if all(len(line) <= WIDTH for line in lines):
        return lines
    indented = _columns([["   ", *row[1:]] for row in rows])
    return [line for row, below in zip(rows, indented, strict=True) for line in (row[0], below)]


def _columns(rows: Sequence[Sequence[str]]) -> list[str]:
    widths = [max((len(row[i]) for row in rows if i < len(row)), default=0) for i in range(max(map(len, rows)))]
    return ["  ".join(pad(cell, width) for cell, width in zip(row, widths, strict=False)).rstrip() for row in rows]


def compare(names: Sequence[str], found: Sequence[Reckoned]) -> str:
    """Several variants side by side: the figures by which one chooses."""
    rows: list[list[str]] = [["", *names]]
    for title, pick in _FIGURES:
        cells = [pick(one) for one in found]
        if any(cells):
            rows.append([title, *(cell or "-" for cell in cells)])
    for day in dict.fromkeys(name for one in found for name, _ in one.budgets):
        lives = [next((b.hours for n, b in one.budgets if n == day), None) for one in found]
        rows.append([f"cells last in {day}", *("-" if hours is None else say_hours(hours) for hours in lives)])
    return "\n".join(_stack(rows)) + "\n"


def _stack(rows: Sequence[Sequence[str]]) -> Iterable[str]:
    """Columns if they fit the screen, else each figure with its values below each other."""
    table = _columns(rows)
    if all(len(line) <= WIDTH for line in table):
        yield from table
        return
    names = rows[0][1:]
    for title, *cells in rows[1:]:
        yield title
        yield from _table([[f"  {name}", cell] for name, cell in zip(names, cells, strict=True)])


def _lowest(found: Reckoned) -> str:
    return _short(min((one.used for one in found.standings), key=lambda band: band.lo))


def _first_reset(found: Reckoned) -> str:
    turns = [one.resets[0] for one in found.standings if one.resets[0] is not None]
    return f"{_percent(min(turns))} used" if turns else "never"


def _longest_loss(found: Reckoned) -> str:
    return "" if found.longest_loss is None else show_us(found.longest_loss)


def _capacitor(found: Reckoned) -> str:
    return show(found.advice.choose) if found.advice is not None and found.advice.choose is not None else ""


_FIGURES = (
    ("lowest voltage", _lowest),
    ("first reset on some unit", _first_reset),
    ("longest loss unnoticed", _longest_loss),
    ("capacitor advised", _capacitor),
)
