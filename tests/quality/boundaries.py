"""`python -m tests.quality.boundaries [DEVICES] [FIRST]`: both sides of each boundary of random devices (default: 200).

Of each device the closest calls are told: how far each bound of its surroundings is from a failure of what holds. Then the
bound is written into the spec, once just inside and once a microsecond further, and the ordinary check must say *holds* and
*broken*. A certificate of the inside is audited, which neither the explorer nor the closest calls take part in; the story
of the outside is played again step by step. Where no limit is needed the inside is the longest time there is, or none.
Each contradiction is printed with the seed that draws the device again; the exit code is 1 if there was any.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator
from multiprocessing import Pool

from nudgeproof.answers import Proof, match
from nudgeproof.check import ask, audit_proof, check
from nudgeproof.questions.ask import Derived
from nudgeproof.spec.fixed import fixed_times
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Device
from nudgeproof.units import FOREVER, LONGEST_US
from nudgeproof.verdict import ClosestCall, Finding, Report, Verdict
from tests.agreement.randomspecs import sketch
from tests.agreement.test_random_devices import play_again
from tests.quality.test_closest import written_into

WORKERS = 2
TOLD_EVERY = 20
EFFORT = "usual"


def both_sides(seed: int) -> tuple[int, Counter[str], list[str]]:
    """What was done on both sides of the boundaries of the device of one seed, and every contradiction."""
    text = sketch(seed).text
    did: Counter[str] = Counter()
    against: list[str] = []
    device = read_device(text, f"seed {seed}.yaml")
    if fixed_times(device):
        return seed, did, against
    sides = _Sides()
    for call in check(device, "quick", closest_too=True).closest or ():
        did["closest calls"] += 1
        if not call.is_exact:
            did["not known to the microsecond"] += 1
            continue
        inside = LONGEST_US if call.holds_to_us == FOREVER else int(call.holds_to_us)
        told = [*sides.hold(written_into(text, call, inside), call, did)]
        if call.breaks_at_us is not None:
            told += sides.break_(written_into(text, call, call.breaks_at_us), call, did)
        against += [f"seed {seed}, {call}: {what}" for what in told]
    return seed, did, against


class _Sides:
    """Both sides of boundaries; several calls may be about the same text, which is checked once."""

    def __init__(self) -> None:
        self._checked: dict[tuple[str, str], tuple[Device, Report, list[Proof]]] = {}

    def hold(self, text: str, call: ClosestCall, did: Counter[str]) -> Iterator[str]:
        """The ordinary check holds inside, and the auditor confirms it."""
        device, found = self._find(text, call)
        if found.verdict is not Verdict.HOLDS:
            yield f"{found.verdict.word} inside"
            return
        did["held inside"] += 1
        proofs = [
            one
            for one in self._checked[text, call.hazard][2]
            if (one.hazard, one.subject) == (call.hazard, call.subject)
        ]
        for proof in proofs[:1]:
            did["certificates audited"] += 1
            audited = audit_proof(device, proof.hazard, proof.subject, proof.text)
            if not audited.ok:
                yield f"the auditor: {audited.reason}"
        if not proofs:
            yield "no certificate"

    def break_(self, text: str, call: ClosestCall, did: Counter[str]) -> Iterator[str]:
        """The ordinary check is broken a microsecond further, and its story plays."""
        device, found = self._find(text, call)
        if found.verdict is not Verdict.BROKEN:
            yield f"{found.verdict.word} outside"
            return
        did["broken outside"] += 1
        asked = ask(device)[0]
        questions = [q for entry in asked for q in (entry.questions if isinstance(entry, Derived) else (entry,))]
        (question,) = [q for q in questions if (q.hazard, q.subject) == (call.hazard, call.subject)]
        yield from play_again(device, match(device, question), found, did)

    def _find(self, text: str, call: ClosestCall) -> tuple[Device, Finding]:
        key = (text, call.hazard)
        if key not in self._checked:
            device = read_device(text, "side.yaml")
            proofs: list[Proof] = []
            self._checked[key] = device, check(device, EFFORT, only=[call.hazard], proofs=proofs), proofs
        device, report, _ = self._checked[key]
        (found,) = [one for one in report.findings if (one.hazard, one.subject) == (call.hazard, call.subject)]
        return device, found


def run(devices: int, first: int) -> tuple[int, Counter[str], list[str]]:
    """Seeds from `first` on, until so many devices had a boundary: the last seed, what was done, all contradictions."""
    did: Counter[str] = Counter()
    against: list[str] = []
    with_any, seed = 0, first
    with Pool(WORKERS) as pool:
        while with_any < devices:
            seeds = range(seed, seed + TOLD_EVERY)
            for _, done, found in pool.imap(both_sides, seeds):
                with_any += bool(done)
                did += done
                against += found
                for line in found:
                    print(line, flush=True)
            seed += TOLD_EVERY
            print(f"{with_any} devices with boundaries, seeds to {seed - 1}, {len(against)} contradictions", flush=True)
    return seed - 1, did, against


def main(devices: int, first: int) -> int:
    """Run, print the table, and return the exit code."""
    last, did, against = run(devices, first)
    print(f"\nseeds {first} to {last}, {len(against)} contradictions")
    for what, count in sorted(did.items()):
        print(f"{count:8} {what}")
    return 1 if against else 0


if __name__ == "__main__":
    words = [int(word) for word in sys.argv[1:]]
    sys.exit(main(*(words + [200, 2_000][len(words) :])))
