"""The joint search: one set of values for red, green, blue and the syncs of every display."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING

from scanloom.basis.span import Span
from scanloom.circuit.line import UniformLine
from scanloom.handbook.limits import limit
from scanloom.stages.levels.edges import edges_hold
from scanloom.stages.levels.search.joint_request import (
    MOST_SHARED,
    JointProposal,
    JointRequest,
    JointSync,
    NoJointSet,
    kind_of,
)
from scanloom.stages.levels.search.single import Search, asks_of, described, search_for
from scanloom.stages.levels.sync import SharedSync, sync_levels

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Caps = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]

Progress = Callable[[float], bool]
"""Told which share of the work is done; its answer is whether to go on."""


def propose_joint(request: JointRequest, go_on: Progress | None = None) -> JointProposal | NoJointSet:
    """One set of values for all channels and syncs, the worst channel as good as any set allows.

    Parameters
    ----------
    request : JointRequest
        What is asked.
    go_on : callable, optional
        Told the share done, answers whether to go on; the best set so far is then given unproved. [1]

    Returns
    -------
    JointProposal or NoJointSet
        The set with every network, or why there is none.

    Notes
    -----
    Errors are compared from the worst channel down; then, in quarters of a neper, how far driver and branch of a sync
    lie from the line; then distinct values, parts and the sum of errors decide. Where a
    cap on a current binds, the worst error is the least of all, but the channels below it are made good one after the
    other, each as far as the caps leave it.
    """
    found = find_joint(request, go_on)
    if found is not None:
        return found
    return _nearest(request)


def propose_board(request: JointRequest, go_on: Progress | None = None) -> tuple[JointProposal | None, tuple[str, ...]]:
    """One set of values for a board; where chip or syncs rule all out, the set that buffers would leave.

    Parameters
    ----------
    request : JointRequest
        What is asked.
    go_on : callable, optional
        Told the share done, answers whether to go on. [1]

    Returns
    -------
    tuple
        The set, None if there is none even without the caps; and what has to be said of it.
    """
    found = propose_joint(request, go_on)
    if isinstance(found, JointProposal):
        return found, ()
    says = (found.says[:1].upper() + found.says[1:] + ".",)
    if found.nearest is not None and request.syncs and not found.nearest.syncs:
        return find_joint(found.nearest), says
    if found.nearest is None or found.nearest.caps or not request.caps:
        return None, says
    return find_joint(replace(request, caps=tuple(replace(cap, most_a=math.inf) for cap in request.caps))), says


def find_joint(request: JointRequest, go_on: Progress | None = None) -> JointProposal | None:
    """The same without words.

    Parameters
    ----------
    request : JointRequest
        What is asked.
    go_on : callable, optional
        Told the share done, answers whether to go on. [1]

    Returns
    -------
    JointProposal or None
        The best set; None if there is none.
    """
    import numpy as np

    from scanloom.stages.levels.search._joint_kernel import scan

    kinds = request.kinds()
    searches = [search_for(request.single(kind)) for kind in kinds]
    table = searches[0].table
    values = len(table.same_value)
    count = min(request.distinct_most, values)
    corners = request.objective == "worst"
    targets = np.zeros((len(kinds), 1 << 6))
    for place, one in enumerate(searches):
        targets[place, : one.target_v.size] = one.target_v
    costs, currents = _sync_tables(request, searches[0])
    many = np.array(
        [sum(kind_of(one) == kind_of(kind) for one in request.channels) for kind in kinds]
        + [one.branches for one in request.syncs],
        np.int64,
    )
    caps = _caps(request)
    best = np.zeros(len(kinds) + 4)
    best[:] = max(kind.rail_v.high for kind in kinds)
    rows, branch = np.zeros((len(kinds), 10)), np.zeros(len(request.syncs), np.int64)
    chosen, tally = np.full(MOST_SHARED, -1, np.int64), np.zeros(1, np.int64)
    g = np.stack([one.table.siemens for one in searches])
    ratio = np.stack([one.table.corner_ratio if corners else one.table.nominal_ratio for one in searches])
    asks = np.stack([asks_of(one, corners=corners) for one in searches])
    asks[:, 4] = 2 * MOST_SHARED  # the set itself is the limit
    facts = np.concatenate([one.facts for one in searches])
    every = math.comb(values, count)
    proved = True
    for first in range(values - count + 1):
        scan(
            first, values, count, (table.value_of, table.parts_of, table.same_value), (g, ratio, asks, targets, facts),
            many, costs, currents, caps, best, rows, branch, chosen, tally,
        )  # fmt: skip
        if go_on is not None and not go_on(int(tally[0]) / every):
            proved = int(tally[0]) == every
            break
    if chosen[0] < 0:
        return None
    return _proposal(request, searches, rows, branch, int(tally[0]), proved, caps)


def _proposal(
    request: JointRequest, searches: list[Search], rows: NDArray[np.float64], branch: NDArray[np.int64],
    sets: int, proved: bool, caps: Caps,
) -> JointProposal:  # fmt: skip
    """The best set in the words of the request."""
    from scanloom.stages.levels.search import _sums_kernel as sums

    places = {kind_of(kind): place for place, kind in enumerate(request.kinds())}
    networks = [described(one, row) for one, row in zip(searches, rows, strict=True)]
    channels = tuple(networks[places[kind_of(one)]] for one in request.channels)
    branches = tuple(searches[0].table.legs[option] for option in branch)
    values = {leg.ohm for net in channels for leg in net.legs} | {leg.ohm for leg in branches}
    white_a = []
    for one, row in zip(searches, rows, strict=True):
        options = row[4:].astype("int64")
        white_a.append(sums.white_current(one.table.siemens, options, one.request.bits, one.facts[0], True))
    sync_a = [_current(request, one, leg.whole_ohm) for one, leg in zip(request.syncs, branches, strict=True)]
    _, by_kind, by_sync = caps
    drawn = tuple(
        cap.own_a + float(by_kind[place] @ white_a) + (float(by_sync[place] @ sync_a) if sync_a else 0.0)
        for place, cap in enumerate(request.caps)
    )
    parts = sum(net.parts for net in channels)
    parts += sum(leg.parts * one.branches for leg, one in zip(branches, request.syncs, strict=True))
    errors = [net.worst_error_v if request.objective == "worst" else net.error_v for net in channels]
    return JointProposal(request, tuple(sorted(values)), channels, branches, max(errors), parts, drawn, sets, proved)


def _caps(request: JointRequest) -> Caps:
    """Room under each cap, and how often each kind of channel and each sync counts there."""
    import numpy as np

    kinds = request.kinds()
    room = np.array([cap.most_a - cap.own_a for cap in request.caps])
    by_kind = np.zeros((len(request.caps), len(kinds)))
    by_sync = np.zeros((len(request.caps), len(request.syncs)))
    for place, cap in enumerate(request.caps):
        for column, kind in enumerate(kinds):
            by_kind[place, column] = sum(
                one.name in cap.members and kind_of(one) == kind_of(kind) for one in request.channels
            )
        for column, sync in enumerate(request.syncs):
            by_sync[place, column] = sync.wires * (sync.name in cap.members)
    return room, by_kind, by_sync


def _sync_tables(request: JointRequest, search: Search) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """For each sync and each leg as its branch: how far the source lies from the line, and the driver's current."""
    import numpy as np

    shape = (len(request.syncs), len(search.table.legs))
    costs, currents = np.full(shape, np.inf), np.zeros(shape)
    for place, sync in enumerate(request.syncs):
        for option, leg in enumerate(search.table.legs):
            cost, currents[place, option] = _branch(
                sync.shared, leg.whole_ohm, request.tolerance_percent, sync.pin_most_a, request.line_ohm
            )
            costs[place, option] = cost
        if sync.cables is not None:
            cables, shared = sync.cables, sync.shared
            clean = [
                math.isfinite(costs[place, option]) and _clean(shared, cables, leg.whole_ohm, request.tolerance_percent)
                for option, leg in enumerate(search.table.legs)
            ]
            if any(clean):
                costs[place, ~np.array(clean)] = np.inf
    return costs, currents


