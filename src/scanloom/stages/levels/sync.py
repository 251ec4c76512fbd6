"""Levels of a sync that several displays share, in the steady state.

One driver feeds a node through an optional part; from the node an optional branch part leads to each input, which
loads it to ground and may pull it up. The cable's resistance is left out. A display that pulls up or loads hard moves
the node for all. Every level rises with the rail, with each pull-up's voltage and with each load's resistance. A
driver, a branch or a pull-up may work either way, as its current may run either way; levels are ratios of sums of
first degree in each of them, so bounds lie where each is at an end.
"""

from __future__ import annotations

from collections.abc import Sequence

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.circuit.star import star_bound

Arm = tuple[float, float, float]
"""Arm of the star: open voltage at its far end, resistance there, part from there to the node. [V, ohm, ohm]"""

_LOW, _TYPICAL, _HIGH = -1, 0, 1


@record
class SyncInput:
    """One display's sync input, and the part that leads to it.

    Parameters
    ----------
    load_ohm : Span
        From the input to ground. [ohm]
    branch_ohm : Span, optional
        Part between the shared node and this input. [ohm]
    pull_ohm : Span, optional
        Pull-up inside the display. [ohm]
    pull_v : Span, optional
        Voltage the pull-up goes to; given with `pull_ohm` or not at all. [V]

    Raises
    ------
    ValueError
        If a resistance is too small, a voltage is negative, or only half a pull-up is given.
    """

    load_ohm: Span
    branch_ohm: Span | None = None
    pull_ohm: Span | None = None
    pull_v: Span | None = None

    def __post_init__(self) -> None:
        """Refuse values with which nothing can be computed."""
        if (self.pull_ohm is None) != (self.pull_v is None):
            raise ValueError("sync input: half a pull-up; allowed are pull_ohm and pull_v together; give both or none")
        for name, span in (("load_ohm", self.load_ohm), ("pull_ohm", self.pull_ohm)):
            if span is not None and span.low <= 0.0:
                raise ValueError(f"{name}: as low as {span.low} ohm; allowed is above zero; give its real bounds")
        for name, span, unit in (("branch_ohm", self.branch_ohm, "ohm"), ("pull_v", self.pull_v, "V")):
            if span is not None and span.low < 0.0:
                raise ValueError(f"{name}: as low as {span.low} {unit}; allowed is zero or more; give its real bounds")


@record
class SharedSync:
    """One driver, the part behind it, and every input it feeds.

    Parameters
    ----------
    driver_high_ohm : Span
        Resistance of the pin or buffer driven high. [ohm]
    driver_low_ohm : Span
        Resistance of the pin or buffer driven low. [ohm]
    rail_v : Span
        Supply of the driver. [V]
    inputs : tuple of SyncInput
        The displays' inputs.
    series_ohm : Span, optional
        Part between driver and shared node. [ohm]

    Raises
    ------
    ValueError
        If there is no input, the rail is not above zero, or a resistance is negative or, from rail to node, missing.
    """

    driver_high_ohm: Span
    driver_low_ohm: Span
    rail_v: Span
    inputs: tuple[SyncInput, ...]
    series_ohm: Span | None = None

    def __post_init__(self) -> None:
        """Refuse values with which nothing can be computed."""
        if not self.inputs:
            raise ValueError("shared sync: no input; at least one display must be fed; give its input")
        if self.rail_v.low <= 0.0:
            raise ValueError(f"rail_v: as low as {self.rail_v.low} V; allowed is above zero; give its real bounds")
        series = Span.exact(0.0) if self.series_ohm is None else self.series_ohm
        for name, span in (("driver_high_ohm", self.driver_high_ohm), ("driver_low_ohm", self.driver_low_ohm)):
            if span.low < 0.0 or series.low < 0.0 or span.low + series.low <= 0.0:
                raise ValueError(
                    f"{name}: as low as {span.low} ohm with {series.low} ohm behind it; allowed is above zero "
                    "together; give the driver's real resistance"
                )


@record
class SyncLevels:
    """Levels at each input and currents of the driver, in both steady states.

    Parameters
    ----------
    high_v : tuple of Span
        Level at each input with the driver high. [V]
    low_v : tuple of Span
        Level at each input with the driver low. [V]
    driver_high_a : Span
        Current out of the driver when high; negative where pull-ups push it back. [A]
    driver_low_a : Span
        Current out of the driver when low, so zero or negative. [A]
    """

    high_v: tuple[Span, ...]
    low_v: tuple[Span, ...]
    driver_high_a: Span
    driver_low_a: Span


