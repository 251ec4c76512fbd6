"""Identification blocks read: one block for each field and each trap, blocks that are none, and any bytes at all.

Layout: VESA Enhanced EDID standard, release A, as public tables of its bytes have it; facts marked so are from memory.
"""

from __future__ import annotations

import re
from pathlib import Path

import edid_blocks as make
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanloom.dossier.edid import DetailedTiming, EdidBlock
from scanloom.dossier.identity import detailed_row, promised_names
from scanloom.formats.edid import read_edid, read_edid_file
from scanloom.formats.input_error import InputError
from scanloom.handbook.timings import all_timings, find_timing


def test_what_one_projector_publishes() -> None:
    """Its 70 Hz text timings are left out, although 31.469 kHz and 70.09 Hz lie inside its ranges."""
    block = read_edid(make.PROJECTOR)
    assert (block.version, block.digital, block.checksum_ok, block.extensions) == ((1, 3), False, True, 0)
    assert (block.separate_sync, block.composite_sync, block.green_sync) == (True, True, True)
    assert (block.white_v, block.sync_v) == (0.7, 0.3)
    assert block.ranges is not None
    assert (block.ranges.v_min_hz, block.ranges.v_max_hz) == (50, 120)
    assert (block.ranges.h_min_hz, block.ranges.h_max_hz) == (30_000, 100_000)
    assert (block.ranges.max_pixel_clock_hz, block.ranges.formula) == (170_000_000, "gtf")
    # 3F = 0011 1111: all of the first byte but 720x400@70 and @88; CF = 1100 1111: neither 832x624@75 nor 1024x768@87i
    assert block.established == tuple(
        "640x480@60 640x480@67 640x480@72 640x480@75 800x600@56 800x600@60 800x600@72 800x600@75 "
        "1024x768@60 1024x768@70 1024x768@75 1280x1024@75 1152x870@75".split()
    )
    promised = promised_names(block)
    assert not {"640x350@70", "640x400@70", "720x400@70"} & set(promised)
    assert {"640x480@60", "800x600@56", "1024x768@60", "1280x1024@75"} <= set(promised)


@pytest.mark.parametrize(
    ("bits", "name"),
    [  # bytes 35 to 37, bit 7 first
        ("800000", "720x400@70"), ("400000", "720x400@88"), ("200000", "640x480@60"), ("100000", "640x480@67"),
        ("080000", "640x480@72"), ("040000", "640x480@75"), ("020000", "800x600@56"), ("010000", "800x600@60"),
        ("008000", "800x600@72"), ("004000", "800x600@75"), ("002000", "832x624@75"), ("001000", "1024x768@87i"),
        ("000800", "1024x768@60"), ("000400", "1024x768@70"), ("000200", "1024x768@75"), ("000100", "1280x1024@75"),
        ("000080", "1152x870@75"),
    ],
)  # fmt: skip
def test_each_established_timing(bits: str, name: str) -> None:
    block = read_edid(make.base(established=bits))
    assert block.established == (name,)
    older = name in ("720x400@88", "640x480@67", "832x624@75", "1152x870@75")  # on no list of the handbook
    assert promised_names(block) == (() if older else (name,))


def test_bits_of_the_maker_are_no_timings() -> None:
    assert read_edid(make.base(established="00007f")).established == ()


@pytest.mark.parametrize(
    ("video", "levels"), [(0x08, (0.7, 0.3)), (0x28, (0.714, 0.286)), (0x48, (1.0, 0.4)), (0x68, (0.7, 0.0))]
)
def test_signal_levels(video: int, levels: tuple[float, float]) -> None:
    block = read_edid(make.base(video=video))
    assert (block.white_v, block.sync_v) == levels


@pytest.mark.parametrize(
    ("video", "syncs"),
    [(0x08, (True, False, False)), (0x04, (False, True, False)), (0x02, (False, False, True)), (0x01, (False,) * 3)],
)
def test_syncs_of_an_analogue_input(video: int, syncs: tuple[bool, bool, bool]) -> None:
    block = read_edid(make.base(video=video))
    assert (block.separate_sync, block.composite_sync, block.green_sync) == syncs
    assert not block.digital


def test_a_digital_input_has_no_levels_and_no_syncs() -> None:
    block = read_edid(make.base(video=0x8E))  # in 1.4 these bits are depth and kind of interface
    assert (block.digital, block.white_v, block.sync_v) == (True, None, None)
    assert not (block.separate_sync or block.composite_sync or block.green_sync)


