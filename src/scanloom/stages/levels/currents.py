"""What one channel asks of its pins, its rail and its parts, with typical values."""

from __future__ import annotations

from collections.abc import Sequence

from scanloom.basis.record import record
from scanloom.stages.levels.ladder import ladder_leg_currents, ladder_taps
from scanloom.stages.levels.model import BuiltNetwork, OutputNetwork, typical
from scanloom.stages.levels.weighted import star_leg_currents, star_level


@record
class PinCurrents:
    """Most current that one pin gives and takes, over all codes.

    Parameters
    ----------
    source_a : float
        Most out of the pin: reached with this bit alone on. [A]
    sink_a : float
        Most into the pin, negative: reached with this bit alone off. [A]
    """

    source_a: float
    sink_a: float


@record
class PartPowers:
    """Most heat in each part, over all steady codes.

    Parameters
    ----------
    leg_w : tuple of float
        Part of each leg, most significant first. [W]
    rung_w : tuple of float
        Parts between the taps of a ladder, from the connector on. [W]
    terminator_w : float
        Terminator of a ladder; 0 without one. [W]
    shunt_w : float
        Shunt; 0 without one. [W]
    load_w : float
        Termination inside the display. [W]
    """

    leg_w: tuple[float, ...]
    rung_w: tuple[float, ...]
    terminator_w: float
    shunt_w: float
    load_w: float


def built_leg_currents(built: BuiltNetwork, code: int) -> tuple[float, ...]:
    """Pin currents of one copy of a network for one code.

    Parameters
    ----------
    built : BuiltNetwork
        The copy.
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
    """
    return ladder_leg_currents(built, code) if built.style == "ladder" else star_leg_currents(built, code)


def built_rail_current(built: BuiltNetwork, code: int) -> float:
    """Current that one copy of a network draws from the rail for one code.

    Parameters
    ----------
    built : BuiltNetwork
        The copy.
    code : int
        Bits of the channel. [1]

    Returns
    -------
    float
        Sum over the legs that are on; what the others take goes to ground, not back to the rail. [A]

    Raises
    ------
    ValueError
        If the code has more bits than the network.
    """
    return _drawn(code, built_leg_currents(built, code))


def leg_currents(net: OutputNetwork) -> tuple[tuple[float, ...], ...]:
    """Current of every pin for every code with typical values.

    Parameters
    ----------
    net : OutputNetwork
        The channel.

    Returns
    -------
    tuple of tuple of float
        For each code from code 0, the current of each leg, most significant first, positive out of the pin. [A]

    References
    ----------
    [ohm] Ohm's law for each leg.
    """
    built = typical(net)
    return tuple([built_leg_currents(built, code) for code in range(1 << net.bits)])


def rail_currents(net: OutputNetwork) -> tuple[float, ...]:
    """Current that the channel draws from the rail for every code, with typical values.

    Parameters
    ----------
    net : OutputNetwork
        The channel.

    Returns
    -------
    tuple of float
        Sum over the legs that are on, for each code from code 0. [A]

    References
    ----------
    [kirchhoff] What the pins that are off take goes to ground, not back to the rail.
    """
    return tuple([_drawn(code, currents) for code, currents in enumerate(leg_currents(net))])


def pin_currents(net: OutputNetwork) -> tuple[PinCurrents, ...]:
    """Most current of every pin over all codes, with typical values.

    Another bit turned on raises every tap, so a pin gives most when alone on, and takes most when alone off.

    Parameters
    ----------
    net : OutputNetwork
        The channel.

    Returns
    -------
    tuple of PinCurrents
        One a leg, most significant first. [A]

    References
    ----------
    [m-matrix] The inverse of a resistive network's nodal matrix has no negative entry.
    """
    built = typical(net)
    found = []
    for leg in range(net.bits):
        alone = 1 << (net.bits - 1 - leg)
        found.append(
            PinCurrents(built_leg_currents(built, alone)[leg], built_leg_currents(built, net.white_code ^ alone)[leg])
        )
    return tuple(found)


def part_powers(net: OutputNetwork) -> PartPowers:
    """Most heat in every part over all steady codes, with typical values.

    Parameters
    ----------
    net : OutputNetwork
        The channel.

    Returns
    -------
    PartPowers
        Heat of legs, rungs, terminator, shunt and load. [W]

    References
    ----------
    [joule] Current squared times resistance, voltage squared over resistance.
    """
    built = typical(net)
    legs_w = tuple(
        [
            max(abs(pin.source_a), abs(pin.sink_a)) ** 2 * ohm
            for pin, ohm in zip(pin_currents(net), built.part_ohm, strict=True)
        ]
    )
    white_v = star_level(built, net.white_code) if built.style != "ladder" else ladder_taps(built, net.white_code)[0]
    shunt_w = 0.0 if built.shunt_ohm is None else white_v**2 / built.shunt_ohm
    load_w = white_v**2 / built.load_ohm
    if built.terminator_ohm is None:
        return PartPowers(legs_w, (), 0.0, shunt_w, load_w)
    taps = [ladder_taps(built, code) for code in range(1 << net.bits)]
    rungs_w = tuple(
        [max((tap[place + 1] - tap[place]) ** 2 for tap in taps) / ohm for place, ohm in enumerate(built.rung_ohm)]
    )
    return PartPowers(legs_w, rungs_w, taps[-1][-1] ** 2 / built.terminator_ohm, shunt_w, load_w)


def _drawn(code: int, currents_a: Sequence[float]) -> float:
    """Current of the legs that are on."""
    last = len(currents_a) - 1
    return sum(current for leg, current in enumerate(currents_a) if code >> (last - leg) & 1)
