"""The state diagram of a device, as DOT text and as a picture.

It is meant for print: differences are of line, shade, arrowhead and word, none of colour. A state asleep is grey, one that
only waits has a dashed outline, one that is on has a bold outline; whatever time does is dashed, and what a reset does is
dotted. What a gesture changes without leaving the state is a line in the state's box, so that no loops clutter the
picture; so is what a reset makes of a state that only waits. A group is a frame around its states, and what they share
leads out of a box of its own in it.

Names come from specs and are taken for hostile: none reaches DOT but through `dot_text`.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import sysconfig
from collections.abc import Iterator, Sequence
from pathlib import Path

from nudgeproof.diagnostics import ToolFault
from nudgeproof.parts.graph import PowerBack, power_back, state_graph
from nudgeproof.report.diagram_words import (
    BOX_WIDTH,
    LISTED_WIDTH,
    mark_kept,
    tell_accepted,
    tell_back,
    tell_busy,
    tell_condition,
    tell_effect,
    tell_entering,
    tell_hold,
    tell_internal,
    tell_kept,
    tell_outputs,
    tell_resets,
    tell_shown,
    tell_values,
    tell_wake,
)
from nudgeproof.report.dot_text import columns, escape, node_names, padding, plain, wrap, wrap_pieces
from nudgeproof.spec.types import Device, Group, State, Timeout, Transition

FONT = "Arial"
"""The family whose widths every layout program knows; where it isn't installed, one with the same widths is drawn."""

SVG_FONTS = "Arial, Liberation Sans, Arimo, Helvetica, sans-serif"
"""What a browser may draw instead of `FONT`, the families with the same widths first."""

PNG_DPI = 144
"""Dots per inch: small print stays legible, and a page is some 1200 dots wide."""

LONGEST_RUN_S = 60
"""Seconds after which a drawing program is taken to hang; a device of a hundred states takes less than one."""

_EDGE_WIDTH, _KEY_WIDTH, _KEPT_WIDTH = 20, 60, 44
"""Where lines are wrapped, in columns (a wide character takes two)."""

_GREY, _WHITE, _BLACK = "#d4d4d4", "#ffffff", "#000000"

_START = "(start)"
"""Node of the dot before the initial state; `node_names` gives no other node a name in brackets."""

_POWER_BACK = "(power back)"
"""Node of the sign for what happens after a reset."""


class DrawingError(Exception):
    """The program that draws is missing or failed on this machine; the message says what to do."""


def to_dot(device: Device, touched: frozenset[str] = frozenset()) -> str:
    """The diagram of `device` as DOT text, the same text for the same device.

    `touched`: names of the states that a finding touches, which are marked; ToolFault if one is no state's name.
    """
    # Imported here: drawing is rare, and the start of every other command would pay for it.
    import graphviz

    names = [state.name for state in device.states]
    if unknown := sorted(touched.difference(names)):
        raise ToolFault(f"a finding touches `{unknown[0]}`, which is no state of `{device.name}`")
    nodes = node_names([*names, *(group.name for group in device.groups)])
    dot = graphviz.Digraph(
        name=plain(device.name),
        graph_attr={"fontname": FONT, "labelloc": "b", "nodesep": "0.5", "pad": "0.15", "ranksep": "0.4"},
        node_attr={"fontname": FONT, "fontsize": "11", "margin": "0.08,0.05", "shape": "box"},
        edge_attr={"arrowsize": "0.8", "fontname": FONT, "fontsize": "11"},
    )
    dot.attr(label=_caption(device))
    dot.node(_START, label="", shape="circle", style="filled", fillcolor=_BLACK, width="0.14", fixedsize="true")
    for state in device.states:
        if not state.group:
            dot.node(nodes[state.name], label=_box(device, state, state.name in touched), **_outline(state))
    for number, group in enumerate(device.groups):
        with dot.subgraph(
            name=f"cluster {number}", graph_attr={"label": "", "margin": "10", "style": "rounded"}
        ) as frame:
            frame.node(nodes[group.name], label=_group_box(device, group), style="dotted")
            for state in (device.state(name) for name in group.states):
                frame.node(nodes[state.name], label=_box(device, state, state.name in touched), **_outline(state))
    dot.edge(_START, nodes[device.initial])
    for source, target, kind, pieces in _arrows(device):
        style = {"timeout": {"style": "dashed"}, "event": {"arrowhead": "vee"}}.get(kind, {})
        dot.edge(nodes[source], nodes[target], label=_edge_label(device, pieces), **style)
    if (back := power_back(device)) is not None:
        dot.node(_POWER_BACK, label=_power_sign(device, back), shape="plain")
        for target, conditions in back.ways:
            label = {"label": _condition_label(conditions)} if conditions else {}
            dot.edge(_POWER_BACK, nodes[target], penwidth="1.5", style="dotted", **label)
        for cause, target in device.power_up.starts_in if device.power_up is not None else ():
            label = {"label": _framed([_row(wrap(f"cause {cause}", _EDGE_WIDTH), size=10, left=True)])}
            dot.edge(_POWER_BACK, nodes[target], penwidth="1.5", style="dotted", **label)
    return str(dot.source)


