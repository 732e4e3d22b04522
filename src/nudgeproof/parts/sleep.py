"""The processor: awake, going to sleep step by step, asleep, waking.

Going to sleep is not one moment. The wake flag is cleared, the wake source armed, everything checked once more, and only
then does the processor drop off; an edge may come between any two of these steps. A flag set after the clearing prevents
sleep. When the chart enters a state, all this is given up and begins anew. In this order no wake is lost; the spec may
state another one, or leave steps out. An outside event named in `woken by` wakes as an edge does.

The flag is the hardware's: a waking edge sets it, armed or not, and it stays until the firmware clears it or has woken.
Where every state clears it first, what it was before can't matter and isn't kept. Where some state doesn't, it is. A chip
may drop edges as long as the wake source isn't armed.
"""

from __future__ import annotations

from dataclasses import replace

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value, lasting
from nudgeproof.parts.chart import CHANGED, STARTED
from nudgeproof.parts.supply import RESET
from nudgeproof.spec.outside import ARM, CHECK, CLEAR, EDGE, LEVEL, SLEEP, WAKING
from nudgeproof.spec.types import Device, Sleep

RUNNING = "running"
SLEEPING = "sleeping"
READY = "ready"
RUNS = "runs"
ASLEEP = "asleep"
GIVES_UP = "gives up on"
DEAF = "deaf"
WAKING_WAITS = "what waking brings waits to be seen"
OUTSIDE = "outside "

WOKE = f"event {WAKING}"
WAKES, STILL_CLOSED = "waking", "still closed"

_STEPS = {"clearing": "clears its wake flag", "arming": "arms the wake source", "checking": "looks once more"}
_PHASES = {CLEAR: "clearing", ARM: "arming", CHECK: "checking", SLEEP: "dropping"}


def wakes(button: str) -> str:
    """The signal by which the recogniser of a button is told that an edge of it wakes, where its press counts from there."""
    return f"wakes by {button}"


def waking_brings(device: Device) -> bool:
    """Whether waking itself may bring about something that nobody does then: by `waking`, or by taps that waited."""
    return bool(device.wakes_into) or any(state.sleep is not None and state.sleep.outlasts for state in device.states)


def may_wake_by_itself(device: Device) -> bool:
    """Whether `waking` may come although nothing wakes: by a flag that was set long before and never cleared."""
    return bool(device.wakes_into) and bool(_latched(tuple(s.sleep for s in device.states if s.sleep is not None)))


