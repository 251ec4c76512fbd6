"""The front end: coupling with clamp and diodes, overload and its recovery, the converter.

What leaves the cable is taken as standing still through a sample. All states run on from sample to sample and from
line to line, blanking included, as they do in a display.
"""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

import numpy as np

from scanloom.basis.record import record

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Volts = NDArray[np.float64]


_LINES_BEFORE = 80  # the clamp leaves some four fifths of a charge to the next line


@record
class Coupling:
    """Coupling capacitor, clamp, leak and protection diodes of one input.

    Parameters
    ----------
    coupling_f : float
        Capacitor. [F]
    clamp_ohm : float
        Switch to ground during the clamp. [ohm]
    leak_ohm : float
        From the input behind the capacitor to ground. [ohm]
    diode_rail_v : float
        Supply the upper diode leads to; infinite for an input without diodes. [V]
    diode_ohm : float
        In series with each diode. [ohm]
    diode_scale_v : float
        Emission coefficient times thermal voltage. [V]
    diode_saturation_a : float
        Saturation current of each diode. [A]

    Raises
    ------
    ValueError
        If a value is not above zero.
    """

    coupling_f: float
    clamp_ohm: float
    leak_ohm: float
    diode_rail_v: float
    diode_ohm: float
    diode_scale_v: float
    diode_saturation_a: float

    def __post_init__(self) -> None:
        """Refuse what no input is made of."""
        for name in [one.name for one in fields(self)]:
            if not getattr(self, name) > 0.0:
                raise ValueError(f"{name} = {getattr(self, name)!r}: above zero is allowed; give the part's value")


def behind_coupling(
    level_v: Volts, pixel_s: float, phase: float, clamp: tuple[int, int], source_ohm: float, parts: Coupling
) -> Volts:
    """Voltage behind the coupling capacitor at each sampling instant.

    The last lines of the frame are run through once before, so that the charge is that of a standing picture.

    Parameters
    ----------
    level_v : ndarray of float, shape (lines, samples)
        Voltage at the input with nothing behind it, in the order of time, blanking included. [V]
    pixel_s : float
        Duration of a sample. [s]
    phase : float
        Sampling instant within it, 0 to 1. [1]
    clamp : tuple of int
        First sample of a line under the clamp, and the one after the last. [1]
    source_ohm : float
        Resistance that the input sees towards the cable, its own load included. [ohm]
    parts : Coupling
        What stands behind the input.

    Returns
    -------
    ndarray of float, shape (lines, samples)
        Voltage that goes on to the amplifier. [V]
    """
    _, charge_v = coupled_run(level_v[-_LINES_BEFORE:], 0.0, pixel_s, phase, clamp, source_ohm, parts)
    return coupled_run(level_v, charge_v, pixel_s, phase, clamp, source_ohm, parts)[0]


def coupled_run(
    level_v: Volts,
    start_v: float,
    pixel_s: float,
    phase: float,
    clamp: tuple[int, int],
    source_ohm: float,
    parts: Coupling,
) -> tuple[Volts, float]:
    """Voltage behind the coupling capacitor from a given charge on.

    Parameters
    ----------
    level_v : ndarray of float, shape (lines, samples)
        Voltage at the input with nothing behind it. [V]
    start_v : float
        Voltage across the capacitor before the first sample. [V]
    pixel_s : float
        Duration of a sample. [s]
    phase : float
        Sampling instant within it, 0 to 1. [1]
    clamp : tuple of int
        First sample of a line under the clamp, and the one after the last. [1]
    source_ohm : float
        Resistance that the input sees towards the cable, its own load included. [ohm]
    parts : Coupling
        What stands behind the input.

    Returns
    -------
    tuple
        Voltages, shape (lines, samples), and the voltage across the capacitor after the last sample. [V]

    References
    ----------
    [midpoint] One midpoint step a sample; the diode by Newton's method on w + ln w = a, its current with the resistance
    before it. The clamp is an exact exponential.
    """
    from scanloom.stages.picture._front_kernel import coupled

    made = np.empty_like(level_v)
    charge_v = coupled(
        level_v, start_v, pixel_s, phase, clamp[0], clamp[1], parts.coupling_f, source_ohm, parts.clamp_ohm,
        parts.leak_ohm, parts.diode_rail_v, parts.diode_ohm, parts.diode_scale_v, parts.diode_saturation_a, made,
    )  # fmt: skip
    return made, float(charge_v)


