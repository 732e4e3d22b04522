"""`python -m tests.quality.part_mutants [NAME...]`: faults planted in the parts and in how a verdict is weighed.

Each fault is planted into a copy of the sources, alone, and the tests that should find it are run on the copy. A name is
that of a module (`contact`, `weigh`) or of a fault; without names all are planted. Those that survive are printed with the
share; the exit code is 1 if one of them isn't known to be no fault at all, or if the tests fail without a fault.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from shutil import copytree, ignore_patterns
from tempfile import TemporaryDirectory

from tests.quality.planted import asleep, buttons, causes, device, firmware, gates, people, supply, verdicts, weak_cells
from tests.quality.planted.fault import SOURCES, Planted, modules, read

ROOT = Path(__file__).resolve().parents[2]
FAULTS = (
    *asleep.FAULTS,
    *buttons.FAULTS,
    *causes.FAULTS,
    *device.FAULTS,
    *firmware.FAULTS,
    *gates.FAULTS,
    *people.FAULTS,
    *supply.FAULTS,
    *verdicts.FAULTS,
    *weak_cells.FAULTS,
)
_PASSED, _FAILED = 0, 1
"""What pytest says when it ran its tests; anything else is no answer."""


class Copy:
    """A copy of the sources, which tests import in place of any other."""

    def __init__(self, folder: Path) -> None:
        copytree(ROOT / "src", folder / "src", ignore=ignore_patterns("__pycache__"))
        self.package = folder / SOURCES
        self.environment = {**os.environ, "PYTHONPATH": str(folder / "src"), "PYTHONDONTWRITEBYTECODE": "1"}
        found = self._run("-c", "import nudgeproof; print(nudgeproof.__file__)").stdout
        if Path(found.strip()).parent != self.package:
            raise RuntimeError(f"the tests would import {found.strip()}")

    def find(self, fault: Planted) -> bool:
        """Whether its tests find a fault; raises `RuntimeError` if they can't be run."""
        text = read(self.package, fault.module)
        path = self.package / f"{fault.module}.py"
        try:
            path.write_text(fault.plant(text), encoding="utf-8")
            return not self.passes(fault.by)
        finally:
            path.write_text(text, encoding="utf-8")

    def passes(self, tests: Sequence[str]) -> bool:
        """Whether these tests pass; raises `RuntimeError` if they can't be run."""
        done = self._run("-m", "pytest", "-x", "-q", "-n", "0", *tests)
        if done.returncode not in (_PASSED, _FAILED):
            raise RuntimeError(done.stdout[-2000:] + done.stderr[-2000:])
        return done.returncode == _PASSED

    def _run(self, *words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            (sys.executable, *words), cwd=ROOT, env=self.environment, capture_output=True, text=True, check=False
        )


def chosen(names: Sequence[str]) -> tuple[Planted, ...]:
    """The faults with these names, or in modules of these names; all if none are named. Raises `KeyError`."""
    for name in names:
        if not any(_has(fault, name) for fault in FAULTS):
            raise KeyError(name)
    return tuple(fault for fault in FAULTS if not names or any(_has(fault, name) for name in names))


def _has(fault: Planted, name: str) -> bool:
    return name in (fault.name, fault.module, fault.module.rpartition("/")[2])


def main(names: Sequence[str]) -> int:
    """Plant the faults, print what became of each, and return the exit code."""
    faults = chosen(names)
    total: Counter[str] = Counter()
    dead: Counter[str] = Counter()
    equal: Counter[str] = Counter()
    wrong = 0
    with TemporaryDirectory() as folder:
        copy = Copy(Path(folder).resolve())
        if not copy.passes(tuple(dict.fromkeys(test for fault in faults for test in fault.by))):
            print("the tests fail without a fault")
            return 1
        for fault in faults:
            found = copy.find(fault)
            total[fault.module] += 1
            dead[fault.module] += found
            equal[fault.module] += bool(fault.same)
            wrong += found == bool(fault.same)
            word = "dead" if found else "no fault" if fault.same else "ALIVE"
            reason = f": {fault.same}" if fault.same else ""
            print(f"{word}: {fault.module}: {fault.name}{reason}", flush=True)
    print("\n| module | faults | dead | no fault | alive |\n|---|---|---|---|---|")
    for module in modules(faults):
        alive = total[module] - dead[module] - equal[module]
        print(f"| {module} | {total[module]} | {dead[module]} | {equal[module]} | {alive} |")
    print(f"\n{dead.total()} of {total.total()} die, {100 * dead.total() / total.total():.1f} %")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
