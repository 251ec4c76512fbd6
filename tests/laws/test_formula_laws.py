"""Laws of computed timings."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from scanloom.handbook.formulas import FORMULAS, formula_named
from scanloom.handbook.timing_row import FormulaName, TimingRow
from scanloom.handbook.timings import find_timing
from scanloom.stages.timing import (
    asked_timing,
    child_raster,
    formula_cautions,
    formula_row,
    formula_timing,
    image_window,
    timing_named,
)
from scanloom.stages.timing.formula_words import is_small

names = st.sampled_from(FORMULAS)
rates = st.one_of(st.integers(1, 1000).map(Fraction), st.decimals(1, 1000, places=3).map(Fraction))
sizes = st.tuples(st.integers(8, 16384), st.integers(1, 16384))


def row_of(name: FormulaName, size: tuple[int, int], rate: Fraction) -> TimingRow:
    return formula_row(formula_named(name), *size, rate)


def timing_of(name: FormulaName, size: tuple[int, int], rate: Fraction) -> TimingRow | None:
    try:
        return formula_timing(name, *size, rate)
    except ValueError:
        return None


@given(names, sizes, rates)
def test_parts_make_the_totals(name: FormulaName, size: tuple[int, int], rate: Fraction) -> None:
    row = row_of(name, size, rate)
    assert row.h_total_px == row.active_px + row.h_front_px + row.h_sync_px + row.h_back_px
    assert row.v_total_lines == row.active_lines + row.v_front_lines + row.v_sync_lines + row.v_back_lines
    assert row.active_lines == size[1]


@given(names, sizes, rates)
def test_what_is_offered_is_a_raster(name: FormulaName, size: tuple[int, int], rate: Fraction) -> None:
    """Every figure positive, totals above the active part: the raster can be made, whole and with a picture in it."""
    row = timing_of(name, size, rate)
    made = row_of(name, size, rate)
    if row is None:
        assert min(made.h_front_px, made.h_sync_px, made.h_back_px, made.v_back_lines, int(made.pixel_clock_hz)) <= 0
        return
    assert row == made
    assert row.h_total_px > row.active_px and row.v_total_lines > row.active_lines
    raster = child_raster(row, 1)
    assert raster.h.front_px > 0 and raster.formula == name
    assert not image_window(raster, None, 1).has_border


@given(names, sizes, rates)
def test_width_moves_by_less_than_a_cell(name: FormulaName, size: tuple[int, int], rate: Fraction) -> None:
    """CVT rounds down to 8 pixels, reduced blanking 2 not at all, GTF to the nearest 8; what was rounded is told."""
    row, cell = row_of(name, size, rate), 1 if name == "cvt-rb2" else 8
    below, above = (4, 4) if name == "gtf" else (cell - 1, 0)
    assert row.active_px % cell == 0 and -below <= row.active_px - size[0] <= above
    told = [s for s in formula_cautions(row, size[0]) if "multiple" in s]
    assert bool(told) == (row.active_px != size[0])
    assert row_of(name, (row.active_px, size[1]), rate) == row


@given(names, sizes, rates)
def test_clock_is_whole_steps_and_the_rate_never_above_the_asked_one(
    name: FormulaName, size: tuple[int, int], rate: Fraction
) -> None:
    """One step of the clock is all that reduced blanking loses; full blanking also rounds lines up; GTF loses nothing."""
    row, step = row_of(name, size, rate), {"cvt": 250_000, "cvt-rb1": 250_000, "cvt-rb2": 1000}.get(name)
    if step is None:
        assert row.frame_rate_hz == rate
        return
    assert row.pixel_clock_hz % step == 0
    assert row.frame_rate_hz <= rate
    if name != "cvt":
        assert rate - row.frame_rate_hz < Fraction(step, row.h_total_px * row.v_total_lines)


@given(names, st.tuples(st.integers(640, 4096), st.integers(480, 2160)), st.integers(50, 120).map(Fraction))
def test_full_blanking_misses_by_a_line_and_a_step(name: FormulaName, size: tuple[int, int], rate: Fraction) -> None:
    """From 640x480 on and 50 Hz on: a step of 19 MHz is 1.3 %, a line and the least back porch the rest, 2.5 % in all."""
    row = row_of(name, size, rate)
    assert rate * Fraction(975, 1000) <= row.frame_rate_hz <= rate


@given(names, sizes, rates)
def test_name_leads_back_to_the_timing(name: FormulaName, size: tuple[int, int], rate: Fraction) -> None:
    row = timing_of(name, size, rate)
    if row is not None:
        assert timing_named(row.name) == row
        assert asked_timing(row.name.partition(" by ")[0]) == (row.active_px, row.active_lines, rate)


@settings(max_examples=200)
@given(names, st.tuples(st.integers(16, 1100), st.integers(16, 800)), st.integers(40, 130).map(Fraction))
def test_child_that_a_small_timing_is_sent_to_can_be_made(
    name: FormulaName, size: tuple[int, int], rate: Fraction
) -> None:
    """The parent, divide, repeat and picture of the caution are a real child that holds the picture."""
    row = row_of(name, size, rate)
    try:
        words = formula_cautions(formula_timing(name, *size, rate))[0]
    except ValueError as refusal:
        words = str(refusal)
        assert "no such raster" in words
    else:
        assert words.startswith("Never compute a timing below about 640x480") == is_small(row)
        if not is_small(row):
            return
    keys = dict(pair.split(" = ") for pair in words.partition("for example ")[2].rstrip(".").split(", "))
    parent = find_timing(keys["parent"].strip('"'))
    times = int(keys.get("divide", "1"))
    assert keys.get("repeat", "1") == keys.get("divide", "1")
    raster = child_raster(parent, times)
    wanted = (row.active_px, row.active_lines)
    picture = keys.get("picture", "").strip('"')
    assert picture in ("", f"{wanted[0]}x{wanted[1]}")
    window = image_window(raster, wanted if picture else None, times)
    assert (window.picture_px, window.image_rows) == wanted
    assert parent.interlaced is False
