"""The interface of a device as a graph: states, and the ways from one to the next.

It says what leads where as the spec has it, with no timing explored; whether a way can ever be taken is for the model.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from nudgeproof.parts.memory import settled_state
from nudgeproof.spec.types import Device, Timeout, Transition

if TYPE_CHECKING:
    import networkx


@dataclass(frozen=True, slots=True)
class PowerBack:
    """Where a device goes when power is back after a reset.

    `as_it_was`: a memory that can be read brings the state back. `ways`: all other targets in the order `if blank`, `if
    damaged`, each once, with the conditions of memory that lead there; no conditions: it always does.
    """

    as_it_was: bool
    ways: tuple[tuple[str, tuple[str, ...]], ...]


def power_back(device: Device) -> PowerBack | None:
    """Where `device` goes when power is back; None if its spec has no `power up`."""
    rules = device.power_up
    if rules is None:
        return None
    keeps = device.memory.keeps if device.memory is not None else ()
    as_it_was = "state" in keeps
    if not keeps or (not as_it_was and rules.if_blank == rules.if_damaged):
        return PowerBack(False, ((rules.if_blank, ()),))
    if rules.if_blank == rules.if_damaged:
        return PowerBack(True, ((rules.if_blank, ("blank", "damaged")),))
    # A memory that brings back values but no state leads to the same state as a blank one.
    readable = ("blank",) if as_it_was else ("blank", "whole")
    return PowerBack(as_it_was, ((rules.if_blank, readable), (rules.if_damaged, ("damaged",))))


def comes_back_as(device: Device, name: str) -> str:
    """The state that the state `name` becomes by a reset; `name` itself where memory doesn't keep the state."""
    back = power_back(device)
    return settled_state(device, name) if back is not None and back.as_it_was else name


def state_graph(device: Device) -> networkx.MultiDiGraph:
    """The states and groups of `device` as nodes, its transitions and timeouts as edges.

    A node is the name of a state, with attribute `state`, the State, or of a group, with attribute `group`, the Group. An
    edge's key is its number in the order of the file, from 0 (sort by key, since a graph lists edges by node); what the
    states of a group share leads out of the group, once. Its attributes: `label`, the gesture, the event or the timeout as
    written; `kind`, `gesture`, `event`, `timeout` or `internal` (what leaves the state standing: a loop); `piece`, the
    Transition or Timeout.
    """
    # Imported here: drawing is rare, and the start of every other command would pay for it.
    import networkx

    graph = networkx.MultiDiGraph(name=device.name)
    for state in device.states:
        graph.add_node(state.name, state=state)
    for group in device.groups:
        graph.add_node(group.name, group=group)
    owned: dict[str, dict[Transition | Timeout, None]] = {}
    for state in device.states:
        pieces: list[Transition | Timeout] = [*state.transitions, *state.timeouts]
        for piece in sorted(pieces, key=lambda p: (p.at.line, p.at.column)):
            owned.setdefault(piece.group or state.name, {})[piece] = None
    number = 0
    for owner, lines in owned.items():
        for piece in lines:
            label, kind, target = _edge(owner, piece, device.unmade)
            graph.add_edge(owner, target, key=number, label=label, kind=kind, piece=piece)
            number += 1
    return graph


def _edge(source: str, piece: Transition | Timeout, events: tuple[str, ...]) -> tuple[str, str, str]:
    """Label, kind and target of the edge that `piece` makes out of the state or group `source`."""
    label, kind = (piece.text, "timeout") if isinstance(piece, Timeout) else (piece.gesture, "gesture")
    if piece.target is None:
        return label, "internal", source
    return label, "event" if label in events and kind == "gesture" else kind, piece.target
