"""Three timers, the whole class graph, every matrix derived by hand.

Three parts burn down once each: a in [1,3], b in [2,4], c in [3,5]. When a expires, c begins anew if it still runs. Rows
and columns of the matrices are 0 and the timers still armed, in the order a, b, c; entry [i][j] bounds t_i - t_j.
"""

from __future__ import annotations

from nudgeproof.engines.explore import explore
from nudgeproof.engines.matrix import Timings, includes, smaller
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Choice, Model, Part, Situation, Timer
from tests.engines.classes import class_graph, rows


def burning(name: str, lo: int, hi: int, sends: tuple[str, ...] = (), hears: tuple[str, ...] = ()) -> Part:
    return Part(
        name,
        "device",
        "on",
        armed=lambda local, reads: (Timer(name, lo, hi),) if local == "on" else (),
        expired=lambda local, timer, reads: (Choice("off", sends),),
        takes=dict.fromkeys(hears, ()),
        heard=lambda local, signal, reads: (Choice(local, restart=(name,)),),
        sends=sends,
    )


def three() -> Model:
    return Model((burning("a", 1, 3, sends=("again",)), burning("b", 2, 4), burning("c", 3, 5, hears=("again",))))


ON, OFF = "on", "off"

CLASSES = [
    # 0: as armed. [a][b] = 3-2, [b][a] = 4-1, [c][a] = 5-1, [a][c] = 3-3, [c][b] = 5-2, [b][c] = 4-3.
    ((ON, ON, ON), [[0, -1, -2, -3], [3, 0, 1, 0], [4, 3, 0, 1], [5, 4, 3, 0]]),
    # 1: a first, at some s in [1,3]. b has run: 4-1 = 3 left at most, at least 0 (s = b, a tie). c is new: [3,5].
    #    [b][c] = 3-3, [c][b] = 5-0.
    ((OFF, ON, ON), [[0, 0, -3], [3, 0, 0], [5, 5, 0]]),
    # 2: b first, so b <= a <= 3 and it is in [2,3]. a: at most 3-2 = 1 left. c: at most 5-2 = 3, at least 0 (all at 3).
    #    a - c stays <= 0. c - a was <= 4, but with b <= a it is at most c - b <= 3.
    ((ON, OFF, ON), [[0, 0, 0], [1, 0, 0], [3, 3, 0]]),
    # 3: c first, so 3 <= c <= a <= 3: exactly at 3, and a has nothing left. b: at most 4-3 = 1 left, [b][a] = 1.
    ((ON, ON, OFF), [[0, 0, 0], [0, 0, 0], [1, 1, 0]]),
    # 4: a, then b within 3 more: c was new with [3,5], so it has 0 to 5 left.
    ((OFF, OFF, ON), [[0, 0], [5, 0]]),
    # 5: a, then c before b: c needs 3, b has at most 3 left, so both at 3 and b has nothing left.
    ((OFF, ON, OFF), [[0, 0], [0, 0]]),
    # 6: b, then a: c begins anew, [3,5] as armed. Included in 4.
    ((OFF, OFF, ON), [[0, -3], [5, 0]]),
    # 7: b, then c before a; a - c <= 0, so both at once and a has nothing left. Also: c, then b in the same instant.
    ((ON, OFF, OFF), [[0, 0], [0, 0]]),
    # 8: c, then a in the same instant: c is off already and hears nothing of it; b has 0 to 1 left.
    ((OFF, ON, OFF), [[0, 0], [1, 0]]),
    # 9: all off, no timers.
    ((OFF, OFF, OFF), [[0]]),
]

ARROWS = {
    (0, "a", 1), (0, "b", 2), (0, "c", 3), (1, "b", 4), (1, "c", 5), (2, "a", 6), (2, "c", 7),
    (3, "a", 8), (3, "b", 7), (4, "c", 9), (5, "b", 9), (6, "c", 9), (7, "a", 9), (8, "b", 9),
}  # fmt: skip


def test_every_class_and_every_arrow() -> None:
    graph = class_graph(three())
    assert [(situation, rows(matrix)) for situation, matrix in graph.classes] == CLASSES
    assert set(graph.arrows) == ARROWS
    assert len(graph.arrows) == len(ARROWS)


def test_the_explorer_keeps_all_but_the_included_one() -> None:
    """Ten classes; number 6 is included in 4, which is found first. 5 is included in 8, but found before it."""

    def never(model: Model, before: Situation, move: Move) -> bool:
        return False

    found = explore(three(), [never], 1_000)
    assert (found.complete, found.classes, found.situations, found.stuck) == (True, 9, 8, ())
    ended = explore(three(), [never], 8, stories=())
    assert (ended.complete, ended.classes) == (False, 8)


def test_inclusion_has_a_direction() -> None:
    matrices = [matrix for _, matrix in class_graph(three()).classes]
    assert includes(matrices[4], matrices[6])
    assert not includes(matrices[6], matrices[4])
    assert includes(matrices[8], matrices[5])
    assert not includes(matrices[5], matrices[8])
    assert all(includes(matrix, matrix) for matrix in matrices)


def test_only_the_largest_are_kept_to_compare_with() -> None:
    matrices = [matrix for _, matrix in class_graph(three()).classes]
    assert smaller(matrices[6], [matrices[4]]) is None
    assert smaller(matrices[4], [matrices[4]]) is None
    assert smaller(matrices[4], [matrices[6]]) == [matrices[6]]
    early, late = (Timings().fresh([Timer("a", lo, lo + 2)]).matrix for lo in (1, 2))
    assert smaller(early, [late]) == []
    assert smaller(late, [early]) == []
    assert smaller(early, []) == []


def test_who_may_be_first_ties_included() -> None:
    """c can tie with a at 3 when it begins at 3; from 4 on it can't."""
    assert Timings().fresh([Timer("a", 1, 3), Timer("c", 3, 5)]).firsts == (0, 1)
    assert Timings().fresh([Timer("a", 1, 3), Timer("c", 4, 5)]).firsts == (0,)