def sleep(
    device: Device,
    can_lose_power: bool = False,
    is_off: bool = False,
    made: tuple[str, ...] = (),
    can_be_deaf: bool = False,
) -> Part:
    """The part for the processor of a device; `is_off`: it has had no power so far.

    Local state: (phase, wake flag), with a third member once a button that stays down is ignored; then any edge of a waking
    button counts. Takes `edge B` of every button, `outside E` of the events `made` in this environment, the chart's
    `changed` and, where power can be lost, `reset` and `started`; sends `ready` (it runs again) and `asleep`. Publishes
    `running` and `sleeping`. The chart's state decides whether and how it may sleep. `can_be_deaf`: some part publishes
    `deaf`; a deaf firmware has something to do and doesn't go to sleep. Where waking by itself does something it also sends
    the event for it, before it listens; where taps wait in sleep it sends `runs` before `ready`; and where a press counts
    from waking, whose edge it was. Where `waking_brings` something, it publishes that too while the processor wakes, or is
    about to stay awake by an edge that came as it was falling asleep: what that edge brings is still to come.
    """
    kinds = {state.name: state.sleep for state in device.states if state.sleep is not None}
    buttons = tuple(button.name for button in device.buttons)
    latched = _latched(tuple(kinds.values()))
    # Where a state doesn't clear the flag it matters there what it was before.
    remembers = any(CLEAR not in one.steps for one in kinds.values())
    drops = any(kind.drops_unarmed for kind in kinds.values())
    credited = tuple(b for b in buttons if any(k.counts_from_wake and b in k.waking_buttons for k in kinds.values()))
    woke = (WOKE,) if device.wakes_into else ()
    brings = waking_brings(device)
    runs = (RUNS,) if any(kind.outlasts for kind in kinds.values()) else ()

    def wakes_up(reads: Reads) -> tuple[str, ...]:
        """What the firmware is told when it goes on behind the step that puts the processor to sleep."""
        return woke if reads["state"] in device.wakes_into else ()

    def goes_on(flag: bool, reads: Reads) -> Choice:
        """It runs. What taps that waited have come to is done with before it finds anything."""
        now = kind(reads)
        is_late = now is not None and now.outlasts
        return Choice(("late", flag), (RUNS,)) if is_late else Choice(("awake", flag), (READY,))

    def pending(reads: Reads) -> bool:
        """Whether a pattern that isn't over, or a deaf firmware, keeps the processor awake."""
        now = kind(reads)
        asks = now is not None and now.outlasts  # then only those of a button that is down
        begun = any(reads[f"pattern {b}"] and (not asks or reads[f"reading {b}"]) for b in buttons)
        return begun or (can_be_deaf and bool(reads[DEAF]))

    def quiet(reads: Reads, ignoring: bool) -> bool:
        return not pending(reads) and (ignoring or not any(reads[f"reading {b}"] for b in buttons))

    def pressed(reads: Reads) -> str:
        """The buttons that are read closed, in words, if nothing else keeps the processor awake; else nothing."""
        if pending(reads):
            return ""
        return " and ".join(b for b in buttons if reads[f"reading {b}"])

    def kind(reads: Reads) -> Sleep | None:
        return kinds.get(str(reads["state"]))

    def woken(kind: Sleep, reads: Reads) -> bool:
        """Whether a level that counts as a wake event is there now."""
        return kind.on == LEVEL and any(reads[f"level {b}"] for b in kind.waking_buttons)

    def is_waking(kind: Sleep, signal: str, reads: Reads, ignoring: bool) -> bool:
        """Whether this edge or event is one that wakes."""
        if signal.startswith(OUTSIDE):
            return signal.removeprefix(OUTSIDE) in kind.waking_events
        button = signal.removeprefix("edge ")
        return button in kind.waking_buttons and (kind.on != LEVEL or ignoring or woken(kind, reads))

    def armed_anew(kind: Sleep, ignoring: bool) -> bool:
        """Whether the wake source was set to a button that is ignored, so that its release wakes and not that it is down."""
        return ignoring and ARM in kind.steps

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        phase, _, ignoring = _split(local)
        if phase in ("woken", "late"):
            return (Timer(phase, 0, 0),)
        now = kind(reads)
        if now is None or phase == "off":
            return ()
        if phase == "awake":
            if quiet(reads, ignoring=False):
                return (lasting(_doze_name(reads), now.doze),)
            held = pressed(reads)
            return (lasting(f"{GIVES_UP} {held} in {reads['state']}", now.gives_up),) if held and now.gives_up else ()
        if phase == "asleep":
            fires = ignoring and not armed_anew(now, ignoring) and woken(now, reads)
            return (Timer(STILL_CLOSED, 0, 0),) if fires else ()
        return (lasting(phase, now.ready if phase == "waking" else now.step),)

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        phase, flag, ignoring = _split(local)
        if phase == "late":
            return (Choice(("awake", flag), (READY,)),)
        if phase == "woken":
            return (goes_on(flag, reads),)
        now = kind(reads)
        assert now is not None
        line = now.at.line
        if phase == "awake":
            gives_up = timer.startswith(GIVES_UP)
            what = timer.removesuffix(f" in {reads['state']}") + " and " if gives_up else ""
            says = f"the processor {what}begins to go to sleep"
            return (Choice(_local(_PHASES[now.steps[0]], flag, gives_up), says=says, line=line),)
        if phase in ("clearing", "arming"):
            kept = flag and phase != "clearing"
            return (Choice(_local(_after(now, phase), kept, ignoring), says=_says(phase), line=line),)
        if phase == "checking":
            # A button that is ignored must still be as it was read: its release would otherwise never be noticed.
            closed = any(reads[f"level {b}"] != (ignoring and reads[f"reading {b}"]) for b in buttons)
            seen = flag and _is_cleared(now, phase)
            still = quiet(reads, ignoring) and not seen and not closed
            to = _local(_after(now, phase), flag, ignoring) if still else ("awake", flag and not seen)
            return (Choice(to, says=_says(phase), line=line),)
        if phase == "dropping":
            keeps = flag and not now.late_unseen
            if keeps or (woken(now, reads) and not ignoring):
                says = "the wake flag keeps the processor from sleeping"
                return (Choice(("awake", False), wakes_up(reads), says=says, line=line),)
            return (Choice(_local("asleep", False, ignoring), (ASLEEP,), says="the processor sleeps", line=line),)
        if phase == "asleep":
            by = " and ".join(b for b in now.waking_buttons if reads[f"level {b}"])
            return (Choice(("waking", False), says=f"{by}, still closed, wakes the processor at once", line=line),)
        if wakes_up(reads):
            return (Choice(("woken", False), woke, says="the processor runs", line=line),)
        return (replace(goes_on(False, reads), says="the processor runs", line=line),)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        phase, flag, ignoring = _split(local)
        if signal == RESET:
            return (Choice(("off", False)),)
        if signal == STARTED:
            return (Choice(("awake", False), (READY,)),)
        if signal == CHANGED:
            to = ("awake", flag and remembers) if phase in (*_STEPS, "dropping") else local
            gives_up = f"{GIVES_UP} {pressed(reads)} in {reads['state']}"
            return (Choice(to, restart=(_doze_name(reads), gives_up)),)
        now = kind(reads)
        awake = phase in ("awake", *_STEPS, "dropping")
        dropped = drops and (now is None or not _is_armed(now, phase))
        if now is None or not is_waking(now, signal, reads, armed_anew(now, ignoring)):
            return (Choice(_local(phase, flag or (awake and signal in latched and not dropped), ignoring)),)
        if phase == "asleep":
            by = signal.removeprefix(OUTSIDE) if signal.startswith(OUTSIDE) else f"the {signal.replace(' ', ' on ', 1)}"
            button = signal.removeprefix("edge ")
            send = (wakes(button),) if button in credited and now.counts_from_wake else ()
            return (Choice(("waking", False), send, says=f"{by} wakes the processor", line=now.at.line),)
        sets = awake and (signal in latched or _is_cleared(now, phase) or CLEAR not in now.steps)
        says = "a handler takes the edge, and nothing looks for it any more" if sets and _is_unseen(now, phase) else ""
        if sets and dropped:
            sets, says = False, "the wake source isn't armed yet, and the edge is lost" if phase != "awake" else ""
        return (Choice(_local(phase, flag or sets, ignoring), says=says, line=now.at.line if says else 0),)

    def shown(local: Local) -> tuple[Value, ...]:
        phase, flag, _ = _split(local)
        stays = flag and phase in ("arming", "checking", "dropping")
        wakes = (phase in ("waking", "woken", "late") or stays,) if brings else ()
        return (phase not in ("asleep", "waking", "woken", "late", "off"), phase == "asleep", *wakes)

    asleep_at_first = device.state(device.initial).sleep is not None
    return Part(
        name="processor",
        role="device",
        start=("off" if is_off else "asleep" if asleep_at_first else "awake", False),
        publishes=(RUNNING, SLEEPING, *((WAKING_WAITS,) if brings else ())),
        shown=shown,
        reads=(
            "state",
            *(f"{kind} {b}" for b in buttons for kind in ("level", "reading", "pattern")),
            *((DEAF,) if can_be_deaf else ()),
        ),
        armed=armed,
        expired=expired,
        takes={
            **{f"edge {b}": (wakes(b),) if b in credited else () for b in buttons},
            **{OUTSIDE + event: () for event in made},
            CHANGED: (),
            **({RESET: (), STARTED: (READY,)} if can_lose_power else {}),
        },
        heard=heard,
        sends=(READY, ASLEEP, *woke, *runs),
    )


