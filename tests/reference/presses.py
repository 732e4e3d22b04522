"""The section *Recogniser* of the reference page, for one button of one specimen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from nudgeproof.spec.outside import Sleep, Ticks
from nudgeproof.spec.types import Claims, Gesture, State
from nudgeproof.units import Span
from tests.reference.clock import Clock

_ORDINARY = Claims()


class Presses:
    """`phase`: idle, down, pause, nobody, repeating, held, lent, extra, extra down or booting.

    `fire` is told each gesture that is complete.
    """

    def __init__(
        self,
        name: str,
        gestures: tuple[Gesture, ...],
        clock: Clock,
        fire: Callable[[Gesture], None],
        extra_taps: str = "begin anew",
        claims: Claims = _ORDINARY,
        elapsed: Span | None = None,
        ticks: Ticks | None = None,
    ) -> None:
        self.name = name
        self.gestures = tuple(gesture for gesture in gestures if gesture.button == name)
        self.clock = clock
        self.fire = fire
        self.extra_taps = extra_taps
        self.claims = claims
        self.is_marked = False  # the first press after waking is no tap
        self.passed: list[Span] = []  # the holds reached since another button went down
        self.phase = "idle"
        self.press = 0
        self.possible: list[Gesture] = []
        self.complete: Gesture | None = None
        self.reached: Span | None = None
        self.lasted: list[Span] = []  # all holds of this press that were reached
        self.largest: Gesture | None = None
        self.elapsed = elapsed
        self.steps = ticks
        self.counts_ticks = False
        self.ticks = 0  # of this pause
        self.asleep = ""  # how a pause goes on while the processor sleeps
        self.over: list[Callable[[], None]] = []  # what became of it meanwhile
        self.may_come_round = False
        self.begun: list[Gesture] = []  # what this press could be when it began, and may be again
        self.begun_as = 0
        self.seen_late: list[Gesture] | None = None  # what is seen as the processor runs again
        self.is_early = False  # press 1 is begun and not accepted
        self.held_back: Gesture | None = None
        self.booted: list[tuple[str, Callable[[], None]]] = []  # limits of press 1 that were over before the start

    # What the patterns say of press number `self.press`.

    def is_tap(self, gesture: Gesture) -> bool:
        return self.press > len(gesture.presses) or gesture.presses[self.press - 1] == "tap"

    def needs_more(self, gesture: Gesture) -> bool:
        return self.press < len(gesture.presses)

    def acts_at_press(self, gesture: Gesture) -> bool:
        return gesture.presses[-1] == "tap" and gesture.acts_at == "press" and not self.needs_more(gesture)

    def used(self, state: State) -> list[Gesture]:
        names = {transition.gesture for transition in state.transitions}
        return [gesture for gesture in self.gestures if gesture.name in names]

    def may_have_more(self, gesture: Gesture) -> bool:
        if self.needs_more(gesture):
            return True
        return gesture is self.largest and self.extra_taps == "count as the largest"

    # What the reader sees.

    def goes_down_early(self, state: State) -> None:
        """The edge that wakes begins press 1, although nothing is accepted yet; it isn't press 1 where taps wait."""
        if self.phase != "idle":
            return
        self.is_early = True
        self.press_goes_down(state)

    def power_comes(self, states: Sequence[State]) -> None:
        """The limits of press 1 run during the start-up, whatever state comes of it."""
        self.begin_again("booting")
        self.press = 1
        for gesture in self.gestures:
            if any(gesture in self.used(state) for state in states) and not self.acts_at_press(gesture):
                self.first_limits_begin(gesture)

    def first_limits_begin(self, gesture: Gesture) -> None:
        if self.is_tap(gesture):
            assert gesture.press is not None
            self.limit("tap limit", gesture.press, self.tap_is_too_long)
        else:
            assert gesture.held is not None
            self.limit("hold", gesture.held, self.hold_is_over)
        if gesture.between_presses and self.needs_more(gesture):
            assert gesture.between is not None
            self.limit("press to press", gesture.between, self.next_press_is_late)

    def is_over_before_the_start(self, kind: str, span: Span, then: Callable[[Span], None]) -> bool:
        if self.phase == "booting":
            self.booted.append((self.key(kind, span), lambda: then(span)))
        return self.phase == "booting"

    def firmware_starts(self, is_closed: bool, state: State) -> None:
        """A button that is closed now has been down since power came."""
        if self.phase != "booting":
            return
        booted, self.booted = self.booted, []
        if not is_closed:
            self.begin_again("idle")
            return
        self.is_early = True
        self.reached = None
        self.first_press_of(state)
        for gesture in self.possible:
            if self.acts_at_press(gesture):
                self.tell(gesture)
        self.possible = [gesture for gesture in self.possible if not self.acts_at_press(gesture)]
        self.phase = "down"
        if not self.possible:
            self.becomes_nobodys()
        self.drop_all_limits_but(self.limits_of_press())
        for key, know in booted:
            if self.phase == "down" and key in self.limits_of_press():
                know()

    def forget_early(self) -> None:
        if self.is_early:
            self.begin_again("idle")

    def goes_down(self, state: State) -> None:
        if self.is_early:
            self.is_early, seen, self.held_back = False, self.held_back, None
            if seen is not None and self.is_marked:
                self.is_marked = False
                self.begin_again("nobody")
            elif seen is not None:
                self.fire(seen)
            return
        self.press_goes_down(state)

    def press_goes_down(self, state: State) -> None:
        self.drop("pause")
        self.drop("tick")
        self.drop("comes round")
        self.drop("press to press")
        if self.phase == "extra":
            self.drop("extra")
            self.phase = "extra down"
            return
        was_lent = self.phase == "lent"
        if self.phase in ("idle", "lent"):
            self.first_press_of(state)
        self.press += 1
        self.complete = None
        if self.passed:
            self.lent_press()
            return
        at_once = [gesture for gesture in self.possible if self.acts_at_press(gesture)]
        if at_once and self.is_marked:
            self.is_marked = False
            self.begin_again("nobody")
            return
        self.possible = [gesture for gesture in self.possible if gesture not in at_once]
        self.press_begins(holds_run=was_lent)
        for gesture in at_once:
            self.tell(gesture)

    def first_press_of(self, state: State) -> None:
        self.possible = self.used(state)
        self.find_largest(state)

    def find_largest(self, state: State) -> None:
        rows = [g for g in self.used(state) if len(g.presses) > 1 and "hold" not in g.presses]
        self.largest = max(rows, key=lambda g: len(g.presses), default=None)

    def lent_press(self) -> None:
        """Holds were reached before this press began."""
        self.possible = [g for g in self.possible if not self.is_tap(g) and g.held not in self.passed[:-1]]
        self.reached = self.passed[-1]
        self.passed = []
        self.phase = "down"
        if self.is_marked and self.counts_now() is not None:
            self.is_marked = False
            self.begin_again("nobody")
            return
        self.look_while_down()

    def press_begins(self, holds_run: bool) -> None:
        self.reached, self.lasted = None, []
        if self.comes_round_unseen() and self.possible:
            assert self.elapsed is not None
            self.begun, self.begun_as = list(self.possible), self.press
            self.clock.begin(self.key("press round", self.elapsed), self.elapsed, self.press_comes_round)
        self.phase = "down" if self.possible else "nobody"
        for gesture in self.possible:
            if self.is_tap(gesture):
                assert gesture.press is not None
                self.limit("tap limit", gesture.press, self.tap_is_too_long)
            elif not holds_run:
                assert gesture.held is not None
                self.limit("hold", gesture.held, self.hold_is_over)
            if gesture.between_presses and self.needs_more(gesture):
                assert gesture.between is not None
                self.limit("press to press", gesture.between, self.next_press_is_late)

    def comes_round_unseen(self) -> bool:
        return self.elapsed is not None and self.claims.length == "reckoned at the release"

    def press_comes_round(self) -> None:
        """To the firmware the press begins only now."""
        for kind in ("tap limit", "hold", "press to press"):
            self.drop(kind)
        self.possible, self.press = list(self.begun), self.begun_as
        self.press_begins(holds_run=False)

    def goes_up(self, state: State) -> None:
        self.forget_begun()
        self.may_come_round = state.sleep is not None and state.sleep.outlasts and not state.sleep.begins_anew
        self.counts_ticks = state.sleep is not None and state.sleep.goes_on
        is_tap_too = self.release_is_a_tap()
        if self.is_marked and (is_tap_too or (self.phase == "down" and self.reached is None)):
            self.is_marked = False
            self.begin_again("idle")
            return
        self.is_marked = self.is_marked and self.claims.waking == "no tap until one came"
        if is_tap_too:
            self.begin_again("down")
            self.first_press_of(state)
            self.press = 1
            self.reached = None
            self.possible = [g for g in self.possible if self.is_tap(g) and not self.acts_at_press(g)]
            for gesture in self.possible:
                if gesture.between_presses and self.needs_more(gesture):
                    assert gesture.between is not None
                    self.limit("press to press", gesture.between, self.next_press_is_late)
        for kind in ("tap limit", "hold", "repeat"):
            self.drop(kind)
        if self.phase == "extra down":
            self.swallow()
            return
        if self.phase in ("nobody", "repeating"):
            self.begin_again("idle")
            return
        lasted = self.lasted if self.two_may_fit() else [self.reached]
        fitting = [g for g in self.possible if self.is_tap(g) or g.held in lasted]
        whole = [g for g in fitting if not self.needs_more(g)]
        self.complete = whole[0] if whole else None
        self.possible = [g for g in fitting if self.may_have_more(g)]
        self.phase = "pause"
        now = self.complete
        if now is not None and now.presses[-1] == "tap" and now.acts_at in ("press", "release"):
            self.complete = None
            self.pause_begins()
            self.fire(now)
            return
        self.pause_begins()

    def release_is_a_tap(self) -> bool:
        """Whether a hold or a chord was seen whose release counts once more."""
        return self.phase == "held" or (self.phase == "repeating" and self.claims.after_hold == "a tap")

    def two_may_fit(self) -> bool:
        return self.claims.two_fit == "the first in the file"

    def forget_begun(self) -> None:
        self.begun = []
        self.drop("press round")

    def falls_asleep(self, is_down: bool, sleep: Sleep) -> None:
        if self.phase != "pause" or not sleep.outlasts:
            self.begin_again("nobody" if is_down else "idle")
            return
        stands = sleep.begins_anew or sleep.goes_on
        self.asleep = "stands" if stands else "runs"
        if stands:
            for kind in ("pause", "press to press", "comes round", "tick"):
                self.drop(kind)
        if self.counts_ticks and self.steps is not None and self.steps.asleep is not None:
            self.tick_later(Span(0, self.steps.asleep.hi), self.ticks_asleep)

    # Ticks.

    def tick_later(self, span: Span, then: Callable[[], None]) -> None:
        if self.ticks < self.most_ticks():
            self.clock.begin(self.key("tick", span), span, then)

    def most_ticks(self) -> int:
        """So many that every pause is over."""
        assert self.steps is not None
        longest = max(int(gesture.between.hi) for gesture in self.gestures if gesture.between is not None)
        return -(-longest // self.steps.awake.lo)

    def ticks_awake(self) -> None:
        assert self.steps is not None
        self.ticks += 1
        self.tick_later(self.steps.awake, self.ticks_awake)

    def ticks_asleep(self) -> None:
        assert self.steps is not None
        assert self.steps.asleep is not None
        self.ticks += self.steps.worth
        self.tick_later(self.steps.asleep, self.ticks_asleep)

    def goes_on(self) -> None:
        """The processor runs again: what is left of the limits goes on, unless nothing is."""
        assert self.steps is not None
        for gesture in list(self.possible):
            limit = gesture.between
            assert limit is not None
            most = int(limit.hi) - self.ticks * self.steps.awake.lo
            least = max(0, limit.lo - self.ticks * int(self.steps.awake.hi))
            if most > 0:
                rest = Span(least, most)
                self.clock.begin(self.key("pause", rest), rest, partial(self.pause_is_too_long, limit))
            else:
                self.over.append(partial(self.pause_is_too_long, limit))
        self.tick_later(self.steps.awake, self.ticks_awake)

    def wakes(self) -> None:
        """The processor runs again: what was over meanwhile is known, or all begins anew."""
        was, self.asleep = self.asleep, ""
        self.drop("tick") if was else None
        if was == "stands" and self.counts_ticks:
            self.goes_on()
        elif was == "stands":
            self.limits_begin_anew()
        over, self.over = self.over, []
        self.seen_late = []
        for know in over:
            if self.phase == "pause":
                know()

    def see_late(self) -> None:
        seen, self.seen_late = self.seen_late or [], None
        for gesture in seen:
            self.fire(gesture)

    def comes_round(self) -> None:
        """Elapsed time is nothing again."""
        if self.asleep:
            self.over = []
            self.limits_begin_anew()

    def limits_begin_anew(self) -> None:
        for gesture in self.possible:
            assert gesture.between is not None
            if gesture.between_presses and self.needs_more(gesture):
                self.limit("press to press", gesture.between, self.next_press_is_late)
            else:
                self.limit("pause", gesture.between, self.pause_is_too_long)
        self.count_elapsed()

    def count_elapsed(self) -> None:
        if self.elapsed is not None and self.may_come_round:
            self.clock.begin(self.key("comes round", self.elapsed), self.elapsed, self.comes_round)

    def pause_begins(self) -> None:
        self.ticks = 0
        if self.counts_ticks and self.steps is not None and self.possible:
            self.tick_later(self.steps.awake, self.ticks_awake)
        self.count_elapsed()
        for gesture in self.possible:
            if not (gesture.between_presses and self.needs_more(gesture)):
                assert gesture.between is not None
                self.limit("pause", gesture.between, self.pause_is_too_long)
        if not self.possible:
            self.ends_up()

    def tell(self, gesture: Gesture) -> None:
        """Of an early press nothing is seen before it is accepted."""
        if self.seen_late is not None:
            self.seen_late.append(gesture)
        elif not self.is_early:
            self.fire(gesture)
        elif self.held_back is None:
            self.held_back = gesture

    def state_entered(self, is_down: bool, state: State) -> None:
        if self.phase in ("extra", "extra down", "booting"):
            return
        if self.is_early:
            self.begin_again("idle")
        elif is_down and self.claims.new_state == "begins it anew":
            self.begin_again("idle")
            self.first_press_of(state)
            self.press = 1
            self.possible = [gesture for gesture in self.possible if not self.acts_at_press(gesture)]
            self.press_begins(holds_run=False)
        elif self.release_is_a_tap():
            self.begin_again("held")
        elif (self.phase == "down" or self.begun) and self.claims.new_state == "keeps the press" and not self.is_early:
            self.keep_press(state)
        else:
            self.begin_again("nobody" if is_down else "idle")

    def keep_press(self, state: State) -> None:
        self.possible = [gesture for gesture in self.possible if gesture in self.used(state)]
        self.begun = [gesture for gesture in self.begun if gesture in self.used(state)]
        if not self.begun:
            self.forget_begun()
        self.find_largest(state)
        if not self.possible:
            self.no_pattern_is_left("nobody")
            return
        self.drop_all_limits_but(self.limits_of_press())

    def limits_of_press(self) -> set[str]:
        """What still decides over this press."""
        wanted = set()
        for gesture in self.possible:
            span = gesture.press if self.is_tap(gesture) else gesture.held
            wanted.add(self.key("tap limit" if self.is_tap(gesture) else "hold", span))
            if gesture.between_presses and self.needs_more(gesture):
                wanted.add(self.key("press to press", gesture.between))
        return wanted

    def drop_all_limits_but(self, wanted: set[str]) -> None:
        for kind in ("tap limit", "hold", "press to press"):
            for running in self.clock.running(f"{kind} {self.name}:"):
                if running not in wanted:
                    self.clock.drop(running)

    def another_goes_down(self, state: State) -> None:
        if self.phase == "idle" and self.claims.hold_from == "any press":
            self.phase = "lent"
            for gesture in self.used(state):
                if gesture.presses[0] == "hold":
                    assert gesture.held is not None
                    self.limit("hold", gesture.held, self.hold_is_over)

    def all_others_are_up(self) -> None:
        if self.phase == "lent":
            self.begin_again("idle")

    def begin_again(self, phase: str) -> None:
        self.forget_begun()
        self.no_pattern_is_left(phase)

    def no_pattern_is_left(self, phase: str) -> None:
        for kind in ("tap limit", "hold", "pause", "press to press", "repeat", "extra", "comes round", "tick"):
            self.drop(kind)
        self.phase = phase
        self.asleep, self.over = "", []
        self.booted = []
        self.passed = []
        self.lasted = []
        self.press = 0
        self.possible = []
        self.complete = None
        self.is_early, self.held_back = False, None

    # Times.

    def limit(self, kind: str, span: Span, then: Callable[[Span], None]) -> None:
        """Equal limits are one."""
        self.clock.begin(self.key(kind, span), span, lambda: then(span))

    def key(self, kind: str, span: Span | None) -> str:
        assert span is not None
        return f"{kind} {self.name}: {span.lo} {span.hi}"

    def drop(self, kind: str) -> None:
        self.clock.drop_all(f"{kind} {self.name}:")

    def tap_is_too_long(self, span: Span) -> None:
        if self.is_over_before_the_start("tap limit", span, self.tap_is_too_long):
            return
        self.possible = [g for g in self.possible if not (self.is_tap(g) and g.press == span)]
        self.look_while_down()

    def hold_is_over(self, span: Span) -> None:
        if self.is_over_before_the_start("hold", span, self.hold_is_over):
            return
        if self.phase == "lent":
            self.passed.append(span)
            return
        self.lasted.append(span)
        if self.two_may_fit():
            self.reached = span
            return
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
        if self.is_over_before_the_start("press to press", span, self.next_press_is_late):
            return
        if self.asleep:
            self.over.append(lambda: self.next_press_is_late(span))
            return
        self.possible = [
            g for g in self.possible if not (g.between_presses and g.between == span and self.needs_more(g))
        ]
        if self.phase == "down":
            self.look_while_down()
        elif not self.possible:
            self.ends_up()

    def pause_is_too_long(self, span: Span) -> None:
        if self.asleep:
            self.over.append(lambda: self.pause_is_too_long(span))
            return
        counted = [g for g in self.possible if not (g.between_presses and self.needs_more(g))]
        self.possible = [g for g in self.possible if not (g in counted and g.between == span)]
        if not self.possible:
            self.ends_up()

    def counts_now(self) -> Gesture | None:
        """A hold that has lasted and needn't wait any more."""
        if len(self.possible) != 1:
            return None
        only = self.possible[0]
        waits = self.is_tap(only) or only.held != self.reached or self.needs_more(only) or only.at_release
        return None if waits else only

    def look_while_down(self) -> None:
        """Whether the press became nobody's, or a hold counts."""
        if not self.possible:
            self.becomes_nobodys()
            return
        self.drop_all_limits_but(self.limits_of_press())
        only = self.counts_now()
        if only is None:
            return
        self.becomes_nobodys("held" if self.claims.after_hold == "a tap" else "nobody")
        if only.repeats is not None:
            self.phase = "repeating"
            self.repeat_later(only)
        self.tell(only)

    def becomes_nobodys(self, phase: str = "nobody") -> None:
        early, seen = self.is_early, self.held_back
        self.no_pattern_is_left(phase)
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
        self.tell(complete)

    def swallow(self) -> None:
        assert self.largest is not None
        assert self.largest.between is not None
        self.phase = "extra"
        self.limit("extra", self.largest.between, lambda span: self.begin_again("idle"))
