"""Objective yield: which network gives most good boards, out of boards made up from a seed.

A good board has white in the window and every step rising. The boards are the same for every network: the n-th board
has its own rail, load, pins, and for each leg its own share of the parts' tolerance, spread evenly over the spans.

What is proved: if no more than `EVERY` networks meet the request, all of them were counted and the first is the best
over these boards. Otherwise the networks nearest to several whites inside the window were counted, and the bound tells
what no network at all exceeds over these boards; the first is proved if it reaches that.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from scanloom.basis.span import Span
from scanloom.stages.levels.search.answer import FoundNetwork

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from scanloom.stages.levels.search.single import Search

EVERY = 1024
"""Networks that are all counted when no more meet the request. [1]"""
SHARES = (0.25, 0.5, 0.75)
"""Whites to search near, as shares of the way from the lower to the upper bound of the window. [1]"""
NEAR = 256
"""Networks counted near each of these whites. [1]"""


def most_yield(search: Search) -> tuple[tuple[FoundNetwork, ...], bool, float]:
    """Networks with most good boards.

    Parameters
    ----------
    search : Search
        The request.

    Returns
    -------
    tuple
        The networks, best first; whether the first is proved; and the share that no network exceeds. [1]
    """
    import numpy as np

    from scanloom.stages.levels.search import _sums_kernel as sums
    from scanloom.stages.levels.search.single import described

    request, table = search.request, search.table
    part = request.tolerance_percent / 100.0
    spans = np.array([_row(s) for s in (request.pin_high_ohm, request.low_pin_ohm, request.rail_v, request.load_ohm)])
    window = np.array([request.white_low_v, request.white_high_v])
    rows, every = _candidates(search)
    if not len(rows):
        return (), every, 0.0
    counted = []
    for row in rows:
        options = row[4 : 4 + request.bits].astype(np.int64)
        good = sums.good_boards(
            table.whole_ohm[options], request.bits, spans, 0.0, part, window, request.boards, request.seed
        )
        counted.append((-good, row[1], row[2], row[0], tuple(options), row))
    counted.sort(key=lambda one: one[:5])
    best = -counted[0][0]
    most = best
    if not every:
        ohms = table.whole_ohm
        most = sums.most_good_boards(
            float(ohms[0]), float(ohms[-1]), request.bits, spans, part, window, request.boards, request.seed
        )
    found = tuple(
        replace(described(search, row), good_share=-good / request.boards)
        for good, _, _, _, _, row in counted[: request.answers]
    )
    return found, best == most, most / request.boards


def _candidates(search: Search) -> tuple[NDArray[np.float64], bool]:
    """Networks to count, and whether they are all there are."""
    import numpy as np

    from scanloom.stages.levels.search.single import FIRST_BOUND_V, asks_of, found_rows, fresh_count

    request = search.request
    asks = asks_of(search, corners=False)
    bound_v = FIRST_BOUND_V
    while True:
        rows = found_rows(search, asks, bound_v, EVERY + 1)
        if len(rows) > EVERY or search.spent[0] > search.nodes_most:
            break
        if bound_v > request.rail_v.high:
            return rows, True
        bound_v *= 2.0
    found = {tuple(row[4:]): row for row in rows[:NEAR]}
    for share in SHARES:
        white_v = request.white_low_v + share * (request.white_high_v - request.white_low_v)
        near = replace(fresh_count(search), target_v=search.target_v * (white_v / request.white_v))
        bound_v = FIRST_BOUND_V
        while True:
            rows = found_rows(near, asks, bound_v, NEAR)
            if len(rows) == NEAR or near.spent[0] > search.nodes_most or bound_v > request.rail_v.high:
                break
            bound_v *= 2.0
        search.spent[0] += near.spent[0]
        for row in rows:
            found.setdefault(tuple(row[4:]), row)
    return np.array(list(found.values())), False


def _row(span: Span) -> tuple[float, float, float]:
    """A span as three numbers."""
    return span.low, span.typical, span.high
