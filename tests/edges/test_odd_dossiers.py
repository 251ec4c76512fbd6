"""Dossiers that know little, or much: every sheet is drawn, the page answers, the report is written."""

from __future__ import annotations

from pathlib import Path

import pytest
from drawing_laws import check_drawing

from scanloom.formats.dossier_file import read_dossier_text
from scanloom.handbook.chips import chip_names
from scanloom.report.html_report import html_report
from scanloom.report.open_verdicts import open_groups
from scanloom.report.stage_sheets import SHEETS, SheetInput
from scanloom.survey import survey_plan
from scanloom.web.desk import Desk
from scanloom.web.routes import Pages
from scanloom.web.view import EXTRA, address
from scanloom.web.watch import Watch

ROOT = Path(__file__).resolve().parents[2]
FINAL = (ROOT / "examples/deep-station/final.toml").read_text(encoding="utf-8")
HEAD = "[dossier]\nformat = 1\n"


def deeper(bits: int, style: str, part: str) -> str:
    """The demo with several bits of red on the first connector."""
    pins = [32, 12, 14, 2][:bits]
    text = FINAL.replace('plugs = "hero-left", red = 32', f'plugs = "hero-left", red = {pins}')
    text = text.replace(
        "heroes = { red = 1, green = 1, blue = 1 }",
        f"hero-left = {{ red = {bits}, green = 1, blue = 1 }}, hero-right = {{ red = 1, green = 1, blue = 1 }}",
    )
    text = text.replace("[levels]\n", f'[levels]\ngroups.heroes = {{ style = "{style}", part = "{part}" }}\n')
    return text.split("[[rigs]]                        # 6 colour bits")[0]


ODD = {
    "nothing": HEAD,
    "a rig without anything": f'{HEAD}[[rigs]]\nname = "one"\n',
    "displays only": f'{HEAD}[[displays]]\nname = "a"\n[[displays]]\nname = "b"\ncolour_load = "75 ohm; guess"\n',
    "a raster without a chip": f'{HEAD}[[rigs]]\nname = "one"\nraster = {{ parent = "640x480@60" }}\n',
    "an interlaced raster": f'{HEAD}[chip]\nlike = "wifi240"\n[[rigs]]\nname = "one"\nstream = "8 lanes"\nraster = {{ parent = "1024x768@87i" }}\n',
    "no place for the frame": FINAL.replace("113800, 110500, 63200, 14000 B", "11380, 1105, 632 B"),
    "a long name": FINAL.replace("hero-left", "the-large-one-left-of-the-periscope-with-the-cracked-case"),
    "three bits by weight": deeper(3, "weighted", "510, 1000, 2000 ohm ± 1 %"),
    "two bits by a ladder": deeper(2, "ladder", "180, 360 ohm ± 1 %"),
    **{f"chip {name}": FINAL.replace('like = "wifi240" ', f'like = "{name}" ') for name in chip_names()},
}  # fmt: skip


@pytest.mark.parametrize("name", ODD)
def test_every_sheet_page_and_report_stand(name: str, tmp_path: Path) -> None:
    path = tmp_path / "odd.toml"
    path.write_text(ODD[name], encoding="utf-8")
    desk = Desk(path, "odd.toml")
    desk.reload()
    if desk.good is None:  # a chip that has no such stream, say: then the reader's list is the page
        assert desk.faults and name.startswith("chip ")
        return
    pages = Pages(desk, Watch(desk), "token")
    for sheet in (*(one.name for one in SHEETS), *EXTRA):
        at = address(desk, sheet, "", "")
        assert at is not None
        assert 'id="strip"' in pages._page(at)
    survey, plan = desk.good.survey, desk.good.file.plan
    for rig in survey.rigs:
        for display in plan.displays or ("",):
            for sheet in SHEETS:
                for one in sheet.drawings(SheetInput(plan, survey, rig, display)):
                    check_drawing(one)
    assert html_report(desk.good.file, survey).count("<section") > 3


def test_multi_bit_networks_are_drawn_bit_by_bit() -> None:
    file = read_dossier_text(ODD["three bits by weight"], ROOT / "x.toml")
    survey = survey_plan(file.plan)
    levels = next(sheet for sheet in SHEETS if sheet.name == "levels")
    drawn = levels.drawings(SheetInput(file.plan, survey, survey.rigs[0], "hero-left"))
    network = next(one for one in drawn if one.name == "resistor-network")
    for words in ("510 ohm", "1 kohm", "2 kohm", "pin 32", "pin 12", "pin 14"):
        assert f">{words}<" in network.wide


def test_a_frame_that_does_not_fit_shows_every_way_out() -> None:
    survey = survey_plan(read_dossier_text(ODD["no place for the frame"], ROOT / "x.toml").plan)
    cards = [card for group in open_groups(survey) for card in group.cards if card.verdict.code == "memory.blocks"]
    assert cards and all(card.ways for card in cards)
    memory = next(rig.memory for rig in survey.rigs if rig.memory is not None)
    offered = {change.what for change in memory.changes}
    assert len(cards[0].ways) == sum(cure.what not in offered for cure in memory.cures)
