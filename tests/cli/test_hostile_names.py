"""Names and words that mean something to a shell, a terminal, a browser or DOT are refused, or shown as what they are."""

from __future__ import annotations

import json
import shlex
from html.parser import HTMLParser
from pathlib import Path

import pytest

from nudgeproof.report.argument import as_argument
from nudgeproof.report.card import make_card
from nudgeproof.report.card_page import to_page
from nudgeproof.spec.read import read_device
from tests.snapshots.screens import ROOT, run

SPEC = (ROOT / "specs/failures/accidental-wake/broken.yaml").read_text(encoding="utf-8")
ODD = "\x1b[31m"
GOOD = "specs/rain-cover-light.yaml"
FILES = ["a b.yaml", "q'\"x.yaml", "-o.yaml", "$(touch x).yaml", "a&b;c|d.yaml", "*.yaml", "<script>.yaml", "光.yaml"]
UNTYPED = ["a\nb.yaml", "\x1b[31mred.yaml", "\u202egnp.yaml", "a\u200bb.yaml", "\udcff\udcfe.yaml"]
TEXTS = [
    "<script>alert(1)</script>",
    "a\"b'c & &amp; ]]> -- %s $(x) \\n",
    "<!--",
    "</title></h1><img src=x onerror=y>",
    "😀 x",
]


class Elements(HTMLParser):
    """The elements of a page with their attributes, and its words."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: set[tuple[str, str]] = set()
        self.words = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found |= {(tag, name) for name, _ in attrs} | {(tag, "")}

    def handle_data(self, data: str) -> None:
        self.words += data


def is_harmless(text: str) -> bool:
    return all(line.isprintable() for line in text.splitlines())


@pytest.mark.parametrize("name", FILES)
def test_what_to_do_next_can_be_copied_whatever_the_file_is_called(name: str, tmp_path: Path) -> None:
    file = tmp_path / name
    file.write_text(SPEC, encoding="utf-8")
    assert shlex.split(as_argument(name)) == [f"./{name}" if name.startswith("-") else name]
    before = Path.cwd()
    _, out, _ = run("check", "--only", "accidental-wake", str(file))
    assert Path.cwd() == before
    assert f"({file})" in out
    assert is_harmless(out)


@pytest.mark.parametrize("name", UNTYPED)
def test_the_name_of_a_file_says_nothing_to_the_terminal(name: str, tmp_path: Path) -> None:
    file = str(tmp_path / name)
    _, _, err = run("check", file)
    assert len(err.splitlines()) == 1
    assert is_harmless(err)
    Path(file).write_text(SPEC, encoding="utf-8")
    found = str(tmp_path / "found.json")
    code, out, err = run("check", "--only", "accidental-wake", "--json", found, file)
    assert (code, err) == (1, "")
    assert is_harmless(out)
    assert len([line for line in out.splitlines() if line.startswith("(")]) == 1
    (spec,) = json.loads(Path(found).read_text(encoding="utf-8"))["specs"]
    assert spec["file"] == file.encode("utf-8", "replace").decode("utf-8")
    assert as_argument(file) == "SPEC"
    for words in (("why", file, "stowed -> lit"), ("draw", file, "-o", f"{file}.dot"), ("card", file)):
        code, out, err = run(*words)
        assert code == 0
        assert is_harmless(out + err)


def test_what_a_certificate_or_a_finding_says_of_itself_is_only_text(tmp_path: Path) -> None:
    spec, hostile = "specs/failures/accidental-wake/broken.yaml", "\x1b[2K\rproved   all\nproved   all"
    proof = tmp_path / "proof.json"
    proof.write_text(json.dumps({"hazard": hostile, "subject": "x", "spec_digest": "y"}), encoding="utf-8")
    code, out, err = run("audit", str(proof), "--spec", spec)
    assert (code, err) == (1, "")
    assert out.startswith("REFUSED")
    assert len(out.splitlines()) == 1
    assert is_harmless(out)
    beat = {"at_us": 0, "part": "x", "timer": "x", "choice": 0}
    finding = {"hazard": hostile, "subject": hostile, "verdict": "broken", "story": [beat]}
    told = tmp_path / "found.json"
    told.write_text(json.dumps({"format": 1, "specs": [{"findings": [finding]}]}), encoding="utf-8")
    code, out, _ = run("replay", str(told), spec)
    assert code == 0
    assert len(out.splitlines()) == 2
    assert is_harmless(out)
    told.write_text(json.dumps({"format": hostile, "specs": []}), encoding="utf-8")
    assert is_harmless(run("replay", str(told), spec)[2])


@pytest.mark.parametrize(
    "words",
    [("explain", ODD), ("check", "--only", ODD, GOOD), ("why", GOOD, ODD), ("new", "x", "--like", ODD)],
)
def test_a_wrong_word_is_given_back_as_text(words: tuple[str, ...]) -> None:
    code, _, err = run(*words)
    assert code == 2
    assert is_harmless(err)


def test_words_that_the_parser_refuses_are_only_text() -> None:
    wired = ("--rig", "r", "--map", "m")
    for words in (
        ("trial", "x", *wired, "--kinds", ODD), ("trial", "x", *wired, "--edges", ODD), ("measure", "x", "--longest", ODD),
        ("measure", "x", "--longest", f"5 {ODD}"), ("rig", "x", "--stimulus", "s", "--clock", ODD),
        ("stimulus", "x", "--pause", ODD), ("stimulus", "x", "--rounds", ODD),
    ):  # fmt: skip
        code, _, err = run(*words)
        assert (code, is_harmless(err)) == (2, True), words


@pytest.mark.parametrize("text", TEXTS)
def test_words_of_a_spec_add_nothing_to_a_page(text: str) -> None:
    def page(device: str, shows: str) -> Elements:
        quoted = SPEC.replace("device: strap light", f"device: {json.dumps(device, ensure_ascii=False)}")
        lit = quoted.replace("\n  lit:\n", f"\n  lit:\n    shows: {json.dumps(shows, ensure_ascii=False)}\n")
        assert lit != quoted
        return Elements(to_page(make_card(read_device(lit, "x.yaml"))))

    made = page(text, text)
    assert made.found == page("plain", "plain").found
    assert made.words.count(text) >= 3


@pytest.mark.parametrize("option", [("check", "--json", ""), ("check", "--certificate", ""), ("fuzz", "--corpus", "")])
def test_an_empty_name_of_a_file_is_refused(option: tuple[str, ...]) -> None:
    code, out, err = run(*option, GOOD)
    assert (code, out) == (2, "")
    assert err.endswith("the name of the file is empty\n")
