"""What one channel does with typical values: levels, linearity, currents, powers."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from scanloom.basis.record import record
from scanloom.stages.levels.currents import PartPowers, PinCurrents, part_powers, pin_currents, rail_currents
from scanloom.stages.levels.ladder import ladder_source_ohm, ladder_taps
from scanloom.stages.levels.model import BuiltNetwork, OutputNetwork, typical
from scanloom.stages.levels.weighted import star_level, star_source_ohm


@record
class Linearity:
    """How far the levels lie from even steps, on the line through both ends.

    Parameters
    ----------
    inl_lsb : float
        Largest distance of a level from the line, as a magnitude. [LSB]
    dnl_min_lsb : float
        Smallest step, less one even step; -1 and below: two codes the same, or out of order. [LSB]
    dnl_max_lsb : float
        Largest step, less one even step. [LSB]
    """

    inl_lsb: float
    dnl_min_lsb: float
    dnl_max_lsb: float


@record
class ChannelFigures:
    """Everything one channel does with typical values.

    Parameters
    ----------
    level_v : tuple of float
        Level of each code, from code 0. [V]
    linearity : Linearity
        How even the steps are. [LSB]
    pins : tuple of PinCurrents
        Most current of each pin, most significant first. [A]
    white_a : float
        Current from the rail at white. [A]
    peak_a : float
        Most current from the rail over all codes; in a ladder white is not the worst. [A]
    powers : PartPowers
        Most heat in each part. [W]
    source_ohm : float
        Resistance the connector shows to the cable at white. [ohm]
    """

    level_v: tuple[float, ...]
    linearity: Linearity
    pins: tuple[PinCurrents, ...]
    white_a: float
    peak_a: float
    powers: PartPowers
    source_ohm: float


def built_level(built: BuiltNetwork, code: int) -> float:
    """Level of one copy of a network for one code.

    Parameters
    ----------
    built : BuiltNetwork
        The copy.
    code : int
        Bits of the channel. [1]

    Returns
    -------
    float
        Voltage into the load. [V]

    Raises
    ------
    ValueError
        If the code has more bits than the network.
    """
    return ladder_taps(built, code)[0] if built.style == "ladder" else star_level(built, code)


def levels(net: OutputNetwork) -> tuple[float, ...]:
    """Level of every code with typical values, exact with unequal pin resistance high and low.

    Parameters
    ----------
    net : OutputNetwork
        The channel.

    Returns
    -------
    tuple of float
        Voltage into the load for each code, from code 0. [V]

    References
    ----------
    [millman] `scanloom.circuit.star` for series and weighted; `ladder_taps` for a ladder.
    """
    built = typical(net)
    return tuple([built_level(built, code) for code in range(1 << net.bits)])


def linearity(level_v: Sequence[float]) -> Linearity:
    """How even the steps between levels are, on the line from the first level to the last.

    Parameters
    ----------
    level_v : sequence of float
        Level of each code, from code 0. [V]

    Returns
    -------
    Linearity
        Integral and differential non-linearity. [LSB]

    Raises
    ------
    ValueError
        If there are fewer than two levels, or the last is not above the first.

    References
    ----------
    [ieee-1658] IEEE Std 1658-2011, terminology and test methods of digital-to-analog converters: end-point line (from
    memory).
    """
    if len(level_v) < 2 or not level_v[-1] > level_v[0]:
        raise ValueError(f"levels {list(level_v[:1])} to {list(level_v[-1:])}: at least two, rising; give every code's")
    step_v = (level_v[-1] - level_v[0]) / (len(level_v) - 1)
    offsets = [(level - level_v[0]) / step_v - code for code, level in enumerate(level_v)]
    steps = [(after - before) / step_v - 1.0 for before, after in itertools.pairwise(level_v)]
    return Linearity(max(abs(offset) for offset in offsets), min(steps), max(steps))


def source_ohm(net: OutputNetwork) -> float:
    """Resistance that the connector shows to the cable at white, with typical values and without the load.

    Parameters
    ----------
    net : OutputNetwork
        The channel.

    Returns
    -------
    float
        Thevenin resistance. [ohm]

    References
    ----------
    [thevenin] Rail held, load taken off.
    """
    built = typical(net)
    seen = ladder_source_ohm if net.style == "ladder" else star_source_ohm
    return seen(built, net.white_code)


def source_match(seen_ohm: float, line_ohm: float) -> float:
    """Share of a returning echo that the source sends out again.

    Parameters
    ----------
    seen_ohm : float
        Resistance the connector shows to the cable, zero or more. [ohm]
    line_ohm : float
        Characteristic resistance of the cable, above zero. [ohm]

    Returns
    -------
    float
        Reflection coefficient, 0 when matched. [1]

    Raises
    ------
    ValueError
        If a resistance is out of its bounds.

    References
    ----------
    [reflection] Reflection coefficient of a resistive end of a line.
    """
    if seen_ohm < 0.0 or line_ohm <= 0.0:
        raise ValueError(f"source {seen_ohm} ohm, line {line_ohm} ohm; allowed are zero or more, above zero; give both")
    return (seen_ohm - line_ohm) / (seen_ohm + line_ohm)


def channel_figures(net: OutputNetwork) -> ChannelFigures:
    """Everything one channel does with typical values.

    Parameters
    ----------
    net : OutputNetwork
        The channel.

    Returns
    -------
    ChannelFigures
        Levels, linearity, currents, powers and source resistance. [V, LSB, A, W, ohm]

    References
    ----------
    [parts] As for the functions that give each of them.
    """
    level_v = levels(net)
    drawn_a = rail_currents(net)
    return ChannelFigures(
        level_v,
        linearity(level_v),
        pin_currents(net),
        drawn_a[-1],
        max(drawn_a),
        part_powers(net),
        source_ohm(net),
    )
