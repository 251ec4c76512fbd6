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


@pytest.fixture(scope="session")
def ask_ngspice(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str, list[str]], dict[str, float]]:
    """Function that gives element lines and vectors such as v(a) to ngspice and brings back its operating point.

    Without the program these tests skip, but under CI=true they fail: a gate that skips its yardstick is no gate.
    """
    program = shutil.which("ngspice")
    if program is None:
        missing = "ngspice is not installed (Debian package ngspice); levels are not compared with a circuit simulator"
        if os.environ.get("CI") == "true":
            pytest.fail(missing)
        pytest.skip(missing)

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
