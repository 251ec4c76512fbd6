"""Pieces of copper: what a layer leaves after its clearings, and which things hang together."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from scanloom.stages.board.model import Layer


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
    """
    shapes = layer.shapes
    dark = np.array([one.dark for one in layer.drawn], dtype=bool)
    area = shapely.area(shapes) > 0
    kept: list[int] = []
    made: dict[int, Any] = {}
    number = 0
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
        clear = [shapes[n] for n in range(number, end) if area[n]]
        if clear and kept:
            cutter = shapely.STRtree(clear)
            below = np.array([made[n] for n in kept], dtype=object)
            hit, by = cutter.query(below, predicate="intersects")
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
