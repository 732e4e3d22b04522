"""The state diagram: what it holds, that names can't harm it, that it comes out the same each time."""

from __future__ import annotations

import itertools
import os
import re
import struct
import subprocess
import sys
import sysconfig
import zlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nudgeproof.diagnostics import ToolFault
from nudgeproof.parts.graph import comes_back_as, power_back, state_graph
from nudgeproof.report import diagram
from nudgeproof.report.diagram import DrawingError, render, to_dot
from nudgeproof.report.diagram_words import tell_time
from nudgeproof.report.dot_text import clean, columns, node_names, wrap, wrap_pieces
from nudgeproof.spec.read import read_device
from nudgeproof.spec.types import Chord, Device
from nudgeproof.units import Span
from tests.amount import amount
from tests.report.devices import (
    HOSTILE,
    accepted,
    button,
    clip_light,
    device,
    gesture,
    go,
    hostile,
    kept_clip_light,
    kept_hostile,
    kept_snow_logger,
    memory,
    power_up,
    sleep,
    snow_logger,
    span,
    state,
    timeout,
    variable,
)
from tests.spec.good import GROUPED

SVG = "{http://www.w3.org/2000/svg}"
HERE = Path(__file__).parent


def picture(dot: str) -> ElementTree.Element:
    """The SVG of `dot`, parsed: an error here means that it is not well-formed."""
    return ElementTree.fromstring(render(dot, "svg"))


def words(element: ElementTree.Element) -> str:
    """All text that is drawn in `element`, with no blanks, since names are wrapped."""
    return squeeze("".join(text.text or "" for text in element.iter(f"{SVG}text")))


def squeeze(text: str) -> str:
    return re.sub(r"\s", "", text)


def parts(svg: ElementTree.Element, kind: str) -> dict[str, ElementTree.Element]:
    """The nodes or edges of a picture by title; edges of the same title keep only the last."""
    groups = [g for g in svg.iter(f"{SVG}g") if g.get("class") == kind]
    return {g.findtext(f"{SVG}title", ""): g for g in groups}


def box(device: Device, name: str, touched: frozenset[str] = frozenset()) -> str:
    return words(parts(picture(to_dot(device, touched)), "node")[name])


# the graph


def test_graph_holds_every_state_and_way_in_the_order_of_the_file() -> None:
    graph = state_graph(clip_light())
    assert list(graph.nodes) == ["stowed", "armed", "glowing"]
    assert graph.nodes["armed"]["state"] == clip_light().state("armed")
    edges = sorted(graph.edges(keys=True, data=True), key=lambda e: e[2])
    assert [(s, t, d["label"], d["kind"]) for s, t, _, d in edges] == [
        ("stowed", "armed", "hold", "gesture"),
        ("armed", "glowing", "two taps", "gesture"),
        ("armed", "stowed", "after 3 s with pad open", "timeout"),
        ("glowing", "glowing", "tap", "internal"),
        ("glowing", "stowed", "tap then hold", "gesture"),
        ("glowing", "stowed", "after 4 h", "timeout"),
    ]


@pytest.mark.parametrize("make", [clip_light, snow_logger, hostile])
def test_graph_has_one_edge_for_each_piece(make: Callable[[], Device]) -> None:
    made = make()
    pieces = [piece for s in made.states for piece in (*s.transitions, *s.timeouts)]
    found = [d["piece"] for _, _, d in state_graph(made).edges(data=True)]
    assert len(found) == len(pieces)
    assert set(found) == set(pieces)


def test_graph_takes_lines_of_the_file_over_the_kind_of_way() -> None:
    made = device(
        [state("a", go("tap", "a", line=9), timeout("after 1 s", "a", line=4))],
        [gesture("tap", taps=1)],
    )
    edges = sorted(state_graph(made).edges(keys=True, data=True), key=lambda e: e[2])
    assert [d["kind"] for *_, d in edges] == ["timeout", "gesture"]


def test_a_gesture_back_to_its_own_state_is_not_internal() -> None:
    made = device([state("a", go("tap", "a"))], [gesture("tap", taps=1)])
    assert [d["kind"] for *_, d in state_graph(made).edges(data=True)] == ["gesture"]
    assert list(parts(picture(to_dot(made)), "edge")) == ["(start)->a", "a->a"]


