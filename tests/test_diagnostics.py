from __future__ import annotations

import pickle

import pytest

from nudgeproof.diagnostics import SHOWN_AT_ONCE, Place, Problem, SpecErrors, ToolFault


def problem(line: int, column: int = 1, source: str = "", also: Place | None = None) -> Problem:
    return Problem(Place("lamp.yaml", line, column), f"thing {line}", "it matters", "mend it", source, also)


def test_a_place_names_file_line_and_column() -> None:
    assert str(Place("lamp.yaml", 3, 7)) == "lamp.yaml:3:7"
    assert str(Place("lamp.yaml")) == "lamp.yaml"


def test_a_problem_says_what_why_and_cure_above_its_line() -> None:
    shown = str(problem(3, 8, "device: lamp", Place("lamp.yaml", 1, 1)))
    assert shown == (
        "lamp.yaml:3:8: thing 3; it matters; mend it\n  see also lamp.yaml:1:1\n    device: lamp\n           ^"
    )


def test_a_problem_without_a_line_has_no_caret() -> None:
    assert str(problem(3)) == "lamp.yaml:3:1: thing 3; it matters; mend it"


def test_the_caret_keeps_tabs_so_that_columns_line_up() -> None:
    assert str(problem(1, 3, "\tab")).splitlines()[-1] == "    \t ^"


def test_problems_come_in_the_order_of_the_file() -> None:
    errors = SpecErrors([problem(9), problem(2, 5), problem(2, 1)])
    assert [(p.place.line, p.place.column) for p in errors.problems] == [(2, 1), (2, 5), (9, 1)]
    assert str(errors).splitlines()[0].startswith("lamp.yaml:2:1:")


@pytest.mark.parametrize(
    ("more", "tail"), [(1, "... and 1 more problem in this file"), (3, "... and 3 more problems in this file")]
)
def test_only_the_first_problems_are_printed_and_the_rest_counted(more: int, tail: str) -> None:
    errors = SpecErrors([problem(n + 1) for n in range(SHOWN_AT_ONCE + more)])
    lines = str(errors).splitlines()
    assert len(errors.problems) == SHOWN_AT_ONCE + more
    assert len(lines) == SHOWN_AT_ONCE + 1
    assert lines[-1] == tail


def test_exactly_as_many_as_fit_leave_no_rest() -> None:
    assert "more" not in str(SpecErrors([problem(n + 1) for n in range(SHOWN_AT_ONCE)]))


def test_an_error_without_problems_is_the_fault_of_the_tool() -> None:
    with pytest.raises(ToolFault, match="empty list"):
        SpecErrors([])


def test_they_come_whole_out_of_another_process() -> None:
    errors = SpecErrors([problem(9), problem(2, 5)])
    again = pickle.loads(pickle.dumps(errors))
    assert again.problems == errors.problems
    assert str(again) == str(errors)
