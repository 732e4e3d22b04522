"""What usually cures a failure whose story shows a deeper reason: the very change that mends the pair, and no other's."""

from pathlib import Path

import pytest

from nudgeproof.check import check
from nudgeproof.spec.read import read_device
from nudgeproof.verdict import Verdict

CLASSES = Path("specs/failures/classes")
SEEN = {
    "level-raised-too-soon": "a longer start (`power up: {takes: ...}`)",
    "stale-marker": "`ram: {checked by: checksum}`",
    "wrong-reset-cause": "`power up: {causes: read and cleared}`",
}


def cures(path: Path) -> list[str]:
    device = read_device(path.read_text(), str(path))
    return [finding.cure for finding in check(device).findings if finding.verdict is Verdict.BROKEN]


@pytest.mark.parametrize("slug", SEEN)
def test_the_cure_is_that_of_the_story(slug: str) -> None:
    assert all(SEEN[slug] in cure for cure in cures(CLASSES / slug / "broken.yaml"))


@pytest.mark.parametrize("slug", ["knocked-cell", "on-after-a-blip", "resets-and-starts-again"])
def test_a_story_without_such_a_sign_has_the_cure_of_its_question(slug: str) -> None:
    found = cures(CLASSES / slug / "broken.yaml")
    assert found
    assert not any(seen in cure for cure in found for seen in SEEN.values())


def test_ram_that_only_decays_is_not_to_blame() -> None:
    """It is lit at each start, whatever RAM holds; a checksum would change nothing."""
    text = (CLASSES / "on-after-a-blip" / "broken.yaml").read_text()
    text = text.replace("initial:", "variables: {tone: [warm, cold]}\ninitial:").replace(
        "power up:", "ram: {keeps: [tone], lasts: 1 to 2 ms, checked by: marker}\npower up:"
    )
    device = read_device(text.replace("cell gone: up to 40 ms", "cell gone: 30 to 40 ms"), "lantern.yaml")
    (found,) = (finding for finding in check(device, only=["accidental-wake"]).findings)
    assert found.story is not None
    assert "ram" in {beat.part for beat in found.story.beats}
    assert "checksum" not in found.cure


def test_a_voltage_that_only_rises_is_not_to_blame() -> None:
    text = (CLASSES / "level-raised-too-soon" / "mended.yaml").read_text()
    text = text.replace("{tap: fault}", "{tap: fault, after 1 s: fault}").replace("takes: 100 ms", "takes: 60 ms")
    text = text.replace(", starts in: fault", "")
    broken = [one for one in check(read_device(text, "gauge.yaml"), only=["promise"]).findings if one.story is not None]
    assert [one.verdict for one in broken] == [Verdict.BROKEN]
    assert broken[0].story is not None
    assert "rising voltage" in {beat.part for beat in broken[0].story.beats}
    assert SEEN["level-raised-too-soon"] not in broken[0].cure


VARIANTS = CLASSES.parent / "variants"


@pytest.mark.parametrize(
    ("slug", "helps"),
    [
        ("no-room-to-wait", "a longer queue (`queue: 2`), or be busy, or write, for less time"),
        (
            "held-while-saving",
            "read lever in an interrupt (`read in: interrupt`, with a `queue`), or be busy, or write,",
        ),
    ],
)
def test_what_is_lost_on_a_busy_firmware_is_cured_there(slug: str, helps: str) -> None:
    found = cures(VARIANTS / slug / "broken.yaml")
    assert found
    assert all(cure.startswith(helps) for cure in found)
    text = (VARIANTS / slug / "mended.yaml").read_text()
    assert "read in: interrupt" in text


def test_a_busy_firmware_is_not_to_blame_where_nobody_presses_meanwhile() -> None:
    """A save makes the firmware deaf; but the tap that is missed is one that takes too long, before anything is saved."""
    text = (VARIANTS / "held-while-saving" / "broken.yaml").read_text().replace("up to 500 ms", "up to 300 ms")
    found = check(read_device(text, "valve.yaml"), only=["missed-gesture"]).findings
    (tap,) = (one for one in found if one.subject == "tap in watering")
    assert tap.verdict is Verdict.BROKEN
    assert "interrupt" not in tap.cure


def test_a_chord_whose_release_counts_as_a_tap_is_to_blame_only_if_that_is_what_happens() -> None:
    text = Path("specs/failures/variants/step-after-both/broken.yaml").read_text()
    device = read_device(text, "light.yaml")
    (broken,) = (one for one in check(device, only=["misread-gesture"]).findings if one.verdict is Verdict.BROKEN)
    assert "releases: belong to the chord" in broken.cure
    promised = text + "promises:\n  - from lit with light 1, brighter reaches lit with light 3\n"
    (found,) = check(read_device(promised, "light.yaml"), only=["promise"]).findings
    assert found.verdict is Verdict.BROKEN
    assert "releases" not in found.cure


def test_a_length_that_comes_round_is_to_blame_only_for_what_the_long_press_does() -> None:
    text = Path("specs/failures/variants/long-squeeze-for-a-tap/broken.yaml").read_text()
    (found,) = check(read_device(text, "lamp.yaml"), only=["accidental-wake"]).findings
    assert "length of a press" in found.cure
    shorter = text.replace("1 s to 10 min", "100 ms to 1 s")
    (found,) = check(read_device(shorter, "lamp.yaml"), only=["accidental-wake"]).findings
    assert found.verdict is Verdict.BROKEN
    assert "length of a press" not in found.cure
