"""The supply as a picture: voltage through a loss of contact, voltage as the cells are used up, and a day's charge by share.

Everything is told by line styles, marks and hatching, so that it can be read in grey. The same device gives the same bytes.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Final

from nudgeproof.parts.budget import budget
from nudgeproof.parts.draws import Config, configs, drawn, trips, volts_in
from nudgeproof.quantities import exact, volts
from nudgeproof.spec.electrical import Electricity
from nudgeproof.spec.types import Device
from nudgeproof.supply.hold_up import discharge
from nudgeproof.units import FOREVER

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_STYLES: Final = ("-", "--", "-.", ":", (0, (5, 1)), (0, (1, 1)), (0, (3, 1, 1, 1)), (0, (8, 2)))
_GREYS: Final = ("0.0", "0.25", "0.45", "0.6")
_HATCHES: Final = ("", "///", "...", "xxx", "\\\\\\", "ooo", "---", "+++")
_MOST: Final = 8
_PARTS: Final = tuple(
    sorted({*(Fraction(k * k, 10_000) for k in range(1, 42)), *(Fraction(k, 40) for k in range(7, 40))})
)
"""How much of the voltage is gone at the points of a curve: closely at first, then evenly."""
_SIZE: Final = (8.0, 10.5)


class NoLibrary(Exception):
    """Matplotlib isn't installed."""


def draw(device: Device, form: str) -> bytes:
    """The picture as `svg` or `png`; raises `NoLibrary`."""
    try:
        import matplotlib as mpl
        from matplotlib.figure import Figure
    except ImportError:
        raise NoLibrary from None
    electricity = device.electricity
    assert electricity is not None
    shown = _different(device)
    style = {"svg.hashsalt": "nudgeproof", "font.family": "DejaVu Sans", "font.size": 9, "svg.fonttype": "none"}
    with mpl.rc_context(style):
        figure = Figure(figsize=_SIZE, layout="constrained")
        figure.suptitle(f"{device.name}: its supply")
        lost, used, shares = figure.subplots(3, 1, height_ratios=(3, 3, 1.4))
        _draw_loss(lost, device, electricity, shown)
        _draw_use(used, device, electricity, shown)
        _draw_day(shares, device)
        stream = io.BytesIO()
        metadata: dict[str, Any] = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(stream, format=form, metadata=metadata, dpi=110)
    return stream.getvalue()


def _different(device: Device) -> list[tuple[Config, str]]:
    """One configuration for each current, with the names of all that share it; the heaviest first, so many as can be
    told.
    """
    found: dict[tuple[Fraction, ...], list[Config]] = {}
    for config in configs(device):
        band = volts_in(device, config, Fraction(0))
        current = drawn(device, config).current(band.lo)
        level = trips(device, config)
        key = (exact(current.lo, "A"), exact(current.hi, "A"), Fraction(0) if level is None else exact(level.hi, "V"))
        found.setdefault(key, []).append(config)
    ordered = sorted(found.items(), key=lambda entry: -entry[0][1])
    return [(those[0], _name(those)) for _, those in ordered[:_MOST]]


def _name(those: Sequence[Config]) -> str:
    first = str(those[0])
    return first if len(those) == 1 else f"{first}, and {len(those) - 1} more"


def _line(number: int) -> dict[str, Any]:
    return {"linestyle": _STYLES[number % len(_STYLES)], "color": _GREYS[number % len(_GREYS)], "linewidth": 1.6}


def _mark_reset(axes: Axes, device: Device, electricity: Electricity) -> None:
    """The band of the brown-out level, and the processor's lowest voltage."""
    if electricity.reset is not None:
        level = electricity.reset.rules.trips
        low, high = _volts(level.lo), _volts(level.hi)
        axes.axhspan(
            low, high, facecolor="0.88", edgecolor="0.5", hatch="////", linewidth=0, label="brown-out level, any unit"
        )
    if electricity.works_from is not None:
        axes.axhline(_volts(electricity.works_from), color="0.0", linewidth=0.8, linestyle=(0, (1, 3)),
                     label="lowest voltage of the processor")  # fmt: skip