@pytest.mark.parametrize(
    ("version", "cm", "mm"),
    [
        ((1, 3), (30, 23), (300, 230)),
        ((1, 3), (0, 0), (None, None)),
        ((1, 4), (79, 0), (None, None)),  # landscape, a ratio of sides (from memory)
        ((1, 4), (0, 79), (None, None)),
    ],
)
def test_size(version: tuple[int, int], cm: tuple[int, int], mm: tuple[int | None, int | None]) -> None:
    block = read_edid(make.base(version=version, size_cm=cm))
    assert (block.width_mm, block.height_mm) == mm


@pytest.mark.parametrize(
    ("pair", "name"),
    [  # the codes of the list of display monitor timings, and what is made of widths and ratios that miss
        ("3140", "640x480@60"), ("4540", "800x600@60"), ("454f", "800x600@75"), ("6140", "1024x768@60"),
        ("8180", "1280x1024@60"), ("81c0", "1280x720@60"), ("9500", "1440x900@60"), ("a940", "1600x1200@60"),
        ("d1c0", "1920x1080@60"), ("8bc0", "1360x768@60"), ("8cc0", "1366x768@60"),
    ],
)  # fmt: skip
def test_standard_timings(pair: str, name: str) -> None:
    block = read_edid(make.base(standard=[bytes.fromhex(pair)]))
    assert [timing.name for timing in block.standard] == [name]
    assert [timing.code for timing in block.standard] == [pair]
    (promised,) = promised_names(block)
    assert find_timing(promised).names[0].removesuffix("-rb") == name


def test_every_code_of_the_list_of_timings_finds_its_row() -> None:
    rows = [row for row in all_timings() if row.edid_standard]
    assert len(rows) > 30
    for row in rows:
        block = read_edid(make.base(standard=[bytes.fromhex(row.edid_standard)]))
        assert [find_timing(name) for name in promised_names(block)] == [row]


def test_a_standard_timing_that_no_list_holds_promises_nothing() -> None:
    block = read_edid(make.base(standard=[make.standard(1024, 0, 61)]))
    assert [(t.width_px, t.height_lines, t.rate_hz) for t in block.standard] == [(1024, 640, 61)]
    assert promised_names(block) == ()


def test_aspect_code_nought_was_square_before_1_3() -> None:
    pair = make.standard(1024, 0, 60)
    assert read_edid(make.base(version=(1, 2), standard=[pair])).standard[0].height_lines == 1024
    assert read_edid(make.base(version=(1, 3), standard=[pair])).standard[0].height_lines == 640


def test_unused_standard_timings_are_none() -> None:
    assert read_edid(make.base(standard=[b"\x01\x01", b"\x00\x00"])).standard == ()


def test_standard_timings_of_a_further_descriptor() -> None:
    block = read_edid(make.base(descriptors=[make.more_standard([bytes.fromhex("4540")])]))
    assert promised_names(block) == ("800x600@60",)


@pytest.mark.parametrize(
    ("part", "figures", "name"),
    [
        (make.TIMING_1024X768, (65_000_000, 1024, 320, 24, 136, 768, 38, 3, 6, "-", "-"), "1024x768@60"),
        (make.TIMING_1280X720, (74_250_000, 1280, 370, 110, 40, 720, 30, 5, 5, "+", "+"), "1280x720@60"),
        (make.TIMING_1920X1080, (148_500_000, 1920, 280, 88, 44, 1080, 45, 4, 5, "+", "+"), "1920x1080@60"),
    ],
)
def test_detailed_timings_as_others_print_them(part: bytes, figures: tuple[int | str, ...], name: str) -> None:
    block = read_edid(make.base(descriptors=[part]))
    (t,) = block.detailed
    assert (
        t.pixel_clock_hz, t.h_active_px, t.h_blank_px, t.h_offset_px, t.h_sync_px,
        t.v_active_lines, t.v_blank_lines, t.v_offset_lines, t.v_sync_lines, t.h_polarity, t.v_polarity,
    ) == figures  # fmt: skip
    row = detailed_row(t)
    assert row is not None and row.name.removesuffix("-rb") == name
    assert promised_names(block) == (row.name,)


