"""The names that lines of the chart may refer to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from nudgeproof.spec.outside import Depth
from nudgeproof.spec.types import Variable


@dataclass(frozen=True, slots=True)
class Names:
    """The names that there are; None for those that are not known because their section is broken.

    `states` are those of states and of groups; `starts` gives for each group the state that a line leading to it enters.
    `domains`: the variables that could be read, by name. `sound_depths`: the depths of sleep that could be read.
    """

    buttons: tuple[str, ...] | None
    gestures: tuple[str, ...] | None
    variables: tuple[str, ...] | None
    states: tuple[str, ...] | None
    starts: Mapping[str, str] = field(default_factory=dict)
    domains: Mapping[str, Variable] = field(default_factory=dict)
    events: tuple[str, ...] | None = ()
    depths: tuple[str, ...] | None = ()
    sound_depths: tuple[Depth, ...] = ()

    @property
    def triggers(self) -> tuple[str, ...] | None:
        """What may stand before a transition: gestures and events."""
        return None if self.gestures is None or self.events is None else (*self.gestures, *self.events)

    def entered(self, name: str) -> str:
        """The state that is entered where a line leads to `name`, a state or a group."""
        return self.starts.get(name, name)
