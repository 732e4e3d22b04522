"""The clip light of specs/rain-cover-light.yaml as a program: it speaks the line protocol (docs/line-protocol.md).

Nothing happens in it but edges of the pad and times that fall due, so it goes from one to the next. Times are microseconds.
"""

import json
import sys

DEBOUNCE, PRESS, BETWEEN, HELD = 20_000, 400_000, 260_000, 1_200_000
READY, DOZE, ARMED_FOR, GLOWING_FOR = 2_000, 50_000, 3_000_000, 4 * 3_600_000_000
BYTE, BLINK_ON, BLINK_OFF = 850, 500_000, 1_000_000
STATES, BEAMS = ("stowed", "armed", "glowing"), ("low", "high", "blink")
OUTPUTS = ("glow", "low", "blink", "high", "asleep")


def tell(message):
    sys.stdout.write(json.dumps(message) + "\n")


def check_of(number, value):
    return (number * 31 + value * 7 + 90) % 256


class Light:
    """The firmware from one start to the next cut."""

    def __init__(self, now, is_closed, memory):
        self.now, self.is_closed, self.shown, self.due = now, is_closed, dict.fromkeys(OUTPUTS, 0), {}
        self.reading = self.is_nobodys = is_closed
        self.is_asleep, self.taps, self.down_at, self.to_write = False, 0, now, []
        self.restore(memory)
        self.enter(self.state)

    # Memory: two copies of four bytes, the newer whole one counts.

    def restore(self, memory):
        whole = []
        for copy in (0, 1):
            number, value, check, opposite = memory[4 * copy : 4 * copy + 4]
            if check == check_of(number, value) and opposite == 255 - check and value // 16 < 3 and value % 16 < 3:
                whole.append((number, value, copy))
        if len(whole) == 2 and (whole[1][0] - whole[0][0]) % 256 >= 128:
            whole.reverse()
        self.number, self.kept, self.newest = whole[-1] if whole else (0, 0, 1)
        self.state, self.beam = STATES[self.kept // 16], BEAMS[self.kept % 16]

    def save(self):
        value = 16 * (2 if self.state == "glowing" else 0) + BEAMS.index(self.beam)
        if value == self.kept:
            return
        self.number, self.kept, self.newest = (self.number + 1) % 256, value, 1 - self.newest
        check = check_of(self.number, value)
        record = (self.number, value, check, 255 - check)
        self.to_write += [(4 * self.newest + i, byte) for i, byte in enumerate(record)]
        if "write" not in self.due:
            self.on_write()

    def on_write(self):
        if self.to_write:
            address, byte = self.to_write.pop(0)
            tell({"at": self.now, "write": address, "byte": byte})
            self.due["write"] = self.now + BYTE

    # Time and the pad.

    def run(self, until):
        while self.due and min(self.due.values()) <= until:
            name = min(self.due, key=self.due.get)
            self.now = self.due.pop(name)
            getattr(self, "on_" + name)()
        self.now = until

    def move(self, is_closed):
        if is_closed == self.is_closed:
            return
        self.is_closed = is_closed
        if not self.is_asleep:
            self.due["settle"] = self.now + DEBOUNCE
            self.stay_awake()
        elif "wake" not in self.due:
            self.due["wake"] = self.now + READY

    def on_wake(self):
        self.is_asleep = False
        self.due["settle"] = self.now + DEBOUNCE
        self.stay_awake()
        self.show()

    def on_settle(self):
        if self.is_closed and not self.reading:
            self.reading, self.down_at = True, self.now
            self.due["hold"] = self.now + HELD
            self.due.pop("pause", None)
            self.due.pop("armed", None)
        elif self.reading and not self.is_closed:
            self.reading = False
            self.due.pop("hold", None)
            self.let_go()
        self.stay_awake()

    def stay_awake(self):
        self.due.pop("doze", None)
        if self.state == "stowed" and not (self.is_closed or self.reading or self.taps):
            self.due["doze"] = self.now + DOZE

    def on_doze(self):
        self.is_asleep = True
        self.show()

    # Gestures and states.

    def let_go(self):
        was_tap = not self.is_nobodys and self.now - self.down_at <= PRESS
        self.is_nobodys, self.taps = False, self.taps + 1 if was_tap else 0
        if self.state == "armed":
            self.due["armed"] = self.now + ARMED_FOR
        if self.state == "armed" and self.taps == 2:
            self.enter("glowing")
        elif self.state == "stowed" or self.taps == 2:
            self.taps = 0
        if self.taps:
            self.due["pause"] = self.now + BETWEEN

    def on_pause(self):
        self.taps = 0
        if self.state == "glowing":
            self.beam = BEAMS[(BEAMS.index(self.beam) + 1) % 3]
            self.show()
            self.save()
        self.stay_awake()

    def on_hold(self):
        if not self.is_nobodys:
            if self.state == "stowed":
                self.enter("armed")
            elif self.state == "glowing" and self.taps == 1:
                self.enter("stowed")
            self.is_nobodys = True

    def on_armed(self):
        self.enter("stowed")

    def on_glowing(self):
        self.enter("stowed")

    def enter(self, state):
        self.state, self.taps, self.is_nobodys = state, 0, self.reading
        for name in ("armed", "glowing", "pause"):
            self.due.pop(name, None)
        if state == "armed" and not self.reading:
            self.due["armed"] = self.now + ARMED_FOR
        if state == "glowing":
            self.due["glowing"] = self.now + GLOWING_FOR
        self.show()
        self.save()
        self.stay_awake()

    def show(self):
        self.due.pop("blink", None)
        beam = self.beam if self.state == "glowing" else "glow" if self.state == "armed" else ""
        if beam == "blink":
            self.due["blink"] = self.now + BLINK_ON
        self.light({name: int(name == beam or (name == "asleep" and self.is_asleep)) for name in OUTPUTS})

    def on_blink(self):
        is_lit = not self.shown["blink"]
        self.light({"blink": int(is_lit)})
        self.due["blink"] = self.now + (BLINK_ON if is_lit else BLINK_OFF)

    def light(self, levels):
        changed = {name: level for name, level in levels.items() if self.shown[name] != level}
        if changed:
            self.shown.update(changed)
            tell({"at": self.now, "set": changed})


def main():
    tell({"hello": 1, "outputs": OUTPUTS, "cut": "told"})
    sys.stdout.flush()
    light = None
    for line in sys.stdin:
        message = json.loads(line)
        if message.get("start"):
            light = Light(message["at"], bool(message["set"]["pad"]), bytes.fromhex(message["memory"]))
        elif message.get("cut"):
            light = None
        else:
            light.run(message["at"])
            for is_closed in message.get("set", {}).values():
                light.move(bool(is_closed))
        tell({"now": message["at"]})
        sys.stdout.flush()


main()
