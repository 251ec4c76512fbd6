"""Habits of programs and of good boards that must raise no stop, each beside a mistake that looks like it and must.

Source of the habits: common practice, no source; spellings by the standards named in the readers.
"""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import replace

import numpy as np
import pytest
import shapely
from board_sets import failing, good, read_set, reviewed
from hypothesis import given, settings
from hypothesis import strategies as st

from demo_board import sets
from demo_board.variants import VARIANTS
from scanloom.formats.board_files.damage import Damaged
from scanloom.formats.board_files.drill import read_drill
from scanloom.formats.board_files.drill_format import formats_to_try, holes_of
from scanloom.formats.board_files.gerber import read_gerber
from scanloom.formats.board_files.roles import by_name, drill_span
from scanloom.formats.board_files.tables import is_centroid, placed_rows, read_table
from scanloom.stages.board.copper import join_copper, layer_depths
from scanloom.stages.board.model import BoardFiles, Drill, Hole
from scanloom.stages.board.names import side_by_name
from scanloom.stages.board.pieces import TooDense, near_but_apart, solid_pieces

PLATED, UNPLATED = "deep-station-plated.drl", "deep-station-unplated.drl"
OUTLINE, TOP, LEGEND = "deep-station-outline.gbr", "deep-station-top-copper.gbr", "deep-station-top-legend.gbr"
CENTROID = "deep-station-centroid.csv"


def planes() -> dict[str, bytes]:
    """The board with inner planes of ground and 3.3 V."""
    board, dialects = VARIANTS["inner-planes"]()
    return dict(sets.files(board, dialects))


def negative(text: str) -> str:
    """A plane told as what it leaves away, as old programs do."""
    text = re.sub(r"G36\*.*?G37\*\n?", "", text, flags=re.S)
    return text.replace("%LPC*%", "%LPx*%").replace("%LPD*%", "%LPC*%").replace("%LPx*%", "%LPD*%")


def stops(files: dict[str, bytes]) -> set[str]:
    """Codes of weight stop that fail."""
    return {v.code for v in failing(reviewed(files)) if v.weight == "stop"}


def inner_names(files: dict[str, bytes]) -> list[str]:
    """Files of the inner layers."""
    return sorted(name for name in files if "inner" in name)


@pytest.mark.parametrize("told", ["named", "stated", "image"])
def test_plane_in_negative_is_copper_all_over(told: str) -> None:
    files = planes()
    for number, name in enumerate(inner_names(files), 1):
        text = negative(files.pop(name).decode())
        if told == "stated":
            files[name] = re.sub(r"FilePolarity,Positive", "FilePolarity,Negative", text).encode()
            continue
        bare = "\n".join(line for line in text.split("\n") if not line.startswith("%T"))
        if told == "image":
            bare = bare.replace("%MOMM*%", "%MOMM*%\n%IPNEG*%")
        files[f"deep-station.{'gp' if told == 'named' else 'g'}{number}"] = bare.encode()
    assert not stops(files)
    read = read_set(files)
    assert sum("negative" in remark for role in read.roles for remark in role.remarks) == 2


def test_plane_in_negative_is_the_same_copper() -> None:
    files = planes()
    name = inner_names(files)[0]
    drawn = next(layer for layer in read_set(files).layers if layer.role.file == name)
    files[name] = negative(files[name].decode()).replace("FilePolarity,Positive", "FilePolarity,Negative").encode()
    turned = next(layer for layer in read_set(files).layers if layer.role.file == name)
    frame = drawn.shapes[0]
    one, other = (shapely.intersection(shapely.union_all(solid_pieces(x)[0]), frame) for x in (drawn, turned))
    assert one.area > 10_000
    assert shapely.symmetric_difference(one, other).area < 1e-6 * one.area


