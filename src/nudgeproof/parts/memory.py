"""Memory: what outlives a reset, written step by step, and what is found there afterwards.

A write takes time and ends at the reset, not at the loss of contact. What a write that was cut leaves behind depends on the
guard: `none` keeps each thing in a cell of its own, written one after another, and a cut cell reads as anything at each
start; `checksum` keeps one record that is recognised as damaged, or may read as blank where a write erases it first; `two
copies` writes to the copy that isn't the newest whole one, so that one is always there (its checksum is taken to be ideal).
Changes that come while a write is going on wait, and only the last of them is written. A firmware that is deaf while it
writes is told when a write begins and ends.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

from nudgeproof.model.tables import Choice, Local, Part, Reads, Timer, Value, lasting
from nudgeproof.parts.attention import WRITES, WROTE, writes_deaf
from nudgeproof.parts.chart import CHANGED, RESTORED, START, STARTED, STEPPED
from nudgeproof.parts.supply import RESET, RESTORE
from nudgeproof.spec.types import READ_AS_IS, Device, Memory, State

TORN = "torn"
BLANK = "(blank)"
DAMAGED = "(damaged)"
GARBAGE = "(garbage)"
ERASED = "(erased, more or less)"
STALE = "(of an older firmware)"
FOUND_BLANK, FOUND_DAMAGED, FOUND_STALE = "blank", "damaged", "of an older firmware"

Snapshot = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Store:
    """Local state. `cells`: what is stored. `target`: what is being written, at cell `at`. `wanted`: what comes after it.

    `waits`: until things are quiet. `found`: what the last start read, until the chart took it. `torn`: a write was cut
    and nothing was written whole since. `unknown`: nothing is known of what is stored; the next start decides.
    """

    cells: tuple[Value, ...]
    target: Snapshot | None = None
    at: int = 0
    wanted: Snapshot | None = None
    waits: bool = False
    found: Value = None
    torn: bool = False
    unknown: bool = False


def settled_state(device: Device, name: str) -> str:
    """The state that `name` is kept as: a waiting state is kept as the one its timeout leads to."""
    seen: set[str] = set()
    state: State = device.state(name)
    while state.waiting and state.gives_way_to is not None and state.name not in seen:
        seen.add(state.name)
        state = device.state(state.gives_way_to)
    return state.name


def read_as(names: tuple[str, ...]) -> tuple[str, ...]:
    """The published values that `state` and variables are read from."""
    return tuple("state" if name == "state" else f"value {name}" for name in names)


def snapshot(device: Device, names: tuple[str, ...], reads: Reads) -> Snapshot:
    """What memory ought to hold of `names` now."""
    pairs = ((name, str(reads[published])) for name, published in zip(names, read_as(names), strict=True))
    return tuple(settled_state(device, value) if name == "state" else value for name, value in pairs)


def whole(device: Device) -> tuple[str, ...]:
    """Everything that could be kept: the state and all variables."""
    return ("state", *(variable.name for variable in device.variables))


def memory(device: Device, found: str = "", unknown: bool = False, is_seen: bool = False) -> Part:
    """The part for the memory. `found`: at first it is `FOUND_BLANK`, as it also is without a word, `FOUND_DAMAGED`, or
    `FOUND_STALE`, which is written by an older firmware; `unknown`: it may be whatever the device may ever have left there,
    and all of that matters if what is kept `is_seen` from outside.

    Takes the chart's `changed`, `stepped` and `started` and the supply's `reset` and `restore`; sends `start` and, where the
    firmware is deaf meanwhile, `writes` and `wrote`. Publishes `restored` (what the start read: a snapshot, blank or
    damaged) and `torn`.
    """
    deaf = writes_deaf(device)
    rules = device.memory
    held = {FOUND_STALE: STALE, FOUND_DAMAGED: DAMAGED}.get(found, BLANK)
    cells: tuple[Value, ...] = () if rules is None else _stored(rules, held)
    line = rules.at.line if rules is not None else 0
    keeps = rules.keeps if rules is not None else ()

    def armed(local: Local, reads: Reads) -> tuple[Timer, ...]:
        store = _split(local)
        timers: tuple[Timer, ...] = ()
        if rules is not None and store.target is not None:
            timers += (lasting("writes", rules.write),)
        if rules is not None and rules.quiet is not None and store.waits:
            timers += (lasting("quiet for", rules.quiet),)
        return timers

    def expired(local: Local, timer: str, reads: Reads) -> tuple[Choice, ...]:
        store = _split(local)
        if timer == "quiet for":
            begun = _begin(replace(store, waits=False), snapshot(device, keeps, reads), rules)
            return (Choice(begun, told(store, begun), says="the firmware begins to save", line=line),)
        written = _written(store, rules)
        return (Choice(written, told(store, written), says="a write to memory ends", line=line),)

    def told(before: Store, after: Store) -> tuple[str, ...]:
        """What a deaf firmware is told when a write begins or the last one ends."""
        if not deaf or (before.target is None) == (after.target is None):
            return ()
        return (WRITES,) if before.target is None else (WROTE,)

    def heard(local: Local, signal: str, reads: Reads) -> tuple[Choice, ...]:
        store = _split(local)
        if rules is None:
            found: Value = () if signal == RESTORE else None
            return (Choice(Store((), found=found), (START,) if signal == RESTORE else ()),)
        if signal == RESET:
            return (Choice(_cut(store, rules), line=line),)
        if signal == RESTORE and store.unknown:
            return tuple(_found(Store(_stored(rules, held)), held, line) for held in _anything(device, rules, is_seen))
        if signal == RESTORE:
            return tuple(_found(store, value, line) for value in _readings(device, rules, store.cells))
        if signal == STARTED:
            return (Choice(replace(store, found=None)),)
        if rules.quiet is not None:
            return (Choice(replace(store, waits=True), restart=("quiet for",)),)
        begun = _begin(store, snapshot(device, keeps, reads), rules)
        return (Choice(begun, told(store, begun), line=line),)

    def shown(local: Local) -> tuple[Value, ...]:
        store = _split(local)
        return (store.found, store.torn)

    return Part(
        name="memory",
        role="device",
        start=Store(cells, unknown=unknown and rules is not None),
        publishes=(RESTORED, TORN),
        shown=shown,
        reads=read_as(keeps),
        armed=armed,
        expired=expired,
        takes={
            **dict.fromkeys((CHANGED, STEPPED), (WRITES,) if deaf else ()),
            STARTED: (),
            RESET: (),
            RESTORE: (START,),
        },
        heard=heard,
        sends=(WRITES, WROTE) if deaf else (),
    )


def _is_record(rules: Memory) -> bool:
    return rules.guard != "none"


def _as_cells(rules: Memory, values: Snapshot) -> tuple[Value, ...]:
    return (values,) if _is_record(rules) else values


def _differing(store: Store, rules: Memory, values: Snapshot, start: int) -> int:
    """The first cell from `start` on that doesn't hold what it should, or -1."""
    for i, (held, value) in enumerate(zip(store.cells, _as_cells(rules, values), strict=True)):
        if i >= start and held != value:
            return i
    return -1


