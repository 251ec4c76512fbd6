"""Laws of parents, children and windows."""

from fractions import Fraction

from hypothesis import assume, given
from hypothesis import strategies as st

from scanloom.handbook.timings import TimingRow, all_timings, find_timing
from scanloom.stages.timing.model import RasterTiming
from scanloom.stages.timing.raster import child_raster, exact_divisors, image_window, raster_at_clock

rows = st.sampled_from(all_timings())


@st.composite
def children(draw: st.DrawFn) -> tuple[TimingRow, RasterTiming]:
    row = draw(rows)
    return row, child_raster(row, draw(st.sampled_from(exact_divisors(row))))


@given(children())
def test_display_sees_the_parents_line_frame_sync_and_polarity(pair: tuple[TimingRow, RasterTiming]) -> None:
    row, child = pair
    assert child.line_rate_hz == row.line_rate_hz == child.pixel_clock_hz / child.h.total_px
    assert child.frame_rate_hz == row.frame_rate_hz
    assert Fraction(child.h.sync_px) / child.pixel_clock_hz == Fraction(row.h_sync_px) / row.pixel_clock_hz
    assert (child.h.polarity, child.v.polarity) == (row.h_polarity, row.v_polarity)
    assert (child.v.sync_lines, child.v.total_lines) == (row.v_sync_lines, row.v_total_lines)


@given(children())
def test_child_times_its_divisor_is_the_parent(pair: tuple[TimingRow, RasterTiming]) -> None:
    row, child = pair
    k, h = child.divide, child.h
    whole = (k * h.active_px, k * h.front_px, k * h.sync_px, k * h.back_px, k * h.total_px, k * child.pixel_clock_hz)
    assert whole == (row.active_px, row.h_front_px, row.h_sync_px, row.h_back_px, row.h_total_px, row.pixel_clock_hz)
    assert h.active_px + h.front_px + h.sync_px + h.back_px == h.total_px


@given(rows, st.integers(1, 400))
def test_divisor_is_taken_exactly_when_it_is_listed(row: TimingRow, divide: int) -> None:
    try:
        child_raster(row, divide)
    except ValueError:
        assert divide not in exact_divisors(row)
    else:
        assert divide in exact_divisors(row)


@given(children(), st.data())
def test_borders_and_picture_make_the_active_area(pair: tuple[TimingRow, RasterTiming], data: st.DataObject) -> None:
    _, child = pair
    repeat = data.draw(st.integers(1, child.v.active_lines))
    px = data.draw(st.integers(1, child.h.active_px))
    image_rows = data.draw(st.integers(1, child.v.active_lines // repeat))
    window = image_window(child, (px, image_rows), repeat)
    assert window.left_px + window.picture_px + window.right_px == child.h.active_px
    assert window.top_lines + image_rows * repeat + window.bottom_lines == child.v.active_lines
    assert window.right_px - window.left_px in (0, 1)
    assert window.bottom_lines - window.top_lines in (0, 1)


@given(children(), st.integers(1, 20))
def test_picture_that_fills_the_area_has_no_border(pair: tuple[TimingRow, RasterTiming], repeat: int) -> None:
    _, child = pair
    assume(child.v.active_lines % repeat == 0)
    window = image_window(child, None, repeat)
    assert not window.has_border
    assert window == image_window(child, (child.h.active_px, child.v.active_lines // repeat), repeat)


@given(children(), st.fractions(min_value=Fraction(1, 2), max_value=2))
def test_rates_move_with_the_clock(pair: tuple[TimingRow, RasterTiming], factor: Fraction) -> None:
    _, child = pair
    made = raster_at_clock(child, child.pixel_clock_hz * factor)
    assert made.line_rate_hz == child.line_rate_hz * factor
    assert made.frame_rate_hz == child.frame_rate_hz * factor


@given(rows)
def test_row_answers_to_each_of_its_names(row: TimingRow) -> None:
    for name in row.names:
        found = find_timing(name)
        assert found == row or (row.kind == "legacy" and found.kind == "dmt" and name == row.name)
    assert find_timing(row.names[-1]) == row
