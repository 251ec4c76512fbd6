"""Sync edges solved in full, and branch parts proposed for them: on request, as it takes Fourier transforms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.circuit.bounce import first_waves
from scanloom.circuit.branched import BranchedLine, Edge, receiver_edges
from scanloom.circuit.line import UniformLine
from scanloom.circuit.signal_path import Leg, SignalPath
from scanloom.handbook.limits import limit
from scanloom.handbook.series import values
from scanloom.stages.levels.edges import FALLS_BACK_V, STRONG, TYPICAL, WEAK, branched_line
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.sync import SharedSync, sync_levels

Cables = tuple[tuple[UniformLine, Span], ...]
"""Line and length of each input's cable. [m]"""

Output = tuple[SharedSync, Cables]
"""One output and its cables. [m]"""

LEAST_OHM, MOST_OHM = 10.0, 1000.0
ALIKE_S = 5e-9


@record
class SyncEdges:
    """Edges of a sync at one display, typical values, the worse of rising and falling.

    Parameters
    ----------
    between_s : float or None
        Time from first passing one level to last passing the other; None if an edge never gets there. [s]
    slope : float
        Slope half way between both levels. [V/s]
    again : int
        Most passings of any level between both, after the first. [1]
    overshoot_v : float
        How far an edge shoots beyond where it settles. [V]
    rise_after_s : float or None
        When the rising edge is half way, counted from the middle of the display's own colour edges. [s]
    fall_after_s : float or None
        When the falling edge is half way, counted likewise. [s]
    """

    between_s: float | None
    slope: float
    again: int
    overshoot_v: float
    rise_after_s: float | None
    fall_after_s: float | None


@record
class SyncPassings:
    """Both edges of a sync at one display between both levels of its input, typical values.

    Parameters
    ----------
    rising : Edge
        From low to high, counted from its front's arrival. [s]
    falling : Edge
        From high to low, counted likewise. [s]
    colour_s : float or None
        When an edge of the display's own colour is half way, counted likewise; None where not wanted. [s]
    """

    rising: Edge
    falling: Edge
    colour_s: float | None


@record
class BranchProposal:
    """One value of branch part for all displays of an output.

    Parameters
    ----------
    branch_ohm : float or None
        The part; 0 for a wire, None if no value of the series gives clean edges. [ohm]
    overshoot_v : float
        Most any edge shoots beyond where it settles. [V]
    between_s : float
        Longest time between both levels, with weak parts. [s]
    tried : int
        Values whose edges were solved; all others break a level, or make an edge wait for an echo. [1]
    proved : bool
        Whether no other value of the series does better by the same rule.
    sharing : str
        How to share outputs: as asked, or one per display where a common output has no answer.
    """

    branch_ohm: float | None
    overshoot_v: float
    between_s: float
    tried: int
    proved: bool
    sharing: str


def sync_edges(
    shared: SharedSync, cables: Cables, colours: tuple[SignalPath | None, ...] | None = None
) -> tuple[SyncEdges, ...]:
    """Edges of one output at each of its displays, solved with losses, capacitances and all echoes.

    Parameters
    ----------
    shared : SharedSync
        Driver, parts and inputs.
    cables : tuple
        Line and length of each input's cable. [m]
    colours : tuple of SignalPath or None
        A colour channel of each display, for the time between its edges and the sync's; None where not wanted.

    Returns
    -------
    tuple of SyncEdges
        One an input.

    References
    ----------
    [branched] `scanloom.circuit.branched`: typical values; the thresholds are the handbook's levels of a sync input.
    """
    made = []
    for one in sync_passings(shared, cables, colours):
        both, colour_s = (one.rising, one.falling), one.colour_s
        made.append(
            SyncEdges(
                _longest(both),
                min(abs(edge.slope_v_per_s) for edge in both),
                max(edge.again for edge in both),
                max(edge.beyond_v for edge in both),
                *(None if edge.middle_s is None or colour_s is None else edge.middle_s - colour_s for edge in both),
            )
        )
    return tuple(made)


