"""Exact worst case of a channel: bounds over every copy that its spans allow.

The level rises with the rail, the load, the shunt, the terminator and the resistance of a leg that is off, and falls
with the resistance of a leg that is on, whatever the other elements are: the effect of a resistance on one node of a
resistive network has the sign of its own voltage times that of a network with a unit current put in at the node, and
all of these signs are fixed. So one corner a side is exact. Only a rung may work either way, as the current through
it may run either way; a level is a ratio of two sums, each of first degree in any one rung, so its bounds lie where
each rung is at one of its ends, and all of those are tried.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.circuit.star import star_currents, star_voltage
from scanloom.stages.levels.currents import built_leg_currents, built_rail_current
from scanloom.stages.levels.figures import built_level
from scanloom.stages.levels.ladder import tap_choices
from scanloom.stages.levels.model import OutputNetwork, build, check_code, legs_on, parallel, typical

End = Callable[[Span], float]
"""Which end of a span to take."""


@record
class PinSpans:
    """Bounds of the most current that one pin gives and takes, over all codes.

    Parameters
    ----------
    source_a : Span
        Most out of the pin, this bit alone on. [A]
    sink_a : Span
        Most into the pin, negative, this bit alone off: `low` is the worst. [A]
    """

    source_a: Span
    sink_a: Span


def level_span(net: OutputNetwork, code: int) -> Span:
    """Bounds of the level for one code, every element anywhere in its span.

    Parameters
    ----------
    net : OutputNetwork
        The channel.
    code : int
        Bits of the channel. [1]

    Returns
    -------
    Span
        Voltage into the load; the bounds are reached, not only bounded. [V]

    Raises
    ------
    ValueError
        If the code has more bits than the network.

    Notes
    -----
    Each pin's resistance counts as free of the others'. Pins that move together can only narrow the span.

    References
    ----------
    [corners] Signs by Tellegen's theorem, see the head of this module; the tests try every corner of small networks.
    """
    check_code(code, net.bits)
    low_v = net.rail_v.low * min(_taps(net, _branches(net, code, False), 0, False))
    high_v = net.rail_v.high * max(_taps(net, _branches(net, code, True), 0, True))
    return _around(low_v, built_level(typical(net), code), high_v)


def level_spans(net: OutputNetwork) -> tuple[Span, ...]:
    """Bounds of the level for every code.

    Parameters
    ----------
    net : OutputNetwork
        The channel.

    Returns
    -------
    tuple of Span
        Voltage into the load, from code 0. [V]

    References
    ----------
    [corners] As for `level_span`.
    """
    return tuple([level_span(net, code) for code in range(1 << net.bits)])


def white_span(net: OutputNetwork) -> Span:
    """Bounds of the level at white.

    Parameters
    ----------
    net : OutputNetwork
        The channel.

    Returns
    -------
    Span
        Voltage into the load with every bit on. [V]

    References
    ----------
    [corners] As for `level_span`; what meets at one connector is then one divider a side.
    """
    if net.style == "ladder":
        return level_span(net, net.white_code)
    pin, load, shunt = net.pin_high_ohm, net.load_ohm, net.shunt_ohm
    weak_ohm = _side_by_side([part.high + pin.high for part in net.part_ohm])
    middle_ohm = _side_by_side([part.typical + pin.typical for part in net.part_ohm])
    strong_ohm = _side_by_side([part.low + pin.low for part in net.part_ohm])
    least_ohm = parallel(load.low, None if shunt is None else shunt.low)
    usual_ohm = parallel(load.typical, None if shunt is None else shunt.typical)
    most_ohm = parallel(load.high, None if shunt is None else shunt.high)
    return _around(
        net.rail_v.low * least_ohm / (least_ohm + weak_ohm),
        net.rail_v.typical * usual_ohm / (usual_ohm + middle_ohm),
        net.rail_v.high * most_ohm / (most_ohm + strong_ohm),
    )


def leg_current_span(net: OutputNetwork, code: int, leg: int) -> Span:
    """Bounds of one pin's current for one code, every element anywhere in its span.

    Parameters
    ----------
    net : OutputNetwork
        The channel.
    code : int
        Bits of the channel. [1]
    leg : int
        Which leg, 0 the most significant. [1]

    Returns
    -------
    Span
        Current out of the pin, negative where it takes current in. [A]

    Raises
    ------
    ValueError
        If the code has more bits than the network, or there is no such leg.

    References
    ----------
    [corners] A pin that is on gives most when the rest pulls its tap down, one that is off takes most when the rest
    pulls it up; either is larger through less resistance of its own.
    """
    check_code(code, net.bits)
    if not 0 <= leg < net.bits:
        raise ValueError(f"leg {leg}; allowed are 0 to {net.bits - 1}; count from the most significant")
    is_on = legs_on(code, net.bits)[leg]
    # magnitude: largest with own resistance least and the others against it
    weak_a = net.rail_v.low * min(_own_currents(net, code, leg, is_on, _high), key=abs)
    strong_a = net.rail_v.high * max(_own_currents(net, code, leg, not is_on, _low), key=abs)
    middle_a = built_leg_currents(typical(net), code)[leg]
    return _around(weak_a, middle_a, strong_a) if is_on else _around(strong_a, middle_a, weak_a)


def pin_current_spans(net: OutputNetwork) -> tuple[PinSpans, ...]:
    """Bounds of the most current of every pin over all codes.

    Parameters
    ----------
    net : OutputNetwork
        The channel.

    Returns
    -------
    tuple of PinSpans
        One a leg, most significant first. [A]

    References
    ----------
    [corners] `leg_current_span` at the codes that `pin_currents` names.
    """
    found = []
    for leg in range(net.bits):
        alone = 1 << (net.bits - 1 - leg)
        found.append(PinSpans(leg_current_span(net, alone, leg), leg_current_span(net, net.white_code ^ alone, leg)))
    return tuple(found)


def rail_current_span(net: OutputNetwork, code: int) -> Span:
    """Bounds of the current drawn from the rail for one code, every element anywhere in its span.

    Parameters
    ----------
    net : OutputNetwork
        The channel.
    code : int
        Bits of the channel. [1]

    Returns
    -------
    Span
        Sum over the legs that are on. [A]

    Raises
    ------
    ValueError
        If the code has more bits than the network.

    References
    ----------
    [rayleigh] Rayleigh's monotonicity: from rail to ground a network conducts more when any one element does, so one
    corner a side is exact, rungs included.
    """
    strong = build(net, _low, _high)
    weak = build(net, _high, _low)
    return _around(
        built_rail_current(weak, code), built_rail_current(typical(net), code), built_rail_current(strong, code)
    )


def _low(span: Span) -> float:
    """Lower end of a span."""
    return span.low


def _high(span: Span) -> float:
    """Upper end of a span."""
    return span.high


def _around(low: float, middle: float, high: float) -> Span:
    """Span of bounds found by separate sums; rounding may put the middle an ulp outside."""
    return Span(min(low, middle), middle, max(high, middle))


def _side_by_side(ohms: Sequence[float]) -> float:
    """Resistance of parts that meet at both ends; a lone part may be zero."""
    return ohms[0] if len(ohms) == 1 else 1.0 / sum([1.0 / ohm for ohm in ohms])


def _branches(net: OutputNetwork, code: int, raised: bool) -> list[tuple[float, float]]:
    """Legs at the ends that raise (or lower) every tap most, for a rail of 1 V."""
    on_end, off_end = (_low, _high) if raised else (_high, _low)
    on_ohm, off_ohm = on_end(net.pin_high_ohm), off_end(net.pin_low_ohm)
    return [
        (1.0, on_end(part) + on_ohm) if is_on else (0.0, off_end(part) + off_ohm)
        for part, is_on in zip(net.part_ohm, legs_on(code, net.bits), strict=True)
    ]


def _ground(net: OutputNetwork, raised: bool) -> float:
    """Load and shunt at the end that raises (or lowers) every tap most."""
    end = _high if raised else _low
    return parallel(end(net.load_ohm), None if net.shunt_ohm is None else end(net.shunt_ohm))


def _taps(net: OutputNetwork, branches: list[tuple[float, float]], leg: int, raised: bool) -> list[float]:
    """Voltage of a leg's tap for a rail of 1 V: one number for a star, one for each choice of rungs for a ladder."""
    ground_ohm = _ground(net, raised)
    if net.terminator_ohm is None:
        return [star_voltage([*branches, (0.0, ground_ohm)])]
    end = _high if raised else _low
    rungs_ohm = [(rung.low,) if rung.is_exact else (rung.low, rung.high) for rung in net.rung_ohm]
    return tap_choices(branches, ground_ohm, end(net.terminator_ohm), rungs_ohm, leg)


def _own_currents(net: OutputNetwork, code: int, leg: int, raised: bool, own_end: End) -> list[float]:
    """Current out of one pin for a rail of 1 V, its own resistance at one end and the rest raising its tap, or not."""
    branches = _branches(net, code, raised)
    pin = net.pin_high_ohm if branches[leg][0] else net.pin_low_ohm
    own_v, own_ohm = branches[leg] = (branches[leg][0], own_end(net.part_ohm[leg]) + own_end(pin))
    if net.terminator_ohm is None:  # by balance at the node, as the part may be zero
        return [star_currents([*branches, (0.0, _ground(net, raised))])[leg]]
    return [(own_v - tap_v) / own_ohm for tap_v in _taps(net, branches, leg, raised)]
