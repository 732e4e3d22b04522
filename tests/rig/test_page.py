"""docs/rig.md: every call that it lists is there, every key and finding is told, and its own example runs."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from nudgeproof.rig.run import FINDINGS
from nudgeproof.rig.settings import _KNOWN, read_settings
from nudgeproof.rig.stimulus import read_stimulus
from tests.rig.devices import ROOT

PAGE = (ROOT / "docs" / "rig.md").read_text(encoding="utf-8")
HARNESS = ROOT / "src" / "nudgeproof" / "rig" / "harness"
COVERED = PAGE.partition("## What is covered")[2].partition("\n## ")[0]


@pytest.mark.parametrize(("title", "file"), [("harness's own calls", "rig.h"), ("Sketch-style", "sketch.h")])
def test_every_call_that_is_listed_is_there(title: str, file: str) -> None:
    listed = next(part for part in COVERED.split("\n\n") if title in part.split("`")[0] or title in part[:40])
    header = (HARNESS / file).read_text(encoding="utf-8")
    names = re.findall(r"`(?!sketch\.h)(\w+)(?:\.\w+)?`", listed)
    assert len(names) > 15
    assert [name for name in names if not re.search(rf"\b{name}\b", header)] == []


def test_every_own_call_is_listed() -> None:
    header = (HARNESS / "rig.h").read_text(encoding="utf-8")
    declared = re.findall(r"^[a-z0-9_]+ (rig_\w+)\(", header, re.MULTILINE)
    assert len(declared) > 15
    assert [name for name in declared if f"`{name}`" not in COVERED] == []


def test_every_key_and_finding_is_told() -> None:
    keys = PAGE.partition("## `rig.yaml`")[2].partition("\n## ")[0]
    assert [key for key in _KNOWN if f"`{key}`" not in keys] == []
    found = PAGE.partition("## What it finds")[2].partition("\n## ")[0]
    assert [name for name in FINDINGS if f"`{name}`" not in found] == []


def test_its_example_is_read() -> None:
    (rig,) = re.findall(r"```yaml\n(.*?)```", PAGE, re.DOTALL)
    (table,) = re.findall(r"```text\n(.*?)```", PAGE, re.DOTALL)
    settings = read_settings("\n".join(line[3:] for line in rig.splitlines()), "rig.yaml")
    stimulus = read_stimulus("\n".join(line.strip() for line in table.splitlines()), "s.csv", settings)
    assert stimulus.end_us == 9_000_000
    assert len(stimulus.changes) == 4


def test_the_harness_is_part_of_the_package() -> None:
    from importlib import resources

    shipped = {Path(str(file)).name for file in (resources.files("nudgeproof.rig") / "harness").iterdir()}
    assert {
        "rig.h",
        "rig.c",
        "sketch.h",
        "registers.h",
        "registers.c",
        "entry.c",
        "entry.h",
        "inside.h",
        "fence.h",
    } == shipped
