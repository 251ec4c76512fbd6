"""Resistors and sources joined at named nodes: what the nodal solver takes."""

from __future__ import annotations

import math
from fractions import Fraction

from scanloom.basis.record import record

GROUND = "0"
"""Name of the node at 0 V."""


@record
class Resistor:
    """Resistance between two nodes.

    Parameters
    ----------
    plus : str
        Node at one end.
    minus : str
        Node at the other end.
    ohm : float or Fraction
        Resistance, above zero. [ohm]
    """

    plus: str
    minus: str
    ohm: float | Fraction


@record
class VoltageSource:
    """Fixed voltage between two nodes; to ground, or floating between two others.

    Parameters
    ----------
    plus : str
        Node at the positive end.
    minus : str
        Node at the negative end.
    volt : float or Fraction
        Voltage of `plus` over `minus`. [V]
    """

    plus: str
    minus: str
    volt: float | Fraction


@record
class CurrentSource:
    """Fixed current into one node and out of another.

    Parameters
    ----------
    into : str
        Node that receives the current.
    out_of : str
        Node that gives it.
    amp : float or Fraction
        The current. [A]
    """

    into: str
    out_of: str
    amp: float | Fraction


@record
class Network:
    """Resistors and sources joined at named nodes; ground is the node named `GROUND`.

    Parameters
    ----------
    resistors : tuple of Resistor
        The resistances.
    voltages : tuple of VoltageSource
        Fixed voltages.
    currents : tuple of CurrentSource
        Fixed currents.

    Raises
    ------
    ValueError
        If a resistance is zero or negative, a value is not finite, an element joins a node to itself, a node has no
        path to ground, or voltage sources close a loop.
    """

    resistors: tuple[Resistor, ...]
    voltages: tuple[VoltageSource, ...] = ()
    currents: tuple[CurrentSource, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a network that has no single solution, and say which element or node is at fault."""
        for resistor in self.resistors:
            if not (math.isfinite(resistor.ohm) and resistor.ohm > 0):
                raise ValueError(
                    f"resistor {resistor.plus} to {resistor.minus}: {resistor.ohm} ohm; allowed is above zero and "
                    "finite; join the two nodes under one name, or leave the resistor out"
                )
        for what, value in [(f"voltage {v.plus} over {v.minus}", v.volt) for v in self.voltages] + [
            (f"current into {c.into} out of {c.out_of}", c.amp) for c in self.currents
        ]:
            if not math.isfinite(value):
                raise ValueError(f"{what}: {value}; allowed is a finite number; give one")
        for first, second in _ends(self):
            if first == second:
                raise ValueError(
                    f"node {first}: an element joins it to itself; allowed are two nodes; name the other one"
                )
        _refuse_loops(self.voltages)
        _refuse_floating(self)

    @property
    def nodes(self) -> tuple[str, ...]:
        """Names of the nodes but ground, in the order of their first mention."""
        return tuple(dict.fromkeys(node for ends in _ends(self) for node in ends if node != GROUND))


def _ends(network: Network) -> list[tuple[str, str]]:
    """Both ends of every element, resistors first."""
    return (
        [(r.plus, r.minus) for r in network.resistors]
        + [(v.plus, v.minus) for v in network.voltages]
        + [(c.into, c.out_of) for c in network.currents]
    )


def _refuse_loops(voltages: tuple[VoltageSource, ...]) -> None:
    """Refuse voltage sources that close a loop: they contradict one another, or leave their current undecided."""
    reached: dict[str, tuple[str, Fraction]] = {}  # node: its group's first node, and its voltage over that

    for source in voltages:
        plus_group, plus_v = reached.get(source.plus, (source.plus, Fraction(0)))
        minus_group, minus_v = reached.get(source.minus, (source.minus, Fraction(0)))
        volt = Fraction(source.volt)
        if plus_group == minus_group:
            fault = (
                "gives the same voltage again, so their currents are not decided; drop one of them"
                if plus_v - minus_v == volt
                else f"contradicts the {float(plus_v - minus_v)} V that the others set; keep one of them"
            )
            raise ValueError(f"voltage {source.plus} over {source.minus}: {source.volt} V {fault}")
        shift = minus_v + volt - plus_v
        members = [node for node, (group, _) in reached.items() if group == plus_group] or [source.plus]
        for node in members:
            reached[node] = (minus_group, reached.get(node, (node, Fraction(0)))[1] + shift)
        reached.setdefault(source.minus, (source.minus, Fraction(0)))


def _refuse_floating(network: Network) -> None:
    """Refuse nodes that no resistor or voltage source ties to ground: their voltage is anything."""
    neighbours: dict[str, list[str]] = {}
    for first, second in [(r.plus, r.minus) for r in network.resistors] + [(v.plus, v.minus) for v in network.voltages]:
        neighbours.setdefault(first, []).append(second)
        neighbours.setdefault(second, []).append(first)
    tied = {GROUND}
    waiting = [GROUND]
    while waiting:
        for node in neighbours.get(waiting.pop(), []):
            if node not in tied:
                tied.add(node)
                waiting.append(node)
    floating = [node for node in network.nodes if node not in tied]
    if floating:
        raise ValueError(
            f"node {', '.join(floating)}: no path to ground (node {GROUND}) through resistors or voltage sources; "
            "every node needs one; add the missing resistor or check the name"
        )
