"""Timings by formula, field by field, as other implementations of the standards make them.

Sources: VESA Coordinated Video Timings 1.2 and Generalized Timing Formula 1.1, as the heads of the files in data say;
GTF timings that are printed often, from memory.
"""

from __future__ import annotations

import csv
import json
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from scanloom.cli.app import run
from scanloom.handbook.formulas import formula_named
from scanloom.handbook.timing_row import TimingRow
from scanloom.stages.timing import formula_row, formula_timing

DATA = Path(__file__).parent / "data"
VERSIONS = {"standard": "cvt", "rb_v1": "cvt-rb1", "rb_v2": "cvt-rb2"}
ASPECT_SYNC = {"4:3": 4, "16:9": 5, "16:10": 6, "5:4": 7, "15:9": 7, "custom": 10, "rb2": 8}
OTHER_PORCH = re.compile(r"min_v_back_porch 6 gives v_back (\d+) pclk_khz (\d+)")


def published(name: str) -> list[dict[str, str]]:
    lines = (DATA / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


CVT, GTF = published("cvt.csv"), published("gtf.csv")


def figures(row: TimingRow) -> dict[str, Any]:
    return {
        "h_active": row.active_px,
        "h_front": row.h_front_px,
        "h_sync": row.h_sync_px,
        "h_back": row.h_back_px,
        "h_total": row.h_total_px,
        "v_active": row.active_lines,
        "v_front": row.v_front_lines,
        "v_sync": row.v_sync_lines,
        "v_back": row.v_back_lines,
        "v_total": row.v_total_lines,
        "hsync_pol": row.h_polarity,
        "vsync_pol": row.v_polarity,
    }


def wanted(want: dict[str, str]) -> dict[str, Any]:
    kept = {key: want[key] for key in want if key.startswith(("h_", "v_")) and key != "h_active_req"}
    signs = {"hsync_pol": want["hsync_pol"], "vsync_pol": want["vsync_pol"]}
    return {**{key: int(value) for key, value in kept.items()}, **signs}


def prints(exact: Fraction, printed: str) -> bool:
    """Whether a number rounds to the printed one."""
    return abs(exact - Fraction(printed)) <= Fraction(1, 2 * 10 ** len(printed.partition(".")[2]))


def name_of(want: dict[str, str]) -> str:
    return f"{want.get('version', 'gtf')}-{want['h_active_req']}x{want['v_active']}@{want['refresh_req_hz']}"


def check(row: TimingRow, want: dict[str, str]) -> None:
    assert figures(row) == wanted(want)
    assert row.pixel_clock_hz == 1000 * Fraction(want["pixel_clock_khz"])
    assert prints(row.line_rate_hz / 1000, want["line_khz"])
    assert prints(row.frame_rate_hz, want["refresh_exact_hz"])
    assert row.nominal_hz == Fraction(want["refresh_req_hz"])


def asked(want: dict[str, str]) -> tuple[int, int, Fraction]:
    return int(want["h_active_req"]), int(want["v_active"]), Fraction(want["refresh_req_hz"])


def test_all_rows_are_there() -> None:
    assert (len(CVT), len(GTF)) == (150, 33)
    assert {want["version"] for want in CVT} == set(VERSIONS)


@pytest.mark.parametrize("want", CVT, ids=name_of)
def test_cvt_row(want: dict[str, str]) -> None:
    row = formula_timing(VERSIONS[want["version"]], *asked(want))  # type: ignore[arg-type]
    check(row, want)
    assert row.v_sync_lines == ASPECT_SYNC[want["aspect"]]


# version 2 of reduced blanking has 6 lines in every reading
@pytest.mark.parametrize("want", [w for w in CVT if w["version"] != "rb_v2"], ids=name_of)
def test_cvt_row_with_the_other_least_back_porch(want: dict[str, str]) -> None:
    """Where 6 lines instead of 7 would act, the row says which back porch and clock that gives; elsewhere nothing moves."""
    formula = formula_named(VERSIONS[want["version"]])
    row = formula_row(replace(formula, back_lines=6), *asked(want))
    other = OTHER_PORCH.search(want["notes"])
    back, khz = (other[1], other[2]) if other else (want["v_back"], want["pixel_clock_khz"])
    assert (row.v_back_lines, row.pixel_clock_hz) == (int(back), 1000 * Fraction(khz))
    assert row.v_total_lines == int(want["v_total"]) - int(want["v_back"]) + int(back)
    assert ("another lineage" in formula_row(formula, *asked(want)).place) == (other is not None)


@pytest.mark.parametrize("want", GTF, ids=name_of)
def test_gtf_row(want: dict[str, str]) -> None:
    row = formula_row(formula_named("gtf"), *asked(want))
    check(row, want)
    assert row.frame_rate_hz == row.nominal_hz  # GTF does not round its clock


@pytest.mark.parametrize("want", GTF, ids=name_of)
def test_gtf_row_is_offered_only_with_a_front_porch(want: dict[str, str]) -> None:
    if int(want["h_front"]) > 0:
        check(formula_timing("gtf", *asked(want)), want)
        return
    with pytest.raises(ValueError, match=rf"front porch {want['h_front']}, so there is no such raster; .*child"):
        formula_timing("gtf", *asked(want))


def test_gtf_rows_without_a_front_porch() -> None:
    """As the reference table has them: 4 below nothing, 2 at nothing."""
    fronts = [int(want["h_front"]) for want in GTF]
    assert (sum(f < 0 for f in fronts), sum(f == 0 for f in fronts)) == (4, 2)


@pytest.mark.parametrize(
    ("size", "mhz", "line", "frame"),
    [  # printed over and over as examples of the formula; from memory: pixels and lines at which each part ends
        ((640, 480), "23.86", (640, 656, 720, 800), (480, 481, 484, 497)),
        ((800, 600), "38.22", (800, 832, 912, 1024), (600, 601, 604, 622)),
        ((1280, 1024), "108.88", (1280, 1360, 1496, 1712), (1024, 1025, 1028, 1060)),
    ],
)
def test_gtf_at_60_hz_as_often_printed(
    size: tuple[int, int], mhz: str, line: tuple[int, ...], frame: tuple[int, ...]
) -> None:
    row = formula_timing("gtf", *size, Fraction(60))
    ends = (row.active_px, row.h_front_px, row.h_sync_px, row.h_back_px)
    assert tuple(sum(ends[: n + 1]) for n in range(4)) == line
    ends = (row.active_lines, row.v_front_lines, row.v_sync_lines, row.v_back_lines)
    assert tuple(sum(ends[: n + 1]) for n in range(4)) == frame
    assert prints(row.pixel_clock_hz / 10**6, mhz)


@pytest.mark.parametrize("want", CVT[::7] + [w for w in GTF if int(w["h_front"]) > 0][::3], ids=name_of)
def test_row_through_the_command(want: dict[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    formula = VERSIONS[want["version"]] if "version" in want else "gtf"
    text = f"{want['h_active_req']}x{want['v_active']}@{want['refresh_req_hz']}"
    assert run(["timing", text, "--formula", formula, "--json"]) == 0
    result = json.loads(capsys.readouterr().out)["result"]
    h, v = result["h"], result["v"]
    keys = ("active", "front", "sync", "back", "total")
    assert [h[f"{k}_px"] for k in keys] == [int(want[f"h_{k}"]) for k in keys]
    assert [v[f"{k}_lines"] for k in keys] == [int(want[f"v_{k}"]) for k in keys]
    assert (h["polarity"], v["polarity"]) == (want["hsync_pol"], want["vsync_pol"])
    assert result["pixel_clock_hz"] == float(want["pixel_clock_khz"]) * 1000
    assert result["frame_rate_hz"] == pytest.approx(float(want["refresh_exact_hz"]), abs=1e-6)
    assert result["formula"] == formula
    assert result["cautions"]
