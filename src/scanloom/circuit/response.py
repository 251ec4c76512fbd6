"""Step responses of linear networks from their transfer functions, by a damped inverse Fourier transform.

The transfer function is taken on the line s = sigma + j omega instead of on the axis. What lies beyond the window then
folds back into it weakened by exp(-sigma window), so that a skin effect's endless tail does no harm. A smooth curve
that ends at the same level is taken off first and put back in closed form; what remains fades away.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]
    Complexes = NDArray[np.complex128]

MOST_POINTS = 1 << 17
"""Longest transform, in samples. [1]"""

_FOLDED = 1e-5  # how far what lies beyond the window is weakened; rounding grows by as much towards its end
_USED = 0.9  # share of the window that is used: what is cut off the spectrum also shows at the very end
_ORDER = 6  # of the smooth curve: its spectrum falls with this power, well before the cut
_SHORTEST = 4000.0  # an edge of no length lasts this part of the whole time
_LEAD = 8  # samples before the front, where the answer is still zero


@dataclass(frozen=True, slots=True, eq=False)
class StepResponse:
    """What each output does after one edge of one volt at time zero; the arrays cannot be written.

    Parameters
    ----------
    start_s : float
        Time of the first sample, a little before zero. [s]
    step_s : float
        Time between samples. [s]
    level : ndarray of float, shape (outputs, samples)
        Volts for each volt of the edge. [1]
    slope : ndarray of float, shape (outputs, samples)
        Derivative of the level. [1/s]
    settled : ndarray of float, shape (outputs,)
        Where each level ends. [1]
    rise_s : float
        How long the edge lasts, from 0 to 100 %. [s]
    error : float
        Estimate of the largest error of a level: what was cut off the spectrum, what folded back, and what a cubic between
        samples misses. [1]
    """

    start_s: float
    step_s: float
    level: Floats
    slope: Floats
    settled: Floats
    rise_s: float
    error: float

    @property
    def end_s(self) -> float:
        """Time of the last sample, in seconds."""
        return self.start_s + self.step_s * (int(self.level.shape[1]) - 1)


def step_response(
    transfer: Callable[[Complexes], Complexes],
    settled: ArrayLike,
    rise_s: float,
    until_s: float,
    tolerance: float = 2e-5,
) -> StepResponse:
    """Step response of a network with a straight edge of given length.

    Parameters
    ----------
    transfer : callable
        Volts at each output for a volt at the input, shape (outputs, n), at complex frequencies of shape (n,). The
        delay that the front needs is taken out, so that nothing happens before time zero.
    settled : array_like of float, shape (outputs,)
        The same at frequency zero. [1]
    rise_s : float
        How long the edge lasts, from 0 to 100 %; zero or more, where zero counts as a four-thousandth of the whole time,
        since no samples show a jump. [s]
    until_s : float
        Time up to which the response is wanted. [s]
    tolerance : float
        Error wanted; samples are made closer until the estimate falls below it, or there are `MOST_POINTS`. [1]

    Returns
    -------
    StepResponse
        Level and slope at evenly spaced times. [1]

    Raises
    ------
    ValueError
        If a time is negative, or no time is asked for.

    References
    ----------
    [laplace] D. J. Wilcox, "Numerical Laplace Transformation and Inversion", Int. J. Electrical Engineering Education
    15, 1978, pages 247 to 265 (from memory): choice of the damping.
    """
    import numpy as np

    if not (0.0 <= rise_s < math.inf and 0.0 < until_s < math.inf):
        raise ValueError(f"edge of {rise_s!r} s seen for {until_s!r} s: allowed are zero or more, and above zero")
    edge_s = rise_s or until_s / _SHORTEST
    final = np.atleast_1d(np.asarray(settled, dtype=np.float64))
    points = min(good_length(max(512.0, until_s / _USED / (edge_s / 16.0))), MOST_POINTS)
    while True:
        found, cut = _transformed(transfer, final, edge_s, until_s, points)
        if cut <= tolerance or points >= MOST_POINTS:
            return found
        # the spectrum falls with the square at least, and with the fourth power where there are capacitances
        grown = points * (1.6 if cut < 4.0 * tolerance else 2.5 if cut < 32.0 * tolerance else 4.0)
        points = min(good_length(grown), MOST_POINTS)


def response_at(step: StepResponse, time_s: ArrayLike) -> tuple[Floats, Floats]:
    """Level and slope of a step response at any times.

    Parameters
    ----------
    step : StepResponse
        The response.
    time_s : array_like of float, shape (n,)
        Times up to the end of the response; before its start all is zero. [s]

    Returns
    -------
    tuple of ndarray of float, shape (outputs, n)
        Level and slope. [1, 1/s]

    Raises
    ------
    ValueError
        If a time lies beyond the end.

    References
    ----------
    [hermite] Cubic through levels and slopes at both neighbours.
    """
    import numpy as np

    wanted = np.asarray(time_s, dtype=np.float64)
    place = (wanted - step.start_s) / step.step_s
    last = step.level.shape[1] - 1
    if wanted.size and place.max() > last * (1.0 + 1e-12):
        raise ValueError(f"time {wanted.max():.4g} s: the response ends at {step.end_s:.4g} s; compute it for longer")
    at = np.clip(place.astype(np.int64), 0, last - 1)
    x = np.maximum(place - at, 0.0)
    y0, y1 = step.level[:, at], step.level[:, at + 1]
    d0, d1 = step.slope[:, at] * step.step_s, step.slope[:, at + 1] * step.step_s
    bend, turn = 3.0 * (y1 - y0) - 2.0 * d0 - d1, 2.0 * (y0 - y1) + d0 + d1
    before = wanted < step.start_s
    level = np.where(before, 0.0, y0 + x * (d0 + x * (bend + x * turn)))
    slope = np.where(before, 0.0, (d0 + x * (2.0 * bend + 3.0 * x * turn)) / step.step_s)
    return level, slope


def _transformed(
    transfer: Callable[[Complexes], Complexes], final: Floats, rise_s: float, until_s: float, points: int
) -> tuple[StepResponse, float]:
    """Step response from one transform of a given length, and the part of its error that more samples would mend."""
    import numpy as np

    used = int(points * _USED)
    step_s = until_s / (used - 2 * _LEAD)
    window_s = step_s * points
    sigma = -math.log(_FOLDED) / window_s
    s = np.asarray(sigma + 2j * np.pi / window_s * np.arange(points // 2 + 1), dtype=np.complex128)
    lead_s = _LEAD * step_s
    edge = -np.expm1(-s * rise_s) / (s * rise_s)
    smooth_rate = 0.1 / step_s
    # the slope's spectrum; the level's is that over s
    spectrum = transfer(s) * edge - final[:, None] * (smooth_rate / (s + smooth_rate)) ** _ORDER
    tail = np.abs(spectrum / s)
    both = np.concatenate((spectrum / s, spectrum)) * np.exp(-s * lead_s)
    times = step_s * np.arange(used, dtype=np.float64)
    after_s = times - lead_s
    answer = np.fft.irfft(both, points, axis=1)[:, :used] * (np.exp(sigma * times) / step_s)
    curve, rate = _smooth(smooth_rate, after_s)
    level = answer[: len(final)] + final[:, None] * curve
    slope = answer[len(final) :] + final[:, None] * rate
    for array in (level, slope):
        array.setflags(write=False)
    left_over = float(np.abs(level[:, -1] - final).max())
    cut = _cut_error(tail, float(s[-1].imag)) + _between_error(level, slope * step_s)
    return StepResponse(-lead_s, step_s, level, slope, final, rise_s, cut + _FOLDED * left_over), cut


def good_length(points: float) -> int:
    """Smallest length of a fast transform that is not below a wish.

    Parameters
    ----------
    points : float
        Length wanted, one or more. [samples]

    Returns
    -------
    int
        Five eighths, three quarters or the whole of a power of two. [samples]
    """
    power = 1 << math.ceil(math.log2(points))
    return next(n for n in (power * 5 // 8, power * 3 // 4, power) if n >= points)


def _smooth(rate: float, time_s: Floats) -> tuple[Floats, Floats]:
    """A smooth curve from 0 to 1 and its derivative: a chain of equal first-order lags after an ideal step."""
    import numpy as np

    x = np.maximum(rate * time_s, 0.0)
    fade = np.exp(-x)
    term = fade.copy()
    total = fade.copy()
    for k in range(1, _ORDER):
        term = term * x / k
        total = total + term
    return 1.0 - total, rate * term


def _between_error(level: Floats, slope: Floats) -> float:
    """Error of the cubic between samples: what it makes of every other sample, less for the closer neighbours."""
    import numpy as np

    y0, middle, y1 = level[:, :-2:2], level[:, 1:-1:2], level[:, 2::2]
    d0, d1 = slope[:, :-2:2], slope[:, 2::2]
    count = min(y0.shape[1], y1.shape[1])
    guess = (y0[:, :count] + y1[:, :count]) / 2.0 + (d0[:, :count] - d1[:, :count]) / 4.0
    return float(np.abs(guess - middle[:, :count]).max()) / 8.0  # 16 where all is smooth


def _cut_error(tail: Floats, omega: float) -> float:
    """Integral over the spectrum beyond the cut, its fall judged from the last octave."""
    count = tail.shape[1]
    early = float(tail[:, count // 2 : count // 2 + count // 16].max())
    late = float(tail[:, count - count // 16 :].max())
    if late == 0.0:
        return 0.0
    power = max(math.log2(early / late) if early > late else 0.0, 1.5)
    return late * omega / (math.pi * (power - 1.0))
