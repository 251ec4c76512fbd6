"""`scanloom timing --formula`: exit codes, one shape, the cautions in text and JSON."""

from __future__ import annotations

import json
from typing import Any

import jsonschema
import pytest

from scanloom.cli.app import run
from scanloom.report.schemas import schema_of

REFUSED = [  # what is typed, and what the message must name
    (("0x600@60", "--formula", "cvt"), ("0x600@60", "8 to 16384 pixels", "1000x600")),
    (("1000x0@60", "--formula", "cvt-rb2"), ("1000x0@60", "1 to 16384 lines", "1000x600")),
    (("99999x600@60", "--formula", "gtf"), ("99999x600@60", "16384 pixels", "1000x600")),
    (("1000x600@0", "--formula", "cvt"), ("1000x600@0", "1 to 1000 frames", "such as 60")),
    (("1000x600@9999", "--formula", "cvt"), ("1000x600@9999", "1 to 1000 frames", "such as 60")),
    (("1000x600", "--formula", "cvt"), ("'1000x600'", "1000x600@60 is allowed", "write the size")),
    (("dmt:0x09", "--formula", "cvt"), ("'dmt:0x09'", "1000x600@60 is allowed", "leave the formula out")),
    (("1000x600@60,5", "--formula", "cvt"), ("'1000x600@60,5'", "1000x600@60 is allowed", "write the size")),
    (("320x200@60", "--formula", "gtf"), ("front porch -16", "1 or more are allowed", 'parent = "640x480@60"')),
    (("640x360@60", "--formula", "gtf"), ("front porch 0", "1 or more are allowed", "a child of a standard parent")),
    (("1000x600@60 by cvt3",), ("'cvt3'", "cvt, cvt-rb1, cvt-rb2, gtf are allowed", "choose one")),
    (("1000x600@60 by cvt", "--formula", "cvt"), ("'1000x600@60 by cvt'", "1000x600@60 is allowed", "write the size")),
]


def asked(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    assert run(["timing", *words, "--json"]) == 0
    answer: dict[str, Any] = json.loads(capsys.readouterr().out)
    jsonschema.validate(answer, schema_of("timing"))
    result: dict[str, Any] = answer["result"]
    return result


@pytest.mark.parametrize(("words", "named"), REFUSED, ids=lambda value: " ".join(value))
def test_what_makes_no_raster_is_2(
    words: tuple[str, ...], named: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["timing", *words]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("NAME: ") and all(word in err for word in named), err
    assert run(["timing", *words, "--json"]) == 2
    answer = json.loads(capsys.readouterr().out)
    jsonschema.validate(answer, schema_of("timing"))
    (error,) = answer["errors"]
    assert (answer["result"], error["path"]) == (None, "NAME")
    assert all(word in error["text"] for word in named)


def test_an_unknown_formula_is_2_and_names_the_known_ones(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["timing", "1000x600@60", "--formula", "cvt3"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert all(name in err for name in ("cvt", "cvt-rb1", "cvt-rb2", "gtf"))


def test_a_listed_timing_has_no_formula_and_no_caution(capsys: pytest.CaptureFixture[str]) -> None:
    result = asked(capsys, "800x600@60")
    assert (result["formula"], result["cautions"]) == (None, [])
    assert run(["timing", "800x600@60"]) == 0
    assert "caution" not in capsys.readouterr().out


def test_a_computed_timing_says_that_no_list_holds_it(capsys: pytest.CaptureFixture[str]) -> None:
    result = asked(capsys, "1000x600@60", "--formula", "cvt")
    assert (result["parent"], result["formula"]) == ("1000x600@60 by cvt", "cvt")
    (caution,) = result["cautions"]
    assert "in no display's list" in caution
    assert result["source"].startswith("VESA Coordinated Video Timings") and "memory" in result["place"]
    assert asked(capsys, "1000x600@60 by cvt") == result  # the name it is called by is taken back
    assert run(["timing", "1000x600@60", "--formula", "cvt"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert f"caution: {caution}" in text


def test_a_small_one_names_a_child_that_the_command_can_show(capsys: pytest.CaptureFixture[str]) -> None:
    result = asked(capsys, "320x240@60", "--formula", "cvt-rb2")
    assert "use a child of a standard parent, for example" in result["cautions"][0]
    assert result["cautions"][0].endswith('parent = "640x480@60", divide = 2, repeat = 2.')
    child = asked(capsys, "640x480@60", "--divide", "2", "--repeat", "2")
    assert (child["picture_px"], child["image_rows"]) == (320, 240)


def test_rounding_and_a_missed_rate_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    result = asked(capsys, "854x480@60", "--formula", "cvt")
    assert (result["parent"], result["h"]["active_px"]) == ("848x480@60 by cvt", 848)
    assert "854 pixels are no multiple of 8, so the formula makes them 848." in result["cautions"]
    assert asked(capsys, "854x480@60", "--formula", "cvt-rb2")["h"]["active_px"] == 854
    slow = asked(capsys, "320x200@50", "--formula", "cvt")  # reference row: 46.296296 Hz
    assert any("46.296 frames a second" in sentence for sentence in slow["cautions"])


def test_one_that_a_list_holds_is_called_by_its_number(capsys: pytest.CaptureFixture[str]) -> None:
    """DMT ID 17h is CVT with full blanking, as the standard declares."""
    result = asked(capsys, "1280x768@60", "--formula", "cvt")
    assert result["parent_id"] == "0x17"
    assert "is the published timing 1280x768@60" in result["cautions"][0]
    listed = asked(capsys, "dmt:0x17")
    assert all(result[key] == listed[key] for key in ("h", "v", "pixel_clock_hz", "line_rate_hz", "frame_rate_hz"))


def test_divide_and_picture_go_with_a_formula(capsys: pytest.CaptureFixture[str]) -> None:
    words = ("1000x600@60", "--formula", "cvt", "--divide", "2", "--repeat", "2", "--picture", "480x300")
    result = asked(capsys, *words)
    assert (result["h"]["active_px"], result["borders"]) == (500, [10, 10, 0, 0])
    assert run(["timing", "1000x600@60", "--formula", "cvt", "--divide", "3"]) == 2
    assert "1000x600@60 by cvt" in capsys.readouterr().err