def _draw_loss(axes: Axes, device: Device, electricity: Electricity, shown: Sequence[tuple[Config, str]]) -> None:
    axes.set_title("The cell loses contact at 0 (unit with the smallest capacitor, fresh cells)", loc="left")
    axes.set_xlabel("time without the cell / ms (logarithmic)")
    axes.set_ylabel("voltage / V")
    capacitor = electricity.source.capacitor
    _mark_reset(axes, device, electricity)
    if capacitor is None:
        axes.text(0.5, 0.5, "no capacitor: the voltage falls at once", transform=axes.transAxes, ha="center")
        return
    regulator = electricity.source.regulator
    for number, (config, name) in enumerate(shown):
        begins = (
            volts_in(device, config, Fraction(0)).lo
            if regulator is None
            else electricity.source.cells.at(Fraction(0)).open.lo
        )
        start = exact(begins, "V")
        times, voltages = [], []
        for part in _PARTS:
            at = start * (1 - part)
            if at <= 0:
                break
            time = discharge(capacitor, regulator, drawn(device, config).most, begins, volts(at), shortest=True)
            if time == FOREVER:
                break
            times.append(max(int(time), 1) / 1000)
            voltages.append(float(at))
        axes.plot(times, voltages, label=name, **_line(number))
    axes.set_xscale("log")
    axes.set_xlim(left=0.01)
    axes.set_ylim(bottom=0)
    axes.legend(fontsize=7, loc="upper left", bbox_to_anchor=(1.01, 1))
    axes.grid(color="0.9")


def _draw_use(axes: Axes, device: Device, electricity: Electricity, shown: Sequence[tuple[Config, str]]) -> None:
    axes.set_title("As the cells are used up (lowest and highest of all units)", loc="left")
    charge = electricity.source.cells.charge
    unit = "share used / %" if charge is None else f"charge used / % of {float(exact(charge, 'A*h') * 1000):g} mAh"
    axes.set_xlabel(unit)
    axes.set_ylabel("voltage / V")
    _mark_reset(axes, device, electricity)
    shares = sorted({*(electricity.until * k / 20 for k in range(21)), *electricity.source.cells.corners})
    for number, (config, name) in enumerate(shown):
        bands = [volts_in(device, config, share) for share in shares]
        across = [float(share * 100) for share in shares]
        low, high = [_volts(band.lo) for band in bands], [_volts(band.hi) for band in bands]
        axes.plot(across, low, label=name, **_line(number))
        if any(abs(a - b) > 1e-3 for a, b in zip(low, high, strict=True)):
            axes.fill_between(across, low, high, facecolor="0.5", alpha=0.15, linewidth=0)
    if electricity.until < 1:
        axes.axvline(float(electricity.until * 100), color="0.3", linewidth=0.8)
        axes.annotate(
            "cells are changed", (float(electricity.until * 100), axes.get_ylim()[0]), fontsize=7, rotation=90
        )
    axes.legend(fontsize=7, loc="upper left", bbox_to_anchor=(1.01, 1))
    axes.grid(color="0.9")


def _draw_day(axes: Axes, device: Device) -> None:
    axes.set_title("A day's charge by share (at most)", loc="left")
    axes.set_xlabel("share of the day's charge / %")
    if not device.use:
        axes.text(0.5, 0.5, "the spec states no `use`", transform=axes.transAxes, ha="center")
        axes.set_yticks([])
        return
    names: list[str] = []
    for row, day in enumerate(device.use):
        shares = budget(device, day).shares
        whole = sum(float(exact(share.a_day.hi, "A*h")) for share in shares) or 1.0
        left = 0.0
        for share in sorted(shares, key=lambda one: -exact(one.a_day.hi, "A*h")):
            if share.name not in names:
                names.append(share.name)
            number = names.index(share.name)
            part = float(exact(share.a_day.hi, "A*h")) / whole * 100
            label = share.name if number >= len(axes.get_legend_handles_labels()[1]) else None
            axes.barh(row, part, left=left, facecolor=str(0.95 - 0.12 * (number % 5)), edgecolor="0.0", linewidth=0.7,
                      hatch=_HATCHES[number % len(_HATCHES)], label=label)  # fmt: skip
            left += part
    axes.set_yticks(range(len(device.use)), [day.name for day in device.use])
    axes.set_xlim(0, 100)
    axes.set_ylim(-0.6, len(device.use) - 0.4)
    axes.legend(fontsize=7, loc="upper left", bbox_to_anchor=(1.01, 1))


def _volts(amount: Any) -> float:
    return float(exact(amount, "V"))