def test_detailed_timing_of_every_progressive_row_finds_it() -> None:
    """Each row of the handbook that a block can hold, written with its border folded in, apart, and within the blanking."""
    for row in all_timings():
        small = row.active_px < 4096 and row.pixel_clock_hz < 655_350_000
        if row.interlaced or not small or row.v_front_lines >= 64 or row.h_front_px >= 1024:
            continue
        h_blank, v_blank = row.h_total_px - row.active_px, row.v_total_lines - row.active_lines
        flags = 0x18 | (4 if row.v_polarity == "+" else 0) | (2 if row.h_polarity == "+" else 0)
        clock = round(row.pixel_clock_hz / 10_000) * 10_000
        h = (row.active_px, h_blank, row.h_front_px, row.h_sync_px)
        v = (row.active_lines, v_blank, row.v_front_lines, row.v_sync_lines)
        edge = (row.h_border_px, row.v_border_lines)
        apart_h = (h[0], h[1] - 2 * edge[0], h[2] - edge[0], h[3])
        apart_v = (v[0], v[1] - 2 * edge[1], v[2] - edge[1], v[3])
        for part in (
            make.detailed(clock, h, v, flags=flags),
            make.detailed(clock, apart_h, apart_v, border=edge, flags=flags),
            make.detailed(clock, h, v, border=edge, flags=flags),
        ):
            (timing,) = read_edid(make.base(descriptors=[part])).detailed
            found = detailed_row(timing)
            assert found is not None, row.name
            # 640x480@60 stands in both tables; the rest is found itself
            assert found is row or found.name == row.name, (found.name, row.name)


OWN = ((800, 256, 40, 128), (480, 45, 10, 2))


@pytest.mark.parametrize(
    ("flags", "clock", "h"),
    [
        (0x18 | 6, 25_180_000, (640, 160, 16, 96)),  # polarity of another height
        (0x18, 25_400_000, (640, 160, 16, 96)),  # 0.9 % too fast
        (0x18, 25_180_000, (640, 168, 16, 96)),  # one cell longer
        (0x00, 25_180_000, (640, 160, 16, 96)),  # composite sync
        (0x98, 25_180_000, (640, 160, 16, 96)),  # interlaced
    ],
)
def test_a_detailed_timing_that_is_no_listed_one(flags: int, clock: int, h: tuple[int, int, int, int]) -> None:
    part = make.detailed(clock, h, (480, 45, 10, 2), flags=flags)
    block = read_edid(make.base(descriptors=[part]))
    assert detailed_row(block.detailed[0]) is None
    assert promised_names(block) == ()
    assert promised_names(
        read_edid(make.base(descriptors=[make.detailed(25_180_000, (640, 160, 16, 96), (480, 45, 10, 2))]))
    )


@pytest.mark.parametrize(("flags", "form"), [(0, "analogue composite"), (8, "bipolar composite"), (0x10, "composite")])
def test_polarity_is_only_of_separate_syncs(flags: int, form: str) -> None:
    (timing,) = read_edid(make.base(descriptors=[make.detailed(33_000_000, *OWN, flags=flags | 6)])).detailed
    assert (timing.sync, timing.h_polarity, timing.v_polarity) == (form, None, None)


@pytest.mark.parametrize(
    "part",
    [
        make.detailed(33_000_000, (800, 256, 140, 128), OWN[1]),  # sync ends after the blanking
        make.detailed(33_000_000, OWN[0], (480, 11, 10, 2)),
        make.detailed(33_000_000, (0, 256, 40, 128), OWN[1]),
        make.detailed(33_000_000, OWN[0], (480, 45, 10, 0)),
    ],
)
def test_figures_that_make_no_raster_are_passed_over(part: bytes) -> None:
    block = read_edid(make.base(descriptors=[make.DUMMY, part]))
    assert block.detailed == ()
    assert block.passed_over == ("the detailed timing in bytes 72 to 89, whose figures make no raster",)


@pytest.mark.parametrize(
    ("version", "code", "formula"),
    [
        ((1, 3), 0, "gtf"), ((1, 3), 2, "gtf-2"), ((1, 3), 1, "unknown"), ((1, 3), 4, "unknown"), ((1, 3), 9, "unknown"),
        ((1, 4), 0, "gtf"), ((1, 4), 1, "none"), ((1, 4), 2, "gtf-2"), ((1, 4), 4, "cvt"), ((1, 4), 3, "unknown"),
    ],
)  # fmt: skip
def test_formula_of_the_ranges(version: tuple[int, int], code: int, formula: str) -> None:
    block = read_edid(make.base(version=version, descriptors=[make.ranges((50, 75), (30, 60), 11, code)]))
    assert block.ranges is not None and block.ranges.formula == formula


