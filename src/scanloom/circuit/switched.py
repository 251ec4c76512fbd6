"""Drivers whose resistance depends on their state: what a mean resistance leaves out, computed edge by edge.

Each pin brings the current g (e - v) to its node, with g its conductance and e its open voltage, both of which move from
one state to the next during an edge. Written as g0 e + c with a fixed g0, it is the linear path of `signal_path` and a
correction c that depends on the answer itself. Putting the answer in again and again converges: with g0 in the middle
between both states, each round shrinks the error by (g_high - g_low) / (g_high + g_low) at least, since no passive
network answers a current with more than current over g0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from scanloom.circuit.line import front_delay, line_waves
from scanloom.circuit.pixel_grid import PixelGrid, pixel_grid
from scanloom.circuit.signal_path import SignalPath, legs_of_code

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]
    Complexes = NDArray[np.complex128]

_CLOSE = 1e-7  # volts at which the rounds end
_MOST_ROUNDS = 400


def mean_drive(path: SignalPath, rail_v: float) -> Floats:
    """Driver voltages with which the path of mean resistances has the exact steady level of every code.

    Parameters
    ----------
    path : SignalPath
        The channel.
    rail_v : float
        Supply of the pins. [V]

    Returns
    -------
    ndarray of float, shape (codes, legs)
        Voltage for each code from code 0, legs most significant first; the rail, or 0, where both states are alike. [V]

    Raises
    ------
    ValueError
        If the rail is not above zero.

    References
    ----------
    [thevenin] A pin of resistance R and current I looks from outside like one of R0 with I (R0 - R) more behind it.
    """
    import numpy as np

    if not 0.0 < rail_v < math.inf:
        raise ValueError(f"rail_v: {rail_v!r}; allowed is above zero; give the supply of the pins")
    pins = _pins(path)
    on = legs_of_code(len(path.legs))
    conductance = np.where(on, pins.high_s, pins.low_s)
    volt = np.where(on, rail_v, 0.0)
    steady = steady_impedances(path)
    drive = np.empty_like(volt)
    for code in range(len(volt)):
        extra = conductance[code] - pins.mean_s
        pin_v = np.linalg.solve(np.eye(len(extra)) + steady * extra, steady @ (conductance[code] * volt[code]))
        drive[code] = (conductance[code] * volt[code] - extra * pin_v) / pins.mean_s
    drive.setflags(write=False)
    return drive


def switched_samples(
    path: SignalPath, rail_v: float, codes: ArrayLike, pixel_s: float, rise_s: float, phase: float = 0.5
) -> Floats:
    """Samples at the load, every edge with the resistances that its pins really have.

    Parameters
    ----------
    path : SignalPath
        The channel.
    rail_v : float
        Supply of the pins. [V]
    codes : array_like of int, shape (pixels,)
        Code of each pixel; before the first all pins are low. [1]
    pixel_s : float
        Length of a pixel. [s]
    rise_s : float
        Length of an edge, from 0 to 100 %; conductance and open voltage move evenly. [s]
    phase : float
        Where in the pixel a sample is taken. [1]

    Returns
    -------
    ndarray of float, shape (pixels,)
        Voltage of each pixel, counted from its own arrival. [V]

    Raises
    ------
    ValueError
        If pixel or edge are out of range, or a code has more bits than the path.

    References
    ----------
    [relaxation] J. White, A. Sangiovanni-Vincentelli, "Relaxation Techniques for the Simulation of VLSI Circuits",
    1987 (from memory): a whole waveform is put in again until it no longer changes.
    """
    import numpy as np

    told = np.asarray(codes, dtype=np.int64)
    grid = pixel_grid(pixel_s, rise_s, len(told))
    volts = _load_waveform(path, rail_v, told, grid, phase)
    return np.ascontiguousarray(volts[: len(told) * grid.per_pixel : grid.per_pixel])


def switched_waveform(
    path: SignalPath, rail_v: float, codes: ArrayLike, pixel_s: float, rise_s: float
) -> tuple[Floats, Floats]:
    """The whole waveform at the load, every edge with the resistances that its pins really have.

    Parameters
    ----------
    path : SignalPath
        The channel.
    rail_v : float
        Supply of the pins. [V]
    codes : array_like of int, shape (pixels,)
        Code of each pixel; before the first all pins are low. [1]
    pixel_s : float
        Length of a pixel. [s]
    rise_s : float
        Length of an edge, from 0 to 100 %. [s]

    Returns
    -------
    tuple of ndarray of float, shape (samples,)
        Times since the first pixel's front arrives, and voltages. [s, V]

    Raises
    ------
    ValueError
        If pixel or edge are out of range, or a code has more bits than the path.

    References
    ----------
    [relaxation] As for `switched_samples`.
    """
    import numpy as np

    told = np.asarray(codes, dtype=np.int64)
    grid = pixel_grid(pixel_s, rise_s, len(told))
    volts = _load_waveform(path, rail_v, told, grid, 0.0)[: len(told) * grid.per_pixel]
    return np.asarray(grid.step_s * np.arange(len(volts)), dtype=np.float64), volts


def pin_impedances(path: SignalPath, s: Complexes) -> tuple[Complexes, Complexes]:
    """Answer of the path of mean resistances to a current into one of its pins.

    Parameters
    ----------
    path : SignalPath
        The channel.
    s : ndarray of complex, shape (n,)
        Complex frequencies with a real part of zero or more, none of them zero. [Hz]

    Returns
    -------
    tuple of ndarray of complex, shape (legs, legs, n) and (legs, n)
        Voltage at each pin (first axis) for a current into each (second), and voltage at the load with the cable's
        delay taken out. [ohm, ohm]

    References
    ----------
    [nodal] Admittance matrix of the taps; the line by its reflections.
    """
    import numpy as np

    legs = path.legs
    taps = len(legs) if path.rung_ohm else 1
    at = np.arange(len(legs)) if path.rung_ohm else np.zeros(len(legs), dtype=np.int64)
    part = np.array([leg.part_ohm for leg in legs])
    behind = np.array([1.0 / leg.pin_ohm for leg in legs])[:, None] + np.array([leg.pad_f for leg in legs])[:, None] * s
    out = 1.0 / (1.0 + part[:, None] * behind)
    gamma, impedance = line_waves(path.line, s)
    gamma_l = gamma * path.length_m
    far = 2.0 / (1.0 + impedance * (1.0 / path.load_ohm + s * path.load_f))  # 1 + reflection of the load
    back = (far - 1.0) * np.exp(-2.0 * gamma_l)
    matrix = np.zeros((len(s), taps, taps), dtype=np.complex128)
    for leg, tap in enumerate(at):
        matrix[:, tap, tap] += behind[leg] * out[leg]
    for rung, ohm in enumerate(path.rung_ohm):
        matrix[:, rung : rung + 2, rung : rung + 2] += np.array([[1.0, -1.0], [-1.0, 1.0]]) / ohm
    if path.terminator_ohm is not None:
        matrix[:, -1, -1] += 1.0 / path.terminator_ohm
    shunt_s = 0.0 if path.shunt_ohm is None else 1.0 / path.shunt_ohm
    matrix[:, 0, 0] += shunt_s + s * path.connector_f + (1.0 - back) / (1.0 + back) / impedance
    solved = np.moveaxis(np.linalg.inv(matrix) if taps > 1 else 1.0 / matrix, 0, -1)
    pins = out[:, None] * out[None, :] * solved[at[:, None], at[None, :]]
    for leg in range(len(legs)):
        pins[leg, leg] += part[leg] * out[leg]
    # what starts at the connector arrives as the voltage wave there, without the part that came back
    reach = far * np.exp(s * front_delay(path.line, path.length_m) - gamma_l) / (1.0 + back)
    return pins, out * solved[0, at] * reach


def steady_impedances(path: SignalPath) -> Floats:
    """Steady voltage at each pin for a steady current into each, in the path of mean resistances.

    Parameters
    ----------
    path : SignalPath
        The channel.

    Returns
    -------
    ndarray of float, shape (legs, legs)
        Voltage at each pin (first axis) for a current into each (second). [ohm]

    References
    ----------
    [nodal] As `pin_impedances`, so slow that only resistances count.
    """
    import numpy as np

    return np.ascontiguousarray(pin_impedances(path, np.array([1e-3 + 0j]))[0][:, :, 0].real)


@dataclass(frozen=True, slots=True, eq=False)
class _Pins:
    """Conductances of all pins of a path: high, low, and the mean that stands for both."""

    high_s: Floats
    low_s: Floats
    mean_s: Floats


def _pins(path: SignalPath) -> _Pins:
    """Conductances of a path's pins."""
    import numpy as np

    high = np.array([1.0 / leg.pin_high_ohm for leg in path.legs])
    low = np.array([1.0 / leg.pin_low_ohm for leg in path.legs])
    return _Pins(high, low, (high + low) / 2.0)


