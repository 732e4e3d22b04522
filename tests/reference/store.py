"""The section *Memory* of the reference page, for one specimen."""

from __future__ import annotations

from collections.abc import Mapping

from nudgeproof.spec.types import Device, Memory, Variable
from tests.reference.clock import Clock

NEVER_WRITTEN = "(never written)"
GARBAGE = "(garbage)"


def first_value(variable: Variable) -> str:
    return variable.starts_as if variable.starts_as else variable.values[0]


class Store:
    """`cells` is for the guard `none`, `record` for the others; `record` None is blank."""

    def __init__(self, device: Device, rules: Memory, clock: Clock) -> None:
        self.device = device
        self.rules = rules
        self.clock = clock
        self.cells = dict.fromkeys(rules.keeps, NEVER_WRITTEN)
        self.record: dict[str, str] | None = None
        self.damaged = False
        self.in_force: dict[str, str] = {}
        self.writing: dict[str, str] | None = None
        self.cell = ""
        self.waits: dict[str, str] | None = None

    def changes(self, state: str, values: Mapping[str, str]) -> None:
        """A state was entered or a variable changed."""
        settled = self.device.state(state)
        while settled.waiting:
            settled = self.device.state(next(t.target for t in settled.timeouts if t.target is not None))
        self.in_force = {name: settled.name if name == "state" else values[name] for name in self.rules.keeps}
        if self.rules.quiet is None:
            self._save()
        else:
            self.clock.begin("quiet", self.rules.quiet, self._save)

    def _save(self) -> None:
        """What is in force now is due to be written; during a write it waits as it is."""
        if self.writing is not None:
            self.waits = self.in_force
            return
        self.writing = self.in_force
        self._write_next()

    def _write_next(self) -> None:
        assert self.writing is not None
        if self.rules.guard == "none":
            for name in self.rules.keeps:
                if self.cells[name] != self.writing[name]:
                    self.cell = name
                    self.clock.begin("write", self.rules.write, self._write_ends)
                    return
            self.writing = None
        elif self.damaged or self.record != self.writing:
            self.clock.begin("write", self.rules.write, self._write_ends)
        else:
            self.writing = None

    def _write_ends(self) -> None:
        assert self.writing is not None
        if self.rules.guard == "none":
            self.cells[self.cell] = self.writing[self.cell]
            self.clock.tell(f"wrote {self.cell} {self.writing[self.cell]}")
        else:
            self.record = self.writing
            self.damaged = False
            self.clock.tell(f"wrote {' '.join(self.writing.values())}")
        if self.waits is not None:
            self.writing = self.waits
            self.waits = None
        self._write_next()

    def loses_power(self) -> None:
        if self.writing is not None and self.rules.guard == "none":
            self.cells[self.cell] = GARBAGE
        if self.writing is not None and self.rules.guard == "checksum":
            self.damaged = True
        self.writing = None
        self.waits = None

    def read(self) -> dict[str, str] | str:
        """What a start finds: the kept values, or `blank` or `damaged`."""
        if self.damaged and self.rules.erases_first:
            return ("damaged", "blank")[self.clock.draw("erased", 0, 1)]
        if self.rules.guard != "none":
            return "damaged" if self.damaged else "blank" if self.record is None else self.record
        if all(held == NEVER_WRITTEN for held in self.cells.values()):
            return "blank"
        found: dict[str, str] = {}
        for name, held in self.cells.items():
            if held == GARBAGE:
                legal = self.legal_values(name)
                number = self.clock.draw(f"garbage {name}", 0, len(legal))
                found[name] = legal[number] if number < len(legal) else GARBAGE
            else:
                found[name] = self._first_value(name) if held == NEVER_WRITTEN else held
        return "damaged" if GARBAGE in found.values() else found

    def legal_values(self, name: str) -> tuple[str, ...]:
        if name == "state":
            return tuple(state.name for state in self.device.states)
        return self.device.variable(name).values

    def _first_value(self, name: str) -> str:
        assert self.device.power_up is not None
        return self.device.power_up.if_blank if name == "state" else first_value(self.device.variable(name))
