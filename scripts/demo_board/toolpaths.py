"""Tool paths of a mill for the prototype, in words of ISO 6983: G0 to move, G1 to cut, G2 and G3 round.

The copper side lies up in the machine, so x counts from the other edge than in a drawing seen from the parts. Forgetting
that, or doing it twice, is the mistake that costs a board.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import shapely
from shapely.geometry import Polygon

from demo_board import drills, netlist, tables
from demo_board.gerber import Style, copper, outline
from demo_board.nouns import BOTTOM, Board
from demo_board.prototype import DOSSIER, prototype
from demo_board.sets import Files
from demo_board.truth import pieces

TOOL_UM, CUTTER_UM = 200.0, 2_000.0
NEAR_UM = 0.5
Place = tuple[float, float]
HEAD = ("G21", "G17", "G90", "G94")


def isolation(board: Board, mirrored: bool) -> str:
    """Contours around the copper, half a tool away from it."""
    whole = shapely.union_all([piece.shape for piece in pieces(board) if BOTTOM in piece.layers])
    grown = whole.buffer(TOOL_UM / 2, quad_segs=16)
    rings = [ring for one in getattr(grown, "geoms", [grown]) for ring in (one.exterior, *one.interiors)]
    lines = opened(board, "isolation", f"tool {TOOL_UM / 1_000:.3f} mm", mirrored)
    paths = [[turned(board, point, mirrored) for point in ring.coords] for ring in rings]
    for path in sorted(paths, key=lambda path: min(path)):
        lines += contour(path, -0.06)
    return closed(lines)


def drilling(board: Board, mirrored: bool) -> str:
    """Holes, one tool after the other; a tool change stops the machine."""
    hits = [*drills.plated_hits(board), *drills.unplated_hits(board)]
    lines = opened(board, "drilling", "tools as named", mirrored)
    for number, size in enumerate(sorted({hit.drill_um for hit in hits}), 1):
        lines += [f"(drill {size / 1_000:.3f} mm)", f"T{number} M6"]
        for hit in hits:
            if hit.drill_um == size:
                lines += [f"G0 {place(turned(board, (hit.x_um, hit.y_um), mirrored))}", "G1 Z-1.800 F60", "G0 Z2.000"]
    return closed(lines)


def cutting_out(board: Board, mirrored: bool) -> str:
    """The edge, half a cutter outside."""
    ring = Polygon(board.outline).buffer(CUTTER_UM / 2, quad_segs=16).exterior
    lines = opened(board, "outline", f"cutter {CUTTER_UM / 1_000:.3f} mm", mirrored)
    return closed([*lines, *contour([turned(board, point, mirrored) for point in ring.coords], -1.8)])


def turned(board: Board, point: Sequence[float], mirrored: bool) -> Place:
    """A place on the machine's table."""
    left, _, right, _ = board.box()
    return (left + right - point[0] if mirrored else point[0], point[1])


def opened(board: Board, what: str, tool: str, mirrored: bool) -> list[str]:
    """First lines of a program."""
    words = "copper side up, mirrored left to right" if mirrored else "as seen from the parts"
    return [
        "%",
        f"({board.name} revision {board.revision}, {what})",
        f"({words})",
        f"({tool})",
        *HEAD,
        "M3 S12000",
        "G0 Z2.000",
    ]


def closed(lines: list[str]) -> str:
    """The whole program."""
    return "\n".join([*lines, "M5", "M2", "%", ""])


def place(at: Place) -> str:
    """A place in millimetres."""
    return f"X{at[0] / 1_000:.3f} Y{at[1] / 1_000:.3f}"


def contour(path: list[Place], depth_mm: float) -> Iterator[str]:
    """One closed path: straight where it is straight, and one arc for each run of points on a circle."""
    yield f"G0 {place(path[0])}"
    yield f"G1 Z{depth_mm:.3f} F60"
    at = 0
    while at < len(path) - 1:
        end, centre = arc_from(path, at)
        if centre is None:
            yield f"G1 {place(path[at + 1])} F180"
            at += 1
            continue
        a, b = path[at], path[at + 1]
        turn = (a[0] - centre[0]) * (b[1] - centre[1]) - (a[1] - centre[1]) * (b[0] - centre[0])
        i, j = (centre[0] - a[0]) / 1_000, (centre[1] - a[1]) / 1_000
        yield f"{'G3' if turn > 0 else 'G2'} {place(path[end])} I{i:.3f} J{j:.3f} F180"
        at = end
    yield "G0 Z2.000"


