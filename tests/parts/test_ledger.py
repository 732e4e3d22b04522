"""The ledger by itself: what may be found after an interruption, from the loss of contact to the start."""

from __future__ import annotations

from nudgeproof.model.tables import Local, Value
from nudgeproof.parts.chart import CHANGED, STARTED, STEPPED
from nudgeproof.parts.ledger import ledger
from nudgeproof.parts.supply import RECOVERS, SAGS
from nudgeproof.spec.read import read_device

MS = 1_000
LAMP = read_device(
    """spec: 1
device: lamp
buttons: {pad: {bounce: up to 0 ms, debounce: 20 ms, edges apart: at least 1 ms}}
gestures: {tap: {taps: 1, press: up to 400 ms}}
variables: {beam: [low, mid, high]}
initial: lit
states: {lit: {transitions: {tap: {next: beam}}}}
supply: {hold-up: 5 ms}
power up: {takes: 20 ms, if blank: lit, if damaged: lit, button held: counts as a press}
memory: {keeps: beam, written: at once, write takes: 1 ms, guard: two copies, may lose: the last 10 ms}
surroundings:
  rattle: {cell gone: up to 40 ms, then steady at least: 2 s}
""",
    "lamp.yaml",
)
PART = ledger(LAMP)
LOW, MID, HIGH = (("lit", beam) for beam in ("low", "mid", "high"))


def hear(local: Local, signal: str, beam: str, steady: bool = True) -> Local:
    reads: dict[str, Value] = {"state": "lit", "value beam": beam, "steady": steady}
    (choice,) = PART.heard(local, signal, reads)
    return choice.to


def test_what_was_in_force_shortly_before_the_loss_is_allowed() -> None:
    local = hear(PART.start, STEPPED, "mid")
    assert local == (MID, (LOW,), None)
    assert {(timer.lo, timer.hi) for timer in PART.armed(local, {})} == {(10 * MS + 1, 10 * MS + 1)}
    lost = hear(local, SAGS, "mid")
    assert lost == (MID, (LOW,), frozenset({LOW, MID}))
    assert hear(lost, RECOVERS, "mid") == (MID, (LOW,), None), "nothing happened"


def test_what_was_in_force_longer_ago_is_not() -> None:
    local = hear(hear(PART.start, STEPPED, "mid"), STEPPED, "high")
    first, second = PART.armed(local, {})
    (choice,) = PART.expired(local, first.name, {})
    assert choice.to == (HIGH, (MID,), None)
    assert hear(choice.to, SAGS, "high") == (HIGH, (MID,), frozenset({MID, HIGH}))
    (choice,) = PART.expired(choice.to, second.name, {})
    assert choice.to == (HIGH, (), None)


def test_what_changes_while_the_cell_is_gone_is_allowed() -> None:
    lost = hear(PART.start, SAGS, "low")
    assert lost == (LOW, (), frozenset({LOW}))
    assert hear(lost, STEPPED, "mid") == (MID, (LOW,), frozenset({LOW, MID}))
    assert hear(lost, CHANGED, "low") == lost


def test_what_comes_back_into_force_counts_from_the_last_time() -> None:
    local = hear(hear(PART.start, STEPPED, "mid"), STEPPED, "low")
    assert local == (LOW, (MID,), None)
    (choice,) = PART.heard(local, STEPPED, {"state": "lit", "value beam": "high", "steady": True})
    assert choice.to == (HIGH, (LOW, MID), None)
    assert choice.restart == (PART.armed(choice.to, {})[0].name,)


def test_a_start_begins_anew_and_with_the_cell_gone_within_the_next_interruption() -> None:
    used = hear(hear(PART.start, STEPPED, "mid"), SAGS, "mid")
    assert hear(used, STARTED, "low") == (LOW, (), None)
    assert hear(used, STARTED, "low", steady=False) == (LOW, (), frozenset({LOW}))
