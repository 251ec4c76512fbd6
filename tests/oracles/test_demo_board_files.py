"""Files of the demo board read by a reader that is not ours: gerbonara for layers and drills, columns for the netlist.

Copper found in the files is joined by shapely and held against the pins that the generator says are on each net. Layers
follow the Gerber layer format specification (Ucamco, revision 2021.02), netlists IPC-D-356A by its printed columns (from
memory), drills the XNC format specification (Ucamco, 2021.11, from memory).
"""

from __future__ import annotations

import csv
import io
import math
import re
import warnings
from collections import defaultdict
from functools import cache

import pytest
import shapely
from gerbonara import ExcellonFile, GerberFile
from gerbonara.cam import FileSettings
from gerbonara.graphic_objects import Flash, Line, Region
from gerbonara.utils import MM
from shapely.geometry import LineString, Point, Polygon

from demo_board import sets, sizes, tables
from demo_board.mistakes import MISTAKES
from demo_board.nouns import NO_NET, Board
from demo_board.planting import carried_out
from demo_board.variants import VARIANTS

METRIC = {"noted"}
DRAWN = ("plain", "comment-attributes", "inch", "inner-planes", "inner-comments", "bare-header")
"""Variants whose layers are written in ways of their own; the others share theirs with the plain one."""
DRILLED = ("plain", "no-attributes", "inch", "slots-in-one", "drill-no-format", "inner-planes", "bare-header")
LISTED = ("plain", "netlist-noted", "netlist-listed", "inner-planes", "inner-comments", "long-names", "bare-header")


@cache
def made(variant: str) -> tuple[Board, sets.Dialects, dict[str, str]]:
    board, dialects = VARIANTS[variant]()
    texts = {
        role: content.decode(dialects.table.encoding if role in ("centroid", "bom") else "utf-8")
        for role, content in ((role, sets.written(board, role, dialects)) for role in sets.roles(board))
    }
    return board, dialects, texts


