"""What stands between the pins of one colour channel and the display's load."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

from scanloom.basis.record import record
from scanloom.basis.span import Span

Style = Literal["series", "weighted", "ladder"]

MOST_BITS = 12
"""Largest depth of one channel; each further bit doubles every sum over all codes. [1]"""


@record
class OutputNetwork:
    """Resistors of one colour channel, its pins and its load, with their spans.

    In style `series` one pin feeds the connector through one part; in `weighted` each pin has its own part to the
    connector; in `ladder` each pin feeds a tap through its leg, rungs join neighbouring taps, the tap of the most
    significant leg is the connector and the terminator goes from the tap of the least significant leg to ground.

    Parameters
    ----------
    style : {"series", "weighted", "ladder"}
        How the parts are joined.
    part_ohm : tuple of Span
        Part of each leg, most significant first. [ohm]
    pin_high_ohm : Span
        Resistance of a pin driven high; each pin may lie anywhere in it. [ohm]
    pin_low_ohm : Span
        Resistance of a pin driven low; each pin may lie anywhere in it. [ohm]
    rail_v : Span
        Supply of the pins. [V]
    load_ohm : Span
        Termination inside the display. [ohm]
    shunt_ohm : Span, optional
        Part from the connector to ground. [ohm]
    rung_ohm : tuple of Span
        Parts between the taps of a ladder, from the connector on. [ohm]
    terminator_ohm : Span, optional
        Part from the last tap of a ladder to ground. [ohm]

    Raises
    ------
    ValueError
        If the parts do not fit the style, or a resistance or the rail is too small.

    Notes
    -----
    A pin counts as a resistance. Past its rated current it gives less than that, so a level computed far above the
    rating is an upper bound.
    """

    style: Style
    part_ohm: tuple[Span, ...]
    pin_high_ohm: Span
    pin_low_ohm: Span
    rail_v: Span
    load_ohm: Span
    shunt_ohm: Span | None = None
    rung_ohm: tuple[Span, ...] = ()
    terminator_ohm: Span | None = None

    def __post_init__(self) -> None:
        """Refuse parts that do not make up the style."""
        bits = len(self.part_ohm)
        if self.style not in ("series", "weighted", "ladder"):
            raise ValueError(f"style {self.style!r}; allowed are series, weighted, ladder; choose one")
        if not 1 <= bits <= MOST_BITS:
            raise ValueError(f"part_ohm: {bits} legs; allowed are 1 to {MOST_BITS}; give one part a colour bit")
        if self.style == "series" and bits != 1:
            raise ValueError(
                f"part_ohm: {bits} legs in style series; allowed is 1; use weighted or ladder for more bits"
            )
        if self.style == "ladder" and (len(self.rung_ohm) != bits - 1 or self.terminator_ohm is None):
            raise ValueError(
                f"ladder of {bits} legs: {len(self.rung_ohm)} rungs and terminator {self.terminator_ohm}; "
                f"allowed are {bits - 1} rungs and one terminator; give them"
            )
        if self.style != "ladder" and (self.rung_ohm or self.terminator_ohm is not None):
            raise ValueError(f"style {self.style} with rungs or a terminator; only a ladder has them; leave them out")
        self._refuse_small()

    def _refuse_small(self) -> None:
        """Refuse resistances with which nothing can be computed."""
        above_zero = [("rail_v", self.rail_v), ("load_ohm", self.load_ohm), ("shunt_ohm", self.shunt_ohm)]
        above_zero += [(f"rung_ohm[{place}]", rung) for place, rung in enumerate(self.rung_ohm)]
        above_zero += [("terminator_ohm", self.terminator_ohm)]
        for name, span in above_zero:
            if span is not None and span.low <= 0.0:
                raise ValueError(f"{name}: as low as {span.low}; allowed is above zero; give its real bounds")
        pins = (("pin_high_ohm", self.pin_high_ohm), ("pin_low_ohm", self.pin_low_ohm))
        for name, span in (*pins, *((f"part_ohm[{place}]", part) for place, part in enumerate(self.part_ohm))):
            if span.low < 0.0:
                raise ValueError(f"{name}: as low as {span.low} ohm; allowed is zero or more; give its real bounds")
        pin_ohm = min(self.pin_high_ohm.low, self.pin_low_ohm.low)
        for place, part in enumerate(self.part_ohm):
            if self.style != "series" and part.low + pin_ohm <= 0.0:
                raise ValueError(
                    f"part_ohm[{place}]: no resistance from pin to connector; beside other legs there must be some; "
                    "give the part or the pin its resistance"
                )

    @property
    def bits(self) -> int:
        """Colour bits of the channel [1]."""
        return len(self.part_ohm)

    @property
    def white_code(self) -> int:
        """Code with every bit on [1]."""
        return (1 << len(self.part_ohm)) - 1


@record
class BuiltNetwork:
    """One copy of an output network with a number for each element.

    Parameters
    ----------
    style : {"series", "weighted", "ladder"}
        How the parts are joined.
    part_ohm : tuple of float
        Part of each leg, most significant first. [ohm]
    pin_high_ohm : tuple of float
        Resistance of each leg's pin driven high. [ohm]
    pin_low_ohm : tuple of float
        Resistance of each leg's pin driven low. [ohm]
    rail_v : float
        Supply of the pins. [V]
    load_ohm : float
        Termination inside the display. [ohm]
    shunt_ohm : float or None
        Part from the connector to ground. [ohm]
    rung_ohm : tuple of float
        Parts between the taps of a ladder, from the connector on. [ohm]
    terminator_ohm : float or None
        Part from the last tap of a ladder to ground. [ohm]
    """

    style: Style
    part_ohm: tuple[float, ...]
    pin_high_ohm: tuple[float, ...]
    pin_low_ohm: tuple[float, ...]
    rail_v: float
    load_ohm: float
    shunt_ohm: float | None = None
    rung_ohm: tuple[float, ...] = ()
    terminator_ohm: float | None = None

    @property
    def ground_ohm(self) -> float:
        """Load and shunt together [ohm]."""
        return parallel(self.load_ohm, self.shunt_ohm)

    def branches(self, code: int) -> list[tuple[float, float]]:
        """Voltage behind each leg and resistance from there to its tap.

        Parameters
        ----------
        code : int
            Bits of the channel; the first leg is the most significant. [1]

        Returns
        -------
        list of (float, float)
            One pair a leg, most significant first. [V, ohm]

        Raises
        ------
        ValueError
            If the code has more bits than the network, or is negative.
        """
        bits = len(self.part_ohm)
        check_code(code, bits)
        return [
            (self.rail_v, self.part_ohm[leg] + self.pin_high_ohm[leg])
            if code >> (bits - 1 - leg) & 1
            else (0.0, self.part_ohm[leg] + self.pin_low_ohm[leg])
            for leg in range(bits)
        ]


def build(net: OutputNetwork, pick: Callable[[Span], float], pick_rail: Callable[[Span], float]) -> BuiltNetwork:
    """Copy of a network in which every element takes the same place in its span.

    Parameters
    ----------
    net : OutputNetwork
        The channel.
    pick : callable
        Number to take from the span of a resistance.
    pick_rail : callable
        Number to take from the span of the rail.

    Returns
    -------
    BuiltNetwork
        The copy. [ohm, V]
    """
    bits = len(net.part_ohm)
    return BuiltNetwork(
        net.style,
        tuple([pick(part) for part in net.part_ohm]),
        (pick(net.pin_high_ohm),) * bits,
        (pick(net.pin_low_ohm),) * bits,
        pick_rail(net.rail_v),
        pick(net.load_ohm),
        None if net.shunt_ohm is None else pick(net.shunt_ohm),
        tuple([pick(rung) for rung in net.rung_ohm]),
        None if net.terminator_ohm is None else pick(net.terminator_ohm),
    )


def typical(net: OutputNetwork) -> BuiltNetwork:
    """Copy of a network in which every element has its typical value.

    Parameters
    ----------
    net : OutputNetwork
        The channel.

    Returns
    -------
    BuiltNetwork
        The copy. [ohm, V]
    """
    return build(net, _typical, _typical)


def parallel(first_ohm: float, second_ohm: float | None) -> float:
    """Resistance of two parts side by side, the second of which may be absent.

    Parameters
    ----------
    first_ohm : float
        Resistance of the first, above zero. [ohm]
    second_ohm : float or None
        Resistance of the second, above zero, or None if there is none. [ohm]

    Returns
    -------
    float
        Resistance of both. [ohm]
    """
    return first_ohm if second_ohm is None else first_ohm * second_ohm / (first_ohm + second_ohm)


def check_code(code: int, bits: int) -> None:
    """Refuse a code that a channel cannot take.

    Parameters
    ----------
    code : int
        The code. [1]
    bits : int
        Bits of the channel. [1]

    Raises
    ------
    ValueError
        If the code is negative or has more bits.
    """
    if not 0 <= code < 1 << bits:
        raise ValueError(f"code {code}; allowed are 0 to {(1 << bits) - 1} with {bits} bits; give one of them")


def legs_on(code: int, bits: int) -> Sequence[bool]:
    """Whether each leg is on, most significant first.

    Parameters
    ----------
    code : int
        Bits of the channel. [1]
    bits : int
        How many there are. [1]

    Returns
    -------
    sequence of bool
        One answer a leg.

    Raises
    ------
    ValueError
        If the code is negative or has more bits.
    """
    check_code(code, bits)
    return [bool(code >> (bits - 1 - leg) & 1) for leg in range(bits)]


def _typical(span: Span) -> float:
    """Typical value of a span."""
    return span.typical
