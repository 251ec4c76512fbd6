"""The demo board held against its dossier, and the milled prototype against what a cutter would leave of the copper.

The cut board is made by sweeping a round tool along the programs, read by the letters of ISO 6983 (X, Y, I, J and G0 to
G3), and asking which pads still hang together. Clearances: distances between shapes by shapely.
"""

from __future__ import annotations

import math
import re
import tomllib
from pathlib import Path

import pytest
import shapely
from shapely.geometry import LineString, Point

from demo_board import circuit, sets, toolpaths, truth
from demo_board.board import good_board
from demo_board.footprints import FUNCTIONS
from demo_board.nouns import NO_NET, Board
from demo_board.prototype import WIDE_UM, prototype
from scanloom.formats.dossier_file import read_dossier

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = ROOT / "examples" / "deep-station"
LEAST_UM = 200


def test_the_example_holds_the_good_set() -> None:
    files = sets.files(good_board())
    held = {path.name: path.read_bytes() for path in (EXAMPLE / "fab" / "rev-b").iterdir()}
    assert sets.differing(held, files) == set(), (
        "run: python scripts/demo_board plain --to examples/deep-station/fab/rev-b"
    )
    assert sum(map(len, files.values())) < 300_000


def far_end(board: Board, ref: str, net: str) -> str:
    """Net on the other side of a part with two pins."""
    (other,) = set(board.part(ref).nets.values()) - {net}
    return other


def test_the_board_is_what_the_dossier_says() -> None:
    dossier = tomllib.loads((EXAMPLE / "final.toml").read_text(encoding="utf-8"))
    board, pins = good_board(), good_board().pins()
    chip = {function: pins["U1", str(number)] for number, function in FUNCTIONS.items() if function.startswith("GPIO")}
    resistors = {ref for ref, _ in pins if ref.startswith("R")}

    def through(net: str) -> dict[str, str]:
        return {ref: far_end(board, ref, net) for ref in resistors if net in board.part(ref).nets.values()}

    for connector in dossier["board"]["connectors"]:
        for colour, contact in circuit.COLOUR_PIN.items():
            if colour in connector:
                ways = through(chip[f"GPIO{connector[colour]}"])
                assert list(ways.values()) == [pins[connector["name"], contact]]
                assert [board.part(ref).value for ref in ways] == ["240"]
                assert dossier["levels"]["colour"]["part"].startswith("240 ohm")
            else:
                assert pins[connector["name"], contact] == NO_NET
        assert {pins[connector["name"], number] for number in ("0", "5", "6", "7", "8", "10")} == {"GND"}
        for axis, contact in (("h", "13"), ("v", "14")):
            (ref,) = through(pins[connector["name"], contact])
            bus = far_end(board, ref, pins[connector["name"], contact])
            assert board.part(ref).value == "47" and dossier["levels"]["sync"]["branch"].startswith("47 ohm")
            outputs = [number for (part, number), net in pins.items() if part == "U3" and net == bus]
            inputs = {str(int(number) + (1 if number in ("8", "11") else -1)) for number in outputs}
            assert {pins["U3", number] for number in inputs} == {chip[f"GPIO{dossier['board']['sync'][axis]}"]}
    parts = dossier["board"]["parts"]
    assert chip[parts["U1"]["talks"]] == pins["U2", parts["U2"]["hears"]]
    assert chip[parts["U1"]["hears"]] == pins["U2", parts["U2"]["talks"]]


@pytest.mark.parametrize("make", [good_board, prototype])
def test_different_nets_keep_their_distance(make: object) -> None:
    board = make()  # type: ignore[operator]
    pieces = list(truth.pieces(board))
    for side in truth.SIDES:
        own = [piece for piece in pieces if side in piece.layers]
        tree = shapely.STRtree([piece.shape for piece in own])
        near = tree.query([piece.shape for piece in own], predicate="dwithin", distance=LEAST_UM - 1)
        for a, b in zip(*near, strict=True):
            one, other = own[a], own[b]
            same = one.net == other.net and (one.net != NO_NET or one.pin == other.pin)
            assert same, f"{one.net} {one.pin} and {other.net} {other.pin} on the {side}"


WORDS = re.compile(r"([GXYIJ])(-?\d+(?:\.\d+)?)")