def layer(text: str) -> GerberFile:
    """A layer as gerbonara reads it, attributes in comments included."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return GerberFile.from_string(re.sub(r"(?m)^G04 #@! (T[FAOD][^*]*)\*", r"%\1*%", text), filename="layer.gbr")


def drills(text: str, plain: bool = True) -> list[tuple[int, int, int, int]]:
    """Holes and slots: diameter, middle and length of a slot, in micrometres; G85 is put as a route, which the reader knows."""
    text = re.sub(r"(?m)^(X\S+?)G85(X\S+)$", r"G00\1\nM15\nG01\2\nM16\nG05", text)
    settings = FileSettings(unit=MM, number_format=(3, 3), zeros="leading", notation="absolute")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        read = ExcellonFile.from_string(text, settings=None if plain else settings, filename="holes.drl")
    found = []
    for one in read.objects:
        size = um(one.aperture.diameter, one.aperture.unit)
        if isinstance(one, Flash):
            found.append((size, um(one.x, one.unit), um(one.y, one.unit), 0))
        else:
            low, high = um(one.y1, one.unit), um(one.y2, one.unit)
            found.append((size, um(one.x1, one.unit), (low + high) // 2, abs(high - low)))
    return found


def um(length: float, unit: object) -> int:
    return round(MM(length, unit) * 1_000)


def wanted_holes(board: Board) -> list[tuple[int, int, int, int]]:
    holes = [(v.drill_um, v.x_um, v.y_um, 0) for v in board.vias]
    holes += list({(p.drill_um, p.x_um, p.y_um, p.slot_um) for p in board.pads if p.drill_um})
    return sorted(holes)


def near(found: list[tuple[int, ...]], wanted: list[tuple[int, ...]], within_um: int) -> bool:
    pairs = zip(sorted(found), sorted(wanted), strict=True)
    return all(abs(a - b) <= within_um for one, other in pairs for a, b in zip(one, other, strict=True))


@pytest.mark.parametrize("variant", DRAWN)
def test_layers_say_what_they_are(variant: str) -> None:
    board, _, texts = made(variant)
    last = 2 + len(board.inner)
    functions = {
        "top-copper": ("Copper", "L1", "Top"), "bottom-copper": ("Copper", f"L{last}", "Bot"), "top-mask": ("Soldermask", "Top"),
        "bottom-mask": ("Soldermask", "Bot"), "top-paste": ("Paste", "Top"), "bottom-paste": ("Paste", "Bot"),
        "top-legend": ("Legend", "Top"), "bottom-legend": ("Legend", "Bot"), "outline": ("Profile", "NP"),
    }  # fmt: skip
    for role, function in functions.items():
        attributes = layer(texts[role]).file_attrs
        assert tuple(attributes[".FileFunction"]) == function
        assert attributes[".ProjectId"][0] == board.name
        assert attributes[".ProjectId"][-1] == "B"


@pytest.mark.parametrize("variant", DRAWN)
def test_pads_are_read_with_pin_and_net(variant: str) -> None:
    board, _, texts = made(variant)
    for side in ("top", "bottom"):
        found = []
        for one in layer(texts[f"{side}-copper"]).objects:
            if isinstance(one, Flash) and one.polarity_dark and one.attrs.get(".P"):
                ref, number = one.attrs[".P"][:2]
                found.append((um(one.x, one.unit), um(one.y, one.unit), ref, number, one.attrs[".N"][0]))
        wanted = [(p.x_um, p.y_um, p.ref, p.number, p.net) for p in board.pads if p.drill_um or p.side == side]
        assert sorted(found) == sorted(wanted)


@pytest.mark.parametrize("variant", DRILLED)
def test_holes_are_read_where_they_are(variant: str) -> None:
    board, dialects, texts = made(variant)
    plain = dialects.drill != "no-format"
    within_um = 1 if dialects.drill == "inch" else 0
    assert near(drills(texts["plated"], plain), wanted_holes(board), within_um)
    bare = [(hole.drill_um, hole.x_um, hole.y_um, 0) for hole in board.holes]
    if bare:
        assert near(drills(texts["unplated"], plain), bare, within_um)


def fields(line: str) -> tuple[str, str, str, str, int, int]:
    """Net, part, pin, access, and place of a record, by its printed columns."""
    return (
        line[3:17].strip(), line[20:26].strip(), line[27:31].strip(), line[38:41], int(line[42:49]), int(line[50:57]),
    )  # fmt: skip


@pytest.mark.parametrize("variant", LISTED)
def test_netlist_columns_hold_the_pins(variant: str) -> None:
    board, dialects, texts = made(variant)
    lines = texts["netlist"].splitlines()
    unit_um = 1.0 if dialects.netlist in METRIC else 2.54
    assert f"CUST {1 if unit_um == 1.0 else 0}" in texts["netlist"]
    alias = dict(re.findall(r"(?m)^P  (NNAME\d+) (.+?) *$", texts["netlist"]))
    alias |= dict(re.findall(r"(?m)^C  NNAME(m\d+) (.+?) *$", texts["netlist"]))
    records = [line for line in lines if line[:3] in ("317", "327") and line[20:23] != "VIA"]
    assert len(records) == len(board.pads)
    for line, pad in zip(records, board.pads, strict=True):
        net, ref, number, access, x, y = fields(line)
        wanted = pad.net if dialects.netlist != "cut" or pad.net == NO_NET else pad.net.upper().replace(" ", "?")[-14:]
        assert (alias.get(net, net), ref, number) == (wanted, pad.ref[:6], pad.number)
        assert access == ("A00" if pad.drill_um else "A01" if pad.side == "top" else f"A{2 + len(board.inner):02}")
        assert (line[41], line[49], line[57], line[62], line[67], line[72]) == ("X", "Y", "X", "Y", "R", "S")
        assert math.isclose(x * unit_um, pad.x_um, abs_tol=1.3) and math.isclose(y * unit_um, pad.y_um, abs_tol=1.3)
    assert lines[-1].rstrip() == "999"
    if dialects.netlist == "noted":
        assert {len(line) for line in lines} == {80}


def test_files_have_names_of_their_own() -> None:
    for variant, make in VARIANTS.items():
        board, dialects = make()
        names = [sets.name(board, role, dialects.names) for role in sets.roles(board)]
        assert len({name.lower() for name in names}) == len(names), variant
    board = made("plain")[0]
    assert sets.name(board, "top-copper", "endings") == "deep-station.gtl"
    assert sets.name(board, "unplated", "initials") == "NPTH.drl"
    assert sets.name(board, "bom", "numbers") == "14.csv"


def test_cut_names_of_nets_stay_apart() -> None:
    nets = {pad.net for pad in made("plain")[0].pads}
    assert len({net.upper()[-14:] for net in nets}) == len(nets)


def shape_of(one: object) -> shapely.Geometry:
    """Outline of a graphic object in micrometres, from what gerbonara says of it."""
    if isinstance(one, Region):
        return Polygon([(MM(x, one.unit) * 1_000, MM(y, one.unit) * 1_000) for x, y in one.outline])
    if isinstance(one, Line):
        ends = [(MM(x, one.unit) * 1_000, MM(y, one.unit) * 1_000) for x, y in ((one.x1, one.y1), (one.x2, one.y2))]
        return LineString(ends).buffer(MM(one.aperture.diameter, one.aperture.unit) * 500)
    assert isinstance(one, Flash)
    x, y, aperture = MM(one.x, one.unit) * 1_000, MM(one.y, one.unit) * 1_000, one.aperture
    if hasattr(aperture, "diameter"):
        return Point(x, y).buffer(MM(aperture.diameter, aperture.unit) * 500)
    w, h = MM(aperture.w, aperture.unit) * 500, MM(aperture.h, aperture.unit) * 500
    return shapely.box(x - w, y - h, x + w, y + h)  # an obround's corners touch nothing here


def copper(text: str) -> list[tuple[shapely.Geometry, tuple[str, str] | None]]:
    """Pieces of one layer, clearances cut out of what was drawn before, with the pin of each pad."""
    kept: list[tuple[shapely.Geometry, tuple[str, str] | None]] = []
    cuts: list[shapely.Geometry] = []
    for one in layer(text).objects:
        if not one.polarity_dark:
            cuts.append(shape_of(one))
            continue
        if cuts:
            gone = shapely.union_all(cuts)
            kept, cuts = [(shape.difference(gone), pin) for shape, pin in kept], []
        pin = one.attrs.get(".P") if isinstance(one, Flash) else None
        kept.append((shape_of(one), tuple(pin[:2]) if pin else None))
    return [(part, pin) for shape, pin in kept for part in getattr(shape, "geoms", [shape])]


def joined(texts: dict[str, str], holes: list[tuple[int, int, int, int]]) -> list[set[tuple[str, str]]]:
    """Pins that copper and plated holes join, from the files alone."""
    roles = [role for role in texts if role.endswith("-copper")]
    pieces = [(role, shape, pin) for role in roles for shape, pin in copper(texts[role])]
    leader = list(range(len(pieces) + len(holes)))

    def top(n: int) -> int:
        while leader[n] != n:
            n = leader[n]
        return n

    for role in roles:
        own = [n for n, piece in enumerate(pieces) if piece[0] == role]
        tree = shapely.STRtree([pieces[n][1] for n in own])
        for a, b in zip(*tree.query([pieces[n][1] for n in own], predicate="intersects"), strict=True):
            leader[top(own[a])] = top(own[b])
        middles = [Point(x, y) for _, x, y, _ in holes]
        for a, b in zip(*tree.query(middles, predicate="within"), strict=True):
            leader[top(len(pieces) + a)] = top(own[b])
    groups: dict[int, set[tuple[str, str]]] = defaultdict(set)
    for n, (_, _, pin) in enumerate(pieces):
        if pin:
            groups[top(n)].add(pin)
    return [group for group in groups.values() if group]


def wanted_groups(board: Board) -> list[set[tuple[str, str]]]:
    nets: dict[str, set[tuple[str, str]]] = defaultdict(set)
    for pad in board.pads:
        nets[pad.net if pad.net != NO_NET else f"{pad.ref}-{pad.number}"].add((pad.ref, pad.number))
    return list(nets.values())


def ordered(groups: list[set[tuple[str, str]]]) -> list[list[tuple[str, str]]]:
    return sorted(sorted(group) for group in groups)


@pytest.mark.parametrize("variant", ["plain", "inch", "inner-planes", "bare-header"])
def test_copper_joins_what_the_netlist_says(variant: str) -> None:
    board, _, texts = made(variant)
    assert ordered(joined(texts, drills(texts["plated"]))) == ordered(wanted_groups(board))


def test_sizes_are_as_promised() -> None:
    board = sizes.large()
    texts = {role: sets.written(board, role).decode() for role in ("top-copper", "bottom-copper", "plated")}
    assert len(drills(texts["plated"])) == 2_000
    assert sum(len(layer(texts[f"{side}-copper"]).objects) for side in ("top", "bottom")) == 8_000
    assert ordered(joined(texts, drills(texts["plated"]))) == ordered(wanted_groups(board))
    assert board.box() == (0, 0, 285_000, 97_000)


@pytest.mark.parametrize("variant", ["plain", "decimal-comma", "wide-csv", "shouted-values"])
def test_tables_hold_the_parts(variant: str) -> None:
    board, dialects, texts = made(variant)
    mark = ";" if dialects.table.comma else ","
    rows = list(csv.DictReader(io.StringIO(texts["centroid"].removeprefix("\ufeff")), delimiter=mark))
    machine = {part.ref: part for part in board.parts if part.fit == "machine"}
    assert [row["Designator"] for row in rows] == list(machine)
    for row in rows:
        part = machine[row["Designator"]]
        at = [round(float(row[key].replace(",", ".")) * 1_000) for key in ("X (mm)", "Y (mm)")]
        assert (*at, int(row["Rotation"])) == (*tables.middle(part), part.turn_deg)
    bill = list(csv.DictReader(io.StringIO(texts["bom"].removeprefix("\ufeff")), delimiter=mark))
    listed = [ref for row in bill for ref in row["Designators"].split(",")]
    assert sorted(listed) == sorted(part.ref for part in board.parts if part.value not in ("test pad", "mark"))
    assert all(int(row["Quantity"]) == len(row["Designators"].split(",")) for row in bill)


# What is planted, read from the files of the wrong set alone.


@cache
def planted(name: str) -> dict[str, str]:
    board = made("plain")[0]
    (mistake,) = [one for one in MISTAKES if one.name == name]
    files = carried_out(mistake, board, sets.files(board)).files
    return {role: files[sets.name(board, role)].decode() for role in sets.roles(board)}


def flashes(text: str) -> set[tuple[int, int]]:
    return {
        (um(one.x, one.unit), um(one.y, one.unit))
        for one in layer(text).objects
        if isinstance(one, Flash) and one.polarity_dark
    }


MAPS = {
    "as it is": lambda x, y: (x, y),
    "left to right": lambda x, y: (200_000 - x, y),
    "near to far": lambda x, y: (x, 90_000 - y),
    "half a turn": lambda x, y: (200_000 - x, 90_000 - y),
}


@pytest.mark.parametrize(
    ("name", "role", "fits"),
    [
        ("bottom-mirrored", "bottom-copper", "left to right"),
        ("top-upside-down", "top-copper", "near to far"),
        ("bottom-turned", "bottom-copper", "half a turn"),
        ("names-swapped", "top-copper", "as it is"),
    ],
)
def test_a_turned_layer_fits_the_holes_under_one_map(name: str, role: str, fits: str) -> None:
    texts = planted(name)
    holes = {(x, y) for _, x, y, _ in drills(texts["plated"])}
    pads = flashes(texts[role])
    share = {map_: len({turn(*hole) for hole in holes} & pads) / len(holes) for map_, turn in MAPS.items()}
    assert share.pop(fits) == 1.0
    assert max(share.values()) < 0.6


def test_swapped_sides_show_in_pads_without_holes() -> None:
    board, texts = made("plain")[0], planted("sides-swapped")
    small = {(pad.x_um, pad.y_um) for pad in board.pads if not pad.drill_um and pad.side == "top"}
    assert small <= flashes(texts["bottom-copper"])
    module = next((pad.x_um, pad.y_um) for pad in board.pads if (pad.ref, pad.number) == ("U1", "39"))
    assert small & flashes(texts["top-copper"]) == {module}, "the pad below the module has a via in its middle"


@pytest.mark.parametrize(("name", "groups_more"), [("track-cut", 1), ("tracks-bridged", -1)])
def test_one_cut_opens_one_net_and_one_bridge_joins_two(name: str, groups_more: int) -> None:
    texts, good = planted(name), wanted_groups(made("plain")[0])
    found = joined(texts, drills(texts["plated"]))
    changed = [group for group in found if group not in good]
    assert len(found) == len(good) + groups_more
    assert len(changed) == (2 if groups_more > 0 else 1)
    gone = [group for group in good if group not in found]
    assert set().union(*changed) == set().union(*gone)


def hand(text: str, ref: str) -> int:
    """Sign of the turn from the row of pins 1 to 5 to pin 11: positive for a female socket on top, Y up."""
    at = {}
    for one in layer(text).objects:
        if isinstance(one, Flash) and one.attrs.get(".P", ("",))[0] == ref:
            at[one.attrs[".P"][1]] = (one.x, one.y)
    u = [b - a for a, b in zip(at["1"], at["5"], strict=True)]
    v = [b - a for a, b in zip(at["1"], at["11"], strict=True)]
    return 1 if u[0] * v[1] - u[1] * v[0] > 0 else -1


def test_a_mirrored_socket_turns_the_other_way() -> None:
    good, wrong, all_turned = made("plain")[2], planted("socket-mirrored"), planted("all-mirrored")
    names = [f"J{number}" for number in range(1, 7)]
    assert [hand(good["top-copper"], name) for name in names] == [1] * 6
    assert [hand(wrong["top-copper"], name) for name in names] == [1, 1, 1, 1, -1, 1]
    assert [hand(all_turned["top-copper"], name) for name in names] == [-1] * 6


def merged_openings(text: str) -> int:
    whole = shapely.union_all([shape_of(one) for one in layer(text).objects])
    return len(layer(text).objects) - len(whole.geoms)


def test_merged_openings_are_two_rows_of_seven() -> None:
    """Coincident contacts of the inlet share four openings in the good set; U3's fourteen become two."""
    assert merged_openings(made("plain")[2]["top-mask"]) == 4
    assert merged_openings(planted("mask-merged")["top-mask"]) == 4 + 12


def test_a_hole_stands_too_near_the_shell() -> None:
    texts = planted("hole-beside-shell")
    holes = [Point(x, y).buffer(size / 2, quad_segs=64) for size, x, y, _ in drills(texts["unplated"])]
    shell = [shape for shape, pin in copper(texts["top-copper"]) if pin == ("J1", "0")]
    gap_um = min(hole.distance(pad) for hole in holes for pad in shell)
    assert gap_um == pytest.approx(141, abs=3)
