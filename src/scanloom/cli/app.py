"""All commands under one roof, and what happens when one cannot go on."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Sequence
from io import TextIOWrapper

from cyclopts import App, CycloptsError

from scanloom import __version__
from scanloom.cli.check import check
from scanloom.cli.fit import fit, new
from scanloom.cli.levels import levels
from scanloom.cli.open_page import open_page
from scanloom.cli.picture import picture
from scanloom.cli.pins import pins
from scanloom.cli.report import report
from scanloom.cli.review import review
from scanloom.cli.sheets import chip, schema
from scanloom.cli.sums import clock, timing

HELP = """Plan several analogue RGB displays driven by one microcontroller: one dossier, every fact recomputed and judged.

Start with: scanloom check DOSSIER
"""
_EPILOGUE = """Exit codes: 0 nothing stands in the way, 1 something does, 2 the input cannot be read.

Examples:

{examples}

Every command takes --json; scanloom schema COMMAND prints the shape of the answer.
"""

EXAMPLES: dict[str, tuple[str, ...]] = {
    "fit": (
        'scanloom fit "6 displays: 2 colour, 4 green" --chip wifi240',
        'scanloom fit "3 colour displays with 2 bits"',
    ),
    "new": ('scanloom new mine.toml --wish "6 displays: 2 colour, 4 green" --chip wifi240',),
    "check": (
        "scanloom check examples/deep-station/final.toml",
        "scanloom check mine.toml --try 'levels.colour.part=240 ohm ± 1 %'",
        "scanloom check mine.toml --accept screens.not-promised displays.relay-1 --because 'ran an hour'",
    ),
    "open": ("scanloom open mine.toml",),
    "report": (
        "scanloom report mine.toml",
        "scanloom report mine.toml --to evening.html --pdf",
    ),
    "pins": (
        "scanloom pins examples/deep-station/first-evening.toml",
        "scanloom pins mine.toml --keep J1 --keep sync",
        "scanloom pins mine.toml --no-buffers --seconds 30 --json",
    ),
    "picture": (
        "scanloom picture examples/deep-station/final.toml --rig two-and-four -o sheet.png",
        "scanloom picture mine.toml periscope.png --display hero-left -o shown.png",
        "scanloom picture mine.toml --test checker --without recovery --without noise --json",
    ),
    "review": (
        "scanloom review examples/deep-station/fab/rev-b examples/deep-station/final.toml",
        "scanloom review fab.zip mine.toml -o review.html",
        "scanloom review fab --role 'a.gbr=top copper' --json",
    ),
    "timing": (
        "scanloom timing 800x600@60 --divide 2 --repeat 2",
        "scanloom timing dmt:0x16 --json",
        "scanloom timing 1000x600@60 --formula cvt",
    ),
    "clock": (
        'scanloom clock "25.175 MHz" --chip rp2040 --h-total 800',
        'scanloom clock "36 MHz" --chip wifi240 --stream "8 lanes" --h-total 1024 --limit 3',
    ),
    "levels": (
        'scanloom levels --parts 510,1k,2k,3.9k --pin "25 ohm" --rail "3.3 V"',
        'scanloom levels --parts 180,360x8 --style ladder --tolerance "1 %"',
        'scanloom levels --bits 4 --series E24 --distinct 2 --pin "25 ohm" --rail "3.3 V"',
        'scanloom levels --bits 2 --stock 390,470,820 --single --tolerance "5 %"',
        "scanloom levels examples/deep-station/final.toml",
    ),
    "chip": ("scanloom chip", "scanloom chip wifi240", "scanloom chip --template > mine.toml"),
    "schema": ("scanloom schema", "scanloom schema check"),
}
"""Examples of each command; the page of commands runs them."""


def _epilogue(examples: Iterable[str]) -> str:
    """Words below a help text."""
    return _EPILOGUE.format(examples="\n\n".join(f"  {line}" for line in examples))


app = App(
    name="scanloom",
    help=HELP,
    help_epilogue=_epilogue(lines[0] for lines in EXAMPLES.values()),
    version=__version__,
    version_flags=["--version"],
    help_format="plaintext",
)
for _command in (fit, new, check, open_page, report, pins, picture, review, timing, clock, levels, chip, schema):
    _name = "open" if _command is open_page else _command.__name__  # a function called open would hide Python's own
    app.command(_command, name=_name, help_epilogue=_epilogue(EXAMPLES[_name]))


def run(arguments: Sequence[str]) -> int:
    """Run one command.

    Parameters
    ----------
    arguments : sequence of str
        Words after the program's name.

    Returns
    -------
    int
        Exit code: 0 nothing stands in the way, 1 something does, 2 the input cannot be read.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # a terminal that lacks ± still gets an answer
    try:
        code = app(list(arguments), exit_on_error=False, print_error=False, result_action="return_value")
        sys.stdout.flush()
        return code if isinstance(code, int) else 0
    except CycloptsError as error:
        return _usage(error, "--json" in arguments)
    except BrokenPipeError:
        # the reader has gone, as with `| head`; nothing is wrong with the answer
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        print(f"the answer cannot be written: {error.strerror}; free some space, or write elsewhere", file=sys.stderr)
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 2
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        return 130


def _usage(error: CycloptsError, as_json: bool) -> int:
    """Say what is wrong with the command line."""
    from scanloom.cli.door import complain
    from scanloom.cli.usage import usage_fault
    from scanloom.formats.input_error import InputFault

    command, place, text = usage_fault(app, error)
    return complain(command or "scanloom", as_json, (InputFault("", 0, 0, place, text),))