def cuts(program: str) -> list[list[tuple[float, float]]]:
    """Paths cut into the board, arcs as short chords. [um]."""
    found: list[list[tuple[float, float]]] = []
    at, down = (0.0, 0.0), False
    for line in program.splitlines():
        if line.startswith("(") or not line.startswith("G"):
            continue
        words = {letter: float(value) for letter, value in WORDS.findall(line)}
        if "Z" in line:
            down = "Z-" in line
            if down:
                found.append([at])
            continue
        if "X" not in words:
            continue
        to = (words["X"] * 1_000, words["Y"] * 1_000)
        if down and words["G"] >= 2:
            middle = (at[0] + words["I"] * 1_000, at[1] + words["J"] * 1_000)
            start, end = (math.atan2(p[1] - middle[1], p[0] - middle[0]) for p in (at, to))
            sweep = (end - start) % math.tau if words["G"] == 3 else -((start - end) % math.tau)
            radius = math.dist(middle, at)
            assert abs(radius - math.dist(middle, to)) < 2, f"the ends of an arc lie on two circles: {line}"
            steps = max(4, int(abs(sweep) * 16))
            found[-1] += [
                (
                    middle[0] + radius * math.cos(start + sweep * n / steps),
                    middle[1] + radius * math.sin(start + sweep * n / steps),
                )
                for n in range(1, steps + 1)
            ]
        elif down:
            found[-1].append(to)
        at = to
    return [path for path in found if len(path) > 1]


def left_over(program: str, mirrored: bool) -> list[set[tuple[str, str]]]:
    """Groups of pads that still hang together once the tool has gone round, the copper seen from the parts."""
    board = prototype()
    swept = shapely.union_all([LineString(path).buffer(toolpaths.TOOL_UM / 2 - 3) for path in cuts(program)])
    islands = shapely.box(*board.box()).difference(swept)
    groups = []
    for island in islands.geoms:
        inside = set()
        for pad in board.pads:
            x = WIDE_UM - pad.x_um if mirrored else pad.x_um
            if island.contains(Point(x, pad.y_um)):
                inside.add((pad.ref, pad.number))
        groups.append(inside)
    return [group for group in groups if group]


def test_the_mill_leaves_what_the_netlist_says() -> None:
    wanted: dict[str, set[tuple[str, str]]] = {}
    for pad in prototype().pads:
        wanted.setdefault(pad.net if pad.net != NO_NET else f"{pad.ref}-{pad.number}", set()).add((pad.ref, pad.number))
    program = toolpaths.milled()["prototype-isolation.nc"].decode()
    assert sorted(map(sorted, left_over(program, mirrored=True))) == sorted(map(sorted, wanted.values()))
    flipped = toolpaths.milled("flipped")["prototype-isolation.nc"].decode()
    assert sorted(map(sorted, left_over(flipped, mirrored=False))) == sorted(map(sorted, wanted.values()))
    assert sorted(map(sorted, left_over(flipped, mirrored=True))) != sorted(map(sorted, wanted.values()))


def test_programs_drill_every_hole_and_cut_the_edge() -> None:
    made, board = toolpaths.milled(), prototype()
    holes = re.findall(r"G0 X(\S+) Y(\S+)\nG1 Z-1.800", made["prototype-drilling.nc"].decode())
    wanted = {(pad.x_um, pad.y_um) for pad in board.pads} | {(hole.x_um, hole.y_um) for hole in board.holes}
    assert sorted((WIDE_UM - round(float(x) * 1_000), round(float(y) * 1_000)) for x, y in holes) == sorted(wanted)
    (edge,) = cuts(made["prototype-outline.nc"].decode())
    inside = shapely.Polygon(edge).buffer(-toolpaths.CUTTER_UM / 2)
    assert math.isclose(inside.area, shapely.box(*board.box()).area, rel_tol=1e-3)


def test_states_of_the_mill_differ_in_the_programs_they_name() -> None:
    good = toolpaths.milled()
    for name, (state, mirrored, wrong) in toolpaths.MILLED.items():
        changed = sets.differing(toolpaths.milled(state, mirrored), good)
        mirrored_back = {f"prototype-{kind}.nc" for kind, right in toolpaths.STATES[state].items() if not right}
        symmetric = {"prototype-outline.nc"} if state == "flipped" else set()
        copper = {"prototype-bottom-copper.gbr"} if mirrored else set()
        assert mirrored_back - symmetric <= changed | symmetric and changed <= mirrored_back | copper, name
        assert bool(changed) == bool(wrong)


def test_the_prototype_brings_a_dossier_that_can_be_read(tmp_path: Path) -> None:
    path = tmp_path / "prototype.toml"
    path.write_bytes(toolpaths.milled()["prototype.toml"])
    assert read_dossier(path)
