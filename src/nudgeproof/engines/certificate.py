"""Certificates: an absence written down, so that it can be checked again without the explorer.

A certificate holds, for each situation, the largest of the classes that the explorer kept. They are a *closed* set: the
first class is included in one of them, and so is whatever follows from any of them. So no run leaves them, and if none of
them can do the step in question nothing can. `engines.audit` checks just that.

Why the largest suffice: the explorer looked at whatever follows from a class it kept, and kept that or one including it, so
one of the largest includes it. Why none can be spared or made smaller: a step from a larger class leads to a larger class,
so by induction from the first class every closed set includes, in one member, each class that the explorer met. For each of
the largest it needs such a member, and another one of the largest isn't it. So they are the same whatever else was looked
for, and in whatever order.
"""

from __future__ import annotations

import json
from collections.abc import Sequence

from nudgeproof import __version__
from nudgeproof.diagnostics import ToolFault
from nudgeproof.engines.encoding import Claim, encode, heading
from nudgeproof.engines.explore import Exploration
from nudgeproof.engines.matrix import Matrix, includes
from nudgeproof.units import FOREVER


def certify(claim: Claim, seen: Exploration, goal: int) -> str:
    """The certificate that no step meets test number `goal` of an exploration; JSON, one line for each situation.

    `seen` must have been made with `keep` and without `avoid`. Times are whole microseconds, no bound is "inf"; a matrix is
    flat, row by row, over 0 and the timers armed, in the order of parts. Same input, same bytes. Raises `ToolFault` if the
    exploration doesn't prove the absence.
    """
    if not seen.complete or seen.paths[goal] is not None or seen.stuck or not seen.kept:
        raise ToolFault("only an exploration that was complete and found nothing can be certified")
    classes = sorted((encode(situation), largest(matrices)) for situation, matrices in seen.kept)
    head = json.dumps(heading(claim, __version__), separators=(",", ":"))
    lines = (
        json.dumps({"situation": key, "matrices": [_written(m) for m in matrices]}, separators=(",", ":"))
        for key, matrices in classes
    )
    return f'{head[:-1]},"classes":[\n' + ",\n".join(lines) + "\n]}\n"


def largest(matrices: Sequence[Matrix]) -> tuple[Matrix, ...]:
    """Those that no other one includes, each once, sorted."""
    kept: list[Matrix] = []
    for matrix in sorted(set(matrices), reverse=True):
        # What includes it is no smaller in any entry, so it came before.
        if not any(includes(other, matrix) for other in kept):
            kept.append(matrix)
    return tuple(reversed(kept))


def _written(matrix: Matrix) -> list[object]:
    return ["inf" if bound == FOREVER else bound for bound in matrix]
