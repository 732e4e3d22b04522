"""The player of firmware/player, itself on the rig: its lines do what the stimuli say, within a few microseconds."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from nudgeproof.cli.files import read_spec
from nudgeproof.firmware.mapping import read_map
from nudgeproof.firmware.outcome import Result, follow
from nudgeproof.firmware.recording import read_csv
from nudgeproof.rig.build import build
from nudgeproof.rig.player import MOST_LINES, Row, count, order_lines, rows_of, write_header
from nudgeproof.rig.run import Run, run
from nudgeproof.rig.settings import SUPPLY, read_settings
from nudgeproof.rig.stimulus import Change, Stimulus, read_columns, read_stimulus, write_columns
from tests.rig.devices import FIRMWARE, ROOT, build_shipped, rows, settings_of, turns
from tests.rig.presses import use
from tests.snapshots.screens import run as command

JITTER_US = 12
"""How late an edge of the player is on the rig, where each look at the clock takes some microseconds."""

LINES = (SUPPLY, "pad")
EXAMPLE = (FIRMWARE / "player" / "example.csv").read_text(encoding="utf-8")


def example() -> Stimulus:
    return read_columns(EXAMPLE, "example.csv")[1]


def play(stimuli: Sequence[Stimulus], folder: Path, pause_us: int, until_us: int, rounds: int = 1, **more: int) -> Run:
    """The player's recording of these stimuli."""
    settings = settings_of("player")
    shutil.copy(FIRMWARE / "player" / "player.ino", folder)
    table = write_header([(f"s{i}.csv", one) for i, one in enumerate(stimuli)], LINES, pause_us, rounds)
    (folder / "story.h").write_text(table, encoding="utf-8")
    program = build(settings, folder)
    assert program.has_blocks
    return run(program, replace(settings, **more), Stimulus((), until_us))  # type: ignore[arg-type]


def edges(result: Run, channel: str, name: str) -> list[tuple[int, str, bool]]:
    return [(at, name, level == 1) for at, level in turns(result, channel)]


def test_what_the_player_does_is_what_the_stimuli_say_and_no_error_adds_up(tmp_path: Path) -> None:
    stimuli, pause, rounds = [use("rain-cover-light", seed) for seed in range(5)], 400_000, 3
    length = sum(one.end_us + pause for one in stimuli)
    done = play(stimuli, tmp_path, pause, rounds * length + 7_000_000, rounds)
    assert not done.finding
    begin = turns(done, "sync")[0][0]
    wanted: list[tuple[int, str, bool]] = []
    at = 0
    for one in stimuli * rounds:
        wanted += [(at, "sync", True), (at, SUPPLY, True)]
        wanted += [(at + change.at_us, change.channel, change.level) for change in one.changes]
        closed = {change.channel: change.level for change in one.changes}
        at += one.end_us
        wanted += [(at, "sync", False), (at, SUPPLY, False)]
        wanted += [(at, "pad", False)] if closed.get("pad") else []
        at += pause
    for name, channel in (("sync", "sync"), (SUPPLY, "cell"), ("pad", "pad")):
        seen = edges(done, channel, name)
        asked = [edge for edge in wanted if edge[1] == name]
        assert [edge[2] for edge in seen] == [edge[2] for edge in asked]
        late = [one[0] - begin - other[0] for one, other in zip(seen, asked, strict=True)]
        assert len(late) > 25
        assert 0 <= min(late) <= max(late) <= JITTER_US


def test_until_the_player_begins_and_after_it_has_ended_all_its_lines_are_low(tmp_path: Path) -> None:
    done = play([example()], tmp_path, 500_000, 60_000_000)
    first, last = turns(done, "sync")[0][0], turns(done, "sync")[-1][0]
    assert first >= 5_000_000
    assert last - first - example().end_us <= JITTER_US
    for row in rows(done):
        if not first <= row[0] <= last + JITTER_US:
            assert row[2:] == (0, 0, 0)


