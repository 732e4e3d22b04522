"""Certificates and their auditor: the texts, what is written for a model worked out by hand, and what is refused."""

from __future__ import annotations

import ast
import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nudgeproof import __version__
from nudgeproof.diagnostics import ToolFault
from nudgeproof.engines import audit as audit_module
from nudgeproof.engines.audit import Audit, audit
from nudgeproof.engines.certificate import certify, largest
from nudgeproof.engines.encoding import Claim, encode, plain
from nudgeproof.engines.explore import Exploration, explore
from nudgeproof.model.step import Move
from nudgeproof.model.tables import Choice, Model, Part, Situation, Timer
from nudgeproof.parts.compile import Environment
from nudgeproof.parts.memory import Store
from nudgeproof.parts.people import ANYTHING
from nudgeproof.parts.script import Edge
from nudgeproof.parts.train import Train
from nudgeproof.units import FOREVER, Span
from tests.engines.test_three_timers import CLASSES, three

CLAIM: Final = Claim("00ff", "no-hazard", "three", Environment(("knocks",)))
SETTINGS: Final = settings(
    derandomize=True, database=None, deadline=None, max_examples=200, suppress_health_check=[HealthCheck.too_slow]
)


def never(model: Model, before: Situation, move: Move) -> bool:
    return False


def all_off(model: Model, before: Situation, move: Move) -> bool:
    """The last of the three timers has burnt down: it can happen."""
    return move.situation == ("off", "off", "off")


def again(model: Model, before: Situation, move: Move) -> bool:
    """One that is off comes on again: it can't happen."""
    return any(was == "off" and now == "on" for was, now in zip(before, move.situation, strict=True))


def looked_at(model: Model) -> Exploration:
    return explore(model, [again, never], 1_000, keep=True)


def certificate() -> str:
    return certify(CLAIM, looked_at(three()), 0)


def audited(document: str | bytes) -> Audit:
    return audit(three(), again, document, CLAIM)


values = st.recursive(
    st.none() | st.booleans() | st.integers(-3, 3) | st.text('a,(){}"\\1N=é\ud800', max_size=3),
    lambda inner: (
        st.lists(inner, max_size=3).map(tuple)
        | st.frozensets(inner, max_size=3)
        | st.builds(Store, st.lists(inner, max_size=2).map(tuple), found=inner, torn=st.booleans())
    ),
    max_leaves=6,
)


def strictly_same(a: object, b: object) -> bool:
    """Equal, and of the same kinds all the way down."""
    if type(a) is not type(b):
        return False
    if isinstance(a, tuple) and isinstance(b, tuple):
        return len(a) == len(b) and all(map(strictly_same, a, b))
    if isinstance(a, frozenset) and isinstance(b, frozenset):
        return len(a) == len(b) and all(any(strictly_same(x, y) for y in b) for x in a)
    if isinstance(a, Store) and isinstance(b, Store):
        return all(strictly_same(getattr(a, name), getattr(b, name)) for name in Store.__slots__)
    return a == b


@SETTINGS
@given(values, values)
def test_texts_are_the_same_for_the_same_values_only(a: object, b: object) -> None:
    assert (encode(a) == encode(b)) == strictly_same(a, b)
    assert encode(a).isascii()
    assert encode(a).isprintable()


def test_a_text_is_written_like_this() -> None:
    local = (True, None, -2, ("b", frozenset({"z", "a"})), Store(("low",), wanted=("high",)))
    assert encode(local) == (
        '(true,none,-2,("b",{"a","z"}),'
        'Store(cells=("low"),target=none,at=0,wanted=("high"),waits=false,found=none,torn=false,unknown=false))'
    )


@pytest.mark.parametrize("value", [1.5, FOREVER, [1], {"a": 1}, {1}, b"", Store, ("a", (0.5,))])
def test_what_no_local_state_is_made_of_has_no_text(value: object) -> None:
    with pytest.raises(ToolFault):
        encode(value)


