"""The page of reference for all keys of a spec, as Markdown; made of the table in `spec.keys`."""

from __future__ import annotations

from nudgeproof.questions import grammar
from nudgeproof.report.examples import EXAMPLES, Example
from nudgeproof.spec import conditions
from nudgeproof.spec.keys import SECTIONS, YES, Key, Section, tell_path

_HEAD = """# Keys of a spec

Made from the table in `src/nudgeproof/spec/keys.py` by `python -m tests.snapshots.renew`; don't edit it here. In a terminal
`nudgeproof explain KEY` says the same, and `nudgeproof explain schema` prints a JSON Schema with which editors check a spec
while you write. Words in capitals stand for a name that you give, a time or a quantity. How the device is taken to behave
is in [rules.md](rules.md). Below the keys stand the [grammar of conditions](#conditions), the
[grammar of promises](#promises) and [worked examples](#worked-examples).
"""

_GRAMMARS = """## Conditions

What stands after `if`, as EBNF (ISO/IEC 14977); names and values are those of `variables`. At least and at most are for
whole numbers. Several cases of one gesture or time must exclude each other: at most one may hold whatever the values are.
Where none holds, nothing happens. `is not` takes one value only; for two write `beam is not low and beam is not high`.

```ebnf
{conditions}```

## Promises

The sentences of the section `promises`, as EBNF; names are those of the spec and may contain blanks. `nudgeproof explain
promises` says what each means, with examples.

```ebnf
{promises}```
"""


def write_reference() -> str:
    """The whole page; ends in a newline."""
    grammars = _GRAMMARS.format(conditions=conditions.GRAMMAR, promises=grammar.GRAMMAR)
    examples = ["## Worked examples\n", *(_tell_example(example) for example in EXAMPLES)]
    return "\n".join([_HEAD, *(_tell_section(section) for section in SECTIONS), grammars, *examples])


def _tell_example(example: Example) -> str:
    return f"### {example.title}\n\n{example.says}\n\n```yaml\n{example.spec}```\n"


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
