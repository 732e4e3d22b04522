"""What usually cures a failure that its story shows a deeper reason of than its question knows.

A question names what usually helps before it is answered; how the device came to fail is seen in the story only. Each line
here is a sign in a story, and what helps there.
"""

from __future__ import annotations

from nudgeproof.engines.story import Beat, Story
from nudgeproof.model.tables import Model
from nudgeproof.parts.attention import QUEUE_FULL
from nudgeproof.parts.chord import gives_back
from nudgeproof.parts.performer import PERFORMER
from nudgeproof.parts.press_length import ROUND
from nudgeproof.parts.ram import DECAYED, Cells
from nudgeproof.parts.recogniser import TAP_AT_UP
from nudgeproof.parts.sleep import DEAF
from nudgeproof.parts.supply import CUT, RESET
from nudgeproof.spec.types import Device

_RAISED = "raise the brown-out level only after the voltage is surely there: a longer start (`power up: {takes: ...}`)"
_CAUSE_LEFT = "clear the causes that a start has read (`power up: {causes: read and cleared}`)"
_QUEUE_FULL = "a longer queue (`queue: {}`), or be busy, or write, for less time"
_UNREAD = "read {} in an interrupt (`read in: interrupt`, with a `queue`), or be busy, or write, for less time"
_RAM_BELIEVED = "a checksum over what RAM keeps, in place of a marker beside it (`ram: {checked by: checksum}`)"

_GIVEN_BACK = "leave both releases to the chord (`releases: belong to the chord`), so that only later presses are taps"

_COMES_ROUND = (
    "look at a press while it lasts, or keep its time in a wider type (`length of a press: looked at all the while`)"
)


def cure_seen_in(device: Device, model: Model, story: Story) -> str:
    """What usually cures a failure with such a story; "" where the story has no sign of its own."""
    if any(beat.part == "rising voltage" and CUT in beat.move.taken[0].choice.send for beat in story.beats):
        return _RAISED
    if any(_believes_ram(beat) for beat in story.beats):
        return _RAM_BELIEVED
    if any(taken.choice.says.endswith(QUEUE_FULL) for beat in story.beats for taken in beat.move.taken):
        return _QUEUE_FULL.format(device.queue + 1)
    unread = _unread(device, model, story)
    if unread:
        return _UNREAD.format(" and ".join(unread))
    rules, ends = device.power_up, model.value(story.beats[-1].after, "state")
    resets = sum(RESET in taken.choice.send for beat in story.beats for taken in beat.move.taken)
    if rules is not None and rules.causes_left and resets > 1 and ends in dict(rules.starts_in).values():
        return _CAUSE_LEFT
    if _comes_round(story):
        return _COMES_ROUND
    if any(_takes_release(device, story, number) for number in range(len(story.beats))):
        return _GIVEN_BACK
    return ""


def _unread(device: Device, model: Model, story: Story) -> list[str]:
    """The buttons that the person moves on purpose while the firmware runs and doesn't look, being busy or writing."""
    if not model.publishes(DEAF):
        return []
    moved = {
        letter.removeprefix("push ")
        for beat in story.beats
        if beat.part == PERFORMER and model.value(beat.before, DEAF)
        for letter in beat.move.taken[0].choice.send
    }
    return [button.name for button in device.buttons if button.name in moved and not button.in_interrupt]


def _comes_round(story: Story) -> bool:
    """Whether the last press that begins is so long that its length comes round."""
    causes = [taken.cause for beat in story.beats for taken in beat.move.taken]
    last = next(
        (cause for cause in reversed(causes) if cause == f"timer {ROUND}" or cause.startswith("signal down ")), ""
    )
    return last == f"timer {ROUND}"


def _takes_release(device: Device, story: Story, number: int) -> bool:
    """Whether a release that a chord gave back is seen as that of a tap in this beat."""
    beat = story.beats[number]
    given = {signal for earlier in story.beats[:number] for taken in earlier.move.taken for signal in taken.choice.send}
    return any(
        gives_back(button.name) in given and taken.cause == f"signal up {button.name}" and taken.choice.send
        for button in device.buttons
        for taken in beat.move.taken
        if beat.before[taken.part] == TAP_AT_UP
    )


def _believes_ram(beat: Beat) -> bool:
    """Whether a start takes what is left of RAM for what it kept."""
    pairs = ((beat.before[taken.part], taken.choice.to) for taken in beat.move.taken)
    return any(
        isinstance(held, Cells) and held.phase == DECAYED and isinstance(reads, Cells) and reads.gives is not None
        for held, reads in pairs
    )