def test_a_wait_beyond_the_clocks_round_is_as_long_as_it_should_be(tmp_path: Path) -> None:
    # Two hours, and the counter of microseconds comes round within.
    long = Stimulus((Change(3_000_000_000, "pad", True), Change(7_000_000_000, "pad", False)), 7_000_100_000)
    done = play([long], tmp_path, 1_000, 7_010_000_000)
    begin = turns(done, "sync")[0][0]
    late = [seen - begin - change.at_us for (seen, _), change in zip(turns(done, "pad"), long.changes, strict=True)]
    assert 0 <= min(late) <= max(late) <= JITTER_US


def shifted(result: Run) -> Stimulus:
    """What the player's lines did as a stimulus, from its power-up on."""
    begin = turns(result, "cell")[0][0]
    changes = [Change(at - begin, SUPPLY, on) for at, _, on in edges(result, "cell", SUPPLY)[1:]]
    changes += [Change(at - begin, "pad", on) for at, _, on in edges(result, "pad", "pad")]
    return Stimulus(tuple(sorted(changes, key=lambda change: change.at_us)), 12_000_000)


@pytest.mark.parametrize("seed", [-1, 0])
def test_a_firmware_that_is_wired_to_the_player_does_what_it_does_by_the_file(seed: int, tmp_path: Path) -> None:
    stimulus = example() if seed < 0 else use("rain-cover-light", seed)
    settings = settings_of("rain-cover-light")
    program = build_shipped("rain-cover-light", tmp_path)
    played = shifted(play([stimulus], tmp_path, 2_000_000, stimulus.end_us + 5_500_000))
    played = replace(
        played, changes=tuple(c for c in played.changes if c.at_us < stimulus.end_us), end_us=stimulus.end_us
    )
    one, other = run(program, settings, stimulus), run(program, settings, played)
    assert (one.finding, other.finding) == ("", "")
    for light in ("glow", "low", "high", "blink"):
        by_file, by_player = turns(one, light), turns(other, light)
        assert [level for _, level in by_file] == [level for _, level in by_player]
        # The firmware counts by milliseconds, so an edge that is a little late may be counted one later.
        assert all(abs(a - b) <= 1_000 + JITTER_US for (a, _), (b, _) in zip(by_file, by_player, strict=True))
    device = read_spec(str(ROOT / "specs" / "rain-cover-light.yaml"))
    path = FIRMWARE / "rain-cover-light" / "map.yaml"
    what, notes = read_map(path.read_text(encoding="utf-8"), str(path), device)
    outcome = follow(device, what, read_csv(other.recording, "played", what.wanted, notes))
    assert outcome.result is Result.CONFORMS
    if seed < 0:
        assert turns(one, "low")


def test_a_round_of_several_stimuli_is_one_recording_that_conforms_and_of_a_fault_is_refused(tmp_path: Path) -> None:
    """The whole way of docs/on-the-board.md, with the firmware on the rig in place of the board."""
    stimuli = [example(), use("rain-cover-light", 1), use("rain-cover-light", 3)]
    until = sum(one.end_us + 1_000_000 for one in stimuli) + 6_000_000
    done = play(stimuli, tmp_path, 1_000_000, until)
    turned = [*edges(done, "cell", SUPPLY), *edges(done, "pad", "pad")]
    wired = Stimulus((Change(0, SUPPLY, False), *(Change(*turn) for turn in sorted(turned))), until)
    device = read_spec(str(ROOT / "specs" / "rain-cover-light.yaml"))
    text = (FIRMWARE / "rain-cover-light" / "map.yaml").read_text(encoding="utf-8")
    what, notes = read_map(text.replace("with power up", "with power up after use"), "map.yaml", device)
    for fault, result in (("", Result.CONFORMS), ("G03-hold-release-not-consumed", Result.REFUSED)):
        program = build_shipped("rain-cover-light", tmp_path, fault)
        seen = run(program, settings_of("rain-cover-light"), wired).recording
        assert follow(device, what, read_csv(seen, "played", what.wanted, notes)).result is result


