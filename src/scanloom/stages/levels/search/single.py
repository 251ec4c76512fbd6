"""The search for the parts of one channel: bounds that deepen, answers that are proved."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from scanloom.basis.record import record
from scanloom.stages.levels.search.answer import FoundNetwork, PartsProposal
from scanloom.stages.levels.search.options import LegTable, leg_table
from scanloom.stages.levels.search.request import PartsRequest

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

TIE_V = 1e-9
"""Errors that differ by less than such a step count as one. [V]"""
WORST_TIE_V = 1e-4
"""Worst cases that differ by less count as one; a handheld meter shows no less. [V]"""
FIRST_BOUND_V = 0.25e-3
"""Bound on the typical error that the search begins with. [V]"""
FAR = 4.0
"""Answers further than this many times the best error are not worth a rank."""
BY_TYPICAL = 2
"""Rank that `_kernel` gives answers by their typical error; the module itself loads late. [1]"""
NODES_MOST = 3_000_000
"""Nodes after which one bound is given up, and the answer not proved; a few seconds. [1]"""


@record
class Ruled:
    """No network was found.

    Parameters
    ----------
    proved : bool
        Whether there is none; else the search gave up first.
    """

    proved: bool


@dataclass(frozen=True, slots=True, eq=False)
class Search:
    """A request as the compiled search takes it.

    Parameters
    ----------
    request : PartsRequest
        The request.
    table : LegTable
        Its legs.
    target_v : ndarray of float, shape (codes,)
        Level wanted for each code. [V]
    shunts_ohm : tuple of float or None
        Shunts to try, None for none. [ohm]
    shunt_value : ndarray of int, shape (shunts,)
        Place of each in the list of values, -1 for none. [1]
    facts : ndarray of float, shape (shunts, facts)
        Numbers that go with the request, one row a shunt. [V, S, A, 1]
    spent : ndarray of int, shape (2,)
        Nodes looked at so far, and answers of the last search. [1]
    nodes_most : int
        Nodes after which it gives up. [1]
    """

    request: PartsRequest
    table: LegTable
    target_v: NDArray[np.float64]
    shunts_ohm: tuple[float | None, ...]
    shunt_value: NDArray[np.int64]
    facts: NDArray[np.float64]
    spent: NDArray[np.int64]
    nodes_most: int


def search_for(request: PartsRequest, nodes_most: int = NODES_MOST) -> Search:
    """A request made ready for the compiled search.

    Parameters
    ----------
    request : PartsRequest
        What is asked.
    nodes_most : int
        Nodes after which to give up. [1]

    Returns
    -------
    Search
        The same as tables. [V, S]
    """
    import numpy as np

    shunts: tuple[float | None, ...] = request.shunt_values_ohm or (None,)
    legs = request.leg_values_ohm
    values = tuple(sorted({*legs, *request.shunt_values_ohm})) if request.shunt_values_ohm else legs
    table = leg_table(request, values)
    facts = np.array([_facts(request, table, place, shunt) for place, shunt in enumerate(shunts)])
    shunt_value = np.array([-1 if ohm is None else values.index(ohm) for ohm in shunts], np.int64)
    white = (1 << request.bits) - 1
    target = request.white_v * np.arange(white + 1) / white
    return Search(request, table, target, shunts, shunt_value, facts, np.zeros(2, np.int64), nodes_most)


def _facts(request: PartsRequest, table: LegTable, place: int, shunt_ohm: float | None) -> list[float]:
    """Row of numbers for one shunt, in the order `_sums_kernel` names."""
    rail, load, part = request.rail_v, request.load_ohm, request.tolerance_percent / 100.0
    shunt = [0.0, 0.0, 0.0]
    if shunt_ohm is not None:
        shunt = [1.0 / shunt_ohm, 1.0 / (shunt_ohm * (1.0 + part)), 1.0 / (shunt_ohm * (1.0 - part))]
    ground = 1.0 / load.typical + shunt[0]
    least, most = (white * ground / (rail.typical - white) for white in (request.white_low_v, request.white_high_v))
    if request.match_percent is not None:  # source: legs and shunt side by side
        away = request.match_percent / 100.0
        least = max(least, 1.0 / (request.line_ohm * (1.0 + away)) - shunt[0])
        if away < 1.0:
            most = min(most, 1.0 / (request.line_ohm * (1.0 - away)) - shunt[0])
    return [
        rail.typical, rail.low, rail.high, ground, 1.0 / load.high + shunt[1], 1.0 / load.low + shunt[2],
        least, most, math.inf if request.pin_most_a is None else request.pin_most_a, TIE_V,
        table.kappa_sure if request.guaranteed else table.kappa, float(place),
    ]  # fmt: skip


def asks_of(search: Search, *, corners: bool, rank: int = 0) -> NDArray[np.int64]:
    """What the compiled search is told to look for.

    Parameters
    ----------
    search : Search
        What is asked.
    corners : bool
        Whether the error is the worst case.
    rank : int
        What ranks the answers, as `_kernel` numbers it. [1]

    Returns
    -------
    ndarray of int, shape (8,)
        In the order `_kernel` names. [1]
    """
    import numpy as np

    request = search.request
    distinct = request.bits + 1 if request.distinct_most is None else request.distinct_most
    parts = 2 * request.bits + 1 if request.parts_most is None else request.parts_most
    sure = request.guaranteed
    return np.array([corners, sure, rank, request.bits, distinct, parts, search.nodes_most, -1], np.int64)


def found_rows(search: Search, asks: NDArray[np.int64], bound_v: float, rows: int) -> NDArray[np.float64]:
    """Best networks within one bound.

    Parameters
    ----------
    search : Search
        The request.
    asks : ndarray of int, shape (8,)
        What to look for. [1]
    bound_v : float
        Bound on the error. [V]
    rows : int
        Most that are wanted. [1]

    Returns
    -------
    ndarray of float, shape (found, 10)
        Error, distinct values, parts, shunt, legs of each, best first. [V, 1]
    """
    import numpy as np

    from scanloom.stages.levels.search._kernel import search_shunts

    table = search.table
    found = np.zeros((rows, 10))
    ratio = table.corner_ratio if asks[0] else table.nominal_ratio
    search_shunts(
        table.siemens, table.value_of, table.parts_of, table.same_value, ratio, search.shunt_value,
        asks, search.target_v, search.facts, bound_v, found, search.spent,
    )  # fmt: skip
    return found[: search.spent[1]]


def best_rows(search: Search, rows: int) -> tuple[NDArray[np.float64], bool]:
    """Networks of least typical error.

    Parameters
    ----------
    search : Search
        The request.
    rows : int
        How many are wanted. [1]

    Returns
    -------
    tuple
        The networks, best first, and whether they are proved. [V, 1]
    """
    asks = asks_of(search, corners=False)
    bound_v, proved, spent = FIRST_BOUND_V, True, 0
    while True:
        search.spent[0] = 0
        found = found_rows(search, asks, bound_v, rows)
        spent += int(search.spent[0])
        if search.spent[0] > search.nodes_most:  # a wider bound may still bring one
            proved = False
        enough = len(found) == rows or (len(found) > 0 and (not proved or bound_v >= FAR * found[0, 0]))
        if enough or bound_v > search.request.rail_v.high:
            search.spent[0] = spent
            return found, proved
        bound_v *= 2.0


def described(search: Search, row: NDArray[np.float64]) -> FoundNetwork:
    """One found row as a network with all it does.

    Parameters
    ----------
    search : Search
        The request.
    row : ndarray of float, shape (10,)
        A row of `found_rows`. [V, 1]

    Returns
    -------
    FoundNetwork
        The network.
    """
    import numpy as np

    from scanloom.stages.levels.search import _sums_kernel as sums

    request, table = search.request, search.table
    bits = request.bits
    options = row[4 : 4 + bits].astype(np.int64)
    place = int(row[3])
    facts, shunt = search.facts[place], search.shunts_ohm[place]
    g, rail, ground = table.siemens, facts[0], facts[3]
    levels = sums.every_level(g, options, bits, rail, ground)
    step = levels[-1] / ((1 << bits) - 1)
    steps = np.diff(levels) / step - 1.0
    off_line = np.abs(levels / step - np.arange(levels.size))
    source = float(g[0, options].sum()) + (0.0 if shunt is None else 1.0 / shunt)
    return FoundNetwork(
        legs=tuple(table.legs[option] for option in options),
        shunt_ohm=shunt,
        error_v=float(np.abs(levels - search.target_v).max()),
        worst_error_v=sums.worst_error(g, options, bits, search.target_v, facts),
        full_scale_v=float(levels[-1]),
        inl_lsb=float(off_line.max()),
        dnl_min_lsb=float(steps.min()),
        dnl_max_lsb=float(steps.max()),
        monotonic_at_percent=sums.rises_up_to(
            table.whole_ohm[options],
            bits,
            request.pin_high_ohm.typical,
            request.low_pin_ohm.typical,
            request.load_ohm.typical,
            shunt or 0.0,
        ),
        source_ohm=1.0 / source,
        pin_current_a=sums.pin_current(g, options, bits, facts, False),
        pin_worst_a=sums.pin_current(g, options, bits, facts, True),
        white_current_a=sums.white_current(g, options, bits, facts, False),
        distinct=int(row[1]),
        parts=int(row[2]),
    )


def find_parts(request: PartsRequest, nodes_most: int = NODES_MOST) -> PartsProposal | Ruled:
    """Best networks of a request, without words.

    Parameters
    ----------
    request : PartsRequest
        What is asked.
    nodes_most : int
        Nodes after which each part of the search gives up. [1]

    Returns
    -------
    PartsProposal or Ruled
        Ranked answers, or that there is none.

    References
    ----------
    [branch] A. H. Land and A. G. Doig, "An Automatic Method of Solving Discrete Programming Problems", Econometrica
        28(3), 1960, pages 497 to 520 (from memory): branch and bound; what is bounded here stands in `_kernel`.
    """
    search = search_for(request, nodes_most)
    bound_v, most_share = 0.0, None
    networks = float(len(search.table.legs)) ** request.bits * len(search.shunts_ohm)
    if request.objective == "yield":
        from scanloom.stages.levels.search.boards import most_yield

        answers, proved, most_share = most_yield(search)
    elif request.objective == "worst":
        from scanloom.stages.levels.search.worst import least_worst

        worst_v, bound_v, proved = least_worst(search)
        if worst_v is None:
            return Ruled(proved)
        first = replace(fresh_count(search), facts=search.facts.copy())
        first.facts[:, 9] = math.inf  # all of these count as one step of the order
        rows = found_rows(first, asks_of(first, corners=True, rank=BY_TYPICAL), worst_v + WORST_TIE_V, request.answers)
        rows_proved = bool(first.spent[0] <= first.nodes_most)
        answers = tuple(described(search, row) for row in rows)
        proved = proved and rows_proved
        search.spent[0] += first.spent[0]
    else:
        rows, proved = best_rows(search, request.answers)
        answers = tuple(described(search, row) for row in rows)
        bound_v = answers[0].error_v if answers and proved else 0.0
    if not answers:
        return Ruled(proved)
    return PartsProposal(request, answers, proved, bound_v, most_share, int(search.spent[0]), networks)


def fresh_count(search: Search) -> Search:
    """The same search with its count of nodes at nought.

    Parameters
    ----------
    search : Search
        The search.

    Returns
    -------
    Search
        A copy that shares all but the count. [1]
    """
    import numpy as np

    return replace(search, spent=np.zeros(2, np.int64))
