"""Edges on a branched line as a staircase: every echo counted, every loss and capacitance left to its width.

A check at every change must not wait for a Fourier transform. Without losses a branched line answers a step with steps,
each the sum of all echoes that arrive together; they are followed here one by one. What rounds them is put into the
width of each step and into the thresholds: the driver's edge alone for the fastest answer; for the slowest also the
receiver's capacitance, and what skin effect still keeps back a few nanoseconds after a step. `branched` is the exact
answer, and this one an estimate, no bound: of 285 receivers on a hundred random outputs the slowest answer took 11 for
quick and clean (80 ns, 0.05 V) that were not, and 25 the other way round.
"""

from __future__ import annotations

import math

from scanloom.basis.record import record
from scanloom.circuit.branched import Branch, BranchedLine, branch_levels
from scanloom.circuit.line import SHEET_HZ

_TICK_S = 0.25e-9  # echoes this close together count as one
_SMALL = 4e-3  # share of the driver's step below which an echo is let go
_MOST_EVENTS = 300
_ROUNDED = 0.02  # share of the way that rounded echoes may take off a level
_SKIN_S = 8e-9  # after that skin effect counts as level that lacks, no longer as time


@record
class Staircase:
    """One edge at one receiver, counted from its front's arrival.

    Parameters
    ----------
    between_s : float or None
        Time from first passing the nearer threshold to last passing the farther one; None if it never gets there. [s]
    back_v : float
        How far it falls back between both thresholds. [V]
    """

    between_s: float | None
    back_v: float


def staircases(net: BranchedLine, low_v: float, high_v: float, *, slow: bool) -> tuple[Staircase, ...]:
    """The slower of both edges at each receiver.

    Parameters
    ----------
    net : BranchedLine
        Driver and branches.
    low_v : float
        Level below which an input surely reads low. [V]
    high_v : float
        Level above which an input surely reads high. [V]
    slow : bool
        Whether capacitance and skin effect slow each step down, or the driver's edge alone.

    Returns
    -------
    tuple of Staircase
        One a branch: of rising and falling the longer time, and the farther fall.

    References
    ----------
    [bounce] Reflection and transmission at the node and at each receiver, as for a lattice diagram.
    """
    lows, highs = branch_levels(net, False), branch_levels(net, True)
    kinds = list(dict.fromkeys(net.branches))
    up = _steps(net, kinds, net.high_ohm)
    down = up if net.low_ohm == net.high_ohm else _steps(net, kinds, net.low_ohm)
    found: dict[Branch, Staircase] = {}
    for at, branch in enumerate(net.branches):
        if branch in found:
            continue
        way_v = highs[at] - lows[at]
        lag_s, lacking = _lag(net, branch) if slow else (0.0, 0.0)
        width_s = max(net.rise_s + lag_s, 1e-12)
        near_v, far_v = low_v - lacking * way_v, high_v + lacking * way_v
        place = kinds.index(branch)
        rising = _passing(up[place], width_s, lows[at], way_v, near_v, far_v)
        falling = _passing(down[place], width_s, -highs[at], way_v, -far_v, -near_v)
        longest = None
        if rising.between_s is not None and falling.between_s is not None:
            longest = max(rising.between_s, falling.between_s)
        found[branch] = Staircase(longest, max(rising.back_v, falling.back_v))
    return tuple([found[branch] for branch in net.branches])


def first_waves(net: BranchedLine) -> tuple[float, ...]:
    """Level that the first wave alone reaches at each receiver on a rising edge, without losses and from 0 V.

    Parameters
    ----------
    net : BranchedLine
        Driver and branches.

    Returns
    -------
    tuple of float
        One a branch. [V]

    References
    ----------
    [bounce] Until an echo returns, every cable is a resistance of its impedance; the receiver adds what it turns back.
    """
    near_s = [1.0 / (branch.line.impedance_ohm + branch.part_ohm) for branch in net.branches]
    driver_s = 1.0 / (net.high_ohm + net.series_ohm)
    node_v = net.rail_v * driver_s / (driver_s + sum(near_s))
    found = []
    for branch, conductance in zip(net.branches, near_s, strict=True):
        z = branch.line.impedance_ohm
        load_ohm = 1.0 / (1.0 / branch.load_ohm + 1.0 / branch.pull_ohm)
        found.append(node_v * conductance * z * 2.0 * load_ohm / (load_ohm + z))
    return tuple(found)


