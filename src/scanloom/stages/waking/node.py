"""Voltage of a pin that nobody drives, and current into a rail that nobody feeds.

While the chip starts, a pin is an input with its internal pull. A part leads from it to a point that other arms share:
the loads of displays, which may or may not be plugged in, and other pins of the same channel. The cable's resistance,
a few ohm beside hundreds, is left out, and so is the clamp that would hold a powered pin near its rail.
"""

from __future__ import annotations

from collections.abc import Sequence

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.circuit.star import star_bound, star_voltage

NONE = Span.exact(0.0)
"""No resistance. [ohm]"""
_LOW, _TYPICAL, _HIGH = -1, 0, 1
Branch = tuple[float, float]
"""Voltage at the far end of an arm and resistance to the shared point. [V, ohm]"""
Choice = tuple[float, float, float]
"""One way an arm can be: open voltage of its far end, resistance there, part from there. [V, ohm, ohm]"""


@record
class Strand:
    """What hangs on the shared point: a part, then a load to ground, a pull to a voltage, both or neither.

    Parameters
    ----------
    part_ohm : Span
        Part from the shared point to the far end. [ohm]
    load_ohm : Span, optional
        From the far end to ground. [ohm]
    pull_ohm : Span, optional
        From the far end to a voltage. [ohm]
    pull_v : Span, optional
        That voltage; given with `pull_ohm` or not at all. [V]

    Raises
    ------
    ValueError
        If only half a pull is given, or a resistance is too small.
    """

    part_ohm: Span = NONE
    load_ohm: Span | None = None
    pull_ohm: Span | None = None
    pull_v: Span | None = None

    def __post_init__(self) -> None:
        """Refuse values with which nothing can be computed."""
        if (self.pull_ohm is None) != (self.pull_v is None):
            raise ValueError("arm: half a pull; allowed are pull_ohm and pull_v together; give both or none")
        if self.part_ohm.low < 0.0:
            raise ValueError(f"part_ohm: as low as {self.part_ohm.low} ohm; allowed is zero or more; give its bounds")
        for name, span in (("load_ohm", self.load_ohm), ("pull_ohm", self.pull_ohm)):
            if span is not None and span.low <= 0.0:
                raise ValueError(f"{name}: as low as {span.low} ohm; allowed is above zero; give its real bounds")


@record
class PinNet:
    """A pin while the chip starts, and all that its part leads to.

    Parameters
    ----------
    own : Strand
        The pin at its far end with the internal pull, and the part to the shared point.
    fixed : tuple of Strand
        Arms that are always there, such as other pins of the channel.
    displays : tuple of Strand
        Arms that are there while the display is plugged in.

    Raises
    ------
    ValueError
        If a display neither loads nor pulls.
    """

    own: Strand
    fixed: tuple[Strand, ...] = ()
    displays: tuple[Strand, ...] = ()

    def __post_init__(self) -> None:
        """Refuse displays that do nothing."""
        if any(arm.load_ohm is None and arm.pull_ohm is None for arm in self.displays):
            raise ValueError("displays: one neither loads nor pulls; a load or a pull is needed; leave the display out")


def pin_level(net: PinNet, *, plugged: bool) -> Span | None:
    """Bounds of the pin's voltage with all displays plugged in, or none, every element anywhere in its span.

    Parameters
    ----------
    net : PinNet
        The pin.
    plugged : bool
        Whether the displays are plugged in.

    Returns
    -------
    Span or None
        The voltage; None when nothing holds the pin. [V]

    References
    ----------
    [corners] The voltage is a ratio of sums of first degree in each element, so its bounds lie where each is at an end.
    """
    arms = (*net.fixed, *(net.displays if plugged else ()))
    found = [_reached(net.own, _every(arms, side), side, side == _HIGH) for side in (_LOW, _TYPICAL, _HIGH)]
    low, typical, high = [None if one is None else one[0] for one in found]
    if low is None or typical is None or high is None:
        return None
    return Span(min(low, typical), typical, max(high, typical))


