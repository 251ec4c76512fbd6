"""What a board is made of: pads, parts, tracks, vias, a pour; lengths are whole micrometres, so that bytes repeat."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace

NO_NET = "N/C"
TOP, BOTTOM = "top", "bottom"
Point = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Shape:
    """Outline of a pad: circle, rectangle or obround."""

    kind: str
    w_um: int
    h_um: int

    def turned(self, deg: int) -> Shape:
        """The same pad, a quarter turn on where the angle asks for it."""
        return replace(self, w_um=self.h_um, h_um=self.w_um) if deg % 180 else self


@dataclass(frozen=True, slots=True)
class Pad:
    """One pad of a footprint, from the part's origin."""

    number: str
    x_um: int
    y_um: int
    shape: Shape
    drill_um: int = 0
    slot_um: int = 0  # extra length of the hole, upright
    leave: str = ""  # first track: D, L, R; N the nearer way; H from its hole, V from a via in the pad; or none
    path: tuple[Point, ...] = ()  # of a hole: way out on the bottom; of a pad: track on top to another pad
    function: str = ""


@dataclass(frozen=True, slots=True)
class Footprint:
    """Pads and body of a kind of part."""

    name: str
    pads: tuple[Pad, ...]
    body_w_um: int
    body_h_um: int
    escape_um: int = 1_600  # from the pad's centre to its first via


@dataclass(frozen=True, slots=True)
class Part:
    """A part in its place; nets by pin, pins that are not named have none."""

    ref: str
    value: str
    footprint: Footprint
    nets: Mapping[str, str]
    x_um: int = 0
    y_um: int = 0
    turn_deg: int = 0
    fit: str = "machine"  # machine, hand or none
    swapped_sides: bool = False  # numbered from the wrong side
    side: str = TOP

    def at(self, point: Point) -> Point:
        """A point of the footprint on the board."""
        x, y = (-point[0] if self.swapped_sides else point[0]), point[1]
        for _ in range(self.turn_deg // 90):
            x, y = -y, x
        return self.x_um + x, self.y_um + y


@dataclass(frozen=True, slots=True)
class PlacedPad:
    """A pad on the board, with its net."""

    ref: str
    number: str
    function: str
    net: str
    x_um: int
    y_um: int
    shape: Shape
    drill_um: int
    slot_um: int
    role: str  # SMDPad,CuDef / ComponentPad / FiducialPad,Global
    side: str = TOP  # of a pad without a hole


@dataclass(frozen=True, slots=True)
class Track:
    """A straight stretch of copper."""

    layer: str
    start: Point
    end: Point
    width_um: int
    net: str


@dataclass(frozen=True, slots=True)
class Via:
    """A plated hole between both sides, covered by the mask."""

    x_um: int
    y_um: int
    net: str
    pad_um: int = 600
    drill_um: int = 300


@dataclass(frozen=True, slots=True)
class Pour:
    """A filled area, with clearances cut around what is not its net."""

    layer: str
    corners: tuple[Point, ...]
    net: str
    gap_um: int = 300


@dataclass(frozen=True, slots=True)
class Hole:
    """An unplated hole."""

    x_um: int
    y_um: int
    drill_um: int


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line of the legend."""

    layer: str
    start: Point
    end: Point


@dataclass(frozen=True, slots=True)
class Board:
    """All that the files are written from, and so the truth they are held against."""

    name: str
    revision: str
    made: str
    outline: tuple[Point, ...]
    parts: tuple[Part, ...]
    pads: tuple[PlacedPad, ...]
    tracks: tuple[Track, ...]
    vias: tuple[Via, ...]
    pours: tuple[Pour, ...] = ()
    holes: tuple[Hole, ...] = ()
    strokes: tuple[Stroke, ...] = ()
    inner: tuple[str, ...] = ()  # further copper layers between the sides, planes of these nets
    plated: bool = True  # whether holes of pads have barrels
    mask_um: int = 50  # how far an opening reaches past its pad
    wide_openings: Mapping[str, int] = field(default_factory=dict)  # the same, for single parts

    def box(self) -> tuple[int, int, int, int]:
        """Left, bottom, right, top of the outline."""
        xs, ys = [x for x, _ in self.outline], [y for _, y in self.outline]
        return min(xs), min(ys), max(xs), max(ys)

    def pins(self) -> dict[tuple[str, str], str]:
        """Net of each pin, the truth behind netlist and attributes; pins that share a number share a net."""
        return {(pad.ref, pad.number): pad.net for pad in self.pads}

    def part(self, ref: str) -> Part:
        """A part by its name on the board."""
        return next(part for part in self.parts if part.ref == ref)

    def moved(self, place: Callable[[Point], Point]) -> Board:
        """The same board with every point moved."""

        def pad(one: PlacedPad) -> PlacedPad:
            x, y = place((one.x_um, one.y_um))
            return replace(one, x_um=x, y_um=y)

        def via(one: Via) -> Via:
            x, y = place((one.x_um, one.y_um))
            return replace(one, x_um=x, y_um=y)

        def hole(one: Hole) -> Hole:
            x, y = place((one.x_um, one.y_um))
            return replace(one, x_um=x, y_um=y)

        def part(one: Part) -> Part:
            x, y = place((one.x_um, one.y_um))
            return replace(one, x_um=x, y_um=y)

        return replace(
            self,
            outline=tuple(place(point) for point in self.outline),
            parts=tuple(part(one) for one in self.parts),
            pads=tuple(pad(one) for one in self.pads),
            tracks=tuple(replace(one, start=place(one.start), end=place(one.end)) for one in self.tracks),
            vias=tuple(via(one) for one in self.vias),
            pours=tuple(replace(one, corners=tuple(place(point) for point in one.corners)) for one in self.pours),
            holes=tuple(hole(one) for one in self.holes),
            strokes=tuple(replace(one, start=place(one.start), end=place(one.end)) for one in self.strokes),
        )

    def mirrored_x(self) -> Board:
        """Left and right exchanged about the middle of the outline."""
        left, _, right, _ = self.box()
        return self.moved(lambda point: (left + right - point[0], point[1]))

    def mirrored_y(self) -> Board:
        """Near and far edge exchanged."""
        _, low, _, high = self.box()
        return self.moved(lambda point: (point[0], low + high - point[1]))


def placed(part: Part) -> Iterator[PlacedPad]:
    """Pads of a part where they lie on the board."""
    for pad in part.footprint.pads:
        x, y = part.at((pad.x_um, pad.y_um))
        role = "ComponentPad" if pad.drill_um else "SMDPad,CuDef"
        if part.ref.startswith("FID"):
            role = "FiducialPad,Global"
        net = part.nets.get(pad.number, NO_NET)
        yield PlacedPad(
            part.ref,
            pad.number,
            pad.function,
            net,
            x,
            y,
            pad.shape.turned(part.turn_deg),
            pad.drill_um,
            pad.slot_um,
            role,
            part.side,
        )
