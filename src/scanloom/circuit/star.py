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
