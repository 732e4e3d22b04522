"""The schema for editors takes whatever the reader takes, refuses unknown keys, and is written from the table."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator

from nudgeproof.spec.keys import SECTIONS, Key, Section
from nudgeproof.spec.schema import to_schema, write_schema
from tests.snapshots.reference import wanted
from tests.snapshots.screens import ROOT, run
from tests.spec.every_key import write
from tests.spec.good import GOOD
from tests.yamls import SafeLoader

SPECS = sorted(path for path in (ROOT / "specs").rglob("*.yaml") if path.name != "index.yaml")
STARTERS = sorted((ROOT / "src" / "nudgeproof" / "starters").glob("*.yaml"))
SCHEMA = ROOT / "src" / "nudgeproof" / "spec" / "spec.schema.json"
VALID = Draft202012Validator(to_schema())


class Editor(SafeLoader):  # type: ignore[misc]
    """YAML as editors read it: version 1.2, in which `yes`, `on` and a date are words."""

    yaml_implicit_resolvers: dict[str, list[tuple[str, re.Pattern[str]]]] = {}  # noqa: RUF012


Editor.add_implicit_resolver("tag:yaml.org,2002:null", re.compile(r"(~|null|)\Z"), ["~", "n", ""])
Editor.add_implicit_resolver("tag:yaml.org,2002:bool", re.compile(r"(true|false)\Z"), ["t", "f"])
Editor.add_implicit_resolver("tag:yaml.org,2002:int", re.compile(r"[0-9]+\Z"), list("0123456789"))


def complaints(text: str) -> list[str]:
    return [error.message for error in VALID.iter_errors(yaml.load(text, Editor))]


def test_files_are_those_that_the_table_makes() -> None:
    for path, text in wanted().items():
        assert path.read_text(encoding="utf-8") == text, path.name
    assert SCHEMA.read_text(encoding="utf-8") == write_schema() == run("explain", "schema")[1]


def test_it_is_a_schema() -> None:
    Draft202012Validator.check_schema(json.loads(write_schema()))


@pytest.mark.parametrize("spec", [*SPECS, *STARTERS], ids=lambda p: f"{p.parent.name}-{p.stem}")
def test_every_spec_of_the_project_passes(spec: Path) -> None:
    assert complaints(spec.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("section", SECTIONS, ids=lambda section: section.path or "top")
def test_every_form_of_the_table_passes(section: Section) -> None:
    for key in section.keys:
        for form in key.forms:
            assert complaints(write(section, key, form)) == [], f"{key.name}: {form}"


@pytest.mark.parametrize("section", SECTIONS, ids=lambda section: section.path or "top")
def test_an_unknown_key_is_refused(section: Section) -> None:
    """Where names are to be given any key will do, so its value is what is wrong; a gesture's may be any state, a
    variable's any word, and a source may act any number of times."""
    found = complaints(write(section, Key("stray key", "", (), "words"), "12"))
    if section.path.endswith(("transitions", ".set", ".times")):
        assert found == []
    elif any(key.name.isupper() for key in section.keys):
        assert found
    else:
        assert any("stray key" in message for message in found)


@pytest.mark.parametrize("missing", ["device", "buttons", "gestures", "initial", "states", "spec"])
def test_a_missing_section_is_refused(missing: str) -> None:
    document: dict[str, Any] = yaml.load(
        GOOD.replace('  - {reach: [glowing, armed], why: "first: light"}\n', ""), Editor
    )
    assert list(VALID.iter_errors(document)) == []
    del document[missing]
    assert [error.message for error in VALID.iter_errors(document)] == [f"'{missing}' is a required property"]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("debounce: 20 ms ± 5 ms", "debounce: 20"),
        ("guard: two copies", "guard: three copies"),
        ("off by: 5 %", "off by: 5"),
        ("on: level", "on: both"),
        ("taps: 2", "taps: 12"),
        ("waiting: yes", "waiting: perhaps"),
    ],
)
def test_a_wrong_value_is_refused(old: str, new: str) -> None:
    assert old in GOOD
    text = GOOD.replace('  - {reach: [glowing, armed], why: "first: light"}\n', "")
    assert complaints(text) == []
    assert complaints(text.replace(old, new)) != []
