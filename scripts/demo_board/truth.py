"""What the board really joins, from its own geometry: the truth that planted cuts and bridges are recorded against."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry import Point as Spot
from shapely.geometry.base import BaseGeometry

from demo_board.gerber import foreign
from demo_board.nouns import BOTTOM, NO_NET, TOP, Board, PlacedPad, Point, Shape

SIDES = (TOP, BOTTOM)


@dataclass(frozen=True, slots=True)
class Copper:
    """A piece of copper: its layers, its outline, the net it was drawn for, and the pin when it is a pad."""

    layers: tuple[str, ...]
    shape: BaseGeometry
    net: str
    pin: tuple[str, str] | None = None


def outline_of(shape: Shape, x_um: int, y_um: int, grow_um: int = 0) -> BaseGeometry:
    """Outline of a flash."""
    if shape.kind == "C":
        return Spot(x_um, y_um).buffer(shape.w_um / 2 + grow_um)
    half_w, half_h = shape.w_um / 2, shape.h_um / 2
    if shape.kind == "R":
        return shapely.box(
            x_um - half_w - grow_um, y_um - half_h - grow_um, x_um + half_w + grow_um, y_um + half_h + grow_um
        )
    round_um = min(half_w, half_h)
    spine = LineString(
        [(x_um - half_w + round_um, y_um - half_h + round_um), (x_um + half_w - round_um, y_um + half_h - round_um)]
    )
    return spine.buffer(round_um + grow_um)


def pad_outline(pad: PlacedPad) -> BaseGeometry:
    """Outline of a pad."""
    return outline_of(pad.shape, pad.x_um, pad.y_um)


def pieces(board: Board) -> list[Copper]:
    """All copper of both sides."""
    found = [
        Copper(SIDES if pad.drill_um else (pad.side,), pad_outline(pad), pad.net, (pad.ref, pad.number))
        for pad in board.pads
    ]
    found += [Copper(SIDES, Spot(via.x_um, via.y_um).buffer(via.pad_um / 2), via.net) for via in board.vias]
    found += [
        Copper((one.layer,), LineString([one.start, one.end]).buffer(one.width_um / 2), one.net) for one in board.tracks
    ]
    for pour in board.pours:
        cut = [outline_of(shape, *at) for at, shape in foreign(board, pour.net, pour.layer, pour.corners, pour.gap_um)]
        rest = Polygon(pour.corners).difference(shapely.union_all(cut))
        found += [Copper((pour.layer,), one, pour.net) for one in getattr(rest, "geoms", [rest])]
    return found


def groups(board: Board) -> list[list[Copper]]:
    """Copper that hangs together."""
    found = pieces(board)
    leader = list(range(len(found)))

    def top(n: int) -> int:
        while leader[n] != n:
            leader[n] = leader[leader[n]]
            n = leader[n]
        return n

    for side in SIDES:
        own = [n for n, piece in enumerate(found) if side in piece.layers]
        tree = shapely.STRtree([found[n].shape for n in own])
        for a, b in zip(*tree.query([found[n].shape for n in own], predicate="intersects"), strict=True):
            leader[top(own[a])] = top(own[b])
    together: dict[int, list[Copper]] = defaultdict(list)
    for n, piece in enumerate(found):
        together[top(n)].append(piece)
    return list(together.values())


def opens_and_shorts(board: Board) -> tuple[set[str], set[frozenset[str]]]:
    """Nets whose pins do not all hang together, and sets of nets that hang together though they should not."""
    places: dict[str, set[int]] = defaultdict(set)
    shorts: set[frozenset[str]] = set()
    for number, group in enumerate(groups(board)):
        nets = {piece.net for piece in group if piece.pin and piece.net != NO_NET}
        alone = {f"{piece.pin[0]}-{piece.pin[1]}" for piece in group if piece.pin and piece.net == NO_NET}
        for net in nets:
            places[net].add(number)
        if len(nets | alone) > 1 and (len(nets) != 0 or len({pin.split("-")[0] for pin in alone}) > 1):
            shorts.add(frozenset(nets | alone))
    return {net for net, where in places.items() if len(where) > 1}, shorts


def neighbours(board: Board, net: str, layer: str) -> tuple[str, str, Point, Point]:
    """A net beside another one on a layer, and two points whose connection would join just these two."""
    own = [
        one for one in board.tracks if one.net == net and one.layer == layer and abs(one.end[1] - one.start[1]) > 4_000
    ]
    for track in own:
        x, y = track.start[0], (track.start[1] + track.end[1]) // 2
        crossed = sorted(
            (one.start[0], one.net) for one in board.tracks
            if one.layer == layer and one.start[0] == one.end[0] > x
            and min(one.start[1], one.end[1]) + 500 < y < max(one.start[1], one.end[1]) - 500
        )  # fmt: skip
        if crossed and crossed[0][1] != net:
            return net, crossed[0][1], (x, y), (crossed[0][0], y)
    raise ValueError(f"{net}: nothing stands beside it on the {layer}")
