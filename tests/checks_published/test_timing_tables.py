"""Every published timing comes out of the tables and the child rule as printed.

Sources: VESA Display Monitor Timing standard 1.0 revision 13 and older timings (see the heads of the files in data);
preset timing table in the manual of a 22-inch monitor; register values of the standard display adapter modes.
"""

import csv
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from scanloom.handbook.timings import TimingRow, all_timings, find_timing
from scanloom.stages.timing.raster import child_raster, image_window, rate_family_height

DATA = Path(__file__).parent / "data"


def published(name: str) -> list[dict[str, str]]:
    lines = (DATA / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


DMT = published("dmt.csv")
LEGACY = published("legacy.csv")


def prints(exact: Fraction, printed: str) -> bool:
    """Whether a number rounds to the printed one."""
    digits = len(printed.partition(".")[2])
    return abs(exact - Fraction(printed)) <= Fraction(1, 2 * 10**digits)


def test_tables_hold_all_published_rows_and_no_other() -> None:
    assert len(DMT) == 88
    assert [row.id for row in all_timings() if row.kind == "dmt"] == [row["id"] for row in DMT]
    parents = [row["mode"] for row in LEGACY if row["kind"] == "legacy parent"]
    assert [row.id for row in all_timings() if row.kind == "legacy"] == parents
    assert len(parents) == 6
    assert len(LEGACY) == 29


@pytest.mark.parametrize("want", DMT, ids=lambda row: row["id"])
def test_dmt_row(want: dict[str, str]) -> None:
    row = find_timing(f"dmt:{want['id']}")
    assert row.id == want["id"]
    figures = {
        "h_active": row.active_px,
        "v_active": row.active_lines,
        "h_front": row.h_front_px,
        "h_sync": row.h_sync_px,
        "h_back": row.h_back_px,
        "h_border": row.h_border_px,
        "h_total": row.h_total_px,
        "v_front": row.v_front_lines,
        "v_sync": row.v_sync_lines,
        "v_back": row.v_back_lines,
        "v_border": row.v_border_lines,
        "v_total": row.v_total_lines,
    }
    assert figures == {name: int(want[name]) for name in figures}
    assert row.nominal_hz == Fraction(want["refresh_nominal_hz"])
    assert row.pixel_clock_hz == 1000 * Fraction(want["pixel_clock_khz"])
    assert (row.h_polarity, row.v_polarity) == (want["hsync_pol"], want["vsync_pol"])
    assert row.reduced_blanking == want["reduced_blanking"]
    assert (row.formula == "cvt") == (want["cvt_formula"] == "1")
    assert row.interlaced == (want["interlace"] == "1")
    assert (row.edid_standard, row.edid_cvt) == (want["edid_std_id"], want["edid_cvt_id"])
    assert ("one transcription" in row.place) == (want["two_source_agree"] == "0")
    assert prints(row.frame_rate_hz, want["refresh_exact_hz"])
    assert prints(row.line_rate_hz / 1000, want["line_khz"])


@pytest.mark.parametrize("want", DMT, ids=lambda row: row["id"])
def test_dmt_raster(want: dict[str, str]) -> None:
    raster = child_raster(find_timing(f"dmt:{want['id']}"), 1)
    line = (raster.h.active_px, raster.h.front_px, raster.h.sync_px, raster.h.back_px, raster.h.total_px)
    assert line == tuple(int(want[name]) for name in ("h_active", "h_front", "h_sync", "h_back", "h_total"))
    v = raster.v
    frame = (v.active_lines, v.front_lines, v.sync_lines, v.back_lines, v.total_lines)
    assert frame == tuple(int(want[name]) for name in ("v_active", "v_front", "v_sync", "v_back", "v_total"))
    assert (raster.h.polarity, raster.v.polarity) == (want["hsync_pol"], want["vsync_pol"])
    assert raster.interlaced == (want["interlace"] == "1")
    assert prints(raster.frame_rate_hz, want["refresh_exact_hz"])
    assert prints(raster.line_rate_hz / 1000, want["line_khz"])
    assert prints(raster.pixel_clock_hz / 1000, want["pixel_clock_khz"])


@pytest.mark.parametrize("want", DMT, ids=lambda row: row["id"])
def test_dmt_row_is_found_by_size_and_nominal_rate(want: dict[str, str]) -> None:
    rate = want["refresh_nominal_hz"].removesuffix(".0")
    tail = ("i" if want["interlace"] == "1" else "") + ("-rb" if want["reduced_blanking"] else "")
    row = find_timing(f"{want['h_active']}x{want['v_active']}@{rate}{tail}")
    assert row.id == want["id"]


def parent_of(want: dict[str, str]) -> TimingRow:
    name = want["parent"].split(" (")[0]
    if name.startswith("dmt "):
        return find_timing(name.removeprefix("dmt ").replace("p", "@"))
    return find_timing(f"legacy:{name}")


def divide_of(want: dict[str, str]) -> int:
    return {"half": 2, "quarter": 4}.get(want["kind"].split()[0], 1)


@pytest.mark.parametrize("want", LEGACY, ids=lambda row: row["mode"])
def test_legacy_parent_or_child(want: dict[str, str]) -> None:
    raster = child_raster(parent_of(want), divide_of(want))
    assert raster.pixel_clock_hz == 1000 * Fraction(want["pixel_clock_khz"])
    line = (raster.h.active_px, raster.h.front_px, raster.h.sync_px, raster.h.back_px, raster.h.total_px)
    assert line == tuple(int(want[name]) for name in ("h_active", "h_front", "h_sync", "h_back", "h_total"))
    v = raster.v
    frame = (v.active_lines, v.front_lines, v.sync_lines, v.back_lines, v.total_lines)
    assert frame == tuple(int(want[name]) for name in ("lines_sent_active", "v_front", "v_sync", "v_back", "v_total"))
    assert (raster.h.polarity, raster.v.polarity) == (want["hsync_pol"], want["vsync_pol"])
    assert prints(raster.line_rate_hz / 1000, want["line_khz"])
    assert prints(raster.frame_rate_hz, want["refresh_hz"])
    window = image_window(raster, None, int(want["line_repeat"]))
    assert window.image_rows == int(want["image_rows"])
    assert (window.picture_px, window.has_border) == (int(want["h_active"]), False)
    width, _, rest = want["mode"].partition("x")
    assert (window.picture_px, window.image_rows) == (int(width), int(rest.split("@")[0]))


# Manual of a 22-inch monitor, table of preset timing modes: size, kHz, Hz, MHz, polarity H/V as printed
PRESETS = [
    ("640x350", "31.469", "70.086", "25.175", "+-"),
    ("640x480", "31.469", "59.940", "25.175", "--"),
    ("720x400", "31.469", "70.087", "28.322", "-+"),
    ("640x480", "37.861", "72.809", "31.500", "--"),
    ("640x480", "37.500", "75.000", "31.500", "--"),
    ("800x600", "35.156", "56.250", "36.000", "++"),
    ("800x600", "37.879", "60.317", "40.000", "++"),
    ("800x600", "48.077", "72.188", "50.000", "++"),
    ("800x600", "46.875", "75.000", "49.500", "++"),
    ("1024x768", "48.363", "60.004", "65.000", "--"),
    ("1024x768", "56.476", "70.069", "75.000", "--"),
    ("1024x768", "60.023", "75.029", "78.750", "++"),
    ("1152x864", "67.500", "75.000", "108.000", "++"),
    ("1280x960", "60.000", "60.000", "108.000", "++"),
    ("1280x1024", "63.981", "60.020", "108.000", "++"),
    ("1280x1024", "79.976", "75.025", "135.000", "++"),
    ("1280x800", "49.702", "59.810", "83.500", "-+"),
]


@pytest.mark.parametrize(("size", "khz", "hz", "mhz", "polarity"), PRESETS)
def test_preset_list_of_a_monitor(size: str, khz: str, hz: str, mhz: str, polarity: str) -> None:
    raster = child_raster(find_timing(f"{size}@{hz}"), 1)
    assert prints(raster.line_rate_hz / 1000, khz)
    assert prints(raster.frame_rate_hz, hz)
    assert raster.pixel_clock_hz == 10**6 * Fraction(mhz)
    assert raster.h.polarity + raster.v.polarity == polarity


@pytest.mark.parametrize("preset", PRESETS[:3], ids=lambda preset: preset[0])
def test_polarity_of_the_31_kilohertz_presets_tells_their_height(preset: tuple[str, ...]) -> None:
    height = rate_family_height(preset[4][0], preset[4][1])  # type: ignore[arg-type]
    assert height is not None
    assert height.lines == int(preset[0].partition("x")[2])
    assert height.source == "monitor-22-inch"


# Register values of the standard display adapter modes, as public display drivers carry them: miscellaneous output,
# then CRT controller registers 00, 01, 02, 03, 04, 05, 06, 07, 10, 11, 12 (hexadecimal); meaning of the bits: public
# descriptions of those registers
REGISTERS: dict[str, tuple[str, int, str]] = {
    "720x400@70": ("67 5F 4F 50 82 55 81 BF 1F 9C 8E 8F", 9, "mode 03h, 400 lines"),
    "640x350@70": ("A3 5F 4F 50 82 54 80 BF 1F 83 85 5D", 8, "mode 10h"),
    "640x480@60": ("E3 5F 4F 50 82 54 80 0B 3E EA 8C DF", 8, "mode 12h"),
    "640x400@70": ("63 5F 4F 50 82 54 80 BF 1F 9C 8E 8F", 8, "mode 13h"),
}


def adapter_figures(text: str, dots: int) -> dict[str, Any]:
    """Timing that the adapter makes of its register values."""
    misc, r00, r01, _, _, r04, r05, r06, r07, r10, r11, r12 = (int(byte, 16) for byte in text.split())

    def bits(low: int, eighth: int, ninth: int) -> int:
        return low + ((r07 >> eighth & 1) << 8) + ((r07 >> ninth & 1) << 9)

    sync_start = bits(r10, 2, 7)
    return {
        "clock_khz": {0: 25175, 1: 28322}[misc >> 2 & 3],
        "total_px": (r00 + 5) * dots,
        "active_px": (r01 + 1) * dots,
        "sync_px": (r05 - r04) % 32 * dots,
        "total_lines": bits(r06, 0, 5) + 2,
        "active_lines": bits(r12, 1, 6) + 1,
        "front_lines": sync_start - bits(r12, 1, 6) - 1,
        "sync_lines": (r11 - sync_start) % 16,
        "polarity": "+-"[misc >> 6 & 1] + "+-"[misc >> 7 & 1],
    }


@pytest.mark.parametrize("name", REGISTERS)
def test_legacy_parent_is_what_the_adapter_registers_make(name: str) -> None:
    want = adapter_figures(*REGISTERS[name][:2])
    row = find_timing(f"legacy:{name}")
    have = {
        "clock_khz": row.pixel_clock_hz / 1000,
        "total_px": row.h_total_px,
        "active_px": row.active_px,
        "sync_px": row.h_sync_px,
        "total_lines": row.v_total_lines,
        "active_lines": row.active_lines,
        "front_lines": row.v_front_lines,
        "sync_lines": row.v_sync_lines,
        "polarity": row.h_polarity + row.v_polarity,
    }
    assert have == want
