"""Changes to the text of a spec: where each value stands, and the text with another one there.

Works on the text alone and knows no key, so whatever a spec may say can be changed. The text must have been read without
problems. A changed text is to be read anew: nothing here says that it is still a sound spec.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import yaml

from nudgeproof.diagnostics import ToolFault

Path = tuple[str, ...]
"""The keys from the root to a value; an entry of a list is named by its number, from 0."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A value in the text.

    `line`: of its key, from 1. `key`, `value`: where they begin and end, as offsets (a list's entries have no key: begin is
    end). `words`: the text of a scalar, "" for a collection. `keys`: the names in a mapping; None if it is none. `braces`:
    a collection in brackets. `indent`: the column of its first key. The path of the whole text is empty.
    """

    path: Path
    line: int
    key: tuple[int, int]
    value: tuple[int, int]
    words: str
    keys: tuple[str, ...] | None
    braces: bool
    indent: int


@dataclass(frozen=True, slots=True)
class Edit:
    """One change of a text: the characters from `start` to `end` become `text`.

    `line`: where, in the unchanged text; for something added, the line it is added to or after. `path` and `new`: what
    stands there then. `old`: the value that stood there, "" if it is added. `was_key`: the old key, if that is
    what changes.
    """

    line: int
    path: Path
    old: str
    new: str
    start: int
    end: int
    text: str
    was_key: str = ""

    def __str__(self) -> str:
        """As printed: `line 14: hold: {held: 2.1 s} instead of 1.2 s`."""
        told = tell(self.path, self.new)
        if self.was_key:
            return f"line {self.line}: {told} instead of {self.was_key}"
        return f"line {self.line}: {told} instead of {self.old}" if self.old else f"line {self.line}: add {told}"


def tell(path: Path, value: str) -> str:
    """A value as one would write it, `hold: {held: 1.2 s}`, without its section where it has a name of its own."""
    is_named = len(path) > 2 or (len(path) == 2 and value.startswith("{"))
    shown = path[1:] if is_named else path
    for key in reversed(shown[1:]):
        # A name begins with a letter, so this is the number of an entry.
        value = f"[{value}]" if key.isdecimal() else f"{{{key}: {value}}}"
    return f"{shown[0]}: {value}"


class Places:
    """Every value of a text, by its path."""

    def __init__(self, lines: Sequence[str]) -> None:
        """`lines` as in `Device.lines`; the text is those, each ended by one line feed."""
        self.text = "".join(line + "\n" for line in lines)
        root = yaml.compose(self.text, Loader=yaml.SafeLoader)
        if not isinstance(root, yaml.MappingNode):
            raise ToolFault("a spec that was read is no mapping any more")
        self.spots = {spot.path: spot for spot in _walk(root, (), root, self.text)}

    def find(self, *pattern: str) -> Iterator[Spot]:
        """The values whose path fits, in the order of the file: `*` is one key, `**` any number, `after *` a key's start."""
        return (spot for path, spot in self.spots.items() if fits(path, pattern))

    def get(self, *path: str) -> Spot | None:
        """The value at exactly this path."""
        return self.spots.get(path)

    def source(self, spot: Spot) -> str:
        """A value as it is written, on one line; what is in brackets can be written anywhere."""
        if spot.braces or (spot.keys is None and not self.get(*spot.path, "0")):
            return " ".join(self.text[spot.value[0] : spot.value[1]].split())
        return self._in_brackets(spot)

    def _in_brackets(self, spot: Spot) -> str:
        """A value that may stand among others in brackets."""
        if spot.keys is not None:
            inner = [(name, self._in_brackets(self.spots[(*spot.path, name)])) for name in spot.keys]
            return "{" + ", ".join(f"{name}: {value}" for name, value in inner) + "}"
        entries: list[str] = []
        while (entry := self.get(*spot.path, str(len(entries)))) is not None:
            entries.append(self._in_brackets(entry))
        if entries:
            return f"[{', '.join(entries)}]"
        written = " ".join(self.text[spot.value[0] : spot.value[1]].split())
        is_plain = bool(written) and written[0] not in "'\"[{"
        return f'"{written}"' if is_plain and set(written) & set(",[]{}") else written

    def put(self, spot: Spot, new: str) -> Edit:
        """Another value in place of this one."""
        return Edit(spot.line, spot.path, self.source(spot), new, *spot.value, new)

    def put_in(self, entry: Spot, key: str, new: str) -> Edit:
        """Another value for a key of a list's entry, told with the whole entry, since a list's entries have no names."""
        there = self.spots[(*entry.path, key)]
        values = {name: self._in_brackets(self.spots[(*entry.path, name)]) for name in entry.keys or ()}
        old, told = (
            "{" + ", ".join(f"{name}: {value}" for name, value in keys.items()) + "}"
            for keys in (values, values | {key: new})
        )
        return Edit(there.line, entry.path, old, told, *there.value, new)

    def rename(self, spot: Spot, key: str) -> Edit:
        """Another key for this value."""
        old = spot.path[-1]
        return Edit(
            spot.line, (*spot.path[:-1], key), self.source(spot), self.source(spot), *spot.key, key, was_key=old
        )

    def add(self, spot: Spot, key: str, new: str) -> Edit:
        """One more key, with its value, at the end of a mapping."""
        told = f"{key}: {new}"
        path = (*spot.path, key)
        if spot.braces:
            at = spot.value[1] - 1
            before = self.text[spot.value[0] : at].rstrip()
            joint = {"{": "", ",": " "}.get(before[-1], ", ")
            at = spot.value[0] + len(before)
            return Edit(spot.line, path, "", new, at, at, joint + told)
        at = self.text.index("\n", spot.value[1])
        line = self.text.count("\n", 0, at) + 1
        return Edit(line, path, "", new, at, at, "\n" + " " * spot.indent + told)

    def set(self, spot: Spot, key: str, new: str) -> Edit | None:
        """This value for a key of a mapping, whether or not it has the key; None if it is there already."""
        there = self.get(*spot.path, key)
        if there is None:
            return self.add(spot, key, new)
        return None if there.words == new else self.put(there, new)


