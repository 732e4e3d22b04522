"""All commands with one line each, those of every day first, and the parser made of them.

Adding a command is one line here and its two functions in the module of its family: what it takes, and what it does.
"""

from __future__ import annotations

import argparse
import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from nudgeproof import __version__
from nudgeproof.cli import checks, learning, measuring, pages, recordings, rigs, stimuli, stories, supply, trials

_JOB = "Checks how a small battery device wakes, takes presses and sleeps,\nover every order and every timing."
_OTHERS = "70 a fault of nudgeproof itself; 130 interrupted"
_VERDICTS = (
    f"0 everything holds; 1 something is broken; 2 bad input; 3 something is undecided or never came up; {_OTHERS}"
)
_RECORDED = (
    "0 every recording conforms; 1 one is refused; 2 bad input; 3 no verdict: the surroundings were left, too much to look "
    f"at, or nothing happens; {_OTHERS}"
)
_DONE = f"0 done; 2 bad input; {_OTHERS}"
_RUN = f"0 recorded; 1 recorded until the firmware misbehaved; 2 bad input, or it can't be built; {_OTHERS}"
_TRIED = (
    "0 every trial conforms; 1 one is refused, or the firmware misbehaves; 2 bad input, or it can't be built; 3 nothing "
    f"could be judged; {_OTHERS}"
)
_FOUND_OUT = (
    "0 measured; 1 the firmware misbehaved; 2 bad input, or it can't be built; 3 nothing that was pressed did anything, or "
    f"there was too much to tell apart; {_OTHERS}"
)
_FOUND = (
    f"0 a way was found; 1 proved that there is none; 2 bad input; 3 none was found, and some are undecided; {_OTHERS}"
)


@dataclass(frozen=True, slots=True)
class Command:
    """One command: its line in the list, what it takes, and what its exit codes mean."""

    name: str
    does: str
    declare: Callable[[argparse.ArgumentParser], None]
    exits: str


EVERYDAY = (
    Command("new", "begin a spec of your own, from a habit that many devices have", learning.declare_new, _DONE),
    Command("check", "ask every question that applies to a spec", checks.declare_check, _VERDICTS),
    Command("why", "every way in which a change of state or mode can come about", checks.declare_why, _FOUND),
    Command(
        "explain", "what a hazard, a verdict, a promise or a key of the spec means", learning.declare_explain, _DONE
    ),
    Command("supply", "voltages, hold-up and the life of the cells", supply.declare_supply, _DONE),
    Command("draw", "draw the state diagram", pages.declare_draw, _DONE),
    Command("card", "a printable card for the user: what each press does", pages.declare_card, _DONE),
)
REST = (
    Command("replay", "tell a story step by step, or try old stories again", stories.declare_replay, _VERDICTS),
    Command("fuzz", "random presses, chatter and interruptions on top", stories.declare_fuzz, _VERDICTS),
    Command("follow", "check recordings of the real device against its spec", recordings.declare_follow, _RECORDED),
    Command("rig", "run a firmware in virtual time, and record what it does", rigs.declare_rig, _RUN),
    Command("trial", "press a firmware in all ways, and check what it does", trials.declare_trial, _TRIED),
    Command(
        "stimulus", "what stimuli do to a real device, and their table for a player", stimuli.declare_stimulus, _DONE
    ),
    Command(
        "measure", "find the times of a firmware, and write a spec to begin with", measuring.declare_measure, _FOUND_OUT
    ),
    Command("audit", "check a certificate again, without the explorer", checks.declare_audit, _VERDICTS),
)


def build_parser() -> argparse.ArgumentParser:
    """The parser of the whole command line; a parsed command is in `command`, a function of what was parsed."""
    parser = argparse.ArgumentParser(
        prog="nudgeproof",
        usage="nudgeproof COMMAND ...",
        description=f"{_JOB}\n\n{_list('every day', EVERYDAY)}\n\n{_list('and the rest', REST)}",
        epilog=f"`nudgeproof COMMAND --help` tells more of each.\n\n{_tell_exits(_VERDICTS)}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"nudgeproof {__version__}")
    parsers = parser.add_subparsers(metavar="COMMAND", required=True, help=argparse.SUPPRESS, prog="nudgeproof")
    for command in (*EVERYDAY, *REST):
        below = parsers.add_parser(
            command.name,
            description=f"{command.does[0].upper()}{command.does[1:]}.",
            epilog=_tell_exits(command.exits),
            formatter_class=argparse.RawDescriptionHelpFormatter,
            allow_abbrev=False,
        )
        command.declare(below)
    return parser


def _list(title: str, commands: Sequence[Command]) -> str:
    return "\n".join([f"{title}:", *(f"  {command.name:<9}{command.does}" for command in commands)])


def _tell_exits(exits: str) -> str:
    return "\n".join(textwrap.wrap(f"exit codes: {exits}", 78))
