"""The picture of the README's supply; its bytes hang on the library that draws, so only what it says is compared."""

from __future__ import annotations

import re

from nudgeproof.report.supply_plot import draw
from nudgeproof.spec.read import read_device
from tests.snapshots.screens import ROOT

SPEC = ROOT / "specs" / "cellar-lamp.yaml"
PICTURE = ROOT / "diagrams" / "cellar-lamp-supply.svg"


def drawn() -> str:
    """The picture as it should be now."""
    return draw(read_device(SPEC.read_text(encoding="utf-8"), f"specs/{SPEC.name}"), "svg").decode()


def words(picture: str) -> list[str]:
    """All texts of a picture, in their order."""
    return re.findall(r"<text [^>]*>([^<]*)</text>", picture)