def _arrows(device: Device) -> Iterator[tuple[str, str, str, list[Transition | Timeout]]]:
    """One arrow each: all gestures, or all timeouts, from one state to another; in the order of the file."""
    arrows: dict[tuple[str, str, str], list[Transition | Timeout]] = {}
    edges = state_graph(device).edges(keys=True, data=True)
    for source, target, _, data in sorted(edges, key=lambda edge: int(edge[2])):
        if data["kind"] != "internal":
            arrows.setdefault((source, target, data["kind"]), []).append(data["piece"])
    for (source, target, kind), pieces in arrows.items():
        yield source, target, kind, pieces


def _power_sign(device: Device, back: PowerBack) -> str:
    rows = [_row(["key closed" if device.is_latched else "power back"], size=12, mark="B")]
    if back.as_it_was:
        rows.append(_row(["state as it was"], size=10))
    # Below the words, so that dots don't run into them.
    rows.append('<TR><TD HEIGHT="4"></TD></TR>')
    return f"<{_table(rows)}>"


def _condition_label(conditions: Sequence[str]) -> str:
    return _framed([_row(wrap(f"if memory is {' or '.join(conditions)}", _EDGE_WIDTH), size=10, left=True)])


def _outline(state: State) -> dict[str, str]:
    return {
        "style": "rounded,filled,dashed" if state.waiting else "rounded,filled",
        "fillcolor": _GREY if state.is_off else _WHITE,
        "penwidth": "2.2" if state.is_on else "1",
    }


def _box(device: Device, state: State, touched: bool) -> str:
    """The text in a state's box: name, kind of state, what it shows, how it wakes, what gestures change in it."""
    rows = [_row(wrap(state.name, BOX_WIDTH - 6), size=14, mark="B")]
    if touched:
        rows.append(
            f'<TR><TD BGCOLOR="{_BLACK}"><FONT COLOR="{_WHITE}" POINT-SIZE="11"><B>! finding here</B></FONT></TD></TR>'
        )
    kinds = [
        word
        for word, so in (
            ("asleep", state.sleep is not None),
            ("no power", state.unpowered),
            ("waiting", state.waiting),
        )
        if so
    ]
    if kinds:
        rows.append(_row([", ".join(kinds)], size=11, mark="I"))
    details = [
        *tell_shown(device, state),
        *tell_wake(state.sleep),
        *tell_busy(state),
        *tell_outputs(device, state),
        *tell_entering(state),
        *tell_internal(device, [piece for piece in _pieces(state) if not piece.group]),
        *tell_back(device, state),
    ]
    if details:
        rows.append("<HR/>")
        rows.extend(_row(lines, size=11, left=True) for lines in details)
    if accepted := tell_accepted(device, state):
        rows.append('<TR><TD HEIGHT="3"></TD></TR><HR/>')
        rows.extend(_row(lines, size=10, left=True) for lines in accepted)
    return f"<{_table(rows)}>"


