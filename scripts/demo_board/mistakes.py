"""Mistakes planted on purpose, one to a set; planted from the list of what costs a maker money, not from the checks."""

from __future__ import annotations

from dataclasses import replace

from demo_board import drills, gerber, sets
from demo_board.board import board_of
from demo_board.circuit import changed, renetted
from demo_board.mistakes_layout import LAYOUT
from demo_board.mistakes_sizes import SIZES
from demo_board.mistakes_tables import ENTRIES
from demo_board.nouns import BOTTOM, TOP, Board, Hole
from demo_board.planting import ALL, COPPER, TABLES, Made, Mistake, Where, file_only, only, shifted

OLD = "2030-11-02T18:30:00+01:00"


def swapped_sides(good: Board) -> Made:
    """Each copper file holds the other side, and says it is its own."""
    top, bottom = gerber.copper(good, TOP, gerber.Style()), gerber.copper(good, BOTTOM, gerber.Style())
    names = (sets.name(good, "top-copper"), sets.name(good, "bottom-copper"))
    first, second = "Copper,L1,Top", "Copper,L2,Bot"
    return Made({names[0]: bottom.replace(second, first).encode(), names[1]: top.replace(first, second).encode()})


def old_board(good: Board) -> Board:
    """An earlier revision: the buffer, the links and one connector stood elsewhere."""
    parts = good.parts
    for ref, dx, dy in (("U3", 0, -2_000), ("J6", -700, 0), ("J8", 650, 1_000), ("U1", 0, 1_000), ("R7", 300, 500)):
        part = good.part(ref)
        parts = changed(parts, ref, x_um=part.x_um + dx, y_um=part.y_um + dy)
    return replace(board_of(parts, "A"), made=OLD)


def old_outline(good: Board) -> Board:
    """The outline of a shorter board."""
    return replace(good, outline=((0, 0), (182_000, 0), (182_000, 84_000), (0, 84_000)), revision="A", made=OLD)


def old_netlist(good: Board) -> Made:
    """The netlist of a circuit in which two relays had each other's pin."""
    parts = renetted(good.parts, "U1", _33="J5-green-chip", _36="J4-green-chip")
    return only(replace(board_of(parts, "A"), made=OLD), "netlist")


def unplated_socket(good: Board) -> Made:
    """Holes of J3's pins listed among the unplated ones."""
    own = {(pad.x_um, pad.y_um) for pad in good.pads if pad.ref == "J3" and pad.number != "0"}
    plated = [hit for hit in drills.plated_hits(good) if (hit.x_um, hit.y_um) not in own]
    bare = [*drills.unplated_hits(good), *(drills.Hit(1_000, x, y) for x, y in sorted(own))]
    return Made({
        sets.name(good, "plated"): drills.drill_file(good, plated, plated=True).encode(),
        sets.name(good, "unplated"): drills.drill_file(good, bare, plated=False).encode(),
    })  # fmt: skip


def hole_beside_shell(good: Board) -> Board:
    """A mounting hole that leaves 0.14 mm to the shell pad of J1."""
    return replace(good, holes=(Hole(7_400, 4_900, 3_200), *good.holes[1:]))


def pour_to_the_edge(good: Board) -> Board:
    """The pour reaches to 0.05 mm from the edge."""
    pour = good.pours[0]
    corners = tuple((50 if x == 2_000 else x, y) for x, y in pour.corners)
    return replace(good, pours=(replace(pour, corners=corners),))


def swapped_names(good: Board) -> Made:
    """Each copper file goes by the other's name and says so in its attributes."""
    names = (sets.name(good, "top-copper"), sets.name(good, "bottom-copper"))
    return Made({names[0]: sets.written(good, "bottom-copper"), names[1]: sets.written(good, "top-copper")})


def inch_numbers(good: Board) -> Made:
    """Plated holes in inches under a head that says millimetres."""
    text = drills.drill_file(good, drills.plated_hits(good), plated=True, dialect="inch")
    return Made({sets.name(good, "plated"): text.replace("INCH", "METRIC").encode()})


