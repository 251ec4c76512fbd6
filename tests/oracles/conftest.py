"""Programs of others that answer the same question."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

_PRINTED = re.compile(r"^([vi]\([^)]*\)) = ([-+0-9.eE]+)$", re.MULTILINE)


def _ngspice() -> str:
    """Where ngspice is. Without it tests skip, but under CI=true they fail: a gate that skips its yardstick is no gate."""
    program = shutil.which("ngspice")
    if program is None:
        missing = "ngspice is not installed (Debian package ngspice); nothing is compared with a circuit simulator"
        if os.environ.get("CI") == "true":
            pytest.fail(missing)
        pytest.skip(missing)
    return program


@pytest.fixture(scope="session")
def run_ngspice(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., list[list[float]]]:
    """Function that runs elements through time and brings back time and each vector, evenly sampled."""
    program = _ngspice()

    def run(
        elements: str, vectors: list[str], until_s: float, step_s: float = 50e-12, options: str = "reltol=1e-5"
    ) -> list[list[float]]:
        deck = tmp_path_factory.mktemp("ngspice") / "deck.cir"
        names = " ".join(vectors)
        deck.write_text(
            f"* through time\n{elements}\n.options {options} abstol=1e-10 vntol=1e-7\n.control\n"
            f"set wr_singlescale\nset wr_vecnames=0\ntran {step_s!r} {until_s!r} 0 {step_s!r}\n"
            f"linearize {names}\nwrdata answer.txt {names}\nquit\n.endc\n.end\n"
        )
        done = subprocess.run(
            [program, "-n", "-b", deck.name], cwd=deck.parent, capture_output=True, text=True, timeout=60
        )
        answer = deck.parent / "answer.txt"
        assert answer.exists(), f"ngspice gave no answer:\n{done.stdout[-2000:]}\n{done.stderr[-2000:]}"
        rows = [[float(word) for word in line.split()] for line in answer.read_text().splitlines()]
        return [list(column) for column in zip(*rows, strict=True)]

    return run


@pytest.fixture(scope="session")
def ask_ngspice(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str, list[str]], dict[str, float]]:
    """Function that gives element lines and vectors such as v(a) to ngspice and brings back its operating point."""
    program = _ngspice()

    def ask(elements: str, vectors: list[str]) -> dict[str, float]:
        deck = tmp_path_factory.mktemp("ngspice") / "deck.cir"
        # the first line of a deck is its title; 15 digits, as the default of 6 would hide a microvolt
        prints = "\n".join(f"print {vector}" for vector in vectors)
        deck.write_text(f"* levels\n{elements}\n.control\nset numdgt=15\nop\n{prints}\nquit\n.endc\n.end\n")
        done = subprocess.run(
            [program, "-n", "-b", Path(deck).name], cwd=deck.parent, capture_output=True, text=True, timeout=60
        )
        answers = {name: float(value) for name, value in _PRINTED.findall(done.stdout)}
        unanswered = [vector for vector in vectors if vector not in answers]
        assert not unanswered, f"ngspice did not answer {unanswered[:5]}:\n{done.stdout[-2000:]}\n{done.stderr[-2000:]}"
        return answers

    return ask
