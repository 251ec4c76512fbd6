"""Copper as it hangs together: pieces of all layers joined through plated holes, held against the nets."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from scanloom.basis.record import record
from scanloom.stages.board.model import BoardFiles, FileRole, Hole, Layer, NetPoint, PinName
from scanloom.stages.board.pieces import islands_of, solid_pieces, touching

_REACH_MM = 0.02  # a net point may lie this far off its pad
_LEAST_HOLE_MM = 0.2  # taken for a hole whose tool no file gives
_DEPTH = re.compile(r"(?i)copper,L(\d+)")
_MEET_MM = 0.01  # no maker etches a gap so narrow: what one net leaves open so far was rounded apart
_MOST_WALK = 4000  # pieces of a short that are walked over to find the one that joins


@record
class Touch:
    """A place where a net is known to meet copper.

    Parameters
    ----------
    net : str
        The net.
    name : PinName
        Part and pin; empty names for a via.
    x_mm : float
        Place. [mm]
    y_mm : float
        The same across the board. [mm]
    side : str
        Side of the pad.
    pieces : tuple of int
        Copper pieces there, none where copper is missing. [1]
    """

    net: str
    name: PinName
    x_mm: float
    y_mm: float
    side: str
    pieces: tuple[int, ...]


@record
class Break:
    """A net in more than one island.

    Parameters
    ----------
    net : str
        The net.
    cut_off : tuple of Touch
        Points of the smaller islands.
    x_mm : float
        Middle of the narrowest gap. [mm]
    y_mm : float
        The same across the board. [mm]
    gap_mm : float
        Width of that gap, 0 where a hole is missing. [mm]
    layer_file : str
        File of the layer that the gap is on.
    """

    net: str
    cut_off: tuple[Touch, ...]
    x_mm: float
    y_mm: float
    gap_mm: float
    layer_file: str


@record
class Bridge:
    """Nets that are one piece of copper.

    Parameters
    ----------
    nets_joined : tuple of str
        The nets.
    touches : tuple of Touch
        Their points.
    x_mm : float
        Where the joining copper lies. [mm]
    y_mm : float
        The same across the board. [mm]
    layer_file : str
        File of the layer it lies on.
    """

    nets_joined: tuple[str, ...]
    touches: tuple[Touch, ...]
    x_mm: float
    y_mm: float
    layer_file: str


@dataclass(frozen=True, eq=False)
class Copper:
    """Pieces of copper and how they hang together.

    Parameters
    ----------
    roles : tuple of FileRole
        Copper layers.
    pieces : ndarray of object, shape (pieces,)
        Polygons. [mm]
    layer_of : ndarray of int, shape (pieces,)
        Layer of each piece. [1]
    island : ndarray of int, shape (pieces,)
        Which pieces are one conductor. [1]
    contacts : ndarray of int, shape (contacts, 2)
        Pairs of pieces that touch, or meet in a hole. [1]
    touches : tuple of Touch
        Places where nets are known.
    named : Mapping
        Net by piece, where the layer's file says. [1]
    """

    roles: tuple[FileRole, ...]
    pieces: NDArray[np.object_]
    layer_of: NDArray[np.int64]
    island: NDArray[np.int64]
    contacts: NDArray[np.int64]
    touches: tuple[Touch, ...]
    named: Mapping[int, str]

    @cached_property
    def bare(self) -> tuple[Touch, ...]:
        """Points of nets where no copper lies."""
        return tuple(touch for touch in self.touches if not touch.pieces)

    @cached_property
    def breaks(self) -> tuple[Break, ...]:
        """Nets in more than one island."""
        by_net: dict[str, dict[int, list[Touch]]] = {}
        for touch in self.touches:
            if touch.pieces and touch.net:
                by_net.setdefault(touch.net, {}).setdefault(int(self.island[touch.pieces[0]]), []).append(touch)
        made = (self._break(net, islands) for net, islands in by_net.items() if len(islands) > 1)
        return tuple(one for one in made if one is not None)

    def _break(self, net: str, islands: Mapping[int, Sequence[Touch]]) -> Break | None:
        """Where a hole is missing, else the narrowest gap on one layer between the largest island of a net and the others."""
        largest = max(islands, key=lambda one: (len(islands[one]), -one))
        met = {largest}
        best: tuple[float, float, float, int] | None = None
        for one in list(islands)[:20]:
            for number in (
                (*range(len(self.roles)), -1) if one != largest else ()
            ):  # tracks crossing on two layers are no gap
                on = self.layer_of == number if number >= 0 else np.ones(len(self.pieces), dtype=bool)
                pair = [self.pieces[on & (self.island == island)] for island in (largest, one)]
                if not all(map(len, pair)) or (number < 0 and best is not None) or one in met:
                    continue
                line = shapely.shortest_line(*map(shapely.union_all, pair))
                if number >= 0 and line.length <= _MEET_MM:
                    met.add(one)
                    continue
                middle = line.interpolate(0.5, normalized=True)
                if best is None or line.length < best[0]:
                    best = line.length, middle.x, middle.y, max(number, 0)
        cut_off = tuple(touch for one, some in islands.items() if one not in met for touch in some)
        if not cut_off:
            return None  # none where rounding alone parts them
        for touch in (touch for some in islands.values() for touch in some):
            if len({int(self.island[piece]) for piece in touch.pieces}) > 1:  # pads on both sides, nothing between
                file = self.roles[int(self.layer_of[touch.pieces[0]])].file
                return Break(net, cut_off, touch.x_mm, touch.y_mm, 0.0, file)
        if best is None:
            return None
        return Break(net, cut_off, best[1], best[2], best[0], self.roles[best[3]].file)

    @cached_property
    def bridges(self) -> tuple[Bridge, ...]:
        """Islands with more than one net."""
        by_island: dict[int, dict[str, list[Touch]]] = {}
        for touch in self.touches:
            if touch.pieces and touch.net:
                by_island.setdefault(int(self.island[touch.pieces[0]]), {}).setdefault(touch.net, []).append(touch)
        made = []
        for island, nets in by_island.items():
            if len(nets) < 2:
                continue
            piece = self._joining(island, nets)
            middle = self.pieces[piece].representative_point()
            names = tuple(sorted(nets, key=lambda net: (len(nets[net]), net)))
            touches = tuple(touch for net in names for touch in nets[net])
            made.append(Bridge(names, touches, middle.x, middle.y, self.roles[int(self.layer_of[piece])].file))
        return tuple(made)

    def _joining(self, island: int, nets: Mapping[str, Sequence[Touch]]) -> int:
        """The piece that joins two nets: the one on the way between them whose removal parts them."""
        smallest = min(nets, key=lambda net: (len(nets[net]), net))
        starts = {touch.pieces[0] for touch in nets[smallest]}
        ends = {piece for net, some in nets.items() if net != smallest for touch in some for piece in touch.pieces}
        next_to = self._next_to(island)
        way = _way(next_to, starts, ends, None)
        both = [piece for piece in way if piece in starts and piece in ends]
        if both or not way:
            return both[0] if both else min(starts)
        for piece in way:
            if piece not in starts and piece not in ends and not _way(next_to, starts, ends, piece):
                return piece
        foreign = [p for p in way if self.named.get(p) not in (None, "", self.named.get(way[0]))]
        return foreign[0] if foreign else way[len(way) // 2]

    def _next_to(self, island: int) -> Mapping[int, Sequence[int]]:
        """Neighbours within an island."""
        inside = self.island[self.contacts[:, 0]] == island
        made: dict[int, list[int]] = {}
        for a, b in self.contacts[inside].tolist():
            made.setdefault(a, []).append(b)
            made.setdefault(b, []).append(a)
        return made


def _way(next_to: Mapping[int, Sequence[int]], starts: set[int], ends: set[int], without: int | None) -> list[int]:
    """Shortest way over touching pieces, one of them taken away; empty when there is none."""
    before: dict[int, int | None] = {start: None for start in starts if start != without}
    edge = list(before)
    while edge and len(before) < _MOST_WALK * 10:
        onward: list[int] = []
        for piece in edge:
            if piece in ends:
                way = [piece]
                while (last := before[way[-1]]) is not None:
                    way.append(last)
                return way[::-1]
            for other in next_to.get(piece, ()):
                if other not in before and other != without:
                    before[other] = piece
                    onward.append(other)
        edge = onward
    return []


def join_copper(files: BoardFiles) -> Copper | None:
    """Join the copper of all layers.

    Parameters
    ----------
    files : BoardFiles
        The files.

    Returns
    -------
    Copper or None
        None without a copper layer.

    Notes
    -----
    Polygons stand for curves, at most some micrometres inside them; copper that meets by less counts as apart.
    """
    layers = files.of("copper")
    if not layers:
        return None
    pieces: list[Any] = []
    layer_of: list[int] = []
    named: dict[int, str] = {}
    contacts: list[NDArray[np.int64]] = []
    trees = []
    for number, layer in enumerate(layers):
        made, source = solid_pieces(layer)
        first = len(pieces)
        for offset, index in enumerate(source):
            if layer.drawn[index].net:
                named[first + offset] = layer.drawn[index].net
        pieces.extend(made)
        layer_of.extend([number] * len(made))
        some = np.empty(len(made), dtype=object)
        some[:] = made
        tree = shapely.STRtree(some)
        contacts.append(touching(tree, some) + first)
        trees.append((tree, first))
    depths = layer_depths([layer.role for layer in layers])
    for drill in files.drills:
        first, last = drill.span if max(drill.span) <= max(depths) else (1, 0)  # numbers in a name may be a date
        reached = [t for t, depth in zip(trees, depths, strict=True) if first <= depth <= (last or max(depths))]
        contacts.extend(_through_holes(drill.holes, reached))
    pairs = np.concatenate(contacts) if contacts else np.zeros((0, 2), dtype=np.int64)
    island = islands_of(len(pieces), pairs)
    shapes = np.empty(len(pieces), dtype=object)
    shapes[:] = pieces
    touches = _touches(files, layers, trees)
    roles = tuple(layer.role for layer in layers)
    return Copper(roles, shapes, np.array(layer_of, dtype=np.int64), island, pairs, touches, named)


def layer_depths(roles: Sequence[FileRole]) -> list[int]:
    """Depth of each copper layer, the top being 1.

    Parameters
    ----------
    roles : sequence of FileRole
        Copper layers.

    Returns
    -------
    list of int
        One a layer: what the file itself states, else by the number in its name, else in the order of names. [1]
    """
    inner = [n for n, role in enumerate(roles) if role.side == "inner"]
    stated = {n: int(found[1]) for n in inner if (found := _DEPTH.search(roles[n].attributes.get(".FileFunction", "")))}
    rest = sorted((n for n in inner if n not in stated), key=lambda n: (_number_in(roles[n].file), roles[n].file))
    free = iter(depth for depth in range(2, len(roles) + len(inner) + 2) if depth not in stated.values())
    stated.update({n: next(free) for n in rest})
    last = max(stated.values(), default=1) + 1
    return [stated[n] if n in stated else 1 if role.side == "top" else last for n, role in enumerate(roles)]


def _number_in(name: str) -> int:
    """The last number of a file's name."""
    found = re.findall(r"\d+", name.rsplit("/", 1)[-1])
    return int(found[-1]) if found else 0