def apply(text: str, edits: Iterable[Edit]) -> str:
    """The text with all of `edits`, which must not overlap; what is added at one place keeps its order."""
    for edit in sorted(edits, key=lambda one: one.start)[::-1]:
        text = text[: edit.start] + edit.text + text[edit.end :]
    return text


def fits(path: Path, pattern: Sequence[str]) -> bool:
    """Whether a path fits a pattern, see `Places.find`."""
    if not pattern:
        return not path
    first, rest = pattern[0], pattern[1:]
    if first == "**":
        return any(fits(path[i:], rest) for i in range(len(path) + 1))
    if not path:
        return False
    meets = path[0].startswith(first[:-1]) if first.endswith("*") else path[0] == first
    return meets and fits(path[1:], rest)


def _walk(node: yaml.Node, path: Path, key: yaml.Node, text: str) -> Iterator[Spot]:
    """The spot of a node and those of all within it; deep trees were refused at reading."""
    is_mapping, is_list = isinstance(node, yaml.MappingNode), isinstance(node, yaml.SequenceNode)
    braces = isinstance(node, yaml.CollectionNode) and bool(node.flow_style)
    inner = [
        spot
        for name, (key_node, value) in _children(node)
        for spot in _walk(value, (*path, name), key_node if is_mapping else value, text)
    ]
    start, end = node.start_mark.index, node.end_mark.index
    if (is_mapping or is_list) and not braces and inner:
        end = max(spot.value[1] for spot in inner)
    end = start + len(text[start:end].rstrip("\n")) if end > start else end
    key_span = (key.start_mark.index, key.end_mark.index) if key is not node else (start, start)
    yield Spot(
        path=path,
        line=key.start_mark.line + 1,
        key=key_span,
        value=(start, end),
        words=node.value if isinstance(node, yaml.ScalarNode) else "",
        keys=tuple(name for name, _ in _children(node)) if is_mapping else None,
        braces=braces,
        indent=node.start_mark.column,
    )
    yield from inner


def _children(node: yaml.Node) -> list[tuple[str, tuple[yaml.Node, yaml.Node]]]:
    if isinstance(node, yaml.MappingNode):
        return [(str(key.value), (key, value)) for key, value in node.value]
    if isinstance(node, yaml.SequenceNode):
        return [(str(number), (value, value)) for number, value in enumerate(node.value)]
    return []