def _steps(net: BranchedLine, kinds: list[Branch], driver_ohm: float) -> list[list[tuple[float, float]]]:
    """For each kind of branch the steps at its receiver, as time since its front and share of the whole way.

    Equal branches send the same echoes at the same times, so one of each kind is followed and counted so many times.
    """
    driver_s = 1.0 / (driver_ohm + net.series_ohm)
    many = [sum(1 for other in net.branches if other == kind) for kind in kinds]
    ohm = [kind.line.impedance_ohm for kind in kinds]
    # the cable's own resistance weakens every pass; half of it at either end does the same and stays a resistance
    near_s = [1.0 / (z + kind.part_ohm + kind.cable_ohm / 2.0) for z, kind in zip(ohm, kinds, strict=True)]
    node_s = driver_s + sum(g * count for g, count in zip(near_s, many, strict=True))
    trip = [max(2, 2 * round(kind.line.delay_s_per_m * kind.length_m / _TICK_S)) for kind in kinds]
    turned, shown = [], []
    for z, kind in zip(ohm, kinds, strict=True):
        load_ohm = 1.0 / (1.0 / kind.load_ohm + 1.0 / kind.pull_ohm)
        far_ohm = load_ohm + kind.cable_ohm / 2.0
        turned.append((far_ohm - z) / (far_ohm + z))
        shown.append(2.0 * load_ohm / (far_ohm + z))
    steps: list[dict[int, float]] = [{} for _ in kinds]
    # waves that come back to the node, by tick
    coming: dict[int, list[float]] = {}
    ticks: list[int] = []

    def send(tick: int, at: int, wave: float) -> None:
        if abs(wave) < _SMALL:
            return
        steps[at][tick] = steps[at].get(tick, 0.0) + wave * shown[at]
        back = tick + trip[at]
        if back not in coming:
            coming[back] = [0.0] * len(kinds)
            ticks.append(back)
        coming[back][at] += wave * turned[at]

    for at, z in enumerate(ohm):
        send(0, at, driver_s / node_s * z * near_s[at])
    done = 0
    while ticks and done < _MOST_EVENTS:
        tick = min(ticks)
        ticks.remove(tick)
        waves = coming.pop(tick)
        node_v = sum(2.0 * w * g * count for w, g, count in zip(waves, near_s, many, strict=True)) / node_s
        for at, wave in enumerate(waves):
            send(tick, at, wave - ohm[at] * near_s[at] * (2.0 * wave - node_v))
        done += 1
    listed = []
    for kind_steps in steps:
        total = sum(kind_steps.values())
        listed.append([(tick * _TICK_S, share / total) for tick, share in sorted(kind_steps.items())])
    return listed


def _lag(net: BranchedLine, branch: Branch) -> tuple[float, float]:
    """How much longer a step takes, and which share of it still lacks then.

    Capacitances at both ends count to 95 %; skin effect to 90 %, or to what it has reached after `_SKIN_S`.
    """
    line = branch.line
    source_ohm = net.series_ohm + max(net.high_ohm, net.low_ohm)
    charged_s = 3.0 * line.impedance_ohm * branch.load_f + 3.0 * min(source_ohm, line.impedance_ohm) * net.pad_f
    k = line.skin_ohm_per_m / math.sqrt(math.pi * SHEET_HZ)
    # a step reaches erfc(x / sqrt t) of its height; 90 % where the argument is 0.0889
    x = k * branch.length_m / (4.0 * line.impedance_ohm)
    return charged_s + min((x / 0.0889) ** 2, _SKIN_S), 1.0 - math.erfc(x / math.sqrt(_SKIN_S)) + _ROUNDED


def _passing(
    steps: list[tuple[float, float]], width_s: float, begin_v: float, way_v: float, near_v: float, far_v: float
) -> Staircase:
    """Time between both thresholds of steps that are straight ramps of one width; the waveform is made to rise."""
    knots: dict[float, float] = {}
    for time_s, share in steps:
        for at_s, sign in ((time_s, 1.0), (time_s + width_s, -1.0)):
            knots[at_s] = knots.get(at_s, 0.0) + sign * share * way_v / width_s
    slope, volt, before_s = 0.0, begin_v, 0.0
    first_s: float | None = None
    last_s: float | None = None
    highest, back_v = min(max(begin_v, near_v), far_v), 0.0
    for at_s in sorted(knots):
        after_v = volt + slope * (at_s - before_s)
        if first_s is None and after_v >= near_v:
            first_s = before_s if volt >= near_v else before_s + (near_v - volt) / slope
        if volt < far_v <= after_v:
            last_s = before_s + (far_v - volt) / slope
        inside = min(max(after_v, near_v), far_v)
        highest = max(highest, inside)
        back_v = max(back_v, highest - inside)
        slope += knots[at_s]
        volt, before_s = after_v, at_s
    reached = first_s is not None and last_s is not None and volt >= far_v
    return Staircase(last_s - first_s if reached and last_s is not None and first_s is not None else None, back_v)
