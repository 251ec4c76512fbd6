"""CVT against print: every progressive timing that DMT declares to follow CVT comes out of the formula.

Source: VESA Display Monitor Timing standard 1.0 revision 13 (the copy under checks_published/data), columns cvt_formula
and reduced_blanking.
"""

from __future__ import annotations

import csv
from fractions import Fraction
from pathlib import Path

import pytest

from scanloom.handbook.formulas import FORMULAS, formula_named
from scanloom.stages.timing import formula_row, formula_timing

DATA = Path(__file__).parents[1] / "checks_published" / "data" / "dmt.csv"
FORMULA = {"": "cvt", "v1": "cvt-rb1", "v2": "cvt-rb2"}


def rows() -> list[dict[str, str]]:
    lines = DATA.read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


DECLARED = [row for row in rows() if row["cvt_formula"] == "1" and row["interlace"] == "0"]


def rate_of(row: dict[str, str]) -> Fraction:
    """The rate meant: 59.94 stands for 60000 / 1001, which is what makes the printed clock."""
    nominal = Fraction(row["refresh_nominal_hz"])
    return Fraction(60000, 1001) if nominal == Fraction("59.94") else nominal


def test_how_many_declare_it() -> None:
    """As the reference for this table counts them; both reduced blankings and the full one are among them."""
    assert len(DECLARED) == 46
    assert {row["reduced_blanking"] for row in DECLARED} == set(FORMULA)


@pytest.mark.parametrize("want", DECLARED, ids=lambda row: row["id"])
def test_declared_timing_is_what_the_formula_makes(want: dict[str, str]) -> None:
    formula = FORMULA[want["reduced_blanking"]]
    row = formula_timing(formula, int(want["h_active"]), int(want["v_active"]), rate_of(want))  # type: ignore[arg-type]
    line = (row.active_px, row.h_front_px, row.h_sync_px, row.h_back_px, row.h_total_px)
    assert line == tuple(int(want[key]) for key in ("h_active", "h_front", "h_sync", "h_back", "h_total"))
    frame = (row.active_lines, row.v_front_lines, row.v_sync_lines, row.v_back_lines, row.v_total_lines)
    assert frame == tuple(int(want[key]) for key in ("v_active", "v_front", "v_sync", "v_back", "v_total"))
    assert row.pixel_clock_hz == 1000 * Fraction(want["pixel_clock_khz"])
    assert (row.h_polarity, row.v_polarity) == (want["hsync_pol"], want["vsync_pol"])
    assert row.id == want["id"]  # the stage knows the listed timing again


def test_rounded_width_tells_the_aspect_ratio() -> None:
    """1360 x 768 at 16:9 is 1365 and a third: DMT ID 28h has the 5 lines of sync of 16:9, not the 10 of no known ratio."""
    want = next(row for row in DECLARED if row["id"] == "0x28")
    assert want["v_sync"] == "5"
    assert formula_timing("cvt-rb1", 1366, 768, Fraction(120)).id == "0x28"


def test_no_other_listed_timing_passes_for_a_computed_one() -> None:
    """Asked for the size and rate of every other progressive row, no formula makes that row."""
    declared = {row["id"] for row in DECLARED}
    for row in rows():
        if row["id"] in declared or row["interlace"] == "1":
            continue
        for name in FORMULAS:
            made = formula_row(formula_named(name), int(row["h_active"]), int(row["v_active"]), rate_of(row))
            assert made.id == made.name, row["id"]
