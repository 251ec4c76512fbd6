"""Whether every copy of a channel grows brighter with every code.

A step from one code to the next always carries into one leg j: that leg goes on, all lower legs go off, the higher
ones stay. Seen from leg j's tap, with conductances in siemens: `a` and `al` are leg j driven high and low; the lower
side, all on, brings `b` from the rail and `d` from ground; all off, it loads with `l`; the higher side brings `h`
from the rail and `r` from ground, load and shunt included. The tap stands at (h + a) / (h + a + r + l) after the step
and at (h + b) / (h + b + r + al + d) before it, so it rises when and only when

    (h + a)(r + al + d) > (h + b)(r + l),    that is    h (al + d - l) + r (a - b) + a (al + d) - b l > 0

where h r has cancelled. What lies between the tap and the connector is the same before and after, so the level rises
with the tap. In a star d is 0 and b, l are plain sums. The left side grows with a and al (one corner: leg j weakest)
and falls with b and l (one corner: lower legs strongest), and is of first degree in each higher leg and in the load,
so each of those takes its own worse end or state: exact. In a ladder h and r are taken at their joint worst, but b, d
and l each at its own, although one copy may not reach all three at once: what is guaranteed is guaranteed, and a
little that would hold is refused.
"""

from __future__ import annotations

from dataclasses import replace

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.stages.levels.ladder import behind_taps
from scanloom.stages.levels.model import OutputNetwork, parallel


@record
class Monotonic:
    """Whether every step rises in every copy that the spans allow.

    Parameters
    ----------
    guaranteed : bool
        Whether it does.
    margin : float
        Share of a carry's drive that is left after what works against it, in the copy where least is left over: 1 with
        a single leg, 0 where a step may vanish, negative where it may run backwards. [1]
    leg : int
        Leg whose carry has that margin, 0 the most significant. [1]
    """

    guaranteed: bool
    margin: float
    leg: int


def monotonic_guaranteed(net: OutputNetwork) -> Monotonic:
    """Whether each level lies above the one before, every element anywhere in its span.

    Parameters
    ----------
    net : OutputNetwork
        The channel.

    Returns
    -------
    Monotonic
        The answer, with its margin and the leg at fault. [1]

    Notes
    -----
    Exact for series and weighted. For a ladder the answer no may come a little early, see the head of this module; the
    tests bound by how much.

    References
    ----------
    [carry] Derived at the head of this module; checked against every corner of small networks.
    """
    if net.bits == 1:
        return Monotonic(True, 1.0, 0)
    margins = _ladder_margins(net) if net.style == "ladder" else _star_margins(net)
    worst = min(range(len(margins)), key=margins.__getitem__)
    return Monotonic(margins[worst] > 0.0, margins[worst], worst)


def monotonic_at_percent(net: OutputNetwork) -> float:
    """Largest tolerance, equal for all parts on the board, at which every step is still sure to rise.

    Pins, rail and load stand at their typical values: what is asked is which grade of part to buy.

    Parameters
    ----------
    net : OutputNetwork
        The channel; the spans of its parts are not read, but for their typical values.

    Returns
    -------
    float
        Tolerance, 0 if the steps do not all rise with typical values, 100 for a single leg. [%]

    References
    ----------
    [bisection] `monotonic_guaranteed`, halved until the bounds are within 1e-6 %.
    """
    if net.bits == 1:
        return 100.0
    sure, unsure = 0.0, 100.0
    if not monotonic_guaranteed(_with_tolerance(net, 0.0)).guaranteed:
        return 0.0
    while unsure - sure > 1e-6:
        percent = (sure + unsure) / 2.0
        if monotonic_guaranteed(_with_tolerance(net, percent)).guaranteed:
            sure = percent
        else:
            unsure = percent
    return sure


def _with_tolerance(net: OutputNetwork, percent: float) -> OutputNetwork:
    """Same network with exact pins, rail and load and one tolerance for every part."""

    def part(span: Span) -> Span:
        return Span.exact(span.typical).relative(percent)

    return replace(
        net,
        part_ohm=tuple([part(leg) for leg in net.part_ohm]),
        pin_high_ohm=Span.exact(net.pin_high_ohm.typical),
        pin_low_ohm=Span.exact(net.pin_low_ohm.typical),
        rail_v=Span.exact(net.rail_v.typical),
        load_ohm=Span.exact(net.load_ohm.typical),
        shunt_ohm=None if net.shunt_ohm is None else part(net.shunt_ohm),
        rung_ohm=tuple([part(rung) for rung in net.rung_ohm]),
        terminator_ohm=None if net.terminator_ohm is None else part(net.terminator_ohm),
    )


def _margin(a: float, al: float, b: float, d: float, lower: float, h: float, r: float) -> float:
    """Share of (h + a)(r + al + d) - h r that is left after (h + b)(r + lower) - h r."""
    drive = h * (al + d) + r * a + a * (al + d)
    return (drive - h * lower - r * b - b * lower) / drive


def _ground_siemens(net: OutputNetwork) -> tuple[float, float]:
    """Least and most conductance of load and shunt together."""
    shunt = net.shunt_ohm
    return (
        1.0 / parallel(net.load_ohm.high, None if shunt is None else shunt.high),
        1.0 / parallel(net.load_ohm.low, None if shunt is None else shunt.low),
    )