def after_overload(
    input_v: Volts, pixel_s: float, phase: float, share: float, tau_s: float, linear_v: float, start_v: float = 0.0
) -> Volts:
    """What an input stage makes of a signal that overloads it.

    Parameters
    ----------
    input_v : ndarray of float, shape (lines, samples)
        Input, standing still through each sample. [V]
    pixel_s : float
        Duration of a sample. [s]
    phase : float
        Sampling instant within it, 0 to 1. [1]
    share : float
        Part of the overload that stays behind for a while, above -1; below zero the stage comes back late. [1]
    tau_s : float
        Time constant of the recovery. [s]
    linear_v : float
        Level up to which the stage follows. [V]
    start_v : float
        What is left from before. [V]

    Returns
    -------
    ndarray of float, shape (lines, samples)
        Output at each sampling instant. [V]

    Raises
    ------
    ValueError
        If share, time or level are out of range.

    References
    ----------
    [recovery] State q with tau q' = share max(0, u - q - linear) - q, output min(u - q, linear), solved exactly; an
    assumption of this project, not a published model.
    """
    from scanloom.stages.picture._front_kernel import recovered

    if not (share > -1.0 and tau_s > 0.0 and linear_v > 0.0):
        raise ValueError(
            f"recovery of {share!r} in {tau_s!r} s above {linear_v!r} V: a share above -1, a time and a level above 0 "
            "are allowed; give such knobs"
        )
    made = np.empty_like(input_v)
    recovered(input_v, start_v, pixel_s, phase, share, tau_s, linear_v, made)
    return made


def converter_numbers(input_v: Volts, full_v: float, noise_lsb: float, seed: int) -> NDArray[np.uint8]:
    """Numbers that a converter of 256 steps gives.

    Parameters
    ----------
    input_v : ndarray of float, shape (lines, samples)
        Input. [V]
    full_v : float
        Level that gives 255. [V]
    noise_lsb : float
        Standard deviation of the noise. [LSB]
    seed : int
        Number that fixes the noise. [1]

    Returns
    -------
    ndarray of uint8, shape (lines, samples)
        Numbers, clipped to 0 and 255. [1]

    Raises
    ------
    ValueError
        If the full scale is not above zero, or the noise below it.
    """
    from scanloom.stages.picture._front_kernel import converted

    if not (full_v > 0.0 and noise_lsb >= 0.0):
        raise ValueError(
            f"converter of {full_v!r} V with {noise_lsb!r} LSB of noise: above 0 and from 0 is allowed; give such values"
        )
    made = np.empty(input_v.shape, dtype=np.uint8)
    converted(input_v, full_v, noise_lsb, seed, made)
    return made


def supply_sag(drawn_a: Volts, pixel_s: float, regulator_ohm: float, regulator_s: float, esr_ohm: float) -> Volts:
    """Sag of the pins' supply under the current of all channels, in the steady state of a standing picture.

    Parameters
    ----------
    drawn_a : ndarray of float, shape (pixels,)
        Current that the channels draw in each pixel of a frame, which repeats. [A]
    pixel_s : float
        Duration of a pixel. [s]
    regulator_ohm : float
        Load regulation. [ohm]
    regulator_s : float
        Time the regulator needs to follow. [s]
    esr_ohm : float
        Series resistance of the capacitors. [ohm]

    Returns
    -------
    ndarray of float, shape (pixels,)
        Sag below the rail. [V]

    Notes
    -----
    What the inductance of capacitors and package does lasts as long as an edge, and is over when a display samples.

    References
    ----------
    [sag] First order: load regulation times current, reached with the regulator's own time; the capacitors hold the
    rail until then, so that capacitance and time say the same thing.
    """
    from scanloom.stages.picture._front_kernel import sagging

    made = np.empty_like(drawn_a)
    keep = float(np.exp(-pixel_s / regulator_s))
    end_v = sagging(drawn_a, 0.0, keep, regulator_ohm, esr_ohm, made)
    sagging(drawn_a, end_v, keep, regulator_ohm, esr_ohm, made)
    return made
