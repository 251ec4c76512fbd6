"""Compiled order of found networks: a short list, best first."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit


@njit(cache=True, error_model="numpy")
def sooner(one: Any, other: Any, tie_v: float) -> bool:
    """Whether one row of found answers ranks before another: error in steps, distinct, parts, error, shunt, legs."""
    first, second = np.floor(one[0] / tie_v), np.floor(other[0] / tie_v)
    if first != second:
        return bool(first < second)
    if one[1] != other[1]:
        return bool(one[1] < other[1])
    if one[2] != other[2]:
        return bool(one[2] < other[2])
    for place in (0, 3, 4, 5, 6, 7, 8, 9):
        if one[place] != other[place]:
            return bool(one[place] < other[place])
    return False


@njit(cache=True, error_model="numpy")
def copy(source: Any, target: Any) -> None:
    """Copy a row; a loop, as slices take long to compile."""
    for place in range(source.size):
        target[place] = source[place]


@njit(cache=True, error_model="numpy")
def keep(found: Any, count: int, row: Any, tie_v: float) -> int:
    """Put a row among the found ones, best first; the last falls off when there is no room."""
    most = found.shape[0]
    if count == most:
        if not sooner(row, found[most - 1], tie_v):
            return count
        count -= 1
    place = count
    while place > 0 and sooner(row, found[place - 1], tie_v):
        copy(found[place - 1], found[place])
        place -= 1
    copy(row, found[place])
    return count + 1