def _siemens(part: Span, pin: Span) -> tuple[float, float]:
    """Least and most conductance of a leg; the most may be infinite only for a lone leg, which never comes here."""
    return 1.0 / (part.high + pin.high), 1.0 / (part.low + pin.low)


def _star_margins(net: OutputNetwork) -> list[float]:
    """Margin of the carry into each leg of a star, most significant first."""
    on = [_siemens(part, net.pin_high_ohm) for part in net.part_ohm]
    off = [_siemens(part, net.pin_low_ohm) for part in net.part_ohm]
    ground = _ground_siemens(net)
    margins = []
    for leg in range(net.bits):
        a, al = on[leg][0], off[leg][0]
        b = sum([most for _, most in on[leg + 1 :]])
        lower = sum([most for _, most in off[leg + 1 :]])
        h, r = 0.0, min(ground, key=lambda siemens: siemens * (a - b))
        for higher in range(leg):
            as_on = min(on[higher], key=lambda siemens: siemens * (al - lower))
            as_off = min(off[higher], key=lambda siemens: siemens * (a - b))
            if as_on * (al - lower) < as_off * (a - b):
                h += as_on
            else:
                r += as_off
        margins.append(_margin(a, al, b, 0.0, lower, h, r))
    return margins


def _ladder_margins(net: OutputNetwork) -> list[float]:
    """Margin of the carry into each leg of a ladder, most significant first; each of b, d, l at its own worst."""
    higher = _higher_sides(net)
    margins = []
    for leg in range(net.bits):
        a, _ = _siemens(net.part_ohm[leg], net.pin_high_ohm)
        al, _ = _siemens(net.part_ohm[leg], net.pin_low_ohm)
        b, d, lower = _lower_side(net, leg)
        h, total = min(higher[leg], key=lambda side: side[0] * (al + d - lower) + (side[1] - side[0]) * (a - b))
        margins.append(_margin(a, al, b, d, lower, h, total - h))
    return margins


def _lower_side(net: OutputNetwork, leg: int) -> tuple[float, float, float]:
    """Most b, least d and most l of the lower side of a ladder's tap, see the head of this module."""
    assert net.terminator_ohm is not None
    parts = net.part_ohm[:leg:-1]
    rungs = net.rung_ohm[leg:][::-1]
    if not parts:  # the last tap: only the terminator lies below, and it does not switch
        return 0.0, 1.0 / net.terminator_ohm.high, 1.0 / net.terminator_ohm.high
    strong_on = [(1.0, part.low + net.pin_high_ohm.low) for part in parts]
    either_rung = [(rung.low, rung.high) for rung in rungs]
    b = max(
        open_v / seen_ohm for open_v, seen_ohm in behind_taps((0.0, net.terminator_ohm.high), strong_on, either_rung)
    )
    # d is what the tap loses to the terminator while it stands at the rail like the legs: by reciprocity what passes from
    # the terminator's end through terminator and rungs to the tap, the legs shunting it away: least with strong legs
    [(open_v, seen_ohm)] = behind_taps((0.0, net.terminator_ohm.high), strong_on, [(rung.high,) for rung in rungs])
    # l is what the tap loses to ground with all legs off: more, by Rayleigh's monotonicity, when any part conducts more
    strong_off = [(0.0, part.low + net.pin_low_ohm.low) for part in parts]
    [(_, least_ohm)] = behind_taps((0.0, net.terminator_ohm.low), strong_off, [(rung.low,) for rung in rungs])
    return b, (1.0 - open_v) / seen_ohm, 1.0 / least_ohm


def _higher_sides(net: OutputNetwork) -> list[list[tuple[float, float]]]:
    """For each tap of a ladder, what its higher side can be: corners of all pairs h and h + r.

    One element that moves from end to end moves the pair along a straight line, so the corners of the hull are enough.
    """
    sides = [[(0.0, siemens) for siemens in _ground_siemens(net)]]
    for part, rung in zip(net.part_ohm, net.rung_ohm, strict=False):
        on, off = _siemens(part, net.pin_high_ohm), _siemens(part, net.pin_low_ohm)
        joined = [(h + a, total + a) for h, total in sides[-1] for a in on]
        joined += [(h, total + al) for h, total in sides[-1] for al in off]
        sides.append(
            _hull([(h / (1.0 + ohm * g), g / (1.0 + ohm * g)) for h, g in joined for ohm in (rung.low, rung.high)])
        )
    return sides


def _hull(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Corners of the convex hull, by the monotone chain of A. M. Andrew (Inf. Proc. Letters 9, 1979, from memory)."""
    ordered = sorted(set(points))
    if len(ordered) < 3:
        return ordered
    halves = []
    for run in (ordered, ordered[::-1]):
        half: list[tuple[float, float]] = []
        for x, y in run:
            while len(half) > 1 and _turn(half[-2], half[-1], (x, y)) <= 0.0:
                half.pop()
            half.append((x, y))
        halves += half[:-1]
    return halves


def _turn(first: tuple[float, float], second: tuple[float, float], third: tuple[float, float]) -> float:
    """Twice the signed area of a triangle, positive anticlockwise."""
    return (second[0] - first[0]) * (third[1] - first[1]) - (second[1] - first[1]) * (third[0] - first[0])
