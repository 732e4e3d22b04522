"""SARIF: what a gate stops at, in the form that the standard asks for, at the places of the screen."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft7Validator

from nudgeproof.check import NAMES
from tests.snapshots.screens import ROOT, run

WAKE = "specs/failures/accidental-wake"
_TEXT = {"type": "object", "required": ["text"], "properties": {"text": {"type": "string", "minLength": 1}}}
_RESULT = {
    "type": "object",
    "required": ["message", "ruleId", "ruleIndex", "level", "locations"],
    "properties": {
        "message": _TEXT,
        "ruleId": {"type": "string"},
        "level": {"enum": ["none", "note", "warning", "error"]},
        "ruleIndex": {"type": "integer", "minimum": 0},
        "partialFingerprints": {"type": "object", "additionalProperties": {"type": "string"}},
        "locations": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["physicalLocation"],
                "properties": {
                    "physicalLocation": {
                        "type": "object",
                        "required": ["artifactLocation"],
                        "properties": {
                            "artifactLocation": {"properties": {"uri": {"type": "string", "pattern": "^[!-~]+$"}}},
                            "region": {
                                "properties": {
                                    "startLine": {"type": "integer", "minimum": 1},
                                    "startColumn": {"type": "integer", "minimum": 1},
                                },
                                "additionalProperties": False,
                            },
                        },
                        "additionalProperties": False,
                    }
                },
                "additionalProperties": False,
            },
        },
    },
    "additionalProperties": False,
}
SCHEMA = {
    "type": "object",
    "required": ["version", "runs"],
    "properties": {
        "version": {"const": "2.1.0"},
        "runs": {
            "items": {
                "required": ["tool", "results"],
                "properties": {
                    "tool": {
                        "required": ["driver"],
                        "properties": {
                            "driver": {
                                "required": ["name"],
                                "properties": {
                                    "rules": {
                                        "items": {"required": ["id"], "properties": {"shortDescription": _TEXT}},
                                        "uniqueItems": True,
                                    }
                                },
                            }
                        },
                    },
                    "columnKind": {"enum": ["utf16CodeUnits", "unicodeCodePoints"]},
                    "results": {"items": _RESULT},
                },
            }
        },
    },
}
"""What sections 3.13, 3.14, 3.18, 3.19, 3.27, 3.28, 3.29 and 3.30 of the standard ask of the parts that are used."""


def sarif_of(folder: Path, *arguments: str) -> tuple[int, dict[str, Any]]:
    code = run("check", *arguments, "--sarif", str(folder / "told.sarif"))[0]
    document = json.loads((folder / "told.sarif").read_text(encoding="utf-8"))
    Draft7Validator(SCHEMA).validate(document)
    (only,) = document["runs"]
    rules = [rule["id"] for rule in only["tool"]["driver"]["rules"]]
    assert sorted(rules) == sorted((*NAMES, "spec"))
    assert all(rules[result["ruleIndex"]] == result["ruleId"] for result in only["results"])
    return code, only


def test_what_is_broken_is_an_error_at_its_line_and_what_holds_is_left_out(tmp_path: Path) -> None:
    code, told = sarif_of(tmp_path, f"{WAKE}/broken.yaml", f"{WAKE}/mended.yaml")
    assert code == 1
    (result,) = told["results"]
    (finding,) = [
        finding
        for spec in json.loads(run("check", "--json", "-", f"{WAKE}/broken.yaml")[1])["specs"]
        for finding in spec["findings"]
        if finding["verdict"] == "broken"
    ]
    assert (result["ruleId"], result["level"]) == ("accidental-wake", "error")
    assert result["message"]["text"].splitlines()[0] == finding["sentence"]
    assert f"bench: {finding['bench']}" in result["message"]["text"]
    place = result["locations"][0]["physicalLocation"]
    assert place["artifactLocation"]["uri"] == f"{WAKE}/broken.yaml"
    assert place["region"] == {"startLine": finding["line"], "startColumn": finding["column"]}


def test_a_mistake_has_its_place_and_a_file_that_is_not_there_none(tmp_path: Path) -> None:
    bad = tmp_path / "a bad ü.yaml"
    bad.write_text("spec: 1\ndevice: x\nbutons: {}\n", encoding="utf-8")
    code, told = sarif_of(tmp_path, str(bad), "nowhere.yaml")
    assert code == 2
    assert {result["ruleId"] for result in told["results"]} == {"spec"}
    (first,) = [result for result in told["results"] if "did you mean `buttons`" in result["message"]["text"]]
    second = told["results"][-1]
    assert first["locations"][0]["physicalLocation"]["region"] == {"startLine": 3, "startColumn": 1}
    assert first["locations"][0]["physicalLocation"]["artifactLocation"]["uri"].endswith("a%20bad%20%C3%BC.yaml")
    assert "region" not in second["locations"][0]["physicalLocation"]


def test_what_is_undecided_or_missing_is_a_warning(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    code, told = sarif_of(tmp_path, f"{WAKE}/mended.yaml", "--require", "lost-state")
    assert code == 3
    assert [(one["ruleId"], one["level"]) for one in told["results"]] == [("lost-state", "warning")]
    monkeypatch.setattr("nudgeproof.check.BUDGETS", {"usual": 10, "deep": 20})
    monkeypatch.setattr("nudgeproof.answers.RANDOM_STEPS", 100)
    monkeypatch.setattr("nudgeproof.answers.LEAST_RANDOM_STEPS", 100)
    code, told = sarif_of(tmp_path, f"{WAKE}/mended.yaml", "--only", "accidental-wake")
    assert code == 3
    (result,) = told["results"]
    assert result["level"] == "warning"
    assert result["message"]["text"].startswith("undecided: accidental-wake: squeeze: the effort ran out")


def test_a_failure_is_known_again_when_its_line_moves(tmp_path: Path) -> None:
    moved = tmp_path / "moved.yaml"
    moved.write_text("# one line more\n" + (ROOT / WAKE / "broken.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    before, after = (sarif_of(tmp_path, spec)[1]["results"][0] for spec in (f"{WAKE}/broken.yaml", str(moved)))
    assert before["partialFingerprints"] == after["partialFingerprints"]
    regions = [one["locations"][0]["physicalLocation"]["region"]["startLine"] for one in (before, after)]
    assert regions[1] == regions[0] + 1


def test_a_file_that_can_not_be_written_is_bad_input() -> None:
    code, _, err = run("check", f"{WAKE}/mended.yaml", "--sarif", "nowhere/told.sarif")
    assert code == 2
    assert "nowhere/told.sarif: can't be written" in err
