"""The command line: arguments in, report out."""

from __future__ import annotations

import sys


def main() -> None:
    """Run the command line and leave with its exit code."""
    from scanloom.cli.app import run

    sys.exit(run(sys.argv[1:]))
