"""What a newcomer waits on: the search for plans. Budgets are the floors the project sets itself, on a quiet machine."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from scanloom.handbook.chips import chip
from scanloom.survey.fit import propose_fit, wished_parents
from scanloom.survey.wish import read_wish

ROOT = Path(__file__).resolve().parent.parent
WISH = "6 displays: 2 colour, 4 green"


def program(folder: Path, *words: str) -> None:
    """Run the program as a user would, in a process of its own: what the search remembers must not help the next round."""
    done = subprocess.run([sys.executable, "-m", "scanloom", *words], cwd=folder, capture_output=True, check=False)
    assert done.returncode in (0, 1), done.stderr.decode()


@pytest.mark.parametrize(
    ("name", "budget_s", "rounds"),
    [("wifi240", 2.0, 3), ("rp2040", 2.0, 3), ("all", 12.0, 2)],
    ids=["one-chip", "one-chip-of-runs", "all-chips"],
)
def test_whole_process(benchmark: Any, name: str, budget_s: float, rounds: int) -> None:
    benchmark.extra_info["budget_s"] = budget_s
    benchmark.pedantic(program, args=(ROOT, "fit", WISH, "--chip", name), rounds=rounds)


def test_starter(benchmark: Any, tmp_path: Path) -> None:
    benchmark.extra_info["budget_s"] = 2.5
    numbers = iter(range(100))

    def arguments() -> tuple[tuple[Any, ...], dict[str, Any]]:
        return (tmp_path, "new", f"{next(numbers)}.toml", "--wish", WISH), {}

    benchmark.pedantic(program, setup=arguments, rounds=3)


def test_remembered_search(benchmark: Any) -> None:
    """The same chip again in one process, as on a page: only the judging and sorting are left."""
    benchmark.extra_info["budget_s"] = 0.5
    wish, record = read_wish(WISH), chip("wifi240")
    assert propose_fit(wish, record)
    assert len(wished_parents()) > 30
    assert benchmark(propose_fit, wish, record)[0].fits
