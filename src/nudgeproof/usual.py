"""What usually cures a failure that its story shows a deeper reason of than its question knows.

A question names what usually helps before it is answered; how the device came to fail is seen in the story only. Each line
here is a sign in a story, and what helps there.
"""

from __future__ import annotations

from nudgeproof.engines.story import Beat, Story
from nudgeproof.model.tables import Model
from nudgeproof.parts.attention import QUEUE_FULL
from nudgeproof.parts.performer import PERFORMER
from nudgeproof.parts.ram import DECAYED, Cells
from nudgeproof.parts.sleep import DEAF
from nudgeproof.parts.supply import CUT, RESET
from nudgeproof.spec.types import Device

_RAISED = "raise the brown-out level only after the voltage is surely there: a longer start (`power up: {takes: ...}`)"
_CAUSE_LEFT = "clear the causes that a start has read (`power up: {causes: read and cleared}`)"
_QUEUE_FULL = "a longer queue (`queue: {}`), or be busy, or write, for less time"
_UNREAD = "read {} in an interrupt (`read in: interrupt`, with a `queue`), or be busy, or write, for less time"
_RAM_BELIEVED = "a checksum over what RAM keeps, in place of a marker beside it (`ram: {checked by: checksum}`)"


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


def _believes_ram(beat: Beat) -> bool:
    """Whether a start takes what is left of RAM for what it kept."""
    pairs = ((beat.before[taken.part], taken.choice.to) for taken in beat.move.taken)
    return any(
        isinstance(held, Cells) and held.phase == DECAYED and isinstance(reads, Cells) and reads.gives is not None
        for held, reads in pairs
    )