def test_power_comes_back_to_what_is_kept_and_else_to_what_the_spec_says() -> None:
    light = replace(clip_light(), power_up=power_up("stowed"))
    other = replace(light, power_up=power_up("stowed", "glowing"))
    assert power_back(clip_light()) is None
    found = [
        (back.as_it_was, back.ways)
        for made in (light, other)
        for keeps in ((), ("beam",), ("state",))
        if (back := power_back(replace(made, memory=memory(*keeps) if keeps else None))) is not None
    ]
    assert found == [
        (False, (("stowed", ()),)),
        (False, (("stowed", ()),)),
        (True, (("stowed", ("blank", "damaged")),)),
        (False, (("stowed", ()),)),
        (False, (("stowed", ("blank", "whole")), ("glowing", ("damaged",)))),
        (True, (("stowed", ("blank",)), ("glowing", ("damaged",)))),
    ]


def test_only_a_waiting_state_that_is_kept_comes_back_as_another() -> None:
    light = kept_clip_light()
    assert [comes_back_as(light, s.name) for s in light.states] == ["stowed", "stowed", "glowing"]
    assert comes_back_as(replace(light, memory=memory("beam")), "armed") == "armed"
    assert comes_back_as(replace(light, power_up=None), "armed") == "armed"


# the text


def test_dot_of_a_small_device_is_as_recorded() -> None:
    made = device(
        [
            state("off", go("hold", "on"), sleep=sleep()),
            state("on", go("tap", None, "beam"), timeout("after 4 h", "off"), shows="beam", shows_variable=True),
        ],
        [gesture("hold", held="1.2 s"), gesture("tap", taps=1)],
        [variable("beam", "low", "high")],
    )
    assert to_dot(made, frozenset({"on"})) == (HERE / "small.dot").read_text(encoding="utf-8")


def test_dot_of_a_device_with_memory_is_as_recorded() -> None:
    made = device(
        [
            state("off", go("hold", "on"), sleep=sleep()),
            state("on", go("tap", None, "beam"), go("hold", "off"), shows="beam", shows_variable=True),
        ],
        [gesture("hold", held="1.2 s"), gesture("tap", taps=1)],
        [variable("beam", "low", "high")],
    )
    made = replace(
        made,
        memory=memory("state", "beam", guard="checksum", quiet="2 s"),
        power_up=power_up("off", "on"),
        accepts=(accepted("accidental-change", "on", "knocks"),),
    )
    assert to_dot(made) == (HERE / "kept.dot").read_text(encoding="utf-8")


