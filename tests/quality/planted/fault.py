"""A fault to plant: one change of source text, and the tests that should find it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

SOURCES = "src/nudgeproof"

ASLEEP = "tests/parts/test_asleep.py"
ATTENTIVE = "tests/parts/test_events.py"
WAITING = "tests/parts/test_attention.py"
CERTIFICATE = "tests/engines/test_certificate.py"
CHART = "tests/parts/test_chart.py"
CHORD = "tests/parts/test_chord.py"
CLOSEST = "tests/quality/test_closest.py"
EFFORT = "tests/test_effort.py"
CONTACT = "tests/parts/test_contact.py"
HAZARDS = "tests/hazards/test_hazards.py"
LATCH = "tests/parts/test_latch.py"
LIMITS = "tests/hazards/test_limits.py"
OUTSIDE = "tests/hazards/test_outside.py"
PROMISES = "tests/questions/test_promises.py"
READER = "tests/parts/test_reader.py"
COMES_ROUND = "tests/parts/test_comes_round.py"
PENDING = "tests/parts/test_pending_taps.py"
COUNTED = "tests/parts/test_counted_taps.py"
FROM_POWER = "tests/parts/test_from_power.py"
PRESS_LENGTH = "tests/parts/test_press_length.py"
CLAIMS = "tests/parts/test_claims.py"
RECOGNISER = "tests/parts/test_recogniser.py"
RAM = "tests/parts/test_ram.py"
CAUSES = "tests/parts/test_causes.py"
RESETS = "tests/parts/test_resets.py"
RHYTHM = "tests/test_rhythm.py"
SLEEP = "tests/parts/test_sleep.py"
STAND_INS = "tests/parts/test_gestures.py"
STORIES = "tests/agreement/test_story_times.py"
SURE = "tests/hazards/test_sure_ways.py"
TAKES = "tests/quality/test_takes.py"
TRAIL = "tests/parts/test_trail.py"
WHERE = "tests/agreement/test_where_on_specimens.py"


def like_the_naive_one(*names: str) -> tuple[str, ...]:
    """The comparison with the naive simulator, on these devices only."""
    return tuple(f"tests/agreement/test_reference.py::test_both_show_the_same[{name}]" for name in names)


@dataclass(frozen=True, slots=True)
class Planted:
    """In `module` the text `old` reads `new`; looked for behind the first `within`, up to the next function of the module.

    `by`: the tests that should find it, the cheapest first. `same`: why nothing can tell it from the module as it is; ""
    if something should.
    """

    name: str
    module: str
    old: str
    new: str
    by: tuple[str, ...]
    within: str = ""
    same: str = ""

    def places(self, text: str) -> int:
        """How often the text to change stands where it is looked for."""
        return self._part(text).count(self.old)

    def plant(self, text: str) -> str:
        """The module's text with the fault; raises `ValueError` if the text to change doesn't stand there just once."""
        if self.places(text) != 1:
            raise ValueError(f"{self.module}, {self.name}: the text stands there {self.places(text)} times")
        part = self._part(text)
        return text.replace(part, part.replace(self.old, self.new), 1)

    def _part(self, text: str) -> str:
        begin = text.index(self.within)
        end = text.find("\ndef ", begin + len(self.within)) if self.within else -1
        return text[begin:] if end < 0 else text[begin:end]


Plant = Callable[..., Planted]


def into(module: str, *by: str) -> Plant:
    """Plants faults into `module`, to be found by tests of their own before `by`."""

    def plant(
        name: str, old: str, new: str, *own: str, within: str = "", same: str = "", only: bool = False
    ) -> Planted:
        return Planted(name, module, old, new, own if only else tuple(dict.fromkeys((*own, *by))), within, same)

    return plant


def read(folder: Path, module: str) -> str:
    """The text of a module, by its path below the package and without its ending."""
    return (folder / f"{module}.py").read_text(encoding="utf-8")


def modules(faults: Iterable[Planted]) -> tuple[str, ...]:
    """The modules that faults are planted into, each once."""
    return tuple(dict.fromkeys(fault.module for fault in faults))