@pytest.mark.parametrize(
    ("version", "lift", "v", "h"),
    [  # bits 1-0 for frame rates, 3-2 for line rates: 10 lifts the highest by 255, 11 both (from memory)
        ((1, 4), 0b0000, (50, 120), (30_000, 100_000)), ((1, 4), 0b0010, (50, 375), (30_000, 100_000)),
        ((1, 4), 0b0011, (305, 375), (30_000, 100_000)), ((1, 4), 0b1000, (50, 120), (30_000, 355_000)),
        ((1, 4), 0b1100, (50, 120), (285_000, 355_000)), ((1, 4), 0b0101, (50, 120), (30_000, 100_000)),
        ((1, 3), 0b1111, (50, 120), (30_000, 100_000)),
    ],
)  # fmt: skip
def test_rates_lifted_by_255(version: tuple[int, int], lift: int, v: tuple[int, int], h: tuple[int, int]) -> None:
    part = make.ranges((50, 120), (30, 100), 17, lift=lift)
    limits = read_edid(make.base(version=version, descriptors=[part])).ranges
    assert limits is not None
    assert ((limits.v_min_hz, limits.v_max_hz), (limits.h_min_hz, limits.h_max_hz)) == (v, h)


@pytest.mark.parametrize(
    ("clock", "formula", "tail", "most"),
    [
        (17, 0, bytes(7), 170_000_000),
        (0, 0, bytes(7), None),
        (17, 4, bytes((0x11, 3 << 2)), 169_250_000),  # CVT: less three steps of 0.25 MHz (from memory)
        (17, 2, bytes((0x11, 3 << 2)), 170_000_000),
    ],
)
def test_highest_pixel_clock(clock: int, formula: int, tail: bytes, most: int | None) -> None:
    part = make.ranges((50, 75), (30, 60), clock, formula, tail=tail)
    limits = read_edid(make.base(version=(1, 4), descriptors=[part])).ranges
    assert limits is not None and limits.max_pixel_clock_hz == most


@pytest.mark.parametrize(
    ("v", "h"), [((0, 0), (30, 60)), ((75, 50), (30, 60)), ((50, 75), (0, 60)), ((50, 75), (60, 30))]
)
def test_ranges_that_are_none_are_said(v: tuple[int, int], h: tuple[int, int]) -> None:
    block = read_edid(make.base(descriptors=[make.ranges(v, h, 11)]))
    assert block.ranges is not None and not (block.ranges.v_usable and block.ranges.h_usable)
    assert block.passed_over == ("range limits that start at zero or run downwards",)


def test_the_first_ranges_and_the_first_name_count() -> None:
    parts = [
        make.ranges((50, 75), (30, 60), 11),
        make.ranges((1, 2), (3, 4), 5),
        make.named("first"),
        make.named("2nd"),
    ]
    block = read_edid(make.base(descriptors=parts))
    assert block.ranges is not None
    assert (block.ranges.v_max_hz, block.name) == (75, "first")


def test_a_name_is_cut_at_its_end_and_keeps_no_control_characters() -> None:
    assert read_edid(make.base(descriptors=[make.named("desk 15")])).name == "desk 15"
    assert read_edid(make.base(descriptors=[make.named("\x1b[2J\x07 all 13.")])).name == "?[2J? all 13."


@pytest.mark.parametrize(
    ("tag", "words"), [(0xF8, "codes of CVT timings"), (0xF7, "a third table of established timings")]
)
def test_lists_that_are_not_read_are_said(tag: int, words: str) -> None:
    part = bytes((0, 0, 0, tag, 0, 1)) + bytes(12)
    assert read_edid(make.base(version=(1, 4), descriptors=[part])).passed_over == (f"{words} in bytes 54 to 71",)


def test_descriptors_without_timings_are_no_loss() -> None:
    parts = [bytes((0, 0, 0, tag, 0)) + bytes(13) for tag in (0xFF, 0xFE, 0xFB, 0x0F)]
    assert read_edid(make.base(descriptors=parts)).passed_over == ()


