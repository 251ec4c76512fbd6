"""The board's files reviewed from the page: findings with drawings, a prototype's sheets, both looks and widths."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from board_sets import good
from page_checks import SMALL, axe

from demo_board import toolpaths
from demo_board.mistakes import MISTAKES
from demo_board.planting import carried_out

pytestmark = pytest.mark.needs_tool("chromium")
ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = (ROOT / "examples/deep-station/final.toml").read_text(encoding="utf-8")


def laid(opened: Callable, text: str, files: dict[str, bytes], **beside: str):  # type: ignore[no-untyped-def, type-arg]
    """A dossier opened with files in the folder it names."""
    one = opened(text)
    for name, data in files.items():
        place = one.path.parent / "fab/rev-b" / name
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(data)
    for name, words in beside.items():
        (one.path.parent / f"{name}.toml").write_text(words, encoding="utf-8")
    return one


def sound(page, url: str) -> list[str]:  # type: ignore[no-untyped-def]
    """What is wrong with a sheet in both looks and widths, everything opened."""
    faults = []
    for width in (1440, 420):
        page.set_viewport_size({"width": width, "height": 900})
        page.emulate_media(color_scheme="light", reduced_motion="reduce")
        page.goto(url)
        page.evaluate("document.querySelectorAll('main details').forEach((e) => { e.open = true; })")
        faults += axe(page)
        small, _, over = page.evaluate(SMALL)
        faults += [*small, *([f"{over} px too wide at {width}"] if over > 0 else [])]
        page.emulate_media(color_scheme="dark")
        faults += axe(page, "color-contrast")
    return faults


def test_a_finding_is_shown_with_its_place_and_accepted(opened, view) -> None:
    board, files = good()
    planted = carried_out(next(m for m in MISTAKES if m.name == "shell-floating"), board, files)
    one, page = laid(opened, EXAMPLE, planted.files), view()
    page.goto(one.url("sheet/board"))
    assert "not reviewed yet" in page.inner_text("#heading") and "not reviewed" in page.inner_text("#banner")
    page.click("text=Review the files")
    page.wait_for_selector("text=Review the files again")
    page.wait_for_selector("#found article.c-fails")
    assert "shell-floating" in page.inner_text("#found article")
    assert page.locator("#found article svg.board-crop .mark").count() == 5
    assert "Not ready: 1 finding" in page.inner_text("#banner")
    assert "The shell" in page.inner_text("#verdicts"), "open verdicts name what is open in the files, too"
    assert sound(page, one.url("sheet/board")) == []
    page.goto(one.url("sheet/board"))
    page.click("#found summary >> text=Accept with a reason")
    page.fill("#found input[name=because]", "the inlet's case is plastic")
    page.click("#found .accept button")
    page.wait_for_selector("#found article.c-accepted")
    assert "the inlet's case is plastic" in one.text() and 'code = "board.shell-floating"' in one.text()
    assert "Nothing is open in the board's files" in page.inner_text("#banner")
    one.change("240 ohm", "249 ohm")
    page.wait_for_selector("#found >> text=Stale:")
    assert "stale" in page.inner_text("#heading h2")
    answer = page.goto(one.url("review"))
    assert "sha256-" in answer.headers["content-security-policy"] and "plastic" in page.inner_text("body")


def test_a_level_or_lane_fault_shows_what_its_display_would(opened, view) -> None:
    board, files = good()
    planted = carried_out(next(m for m in MISTAKES if m.name == "lanes-crossed"), board, files)
    one, page = laid(opened, EXAMPLE, planted.files), view()
    page.goto(one.url("sheet/board"))
    page.click("text=Review the files")
    page.wait_for_selector("#found figure.as-built", timeout=60_000)
    images = page.locator("#found figure.as-built img")
    sizes = images.evaluate_all("(all) => all.map((e) => [e.complete, e.naturalWidth, e.naturalHeight])")
    assert sizes == [[True, 320, 240]] * 2
    assert "red and blue exchanged" in (images.nth(1).get_attribute("alt") or "")
    assert page.inner_text("#found").count("red and blue exchanged") == 2, "below the pair, and at the other finding"
    assert sound(page, one.url("sheet/board")) == []
    page.set_viewport_size({"width": 420, "height": 900})
    boxes = [images.nth(at).bounding_box() for at in range(2)]
    assert boxes[0]["y"] + boxes[0]["height"] <= boxes[1]["y"], "one above the other on a telephone"
    answer = page.goto(one.url("review"))
    assert answer.status == 200 and page.locator("figure.as-built img").count() == 2
    assert page.evaluate("[...document.images].every((e) => e.complete && e.naturalWidth > 0)"), "let in by the policy"


def test_a_prototype_shows_mirror_differences_rescue_and_sheets(opened, view) -> None:
    files = dict(toolpaths.milled("flipped"))
    text = re.sub(r'\nfiles = "[^"]*"', '\nfiles = "fab/rev-b"', files.pop("prototype.toml").decode())
    one, page = laid(opened, text, files, final=EXAMPLE), view()
    page.goto(one.url("sheet/prototype"))
    page.click("text=Review the files")
    page.wait_for_selector("select[name=final]")
    page.select_option("select[name=final]", "final.toml")
    page.click("text=Review the files again")
    page.wait_for_selector("text=Held against final.toml")
    said = page.inner_text("#found")
    for words in ("comes out as its mirror image", "from the other side", "buffered", "U1", "mirrored left to right"):
        assert words in said, words
    sizes = page.evaluate("[...document.querySelectorAll('img.paper')].map((e) => [e.complete, e.naturalWidth])")
    assert len(sizes) == 2 and all(done and abs(width - 76 / 25.4 * 96) < 1 for done, width in sizes), (
        "1:1 in millimetres"
    )
    assert sound(page, one.url("sheet/prototype")) == []
    # the sheet of a board that nobody mills says so
    page.goto(one.url("sheet/board"))
    assert "Prototype" in page.inner_text("#thread .extra")
