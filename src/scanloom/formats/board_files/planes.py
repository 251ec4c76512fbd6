"""Planes drawn in negative: copper all over the board, less what the file draws."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np
import shapely

from scanloom.stages.board.model import Drawn, Layer


def turned_over(layers: Sequence[Layer], negatives: Collection[str]) -> list[Layer]:
    """Layers with those drawn in negative told as copper.

    Parameters
    ----------
    layers : sequence of Layer
        All image layers of a set.
    negatives : collection of str
        Files that are drawn in negative.

    Returns
    -------
    list of Layer
        The same layers in the same order; of a negative one, what was dark clears now, on copper as large as the board.
    """
    boxes = [
        shapely.total_bounds(one.shapes)
        for one in layers
        if one.role.role in ("copper", "outline") and not shapely.is_empty(one.shapes).all()
    ]
    if not negatives or not boxes:
        return list(layers)
    low_x, low_y = np.min(boxes, axis=0)[:2].tolist()
    high_x, high_y = np.max(boxes, axis=0)[2:].tolist()
    ground = shapely.box(low_x, low_y, high_x, high_y)
    made: list[Layer] = []
    for layer in layers:
        if layer.role.file not in negatives:
            made.append(layer)
            continue
        shapes = np.empty(len(layer.shapes) + 1, dtype=object)
        shapes[0], shapes[1:] = ground, layer.shapes
        made.append(
            Layer(
                replace(layer.role, remarks=(*layer.role.remarks, "drawn in negative: copper is what it leaves free")),
                (Drawn("area", low_x, low_y), *(replace(one, dark=not one.dark) for one in layer.drawn)),
                shapes,
                (shapely.get_coordinates(ground), *layer.paths),
            )
        )
    return made