def _begin(store: Store, values: Snapshot, rules: Memory | None) -> Store:
    assert rules is not None
    if store.target is not None:
        return replace(store, wanted=values if values != store.target else None)
    at = _differing(store, rules, values, 0)
    return store if at < 0 else replace(store, target=values, at=at)


def _written(store: Store, rules: Memory | None) -> Store:
    """One cell was written whole; go on with the next one that differs."""
    assert rules is not None
    target = store.target
    assert target is not None
    cells = list(store.cells)
    cells[store.at] = _as_cells(rules, target)[store.at]
    store = replace(store, cells=tuple(cells))
    if store.wanted is not None:
        return _begin(replace(store, target=None, at=0, wanted=None), store.wanted, rules)
    at = _differing(store, rules, target, store.at + 1)
    if at < 0:
        return replace(store, target=None, at=0, torn=False)
    return replace(store, at=at)


def _cut(store: Store, rules: Memory) -> Store:
    cells = list(store.cells)
    writing = store.target is not None
    if writing and rules.guard == "checksum":
        cells[0] = ERASED if rules.erases_first else DAMAGED
    elif writing and rules.guard == "none":
        cells[store.at] = GARBAGE
    torn = store.torn or (writing and rules.guard != "two copies")
    return Store(tuple(cells), torn=torn)


