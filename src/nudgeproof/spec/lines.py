"""What the chart of states is written with: variables, conditions, what gestures and times do, groups.

Part of the types of `types`, which gives all of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from nudgeproof.diagnostics import Place
from nudgeproof.units import Span


@dataclass(frozen=True, slots=True)
class Variable:
    """A value the device keeps in mind, one of `values`.

    `wraps`: after the last value comes the first, and before the first the last; else it stops there. `starts_as`: its
    value at the start, "" for the first of them. `is_number`: its values are whole numbers one after the other.
    """

    name: str
    values: tuple[str, ...]
    at: Place
    wraps: bool = True
    starts_as: str = ""
    is_number: bool = False

    @property
    def first(self) -> str:
        """The value at the start."""
        return self.starts_as or self.values[0]


@dataclass(frozen=True, slots=True)
class Condition:
    """What variables must be: for each one named the values that will do, all of them at once. `text` is as written."""

    text: str
    allowed: tuple[tuple[str, tuple[str, ...]], ...]

    def holds(self, values: Mapping[str, str]) -> bool:
        """Whether it holds for these values by variable; raises KeyError if one that it names is missing."""
        return all(values[variable] in allowed for variable, allowed in self.allowed)


@dataclass(frozen=True, slots=True)
class Transition:
    """What a gesture does in a state; one of several cases where there is a `condition`, which exclude each other.

    `target` None: the state is not left (internal). `next`, `previous`: variables stepped to their next or previous value.
    `set`: variables with the value they get. `keep`: variables that entering the target leaves as they are. `restarts`: an
    internal transition also restarts the state's timeouts. `group`: the group whose shared line it is, "" for the state's
    own.
    """

    gesture: str
    target: str | None
    next: tuple[str, ...]
    restarts: bool
    at: Place
    previous: tuple[str, ...] = ()
    set: tuple[tuple[str, str], ...] = ()
    keep: tuple[str, ...] = ()
    condition: Condition | None = None
    group: str = ""


@dataclass(frozen=True, slots=True)
class Timeout:
    """What happens after a time in `after`; several with the same `text` are cases of one time, see `Transition`.

    `target` None: the state is not left, and the time begins anew by itself. `with_open`: counts only while this button
    reads open, and anew after each release. `text` is the key as written. `group`: the group whose shared line it is; it
    then runs from when the group was entered. `by`: the variable that says how long it is, `times` for each of its values;
    `after` then covers all of them.
    """

    after: Span
    with_open: str | None
    target: str | None
    text: str
    at: Place
    next: tuple[str, ...] = ()
    previous: tuple[str, ...] = ()
    set: tuple[tuple[str, str], ...] = ()
    keep: tuple[str, ...] = ()
    condition: Condition | None = None
    group: str = ""
    by: str = ""
    times: tuple[tuple[str, Span], ...] = ()

    def lasts(self, values: Mapping[str, str]) -> Span:
        """How long the time is while the variables have these values."""
        return dict(self.times)[values[self.by]] if self.by else self.after


@dataclass(frozen=True, slots=True)
class Group:
    """States that share lines. `starts_in`: the one of `states` that a line leading to the group enters."""

    name: str
    states: tuple[str, ...]
    starts_in: str
    at: Place
