"""Mutants of the shipped devices: how much of a spec could go wrong without a finding.

Each operator changes one thing in a device that holds altogether, where a maker could have slipped. A mutant is *caught* if
the reader refuses it, or if `check` says of it anything but `holds`. The whole run prints its table:

    python -m tests.quality.device_mutants [DEVICE...]

A mutant is asked with little effort first, and with the usual one only if that decides nothing. The random runs that `check`
makes on top where the effort ran out are left out: they can turn undecided into broken, and nothing into `holds`.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from multiprocessing import Pool
from pathlib import Path
from random import Random

from nudgeproof.again import ask_again
from nudgeproof.answers import Proof
from nudgeproof.check import BUDGETS, audit_proof, check
from nudgeproof.diagnostics import Place
from nudgeproof.spec.clock import Clock
from nudgeproof.spec.conflicts import check_gestures
from nudgeproof.spec.notes import Notes
from nudgeproof.spec.outputs import check_harm
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Button, Condition, Device, Memory, PowerUp, State, Timeout, Transition
from nudgeproof.units import Span
from nudgeproof.verdict import Verdict

SEED = 20261125
SPECS = Path(__file__).resolve().parents[2] / "specs"
NAMES = ("rain-cover-light", "seed-tray-timer", "moisture-meter", "trail-counter")
QUIET = Span(5_000_000, 5_000_000)
GUARDS = ("none", "checksum", "two copies")

WORKERS = 2

Line = Transition | Timeout


@dataclass(frozen=True, slots=True)
class Mutant:
    """`device` with one thing changed by `operator`; `what` says where, and how if it can be changed in several ways."""

    operator: str
    what: str
    device: Device

    @property
    def name(self) -> str:
        return f"{self.operator}: {self.what}"


@cache
def load(name: str) -> Device:
    """A shipped device by the name of its file."""
    return read_device((SPECS / f"{name}.yaml").read_text(encoding="utf-8"), f"specs/{name}.yaml")


def mutants(name: str) -> Iterator[Mutant]:
    """All mutants of a shipped device, in a fixed order; what they change to is drawn with a fixed seed."""
    device = load(name)
    for operator, mutate in OPERATORS.items():
        rng = Random(f"{SEED} {name} {operator}")
        for what, changed in mutate(device, rng):
            yield Mutant(operator, what, changed)


Changes = Iterator[tuple[str, Device]]


def _with_state(device: Device, state: State) -> Device:
    return replace(device, states=tuple(state if old.name == state.name else old for old in device.states))


def _lines(device: Device) -> Iterator[tuple[State, Line, Callable[[tuple[Line, ...]], Device]]]:
    """Each transition and timeout, and how to get the device with other lines in its place."""
    for state in device.states:
        for i, line in enumerate(state.transitions):
            yield state, line, _putter(device, state, "transitions", i)
        for i, timeout in enumerate(state.timeouts):
            yield state, timeout, _putter(device, state, "timeouts", i)


def _putter(device: Device, state: State, field: str, i: int) -> Callable[[tuple[Line, ...]], Device]:
    lines: tuple[Line, ...] = getattr(state, field)

    def put(new: tuple[Line, ...]) -> Device:
        return _with_state(device, replace(state, **{field: (*lines[:i], *new, *lines[i + 1 :])}))  # type: ignore[arg-type]

    return put


def _name(state: State, line: Line) -> str:
    case = f" if {line.condition.text}" if line.condition is not None else ""
    return f"{state.name}, {line.gesture if isinstance(line, Transition) else line.text}{case}"


def _line_out(device: Device, rng: Random) -> Changes:
    for state, line, put in _lines(device):
        yield _name(state, line), put(())


def _other_target(device: Device, rng: Random) -> Changes:
    """Another state, also for a line that doesn't leave its own; the same one, if there is no other."""
    for state, line, put in _lines(device):
        others = [other.name for other in device.states if other.name not in (line.target or state.name,)]
        target = rng.choice(others)
        yield f"{_name(state, line)} -> {target}", put((replace(line, target=target, keep=()),))


