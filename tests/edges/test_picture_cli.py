"""`scanloom picture` as a script or a person meets it."""

from __future__ import annotations

import contextlib
import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from PIL import Image

from scanloom.cli.app import run
from scanloom.report.schemas import schema_of

DEMO = Path(__file__).resolve().parents[2] / "examples" / "deep-station"
FINAL, EVENING = DEMO / "final.toml", DEMO / "first-evening.toml"


def said(*arguments: str | Path) -> tuple[int, str, str]:
    """Exit code and what was printed."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = run([str(word) for word in ("picture", *arguments)])
    return code, out.getvalue(), err.getvalue()


def pixels_of(path: Path) -> Any:
    """Pixels of a PNG, shape (rows, pixels, 3)."""
    with Image.open(path) as image:
        return np.asarray(image).copy()


def document(*arguments: str | Path) -> tuple[int, dict[str, Any], list[dict[str, Any]]]:
    """Exit code, result and verdicts of a call with --json, checked by the published schema."""
    code, out, err = said(*arguments, "--json")
    assert err == ""
    envelope = json.loads(out)
    Draft202012Validator(schema_of("picture")).validate(envelope)
    return code, envelope["result"], envelope["verdicts"]


def test_all_displays_of_a_rig(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.png"
    code, result, verdicts = document(FINAL, "--rig", "two-and-four", "-o", sheet)
    assert code == 0
    assert [one["name"] for one in result["displays"]] == [
        "hero-left", "hero-right", "relay-1", "relay-2", "relay-3", "relay-4",
    ]  # fmt: skip
    for one in result["displays"]:
        assert one["locks"] is True
        assert one["why_not"] == ""
        assert 0.665 < one["white_v"] < 0.770
        assert 0.8 < one["alternating_contrast"] <= 1.0
        assert one["clipped_share"] == 0.0
        assert one["size"] == [640, 480]
        assert set(one["ghost"][0] if one["ghost"] else {"delay_px": 0, "share": 0}) == {"delay_px", "share"}
    assert {v["code"] for v in verdicts} == {"picture.locks", "picture.clipping", "picture.ghost", "picture.contrast"}
    assert result["out"] == str(sheet)
    assert result["illustration"]["recovery"] == "recovery-red"
    with Image.open(sheet) as image:
        assert image.size[0] >= 3 * 640


def test_one_display_is_written_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "one.png"
    code, out, _ = said(FINAL, "--display", "hero-left", "--test", "checker", "--only", "none", "-o", path)
    assert code == 0
    assert f"Written to {path}." in out
    pixels = pixels_of(path)
    assert pixels.shape == (480, 640, 3)
    assert sorted(np.unique(pixels).tolist()) == [0, 255]
    assert (pixels[::2, :-2:2] != pixels[::2, 2::2]).all()
    code, _, _ = said(FINAL, "--display", "hero-left", "--panel", "-o", path)
    assert pixels_of(path).shape == (768, 1024, 3)


def test_a_makers_image_is_shown(tmp_path: Path) -> None:
    image = Image.new("RGB", (64, 48), "black")
    image.paste("red", (0, 0, 32, 48))
    source, out = tmp_path / "periscope.png", tmp_path / "out.png"
    image.save(source)
    code, result, _ = document(FINAL, source, "--display", "hero-left", "--only", "none", "-o", out)
    assert code == 0
    assert result["shows"] == "periscope.png"
    pixels = pixels_of(out)
    assert (pixels[:, :300] == [255, 0, 0]).all()
    assert not pixels[:, 340:].any()


def test_effects_by_option() -> None:
    _, result, _ = document(FINAL, "--display", "relay-1", "--without", "noise", "--without", "jitter")
    assert "noise" not in result["displays"][0]["effects"]
    _, result, _ = document(FINAL, "--display", "relay-1", "--only", "cable", "--add", "double-termination")
    assert result["displays"][0]["effects"] == ["cable", "double-termination"]
    assert result["displays"][0]["white_v"] < 0.45
    _, result, _ = document(FINAL, "--display", "relay-1", "--only", "none")
    assert result["displays"][0]["effects"] == []
    assert result["displays"][0]["apart"] == {"mean": 0.0, "worst": 0, "share": 0.0}


def test_knobs_turn_what_is_assumed() -> None:
    _, result, _ = document(FINAL, "--display", "relay-1", "--knob", "full-scale=1.0V", "--knob", "total=808")
    (channel,) = result["displays"][0]["channels"]
    assert channel["converter_v"] == 1.0
    assert result["displays"][0]["apart"]["mean"] > 5.0  # another total samples every pixel elsewhere


def test_volts_under_a_loupe() -> None:
    _, result, _ = document(FINAL, "--display", "relay-1", "--test", "column", "--only", "none", "--loupe", "318,100")
    (lines,) = [result["displays"][0]["loupe"]["green"]]
    assert len(lines) == 4
    # the lit column is stored pixel 160, sampled twice at 320 and 321
    assert [round(volt, 2) > 0.6 for volt in lines[0]] == [False, False, True, True, False, False, False, False]
    code, out, _ = said(FINAL, "--display", "relay-1", "--loupe", "318,100")
    assert code == 0
    assert "relay-1.green, volts at the input" in out


def test_sizes_of_effects() -> None:
    code, result, _ = document(
        FINAL, "--display", "hero-left", "--only", "cable", "--only", "edges", "--only", "converter", "--sizes"
    )
    assert code == 0
    sizes = {one["effect"]: one for one in result["sizes"]}
    assert list(sizes) == ["edges", "cable", "converter"]
    assert sizes["cable"]["most_v"] > sizes["cable"]["mean_v"] > 0.0
    _, out, _ = said(FINAL, "--display", "hero-left", "--only", "cable", "--sizes")
    assert "display it moves most" in out


def test_a_rig_that_cannot_lock_exits_with_one() -> None:
    code, result, verdicts = document(EVENING, "--rig", "two-and-four")
    assert code == 1
    (relay,) = [one for one in result["displays"] if one["name"] == "relay-4"]
    assert relay["locks"] is False
    assert "31400 to 31600 Hz is accepted" in relay["why_not"]
    assert any(v["code"] == "picture.locks" and v["state"] == "fails" for v in verdicts)
    code, out, _ = said(EVENING, "--rig", "two-and-four")
    assert code == 1
    assert "relay-4: no lock, line rate" in " ".join(out.split())


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (
            ("--rig", "two-and-for"),
            "--rig: 'two-and-for' is no rig; two-and-four, six-one-bit are allowed; did you mean two-and-four?",
        ),
        (("--display", "hero-lift"), "did you mean hero-left?"),
        (("--without", "ghosts"), "'ghosts' is no effect; edges, cable"),
        (("--add", "double-termination", "--add", "missing-termination"), "choose one"),
        (("--knob", "recovery-tim=300ns"), "did you mean recovery-time?"),
        (("--knob", "recovery-time=fast"), "NAME=VALUE is allowed; write recovery-time="),
        (("--knob", "recovery-time"), "NAME=VALUE is allowed"),
        (("--knob", "converter-noise=many"), "'many' is no number"),
        (("--knob", "sampling-phase=1.5"), "sampling-phase below 1"),
        (("--loupe", "middle"), "write 320,120"),
        (("--loupe", "640,0"), "begin inside it"),
        (("nothing.png",), "nothing.png: no such file"),
        (("nothing.png", "--test", "bars"), "one of both is allowed"),
        (("-o", "no/such/folder/a.png"), "make its folder first"),
    ],
)
def test_one_clear_error_each(arguments: tuple[str, ...], words: str) -> None:
    code, out, err = said(FINAL, *arguments)
    assert code == 2
    assert words in err
    assert len(err.strip().splitlines()) == 1
    code, out, err = said(FINAL, *arguments, "--json")
    assert (code, err) == (2, "")
    envelope = json.loads(out)
    Draft202012Validator(schema_of("picture")).validate(envelope)
    assert len(envelope["errors"]) == 1


def test_a_plan_without_rigs_or_raster(tmp_path: Path) -> None:
    path = tmp_path / "empty.toml"
    path.write_text("[dossier]\nformat = 1\n", encoding="utf-8")
    code, _, err = said(path)
    assert code == 2
    assert "it states no rig" in err
    path.write_text(
        FINAL.read_text(encoding="utf-8").replace('stream = "16 lanes"', 'stream = "17 lanes"'), encoding="utf-8"
    )
    code, _, err = said(path)
    assert code == 2
    assert "waits on" in err


def test_output_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    path.write_bytes(b"something else")
    assert said(FINAL, "--display", "relay-1", "-o", path)[0] == 0
    assert pixels_of(path).shape == (480, 640, 3)
    assert [one.name for one in tmp_path.iterdir()] == ["a.png"]


def test_ideal_beside_what_is_shown(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    said(FINAL, "--display", "hero-right", "--ideal", "-o", path)
    assert pixels_of(path).shape[1] > 2 * 640
