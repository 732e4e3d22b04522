"""`python -m tests.spec.coverage_guided [SECONDS] [SEED] [KEEP]`: bytes bred by what they reach (default: 900 s).

Needs `pip install atheris`, which no other test does. Begins with the good and the bad specs of the tests and with those
that are shipped; breeds from each that reaches new code. What is read as a device is asked about, drawn and put on a card.
Each kind of exception but located problems is told once, with the bytes that raise it; the exit code is then 1. Bytes that
reached something new, and those that raised an exception, are kept in the folder KEEP if it is given.
"""

from __future__ import annotations

import importlib
import subprocess
import sys
import tempfile
import traceback
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LARGEST = 6_000
"""Most bytes of a text; the largest shipped spec is smaller."""

FINDING = "FOUND"
"""How a line about an exception begins."""


def seeds() -> list[bytes]:
    """What is bred from."""
    from tests.spec.good import FED, GOOD, GROUPED

    files = sorted([*(ROOT / "tests/spec/bad").glob("*.yaml"), *(ROOT / "specs").rglob("*.yaml")])
    return [GOOD.encode(), GROUPED.encode(), FED.encode(), *(file.read_bytes() for file in files)]


def dictionary() -> str:
    """Keys of the spec, and text that is odd in YAML or in Unicode, as the fuzzer wants them."""
    from nudgeproof.spec.keys import SECTIONS
    from tests.spec.test_mutations import ODD

    words = {f"{key.name}: {form}" for section in SECTIONS for key in section.keys for form in key.forms[:2]}
    odd = {text for text in ODD if text.isascii() or text.isprintable()}
    lines = []
    for text in sorted(words | odd):
        data = text.encode("utf-8", "ignore")[:60]
        lines.append('"' + "".join(chr(b) if b < 128 and chr(b).isalnum() else f"\\x{b:02x}" for b in data) + '"')
    return "\n".join(lines) + "\n"


def make_test(kept: Path) -> Callable[[bytes], None]:
    """What is done with each text."""
    from nudgeproof.check import ask
    from nudgeproof.diagnostics import SpecErrors
    from nudgeproof.report.card import make_card, to_text
    from nudgeproof.report.card_page import to_page
    from nudgeproof.report.diagram import to_dot
    from nudgeproof.spec.edit import Places
    from nudgeproof.spec.read import decode
    from tests.spec.test_mutations import check

    known: set[tuple[str, str, int]] = set()

    def attempt(data: bytes) -> None:
        try:
            text = decode(data, "lamp.yaml")
            device = check(text)
            if device is None:
                return
            Places(device.lines)
            card = make_card(device)
            to_text(card)
            to_page(card)
            to_dot(device)
            ask(device)
        except SpecErrors:
            pass

    def one(data: bytes) -> None:
        try:
            attempt(data)
        except Exception as error:
            last = traceback.extract_tb(error.__traceback__)[-1]
            kind = (type(error).__name__, Path(last.filename).name, last.lineno or 0)
            if kind not in known:
                known.add(kind)
                name = kept / f"exception-{len(known)}.yaml"
                name.write_bytes(data)
                print(f"{FINDING} {kind[0]} in {kind[1]}:{kind[2]}: {error}; the bytes: {name}", flush=True)
                traceback.print_exception(error)

    return one


def breed(folder: Path, options: list[str]) -> None:
    """Never returns: the fuzzer ends the process."""
    atheris = importlib.import_module("atheris")
    with atheris.instrument_imports(include=["nudgeproof", "yaml"]):
        test = make_test(folder)
    atheris.Setup([sys.argv[0], *options], test)
    atheris.Fuzz()


def main(seconds: int, seed: int, kept: Path) -> int:
    """Breed in a process of its own; print what the fuzzer says of its progress, and return the exit code."""
    corpus = kept / "corpus"
    corpus.mkdir(parents=True, exist_ok=True)
    for number, data in enumerate(seeds()):
        (corpus / f"seed-{number:03}").write_bytes(data)
    (kept / "words").write_text(dictionary(), encoding="ascii")
    options = [
        f"-max_total_time={seconds}", f"-seed={seed}", f"-max_len={LARGEST}", f"-dict={kept / 'words'}",
        "-timeout=30", "-rss_limit_mb=2048", "-print_final_stats=1", f"-artifact_prefix={kept}/", str(corpus),
    ]  # fmt: skip
    command = [sys.executable, "-m", "tests.spec.coverage_guided", "--breed", str(kept), *options]
    found = 0
    shown = ""
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    assert process.stdout is not None
    for line in process.stdout:
        if "cov:" in line:
            shown = line
        if "cov:" not in line or "pulse" in line or "DONE" in line or "INITED" in line:
            print(line, end="", flush=True)
        found += line.startswith(FINDING)
    code = process.wait()
    print(f"{seconds} s with seed {seed}: {found} kinds of exceptions; exit code of the fuzzer {code}; {shown.strip()}")
    return 1 if found or code else 0


if __name__ == "__main__":
    words = sys.argv[1:]
    if words[:1] == ["--breed"]:
        breed(Path(words[1]), words[2:])
    with tempfile.TemporaryDirectory() as made:
        for_s, seed = int(words[0]) if words else 900, int(words[1]) if len(words) > 1 else 1
        sys.exit(main(for_s, seed, Path(words[2] if len(words) > 2 else made).resolve()))
