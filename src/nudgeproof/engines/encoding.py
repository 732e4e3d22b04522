"""Texts for situations, plain data for environments: what a certificate needs to write down of a model.

Equal values give the same text on every machine and every run, and values that differ give texts that differ (`True` and
`1`, equal to Python, are told apart here; no part mixes them).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass

from nudgeproof.diagnostics import ToolFault
from nudgeproof.units import FOREVER

FORMAT = 1
"""Version of the form of a certificate."""


@dataclass(frozen=True, slots=True)
class Claim:
    """What a certificate is about: the question, by name, and the text it was asked of.

    `spec_digest`: SHA-256 of the spec's text. `environment`: the dataclass that says who acts.
    """

    spec_digest: str
    hazard: str
    subject: str
    environment: object


def encode(value: object) -> str:
    """The text of a situation or of a value within one. Sets are sorted by the texts of their members.

    Raises `ToolFault` for a value of a kind that no local state is made of.
    """
    if value is None or value is True or value is False:
        return str(value).lower()
    if type(value) is int:
        return str(value)
    if type(value) is str:
        return json.dumps(value)
    if type(value) is tuple:
        return f"({','.join(map(encode, value))})"
    if type(value) is frozenset:
        return f"{{{','.join(sorted(map(encode, value)))}}}"
    if is_dataclass(value) and not isinstance(value, type):
        told = (f"{field.name}={encode(getattr(value, field.name))}" for field in fields(value))
        return f"{type(value).__name__}({','.join(told)})"
    raise ToolFault(f"a local state holds a {type(value).__name__}, which has no text")


def plain(value: object) -> object:
    """A dataclass as JSON data: its fields by name, tuples as lists, `FOREVER` as "inf".

    Raises `ToolFault` for what JSON can't hold.
    """
    if value == FOREVER:
        return "inf"
    if value is None or type(value) in (bool, int, str):
        return value
    if type(value) is tuple:
        return [plain(entry) for entry in value]
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    raise ToolFault(f"an environment holds a {type(value).__name__}, which can't be written down")


def heading(claim: Claim, tool: str) -> Mapping[str, object]:
    """All of a certificate but its classes, in the order in which it is written."""
    return {
        "format": FORMAT,
        "tool": tool,
        "spec_digest": claim.spec_digest,
        "hazard": claim.hazard,
        "subject": claim.subject,
        "environment": plain(claim.environment),
    }