def _latched(kinds: tuple[Sleep, ...]) -> tuple[str, ...]:
    """The signals that set the flag at any time the processor is awake; none where every state clears it first."""
    if all(CLEAR in kind.steps for kind in kinds):
        return ()
    buttons = (f"edge {button}" for kind in kinds if kind.on == EDGE for button in kind.waking_buttons)
    return (*buttons, *(OUTSIDE + event for kind in kinds for event in kind.waking_events))


def _after(kind: Sleep, phase: str) -> str:
    """The phase that follows in the order in which this state goes to sleep."""
    phases = [_PHASES[step] for step in kind.steps]
    return phases[phases.index(phase) + 1]


def _is_unseen(kind: Sleep, phase: str) -> bool:
    """Whether an edge in this phase goes unseen, since the last look is over."""
    phases = [_PHASES[step] for step in kind.steps]
    return kind.late_unseen and phase in phases and "checking" not in phases[phases.index(phase) :]


def _is_cleared(kind: Sleep, phase: str) -> bool:
    """Whether the flag has been cleared before this phase, since going to sleep began."""
    phases = [_PHASES[step] for step in kind.steps]
    return phase in phases and "clearing" in phases[: phases.index(phase)]


def _is_armed(kind: Sleep, phase: str) -> bool:
    """Whether the wake source is armed in this phase; where no step arms it, it has been once and for all."""
    phases = [_PHASES[step] for step in kind.steps]
    return ARM not in kind.steps or (phase in phases and "arming" in phases[: phases.index(phase)])


def _doze_name(reads: Reads) -> str:
    return f"dozes in {reads['state']}"


def _says(phase: str) -> str:
    return f"going to sleep, the processor {_STEPS[phase]}"


def _local(phase: str, flag: bool, ignoring: bool) -> Local:
    return (phase, flag, True) if ignoring else (phase, flag)


def _split(local: Local) -> tuple[str, bool, bool]:
    """(phase, wake flag, whether a held button is ignored)."""
    assert isinstance(local, tuple)
    phase, flag, *ignoring = local
    return phase, flag, bool(ignoring)
