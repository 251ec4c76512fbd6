"""Sums of the board review on small cases that can be followed by eye."""

from __future__ import annotations

import math

import numpy as np
import pytest
from board_sets import good, plan_of, read_set, reviewed
from hypothesis import given, settings
from hypothesis import strategies as st

from demo_board import sets, toolpaths, truth
from demo_board.board import Board
from demo_board.mistakes import MISTAKES
from demo_board.planting import carried_out
from demo_board.variants import VARIANTS
from scanloom.dossier.reading import Reading
from scanloom.formats.board_files.gerber import read_gerber
from scanloom.formats.board_files.roles import by_name, says_unplated
from scanloom.formats.dossier_file import read_dossier
from scanloom.stages.board.copper import join_copper
from scanloom.stages.board.differences import differences
from scanloom.stages.board.graph import PinGraph, PinPlace, pin_graph
from scanloom.stages.board.model import FileRole, Layer, Listed
from scanloom.stages.board.pads import pin_number
from scanloom.stages.board.part_value import part_value
from scanloom.stages.board.pieces import islands_of, solid_pieces
from scanloom.stages.board.rescue import rescue

HEAD = "%FSLAX46Y46*%%MOMM*%%ADD10C,0.2*%%ADD11R,10X10*%"


def layer_of(text: str) -> Layer:
    """A layer of Gerber text."""
    picture = read_gerber(text)
    return Layer(FileRole("x.gbr", "copper", "top"), picture.drawn, picture.shapes, picture.paths)


def test_clearing_that_cuts_an_area_in_two_leaves_two_pieces() -> None:
    text = HEAD + "D11*X0Y0D03*%LPC*%D10*X-6000000Y0D02*G01X6000000Y0D01*%LPD*%X3000000Y3000000D03*M02*"
    pieces, source = solid_pieces(layer_of(text))
    assert source == [0, 0, 2]
    assert [round(p.area, 2) for p in pieces[:2]] == [49.0, 49.0]


def test_what_is_drawn_after_a_clearing_stays() -> None:
    text = HEAD + "D11*X0Y0D03*%LPC*%X0Y0D03*%LPD*%D10*X0Y0D03*M02*"
    pieces, source = solid_pieces(layer_of(text))
    assert source == [2] and pieces[0].area == pytest.approx(math.pi / 100, rel=0.02)


@settings(max_examples=40, derandomize=True, deadline=None)
@given(st.integers(1, 30), st.lists(st.tuples(st.integers(0, 29), st.integers(0, 29)), max_size=40))
def test_islands_are_those_of_a_flood(count: int, pairs: list[tuple[int, int]]) -> None:
    kept = [(a % count, b % count) for a, b in pairs]
    found = islands_of(count, np.array(kept, dtype=np.int64).reshape(-1, 2))
    reach = np.eye(count, dtype=bool)
    for a, b in kept:
        reach[a, b] = reach[b, a] = True
    for _ in range(count):
        reach = (reach.astype(int) @ reach.astype(int)) > 0
    assert np.array_equal(found[:, None] == found[None, :], reach)


@pytest.mark.parametrize("name", ["track-cut", "tracks-bridged", "no-series-part"])
def test_breaks_and_bridges_agree_with_the_generators_own_geometry(name: str) -> None:
    """The demo board has a truth of its own, from whole micrometres and not from any file."""
    board, files = good()
    clean = join_copper(read_set(files))
    assert clean is not None and truth.opens_and_shorts(board) == (set(), set())
    assert (clean.breaks, clean.bridges, clean.bare) == ((), (), ())
    planted = carried_out(next(m for m in MISTAKES if m.name == name), board, files)
    made = join_copper(read_set(planted.files))
    assert made is not None
    assert bool(made.breaks) == (name == "track-cut")
    assert bool(made.bridges) == (name == "tracks-bridged")


EXPORT = {
    "netlist.ipc": ("board.sides-swapped", "IPC-D-356A"),
    "bom.csv": ("board.part-missing", "BOM"),
    "centroid.csv": ("board.placement-origin", "centroid"),
    "outline.gbr": ("board.outline", "outline"),
    "plated.drl": ("board.side-mirrored", "drill file"),
    "mask.gbr": ("board.mask-web", "solder masks"),
    "copper.gbr": ("board.open", "Gerber"),
}


@pytest.mark.parametrize("ending", EXPORT)
def test_missing_file_makes_checks_unknown_and_is_named(ending: str) -> None:
    files = {name: data for name, data in good()[1].items() if not name.endswith(ending)}
    assert len(files) < len(good()[1])
    outcome = reviewed(files)
    code, word = EXPORT[ending]
    told = [v for v in outcome.verdicts if v.code == code and v.judged == "unknown"]
    assert told, [(v.code, v.judged) for v in outcome.verdicts if v.judged != "holds"]
    assert any(v.settle is not None and word in v.settle.what for v in told)
    assert not [v for v in outcome.verdicts if v.judged == "fails" and v.weight == "stop" and v.code == code]


