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
from nudgeproof.units import FOREVER, LONGEST_US
from nudgeproof.verdict import ClosestCall, Verdict
from tests.agreement.randomspecs import sketch
from tests.agreement.test_random_devices import play_again
from tests.quality.test_closest import written_into

WORKERS = 2
TOLD_EVERY = 20


def both_sides(seed: int) -> tuple[int, Counter[str], list[str]]:
    """What was done on both sides of the boundaries of the device of one seed, and every contradiction."""
    text = sketch(seed).text
    did: Counter[str] = Counter()
    against: list[str] = []
    device = read_device(text, f"seed {seed}.yaml")
    if fixed_times(device):
        return seed, did, against
    for call in check(device, "quick", closest_too=True).closest or ():
        did["closest calls"] += 1
        if not call.is_exact:
            did["not known to the microsecond"] += 1
            continue
        inside = LONGEST_US if call.holds_to_us == FOREVER else int(call.holds_to_us)
        against += [f"seed {seed}, {call}: {what}" for what in _hold(written_into(text, call, inside), call, did)]
        if call.breaks_at_us is not None:
            against += [f"seed {seed}, {call}: {what}" for what in _break(text, call, call.breaks_at_us, did)]
    return seed, did, against


def _hold(text: str, call: ClosestCall, did: Counter[str]) -> Iterator[str]:
    """The ordinary check holds inside, and the auditor confirms it."""
    device = read_device(text, "inside.yaml")
    proofs: list[Proof] = []
    report = check(device, "deep", only=[call.hazard], proofs=proofs)
    (found,) = [one for one in report.findings if (one.hazard, one.subject) == (call.hazard, call.subject)]
    if found.verdict is not Verdict.HOLDS:
        yield f"{found.verdict.word} inside"
        return
    did["held inside"] += 1
    (proof,) = [one for one in proofs if (one.hazard, one.subject) == (call.hazard, call.subject)]
    audited = audit_proof(device, proof.hazard, proof.subject, proof.text)
    did["certificates audited"] += 1
    if not audited.ok:
        yield f"the auditor: {audited.reason}"


def _break(text: str, call: ClosestCall, us: int, did: Counter[str]) -> Iterator[str]:
    """The ordinary check is broken a microsecond further, and its story plays."""
    device = read_device(written_into(text, call, us), "outside.yaml")
    report = check(device, "deep", only=[call.hazard])
    (found,) = [one for one in report.findings if (one.hazard, one.subject) == (call.hazard, call.subject)]
    if found.verdict is not Verdict.BROKEN:
        yield f"{found.verdict.word} outside"
        return
    did["broken outside"] += 1
    questions = [q for entry in ask(device)[0] for q in (entry.questions if isinstance(entry, Derived) else (entry,))]
    (question,) = [q for q in questions if (q.hazard, q.subject) == (call.hazard, call.subject)]
    yield from play_again(device, match(device, question), found, did)


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
