"""Children, windows and names of the timing stage, ordinary cases and refusals."""

from dataclasses import asdict, replace
from fractions import Fraction

import pytest

from scanloom.handbook.timings import find_timing, known_timing
from scanloom.stages.timing.model import FrameTiming, LineTiming
from scanloom.stages.timing.raster import (
    child_raster,
    exact_divisors,
    image_window,
    raster_at_clock,
    rate_family_height,
)


def test_half_clock_child_of_the_480_line_parent() -> None:
    raster = child_raster(find_timing("640x480@60"), 2)
    assert asdict(raster.h) == {
        "active_px": 320, "front_px": 8, "sync_px": 48, "back_px": 24, "total_px": 400, "polarity": "-",
    }  # fmt: skip
    assert raster.pixel_clock_hz == Fraction(12_587_500)
    assert (raster.parent, raster.parent_id, raster.divide) == ("640x480@60", "0x04", 2)
    assert raster.line_s == pytest.approx(31.77756e-6, abs=5e-12)
    assert raster.frame_s == pytest.approx(525 * raster.line_s)
    assert raster.blank_lines == 45
    assert raster.h_sync_s == pytest.approx(3.813307e-6, abs=5e-13)
    assert raster.v_sync_s == pytest.approx(2 * raster.line_s)
    assert raster.pixel_s == pytest.approx(1 / 12.5875e6)


def test_640_by_400_at_60_is_the_480_line_parent_with_40_lines_above_and_below() -> None:
    raster = child_raster(find_timing("640x480@60"), 1)
    window = image_window(raster, (640, 400), 1)
    assert (window.left_px, window.right_px, window.top_lines, window.bottom_lines) == (0, 0, 40, 40)
    blank_s = (raster.v.total_lines - window.picture_lines) * raster.line_s
    assert blank_s == pytest.approx(3.97e-3, abs=5e-6)


def test_odd_remainder_goes_right_and_below() -> None:
    window = image_window(child_raster(find_timing("640x480@60"), 2), (301, 159), 3)
    assert (window.left_px, window.right_px) == (9, 10)
    assert (window.top_lines, window.bottom_lines) == (1, 2)
    assert window.has_border


def test_interlaced_timing_reports_the_frame_and_one_field() -> None:
    raster = child_raster(find_timing("1024x768@87i"), 1)
    v = raster.v
    assert (v.active_lines, v.front_lines, v.sync_lines, v.back_lines, v.total_lines) == (768, 0, 4, 20, 817)
    assert raster.interlaced
    assert raster.fields == 2
    assert float(raster.frame_rate_hz) == pytest.approx(86.957532, abs=5e-7)
    assert raster.frame_s == pytest.approx(2 / 86.957532)


def test_exact_divisors() -> None:
    assert exact_divisors(find_timing("640x480@60")) == (1, 2, 4, 8, 16)
    assert exact_divisors(find_timing("800x600@60")) == (1, 2, 4, 8)
    assert exact_divisors(find_timing("1366x768@60")) == (1,)


def test_uneven_divisor_names_the_figures_and_the_divisors() -> None:
    with pytest.raises(ValueError) as raised:
        child_raster(find_timing("640x480@60"), 3)
    assert str(raised.value) == (
        "divide 3: of 640x480@60, active 640, front porch 16 are not divisible by 3; "
        "1, 2, 4, 8, 16 are allowed; choose one of them, or another parent"
    )
    with pytest.raises(
        ValueError, match=r"of 1366x768@60, sync 143, back porch 213 are not divisible by 2; 1 are allowed"
    ):
        child_raster(find_timing("1366x768@60"), 2)


@pytest.mark.parametrize("divide", [0, -2])
def test_divisor_below_one_is_refused(divide: int) -> None:
    with pytest.raises(ValueError, match=f"divide {divide}: 1, 2, 4, 8, 16 are allowed for 640x480@60"):
        child_raster(find_timing("640x480@60"), divide)


def test_window_refusals_say_what_is_allowed() -> None:
    raster = child_raster(find_timing("640x480@60"), 2)
    with pytest.raises(ValueError, match=r"repeat 7: 480 active lines .* 5, 6, 8, .*\"320x68\" and leave a border"):
        image_window(raster, None, 7)
    with pytest.raises(ValueError, match="picture 321x240 with repeat 2: takes 321 pixels and 480 lines; 320 pixels"):
        image_window(raster, (321, 240), 2)
    with pytest.raises(ValueError, match=r"takes 320 pixels and 482 lines; .* that is 320x240 at this repeat"):
        image_window(raster, (320, 241), 2)
    with pytest.raises(ValueError, match="picture 0x240 with repeat 2: 1 pixel and 1 row or more are allowed"):
        image_window(raster, (0, 240), 2)
    with pytest.raises(ValueError, match="repeat 0: 1 or more lines to a row are allowed"):
        image_window(raster, None, 0)


