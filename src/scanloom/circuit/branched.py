"""One driver, and several receivers at the ends of cables of their own: levels and edges at each of them.

A driver feeds a node through an optional part; from the node a branch part and a lossy cable lead to each receiver,
which loads it to ground, may pull it up, and has some capacitance. Every branch's echo passes through the node into all
the others. An edge takes the resistance that the driver has after it: its open voltage moves evenly from the one with
which the old levels would stand to the new one.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from scanloom.basis.record import record
from scanloom.circuit.line import UniformLine, front_delay, line_waves
from scanloom.circuit.response import StepResponse, step_response
from scanloom.circuit.star import star_voltage

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Complexes = NDArray[np.complex128]

_THRESHOLDS = 25
_RIPPLE_V = 0.005  # a fall smaller than this is no second crossing


@record
class Branch:
    """One receiver and what leads to it.

    Parameters
    ----------
    part_ohm : float
        Part between the node and the cable; 0 for none. [ohm]
    line : UniformLine
        The cable.
    length_m : float
        Its length. [m]
    load_ohm : float
        Load of the receiver to ground. [ohm]
    load_f : float
        Capacitance of the receiver. [F]
    pull_ohm : float
        Pull-up inside the receiver; `math.inf` for none. [ohm]
    pull_v : float
        Voltage the pull-up goes to. [V]

    Raises
    ------
    ValueError
        If a value is out of range.
    """

    part_ohm: float
    line: UniformLine
    length_m: float
    load_ohm: float
    load_f: float = 0.0
    pull_ohm: float = math.inf
    pull_v: float = 0.0

    def __post_init__(self) -> None:
        """Refuse values with which nothing can be computed."""
        for name in ("part_ohm", "length_m", "load_f", "pull_v"):
            if not 0.0 <= getattr(self, name) < math.inf:
                raise ValueError(f"{name}: {getattr(self, name)!r}; allowed is zero or more; give its real value")
        for name in ("load_ohm", "pull_ohm"):
            if not getattr(self, name) > 0.0:
                raise ValueError(f"{name}: {getattr(self, name)!r}; allowed is above zero; give its real value")

    @property
    def cable_ohm(self) -> float:
        """Direct-current resistance of the cable, in ohms."""
        return self.line.resistance_ohm_per_m * self.length_m


@record
class BranchedLine:
    """One driver and all the branches it feeds.

    Parameters
    ----------
    high_ohm : float
        Resistance of the driver when high, above zero. [ohm]
    low_ohm : float
        Resistance of the driver when low, above zero. [ohm]
    rail_v : float
        Supply of the driver. [V]
    branches : tuple of Branch
        The branches. [ohm, m, F, V]
    rise_s : float
        Length of the driver's edge, from 0 to 100 %. [s]
    series_ohm : float
        Part between driver and node; 0 for none. [ohm]
    pad_f : float
        Capacitance at the driver. [F]

    Raises
    ------
    ValueError
        If there is no branch, or a value is out of range.
    """

    high_ohm: float
    low_ohm: float
    rail_v: float
    branches: tuple[Branch, ...]
    rise_s: float
    series_ohm: float = 0.0
    pad_f: float = 0.0

    def __post_init__(self) -> None:
        """Refuse values with which nothing can be computed."""
        if not self.branches:
            raise ValueError("branched line: no branch; allowed is one or more; give the receivers")
        for name in ("high_ohm", "low_ohm", "rail_v"):
            if not 0.0 < getattr(self, name) < math.inf:
                raise ValueError(f"{name}: {getattr(self, name)!r}; allowed is above zero; give the driver's own")
        for name in ("rise_s", "series_ohm", "pad_f"):
            if not 0.0 <= getattr(self, name) < math.inf:
                raise ValueError(f"{name}: {getattr(self, name)!r}; allowed is zero or more; give its real value")


@record
class Edge:
    """One edge as one receiver sees it; times count from the moment its front can arrive.

    Parameters
    ----------
    first_s : float or None
        When it first passes the nearer threshold; None if never. [s]
    last_s : float or None
        When it is past the farther threshold for good; None if never. [s]
    middle_s : float or None
        When it is half way between both for good. [s]
    slope_v_per_s : float
        Slope half way between both, at its last passing; 0 if never. [V/s]
    again : int
        Most passings, after the first, of any level between both thresholds. [1]
    back_v : float
        How far it falls back between both thresholds. [V]
    beyond_v : float
        How far it shoots beyond the level it settles at. [V]
    """

    first_s: float | None
    last_s: float | None
    middle_s: float | None
    slope_v_per_s: float
    again: int
    back_v: float
    beyond_v: float

    @property
    def between_s(self) -> float | None:
        """Time from the first passing of the nearer threshold to the last of the farther, in seconds."""
        return None if self.first_s is None or self.last_s is None else self.last_s - self.first_s


@record
class ReceiverEdges:
    """Levels and edges at one receiver.

    Parameters
    ----------
    high_v : float
        Steady level when high. [V]
    low_v : float
        Steady level when low. [V]
    rising : Edge
        Edge from low to high.
    falling : Edge
        Edge from high to low.
    """

    high_v: float
    low_v: float
    rising: Edge
    falling: Edge


def branch_levels(net: BranchedLine, is_high: bool) -> tuple[float, ...]:
    """Steady level at each receiver, cable resistance included.

    Parameters
    ----------
    net : BranchedLine
        Driver and branches.
    is_high : bool
        Whether the driver is high.

    Returns
    -------
    tuple of float
        One a branch. [V]

    References
    ----------
    [millman] Each branch as a voltage behind a resistance, joined at the node.
    """
    arms = [_arm(branch) for branch in net.branches]
    driver = (net.rail_v if is_high else 0.0, (net.high_ohm if is_high else net.low_ohm) + net.series_ohm)
    node_v = star_voltage([driver, *[(volt, near + far) for volt, near, far in arms]])
    return tuple([volt + (node_v - volt) * far / (near + far) for volt, near, far in arms])


def branch_steps(net: BranchedLine, driver_ohm: float, until_s: float, tolerance: float = 1e-4) -> StepResponse:
    """Step response at each receiver, each counted from the moment its front can arrive.

    Parameters
    ----------
    net : BranchedLine
        Driver and branches.
    driver_ohm : float
        Resistance of the driver. [ohm]
    until_s : float
        Time up to which it is wanted. [s]
    tolerance : float
        Error wanted. [1]

    Returns
    -------
    StepResponse
        One output a branch, volts for each volt of the driver's open voltage.

    References
    ----------
    [nodal] Admittances of all branches side by side at the node; each line by its reflections.
    """
    quiet = replace(net, branches=tuple([replace(b, pull_v=0.0) for b in net.branches]), rail_v=1.0)
    settled = branch_levels(replace(quiet, high_ohm=driver_ohm), True)
    return step_response(lambda s: _transfers(net, driver_ohm, s), settled, net.rise_s, until_s, tolerance)


def receiver_edges(
    net: BranchedLine, low_v: float, high_v: float, until_s: float | None = None
) -> tuple[ReceiverEdges, ...]:
    """Both edges at each receiver against the thresholds of its input.

    Parameters
    ----------
    net : BranchedLine
        Driver and branches.
    low_v : float
        Level below which an input surely reads low. [V]
    high_v : float
        Level above which an input surely reads high. [V]
    until_s : float, optional
        How long to look; by default until echoes must have faded. [s]

    Returns
    -------
    tuple of ReceiverEdges
        One a branch.

    Raises
    ------
    ValueError
        If the thresholds are not in order.

    References
    ----------
    [superposition] Old level plus the way to the new one times the normalised step.
    """
    if not low_v < high_v:
        raise ValueError(f"thresholds {low_v!r} and {high_v!r} V: allowed is a rising pair; give the smaller first")
    window_s = until_s if until_s is not None else settling_time(net)
    lows, highs = branch_levels(net, False), branch_levels(net, True)
    up = branch_steps(net, net.high_ohm, window_s)
    down = up if net.low_ohm == net.high_ohm else branch_steps(net, net.low_ohm, window_s)
    found: dict[Branch, ReceiverEdges] = {}
    for at, branch in enumerate(net.branches):
        if branch not in found:  # equal branches see the same
            way_v = highs[at] - lows[at]
            rising = lows[at] + way_v * up.level[at] / up.settled[at]
            falling = highs[at] - way_v * down.level[at] / down.settled[at]
            found[branch] = ReceiverEdges(
                highs[at],
                lows[at],
                _edge(up, rising, low_v, high_v, highs[at]),
                # upside down, so that one rule serves both
                _edge(down, -falling, -high_v, -low_v, -lows[at]),
            )
    return tuple([found[branch] for branch in net.branches])


def settling_time(net: BranchedLine) -> float:
    """Time after which echoes have faded below a thousandth, by the slowest way there is.

    Parameters
    ----------
    net : BranchedLine
        Driver and branches.

    Returns
    -------
    float
        Time. [s]

    References
    ----------
    [lumped] All cables together as one capacitance, charged through the driver; and ten round trips of the longest.
    """
    longest_s = max(b.line.delay_s_per_m * b.length_m for b in net.branches)
    charged_f = net.pad_f + sum(b.line.capacitance_f_per_m * b.length_m + b.load_f for b in net.branches)
    slow_ohm = max(net.high_ohm, net.low_ohm) + net.series_ohm + max(b.part_ohm for b in net.branches)
    return net.rise_s + 20.0 * longest_s + 7.0 * slow_ohm * charged_f + 20e-9


def _arm(branch: Branch) -> tuple[float, float, float]:
    """A branch at rest: open voltage at the receiver, resistance from the node to it, resistance behind it."""
    conductance = 1.0 / branch.load_ohm + 1.0 / branch.pull_ohm
    return branch.pull_v / branch.pull_ohm / conductance, branch.part_ohm + branch.cable_ohm, 1.0 / conductance


def _transfers(net: BranchedLine, driver_ohm: float, s: Complexes) -> Complexes:
    """Volts at each receiver for a volt of the driver, each with its own cable's delay taken out."""
    import numpy as np

    pin_s = 1.0 / driver_ohm
    behind = pin_s + s * net.pad_f
    out = 1.0 / (1.0 + net.series_ohm * behind)
    total = behind * out
    seen: dict[Branch, tuple[Complexes, Complexes]] = {}
    for branch in net.branches:
        if branch not in seen:
            gamma, impedance = line_waves(branch.line, s)
            load = 1.0 / branch.load_ohm + 1.0 / branch.pull_ohm + s * branch.load_f
            far = 2.0 / (1.0 + impedance * load)
            back = (far - 1.0) * np.exp(-2.0 * gamma * branch.length_m)
            looking = impedance * (1.0 + back) + branch.part_ohm * (1.0 - back)
            delay_s = front_delay(branch.line, branch.length_m)
            reach = impedance / looking * far * np.exp(s * delay_s - gamma * branch.length_m)
            seen[branch] = ((1.0 - back) / looking, reach)
        total = total + seen[branch][0]
    node = pin_s * out / total
    return np.stack([node * seen[branch][1] for branch in net.branches])


