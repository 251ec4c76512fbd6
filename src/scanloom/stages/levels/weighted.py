"""Levels of a channel whose legs all meet at the connector: style series and style weighted."""

from __future__ import annotations

from scanloom.circuit.star import star_currents, star_voltage
from scanloom.stages.levels.model import BuiltNetwork


def star_level(built: BuiltNetwork, code: int) -> float:
    """Voltage at the connector for one code.

    Parameters
    ----------
    built : BuiltNetwork
        A copy in style series or weighted.
    code : int
        Bits of the channel. [1]

    Returns
    -------
    float
        Level into the load. [V]

    Raises
    ------
    ValueError
        If the code has more bits than the network.

    References
    ----------
    [millman] See `scanloom.circuit.star`.
    """
    return star_voltage([*built.branches(code), (0.0, built.ground_ohm)])


def star_leg_currents(built: BuiltNetwork, code: int) -> tuple[float, ...]:
    """Current out of each pin for one code; a pin that is off takes current in.

    Parameters
    ----------
    built : BuiltNetwork
        A copy in style series or weighted.
    code : int
        Bits of the channel. [1]

    Returns
    -------
    tuple of float
        Current of each leg, most significant first, positive out of the pin. [A]

    Raises
    ------
    ValueError
        If the code has more bits than the network.

    References
    ----------
    [ohm] Ohm's law for each leg.
    """
    return star_currents([*built.branches(code), (0.0, built.ground_ohm)])[:-1]


def star_source_ohm(built: BuiltNetwork, code: int) -> float:
    """Resistance that the connector shows to the cable, without the load.

    Parameters
    ----------
    built : BuiltNetwork
        A copy in style series or weighted.
    code : int
        Bits of the channel. [1]

    Returns
    -------
    float
        Thevenin resistance. [ohm]

    Raises
    ------
    ValueError
        If the code has more bits than the network.

    References
    ----------
    [thevenin] Legs and shunt side by side, with the rail held.
    """
    ohms = [ohm for _, ohm in built.branches(code)]
    if built.shunt_ohm is not None:
        ohms.append(built.shunt_ohm)
    return 0.0 if 0.0 in ohms else 1.0 / sum(1.0 / ohm for ohm in ohms)
