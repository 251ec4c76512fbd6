"""A video amplifier between the resistors of a channel and its display.

The resistors lead into an input that draws nothing, with a shunt to ground, so the shunt is their load. The amplifier
drives the connector through a resistor that matches the cable: half of what it makes is left at the display, and what
comes back is absorbed.
"""

from __future__ import annotations

import math

from scanloom.basis.record import record
from scanloom.basis.span import Span


@record
class Amplifier:
    """One channel of a video amplifier, and what it drives.

    Parameters
    ----------
    gain : float
        How many times it amplifies. [1]
    back_ohm : Span
        Resistor from its output to the connector. [ohm]
    load_ohm : Span
        Termination inside the display. [ohm]
    idle_a : Span
        Its own current at rest. [A]

    Raises
    ------
    ValueError
        If the gain or a resistance is not above zero, or the current is negative.
    """

    gain: float
    back_ohm: Span
    load_ohm: Span
    idle_a: Span

    def __post_init__(self) -> None:
        """Refuse values with which nothing can be computed."""
        if not (self.gain > 0.0 and self.back_ohm.low > 0.0 and self.load_ohm.low > 0.0 and self.idle_a.low >= 0.0):
            raise ValueError(
                f"amplifier: gain {self.gain}, back {self.back_ohm.low} ohm, load {self.load_ohm.low} ohm, "
                f"{self.idle_a.low} A; allowed are above zero, the current zero or more; give its real values"
            )


def amplified_level(input_v: Span, amplifier: Amplifier) -> Span:
    """Level at the display for a level at the amplifier's input.

    Parameters
    ----------
    input_v : Span
        Level at the input. [V]
    amplifier : Amplifier
        The amplifier.

    Returns
    -------
    Span
        Level into the display's load; bounds are reached, as input, resistor and load do not depend on one another. [V]

    References
    ----------
    [divider] The resistor at the output and the load share what the amplifier makes.
    """
    back, load, gain = amplifier.back_ohm, amplifier.load_ohm, amplifier.gain
    return Span(
        gain * input_v.low * load.low / (load.low + back.high),
        gain * input_v.typical * load.typical / (load.typical + back.typical),
        gain * input_v.high * load.high / (load.high + back.low),
    )


def amplifier_current(input_v: Span, amplifier: Amplifier) -> Span:
    """Current that one channel draws from the amplifier's supply while it shows a level.

    Parameters
    ----------
    input_v : Span
        Level at the input. [V]
    amplifier : Amplifier
        The amplifier.

    Returns
    -------
    Span
        What flows into the cable and what the amplifier takes for itself. [A]

    References
    ----------
    [ohm] Output voltage over resistor and load in series.
    """
    back, load, gain, idle = amplifier.back_ohm, amplifier.load_ohm, amplifier.gain, amplifier.idle_a
    return Span(
        gain * input_v.low / (load.high + back.high) + idle.low,
        gain * input_v.typical / (load.typical + back.typical) + idle.typical,
        gain * input_v.high / (load.low + back.low) + idle.high,
    )


def bandwidth_needed(pixel_s: float, share: float) -> float:
    """Bandwidth with which a single pole rises within a share of a pixel.

    Parameters
    ----------
    pixel_s : float
        Length of a pixel. [s]
    share : float
        Share of it that the rise from 10 to 90 % may take. [1]

    Returns
    -------
    float
        Frequency at which the response is down 3 dB. [Hz]

    Raises
    ------
    ValueError
        If an argument is not above zero.

    Examples
    --------
    >>> round(bandwidth_needed(1 / 25.175e6, 1 / 3) / 1e6, 1)
    26.4

    References
    ----------
    [pole] A single pole rises from 10 to 90 % in ln 9 time constants: bandwidth x rise = ln 9 / 2 pi = 0.35.
    """
    return math.log(9.0) / (2.0 * math.pi) / _rise(pixel_s, share)


def slew_needed(swing_v: float, pixel_s: float, share: float) -> float:
    """Steepest slope of a single pole that rises within a share of a pixel.

    Parameters
    ----------
    swing_v : float
        Step at the amplifier's output. [V]
    pixel_s : float
        Length of a pixel. [s]
    share : float
        Share of it that the rise from 10 to 90 % may take. [1]

    Returns
    -------
    float
        Slope at the start of the step. [V/s]

    Raises
    ------
    ValueError
        If the pixel or the share is not above zero.

    References
    ----------
    [pole] The slope of a single pole is largest at the start: step over time constant.
    """
    return swing_v * math.log(9.0) / _rise(pixel_s, share)


def _rise(pixel_s: float, share: float) -> float:
    """Time that a rise may take."""
    if not (pixel_s > 0.0 and share > 0.0):
        raise ValueError(f"pixel {pixel_s} s, share {share}; allowed is above zero; give both")
    return pixel_s * share