def _condition(device: Device, rng: Random) -> Changes:
    """Dropped or turned round; of two cases of one line the conditions change places, since they must exclude each other."""
    domains = {variable.name: variable.values for variable in device.variables}
    for state, line, put in _lines(device):
        if line.condition is None:
            continue
        lines: tuple[Line, ...] = (*state.transitions, *state.timeouts)
        fellows = [t for t in lines if t != line and _key(t) == _key(line)]
        if fellows:
            turned = replace(line, condition=fellows[0].condition)
            swapped = {id(line): turned, id(fellows[0]): replace(fellows[0], condition=line.condition)}
            if (line.at.line, line.at.column) < (fellows[0].at.line, fellows[0].at.column):
                transitions = tuple(swapped.get(id(t), t) for t in state.transitions)
                timeouts = tuple(swapped.get(id(t), t) for t in state.timeouts)
                both = replace(state, transitions=transitions, timeouts=timeouts)  # type: ignore[arg-type]
                yield f"{_name(state, line)}, changes places", _with_state(device, both)
            continue
        yield f"{_name(state, line)}, dropped", put((replace(line, condition=None),))
        ((variable, allowed),) = line.condition.allowed
        others = tuple(value for value in domains[variable] if value not in allowed)
        turned_round = Condition(f"not ({line.condition.text})", ((variable, others),))
        yield f"{_name(state, line)}, turned round", put((replace(line, condition=turned_round),))


def _key(line: Line) -> str:
    return line.gesture if isinstance(line, Transition) else line.text


def _change_of_values(device: Device, rng: Random) -> Changes:
    """`next`, `previous` and `set` taken out, swapped with each other, or with another value."""
    domains = {variable.name: variable.values for variable in device.variables}
    for state, line, put in _lines(device):
        name = _name(state, line)
        if line.next or line.previous:
            yield f"{name}, not stepped", put((replace(line, next=(), previous=()),))
            if any(not _is_a_switch(device, variable) for variable in (*line.next, *line.previous)):
                other_way = replace(line, next=line.previous, previous=line.next)
                yield f"{name}, stepped the other way", put((other_way,))
        for variable, value in line.set:
            rest = tuple(pair for pair in line.set if pair[0] != variable)
            other = rng.choice([v for v in domains[variable] if v != value])
            yield f"{name}, {variable} not set", put((replace(line, set=rest),))
            yield f"{name}, {variable} set to {other}", put((replace(line, set=(*rest, (variable, other))),))


def _is_a_switch(device: Device, name: str) -> bool:
    """Whether a variable has two values that follow each other, so that the other way is the same way."""
    variable = device.variable(name)
    return len(variable.values) == 2 and variable.wraps


def _restarts(device: Device, rng: Random) -> Changes:
    for state, line, put in _lines(device):
        if isinstance(line, Transition) and line.target is None and state.timeouts:
            yield _name(state, line), put((replace(line, restarts=not line.restarts),))


def _waiting(device: Device, rng: Random) -> Changes:
    for state in device.states:
        if state.waiting:
            yield state.name, _with_state(device, replace(state, waiting=False))


def _with_memory(device: Device, memory: Memory) -> Device:
    return replace(device, memory=memory)


def _keeps(device: Device, rng: Random) -> Changes:
    memory = device.memory
    assert memory is not None
    for entry in memory.keeps:
        rest = tuple(other for other in memory.keeps if other != entry)
        yield f"not {entry}", _with_memory(device, replace(memory, keeps=rest))
    if len(memory.keeps) > 1:
        yield "the other way round", _with_memory(device, replace(memory, keeps=memory.keeps[::-1]))


def _guard(device: Device, rng: Random) -> Changes:
    memory = device.memory
    assert memory is not None
    for guard in GUARDS:
        if guard != memory.guard:
            yield guard, _with_memory(device, replace(memory, guard=guard))


def _when_written(device: Device, rng: Random) -> Changes:
    memory = device.memory
    assert memory is not None
    quiet = QUIET if memory.quiet is None else None
    yield "at once" if quiet is None else "after 5 s of quiet", _with_memory(device, replace(memory, quiet=quiet))


