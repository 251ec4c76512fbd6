"""docs/commands.md: every command as the program itself describes it, with examples that were run just now."""

from __future__ import annotations

import contextlib
import inspect
import io
import os
import re
import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args, get_origin

from cyclopts import App

from scanloom.basis.verdict import Verdict
from scanloom.cli.app import app, run
from scanloom.report.schemas import schema_names, schema_of
from scanloom.report.verdict_documents import ErrorDoc, VerdictDoc

COLUMNS = 80
EXAMPLES = {
    "fit": (('scanloom fit "6 displays: 2 colour, 4 green" --chip wifi240 --limit 2', 0),),
    "new": (('scanloom new examples/deep-station/final.toml --wish "2 colour"', 0),),
    "check": (("scanloom check examples/deep-station/final.toml", 25),),
    "open": (("scanloom open no-such-dossier.toml", 0),),
    "report": (("scanloom report examples/deep-station/final.toml --to -", 8),),
    "pins": (("scanloom pins examples/deep-station/first-evening.toml --keep J1 --keep J4", 0),),
    "picture": (("scanloom picture examples/deep-station/final.toml --rig six-one-bit --display hero-left", 0),),
    "review": (("scanloom review examples/deep-station/fab/rev-b examples/deep-station/final.toml", 0),),
    "timing": (
        ("scanloom timing 800x600@60 --divide 2 --repeat 2", 0),
        ("scanloom timing 1000x600@60 --formula cvt", 0),
    ),
    "clock": (('scanloom clock "25.175 MHz" --chip rp2040 --h-total 800 --limit 4', 0),),
    "levels": (
        ('scanloom levels --parts 510,1k,2k,3.9k --pin "25 ohm" --rail "3.3 V"', 0),
        ('scanloom levels --bits 4 --series E24 --distinct 2 --pin "25 ohm" --rail "3.3 V"', 0),
        ("scanloom levels --bits 4 --distinct 1", 0),
    ),
    "chip": (("scanloom chip", 0),),
    "schema": (("scanloom schema clock", 12),),
}
"""Commands to run for each section, with the lines to show; 0 shows all."""
REFUSED = "scanloom timing 640x481@60"
JSON = "scanloom chip --json"
REFUSED_JSON = f"{REFUSED} --json"

HEAD = """# Commands

`scanloom COMMAND --help` prints what stands here. A quantity with a space in it goes in quotes: `"25.175 MHz"`. The
examples were run from the folder of the project, {columns} columns wide; a line of dots stands for what was left out.

| command | what it does |
|---|---|
"""
EXIT_CODES = """## Exit codes

- 0: nothing stands in the way.
- 1: something does: a stop or a caution fails, or a stop is unknown. Only commands that judge say so.
- 2: the input cannot be read; every fault is told as *place: what was given; what is allowed; what to do*.

Notes never count; what the maker has accepted counts as settled, what is stale as if it had never been accepted.
"""
ENVELOPE = {
    "tool": "always `scanloom`",
    "version": "version of the program",
    "command": "the command that ran",
    "result": "its result, by the schema of the command; null when the input could not be read",
    "verdicts": "every check made, those that hold too; empty where a command judges nothing",
    "errors": "faults of an input that could not be read; absent when there are none",
}
ERROR = {
    "file": "the file, empty for an argument",
    "line": "line in it, from 1; 0 for an argument",
    "column": "column in it, from 1; 0 for an argument",
    "path": "place in the dossier, or the argument",
    "text": "what was given; what is allowed; what to do",
}


@dataclass(frozen=True, slots=True)
class Ran:
    """How a command went."""

    code: int
    out: str
    err: str


def page(root: Path) -> str:
    """The page."""
    names = [name for name in app if not name.startswith("-")]
    if names != list(EXAMPLES):
        raise ValueError(
            f"commands are {', '.join(names)}, examples of pages_commands.py are for {', '.join(EXAMPLES)}; match them"
        )
    lines = [HEAD.format(columns=COLUMNS).rstrip()]
    lines += [f"| [`{name}`](#{name}) | {_cell(_paragraph(app[name]))} |" for name in names]
    for name in names:
        lines += _section(root, name, app[name])
    lines += ["", EXIT_CODES.rstrip(), "", *_shown(ran(root, REFUSED), REFUSED, 0), *_envelope(root)]
    return "\n".join(lines) + "\n"


def ran(root: Path, command: str) -> Ran:
    """Run a command as its users would, from a folder, at a fixed width and without colour."""
    out, err = io.StringIO(), io.StringIO()
    before = dict(os.environ)
    # a width and no colour, whatever terminal or continuous build this runs under
    for name in ("FORCE_COLOR", "CLICOLOR_FORCE", "TTY_COMPATIBLE", "TTY_INTERACTIVE", "JUPYTER_COLUMNS"):
        os.environ.pop(name, None)
    os.environ |= {"COLUMNS": str(COLUMNS), "LINES": "50", "NO_COLOR": "1", "TERM": "dumb"}
    try:
        with contextlib.chdir(root), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = run(shlex.split(command)[1:])
    finally:
        os.environ.clear()
        os.environ |= before
    return Ran(code, out.getvalue(), err.getvalue())


def schemas(root: Path) -> dict[str, str]:
    """What `scanloom schema NAME` prints, by name."""
    made = {}
    for name in schema_names():
        done = ran(root, f"scanloom schema {name}")
        if done.code:
            raise ValueError(f"scanloom schema {name}: {done.err}")
        made[name] = done.out
    return made


