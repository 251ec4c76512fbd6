"""Drawings are well-formed, say what the stages say, fit their width, and are told apart without colour."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from drawing_laws import check_drawing
from hypothesis import given
from hypothesis import strategies as st

from scanloom.formats.dossier_file import read_dossier, read_dossier_text
from scanloom.handbook.chips import chip, chip_names
from scanloom.report.drawings import svg
from scanloom.report.drawings.clock import clocks_per_pixel
from scanloom.report.drawings.drawing import Drawing
from scanloom.report.drawings.lanes import best_cut
from scanloom.report.drawings.memory import block_sizes, line_groups
from scanloom.report.stage_sheets import SHEETS, SheetInput
from scanloom.stages.clock import enumerate_rates
from scanloom.stages.clock.wobble import wobble_px
from scanloom.stages.lanes.crossings import count_crossings
from scanloom.survey import survey_plan

ROOT = Path(__file__).resolve().parents[2]
DEMOS = ("final", "first-evening")


@cache
def given_of(demo: str, rig: int) -> SheetInput:
    file = read_dossier(ROOT / f"examples/deep-station/{demo}.toml")
    survey = survey_plan(file.plan)
    return SheetInput(file.plan, survey, survey.rigs[rig], "hero-left")


@cache
def drawings(demo: str, rig: int) -> tuple[Drawing, ...]:
    return tuple(one for sheet in SHEETS for one in sheet.drawings(given_of(demo, rig)))


ALL = [(demo, rig, one.name) for demo in DEMOS for rig in (0, 1) for one in drawings(demo, rig)]


def named(demo: str, rig: int, name: str) -> Drawing:
    return next(one for one in drawings(demo, rig) if one.name == name)


def test_every_drawing_of_the_job_is_made() -> None:
    made = {name for _, _, name in ALL}
    assert {
        *("raster-map", "rate-line", "edge-lattice", "display-agreement", "panel-scaling", "lane-tangle", "block-map"),
        *("transfer-strip", "resistor-network", "white", "sync-high", "sync-low"),
        *("sync-edge", "lock-rows", "clipping"),
    } <= made


@pytest.mark.parametrize(("demo", "rig", "name"), ALL)
def test_drawing_is_sound(demo: str, rig: int, name: str) -> None:
    check_drawing(named(demo, rig, name))


def test_raster_map_is_to_scale() -> None:
    data = given_of("final", 0)
    assert data.rig.timing is not None
    raster = data.rig.timing.raster.value
    root = ET.fromstring(named("final", 0, "raster-map").wide)
    boxes = [b for b in root.iter("rect") if "sync" in b.attrib.get("class", "")]
    frame = next(b for b in root.iter("rect") if b.attrib.get("class") == "frame")
    across = float(boxes[0].attrib["width"]) / float(frame.attrib["width"])
    assert across == pytest.approx(raster.h.sync_px / raster.h.total_px, rel=1e-3)
    # 640x480 at 60 Hz sends 96 of 800 pixels as sync: VESA DMT 1.13, timing 0x04
    assert across == pytest.approx(96 / 800, rel=1e-3)


@pytest.mark.parametrize("rig", [0, 1])
def test_blocks_of_the_map_are_those_of_the_dossier(rig: int) -> None:
    data = given_of("final", rig)
    facts = data.plan.dossier.chip
    assert facts is not None and data.rig.memory is not None and data.rig.memory.placement is not None
    assert block_sizes(data.rig.memory.placement) == facts.free["radio-off"].value


@pytest.mark.parametrize(("demo", "rig"), [(d, r) for d in DEMOS for r in (0, 1)])
def test_groups_of_lines_cover_the_frame_and_all_entries(demo: str, rig: int) -> None:
    plan = given_of(demo, rig).rig.memory
    assert plan is not None
    groups = line_groups(plan)
    assert [first for first, *_ in groups] == [0, *(last + 1 for _, last, *_ in groups[:-1])]
    assert groups[-1][1] + 1 == plan.shape.v_total_lines
    assert sum(entries for *_, entries in groups) == len(plan.transfer_list.entries)


@pytest.mark.parametrize("name", chip_names())
def test_source_clocks_of_a_pixel_give_the_wobble_of_the_stage(name: str) -> None:
    """Settings read back by another road than the enumerator's."""
    for chain in chip(name).table.clock:
        for one in enumerate_rates(chain, 25_175_000, h_total_px=800, limit=4):
            ratio = clocks_per_pixel(chain, one)
            assert ratio is not None
            if all(step.edges != "pattern" for step in chain.steps):
                assert wobble_px(ratio) == one.wobble_px


@given(st.permutations(range(9)), st.permutations(range(9)))
def test_tangle_counts_the_crossings_that_the_stage_counts(around: list[int], wanted: list[int]) -> None:
    order, crossings = best_cut(around, wanted[:7])
    assert crossings == count_crossings(around, wanted[:7])
    assert sorted(order) == sorted(wanted[:7])


@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e6), st.integers(1, 12))
def test_ticks_are_round_inside_and_few(low: float, size: float, most: int) -> None:
    found = svg.ticks(low, low + size, most)
    assert all(low - 1e-6 * size <= value <= low + size * (1 + 1e-6) for value in found)
    assert len(found) <= most + 1


@given(st.lists(st.floats(0, 300), min_size=1, max_size=8).map(sorted))
def test_labels_stand_apart(places: list[float]) -> None:
    made = svg.apart(places, 17, 0, 400)
    assert all(b - a >= 17 - 1e-9 for a, b in pairwise(made))
    assert all(-1e-9 <= place <= 400 for place in made)


def test_names_from_a_dossier_cannot_become_markup() -> None:
    text = (ROOT / "examples/deep-station/final.toml").read_text(encoding="utf-8")
    file = read_dossier_text(text.replace('name = "J1"', "name = '<script>&J1'"), ROOT / "x.toml")
    survey = survey_plan(file.plan)
    data = SheetInput(file.plan, survey, survey.rigs[0], "hero-left")
    made = [one for sheet in SHEETS for one in sheet.drawings(data)]
    assert any("&lt;script&gt;&amp;J1" in one.wide for one in made)
    assert not any("<script" in one.wide + one.narrow for one in made)


def test_a_drawing_stands_alone_with_literal_colours() -> None:
    alone = named("final", 0, "white").standalone()
    root = ET.fromstring(alone)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert "--data: #41439b" in alone and 'id="hatch-data"' in alone


def test_sheet_without_results_draws_nothing_and_says_what_it_waits_on() -> None:
    data = given_of("final", 0)
    bare = replace(data.rig, timing=None, clock=None, screens=None, lanes=None, memory=None, levels=None, waking=None)
    empty = replace(data, rig=bare)
    assert [one.name for sheet in SHEETS for one in sheet.drawings(empty) if sheet.name in ("timing", "clock")] == []