def _start(device: Device, rng: Random) -> Changes:
    """`if blank` and `if damaged` lead to a state that is on."""
    power_up = device.power_up
    assert power_up is not None
    on = [state.name for state in device.states if state.is_on]
    if power_up.if_blank not in on:
        to = rng.choice(on)
        yield f"if blank -> {to}", replace(device, power_up=replace(power_up, if_blank=to))
    if power_up.if_damaged not in on:
        to = rng.choice(on)
        yield f"if damaged -> {to}", replace(device, power_up=replace(power_up, if_damaged=to))


def _held(device: Device, rng: Random) -> Changes:
    power_up: PowerUp | None = device.power_up
    assert power_up is not None
    flipped = replace(power_up, held_ignored=not power_up.held_ignored)
    yield "counts as a press" if power_up.held_ignored else "ignored", replace(device, power_up=flipped)


def _woken_by(device: Device, rng: Random) -> Changes:
    """Emptied, and each one dropped if there are several."""
    for state in device.states:
        if state.sleep is None:
            continue
        sleep = state.sleep
        nothing = replace(sleep, woken_by=(), woken_by_events=())
        yield f"{state.name}, by nothing", _with_state(device, replace(state, sleep=nothing))
        if len(sleep.woken_by) + len(sleep.woken_by_events) < 2:
            continue
        for name in (*sleep.woken_by, *sleep.woken_by_events):
            fewer = replace(
                sleep,
                woken_by=tuple(n for n in sleep.woken_by if n != name),
                woken_by_events=tuple(n for n in sleep.woken_by_events if n != name),
            )
            yield f"{state.name}, not by {name}", _with_state(device, replace(state, sleep=fewer))


def _woken_on(device: Device, rng: Random) -> Changes:
    for state in device.states:
        if state.sleep is not None:
            on = "level" if state.sleep.on == "edge" else "edge"
            yield f"{state.name}, on {on}", _with_state(device, replace(state, sleep=replace(state.sleep, on=on)))


def _reader(device: Device, rng: Random) -> Changes:
    """A debounce and a lockout of the same time change places; and either of 1 us, which is none."""
    none = Span(1, 1)
    for button in device.buttons:
        others: dict[str, Button] = {
            "debounce of 1 us": replace(button, debounce=none, lockout=None),
            "lockout of 1 us": replace(button, debounce=None, lockout=none),
        }
        if button.debounce is not None:
            others["lockout"] = replace(button, debounce=None, lockout=button.debounce)
        elif button.lockout is not None:
            others["debounce"] = replace(button, debounce=button.lockout, lockout=None)
        for words, other in others.items():
            buttons = tuple(other if old.name == button.name else old for old in device.buttons)
            yield f"{button.name}, {words}", replace(device, buttons=buttons)


def _misheard(device: Device, rng: Random) -> Changes:
    """A line is taken by another gesture of the device, the two changing places where both are in use in the state.

    Not where both do the same. What a gesture is stays as it is: that is the language in which the promises speak.
    """
    names = [gesture.name for gesture in device.gestures]
    for state in device.states:
        for gesture in dict.fromkeys(t.gesture for t in state.transitions if t.gesture in names):
            others = [name for name in names if _does(state, name) != _does(state, gesture)]
            if not others:
                continue
            other = rng.choice(others)
            places = {gesture: other, other: gesture}
            lines = tuple(replace(t, gesture=places.get(t.gesture, t.gesture)) for t in state.transitions)
            yield f"{state.name}, {gesture} by {other}", _with_state(device, replace(state, transitions=lines))


def _does(state: State, gesture: str) -> tuple[Transition, ...]:
    """What a gesture does in a state, wherever that is written."""
    nowhere = Place("")
    return tuple(replace(t, gesture="", at=nowhere) for t in state.transitions if t.gesture == gesture)


def _output(device: Device, rng: Random) -> Changes:
    for output in device.outputs:
        for level in ("on", "floating"):
            changed = tuple(replace(o, in_reset=level) if o.name == output.name else o for o in device.outputs)
            yield f"{output.name} {level} in reset", replace(device, outputs=changed)


