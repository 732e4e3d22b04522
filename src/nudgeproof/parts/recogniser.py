"""The recogniser of one button: turns accepted presses into gestures.

Rules
-----
* A pattern is a row of presses, each a tap or a hold. All gestures in use in the state in which the first press begins run
  side by side, as in a tree of rows that begin alike; each press and each pause drops those that no longer fit.
* A tap is a press let go before its limit. A hold has lasted when its time is reached; a longer hold that is reached
  replaces a shorter one.
* A finished pattern waits only while a longer one that is in use may still come; else it fires at once, a hold while the
  button is down (unless it acts at release), and then owns its release. It may repeat until then.
* When a longer pattern was begun and fails, the presses so far are nobody's; so is a press that fits no pattern.
* A press belongs to the state it began in: a change of state forgets what was begun, and a button still down is nobody's
  until it is let go.
* Taps beyond the largest count in use begin a new pattern, or are swallowed, or don't change the largest.
* A tap that acts early doesn't wait, at its release or its press; longer patterns go on all the same.
* Settings of the button (`Claims`) let one press count for more than one thing: its release after a hold, a press during
  which a state is entered, a hold that counts from another button's press. (The first press after waking: `waking_press`.)
* Where two may fit, a hold that is reached drops nothing; at the release the first in the file of those that fit counts.
* A press that a chord takes to itself is nobody's, and what was begun is forgotten; likewise when the processor falls
  asleep. A chord that was seen may give the release back: then it counts as that of a tap.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value, lasting
from nudgeproof.parts.chart import CHANGED, STARTED
from nudgeproof.parts.chord import claims, gives_back, joins
from nudgeproof.parts.sleep import ASLEEP
from nudgeproof.parts.supply import RESET
from nudgeproof.spec.types import Button, Device, Gesture, State
from nudgeproof.units import Span

IDLE: Local = ("idle",)
SPENT: Local = ("spent",)
TAP_AT_UP: Local = ("held", 0, (), "")


def recogniser(device: Device, button: Button, held_ignored: bool | None = None) -> Part:
    """The part for the recogniser of one button.

    Local state: idle; spent (down, but nobody's); (down, number of this press, gestures still possible, hold time reached or
    "", or where two may fit all that were reached); (gap, presses so far, longer gestures still possible, gesture already
    complete or ""); (repeating, 0, the gesture that fires while the button is down, ""); (extra or extra down, 0, the
    gesture whose extra taps are swallowed, ""); (held, 0, (), ""): a hold or a chord was seen, and the release will count as
    that of a tap; (lent, 0, hold times reached, ""): up, and holds count from the press of another button. Takes `down B`,
    `up B`, the chart's `changed`, a chord's `claims B` and `gives back B`, the processor's `asleep`, the `down` and `up` of
    other buttons that lend their time and, where power can be lost (`held_ignored` isn't None), `reset` and `started`; sends
    `gesture G`. Publishes `pattern B` (a pattern is pending).
    """
    gestures = {gesture.name: gesture for gesture in device.gestures if gesture.button == button.name}
    in_use = {state.name: _patterns(state, gestures, button) for state in device.states}
    most = max((len(gesture.presses) for gesture in gestures.values()), default=0)
    down, up = f"down {button.name}", f"up {button.name}"
    after_hold: Local = TAP_AT_UP if button.claims.after_hold == "a tap" else SPENT
    given_back = any(g.chord is not None and g.chord.gives_back and button.name in g.buttons for g in device.gestures)
    lends = button.claims.hold_from == "any press"
    lenders = tuple(other.name for other in device.buttons if lends and other != button)
    fires = tuple(f"gesture {name}" for name in gestures)
    fires_down = lends or any(gesture.acts_early == "press" for gesture in gestures.values())
    # What fires at its very press must know at once that the press is a chord's.
    chords = tuple(joins(g) for g in device.gestures if fires_down and g.chord is not None and button.name in g.buttons)

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        phase, press, alive, mark = _split(local)
        if phase in ("repeating", "extra"):
            name, span = _own_limit(phase, gestures[alive[0]])
            return (lasting(name, span),)
        if phase == "lent":
            used = in_use[str(reads["state"])].values()
            holds = {p.hold(1): lasting(p.hold(1), p.gesture.held) for p in used if p.hold(1) and p.gesture.held}
            return tuple(timer for name, timer in holds.items() if name not in alive)
        if phase not in ("down", "gap"):
            return ()
        timers: dict[str, Timer] = {}
        for pattern in _possible(in_use, reads, alive):
            for name, span in pattern.limits(phase, press):
                timers[name] = lasting(name, span)
        for reached in _reached(mark) if phase == "down" else ():
            timers.pop(reached, None)
        return tuple(timers.values())

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        phase, press, alive, mark = _split(local)
        if phase == "lent":
            return (Choice((phase, press, (*alive, timer), mark)),)
        if phase == "repeating":
            return (_fire(gestures[alive[0]], local),)
        if phase == "extra":
            return (Choice(IDLE, says="more taps would count again", line=gestures[alive[0]].at.line),)
        possible = _possible(in_use, reads, alive)
        hit = [pattern for pattern in possible if timer in dict(pattern.limits(phase, press))]
        line = hit[0].gesture.at.line
        if phase == "down" and timer == hit[0].hold(press):
            says = f"{button.name} is held long enough for {hit[0].gesture.name}"
            if button.claims.first_fits:
                reached = tuple(sorted((*_reached(mark), timer)))
                return (Choice((phase, press, alive, reached), says=says, line=line),)
            left = [pattern for pattern in possible if pattern.hold(press) not in ("", mark)]
            return (_while_down(press, left, timer, says, line, after_hold),)
        left = [pattern for pattern in possible if pattern not in hit]
        if phase == "down":
            says = "the press is too long for a tap" if timer.startswith("tap") else "the pause grows too long"
            return (_while_down(press, left, mark, says, line, after_hold),)
        if left:
            return (Choice(("gap", press, _names(left), mark), says="the pause grows too long", line=line),)
        if mark:
            return (_let_go(in_use[str(reads["state"])][str(mark)]),)
        return (Choice(IDLE, says="the pause is too long, the taps are nobody's", line=line),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        phase, press, alive, mark = _split(local)
        if signal == RESET:
            return (Choice(IDLE),)
        if signal == STARTED:
            return (Choice(SPENT if held_ignored and reads[f"level {button.name}"] else IDLE),)
        if signal == CHANGED:
            return (entered(local, reads),)
        if signal in (ASLEEP, claims(button.name)):
            return (Choice(SPENT if phase in ("down", "spent", "repeating", "held", "extra down") else IDLE),)
        if signal == gives_back(button.name):
            return (Choice(TAP_AT_UP),)
        if signal not in (down, up):
            return (lent(local, signal, reads),)
        if signal == down:
            if any(reads[joined] for joined in chords):
                return (Choice(SPENT),)
            if phase == "extra":
                return (Choice(("extra down", 0, alive, "")),)
            begun = _possible(in_use, reads, alive) if phase == "gap" else list(in_use[str(reads["state"])].values())
            if phase == "lent":
                return (_press_lent(begun, alive, after_hold),)
            return (_press(min(press, most) + 1, begun),)
        if phase == "extra down":
            return (Choice(("extra", 0, alive, "")),)
        if phase == "held" or (phase == "repeating" and after_hold != SPENT):
            taps = [p for p in in_use[str(reads["state"])].values() if not p.hold(1) and not p.fires_at_press(1)]
            phase, press, alive, mark = "down", 1, _names(taps), ""
        if phase != "down":
            return (Choice(IDLE),)
        # Where two may fit those that fit are in the order of the file.
        as_it_lasted = ("", *mark) if isinstance(mark, tuple) else (mark,)
        fit = [pattern for pattern in _possible(in_use, reads, alive) if pattern.hold(press) in as_it_lasted]
        done = [pattern for pattern in fit if pattern.is_complete(press)]
        longer = [pattern for pattern in fit if pattern.goes_on(press)]
        if done and done[0].gesture.acts_early:
            return (_tell_others(_fire(done[0].gesture, ("gap", press, _names(longer), "") if longer else IDLE), done),)
        if longer:
            return (Choice(("gap", press, _names(longer), done[0].gesture.name if done else "")),)
        return (_tell_others(_let_go(done[0]), done) if done else Choice(IDLE),)

    def entered(local: Local, reads: Reads) -> Choice:
        """What becomes of what was begun when a state is entered."""
        phase, press, alive, mark = _split(local)
        here = in_use[str(reads["state"])]
        if phase in ("extra", "extra down"):
            return Choice(local)
        if phase not in ("down", "spent", "repeating", "held"):
            return Choice(IDLE)
        if button.claims.new_state == "begins it anew":
            return _press(1, [pattern for pattern in here.values() if not pattern.fires_at_press(1)])
        if phase in ("repeating", "held"):
            return Choice(local if phase == "held" else after_hold)
        left = tuple(name for name in alive if button.claims.new_state == "keeps the press" and name in here)
        return Choice((phase, press, left, mark) if left else SPENT)

    def lent(local: Local, signal: str, reads: Reads) -> Choice:
        """Another button went down or up, and its press lends its time to the holds of this one."""
        if local == IDLE and signal.startswith("down"):
            return Choice(("lent", 0, (), ""))
        ends = _split(local)[0] == "lent" and not any(reads[f"reading {other}"] for other in lenders)
        return Choice(IDLE if ends else local)

    def shown(local: Local) -> tuple[Value, ...]:
        return (_split(local)[0] in ("down", "gap", "repeating", "extra"),)

    return Part(
        name=f"recogniser {button.name}",
        role="device",
        start=IDLE,
        button=button.name,
        publishes=(f"pattern {button.name}",),
        shown=shown,
        reads=("state", f"level {button.name}", *(f"reading {other}" for other in lenders), *chords),
        armed=armed,
        expired=expired,
        takes={
            down: fires if fires_down else (),
            up: fires,
            **{f"{edge} {other}": () for other in lenders for edge in ("down", "up")},
            CHANGED: (),
            ASLEEP: (),
            claims(button.name): (),
            **({gives_back(button.name): ()} if given_back else {}),
            **({RESET: (), STARTED: ()} if held_ignored is not None else {}),
        },
        heard=heard,
        sends=fires,
    )


@dataclass(frozen=True, slots=True)
class _Pattern:
    """A gesture as it is used in one state.

    `holds`: for each press the timer of its hold, "" for a tap; equal holds of the same press have one name, so that they
    run as one timer. `extra`: what becomes of taps after it, "" if nothing after it is extra there.
    """

    gesture: Gesture
    holds: tuple[str, ...]
    extra: str

    def hold(self, press: int) -> str:
        """The timer of the hold that this press is; "" for a tap, as all are that come after the largest count."""
        return self.holds[press - 1] if press <= len(self.holds) else ""

    def is_complete(self, press: int) -> bool:
        """Whether so many presses make it, each of them fitting."""
        return press >= len(self.holds)

    def goes_on(self, press: int) -> bool:
        """Whether more presses may belong to it."""
        return press < len(self.holds) or self.extra == "count as the largest"

    def fires_at_press(self, press: int) -> bool:
        """Whether it is seen as soon as this press begins."""
        return self.gesture.acts_early == "press" and self.is_complete(press)

    def limits(self, phase: str, press: int) -> tuple[tuple[str, Span], ...]:
        """The timers it needs: names are shared by equal limits, so that they run as one timer."""
        gesture = self.gesture
        found: list[tuple[str, Span]] = []
        if phase == "down" and not self.hold(press) and gesture.press is not None:
            found.append((f"tap limit {_tell(gesture.press)}", gesture.press))
        if phase == "down" and self.hold(press) and gesture.held is not None:
            found.append((self.hold(press), gesture.held))
        if gesture.between is not None and self.goes_on(press):
            # After the largest count the pause is always counted from the release.
            if gesture.between_presses and press < len(self.holds):
                found.append((f"limit between presses {_tell(gesture.between)}", gesture.between))
            elif phase == "gap":
                found.append((f"pause limit {_tell(gesture.between)}", gesture.between))
        return tuple(found)


_InUse = dict[str, dict[str, _Pattern]]
_Mark = str | tuple[str, ...]


def _patterns(state: State, gestures: dict[str, Gesture], button: Button) -> dict[str, _Pattern]:
    """The patterns in use in one state, by name, in the order of its transitions, or of the file where two may fit.

    Equal holds have the same name in all states, so that a press that is kept from one to the next goes on with them.
    """
    used = [gestures[name] for name in dict.fromkeys(t.gesture for t in state.transitions) if name in gestures]
    if button.claims.first_fits:
        used = [gesture for gesture in gestures.values() if gesture in used]
    largest = max((gesture.taps for gesture in used), default=0)

    def hold(gesture: Gesture, place: int) -> str:
        if gesture.presses[place] == "tap":
            return ""
        alike = [g for g in gestures.values() if g.held == gesture.held]
        return f"hold time of {alike[0].name}"

    return {
        gesture.name: _Pattern(
            gesture,
            tuple(hold(gesture, place) for place in range(len(gesture.presses))),
            button.extra_taps if gesture.taps == largest > 1 else "",
        )
        for gesture in used
    }


def _tell(span: Span) -> str:
    """What tells a limit from others: one that a specimen has a value of is no other one, wherever the two may lie."""
    return str(span if span.of is None else span.of)


def _own_limit(phase: str, gesture: Gesture) -> tuple[str, Span]:
    """The one timer of a gesture that has fired and repeats, or whose extra taps are swallowed."""
    name, span = ("repeats", gesture.repeats) if phase == "repeating" else ("extra taps", gesture.between)
    assert span is not None
    return name, span


def _possible(in_use: _InUse, reads: Reads, alive: tuple[str, ...]) -> list[_Pattern]:
    return [in_use[str(reads["state"])][name] for name in alive]


def _names(patterns: list[_Pattern]) -> tuple[str, ...]:
    return tuple(pattern.gesture.name for pattern in patterns)


def _press(press: int, possible: list[_Pattern]) -> Choice:
    """A press begins, and with it all limits that count from it."""
    if not possible:
        return Choice(SPENT)
    left = [pattern for pattern in possible if not pattern.fires_at_press(press)]
    restart = tuple(name for pattern in left for name, _ in pattern.limits("down", press))
    to: Local = ("down", press, _names(left), "") if left else SPENT
    if len(left) == len(possible):
        return Choice(to, restart=restart)
    seen = next(pattern.gesture for pattern in possible if pattern not in left)
    return replace(_fire(seen, to), restart=restart)


def _press_lent(possible: list[_Pattern], reached: tuple[str, ...], after_hold: Local) -> Choice:
    """A press whose holds have counted since another button went down; some of them may have been `reached` by now."""
    if not reached:
        begun = _press(1, possible)
        holds = {pattern.hold(1) for pattern in possible}
        return replace(begun, restart=tuple(name for name in begun.restart if name not in holds))
    left = [pattern for pattern in possible if pattern.hold(1) not in ("", *reached[:-1])]
    return _while_down(1, left, reached[-1], "", 0, after_hold)


def _while_down(press: int, left: list[_Pattern], reached: _Mark, says: str, line: int, after_hold: Local) -> Choice:
    """Something ended during a press: a hold that has lasted fires when nothing else is possible any more."""
    if not left:
        return Choice(SPENT, says=says, line=line)
    gesture = left[0].gesture
    has_lasted = reached != "" and left[0].hold(press) == reached
    if len(left) == 1 and has_lasted and left[0].is_complete(press) and not gesture.at_release:
        return _fire(gesture, after_hold if gesture.repeats is None else ("repeating", 0, (gesture.name,), ""))
    return Choice(("down", press, _names(left), reached), says=says, line=line)


def _let_go(done: _Pattern) -> Choice:
    """A finished pattern fires while the button is up."""
    gesture = done.gesture
    return _fire(gesture, ("extra", 0, (gesture.name,), "") if done.extra == "swallowed" else IDLE)


def _tell_others(choice: Choice, done: list[_Pattern]) -> Choice:
    """The same choice, saying so if the press fits another gesture as well."""
    too = (
        f"{choice.says} (it fits {done[1].gesture.name} too, which stands later in the file)"
        if done[1:]
        else choice.says
    )
    return replace(choice, says=too)


def _fire(gesture: Gesture, to: Local) -> Choice:
    return Choice(to, (f"gesture {gesture.name}",), says=f"the firmware sees {gesture.name}", line=gesture.at.line)


def _reached(mark: _Mark) -> tuple[str, ...]:
    """The hold times of this press that matter and are over: where one replaces another, the last of them."""
    return mark if isinstance(mark, tuple) else (mark,) if mark else ()


def _split(local: Local) -> tuple[str, int, tuple[str, ...], _Mark]:
    """(phase, press number, gestures still possible, hold time reached or gesture complete) with the blanks filled in."""
    assert isinstance(local, tuple)
    if len(local) == 1:
        return local[0], 0, (), ""
    phase, press, alive, mark = local
    return phase, press, alive, mark
