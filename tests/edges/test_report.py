"""The report: one file, the same bytes, nothing from outside; what is refused; the PDF."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest

from scanloom.formats.dossier_file import read_dossier
from scanloom.report.html_report import html_report
from scanloom.report.stage_sheets import SHEETS, SheetInput
from scanloom.survey import survey_plan
from scanloom.web.desk import Desk
from scanloom.web.routes import Pages
from scanloom.web.view import address
from scanloom.web.watch import Watch

ROOT = Path(__file__).resolve().parents[2]
FINAL = ROOT / "examples/deep-station/final.toml"
FIRST = ROOT / "examples/deep-station/first-evening.toml"


def made(path: Path) -> str:
    file = read_dossier(path)
    return html_report(file, survey_plan(file.plan))


def run(*arguments: str, folder: Path = ROOT, **more: str) -> subprocess.CompletedProcess[str]:
    surroundings = os.environ | {"PYTHONPATH": str(ROOT / "src")} | more
    command = [sys.executable, "-m", "scanloom", "report", *arguments]
    return subprocess.run(command, capture_output=True, cwd=folder, env=surroundings, check=False, encoding="utf-8")


class Outline(HTMLParser):
    """What a report points at, and whether its tags balance."""

    VOID = ("wbr", "meta", "link", "br", "rect", "path", "circle")

    def __init__(self, text: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.others: list[str] = []
        self.open: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        assert "style" not in named and not any(name.startswith("on") for name in named)
        if tag not in self.VOID:
            self.open.append(tag)
        self.ids += [named["id"] or ""] if "id" in named else []
        if tag == "a":
            self.links.append(named["href"] or "")
        else:
            self.others += [named[name] or "" for name in ("src", "href") if name in named]

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element without inside."""

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


@pytest.mark.parametrize("path", [FINAL, FIRST])
def test_one_file_with_everything_inside(path: Path) -> None:
    text = made(path)
    outline = Outline(text)
    assert outline.open == []
    assert len(set(outline.ids)) == len(outline.ids)
    assert {link.removeprefix("#") for link in outline.links} <= set(outline.ids)
    assert outline.others == ["data:,"]
    assert "<script" not in text and "@import" not in text
    assert not re.search(r"https?://", text.replace("http://www.w3.org/2000/svg", ""))


def test_same_dossier_same_bytes_in_another_process() -> None:
    surroundings = {"PYTHONHASHSEED": "77", "TZ": "Pacific/Auckland", "LC_ALL": "C"}
    again = run(str(FINAL), "--to", "-", **surroundings)
    assert again.returncode == 0
    assert again.stdout == made(FINAL)


def test_every_stage_of_every_rig_facts_decisions_and_cautions_are_there() -> None:
    outline, text = Outline(made(FINAL)), made(FINAL)
    stages = ("timing", "clock", "screens", "lanes", "memory", "levels", "waking", "picture")
    assert {f"{rig}-{stage}" for rig in ("two-and-four", "six-one-bit") for stage in stages} <= set(outline.ids)
    assert {"open", "facts", "decisions", "cautions"} <= set(outline.ids)
    assert text.index('id="open"') < text.index('id="rig-two-and-four"') < text.index('id="facts"')
    assert "the levels were measured with it" in text  # a decision's reason
    assert re.search(r"local codes", text)
    assert "safe" not in re.findall(r"\w+", text.split('id="cautions"')[1].lower())


def test_other_files_are_not_written_over(tmp_path: Path) -> None:
    mine = tmp_path / "mine.html"
    mine.write_text("my own page", encoding="utf-8")
    done = run(str(FINAL), "--to", str(mine))
    assert done.returncode == 2 and "is no report" in done.stderr
    assert mine.read_text(encoding="utf-8") == "my own page"
    fresh = tmp_path / "report.html"
    assert run(str(FINAL), "--to", str(fresh)).returncode == 0
    assert run(str(FIRST), "--to", str(fresh)).returncode == 0, "a report may be written over"
    assert fresh.read_text(encoding="utf-8") == made(FIRST)


def test_broken_dossier_gives_the_readers_list(tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text('[dossier]\nformat = 1\n[chip]\nrail = "3,3 V"\n', encoding="utf-8")
    done = run(str(bad))
    assert done.returncode == 2 and "bad.toml:4:8: chip.rail" in done.stderr
    assert list(tmp_path.iterdir()) == [bad]


def test_without_a_browser_the_html_stays_and_the_reason_is_told(tmp_path: Path) -> None:
    target = tmp_path / "r.html"
    done = run(str(FINAL), "--to", str(target), "--pdf", PATH=str(tmp_path))
    assert done.returncode == 2
    assert "no browser of the Chromium family is installed" in done.stderr and str(target) in done.stderr
    assert target.is_file()
    done = run(str(FINAL), "--to", str(target), "--pdf", "--browser", "/bin/true")
    assert done.returncode == 2 and "printed nothing" in done.stderr


def test_pdf_is_printed_on_a4(tmp_path: Path, require_tool: Callable[[str], str]) -> None:
    require_tool("chromium")
    target = tmp_path / "r.html"
    done = run(str(FINAL), "--to", str(target), "--pdf", "--json")
    assert done.returncode == 0, done.stderr
    pdf = Path(json.loads(done.stdout)["result"]["pdf"]).read_bytes()
    assert pdf.startswith(b"%PDF-")
    boxes = {tuple(float(x) for x in m.split()) for m in re.findall(rb"/MediaBox\s*\[([^\]]*)\]", pdf)}
    # ISO 216: A4 is 210 x 297 mm, in points of 1/72 inch
    assert boxes and all(
        box[2] == pytest.approx(595.3, abs=1.5) and box[3] == pytest.approx(841.9, abs=1.5) for box in boxes
    )


def test_page_and_report_show_the_same_drawings_unchanged() -> None:
    file = read_dossier(FINAL)
    survey = survey_plan(file.plan)
    text = html_report(file, survey)
    desk = Desk(FINAL, "final.toml")
    desk.reload()
    for rig in survey.rigs:
        for sheet in SHEETS:
            at = address(desk, sheet.name, rig.name, "hero-left")
            assert at is not None
            page = Pages(desk, Watch(desk), "token")._page(at)
            drawn = sheet.drawings(SheetInput(file.plan, survey, rig, "hero-left"))
            assert drawn
            for one in drawn:
                assert one.wide in text and one.narrow in text
                assert one.wide in page and one.narrow in page