def arc_from(path: list[Place], at: int) -> tuple[int, Place | None]:
    """Last point of the arc that starts here, and its centre; none where fewer than five points lie on one circle."""
    if at + 4 >= len(path):
        return at, None
    centre = circle(*path[at : at + 3])
    if centre is None:
        return at, None
    radius = math.dist(centre, path[at])
    step = math.dist(path[at], path[at + 1])
    end, swept = at + 1, 0.0
    while end + 1 < len(path):
        chord = math.dist(path[end], path[end + 1])
        swept += step / radius
        if abs(math.dist(centre, path[end + 1]) - radius) > NEAR_UM or chord > step * 1.05 + 1 or swept > math.pi:
            break
        end += 1
    return (end, centre) if end - at >= 4 and radius < 20_000 else (at, None)


def circle(a: Place, b: Place, c: Place) -> Place | None:
    """Centre of the circle through three points."""
    d = 2 * (a[0] * (b[1] - c[1]) + b[0] * (c[1] - a[1]) + c[0] * (a[1] - b[1]))
    if abs(d) < 1e-3:
        return None
    sa, sb, sc = (p[0] ** 2 + p[1] ** 2 for p in (a, b, c))
    return (
        (sa * (b[1] - c[1]) + sb * (c[1] - a[1]) + sc * (a[1] - b[1])) / d,
        (sa * (c[0] - b[0]) + sb * (a[0] - c[0]) + sc * (b[0] - a[0])) / d,
    )


STATES = {
    "good": {"isolation": True, "drilling": True, "outline": True},
    "flipped": {"isolation": False, "drilling": False, "outline": False},
    "copper-flipped": {"isolation": False, "drilling": True, "outline": True},
    "drilling-flipped": {"isolation": True, "drilling": False, "outline": True},
}
"""Which programs are mirrored, by state. Copper lies below, so a good program is mirrored; flipped twice is not at all."""


def milled(state: str = "good", gerber_mirrored: bool = False) -> Files:
    """The prototype's set, its programs in one of the states; its copper file may be mirrored by whoever exported it."""
    board, style = prototype(), Style()
    drawn = board.mirrored_x() if gerber_mirrored else board
    mirrored = STATES[state]
    hits = [*drills.plated_hits(board), *drills.unplated_hits(board)]
    made: dict[str, str | bytes] = {
        "prototype-bottom-copper.gbr": copper(drawn, BOTTOM, style),
        "prototype-outline.gbr": outline(board, style),
        "prototype-unplated.drl": drills.drill_file(board, hits, plated=False),
        "prototype-netlist.ipc": netlist.netlist(board),
        "prototype-bom.csv": tables.bill(board),
        "prototype-isolation.nc": isolation(board, mirrored["isolation"]),
        "prototype-drilling.nc": drilling(board, mirrored["drilling"]),
        "prototype-outline.nc": cutting_out(board, mirrored["outline"]),
        "prototype.toml": DOSSIER,
    }
    return {name: text.encode() if isinstance(text, str) else text for name, text in made.items()}


MILLED: dict[str, tuple[str, bool, str]] = {
    "milled": ("good", False, ""),
    "milled-flipped": ("flipped", False, "no program is mirrored: the board comes out as its mirror image"),
    "milled-copper-flipped": ("copper-flipped", False, "isolation is not mirrored, holes and edge are"),
    "milled-drilling-flipped": ("drilling-flipped", False, "holes are not mirrored, isolation and edge are"),
    "milled-flipped-twice": ("flipped", True, "mirrored on export and again for the mill, which undoes it"),
}
"""Sets of the prototype: state of the programs, whether the copper file is mirrored, and what is wrong (nothing: good)."""
