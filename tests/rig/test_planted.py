"""Each planted fault is found by trials from the spec, the rig and the map alone, and told by at most ten edges."""

from __future__ import annotations

import re

import pytest
import yaml

from nudgeproof.firmware.acts import edges_of
from nudgeproof.firmware.outcome import Result, follow
from nudgeproof.firmware.trials import begun_as
from tests.amount import amount
from tests.rig.devices import FIRMWARE, ROOT
from tests.rig.planted import FOUND_BY, SLOW, class_of, firmware, head_of

EDGES = 1_500
MOST, MOST_IF_SLOW = 48, 16
"""Times that a shorter stimulus is asked for: enough for few presses, not for the shortest times."""

MOST_OF = {"G05-tap-counted-in-the-handler": 120}

LONG = {
    "W18-no-auto-off-in-one-beam": "the beam is the third one, ten edges away, and each try takes four hours of its time",
}
"""Faults whose story isn't brought down to ten edges here, with the reason; `tests.rig.campaign` tries more."""


def test_every_patch_has_its_place_and_the_name_of_a_field_failure() -> None:
    patches = {(path.parent.parent.name, path.stem) for path in FIRMWARE.glob("*/faults/*.patch")}
    assert patches == set(FOUND_BY)
    assert len(patches) >= 40
    classes = yaml.safe_load((ROOT / "specs" / "failures" / "index.yaml").read_text(encoding="utf-8"))
    assert {class_of(fault) for _, fault in patches} <= set(classes)
    assert len({class_of(fault) for _, fault in patches}) >= 30


@pytest.mark.parametrize(("device", "fault"), FOUND_BY, ids=["/".join(fault) for fault in FOUND_BY])
def test_its_head_is_one_sentence(device: str, fault: str) -> None:
    head = head_of(device, fault)
    assert re.fullmatch(r"[A-Z`][^\n.]{40,160}\.", head), head


FIRST = {(device, kinds): (device, fault) for (device, fault), kinds in reversed(FOUND_BY.items())}
TRIED = amount([*FIRST.values()][::-2], [*FOUND_BY])
"""In the suite, of each firmware the first fault that is looked for by the same kinds of stimuli; of those every second."""


@pytest.mark.parametrize(("device", "fault"), TRIED, ids=["/".join(fault) for fault in TRIED])
def test_it_is_found_by_a_short_story_that_the_sound_firmware_passes(device: str, fault: str) -> None:
    most = MOST_IF_SLOW if fault in SLOW else MOST_OF.get(fault, MOST)
    trial = firmware(device, fault).run(EDGES, most=most, kinds=FOUND_BY[device, fault])
    failed = trial.failed
    assert failed is not None, f"{trial.stimuli} stimuli"
    assert len(edges_of(failed.shrunk.acts)) <= (20 if fault in LONG else 10)
    sound = firmware(device)
    performed = sound.perform(failed.shrunk.acts, failed.shrunk.end_us, failed.setup)
    assert not performed.finding
    outcome = follow(sound.device, begun_as(sound.what, failed.setup), performed.recording)
    assert outcome.result in (Result.CONFORMS, Result.NOTHING)
