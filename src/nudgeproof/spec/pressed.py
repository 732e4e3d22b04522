"""What a spec says of a button: how the firmware reads its contact, and what a press of it counts for."""

from __future__ import annotations

from dataclasses import dataclass

from nudgeproof.diagnostics import Place
from nudgeproof.units import Span


@dataclass(frozen=True, slots=True)
class Samples:
    """A reading changes after `count` samples in a row that differ from it, one taken each time in `every`.

    `keeps_rhythm`: the timer that paces them goes on while the processor sleeps.
    """

    count: int
    every: Span
    keeps_rhythm: bool = False


@dataclass(frozen=True, slots=True)
class Claims:
    """What a press counts for that two things could lay claim to; each is one of a few words, as in the spec.

    `after_hold`: once a hold was seen, its release is `nobody's` or counts as that of `a tap`. `new_state`: a press during
    which a state is entered: the firmware `forgets the press`, `keeps the press` or `begins it anew`. `hold_from`: a hold
    counts from `its press`, or from `any press` of a button. `waking`: the first press after waking `counts`, is `no tap`,
    or is `no tap until one came`: then what marks it stays set until a tap was passed over. `listens_again`: the firmware
    then `looks` at the level, or `waits for an edge`. `read_in`: the button is read and its gestures are recognised
    in the `main loop`, or in an `interrupt`, which goes on while the firmware is deaf. `two_fit`: where one press fits two
    gestures of a state, the spec `is refused`, or `the first in the file` counts. `length`: how long a press lasts is
    `looked at all the while`, or `reckoned at the release`, so that it matters if elapsed time comes round; "" where the
    spec doesn't say: then the first.
    """

    after_hold: str = "nobody's"
    new_state: str = "forgets the press"
    hold_from: str = "its press"
    waking: str = "counts"
    listens_again: str = "looks"
    read_in: str = "main loop"
    two_fit: str = "is refused"
    length: str = ""

    @property
    def first_fits(self) -> bool:
        """Whether one press may fit two gestures of a state, and which it was is decided at the release."""
        return self.two_fit == "the first in the file"

    @property
    def reckons_late(self) -> bool:
        """Whether nobody looks how long a press lasts before it is let go."""
        return self.length == "reckoned at the release"

    @property
    def add_gestures(self) -> bool:
        """Whether a gesture may be seen of a press that began before the last one was, or before the state was entered."""
        return (self.after_hold, self.new_state, self.hold_from) != ("nobody's", "forgets the press", "its press")


@dataclass(frozen=True, slots=True)
class Button:
    """A contact and how the firmware reads it, in one of three ways: just one of `debounce`, `lockout`, `samples` is given.

    `bounce_us`: chatter lasts at most this long from its edge. `edges_apart_us`: least time between two edges of one chatter
    burst. `debounce`: a level must be steady for a time in this span to be accepted. `lockout`: an edge is accepted at once,
    and then the firmware is deaf for a time in this span. `samples`: the level is looked at now and then.
    `claims`: what a press counts for that two things could lay claim to.
    `extra_taps`: what becomes of taps beyond the largest count in use: they `begin anew`, are `swallowed`, or `count as the
    largest`.
    `lockout_ends`: `after its time`, or `at a moment of the clock` with which the firmware compares its running clock; ""
    where the spec doesn't say: then after its time.
    """

    name: str
    bounce_us: int
    debounce: Span | None
    edges_apart_us: int
    at: Place
    lockout: Span | None = None
    samples: Samples | None = None
    extra_taps: str = "begin anew"
    claims: Claims = Claims()
    lockout_ends: str = ""

    @property
    def in_interrupt(self) -> bool:
        """Whether it is read and its gestures are recognised while the firmware is deaf, too."""
        return self.claims.read_in == "interrupt"

    @property
    def compares_moments(self) -> bool:
        """Whether its lockout ends at a moment of the clock, so that it matters when the clock comes round."""
        return self.lockout_ends == "at a moment of the clock"
