"""What a user of the command line waits on. Budgets are the floors the project sets itself, on a quiet machine."""

from __future__ import annotations

import subprocess
import sys
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from scanloom.formats.dossier_file import read_dossier
from scanloom.handbook.chips import chip
from scanloom.stages.clock import chains_for, enumerate_chains
from scanloom.stages.memory import EntryRules, ScanShape, WordStore, build_transfer_list, place
from scanloom.survey import survey_plan

ROOT = Path(__file__).resolve().parent.parent
FINAL = ROOT / "examples" / "deep-station" / "final.toml"


def program(*words: str) -> None:
    """Run the program as a user would; 0 and 1 are answers."""
    done = subprocess.run([sys.executable, "-m", "scanloom", *words], cwd=ROOT, capture_output=True, check=False)
    assert done.returncode in (0, 1), done.stderr.decode()


@pytest.mark.parametrize(
    ("words", "budget_s"),
    [
        (("--help",), 0.2),
        (("check", str(FINAL)), 0.5),
        (("check", str(FINAL), "--json"), 0.5),
        (("timing", "800x600@60"), 0.5),
    ],
    ids=lambda value: "-".join(Path(w).stem for w in value) if isinstance(value, tuple) else "",
)
def test_whole_process(benchmark: Any, words: tuple[str, ...], budget_s: float) -> None:
    benchmark.extra_info["budget_s"] = budget_s
    benchmark.pedantic(program, args=words, rounds=9, warmup_rounds=1)


def test_survey_inside(benchmark: Any) -> None:
    benchmark.extra_info["budget_s"] = 0.025
    plan = read_dossier(FINAL).plan
    assert benchmark(survey_plan, plan).exit_code() == 0


def test_reading_the_dossier(benchmark: Any) -> None:
    benchmark.extra_info["budget_s"] = 0.02
    assert benchmark(read_dossier, FINAL).plan.displays


@pytest.mark.parametrize(("name", "stream"), [("rp2040", None), ("wifi240", "8 lanes")])
def test_eight_clocks(benchmark: Any, name: str, stream: str | None) -> None:
    benchmark.extra_info["budget_s"] = 0.1
    chains = chains_for(chip(name), stream)
    rows = benchmark(enumerate_chains, chains, Fraction(25_175_000), h_total_px=800, limit=8)
    assert len(rows) == 8


def test_transfer_list_of_800x600(benchmark: Any) -> None:
    benchmark.extra_info["budget_s"] = 0.005
    shape = ScanShape(800, 40, 128, 88, 600, 1, 4, 23, 800, 600, 1)
    made = benchmark(build_transfer_list, shape, WordStore(8, 4, 4), EntryRules(12, 4092, 8))
    assert not place(made, (300_000,), 0).fits