def with_branch(shared: SharedSync, branch: Span) -> SharedSync:
    """A shared sync with one part in every branch.

    Parameters
    ----------
    shared : SharedSync
        The sync.
    branch : Span
        The part. [ohm]

    Returns
    -------
    SharedSync
        The same inputs behind that part.
    """
    return replace(shared, inputs=tuple(replace(one, branch_ohm=branch) for one in shared.inputs))


@lru_cache(maxsize=4096)
def _clean(shared: SharedSync, cables: tuple[tuple[UniformLine, Span], ...], ohm: float, percent: float) -> bool:
    """Whether every edge behind a branch is clean, by the survey's own estimate."""
    return edges_hold(with_branch(shared, Span.exact(ohm).relative(percent)), cables)


@lru_cache(maxsize=4096)
def _branch(
    shared: SharedSync, ohm: float, percent: float, pin_most_a: float | None, line_ohm: float
) -> tuple[float, float]:
    """Cost of a branch, infinite where a level or the driver's current may leave its bounds, and that current."""
    high_row, low_row = limit("sync-in-high"), limit("sync-in-low")
    assert high_row.low is not None and low_row.high is not None
    found = sync_levels(with_branch(shared, Span.exact(ohm).relative(percent)))
    most_a = max(found.driver_high_a.high, -found.driver_low_a.low)
    held = all(span.low >= high_row.low for span in found.high_v)
    held = held and all(span.high <= low_row.high for span in found.low_v)
    if not held or (pin_most_a is not None and most_a > pin_most_a):
        return math.inf, math.inf
    own = shared.driver_high_ohm.typical + (shared.series_ohm.typical if shared.series_ohm else 0.0)
    return abs(math.log((own + ohm) / line_ohm)), max(found.driver_high_a.high, 0.0)


