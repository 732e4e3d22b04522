"""What loads do to weak cells: figures at which a verdict turns, and a cure; the others are in `tests/test_cures.py`."""

from nudgeproof import cures
from nudgeproof.check import BUDGETS, check
from nudgeproof.hazards import boot_loop
from nudgeproof.spec.read import read_device
from nudgeproof.verdict import Finding, Report, Verdict
from tests.snapshots.screens import ROOT

FOLDER = ROOT / "specs" / "failures"


def text_of(name: str) -> str:
    return (FOLDER / name / "broken.yaml").read_text(encoding="utf-8")


def report(text: str) -> Report:
    return check(read_device(text, "spec.yaml"))


def finding(text: str, hazard: str, subject: str = "weak cells") -> Finding:
    (found,) = [one for one in report(text).findings if (one.hazard, one.subject) == (hazard, subject)]
    return found


def test_a_load_that_pulls_down_by_less_than_the_hysteresis_leaves_the_device_reset() -> None:
    """21 mA through 40 ohm pull by 840 mV; a unit that is reset is let go only if it rises by more than the hysteresis."""
    told = finding(text_of("boot-loop"), "boot-loop")
    assert told.verdict is Verdict.BROKEN
    for hysteresis, verdict in (("839 mV", Verdict.BROKEN), ("840 mV", Verdict.HOLDS)):
        level = "level: 1.8 to 2 V, hysteresis: 50 mV"
        text = text_of("boot-loop").replace(level, f"level: 2.3 V, hysteresis: {hysteresis}")
        text = text.replace("resistance: 10 ohm", "resistance: 40 ohm")
        assert finding(text, "boot-loop").verdict is verdict
    device = read_device(text, "spec.yaml")
    assert boot_loop.first_reset(device) < 1
    assert "recover too little" in finding(text, "boot-loop").sentence


def test_a_device_that_is_reset_as_soon_as_it_comes_on_goes_off() -> None:
    """It is never at rest while it is on, and what memory may lose is no excuse."""
    text = text_of("classes/inrush-resets")
    kept = "memory: {keeps: [state], write takes: 3 ms, guard: two copies, may lose: the last 10 ms}\nsupply:"
    for spec in (text, text.replace("supply:", kept)):
        told = finding(spec, "accidental-off")
        assert told.verdict is Verdict.BROKEN
        assert told.where == ""
    given = text.replace("responds in: 2 us", "responds in: 2 us, starts in: stowed")
    assert finding(given, "accidental-off").verdict is Verdict.HOLDS


def test_a_device_that_cannot_even_start_is_explored_in_few_steps() -> None:
    """Each reset comes within 2 us, and the person's times are seconds."""
    text = text_of("classes/cell-zero").replace("1.9 to 2.1 V, hysteresis: 60 mV", "2.45 to 2.65 V, hysteresis: 20 mV")
    starts = "processor: {draws: 1 mA, while: running}\n  start: {draws: 1 mA, while: starting}"
    text = text.replace("processor: {draws: 1 mA}", starts)
    told = finding(text, "boot-loop")
    assert told.verdict is Verdict.BROKEN
    assert finding(text, "torn-memory").verdict is Verdict.HOLDS
    assert told.classes < 1_000


def test_the_levels_that_are_read_say_on_which_units() -> None:
    text = text_of("chatter-off")
    assert "on some units" not in finding(text, "chatter-off").sentence
    varied = text.replace("lamp: {draws: 15 mA", "lamp: {draws: 13 to 15 mA")
    assert "on some units (on every one from" in finding(varied, "chatter-off").sentence


def test_a_write_is_safe_where_the_voltage_never_falls_so_low() -> None:
    text = text_of("classes/cell-zero").replace("spent: {open: 2.2 V", "spent: {open: 2.6 V")
    assert finding(text, "undefined-voltage", "writes").verdict is Verdict.HOLDS
    out = "surroundings:\n  drop: {cell gone: up to 40 ms, then steady at least: 2 s}\n"
    told = finding(text + out, "undefined-voltage", "writes")
    assert told.verdict is Verdict.BROKEN
    assert "with drop it may be spoilt" in told.sentence


def test_a_larger_capacitor_cures_a_short_peak_and_a_state_after_it_only_promises_less() -> None:
    device = read_device(text_of("classes/inrush-resets"), "spec.yaml")
    found = cures.find_all(device, check(device), cures.CHECKS * BUDGETS["usual"], BUDGETS["usual"])
    (one,) = [f for f in found.findings if f.hazard == "accidental-off" and f.verdict is Verdict.BROKEN]
    assert one.cures is not None
    offered = [str(edit) for cure in one.cures.found for edit in cure.edits]
    assert offered[0].startswith("line 18: capacitor: {size: ")
    assert not any("starts in" in edit for edit in offered)
