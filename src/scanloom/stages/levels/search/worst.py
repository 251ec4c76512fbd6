"""The smallest worst case of any network of a request: first a guess that is near it, then the proof."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from scanloom.stages.levels.search.single import Search, asks_of, best_rows, found_rows, fresh_count

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

WHITES = (0.996, 0.998, 1.0)
"""Shares of the target near which a small worst case is looked for first: a corner above lies further off. [1]"""
NEAR = 32
"""Networks looked at near each of them. [1]"""
NEAR_NODES = 300_000
"""Nodes after which each bound of that look is given up. [1]"""


def least_worst(search: Search) -> tuple[float | None, float, bool]:
    """Smallest worst case of any network of a request.

    Parameters
    ----------
    search : Search
        The request.

    Returns
    -------
    tuple
        The error that was reached, None without a network; what no network undercuts; whether the two meet but for the
        few microvolts that are not told apart. [V]
    """
    from scanloom.stages.levels.search._kernel import FINER_V

    asks = asks_of(search, corners=True)
    near_v = _near_worst(search)
    search.spent[0] = 0
    if near_v is not None:  # what is left to do is the proof
        found = found_rows(search, asks, near_v - FINER_V, 1)
        least_v = float(found[0, 0]) if len(found) else near_v
        given_up = search.spent[0] > search.nodes_most
        floor_v = max(0.0, min(_floor(search, row) for row in search.facts))
        proved = not given_up or least_v <= floor_v + FINER_V
        return least_v, least_v - FINER_V if proved else floor_v, proved
    found = found_rows(search, asks, search.request.rail_v.high, 1)
    given_up = search.spent[0] > search.nodes_most
    return (float(found[0, 0]), 0.0, not given_up) if len(found) else (None, 0.0, not given_up)


def _near_worst(search: Search) -> float | None:
    """Smallest worst case among the networks nearest to a few whites, where the best is likely to be."""
    from scanloom.stages.levels.search import _sums_kernel as sums

    request, near_v = search.request, None
    for share in WHITES:
        near = replace(fresh_count(search), target_v=search.target_v * share, nodes_most=NEAR_NODES)
        rows, _ = best_rows(near, NEAR)
        for row in rows:
            options, facts = row[4 : 4 + request.bits].astype("int64"), search.facts[int(row[3])]
            worst_v = sums.worst_error(search.table.siemens, options, request.bits, search.target_v, facts)
            near_v = worst_v if near_v is None else min(near_v, worst_v)
    return near_v


def _floor(search: Search, facts: NDArray[np.float64]) -> float:
    """What white alone costs at the corners, whatever the legs: halved to a nanovolt."""
    rail_low, rail_high, ground_low, ground_high = facts[1], facts[2], facts[4], facts[5]
    white_v = search.request.white_v
    ratio = float(search.table.corner_ratio[2, 0])
    low, high = 0.0, float(rail_high)
    while high - low > 1e-9:
        middle = (low + high) / 2.0
        up, down = white_v + middle, white_v - middle
        most = up * ground_low / (rail_high - up) if up < rail_high else math.inf
        least = down * ground_high / (rail_low - down) if down < rail_low else math.inf
        if least <= ratio * most:
            high = middle
        else:
            low = middle
    return low
