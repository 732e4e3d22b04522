"""What came of a spec or of a recording, with the text that the terminal would show."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, ParamSpec, TypeVar

from nudgeproof.cli.files import BadInput
from nudgeproof.diagnostics import SpecErrors
from nudgeproof.rig.build import CantBuild

if TYPE_CHECKING:
    from nudgeproof.firmware.mapping import Map
    from nudgeproof.firmware.recording import Recording
    from nudgeproof.spec.notes import Notes


_P = ParamSpec("_P")
_T = TypeVar("_T")


def told_plainly(call: Callable[_P, _T]) -> Callable[_P, _T]:
    """The function; its complaints begin where the test called it, since what is below is no help to its author."""

    @functools.wraps(call)
    def calling(*arguments: _P.args, **named: _P.kwargs) -> _T:
        __tracebackhide__ = True
        try:
            return call(*arguments, **named)
        except (SpecErrors, BadInput, CantBuild, Misbehaves, ValueError) as error:
            raise error.with_traceback(None) from None

    return calling


class Misbehaves(AssertionError):
    """The firmware did what no device may: it spins, crashes, floods, ...; docs/rig.md lists them."""


class NotAsExpected(AssertionError):
    """A spec doesn't hold, or a recording doesn't conform; the message is what the terminal would show."""


@dataclass(frozen=True, slots=True)
class Checked:
    """What came of a spec.

    `verdict`: the worst of all, `holds`, `broken`, `undecided` or `never came up`. `verdicts`: of each question, by its
    hazard and subject. `text`: the screen of `nudgeproof check`.
    """

    file: str
    verdict: str
    verdicts: Mapping[tuple[str, str], str]
    text: str

    @property
    def holds(self) -> bool:
        """Whether everything that was asked holds; what is undecided or never came up doesn't."""
        return self.verdict == "holds"

    def expect_holds(self) -> None:
        """Raise `NotAsExpected`, with the screen, unless everything holds."""
        __tracebackhide__ = True
        if not self.holds:
            raise NotAsExpected("\n" + self.text)


@dataclass(frozen=True, slots=True)
class Followed:
    """What came of a recording.

    `result`: `conforms`, `refused`, `left the stated surroundings`, `undecided` or `nothing happens`; `at_us`: when it was
    refused, or left. `surely_in`: states in which the device was for sure. `text`: the screen of `nudgeproof follow`.
    """

    file: str
    result: str
    at_us: int
    surely_in: tuple[str, ...]
    text: str

    @property
    def conforms(self) -> bool:
        """Whether a device of the spec may do what was recorded, to its end."""
        return self.result == "conforms"

    def expect_conforms(self) -> None:
        """Raise `NotAsExpected`, with the screen, unless it conforms."""
        __tracebackhide__ = True
        if not self.conforms:
            raise NotAsExpected("\n" + self.text)


def judge(spec: str, map: str, file: str, read: Callable[[Map, Notes], Recording], effort: str) -> Followed:
    """Follow what `read` gives for a map by a spec; `file` is what the screen calls it."""
    from nudgeproof.cli.files import read_bytes, read_spec
    from nudgeproof.cli.recordings import BUDGETS
    from nudgeproof.firmware.mapping import read_map
    from nudgeproof.firmware.outcome import follow
    from nudgeproof.report.recorded import Judged, show_recorded
    from nudgeproof.spec.read import decode

    device = read_spec(spec)
    what, notes = read_map(decode(read_bytes(map), map), map, device)
    recording = read(what, notes)
    outcome = follow(device, what, recording, BUDGETS[effort])
    text = show_recorded(Judged(file, device.name, spec, what, recording, outcome))
    return Followed(file, outcome.result.value, outcome.at_us, outcome.sure, text)