def sync_levels(sync: SharedSync) -> SyncLevels:
    """Bounds of every level and current of a shared sync, every element anywhere in its span.

    Parameters
    ----------
    sync : SharedSync
        Driver, parts and inputs.

    Returns
    -------
    SyncLevels
        Levels and currents; bounds are reached, not only bounded. [V, A]

    Examples
    --------
    >>> exact = Span.exact
    >>> six = (SyncInput(exact(2200.0)),) * 6
    >>> shared = SharedSync(exact(25.0), exact(20.0), exact(3.3), six, series_ohm=exact(100.0))
    >>> round(sync_levels(shared).high_v[0].low, 3)
    2.461

    References
    ----------
    [corners] Signs as at the head of this module; the tests try every corner of small cases.
    """
    return SyncLevels(
        _input_levels(sync, True), _input_levels(sync, False), _driver_current(sync, True), _driver_current(sync, False)
    )


def _input_levels(sync: SharedSync, is_high: bool) -> tuple[Span, ...]:
    """Level at each input in one state of the driver; equal inputs see equal neighbours, so one sum serves them all."""
    found: dict[SyncInput, Span] = {}
    for place, one in enumerate(sync.inputs):
        if one not in found:
            found[one] = _input_level(sync, place, is_high)
    return tuple([found[one] for one in sync.inputs])


def _input_level(sync: SharedSync, place: int, is_high: bool) -> Span:
    """Level at one input in one state of the driver."""
    bounds = []
    for side in (_LOW, _TYPICAL, _HIGH):
        arms = [_input_arms(one, side) for one in sync.inputs]
        arms.append(_driver_arms(sync, is_high, side))
        reached = []
        for own in arms[place]:
            node_v = _node([*arms[:place], [own], *arms[place + 1 :]], side)
            far_v, far_ohm, near_ohm = own
            reached.append(node_v + (far_v - node_v) * near_ohm / (far_ohm + near_ohm))
        bounds.append(max(reached) if side == _HIGH else min(reached))
    return Span(min(bounds), bounds[1], max(bounds))


def _driver_current(sync: SharedSync, is_high: bool) -> Span:
    """Current out of the driver in one state."""
    bounds = []
    for side in (_LOW, _TYPICAL, _HIGH):
        # most current flows from the highest rail into the lowest node
        arms = [_input_arms(one, -side) for one in sync.inputs]
        reached = []
        for own in _driver_arms(sync, is_high, side):
            far_v, far_ohm, near_ohm = own
            reached.append((far_v - _node([*arms, [own]], -side)) / (far_ohm + near_ohm))
        bounds.append(max(reached) if side == _HIGH else min(reached))
    return Span(min(bounds), bounds[1], max(bounds))


def _input_arms(one: SyncInput, side: int) -> list[Arm]:
    """Arms that an input can be: what raises (or lowers) every level is chosen, branch and pull-up are left open."""
    load_ohm = _end(one.load_ohm, side)
    branches_ohm = [0.0] if one.branch_ohm is None else _ends(one.branch_ohm, side)
    if one.pull_ohm is None or one.pull_v is None:
        return [(0.0, load_ohm, branch_ohm) for branch_ohm in branches_ohm]
    pull_v = _end(one.pull_v, side)
    return [
        (pull_v * load_ohm / (load_ohm + pull_ohm), load_ohm * pull_ohm / (load_ohm + pull_ohm), branch_ohm)
        for branch_ohm in branches_ohm
        for pull_ohm in _ends(one.pull_ohm, side)
    ]


def _driver_arms(sync: SharedSync, is_high: bool, side: int) -> list[Arm]:
    """Arms that the driver can be in one state, its resistance left open."""
    volt = _end(sync.rail_v, side) if is_high else 0.0
    driver = sync.driver_high_ohm if is_high else sync.driver_low_ohm
    series = Span.exact(0.0) if sync.series_ohm is None else sync.series_ohm
    # both in series, so both at the same end
    least, most = driver.low + series.low, driver.high + series.high
    whole = Span(least, min(max(driver.typical + series.typical, least), most), most)
    return [(volt, ohm, 0.0) for ohm in _ends(whole, side)]


def _node(arms: Sequence[Sequence[Arm]], side: int) -> float:
    """Highest (or lowest) voltage of the shared node over one choice for each arm."""
    found, _ = star_bound(
        [[(far_v, far_ohm + near_ohm) for far_v, far_ohm, near_ohm in choices] for choices in arms],
        highest=side == _HIGH,
    )
    return found


def _end(span: Span, side: int) -> float:
    """Low, typical or high of a span."""
    return span.typical if side == _TYPICAL else span.low if side == _LOW else span.high


def _ends(span: Span, side: int) -> list[float]:
    """Both ends of a span, or its typical value."""
    if side == _TYPICAL or span.is_exact:
        return [_end(span, side)]
    return [span.low, span.high]
