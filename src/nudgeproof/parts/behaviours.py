"""What kinds of devices there are, as far as brown-outs and readings of the cells go: by how far the cells are used, and
unit.

The voltage of each configuration falls as the cells are used up, so each comparison of it with a level turns once. Between
two turns nothing changes; in each such stretch a configuration surely resets, surely doesn't, or does so on some units. On
one unit a configuration that surely draws more resets wherever one that draws less does. Each set of configurations that
fits is a *behaviour*; the explorer asks about each of them by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from typing import Final

from nudgeproof.parts.cell_level import ABOVE, BELOW, BETWEEN, LEVELS
from nudgeproof.parts.draws import IN_RESET, Config, comes_and_goes, configs, drawn, remembered, stays_at, trips
from nudgeproof.quantities import Amount, Band, amperes, volts
from nudgeproof.spec.electrical import RUNNING, Electricity
from nudgeproof.spec.types import Device
from nudgeproof.supply.loads import Draw, Load, longest_pulse
from nudgeproof.supply.rail import BEST, WORST, margin

_MOST: Final = 64
"""How many behaviours of one kind are told apart; more would be answered with `undecided`."""


class TooMany(ValueError):
    """More behaviours than can be asked about one by one."""


@dataclass(frozen=True, slots=True)
class Behaviour:
    """`what`: of each configuration in it what it does (`resets`, or the level of the cell that is read).

    `begins`: the share used from which on some unit is so; `everywhere`: from which on every unit is so that isn't worse,
    None if some never are. `always`: the configurations in which every unit resets from the first use of its cells on.
    """

    what: tuple[tuple[Config, str], ...]
    begins: Fraction
    everywhere: Fraction | None
    always: frozenset[Config] = frozenset()

    def of(self, config: Config) -> str:
        """What it does in a configuration, "" if nothing is said of it."""
        return dict(self.what).get(config, "")


RESETS: Final = "resets"


@remembered
def brown_outs(device: Device) -> tuple[Behaviour, ...]:
    """The sets of configurations that reset, in the order in which they begin; the empty one is left out.

    Those are left out in which a unit, once reset, stays so for good: it doesn't go round. Raises `TooMany`.
    """
    electricity = device.electricity
    if electricity is None or electricity.reset is None:
        return ()
    turns: dict[Config, tuple[Fraction | None, Fraction | None]] = {}
    for config in configs(device):
        level = trips(device, config)
        if level is not None and _may_recover(device, electricity, config):
            # Peaks of several loads need not ever meet, and one may be too short for a reset.
            turns[config] = (
                stays_at(device, config, level.hi, WORST),
                stays_at(device, config, level.lo, BEST, peaks=False),
            )
    lets_go = electricity.reset.rules.lets_go
    dead = stays_at(device, IN_RESET, lets_go.lo, BEST)
    until = min(electricity.until, _or_never(dead))
    found: dict[frozenset[Config], Behaviour] = {}
    for begins in _stretches((turn for pair in turns.values() for turn in pair), until):
        certain = [config for config, (_, best) in turns.items() if _after(begins, best)]
        maybe = [
            config for config, (worst, best) in turns.items() if _after(begins, worst) and not _after(begins, best)
        ]
        for some in _sets(device, certain, maybe):
            if some and some not in found:
                everywhere = max((_or_never(turns[config][1]) for config in some), default=None)
                told = tuple((config, RESETS) for config in turns if config in some)
                found[some] = Behaviour(
                    told,
                    begins,
                    everywhere if everywhere is not None and everywhere < until else None,
                    frozenset(config for config in some if not turns[config][1]),
                )
    if len(found) > _MOST:
        raise TooMany
    return tuple(sorted(found.values(), key=lambda one: (one.begins, len(one.what))))


def _may_recover(device: Device, electricity: Electricity, config: Config) -> bool:
    """Whether some unit that is reset in a configuration can be let go again without a load.

    The load must pull down by more than the hysteresis, on cells that are used as far as ever; a unit on which it doesn't
    stays reset. What a load draws has no highest value between two voltages, so the ends of the level are enough.
    """
    source, rules = electricity.source, electricity.reset
    if rules is None or source.regulator is not None:
        return True
    draw = drawn(device, config).most
    for level in (rules.rules.level.lo, rules.rules.level.hi):
        resets, lets_go = level - rules.rules.hysteresis / 2, level + rules.rules.hysteresis / 2
        left = margin(source, electricity.until, draw, resets, WORST)
        if left < margin(source, electricity.until, (), lets_go, WORST):
            return True
    return False


def _or_never(turn: Fraction | None) -> Fraction:
    """From which share on something is so that was otherwise until `turn`."""
    return Fraction(0) if turn is None else turn


def _after(share: Fraction, turn: Fraction | None) -> bool:
    """Whether right after `share` is used a comparison that holds up to `turn` no longer does."""
    return turn is None or share >= turn


def _stretches(turns: Iterable[Fraction | None], until: Fraction) -> list[Fraction]:
    """Where the stretches begin in which nothing turns, up to `until`; each holds right after its beginning."""
    return sorted({share for turn in turns for share in (Fraction(0), _or_never(turn)) if share < until})


def _sets(device: Device, sure: Sequence[Config], maybe: Sequence[Config]) -> Iterable[frozenset[Config]]:
    """All sets with `sure` and some of `maybe`, such that what surely draws more than a member is a member.

    A unit that resets with no more drawn than while it is held in reset stays there for good, and is left out.
    """
    if any(_stays_reset(device, config) for config in sure):
        return
    maybe = [config for config in maybe if not _stays_reset(device, config)]
    above = {config: [other for other in maybe if _draws_more(device, other, config)] for config in maybe}
    if len(maybe) > 16:
        raise TooMany
    for mask in range(2 ** len(maybe)):
        some = {config for number, config in enumerate(maybe) if mask >> number & 1}
        if all(other in some for config in some for other in above[config]):
            yield frozenset((*sure, *some))


def _stays_reset(device: Device, config: Config) -> bool:
    # A load that comes and goes, as of a button, may have gone when it is held in reset.
    same = drawn(device, config) == drawn(device, IN_RESET) and not comes_and_goes(device, config)
    return same or _draws_more(device, IN_RESET, config)


def _draws_more(device: Device, one: Config, other: Config) -> bool:
    """Whether on every unit `one` draws more than `other`, peaks and means alike, at all voltages that matter for a
    reset.
    """
    electricity = device.electricity
    assert electricity is not None
    level = trips(device, one) or trips(device, other)
    low = level.lo if level is not None else volts(0)
    ends = (max(low, volts(Fraction(1, 10))), _highest(electricity))
    first, second = drawn(device, one).least, drawn(device, other).most
    if not _less(second, first, ends, Load.average) or not _less(second, first, ends, Load.surge, or_same=True):
        return False
    pulses = [longest_pulse(draw) for draw in (first, second)]
    return pulses[0] is None or (pulses[1] is not None and pulses[1] <= pulses[0])


def _highest(electricity: Electricity) -> Amount:
    regulator = electricity.source.regulator
    fresh = electricity.source.cells.at(Fraction(0)).open.hi
    return fresh if regulator is None else max(fresh, regulator.makes.hi)


def _less(
    small: Draw,
    large: Draw,
    ends: tuple[Amount, Amount],
    current: Callable[[Load, Amount], Band],
    or_same: bool = False,
) -> bool:
    """Whether loads draw less than others at any voltage between `ends`; a load's current never turns between them."""
    most = sum((max(current(load, at).hi for at in ends) for load in small), amperes(0))
    least = sum((min(current(load, at).lo for at in ends) for load in large), amperes(0))
    return bool(most <= least if or_same else most < least)


