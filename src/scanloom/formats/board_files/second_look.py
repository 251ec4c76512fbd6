"""What only all files together tell: which image is the outline, which unit a table means, which plane is in negative."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np
import shapely

from scanloom.formats.board_files.planes import turned_over
from scanloom.formats.board_files.tables import NO_UNIT, in_likely_unit
from scanloom.stages.board.model import Layer, Placement, Role


def images_together(layers: Sequence[Layer], negatives: Collection[str]) -> list[Layer]:
    """Images after a look at all of them.

    Parameters
    ----------
    layers : sequence of Layer
        Images as each was taken alone.
    negatives : collection of str
        Files of planes that are drawn in negative.

    Returns
    -------
    list of Layer
        The same in the same order, some with another role.
    """
    return turned_over(_lone_outline(_doubles(layers)), negatives)


def tables_on_the_board(tables: Sequence[Placement], layers: Sequence[Layer]) -> list[Placement]:
    """Placement files, those without a unit in the one that fits the board.

    Parameters
    ----------
    tables : sequence of Placement
        Placement files.
    layers : sequence of Layer
        Images.

    Returns
    -------
    list of Placement
        The same in the same order.
    """
    shapes = [one.shapes for one in layers if one.role.role in ("copper", "outline") and len(one.shapes)]
    made: list[Placement] = []
    for table in tables:
        words = ""
        rows = table.rows_placed
        if shapes and NO_UNIT in table.role.remarks:
            low_x, low_y, high_x, high_y = shapely.total_bounds(np.concatenate(shapes))
            rows, words = in_likely_unit(rows, (high_x - low_x, high_y - low_y))
        told = tuple(words if words and remark == NO_UNIT else remark for remark in table.role.remarks)
        made.append(replace(table, role=replace(table.role, remarks=told), rows_placed=rows))
    return made


def _doubles(layers: Sequence[Layer]) -> list[Layer]:
    """Of two images that claim one copper side by name, one without pads is the legend."""
    made = list(layers)
    for number, layer in enumerate(made):
        role = layer.role
        rivals = [x for x in made if x is not layer and x.role.role == "copper" and x.role.side == role.side]
        flashed = any(one.kind == "flash" for one in layer.drawn)
        if role.role == "copper" and role.decided_by == "name" and role.side != "inner" and rivals and not flashed:
            made[number] = _taken_for(layer, "legend")
    return made


def _lone_outline(layers: Sequence[Layer]) -> list[Layer]:
    """Without an outline, the one image of bare lines that goes around all copper is it."""
    made = list(layers)
    copper = [one.shapes for one in made if one.role.role == "copper" and len(one.shapes)]
    if not copper or any(one.role.role == "outline" for one in made):
        return made
    inner = shapely.total_bounds(np.concatenate(copper))
    around = [number for number, layer in enumerate(made) if _goes_around(layer, inner[:2], inner[2:])]
    if len(around) == 1:
        made[around[0]] = _taken_for(made[around[0]], "outline", "it goes around all copper")
    return made


def _goes_around(layer: Layer, inner_low: np.ndarray, inner_high: np.ndarray) -> bool:
    """Whether an image that nothing names is lines alone, and runs around a box without going far beyond it."""
    bare = len(layer.drawn) and all(one.kind == "stroke" for one in layer.drawn)
    if layer.role.role != "other" or layer.role.decided_by != "content" or not bare:
        return False
    paths = np.concatenate(layer.paths)
    low, high = paths.min(axis=0), paths.max(axis=0)
    fits = (low <= inner_low + _NEAR_MM).all() and (high >= inner_high - _NEAR_MM).all()
    largest = _LARGEST_RING if _is_one_ring(layer) else _LARGEST
    return bool(fits and (high - low <= largest * (inner_high - inner_low)).all())


def _is_one_ring(layer: Layer) -> bool:
    """Whether all lines of an image close to one ring, with nothing beside."""
    lines = [shapely.linestrings(path) for path in layer.paths if len(path) > 1]
    rings, cuts, dangles, crossed = shapely.polygonize_full(lines)
    return len(rings.geoms) == 1 and all(shapely.is_empty(rest) for rest in (cuts, dangles, crossed))


def _taken_for(layer: Layer, role: Role, *remarks: str) -> Layer:
    """A layer with another role."""
    made = replace(layer.role, role=role, decided_by="content", remarks=(*layer.role.remarks, *remarks))
    return replace(layer, role=made)


_NEAR_MM = 0.1  # copper may reach the middle of the line
_LARGEST = 1.5  # times the copper; the frame of a drawing is larger
_LARGEST_RING = 4.0  # the same of one bare ring; the frame of a drawing has fields for its title
