"""Closed forms the other way round: which resistances put white on a terminated input."""

from __future__ import annotations

from scanloom.basis.record import record


@record
class MatchedParts:
    """Two resistances that give a level and match the cable at once.

    Parameters
    ----------
    series_ohm : float
        From rail to connector, pin included. [ohm]
    shunt_ohm : float
        From connector to ground. [ohm]
    """

    series_ohm: float
    shunt_ohm: float


def series_resistance(
    pin_high_v: float, white_v: float, load_ohm: float, pin_high_ohm: float = 0.0, channels: int = 1
) -> float:
    """Resistance of the part that puts white on a terminated input.

    Parameters
    ----------
    pin_high_v : float
        Voltage of a pin driven high, without load. [V]
    white_v : float
        Voltage wanted across each load. [V]
    load_ohm : float
        Termination inside the display. [ohm]
    pin_high_ohm : float, optional
        Resistance of the pin itself. [ohm]
    channels : int, optional
        Inputs that the one pin feeds, each through a part of its own. [1]

    Returns
    -------
    float
        Resistance of each part. [ohm]

    Raises
    ------
    ValueError
        If an argument is out of its bounds, or the pin cannot reach white.

    Examples
    --------
    >>> round(series_resistance(3.3, 0.7, 75.0), 2)
    278.57

    References
    ----------
    [divider] Ohm's law for a two-resistor divider; the pin carries the current of every channel.
    """
    if not (0.0 < white_v < pin_high_v and load_ohm > 0.0 and pin_high_ohm >= 0.0 and channels >= 1):
        raise ValueError(
            f"white {white_v} V from a pin of {pin_high_v} V, {pin_high_ohm} ohm into {channels} x {load_ohm} ohm; "
            "allowed are white above 0 and below the pin, a load above 0, one channel or more; mend that argument"
        )
    part_ohm = load_ohm * (pin_high_v / white_v - 1.0) - channels * pin_high_ohm
    if part_ohm < 0.0:
        raise ValueError(
            f"white {white_v} V is out of reach: a pin of {pin_high_v} V, {pin_high_ohm} ohm into {channels} x "
            f"{load_ohm} ohm lacks {-part_ohm:.4g} ohm; use a stronger pin or a buffer, or feed fewer inputs from it"
        )
    return part_ohm


def matched_resistances(pin_high_v: float, white_v: float, line_ohm: float) -> MatchedParts:
    """Series and shunt that give white into a matched line and absorb what comes back.

    Parameters
    ----------
    pin_high_v : float
        Voltage of a pin driven high, without load. [V]
    white_v : float
        Voltage wanted across the load at the far end, which matches the line. [V]
    line_ohm : float
        Characteristic resistance of the line. [ohm]

    Returns
    -------
    MatchedParts
        Both resistances. [ohm]

    Raises
    ------
    ValueError
        If an argument is out of its bounds, or white is not below half the pin's voltage.

    References
    ----------
    [divider] Series and shunt side by side equal the line, and their open voltage is twice white.
    """
    if not (0.0 < 2.0 * white_v < pin_high_v and line_ohm > 0.0):
        raise ValueError(
            f"white {white_v} V into a matched line of {line_ohm} ohm from {pin_high_v} V; allowed is white above 0 "
            "and below half the pin's voltage, a line above 0; lower white or raise the rail"
        )
    return MatchedParts(line_ohm * pin_high_v / (2.0 * white_v), line_ohm * pin_high_v / (pin_high_v - 2.0 * white_v))


def ladder_resistance(pin_high_v: float, white_v: float, load_ohm: float, bits: int) -> float:
    """Rung of a ladder, legs and terminator twice as large, that puts white on a terminated input.

    Parameters
    ----------
    pin_high_v : float
        Voltage of a pin driven high, without load. [V]
    white_v : float
        Voltage wanted across the load with every bit on. [V]
    load_ohm : float
        Termination inside the display. [ohm]
    bits : int
        Legs of the ladder. [1]

    Returns
    -------
    float
        Resistance of a rung; a leg's part is twice this less the pin. [ohm]

    Raises
    ------
    ValueError
        If an argument is out of its bounds, or the ladder cannot reach white.

    References
    ----------
    [r-2r] Such a ladder is code / 2^bits of the rail behind one rung's resistance.
    """
    if not (0.0 < white_v < pin_high_v and load_ohm > 0.0 and bits >= 1):
        raise ValueError(
            f"white {white_v} V from {pin_high_v} V into {load_ohm} ohm with {bits} bits; allowed are white above 0 "
            "and below the pin, a load above 0, one bit or more; mend that argument"
        )
    rung_ohm = load_ohm * ((1.0 - 0.5**bits) * pin_high_v / white_v - 1.0)
    if rung_ohm <= 0.0:
        raise ValueError(f"white {white_v} V is out of reach of {bits} bits from {pin_high_v} V; lower it, or add bits")
    return rung_ohm
