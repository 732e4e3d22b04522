"""The section *Recogniser* of the reference page, for one button of one specimen."""

from __future__ import annotations

from collections.abc import Callable

from nudgeproof.spec.types import Gesture, State
from nudgeproof.units import Span
from tests.reference.clock import Clock


class Presses:
    """`phase` is idle, down, pause, nobody, repeating, extra or extra down; `fire` is told each gesture that is complete."""

    def __init__(
        self,
        name: str,
        gestures: tuple[Gesture, ...],
        clock: Clock,
        fire: Callable[[Gesture], None],
        extra_taps: str = "begin anew",
    ) -> None:
        self.name = name
        self.gestures = tuple(gesture for gesture in gestures if gesture.button == name)
        self.clock = clock
        self.fire = fire
        self.extra_taps = extra_taps
        self.phase = "idle"
        self.press = 0
        self.possible: list[Gesture] = []
        self.complete: Gesture | None = None
        self.reached: Span | None = None
        self.largest: Gesture | None = None
        self.is_early = False  # press 1 is begun and not accepted
        self.held_back: Gesture | None = None

    # What the patterns say of press number `self.press`.

    def is_tap(self, gesture: Gesture) -> bool:
        return self.press > len(gesture.presses) or gesture.presses[self.press - 1] == "tap"

    def needs_more(self, gesture: Gesture) -> bool:
        return self.press < len(gesture.presses)

    def may_have_more(self, gesture: Gesture) -> bool:
        if self.needs_more(gesture):
            return True
        return gesture is self.largest and self.extra_taps == "count as the largest"

    # What the reader sees.

    def goes_down_early(self, state: State) -> None:
        """The edge that wakes begins press 1, although nothing is accepted yet."""
        self.goes_down(state)
        self.is_early = True

    def forget_early(self) -> None:
        if self.is_early:
            self.begin_again("idle")

    def goes_down(self, state: State) -> None:
        if self.is_early:
            self.is_early, seen, self.held_back = False, self.held_back, None
            if seen is not None:
                self.fire(seen)
            return
        self.drop("pause")
        self.drop("press to press")
        if self.phase == "extra":
            self.drop("extra")
            self.phase = "extra down"
            return
        if self.phase == "idle":
            used = {transition.gesture for transition in state.transitions}
            self.possible = [gesture for gesture in self.gestures if gesture.name in used]
            rows = [g for g in self.possible if len(g.presses) > 1 and "hold" not in g.presses]
            self.largest = max(rows, key=lambda g: len(g.presses), default=None)
        self.press += 1
        self.complete = None
        self.reached = None
        self.phase = "down" if self.possible else "nobody"
        for gesture in self.possible:
            if self.is_tap(gesture):
                assert gesture.press is not None
                self.limit("tap limit", gesture.press, self.tap_is_too_long)
            else:
                assert gesture.held is not None
                self.limit("hold", gesture.held, self.hold_is_over)
            if gesture.between_presses and self.needs_more(gesture):
                assert gesture.between is not None
                self.limit("press to press", gesture.between, self.next_press_is_late)

    def goes_up(self) -> None:
        for kind in ("tap limit", "hold", "repeat"):
            self.drop(kind)
        if self.phase == "extra down":
            self.swallow()
            return
        if self.phase in ("nobody", "repeating"):
            self.begin_again("idle")
            return
        fitting = [g for g in self.possible if self.is_tap(g) or g.held == self.reached]
        whole = [g for g in fitting if not self.needs_more(g)]
        self.complete = whole[0] if whole else None
        self.possible = [g for g in fitting if self.may_have_more(g)]
        self.phase = "pause"
        for gesture in self.possible:
            if not (gesture.between_presses and self.needs_more(gesture)):
                assert gesture.between is not None
                self.limit("pause", gesture.between, self.pause_is_too_long)
        if not self.possible:
            self.ends_up()

    def tell(self, gesture: Gesture) -> None:
        """Of an early press nothing is seen before it is accepted."""
        if not self.is_early:
            self.fire(gesture)
        elif self.held_back is None:
            self.held_back = gesture

    def state_entered(self, is_down: bool) -> None:
        if self.phase not in ("extra", "extra down"):
            self.begin_again("nobody" if is_down else "idle")

    def begin_again(self, phase: str) -> None:
        for kind in ("tap limit", "hold", "pause", "press to press", "repeat", "extra"):
            self.drop(kind)
        self.phase = phase
        self.press = 0
        self.possible = []
        self.complete = None
        self.is_early, self.held_back = False, None

    # Times.

    def limit(self, kind: str, span: Span, then: Callable[[Span], None]) -> None:
        """Equal limits are one."""
        self.clock.begin(f"{kind} {self.name}: {span.lo} {span.hi}", span, lambda: then(span))

    def drop(self, kind: str) -> None:
        self.clock.drop_all(f"{kind} {self.name}:")

    def tap_is_too_long(self, span: Span) -> None:
        self.possible = [g for g in self.possible if not (self.is_tap(g) and g.press == span)]
        self.look_while_down()

    def hold_is_over(self, span: Span) -> None:
        left = []
        for gesture in self.possible:
            if self.is_tap(gesture):
                continue
            assert gesture.held is not None
            if gesture.held == span or gesture.held.lo > span.hi:
                left.append(gesture)
        self.possible = left
        self.reached = span
        self.drop("tap limit")
        self.look_while_down()

    def next_press_is_late(self, span: Span) -> None:
        self.possible = [
            g for g in self.possible if not (g.between_presses and g.between == span and self.needs_more(g))
        ]
        if self.phase == "down":
            self.look_while_down()
        elif not self.possible:
            self.ends_up()

    def pause_is_too_long(self, span: Span) -> None:
        counted = [g for g in self.possible if not (g.between_presses and self.needs_more(g))]
        self.possible = [g for g in self.possible if not (g in counted and g.between == span)]
        if not self.possible:
            self.ends_up()

    def look_while_down(self) -> None:
        """Whether the press became nobody's, or a hold that has lasted needn't wait any more."""
        if not self.possible:
            self.becomes_nobodys()
            return
        only = self.possible[0]
        if len(self.possible) > 1 or self.is_tap(only) or only.held != self.reached:
            return
        if self.needs_more(only) or only.at_release:
            return
        self.becomes_nobodys()
        if only.repeats is not None:
            self.phase = "repeating"
            self.repeat_later(only)
        self.tell(only)

    def becomes_nobodys(self) -> None:
        early, seen = self.is_early, self.held_back
        self.begin_again("nobody")
        self.is_early, self.held_back = early, seen

    def repeat_later(self, gesture: Gesture) -> None:
        assert gesture.repeats is not None
        self.limit("repeat", gesture.repeats, lambda span: self.repeats(gesture))

    def repeats(self, gesture: Gesture) -> None:
        self.repeat_later(gesture)
        self.tell(gesture)

    def ends_up(self) -> None:
        """The button is up and nothing longer can come any more."""
        complete = self.complete
        self.begin_again("idle")
        if complete is None:
            return
        if complete is self.largest and self.extra_taps == "swallowed":
            self.swallow()
        self.fire(complete)

    def swallow(self) -> None:
        assert self.largest is not None
        assert self.largest.between is not None
        self.phase = "extra"
        self.limit("extra", self.largest.between, lambda span: self.begin_again("idle"))
