"""How two specs differ, node by node, and what a spec becomes if some of the differences are undone.

The specs are trees of mappings, lists and words. Two mappings that share a key differ where their keys do; two that share
none are one change, since nothing of the old one is left. Lists are aligned first, so that an entry more is one change.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from copy import deepcopy
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import cast

from tests.yamls import dump, load

Tree = str | list["Tree"] | dict[str, "Tree"]


@dataclass(frozen=True, slots=True)
class Difference:
    """At `path` one spec has `here` and the other has `there`; None: nothing.

    The path holds keys and places in lists, as they are in the first spec.
    """

    path: tuple[str | int, ...]
    here: Tree | None
    there: Tree | None

    def __str__(self) -> str:
        """The path as it is written in the list of failures: `states / lit / transitions`."""
        return " / ".join(map(str, self.path))


def parse(text: str) -> Tree:
    """The tree of a spec. Every scalar stays the words that were written: `on` is no truth value."""
    return cast("Tree", load(text))


def write(tree: Tree) -> str:
    """The text of a tree, with all keys in their order."""
    return dump(tree)


def differences(here: Tree, there: Tree, path: tuple[str | int, ...] = ()) -> list[Difference]:
    """All places where `there` has something else than `here`, in the order of `here`, what is added last."""
    if here == there:
        return []
    if isinstance(here, dict) and isinstance(there, dict) and here.keys() & there.keys():
        found = [one for key in here for one in _compare(here[key], there.get(key), (*path, key))]
        return found + [Difference((*path, key), None, there[key]) for key in there if key not in here]
    if isinstance(here, list) and isinstance(there, list):
        return list(_compare_lists(here, there, path))
    return [Difference(path, here, there)]


def _compare(here: Tree, there: Tree | None, path: tuple[str | int, ...]) -> list[Difference]:
    return [Difference(path, here, None)] if there is None else differences(here, there, path)


def _compare_lists(here: list[Tree], there: list[Tree], path: tuple[str | int, ...]) -> Iterator[Difference]:
    aligned = SequenceMatcher(None, [repr(item) for item in here], [repr(item) for item in there], autojunk=False)
    for kind, begin, end, other_begin, other_end in aligned.get_opcodes():
        if kind == "equal":
            continue
        both = min(end - begin, other_end - other_begin)
        for i in range(both):
            yield from differences(here[begin + i], there[other_begin + i], (*path, begin + i))
        for at in range(begin + both, end):
            yield Difference((*path, at), here[at], None)
        for added in there[other_begin + both : other_end]:
            yield Difference((*path, end), None, added)


def change(tree: Tree, made: Iterable[Difference]) -> Tree:
    """`tree` with what the other spec has at each of these differences; the tree itself stays as it is."""
    changed = deepcopy(tree)
    for difference in reversed(list(made)):  # from the end, so that places in lists stay what they are
        if not difference.path:
            assert difference.there is not None
            changed = deepcopy(difference.there)
            continue
        parent = changed
        for step in difference.path[:-1]:
            parent = parent[step]  # type: ignore[index]
        _put(parent, difference.path[-1], difference)
    return changed


def _put(parent: Tree, last: str | int, difference: Difference) -> None:
    new = deepcopy(difference.there)
    if isinstance(parent, list):
        assert isinstance(last, int)
        parent[last : last + (difference.here is not None)] = [] if new is None else [new]
    else:
        assert isinstance(parent, dict)
        assert isinstance(last, str)
        if new is None:
            del parent[last]
        else:
            parent[last] = new
