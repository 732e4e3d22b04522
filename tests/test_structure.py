"""Every line of the chart is found in the text where it stands, be it a state's own, a group's, or one of several cases."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from nudgeproof.again import change
from nudgeproof.hazards.no_way_off import NAME as NO_WAY_OFF
from nudgeproof.remedies import may_change, propose
from nudgeproof.spec.edit import Edit, Places
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device, State, Timeout, Transition
from nudgeproof.structure import Line, find_line
from nudgeproof.verdict import Finding, Verdict
from tests.agreement.randomspecs import sketch
from tests.amount import amount
from tests.spec.good import GROUPED

SEEDS = tuple(range(0, amount(100, 300), 10))
BLOCK = GROUPED.replace(
    "tap: [{if: beam is high and left is at least 1, to: timed}, {if: beam is not high, next: beam}]",
    "tap:\n            - if: beam is high and left is at least 1\n              to: timed # first\n"
    "            - {if: beam is not high, next: beam}",
)


def texts() -> Iterator[str]:
    yield from (GROUPED, BLOCK)
    yield from (sketch(seed).text for seed in SEEDS)


def pieces(device: Device) -> list[tuple[State, Transition | Timeout]]:
    found: list[tuple[State, Transition | Timeout]] = []
    for state in device.states:
        found += [(state, transition) for transition in state.transitions]
        found += [(state, timeout) for timeout in state.timeouts]
    return found


def lead(places: Places, line: Line, target: str) -> Edit:
    assert line.goal is not None
    return places.put(line.goal, target) if line.case is None else places.put_in(line.case, "to", target)


def goals(device: Device) -> list[tuple[str, str, str | None]]:
    return [(s.name, p.text if isinstance(p, Timeout) else p.gesture, p.target) for s, p in pieces(device)]


def test_a_line_that_is_led_elsewhere_leads_there_and_no_other_does() -> None:
    tried = {"own": 0, "shared": 0, "case": 0}
    for text in texts():
        device = read_device(text, "drawn.yaml")
        places = Places(device.lines)
        for number, (state, piece) in enumerate(pieces(device)):
            line = find_line(device, places, state, piece)
            assert line is not None
            assert state.name in line.states
            assert piece.group or len(line.states) == 1
            assert (line.goal is None) == (piece.target is None)
            other = next(one.name for one in device.states if one.name != piece.target)
            changed = change(device, (lead(places, line, other),)) if line.goal is not None else None
            if changed is None:
                continue
            tried["case" if line.case is not None else "shared" if piece.group else "own"] += 1
            before, after = goals(device), goals(changed)
            assert after[number][2] == other
            for was, now, (where, same) in zip(before, after, pieces(device), strict=True):
                assert now[2] == (other if same == piece and where.name in line.states else was[2])
    assert min(tried.values()) > amount(4, 10), tried


@pytest.mark.parametrize("seed", SEEDS[:12])
def test_whatever_cannot_happen_changes_can_be_proposed(seed: int) -> None:
    """Each proposed change is one that may be offered, and it hits the text so that it can be told."""
    device = read_device(sketch(seed).text, "drawn.yaml")
    for state in device.states:
        finding = Finding(
            hazard=NO_WAY_OFF,
            subject=state.name,
            verdict=Verdict.BROKEN,
            evidence="proof",
            surroundings="",
            place=state.at,
            sentence="",
            where="",
            bench="",
            all_held="",
            cure="",
            reason="",
            story=None,
            scenes=(),
            classes=0,
        )
        for remedy in propose(device, finding):
            assert all(may_change(edit.path) for edit in remedy.edits)
            assert all(str(edit) for edit in remedy.edits)
