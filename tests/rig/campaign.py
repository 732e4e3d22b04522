"""All trials at their default size: each planted fault must be found, and the sound firmwares must pass with other seeds.

    python -m tests.rig.campaign [EDGES [SEEDS [CLASS...]]]

EDGES: of each trial; SEEDS: how many for the sound ones (0: none); CLASS: only faults whose name begins so.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

from nudgeproof.cli.trials import EDGES
from nudgeproof.firmware.acts import edges_of
from tests.rig.planted import DEVICES, FOUND_BY, firmware


def try_fault(device: str, fault: str, edges: int) -> bool:
    """Whether it is found; a line on the screen says by what."""
    trial = firmware(device, fault).run(edges, most=150)
    failed = trial.failed
    if failed is None:
        print(f"{device}/{fault}: NOT FOUND by {trial.stimuli} stimuli with {trial.edges} edges", flush=True)
        return False
    found = f"after {trial.stimuli} stimuli with {trial.edges} edges, told by {len(edges_of(failed.shrunk.acts))} edges"
    print(f"{device}/{fault}: {found}; {failed.kind}", flush=True)
    return True


def try_sound(device: str, edges: int, seed: int) -> bool:
    """Whether nothing is refused, and something was judged."""
    trial = firmware(device, seed=seed).run(edges, seed)
    good = trial.failed is None and not trial.judged_nothing
    told = f"{trial.conforming} of {trial.stimuli} conform, {trial.undecided} undecided, {trial.edges} edges"
    failed = trial.failed
    why = "" if failed is None else failed.performed.finding or (failed.outcome.seen if failed.outcome else "")
    print(f"{device}, seed {seed}: {told}{'' if good else f'; NOT GOOD: {why}'}", flush=True)
    return good


def main(arguments: Sequence[str]) -> int:
    edges = int(arguments[0]) if arguments else EDGES
    seeds = int(arguments[1]) if len(arguments) > 1 else 3
    wanted = tuple(arguments[2:])
    faults = [(device, fault) for device, fault in FOUND_BY if not wanted or fault.startswith(wanted)]
    found = [try_fault(device, fault, edges) for device, fault in faults]
    good = [try_sound(device, edges, seed) for seed in range(seeds) for device in DEVICES]
    print(f"{sum(found)} of {len(found)} faults found; {sum(good)} of {len(good)} sound trials pass")
    return 0 if all(found) and all(good) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