def test_holes_of_two_layers_join_those_alone() -> None:
    files = read_set(planes())
    layers = files.of("copper")
    depths = dict(zip((layer.role.file for layer in layers), layer_depths([x.role for x in layers]), strict=True))
    assert sorted(depths.values()) == [1, 2, 3, 4]
    ground, supply = (next(x for x in layers if depths[x.role.file] == depth) for depth in (2, 3))
    spot = shapely.intersection(
        shapely.union_all(ground.shapes[:1]), shapely.union_all(supply.shapes[:1])
    ).representative_point()
    for span, joined in (((1, 0), True), ((2, 3), True), ((3, 0), False), ((1, 2), False)):
        hole = Hole(spot.x, spot.y, 0.3, True, spot.x, spot.y)
        drills = (*files.drills, Drill(replace(files.drills[0].role, file="more.drl"), (hole,), span))
        more = BoardFiles(
            files.roles, files.layers, drills, files.netlists, files.placements, files.parts_lists, files.tool_paths
        )
        copper = join_copper(more)
        assert copper is not None
        names = {frozenset(bridge.nets_joined) for bridge in copper.bridges}
        assert any({"GND", "3V3"} <= one for one in names) is joined, span


@pytest.mark.parametrize(
    ("name", "function", "span"),
    [
        ("a.drl", "Plated,1,4,PTH", (1, 0)),
        ("a.drl", "Plated,2,3,Buried", (2, 3)),
        ("a.drl", "Plated,1,2,Blind", (1, 2)),
        ("board-F_Cu-In1_Cu.drl", "", (1, 2)),
        ("board-In2_Cu-B_Cu.drl", "", (3, 0)),
        ("drill_1_16.xln", "", (1, 0)),
        ("drill_1_2.xln", "", (1, 2)),
        ("board-plated.drl", "", (1, 0)),
        ("board 2031-01.drl", "", (1, 0)),
    ],
)
def test_span_of_a_drill_file(name: str, function: str, span: tuple[int, int]) -> None:
    assert drill_span(name, {".FileFunction": function} if function else {}) == span


@pytest.mark.parametrize(
    ("name", "role"),
    [
        ("leiterplatte_Kupfer_oben.gbr", ("copper", "top")),
        ("stopplack_unten.ger", ("mask", "bottom")),
        ("Umriss.gbr", ("outline", "")),
        ("Bestückungsdruck_oben.gbr", ("legend", "top")),
        ("SMBOT.art", ("mask", "bottom")),
        ("PASTETOP.art", ("paste", "top")),
        ("X_SST.gbr", ("legend", "top")),
        ("GND02.art", ("copper", "inner")),
        ("main-F_CrtYd.gbr", ("other", "")),
        ("board.bor", ("outline", "")),
        ("control_SMT_B_Cu.gbr", ("copper", "bottom")),
        ("user-port_top_mask.gbr", ("mask", "top")),
        ("Bohrungen.txt", ("drill", "")),
    ],
)
def test_names_in_several_manners(name: str, role: tuple[str, str]) -> None:
    assert by_name(name) == role


def test_letter_of_a_revision_is_no_side() -> None:
    assert side_by_name("deep-station_b_signal.gbr") == ""
    assert side_by_name("deep-station-B_Cu.gbr") == "bottom"
    assert side_by_name("rev_f_B_Mask.gbr") == "bottom"


@pytest.mark.parametrize("command", ["SFA1.00000B1.00000", "MIA0B0", "IPPOS", "OFA0B0", "IR0", "ASAXBY"])
def test_deprecated_commands_that_change_nothing_are_read(command: str) -> None:
    files = {**good()[1]}
    files[TOP] = files[TOP].replace(b"%MOMM*%", f"%MOMM*%\n%{command}*%".encode())
    assert not stops(files)


@pytest.mark.parametrize("command", ["SFA2B1", "MIA1B0", "OFA1B0", "IR90"])
def test_deprecated_commands_that_change_the_image_are_refused(command: str) -> None:
    files = {**good()[1]}
    files[TOP] = files[TOP].replace(b"%MOMM*%", f"%MOMM*%\n%{command}*%".encode())
    assert "board.file-damaged" in stops(files)


