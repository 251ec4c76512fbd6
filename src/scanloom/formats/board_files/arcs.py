"""Arcs made of short lines."""

from __future__ import annotations

import math

import numpy as np

Point = tuple[float, float]
_BOW_MM = 0.004  # how far a chord may lie from its arc


def arc_points(start: Point, end: Point, centre: Point, *, clockwise: bool, full: bool = True) -> list[Point]:
    """Short lines that stand for an arc.

    Parameters
    ----------
    start : tuple of float
        Where it starts. [mm]
    end : tuple of float
        Where it ends. [mm]
    centre : tuple of float
        Its centre. [mm]
    clockwise : bool
        Which way round.
    full : bool
        Whether start and end alike mean a whole circle.

    Returns
    -------
    list of tuple
        Points, start and end included. [mm]
    """
    radius = math.dist(start, centre)
    if radius < 1e-9:
        return [start, end]
    sweep = sweep_of(start, end, centre, clockwise)
    if sweep < 1e-9:
        if not full:
            return [start, end]
        sweep = 2 * math.pi
    step = 2 * math.acos(max(0.0, 1 - _BOW_MM / max(radius, _BOW_MM)))
    count = min(400, max(2, math.ceil(sweep / max(step, 1e-3))))
    first = math.atan2(start[1] - centre[1], start[0] - centre[0])
    last = math.dist(end, centre)
    turns = (-sweep if clockwise else sweep) * np.arange(count + 1) / count + first
    radii = radius + (last - radius) * np.arange(count + 1) / count
    made = list(zip(centre[0] + radii * np.cos(turns), centre[1] + radii * np.sin(turns), strict=True))
    return [start, *((float(x), float(y)) for x, y in made[1:-1]), end]


def sweep_of(start: Point, end: Point, centre: Point, clockwise: bool) -> float:
    """Angle from start to end of an arc.

    Parameters
    ----------
    start : tuple of float
        Where it starts. [mm]
    end : tuple of float
        Where it ends. [mm]
    centre : tuple of float
        Its centre. [mm]
    clockwise : bool
        Which way round.

    Returns
    -------
    float
        0 to a whole turn. [rad]
    """
    a = math.atan2(start[1] - centre[1], start[0] - centre[0])
    b = math.atan2(end[1] - centre[1], end[0] - centre[0])
    made = (a - b if clockwise else b - a) % (2 * math.pi)
    return 0.0 if made > 2 * math.pi - 1e-9 else made
