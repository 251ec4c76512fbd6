"""Transfer lists of the later chips, expanded word by word: rows alone where hardware makes the syncs, else the raster.

How words lie in RAM is written down here again: little-endian, the first word in the lowest bits of a read. Sources:
RP2350 datasheet, section 11.1.1 (a state machine shifts a 32-bit unit out from its lowest bits) and 12.6.1 (count of
28 bits); from memory: a port of the `stm32f407` takes a byte or a half-word a write, its count has 16 bits; the
display unit of `wifi240-lcd` sends bytes or half-words in the order of their addresses, its runs are whole words of at
most 4,092 B; the display controller of the `stm32h743` fetches 32-bit words, one index of 8 bits or one pixel of 24 in
32 bits after the other, and a line of at most 8,184 B.
"""

from __future__ import annotations

import itertools
from typing import Any, NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_transfer_expander import frame_by_line, small_rasters

from scanloom.handbook.chip import Stream
from scanloom.handbook.chips import chip
from scanloom.stages.lanes import pack_words
from scanloom.stages.memory import (
    EntryRules,
    ScanShape,
    SyncBits,
    TransferList,
    WordStore,
    build_picture_list,
    build_transfer_list,
    list_builder,
    store_words,
)


class Rule(NamedTuple):
    """How a stream takes words out of RAM."""

    unit_bytes: int
    words_per_unit: int
    slot_bits: int
    stored_bits: int


