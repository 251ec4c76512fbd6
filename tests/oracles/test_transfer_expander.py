"""The transfer list against a slow expander that knows the raster and the chips' word order, but not the list's maker.

One ring of the list is walked entry by entry through the packed bytes, and what leaves the pins is compared with the
words that a raster asks for. Word order and longest run are written down here again, so that the handbook's table is
checked too. Order of `wifi240`: public driver documentation of the class (sample i of 8 lanes at byte i xor 2, of 16
lanes at index i xor 1), of its 24 lanes: from memory; longest run 4,092 B: 12-bit length in whole 32-bit words. Of the
RP2040: datasheet, chapter 3 (a state machine that shifts right sends the lowest bits of a 32-bit unit first) and
section 2.5 (32-bit count of units).

Every picture word has a number, from 1 in reading order. It is spelled in the colour lanes, one digit a pass, so that
words are told apart even where a word has one colour bit; 0 is black.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scanloom.handbook.chip import Stream
from scanloom.handbook.chips import chip
from scanloom.handbook.timings import all_timings, find_timing
from scanloom.stages.lanes import pack_words
from scanloom.stages.memory import (
    EntryRules,
    ScanShape,
    SyncBits,
    TransferList,
    WordStore,
    build_transfer_list,
    store_words,
)

LONGEST_RUN_BYTES = {"rp2040": 4 * (2**32 - 1), "wifi240": 4092}
UNIT_BYTES = 4
STREAMS = [(name, row) for name in LONGEST_RUN_BYTES for row in chip(name).table.stream if row.lanes >= 2]
EACH_STREAM = pytest.mark.parametrize(("name", "stream"), STREAMS, ids=[f"{name}-{row.lanes}" for name, row in STREAMS])
MOST_WORDS = 1_400_000  # sent over all passes of one example: a frame of 1280x800 fits
EXAMPLES = settings(max_examples=settings.default.max_examples * 2 // 3)  # 40 of the profile "ci", for each stream
FRAMES = settings(max_examples=max(1, settings.default.max_examples // 12))  # 5 whole frames, for each stream


def words_per_unit(name: str, lanes: int) -> int:
    """Words of one 32-bit read."""
    return {8: 4, 16: 2, 24: 1}[lanes] if name == "wifi240" else 32 // lanes


def sent(name: str, lanes: int, data: bytes) -> Any:
    """Words in the order in which whole 32-bit units leave the pins."""
    mask = (1 << lanes) - 1
    if name == "wifi240" and lanes == 8:
        return np.frombuffer(data, "u1")[np.arange(len(data)) ^ 2].astype(np.int32)
    if name == "wifi240" and lanes == 16:
        return np.frombuffer(data, "<u2")[np.arange(len(data) // 2) ^ 1].astype(np.int32)
    units = np.frombuffer(data, "<u4")
    places = range(words_per_unit(name, lanes))
    return np.stack([units >> lanes * place & mask for place in places], axis=1).reshape(-1).astype(np.int32)


@dataclass(frozen=True)
class Pins:
    """Lanes in random places: first horizontal sync, then vertical sync, the rest colour; and both polarities."""

    places: tuple[int, ...]
    polarities: str

    @property
    def syncs(self) -> SyncBits:
        return SyncBits(1 << self.places[0], 1 << self.places[1], *self.polarities)

    def digit(self, number: Any, turn: int) -> Any:
        """Colour lanes of one pass over numbered words."""
        rest = number >> turn * len(self.places[2:])
        return sum(((rest >> bit & 1) << lane for bit, lane in enumerate(self.places[2:])), start=0 * rest)

    def sync_word(self, h: Any, v: Any) -> Any:
        """Sync lanes: a level is high inside a + pulse and outside a - pulse."""
        levels = [h == (self.polarities[0] == "+"), v == (self.polarities[1] == "+")]
        high = [level.astype(np.int32) << lane for level, lane in zip(levels, self.places, strict=False)]
        return high[0] | high[1]

    def inside(self, words: Any, which: int) -> Any:
        """Where a sync (0 horizontal, 1 vertical) is inside its pulse."""
        return (words >> self.places[which] & 1 == 1) == (self.polarities[which] == "+")

    def read_digit(self, words: Any, turn: int) -> Any:
        """What one pass says of the numbers."""
        digit = sum(((words >> lane & 1) << bit for bit, lane in enumerate(self.places[2:])), start=0 * words)
        return digit << turn * len(self.places[2:])

    def passes(self, numbers: int) -> int:
        """Passes that spell so many numbers; without colour lanes one, which spells nothing."""
        return math.ceil(numbers.bit_length() / len(self.places[2:])) or 1 if self.places[2:] else 1


def h_total(s: ScanShape) -> int:
    return s.h_sync_px + s.h_back_px + s.h_active_px + s.h_front_px


def v_total(s: ScanShape) -> int:
    return s.v_active_lines + s.v_front_lines + s.v_sync_lines + s.v_back_lines


def before_window(s: ScanShape) -> int:
    """Words from the leading edge of horizontal sync to the first of the picture's columns."""
    return s.h_sync_px + s.h_back_px + (s.h_active_px - s.picture_px) // 2