@pytest.mark.parametrize("version", [(1, 0), (1, 1), (1, 2), (1, 3), (1, 4), (1, 5)])
def test_versions(version: tuple[int, int]) -> None:
    block = read_edid(make.base(version=version, established="210000", descriptors=[make.TIMING_1024X768]))
    assert block.version == version
    assert promised_names(block) == ("1024x768@60", "640x480@60", "800x600@60")


def test_extensions_are_counted_and_not_read() -> None:
    extension = bytes((2, 3)) + bytes(126)
    alone = read_edid(make.base(extensions=1, established="200000"))
    behind = read_edid(make.base(extensions=1, established="200000") + extension)
    assert (alone.extensions, behind.extensions) == (1, 1)
    assert behind.checksum_ok and behind.established == alone.established
    assert behind.fingerprint != alone.fingerprint


def test_a_wrong_checksum_is_noted() -> None:
    right = make.base()
    assert read_edid(right).checksum_ok
    assert not read_edid(right[:-1] + bytes(((right[-1] + 1) % 256,))).checksum_ok
    assert not read_edid(right[:60] + b"\x55" + right[61:]).checksum_ok


@pytest.mark.parametrize(
    ("data", "given"),
    [
        (b"", "0 B, cut short"),
        (make.PROJECTOR[:127], "127 B, cut short"),
        (make.PROJECTOR + b"\0", "129 B"),
        (make.PROJECTOR + bytes(64), "192 B"),
        (bytes(128), "every byte is 00"),
        (b"\xff" * 256, "every byte is FF"),
        (make.PROJECTOR[1:] + b"\0", "begins with FF FF FF FF FF FF 00 04"),
        (b"\x01" + make.PROJECTOR[1:], "begins with 01 FF FF FF FF FF FF 00"),
        (make.PROJECTOR.hex().encode(), "hexadecimal text"),
        (make.PROJECTOR.hex(" ", 2).encode() + b"\n", "hexadecimal text"),
        (make.base(version=(2, 0)), "version 2.0"),
        (make.base(version=(0, 3)), "version 0.3"),
    ],
)
def test_what_is_no_block_is_refused_in_one_sentence(data: bytes, given: str, tmp_path: Path) -> None:
    file = tmp_path / "display.bin"
    file.write_bytes(data)
    with pytest.raises(InputError) as caught:
        read_edid_file(file, "display.bin")
    (fault,) = caught.value.faults
    assert given in fault.text
    assert fault.text.count("; ") == 2 and str(fault).startswith("display.bin: ")
    assert re.search(r"\bwanted\b|\bbegins with 00 FF\b|\bare read\b", fault.text)  # what is allowed
    assert len(str(fault).splitlines()) == 1


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    for path, words in ((tmp_path / "none.bin", "no such file"), (tmp_path, "a folder")):
        with pytest.raises(InputError) as caught:
            read_edid_file(path)
        assert words in caught.value.faults[0].text and len(caught.value.faults) == 1
    large = tmp_path / "large.bin"
    large.write_bytes(make.PROJECTOR + bytes(128 * 256))
    with pytest.raises(InputError, match="at most 32768 B"):
        read_edid_file(large)


def read_or_refuse(data: bytes) -> EdidBlock | None:
    try:
        return read_edid(data)
    except InputError as error:
        assert len(error.faults) == 1
        return None


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    read_or_refuse(data)


@given(st.binary(min_size=120, max_size=120), st.integers(0, 5), st.data())
def test_any_bytes_behind_the_header(rest: bytes, revision: int, draw: st.DataObject) -> None:
    raw = bytearray(make.HEADER + rest)
    raw[18:20] = 1, revision
    for at in (54, 72, 90, 108):  # descriptors are rare among random bytes
        if draw.draw(st.booleans()):
            raw[at : at + 4] = 0, 0, 0, draw.draw(st.sampled_from((0xFD, 0xFC, 0xFA, 0xF8, 0xF7, 0x10)))
    block = read_or_refuse(bytes(raw))
    assert block is not None
    for name in promised_names(block):
        find_timing(name)
    assert block.checksum_ok == (sum(raw) % 256 == 0)
    assert block.name.isprintable()
    for timing in block.detailed:
        assert min(timing.h_active_px, timing.v_active_lines, timing.h_sync_px, timing.v_sync_lines) >= 1


