"""What the hazards about the supply have in common: words for cells that are used up, and questions about configurations."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from nudgeproof.diagnostics import Place
from nudgeproof.model.step import Move, Test
from nudgeproof.model.tables import Model, Situation
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.draws import Config, config_of, minded
from nudgeproof.parts.sleep import RUNNING as RUNS
from nudgeproof.questions.ask import Conclusion, Derived, Question, users
from nudgeproof.spec.electrical import ASLEEP, RUNNING
from nudgeproof.spec.outside import Maker, Sag
from nudgeproof.spec.types import Device

NO_CELLS = "`supply` says nothing of the `cells`"
WEAK_CELLS = "weak cells"


def percent(share: Fraction) -> str:
    """A share in percent, rounded down to a hundredth, so that what begins there has begun."""
    hundredths = share * 10_000
    return f"{float(int(hundredths) / 100):g} %"


def since(begins: Fraction, everywhere: Fraction | None) -> str:
    """From which cells on something is so, in words that stand at the head of a sentence."""
    start = "with fresh cells already" if begins == 0 else f"once {percent(begins)} of the cells is used"
    if everywhere is None:
        return f"{start}, on some units,"
    return f"{start}," if everywhere <= begins else f"{start}, on some units (on every one from {percent(everywhere)}),"


def in_one_of(device: Device, configs: Iterable[Config]) -> Test:
    """Steps into one of these configurations, from none of them."""
    names = minded(device)
    wanted = frozenset(configs)

    def inside(model: Model, situation: Situation) -> bool:
        state = str(model.value(situation, "state"))
        values = {name: str(model.value(situation, f"value {name}")) for name in names}
        asleep = device.state(state).sleep is not None and not model.value(situation, RUNS)
        return config_of(device, state, values, ASLEEP if asleep else RUNNING) in wanted

    def test(model: Model, before: Situation, move: Move) -> bool:
        return inside(model, move.situation) and not inside(model, before)

    return test


def by_use(
    device: Device, hazard: str, subject: str, configs: tuple[Config, ...], told: str, held: str, cure: str, at: Place
) -> Question | Derived:
    """Can use bring the device into one of these configurations? What is wrong there is said by `told`.

    Where the device is in one of them from the start, or there is none, the answer needs no exploring.
    """
    who, pressing = users(device)
    happens = [w.name for w in device.surroundings if isinstance(w, Maker | Sag) and w.name not in who]
    if not configs or any(config.state == device.initial for config in configs):
        conclusion = Conclusion(
            hazard=hazard,
            subject=subject,
            holds=not configs,
            sentence=told if configs else held,
            all_held=held,
            reason="",
            cure=cure,
            at=at,
            reckoned=True,
        )
        return Derived((), lambda answers: (conclusion,))
    return Question(
        hazard=hazard,
        subject=subject,
        environment=Environment((*who, *happens)),
        looked_for=in_one_of(device, configs),
        unwanted=True,
        came_up=(),
        told=lambda before, after: told,
        denied="",
        held=f"{pressing} never brings the device where {subject} would fail",
        all_held=f"{pressing} never brings the device where one of these would fail",
        cure=cure,
        at=at,
        reckoned=True,
    )


def holding(hazard: str, subject: str, sentence: str, at: Place) -> Derived:
    """An answer that needs no exploring: it is only reckoned."""
    conclusion = Conclusion(hazard, subject, True, sentence, sentence, "", "", at, reckoned=True)
    return Derived((), lambda answers: (conclusion,))


def open_answer(hazard: str, subject: str, reason: str, at: Place) -> Derived:
    """An answer that couldn't be reckoned."""
    conclusion = Conclusion(hazard, subject, None, "", "", reason, "", at, reckoned=True)
    return Derived((), lambda answers: (conclusion,))


def failing(hazard: str, subject: str, sentence: str, cure: str, at: Place) -> Derived:
    """A failure that is only reckoned: it needs no pressing."""
    conclusion = Conclusion(hazard, subject, False, sentence, "", "", cure, at, reckoned=True)
    return Derived((), lambda answers: (conclusion,))
