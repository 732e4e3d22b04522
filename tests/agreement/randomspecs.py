"""Random small devices, written as specs: the same text for the same seed, and which features it has.

One button or two, two to five states, one to four gestures of the first, at times one of the second and a chord. The
numbers are such as makers write, but limits and disturbances lie close together on purpose, so that many verdicts hang on
little.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from random import Random

from nudgeproof.parts.changes import change, touched
from nudgeproof.parts.performer import can_perform
from nudgeproof.spec.outside import WAKING
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device, State, Transition

NAMES = ("stowed", "armed", "glowing", "blinking", "resting")


@dataclass(frozen=True, slots=True)
class Sketch:
    """A random spec and what it has in it."""

    seed: int
    text: str
    features: frozenset[str]


def sketch(seed: int) -> Sketch:
    """The spec for `seed`; `read_device` accepts it."""
    return _Drawing(seed).finish()


class _Drawing:
    """One spec while it is being drawn."""

    def __init__(self, seed: int) -> None:
        self.seed, self.rng = seed, Random(seed)
        self.more = Random(f"{seed}/outside")  # of its own, so that what the others draw doesn't hang on it
        # Gestures beyond the common ones are drawn apart, so that a new kind leaves the rest of every spec as it was.
        self.odd = Random(f"{seed}/odd gestures")
        self.odd_gestures: list[str] = []
        # What is drawn apart doesn't change what the same seed drew before.
        self.apart = Random(f"{seed}/buttons")
        self.claims = Random(f"{seed}/claims")
        self.dozing = Random(f"{seed}/asleep")
        self.side: tuple[str, ...] = ()
        self.two = self.apart.random() < 0.25
        self.cut, self.supervised = Random(f"{seed}/cut-off"), Random(f"{seed}/supervisor")
        self.fading = Random(f"{seed}/ram")
        self.caused = Random(f"{seed}/causes")
        self.running = Random(f"{seed}/running clock")
        self.pacing = Random(f"{seed}/rhythm")
        self.arming = Random(f"{seed}/arming")
        self.ticking = Random(f"{seed}/ticks")
        self.booting = Random(f"{seed}/start-up")
        self.interrupting = Random(f"{seed}/interrupt")
        self.letting_go = Random(f"{seed}/releases")
        self.fitting = Random(f"{seed}/two fit")
        self.reckoning = Random(f"{seed}/press length")
        self.features: set[str] = set()
        self.values: dict[str, tuple[str, ...]] = {}
        self.entering: dict[str, str] = {}
        self.first_of_group = ""
        self.timed = ""
        self.lines = ["spec: 1", "device: drawn piece"]

    def finish(self) -> Sketch:
        rng = self.rng
        self._button()
        comes_round = ", comes round: at any moment" if "clock comes round" in self.features else ""
        if self._has("clock", 0.25):
            self.lines.append(f"clock: {{off by: {rng.choice((1, 3, 5))} %{comes_round}}}")
        elif comes_round:
            self.lines.append(f"clock: {{off by: 0 %{comes_round}}}")
        gestures = self._gestures()
        variables = self._variables()
        self._outside()
        kinds = self._states(gestures, variables)
        self._count_in_ticks()
        self._reckon_late()
        sources = self._surroundings()
        if "cell gone" in self.features:
            self._power(kinds, variables)
        if self._has("person", 0.5):
            hold = f", hold: {rng.choice(('600 to 900 ms', '450 ms to 2 s'))}" if rng.random() < 0.8 else ""
            tap, between = rng.choice(("60 to 250 ms", "90 to 180 ms")), rng.choice(("80 to 200 ms", "40 to 150 ms"))
            fingers = self._fingers() if self.two else ""
            self.lines.append(f"person: {{tap: {tap}, between: {between}{hold}, answers within: 600 ms{fingers}}}")
        else:
            self.features.add("no person")
        self._accepts(kinds, sources)
        self._promises(kinds, sources, variables)
        self._outputs(kinds)
        self._read_in_interrupts()
        self._promise_acts()
        return Sketch(self.seed, "\n".join(self.lines) + "\n", frozenset(self.features))

    def _has(self, feature: str, chance: float) -> bool:
        if self.rng.random() < chance:
            self.features.add(feature)
            return True
        return False

    def _also(self, feature: str, chance: float) -> bool:
        """The same for what lies outside."""
        if self.more.random() < chance:
            self.features.add(feature)
            return True
        return False

    def _outside(self) -> None:
        """Events, the level of the cell and depths of sleep."""
        self.events: list[str] = []
        if self._also("events", 0.3):
            counts = "" if self._also("wakes and counts", 0.8) else "wakes and counts: false"
            self.events = ["footfall"]
            also = ""
            if self._also("alternating events", 0.4):
                self.events += ["plugged", "unplugged"]
                also = ", plugged: {}, unplugged: {}"
            self.lines.append(f"events: {{footfall: {{{counts}}}{also}}}")
        if self._also("weak cell", 0.12):
            every = self.more.choice(("1 s", "200 to 300 ms"))
            self.lines.append(f"cell: {{low below: 2.2 V, fine above: 2.4 V, read every: {every}}}")
        self.depths = ""
        if self._also("depths", 0.15):
            self.lines.append("depths: {deep: {woken by: [level]}, doze: {woken by: [edge, level]}}")
            self.depths = self.more.choice(("deep", "doze"))

    def _asleep(self, feature: str, chance: float) -> bool:
        """The same for how it goes to sleep and wakes."""
        if self.dozing.random() < chance:
            self.features.add(feature)
            return True
        return False

    def _going_to_sleep(self) -> str:
        """Steps in another order, a late edge that goes unseen, a press that counts from waking."""
        found = ""
        orders = (
            "[arm, check, sleep]",
            "[check, clear, sleep]",
            "[clear, arm, sleep]",
            "[clear, check, sleep]",
            "sleep",
        )
        if self._asleep("steps", 0.15):
            found += f", steps: {self.dozing.choice(orders)}"
        if self._asleep("late edge", 0.15):
            found += ", late edge: goes unseen"
        if self.arming.random() < 0.1:
            self.features.add("unarmed edges lost")
            found += ", unarmed edges: are lost"
            found += "" if "steps" in found or self.arming.random() < 0.4 else ", steps: [clear, check, arm, sleep]"
        if "chord" not in self.features and self._asleep("press counts from", 0.12):
            found += ", press counts from: waking"
        if self._asleep("pending taps", 0.14):
            found += f", pending taps: {self.dozing.choice(('outlast sleep', 'begin anew at waking'))}"
        elif "from press to press" not in self.features and self.ticking.random() < 0.12:
            self.features |= {"pending taps", "ticks"}
            found += ", pending taps: go on at waking"
        if self._asleep("ignores a held button", 0.08):
            found += ", ignores a held button after: 1 s"
        return found

    def _outside_moves(self, kinds: dict[str, str], variables: tuple[str, ...]) -> list[str]:
        """What events do in a state."""
        known = [*self.events, *(("cell low", "cell fine") if "weak cell" in self.features else ())]
        moves = []
        for event in known:
            if self.more.random() < 0.5:
                stays = variables and self.more.random() < 0.3
                target = f"{{next: {self.more.choice(variables)}}}" if stays else self.more.choice(tuple(kinds))
                moves.append(f"{event}: {target}")
        return moves

    def _outside_sources(self) -> list[str]:
        rest = self.more.choice(("300 ms", "1 s"))
        some = {"events", "weak cell"} & self.features
        meant = "true" if some and self._also("meant", 0.5) else "false"
        found = []
        if "events" in self.features:
            found.append(f"walkers: {{makes: footfall, then none for at least: {rest}, meant: {meant}}}")
        if "alternating events" in self.features:
            found.append("cable: {makes: [plugged, unplugged], then none for at least: 1 s, meant: false}")
        if "weak cell" in self.features:
            found.append(f"weak cell: {{cell: sags and recovers, then steady at least: 2 s, meant: {meant}}}")
        return found

    def _outputs(self, kinds: dict[str, str]) -> None:
        if self._also("outputs", 0.2):
            pin = self.more.choice(("off", "on", "floating"))
            self.lines.append(f"outputs: {{lamp: {{on in: [{self.more.choice(tuple(kinds))}], in reset: {pin}}}}}")

    def _one(self, *pairs: tuple[str, str]) -> str:
        """One of several wordings; the feature it stands for is noted."""
        feature, words = self.rng.choice(pairs)
        self.features.add(feature)
        return words

    def _button(self) -> None:
        bounces = (("bounce 0", "0 ms"), ("bounces", "4 ms"), ("bounces", "8 ms"), ("bounces long", "15 ms"))
        bounce = self._one(*bounces)
        debounce = self.rng.choice(("5 ms", "12 to 18 ms", "20 ms ± 5 ms", "20 ms"))
        # Chatter of many edges in one burst means many classes; the spacing is wide so that specs stay small.
        read = self._reader(f"debounce: {debounce}")
        self.lines += ["buttons:", f"  pad: {{bounce: up to {bounce}, {read}, edges apart: at least 1 ms}}"]
        if self.two:
            self.features.add("two buttons")
            rim = self._reader("debounce: 10 to 14 ms")
            self.lines.append(
                f"  rim: {{bounce: up to {self.apart.choice((0, 6))} ms, {rim}, edges apart: at least 1 ms}}"
            )

    def _reader(self, debounce: str) -> str:
        kind = self.apart.choices(("debounce", "lockout", "samples"), (4, 1, 1))[0]
        self.features.add(kind)
        if kind == "debounce":
            return debounce
        times = {"lockout": ("20 ms", "8 to 30 ms"), "samples": ("4 every 5 ms", "2 every 9 to 10 ms", "1 every 15 ms")}
        ends = ""
        if kind == "lockout" and self.running.random() < 0.25:
            self.features.add("clock comes round")
            ends = ", lockout ends: at a moment of the clock"
        if kind == "samples" and self.pacing.random() < 0.4:
            ends = ", rhythm in sleep: goes on"
        return f"{kind}: {self.apart.choice(times[kind])}{ends}"

    def _fingers(self) -> str:
        if self.apart.random() < 0.5:
            return ", fingers: 1"
        self.features.add("two fingers")
        return f", fingers: 2, together: up to {self.apart.choice((15, 40))} ms"

    def _side_gestures(self) -> tuple[str, ...]:
        """Gestures of the second button, and a chord at times."""
        known = {"rim tap": "{on: rim, taps: 1, press: up to 250 ms}", "rim hold": "{on: rim, held: 500 ms}"}
        chosen = [self.apart.choice(tuple(known))]
        if self.apart.random() < 0.6:
            held = ", held: 700 ms" if self.apart.random() < 0.4 else ""
            releases = ""
            if self.letting_go.random() < 0.5:
                self.features.add("releases are taps")
                releases = ", releases: are taps"
            within = self.apart.choice(("60 ms", "30 to 40 ms"))
            known["both"] = f"{{together: [pad, rim], within: {within}{held}{releases}}}"
            chosen.append("both")
            self.features.add("chord")
        self.lines += [f"  {name}: {known[name]}" for name in chosen]
        return tuple(chosen)

    def _gestures(self) -> tuple[str, ...]:
        rng = self.rng
        press = rng.choice(("up to 300 ms", "up to 300 ms ± 10 ms", "up to 200 ms"))
        between = rng.choice(("up to 220 ms", "up to 180 ms ± 8 ms"))
        if self._has("from press to press", 0.15):
            between = "up to 400 ms from press to press"
        held = rng.choice(("400 ms", "400 to 420 ms", "800 ms"))
        known = {
            "tap": f"{{taps: 1, press: {press}}}",
            "hold": f"{{held: {held}}}",
            "two taps": f"{{taps: 2, press: {press}, between: {between}}}",
            "tap then hold": f"{{taps: 1, then held: {held}, press: {press}, between: {between}}}",
        }
        count = rng.choice((1, 2, 2, 3, 4))
        chosen = ("tap", "hold") if count == 2 and rng.random() < 0.5 else tuple(rng.sample(tuple(known), count))
        self.features |= {f"gesture {name}" for name in chosen} | {f"{len(chosen)} gestures"}
        known |= self._odd_gestures(known, chosen, press, held)
        on = "on: pad, " if self.two else ""
        named = (*chosen, *self.odd_gestures)
        self.lines += ["gestures:", *(f"  {name}: {{{on}{known[name][1:]}" for name in named)]
        self.side = self._side_gestures() if self.two else ()
        self._claim()
        return chosen

    def _claim(self) -> None:
        """What a press counts for that two things could lay claim to, and taps that don't wait."""
        words = {
            "release of a hold": ("a tap",),
            "new state": ("keeps the press", "begins it anew"),
            "waking press": ("no tap", "no tap until one came"),
            "listens again": ("waits for an edge",),
            "hold counts from": ("any press",),
        }
        for key, options in words.items():
            pads = ("  pad: ", "  rim: ") if self.two and self.claims.random() < 0.5 else ("  pad: ",)
            chance = 0.4 if key == "hold counts from" else 0.1 * len(options)
            line = next(line for line in self.lines if line.startswith("  pad: "))
            fits = self.two if key == "hold counts from" else key != "listens again" or "samples" not in line
            if self.claims.random() < chance and fits:
                word = self.claims.choice(options)
                self.features.add(f"{key}: {word}")
                pads = ("  pad: ",) if key == "listens again" else pads
                self._add_to(pads, f"{key}: {word}")
        self._let_two_fit()
        acts = self.claims.choice(("press", "release"))
        if any(line.startswith("  tap: ") for line in self.lines) and self.claims.random() < 0.25:
            self.features.add(f"a tap acts at {acts}")
            self._add_to(("  tap: ",), f"acts at: {acts}")

    def _let_two_fit(self) -> None:
        """Presses of the first button that fit two gestures; all its holds then act at release."""
        holds = self._holds_at_the_end()
        if not holds or self.fitting.random() < 0.7:
            return
        self.features.add("two may fit")
        self._add_to(("  pad: ",), "where two fit: the first in the file")
        self._wait_for_release(holds)
        at = self.lines.index("gestures:") + 1
        press = f"press: up to {self.fitting.choice(('550 ms', '1 s'))}"
        self.lines = [
            re.sub("press: up to [0-9]+ ms( ± [0-9]+ ms)?", press, line)
            if "taps: 1" in line and "rim" not in line
            else line
            for line in self.lines
        ]
        gestures = self.lines[at:]
        self.fitting.shuffle(gestures)
        self.lines[at:] = gestures

    def _reckon_late(self) -> None:
        """Presses of the first button whose length comes round, as it is kept in a type that is too small."""
        holds = self._holds_at_the_end()
        if holds is None or self.reckoning.random() < 0.85:
            return
        self.features.add("press length")
        self._add_to(("  pad: ",), "length of a press: reckoned at the release")
        self._wait_for_release(holds)
        elapsed = f"elapsed up to: {self.reckoning.choice(('2 s', '3 s'))}"
        if any(line.startswith("clock: ") for line in self.lines):
            self._add_to(("clock: ",), elapsed)
        else:
            self.lines.append(f"clock: {{off by: 0 %, {elapsed}}}")

    def _holds_at_the_end(self) -> list[str] | None:
        """The lines of gestures of the first button that end with a hold; None if they can't all act at release."""
        begin = self.lines.index("gestures:") + 1
        lines = self.lines[begin:]
        lines = lines[: next((i for i, line in enumerate(lines) if not line.startswith("  ")), len(lines))]
        own = [line for line in lines if "on: rim" not in line and "together" not in line]
        pad = next(line for line in self.lines if line.startswith("  pad: "))
        if "hold counts from" in pad or any("repeats" in line for line in own):
            return None
        return [line for line in own if "held" in line and "then taps" not in line and "presses" not in line]

    def _wait_for_release(self, holds: list[str]) -> None:
        waiting = [line.partition("{")[0] for line in holds if "acts at" not in line]
        if waiting:
            self._add_to(tuple(f"{start}{{" for start in waiting), "acts at: release")

    def _add_to(self, starts: tuple[str, ...], more: str) -> None:
        """A key more in the lines that start so."""
        self.lines = [f"{line.removesuffix('}')}, {more}}}" if line.startswith(starts) else line for line in self.lines]

    def _odd_gestures(self, known: dict[str, str], chosen: tuple[str, ...], press: str, held: str) -> dict[str, str]:
        """Several hold lengths, holds in the middle, holds that repeat or act at release, rules for extra taps."""
        odd, kind = self.odd, self.odd.choice(("longer", "longer", "goes on", "goes on", "repeats", "", ""))
        found: dict[str, str] = {}
        if "hold" in chosen and odd.random() < 0.25:
            self.features.add("acts at release")
            found["hold"] = f"{{held: {held}, acts at: release}}"
        elif kind == "repeats":
            repeating = [name for name in chosen if "held" in known[name]]
            for name in repeating:
                self.features.add("repeats")
                found[name] = (
                    known[name].removesuffix("}") + f", repeats every: {odd.choice(('150 ms', '300 to 320 ms'))}}}"
                )
        if kind == "longer":
            found["long hold"] = f"{{held: {odd.choice(('1.6 s', '1.4 to 1.5 s'))}}}"
        if kind == "goes on":
            found["hold then tap"] = f"{{held: {held}, then taps: 1, press: {press}, between: up to 300 ms}}"
            if odd.random() < 0.4:
                row = f"presses: [tap, hold, tap], held: {held}, press: {press}, between: up to 250 ms"
                found["row"] = f"{{{row}}}"
        self.odd_gestures = [name for name in found if name not in known]
        self.features |= {f"gesture {name}" for name in self.odd_gestures}
        if "two taps" in chosen and odd.random() < 0.6:
            extra = odd.choice(("swallowed", "count as the largest"))
            self.features.add(f"taps {extra}")
            # The gestures drawn here are all made on the first button.
            self._add_to(("  pad: ",), f"extra taps: {extra}")
        return found

    def _variables(self) -> tuple[str, ...]:
        rng = self.rng
        count = rng.choice((0, 0, 1, 1, 1, 2))
        self.features.add(f"{count} variables")
        found = ("beam", "warmth")[:count]
        if found:
            self.lines.append("variables:")
        for name in found:
            if name == "beam" and self._has("numbers", 0.3):
                self.values[name] = ("0", "1", "2")
                written = "0 to 2"
            elif self._has("variable time", 0.15):
                self.timed, self.values[name] = name, ("300 ms", "2 s")
                written = "[300 ms, 2 s]"
            else:
                self.values[name] = rng.choice((("low", "high"), ("low", "high"), ("low", "high", "slow")))
                written = f"[{', '.join(self.values[name])}]"
            if self._has("long variable", 0.2):
                ends, first = rng.choice(("wrap", "stop")), rng.choice(self.values[name])
                written = f"{{values: {written}, at the ends: {ends}, starts as: {first}}}"
            self.lines.append(f"  {name}: {written}")
        return found

    def _states(self, gestures: tuple[str, ...], variables: tuple[str, ...]) -> dict[str, str]:
        """The section `states`; which kind each state is: asleep, waiting or on."""
        rng = self.rng
        count = rng.choice((2, 2, 3, 3, 4, 5))
        kinds = {NAMES[0]: "asleep" if rng.random() < 0.8 else "on"}
        for name in NAMES[1 : count - 1]:
            kinds[name] = rng.choice(("waiting", "on", "on", "asleep"))
        kinds[NAMES[count - 1]] = "on"
        self.features |= {f"{count} states", *kinds.values()}
        if variables and self._has("on entering", 0.2):
            self.entering = {rng.choice(tuple(kinds)): variables[0]}
        self.lines += [f"initial: {NAMES[0]}", "states:"]
        blocks = {name: self._state(name, kinds, gestures, variables) for name in kinds}
        awake = [name for name in tuple(kinds)[1:] if kinds[name] != "asleep"]
        grouped = awake[-2:] if len(awake) > 1 and self._has("group", 0.5) else []
        for name in kinds:
            if name not in grouped:
                self.lines += ["  " + line for line in blocks[name]]
        if grouped:
            self.first_of_group = grouped[0]
            shared = self._transitions("", rng.choice(tuple(kinds)), kinds, gestures, variables, ("group",))
            shared += [self._timeout(rng.choice(tuple(kinds)))] if self._has("shared timeout", 0.5) else []
            self.lines += ["  group:", "    transitions: {" + ", ".join(shared) + "}", "    states:"]
            self.lines += ["      " + line for name in grouped for line in blocks[name]]
        return kinds

    def _state(
        self, name: str, kinds: dict[str, str], gestures: tuple[str, ...], variables: tuple[str, ...]
    ) -> list[str]:
        rng = self.rng
        lines = [f"{name}:"]
        if kinds[name] == "asleep":
            on = self._one(("on edge", "edge"), ("on level", "level"))
            doze, step = (
                rng.choice(("50 ms", "30 to 40 ms")),
                rng.choice(("up to 20 us", "up to 1 ms", "up to 6 ms")),
            )
            ready = rng.choice(("up to 2 ms", "1 to 3 ms", "up to 20 ms"))
            woken = "[pad, footfall]" if self.events and self._also("an event wakes", 0.7) else "pad"
            depth = f", depth: {self.depths}" if self.depths else ""
            lines.append(
                f"  sleep: {{woken by: {woken}, on: {on}, ready in: {ready}, dozes again after: {doze}, "
                f"each step: {step}{depth}{self._going_to_sleep()}}}"
            )
        elif kinds[name] == "waiting":
            lines.append("  waiting: true")
        if kinds[name] == "on" and self._also("busy", 0.06):
            lines.append(f"  busy: {self.more.choice(('up to 100 ms', '20 to 30 ms'))}")
        if variables and kinds[name] == "on":
            lines.append(f"  shows: {variables[-1]}")
        if name in self.entering:
            variable = self.entering[name]
            lines.append(f"  on entering: {{set: {{{variable}: {rng.choice(self.values[variable])}}}}}")
        onward = NAMES[(tuple(kinds).index(name) + 1) % len(kinds)]
        moves = self._transitions(name, onward, kinds, gestures, variables)
        moves += self._outside_moves(kinds, variables)
        if kinds[name] == "asleep" and self._asleep("waking", 0.1):
            moves.append(f"waking: {self.dozing.choice(tuple(kinds))}")
        odd = [gesture for gesture in self.odd_gestures if self.odd.random() < 0.7]
        moves += [f"{gesture}: {self.odd.choice(tuple(kinds))}" for gesture in odd]
        if kinds[name] != "asleep" and (kinds[name] == "waiting" or rng.random() < 0.5):
            moves.append(self._timeout(rng.choice([other for other in kinds if other != name])))
        if variables and kinds[name] != "asleep" and self._has("every", 0.15):
            every = rng.choice(("every 400 ms", "every 2 s"))
            moves.append(f"{every}: {{{rng.choice(('next', 'previous'))}: {rng.choice(variables)}}}")
        lines.append("  transitions: {" + ", ".join(moves) + "}")
        return lines

    def _transitions(
        self,
        name: str,
        onward: str,
        kinds: dict[str, str],
        gestures: tuple[str, ...],
        variables: tuple[str, ...],
        more: tuple[str, ...] = (),
    ) -> list[str]:
        rng = self.rng
        used = [gesture for gesture in gestures if rng.random() < 0.6] or [rng.choice(gestures)]
        moves = []
        for place, gesture in enumerate(used):
            target = onward if place == 0 else rng.choice((*kinds, *more))
            if variables and self._has("cases", 0.12):
                moves.append(f"{gesture}: {self._cases(target, rng.choice(tuple(kinds)), rng.choice(variables))}")
            elif variables and rng.random() < 0.4:
                moves.append(f"{gesture}: {self._change(target, rng.choice(variables), inside=place > 0)}")
            else:
                moves.append(f"{gesture}: {target}")
        for gesture in self.side:
            if self.apart.random() < 0.6:
                moves.append(f"{gesture}: {self.apart.choice(tuple(kinds))}")
        return moves

    def _change(self, target: str, variable: str, inside: bool) -> str:
        """What a line does that changes a variable, and perhaps leads somewhere."""
        rng = self.rng
        change = f"next: {variable}"
        if self._has("previous", 0.15):
            change = f"previous: {variable}"
        elif self._has("set", 0.2):
            change = f"set: {{{variable}: {rng.choice(self.values[variable])}}}"
        if inside and rng.random() < 0.6:
            again = ", restarts: true" if self._has("restarts", 0.3) else ""
            return f"{{{change}{again}}}"
        entered = self.first_of_group if target == "group" else target
        keep = f", keep: {variable}" if self.entering.get(entered) == variable else ""
        return f"{{to: {target}, {change}{keep}}}"

    def _cases(self, target: str, other: str, variable: str) -> str:
        """Two cases that exclude each other, or one that sometimes doesn't apply."""
        value = self.rng.choice(self.values[variable])
        first, second = f"{variable} is {value}", f"{variable} is not {value}"
        if value == "1":
            first, second = f"{variable} is at least 1", f"{variable} is at most 0"
        change = self._change(other, variable, inside=True)[1:-1]
        if self._has("no case", 0.4):
            return f"{{if: {first}, to: {target}}}"
        return f"[{{if: {first}, to: {target}}}, {{if: {second}, {change}}}]"

    def _timeout(self, target: str) -> str:
        self.features.add("timeout")
        time = self.rng.choice(("3 s", "700 to 800 ms", "500 ms", "4 h"))
        if self.timed and self.rng.random() < 0.6:
            time = self.timed
        opened = " with pad open" if self._has("with open", 0.4) else ""
        return f"after {time}{opened}: {target}"

    def _surroundings(self) -> tuple[str, ...]:
        rng = self.rng
        knock = rng.choice(("2 to 4 ms", "2 to 14 ms", "2 to 40 ms"))
        rest = rng.choice(("300 ms", "60 ms"))
        squeeze = rng.choice(("20 to 350 ms", "20 to 900 ms", "20 ms to 30 s"))
        gone = rng.choice(("up to 6 ms", "up to 40 ms", "3 ms to 1 s"))
        steady = rng.choice(("2 s", "500 ms"))
        kinds = {
            "knocks": ("knocks", f"{{closes pad: {knock}, then open at least: {rest}}}"),
            "squeeze": ("squeeze", f"{{closes pad: {squeeze}, then open at least: 500 ms}}"),
            "for good": ("jammed pad", "{closes pad: for good}"),
            "cell gone": ("cell rattle", f"{{cell gone: {gone}, then steady at least: {steady}}}"),
        }
        chosen = rng.choices(("knocks", "squeeze", "for good", "cell gone"), (3, 2, 1, 6), k=rng.choice((1, 2, 2, 3)))
        chosen = [kind for kind in kinds if kind in chosen]
        self.features |= {*chosen, f"{len(chosen)} surroundings"}
        self.lines += ["surroundings:", *(f"  {kinds[kind][0]}: {kinds[kind][1]}" for kind in chosen)]
        self.lines += [f"  {source}" for source in self._outside_sources()]
        return tuple(kinds[kind][0] for kind in chosen)

    def _power(self, kinds: dict[str, str], variables: tuple[str, ...]) -> None:
        rng = self.rng
        hold_up = rng.choice(("5 ms", "30 to 40 ms", "45 ms", "4 to 9 ms"))
        cut_off = ""
        if self.cut.random() < 0.2:
            self.features.add("cut-off")
            after = self.cut.choice(("900 ms", "300 ms to 1 s", "2 s ± 0.1 s"))
            cut_off = f", cut-off: {{held: pad, for: {after}{self._stays_off()}}}"
        self.lines.append(f"supply: {{hold-up: {hold_up}{cut_off}}}")
        if self.supervised.random() < 0.15:
            self.features.add("supervisor")
            after = self.supervised.choice(("80 ms", "400 to 500 ms", "2 s ± 20 %"))
            in_sleep = self.supervised.choice(("runs", "stops"))
            self.lines.append(f"supervisor: {{after: {after}, in sleep: {in_sleep}}}")
        blank, damaged = rng.choice(tuple(kinds)), rng.choice(tuple(kinds))
        if rng.random() < 0.3:
            blank = damaged = NAMES[0]
        if "waiting" in (kinds[blank], kinds[damaged]):
            self.features.add("starts waiting")
        if "stays off" in self.features and self.cut.random() < 0.3:
            blank = "stored"
        held = self._one(("held ignored", "ignored until released"), ("held counts", "counts as a press"))
        if not {"chord", "press length"} & self.features and self.booting.random() < 0.18:
            held = "counts from power on"
            self.features = {*self.features - {"held ignored", "held counts"}, held}
        takes = rng.choice(("70 ms ± 10 ms", "20 ms", "up to 5 ms"))
        starts = self._starts(tuple(kinds))
        self.lines.append(
            f"power up: {{takes: {takes}, if blank: {blank}, if damaged: {damaged}, button held: {held}{starts}}}"
        )
        if self.fading.random() < 0.15:
            kept = [name for name in ("state", *variables) if self.fading.random() < 0.6] or ["state"]
            lasts = self.fading.choice(("200 to 900 ms", "30 ms", "up to 2 s"))
            check = self.fading.choice(("marker", "checksum"))
            self.features |= {"RAM", f"RAM with a {check}"}
            self.lines.append(f"ram: {{keeps: [{', '.join(kept)}], lasts: {lasts}, checked by: {check}}}")
        if not self._has("memory", 0.85):
            return
        keeps = [name for name in ("state", *variables) if rng.random() < 0.8] or ["state"]
        written = self._one(
            ("at once", "at once"), ("after quiet", rng.choice(("after 2 s of quiet", "after 60 ms of quiet")))
        )
        guard = self._one(("guard none", "none"), ("guard checksum", "checksum"), ("guard two copies", "two copies"))
        write = rng.choice(("3.4 ms ± 0.2 ms", "up to 1 ms", "8 to 12 ms"))
        erases = ""
        if guard == "checksum" and Random(f"{self.seed}/erases first").random() < 0.4:
            self.features.add("erases first")
            erases = ", erases first: true"
        lose = f"the last {rng.choice(('5 ms', '20 ms', '2.1 s'))}" if self._has("may lose", 0.6) else "nothing"
        self.lines.append(
            f"memory: {{keeps: [{', '.join(keeps)}], written: {written}, write takes: {write}, "
            f"guard: {guard}, may lose: {lose}, while writing: {'deaf' if self._also('deaf', 0.25) else 'listens'}{erases}}}"
        )

    def _stays_off(self) -> str:
        """At times the power chip leaves the device without power."""
        if self.cut.random() >= 0.4:
            return ""
        self.features.add("stays off")
        self.lines.insert(self.lines.index("states:") + 1, "  stored: {unpowered: true}")
        closed_for = self.cut.choice(("", ", closed for: 50 ms", ", closed for: 5 to 200 ms"))
        return f", then: stays off{closed_for}, lets go: {self.cut.choice(('5 ms', 'up to 20 ms'))}"

    def _starts(self, states: tuple[str, ...]) -> str:
        """At times a start by the cause of the reset."""
        causes = [cause for cause in ("cut-off", "supervisor") if cause in self.features] + ["cell"]
        if self.caused.random() >= (0.4 if len(causes) > 1 else 0.05):
            return ""
        self.features.add("causes of resets")
        self.caused.shuffle(causes)
        named = ", ".join(f"{cause}: {self.caused.choice(states)}" for cause in causes)
        return f", starts in: {{{named}}}, causes: {self.caused.choice(('read and cleared', 'left set'))}"

    def _accepts(self, kinds: dict[str, str], sources: tuple[str, ...]) -> None:
        on = [name for name, kind in kinds.items() if kind == "on"]
        hazards = ["accidental-change", *(["accidental-off"] if "asleep" in kinds.values() else [])]
        if self._has("accepts", 0.2):
            self.lines.append("accepts:")
            self.lines.append(
                f"  - {{hazard: {self.rng.choice(hazards)}, by: [{self.rng.choice(sources)}], "
                f"in: {self.rng.choice(on)}, why: it is wanted, who: maker, granted: 2026-11-20}}"
            )

    def _count_in_ticks(self) -> None:
        """A pause that goes on after sleep is counted in ticks of the clock, which is said further up."""
        if "ticks" not in self.features:
            return
        asleep = self.ticking.choice(("", ", tick asleep: 40 ms", ", tick asleep: 1 s"))
        place = next((i for i, line in enumerate(self.lines) if line.startswith("clock: ")), None)
        if place is None:
            self.lines.append(f"clock: {{off by: 0 %, tick: 20 ms{asleep}}}")
        else:
            self.lines[place] = f"{self.lines[place].removesuffix('}')}, tick: 20 ms{asleep}}}"

    def _read_in_interrupts(self) -> None:
        """At times what makes the firmware deaf doesn't keep a button from being read; busy states are busy longer then."""
        rng = self.interrupting
        if not {"busy", "deaf"} & self.features or "chord" in self.features or rng.random() >= 0.6:
            return
        self.features.add("read in an interrupt")
        pads = rng.choice((("  pad: ",), ("  pad: ", "  rim: "), ("  rim: ",))) if self.two else ("  pad: ",)
        self._add_to(pads, "read in: interrupt")
        for i, line in enumerate(self.lines):
            if line.strip().startswith("busy: ") and rng.random() < 0.7:
                start = line.partition("busy: ")[0]
                self.lines[i] = f"{start}busy: {rng.choice(('up to 900 ms', '300 to 500 ms', '2 s'))}"
        self.lines.append(f"queue: {rng.choice((1, 2, 3))}")

    def _promise_acts(self) -> None:
        """Promises about what gestures, events, time and a start lead to, drawn apart and from the device as it is read."""
        rng = Random(f"{self.seed}/promised")
        device = read_device("\n".join(self.lines) + "\n", "drawn.yaml")
        sentences = []
        lines = {s.name: [t for t in s.transitions if t.gesture != WAKING] for s in device.states if not s.waiting}
        resting = [state for state in device.states if lines.get(state.name)]
        if device.person is not None and resting and rng.random() < 0.6:
            state = rng.choice(resting)
            line = rng.choice(lines[state.name])
            done = line.gesture
            if done in device.event_names or can_perform(device.person, device.gesture(done)):
                self.features.add("promised acts")
                sentences.append(self._promised_act(rng, device, state, line))
        timed = [state for state in device.states if any(timeout.target for timeout in state.timeouts)]
        if timed and rng.random() < 0.3:
            state = rng.choice(timed)
            ends = [t for t in state.timeouts if t.target is not None and t.target != state.name]
            if ends:
                self.features.add("promised times")
                within = rng.choice(("3 s", "20 s", "12 min"))
                sentences.append(f"left alone, {state.name} reaches {rng.choice(ends).target} within {within}")
        on = [state.name for state in device.states if state.is_on and state.name != device.initial]
        if device.supply is not None and on and rng.random() < 0.5:
            self.features.add("promised starts")
            sentences.append(f"{rng.choice(('blank', 'damaged'))} memory never reaches {rng.choice(on)}")
        if sentences and "promises:" not in self.lines:
            self.lines.append("promises:")
        where = self.lines.index("promises:") + 1 if sentences else 0
        self.lines[where:where] = [f"  - {sentence}" for sentence in sentences]

    def _promised_act(self, rng: Random, device: Device, state: State, line: Transition) -> str:
        """What a line does, or not quite."""
        target = line.target or state.name
        variables = [variable for variable in device.variables if variable.name in touched(device, line)]
        if not variables:
            if rng.random() < 0.5:
                self.features.add("promised to stay")
                return f"from {state.name}, {line.gesture} stays in {target} for {rng.choice(('300 ms', '2 s'))}"
            return f"from {state.name}, {line.gesture} reaches {target}"
        self.features.add("promised values")
        variable = rng.choice(variables)
        first = rng.choice(variable.values)
        values = {one.name: one.first for one in device.variables} | {variable.name: first}
        last = change(device, line, values)[variable.name]
        if target == state.name and rng.random() < 0.5:
            return f"from {state.name}, {line.gesture} takes {variable.name} from {first} to {last}"
        return f"from {state.name} with {variable.name} {first}, {line.gesture} reaches {target} with {variable.name} {last}"

    def _promises(self, kinds: dict[str, str], sources: tuple[str, ...], variables: tuple[str, ...]) -> None:
        if not self._has("promises", 0.3):
            return
        rng = self.rng
        source = rng.choice(sources)
        plural = "" if source == "knocks" else "s"
        use = ", while someone uses it" if rng.random() < 0.5 else ""
        target = rng.choice(tuple(kinds)[1:])
        self.lines.append("promises:")
        # What an interruption may change is told by the memory alone.
        no_memory = source == "cell rattle" and "memory" not in self.features
        if rng.random() < 0.5 or no_memory:
            self.lines.append(f"  - {source} never reach{'es' if plural else ''} {target}{use}")
        else:
            what = rng.choice(("state", *variables))
            self.lines.append(f"  - {source} never change{plural} {what}{use}")
