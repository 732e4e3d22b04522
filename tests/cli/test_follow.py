"""`nudgeproof follow`: exit codes, screens, JSON, and files that are none."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.firmware import example
from tests.firmware.lamp import LEAST_US, MAP, TEXT, press
from tests.snapshots.screens import ROOT, run

SPEC = "specs/rain-cover-light.yaml"
GOOD, BAD = "recordings/rain-cover-light.csv", "recordings/rain-cover-light-hold-too-short.csv"
BY = ("--map", "recordings/rain-cover-light.map.yaml")


@pytest.fixture
def lamp(tmp_path: Path) -> Path:
    (tmp_path / "spec.yaml").write_text(TEXT, encoding="utf-8")
    (tmp_path / "map.yaml").write_text(MAP.format(period=1), encoding="utf-8")
    (tmp_path / "good.csv").write_text(press(100_000 + LEAST_US), encoding="utf-8")
    (tmp_path / "idle.csv").write_text("time_us,KEY,LAMP\n0,0,0\n9000,0,0\n", encoding="utf-8")
    (tmp_path / "bad.csv").write_text("time_us,KEY,LAMP\n0,0,0\n9000,0,7\n", encoding="utf-8")
    (tmp_path / "none.csv").write_bytes(b"\0\1")
    return tmp_path


def follow(folder: Path, *files: str) -> tuple[int, str, str]:
    names = [str(folder / name) if "." in name else name for name in files]
    return run("follow", str(folder / "spec.yaml"), *names, "--map", str(folder / "map.yaml"))


def test_the_shipped_recordings_are_those_of_the_simulator() -> None:
    for name, text in example.texts().items():
        assert (ROOT / "recordings" / name).read_text(encoding="utf-8") == text, name


def test_exit_codes() -> None:
    assert run("follow", SPEC, GOOD, *BY)[0] == 0
    assert run("follow", SPEC, BAD, *BY)[0] == 1
    assert run("follow", SPEC, GOOD, BAD, GOOD, *BY)[0] == 1


def test_no_verdict_is_3_and_bad_input_2_and_the_others_are_still_told(lamp: Path) -> None:
    assert follow(lamp, "good.csv")[0] == 0
    code, out, _ = follow(lamp, "good.csv", "idle.csv")
    assert code == 3
    assert "NOTHING HAPPENS" in out
    code, out, err = follow(lamp, "bad.csv", "good.csv")
    assert code == 2
    assert "bad.csv:3:8: the level of `LAMP` is `7`" in err
    assert "lamp: conforms" in out
    for name in ("none.csv", "nowhere.csv"):
        code, _, err = follow(lamp, name)
        assert (code, len(err.splitlines())) == (2, 1)


def test_what_a_map_lacks_is_told_once_for_each_recording(lamp: Path) -> None:
    (lamp / "other.csv").write_text("time_us,KEY\n0,0\n9,1\n", encoding="utf-8")
    code, out, err = follow(lamp, "other.csv", "good.csv", "other.csv")
    assert code == 2
    assert err.count("has no channel `LAMP`") == 2
    assert "map.yaml:5:3" in err
    assert "lamp: conforms" in out


def test_an_effort_that_runs_out_is_undecided(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("nudgeproof.cli.recordings.BUDGETS", {"usual": 2})
    code, out, _ = run("follow", SPEC, GOOD, *BY)
    assert code == 3
    assert "UNDECIDED" in out
    assert "--effort deep" in out


@pytest.mark.parametrize("name", [GOOD, BAD])
@pytest.mark.parametrize("plain", [True, False])
def test_no_line_is_wider_than_a_terminal(name: str, plain: bool) -> None:
    _, out, _ = run("follow", SPEC, name, *BY, *(("--ascii",) if plain else ()))
    assert max(map(len, out.splitlines())) <= 80
    assert out.isascii() or not plain


def test_the_mark_stands_under_the_change_that_was_refused() -> None:
    _, out, _ = run("follow", SPEC, BAD, *BY, "--ascii")
    lines = out.splitlines()
    mark = next(line for line in lines if "^" in line)
    glow = next(line for line in lines if line.startswith("  GLOW"))
    assert glow[mark.index("^") - 1 : mark.index("^") + 1] == "_#"


def test_json_says_the_same(tmp_path: Path) -> None:
    target = tmp_path / "out.json"
    assert run("follow", SPEC, GOOD, BAD, *BY, "--json", str(target))[0] == 1
    text = target.read_text(encoding="utf-8")
    assert run("follow", SPEC, GOOD, BAD, *BY, "--json", "-")[1] == text
    document = json.loads(text)
    good, bad = document["recordings"]
    assert document["format"] == 1
    assert (good["result"], good["surely_in"], good["sample_period_us"]) == (
        "conforms",
        ["stowed", "armed", "glowing"],
        10,
    )
    assert (bad["result"], bad["channel"], bad["at_us"]) == ("refused", "GLOW", 1_487_390)
    (allowed,) = bad["allowed"]
    assert allowed["by"] == "hold: stowed -> armed"
    # 1.2 s by a clock that is off by 5 %, after a debounce of 15 to 25 ms.
    assert allowed["latest_us"] - allowed["earliest_us"] == pytest.approx(
        10_000 + 1_200_000 * (1 / 0.95 - 1 / 1.05), abs=12
    )
    assert not bad["no_change_allowed"]


def test_a_recording_may_be_a_dump(lamp: Path) -> None:
    head = "$timescale 1 us $end $var wire 1 k KEY $end $var wire 1 l LAMP $end $enddefinitions $end\n"
    on = 100_000 + LEAST_US
    dump = f"{head}#0 0k 0l\n#100000 1k\n#{on} 1l\n#2000000 0k\n#3000000\n"
    (lamp / "good.vcd").write_text(dump, encoding="utf-8")
    assert follow(lamp, "good.vcd")[:1] == (0,)
    (lamp / "good.vcd").write_text(dump.replace(f"#{on}", f"#{on - 3}"), encoding="utf-8")
    assert follow(lamp, "good.vcd")[:1] == (1,)


def test_a_long_recording_tells_how_far_it_is_on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[str] = []
    monkeypatch.setattr("nudgeproof.cli.recordings.Meter.say", lambda meter, what: said.append(f"{meter.spec}: {what}"))
    recording = "recordings/rain-cover-light.csv"
    code, out, _ = run(
        "follow", "specs/rain-cover-light.yaml", recording, "--map", "recordings/rain-cover-light.map.yaml"
    )
    assert code == 0
    assert "66 edges of contacts and events and 4 changes" in out
    # One line for each recorded change, in whatever order windows of lights open, and one for the end.
    assert len(said) == 71
    assert said[0].startswith(f"{recording}: followed to ")
    assert said[-1] == f"{recording}: followed to 8.5 s; 70 of 70 changes"