def worst_level(net: PinNet, *, highest: bool) -> Span | None:
    """Bounds of the pin's voltage with just those displays plugged in that move it farthest.

    Parameters
    ----------
    net : PinNet
        The pin.
    highest : bool
        Whether farthest means up; else down.

    Returns
    -------
    Span or None
        The farther bound over any mix of displays, the other bound for the mix that is worst with typical values;
        None when nothing holds the pin, plugged in or not. [V]

    References
    ----------
    [corners] As for `pin_level`; a display that is not plugged in is one choice more.
    """
    far = _HIGH if highest else _LOW
    fixed = _every(net.fixed, _TYPICAL)
    typical = _reached(net.own, [*fixed, *_optional(net.displays, _TYPICAL)], _TYPICAL, highest)
    bound = _reached(net.own, [*_every(net.fixed, far), *_optional(net.displays, far)], far, highest)
    if typical is None or bound is None:
        return None
    there = [a for a, number in zip(net.displays, typical[1][len(fixed) :], strict=True) if number == 0]
    other = _reached(net.own, _every((*net.fixed, *there), -far), -far, not highest)
    ends = (typical[0], bound[0], typical[0] if other is None else other[0])
    return Span(min(ends), typical[0], max(ends))


def pull_needed(net: PinNet, limit_v: float, rail_v: float, *, down: bool) -> float | None:
    """Largest resistor from the pin to its rail, or to ground, that holds it at a limit against the worst of the rest.

    Parameters
    ----------
    net : PinNet
        The pin.
    limit_v : float
        Voltage that must be reached, or not passed. [V]
    rail_v : float
        Lowest voltage of the rail. [V]
    down : bool
        Whether the pull goes to ground and the voltage must not be passed; else to the rail.

    Returns
    -------
    float or None
        The resistor beside the internal pull; None when none is needed, or the rail itself is too low. [ohm]

    References
    ----------
    [kirchhoff] Currents into the pin at the limit add up to nothing.
    """
    side = _HIGH if down else _LOW
    outer = [*_every(net.fixed, side), *_optional(net.displays, side)]
    sign = 1.0 if down else -1.0
    # what the rest pushes into the pin, worst end of the part, and what the internal pull does
    pushed = max(sign * _inflow(outer, limit_v, part_ohm, down) for part_ohm in _ends(net.own.part_ohm, side))
    inside = [sign * (open_v - limit_v) / ohm for open_v, ohm, _ in _choices(net.own, side)]
    short_a = pushed + (max(inside) if inside else 0.0)
    drop_v = limit_v if down else rail_v - limit_v
    return drop_v / short_a if short_a > 0.0 and drop_v > 0.0 else None


def fed_current(arms: Sequence[Strand], part_ohm: Span, drop_v: Span) -> tuple[Span, Span]:
    """Current that displays push through a clamp into a dead rail, and how far they lift one that nothing draws from.

    Parameters
    ----------
    arms : sequence of Strand
        Displays that pull up; those that only draw current are taken to be unplugged, which is the worst.
    part_ohm : Span
        Part between the shared point and the clamp. [ohm]
    drop_v : Span
        Drop of the clamp. [V]

    Returns
    -------
    tuple of Span
        The current, and the voltage of the rail with no load. [A, V]

    References
    ----------
    [ohm] More flows with a higher supply and load inside the display, and with a lower pull, branch, part and drop.
    """
    fed, lifted = [], []
    for side in (_LOW, _TYPICAL, _HIGH):
        clamp_v, near_ohm = _end(drop_v, -side), _end(part_ohm, -side)
        pushing = [_strongest(arm, side) for arm in arms]
        node_v = clamp_v
        if near_ohm > 0.0:
            node_v, _ = star_bound([[(clamp_v, near_ohm)], *([arm, None] for arm in pushing)], highest=True)
        fed.append(sum(max(0.0, (open_v - node_v) / ohm) for open_v, ohm in pushing))
        lifted.append(max([0.0, *(open_v - clamp_v for open_v, _ in pushing)]))
    return _rising(fed), _rising(lifted)


def black_level(rail_v: float, pull_ohm: float, low_ohm: float, part_ohm: float, load_ohm: float) -> float:
    """Level into the load while the pin is driven low against a pull to the rail.

    Parameters
    ----------
    rail_v : float
        The rail. [V]
    pull_ohm : float
        Resistor from the pin to it. [ohm]
    low_ohm : float
        Resistance of the pin driven low. [ohm]
    part_ohm : float
        Part between pin and load. [ohm]
    load_ohm : float
        The load. [ohm]

    Returns
    -------
    float
        The level. [V]

    References
    ----------
    [ohm] Two dividers.
    """
    pin_v = star_voltage(((rail_v, pull_ohm), (0.0, low_ohm), (0.0, part_ohm + load_ohm)))
    return pin_v * load_ohm / (part_ohm + load_ohm)