@remembered
def readings(device: Device) -> tuple[Behaviour, ...]:
    """What the firmware reads of the cells in each configuration, in the order in which it begins; the one of fresh cells,
    where nothing is ever read low, is left out. Raises `TooMany`.
    """
    electricity, rules = device.electricity, device.cell
    if electricity is None or rules is None:
        return ()
    low, fine = volts(Fraction(rules.low_mv, 1000)), volts(Fraction(rules.fine_mv, 1000))
    running = [config for config in configs(device) if config.phase == RUNNING]
    turns = {
        config: [
            stays_at(device, config, level, corner, peaks=corner.worst)
            for level in (fine, low)
            for corner in (WORST, BEST)
        ]
        for config in running
    }
    found: dict[tuple[str, ...], Behaviour] = {}
    for begins in _stretches((turn for four in turns.values() for turn in four), electricity.until):
        possible = [_levels(begins, turns[config]) for config in running]
        for levels in product(*possible):
            if levels in found or BELOW not in levels or not _fits(device, running, levels):
                continue
            told = tuple(zip(running, levels, strict=True))
            found[levels] = Behaviour(told, begins, _sure_from(told, turns, electricity.until))
            if len(found) > _MOST:
                raise TooMany
    return tuple(found.values())


def _sure_from(
    told: Iterable[tuple[Config, str]], turns: Mapping[Config, Sequence[Fraction | None]], until: Fraction
) -> Fraction | None:
    """From which share on every unit reads these levels; None if there is no such share."""
    known = list(told)
    sure = max(
        (_or_never(turns[config][3 if level == BELOW else 1]) for config, level in known if level != ABOVE),
        default=Fraction(0),
    )
    certain = all(_levels(sure, turns[config]) == [level] for config, level in known)
    return sure if certain and sure < until else None


def _levels(share: Fraction, turns: Sequence[Fraction | None]) -> list[str]:
    """The levels that may be read right after `share` is used; `turns`: of fine (worst, best) and of low (worst, best)."""
    fine_worst, fine_best, low_worst, low_best = turns
    levels = [ABOVE] if not _after(share, fine_best) else []
    if _after(share, fine_worst) and not _after(share, low_best):
        levels.append(BETWEEN)
    return [*levels, BELOW] if _after(share, low_worst) else levels


def _fits(device: Device, running: Sequence[Config], levels: Sequence[str]) -> bool:
    """Whether no configuration is read higher than one that surely draws less."""
    order = {level: number for number, level in enumerate(LEVELS)}
    return not any(
        order[levels[i]] > order[levels[j]] and _draws_more(device, running[i], running[j])
        for i in range(len(running))
        for j in range(len(running))
    )
