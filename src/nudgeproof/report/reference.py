"""The page of reference for all keys of a spec, as Markdown; made of the table in `spec.keys`."""

from __future__ import annotations

from nudgeproof.spec.keys import SECTIONS, YES, Key, Section, tell_path

_HEAD = """# Keys of a spec

Made from the table in `src/nudgeproof/spec/keys.py` by `python -m tests.snapshots.renew`; don't edit it here. In a terminal
`nudgeproof explain KEY` says the same, and `nudgeproof explain schema` prints a JSON Schema with which editors check a spec
while you write. Words in capitals stand for a name that you give, or for a time. How the device is taken to behave is in
[rules.md](rules.md).
"""


def write_reference() -> str:
    """The whole page; ends in a newline."""
    return "\n".join([_HEAD, *(_tell_section(section) for section in SECTIONS)])


def _tell_section(section: Section) -> str:
    title = f"{section.title[0].upper()}{section.title[1:]}"
    lines = [f"## {title}", "", f"At {tell_path(section.path)}." if section.path else "At the top.", ""]
    lines += ["| key | means | written | needed | without it |", "|---|---|---|---|---|"]
    lines += [_tell_key(key) for key in section.keys]
    return "\n".join(lines) + "\n"


def _tell_key(key: Key) -> str:
    forms = ", ".join(f"`{form}`" for form in key.forms)
    needed = "yes" if key.required == YES else key.required or "no"
    default = f"`{key.default}`" if _is_written(key) else key.default
    return f"| `{key.name}` | {key.meaning} | {forms} | {needed} | {default} |"


def _is_written(key: Key) -> bool:
    """Whether the default is told as it would be written, not in words."""
    return key.default in key.forms or any(sign.isdigit() for sign in key.default)