def test_two_sources_of_nets_agree_on_the_good_set() -> None:
    graph = pin_graph(read_set(good()[1]))
    board: Board = good()[0]
    assert graph.ground == "GND" and {"3V3", "5V"} <= graph.rails
    truth_nets = {(ref[:6], pin): net for (ref, pin), net in board.pins().items()}
    assert {pin for pin, net in graph.nets.items() if net} == {pin for pin, net in truth_nets.items() if net != "N/C"}
    assert graph.functions[("U1", "35")] == "GPIO1"


PARTS = {
    "R1": {"1": ("a", -1.0, 0.0, 0.0), "2": ("b", 1.0, 0.0, 0.0)},
    "C9": {"1": ("a", -1.0, 0.0, 0.0), "2": ("b", 1.0, 0.0, 0.0)},
    "D1": {"1": ("a", -1.0, 0.0, 0.0), "2": ("b", 1.0, 0.0, 0.0)},
    "D2": {"1": ("a", -1.0, 0.0, 0.8), "2": ("b", 1.0, 0.0, 0.8)},
    "D3": {"1": ("a", 0.0, -1.0, 0.0), "2": ("b", 0.0, 1.0, 0.0)},
    "U1": {str(n + 1): (f"n{n}", -2.0 if n < 4 else 2.0, 1.9 - 1.27 * n if n < 4 else -1.9 + 1.27 * (n - 4), 0.0) for n in range(8)},
    "U2": {str(n + 1): (f"n{n % 2}", (-1.0, -1.0, 1.0, 1.0)[n], (1.0, -1.0, -1.0, 1.0)[n], 0.0) for n in range(4)},
    "J1": {str(n + 1): (f"j{n}", 2.54 * n, 1.0 * (n % 2), 1.0) for n in range(5)},
}  # fmt: skip


def rescued() -> dict[str, str]:
    """Ways found for the parts above."""
    nets = {(part, pin): net for part, pins in PARTS.items() for pin, (net, *_) in pins.items()}
    places = {
        (part, pin): (PinPlace(x + 5, y - 3, "both" if hole else "top", hole),)
        for part, pins in PARTS.items() for pin, (_, x, y, hole) in pins.items()
    }  # fmt: skip
    lines = {"C9": Listed(("C9",), "100u")}
    graph = PinGraph(nets, places, lines=lines)
    for one in rescue(graph):
        pins = list(PARTS[one.part])
        if one.way == "none":
            assert one.proof == ()
            continue
        assert [a for a, _ in one.proof] == pins and len({b for _, b in one.proof}) == len(pins)
        for a, b in one.proof:  # each pin on a pad of its net, or a part of two ends that may be turned
            same = PARTS[one.part][a][0] == PARTS[one.part][b][0]
            assert same or one.part == "R1", (one, a, b)
    return {one.part: one.way for one in rescue(graph)}


def test_rescue_on_parts_that_can_be_followed_by_hand() -> None:
    found = rescued()
    assert found["R1"] == "as planned", "a resistor does not mind its ends exchanged"
    assert found["C9"] == "turned half round", (
        "a large capacitor may be electrolytic, so it is turned until its ends are right"
    )
    assert found["D1"] == "turned half round", "a lamp lying along the mirrored axis"
    assert found["D3"] == "as planned", "a lamp lying across it keeps its ends"
    assert found["U1"] == "none", "a surface chip is the mirror image of itself at no turn"
    assert found["U2"] == "turned a quarter" or found["U2"] in (
        "as planned",
        "turned half round",
        "turned three quarters",
    )
    assert found["J1"] == "from the other side"
    assert found["D2"] == "turned half round"


def test_prototype_differs_from_the_final_board_worst_first(tmp_path: object) -> None:
    from pathlib import Path

    assert isinstance(tmp_path, Path)
    path = tmp_path / "prototype.toml"
    path.write_bytes(toolpaths.milled("good")["prototype.toml"])
    made = differences(read_dossier(path).plan, plan_of())
    keys = [one.key for one in made]
    assert [one.rank for one in made] == sorted(one.rank for one in made)
    assert {"levels.sync.style", "board.connectors", "board.parts.sync buffer", "displays.hero-left.cable"} <= set(keys)
    assert "levels.colour.part" not in keys and "chip.like" not in keys, "these are the same on both"
    assert differences(plan_of(), plan_of()) == ()


@pytest.mark.parametrize(
    ("name", "role"),
    [
        ("a.gtl", ("copper", "top")),
        ("board-F_Cu.gbr", ("copper", "top")),
        ("board-B_Mask.gbr", ("mask", "bottom")),
        ("x/SilkTop.gbr", ("legend", "top")),
        ("solderpaste_bottom.gbr", ("paste", "bottom")),
        ("EdgeCuts.gbr", ("outline", "")),
        ("profile.gbr", ("outline", "")),
        ("a.g2", ("copper", "inner")),
        ("In1_Cu.gbr", ("copper", "inner")),
        ("a-drl_map.gbr", ("other", "")),
        ("a.d356", ("netlist", "")),
        ("PTH.drl", ("drill", "")),
        ("mill.nc", ("tool-path", "")),
        ("readme", None),
        ("picture.png", None),
    ],
)
def test_roles_by_name(name: str, role: tuple[str, str] | None) -> None:
    """Endings and words of layout programs' exports: common practice, no source."""
    assert by_name(name) == role


