"""Pieces of copper: what a layer leaves after its clearings, and which things hang together."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from scanloom.stages.board.model import Layer

_MOST_AT_ONCE = 2_000_000
_MOST_PAIRS = 3_000_000
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
