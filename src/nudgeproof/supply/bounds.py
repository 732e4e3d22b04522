"""Logarithms and powers of e as bands of fractions that surely hold the true value."""

from __future__ import annotations

from decimal import Context, Decimal
from fractions import Fraction

_CONTEXT = Context(prec=40)
_SLACK = Fraction(1, 10**30)


def ln(x: Fraction) -> tuple[Fraction, Fraction]:
    """The natural logarithm of `x` > 0, from below and from above; off by less than 10^-29, or such a part of it."""
    if x == 1:
        return Fraction(0), Fraction(0)
    value = _exact(_CONTEXT.ln(_decimal(x)))
    # The quotient was rounded before: that shifts the logarithm by no more than the relative error.
    slack = abs(value) * _SLACK + _SLACK
    return value - slack, value + slack


def exp(x: Fraction) -> tuple[Fraction, Fraction]:
    """e to the power of `x` <= 0, from below (not below nought) and from above."""
    if x == 0:
        return Fraction(1), Fraction(1)
    if x < -200:
        return Fraction(0), Fraction(1, 10**80)
    value = _exact(_CONTEXT.exp(_decimal(x)))
    return max(Fraction(0), value - _SLACK), value + _SLACK


def _decimal(x: Fraction) -> Decimal:
    return _CONTEXT.divide(Decimal(x.numerator), Decimal(x.denominator))


def _exact(value: Decimal) -> Fraction:
    return Fraction(value)
