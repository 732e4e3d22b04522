"""The section *Recogniser* of the reference page, for one button of one specimen."""

from __future__ import annotations

from collections.abc import Callable

from nudgeproof.spec.types import Gesture, State
from nudgeproof.units import Span
from tests.reference.clock import Clock


class Presses:
    """`phase` is idle, down, pause or nobody; `fire` is told each gesture that is complete."""

    def __init__(self, name: str, gestures: tuple[Gesture, ...], clock: Clock, fire: Callable[[Gesture], None]) -> None:
        self.name = name
        self.gestures = tuple(gesture for gesture in gestures if gesture.button == name)
        self.clock = clock
        self.fire = fire
        self.phase = "idle"
        self.press = 0
        self.possible: list[Gesture] = []
        self.complete: Gesture | None = None

    def goes_down(self, state: State) -> None:
        if self.phase == "idle":
            used = {transition.gesture for transition in state.transitions}
            self.possible = [gesture for gesture in self.gestures if gesture.name in used]
        self.clock.drop_all(f"pause {self.name}:")
        self.clock.drop_all(f"press to press {self.name}:")
        self.press += 1
        self.complete = None
        self.phase = "down" if self.possible else "nobody"
        for gesture in self.possible:
            if self.press <= gesture.taps:
                assert gesture.press is not None
                self._limit("tap limit", gesture.press, self._tap_is_too_long)
            else:
                assert gesture.held is not None
                self._limit("hold", gesture.held, self._hold_is_over)
            if gesture.between_presses and gesture.presses > self.press:
                assert gesture.between is not None
                self._limit("press to press", gesture.between, self._next_press_is_late)

    def goes_up(self) -> None:
        self.clock.drop_all(f"tap limit {self.name}:")
        self.clock.drop_all(f"hold {self.name}:")
        if self.phase == "nobody":
            self.forget(False)
            return
        self.possible = [gesture for gesture in self.possible if self.press <= gesture.taps]
        finished = [gesture for gesture in self.possible if gesture.presses == self.press]
        self.possible = [gesture for gesture in self.possible if gesture.presses > self.press]
        if not self.possible:
            self.forget(False)
            if finished:
                self.fire(finished[0])
            return
        self.phase = "pause"
        self.complete = finished[0] if finished else None
        for gesture in self.possible:
            if not gesture.between_presses:
                assert gesture.between is not None
                self._limit("pause", gesture.between, self._pause_is_too_long)

    def forget(self, is_down: bool) -> None:
        for kind in ("tap limit", "hold", "pause", "press to press"):
            self.clock.drop_all(f"{kind} {self.name}:")
        self.phase = "nobody" if is_down else "idle"
        self.press = 0
        self.possible = []
        self.complete = None

    def _limit(self, kind: str, span: Span, then: Callable[[Span], None]) -> None:
        """Equal limits are one."""
        self.clock.begin(f"{kind} {self.name}: {span.lo} {span.hi}", span, lambda: then(span))

    def _tap_is_too_long(self, span: Span) -> None:
        self.possible = [g for g in self.possible if not (self.press <= g.taps and g.press == span)]
        if not self.possible:
            self.forget(True)

    def _hold_is_over(self, span: Span) -> None:
        held = next(g for g in self.possible if self.press == g.taps + 1 and g.held == span)
        self.forget(True)
        self.fire(held)

    def _next_press_is_late(self, span: Span) -> None:
        late = [g for g in self.possible if g.between_presses and g.between == span and g.presses > self.press]
        self._drop_out(late)

    def _pause_is_too_long(self, span: Span) -> None:
        self._drop_out([g for g in self.possible if not g.between_presses and g.between == span])

    def _drop_out(self, late: list[Gesture]) -> None:
        self.possible = [gesture for gesture in self.possible if gesture not in late]
        if self.possible:
            return
        complete, is_down = self.complete, self.phase == "down"
        self.forget(is_down)
        if complete is not None and not is_down:
            self.fire(complete)