def _section(root: Path, name: str, command: App) -> Iterator[str]:
    """One command: meaning, usage, arguments, exit codes, examples."""
    usage = " ".join(ran(root, f"scanloom {name} --help").out.split("\n\n")[0].split())
    yield from ("", f"## {name}", "", _paragraph(command), "", "```text", usage.removeprefix("Usage: "), "```", "")
    yield from ("| argument | meaning | without it |", "|---|---|---|")
    for one in command.assemble_argument_collection(parse_docstring=True):
        meaning = _cell(str(one.parameter.help or ""))
        if not meaning:
            raise ValueError(f"{name} {one.name}: no meaning; add the argument to the docstring of the command")
        yield f"| {_spelt(one)} | {meaning} | {_default(one)} |"
    yield from ("", f"Exit code: {_returns(command).rstrip('.')}.")
    for line, most in EXAMPLES[name]:
        yield from ("", *_shown(ran(root, line), line, most))


def _shown(done: Ran, command: str, most: int, language: str = "text") -> Iterator[str]:
    """A command with what it printed, and how it left."""
    printed = [line.rstrip() for line in (done.out + done.err).rstrip("\n").split("\n")]
    cut = most and len(printed) > most
    yield from (
        f"```{language}",
        f"$ {command}",
        *(printed[:most] if cut else printed),
        *(["..."] if cut else []),
        "```",
    )
    if done.code:
        yield from ("", f"It left with exit code {done.code}.")


def _envelope(root: Path) -> Iterator[str]:
    """The shape that every command prints with --json, told once."""
    keys = schema_of("chip")["properties"]
    if set(keys) != set(ENVELOPE):
        raise ValueError(
            f"the envelope has {', '.join(keys)}, pages_commands.py tells of {', '.join(ENVELOPE)}; match them"
        )
    yield from (
        "",
        "## --json",
        "",
        "With `--json` every command prints one shape; its schema is in the folder `docs/schemas`,",
    )
    yield from ("and `scanloom schema COMMAND` prints the same.", "", "| key | what it holds |", "|---|---|")
    yield from (f"| `{key}` | {text} |" for key, text in ENVELOPE.items())
    yield from (
        "",
        *_shown(ran(root, JSON), JSON, 0, "console"),
        "",
        "A verdict:",
        "",
        "| key | what it holds |",
        "|---|---|",
    )
    told = _parameters(Verdict)
    for key in VerdictDoc.__annotations__:
        if key not in told:
            raise ValueError(f"verdict key {key}: no field or property of Verdict says what it holds; name it there")
        yield f"| `{key}` | {_cell(told[key])} |"
    yield from ("", "A fault:", "", "| key | what it holds |", "|---|---|")
    if set(ErrorDoc.__annotations__) != set(ERROR):
        raise ValueError("pages_commands.py and ErrorDoc name different keys of a fault; match them")
    yield from (f"| `{key}` | {text} |" for key, text in ERROR.items())
    yield from ("", *_shown(ran(root, REFUSED_JSON), REFUSED_JSON, 0, "console"))


def _paragraph(command: App) -> str:
    """What a command does: the first paragraph of its docstring."""
    return " ".join(inspect.cleandoc(str(command.help)).split("\n\n")[0].split())


def _returns(command: App) -> str:
    """What the docstring of a command says of its exit code."""
    text = inspect.cleandoc(str(command.help)).partition("Returns\n-------\n")[2]
    lines = [line.strip() for line in text.split("\n\n")[0].splitlines()[1:]]
    if not lines:
        raise ValueError(f"{command.name}: the docstring says nothing of the exit code; add Returns")
    return " ".join(lines)


def _spelt(one: Any) -> str:
    """An argument as it is typed, kinds of values named as the help names them."""
    if one.index is not None:
        return f"`{str(one.name).removeprefix('--').upper()}`"
    union = (
        [kind for kind in get_args(one.hint) if kind is not type(None)]
        if type(None) in get_args(one.hint)
        else [one.hint]
    )
    kind = union[0]
    inner = [k for k in get_args(kind) if k is not Ellipsis] if get_origin(kind) in (tuple, list) else [kind]
    choices = one.get_choices()
    values = (
        "|".join(choices)
        if choices
        else " ".join(getattr(k, "__name__", "VALUE").upper() for k in inner if k is not bool)
    )
    again = "..." if get_origin(kind) is list else ""
    first, *others = one.names
    return _cell(", ".join([f"`{first} {values}`".replace(" `", "`") + again, *(f"`{name}`" for name in others)]))


def _default(one: Any) -> str:
    """What holds when an argument is left out."""
    if one.required:
        return "it must be given"
    default = one.field_info.default
    return "-" if default in (None, False, inspect.Parameter.empty) else f"`{default}`"


def _parameters(made: type) -> dict[str, str]:
    """Fields of a class with what its docstring says of each, and properties with their first line."""
    text = inspect.cleandoc(made.__doc__ or "").partition("Parameters\n----------\n")[2]
    found = {
        name: " ".join(body.split()) for name, body in re.findall(r"^(\w+) : .*\n((?: {4}.*\n?)+)", text, re.MULTILINE)
    }
    held = {name: value for name, value in vars(made).items() if isinstance(value, property)}
    return found | {name: (value.__doc__ or "").split("\n")[0] for name, value in held.items()}


def _cell(text: str) -> str:
    """Text that may stand in a cell of a table."""
    return " ".join(text.split()).replace("|", "\\|")