def test_missing_last_command_is_unknown_and_a_broken_one_fails() -> None:
    files = {**good()[1]}
    whole = files[TOP].decode().rstrip().removesuffix("M02*")
    told = [v for v in reviewed({**files, TOP: whole.encode()}).verdicts if v.code == "board.file-damaged"]
    assert [v.judged for v in told] == ["unknown"]
    cut = whole.rstrip()[: -len(whole.rstrip().split("\n")[-1]) // 2].rstrip("*%\n")
    assert "board.file-damaged" in stops({**files, TOP: cut.encode()})


def test_zip_beside_its_tables_is_opened() -> None:
    files = good()[1]
    tables = {name: data for name, data in files.items() if name.endswith(".csv")}
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, data in files.items():
            if name not in tables:
                archive.writestr(name, data)
    assert not failing(reviewed({**tables, "order/fab.zip": packed.getvalue()}))


def test_holes_repeated_without_points() -> None:
    text = "M48\nMETRIC,TZ,000.000\nT1C1.0\n%\nT1\nX8000Y8000\nR3X2540\nY10000\nM30\n"
    read = read_drill(text)
    holes = holes_of(read, formats_to_try(read)[0], True)
    assert [hole.x_mm for hole in holes] == pytest.approx([8, 10.54, 13.08, 15.62, 15.62])
    assert [hole.y_mm for hole in holes] == pytest.approx([8, 8, 8, 8, 10])


@given(
    st.integers(1, 40), st.integers(-5000, 5000), st.integers(-5000, 5000), st.integers(0, 90000), st.integers(0, 90000)
)
@settings(max_examples=60, deadline=None, derandomize=True)
def test_repeat_is_each_hole_written_out(times: int, dx: int, dy: int, x: int, y: int) -> None:
    head = "M48\nMETRIC,TZ,000.000\nT1C1.0\n%\nT1\n"
    short = read_drill(f"{head}X{x}Y{y}\nR{times}X{dx}Y{dy}\nM30\n")
    long = read_drill(head + "".join(f"X{x + n * dx}Y{y + n * dy}\n" for n in range(times + 1)) + "M30\n")
    form = formats_to_try(long)[0]
    for one, other in zip(holes_of(short, form, True), holes_of(long, form, True), strict=True):
        assert (one.x_mm, one.y_mm) == pytest.approx((other.x_mm, other.y_mm), abs=1e-9)


@given(st.lists(st.tuples(st.integers(-4000, 4000), st.integers(-4000, 4000)), min_size=1, max_size=6))
@settings(max_examples=40, deadline=None, derandomize=True)
def test_pattern_is_each_hole_written_out(steps: list[tuple[int, int]]) -> None:
    head, block = "M48\nMETRIC,TZ,000.000\nT1C1.0\n%\nT1\nX1000Y1000\n", [(8000, 8000), (9000, 8500)]
    again = "".join(f"M02X{x}Y{y}\n" for x, y in steps)
    short = read_drill(head + "M25\n" + "".join(f"X{x}Y{y}\n" for x, y in block) + f"M01\n{again}M08\nX5Y5\nM30\n")
    at = [(sum(x for x, _ in steps[:n]), sum(y for _, y in steps[:n])) for n in range(len(steps) + 1)]
    long = read_drill(head + "".join(f"X{x + dx}Y{y + dy}\n" for dx, dy in at for x, y in block) + "X5Y5\nM30\n")
    form = formats_to_try(long)[0]
    for one, other in zip(holes_of(short, form, True), holes_of(long, form, True), strict=True):
        assert (one.x_mm, one.y_mm) == pytest.approx((other.x_mm, other.y_mm), abs=1e-9)


def test_turned_pattern_is_refused_and_a_plain_one_is_not() -> None:
    text = "M48\nMETRIC,TZ\nT1C1.0\n%\nT1\nM25\nX8.0Y8.0\nM01\nM02X1.0Y1.0{}\nM08\nM30\n"
    assert len(read_drill(text.format("")).hits) == 2
    with pytest.raises(Damaged, match="pattern"):
        read_drill(text.format("M80"))


def test_percent_signs_on_lines_of_their_own() -> None:
    files = dict(good()[1])
    split = {
        name: re.sub(r"(?m)^%([^%\n]+)%$", r"%\n\1\n%", data.decode()).encode() if name.endswith(".gbr") else data
        for name, data in files.items()
    }
    assert split != files
    assert [(r.role, r.side) for r in read_set(split).roles] == [(r.role, r.side) for r in read_set(files).roles]
    assert not stops(split)


@pytest.mark.parametrize(("beside", "roles"), [("", ["outline"]), ("X50000Y50000D02*X60000Y50000D01*", ["other"])])
def test_one_bare_ring_is_the_outline_and_the_frame_of_a_drawing_is_not(beside: str, roles: list[str]) -> None:
    head = "%FSLAX33Y33*%%MOMM*%%ADD10C,{}*%D10*"
    ring = "X0Y0D02*X50000D01*Y30000D01*X0D01*Y0D01*"
    pads = "".join(f"X{8000 + 2540 * n}Y{y}D03*" for n in range(12) for y in (8000, 20000))
    files = {
        "rows-top.gbr": f"{head.format(1.7)}{pads}M02*".encode(),
        "rows-board.gbr": f"{head.format(0.1)}{ring}{beside}M02*".encode(),
    }
    assert [r.role for r in read_set(files).roles if r.file == "rows-board.gbr"] == roles


def test_drill_file_without_a_header_is_read() -> None:
    body = good()[1][PLATED].decode().split("%\n", 1)[1]
    tools = "".join(f"{line}\n" for line in good()[1][PLATED].decode().split("\n") if re.match(r"T\d+C", line))
    read = read_set({**good()[1], PLATED: (tools + body).encode()})
    drill = next(one for one in read.drills if one.role.file == PLATED)
    assert len(drill.holes) == len(read_drill(good()[1][PLATED].decode()).hits)


def rows(text: str) -> list[tuple[str, float, float]]:
    """Part and place of each row of a table."""
    sheet = read_table(text)
    assert is_centroid(sheet)
    return [(row.part, row.x_mm, row.y_mm) for row in placed_rows(sheet)[0]]


@pytest.mark.parametrize(
    "text",
    [
        "Units used: mil\n\nDesignator  Comment      Layer     Center-X(mil)  Center-Y(mil)  Rotation\n"
        "R1          5.1k         TopLayer  100.0          200.0          90\n"
        "U2          LDO 3V3      TopLayer  300.0          400.0          0\n",
        "R1    2.54   5.08  90 5.1k R_0603\nU2    7.62  10.16   0 LDO_3V3 SOT-223\n",
        "UNITS: mils\nREF_DES PLACE_X PLACE_Y ROTATION MIRRORED\nR1 100.0 200.0 90 NO\nU2 300.0 400.0 0 YES\n",
        "Repère;Boîtier;Position X;Position Y;Rotation;Face\nR1;0603;2,54;5,08;90;Dessus\nU2;SOT;7,62;10,16;0;Dessus\n",
        "Designator,X (in),Y (in)\nR1,0.1,0.2\nU2,0.3,0.4\n",
    ],
    ids=["gaps", "no-header", "blanks", "french", "inch"],
)
def test_centroid_tables_in_several_manners(text: str) -> None:
    assert rows(text) == [
        ("R1", pytest.approx(2.54), pytest.approx(5.08)),
        ("U2", pytest.approx(7.62), pytest.approx(10.16)),
    ]


def test_column_of_mirrored_parts_tells_the_side() -> None:
    text = "REF_DES PLACE_X PLACE_Y ROTATION MIRRORED\nR1 1.0 2.0 90 NO\nU2 3.0 4.0 0 YES\n"
    assert [row.side for row in placed_rows(read_table(text))[0]] == ["top", "bottom"]


def test_bare_rows_without_a_value_have_none() -> None:
    found, _ = placed_rows(read_table("R1 1.00 2.00 90\nR2 3.00 4.00 0 240R 0603\n"))
    assert [(row.value_text, row.package) for row in found] == [("", ""), ("240R", "0603")]


def in_inches(text: str, heads: str) -> bytes:
    """The centroid file with its lengths in inch."""
    head, *body = text.rstrip().split("\n")
    made = [head.replace("X (mm)", heads.format("X")).replace("Y (mm)", heads.format("Y"))]
    for line in body:
        cells = line.split(",")
        at = next(n for n, cell in enumerate(cells) if re.fullmatch(r"-?\d+\.\d{3}", cell))
        cells[at : at + 2] = [f"{float(cell) / 25.4:.5f}" for cell in cells[at : at + 2]]
        made.append(",".join(cells))
    return "\n".join(made).encode()


def test_unit_that_nobody_states_is_the_one_that_fits() -> None:
    files = good()[1]
    inch = in_inches(files[CENTROID].decode(), "{}")
    assert not failing(reviewed({**files, CENTROID: inch}))
    assert any("taken as in" in r for role in read_set({**files, CENTROID: inch}).roles for r in role.remarks)
    stated = in_inches(files[CENTROID].decode(), "{} (mm)")
    assert "board.placement-origin" in stops({**files, CENTROID: stated}), "a wrong unit that is stated stays a fault"


def test_coupon_outside_is_a_caution_and_a_part_outside_a_stop() -> None:
    files = {**good()[1]}
    body, _, end = files[TOP].decode().rpartition("M02*")
    flash = "%TD*%\n" + "".join(f"X{210_000_000 + n * 2_000_000}Y10000000D03*\n" for n in range(6))
    files[TOP] = f"{body}{flash}M02*{end}".encode()
    found = [v for v in failing(reviewed(files)) if v.code == "board.outline"]
    assert [v.weight for v in found] == ["caution"]


def test_lettering_over_a_few_pads_is_a_habit_and_a_mirrored_legend_is_not() -> None:
    files = good()[1]
    text = files[LEGEND].decode()
    upside = re.sub(r"Y(-?\d+)D", lambda m: f"Y{90_000_000 - int(m[1])}D", text)
    told = {v.subject for v in failing(reviewed({**files, LEGEND: upside.encode()})) if v.code == "board.side-mirrored"}
    assert told == {f"board.files.{LEGEND}"}
    pads = read_gerber(files[TOP].decode()).drawn
    over = [f"X{round(p.x_mm * 1e6)}Y{round(p.y_mm * 1e6)}D02*\nX{round(p.x_mm * 1e6) + 1000}Y{round(p.y_mm * 1e6)}D01*\n"
            for p in pads if p.kind == "flash"][:30]  # fmt: skip
    body, _, end = text.rpartition("M02*")
    habit = f"{body}{''.join(over)}M02*{end}"
    assert not failing(reviewed({**files, LEGEND: habit.encode()}))


@given(st.lists(st.tuples(*[st.floats(0, 20)] * 2, st.floats(0.05, 6)), min_size=2, max_size=40), st.integers(1, 5))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_near_but_apart_is_every_pair_measured(spots: list[tuple[float, float, float]], kinds: int) -> None:
    shapes = np.array([shapely.Point(x, y).buffer(r, quad_segs=16) for x, y, r in spots], dtype=object)
    islands = np.arange(len(shapes)) % kinds
    found = {tuple(pair) for pair in near_but_apart(shapes, islands, 0.1).tolist()}
    wanted = {
        (a, b) for a in range(len(shapes)) for b in range(a + 1, len(shapes))
        if islands[a] != islands[b] and shapes[a].distance(shapes[b]) <= 0.1
    }  # fmt: skip
    assert found == wanted


def test_far_too_many_boxes_are_refused_in_bounded_time() -> None:
    steps = np.arange(3000)
    lines = shapely.linestrings([[(0, n * 0.01), (100, 100 + n * 0.01)] for n in steps])
    with pytest.raises(TooDense):
        near_but_apart(shapely.buffer(lines, 0.002), steps, 0.0001)


def test_copper_rounded_apart_is_joined_and_a_cut_is_not() -> None:
    head = "%FSLAX46Y46*%\n%MOMM*%\n%TF.FileFunction,Copper,L1,Top*%\n%ADD10C,1*%\n%TO.N,A*%\n"
    for gap, broken in ((2_000, False), (50_000, True)):
        text = f"{head}D10*\nX0Y0D03*\nX{1_000_000 + gap}Y0D03*\nM02*\n"
        copper = join_copper(read_set({"a.gbr": text.encode()}))
        assert copper is not None and bool(copper.breaks) is broken, gap
