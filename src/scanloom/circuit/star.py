"""One unknown node fed through resistances from fixed voltages, and loaded."""

from __future__ import annotations

import math
from collections.abc import Sequence


def star_voltage(branches: Sequence[tuple[float, float]]) -> float:
    """Voltage of a node that fixed voltages feed through resistances.

    A load to ground is a branch from 0 V. One branch, or several of the same voltage, may have no resistance: it then
    holds the node.

    Parameters
    ----------
    branches : sequence of (float, float)
        Voltage at the far end and resistance to the node of each branch. [V, ohm]

    Returns
    -------
    float
        Voltage of the node. [V]

    Raises
    ------
    ValueError
        If there is no branch, a resistance is negative or not finite, or two branches without resistance differ.

    Examples
    --------
    >>> round(star_voltage([(3.3, 270.0), (0.0, 75.0)]), 4)
    0.7174

    References
    ----------
    [millman] J. Millman, "A Useful Network Theorem", Proc. IRE 28(9), 1940, pages 413 to 417 (from memory).
    """
    inflow = 0.0
    conductance = 0.0
    for volt, ohm in branches:
        if not 0.0 < ohm < math.inf:
            return _held(branches)
        inflow += volt / ohm
        conductance += 1.0 / ohm
    if conductance == 0.0:
        return _held(branches)
    return inflow / conductance


def star_currents(branches: Sequence[tuple[float, float]]) -> tuple[float, ...]:
    """Current that each branch brings to the node of a star.

    Parameters
    ----------
    branches : sequence of (float, float)
        Voltage at the far end and resistance to the node of each branch. [V, ohm]

    Returns
    -------
    tuple of float
        Current into the node, negative where the branch takes current away; they add up to nothing. [A]

    Raises
    ------
    ValueError
        If `star_voltage` refuses the branches, or more than one branch has no resistance: how the current divides
        between them is then not decided.

    References
    ----------
    [ohm] Ohm's law for each branch; Kirchhoff's current law for a branch without resistance.
    """
    node_v = star_voltage(branches)
    bare = [place for place, (_, ohm) in enumerate(branches) if ohm == 0.0]
    if len(bare) > 1:
        raise ValueError(f"star: branches {bare} have no resistance; at most one may; give the others their resistance")
    currents = [0.0 if ohm == 0.0 else (volt - node_v) / ohm for volt, ohm in branches]
    if bare:
        currents[bare[0]] = -math.fsum(currents)
    return tuple(currents)


def star_bound(
    branches: Sequence[Sequence[tuple[float, float] | None]], *, highest: bool
) -> tuple[float, tuple[int, ...]]:
    """Highest or lowest voltage of a node whose branches may each be one of several.

    The voltage is a mean weighted by conductance. Each branch by itself takes the choice that pushes most current into
    the node at its present voltage, until nothing is gained: that ends at the best choice of all.

    Parameters
    ----------
    branches : sequence of sequence of (float, float) or None
        For each branch, what it may be: voltage at the far end and resistance to the node, or None for open, never as
        the first choice. A branch without resistance must be the only choice of its place. [V, ohm]
    highest : bool
        Whether the highest voltage is wanted; else the lowest.

    Returns
    -------
    tuple
        The voltage, and for each branch the number of the choice that gives it. [V, 1]

    Raises
    ------
    ValueError
        If `star_voltage` refuses a choice of branches.

    References
    ----------
    [dinkelbach] W. Dinkelbach, "On Nonlinear Fractional Programming", Management Science 13(7), 1967 (from memory).
    """
    picked = [0] * len(branches)
    node_v = star_voltage(_chosen(branches, picked))
    sign = 1.0 if highest else -1.0
    while any(len(choices) > 1 for choices in branches):
        better = [_best(choices, node_v, sign) for choices in branches]
        left = _chosen(branches, better)
        # rounding may turn the last branch of all against the node that it alone holds
        better_v = star_voltage(left) if left else node_v
        if sign * (better_v - node_v) <= 0.0:
            break
        node_v, picked = better_v, better
    return node_v, tuple(picked)


def _chosen(
    branches: Sequence[Sequence[tuple[float, float] | None]], picked: Sequence[int]
) -> list[tuple[float, float]]:
    """One choice of each branch, open ones left out."""
    made = [choices[number] for choices, number in zip(branches, picked, strict=True)]
    return [branch for branch in made if branch is not None]


def _best(choices: Sequence[tuple[float, float] | None], node_v: float, sign: float) -> int:
    """Choice that pushes most current into the node, or takes most from it; the first of several alike."""
    if len(choices) == 1:
        return 0
    pushed = [0.0 if branch is None else sign * (branch[0] - node_v) / branch[1] for branch in choices]
    return pushed.index(max(pushed))


def _held(branches: Sequence[tuple[float, float]]) -> float:
    """Voltage of a node that a branch without resistance holds; also says why a star cannot be solved."""
    if not branches:
        raise ValueError("star: no branch; at least one voltage must feed the node; give a branch")
    for place, (_, ohm) in enumerate(branches):
        if not 0.0 <= ohm < math.inf:
            raise ValueError(
                f"star: branch {place}: {ohm!r} ohm; allowed is zero or more and finite; leave an open branch out"
            )
    held = {volt for volt, ohm in branches if ohm == 0.0}
    if len(held) != 1:
        raise ValueError(f"star: branches without resistance hold the node at {sorted(held)} V; only one voltage can")
    return held.pop()
