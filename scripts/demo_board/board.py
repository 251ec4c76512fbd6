"""The good board put together, and the same for any altered list of parts."""

from __future__ import annotations

from functools import cache

from demo_board import circuit
from demo_board.lettering import strokes
from demo_board.nouns import BOTTOM, NO_NET, TOP, Board, Hole, Part, Pour, Stroke, placed
from demo_board.routing import comb

MADE = "2031-01-12T20:00:00+01:00"
TITLE = "DEEP STATION CONTROL ROOM"
POURED_PINS = ("0", "6", "7", "8", "10")


@cache
def good_board() -> Board:
    """Revision B as the example dossier states it."""
    return board_of(circuit.parts())


def board_of(parts: tuple[Part, ...], revision: str = "B") -> Board:
    """Lay out and route a list of parts."""
    sockets = [part for part in parts if part.footprint.name.startswith("15-pin")]
    poured = {(part.ref, pin) for part in sockets for pin in POURED_PINS if part.nets.get(pin, "GND") == "GND"}
    made, parts = comb(parts, poured, circuit.SOUTH_UM, circuit.NORTH_UM - 1_500)
    wide, high = circuit.WIDTH_UM, circuit.HIGH_UM
    pour = Pour(TOP, ((2_000, 2_000), (wide - 2_000, 2_000), (wide - 2_000, 13_500), (2_000, 13_500)), "GND")
    holes = tuple(Hole(x, y, 3_200) for y in (3_500, high - 12_000) for x in (3_500, wide - 3_500))
    return Board(
        "deep-station",
        revision,
        MADE,
        ((0, 0), (wide, 0), (wide, high), (0, high)),
        parts,
        tuple(pad for part in parts for pad in placed(part)),
        tuple(made.tracks),
        tuple(made.vias),
        (pour,),
        holes,
        legend(parts, revision, wide, high),
        wide_openings={"J7": 25},  # its pads stand too close for the usual rim
    )


def legend(parts: tuple[Part, ...], revision: str, wide_um: int, high_um: int) -> tuple[Stroke, ...]:
    """Outlines and names of the parts, the title, the revision, and what is plugged in where."""
    drawn: list[Stroke] = []
    for part in parts:
        half_w, half_h = part.footprint.body_w_um // 2, part.footprint.body_h_um // 2
        size = 720 if part.ref.startswith("TP") else 900
        if part.ref.startswith("J") and part.ref in circuit.CONNECTORS:
            name = f"{part.ref} {circuit.CONNECTORS[part.ref][0].upper()}"
            drawn += strokes(name, part.x_um - 5_500, 14_200, 1_000, TOP)
            drawn += box(part, half_w, 4_200)
        elif part.ref.startswith("U"):
            drawn += strokes(
                part.ref, part.x_um - 900, part.y_um + half_h - 1_800 - 2_000 * (part.ref == "U1"), 1_200, TOP
            )
        elif not part.ref.startswith("FID"):
            sign = -1 if part.side == BOTTOM else 1
            drawn += strokes(part.ref, part.x_um - sign * (half_w + 200), part.y_um + half_h + 500, size, part.side)
    drawn += strokes(f"{TITLE} REV {revision}", 4_000, high_um - 4_500, 2_000, TOP)
    drawn += strokes(f"{TITLE} REV {revision}", wide_um - 4_000, high_um - 4_500, 2_000, BOTTOM)
    return tuple(drawn)


def box(part: Part, half_w_um: int, half_h_um: int) -> list[Stroke]:
    """Outline of a body."""
    corners = [(-half_w_um, -half_h_um), (half_w_um, -half_h_um), (half_w_um, half_h_um), (-half_w_um, half_h_um)]
    points = [part.at(point) for point in corners]
    return [Stroke(TOP, start, end) for start, end in zip(points, [*points[1:], points[0]], strict=True)]


def connected(board: Board) -> dict[str, list[tuple[str, str]]]:
    """Pins by net, without those on none."""
    found: dict[str, list[tuple[str, str]]] = {}
    for pin, net in board.pins().items():
        if net != NO_NET:
            found.setdefault(net, []).append(pin)
    return found