def _reached(
    own: Strand, outer: Sequence[Sequence[Branch | None]], side: int, highest: bool
) -> tuple[float, tuple[int, ...]] | None:
    """Highest or lowest voltage of the pin, and the choice of each outer arm; None when nothing holds the pin."""
    mine = _choices(own, side)
    if not mine:
        return star_bound(outer, highest=highest) if outer else None
    found: list[tuple[float, tuple[int, ...]]] = []
    for far_v, far_ohm, part_ohm in mine:
        if not outer:  # no current flows
            found.append((far_v, ()))
            continue
        node_v, picked = star_bound([[(far_v, far_ohm + part_ohm)], *outer], highest=highest)
        found.append((node_v + (far_v - node_v) * part_ohm / (far_ohm + part_ohm), picked[1:]))
    return max(found) if highest else min(found)


def _choices(arm: Strand, side: int) -> list[Choice]:
    """Ways an arm can be: what raises (or lowers) every level is chosen, part and pull are left open; none for no arm."""
    parts_ohm = _ends(arm.part_ohm, side)
    load_ohm = None if arm.load_ohm is None else _end(arm.load_ohm, side)
    if arm.pull_ohm is None or arm.pull_v is None:
        return [] if load_ohm is None else [(0.0, load_ohm, part_ohm) for part_ohm in parts_ohm]
    pull_v = _end(arm.pull_v, side)
    pulls = [_joined(pull_v, pull_ohm, load_ohm) for pull_ohm in _ends(arm.pull_ohm, side)]
    return [(open_v, ohm, part_ohm) for open_v, ohm in pulls for part_ohm in parts_ohm]


def _strongest(arm: Strand, side: int) -> Branch:
    """An arm that pushes most, or least, into a point below its open voltage."""
    assert arm.pull_ohm is not None and arm.pull_v is not None
    load_ohm = None if arm.load_ohm is None else _end(arm.load_ohm, side)
    open_v, ohm = _joined(_end(arm.pull_v, side), _end(arm.pull_ohm, -side), load_ohm)
    return open_v, ohm + _end(arm.part_ohm, -side)


def _joined(pull_v: float, pull_ohm: float, load_ohm: float | None) -> Branch:
    """A pull and a load as one voltage behind one resistance."""
    if load_ohm is None:
        return pull_v, pull_ohm
    return pull_v * load_ohm / (load_ohm + pull_ohm), load_ohm * pull_ohm / (load_ohm + pull_ohm)


def _inflow(outer: Sequence[Sequence[Branch | None]], pin_v: float, part_ohm: float, highest: bool) -> float:
    """Most current (or least) that the outer arms push through the part into a pin held at a voltage."""
    node_v = pin_v
    if part_ohm > 0.0 and outer:
        node_v, _ = star_bound([[(pin_v, part_ohm)], *outer], highest=highest)
    best = max if highest else min
    return sum(best(0.0 if one is None else (one[0] - node_v) / one[1] for one in choices) for choices in outer)


def _every(arms: Sequence[Strand], side: int) -> list[list[Branch | None]]:
    """Choices of arms that are there; one that leads nowhere is left out."""
    made: list[list[Branch | None]] = [
        [(open_v, ohm + part_ohm) for open_v, ohm, part_ohm in _choices(arm, side)] for arm in arms
    ]
    return [choices for choices in made if choices]


def _optional(arms: Sequence[Strand], side: int) -> list[list[Branch | None]]:
    """Choices of arms that may be unplugged."""
    return [[*choices, None] for choices in _every(arms, side)]


def _rising(found: Sequence[float]) -> Span:
    """Three bounds as a span; rounding may turn equal ones about."""
    return Span(min(found), sorted(found)[1], max(found))


def _end(span: Span, side: int) -> float:
    """Low, typical or high of a span."""
    return span.typical if side == _TYPICAL else span.low if side == _LOW else span.high


def _ends(span: Span, side: int) -> list[float]:
    """Both ends of a span, or its typical value."""
    return [_end(span, side)] if side == _TYPICAL or span.is_exact else [span.low, span.high]
