"""Random use of a device: steps of the chart, and beside them knocks, chatter, presses at limits, lost contact.

Drawn from the spec and a seed, and from nothing that was recorded: what a device of the spec may do then isn't asked here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random

from nudgeproof.firmware.acts import BUTTON, CELL, EVENT, Act, Acts
from nudgeproof.firmware.tours import LEVELS, MIDDLE, Hand, begin_node, just_outside, ways_from
from nudgeproof.spec.outside import Maker
from nudgeproof.spec.types import Device, Disturbance, Outage

_LEAST_APART_US = 12
_STEPS = (3, 9)
_LONGEST_US = 40_000_000
_KINDS = ("step", "step", "step", "limit", "knock", "short presses", "cut", "cut in a press", "meanwhile", "events")
_PAUSES_US = (0, 20_000, 100_000, 300_000, 600_000, 2_000_000)


@dataclass(frozen=True, slots=True)
class Handling:
    """`can_cut`: the recording has the cell, and the spec says what follows when it is gone.

    `powers_up`: the recording begins with that, so a button may be held by then.
    """

    device: Device
    hand: Hand
    can_cut: bool
    powers_up: bool

    def use(self, chance: Random) -> tuple[Acts, int]:
        """Some acts, and when the recording ends."""
        acts: list[Act] = []
        node, now = begin_node(self.device), self.hand.begin_us
        if self.powers_up and chance.random() < 0.15:
            # Held while power comes up.
            button = chance.choice(self.device.buttons).name
            acts.append(Act(BUTTON, button, 0, chance.randint(1_000, 3_000_000)))
            now = acts[-1].end_us + self.hand.settles_us
        for _ in range(chance.randint(*_STEPS)):
            kind = chance.choice(_KINDS)
            begin = now
            if kind == "step":
                ways = [
                    way for way in ways_from(self.device, node) if way.kind != "none" and way.lasts_us < _LONGEST_US
                ]
                if not ways:
                    continue
                way = chance.choice(ways)
                new, now = self.hand.walk((way,), chance.choice(LEVELS), now)
                acts += new
                node = way.to
                if chance.random() < 0.3:
                    now = max(begin, now - chance.randint(0, self.hand.settles_us))
                continue
            new = self._draw(kind, chance, now)
            if not new:
                continue
            acts += new
            now = max(act.end_us for act in new) + chance.choice(_PAUSES_US)
        acts = [self._chatter(act, chance) for act in acts]
        return tuple(sorted(acts, key=lambda act: act.at_us)), now + self.hand.settles_us + 1_500_000

    def _draw(self, kind: str, chance: Random, now: int) -> Acts:
        """The acts of one kind; none where the device has nothing of it."""
        button = chance.choice(self.device.buttons)
        if kind == "limit" and self.device.gestures:
            gesture = chance.choice(self.device.gestures)
            return self.hand.perform(gesture, chance.choice(LEVELS), now, chance.choice(just_outside(gesture)))
        if kind == "knock":
            knocks = [one for one in self.device.surroundings if isinstance(one, Disturbance) and not one.for_good]
            if knocks:
                one = chance.choice(knocks)
                # A short closing has more to tell than a long one: most are drawn short.
                most = min(int(one.closes.hi), 3_000_000)
                lasts = chance.randint(one.closes.lo, max(one.closes.lo, chance.choice((min(most, 60_000), most))))
                return (Act(BUTTON, one.button, now, max(1, lasts)),)
        if kind == "short presses":
            found = []
            for _ in range(chance.randint(1, 4)):
                found.append(Act(BUTTON, button.name, now, chance.choice((5_000, 30_000, 60_000, 400_000))))
                now = found[-1].end_us + chance.choice((5_000, 40_000, 120_000, 250_000))
            return tuple(found)
        if kind.startswith("cut") and self.can_cut:
            cut = Act(CELL, "", now, self._gone(chance))
            if kind == "cut":
                return (cut,)
            press = Act(BUTTON, button.name, now, chance.choice((100_000, 300_000, 1_500_000)))
            return press, replace(cut, at_us=now + chance.randint(0, press.lasts_us + 400_000))
        if kind == "meanwhile" and len(self.device.buttons) > 1:
            first, second = chance.sample(self.device.buttons, 2)
            lasts = chance.choice((100_000, 300_000, 1_300_000))
            other = Act(
                BUTTON, second.name, now + chance.randint(1, lasts + 50_000), chance.choice((30_000, 100_000, 400_000))
            )
            return Act(BUTTON, first.name, now, lasts), other
        makers = [one for one in self.device.surroundings if isinstance(one, Maker)]
        if kind == "events" and makers:
            maker, found = chance.choice(makers), []
            for i in range(chance.randint(1, 4)):
                found.append(Act(EVENT, maker.events[i % len(maker.events)], now, 4_000))
                now += max(5_000, maker.apart_us) + chance.choice((0, 0, 200_000))
            if chance.random() < 0.5:
                found.append(Act(BUTTON, button.name, max(0, found[0].at_us - chance.randint(0, 80_000)), 60_000))
            return tuple(found)
        return ()

    def _gone(self, chance: Random) -> int:
        hold_up = self.device.supply.hold_up if self.device.supply is not None else None
        usual = [int(one.gone.hi) for one in self.device.surroundings if isinstance(one, Outage)]
        limit = int(hold_up.hi) if hold_up is not None and hold_up.hi != float("inf") else 10_000
        return max(1, min(chance.choice((limit // 2, limit + 1_000, 3 * limit, 120_000, *usual)), 2_000_000))

    def _chatter(self, act: Act, chance: Random) -> Act:
        if act.kind != BUTTON or chance.random() < 0.5:
            return act
        bounce = self.device.button(act.what).bounce_us
        least = max(_LEAST_APART_US, self.device.button(act.what).edges_apart_us + 2)
        room = (min(bounce, act.lasts_us // 2) // least, bounce // least)
        flips = [2 * chance.choice((0, 1, 1, 2)) for _ in room]
        closing, opening = (
            tuple(least * at for at in sorted(chance.sample(range(1, space), number))) if space > number + 2 else ()
            for space, number in zip(room, flips, strict=True)
        )
        return replace(act, closing=closing, opening=opening)


def probe(device: Device, hand: Hand, node_name: str, at_us: int) -> Acts:
    """A gesture that leads out of a state, and one that does something there: what no light tells of shows by them."""
    state = device.state(node_name)
    known = {gesture.name for gesture in device.gestures}
    leads = [line.gesture for line in state.transitions if line.target not in (None, node_name)]
    firsts = [next((name for name in names if name in known), None) for names in (leads, state.gestures)]
    acts: Acts = ()
    for name in dict.fromkeys(firsts):
        if name is not None:
            acts = (*acts, *hand.perform(device.gesture(name), MIDDLE, at_us))
            at_us = acts[-1].end_us + hand.settles_us
    return acts