APART = ("board.open", "board.short", "board.mixed-revisions", "board.clearance")
"""What a layer that does not lie on the others brings with it."""
GRAPHIC = tuple(role for role in ALL if role not in ("netlist", *TABLES))
TURNED = tuple(role for role in ALL if role not in ("bom", "unplated", "bottom-paste"))
"""Files that a mirror image alters: the mounting holes stand alike on either side, and the bottom has no paste."""
FILES = (
    Mistake(
        "bottom-mirrored",
        "bottom copper mirrored left to right",
        "board.side-mirrored",
        ("bottom-copper",),
        lambda good: only(good.mirrored_x(), "bottom-copper"),
        file_only("bottom-copper"),
        APART,
    ),
    Mistake(
        "top-upside-down",
        "top copper mirrored near to far",
        "board.side-mirrored",
        ("top-copper",),
        lambda good: only(good.mirrored_y(), "top-copper"),
        file_only("top-copper"),
        (*APART, "board.mask-web"),
    ),
    Mistake(
        "bottom-turned",
        "bottom copper turned by half a turn",
        "board.side-mirrored",
        ("bottom-copper",),
        lambda good: only(good.mirrored_x().mirrored_y(), "bottom-copper"),
        file_only("bottom-copper"),
        APART,
    ),
    Mistake(
        "top-mask-mirrored",
        "top mask mirrored left to right",
        "board.side-mirrored",
        ("top-mask",),
        lambda good: only(good.mirrored_x(), "top-mask"),
        file_only("top-mask"),
        ("board.mask-web", "board.mixed-revisions"),
    ),
    Mistake(
        "paste-mirrored",
        "top paste mirrored left to right",
        "board.side-mirrored",
        ("top-paste",),
        lambda good: only(good.mirrored_x(), "top-paste"),
        file_only("top-paste"),
        ("board.mixed-revisions",),
    ),
    Mistake(
        "drill-mirrored",
        "plated drill file mirrored left to right",
        "board.side-mirrored",
        ("plated",),
        lambda good: only(good.mirrored_x(), "plated"),
        file_only("plated"),
        APART,
    ),
    Mistake(
        "drill-moved",
        "plated drill file 5.08 mm to the right",
        "board.registration",
        ("plated",),
        lambda good: only(shifted(good, 5_080, 0), "plated"),
        file_only("plated"),
        ("board.open", "board.short", "board.clearance"),
        ("board.mixed-revisions", "board.side-mirrored"),
    ),
    Mistake(
        "sides-swapped",
        "each copper file holds the other side",
        "board.sides-swapped",
        COPPER,
        swapped_sides,
        (Where(role="top-copper"), Where(role="bottom-copper")),
        (*APART, "board.mask-web"),
    ),
    Mistake(
        "names-swapped",
        "copper files go by each other's names, against their own attributes",
        "board.roles",
        COPPER,
        swapped_names,
        (Where(role="top-copper"), Where(role="bottom-copper")),
        (*APART, "board.mask-web"),
        ("board.sides-swapped",),
    ),
    Mistake(
        "drill-units",
        "plated drill file in inches under a head that says millimetres",
        "board.registration",
        ("plated",),
        inch_numbers,
        file_only("plated"),
        APART,
        ("board.scale", "board.mixed-revisions", "board.roles"),
    ),
    Mistake(
        "netlist-elsewhere",
        "netlist 3 mm to the left, from another origin",
        "board.registration",
        ("netlist",),
        lambda good: only(shifted(good, -3_000, 0), "netlist"),
        file_only("netlist"),
        ("board.open", "board.short", "board.placement-origin"),
        ("board.mixed-revisions",),
    ),
    Mistake(
        "old-drills",
        "plated drill file of revision A",
        "board.mixed-revisions",
        ("plated",),
        lambda good: only(old_board(good), "plated"),
        file_only("plated"),
        ("board.open", "board.short", "board.clearance", "board.revision"),
    ),
    Mistake(
        "old-outline",
        "outline of revision A, 182 by 84 mm",
        "board.mixed-revisions",
        ("outline",),
        lambda good: only(old_outline(good), "outline"),
        file_only("outline"),
        ("board.clearance", "board.revision"),
    ),
    Mistake(
        "old-netlist",
        "netlist of a circuit with GPIO21 and GPIO22 exchanged",
        "board.mixed-revisions",
        ("netlist",),
        old_netlist,
        (Where(role="netlist", pin="U1-33"), Where(role="netlist", pin="U1-36")),
        ("board.open", "board.short", "board.lane-path"),
        ("board.short", "board.open"),
    ),
    Mistake(
        "mask-merged",
        "openings of U3 grown by 0.4 mm, so that they merge",
        "board.mask-web",
        ("top-mask",),
        lambda good: only(replace(good, wide_openings={**good.wide_openings, "U3": 400}), "top-mask"),
        (Where(pin="U3"),),
    ),
    Mistake(
        "hole-beside-shell",
        "a mounting hole 0.14 mm from the shell pad of J1",
        "board.clearance",
        ("top-copper", "top-mask", "bottom-mask", "unplated", "netlist"),
        lambda good: only(hole_beside_shell(good), "top-copper", "top-mask", "bottom-mask", "unplated", "netlist"),
        (Where(pin="J1-0", x_mm=7.4, y_mm=4.9),),
    ),
    Mistake(
        "copper-at-the-edge",
        "the pour reaches to 0.05 mm from the left edge",
        "board.clearance",
        ("top-copper",),
        lambda good: only(pour_to_the_edge(good), "top-copper"),
        (Where(role="top-copper", net="GND", x_mm=0.05, y_mm=7.75),),
    ),
    Mistake(
        "socket-unplated",
        "holes of J3 listed among the unplated ones",
        "board.open",
        ("plated", "unplated"),
        unplated_socket,
        (Where(pin="J3"),),
        ("board.mixed-revisions", "board.side-mirrored", "board.returns", "board.clearance"),
        ("board.mixed-revisions",),
    ),
    Mistake(
        "wrong-revision",
        "attributes and legend say revision A",
        "board.revision",
        GRAPHIC,
        lambda good: only(replace(board_of(good.parts, "A"), revision="A"), *GRAPHIC),
        (Where(role="top-legend"),),
        ("board.mixed-revisions",),
    ),
    Mistake(
        "all-mirrored",
        "every file mirrored left to right together",
        "board.connector-side",
        TURNED,
        lambda good: only(good.mirrored_x(), *TURNED),
        tuple(Where(pin=f"J{n}") for n in range(1, 7)),
        ("board.placement-rotated", "board.side-mirrored"),
        ("board.side-mirrored",),
    ),
)
MISTAKES: tuple[Mistake, ...] = (*FILES, *ENTRIES, *SIZES, *LAYOUT)