def test_an_environment_is_written_with_all_its_fields() -> None:
    environment = Environment(
        ("knocks",), "person", ("dark",), script=(Edge(5, "pad", True),), train=Train("pad", (Span(2, FOREVER),))
    )
    written = plain(environment)
    assert isinstance(written, dict)
    assert tuple(written) == Environment.__slots__
    assert written["sources"] == ["knocks"]
    assert written["script"] == [{"at_us": 5, "button": "pad", "closes": True, "event": "", "level": ""}]
    assert written["train"] == {"button": "pad", "spans": [{"lo": 2, "hi": "inf", "of": None}]}
    for value in (1.5, {"a": 1}, Environment):
        with pytest.raises(ToolFault):
            plain(value)


def test_what_is_written_for_three_timers() -> None:
    """The classes derived by hand, without the two that others include (6 in 4, 5 in 8)."""
    expected: dict[str, list[list[int]]] = {}
    for number, (situation, rows) in enumerate(CLASSES):
        if number not in (5, 6):
            expected.setdefault(encode(situation), []).append([bound for row in rows for bound in row])
    document = json.loads(certificate())
    assert list(document) == [
        "format", "tool", "spec_digest", "hazard", "subject", "environment", "classes",
    ]  # fmt: skip
    assert (document["format"], document["tool"], document["spec_digest"]) == (1, __version__, "00ff")
    assert (document["hazard"], document["subject"]) == ("no-hazard", "three")
    assert {entry["situation"]: entry["matrices"] for entry in document["classes"]} == expected
    assert [entry["situation"] for entry in document["classes"]] == sorted(expected)
    assert audited(certificate()) == Audit(True, "", 8)
    assert audited(certificate().encode()) == Audit(True, "", 8)


def test_the_same_bytes_whatever_else_was_looked_for() -> None:
    alone = explore(three(), [again], 1_000, keep=True)
    among = explore(three(), [all_off, again, never], 1_000, keep=True)
    assert certify(CLAIM, alone, 0) == certify(CLAIM, among, 1) == certificate()


def test_the_largest_are_kept_once_each() -> None:
    small, wide, other = (0, -1, 3, 0), (0, 0, 3, 0), (0, -2, FOREVER, 0)
    assert set(largest([small, wide, other, wide])) == {wide, other}
    assert largest([small, wide, other]) == largest([other, wide, small])


def test_only_a_proof_can_be_certified() -> None:
    model = three()
    found = explore(model, [all_off, never], 1_000, keep=True)
    assert found.complete
    for seen, goal in (
        (found, 0),
        (explore(model, [never], 8, keep=True), 0),
        (explore(model, [never], 1_000), 0),
        (replace(found, stuck=(model.start,)), 1),
    ):
        with pytest.raises(ToolFault):
            certify(CLAIM, seen, goal)


def test_a_step_that_can_happen_is_seen_by_the_auditor() -> None:
    verdict = audit(three(), all_off, certificate(), CLAIM)
    assert not verdict.ok
    assert verdict.reason.startswith("the step can happen, when `")


def test_a_search_cut_short_is_seen_by_the_auditor() -> None:
    for budget in range(1, 9):
        cut = replace(explore(three(), [again], budget, keep=True), complete=True)
        verdict = audited(certify(CLAIM, cut, 0))
        assert not verdict.ok
        assert "leads to" in verdict.reason


def test_no_bound_can_be_made_smaller_and_no_class_left_out() -> None:
    """A set of classes that is smaller anywhere is left by some run."""
    document = json.loads(certificate())
    tried = 0
    for entry in document["classes"]:
        for number, matrix in enumerate(entry["matrices"]):
            for place, bound in enumerate(matrix):
                matrix[place] = bound - 1 if isinstance(bound, int) else 1_000
                assert not audited(json.dumps(document)).ok, (entry["situation"], number, place)
                matrix[place] = bound
                tried += 1
            rest = [other for i, other in enumerate(entry["matrices"]) if i != number]
            classes = [{**one, "matrices": rest} if one is entry else one for one in document["classes"]]
            assert not audited(json.dumps({**document, "classes": [one for one in classes if one["matrices"]]})).ok
    assert audited(json.dumps(document)).ok
    assert tried >= 50