def _event(device: Device, rng: Random) -> Changes:
    for event in device.events:
        changed = tuple(replace(e, counts=not e.counts) if e.name == event.name else e for e in device.events)
        yield f"{event.name} wakes only", replace(device, events=changed)


OPERATORS: dict[str, Callable[[Device, Random], Changes]] = {
    "line out": _line_out,
    "other target": _other_target,
    "condition": _condition,
    "change of values": _change_of_values,
    "restarts": _restarts,
    "waiting": _waiting,
    "keeps": _keeps,
    "guard": _guard,
    "written": _when_written,
    "start": _start,
    "held at power-up": _held,
    "woken by": _woken_by,
    "woken on": _woken_on,
    "reader": _reader,
    "misheard": _misheard,
    "output": _output,
    "event": _event,
}


def catch(device: Device) -> str:
    """What catches a mutant: `reader`, the name of a hazard with its verdict, or nothing: then it survives."""
    if _is_refused(device):
        return "reader"
    for effort in ("quick", "usual"):
        answer = ask_again(device, BUDGETS[effort])
        if answer is None:
            return "reader"
        findings = answer.findings.values()
        if not all(finding.verdict is Verdict.HOLDS for finding in findings):
            decided = [finding for finding in findings if finding.verdict in (Verdict.BROKEN, Verdict.VACUOUS)]
            if decided or effort == "usual":
                first = min(decided or findings, key=lambda finding: finding.verdict)
                return f"{first.hazard}, {first.verdict.word}"
        else:
            return ""
    return ""


def _is_refused(device: Device) -> bool:
    """Whether the reader would refuse gestures that can't be told apart, or a harm that begins by itself."""
    notes = Notes(device.file, device.lines)
    gestures = {gesture.name: gesture for gesture in device.gestures}
    for state in device.states:
        first = {transition.gesture: transition for transition in reversed(state.transitions)}
        check_gestures(state.name, tuple(first[name] for name in state.gestures), gestures, Clock(), notes)
    check_harm(device.harm, device.outputs, device.states, device.memory, device.power_up, device.accepts, notes)
    return bool(notes.problems)


def audited(device: Device, every: int = 1) -> int:
    """Of a mutant that survives: how many certificates the auditor confirms, of one in `every`.

    Raises AssertionError if anything is amiss.
    """
    proofs: list[Proof] = []
    report = check(device, "usual", proofs=proofs)
    assert all(finding.verdict is Verdict.HOLDS for finding in report.findings)
    for proof in proofs[::every]:
        answer = audit_proof(device, proof.hazard, proof.subject, proof.text)
        assert answer.ok, (proof.hazard, proof.subject, answer.reason)
    return len(proofs[::every])


def _tell(job: tuple[str, int]) -> tuple[str, str, str, str]:
    name, number = job
    mutant = list(mutants(name))[number]
    return name, mutant.operator, mutant.what, catch(mutant.device)


def main(names: Sequence[str]) -> None:
    """Try every mutant of these devices and print what catches each, and the table of figures."""
    jobs = [(name, i) for name in names for i in range(len(list(mutants(name))))]
    Random(SEED).shuffle(jobs)  # so that what is told first is a fair sample
    total: Counter[tuple[str, str]] = Counter()
    caught: Counter[tuple[str, str]] = Counter()
    with Pool(WORKERS) as pool:
        for name, operator, what, by in pool.imap_unordered(_tell, jobs):
            print(f"{name}: {operator}: {what}: {by or 'SURVIVES'}", flush=True)
            for key in ((name, operator), (name, "all"), ("all", operator), ("all", "all")):
                total[key] += 1
                caught[key] += bool(by)
    columns = (*names, "all")
    print("\n| operator | " + " | ".join(columns) + " |\n|---" * 1 + "|---" * len(columns) + "|")
    for operator in (*OPERATORS, "all"):
        cells = (f"{caught[n, operator]}/{total[n, operator]}" if total[n, operator] else "" for n in columns)
        print(f"| {operator} | " + " | ".join(cells) + " |")


if __name__ == "__main__":
    main(sys.argv[1:] or NAMES)