@st.composite
def timings(draw: st.DrawFn) -> DetailedTiming:
    """Any detailed timing whose sync lies inside its blanking."""

    def part(most: int, most_offset: int, most_sync: int) -> tuple[int, int, int, int]:
        active, offset, sync = (
            draw(st.integers(low, high)) for low, high in ((1, most), (0, most_offset), (1, most_sync))
        )
        return active, draw(st.integers(offset + sync, 4095)), offset, sync

    h, v = part(4095, 1023, 1023), part(4095, 63, 63)
    form = draw(st.sampled_from(("separate", "composite", "analogue composite", "bipolar composite")))
    signs = st.sampled_from(("+", "-")) if form == "separate" else st.none()
    return DetailedTiming(
        draw(st.integers(1, 65535)) * 10_000, *h, draw(st.integers(0, 255)), *v, draw(st.integers(0, 255)),
        draw(st.integers(0, 4095)), draw(st.integers(0, 4095)), draw(st.booleans()), form, draw(signs), draw(signs),
    )  # fmt: skip


FORMS = ("analogue composite", "bipolar composite", "composite", "separate")


def written(t: DetailedTiming) -> bytes:
    flags = t.interlaced << 7 | FORMS.index(t.sync) << 3 | (t.v_polarity == "+") << 2 | (t.h_polarity == "+") << 1
    return make.detailed(
        t.pixel_clock_hz,
        (t.h_active_px, t.h_blank_px, t.h_offset_px, t.h_sync_px),
        (t.v_active_lines, t.v_blank_lines, t.v_offset_lines, t.v_sync_lines),
        border=(t.h_border_px, t.v_border_lines),
        size_mm=(t.width_mm, t.height_mm),
        flags=flags,
    )


@given(st.lists(timings(), max_size=4))
def test_detailed_timings_written_and_read(wanted: list[DetailedTiming]) -> None:
    assert list(read_edid(make.base(descriptors=[written(t) for t in wanted])).detailed) == wanted


@given(
    st.sampled_from([(1, 3), (1, 4)]),
    st.integers(0, 0x7F),
    st.tuples(st.integers(1, 255), st.integers(1, 255)),
    st.binary(min_size=3, max_size=3),
    st.lists(st.tuples(st.integers(32, 286), st.integers(1, 3), st.integers(60, 123)), max_size=8),
    st.tuples(*[st.integers(0, 255)] * 5),
    st.text(st.characters(min_codepoint=33, max_codepoint=126), max_size=12),
    st.integers(0, 255),
)
def test_a_block_written_and_read(
    version: tuple[int, int],
    video: int,
    size_cm: tuple[int, int],
    bits: bytes,
    listed: list[tuple[int, int, int]],
    limits: tuple[int, int, int, int, int],
    name: str,
    extensions: int,
) -> None:
    v_min, v_max, h_min, h_max, clock = limits
    data = make.base(
        version=version,
        video=video,
        size_cm=size_cm,
        established=bits.hex(),
        standard=[make.standard(width * 8, aspect, rate) for width, aspect, rate in listed],
        descriptors=[make.ranges((v_min, v_max), (h_min, h_max), clock), make.named(name)],
        extensions=extensions,
    )
    block = read_edid(data)
    assert block.version == version and block.checksum_ok and block.extensions == extensions and block.name == name
    assert (block.separate_sync, block.composite_sync, block.green_sync) == tuple(
        bool(video & bit) for bit in (8, 4, 2)
    )
    assert (block.width_mm, block.height_mm) == (size_cm[0] * 10, size_cm[1] * 10)
    assert len(block.established) == (int.from_bytes(bits, "big") >> 7).bit_count()
    assert [t.rate_hz for t in block.standard] == [rate for _, _, rate in listed]
    shapes = {1: (4, 3), 2: (5, 4), 3: (16, 9)}
    for timing, (width, aspect, _) in zip(block.standard, listed, strict=True):
        across, down = shapes[aspect]
        if aspect == 3 and width * 8 in (1360, 1368):
            assert timing.height_lines == 768
        else:
            assert (timing.width_px, timing.height_lines) == (width * 8, width * 8 * down // across)
    found = block.ranges
    assert found is not None
    assert (found.v_min_hz, found.v_max_hz, found.h_min_hz, found.h_max_hz, found.max_pixel_clock_hz) == (
        v_min, v_max, h_min * 1000, h_max * 1000, clock * 10_000_000 or None,
    )  # fmt: skip