def two_ways() -> Model:
    """Soon or late to `met`: only who comes soon hears the alarm, only who comes late meets the end."""
    end, alarm = (Timer("end", 10, 10), "ended"), (Timer("alarm", 6, 6), "rang")
    rows: dict[str, tuple[tuple[Timer, str], ...]] = {
        "soon": (end, (Timer("turn", 1, 1), "met")),
        "late": (end, (Timer("turn", 5, 5), "met")),
        "met": (end, alarm),
    }
    machine = Part(
        "machine", "device", "start",
        armed=lambda local, reads: (
            (Timer("way", 1, 1),) if local == "start" else tuple(timer for timer, _ in rows.get(str(local), ()))
        ),
        expired=lambda local, name, reads: (
            (Choice("soon"), Choice("late"))
            if local == "start"
            else tuple(Choice(to) for timer, to in rows[str(local)] if timer.name == name)
        ),
    )  # fmt: skip
    return Model((machine,))


@pytest.mark.parametrize("goal", ["soon", "late", "met", "rang", "ended"])
def test_every_outcome_and_every_class_is_followed(goal: str) -> None:
    model = two_ways()
    seen = explore(model, [never], 1_000, keep=True)
    assert {len(matrices) for situation, matrices in seen.kept if situation == ("met",)} == {2}
    document = certify(CLAIM, seen, 0)
    assert audit(model, never, document, CLAIM).ok
    answer = audit(model, lambda model, before, move: move.situation == (goal,), document, CLAIM)
    assert "the step can happen" in answer.reason


def going_round(hi: int, out: int) -> Model:
    """Two states that follow each other after `hi` at most; with `out` the second leads on instead."""
    timer = (Timer("turn", 0, hi),)
    part = Part(
        "wheel",
        "device",
        0,
        armed=lambda local, reads: timer if local != 2 else (),
        expired=lambda local, name, reads: (Choice(1 if local == 0 else 2 * out),),
    )
    return Model((part,))


def test_time_that_can_stop_is_seen_by_the_auditor() -> None:
    for hi, out in ((0, 0), (0, 1), (1, 0)):
        model = going_round(hi, out)
        seen = explore(model, [never], 100, keep=True)
        assert bool(seen.stuck) == (hi == out == 0)
        verdict = audit(model, never, certify(CLAIM, replace(seen, stuck=()), 0), CLAIM)
        assert verdict.ok == (not seen.stuck)
        assert verdict.ok or verdict.reason.startswith("time can stop")


def test_another_question_is_refused() -> None:
    for name, other in (
        ("spec_digest", replace(CLAIM, spec_digest="00fe")),
        ("hazard", replace(CLAIM, hazard="other")),
        ("subject", replace(CLAIM, subject="four")),
        ("environment", replace(CLAIM, environment=Environment(("knocks",), ANYTHING))),
        ("environment", replace(CLAIM, environment=Environment(("knocks",), watched=True))),
        ("environment", replace(CLAIM, environment=Environment(("knocks", "person")))),
    ):
        verdict = audit(three(), again, certificate(), other)
        assert verdict == Audit(False, f"the certificate is about another `{name}`", 0)


def _set(*path: int | str, to: object) -> Callable[[Any], object]:
    def change(document: Any) -> object:
        inner = document
        for key in path[:-1]:
            inner = inner[key]
        inner[path[-1]] = to
        return document

    return change


def _pop(*path: int | str) -> Callable[[Any], object]:
    def change(document: Any) -> object:
        inner = document
        for key in path[:-1]:
            inner = inner[key]
        inner.pop(path[-1])
        return document

    return change