def test_the_table_that_lies_beside_the_player_is_that_of_its_example(tmp_path: Path) -> None:
    where = ("firmware/player/example.csv", "--table", str(tmp_path / "story.h"))
    code, out, _ = command("stimulus", *where)
    assert code == 0
    assert (tmp_path / "story.h").read_bytes() == (FIRMWARE / "player" / "story.h").read_bytes()
    assert "supply, pad, in this order" in out


def test_rows_are_the_levels_of_all_lines_with_the_mark_and_waits_fit_a_counter() -> None:
    long = 5 * 2**30 // 2
    stimulus = Stimulus((Change(0, "pad", True), Change(9, SUPPLY, False), Change(9 + long, "pad", False)), 20 + long)
    found = rows_of([stimulus], LINES, 7)
    assert [(row.wait_us, row.levels) for row in found] == [
        (9, 0x83), (2**30, 0x82), (2**30, 0x82), (2**29, 0x82), (11, 0x80), (7, 0),
    ]  # fmt: skip
    assert found[0] == Row(9, 0x83, "it begins, pad closes")
    # A stimulus without a column for the cell leaves it alone.
    assert [row.levels for row in rows_of([Stimulus((), 5)], ("pad",), 7)] == [0x80, 0]
    assert order_lines(("pad", SUPPLY, "rim")) == (SUPPLY, "pad", "rim")


def test_deeds_are_counted_with_every_closing_and_start() -> None:
    deeds = count([example(), example()], LINES)
    assert (deeds.closings, deeds.cuts, deeds.starts, deeds.length_us) == ((("pad", 10),), 2, 4, 16_000_000)


def test_names_of_files_and_lines_end_no_comment() -> None:
    text = write_header([("*/ int x; /*.csv", Stimulus((), 5))], ("a*/b", "rim\n"), 7)
    assert text.count("*/") == text.count("/*")
    assert "* / int x; / *" in text
    assert "rim\n */" not in text


def test_a_table_is_read_as_it_was_written_with_or_without_a_rig() -> None:
    settings = settings_of("rain-cover-light")
    for seed in range(5):
        stimulus = use("rain-cover-light", seed)
        text = write_columns(stimulus, ("pad", SUPPLY))
        assert text.startswith("time_us,pad,supply\n0,0,1\n")
        assert read_columns(text, "s.csv") == (("pad", SUPPLY), stimulus)
        assert read_stimulus(text, "s.csv", settings) == stimulus


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("time_us\n5\n", "has no column beside its times"),
        ("time_us," + ",".join("abcdefgh") + "\n5" + ",0" * 8 + "\n", f"a player has {MOST_LINES} lines"),
        ("time_us,pad,pad\n5,0,0\n", "a second time"),
        ("time,pad\n5,0\n", "the first column is `time`"),
        ("time_us,pad\n5,2\n", "the level `2`"),
    ],
)
def test_what_no_player_can_play_is_told(text: str, says: str, tmp_path: Path) -> None:
    (tmp_path / "s.csv").write_text(text, encoding="utf-8")
    code, _, err = command("stimulus", str(tmp_path / "s.csv"), "--table", str(tmp_path / "story.h"))
    assert code == 2
    assert says in err
    assert not (tmp_path / "story.h").exists()


def test_stimuli_with_other_columns_are_refused_together(tmp_path: Path) -> None:
    shutil.copy(FIRMWARE / "player" / "example.csv", tmp_path / "a.csv")
    (tmp_path / "b.csv").write_text("time_us,key,supply\n5,0,1\n", encoding="utf-8")
    code, _, err = command("stimulus", str(tmp_path / "a.csv"), str(tmp_path / "b.csv"))
    assert (code, "has other columns than" in err) == (2, True)


def test_the_players_rig_is_read_and_needs_no_button() -> None:
    path = FIRMWARE / "player" / "rig.yaml"
    settings = read_settings(path.read_text(encoding="utf-8"), str(path))
    assert {channel.kind for channel in settings.channels} == {SUPPLY, "out"}
