"""The guesses that verdicts hang on, as text: what to measure next."""

from __future__ import annotations

from nudgeproof.report.width import wrap
from nudgeproof.verdict import Guess, Guesses, Turned, Varied

_SHOWN = 4


def show_guesses(guesses: Guesses, width: int) -> list[str]:
    """The lines of the section, at most `width` columns wide; those that no verdict hangs on last."""
    lines = ["", "Guesses, and the verdicts that hang on them"]
    lines += _wrap("Each was given other plausible values alone, and what it bears on was asked again.", 2, width)
    hanging = [guess for guess in guesses.ranked if any(varied.turned for varied in guess.varied)]
    for number, guess in enumerate(hanging):
        lines += _wrap(("measure this one next: " if not number else "then: ") + _name(guess), 2, width)
        for varied in guess.varied:
            lines += _tell(varied, width)
    firm = [guess for guess in guesses.ranked if guess not in hanging]
    sure = [guess for guess in firm if all(varied.known for varied in guess.varied)]
    if sure:
        lines += _wrap("No verdict hangs on these, with the values tried:", 2, width)
        for guess in sure:
            lines += _wrap(f"{_name(guess)} (tried {', '.join(varied.words for varied in guess.varied)})", 4, width)
    for guess in firm:
        if guess not in sure:
            lines += _wrap(f"Not found out within this effort: {_name(guess)}", 2, width)
    for told in guesses.untried:
        lines += _wrap(f"Not tried: {told}", 2, width)
    return lines


def _name(guess: Guess) -> str:
    return f"{guess.told} ({'assumed' if guess.assumed else f'line {guess.line}'})"


def _tell(varied: Varied, width: int) -> list[str]:
    if not varied.turned:
        return _wrap(f"with {varied.words}: {'as before' if varied.known else 'not found out'}", 4, width)
    lines = _wrap(f"with {varied.words}:", 4, width)
    for turned in varied.turned[:_SHOWN]:
        lines += _wrap(_turn(turned), 6, width)
    more = len(varied.turned) - _SHOWN
    return lines + (_wrap(f"and {more} more", 6, width) if more > 0 else [])


def _turn(turned: Turned) -> str:
    return f"{turned.hazard}, {turned.subject}: {turned.now.word} instead of {turned.was.word}"


def _wrap(text: str, indent: int, width: int) -> list[str]:
    return wrap(text, width, initial_indent=" " * indent, subsequent_indent=" " * (indent + 2))