FIRST: Final = ("classes", 0, "matrices", 0)
DAMAGED: Final = {
    "another format": (_set("format", to=2), "another `format`"),
    "true for one": (_set("format", to=True), "another `format`"),
    "another version": (_set("tool", to="0.0.0"), "another `tool`"),
    "a field of the environment gone": (_pop("environment", "history"), "another `environment`"),
    "a number for false": (_set("environment", "watched", to=0), "another `environment`"),
    "no digest": (_pop("spec_digest"), "exactly the keys"),
    "one key more": (_set("note", to=""), "exactly the keys"),
    "a list": (lambda document: [document], "exactly the keys"),
    "nothing": (lambda document: None, "exactly the keys"),
    "no classes": (_set("classes", to=[]), "the start leads to a situation that isn't in"),
    "classes by name": (_set("classes", to={}), "must be a list"),
    "a class that is a list": (_set("classes", 0, to=[]), "the keys situation, matrices"),
    "a class without matrices": (_pop("classes", 0, "matrices"), "the keys situation, matrices"),
    "an empty list of matrices": (_set("classes", 0, "matrices", to=[]), "isn't empty"),
    "matrices by name": (_set("classes", 0, "matrices", to={}), "isn't empty"),
    "a situation that is a list": (_set("classes", 0, "situation", to=[]), "a text of its own"),
    "a situation twice": (
        lambda document: {**document, "classes": [*document["classes"], document["classes"][0]]},
        "a text of its own",
    ),
    "a situation nobody reaches": (
        lambda document: {**document, "classes": [*document["classes"], {"situation": "?", "matrices": [[0]]}]},
        'nothing leads to "?"',
    ),
    "an empty matrix": (_set(*FIRST, to=[]), "isn't square"),
    "a matrix of rows": (_set(*FIRST, to=[[0, 0], [0, 0]]), "a bound must be"),
    "a matrix that is a text": (_set(*FIRST, to="0"), "isn't square"),
    "a matrix that isn't square": (_set(*FIRST, to=[0, 0, 0]), "isn't square"),
    "a matrix too large": (_set(*FIRST, to=[0] * 25), "rows, not 5"),
    "a bound that is true": (_set(*FIRST, 0, to=True), "a bound must be"),
    "a bound beyond all bounds": (_set(*FIRST, 0, to=10**400), "a bound must be"),
    "no bound": (_set(*FIRST, 0, to=None), "a bound must be"),
    "no bound the other way": (_set(*FIRST, 0, to="-inf"), "a bound must be"),
    "half a microsecond": (_set(*FIRST, 0, to=0.5), "is no whole number"),
    "infinity as a number": (_set(*FIRST, 0, to=FOREVER), "is no whole number"),
    "no timing at all": (_set(*FIRST, 0, to=-1), "allows no timing at all"),
}


@pytest.mark.parametrize("name", DAMAGED)
def test_damage_is_refused_with_a_reason(name: str) -> None:
    change, reason = DAMAGED[name]
    verdict = audited(json.dumps(change(json.loads(certificate()))))
    assert (verdict.ok, verdict.classes) == (False, 0)
    assert reason in verdict.reason


@pytest.mark.parametrize(
    "document",
    [
        "",
        "{",
        "nul",
        "\ud800",
        b"\xff",
        b"\x00",
        "[" * 100_000,
        '{"a":' * 100_000,
        "1" * 5_000,
        "NaN",
        "-Infinity",
        '"',
    ],
)
def test_what_is_no_json_is_refused(document: str | bytes) -> None:
    verdict = audited(document)
    assert not verdict.ok
    assert verdict.reason


def test_a_key_given_twice_is_refused() -> None:
    """Readers of JSON differ in which one counts."""
    verdict = audited(certificate().replace('"format":1,', '"format":2,"format":1,'))
    assert not verdict.ok
    assert "a key is given twice" in verdict.reason


