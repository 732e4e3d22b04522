"""nudgeproof in tests written in Python, whatever runs them: check a spec, follow a recording, press a firmware by hand.

    from nudgeproof.testing import check, ms, rig

    def test_a_knock_does_nothing():
        board = rig("firmware/lamp/rig.yaml")
        board.press("pad", 15 * ms)
        board.wait(200 * ms)
        assert not board.outputs["lamp"]
        board.follow("specs/lamp.yaml", "firmware/lamp/map.yaml").expect_conforms()

Under pytest the fixture `nudgeproof` gives the same functions, with paths from pytest's root folder; see docs/tests.md.
A file with a mistake raises `SpecErrors`, one that can't be read `BadInput`, a firmware that can't be built `CantBuild`.
"""

from __future__ import annotations

from nudgeproof.cli.files import BadInput
from nudgeproof.diagnostics import SpecErrors
from nudgeproof.rig.build import CantBuild
from nudgeproof.testing.board import Board
from nudgeproof.testing.judged import Checked, Followed, Misbehaves, NotAsExpected
from nudgeproof.testing.place import Place
from nudgeproof.testing.times import minute, ms, s, us

__all__ = [
    "BadInput", "Board", "CantBuild", "Checked", "Followed", "Misbehaves", "NotAsExpected", "Place", "SpecErrors", "check",
    "follow", "minute", "ms", "rig", "s", "us",
]  # fmt: skip

_here = Place()
check, follow, rig = _here.check, _here.follow, _here.rig