def _group_box(device: Device, group: Group) -> str:
    """The text in the box of a group: its name, and what its states share without being left."""
    rows = [_row(wrap(group.name, BOX_WIDTH - 6), size=14, mark="B"), _row(["any of these"], size=11, mark="I")]
    pieces = (piece for name in group.states for piece in _pieces(device.state(name)) if piece.group)
    rows.extend(_row(lines, size=11, left=True) for lines in tell_internal(device, dict.fromkeys(pieces)))
    return f"<{_table(rows)}>"


def _pieces(state: State) -> tuple[Transition | Timeout, ...]:
    return (*state.transitions, *state.timeouts)


def _edge_label(device: Device, pieces: Sequence[Transition | Timeout]) -> str:
    rows = []
    for number, piece in enumerate(pieces):
        before = "or " if number else ""
        if isinstance(piece, Timeout):
            rows.append(_row(wrap(before + piece.text, _EDGE_WIDTH), size=11, left=True))
            details = [tell_condition(piece), tell_effect(piece)]
        else:
            rows.append(_row(wrap(before + piece.gesture, _EDGE_WIDTH), size=12, left=True))
            details = [tell_hold(device, piece.gesture), tell_condition(piece), tell_effect(piece)]
        rows.extend(_row(wrap(detail, _EDGE_WIDTH), size=10, left=True) for detail in details if detail)
    return _framed(rows)


def _framed(rows: Sequence[str]) -> str:
    """The label of an arrow: a table in a table, which keeps the text clear of its own line."""
    return f'<<TABLE BORDER="0" CELLPADDING="3" CELLSPACING="0"><TR><TD>{_table(rows)}</TD></TR></TABLE>>'


def _name_off(device: Device) -> str:
    kinds = (
        ("asleep", any(s.sleep is not None for s in device.states)),
        ("no power", any(s.unpowered for s in device.states)),
    )
    return " or ".join(word for word, so in kinds if so)


def _caption(device: Device) -> str:
    """Below the picture: the device's name, the signs that occur in it, the variables that no box lists."""
    states = device.states
    kinds = {data["kind"] for _, _, data in state_graph(device).edges(data=True)}
    boxes = [
        (any(s.is_on for s in states), _swatch(_WHITE, 2, "SOLID"), "on"),
        (any(s.waiting for s in states), _swatch(_WHITE, 1, "DASHED"), "waiting, ends by itself"),
        (any(s.is_off for s in states), _swatch(_GREY, 1, "SOLID"), _name_off(device)),
    ]
    arrows = [
        (True, "●→", "starts here"),
        ("gesture" in kinds, "──►", "by a gesture"),
        ("event" in kinds, "──&gt;", "by an event"),
        ("timeout" in kinds, "─ ─►", "by time alone"),
        (device.power_up is not None, "····►", "when a key gives power" if device.is_latched else "when power is back"),
    ]
    rows = ['<TR><TD HEIGHT="10"></TD></TR>', _row(wrap(device.name, _KEY_WIDTH), size=15, mark="B")]
    rows.extend(_signs(signs) for signs in (boxes, arrows))
    for variable in device.variables:
        values = tell_values(variable)
        shown = any(s.shows_variable and s.shows == variable.name for s in states)
        if not shown or columns(" ".join(values)) > LISTED_WIDTH:
            name = mark_kept(device, variable.name)
            rows.append(_row(wrap_pieces([f"remembers {name}:", *values], _KEY_WIDTH), size=11))
    if device.memory is not None:
        rows.append(_row(wrap_pieces(tell_kept(device.memory), _KEPT_WIDTH), size=11))
    rows.extend(_row(wrap_pieces(pieces, _KEPT_WIDTH), size=11) for pieces in tell_resets(device))
    return f"<{_table(rows)}>"


