"""`python -m tests.agreement.smalldevices [DEVICES]`: whole devices by brute force (default: 300).

Random specs with times of a few microseconds, so that the oracle can visit every state of the compiled device, whole unit by
whole unit: bounce, debounce, gestures, sleep, loss of power, memory. For each change of state the explorer must find what
the oracle finds, at the same least cost, and its story must have that cost when it was replayed. The exit code is 1 if any
differ.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator
from itertools import permutations
from random import Random

from nudgeproof.engines.explore import explore
from nudgeproof.engines.story import tell
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from tests.agreement.test_explorer_and_oracle import as_test, told_cost
from tests.oracle.brute import Goal, Locals, TooBig, search

STATES = ("idle", "hit", "low")
BUDGET = 50_000
MOST_STATES = 20_000


def drawn(seed: int) -> Device:
    """A device with three states and one or two gestures; some sleep, some lose power and keep their state."""
    rng = Random(seed)
    low, knock, press = rng.randint(0, 2), rng.randint(1, 3), rng.randint(2, 5)
    forms = {
        "tap": f"{{taps: 1, press: up to {press} us}}",
        "twice": f"{{taps: 2, press: up to {press} us, between: up to {rng.randint(2, 5)} us}}",
        "hold": f"{{held: {press + rng.randint(1, 4)} us}}",
    }
    gestures = rng.sample(sorted(forms), rng.choice((1, 1, 2)))
    moves = ", ".join(f"{name}: {rng.choice(('hit', 'low'))}" for name in gestures)
    sleep = (
        f"sleep: {{woken by: [pad], on: {rng.choice(('edge', 'level'))}, ready in: {rng.randint(0, 1)} to 2 us, "
        f"dozes again after: {rng.randint(2, 4)} us, each step: up to 1 us}}"
    )
    lines = [
        "spec: 1",
        "device: small one",
        "buttons:",
        f"  pad: {{bounce: up to {rng.choice((0, 0, 1, 2))} us, debounce: {low} to {low + rng.randint(0, 1)} us, "
        "edges apart: at least 1 us}",
        "gestures:",
        *(f"  {name}: {forms[name]}" for name in gestures),
        "initial: idle",
        "states:",
        "  idle:",
        f"    {sleep if rng.random() < 0.4 else 'shows: nothing'}",
        f"    transitions: {{{moves}}}",
        f"  hit: {{shows: hit, transitions: {{{gestures[0]}: low}}}}",
        f"  low: {{shows: low, transitions: {{after {rng.randint(4, 9)} us: idle}}}}",
        "surroundings:",
        f"  knocks: {{closes pad: {knock} to {knock + rng.randint(0, 4)} us, then open at least: {rng.randint(2, 5)} us}}",
    ]
    if rng.random() < 0.5:
        held = rng.choice(("ignored until released", "counts as a press"))
        lines += [
            f"  rattle: {{cell gone: up to {rng.randint(1, 4)} us, then steady at least: {rng.randint(3, 6)} us}}",
            f"supply: {{hold-up: {rng.randint(1, 3)} us}}",
            f"power up: {{takes: {rng.randint(1, 2)} to 3 us, if blank: low, if damaged: hit, button held: {held}}}",
        ]
        if rng.random() < 0.6:
            guard = rng.choice(("none", "checksum"))
            takes = rng.randint(1, 2)
            lines.append(f"memory: {{keeps: [state], written: at once, write takes: {takes} us, guard: {guard}}}")
    return read_device("\n".join(lines) + "\n", f"{seed}.yaml")


def environments(device: Device) -> Iterator[Environment]:
    """Knocks; any press; and knocks with a loss of power, if there is one."""
    yield Environment(sources=("knocks",))
    yield Environment(sources=("anything",))
    if device.power_up is not None:
        yield Environment(sources=("rattle", "knocks"))


def changes_of(model: Model) -> list[Goal]:
    """Every change from one state to another."""
    chart = model.index("device")

    def change(was: str, now: str) -> Goal:
        def goal(before: Locals, after: Locals) -> bool:
            first, last = before[chart], after[chart]
            assert isinstance(first, tuple)
            assert isinstance(last, tuple)
            return bool(first[0] == was and last[0] == now)

        return goal

    return [change(was, now) for was, now in permutations(STATES, 2)]


def never(model: Model, before: Situation, move: Move) -> bool:
    """A test that no step meets, so that every class is looked at."""
    return False


def compare(seed: int, most_states: int, did: Counter[str]) -> Iterator[str]:
    """In what the explorer and the oracle differ about a device."""
    device = drawn(seed)
    for environment in environments(device):
        model = compile_model(device, environment)
        goals = changes_of(model)
        try:
            answer = search(model.parts, goals, most_states)
        except TooBig:
            did["too big"] += 1
            continue
        found = explore(model, [*map(as_test, goals), never], BUDGET)
        name = f"device {seed}, {environment}"
        if not found.complete or found.situations != len(answer.situations) or bool(found.stuck) != answer.stuck:
            yield f"{name}: {found.situations} situations, {len(answer.situations)} by the oracle"
        did["compared"] += 1
        did["compared with a loss of power"] += "rattle" in environment.sources
        for path, least in zip(found.paths[:-1], answer.costs, strict=True):
            cost = None if path is None else told_cost(tell(model, path))
            did["changes that can happen" if least else "changes that can't"] += 1
            did["with chatter in their story"] += bool(least and least[1])
            if cost != least:
                yield f"{name}: a story of {cost}, {least} by the oracle"


def main(devices: int) -> int:
    """Run, print each difference and the figures, and return the exit code."""
    did: Counter[str] = Counter()
    against = 0
    for seed in range(devices):
        for line in compare(seed, MOST_STATES, did):
            print(line, flush=True)
            against += 1
    for what, count in did.items():
        print(f"{count:6} {what}")
    print(f"{against:6} differences")
    return 1 if against else 0


if __name__ == "__main__":
    sys.exit(main(*([int(word) for word in sys.argv[1:]] or [300])))
