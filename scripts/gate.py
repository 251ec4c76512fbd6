"""The gate: the one list of steps that people (`scripts/check`), `run.py test` and CI all run.

Usage: python scripts/gate.py [pytest arguments], with the environment's Python.
The quick static steps run beside pytest, whose output is shown when they are done; its closing line comes last.
"""

from __future__ import annotations

import importlib.util
import os
import queue
import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PYTHON = sys.executable
IMPORTS = "from importlinter.cli import lint_imports_command as check; check(['--no-logo'])"
STATIC = {
    "ruff format": [PYTHON, "-m", "ruff", "format", "--check", "."],
    "ruff check": [PYTHON, "-m", "ruff", "check", "."],
    "mypy": [PYTHON, "-m", "mypy"],
    "import contracts": [PYTHON, "-c", IMPORTS],
}
PYTEST = [PYTHON, "-m", "pytest", "-p", "no:benchmark", "--numprocesses=auto", "--maxprocesses=8", "--dist=worksteal"]
"""One worker a core; `-n 0` behind `run.py test` runs all in one process, as a debugger wants it."""


@dataclass(frozen=True, slots=True)
class Step:
    """How one step ended."""

    name: str
    fault: str
    seconds: float

    def __str__(self) -> str:
        """One line: name, result, time."""
        return f"{self.name:<18}{'FAILED' if self.fault else 'ok':<8}{self.seconds:6.1f} s  {self.fault}".rstrip()


def static(name: str, command: list[str]) -> Step:
    """Run one static step, quiet when it holds."""
    began = time.perf_counter()
    done = subprocess.run(
        command, cwd=ROOT, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False
    )
    step = Step(name, f"exit code {done.returncode}" if done.returncode else "", time.perf_counter() - began)
    print(step, flush=True)
    if step.fault:
        print(done.stdout.decode("utf-8", "replace").rstrip() + "\n", flush=True)
    return step


class Pytest:
    """Pytest in the background; a thread keeps its lines until they may be shown."""

    def __init__(self, arguments: list[str]) -> None:
        colour = ["--color=yes"] if sys.stdout.isatty() and not os.environ.get("NO_COLOR") else []
        self.began = time.perf_counter()
        self.process = subprocess.Popen(
            [*PYTEST, *colour, *arguments],
            cwd=ROOT,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env=os.environ | {"PYTHONUNBUFFERED": "1"},
        )
        self.lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        threading.Thread(target=self.keep, daemon=True).start()

    def keep(self) -> None:
        """Take lines as they come, so that a full pipe never holds the tests up."""
        for line in self.process.stdout or ():
            self.lines.put(line.decode("utf-8", "replace").rstrip("\r\n"))
        self.lines.put(None)

    def show(self) -> tuple[Step, str]:
        """Print all lines but the closing one, which is handed back with the result."""
        held: list[str] = []
        while (line := self.lines.get()) is not None:
            if line.strip() and held:
                print("\n".join(held), flush=True)
                held = []
            if line.strip() or held:
                held.append(line)
        closing = held[0] if held else ""
        code = self.process.wait()
        fault = {0: "", 5: "no test was run"}.get(code, f"exit code {code}")
        return Step("pytest", fault, time.perf_counter() - self.began), closing


def main(arguments: list[str]) -> int:
    """Run every step, show each result, and end with pytest's closing line."""
    lacking = []
    while arguments[:1] == ["--lacking"]:  # system tools that CI should have had, handed over by run.py
        lacking.append(Step(arguments[1], "not installed", 0.0))
        arguments = arguments[2:]
    absent = [name for name in ("ruff", "mypy", "importlinter", "pytest") if importlib.util.find_spec(name) is None]
    if absent:
        print(f"not in this environment: {', '.join(absent)}; `python3 run.py test` installs them", file=sys.stderr)
        return 2
    tests = Pytest(arguments)
    try:
        steps = lacking + [static(name, command) for name, command in STATIC.items()]
        print(flush=True)
        step, closing = tests.show()
    finally:
        if tests.process.poll() is None:
            tests.process.terminate()
    steps.append(step)
    print("\n" + "\n".join(f"gate: {step}" for step in steps))
    print(closing, flush=True)
    return 1 if any(step.fault for step in steps) else 0


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except KeyboardInterrupt:
        sys.exit(130)
