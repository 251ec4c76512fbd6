"""What the page's user waits on, browser apart: an edit from text to regions, a sheet, the report."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from scanloom.report.html_report import html_report
from scanloom.report.stage_sheets import SHEETS
from scanloom.web.desk import Desk
from scanloom.web.fields import Typed
from scanloom.web.routes import Pages
from scanloom.web.view import address, regions
from scanloom.web.watch import Watch

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture
def desk() -> Desk:
    """The demo, read and surveyed."""
    made = Desk(ROOT / "examples/deep-station/final.toml", "final.toml")
    made.reload()
    return made


def test_edit(benchmark: Any, desk: Desk) -> None:
    """Cut the value into the text, read it, survey it, gather what the page shows; a new value each round."""
    benchmark.extra_info["budget_s"] = (
        0.045  # what a keystroke has left of its 100 ms beside two frames and the browser
    )
    at = address(desk, "levels", "", "")
    assert at is not None
    values = iter(range(1, 10_000))

    def edit() -> None:
        typed = Typed("levels.colour.part", None, f"{200 + next(values) / 100} ohm ± 1 %", "", "240 ohm ± 1 %", "")
        regions(desk, desk.look(typed), at, unwritten=True)

    benchmark(edit)


@pytest.mark.parametrize("name", [sheet.name for sheet in SHEETS])
def test_sheet(benchmark: Any, desk: Desk, name: str) -> None:
    benchmark.extra_info["budget_s"] = 0.05
    pages = Pages(desk, Watch(desk), "token")
    at = address(desk, name, "", "")
    assert at is not None
    benchmark(pages._page, at)


def test_report(benchmark: Any, desk: Desk) -> None:
    benchmark.extra_info["budget_s"] = 0.5
    assert desk.good is not None
    benchmark(html_report, desk.good.file, desk.good.survey)
