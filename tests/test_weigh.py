"""From what was found to a verdict: nothing that is undecided or never came up ever passes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nudgeproof.diagnostics import Place
from nudgeproof.engines.explore import Exploration, explore
from nudgeproof.engines.space import Step
from nudgeproof.parts.compile import Environment, compile_model
from nudgeproof.questions.ask import Conclusion, Derived, Question
from nudgeproof.verdict import Finding, Verdict
from nudgeproof.weigh import RAN_OUT, USED_UP, collect, weigh
from tests.devices import bench, enters

DEVICE = bench("tap: {taps: 1, press: up to 400 ms}", "tap: hit", debounce="20 ms", extra="hit: {shows: hit}")
PRESSED = Environment(("anything",))
MODEL = compile_model(DEVICE, PRESSED)
LOOKED = Exploration((), (), complete=True, classes=5, situations=1, stuck=())
STOPPED = replace(LOOKED, stuck=(MODEL.start,))
RAN_SHORT = replace(LOOKED, complete=False)


def way() -> tuple[Step, ...]:
    (path,) = explore(MODEL, (enters("hit"),), 1_000).paths
    assert path is not None
    return path


HIT = way()


def question(unwanted: bool = True) -> Question:
    return Question(
        hazard="made up",
        subject="hit",
        environment=PRESSED,
        looked_for=enters("hit"),
        unwanted=unwanted,
        came_up=(),
        told=lambda before, after: f"{before} -> {after}",
        denied="it can't be",
        held="it is well",
        all_held="all is well",
        cure="",
        at=Place("bench.yaml"),
    )


def weighed(
    seen: Exploration,
    unwanted: bool = True,
    settled: bool = False,
    path: tuple[Step, ...] | None = None,
    came_up: tuple[tuple[Step, ...] | None, ...] = (HIT,),
    starved: bool = False,
    cheapest: bool = True,
) -> Finding:
    asked = question(unwanted)
    return weigh(
        DEVICE, MODEL, asked, seen, asked.looked_for, settled, path, came_up, starved=starved, cheapest=cheapest
    )


@pytest.mark.parametrize(
    ("seen", "settled", "came_up", "verdict"),
    [
        (LOOKED, False, (HIT,), Verdict.HOLDS),
        (LOOKED, False, (HIT, None), Verdict.VACUOUS),
        (LOOKED, False, (None,), Verdict.VACUOUS),
        (RAN_SHORT, False, (HIT,), Verdict.UNDECIDED),
        (RAN_SHORT, False, (None,), Verdict.UNDECIDED),
        (STOPPED, False, (HIT,), Verdict.UNDECIDED),
        (LOOKED, True, (HIT,), Verdict.HOLDS),
        (LOOKED, True, (HIT, None), Verdict.VACUOUS),
        (RAN_SHORT, True, (HIT,), Verdict.HOLDS),
        (RAN_SHORT, True, (HIT, None), Verdict.UNDECIDED),
        (STOPPED, True, (HIT,), Verdict.HOLDS),
        (STOPPED, True, (HIT, None), Verdict.UNDECIDED),
    ],
)
def test_something_unwanted_that_was_not_found(
    seen: Exploration, settled: bool, came_up: tuple[tuple[Step, ...] | None, ...], verdict: Verdict
) -> None:
    """It holds if all was looked at, here or where more can happen, time goes on, and all that must come up did."""
    finding = weighed(seen, settled=settled, came_up=came_up)
    assert finding.verdict is verdict
    assert finding.evidence == ("proof" if verdict is Verdict.HOLDS else "")


@pytest.mark.parametrize(
    ("seen", "verdict"),
    [(LOOKED, Verdict.BROKEN), (RAN_SHORT, Verdict.UNDECIDED), (STOPPED, Verdict.UNDECIDED)],
)
def test_something_wanted_that_was_not_found(seen: Exploration, verdict: Verdict) -> None:
    finding = weighed(seen, unwanted=False)
    assert finding.verdict is verdict
    assert finding.sentence == ("it can't be" if verdict is Verdict.BROKEN else "made up: hit")


@pytest.mark.parametrize(("unwanted", "verdict"), [(True, Verdict.BROKEN), (False, Verdict.HOLDS)])
@pytest.mark.parametrize("seen", [LOOKED, RAN_SHORT, STOPPED])
def test_what_was_found_decides_whatever_else_was_not_looked_at(
    seen: Exploration, unwanted: bool, verdict: Verdict
) -> None:
    finding = weighed(seen, unwanted, path=HIT)
    assert (finding.verdict, finding.evidence) == (verdict, "story")


def test_why_nothing_was_decided() -> None:
    assert weighed(RAN_SHORT).reason == RAN_OUT
    assert weighed(RAN_SHORT, starved=True).reason == USED_UP
    assert "time stops here: idle" in weighed(STOPPED).reason


def test_only_a_path_of_least_cost_is_told_to_be_the_shortest() -> None:
    assert weighed(LOOKED, path=HIT).shortest
    assert not weighed(LOOKED, path=HIT, cheapest=False).shortest


def test_what_follows_from_other_answers_takes_only_what_is_decided() -> None:
    asked = [question() for _ in range(4)]
    found = (weighed(LOOKED), weighed(LOOKED, path=HIT), weighed(RAN_SHORT), weighed(LOOKED, came_up=(None,)))
    known: list[tuple[bool | None, ...]] = []

    def conclude(below: tuple[bool | None, ...]) -> tuple[Conclusion, ...]:
        known.append(below)
        return tuple(Conclusion("derived", "", h, "so", "so", "", "", Place("x")) for h in (True, False, None))

    answers = {id(one): finding for one, finding in zip(asked, found, strict=True)}
    told = list(collect(Derived(tuple(asked), conclude), answers))
    assert known == [(True, False, None, None)]
    assert [finding.verdict for finding in told] == [Verdict.HOLDS, Verdict.BROKEN, Verdict.UNDECIDED]
    assert [finding.evidence for finding in told] == ["proof", "proof", ""]