def machine(lanes: int) -> Rule:
    """A state machine: as many whole words as 32 bits hold."""
    return Rule(4, 32 // lanes, lanes, lanes)


LONGEST_RUN_BYTES = {
    "rp2350a": 4 * (2**28 - 1),
    "rp2350b": 4 * (2**28 - 1),
    "wifi240-lcd": 4092,
    "stm32f407": 65_535,
    "stm32h743": 8184,
}
HARDWARE = {
    ("wifi240-lcd", "8 lanes"): Rule(4, 4, 8, 8),
    ("wifi240-lcd", "16 lanes"): Rule(4, 2, 16, 16),
    ("stm32h743", "8 bits by colour table"): Rule(4, 4, 8, 8),
    ("stm32h743", "24 lanes"): Rule(4, 1, 32, 24),
}
IN_WORD = {
    **{("rp2350a", f"{lanes} lanes"): machine(lanes) for lanes in (2, 3, 4, 5, 6, 8, 10, 16)},
    ("rp2350a", "8 lanes, fast port"): machine(8),
    ("rp2350b", "32 lanes"): machine(32),
    ("stm32f407", "8 lanes"): Rule(1, 1, 8, 8),
    ("stm32f407", "16 lanes"): Rule(2, 1, 16, 16),
}
EACH_HARDWARE = pytest.mark.parametrize(("name", "stream_name"), HARDWARE, ids=["-".join(key) for key in HARDWARE])
EACH_IN_WORD = pytest.mark.parametrize(("name", "stream_name"), IN_WORD, ids=["-".join(key) for key in IN_WORD])
PROFILE = settings.default or settings()
EXAMPLES = settings(max_examples=PROFILE.max_examples * 2 // 3)  # 40 of the profile "ci", for each stream
NO_SYNCS = [SyncBits(0, 0, *polarities) for polarities in ("++", "--")]


def stream_of(name: str, stream_name: str) -> Stream:
    return next(row for row in chip(name).table.stream if row.name == stream_name)


def rules_of(name: str, longest_bytes: int | None) -> EntryRules:
    row = chip(name).table.transfer
    assert row is not None
    assert row.longest_run_bytes == LONGEST_RUN_BYTES[name]
    return EntryRules(row.entry_bytes, longest_bytes or row.longest_run_bytes, row.allocation_bytes)


def store_of(stream: Stream) -> WordStore:
    return WordStore(stream.lanes, stream.words_per_read, stream.read_bytes)


def leaving(data: bytes, rule: Rule) -> Any:
    """Words in the order in which whole reads leave: little-endian, the first word in the lowest slot."""
    units = np.zeros((len(data) // rule.unit_bytes, 8), dtype=np.uint8)
    units[:, : rule.unit_bytes] = np.frombuffer(data, np.uint8).reshape(-1, rule.unit_bytes)
    whole = units.view("<u8").reshape(-1).astype(np.int64)
    slots = [whole >> rule.slot_bits * slot & (1 << rule.stored_bits) - 1 for slot in range(rule.words_per_unit)]
    return np.stack(slots, axis=1).reshape(-1)


def expanded(made: TransferList, stream: Stream, rule: Rule, syncs: SyncBits, rows: Any, longest_bytes: int) -> Any:
    """Words of one turn of the list, entry after entry, each of which must be whole reads inside its store."""
    ram, listed = [], rows.tolist()
    for store in made.stores:
        words = np.array(store_words(store, syncs, listed), dtype=np.uint32)
        ram.append(pack_words(words, stream).tobytes())
        assert len(ram[-1]) * rule.words_per_unit == len(words) * rule.unit_bytes
    sent = []
    for entry in made.entries:
        assert entry.words > 0 <= entry.store
        assert entry.first_word % rule.words_per_unit == 0 == entry.words % rule.words_per_unit
        start, size = (n // rule.words_per_unit * rule.unit_bytes for n in (entry.first_word, entry.words))
        assert size <= longest_bytes, f"{entry} sends {size} bytes, {longest_bytes} are the most"
        assert 0 <= start <= start + size <= len(ram[entry.store]), f"{entry} leaves its store"
        sent.append(leaving(ram[entry.store][start : start + size], rule))
    return np.concatenate(sent) if sent else np.zeros(0, dtype=np.int64)


def colours(s: ScanShape, bits: int, seed: int) -> Any:
    """Random words of every bit, row by row; the last word of the picture has all bits set."""
    rows = np.random.default_rng(seed).integers(0, 1 << bits, (s.picture_rows, s.picture_px), dtype=np.int64)
    if rows.size:
        rows[-1, -1] = (1 << bits) - 1
    return rows


# --- syncs made by hardware


def check_rows(name: str, stream_name: str, s: ScanShape, seed: int, longest_bytes: int | None = None) -> TransferList:
    """The list sends every row, as often as it is repeated, in the order of the lines, and nothing else."""
    stream, rule = stream_of(name, stream_name), HARDWARE[name, stream_name]
    made = build_picture_list(s, store_of(stream), rules_of(name, longest_bytes))
    assert [store.kind for store in made.stores] == ["picture"] * s.picture_rows
    assert [store.words for store in made.stores] == [s.picture_px] * s.picture_rows
    rows = colours(s, rule.stored_bits, seed)
    lines = np.repeat(rows, s.line_repeat, axis=0).reshape(-1)
    for syncs in NO_SYNCS:
        got = expanded(made, stream, rule, syncs, rows, longest_bytes or LONGEST_RUN_BYTES[name])
        np.testing.assert_array_equal(got, lines)
    return made


@st.composite
def hardware_rasters(draw: st.DrawFn, per: int) -> ScanShape:
    """Rasters whose blank parts are as they come: counters make them, so that no read binds them."""
    rows, repeat = draw(st.sampled_from((2, 1, 3, 5, 0))), draw(st.sampled_from((1, 2, 3)))
    picture_px = per * draw(st.integers(1, 12))
    border_px, *h = draw(st.tuples(*[st.integers(0, 7)] * 4))
    border, *v = draw(st.tuples(*[st.integers(0, 3)] * 4))
    active = max(rows * repeat + border, 1)
    return ScanShape(picture_px + border_px, h[0], h[1], h[2], active, v[0], v[1], v[2], picture_px, rows, repeat)


def test_the_streams_of_both_kinds_are_all_here() -> None:
    kinds = {(name, row.name): row.sync for name in LONGEST_RUN_BYTES for row in chip(name).table.stream}
    assert {key for key, sync in kinds.items() if sync == "hardware"} == set(HARDWARE)
    # of rp2350b only the stream that rp2350a has not; one lane has no room for two syncs
    assert {key for key, sync in kinds.items() if sync == "word" and key[0] != "rp2350b"} == {
        *(key for key in IN_WORD if key[0] != "rp2350b"),
        ("rp2350a", "1 lane"),
    }
    shared = {row.name: row for row in chip("rp2350a").table.stream}
    assert {row.name: row for row in chip("rp2350b").table.stream if row.name != "32 lanes"} == shared


@EACH_HARDWARE
@EXAMPLES
@given(data=st.data(), seed=st.integers(0, 2**32 - 1))
def test_rows_are_sent_and_nothing_else(name: str, stream_name: str, data: st.DataObject, seed: int) -> None:
    stream = stream_of(name, stream_name)
    assert list_builder(stream)[0] is build_picture_list
    s = data.draw(hardware_rasters(HARDWARE[name, stream_name].words_per_unit))
    check_rows(name, stream_name, s, seed, data.draw(st.sampled_from((None, *range(4, 40))), label="longest run"))


# Line and frame of 640x480 at 60 Hz as printed (DMT ID 04h, borders folded in), divided by 4.
@EACH_HARDWARE
@pytest.mark.parametrize("repeat", [1, 4])
def test_a_frame_of_a_published_timing(name: str, stream_name: str, repeat: int) -> None:
    made = check_rows(name, stream_name, ScanShape(160, 4, 24, 12, 480, 10, 2, 33, 160, 480 // repeat, repeat), repeat)
    assert len(made.entries) == 480  # no entry for the 45 lines that show nothing


def test_long_rows_are_cut_at_the_longest_run() -> None:
    """4,096 words of 2 B: runs of 2,046, 2,046 and 4 words of at most 4,092 B."""
    made = check_rows("wifi240-lcd", "16 lanes", ScanShape(4096, 1, 1, 1, 5, 1, 1, 1, 4096, 2, 2), 1)
    assert [(e.store, e.first_word, e.words) for e in made.entries] == [
        (row, first, words) for row in (0, 0, 1, 1) for first, words in ((0, 2046), (2046, 2046), (4092, 4))
    ]


@EACH_HARDWARE
def test_a_row_that_is_no_whole_number_of_reads_is_refused(name: str, stream_name: str) -> None:
    stream, per = stream_of(name, stream_name), HARDWARE[name, stream_name].words_per_unit
    fault = list_builder(stream)[1]
    for picture_px in range(1, 3 * per + 1):
        s = ScanShape(3 * per, 3, 2, 1, 4, 1, 1, 1, picture_px, 2, 2)
        assert (fault(s, store_of(stream)) is None) == (picture_px % per == 0)
        if picture_px % per:
            with pytest.raises(ValueError, match="whole reads"):
                build_picture_list(s, store_of(stream), rules_of(name, None))
        else:
            check_rows(name, stream_name, s, picture_px)


@EACH_HARDWARE
def test_stored_words_fit_the_lanes_or_the_table(name: str, stream_name: str) -> None:
    """An index has to lie below the entries of the table, whatever the lanes behind it; 256 of 8 bits."""
    stream, rule = stream_of(name, stream_name), HARDWARE[name, stream_name]
    assert stream.table == (256 if stream_name == "8 bits by colour table" else None)
    assert stream.table in (None, 1 << rule.stored_bits)
    most = np.full(rule.words_per_unit, (1 << rule.stored_bits) - 1, dtype=np.uint32)
    assert leaving(pack_words(most, stream).tobytes(), rule).tolist() == most.tolist()
    with pytest.raises(ValueError, match="does not fit"):
        pack_words(most + 1, stream)


# --- syncs in the word


def check_frame(name: str, stream_name: str, s: ScanShape, lanes: tuple[int, ...], polarities: str, seed: int,
                longest_bytes: int | None = None) -> None:  # fmt: skip
    """The list sends the whole raster: syncs in the first two of the lanes, random colours in the others."""
    stream, rule = stream_of(name, stream_name), IN_WORD[name, stream_name]
    made = build_transfer_list(s, store_of(stream), rules_of(name, longest_bytes))
    h_lane, v_lane, *colour_lanes = lanes
    rows = colours(s, len(colour_lanes), seed)
    rows = sum(((rows >> bit & 1) << lane for bit, lane in enumerate(colour_lanes)), start=0 * rows)
    h_inside, v_inside, number = frame_by_line(s).astype(np.int64)
    h_high, v_high = h_inside == (polarities[0] == "+"), v_inside == (polarities[1] == "+")
    syncs = h_high.astype(np.int64) << h_lane | v_high.astype(np.int64) << v_lane
    syncs_at = SyncBits(1 << h_lane, 1 << v_lane, *polarities)
    got = expanded(made, stream, rule, syncs_at, rows, longest_bytes or LONGEST_RUN_BYTES[name])
    np.testing.assert_array_equal(got, syncs | np.concatenate([[0], rows.reshape(-1)])[number])


@EACH_IN_WORD
@EXAMPLES
@given(data=st.data(), seed=st.integers(0, 2**32 - 1))
def test_small_rasters_are_sent_word_for_word(name: str, stream_name: str, data: st.DataObject, seed: int) -> None:
    stream, rule = stream_of(name, stream_name), IN_WORD[name, stream_name]
    assert list_builder(stream)[0] is build_transfer_list
    s = data.draw(small_rasters(rule.words_per_unit))
    runs = (None, *range(rule.unit_bytes, 9 * rule.unit_bytes))
    lanes = data.draw(st.permutations(range(stream.lanes)).map(tuple), label="lanes")
    polarities = data.draw(st.sampled_from(("++", "+-", "-+", "--")))
    check_frame(name, stream_name, s, lanes, polarities, seed, data.draw(st.sampled_from(runs), label="longest run"))


@EACH_IN_WORD
@pytest.mark.parametrize("polarities", ["--", "+-"])
def test_a_frame_whose_parts_are_whole_reads_of_every_stream(name: str, stream_name: str, polarities: str) -> None:
    """240 words of picture and 240 beside it: 240 is a multiple of the words of every read, 1 to 16."""
    lanes = stream_of(name, stream_name).lanes
    assert 240 % IN_WORD[name, stream_name].words_per_unit == 0
    s = ScanShape(253, 33, 97, 97, 211, 9, 3, 17, 240, 100, 2)
    check_frame(name, stream_name, s, (lanes - 1, lanes - 2, *range(lanes - 2)), polarities, 1)


def test_lines_longer_than_one_run_of_the_timer() -> None:
    """A line of 70,000 bytes is more than the 65,535 items of one run, in the picture and beside it."""
    shape = ScanShape(70_003, 17, 70_000, 0, 4, 1, 2, 1, 70_000, 2, 2)
    for stream_name, polarities in itertools.product(("8 lanes", "16 lanes"), ("+-", "-+")):
        lanes = stream_of("stm32f407", stream_name).lanes
        check_frame("stm32f407", stream_name, shape, tuple(range(lanes)), polarities, 3)
