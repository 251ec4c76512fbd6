"""The look by arithmetic: contrast of every pair that meets, in light and dark; vendored files are what they claim."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
LOOK = ROOT / "src/scanloom/report/look"
# WCAG 2.2: text 4.5 to 1 (1.4.3), parts of a drawing that carry meaning 3 to 1 (1.4.11)
TEXT = [(ink, ground) for ink in ("ink", "soft", "ok", "tight", "bad") for ground in ("sheet", "well", "desk")]
TEXT += [
    ("bad", "wash"),
    ("ink", "wash"),
    ("soft", "wash"),
    ("ink", "win"),
    ("ink", "track"),
    ("sheet", "ink"),
    ("sheet", "data"),
]
PARTS = [
    (part, "sheet")
    for part in ("data", "ink", "line", "soft", "red", "green", "blue", "bad-bar", "ok-bar", "tight-bar")
]
PARTS += [(part, "win") for part in ("data", "ink", "red", "green", "blue", "bad-bar")]
PARTS += [(part, "track") for part in ("ok-bar", "tight-bar", "bad-bar", "data", "ink")]
VENDORED = ("src/scanloom/web/static", "tests/browser/vendor")


def colours() -> dict[str, dict[str, str]]:
    """Names and values of both looks; the dark one fills in over the light one."""
    light, dark = (LOOK / "colours.css").read_text(encoding="utf-8").split("@media")
    named = [dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", part)) for part in (light, dark)]
    return {"light": named[0], "dark": named[0] | named[1]}


def luminance(colour: str) -> float:
    """Relative luminance of WCAG 2.2."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    r, g, b = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    """Contrast ratio of WCAG 2.2."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_is_that_of_the_standard() -> None:
    """Black on white is 21 to 1 by definition; #767676 on white is the usual example of just enough, 4.54 to 1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("look", ["light", "dark"])
def test_text_and_parts_stand_out(look: str) -> None:
    named = colours()[look]
    faults = [
        f"{one} on {other}: {contrast(named[one], named[other]):.2f} of {least}"
        for pairs, least in ((TEXT, 4.5), (PARTS, 3.0))
        for one, other in pairs
        if contrast(named[one], named[other]) < least
    ]
    assert faults == []


def test_drawings_use_no_colour_but_the_look_and_no_text_below_12_px() -> None:
    for name in ("drawings.css", "sheet.css"):
        text = (LOOK / name).read_text(encoding="utf-8")
        assert not re.search(r"#[0-9a-fA-F]{3,8}\b(?![^{]*\))", re.sub(r"url\(#[a-z-]+\)", "", text)), name
        assert all(float(size) >= 12 for size in re.findall(r"font(?:-size)?: (?:\d+ )?([\d.]+)px", text))
    known = set(re.findall(r"--([a-z-]+):", (LOOK / "colours.css").read_text(encoding="utf-8"))) | {"c", "b", "k"}
    used = {
        name
        for path in (*LOOK.glob("*.css"), ROOT / "src/scanloom/web/static/page.css")
        for name in re.findall(r"var\(--([a-z-]+)", path.read_text(encoding="utf-8"))
    }
    assert used <= known


@pytest.mark.parametrize("folder", VENDORED)
def test_vendored_files_are_what_they_claim(folder: str) -> None:
    place = ROOT / folder
    rows = json.loads((place / "vendor.json").read_text(encoding="utf-8"))
    assert rows
    for row in rows:
        raw = (place / row["file"]).read_bytes()
        assert hashlib.sha256(raw).hexdigest() == row["sha256"], row["file"]
        assert row["version"].encode() in raw and re.fullmatch(r"\d+\.\d+\.\d+", row["version"])
        assert row["licence"] in ("0BSD", "MPL-2.0")
        assert (place / row["licence_file"]).stat().st_size > 100
    listed = {row["file"] for row in rows} | {row["licence_file"] for row in rows} | {"vendor.json"}
    others = {path.name for path in place.iterdir() if ".min." in path.name or "LICENSE" in path.name}
    assert others <= listed
