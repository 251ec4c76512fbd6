"""What switching many outputs at once does to the chip's ground and supply, and how much of it a display sees.

When all colours go to white together, their current starts within one edge. It comes back to the chip through its
ground, whose inductance pushes the chip's own ground down, and up when they go back to black; an output that is held
low hands its share of that to its display. The inductance and the charge of the capacitors lower the rail, and white
falls with it.

The estimates leave out what the moved ground takes back from the current, and that capacitance at the connectors draws
more of it at first, so they are good to about 15 %; the tests hold them against a circuit simulator.
"""

from __future__ import annotations

from collections.abc import Callable

from scanloom.basis.record import record
from scanloom.basis.span import Span


@record
class SupplyPath:
    """Way of the outputs' current from the supply to ground.

    Parameters
    ----------
    ground_h : Span
        Inductance from the chip's ground to that of the connectors. [H]
    ground_ohm : Span
        Resistance of the same way. [ohm]
    pin_h : Span
        Inductance of one supply pin. [H]
    supply_pins : Span
        Supply pins side by side. [1]
    capacitor_h : Span
        Inductance of one capacitor beside the chip. [H]
    capacitors : int
        Capacitors beside the chip. [1]
    capacitor_ohm : Span
        Resistance of all capacitors together. [ohm]
    stored_f : Span
        Capacitance of all of them together. [F]
    reply_s : Span
        Time until the regulator answers. [s]
    regulator_ohm : Span
        How far the regulator gives way, once it has answered. [ohm]
    edge_s : Span
        Edge of an output, a straight ramp from end to end. [s]

    Raises
    ------
    ValueError
        If something that is divided by is not above zero, or anything is negative.
    """

    ground_h: Span
    ground_ohm: Span
    pin_h: Span
    supply_pins: Span
    capacitor_h: Span
    capacitors: int
    capacitor_ohm: Span
    stored_f: Span
    reply_s: Span
    regulator_ohm: Span
    edge_s: Span

    def __post_init__(self) -> None:
        """Refuse values with which nothing can be computed."""
        below = (self.supply_pins, self.stored_f, self.edge_s)
        others = (self.ground_h, self.ground_ohm, self.pin_h, self.capacitor_h, self.capacitor_ohm, self.reply_s)
        if self.capacitors < 1 or min(span.low for span in below) <= 0.0:
            raise ValueError(
                f"supply path: {self.capacitors} capacitors of {self.stored_f.low} F, {self.supply_pins.low} supply pins, "
                f"edge {self.edge_s.low} s; allowed are one or more and above zero; give their real bounds"
            )
        if min(span.low for span in (*others, self.regulator_ohm)) < 0.0:
            raise ValueError("supply path: something is negative; allowed is zero or more; give its real bounds")


@record
class Disturbance:
    """What one edge of many outputs does.

    Parameters
    ----------
    bounce_v : Span
        How far the chip's ground moves from that of the connectors, either way. [V]
    dip_v : Span
        How far the rail falls at the chip within the edge and until the regulator answers. [V]
    sag_v : Span
        How far it stays down while the regulator holds it. [V]
    """

    bounce_v: Span
    dip_v: Span
    sag_v: Span


def disturbance(path: SupplyPath, step_a: Span) -> Disturbance:
    """What a step of the outputs' current does to ground and supply.

    Parameters
    ----------
    path : SupplyPath
        The way of the current.
    step_a : Span
        Step of the current of all outputs that switch together. [A]

    Returns
    -------
    Disturbance
        Voltages on ground and rail. [V]

    Examples
    --------
    >>> x = Span.exact
    >>> path = SupplyPath(x(1e-9), x(0.02), x(2e-9), x(6.0), x(1e-9), 4, x(0.0), x(10e-6), x(1e-6), x(0.1), x(2e-9))
    >>> round(disturbance(path, x(17 * 9.333e-3)).bounce_v.typical * 1e3, 1)
    82.5

    References
    ----------
    [faraday] L di/dt for each inductance, Ohm's law for each resistance, charge over capacitance until the regulator
    answers, which comes long after the edge: the larger of the two counts. All rises with every element but the edge,
    the supply pins and the capacitance.
    """
    return Disturbance(_each(path, step_a, _bounce), _each(path, step_a, _dip), _each(path, step_a, _sag))


End = Callable[[Span], float]
"""Which end of a span to take."""


def _each(path: SupplyPath, step_a: Span, law: Callable[[SupplyPath, float, End, End], float]) -> Span:
    """A law at its least, with typical values, and at its most."""
    return Span(
        law(path, step_a.low, _low, _high), law(path, step_a.typical, _typical, _typical), law(path, step_a.high, _high, _low)
    )  # fmt: skip


def _bounce(path: SupplyPath, step_a: float, up: End, down: End) -> float:
    """Move of the chip's ground."""
    return step_a * (up(path.ground_h) / down(path.edge_s) + up(path.ground_ohm))


def _dip(path: SupplyPath, step_a: float, up: End, down: End) -> float:
    """Fall of the rail before the regulator answers: at the end of the edge or just before the answer."""
    sudden = up(path.capacitor_h) / path.capacitors + up(path.pin_h) / down(path.supply_pins)
    later = max(sudden / down(path.edge_s), up(path.reply_s) / down(path.stored_f))
    return step_a * (later + up(path.capacitor_ohm))


def _sag(path: SupplyPath, step_a: float, up: End, down: End) -> float:
    """Fall of the rail while the regulator holds it."""
    return step_a * up(path.regulator_ohm)


def _low(span: Span) -> float:
    """Lower end of a span."""
    return span.low


def _typical(span: Span) -> float:
    """Typical value of a span."""
    return span.typical


def _high(span: Span) -> float:
    """Upper end of a span."""
    return span.high
