"""What is drawn from the cells, or from the capacitor across them, at a voltage there: by loads, through a regulator."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from nudgeproof.supply.flow import ZERO, Flow, left_over
from nudgeproof.supply.rail import BOOST, BUCK_BOOST, Regulator


@dataclass(frozen=True)
class Piece:
    """The current `a + b V + p / V` between two voltages of the rail, or of the input where it is that which counts."""

    high: Fraction
    low: Fraction
    a: Fraction
    b: Fraction = ZERO
    p: Fraction = ZERO

    def current(self, v: Fraction) -> Fraction:
        """The current at a voltage of the piece."""
        return self.a + self.b * v + (self.p / v if self.p else ZERO)


class Intake:
    """For the specimen that draws most, or least: nothing that a tolerance leaves open draws more, or less.

    `flow`: what the loads of that specimen draw from the rail. `rail`: the least voltage of the rail that is thought of; a
    boost regulator that has stopped may hand the cells through down to there.
    """

    def __init__(self, regulator: Regulator | None, flow: Flow, most: bool, rail: Fraction = ZERO) -> None:
        self.regulator, self.flow, self.most, self.rail = regulator, flow, most, rail
        self.own = self.lost = self.power = ZERO
        if regulator is None:
            self.power = sum((p for p, _ in flow.powers), ZERO)
            return
        makes, takes, drops, _ = regulator.numbers
        self.own, self.makes = takes[most], makes
        if regulator.switches:
            self.power = regulator.power(flow, most).powers[0][0]
        else:
            self.lost = drops[most]
            self.power = sum((p for p, _ in flow.powers), ZERO)

    @property
    def edges(self) -> tuple[Fraction, ...]:
        """The voltages at which a boost regulator changes what it does, from above."""
        if self.regulator is None or self.regulator.kind != BOOST:
            return ()
        return self.makes[0], self.regulator.numbers[3]

    def may_be_above(self, opened: Fraction, resistance: Fraction, v: Fraction) -> bool:
        """Whether such cells may hold their voltage above `v` with this draw."""
        if opened <= v:
            return False
        if self.regulator is None:
            return left_over(opened, resistance, self.flow, v, None) >= 0
        if self.regulator.kind == BUCK_BOOST:
            return left_over(opened, resistance, Flow(self.own, powers=((self.power, None),)), v, None) >= 0
        return self.power > 0

    def at(self, v: Fraction) -> Fraction:
        """The current at a voltage at the cells."""
        regulator = self.regulator
        if regulator is None:
            return self.flow.at(v)
        if not regulator.switches:
            rail = v - self.lost
            return self.own + (self._regulated() if rail > self.makes[0] else self.flow.at(rail))
        if regulator.kind == BOOST and v > self.makes[0]:
            return self._handed_through(v)
        if v < regulator.numbers[3] and regulator.kind == BOOST and not self.most:
            return self._stopped()
        return self.own + self.power / v

    def least(self, low: Fraction, high: Fraction) -> Fraction:
        """No less flows between these voltages."""
        if self.regulator is None:
            return self.flow.rising(low) + self.flow.falling(high)
        if not self.regulator.switches:
            rising = self.flow.rising(min(max(ZERO, low - self.lost), self.makes[0]))
            return self.own + rising + self.flow.falling(self.makes[1])
        least = [self.own + self.power / high, self._handed_through(high)]
        return min(*least, self._stopped()) if low < self.regulator.numbers[3] else min(least)

    def pieces(self, low: Fraction, high: Fraction) -> Iterator[Piece]:
        """The current between two voltages at the cells, cut where its form changes, from above."""
        regulator = self.regulator
        if regulator is None:
            yield from self._rail(low, high)
        elif not regulator.switches:
            edge = self.makes[0] + self.lost
            if high > edge:
                yield Piece(high, max(low, edge), self.own + self._regulated())
            if low < edge:
                yield from self._rail(low - self.lost, min(high, edge) - self.lost)
        else:
            works_from = regulator.numbers[3]
            edge = self.makes[0] if regulator.kind == BOOST else high
            if high > edge:
                yield Piece(high, max(low, edge), self._handed_through(high))
            stops = works_from if regulator.kind == BOOST and not self.most else low
            if max(low, stops) < min(high, edge):
                yield Piece(min(high, edge), max(low, stops), self.own, p=self.power)
            if low < min(stops, high):
                yield Piece(min(high, stops), low, self._stopped())

    def _rail(self, low: Fraction, high: Fraction) -> Iterator[Piece]:
        if low < high:
            for upper, lower in pairwise(reversed(self.flow.cuts(low, high))):
                a, b, p = self.flow.form((upper + lower) / 2)
                yield Piece(upper, lower, a + self.own, b, p)

    def _regulated(self) -> Fraction:
        """The current of the loads where a linear regulator holds the rail, at any voltage that it makes."""
        low, high = self.makes
        if self.most:
            return max(self.flow.at(low), self.flow.at(high))
        return self.flow.rising(low) + self.flow.falling(high)

    def _handed_through(self, v: Fraction) -> Fraction:
        """The current of a boost regulator between what it makes and a voltage above, where it hands the cells through."""
        low = self.makes[0]
        if self.most:
            return self.own + max(self.flow.rising(max(v, low)) + self.flow.falling(low), self.power / low)
        return self.own + min(self.flow.rising(low) + self.flow.falling(max(v, low)), self.power / max(v, low))

    def _stopped(self) -> Fraction:
        """The least current of a boost regulator that has stopped, or hasn't."""
        assert self.regulator is not None
        works_from = max(self.regulator.numbers[3], self.rail)
        handed = self.flow.rising(max(ZERO, self.rail))
        return min(handed, self.power / works_from) if works_from else handed