def top_border(s: ScanShape) -> int:
    return (s.v_active_lines - s.picture_rows * s.line_repeat) // 2


def frame_by_line(s: ScanShape) -> Any:
    """What the display gets, line after line: inside horizontal sync, inside vertical sync, number; array (3, word)."""
    lines = np.zeros((v_total(s), 3, h_total(s)), dtype=np.int32)
    first_sync_line = s.v_active_lines + s.v_front_lines
    for line in range(v_total(s)):
        lines[line, 0, : s.h_sync_px] = 1
        lines[line, 1, :] = first_sync_line <= line < first_sync_line + s.v_sync_lines
    line = top_border(s)
    for row in range(s.picture_rows):
        for _ in range(s.line_repeat):
            first = 1 + row * s.picture_px
            lines[line, 2, before_window(s) :][: s.picture_px] = np.arange(first, first + s.picture_px)
            line += 1
    # the ring starts with the picture's columns of line 0; what the display gets before them comes last
    return np.roll(lines.transpose(1, 0, 2).reshape(3, -1), -before_window(s), axis=1)


def frame_by_word(s: ScanShape) -> list[tuple[bool, bool, int]]:
    """The same from the place of each word in time, so that the expander has somebody to disagree with."""
    frame = []
    for place in range(h_total(s) * v_total(s)):
        line, at = divmod((place + before_window(s)) % (h_total(s) * v_total(s)), h_total(s))
        column, down = at - before_window(s), line - top_border(s)
        shown = 0 <= column < s.picture_px and 0 <= down < s.picture_rows * s.line_repeat
        v_sync = 0 <= line - s.v_active_lines - s.v_front_lines < s.v_sync_lines
        frame.append((at < s.h_sync_px, v_sync, 1 + down // s.line_repeat * s.picture_px + column if shown else 0))
    return frame


def can_be_aligned(s: ScanShape, name: str, lanes: int) -> bool:
    """Whether picture columns and the words between them are whole reads."""
    return s.picture_px % words_per_unit(name, lanes) == 0 == (h_total(s) - s.picture_px) % words_per_unit(name, lanes)


def made_list(s: ScanShape, name: str, stream: Stream, longest_bytes: int | None = None) -> TransferList:
    row = chip(name).table.transfer
    assert row is not None
    rules = EntryRules(row.entry_bytes, longest_bytes or row.longest_run_bytes, row.allocation_bytes)
    return build_transfer_list(s, WordStore(stream.lanes, stream.words_per_read, stream.read_bytes), rules)


def ring(made: TransferList, name: str, stream: Stream, pins: Pins, rows: list[list[int]], longest_bytes: int) -> Any:
    """Words of one turn of the list, as the chip takes them from the bytes in RAM."""
    per = words_per_unit(name, stream.lanes)
    stored = [np.array(store_words(store, pins.syncs, rows), dtype=np.uint32) for store in made.stores]
    ram = [pack_words(words, stream).tobytes() for words in stored]
    assert [len(data) * per for data in ram] == [len(words) * UNIT_BYTES for words in stored]
    assert [len(data) for data in ram] == [made.word_store.size_bytes(store.words) for store in made.stores]
    parts = []
    for entry in made.entries:
        assert entry.words > 0 <= entry.store
        assert entry.first_word % per == 0 == entry.words % per, f"{entry} is no whole number of reads"
        start, size = entry.first_word // per * UNIT_BYTES, entry.words // per * UNIT_BYTES
        assert size <= longest_bytes, f"{entry} sends {size} bytes, {longest_bytes} are the most"
        assert 0 <= start <= start + size <= len(ram[entry.store]), f"{entry} leaves its store"
        parts.append(ram[entry.store][start : start + size])
    # every part is whole reads, so the order within a read is undone once for all
    return sent(name, stream.lanes, b"".join(parts))


def edges(inside: Any) -> tuple[list[int], list[int]]:
    """First words inside and first words after a pulse; the frame is a ring."""
    before = np.roll(inside, 1)
    return np.flatnonzero(inside & ~before).tolist(), np.flatnonzero(before & ~inside).tolist()


def check_list(s: ScanShape, name: str, stream: Stream, pins: Pins, longest_bytes: int | None = None) -> Any:
    """Send a frame as often as its numbers need, compare all of it; gives inside h, inside v and numbers as sent."""
    made = made_list(s, name, stream, longest_bytes)
    most = min(longest_bytes or LONGEST_RUN_BYTES[name], LONGEST_RUN_BYTES[name])
    frame = frame_by_line(s)
    pixels = s.picture_rows * s.picture_px
    syncs = pins.sync_word(frame[0] == 1, frame[1] == 1)
    spelled = np.zeros(frame.shape[1], dtype=np.int32)
    for turn in range(pins.passes(pixels)):
        colours = pins.digit(np.arange(pixels + 1, dtype=np.int32), turn)
        rows = colours[1:].reshape(s.picture_rows, s.picture_px).tolist()
        got = ring(made, name, stream, pins, rows, most)
        np.testing.assert_array_equal(got, syncs | colours[frame[2]])
        spelled += pins.read_digit(got, turn)
    h, v = pins.inside(got, 0), pins.inside(got, 1)
    total = h_total(s) * v_total(s)
    # leading and trailing edge of horizontal sync of each line, from line 0, whose own lies near the end of the ring
    leads = [(line * h_total(s) - before_window(s)) % total for line in range(v_total(s))]
    ends = [(lead + s.h_sync_px) % total for lead in leads]
    assert edges(h) == ((sorted(leads), sorted(ends)) if s.h_sync_px else ([], []))
    first = s.v_active_lines + s.v_front_lines
    after = (first + s.v_sync_lines) % v_total(s)
    assert edges(v) == (([leads[first]], [leads[after]]) if s.v_sync_lines else ([], []))
    if pins.places[2:]:
        counts = np.bincount(spelled, minlength=pixels + 1)
        assert len(counts) == pixels + 1 and (counts[1:] == s.line_repeat).all()
    return h, v, spelled


def pins_of(stream: Stream) -> st.SearchStrategy[Pins]:
    return st.builds(Pins, st.permutations(range(stream.lanes)).map(tuple), st.sampled_from(("++", "+-", "-+", "--")))


@st.composite
def small_rasters(draw: st.DrawFn, per: int) -> ScanShape:
    """Rasters of a few words and lines that whole reads allow, with any part but the active one missing."""
    rows, repeat = draw(st.sampled_from((2, 1, 3, 4, 0))), draw(st.sampled_from((1, 2, 3)))
    sync_lines = draw(st.sampled_from((1, 2, 3, 0)))
    # often no black line outside vertical sync at all, or just one
    few = st.sampled_from(((0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1)))
    border_lines, front_lines, back_lines = draw(few | st.tuples(*[st.sampled_from((1, 2, 3, 0))] * 3))
    lines = max(rows * repeat + border_lines, 1)
    picture_px = per * draw(st.sampled_from((1, 2, 3, 4, 5)))
    rest = per * draw(st.sampled_from((2, 1, 3, 4, 5, 0)))
    cuts = [0, *sorted(draw(st.integers(0, rest)) for _ in range(3)), rest]
    border, front, sync, back = (high - low for low, high in itertools.pairwise(cuts))
    line = (picture_px + border, front, sync, back)
    return ScanShape(*line, lines, front_lines, sync_lines, back_lines, picture_px, rows, repeat)


def countable(lanes: int, words: int) -> int:
    """Picture words that can be numbered by sending a frame of so many words as often as a test may."""
    return (1 << (lanes - 2) * (MOST_WORDS // words)) - 1 if lanes > 2 else MOST_WORDS // words * words


@cache
def children(name: str, lanes: int) -> tuple[tuple[tuple[int, ...], tuple[int, ...]], ...]:
    """Line and frame of each child of a published timing that fills a stream's reads and is short enough for a test."""
    found = []
    for row in all_timings():
        figures = (row.active_px, row.h_front_px, row.h_sync_px, row.h_back_px)
        frame = (row.active_lines, row.v_front_lines, row.v_sync_lines, row.v_back_lines)
        for divide in (n for n in range(1, 9) if math.gcd(*figures) % n == 0 and not row.interlaced):
            line = tuple(figure // divide for figure in figures)
            whole = sum(line) % words_per_unit(name, lanes) == 0
            if whole and line[0] <= countable(lanes, sum(line) * sum(frame)):
                found.append((line, frame))
    return tuple(found)


@st.composite
def published(draw: st.DrawFn, name: str, lanes: int) -> ScanShape:
    """A child of a published timing with a picture in it."""
    line, frame = draw(st.sampled_from(children(name, lanes)))
    per = words_per_unit(name, lanes)
    picture_px = draw(st.just(line[0] // per) | st.integers(1, line[0] // per)) * per
    repeat = draw(st.sampled_from((1, 2, 3, 4)))
    most = min(frame[0] // repeat, countable(lanes, sum(line) * sum(frame)) // picture_px)
    return ScanShape(*line, *frame, picture_px, draw(st.just(most) | st.integers(1, most)), repeat)


def test_the_streams_are_there() -> None:
    assert {("rp2040", 4), ("rp2040", 8), ("rp2040", 16), ("wifi240", 8), ("wifi240", 16), ("wifi240", 24)} <= {
        (name, stream.lanes) for name, stream in STREAMS
    }


@EACH_STREAM
@EXAMPLES
@given(data=st.data())
def test_small_rasters_are_sent_word_for_word(name: str, stream: Stream, data: st.DataObject) -> None:
    s = data.draw(small_rasters(words_per_unit(name, stream.lanes)))
    longest = data.draw(st.sampled_from((None, *range(UNIT_BYTES, 9 * UNIT_BYTES))), label="longest run")
    assert frame_by_line(s).T.tolist() == [[int(h), int(v), number] for h, v, number in frame_by_word(s)]
    check_list(s, name, stream, data.draw(pins_of(stream)), longest)


@EACH_STREAM
@FRAMES
@given(data=st.data())
def test_children_of_published_timings_are_sent_word_for_word(name: str, stream: Stream, data: st.DataObject) -> None:
    check_list(data.draw(published(name, stream.lanes)), name, stream, data.draw(pins_of(stream)))


@pytest.mark.parametrize("longest_bytes", [4, 12])
@pytest.mark.parametrize(("rows", "repeat"), [(1, 1), (1, 2), (2, 1)])
def test_every_frame_of_a_few_lines(rows: int, repeat: int, longest_bytes: int) -> None:
    # lines of 4 picture words and 2 words between them, however those 2 are shared out
    stream = next(stream for of, stream in STREAMS if (of, stream.lanes) == ("wifi240", 16))
    pins = Pins(tuple(range(16)), "+-")
    lines = itertools.product((0, 1), (0, 1), (0, 1, 2, 3), (0, 1))
    parts = [parts for parts in itertools.product(range(3), repeat=4) if sum(parts) == 2]
    for (border, *blank), (border_px, *porches) in itertools.product(lines, parts):
        s = ScanShape(4 + border_px, *porches, rows * repeat + border, *blank, 4, rows, repeat)
        check_list(s, "wifi240", stream, pins, longest_bytes)


@EACH_STREAM
def test_longer_lines_than_one_run(name: str, stream: Stream) -> None:
    # 4,320 words of picture and of the rest are whole reads on every stream (4,320 is 32 x 27 x 5)
    s = ScanShape(4323, 17, 4300, 0, 8, 2, 3, 1, 4320, 3, 2)
    check_list(s, name, stream, Pins(tuple(range(stream.lanes)), "+-"))


@EACH_STREAM
@EXAMPLES
@given(
    line=st.tuples(st.integers(1, 70), st.integers(0, 20), st.integers(1, 20), st.integers(0, 20)),
    frame=st.tuples(st.integers(1, 8), st.integers(0, 3), st.integers(1, 3), st.integers(0, 3)),
    data=st.data(),
)
def test_refused_exactly_when_reads_are_not_whole(
    name: str, stream: Stream, line: tuple[int, ...], frame: tuple[int, ...], data: st.DataObject
) -> None:
    per = words_per_unit(name, stream.lanes)
    picture_px = data.draw(st.integers(1, line[0]))
    if data.draw(st.booleans(), label="picture of whole reads") and line[0] >= per:
        picture_px = data.draw(st.integers(1, line[0] // per)) * per
    back = line[3]
    if data.draw(st.booleans(), label="the rest of whole reads"):
        back += (picture_px - sum(line)) % per
    rows = data.draw(st.integers(1, frame[0]))
    s = ScanShape(*line[:3], back, *frame, picture_px, rows, frame[0] // rows)
    if can_be_aligned(s, name, stream.lanes):
        check_list(s, name, stream, Pins(tuple(range(stream.lanes)), "--"))
    else:
        with pytest.raises(ValueError):
            made_list(s, name, stream)


# Figures of the parents as printed: 640 16 96 48, 480 10 2 33, - - (DMT ID 04h with its borders folded in) and
# 800 40 128 88, 600 1 4 23, + + (DMT ID 09h). Places below are worked out by hand: horizontal sync comes first after
# right border and front porch of line 0; vertical sync runs from line 490 or 601, less sync, back porch and border.
FIXED = {
    "640x400 in 525 lines": (
        ("640x480@60", ScanShape(640, 16, 96, 48, 480, 10, 2, 33, 640, 400, 1), "wifi240", 8, "--"),
        {"words": 420_000, "h": 656, "v": (391_856, 393_456), "first": 32_000, "last": 351_839, "picture": 256_000},
    ),
    "320x240, divided by 2, rows sent twice": (
        ("640x480@60", ScanShape(320, 8, 48, 24, 480, 10, 2, 33, 320, 240, 2), "wifi240", 16, "--"),
        {"words": 210_000, "h": 328, "v": (195_928, 196_728), "first": 0, "last": 191_919, "picture": 153_600},
    ),
    "400x300, divided by 2, rows sent twice": (
        ("800x600@60", ScanShape(400, 20, 64, 44, 600, 1, 4, 23, 400, 300, 2), "rp2040", 8, "++"),
        {"words": 331_584, "h": 420, "v": (317_220, 319_332), "first": 0, "last": 316_671, "picture": 240_000},
    ),
}


@pytest.mark.parametrize("case", FIXED)
def test_known_frames(case: str) -> None:
    (parent, s, name, lanes, polarities), places = FIXED[case]
    row = find_timing(parent)
    assert (h_total(s) * (row.active_px // s.h_active_px), v_total(s)) == (row.h_total_px, row.v_total_lines)
    assert row.h_polarity + row.v_polarity == polarities
    stream = next(stream for of, stream in STREAMS if (of, stream.lanes) == (name, lanes))
    # syncs in the two highest bits of the word
    h, v, numbers = check_list(s, name, stream, Pins((lanes - 2, lanes - 1, *range(lanes - 2)), polarities))
    (v_lead,), (v_end,) = edges(v)
    h_leads, _ = edges(h)
    shown = np.flatnonzero(numbers)
    assert {"words": len(h), "h": h_leads[0], "v": (v_lead, v_end)} == {key: places[key] for key in ("words", "h", "v")}
    assert (shown[0], shown[-1], len(shown)) == (places["first"], places["last"], places["picture"])
    assert v_lead in h_leads and v_end in h_leads
