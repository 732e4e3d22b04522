"""What the hazards about memory have in common: each source of interruptions, while someone uses the device."""

from __future__ import annotations

from nudgeproof.model.step import Test
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.gestures import can_stand_in
from nudgeproof.questions.ask import NotAsked, Question, change, users
from nudgeproof.questions.steps import acting
from nudgeproof.spec.types import Device, Outage


def ask_each(device: Device, name: str, bad: Test, may: str, never: str, cure: str) -> tuple[Question, ...] | NotAsked:
    """One question for each source of interruptions: after it, may the device `may`?"""
    outages = [what for what in device.surroundings if isinstance(what, Outage)]
    if device.memory is None:
        return NotAsked(name, "the spec has no `memory`, so nothing is promised to be kept")
    if not outages:
        return NotAsked(name, "no surroundings interrupt the supply (`cell gone: ...`)")
    who, pressing = users(device)

    def question(what: Outage) -> Question:
        return Question(
            hazard=name,
            subject=what.name,
            environment=Environment((*who, what.name), watched=True),
            looked_for=bad,
            unwanted=True,
            came_up=(acting(what.name),),
            told=lambda before, after: (
                f"with {what.name} and {pressing} the device can {may} ({change(before, after)})"
            ),
            denied="",
            held=f"with {what.name} and {pressing} the device {never}, whatever the timing",
            all_held=f"with each of these and {pressing} the device {never}, whatever the timing",
            cure=cure,
            at=what.at,
            by=what.name,
            wider=(Environment((what.name, *device.meant), watched=True, gestures=True), bad)
            if can_stand_in(device)
            else None,
        )

    return tuple(question(what) for what in outages)
