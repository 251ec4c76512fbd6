"""Pieces of copper: what a layer leaves after its clearings, and which things hang together."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from scanloom.stages.board.model import Layer

_MOST_AT_ONCE = 2_000_000
_MOST_PAIRS = 3_000_000
_MANY_CORNERS = 40
_MOST_BOXES = 150_000_000  # overlapping boxes that are looked at, some ten seconds
_MOST_MEASURED = 1_000_000  # pairs of boxes whose shapes are measured
_MOST_TURNS = 4000  # changes from adding to clearing


def solid_pieces(layer: Layer) -> tuple[list[Any], list[int]]:
    """Dark shapes of a layer, each later clearing taken out of what was drawn before it.

    Parameters
    ----------
    layer : Layer
        An image layer.

    Returns
    -------
    tuple of list
        Polygons in one piece each, and the object each comes from. [1]

    Raises
    ------
    TooDense
        If it adds and clears over and over, or touches itself in far too many places.
    """
    shapes = layer.shapes
    dark = np.array([one.dark for one in layer.drawn], dtype=bool)
    area = shapely.area(shapes) > 0
    kept: list[int] = []
    made: dict[int, Any] = {}
    number = turns = 0
    while number < len(shapes):
        if dark[number]:
            if area[number]:
                kept.append(number)
                made[number] = shapes[number]
            number += 1
            continue
        end = number
        while end < len(shapes) and not dark[end]:
            end += 1
        turns += 1
        if turns > _MOST_TURNS:
            raise TooDense
        clear = [shapes[n] for n in range(number, end) if area[n]]
        if clear and kept:
            cutter = shapely.STRtree(clear)
            below = np.array([made[n] for n in kept], dtype=object)
            hit, by = _all_pairs(cutter, below)
            for place in np.unique(hit):
                away = shapely.union_all([clear[c] for c in by[hit == place]])
                made[kept[place]] = shapely.difference(made[kept[place]], away)
        number = end
    out: list[Any] = []
    source: list[int] = []
    for index in kept:
        shape = made[index]
        parts = [shape] if shape.geom_type == "Polygon" else list(getattr(shape, "geoms", ()))
        for part in parts:
            if part.geom_type == "Polygon" and part.area > 1e-6:
                out.append(part)
                source.append(index)
    return out, source


class TooDense(Exception):
    """Shapes that touch in so many places that nobody could follow them: no board's copper."""


def touching(tree: shapely.STRtree, shapes: NDArray[np.object_]) -> NDArray[np.int64]:
    """Pairs of shapes of one layer that touch.

    Parameters
    ----------
    tree : STRtree
        The shapes, ready to be asked.
    shapes : ndarray of object, shape (shapes,)
        The shapes. [mm]

    Returns
    -------
    ndarray of int, shape (pairs, 2)
        Each pair once, the smaller first. [1]
    """
    a, b = _all_pairs(tree, shapes)
    return np.stack([a[a < b], b[a < b]], axis=1)


def _all_pairs(tree: shapely.STRtree, shapes: NDArray[np.object_]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Places in both lists of what touches, asked in portions, so that memory and time stay bounded."""
    portion = max(1, _MOST_AT_ONCE // max(1, len(tree.geometries)))
    found: list[NDArray[np.int64]] = []
    total = 0
    for start in range(0, len(shapes), portion):
        pairs = tree.query(shapes[start : start + portion], predicate="intersects")
        total += pairs.shape[1]
        if total > _MOST_PAIRS:
            raise TooDense
        pairs[0] += start
        found.append(pairs)
    both = np.concatenate(found, axis=1) if found else np.zeros((2, 0), dtype=np.int64)
    return both[0], both[1]


def near_but_apart(shapes: NDArray[np.object_], islands: NDArray[np.int64], distance_mm: float) -> NDArray[np.int64]:
    """Pairs of shapes of different islands nearer than a distance.

    A pour told as thousands of strokes touches itself everywhere, so boxes are asked first, what hangs together is
    left out, and only the rest is measured.

    Parameters
    ----------
    shapes : ndarray of object, shape (shapes,)
        Shapes of one layer. [mm]
    islands : ndarray of int, shape (shapes,)
        Which shapes are one conductor. [1]
    distance_mm : float
        Pairs up to this far apart count. [mm]

    Returns
    -------
    ndarray of int, shape (pairs, 2)
        Each pair once, the smaller first. [1]

    Raises
    ------
    TooDense
        If far too many boxes overlap.
    """
    tree = shapely.STRtree(shapes)
    low_x, low_y, high_x, high_y = shapely.bounds(shapes).T
    boxes = shapely.box(low_x - distance_mm, low_y - distance_mm, high_x + distance_mm, high_y + distance_mm)
    wide = shapely.get_num_coordinates(shapes) > _MANY_CORNERS
    shapely.prepare(shapes[wide])
    portion = max(1, _MOST_AT_ONCE // max(1, len(shapes)))
    found: list[NDArray[np.int64]] = []
    asked = measured = 0
    for start in range(0, len(shapes), portion):
        a, b = tree.query(boxes[start : start + portion])
        asked += len(a)
        if asked > _MOST_BOXES:
            raise TooDense
        a += start
        keep = (a < b) & (islands[a] != islands[b])
        a, b = a[keep], b[keep]
        measured += len(a)
        if measured > _MOST_MEASURED:
            raise TooDense
        first = np.where(wide[b], b, a)  # the prepared one answers fast when it is asked
        near = shapely.dwithin(shapes[first], shapes[np.where(wide[b], a, b)], distance_mm)
        found.append(np.stack([a[near], b[near]], axis=1))
    return np.concatenate(found) if found else np.zeros((0, 2), dtype=np.int64)


def islands_of(count: int, pairs: NDArray[np.int64]) -> NDArray[np.int64]:
    """Which things hang together.

    Parameters
    ----------
    count : int
        Number of things. [1]
    pairs : ndarray of int, shape (pairs, 2)
        Things that touch. [1]

    Returns
    -------
    ndarray of int, shape (count,)
        The lowest thing of each island. [1]
    """
    head = list(range(count))

    def find(one: int) -> int:
        while head[one] != one:
            head[one] = head[head[one]]
            one = head[one]
        return one

    for a, b in pairs.tolist():
        x, y = find(a), find(b)
        if x != y:
            head[max(x, y)] = min(x, y)
    return np.array([find(one) for one in range(count)], dtype=np.int64)
