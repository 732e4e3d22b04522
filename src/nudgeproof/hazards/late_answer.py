"""Late answer: the firmware sees a gesture, but later than the spec says it must.

A longer pattern that is in use in the same state makes a shorter one wait, and slow debounce or waking delays all. The
limit is the gesture's own `answered within`, counted from the end of what the person does: the last release, or for a
hold its press.
"""

from __future__ import annotations

from nudgeproof.hazards import missed_gesture
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.people import ANYTHING
from nudgeproof.parts.performer import DONE, LATE, Act
from nudgeproof.questions.ask import NotAsked, Question, needed_before
from nudgeproof.questions.steps import ending_as
from nudgeproof.spec.types import Device
from nudgeproof.units import show_us

NAME = "late-answer"
MEANS = "the firmware sees a gesture later than its `answered within` allows"
CURE = (
    "use no longer pattern in that state, shorten its `between`, the debounce or the time to wake, or "
    "act on the first step and"
    " make it harmless"
)
SHOWN = """\
button     ▁▁▁██▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁  a tap
firmware   |     |waits for a second tap|tap  late, and tapped again before"""
ASKED_IF = "`person`, and a gesture with `answered within`"
TEMPTING = (
    "a faster processor: most of the wait is the time for a longer pattern, which the firmware counts; or to act at once and"
    " take it back, which people see"
)
EXACT = (
    "exact for the habits stated, from any moment of rest, counted from the last release or for a hold from its press; a"
    " gesture that isn't seen at all is asked about as `missed-gesture`"
)


def ask(device: Device) -> tuple[Question, ...] | NotAsked:
    """One question for each act that ends in a gesture with a limit."""
    if device.person is None:
        return NotAsked(NAME, "no person is stated, so nobody's habits can be tried")
    wanted = tuple(
        Act(act.state, act.gestures, answer_us=limit)
        for act in missed_gesture.acts(device)
        if (limit := device.gesture(act.gestures[-1]).answer_us) is not None
    )
    if not wanted:
        return NotAsked(NAME, "no gesture states how soon it must be answered (`answered within: 300 ms`)")
    return tuple(question(device, NAME, str(act), wanted, i) for i, act in enumerate(wanted))


def question(device: Device, hazard: str, subject: str, acts: tuple[Act, ...], number: int) -> Question:
    """Can the answer to act `number` be late?"""
    act = acts[number]
    name, within = missed_gesture.tell(act), show_us(act.answer_us)
    return Question(
        hazard=hazard,
        subject=subject,
        environment=Environment((), ANYTHING, acts=acts, before=needed_before(device)),
        looked_for=ending_as(number, LATE),
        unwanted=True,
        came_up=(ending_as(number, DONE),),
        told=lambda before, after: f"{name}, done as the person does it, may not be answered within {within}",
        denied="",
        held=f"{name}, done as the person does it, is answered within {within} if it is seen",
        all_held="each, done as the person does it, is answered in time if it is seen",
        cure=CURE,
        at=device.gesture(act.gestures[-1]).at,
    )
