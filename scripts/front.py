"""What `run.py` does once the Python is right: read the arguments and call one of the four jobs."""

from __future__ import annotations

import argparse
import os
import subprocess
import sys

import demo
import environment
import system_tools

EXAMPLES = """\
examples:
  python3 run.py demo                 survey the two demo dossiers, write the report, open the page
  python3 run.py test                 the whole gate: style, types, import contracts, tests
  python3 run.py test tests/laws -x   the gate with these arguments for pytest
"""


def parser() -> argparse.ArgumentParser:
    """Describe the four jobs."""
    door = argparse.ArgumentParser(
        prog="run.py",
        description="Run Scanloom from a checkout. The first run makes .venv and installs hash-locked wheels into it.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    jobs = door.add_subparsers(dest="job", required=True, metavar="demo | test | speed | install")
    show = jobs.add_parser("demo", help="survey the demo dossiers, write the report, open the page")
    show.add_argument(
        "--no-open",
        action="store_true",
        help="open no window, only say how; so it is too where the output is no terminal",
    )
    # "test" is taken apart by hand in run(): argparse would try to read pytest's options as its own
    jobs.add_parser(
        "test", help="install what the tests need, then run the gate; arguments go to pytest", add_help=False
    )
    jobs.add_parser("speed", help="run the benchmarks and print ratios")
    only = jobs.add_parser("install", help="only make .venv and install")
    only.add_argument("--dev", action="store_true", help="also what the gate needs")
    return door


def run(arguments: list[str]) -> int:
    """Do the job that the arguments name and return its exit code."""
    try:
        if arguments[:1] == ["test"]:
            return test(arguments[1:])
        wanted = parser().parse_args(arguments)
        if wanted.job == "demo":
            window = sys.stdout.isatty() and not wanted.no_open
            return demo.show(environment.ensure("requirements.lock"), window=window)
        if wanted.job == "speed":
            python = environment.ensure("requirements-dev.lock")
            return subprocess.call([python, environment.ROOT / "scripts" / "speed.py"], stdin=subprocess.DEVNULL)
        python = environment.ensure("requirements-dev.lock" if wanted.dev else "requirements.lock")
        print(f"Ready: {environment.shown(environment.launcher(python))}")
        return 0
    except environment.Trouble as trouble:
        print(f"run.py: {trouble}", file=sys.stderr)
        return 2


def test(arguments: list[str]) -> int:
    """Install what the tests need and hand over to the gate, in the environment's own Python."""
    python = environment.ensure("requirements-dev.lock")
    missing = system_tools.provide()
    lacking = [option for name in missing for option in ("--lacking", name)] if os.environ.get("CI") == "true" else []
    gate = environment.ROOT / "scripts" / "gate.py"
    sys.stdout.flush()
    return subprocess.call([python, gate, *lacking, *arguments], stdin=subprocess.DEVNULL)
