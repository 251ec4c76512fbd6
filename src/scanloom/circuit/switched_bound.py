"""How far samples computed with a mean resistance may be off, over all pictures there are.

The correction of `switched` is bounded at every instant of a pixel from what the linear path may show there, whatever
came before; the answer to that bound adds to itself until it is whole. Nothing is sampled and nothing is assumed of the
picture, so the bound is wide: a picture that reaches it would have to be unlucky in every pixel at once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from scanloom.circuit.pixel import response_pixels
from scanloom.circuit.pixel_grid import PixelGrid, pixel_grid
from scanloom.circuit.signal_path import SignalPath, legs_of_code
from scanloom.circuit.switched import mean_drive, pin_impedances, steady_impedances

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_MOST_ROUNDS = 300


def echo_bound(path: SignalPath, rail_v: float, pixel_s: float, rise_s: float, phase: float = 0.5) -> float:
    """Bound on the error of samples that are computed with mean resistances and the drive of `mean_drive`.

    Parameters
    ----------
    path : SignalPath
        The channel.
    rail_v : float
        Supply of the pins. [V]
    pixel_s : float
        Length of a pixel. [s]
    rise_s : float
        Length of an edge, from 0 to 100 %. [s]
    phase : float
        Where in the pixel the sample is taken. [1]

    Returns
    -------
    float
        Largest error of any sample of any picture; 0 where both states are alike, infinite where no bound is found. [V]

    Raises
    ------
    ValueError
        If pixel or edge are out of range, or the rail is not above zero.

    References
    ----------
    [small-gain] C. A. Desoer, M. Vidyasagar, "Feedback Systems: Input-Output Properties", 1975 (from memory): with a
    loop gain below one, the answer is bounded by the first guess over one minus the gain.
    """
    import numpy as np

    high = np.array([1.0 / leg.pin_high_ohm for leg in path.legs])
    low = np.array([1.0 / leg.pin_low_ohm for leg in path.legs])
    half = np.abs(high - low) / 2.0
    drive = mean_drive(path, rail_v)
    if not half.any():
        return 0.0
    pixels = response_pixels(path, pixel_s, rise_s, 1e-3) + 2
    first = _correction(path, rail_v, pixel_grid(pixel_s, rise_s, pixels + 1), pixels, drive)
    # a kernel fades, so it may be damped less, and its noise stays small up to the end
    grid = pixel_grid(pixel_s, rise_s, pixels, folded=1e-2)
    to_pins, to_load = pin_impedances(path, grid.s)
    pins, load = _kernels(to_pins, grid, pixels), _kernels(to_load, grid, pixels)
    turning = np.where(np.arange(grid.per_pixel) * grid.step_s < rise_s, 2.0 * grid.step_s / rise_s, 0.0)
    answer = _Bounds(np.zeros_like(first.most), np.zeros_like(first.change))
    for _ in range(_MOST_ROUNDS):
        # what the pins do beyond the linear path turns into more current as their conductance is off the mean
        forced = _Bounds(
            first.most + half[:, None] * answer.most,
            first.change + half[:, None] * (answer.change + turning * answer.most),
        )
        again = _Bounds(
            _folded(pins.even, forced.most) + _folded(pins.rough, forced.change), _folded(pins.whole, forced.change)
        )
        moved = float(np.abs(again.most - answer.most).max())
        answer = again
        if moved < 1e-6:
            error = _folded(load.even, forced.most) + _folded(load.rough, forced.change)
            at = phase % 1.0 * grid.per_pixel
            near = [int(at) % grid.per_pixel, (int(at) + 1) % grid.per_pixel]
            return float(error[near].max())
        if not answer.most.max() < 1e3 * rail_v:
            break
    return math.inf


@dataclass(frozen=True, slots=True, eq=False)
class _Bounds:
    """Bounds at each instant of a pixel, shape (legs, samples): of a waveform, and of its change to the next sample."""

    most: Floats
    change: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Kernels:
    """Moduli of impulse responses, folded onto one pixel: whole; evened out; and the sum of what evening out took off.

    A driver's correction changes slowly, and most of a sharp response cancels in it: what was evened out acts on the
    waveform, the rest only on its change.
    """

    whole: Floats
    even: Floats
    rough: Floats


def _kernels(transfer: NDArray[np.complex128], grid: PixelGrid, pixels: int) -> _Kernels:
    """Kernels of transfers of shape (..., frequencies); the last axis becomes the samples of a pixel."""
    import numpy as np

    cell = np.zeros(grid.per_pixel)
    cell[1] = 1.0  # not the first: half of its hat would lie before time zero
    # a correction runs straight between samples, so it is a sum of hats; the cosine keeps a cut spectrum from ringing
    hat = grid.spectrum(cell) * np.cos(np.linspace(0.0, np.pi / 2.0, len(grid.s))) ** 2
    width = max(round(grid.rise_s / grid.step_s), 1)
    answer = np.roll(grid.waveform(transfer * hat)[..., : pixels * grid.per_pixel], -1, axis=-1)
    answer[..., -1] = 0.0
    summed = answer.cumsum(axis=-1)
    before = np.concatenate((np.zeros((*summed.shape[:-1], width)), summed[..., :-width]), axis=-1)
    even = (summed - before) / width
    rough = (answer - even).cumsum(axis=-1)

    def folded(kernel: Floats) -> Floats:
        return np.asarray(np.abs(kernel).reshape(*kernel.shape[:-1], pixels, grid.per_pixel).sum(axis=-2))

    return _Kernels(folded(answer), folded(even), folded(rough))


def _folded(kernel: Floats, bound: Floats) -> Floats:
    """What bounds of all pins, alike in every pixel, come to behind kernels of shape (..., legs, samples)."""
    import numpy as np

    count = bound.shape[-1]
    return np.fft.irfft((np.fft.rfft(kernel) * np.fft.rfft(bound)).sum(axis=-2), count)


def _correction(path: SignalPath, rail_v: float, grid: PixelGrid, pixels: int, drive: Floats) -> _Bounds:
    """Largest correction, and change of it, at each instant of a pixel while pins follow the linear path."""
    import numpy as np

    bits, count = len(path.legs), grid.per_pixel
    mean_s = np.array([1.0 / leg.pin_ohm for leg in path.legs])
    steps = grid.waveform(pin_impedances(path, grid.s)[0] * mean_s[:, None] * grid.edge)
    # each pixel one sample longer, so that changes reach into the next
    at = np.arange(pixels)[:, None] * count + np.arange(count + 1)
    taps = np.diff(steps[..., at], axis=2, prepend=0.0)
    # pins by code of the pixel k back: (legs, pixels, codes, samples)
    shown = np.einsum("ijkt,cj->ikct", taps, drive)
    steady = np.einsum("ij,cj->ic", steady_impedances(path) * mean_s, drive)
    rest = np.abs(steady - np.einsum("ij,cj->ic", steps[..., pixels * count], drive)).max(axis=1)
    older = shown[:, 2:]
    older_high, older_low = older.max(axis=2).sum(axis=1) + rest[:, None], older.min(axis=2).sum(axis=1) - rest[:, None]
    older_change = np.abs(np.diff(older, axis=-1)).max(axis=2).sum(axis=1)
    share = np.minimum(np.arange(count + 1) * grid.step_s / grid.rise_s, 1.0)
    on = legs_of_code(bits)
    most, change = np.zeros((bits, count)), np.zeros((bits, count))
    for leg in range(bits):

        def edged(levels: Floats) -> Floats:  # (earlier code, code, samples)
            return np.asarray(levels[:, None, None] + (levels[None, :] - levels[:, None])[:, :, None] * share)

        g = edged(np.where(on[:, leg], 1.0 / path.legs[leg].pin_high_ohm, 1.0 / path.legs[leg].pin_low_ohm))
        e = edged(np.where(on[:, leg], rail_v, 0.0))
        extra = g - mean_s[leg]
        known = g * e - mean_s[leg] * edged(drive[:, leg]) - extra * (shown[leg, 0][None] + shown[leg, 1][:, None])
        low, high = known - extra * older_low[leg], known - extra * older_high[leg]
        most[leg] = np.maximum(np.abs(low), np.abs(high)).max(axis=(0, 1))[:count]
        widest = np.maximum(np.abs(older_low[leg]), np.abs(older_high[leg]))
        change[leg] = (
            np.abs(np.diff(known)) + np.abs(extra[..., 1:]) * older_change[leg] + np.abs(np.diff(extra)) * widest[:-1]
        ).max(axis=(0, 1))
    return _Bounds(most, change)
