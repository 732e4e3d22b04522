"""Two classes as one: only where nothing comes in that was in neither, tried point by point."""

from __future__ import annotations

from itertools import product
from random import Random

from nudgeproof.engines.matrix import Matrix, Timings, join
from nudgeproof.model.tables import Timer
from nudgeproof.units import FOREVER

MOST = 4


def drawn(rng: Random, timers: int, least: int = -2, most: int = MOST) -> Matrix | None:
    """A canonical matrix with small bounds; None if nothing is in it."""
    width = timers + 1
    bounds = [[0 if i == j else rng.choice((FOREVER, *range(least, most))) for j in range(width)] for i in range(width)]
    for i in range(1, width):
        bounds[0][i] = min(bounds[0][i], 0)
    for via, i, j in product(range(width), repeat=3):
        bounds[i][j] = min(bounds[i][j], bounds[i][via] + bounds[via][j])
    if any(bounds[i][i] < 0 for i in range(width)):
        return None
    return tuple(bound for row in bounds for bound in row)


def points(matrix: Matrix, timers: int) -> frozenset[tuple[int, ...]]:
    """What is in it, up to a time beyond all bounds; so fine that each order of fractions of a unit has a point."""
    fine = timers + 1
    found = set()
    for times in product(range((2 * MOST + 2) * fine), repeat=timers):
        whole = (0, *times)
        if all(whole[i] - whole[j] <= matrix[i * fine + j] * fine for i, j in product(range(fine), repeat=2) if i != j):
            found.add(times)
    return frozenset(found)


def test_a_join_is_exactly_what_is_in_either_and_is_found_wherever_there_is_one() -> None:
    rng = Random(3)
    joined = apart = 0
    known = [matrix for matrix in (drawn(rng, 2) for _ in range(52)) if matrix is not None]
    inside = {matrix: points(matrix, 2) for matrix in known}
    for one, other in product(known, repeat=2):
        around = join(one, other)
        both = inside[one] | inside[other]
        hull = inside.setdefault(tuple(map(max, one, other)), points(tuple(map(max, one, other)), 2))
        assert (around is None) == (hull != both), (one, other)
        if around is not None:
            assert inside[around] == both
            joined += one != other
        else:
            apart += 1
    assert joined > 60
    assert apart > 100


def narrowed(matrix: Matrix, width: int, i: int, j: int, bound: int) -> Matrix:
    """What is in it with t_i - t_j at most `bound`, if anything is."""
    return tuple(
        min(matrix[p * width + q], matrix[p * width + i] + bound + matrix[j * width + q])
        for p, q in product(range(width), repeat=2)
    )


def test_one_cut_in_two_is_one_again_unless_something_between_is_missing() -> None:
    rng, cuts = Random(4), 0
    while cuts < 100:
        matrix, (i, j) = drawn(rng, 4, 0, 20), rng.sample(range(5), 2)
        most, least = (matrix[i * 5 + j], -matrix[j * 5 + i]) if matrix is not None else (0, 0)
        if matrix is None or not -FOREVER < least + 2 < most < FOREVER:
            continue
        at = rng.randint(int(least) + 1, int(most) - 2)
        low = narrowed(matrix, 5, i, j, at)
        assert join(low, narrowed(matrix, 5, j, i, -at)) == matrix
        assert join(low, narrowed(matrix, 5, j, i, -at - 1)) is None
        cuts += 1


def test_what_follows_is_forgotten_and_comes_out_the_same() -> None:
    timings = Timings()
    first = timings.fresh((Timer("a", 1, 5), Timer("b", 2, 3)))
    expiry = timings.expiry(0, (Timer("b", 2, 3), Timer("c", 4, 4)), (1, -1))
    before = timings.after(first, expiry)
    assert timings.after(first, expiry) is before
    timings.forget()
    again = timings.after(first, expiry)
    assert again is not before
    assert again.matrix == before.matrix