def _readings(device: Device, rules: Memory, cells: tuple[Value, ...]) -> tuple[Value, ...]:
    """Everything that a start may read from these cells."""
    if STALE in cells:
        return _legal(device, rules) if rules.old_layout == READ_AS_IS else (BLANK,)
    if ERASED in cells:
        return (DAMAGED, BLANK)
    if _is_record(rules):
        return (cells[0],)
    if rules.keeps and all(cell == BLANK for cell in cells):
        return (BLANK,)
    domains: list[tuple[Value, ...]] = []
    for name, cell in zip(rules.keeps, cells, strict=True):
        legal = tuple(s.name for s in device.states) if name == "state" else device.variable(name).values
        first = _first_value(device, name)
        domains.append((*legal, DAMAGED) if cell == GARBAGE else (first if cell == BLANK else cell,))
    found: list[Value] = [DAMAGED if DAMAGED in values else values for values in product(*domains)]
    return tuple(dict.fromkeys(found))


def _legal(device: Device, rules: Memory) -> tuple[Value, ...]:
    """Every combination of legal values: what another layout looks like when it is read as one's own."""
    domains = [
        tuple(s.name for s in device.states) if name == "state" else device.variable(name).values
        for name in rules.keeps
    ]
    return tuple(product(*domains))


def _anything(device: Device, rules: Memory, is_seen: bool) -> tuple[Value, ...]:
    """Whatever a start may ever read: nothing, all kept values that can stand there, and, without a second copy, damage.

    A variable on which neither a condition nor a time hangs decides nothing that is asked of such a start, so its first
    value stands for all; but not where writing it makes the firmware deaf, nor where it `is_seen`.
    """
    conditions = [line.condition for state in device.states for line in state.transitions]
    conditions += [line.condition for state in device.states for line in state.timeouts]
    deciding = {name for condition in conditions if condition is not None for name, _ in condition.allowed}
    deciding |= {timeout.by for state in device.states for timeout in state.timeouts}
    if rules.deaf or is_seen:
        deciding.update(variable.name for variable in device.variables)
    states = tuple(state.name for state in device.states)
    if _is_record(rules):
        states = tuple(dict.fromkeys(settled_state(device, name) for name in states))

    def domain(name: str) -> tuple[str, ...]:
        if name == "state":
            return states
        variable = device.variable(name)
        return variable.values if name in deciding else (variable.first,)

    damaged = () if rules.guard == "two copies" else (DAMAGED,)
    return (BLANK, *product(*(domain(name) for name in rules.keeps)), *damaged)


def _stored(rules: Memory, held: Value) -> tuple[Value, ...]:
    """The cells from which a start reads `held`."""
    if _is_record(rules):
        return (held,)
    if isinstance(held, tuple):
        return held
    return (GARBAGE if held == DAMAGED else held,) * len(rules.keeps)


def _first_value(device: Device, name: str) -> str:
    if name != "state":
        return device.variable(name).first
    return device.power_up.if_blank if device.power_up is not None else device.initial


def _found(store: Store, value: Value, line: int) -> Choice:
    told = ", ".join(value) if isinstance(value, tuple) else str(value).strip("()")
    return Choice(replace(store, found=value), (START,), says=f"memory holds: {told}", line=line)


def _split(local: Local) -> Store:
    assert isinstance(local, Store)
    return local
