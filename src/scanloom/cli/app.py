"""All commands under one roof, and what happens when one cannot go on."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

from cyclopts import App, CycloptsError

from scanloom import __version__
from scanloom.cli.check import check
from scanloom.cli.sheets import chip, schema
from scanloom.cli.sums import clock, levels, timing

HELP = """Plan several analogue RGB displays driven by one microcontroller: one dossier, every fact recomputed and judged.

Start with: scanloom check DOSSIER
"""
_EPILOGUE = """Exit codes: 0 nothing stands in the way, 1 something does, 2 the input cannot be read.

Examples:

  scanloom check examples/deep-station/final.toml

  scanloom timing 800x600@60 --divide 2 --repeat 2

  scanloom clock "25.175 MHz" --chip rp2040 --h-total 800

  scanloom levels --parts 510,1k,2k,3.9k --pin "25 ohm" --rail "3.3 V"

Every command takes --json; scanloom schema COMMAND prints the shape of the answer.
"""

app = App(
    name="scanloom",
    help=HELP,
    help_epilogue=_EPILOGUE,
    version=__version__,
    version_flags=["--version"],
    help_format="plaintext",
)
for _command in (check, timing, clock, levels, chip, schema):
    app.command(_command)


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
    try:
        code = app(list(arguments), exit_on_error=False, print_error=True, result_action="return_value")
        sys.stdout.flush()
        return code if isinstance(code, int) else 0
    except CycloptsError:
        return 2
    except BrokenPipeError:
        # the reader has gone, as with `| head`; nothing is wrong with the answer
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        return 130
