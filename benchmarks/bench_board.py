"""The review of a board: two generated sizes as a whole, registration alone, and one image against another reader.

Budgets are the floors of the review on one core: 10 s and 500 MB for 285 x 97 mm with 2,000 plated holes and 8,000
copper objects, 4 s for 100 x 100 mm, 1 s for registration alone.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import warnings
from pathlib import Path
from typing import Any

import pytest

from scanloom.dossier.model import Dossier, Head
from scanloom.dossier.plan import Plan
from scanloom.dossier.reading import Reading
from scanloom.formats.board_files import read_board_files
from scanloom.formats.board_files.gerber import read_gerber
from scanloom.stages.board.sides import judge_sides
from scanloom.stages.board.sight import Sight

ROOT = Path(__file__).resolve().parent.parent
MOST_BYTES = 500_000_000
PLAN = Plan(Dossier(dossier=Head(format=1, title="")))


@pytest.fixture(scope="module")
def boards(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The generated boards, written once."""
    from demo_board import sets, sizes

    made = {}
    for name, board in (("large", sizes.large()), ("medium", sizes.medium())):
        made[name] = tmp_path_factory.mktemp(name)
        sets.save(sets.files(board), made[name])
    return made


def program(folder: Path) -> None:
    """A whole review as a user would run it; 0 and 1 are answers."""
    words = [sys.executable, "-m", "scanloom", "review", str(folder), "--json"]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, check=False)
    assert done.returncode in (0, 1), done.stderr.decode()


@pytest.mark.parametrize(("name", "budget_s"), [("large", 10.0), ("medium", 4.0)])
def test_whole_review(benchmark: Any, boards: dict[str, Path], name: str, budget_s: float) -> None:
    benchmark.extra_info["budget_s"] = budget_s
    benchmark.pedantic(program, args=(boards[name],), rounds=3)
    most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss * 1024
    benchmark.extra_info["most_bytes"] = most
    assert most < MOST_BYTES


def test_registration_alone(benchmark: Any, boards: dict[str, Path]) -> None:
    benchmark.extra_info["budget_s"] = 1.0
    files = read_board_files(boards["large"])

    def work() -> int:
        sight = Sight(Reading(PLAN), files)
        judge_sides(sight)
        return len(sight.verdicts)

    assert benchmark.pedantic(work, rounds=5, warmup_rounds=1) > 5


@pytest.mark.parametrize("reader", ["own", "other"])
def test_one_image(benchmark: Any, boards: dict[str, Path], reader: str) -> None:
    """One copper layer with outlines; compare the two rows for the ratio to another reader of the registry."""
    text = boards["large"].joinpath("large-board-top-copper.gbr").read_text(encoding="utf-8")
    if reader == "own":
        assert len(benchmark.pedantic(read_gerber, args=(text,), rounds=5).drawn) > 4000
        return
    from gerbonara import GerberFile
    from gerbonara.utils import MM

    def work() -> int:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            objects = GerberFile.from_string(text).objects
            return sum(len(list(one.to_primitives(MM))) for one in objects)

    assert benchmark.pedantic(work, rounds=5) > 4000
