"""Whatever is done to the text of a spec, it gives a device or located problems, and never another exception."""

from __future__ import annotations

from typing import Final

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nudgeproof.diagnostics import SpecErrors
from nudgeproof.spec.notes import split_lines
from nudgeproof.spec.read import decode, read_device
from nudgeproof.spec.types import Device
from tests.amount import amount
from tests.spec.good import FED, GOOD, GROUPED

ODD: Final = [
    *"\t\x00\x07\x7f\x85\xa0\u2028\u202e\ufeff\ud800\r\n\u0301'\"\\#:,-?!&*%@`|>[]{}~<=.±0",
    ": ", " #", "- ", "? ", "---\n", "...\n", "<<: ", "\\U", '"\\UFFFFFFFF"', "!!str ", "&a ", "*a ", "%YAML 9.9\n",
    "\r\n", "1,5 s", "9" * 50, "é", "e\u0301", " and ", "after ", "held: > 6 ms", "\n\n", "  ", "closes ", "{}", "[]",
    " is ", " or ", "not ", "if: ", "every ", "states: ", "at least ", "0 to 9",
    "''", "5 %", "for good", " mA", " V", " uF", "up to ", " % used", "with ", "0 ", "cell gone: ", "2026-02-30", "\n\n ",
]  # fmt: skip
SETTINGS = settings(
    derandomize=True,
    database=None,
    deadline=None,
    max_examples=amount(75, 150),
    suppress_health_check=[HealthCheck.too_slow],
)

spot = st.integers(0, max(len(GOOD), len(FED)))
change = st.one_of(
    st.tuples(st.just("delete"), spot, st.integers(1, 12)),
    st.tuples(st.just("double"), spot, st.integers(1, 12)),
    st.tuples(st.just("swap"), spot, st.integers(1, 12)),
    st.tuples(st.just("insert"), spot, st.integers(0, len(ODD) - 1)),
    st.tuples(st.just("delete line"), spot, st.just(0)),
    st.tuples(st.just("double line"), spot, st.just(0)),
    st.tuples(st.just("swap lines"), spot, st.integers(1, 20)),
)


def mutate(text: str, kind: str, at: int, size: int) -> str:
    """The text after one change; `at` and `size` are taken modulo what there is."""
    at = at % (len(text) + 1)
    lines: list[str] = text.split("\n")
    line = text.count("\n", 0, at)
    if kind == "delete":
        return text[:at] + text[at + size :]
    if kind == "double":
        return text[: at + size] + text[at:]
    if kind == "swap":
        return text[:at] + text[at + size : at + 2 * size] + text[at : at + size] + text[at + 2 * size :]
    if kind == "insert":
        return f"{text[:at]}{ODD[size]}{text[at:]}"
    if kind == "delete line":
        return "\n".join(lines[:line] + lines[line + 1 :])
    if kind == "double line":
        return "\n".join([*lines[: line + 1], *lines[line:]])
    other = (line + size) % len(lines)
    swapped: list[str] = [*lines]
    swapped[line], swapped[other] = lines[other], lines[line]
    return "\n".join(swapped)


def check_problems(errors: SpecErrors, count: int) -> None:
    for problem in errors.problems:
        assert min(1, count) <= problem.place.line <= count
        assert problem.also is None or 1 <= problem.also.line <= count
        assert all((problem.what, problem.why, problem.cure))
        assert f"{problem.what}{problem.why}{problem.cure}{problem.source}".isprintable()
        assert len(problem.source) <= 100


def check(text: str) -> Device | None:
    """The device, if it is one; any exception but `SpecErrors` fails the test by itself."""
    try:
        device = read_device(text, "lamp.yaml")
    except SpecErrors as errors:
        check_problems(errors, len(split_lines(text.removeprefix("\ufeff"))))
        return None
    assert isinstance(device, Device)
    assert device.initial in {state.name for state in device.states}
    names = {*(gesture.name for gesture in device.gestures), *device.unmade}
    assert all(t.gesture in names for state in device.states for t in state.transitions)
    sources = {what.name for what in device.surroundings}
    assert all({*accepted.by} <= sources for accepted in device.accepts)
    kept = device.memory.keeps if device.memory is not None else ()
    assert {*kept} <= {"state", *(variable.name for variable in device.variables)}
    assert device.lines == tuple(text.removeprefix("\ufeff").splitlines())
    return device


@SETTINGS
@given(st.lists(change, min_size=1, max_size=3))
def test_a_changed_spec_is_read_or_refused(changes: list[tuple[str, int, int]]) -> None:
    text = GOOD
    for kind, at, size in changes:
        text = mutate(text, kind, at, size)
    check(text)


@SETTINGS
@given(st.lists(change, min_size=1, max_size=3))
def test_a_changed_spec_with_groups_is_read_or_refused(changes: list[tuple[str, int, int]]) -> None:
    text = GROUPED
    for kind, at, size in changes:
        text = mutate(text, kind, at, size)
    check(text)


@SETTINGS
@given(st.lists(change, min_size=1, max_size=3))
def test_a_changed_spec_with_electricity_is_read_or_refused(changes: list[tuple[str, int, int]]) -> None:
    text = FED
    for kind, at, size in changes:
        text = mutate(text, kind, at, size)
    check(text)


@SETTINGS
@given(st.integers(0, len(GOOD)), st.binary(min_size=1, max_size=4))
def test_changed_bytes_are_read_or_refused(at: int, junk: bytes) -> None:
    data = GOOD.encode()
    try:
        text = decode(data[:at] + junk + data[at:], "lamp.yaml")
    except SpecErrors as errors:
        check_problems(errors, GOOD.count("\n") + junk.count(b"\n") + junk.count(b"\r"))
    else:
        check(text)


@SETTINGS
@given(st.lists(st.sampled_from([*ODD, *"abs \n:{}[]-"]), max_size=40))
def test_any_text_is_read_or_refused(pieces: list[str]) -> None:
    check("".join(pieces))