def _signs(signs: Sequence[tuple[bool, str, str]]) -> str:
    """One row of the caption: of each sign that occurs, the sign and its meaning."""
    cells = ""
    for occurs, sign, meaning in signs:
        if occurs:
            drawn = sign if sign.startswith("<TD") else f'<TD><FONT POINT-SIZE="10">{sign}</FONT></TD>'
            cells += f'{drawn}<TD ALIGN="LEFT"><FONT POINT-SIZE="10">{meaning}   </FONT></TD>'
    table = f'<TABLE BORDER="0" CELLBORDER="0" CELLPADDING="0" CELLSPACING="4"><TR>{cells}</TR></TABLE>'
    return f"<TR><TD>{table}</TD></TR>"


def _swatch(fill: str, border: int, style: str) -> str:
    return f'<TD BGCOLOR="{fill}" BORDER="{border}" FIXEDSIZE="TRUE" HEIGHT="11" STYLE="{style}" WIDTH="22"></TD>'


def _table(rows: Sequence[str]) -> str:
    return f'<TABLE BORDER="0" CELLBORDER="0" CELLPADDING="1" CELLSPACING="0">{"".join(rows)}</TABLE>'


def _row(lines: Sequence[str], size: int, mark: str = "", left: bool = False) -> str:
    """A row of a table with `lines` of text below each other; `mark` is a tag for all of them."""
    where = ' ALIGN="LEFT" BALIGN="LEFT"' if left else ""
    text = "<BR/>".join(escape(line or " ") + padding(line) for line in lines)
    text = f"<{mark}>{text}</{mark}>" if mark else text
    return f'<TR><TD{where}><FONT POINT-SIZE="{size}">{text}</FONT></TD></TR>'


def render(dot: str, form: str, system_dot: bool = False) -> bytes:
    """The picture of DOT text `dot` in `form`, `svg` or `png`; the same bytes for the same text.

    `system_dot`: have it drawn by the `dot` of this machine instead of the program installed with nudgeproof; bytes may
    then differ from one machine to the next.

    Raises `DrawingError` when the program is missing or fails.
    """
    if form not in ("svg", "png"):
        raise ToolFault(f"a picture in the form `{form}` was asked for")
    program = _find_system_dot() if system_dot else _find_program()
    command = [program, f"-T{form}", *([f"-Gdpi={PNG_DPI}"] if form == "png" else [])]
    try:
        done = subprocess.run(command, input=dot.encode(), capture_output=True, timeout=LONGEST_RUN_S, check=False)
    except OSError as error:
        raise DrawingError(f"{Path(program).name} can't be run: {error.strerror or error}; {_CURE}") from error
    except subprocess.TimeoutExpired as error:
        raise DrawingError(f"{Path(program).name} took more than {LONGEST_RUN_S} s; {_CURE}") from error
    if done.returncode != 0 or not done.stdout:
        said = done.stderr.decode(errors="replace").strip().splitlines()
        raise DrawingError(f"{Path(program).name} failed: {said[-1] if said else 'it drew nothing'}; {_CURE}")
    if form == "svg":
        return done.stdout.replace(f'font-family="{FONT}"'.encode(), f'font-family="{SVG_FONTS}"'.encode())
    return done.stdout


_CURE = "write the diagram as DOT text and draw it by other means"


def _find_program() -> str:
    """The drawing program installed with nudgeproof, also in an environment that isn't activated."""
    # Not resolved: in a virtual environment the interpreter is a link out of it, and the scripts are beside the link.
    places = [str(Path(sys.executable).parent)] if sys.executable else []
    places.append(sysconfig.get_path("scripts"))
    places.append(sysconfig.get_path("scripts", sysconfig.get_preferred_scheme("user")))
    places.append(os.environ.get("PATH", os.defpath))
    for place in places:
        if found := shutil.which("graphviz-pure", path=place):
            return found
    raise DrawingError(
        "the drawing program graphviz-pure, which is installed with nudgeproof, is missing; "
        "install nudgeproof again, or draw with the `dot` of this machine"
    )


def _find_system_dot() -> str:
    if found := shutil.which("dot"):
        return found
    raise DrawingError(
        "this machine has no program `dot`; install it, or leave it to the drawing program installed with nudgeproof"
    )
