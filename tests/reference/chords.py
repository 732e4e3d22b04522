"""The section *Chords* of the reference page, for all chords of one specimen."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from nudgeproof.spec.types import Device, Gesture, State
from nudgeproof.units import Span
from tests.reference.clock import Clock


class Chords:
    """`fire` is told each chord that counts, `disown` each button whose press is one's, `give_back` if its release isn't."""

    def __init__(
        self,
        device: Device,
        clock: Clock,
        reading: Mapping[str, bool],
        fire: Callable[[Gesture], None],
        disown: Callable[[str], None],
        give_back: Callable[[str], None],
    ) -> None:
        self.chords = [gesture for gesture in device.gestures if gesture.chord is not None]
        self.clock = clock
        self.reading = reading
        self.fire = fire
        self.disown = disown
        self.give_back = give_back
        self.may_be_joined: set[tuple[str, str]] = set()  # chord and button
        self.joined: set[str] = set()

    def owns(self, button: str) -> bool:
        """Whether a press of this button belongs to a chord that was joined and isn't let go."""
        return any(chord.name in self.joined and button in chord.buttons for chord in self.chords)

    def begins(self, button: str, state: State) -> Callable[[], None]:
        """A press begins in a state. What then comes of it waits until its own button's patterns have begun."""
        used = {transition.gesture for transition in state.transitions}
        mine = [chord for chord in self.chords if chord.name in used and button in chord.buttons]
        for chord in mine:
            other = next(name for name in chord.buttons if name != button)
            if (chord.name, other) in self.may_be_joined:
                return self.join(chord)
        for chord in mine:
            assert chord.chord is not None
            self.may_be_joined.add((chord.name, button))
            self.clock.begin(f"join {chord.name}", chord.chord.within, lambda c=chord: self.too_late(c))  # type: ignore[misc]
        return lambda: None

    def join(self, chord: Gesture) -> Callable[[], None]:
        self.joined.add(chord.name)
        for button in chord.buttons:
            self.cannot_join(button)
        if chord.held is not None:
            self.hold_begins(chord, chord.held)

        def counts() -> None:
            for button in chord.buttons:
                self.disown(button)
            if chord.held is None:
                self.counts(chord)

        return counts

    def counts(self, chord: Gesture) -> None:
        assert chord.chord is not None
        for button in chord.buttons if chord.chord.gives_back else ():
            self.give_back(button)
        self.fire(chord)

    def hold_begins(self, chord: Gesture, held: Span) -> None:
        self.clock.begin(f"held together {chord.name}", held, lambda: self.counts(chord))

    def too_late(self, chord: Gesture) -> None:
        self.may_be_joined = {(name, button) for name, button in self.may_be_joined if name != chord.name}

    def cannot_join(self, button: str) -> None:
        for name, other in sorted(self.may_be_joined):
            if other == button:
                self.may_be_joined.remove((name, other))
                self.clock.drop(f"join {name}")

    def goes_up(self, button: str) -> None:
        self.cannot_join(button)
        for chord in self.chords:
            if button in chord.buttons:
                self.clock.drop(f"held together {chord.name}")
                if not any(self.reading[name] for name in chord.buttons):
                    self.joined.discard(chord.name)

    def state_is_entered(self) -> None:
        self.may_be_joined.clear()
        for chord in self.chords:
            self.clock.drop(f"join {chord.name}")
            self.clock.drop(f"held together {chord.name}")

    def forget(self) -> None:
        self.state_is_entered()
        self.joined.clear()
