"""Gerber X2 layers with object attributes, written by the layer format specification, revision 2021.02.

Coordinates are in millimetres with six decimals, or in inches; attributes stand as commands, as comments, or not at all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from demo_board.nouns import Board, PlacedPad, Point, Shape

GUID = "6465-6570-2d73746174696f6e"
FUNCTIONS = {
    "top-copper": "Copper,L1,Top", "bottom-copper": "Copper,L{last},Bot", "top-mask": "Soldermask,Top",
    "bottom-mask": "Soldermask,Bot", "top-paste": "Paste,Top", "bottom-paste": "Paste,Bot", "top-legend": "Legend,Top",
    "bottom-legend": "Legend,Bot", "outline": "Profile,NP",
}  # fmt: skip
LEGEND_UM, OUTLINE_UM = 150, 100
INNER = "inner"  # a layer that pads without holes do not reach


@dataclass(frozen=True, slots=True)
class Style:
    """How a layer is written down: attributes as commands, comments or none; metric or inch."""

    attributes: str = "commands"
    inch: bool = False


@dataclass(slots=True)
class Layer:
    """Lines of one layer, with the apertures as they come to be needed."""

    head: list[str]
    style: Style
    apertures: dict[tuple[str, str], int] = field(default_factory=dict)
    definitions: list[str] = field(default_factory=list)
    body: list[str] = field(default_factory=list)
    current: int = 0
    attributes: tuple[str, ...] = ()

    def attribute(self, text: str) -> list[str]:
        """An attribute in the style of the file."""
        if self.style.attributes == "none":
            return []
        return [f"%{text}*%" if self.style.attributes == "commands" else f"G04 #@! {text}*"]

    def length(self, um: int) -> str:
        """A size of an aperture."""
        return f"{um / 25_400:.6f}" if self.style.inch else f"{um / 1_000:.6f}"

    def point(self, at: Point) -> str:
        """A place, six decimals in either unit."""
        x, y = (round(value / 25_400 * 1_000_000) if self.style.inch else value * 1_000 for value in at)
        return f"X{x}Y{y}"

    def use(self, shape: Shape, function: str) -> None:
        """Take an aperture up."""
        sizes = (
            f"{self.length(shape.w_um)}"
            if shape.kind == "C"
            else f"{self.length(shape.w_um)}X{self.length(shape.h_um)}"
        )
        key = (f"{shape.kind},{sizes}", function)
        if key not in self.apertures:
            self.apertures[key] = 10 + len(self.apertures)
            named = self.attribute(f"TA.AperFunction,{function}") if function else []
            self.definitions += [
                *named,
                f"%ADD{self.apertures[key]}{key[0]}*%",
                *(self.attribute("TD") if named else []),
            ]
        if self.current != self.apertures[key]:
            self.current = self.apertures[key]
            self.body.append(f"D{self.current}*")

    def belongs(self, *attributes: str) -> None:
        """Object attributes of what follows."""
        if attributes != self.attributes:
            if self.attributes:
                self.body += self.attribute("TD")
            for text in attributes:
                self.body += self.attribute(text)
            self.attributes = attributes

    def flash(self, at: Point) -> None:
        """A pad."""
        self.body.append(f"{self.point(at)}D03*")

    def line(self, start: Point, end: Point) -> None:
        """A stroke."""
        self.body += [f"{self.point(start)}D02*", f"{self.point(end)}D01*"]

    def region(self, corners: tuple[Point, ...]) -> None:
        """A filled outline."""
        self.body += ["G36*", f"{self.point(corners[0])}D02*"]
        self.body += [f"{self.point(corner)}D01*" for corner in (*corners[1:], corners[0])]
        self.body.append("G37*")

    def text(self) -> str:
        """The whole file."""
        self.belongs()
        return "\n".join([*self.head, *self.definitions, *self.body, "M02*", ""])


def started(board: Board, function: str, style: Style) -> Layer:
    """A layer with its head."""
    layer = Layer([], style)
    layer.head = ["G04 Deep Station control room, an invented board*"]
    facts = [
        "TF.GenerationSoftware,Scanloom,demo board,1", f"TF.CreationDate,{board.made}",
        f"TF.ProjectId,{board.name},{GUID},{board.revision}", "TF.SameCoordinates,Original", f"TF.FileFunction,{function}",
    ]  # fmt: skip
    if not function.startswith("Profile"):
        facts.append(f"TF.FilePolarity,{'Negative' if function.startswith('Soldermask') else 'Positive'}")
    for fact in facts:
        layer.head += layer.attribute(fact)
    layer.head += [f"%FSLAX{'26' if style.inch else '46'}Y{'26' if style.inch else '46'}*%"]
    layer.head += [f"%MO{'IN' if style.inch else 'MM'}*%", "%LPD*%", "G01*"]
    return layer


def pad_facts(pad: PlacedPad) -> tuple[str, ...]:
    """Object attributes of a pad: net, component, pin and its function."""
    pin = f"TO.P,{pad.ref},{pad.number}" + (f",{pad.function}" if pad.function else "")
    return (pin, f"TO.N,{pad.net}", f"TO.C,{pad.ref}")


def on_layer(board: Board, layer: str) -> Iterator[PlacedPad]:
    """Pads of a side: those with holes lie on both."""
    return (pad for pad in board.pads if pad.drill_um or layer == pad.side)


def grown(shape: Shape, by_um: int) -> Shape:
    """A pad with a rim."""
    return Shape(shape.kind, shape.w_um + 2 * by_um, shape.h_um + 2 * by_um)


def copper(board: Board, side: str, style: Style) -> str:
    """Outer copper: pours with their clearances first, then pads, vias and tracks."""
    last = 2 + len(board.inner)
    layer = started(board, FUNCTIONS[f"{side}-copper"].format(last=last), style)
    for pour in board.pours:
        if pour.layer != side:
            continue
        layer.body += layer.attribute("TA.AperFunction,Conductor")
        layer.belongs(f"TO.N,{pour.net}")
        layer.region(pour.corners)
        layer.belongs()
        layer.body.append("%LPC*%")
        for at, shape in foreign(board, pour.net, side, pour.corners, pour.gap_um):
            layer.use(shape, "")
            layer.flash(at)
        layer.body.append("%LPD*%")
    for pad in on_layer(board, side):
        layer.use(pad.shape, pad.role)
        layer.belongs(*pad_facts(pad))
        layer.flash((pad.x_um, pad.y_um))
    vias_and_tracks(board, side, layer)
    return layer.text()


def vias_and_tracks(board: Board, side: str, layer: Layer) -> None:
    """What joins the pads, by net."""
    for via in sorted(board.vias, key=lambda via: (via.net, via.x_um, via.y_um)):
        layer.use(Shape("C", via.pad_um, via.pad_um), "ViaPad")
        layer.belongs(f"TO.N,{via.net}")
        layer.flash((via.x_um, via.y_um))
    for track in sorted((one for one in board.tracks if one.layer == side), key=lambda one: (one.width_um, one.net)):
        layer.use(Shape("C", track.width_um, track.width_um), "Conductor")
        layer.belongs(f"TO.N,{track.net}")
        layer.line(track.start, track.end)


def foreign(
    board: Board, net: str, side: str, corners: tuple[Point, ...], gap_um: int
) -> Iterator[tuple[Point, Shape]]:
    """Clearances that a pour needs around pads, vias and unplated holes that are not on its net."""
    left, right = min(x for x, _ in corners), max(x for x, _ in corners)
    low, high = min(y for _, y in corners), max(y for _, y in corners)
    pads = [((pad.x_um, pad.y_um), grown(pad.shape, gap_um)) for pad in on_layer(board, side) if pad.net != net]
    pads += [
        ((v.x_um, v.y_um), Shape("C", v.pad_um + 2 * gap_um, v.pad_um + 2 * gap_um)) for v in board.vias if v.net != net
    ]
    pads += [((h.x_um, h.y_um), Shape("C", h.drill_um + 2 * gap_um, h.drill_um + 2 * gap_um)) for h in board.holes]
    for (x, y), shape in pads:
        reach = max(shape.w_um, shape.h_um)
        if left - reach < x < right + reach and low - reach < y < high + reach:
            yield (x, y), shape


def plane(board: Board, number: int, net: str, style: Style) -> str:
    """An inner layer: one plane, cut around every hole that is not on its net."""
    layer = started(board, f"Copper,L{number},Inr,Plane", style)
    left, low, right, high = board.box()
    inset = 1_000
    corners = (
        (left + inset, low + inset),
        (right - inset, low + inset),
        (right - inset, high - inset),
        (left + inset, high - inset),
    )
    layer.belongs(f"TO.N,{net}")
    layer.region(corners)
    layer.belongs()
    layer.body.append("%LPC*%")
    for at, shape in foreign(board, net, INNER, corners, 300):
        layer.use(shape, "")
        layer.flash(at)
    layer.body.append("%LPD*%")
    for pad in on_layer(board, INNER):
        layer.use(pad.shape, pad.role)
        layer.belongs(*pad_facts(pad))
        layer.flash((pad.x_um, pad.y_um))
    for via in board.vias:
        layer.use(Shape("C", via.pad_um, via.pad_um), "ViaPad")
        layer.belongs(f"TO.N,{via.net}")
        layer.flash((via.x_um, via.y_um))
    return layer.text()


def openings(board: Board, side: str, style: Style) -> str:
    """Solder mask: an opening for each pad and each unplated hole; vias stay covered."""
    layer = started(board, FUNCTIONS[f"{side}-mask"], style)
    for pad in on_layer(board, side):
        layer.use(grown(pad.shape, board.wide_openings.get(pad.ref, board.mask_um)), "")
        layer.flash((pad.x_um, pad.y_um))
    for hole in board.holes:
        layer.use(Shape("C", hole.drill_um + 200, hole.drill_um + 200), "")
        layer.flash((hole.x_um, hole.y_um))
    return layer.text()


def paste(board: Board, side: str, style: Style) -> str:
    """Solder paste: pads of parts that a machine places."""
    layer = started(board, FUNCTIONS[f"{side}-paste"], style)
    machine = {part.ref for part in board.parts if part.fit == "machine"}
    for pad in board.pads:
        if side == pad.side and not pad.drill_um and pad.ref in machine:
            layer.use(pad.shape, "")
            layer.belongs(f"TO.C,{pad.ref}")
            layer.flash((pad.x_um, pad.y_um))
    return layer.text()


def legend(board: Board, side: str, style: Style) -> str:
    """Letters and outlines."""
    layer = started(board, FUNCTIONS[f"{side}-legend"], style)
    layer.use(Shape("C", LEGEND_UM, LEGEND_UM), "")
    for stroke in board.strokes:
        if stroke.layer == side:
            layer.line(stroke.start, stroke.end)
    return layer.text()


def outline(board: Board, style: Style) -> str:
    """Edge of the board."""
    layer = started(board, FUNCTIONS["outline"], style)
    layer.use(Shape("C", OUTLINE_UM, OUTLINE_UM), "Profile")
    for start, end in zip(board.outline, (*board.outline[1:], board.outline[0]), strict=True):
        layer.line(start, end)
    return layer.text()
