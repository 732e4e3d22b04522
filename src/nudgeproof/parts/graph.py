"""The interface of a device as a graph: states, and the ways from one to the next.

It says what leads where as the spec has it, with no timing explored; whether a way can ever be taken is for the model.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from nudgeproof.spec.types import Device, Timeout, Transition

if TYPE_CHECKING:
    import networkx


def state_graph(device: Device) -> networkx.MultiDiGraph:
    """The states of `device` as nodes, its transitions and timeouts as edges.

    A node is the state's name, with attribute `state`, the State. An edge's key is its number in the order of the file,
    from 0 (sort by key, since a graph lists edges by node). Its attributes: `label`, the gesture or the timeout as
    written; `kind`, `gesture`, `timeout` or `internal` (a gesture that leaves the state standing: a loop); `piece`, the
    Transition or Timeout.
    """
    # Imported here: drawing is rare, and the start of every other command would pay for it.
    import networkx

    graph = networkx.MultiDiGraph(name=device.name)
    for state in device.states:
        graph.add_node(state.name, state=state)
    number = 0
    for state in device.states:
        pieces: list[Transition | Timeout] = [*state.transitions, *state.timeouts]
        for piece in sorted(pieces, key=lambda p: (p.at.line, p.at.column)):
            label, kind, target = _edge(state.name, piece)
            graph.add_edge(state.name, target, key=number, label=label, kind=kind, piece=piece)
            number += 1
    return graph


def _edge(source: str, piece: Transition | Timeout) -> tuple[str, str, str]:
    """Label, kind and target of the edge that `piece` makes out of the state `source`."""
    if isinstance(piece, Timeout):
        return piece.text, "timeout", piece.target
    if piece.target is None:
        return piece.gesture, "internal", source
    return piece.gesture, "gesture", piece.target