def sync_passings(
    shared: SharedSync, cables: Cables, colours: tuple[SignalPath | None, ...] | None = None
) -> tuple[SyncPassings, ...]:
    """When the edges of one output pass both levels at each of its displays, beside the display's own colour edges.

    Parameters
    ----------
    shared : SharedSync
        Driver, parts and inputs.
    cables : tuple
        Line and length of each input's cable. [m]
    colours : tuple of SignalPath or None
        A colour channel of each display; None where not wanted.

    Returns
    -------
    tuple of SyncPassings
        One an input.

    References
    ----------
    [branched] `scanloom.circuit.branched`; colour and sync come through cables of one length, so that both fronts arrive
    at once.
    """
    net = _net(shared, cables, TYPICAL)
    found = receiver_edges(net, *_thresholds())
    paths = colours if colours is not None else (None,) * len(found)
    return tuple(
        [
            SyncPassings(edges.rising, edges.falling, None if path is None else half_way(path, net.rise_s))
            for edges, path in zip(found, paths, strict=True)
        ]
    )


def propose_branch(
    outputs: Sequence[Output], series: str = "E24", percent: float = 5.0, apart: Sequence[Output] | None = None
) -> BranchProposal:
    """One branch part for the displays of all outputs that holds the levels and gives the cleanest edges.

    A value must hold both levels at every corner of the tolerances; with weak parts the first wave must reach the high
    level at every display, so that no edge waits for an echo; and no edge may turn back or dwell, with weak,
    typical or strong parts. Among those the quickest are taken, five nanoseconds counting alike, and of them the one that overshoots
    least.

    Parameters
    ----------
    outputs : sequence of Output
        Each output with its cables; branch parts that it has do not count. [m]
    series : str
        Series to choose from.
    percent : float
        Tolerance of the parts. [%]
    apart : sequence of Output, optional
        One output for each display, where no value serves them together; by default each on a driver like the one it
        shared. [m]

    Returns
    -------
    BranchProposal
        The best value; with one output for each display where no value serves them together.

    Raises
    ------
    ValueError
        If there is no such series.

    References
    ----------
    [exhaustion] Every value from 10 ohm to 1 kohm, and none at all: levels and first waves, exactly; then the edges of
    those that are left.
    """
    together = _best_branch(outputs, series, percent)
    if together.branch_ohm is not None or (apart is None and all(len(shared.inputs) == 1 for shared, _ in outputs)):
        return together
    if apart is None:
        apart = [
            (replace(shared, inputs=(one,)), (cable,))
            for shared, cables in outputs
            for one, cable in zip(shared.inputs, cables, strict=True)
        ]
    alone = _best_branch(apart, series, percent)
    return replace(alone, tried=together.tried + alone.tried, sharing="one per display")


def half_way(path: SignalPath, rise_s: float) -> float:
    """When a colour edge is half way at the display's input, counted from its front's arrival.

    Parameters
    ----------
    path : SignalPath
        The channel, all legs together.
    rise_s : float
        Edge of the driver. [s]

    Returns
    -------
    float
        Time. [s]

    References
    ----------
    [laplace] The step response of `scanloom.circuit.signal_path`.
    """
    import numpy as np

    from scanloom.circuit.signal_path import path_step

    step = path_step(path, rise_s, rise_s + 4.0 * path.length_m * path.line.delay_s_per_m + 40e-9, 1e-4)
    level = step.level.sum(axis=0) / step.settled.sum()
    after = int(np.argmax(level >= 0.5))
    y0, y1 = float(level[after - 1]), float(level[after])
    return step.start_s + step.step_s * (after - 1 + (0.5 - y0) / (y1 - y0))


