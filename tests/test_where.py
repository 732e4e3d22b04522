"""When a story's actions can be played as one script, and when nothing is claimed about every specimen."""

from nudgeproof.parts.script import Edge
from nudgeproof.where import overlap


def edges(*told: tuple[int, str, bool]) -> tuple[Edge, ...]:
    return tuple(Edge(at, button, closes) for at, button, closes in told)


def test_presses_one_after_another_can_be_played() -> None:
    assert not overlap(edges((0, "pad", True), (5, "pad", False), (9, "pad", True)))
    assert not overlap(edges((0, "pad", True), (3, "", False), (4, "", True), (5, "pad", False)))


def test_two_sources_on_one_contact_at_once_cannot() -> None:
    assert overlap(edges((0, "pad", True), (5, "pad", True), (9, "pad", False)))
    assert overlap(edges((0, "", False), (5, "", False)))