def _through_holes(holes: Iterable[Hole], trees: Sequence[tuple[Any, int]]) -> list[NDArray[np.int64]]:
    """Pieces of all layers that a plated hole joins."""
    plated = [hole for hole in holes if hole.plated is not False]
    if not plated:
        return []
    lines = shapely.linestrings([[(h.x_mm, h.y_mm), (h.x2_mm, h.y2_mm)] for h in plated])
    radii = np.array([max(h.diameter_mm or 0.0, _LEAST_HOLE_MM) / 2 for h in plated])
    at: dict[int, list[int]] = {}
    for tree, first in trees:
        hole, piece = tree.query(lines, predicate="dwithin", distance=radii)
        for h, p in zip(hole.tolist(), (piece + first).tolist(), strict=True):
            at.setdefault(h, []).append(p)
    pairs = [(some[0], other) for some in at.values() for other in some[1:]]
    return [np.array(pairs, dtype=np.int64)] if pairs else []


def _touches(files: BoardFiles, layers: Sequence[Layer], trees: Sequence[tuple[Any, int]]) -> tuple[Touch, ...]:
    """Places where nets are known: by the netlist, or by pads that carry their net."""
    if files.netlists:
        # without plating a hole joins nothing, but a pin that is soldered on the one side there is still meets it
        points = [p for p in files.netlists[0].points if p.plated or not p.hole_mm or (len(layers) == 1 and p.part)]
        where = [(p.x_mm, p.y_mm) for p in points]
        found: list[list[int]] = [[] for _ in points]
        for layer, (tree, first) in zip(layers, trees, strict=True):
            here = [n for n, p in enumerate(points) if _reaches(p, layer)]
            if not here or not where:
                continue
            spots = shapely.points([where[n] for n in here])
            reach = np.array([points[n].hole_mm / 2 + _REACH_MM for n in here])  # a pad may be a ring
            spot, piece = tree.query(spots, predicate="dwithin", distance=reach)
            for s, p in zip(spot.tolist(), (piece + first).tolist(), strict=True):
                found[here[s]].append(p)
        _reach_inside(points, found, layers, trees)
        return tuple(
            Touch(p.net, (p.part, p.pin_name), p.x_mm, p.y_mm, p.access, tuple(some))
            for p, some in zip(points, found, strict=True)
        )
    made: list[Touch] = []
    for layer, (tree, first) in zip(layers, trees, strict=True):
        pads = [o for o in layer.drawn if o.kind == "flash" and o.dark and o.net]
        if not pads:
            continue
        spot, piece = tree.query(
            shapely.points([(o.x_mm, o.y_mm) for o in pads]), predicate="dwithin", distance=_REACH_MM
        )
        own: list[list[int]] = [[] for _ in pads]
        for s, p in zip(spot.tolist(), (piece + first).tolist(), strict=True):
            own[s].append(p)
        for pad, some in zip(pads, own, strict=True):
            net = "" if pad.net in ("N/C", "NC") else pad.net
            made.append(Touch(net, pad.pin or ("", ""), pad.x_mm, pad.y_mm, layer.role.side, tuple(some)))
    return tuple(made)


def _reach_inside(
    points: Sequence[NetPoint], found: list[list[int]], layers: Sequence[Layer], trees: Sequence[tuple[Any, int]]
) -> None:
    """A buried via meets copper on inner layers alone."""
    for layer, (tree, first) in zip(layers, trees, strict=True):
        buried = [n for n, p in enumerate(points) if not p.part and p.hole_mm and not found[n]]
        if layer.role.side != "inner" or not buried:
            continue
        spots = shapely.points([(points[n].x_mm, points[n].y_mm) for n in buried])
        reach = np.array([points[n].hole_mm / 2 + _REACH_MM for n in buried])
        spot, piece = tree.query(spots, predicate="dwithin", distance=reach)
        for s, p in zip(spot.tolist(), (piece + first).tolist(), strict=True):
            found[buried[s]].append(p)


def _reaches(point: NetPoint, layer: Layer) -> bool:
    """Whether a net point can be touched on a layer."""
    if layer.role.side == "inner":
        return False  # inner pads may be left out where a net has nothing to do there
    return point.access in ("both", layer.role.side)