def channel_path(
    net: OutputNetwork,
    line: UniformLine,
    length_m: float,
    pad_f: float = 0.0,
    connector_f: float = 0.0,
    load_f: float = 0.0,
) -> SignalPath:
    """A colour channel with its cable, typical values.

    Parameters
    ----------
    net : OutputNetwork
        Pins, parts and load.
    line : UniformLine
        The cable.
    length_m : float
        Its length. [m]
    pad_f : float
        Capacitance at each pin. [F]
    connector_f : float
        Capacitance at the connector. [F]
    load_f : float
        Capacitance of the input. [F]

    Returns
    -------
    SignalPath
        The channel.
    """
    legs = tuple([Leg(net.pin_high_ohm.typical, net.pin_low_ohm.typical, part.typical, pad_f) for part in net.part_ohm])
    return SignalPath(
        legs,
        line,
        length_m,
        net.load_ohm.typical,
        load_f,
        connector_f,
        None if net.shunt_ohm is None else net.shunt_ohm.typical,
        tuple([rung.typical for rung in net.rung_ohm]),
        None if net.terminator_ohm is None else net.terminator_ohm.typical,
    )


def _best_branch(outputs: Sequence[Output], series: str, percent: float) -> BranchProposal:
    """Best common value of all outputs; none where no value holds levels and edges."""
    most_s = limit("sync-edge").high
    assert most_s is not None
    best: tuple[tuple[float, float, float], float] | None = None
    tried = 0
    for ohm in (0.0, *values(series, LEAST_OHM, MOST_OHM)):
        part = None if ohm == 0.0 else Span.exact(ohm).relative(percent)
        # equal outputs see the same
        fitted = dict.fromkeys(
            (replace(shared, inputs=tuple([replace(one, branch_ohm=part) for one in shared.inputs])), cables)
            for shared, cables in outputs
        )
        if not all(_may_do(shared, cables) for shared, cables in fitted):
            continue
        tried += 1
        longest, beyond_v = 0.0, 0.0
        for corner in (WEAK, STRONG, TYPICAL):
            edges = [edge for shared, cables in fitted for edge in _edges(shared, cables, corner)]
            time_s = _longest(edges)
            if time_s is None or time_s > most_s or max(edge.back_v for edge in edges) > FALLS_BACK_V:
                break
            longest, beyond_v = max(longest, time_s), max(edge.beyond_v for edge in edges)
        else:
            score = (longest // ALIKE_S, beyond_v, longest)  # of the typical edges, which came last
            if best is None or score < best[0]:
                best = (score, ohm)
    if best is None:
        return BranchProposal(None, 0.0, 0.0, tried, True, "as asked")
    return BranchProposal(best[1], best[0][1], best[0][2], tried, True, "as asked")


def _may_do(shared: SharedSync, cables: Cables) -> bool:
    """Whether both levels hold at every corner, and the first wave reaches the high one with weak parts."""
    low_v, high_v = _thresholds()
    levels = sync_levels(shared)
    if min(v.low for v in levels.high_v) < high_v or max(v.high for v in levels.low_v) > low_v:
        return False
    return min(first_waves(_net(shared, cables, WEAK))) >= high_v


def _edges(shared: SharedSync, cables: Cables, corner: str) -> list[Edge]:
    """Both edges at every display of one output."""
    found = receiver_edges(_net(shared, cables, corner), *_thresholds())
    return [edge for edges in found for edge in (edges.rising, edges.falling)]


def _net(shared: SharedSync, cables: Cables, corner: str) -> BranchedLine:
    """One output with the handbook's edge and input capacitance."""
    return branched_line(shared, cables, limit("sync-driver-edge"), limit("sync-input-capacitance"), corner)


def _thresholds() -> tuple[float, float]:
    """Levels that a sync input takes for low and for high. [V]."""
    low, high = limit("sync-in-low").high, limit("sync-in-high").low
    assert low is not None and high is not None
    return low, high


def _longest(edges: Sequence[Edge]) -> float | None:
    """Longest time between both levels; None if one edge never gets there."""
    times = [edge.between_s for edge in edges]
    known = [time_s for time_s in times if time_s is not None]
    return max(known) if len(known) == len(times) else None
