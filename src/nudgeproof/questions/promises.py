"""Promises: what the maker states about the device, and the questions that each one asks.

Each promise prints as a sentence that parses back to itself (see `grammar`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nudgeproof.diagnostics import Place
from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.gestures import can_stand_in
from nudgeproof.parts.limits import REACH, Limit
from nudgeproof.parts.memory import FOUND_BLANK, FOUND_DAMAGED
from nudgeproof.parts.people import ANYTHING, PERSON
from nudgeproof.parts.performer import LATE, Act
from nudgeproof.questions.ask import Derived, Mode, Question, after_anything, change, needed_before, users
from nudgeproof.questions.lasting import Lasts, ask_lasts
from nudgeproof.questions.steps import (
    acting,
    any_of,
    being_late,
    changing_to,
    ending_as,
    entering,
    failing,
    starting,
    starting_otherwise,
    stepping_otherwise,
    succeeding,
)
from nudgeproof.spec.types import Device, Outage
from nudgeproof.units import show_us

HAZARD = "promise"
CELL_CURE = "keep it in memory, in two copies, written at once, with a hold-up longer than a write; or hold up longer"
_CURE = "ask for one more deliberate step on the way there, or make one of its steps longer than the disturbance"
_REACH_CURE = (
    "let the gesture lead there if it does nothing; else widen its limits until they cover the person's habits, or promise"
    " more time"
)
_STAY_CURE = (
    "begin the time of that state anew with the gesture (`restarts: true`), make it longer, or promise less; where a press"
    " or its chatter leads on, ignore it until the button is let go"
)
_START_CURE = "name another state under `power up`, and guard memory, so that what is damaged is recognised"
IN_USE = ", while someone uses it"
FIRST_STARTS = {"blank memory": FOUND_BLANK, "damaged memory": FOUND_DAMAGED}
"""What may stand for a source: the device gets power and finds its memory so."""
_ANY_TIMING = "kept, whatever the timing"


@dataclass(frozen=True, slots=True)
class Never:
    """`sources` never bring the device into `mode`; all at once if `together`, else each by itself.

    `in_use`: after any use that left the device at rest, in whichever state; else from the initial state.
    """

    sources: tuple[str, ...]
    together: bool
    mode: Mode
    in_use: bool
    at: Place

    def __str__(self) -> str:
        verb = "reach" if _is_plural(self.sources) else "reaches"
        return f"{_who(self.sources, self.together)} never {verb} {self.mode}{IN_USE if self.in_use else ''}"


@dataclass(frozen=True, slots=True)
class Keeps:
    """`sources` never change any of `names` (`state` or variables).

    For an interruption of the supply: what is found afterwards is as it may be. For a knock or squeeze: nothing changes but
    by timeouts. `in_use`: while (an interruption) or after (a knock) any use.
    """

    sources: tuple[str, ...]
    together: bool
    names: tuple[str, ...]
    in_use: bool
    at: Place

    def __str__(self) -> str:
        verb = "change" if _is_plural(self.sources) else "changes"
        what = " or ".join(self.names)
        return f"{_who(self.sources, self.together)} never {verb} {what}{IN_USE if self.in_use else ''}"


@dataclass(frozen=True, slots=True)
class Reaches:
    """From rest in a mode, or in any state of a group, gestures done as the person does them always lead to a mode.

    A gesture may also be an event. With `stay_us` of the acts it must not be left before that time. `acts`: one for each
    state to begin in; they differ in nothing else. `through`: not into one mode, but a variable from each of these values
    to the next, the place staying the same; one act for each of these.
    """

    start: Mode
    acts: tuple[Act, ...]
    target: Mode
    through: tuple[str, ...]
    at: Place

    def __str__(self) -> str:
        return f"from {self.start}, {', '.join(self.acts[0].gestures)} {self.outcome}"

    @property
    def begins_with(self) -> str:
        """The variable that must have some value at the beginning, "" for none."""
        return self.target.variable if self.through else self.start.variable

    @property
    def outcome(self) -> str:
        """What must come of it, in words."""
        if self.through:
            return f"takes {self.target.variable} from {' to '.join(self.through)}{_within(self.acts[0])}"
        if self.acts[0].stay_us:
            return f"stays in {self.target} for {show_us(self.acts[0].stay_us)}"
        return f"reaches {self.target}{_within(self.acts[0])}"

    @property
    def failure(self) -> str:
        """What may come of it instead, in words."""
        if self.through:
            return f"may not take {self.target.variable} from {' to '.join(self.through)}{_within(self.acts[0])}"
        if self.acts[0].stay_us:
            return f"may not stay in {self.target} for {show_us(self.acts[0].stay_us)}"
        return f"may not reach {self.target}{_within(self.acts[0])}"


@dataclass(frozen=True, slots=True)
class Answers:
    """From rest in a state, or in any of a group, gestures done as the person does them are answered in time if seen.

    The time counts from the end of what the person does: the last release, or for a hold its press. `acts` as in `Reaches`.
    """

    state: str
    acts: tuple[Act, ...]
    at: Place

    def __str__(self) -> str:
        act = self.acts[0]
        return f"from {self.state}, {', '.join(act.gestures)} answers within {show_us(act.answer_us)}"


@dataclass(frozen=True, slots=True)
class Settles:
    """Left alone at rest in `start` the device enters `target` at most `within_us` later, with nobody doing anything."""

    start: Mode
    target: Mode
    within_us: int
    at: Place

    def __str__(self) -> str:
        return f"left alone, {self.start} reaches {self.target} within {show_us(self.within_us)}"


@dataclass(frozen=True, slots=True)
class Shows:
    """Whenever the device is in `mode`, it shows these words (or the value of the variable with this name)."""

    mode: Mode
    words: str
    at: Place

    def __str__(self) -> str:
        return f"{self.mode} always shows {self.words}"


Promise = Never | Keeps | Reaches | Answers | Settles | Shows | Lasts


def questions(device: Device, promises: Sequence[Promise]) -> tuple[Question | Derived, ...]:
    """The questions that these promises ask, each one for all sources together, or one for each."""
    acting = [promise for promise in promises if isinstance(promise, Reaches | Answers)]
    begins_with = {promise.begins_with for promise in acting if isinstance(promise, Reaches)}
    before = tuple(dict.fromkeys(name for variable in begins_with for name in needed_before(device, variable)))
    # One environment for all, since what comes before an act is most of it.
    pool = tuple(dict.fromkeys(act for promise in acting for act in promise.acts))
    environment = Environment((), ANYTHING, acts=pool, before=before)
    return tuple(question for promise in promises for question in _ask(device, promise, environment))


def _ask(device: Device, promise: Promise, performing: Environment) -> tuple[Question | Derived, ...]:
    """`performing`: the environment in which all promised acts are performed."""
    if isinstance(promise, Reaches):
        return (_ask_reaches(device, promise, performing),)
    if isinstance(promise, Answers):
        return (_ask_answers(promise, performing),)
    if isinstance(promise, Settles):
        return (_ask_settles(device, promise),)
    if isinstance(promise, Lasts):
        return (ask_lasts(device, promise),)
    if isinstance(promise, Shows):
        return (_ask_shows(device, promise),)
    groups = (promise.sources,) if promise.together else tuple((source,) for source in promise.sources)
    return tuple(_ask_sources(device, promise, group) for group in groups)


def _ask_sources(device: Device, promise: Never | Keeps, group: tuple[str, ...]) -> Question:
    outages = {what.name for what in device.surroundings if isinstance(what, Outage)}
    interrupts = any(source in outages for source in group)
    found = next((source for source in group if source in FIRST_STARTS), "")
    acts = tuple(source for source in group if source != found)
    environment = Environment(acts, found=FIRST_STARTS.get(found, ""))
    wider: Environment | None = None
    if promise.in_use:
        who = ANYTHING if device.person is None else PERSON
        environment = Environment(group, who, tuple(state.name for state in device.states))
    if isinstance(promise, Keeps) and interrupts:
        use = tuple(name for name in users(device)[0] if name not in group) if promise.in_use else ()
        environment = Environment((*use, *group), watched=True)
        if promise.in_use and all(source in (*outages, *device.meant) for source in group) and can_stand_in(device):
            others = tuple(name for name in device.meant if name not in group)
            wider = Environment((*group, *others), watched=True, gestures=True)
    together = len(group) > 1
    one: Never | Keeps
    if isinstance(promise, Never):
        one = Never(group, together, promise.mode, promise.in_use, promise.at)
        lasting = frozenset(state.name for state in device.states if promise.in_use and not state.waiting)
        looked_for, may = entering(promise.mode, lasting), f"the device can come into {promise.mode}"
    else:
        one = Keeps(group, together, promise.names, promise.in_use, promise.at)
        looked_for, may = _changing(device, promise.names, interrupts), f"{' or '.join(promise.names)} can change"
    who = f"with {' and '.join(group)} {'together' if together else 'alone'}"
    return Question(
        hazard=HAZARD,
        subject=str(one),
        environment=environment,
        looked_for=looked_for,
        unwanted=True,
        came_up=(*(acting(source) for source in acts), *((starting,) if found else ())),
        told=lambda before, after: f"{who} {may} ({change(before, after)})",
        denied="",
        held=_kept(promise),
        all_held=_kept(promise),
        cure=CELL_CURE if interrupts else _START_CURE if found else _CURE,
        at=promise.at,
        wider=(wider, looked_for) if wider is not None else after_anything(device, environment, looked_for),
    )


def _kept(promise: Never | Keeps) -> str:
    if promise.in_use:
        return _ANY_TIMING
    return f"kept from the first start on, whatever the timing, if nobody uses it before (else write `{IN_USE[2:]}`)"


def _changing(device: Device, names: tuple[str, ...], interrupts: bool) -> Test:
    return starting_otherwise(device, names) if interrupts else stepping_otherwise(names)


def _numbers(acts: Sequence[Act], performing: Environment) -> tuple[int, ...]:
    """The numbers of these acts among all that are performed."""
    return tuple(performing.acts.index(act) for act in acts)


def _ask_reaches(device: Device, promise: Reaches, performing: Environment) -> Question:
    gestures, numbers = ", ".join(promise.acts[0].gestures), _numbers(promise.acts, performing)
    return Question(
        hazard=HAZARD,
        subject=str(promise),
        environment=performing,
        looked_for=any_of(tuple(failing(device, number) for number in numbers)),
        unwanted=True,
        came_up=_each_value(promise, numbers),
        told=lambda before, after: f"from {promise.start}, {gestures}, done as the person does it, {promise.failure}",
        denied="",
        held=_ANY_TIMING,
        all_held=_ANY_TIMING,
        cure=_STAY_CURE if promise.acts[0].stay_us else _REACH_CURE,
        at=promise.at,
    )


def _each_value(promise: Reaches, numbers: Sequence[int]) -> tuple[Test, ...]:
    """What must come up: some state of the place to begin in; of values that follow each other each one."""
    tests = [succeeding(number) for number in numbers]
    steps = max(1, len(promise.through) - 1)
    return tuple(any_of(tuple(tests[step::steps])) for step in range(steps))


def _within(act: Act) -> str:
    return f" within {show_us(act.within_us)}" if act.within_us else ""


def _ask_answers(promise: Answers, performing: Environment) -> Question:
    acts, numbers = promise.acts, _numbers(promise.acts, performing)
    who, within = f"from {promise.state}, {', '.join(acts[0].gestures)}", show_us(acts[0].answer_us)
    return Question(
        hazard=HAZARD,
        subject=str(promise),
        environment=performing,
        looked_for=any_of(tuple(ending_as(i, LATE) for i in numbers)),
        unwanted=True,
        came_up=tuple(succeeding(i) for i in numbers),
        told=lambda before, after: f"{who}, done as the person does it, may not be answered within {within}",
        denied="",
        held=_ANY_TIMING,
        all_held=_ANY_TIMING,
        cure="use no longer pattern there, shorten its `between`, the debounce or the time to wake, or promise more time",
        at=promise.at,
    )


def _ask_settles(device: Device, promise: Settles) -> Question:
    within = show_us(promise.within_us)
    who = ANYTHING if device.person is None else PERSON
    limit = Limit(REACH, promise.within_us, device.states_of(promise.target.state), ending=promise.target.condition)
    environment = Environment(
        (),
        who,
        device.states_of(promise.start.state),
        limit=limit,
        left_with=promise.start.condition,
        before=needed_before(device, promise.start.variable),
    )
    return Question(
        hazard=HAZARD,
        subject=str(promise),
        environment=environment,
        looked_for=being_late,
        unwanted=True,
        came_up=(changing_to(promise.target),),
        told=lambda before, after: (
            f"left alone in {promise.start}, {promise.target} may not be reached within {within}"
        ),
        denied="",
        held=_ANY_TIMING,
        all_held=_ANY_TIMING,
        cure=(
            f"give {promise.start} a timeout that leads there in time, whatever the clock makes of it, or promise "
            "more time"
        ),
        at=promise.at,
        wider=after_anything(device, environment, being_late),
    )


def _ask_shows(device: Device, promise: Shows) -> Question:
    who = ANYTHING if device.person is None else PERSON
    shown = {state.name: state.shows for state in device.states}

    def otherwise(model: Model, before: Situation, move: Move) -> bool:
        now = move.situation
        return promise.mode.holds(model, now) and shown[str(model.value(now, "state"))] != promise.words

    return Question(
        hazard=HAZARD,
        subject=str(promise),
        environment=Environment((who,)),
        looked_for=otherwise,
        unwanted=True,
        came_up=(lambda model, before, move: promise.mode.holds(model, move.situation),),
        told=lambda before, after: f"in {after} the device shows {shown[after] or 'nothing'}, not {promise.words}",
        denied="",
        held=_ANY_TIMING,
        all_held=_ANY_TIMING,
        cure=f"write `shows: {promise.words}` in every state that is meant",
        at=promise.at,
    )


def _who(sources: tuple[str, ...], together: bool) -> str:
    return " and ".join(sources) + (", together," if together else "")


def _is_plural(sources: tuple[str, ...]) -> bool:
    return len(sources) > 1 or (sources[0].endswith("s") and not sources[0].endswith("ss"))
