"""The frame of the example dossier counted by hand, and what is beside it: block lists, second frame, windows.

Rasters: VESA Display Monitor Timing standard 1.0, ids 04h (640 x 480 at 60 Hz) and 09h (800 x 600 at 60 Hz). Free
blocks and entry rules are those of the example, chosen by the project, not published.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from scanloom.stages.memory.drawing import drawing_time, smallest_changes
from scanloom.stages.memory.model import EntryRules, ScanShape, Segment, TransferList, WordStore
from scanloom.stages.memory.placement import place
from scanloom.stages.memory.transfer import alignment_fault, build_blank_form, build_transfer_list

BYTE_WORDS = WordStore(lanes=8, words_per_read=4, read_bytes=4)
RULES = EntryRules(entry_bytes=12, longest_run_bytes=4092, overhead_bytes=8)
BLOCKS = (113_800, 110_500, 63_200, 14_000)
KEPT_BACK = 24_000
VGA_400 = ScanShape(640, 16, 96, 48, 480, 10, 2, 33, picture_px=640, picture_rows=400, line_repeat=1)
SVGA = ScanShape(800, 40, 128, 88, 600, 1, 4, 23, picture_px=800, picture_rows=600, line_repeat=1)


def built(shape: ScanShape) -> TransferList:
    return build_transfer_list(shape, BYTE_WORDS, RULES)


def test_the_list_of_the_example_is_what_the_hand_counts() -> None:
    made = built(VGA_400)
    assert made.blank_form == "one run"
    assert [store.name for store in made.stores[399:]] == ["row 399", "blank line", "vertical sync"]
    blank, sync = made.stores[400:]
    # 640 columns and 16 of front porch, the pulse, the back porch of the next line
    assert blank.segments == (
        Segment(656, False, False, None),
        Segment(96, True, False, None),
        Segment(48, False, False, None),
    )
    # the pulse, then 704 black words sent as four of 144 and one of 128: no run shorter than the 160 of every line
    assert sync.segments == (Segment(96, True, True, None), Segment(144, False, True, None))
    # 40 border lines, 400 rows and their ends, 49 lines and the front of one before vertical sync, 2 lines of 5 runs,
    # the end of the last, 33 lines of back porch
    assert len(made.entries) == 40 + 2 * 400 + 49 + 1 + 2 * 5 + 1 + 33 == 934


def test_the_example_fits_with_these_bytes() -> None:
    placed = place(built(VGA_400), BLOCKS, KEPT_BACK)
    assert placed.fits and placed.lines_missing == 0
    assert placed.picture_bytes == 400 * 640 == 256_000
    assert placed.blank_bytes == 800 + 240
    assert placed.entry_bytes == 934 * 12 == 11_208
    assert placed.overhead_bytes == (400 + 2 + 1) * 8
    assert placed.used_bytes == 256_000 + 1_040 + 11_208 + 3_224 + 24_000 == 295_472
    assert placed.free_bytes == sum(BLOCKS) - 295_472 == 6_028
    assert sum(placed.lines_per_block) == 400
    assert placed.frames_that_fit == 1


def test_ram_of_the_same_sum_in_other_blocks_does_not_fit() -> None:
    # a row takes 648 B: blocks of 18 rows and 645 B waste nearly a row each
    pieces = (30_000, *[18 * 648 + 645] * 21)
    others = (*pieces, sum(BLOCKS) - sum(pieces))
    assert sum(others) == sum(BLOCKS) and min(others) > 0
    placed = place(built(VGA_400), others, KEPT_BACK)
    assert not placed.fits and placed.lines_missing > 0
    assert all(item.block is not None for item in placed.specials)


def test_what_must_lie_whole_may_find_no_room() -> None:
    pieces = (*[20_000] * 15, sum(BLOCKS) - 300_000)
    placed = place(built(VGA_400), pieces, KEPT_BACK)
    assert not placed.fits and placed.frames_that_fit == 0
    assert placed.lines_missing == 400 and placed.left_bytes == pieces
    assert all(item.block is None for item in placed.specials)


def test_a_full_height_and_a_second_frame_do_not_fit() -> None:
    full = place(built(replace(VGA_400, picture_rows=480)), BLOCKS, KEPT_BACK)
    assert not full.fits and full.frames_that_fit == 0
    two = place(built(VGA_400), BLOCKS, KEPT_BACK, frames=2)
    assert not two.fits and two.frames_that_fit == 1
    assert two.picture_bytes == 512_000 and two.entry_bytes == 2 * 11_208 and two.blank_bytes == 1_040
    assert [item.name for item in two.specials] == ["blank line", "vertical sync", "entries", "entries 2", "keep-back"]


def test_smallest_changes_of_the_full_height() -> None:
    full = replace(VGA_400, picture_rows=480)
    lower, doubled, divided = smallest_changes(full, BYTE_WORDS, RULES, BLOCKS, KEPT_BACK)
    fits = [rows for rows in range(380, 480) if place(built(replace(full, picture_rows=rows)), BLOCKS, KEPT_BACK).fits]
    assert lower.picture_rows == max(fits) and lower.what == f"a picture of {max(fits)} rows"
    assert fits == list(range(380, max(fits) + 1))
    assert (doubled.picture_px, doubled.picture_rows, doubled.line_repeat) == (640, 240, 2)
    assert (divided.picture_px, divided.picture_rows, divided.line_repeat) == (320, 480, 1)
    assert [change.divide_doubled for change in (lower, doubled, divided)] == [False, False, True]
    assert smallest_changes(VGA_400, BYTE_WORDS, RULES, BLOCKS, KEPT_BACK) == ()


def test_drawing_windows_of_the_example() -> None:
    line_s = float(Fraction(800) / Fraction(25_175_000))
    times = drawing_time(VGA_400, line_s, 240e6)
    assert times.blank_lines == 125
    assert round(times.blank_window_s * 1e3, 2) == 3.97
    assert times.frame_rate_hz == pytest.approx(59.940476, abs=1e-6)  # as the standard prints it
    assert times.behind_beam_s == pytest.approx((525 + 398) * line_s)
    assert times.each_frame_s == pytest.approx(525 * line_s)
    assert times.line_cycles == pytest.approx(240e6 * 800 / 25.175e6)
    assert times.pixel_cycles == pytest.approx(times.line_cycles / 640)
    halved = ScanShape(320, 8, 48, 24, 480, 10, 2, 33, picture_px=320, picture_rows=240, line_repeat=2)
    twice = drawing_time(halved, line_s, 240e6)
    assert twice.row_cycles == pytest.approx(2 * times.line_cycles)
    assert twice.pixel_cycles == pytest.approx(4 * 240e6 * 800 / 25.175e6 / 640)


def test_two_runs_pay_where_blank_lines_are_few() -> None:
    # 28 blank lines, 23 of them sent whole: half of 800 black words is saved, an entry is paid for each and for the one
    # that vertical sync cuts short
    one, two = (build_blank_form(SVGA, BYTE_WORDS, RULES, form) for form in ("one run", "two runs"))
    assert one.stores[600].words - two.stores[600].words == 400
    assert len(two.entries) - len(one.entries) == 23 + 1
    assert built(SVGA).blank_form == "two runs"
    assert built(VGA_400).blank_form == "one run"


def test_a_sync_edge_inside_a_read_is_stored_as_a_mixed_read() -> None:
    uneven = replace(VGA_400, h_front_px=18, h_back_px=46)
    sync = built(uneven).stores[-1]
    # two words before the pulse of the first line, and of each line after; the last read leaves vertical sync
    assert sync.segments[0] == Segment(2, False, False, None)
    assert sync.segments[-2:] == (Segment(2, False, True, None), Segment(2, True, False, None))


def test_words_that_are_no_whole_reads_are_refused_with_a_way_out() -> None:
    narrow = replace(VGA_400, picture_px=450)
    assert alignment_fault(narrow, BYTE_WORDS) == (
        "picture of 450 words: with 8 lanes a run is whole reads of 4 words (4 B); "
        "make the picture 448 or 452 words wide"
    )
    with pytest.raises(ValueError, match="448 or 452"):
        built(narrow)
    odd = replace(VGA_400, h_back_px=46)
    with pytest.raises(ValueError, match="line of 798 words, 158 of them beside the picture"):
        built(odd)


@pytest.mark.parametrize(
    ("change", "part"),
    [
        ({"picture_px": 644}, "picture of 644 words"),
        ({"picture_rows": 481}, "481 rows"),
        ({"line_repeat": 0}, "line_repeat = 0"),
        ({"v_back_lines": -1}, "v_back_lines = -1"),
        ({"picture_px": 0}, "rows of 0 words"),
    ],
)
def test_impossible_rasters_are_refused(change: dict[str, int], part: str) -> None:
    with pytest.raises(ValueError, match=part):
        built(replace(VGA_400, **change))


def test_impossible_rules_and_blocks_are_refused() -> None:
    for rules in (
        replace(RULES, longest_run_bytes=3),
        replace(RULES, entry_bytes=0),
        replace(RULES, overhead_bytes=-1),
    ):
        with pytest.raises(ValueError, match="allowed is"):
            build_transfer_list(VGA_400, BYTE_WORDS, rules)
    with pytest.raises(ValueError, match="lanes = 0"):
        build_transfer_list(VGA_400, replace(BYTE_WORDS, lanes=0), RULES)
    made = built(VGA_400)
    for blocks, kept, frames in (((-1,), 0, 1), ((1,), -1, 1), ((1,), 0, 0)):
        with pytest.raises(ValueError, match="allowed is"):
            place(made, blocks, kept, frames)
    with pytest.raises(ValueError, match="above 0"):
        drawing_time(VGA_400, 0.0, 240e6)


def test_a_frame_without_picture_is_black_and_fits_in_its_blank_stores() -> None:
    black = built(replace(VGA_400, picture_rows=0))
    assert [store.name for store in black.stores] == ["blank line", "vertical sync"]
    assert place(black, (10_000,), 0).fits
    assert drawing_time(replace(VGA_400, picture_rows=0), 1.0, 1.0).blank_lines == 525
