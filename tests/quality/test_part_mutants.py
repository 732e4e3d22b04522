"""The list of faults to plant in the parts and in how a verdict is weighed can still be planted."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.quality.part_mutants import FAULTS, ROOT, chosen
from tests.quality.planted.fault import SOURCES, modules, read


@pytest.mark.parametrize("module", modules(FAULTS))
def test_each_text_to_change_stands_just_once_where_it_is_looked_for(module: str) -> None:
    text = read(ROOT / SOURCES, module)
    for fault in chosen([module]):
        assert fault.places(text) == 1, fault.name
        compile(fault.plant(text), fault.name, "exec")
        assert fault.plant(text) != text, fault.name


def test_there_are_many_and_each_has_a_name_and_tests() -> None:
    assert len({fault.name for fault in FAULTS}) == len(FAULTS) >= 70
    named = {Path(test.partition("::")[0]) for fault in FAULTS for test in fault.by}
    assert [path for path in named if not (ROOT / path).exists()] == []
    assert all(fault.by for fault in FAULTS)
