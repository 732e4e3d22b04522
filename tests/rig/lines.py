"""Programs of the line protocol for tests: a few lines of Python with one key and one lamp."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from nudgeproof.rig.lines import run_program
from nudgeproof.rig.run import Limits, Run
from nudgeproof.rig.settings import Settings, read_settings
from tests.rig.devices import Act, act

WIRES = """rig: 1
program: [{python}, -I, -S, program.py]
buttons: {{key: {{}}}}
outputs: {{lamp: {{}}}}
memory: {{bytes: 4, write takes: 1 ms}}
{more}
"""

HEAD = """
import json, os, sys, time
def tell(**message):
    sys.stdout.write(json.dumps(message) + "\\n")
    sys.stdout.flush()
def raw(data):
    os.write(1, data)
def hear():
    line = sys.stdin.readline()
    if not line:
        sys.exit(0)
    return json.loads(line)
"""

HELLO = 'tell(hello=1, outputs=["lamp"])\n'

ECHO = """
while True:
    told = hear()
    if "set" in told:
        tell(at=told["at"], set={"lamp": told["set"]["key"]})
    tell(now=told["at"])
"""
"""A lamp that is lit while the key is closed."""


def wires(more: str = "") -> Settings:
    return read_settings(WIRES.format(python=sys.executable, more=more), "rig.yaml")


def speak(
    code: str,
    folder: Path,
    acts: Sequence[Act] = (),
    until_ms: float = 1000,
    more: str = "",
    memory: bytes = b"",
    limits: Limits | None = None,
    seed: int = 0,
) -> Run:
    """A run of a program of a few lines."""
    (folder / "program.py").write_text(HEAD + code, encoding="utf-8")
    return run_program(wires(more), folder, act(acts, until_ms), memory, seed, limits)
