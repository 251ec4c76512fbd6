"""What one pixel does at the display's sampling instants: the taps of a filter at pixel rate.

A driver that changes level at pixel edges only is a sum of steps, so the samples are exactly a sum over pixels of level
times tap. Nothing is lost by working at pixel rate; what is left out is the tail beyond the last tap, and its bound is
kept beside the taps.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from scanloom.basis.record import record
from scanloom.circuit.line import SHEET_HZ
from scanloom.circuit.response import StepResponse, response_at, step_response
from scanloom.circuit.signal_path import SignalPath, delayed, echo_transfers, path_step, settled_levels

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

MOST_TAPS = 512
"""Longest filter, in pixels. [1]"""

_SEEN = 1.25  # the response is computed this much beyond the taps, to bound what they leave out


@dataclass(frozen=True, slots=True, eq=False)
class PixelResponse:
    """Filter at pixel rate of one channel; the arrays cannot be written.

    A sample of pixel n is the sum over taps k of drive[n - first - k] times tap[k], for each leg.

    Parameters
    ----------
    first : int
        Pixel that the first tap belongs to, seen from the sampled one: -1 is the pixel that comes next. [px]
    tap : ndarray of float, shape (legs, taps)
        Volts at the load for a volt at the driver during one pixel. [1]
    slope : ndarray of float, shape (legs, taps)
        Derivative of each tap by the sampling instant, for jitter. [1/s]
    phase : float
        Where in the pixel the sample is taken, counted from the pixel's arrival; 0.5 is its middle. [1]
    pixel_s : float
        Length of a pixel. [s]
    settled : ndarray of float, shape (legs,)
        Level of a pixel that lasts for ever: the sum over all taps, those left out included. [1]
    left_out : float
        Bound on what the taps left out add up to, all legs together, for drives between 0 and 1 V. [1]
    error : float
        Estimate of the error of any tap. [1]
    """

    first: int
    tap: Floats
    slope: Floats
    phase: float
    pixel_s: float
    settled: Floats
    left_out: float
    error: float


@record
class Ghost:
    """One echo of a pixel.

    Parameters
    ----------
    delay_px : float
        How far behind the pixel it follows. [px]
    share : float
        Its peak over the pixel's own, negative for a dark one. [1]
    """

    delay_px: float
    share: float


@record
class PathFigures:
    """What the eye notices of one channel, all legs driven alike.

    Parameters
    ----------
    settled : float
        Steady volts at the load for each volt at the drivers. [1]
    contrast : float
        Swing of alternating pixels over that of wide areas, at the worst phase of the range asked for. [1]
    worst_phase : float
        Phase at which it is worst. [1]
    edge_s : float
        Time of an edge from 10 to 90 %. [s]
    ghosts : tuple of Ghost
        Echoes of more than a thousandth, the first to return first.
    """

    settled: float
    contrast: float
    worst_phase: float
    edge_s: float
    ghosts: tuple[Ghost, ...]


def driven_waveform(step: StepResponse, drive_v: ArrayLike, pixel_s: float, time_s: ArrayLike) -> Floats:
    """Voltage at the load while the drivers change level from pixel to pixel.

    Parameters
    ----------
    step : StepResponse
        Step response of each leg.
    drive_v : array_like of float, shape (pixels, legs)
        Voltage of each driver during each pixel; before the first all are at 0, after the last they stay. [V]
    pixel_s : float
        Length of a pixel. [s]
    time_s : array_like of float, shape (n,)
        Times since the first pixel's front arrives at the load. [s]

    Returns
    -------
    ndarray of float, shape (n,)
        Voltage at each time. [V]

    Raises
    ------
    ValueError
        If a time lies beyond the end of the step response.

    References
    ----------
    [superposition] A sum of edges, each the step response of its leg.
    """
    import numpy as np

    times = np.asarray(time_s, dtype=np.float64)
    edges = np.diff(np.atleast_2d(np.asarray(drive_v, dtype=np.float64)), axis=0, prepend=0.0)
    volts = np.zeros_like(times)
    for pixel in np.flatnonzero(edges.any(axis=1)):
        volts += edges[pixel] @ response_at(step, times - pixel * pixel_s)[0]
    return volts


def pixel_response(
    path: SignalPath,
    pixel_s: float,
    rise_s: float,
    phase: float = 0.5,
    tail: float = 1e-3,
    most_taps: int = MOST_TAPS,
) -> PixelResponse:
    """Filter at pixel rate of one channel, with as many taps as its tail asks for.

    Parameters
    ----------
    path : SignalPath
        The channel.
    pixel_s : float
        Length of a pixel. [s]
    rise_s : float
        Length of the drivers' edges, from 0 to 100 %, not above a pixel. [s]
    phase : float
        Where in the pixel the sample is taken; an edge starts at 0. [1]
    tail : float
        Share of the settled level that the taps left out may add up to. [1]
    most_taps : int
        Longest filter. Where it ends the taps early, `left_out` says what that costs. [1]

    Returns
    -------
    PixelResponse
        The taps; without line and capacitance a pixel's own tap and its neighbours.

    Raises
    ------
    ValueError
        If pixel or edge are out of range.

    Notes
    -----
    The bound counts every tap that was computed by its modulus, and beyond them the way that is left to the settled
    level: true where the response creeps up to it without swinging, as every passive line does once its echoes are
    gone.

    References
    ----------
    [superposition] A pixel is an edge up and, one pixel later, the same edge down.
    """
    import numpy as np

    _refuse_pixel(pixel_s, rise_s)
    first = min(-1, math.floor(-phase))
    taps = min(response_pixels(path, pixel_s, rise_s, tail), most_taps)
    close = min(2e-5, tail * sum(settled_levels(path)) / 10.0)
    while True:
        seen = math.ceil(taps * _SEEN) + 2
        step = path_step(path, rise_s, (seen + first + 1 + abs(phase)) * pixel_s, close)
        times = (np.arange(first, first + seen) + phase) * pixel_s
        level, slope = response_at(step, np.concatenate(([times[0] - pixel_s], times)))
        tap = np.diff(level, axis=1)
        # from tap k on: every tap seen by its modulus, then the rest of the way
        rest = np.abs(tap[:, ::-1]).cumsum(axis=1)[:, ::-1] + np.abs(level[:, -1:] - step.settled[:, None])
        left = rest.sum(axis=0)
        allowed = tail * float(step.settled.sum())
        enough = np.flatnonzero(left[: taps + 1] <= allowed)
        if enough.size or taps >= most_taps:
            count = max(int(enough[0]), 1 - first) if enough.size else taps
            kept, steep = tap[:, :count].copy(), np.diff(slope, axis=1)[:, :count].copy()
            for array in (kept, steep):
                array.setflags(write=False)
            return PixelResponse(first, kept, steep, phase, pixel_s, step.settled, float(left[count]), 2.0 * step.error)
        taps = min(2 * taps, most_taps)


def path_figures(
    path: SignalPath, pixel_s: float, rise_s: float, phases: tuple[float, float] = (0.5, 0.9), echoes: int = 3
) -> PathFigures:
    """Contrast, edge and ghosts of one channel.

    Parameters
    ----------
    path : SignalPath
        The channel.
    pixel_s : float
        Length of a pixel. [s]
    rise_s : float
        Length of the drivers' edges, from 0 to 100 %, not above a pixel. [s]
    phases : (float, float)
        Range in which the display may sample. [1]
    echoes : int
        How many echoes to look at. [1]

    Returns
    -------
    PathFigures
        All legs driven alike.

    Raises
    ------
    ValueError
        If pixel or edge are out of range.

    References
    ----------
    [contrast] abs(sum of taps with alternating sign) over the sum of all taps.
    """
    import numpy as np

    _refuse_pixel(pixel_s, rise_s)
    pixels = response_pixels(path, pixel_s, rise_s, 1e-3)
    step = path_step(path, rise_s, (pixels + 1) * pixel_s)
    settled = float(step.settled.sum())
    count = 41
    phase = np.linspace(phases[0], phases[1], count)
    times = (np.arange(pixels)[:, None] + phase[None, :]) * pixel_s
    level = response_at(step, times.ravel())[0].sum(axis=0).reshape(pixels, count)
    signs = np.where(np.arange(pixels) % 2, -1.0, 1.0)[:, None]
    # sum of (-1)^k (s_k - s_(k-1)) = 2 sum of (-1)^k s_k, its last term halved as the levels have settled by then
    swing = 2.0 * (signs * level).sum(axis=0) - signs[-1] * level[-1]
    contrast = np.abs(swing) / settled
    worst = int(contrast.argmin())
    return PathFigures(
        settled, float(contrast[worst]), float(phase[worst]), _edge(step), _ghosts(path, pixel_s, rise_s, echoes)
    )


def _ghosts(path: SignalPath, pixel_s: float, rise_s: float, echoes: int) -> tuple[Ghost, ...]:
    """Echoes of one pixel, each against the pixel's own arrival."""
    import numpy as np

    round_trip_s = 2.0 * path.length_m * path.line.delay_s_per_m
    if round_trip_s == 0.0 or echoes < 1:
        return ()
    until_s = echoes * round_trip_s + 6.0 * pixel_s
    arrivals = step_response(
        delayed(lambda p, s: echo_transfers(p, s, echoes), path), _echo_levels(path, echoes), rise_s, until_s, 1e-4
    )
    times = np.arange(arrivals.start_s, until_s, pixel_s / 32.0)
    pulse = response_at(arrivals, times)[0] - response_at(arrivals, times - pixel_s)[0]
    peak_at = np.abs(pulse).argmax(axis=1)
    own = pulse[0, peak_at[0]]
    shares = [float(pulse[m, peak_at[m]] / own) for m in range(1, echoes + 1)]
    return tuple(
        [Ghost((m + 1) * round_trip_s / pixel_s, share) for m, share in enumerate(shares) if abs(share) >= 1e-3]
    )