def test_plating_by_what_is_said_then_by_name() -> None:
    assert says_unplated("a-NPTH.drl", {}) is True and says_unplated("a-PTH.drl", {}) is False
    assert says_unplated("a.drl", {}) is None
    assert says_unplated("a-PTH.drl", {".FileFunction": "NonPlated,1,2,NPTH"}) is True


@pytest.mark.parametrize(
    ("text", "part", "amount"),
    [
        ("4K7", "R1", 4700.0), ("470R", "R1", 470.0), ("R010", "R1", 0.01), ("240R_0603_1%", "R1", 240.0),
        ("4x10k", "RN1", 1e4), ("0603, 240R, 75V", "R1", 240.0), ("R1206", "R1", None),
        ("R47", "R1", None), ("0R1", "R1", 0.1), ("1M0", "R1", 1e6), ("10p", "C1", 10e-12),
        ("4n7", "C1", 4.7e-9), ("0.1u", "C1", 1e-7), ("X7R 0.1u 16V", "C1", 1e-7), ("0603 10k 1%", "R1", 1e4), ("240", "R1", 240.0),
        ("DNP", "R1", None), ("74LVC125", "U1", None),
    ],
)  # fmt: skip
def test_values(text: str, part: str, amount: float | None) -> None:
    """IEC 60062 letter code: R, K, M for ohms, p, n, u for farads, in the place of the decimal point."""
    value = part_value(text, part)
    assert (value is None) if amount is None else (value is not None and value.amount == pytest.approx(amount))


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("GPIO32", 32),
        ("IO0", 0),
        ("GP15", 15),
        ("IO33/ADC5", 33),
        ("8", None),
        ("GND", None),
        ("TXD", None),
        ("", None),
    ],
)
def test_chip_pins_by_name(text: str, number: int | None) -> None:
    assert pin_number(text) == number


def test_reading_notes_the_files_that_a_verdict_rests_on() -> None:
    from scanloom.stages.board import judge_board

    outcome = judge_board(Reading(plan_of()), read_set(sets.files(good()[0])))
    verdict = next(v for v in outcome.verdicts if v.code == "board.lane-level")
    keys = {fact.key for fact in verdict.rests_on}
    assert {
        "files.deep-station-netlist.ipc",
        "files.deep-station-bom.csv",
        "board.connectors.J1.red",
        "levels.colour.part",
    } <= keys
    assert any(fact.key.startswith("handbook.") for fact in verdict.rests_on)


def test_nets_whose_cut_names_became_one_are_parted() -> None:
    """Two nets that share their last 14 characters are one in the netlist, and neither a break nor a bridge on the board."""
    files = dict(good()[1])
    long = {"J1-red-out": "left display colour lane out", "J1-green-out": "right display colour lane out"}
    for name, data in files.items():
        text = data.decode("utf-8")
        for net, other in long.items():
            cut = other.upper().replace(" ", "?")[-14:]
            text = (
                text.replace(f"{net.upper():<14}", f"{cut:<14}")
                if name.endswith(".ipc")
                else text.replace(f".N,{net}*", f".N,{other}*")
            )
        files[name] = text.encode()
    assert files["deep-station-netlist.ipc"].count(b"OLOUR?LANE?OUT") > 6
    outcome = reviewed(files)
    assert [(v.code, v.says) for v in outcome.verdicts if v.judged == "fails"] == []


def test_of_two_outlines_the_one_around_the_pads_counts() -> None:
    files = {
        **good()[1],
        "a-small-outline.gbr": (HEAD + "%ADD12C,0.1*%D12*X0Y0D02*G01X1000000Y0D01*X1000000Y1000000D01*M02*").encode(),
    }
    outcome = reviewed(files)
    assert outcome.result is not None and outcome.result.size_mm == pytest.approx((200.0, 90.0), abs=0.01)
    assert not [v.says for v in outcome.verdicts if v.code == "board.outline" and v.judged != "holds"]


def test_missing_inner_layers_leave_breaks_unknown() -> None:
    """A netlist that calls the bottom A04 tells of four layers; with two at hand nobody can say what is joined."""
    board, dialects = VARIANTS["inner-planes"]()
    files = sets.files(board, dialects)
    inner = [name for name in files if "inner" in name or name.rpartition(".")[2] in ("g1", "g2")]
    assert len(inner) == 2
    whole = reviewed(files)
    assert not [v for v in whole.verdicts if v.judged == "fails"]
    cut = reviewed({name: data for name, data in files.items() if name not in inner})
    told = {v.code: v for v in cut.verdicts if v.code in ("board.open", "board.short")}
    assert {v.judged for v in told.values()} == {"unknown"} and "2 more copper layers" in told["board.open"].says