def _current(request: JointRequest, sync: JointSync, ohm: float) -> float:
    """Most current out of the driver of one sync."""
    return _branch(sync.shared, ohm, request.tolerance_percent, sync.pin_most_a, request.line_ohm)[1]


def _nearest(request: JointRequest) -> NoJointSet:
    """Why there is no set, and the least change that brings one."""
    shared = f"{request.distinct_most} shared value{'s' if request.distinct_most > 1 else ''}"
    if request.caps:
        free = find_joint(replace(request, caps=()))
        if free is not None:
            measured = find_joint(replace(request, caps=tuple(replace(cap, most_a=math.inf) for cap in request.caps)))
            assert measured is not None
            over = [
                f"{cap.name} would carry about {drawn * 1e3:.3g} mA of {cap.most_a * 1e3:.3g} mA"
                for cap, drawn in zip(request.caps, measured.caps_a, strict=True)
                if drawn > cap.most_a
            ]
            says = (
                f"no set of {shared} keeps the currents within their caps: {'; '.join(over)}; "
                "no resistor cures that, for white takes its current whatever the depth: give the displays buffers"
            )
            return NoJointSet(request, says, "", replace(request, caps=()))
    for option, change, other in _milder(request):
        if find_joint(other) is not None:
            how = "give the syncs a buffer" if not option else option if option.startswith("leave") else f"add {option}"
            says = f"no set of {shared} does for every channel and sync; {change}: {how}"
            return NoJointSet(request, says, option, other)
    return NoJointSet(
        request, f"no set of {shared} does, nor with any one demand dropped; check rail, pins and loads", "", None
    )


def _milder(request: JointRequest) -> list[tuple[str, str, JointRequest]]:
    """Requests that ask for less in one thing."""
    made = [
        (f"--distinct {count}", f"{count} values do", replace(request, distinct_most=count))
        for count in range(request.distinct_most + 1, min(request.distinct_most + 2, MOST_SHARED + 1))
    ]
    if not request.pairs:
        made.append(("leave out --single", "pairs of equal parts do", replace(request, pairs=True)))
    if request.least_part_ohm > 22.0:
        made.append(("--range '22 ohm .. 10 kohm'", "smaller values do", replace(request, least_part_ohm=22.0)))
    if request.syncs:
        names = {one.name for one in request.channels}
        caps = tuple(replace(cap, members=tuple(name for name in cap.members if name in names)) for cap in request.caps)
        made.append(("", "for the channels alone one does", replace(request, syncs=(), caps=caps)))
    return made