def _echo_levels(path: SignalPath, echoes: int) -> list[float]:
    """Steady level of each arrival, read at a frequency so low that only resistances count."""
    import numpy as np

    low = np.array([1e-3 + 0j])
    return [float(value) for value in echo_transfers(path, low, echoes)[:, 0].real]


def _edge(step: StepResponse) -> float:
    """Time from 10 to 90 % of the settled level, all legs together; last crossing of the one, first of the other."""
    import numpy as np

    level = step.level.sum(axis=0) / step.settled.sum()

    def crossing(at: float) -> float:
        after = int(np.argmax(level >= at))
        y0, y1 = level[after - 1], level[after]
        return float(after - 1 + (at - y0) / (y1 - y0))

    return (crossing(0.9) - crossing(0.1)) * step.step_s


def response_pixels(path: SignalPath, pixel_s: float, rise_s: float, tail: float) -> int:
    """Pixels after which a channel should have settled, from its echoes and its skin effect.

    Parameters
    ----------
    path : SignalPath
        The channel.
    pixel_s : float
        Length of a pixel. [s]
    rise_s : float
        Length of an edge. [s]
    tail : float
        Share of the settled level that may be left. [1]

    Returns
    -------
    int
        A guess, not a bound. [px]

    References
    ----------
    [skin] Far behind the front a step still lacks K l / (2 Z0) / sqrt(pi t), until direct-current resistance takes over.
    """
    round_trip_s = 2.0 * path.length_m * path.line.delay_s_per_m
    echoed = 8 + math.ceil((4.0 * round_trip_s + rise_s) / pixel_s)
    line = path.line
    k = line.skin_ohm_per_m / math.sqrt(math.pi * SHEET_HZ)
    lag = k * path.length_m / (2.0 * line.impedance_ohm) / math.sqrt(math.pi)
    ends = (line.resistance_ohm_per_m / k) ** 2 if k else 0.0
    taps = echoed
    while taps < MOST_TAPS and lag / math.sqrt(taps * pixel_s) * math.exp(-taps * pixel_s * ends) > tail:
        taps += 1 + taps // 8
    return min(taps, MOST_TAPS)


def _refuse_pixel(pixel_s: float, rise_s: float) -> None:
    """Refuse a pixel that its own edge does not fit into."""
    if not (0.0 <= rise_s <= pixel_s and 0.0 < pixel_s < math.inf):
        raise ValueError(
            f"edge of {rise_s!r} s in a pixel of {pixel_s!r} s: allowed is an edge from zero to one pixel; "
            "give a faster edge or a slower clock"
        )
