"""From settled levels to samples: the filter at pixel rate, and how instants and edges stray."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from scanloom.stages.picture.effects import Effects
from scanloom.stages.picture.model import FrontEnd
from scanloom.stages.picture.response import SampledResponse

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanloom.stages.timing import RasterTiming

    Volts = NDArray[np.float64]

_STILL = 1e-6  # slopes that move a sample by less than this share of its level are left out


@dataclass(frozen=True, slots=True, eq=False)
class Shift:
    """How the sampling instants stray from the pixels' edges.

    Parameters
    ----------
    jitter_s : float
        Standard deviation of the display's own instants. [s]
    late_s : ndarray of float, shape (1 or lines, pixels)
        How late each pixel of the raster begins. [s]
    seed : int
        Number that fixes the chance. [1]
    """

    jitter_s: float
    late_s: Volts
    seed: int

    @property
    def most_s(self) -> float:
        """Farthest that an instant is likely to stray [s]."""
        return 4.0 * self.jitter_s + float(np.abs(self.late_s).max())


def divider_lateness(source_clocks: Fraction, pixels: int) -> Volts:
    """How late each pixel begins that a fractional divider puts on source clocks, against the even ones of its mean.

    Parameters
    ----------
    source_clocks : Fraction
        Source clocks of a pixel, D. [1]
    pixels : int
        How many pixels. [1]

    Returns
    -------
    ndarray of float, shape (pixels,)
        Lateness about its mean, in pixels. [1]

    References
    ----------
    [accumulator] Edge k falls at floor(k D), as in the clock stage.
    """
    p, q = source_clocks.numerator, source_clocks.denominator
    behind = (np.arange(pixels, dtype=np.int64) * p) % q
    return ((q - 1) / 2.0 - behind) / p


def sample_shift(
    effects: Effects, front: FrontEnd, seed: int, raster: RasterTiming, late_px: Volts | None
) -> Shift | None:
    """How samples stray, if they do.

    Parameters
    ----------
    effects : Effects
        Whether jitter counts.
    front : FrontEnd
        Its size.
    seed : int
        Number that fixes the chance. [1]
    raster : RasterTiming
        The raster as really made.
    late_px : ndarray of float or None
        Lateness of each pixel, from `divider_lateness`, in pixels. [1]

    Returns
    -------
    Shift or None
        None when every sample falls where it should.
    """
    jitter_s = front.jitter_s if effects.jitter else 0.0
    if late_px is None:
        return Shift(jitter_s, np.zeros((1, raster.h.total_px)), seed) if jitter_s else None
    return Shift(jitter_s, late_px.reshape(-1, raster.h.total_px) * raster.pixel_s, seed)


def sample_input(
    sent_v: Volts,
    response: SampledResponse,
    pixel: NDArray[np.int64],
    which: NDArray[np.int64],
    shift: Shift | None = None,
) -> Volts:
    """Voltage at the input at each sampling instant.

    Parameters
    ----------
    sent_v : ndarray of float, shape (lines, pixels)
        Settled level of each pixel; the frame repeats. [V]
    response : SampledResponse
        The filter.
    pixel : ndarray of int, shape (samples,)
        Pixel of the line that each sample falls into. [1]
    which : ndarray of int, shape (samples,)
        Which of the filter's phases it has. [1]
    shift : Shift or None
        How samples stray from their instants.

    Returns
    -------
    ndarray of float, shape (lines, samples)
        Voltage at the load. [V]

    References
    ----------
    [superposition] Exact at pixel rate for a driver that changes at pixel edges; a small shift by the slope.
    """
    made = _filtered(sent_v, response.share * response.gain, response.first, pixel, which)
    if shift is None:
        return made
    kept = np.flatnonzero(np.abs(response.steepness).max(axis=0) * shift.most_s > _STILL)
    if kept.size:
        from scanloom.stages.picture._front_kernel import jittered

        steep = response.steepness[:, kept[0] : kept[-1] + 1] * response.gain
        slope = _filtered(sent_v, steep, response.first + int(kept[0]), pixel, which)
        jittered(made, slope, shift.late_s[:, pixel], shift.jitter_s, shift.seed)
    return made


def _filtered(sent_v: Volts, share: Volts, first: int, pixel: NDArray[np.int64], which: NDArray[np.int64]) -> Volts:
    """Sum over pixels of level times tap, the frame going round."""
    from scanloom.stages.picture._sample_kernel import sampled_evenly, sampled_freely

    lines, line_px = sent_v.shape
    phases, taps = share.shape
    flat = np.ascontiguousarray(sent_v).reshape(-1)
    # sample n takes pixel n - first - k for tap k; rolled by first, that is pixel n - k
    padded = np.concatenate((np.take(flat, np.arange(-taps + 1 - first, -first), mode="wrap"), np.roll(flat, first)))
    before = taps - 1
    share = np.ascontiguousarray(share)
    if phases * line_px == pixel.size:
        even = np.empty((lines, line_px, phases))
        sampled_evenly(padded, share, before, line_px, even)
        return even.reshape(lines, -1)
    made = np.empty((lines, pixel.size))
    sampled_freely(padded, share, before, line_px, pixel, which, made)
    return made
