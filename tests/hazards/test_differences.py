"""Differences between two trees: what counts as one, and that all of them together turn the one into the other."""

import random

import pytest

from tests.hazards.differences import Difference, Tree, change, differences, parse, write


@pytest.mark.parametrize(
    ("here", "there", "found"),
    [
        ("a: 1", "a: 1", []),
        ("a: 1", "a: 2", [Difference(("a",), "1", "2")]),
        ("on: edge", "on: level", [Difference(("on",), "edge", "level")]),
        ("{a: 1, b: 2}", "{a: 1}", [Difference(("b",), "2", None)]),
        ("{a: 1}", "{a: 1, b: {c: 2}}", [Difference(("b",), None, {"c": "2"})]),
        ("{a: {b: 1, c: 2}}", "{a: {c: 3, d: 4}}", [
            Difference(("a", "b"), "1", None), Difference(("a", "c"), "2", "3"), Difference(("a", "d"), None, "4"),
        ]),
        ("{a: {b: 1, c: 2}}", "{a: {d: 4}}", [Difference(("a",), {"b": "1", "c": "2"}, {"d": "4"})]),
        ("{a: 1}", "{a: [1]}", [Difference(("a",), "1", ["1"])]),
        ("[a, b, c]", "[a, c]", [Difference((1,), "b", None)]),
        ("[a, c]", "[a, b, c]", [Difference((1,), None, "b")]),
        ("[a, {b: 1, c: 2}]", "[a, {b: 1, c: 3}, d]", [Difference((1, "c"), "2", "3"), Difference((2,), None, "d")]),
        ("[a, b]", "[c, d, e]", [Difference((0,), "a", "c"), Difference((1,), "b", "d"), Difference((2,), None, "e")]),
    ],
)  # fmt: skip
def test_what_is_one_difference(here: str, there: str, found: list[Difference]) -> None:
    assert differences(parse(here), parse(there)) == found


def random_tree(rng: random.Random, depth: int = 3) -> Tree:
    kind = rng.choice(["words", "list", "mapping"]) if depth else "words"
    if kind == "words":
        return rng.choice(["1", "2", "on"])
    items = [random_tree(rng, depth - 1) for _ in range(rng.randrange(4))]
    return items if kind == "list" else dict(zip(rng.sample("abcd", len(items)), items, strict=True))


def test_all_differences_together_turn_one_tree_into_the_other() -> None:
    rng = random.Random(1)
    several = 0
    for _ in range(2000):
        here, there = random_tree(rng), random_tree(rng)
        before = write(here)
        found = differences(here, there)
        several += len(found) > 1
        assert change(here, found) == there
        assert write(here) == before
        assert parse(before) == here
    assert several > 100


def test_one_difference_alone_leaves_the_others() -> None:
    here, there = parse("{a: 1, b: [x, y, z], c: 3}"), parse("{a: 2, b: [x, z, w], c: 3, d: 4}")
    left = [differences(change(here, [one]), there) for one in differences(here, there)]
    assert [len(others) for others in left] == [3, 3, 3, 3]
