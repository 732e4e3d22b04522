"""What the hazards about memory have in common: each source of interruptions, while someone uses the device.

What resets the device although its cell is there acts in every environment; where nothing takes the cell away it is asked
about by itself.
"""

from __future__ import annotations

from nudgeproof.diagnostics import Place
from nudgeproof.hazards.weak_cells import WEAK_CELLS, holding, percent
from nudgeproof.model.step import Test
from nudgeproof.parts.behaviours import Behaviour, TooMany, brown_outs
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.gestures import can_stand_in
from nudgeproof.questions.ask import Derived, NotAsked, Question, change, users
from nudgeproof.questions.steps import acting
from nudgeproof.spec.types import Device, Outage

NOTHING_INTERRUPTS = "no surroundings interrupt the supply (`cell gone: ...`)"


def ask_each(
    device: Device, name: str, bad: Test, may: str, never: str, cure: str
) -> tuple[Question | Derived, ...] | NotAsked:
    """One question for each source of interruptions: after it, may the device `may`?"""
    outages = [what for what in device.surroundings if isinstance(what, Outage)]
    if device.memory is None:
        return NotAsked(name, "the spec has no `memory`, so nothing is promised to be kept")
    weak = known_brown_outs(device)
    said = never_resets(device)
    if not outages and not device.resets and not weak and not said:
        return NotAsked(name, NOTHING_INTERRUPTS)
    who, pressing = users(device)

    def question(subject: str, at: Place, sources: tuple[str, ...], sags: int = -1) -> Question:
        return Question(
            hazard=name,
            subject=subject,
            environment=Environment((*who, *sources), watched=True, sags=sags),
            looked_for=bad,
            unwanted=True,
            came_up=tuple(acting(source) for source in sources),
            told=lambda before, after: f"with {subject} and {pressing} the device can {may} ({change(before, after)})",
            denied="",
            held=f"with {subject} and {pressing} the device {never}, whatever the timing",
            all_held=f"with each of these and {pressing} the device {never}, whatever the timing",
            cure=cure,
            at=at,
            by=sources[0] if sources else "",
            wider=(Environment((*sources, *device.meant), watched=True, gestures=True), bad)
            if can_stand_in(device) and sags < 0
            else None,
        )

    asked: list[Question | Derived] = [question(what.name, what.at, (what.name,)) for what in outages]
    if not outages and device.resets:
        asked.append(question(" and ".join(device.resets), device.memory.at, ()))
    if weak:
        at = device.memory.at
        asked.append(Derived(tuple(question(WEAK_CELLS, at, (), number) for number in range(len(weak))), None))
    if said:
        asked.append(holding(name, WEAK_CELLS, said, device.memory.at))
    return tuple(asked)


def never_resets(device: Device) -> str:
    """In words, that weak cells never reset the device and let it start again; "" if they may, or nothing is known of it."""
    electricity = device.electricity
    if electricity is None or electricity.reset is None or device.power_up is None:
        return ""
    try:
        found = brown_outs(device)
    except TooMany:
        return ""
    until = percent(electricity.until)
    return "" if found else f"no load resets the device and lets it start again, until {until} of the cells is used"


def known_brown_outs(device: Device) -> tuple[Behaviour, ...]:
    """What weak cells may do, where a start after it is described; nothing where that is too much to be told apart."""
    if device.power_up is None:
        return ()
    try:
        return brown_outs(device)
    except TooMany:
        return ()
