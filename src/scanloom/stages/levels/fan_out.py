"""One pin that feeds several inputs, each through a part of its own.

The pin's resistance carries the current of all inputs, so what one of them takes lowers the others. An input's level
rises with the rail, with its own load and with every resistance of the other inputs, and falls with the pin and with
its own part: one corner a side is exact.
"""

from __future__ import annotations

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.circuit.star import star_voltage


@record
class SharedPin:
    """One pin and the inputs that it feeds, all built alike, each anywhere in its spans.

    Parameters
    ----------
    pin_high_ohm : Span
        Resistance of the pin driven high. [ohm]
    rail_v : Span
        Supply of the pin. [V]
    part_ohm : Span
        Part to each input. [ohm]
    load_ohm : Span
        Termination of each input. [ohm]
    fed : int
        Inputs that it feeds. [1]

    Raises
    ------
    ValueError
        If it feeds none, the rail or a load is not above zero, or a resistance is negative.
    """

    pin_high_ohm: Span
    rail_v: Span
    part_ohm: Span
    load_ohm: Span
    fed: int

    def __post_init__(self) -> None:
        """Refuse values with which nothing can be computed."""
        above_zero = min(self.rail_v.low, self.load_ohm.low) > 0.0
        if not (self.fed >= 1 and above_zero and min(self.pin_high_ohm.low, self.part_ohm.low) >= 0.0):
            raise ValueError(
                f"pin of {self.pin_high_ohm.low} ohm at {self.rail_v.low} V into {self.fed} x "
                f"({self.part_ohm.low} + {self.load_ohm.low}) ohm; allowed are one input or more, rail and load above "
                "zero, pin and part zero or more; give their real bounds"
            )


def shared_white(shared: SharedPin) -> Span:
    """Bounds of white at any one of the inputs, every element anywhere in its span.

    Parameters
    ----------
    shared : SharedPin
        Pin and inputs.

    Returns
    -------
    Span
        Level with the pin high; bounds are reached. [V]

    References
    ----------
    [corners] Signs at the head of this module; the tests try every corner.
    """
    pin, rail, part, load = shared.pin_high_ohm, shared.rail_v, shared.part_ohm, shared.load_ohm
    return Span(
        _white(rail.low, pin.high, part.high, load.low, part.low + load.low, shared.fed),
        _white(rail.typical, pin.typical, part.typical, load.typical, part.typical + load.typical, shared.fed),
        _white(rail.high, pin.low, part.low, load.high, part.high + load.high, shared.fed),
    )


def shared_pin_current(shared: SharedPin) -> Span:
    """Bounds of the current out of the pin, driven high.

    Parameters
    ----------
    shared : SharedPin
        Pin and inputs.

    Returns
    -------
    Span
        Current of all inputs together. [A]

    Examples
    --------
    >>> exact = Span.exact
    >>> mono = SharedPin(exact(25.0), exact(3.3), exact(203.5714), exact(75.0), 3)
    >>> round(shared_pin_current(mono).typical * 1e3, 2)
    28.0

    References
    ----------
    [ohm] Pin in series with all arms side by side; each element works the same way.
    """
    pin, rail, part, load, fed = shared.pin_high_ohm, shared.rail_v, shared.part_ohm, shared.load_ohm, shared.fed
    return Span(
        rail.low / (pin.high + (part.high + load.high) / fed),
        rail.typical / (pin.typical + (part.typical + load.typical) / fed),
        rail.high / (pin.low + (part.low + load.low) / fed),
    )


def _white(rail_v: float, pin_ohm: float, part_ohm: float, load_ohm: float, other_ohm: float, fed: int) -> float:
    """White of one input of one copy; all other inputs are alike."""
    arms = [(rail_v, pin_ohm), (0.0, part_ohm + load_ohm)]
    if fed > 1:
        arms.append((0.0, other_ohm / (fed - 1)))
    return star_voltage(arms) * load_ohm / (part_ohm + load_ohm)