def _edge(step: StepResponse, level_v: Floats, near_v: float, far_v: float, settled_v: float) -> Edge:
    """A rising waveform against two thresholds."""
    import numpy as np

    def passing(at_v: float, *, last: bool) -> float | None:
        above = level_v >= at_v
        if not above[-1] if last else not above.any():
            return None
        place = int(np.argmax(~above[::-1])) if last else int(np.argmax(above))
        after = len(above) - place if last else place
        if (last and above.all()) or after == 0:
            return step.start_s
        y0, y1 = float(level_v[after - 1]), float(level_v[after])
        return step.start_s + step.step_s * (after - 1 + (at_v - y0) / (y1 - y0))

    middle_v = (near_v + far_v) / 2.0
    middle_s = passing(middle_v, last=True)
    slope = 0.0
    if middle_s is not None:
        at = min(max(int((middle_s - step.start_s) / step.step_s), 0), len(level_v) - 2)
        slope = float(level_v[at + 1] - level_v[at]) / step.step_s
    inside = np.clip(level_v, near_v, far_v)
    highest = np.maximum.accumulate(inside)
    back_v = float((highest - inside).max())
    again = 0
    if back_v > _RIPPLE_V:
        levels = np.linspace(near_v, far_v, _THRESHOLDS + 2)[1:-1]
        again = max(_passings(level_v, float(v)) - 1 for v in levels)
    return Edge(
        passing(near_v, last=False),
        passing(far_v, last=True),
        middle_s,
        slope,
        again,
        back_v if back_v > _RIPPLE_V else 0.0,
        max(float(level_v.max()) - settled_v, 0.0),
    )


def _passings(level_v: Floats, at_v: float) -> int:
    """How often a waveform passes a level, where falls smaller than a ripple do not count."""
    state, count = False, 0
    low, high = at_v - _RIPPLE_V / 2.0, at_v + _RIPPLE_V / 2.0
    import numpy as np

    turns = np.flatnonzero(np.diff(np.sign(np.diff(level_v)))) + 1
    for value in [*level_v[turns].tolist(), float(level_v[-1])]:  # only the extremes decide
        if not state and value > high:
            state, count = True, count + 1
        elif state and value < low:
            state, count = False, count + 1
    return count