def test_where_parts_have_no_answer_the_certificate_is_at_fault() -> None:
    """A false class lets the second timer expire first, from which the part knows no way on."""

    @dataclass(frozen=True, slots=True)
    class Odd:
        number: int

    part = Part(
        "pair",
        "device",
        "start",
        armed=lambda local, reads: (Timer("one", 1, 2), Timer("two", 3, 4)) if local == "start" else (),
        expired=lambda local, name, reads: (Choice("end"),) if name == "one" else (Choice(Odd(1 // 0)),),
    )
    model = Model((part,))
    document = certify(CLAIM, explore(model, [never], 10, keep=True), 0)
    assert audit(model, never, document, CLAIM).ok
    false = json.loads(document)
    false["classes"][1]["matrices"] = [[0, 0, 0, 4, 0, 4, 4, 4, 0]]
    verdict = audit(model, never, json.dumps(false), CLAIM)
    assert verdict == Audit(False, "the model can't follow: ZeroDivisionError: integer division or modulo by zero", 0)


def test_the_auditor_shares_nothing_with_the_explorer() -> None:
    """Only the model, the texts and the names of the claim; and it stays short enough to be read."""
    assert audit_module.__file__ is not None
    source = Path(audit_module.__file__).read_text(encoding="utf-8")
    imported = {node.module for node in ast.walk(ast.parse(source)) if isinstance(node, ast.ImportFrom)}
    assert {name for name in imported if name is not None and name.startswith("nudgeproof")} == {
        "nudgeproof",
        "nudgeproof.engines.encoding",
        "nudgeproof.model.step",
        "nudgeproof.model.tables",
        "nudgeproof.units",
    }
    assert len(source.splitlines()) <= 225


ODD_VALUES: Final = [
    None, True, False, 0, 1, -1, 7, 10**400, 0.5, FOREVER, "inf", "-inf", "", "?", [], [0], [[0]], {}, {"situation": ""},
    {"situation": "?", "matrices": [[0]]},
]  # fmt: skip


def places(value: Any, path: tuple[int | str, ...] = ()) -> list[tuple[int | str, ...]]:
    """The ways to all values within this one, and to itself."""
    inner: list[tuple[int | str, Any]] = []
    if isinstance(value, dict):
        inner = list(value.items())
    elif isinstance(value, list):
        inner = list(enumerate(value))
    return [path, *(place for key, below in inner for place in places(below, (*path, key)))]


def mutate(document: Any, kind: str, at: int, other: int) -> Any:
    """The document after one change; `at` and `other` are taken modulo what there is."""
    ways = places(document)
    path = ways[at % len(ways)]
    if not path:
        return ODD_VALUES[other % len(ODD_VALUES)]
    parent = document
    for key in path[:-1]:
        parent = parent[key]
    last: Any = path[-1]
    if kind == "replace":
        parent[last] = ODD_VALUES[other % len(ODD_VALUES)]
    elif kind == "remove":
        parent.pop(last)
    elif kind == "add" and type(parent[last]) is int:
        parent[last] += other % 9 - 4
    elif kind == "double" and isinstance(parent, list):
        parent.append(parent[last])
    elif kind == "swap" and isinstance(parent, list):
        place = other % len(parent)
        parent[place], parent[last] = parent[last], parent[place]
    return document


changes = st.lists(
    st.tuples(
        st.sampled_from(["replace", "remove", "add", "add", "double", "swap"]), st.integers(0, 400), st.integers(0, 40)
    ),
    min_size=1,
    max_size=4,
)


@SETTINGS
@given(changes)
def test_no_document_raises_and_none_proves_what_is_false(made: list[tuple[str, int, int]]) -> None:
    document: Any = json.loads(certificate())
    for kind, at, other in made:
        document = mutate(document, kind, at, other)
    text = json.dumps(document)
    verdict = audited(text)
    assert verdict.ok != bool(verdict.reason)
    assert not audit(three(), all_off, text, CLAIM).ok


@SETTINGS
@given(st.lists(st.tuples(st.integers(0, 2_000), st.integers(0, 12), st.binary(max_size=4)), min_size=1, max_size=3))
def test_no_bytes_raise_and_none_prove_what_is_false(made: list[tuple[int, int, bytes]]) -> None:
    data = certificate().encode()
    for at, size, new in made:
        data = data[: at % len(data)] + new + data[at % len(data) + size :]
        data = data or b"0"
    verdict = audited(data)
    assert verdict.ok != bool(verdict.reason)
    assert not audit(three(), all_off, data, CLAIM).ok