def test_dot_does_not_depend_on_the_seed_of_hashes() -> None:
    script = (
        "import devices, sys; from nudgeproof.report.diagram import to_dot; "
        "sys.stdout.buffer.write(to_dot(devices.kept_snow_logger(), frozenset({'ready', 'menu', 'shelf'})).encode())"
    )
    path = os.pathsep.join([str(HERE), *(p for p in sys.path if p)])
    outputs = {
        subprocess.run(
            [sys.executable, "-c", script],
            env={**os.environ, "PYTHONPATH": path, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert outputs == {to_dot(kept_snow_logger(), frozenset({"ready", "menu", "shelf"})).encode()}


# what a reader finds in the picture


def test_the_wake_path_is_in_the_box() -> None:
    text = box(clip_light(), "stowed")
    for told in ("asleep", "woken by pad, closing or opening", "ready in 1 to 3 ms", "dozes again after 50 ms"):
        assert squeeze(told) in text
    assert squeeze("woken by side, while closed") in box(snow_logger(), "shelf")


def test_kinds_of_state_differ_in_shade_and_line() -> None:
    nodes = parts(picture(to_dot(clip_light())), "node")
    outlines = {name: g.find(f"{SVG}path") for name, g in nodes.items() if name != "(start)"}
    looks = {
        name: (p.get("fill"), "stroke-dasharray" in p.attrib, p.get("stroke-width"))
        for name, p in outlines.items()
        if p is not None
    }
    assert looks == {
        "stowed": ("#d4d4d4", False, None),
        "armed": ("#ffffff", True, None),
        "glowing": ("#ffffff", False, "2.2"),
    }
    assert "waiting" in words(nodes["armed"])
    assert "asleep" not in words(nodes["armed"])


def test_the_initial_state_is_pointed_at_even_if_it_is_not_the_first() -> None:
    made = device([state("a"), state("b")], initial="b")
    assert list(parts(picture(to_dot(made)), "edge")) == ["(start)->b"]


def test_timeouts_are_dashed_and_gestures_are_not() -> None:
    svg = picture(to_dot(clip_light()))
    edges = [g for g in svg.iter(f"{SVG}g") if g.get("class") == "edge"]
    dashed = {words(g): "stroke-dasharray" in path.attrib for g in edges if (path := g.find(f"{SVG}path")) is not None}
    assert dashed == {
        "": False,
        squeeze("hold held 1.2 s"): False,
        squeeze("two taps"): False,
        squeeze("after 3 s with pad open"): True,
        squeeze("tap then hold held 1.2 s"): False,
        squeeze("after 4 h"): True,
    }


def test_what_a_gesture_changes_in_a_state_is_in_its_box_and_no_loop() -> None:
    svg = picture(to_dot(clip_light()))
    text = words(parts(svg, "node")["glowing"])
    assert squeeze("shows beam: low → high → slow blink → low") in text
    assert squeeze("tap: next beam") in text
    assert "glowing->glowing" not in parts(svg, "edge")
    assert squeeze("top: next entry, time starts anew") in box(snow_logger(), "menu")


def test_gestures_to_the_same_state_share_an_arrow() -> None:
    edges = parts(picture(to_dot(snow_logger())), "edge")
    assert words(edges["dozing->ready"]) == "sideortop"


def test_the_button_is_told_where_the_name_of_the_gesture_leaves_it_open() -> None:
    edges = parts(picture(to_dot(snow_logger())), "edge")
    assert words(edges["setting->confirm erase"]) == squeeze("long top held 2 s")
    assert words(edges["confirm erase->shelf"]) == squeeze("long both side held 3 to 3.5 s next entry")


def test_variables_that_no_state_shows_are_in_the_caption() -> None:
    assert squeeze("remembers unit: cm → in → cm") in words(picture(to_dot(snow_logger())))
    assert "remembers" not in words(picture(to_dot(clip_light())))


def test_values_too_many_for_a_box_are_in_the_caption() -> None:
    values = [f"level number {n}" for n in range(12)]
    made = device([state("a", shows="x", shows_variable=True)], variables=[variable("x", *values)])
    assert box(made, "a") == "ashowsx"
    assert squeeze("remembers x: " + " → ".join([*values, values[0]])) in words(picture(to_dot(made)))


@pytest.mark.parametrize(
    ("slug", "told"),
    [
        ("cut-off-first", "pad closed for 7 to 9 s: the power chip resets everything"),
        ("supervisor-in-sleep", "not fed for 6.4 to 9.6 s, awake or asleep: the supervisor resets everything"),
        ("resets-and-starts-again", "below 1.9 to 2.1 V: the brown-out detector resets everything"),
    ],
)
def test_what_resets_the_firmware_is_in_the_caption(slug: str, told: str) -> None:
    path = Path("specs/failures/classes") / slug / "broken.yaml"
    assert squeeze(told) in words(picture(to_dot(read_device(path.read_text(), str(path)))))
    assert "resetseverything" not in words(picture(to_dot(clip_light())))


def test_the_caption_explains_only_signs_that_occur() -> None:
    text = words(picture(to_dot(clip_light())))
    for meaning in ("starts here", "on", "asleep", "waiting, ends by itself", "by a gesture", "by time alone"):
        assert squeeze(meaning) in text
    assert words(picture(to_dot(device([state("a")])))) == squeeze("clip light on ●→ starts here a")


def test_states_touched_by_a_finding_are_marked() -> None:
    marked = {n for n in ("stowed", "armed", "glowing") if "!finding" in box(clip_light(), n, frozenset({"armed"}))}
    assert marked == {"armed"}
    assert "!finding" not in words(picture(to_dot(clip_light())))


def test_a_finding_on_no_state_is_a_fault_of_the_tool() -> None:
    with pytest.raises(ToolFault, match="`nowhere`, which is no state of `rain-cover clip light`"):
        to_dot(clip_light(), frozenset({"nowhere"}))


# what a reset does


def test_what_is_kept_is_in_the_caption_and_marked_where_it_is_shown() -> None:
    assert squeeze("kept: state, beam; two copies") in words(picture(to_dot(kept_clip_light())))
    assert squeeze("shows beam (kept): low") in box(kept_clip_light(), "glowing")
    text = words(picture(to_dot(kept_snow_logger())))
    assert squeeze("kept: state, interval, unit; checksum; saved after 2 s of quiet") in text
    assert squeeze("remembers unit (kept): cm") in text
    assert squeeze("shows entry: interval") in text
    unguarded = replace(clip_light(), memory=memory("beam", guard="none"))
    assert squeeze("kept: beam; no guard") in words(picture(to_dot(unguarded)))


def test_arrows_when_power_is_back_are_dotted_and_named() -> None:
    svg = picture(to_dot(kept_snow_logger()))
    edges = parts(svg, "edge")
    back = {title: words(edge) for title, edge in edges.items() if title.startswith("(power back)")}
    assert back == {
        "(power back)->shelf": squeeze("if memory is blank"),
        "(power back)->confirm erase": squeeze("if memory is damaged"),
    }
    dashes = {
        title: path.get("stroke-dasharray")
        for title, edge in edges.items()
        if (path := edge.find(f"{SVG}path")) is not None
    }
    dotted = dashes["(power back)->shelf"]
    assert dotted is not None
    assert {title for title, dash in dashes.items() if dash == dotted} == set(back)
    assert words(parts(svg, "node")["(power back)"]) == squeeze("power back state as it was")
    assert squeeze("when power is back") in words(svg)


def test_one_target_when_power_is_back_has_one_arrow() -> None:
    edges = parts(picture(to_dot(kept_clip_light())), "edge")
    assert words(edges["(power back)->stowed"]) == squeeze("if memory is blank or damaged")
    svg = picture(to_dot(replace(kept_clip_light(), memory=memory("beam"))))
    assert words(parts(svg, "edge")["(power back)->stowed"]) == ""
    assert words(parts(svg, "node")["(power back)"]) == squeeze("power back")


def test_a_waiting_state_tells_what_a_reset_makes_of_it() -> None:
    assert squeeze("power back: as stowed") in box(kept_clip_light(), "armed")
    for name in ("stowed", "glowing"):
        assert squeeze("power back") not in box(kept_clip_light(), name)
    assert squeeze("power back") not in box(replace(kept_clip_light(), memory=memory("beam")), "armed")


def test_accepted_cases_are_at_their_state_each_hazard_once() -> None:
    assert box(kept_clip_light(), "glowing").endswith(squeeze("accepted: accidental-change by knocks, bag squeeze"))
    assert "accepted" not in box(kept_clip_light(), "stowed")


def test_without_memory_and_power_up_no_word_is_said_of_them() -> None:
    text = words(picture(to_dot(snow_logger())))
    for word in ("kept", "power", "accepted"):
        assert word not in text


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ((1_142_857, 1_263_158), "1.14 to 1.27 s"),
        ((47_619, 52_632), "47.6 to 52.7 ms"),
        ((1_000_000, 1_000_001), "1 to 1.01 s"),
        ((1_234, 1_235), "1.234 to 1.235 ms"),
        ((0, 12_345), "up to 12.4 ms"),
    ],
)
def test_times_of_many_digits_are_rounded_outward(written: tuple[int, int], told: str) -> None:
    low, high = written
    assert tell_time(Span(low, high)) == told


def test_times_that_read_well_stay_as_they_are() -> None:
    assert tell_time(span("1.2 s")) == "1.2 s"
    assert tell_time(span("3 to 3.5 s")) == "3 to 3.5 s"
    assert tell_time(span("at least 12345 us")) == "at least 12.345 ms"


# hostile names


@pytest.mark.parametrize(("make", "signs"), [(hostile, 1), (kept_hostile, 2)])
def test_hostile_names_are_shown_as_they_are(make: Callable[[], Device], signs: int) -> None:
    svg = picture(to_dot(make(), frozenset(HOSTILE)))
    nodes = parts(svg, "node")
    assert len(nodes) == len(HOSTILE) + signs
    for name, node in node_names(HOSTILE).items():
        assert words(nodes[node]).startswith(squeeze(name)), name
    edges = parts(svg, "edge")
    names = node_names(HOSTILE)
    for name, target in itertools.pairwise(HOSTILE):
        assert words(edges[f"{names[name]}->{names[target]}"]).startswith(squeeze(name)), name


def test_hostile_names_that_are_kept_or_accepted_are_shown_as_they_are() -> None:
    svg = picture(to_dot(kept_hostile()))
    nodes = parts(svg, "node")
    for name, node in node_names(HOSTILE).items():
        assert squeeze(f"accepted: {clean(name)} by {', '.join(HOSTILE[:3])}") in words(nodes[node]), name
    assert squeeze(f"kept: state, {', '.join(clean(name) for name in HOSTILE)}; two copies") in words(svg)
    assert not [e for e in svg.iter() if e.tag in (f"{SVG}a", f"{SVG}image")]


def test_no_part_of_a_name_becomes_a_link_or_a_picture() -> None:
    evil = '</FONT></TD><TD HREF="file:x"><IMG SRC="x.png"/></TD>'
    made = device([state(evil, shows='"]; x [image="x.png" URL="file:x"]')], name='"} digraph { x [URL="y"]')
    svg = picture(to_dot(made))
    assert not [e for e in svg.iter() if e.tag in (f"{SVG}a", f"{SVG}image")]
    assert len(parts(svg, "node")) == 2


@settings(derandomize=True, database=None, deadline=None, max_examples=30)
@given(st.lists(st.text(min_size=1, max_size=40), min_size=1, max_size=3, unique=True), st.text(max_size=60))
def test_any_name_gives_a_well_formed_picture_that_holds_it(names: list[str], shows: str) -> None:
    made = device(
        [state(name, go(name, names[0]), shows=shows) for name in names],
        [gesture(name, taps=1) for name in names],
        name=names[-1],
    )
    nodes = parts(picture(to_dot(made)), "node")
    for name, node in node_names(names).items():
        assert words(nodes[node]).startswith(squeeze(clean(name)))
        assert squeeze(clean(shows)) in words(nodes[node])


def test_names_of_nodes_are_unique() -> None:
    names = node_names(["a_b", "a:b", "a;b", "a_b 2"])
    assert list(names.items()) == [("a_b", "a_b"), ("a:b", "a_b 2"), ("a;b", "a_b 3"), ("a_b 2", "a_b 2 2")]
    assert "(start)" not in node_names(HOSTILE).values()


def test_what_cannot_be_shown_is_replaced() -> None:
    assert clean("a\x00b\ud800c\u202ed\ufffee") == "a\ufffdb\ufffdc\ufffdd\ufffde"
    assert clean(" two\n\t lines ") == "two lines"
    render(to_dot(device([state("a\x00\ud800\u202e\ufffe")])), "png")


# wrapping


def test_lines_are_balanced_and_keep_units_with_their_numbers() -> None:
    assert wrap("after 3 s with pad open", 20) == ["after 3 s", "with pad open"]
    assert wrap("held 3 s to 3.5 s", 15) == ["held 3 s", "to 3.5 s"]
    assert wrap_pieces(["low →", "slow blink →", "low"], 12) == ["low →", "slow blink →", "low"]
    assert wrap("", 10) == [""]


@given(st.text(max_size=200), st.integers(min_value=2, max_value=40))
def test_no_line_is_too_long_and_nothing_is_lost(text: str, width: int) -> None:
    lines = wrap(text, width)
    assert all(columns(line) <= width for line in lines)
    assert squeeze("".join(lines)) == squeeze(clean(text))


def test_no_text_reaches_over_the_edge_of_its_box() -> None:
    """Widths as the fonts have them can't be asked for here; wide letters are taken at their full em."""
    name = "雨蓋いの灯りを消したまま"
    node = parts(picture(to_dot(device([state(name)]))), "node")[name]
    path, text = node.find(f"{SVG}path"), node.find(f"{SVG}text")
    assert path is not None
    assert text is not None
    right = max(float(x) for x in re.findall(r"(-?[0-9.]+),-?[0-9.]+", path.get("d", "")))
    left, size = float(text.get("x", "")), float(text.get("font-size", ""))
    assert text.get("text-anchor") == "start"
    assert left + size * len((text.text or "").strip()) <= right


# drawing


@pytest.mark.parametrize(
    ("make", "form"),
    [
        *itertools.product((clip_light, snow_logger, kept_snow_logger), ("svg", "png")),
        *itertools.product((kept_hostile,), amount(("svg",), ("svg", "png"))),
    ],
)
def test_pictures_are_the_same_each_time(make: Callable[[], Device], form: str) -> None:
    assert render(to_dot(make()), form) == render(to_dot(make()), form)


@pytest.mark.parametrize("make", [clip_light, snow_logger])
def test_svg_holds_every_name(make: Callable[[], Device]) -> None:
    made = make()
    text = words(picture(to_dot(made)))
    for name in [made.name, *(s.name for s in made.states), *(t.gesture for s in made.states for t in s.transitions)]:
        assert squeeze(name) in text
    for piece in (t for s in made.states for t in s.timeouts):
        assert squeeze(piece.text) in text


def test_svg_names_fonts_to_fall_back_to() -> None:
    svg = picture(to_dot(clip_light()))
    assert {t.get("font-family") for t in svg.iter(f"{SVG}text")} == {diagram.SVG_FONTS}


def test_png_is_whole_and_not_blank() -> None:
    png = render(to_dot(clip_light()), "png")
    assert png.startswith(b"\x89PNG\r\n\x1a\n")
    assert png.endswith(b"IEND\xaeB`\x82")
    width, height = struct.unpack(">II", png[16:24])
    assert 600 < width < 1200
    assert 800 < height < 1600
    data, at = b"", 8
    while at < len(png):
        length, kind = struct.unpack(">I4s", png[at : at + 8])
        data += png[at + 8 : at + 8 + length] if kind == b"IDAT" else b""
        at += 12 + length
    assert len(set(zlib.decompress(data))) > 20


def test_another_form_is_a_fault_of_the_tool() -> None:
    with pytest.raises(ToolFault, match="`pdf`"):
        render(to_dot(clip_light()), "pdf")


def test_the_program_is_found_beside_the_interpreter_with_no_path(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")
    assert render("digraph {}", "png").startswith(b"\x89PNG")


@pytest.fixture
def nowhere(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """An installation whose directories of programs are all this empty one."""
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(sys, "executable", str(tmp_path / "python"))
    monkeypatch.setattr(sysconfig, "get_path", lambda *_: str(tmp_path))
    return tmp_path


def fake(place: Path, name: str, script: str) -> None:
    (place / name).write_text(f"#!/bin/sh\n{script}\n", encoding="utf-8")
    (place / name).chmod(0o755)


def test_a_missing_program_is_told_with_its_cure(nowhere: Path) -> None:
    with pytest.raises(DrawingError, match=r"graphviz-pure, .* is missing; install nudgeproof again"):
        render("digraph {}", "svg")
    with pytest.raises(DrawingError, match="this machine has no program `dot`; install it"):
        render("digraph {}", "svg", system_dot=True)


@pytest.mark.skipif(os.name == "nt", reason="the stand-in is a shell script")
def test_the_dot_of_the_machine_is_used_on_demand(nowhere: Path) -> None:
    fake(nowhere, "dot", 'read -r line; printf "%s|%s" "$*" "$line"')
    assert render("digraph {}\n", "svg", system_dot=True) == b"-Tsvg|digraph {}"
    assert render("digraph {}\n", "png", system_dot=True) == b"-Tpng -Gdpi=144|digraph {}"


@pytest.mark.skipif(os.name == "nt", reason="the stand-in is a shell script")
@pytest.mark.parametrize(
    ("script", "said"),
    [("echo first >&2; echo no memory >&2; exit 3", "failed: no memory"), ("exit 0", "failed: it drew nothing")],
)
def test_a_program_that_fails_is_told_with_what_it_said(nowhere: Path, script: str, said: str) -> None:
    fake(nowhere, "graphviz-pure", "cat >/dev/null 2>&1; " + script)
    with pytest.raises(DrawingError, match=said):
        render("digraph {}", "svg")


@pytest.mark.skipif(os.name == "nt", reason="the stand-in is a shell script")
def test_a_program_that_cannot_be_run_or_hangs_is_told(nowhere: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (nowhere / "graphviz-pure").write_bytes(b"\x7fELF no program")
    (nowhere / "graphviz-pure").chmod(0o755)
    with pytest.raises(DrawingError, match="graphviz-pure can't be run"):
        render("digraph {}", "svg")
    fake(nowhere, "graphviz-pure", "while :; do :; done")
    monkeypatch.setattr(diagram, "LONGEST_RUN_S", 0.3)
    with pytest.raises(DrawingError, match=r"took more than 0\.3 s"):
        render("digraph {}", "svg")


def test_text_that_is_no_dot_fails_with_a_word_of_why() -> None:
    with pytest.raises(DrawingError, match=r"graphviz-pure.* failed: .*syntax error"):
        render("digraph {", "svg")


def test_buttons_are_told_apart_by_name_only() -> None:
    made = device(
        [state("a", go("press", "b")), state("b", go("press", None))],
        [gesture("press", taps=1, button="right")],
        buttons=[button("left"), button("right")],
    )
    nodes, edges = (parts(picture(to_dot(made)), kind) for kind in ("node", "edge"))
    assert words(edges["a->b"]) == "pressright"
    assert squeeze("press (right): no change") in words(nodes["b"])


# groups, conditions, times that begin anew


def grouped() -> Device:
    return read_device(GROUPED, "lamp.yaml")


def test_a_group_is_a_node_and_what_it_shares_leads_out_of_it_once() -> None:
    graph = state_graph(grouped())
    assert list(graph.nodes) == ["stowed", "steady", "timed", "lit"]
    assert graph.nodes["lit"]["group"] == grouped().groups[0]
    edges = sorted(graph.edges(keys=True, data=True), key=lambda e: e[2])
    assert [(s, t, d["label"], d["kind"]) for s, t, _, d in edges] == [
        ("stowed", "timed", "hold", "gesture"),
        ("steady", "timed", "tap", "gesture"),
        ("steady", "steady", "tap", "internal"),
        ("lit", "stowed", "hold", "gesture"),
        ("lit", "stowed", "after minutes with pad open", "timeout"),
        ("lit", "lit", "tap", "internal"),
        ("timed", "timed", "every 1 min", "internal"),
        ("timed", "steady", "every 1 min", "timeout"),
    ]


def test_a_frame_holds_the_states_of_a_group_and_a_box_for_what_they_share() -> None:
    svg = picture(to_dot(grouped()))
    frames = parts(svg, "cluster")
    assert list(frames) == ["cluster 0"]
    lit = box(grouped(), "lit")
    for told in ("lit", "any of these", "tap: next beam and minutes, time starts anew"):
        assert squeeze(told) in lit
    assert squeeze("reading lamp") in words(svg)
    assert squeeze("reading lamp") not in words(frames["cluster 0"])


def test_conditions_steps_and_entering_are_told() -> None:
    timed, steady = box(grouped(), "timed"), box(grouped(), "steady")
    assert squeeze("on entering: left = 3") in timed
    assert squeeze("every 1 min if left is at least 1: previous left") in timed
    assert squeeze("tap if beam is not high: next beam") in steady
    edges = {name: words(edge) for name, edge in parts(picture(to_dot(grouped())), "edge").items()}
    assert squeeze("if beam is high and left is at least 1") in edges["steady->timed"]
    assert squeeze("every 1 min if left is 0 beam = low") in edges["timed->steady"]
    assert squeeze("keeps left") in edges["stowed->timed"]


def test_numbers_and_ends_that_stop_are_told_as_such() -> None:
    text = words(picture(to_dot(grouped())))
    assert squeeze("shows left: 0 to 3") in text
    assert squeeze("remembers minutes: 1 min → 5 min (starts as 5 min)") in text
    wraps = read_device(GROUPED.replace("left: 0 to 3", "left: {values: 0 to 3, at the ends: wrap}"), "lamp.yaml")
    assert squeeze("0 to 3 and round again") in words(picture(to_dot(wraps)))


def test_a_chord_is_told_with_its_buttons() -> None:
    chord = replace(gesture("both", held="1 s", button=""), chord=Chord(("left", "right"), Span(0, 60_000)))
    made = device(
        [state("a", go("both", "b")), state("b", go("both", None))],
        [chord],
        buttons=[button("left"), button("right")],
    )
    nodes, edges = (parts(picture(to_dot(made)), kind) for kind in ("node", "edge"))
    assert words(edges["a->b"]) == squeeze("both left and right held 1 s")
    assert squeeze("both (left and right held 1 s): no change") in words(nodes["b"])