def _load_waveform(path: SignalPath, rail_v: float, codes: NDArray[np.int64], grid: PixelGrid, phase: float) -> Floats:
    """Voltage at the load on the grid, shifted by a phase."""
    import numpy as np

    bits = len(path.legs)
    if codes.ndim != 1 or codes.size == 0 or codes.min() < 0 or codes.max() >= 1 << bits:
        raise ValueError(f"codes: allowed are 0 to {(1 << bits) - 1} for {bits} legs; give one a pixel")
    pins = _pins(path)
    drive = mean_drive(path, rail_v)[codes]
    samples = len(codes) * grid.per_pixel
    # impulses at the pixel edges; the spectrum of an edge turns each into one
    train = np.zeros((bits, samples))
    train[:, :: grid.per_pixel] = np.diff(drive, axis=0, prepend=0.0).T
    damped = train * np.exp(-grid.sigma * grid.step_s * np.arange(samples))
    linear = pins.mean_s[:, None] * np.fft.rfft(damped, grid.points, axis=1) * grid.edge
    to_pins, to_load = pin_impedances(path, grid.s)
    correction = np.zeros_like(linear)
    if (pins.high_s != pins.low_s).any():
        on = legs_of_code(bits)[codes]
        conductance = np.where(on, pins.high_s, pins.low_s)
        first = np.where(legs_of_code(bits)[0], pins.high_s, pins.low_s)
        g = _edged(conductance, grid, first)
        e = _edged(np.where(on, rail_v, 0.0), grid)
        fixed = g * e - pins.mean_s[:, None] * _edged(drive, grid)
        pin_v = grid.waveform((to_pins * linear[None]).sum(axis=1))[:, :samples]
        for _ in range(_MOST_ROUNDS):
            correction = grid.spectrum(fixed - (g - pins.mean_s[:, None]) * pin_v)
            again = grid.waveform((to_pins * (linear + correction)[None]).sum(axis=1))[:, :samples]
            moved = float(np.abs(again - pin_v).max())
            pin_v = again
            if moved < _CLOSE:
                break
    shift = np.exp(grid.s * (phase * grid.per_pixel * grid.step_s))
    return grid.waveform((to_load * (linear + correction)).sum(axis=0) * shift)


def _edged(levels: Floats, grid: PixelGrid, before: Floats | float = 0.0) -> Floats:
    """Levels of shape (pixels, legs) on the grid, each reached by a straight edge from the one before: (legs, samples)."""
    import numpy as np

    earlier = np.concatenate((np.broadcast_to(before, levels[:1].shape), levels[:-1]))
    share = np.minimum(np.arange(grid.per_pixel) * grid.step_s / grid.rise_s, 1.0)
    run = earlier[:, :, None] + (levels - earlier)[:, :, None] * share
    return np.ascontiguousarray(np.moveaxis(run, 1, 0)).reshape(levels.shape[1], -1)
