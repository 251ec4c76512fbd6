"""The command line: arguments in, report out."""

from __future__ import annotations

import gc
import sys


def main() -> None:
    """Run the command line and leave with its exit code."""
    gc.set_threshold(100_000, 20, 20)  # many objects, next to no rubbish: looking for it took a seventh of a search

    from scanloom.cli.app import run

    sys.exit(run(sys.argv[1:]))