def test_raster_at_the_clock_a_chip_makes() -> None:
    raster = child_raster(find_timing("640x480@60"), 1)
    made = raster_at_clock(raster, Fraction(25_200_000))
    assert made.frame_rate_hz == 60
    assert made.line_rate_hz == 31_500
    assert made.h == raster.h
    with pytest.raises(ValueError, match="pixel clock 0 Hz: a positive rate is allowed"):
        raster_at_clock(raster, Fraction(0))


def test_rates_that_do_not_follow_from_the_clock_are_refused() -> None:
    raster = child_raster(find_timing("640x480@60"), 1)
    with pytest.raises(ValueError, match="a clock of 25200000 Hz makes other rates than the stated"):
        replace(raster, pixel_clock_hz=Fraction(25_200_000))
    with pytest.raises(ValueError, match="its parts make 525 lines, the total says 524"):
        replace(raster, v=replace(raster.v, total_lines=524))
    with pytest.raises(ValueError, match="its parts make 800 pixels, the total says 801"):
        LineTiming(640, 16, 96, 48, 801, "-")
    with pytest.raises(ValueError, match="frame: picture 480, front porch -1"):
        FrameTiming(480, -1, 2, 33, 514, "-")


def test_family_height_is_silent_about_two_positive_polarities() -> None:
    assert rate_family_height("+", "+") is None


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("640x480@59.94", "0x04"),
        ("640x480@73", "0x05"),
        ("800x600@60.32", "0x09"),
        (" 800X600 @ 60 ", "0x09"),
        ("800×600@60", "0x09"),
        ("1280x768@60-rb", "0x16"),
        ("1280x768@60", "0x17"),
        ("1024x768@43i", "0x0F"),
        ("1024x768@86.957i", "0x0F"),
        ("1024x768@43.48i", "0x0F"),
        ("dmt:0X0f", "0x0F"),
        ("4096x2160@59.94-rb", "0x58"),
        ("4096x2160@60-rb", "0x57"),
        ("640x400@70", "640x400@70"),
        ("640x400@70.09", "640x400@70"),
        ("legacy:640x480@60", "640x480@60"),
    ],
)
def test_names(name: str, found: str) -> None:
    assert find_timing(name).id == found


def test_vesa_row_goes_before_the_legacy_one_and_says_the_same() -> None:
    vesa, legacy = find_timing("640x480@60"), find_timing("legacy:640x480@60")
    assert (vesa.kind, legacy.kind) == ("dmt", "legacy")
    same = {"id": vesa.id, "kind": vesa.kind, "source": vesa.source, "place": vesa.place}
    border = {"h_border_px": 8, "v_border_lines": 8, "edid_standard": "3140"}
    assert replace(legacy, **same, **border) == vesa  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("640x400@60", 'listed as 640x400@70, 640x400@85; .*parent = "640x480@60", picture = "640x400"'),
        ("320x240@60", 'not listed, near it .*parent = "640x480@60", divide = 2, repeat = 2'),
        ("320x200@70", 'parent = "640x400@70", divide = 2, repeat = 2'),
        ("320x200@60", 'parent = "640x480@60", divide = 2, repeat = 2, picture = "320x200"'),
        ("400x300@60", 'parent = "800x600@60", divide = 2, repeat = 2'),
        ("800x480@60", "near it are 848x480@60, 720x480@60, 640x480@60"),
        ("1600x900@60", "1600x900 is listed as 1600x900@60-rb; name 1600x900@60-rb"),
        ("1024x768@60i", "name 1024x768@60"),
        ("5000x4000@60", "near it are 4096x2160@60-rb"),
        ("legacy:800x600@60", "name 800x600@60"),
        ("dmt:0x99", "no such DMT ID; dmt:0x01 to dmt:0x58 are allowed"),
        ("640 by 480", "not a timing's name; allowed is 640x480@60"),
        ("640x480@sixty", "not a timing's name"),
        ("0x0@60", "not in the tables"),
    ],
)
def test_unknown_names_say_what_to_write(name: str, words: str) -> None:
    with pytest.raises(ValueError, match=words) as raised:
        find_timing(name)
    assert str(raised.value).startswith(f"timing {name!r}: ")


def test_known_timing_carries_its_source() -> None:
    known = known_timing("640x480@60")
    (fact,) = known.facts
    assert (fact.key, fact.origin, fact.source) == ("handbook.dmt.0x04", "standard", "vesa-dmt")
    assert fact.text == "640x480@60, 25175 kHz, 800 x 525"
    assert not fact.is_guess
    assert not known_timing("640x400@70").facts[0].is_guess
    assert known_timing("720x350@70").facts[0].is_guess  # put together from two others, printed nowhere
