"""Steady voltages of any network of resistors and sources, by modified nodal analysis."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from scanloom.basis.record import record
from scanloom.circuit.network import GROUND, CurrentSource, Network, Resistor, VoltageSource

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

__all__ = [
    "GROUND",
    "CurrentSource",
    "ExactVoltages",
    "ManyVoltages",
    "Network",
    "NodeVoltages",
    "Resistor",
    "VoltageSource",
    "solve",
    "solve_exact",
    "solve_many",
]


@record
class NodeVoltages:
    """Solution of one network.

    Parameters
    ----------
    node_v : mapping of str to float
        Voltage of each node, ground included. [V]
    source_a : tuple of float
        Current that each voltage source delivers out of its `plus` end, in the order given. [A]
    """

    node_v: Mapping[str, float]
    source_a: tuple[float, ...]


@record
class ExactVoltages:
    """Solution of one network in exact fractions.

    Parameters
    ----------
    node_v : mapping of str to Fraction
        Voltage of each node, ground included. [V]
    source_a : tuple of Fraction
        Current that each voltage source delivers out of its `plus` end, in the order given. [A]
    """

    node_v: Mapping[str, Fraction]
    source_a: tuple[Fraction, ...]


@dataclass(frozen=True, slots=True, eq=False)
class ManyVoltages:
    """Solutions of one network for many sets of values; the arrays cannot be written.

    Parameters
    ----------
    nodes : tuple of str
        Names of the nodes, ground left out.
    node_v : ndarray of float, shape (cases, nodes)
        Voltage of each node. [V]
    source_a : ndarray of float, shape (cases, voltage sources)
        Current that each voltage source delivers out of its `plus` end. [A]
    """

    nodes: tuple[str, ...]
    node_v: NDArray[np.float64]
    source_a: NDArray[np.float64]


def solve(network: Network) -> NodeVoltages:
    """Voltages and source currents of a network.

    Parameters
    ----------
    network : Network
        Resistors and sources.

    Returns
    -------
    NodeVoltages
        Voltage of each node and current of each voltage source. [V, A]

    References
    ----------
    [mna] C.-W. Ho, A. Ruehli, P. Brennan, "The Modified Nodal Approach to Network Analysis", IEEE Trans. Circuits and
    Systems 22(6), 1975, pages 504 to 509 (from memory).
    """
    many = solve_many(network)
    node_v = dict(zip(many.nodes, many.node_v[0].tolist(), strict=True))
    return NodeVoltages({GROUND: 0.0, **node_v}, tuple(many.source_a[0].tolist()))


def solve_many(
    network: Network,
    resistor_ohm: ArrayLike | None = None,
    source_v: ArrayLike | None = None,
    source_a: ArrayLike | None = None,
) -> ManyVoltages:
    """Voltages of one network for many sets of resistances and sources.

    What is left out keeps the network's own values. One set, or as many as the longest, may be given of each.

    Parameters
    ----------
    network : Network
        Resistors and sources; their order is that of the columns.
    resistor_ohm : array_like of float, shape (cases, resistors), optional
        Resistances. [ohm]
    source_v : array_like of float, shape (cases, voltage sources), optional
        Voltages of the voltage sources. [V]
    source_a : array_like of float, shape (cases, current sources), optional
        Currents of the current sources. [A]

    Returns
    -------
    ManyVoltages
        Voltages and source currents of each case. [V, A]

    Raises
    ------
    ValueError
        If a shape does not fit the network, or a value is not allowed.

    References
    ----------
    [mna] As for `solve`.
    """
    import numpy as np

    ohm = _values(resistor_ohm, [float(r.ohm) for r in network.resistors], "resistor_ohm")
    volt = _values(source_v, [float(v.volt) for v in network.voltages], "source_v")
    amp = _values(source_a, [float(c.amp) for c in network.currents], "source_a")
    if not (ohm > 0.0).all():
        raise ValueError(f"resistor_ohm: smallest is {ohm.min()} ohm; allowed is above zero; leave such a resistor out")
    cases = max(len(ohm), len(volt), len(amp))
    if any(len(given) not in (1, cases) for given in (ohm, volt, amp)):
        raise ValueError(
            f"cases: {len(ohm)} of resistor_ohm, {len(volt)} of source_v, {len(amp)} of source_a; "
            f"allowed are 1 or {cases} of each; give as many of each"
        )
    nodes = network.nodes
    row = {node: place for place, node in enumerate(nodes)}
    size = len(nodes) + len(network.voltages)
    matrix = np.zeros((len(ohm), size, size))
    right = np.zeros((cases, size))
    for column, resistor in enumerate(network.resistors):
        for one, other in ((resistor.plus, resistor.minus), (resistor.minus, resistor.plus)):
            if one != GROUND:
                matrix[:, row[one], row[one]] += 1.0 / ohm[:, column]
                if other != GROUND:
                    matrix[:, row[one], row[other]] -= 1.0 / ohm[:, column]
    for column, voltage in enumerate(network.voltages):
        extra = len(nodes) + column
        for node, sign in ((voltage.plus, 1.0), (voltage.minus, -1.0)):
            if node != GROUND:
                matrix[:, extra, row[node]] = sign
                # the unknown is the current the source delivers, so it enters the node's balance with a minus
                matrix[:, row[node], extra] = -sign
        right[:, extra] = volt[:, column]
    for column, current in enumerate(network.currents):
        for node, sign in ((current.into, 1.0), (current.out_of, -1.0)):
            if node != GROUND:
                right[:, row[node]] += sign * amp[:, column]
    if len(matrix) == 1:
        solved = np.linalg.solve(matrix[0], right.T).T  # one factoring serves every case
    else:
        solved = np.linalg.solve(matrix, right[:, :, None])[:, :, 0]
    node_v = np.ascontiguousarray(solved[:, : len(nodes)])
    delivered = np.ascontiguousarray(solved[:, len(nodes) :])
    node_v.setflags(write=False)
    delivered.setflags(write=False)
    return ManyVoltages(nodes, node_v, delivered)


def solve_exact(network: Network) -> ExactVoltages:
    """Voltages and source currents of a network in exact fractions.

    Slow, free of rounding and of any library: the yardstick for the fast road. A float counts as the binary fraction
    that it is.

    Parameters
    ----------
    network : Network
        Resistors and sources.

    Returns
    -------
    ExactVoltages
        Voltage of each node and current of each voltage source. [V, A]

    References
    ----------
    [tableau] Kirchhoff's current law at each node, solved by Gauss-Jordan elimination over the rationals.
    """
    nodes = network.nodes
    unknowns = len(nodes) + len(network.voltages)
    row = {node: place for place, node in enumerate(nodes)}
    table = [[Fraction(0)] * (unknowns + 1) for _ in range(unknowns)]
    for resistor in network.resistors:
        siemens = 1 / Fraction(resistor.ohm)
        for one, other in ((resistor.plus, resistor.minus), (resistor.minus, resistor.plus)):
            if one in row:
                table[row[one]][row[one]] += siemens
                if other in row:
                    table[row[one]][row[other]] -= siemens
    for column, voltage in enumerate(network.voltages, start=len(nodes)):
        for node, sign in ((voltage.plus, 1), (voltage.minus, -1)):
            if node in row:
                table[column][row[node]] += sign
                table[row[node]][column] -= sign
        table[column][-1] = Fraction(voltage.volt)
    for current in network.currents:
        for node, sign in ((current.into, 1), (current.out_of, -1)):
            if node in row:
                table[row[node]][-1] += sign * Fraction(current.amp)
    for column in range(unknowns):
        pivot = next(place for place in range(column, unknowns) if table[place][column])
        table[column], table[pivot] = table[pivot], table[column]
        lead = table[column][column]
        table[column] = [value / lead for value in table[column]]
        for place in range(unknowns):
            factor = table[place][column]
            if place != column and factor:
                table[place] = [a - factor * b for a, b in zip(table[place], table[column], strict=True)]
    answers = [line[-1] for line in table]
    return ExactVoltages({GROUND: Fraction(0), **dict(zip(nodes, answers, strict=False))}, tuple(answers[len(nodes) :]))


def _values(given: ArrayLike | None, own: list[float], name: str) -> NDArray[np.float64]:
    """Values of one kind as a table, one row a case."""
    import numpy as np

    table = np.atleast_2d(np.asarray(own if given is None else given, dtype=np.float64))
    if table.ndim != 2 or table.shape[1] != len(own):
        raise ValueError(f"{name}: shape {table.shape}; allowed is (cases, {len(own)}); give one column an element")
    if not np.isfinite(table).all():
        raise ValueError(f"{name}: holds a value that is not finite; allowed are finite numbers; mend the table")
    return table
