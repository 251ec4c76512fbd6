"""A run of pixels on evenly spaced samples, and its damped Fourier transform: a whole number of samples a pixel."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from scanloom.circuit.response import good_length

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Complexes = NDArray[np.complex128]

_FOLDED = 1e-6  # as in `response`: weight of what lies beyond the window
_USED = 0.9


@dataclass(frozen=True, slots=True, eq=False)
class PixelGrid:
    """Samples of a run of pixels, and the complex frequencies that belong to them.

    Parameters
    ----------
    per_pixel : int
        Samples in a pixel. [samples]
    step_s : float
        Time between samples. [s]
    points : int
        Length of the transform. [samples]
    sigma : float
        Damping. [Hz]
    s : ndarray of complex, shape (points // 2 + 1,)
        Complex frequencies. [Hz]
    edge : ndarray of complex, shape (points // 2 + 1,)
        Spectrum of one edge of the drivers. [s]
    rise_s : float
        Length of an edge. [s]
    """

    per_pixel: int
    step_s: float
    points: int
    sigma: float
    s: Complexes
    edge: Complexes
    rise_s: float

    def spectrum(self, values: Floats) -> Complexes:
        """Spectrum of a waveform that runs straight between its samples.

        Parameters
        ----------
        values : ndarray of float, shape (..., samples)
            The samples; zero beyond them. [unit]

        Returns
        -------
        ndarray of complex, shape (..., points // 2 + 1)
            Its spectrum. [unit]
        """
        import numpy as np

        damped = values * np.exp(-self.sigma * self.step_s * np.arange(values.shape[-1]))
        cell = self.s * self.step_s
        straight = -np.expm1(-cell) * np.expm1(cell) / cell**2
        return np.asarray(np.fft.rfft(damped, self.points, axis=-1) * (straight * self.step_s))

    def waveform(self, spectrum: Complexes) -> Floats:
        """Samples of a waveform.

        Parameters
        ----------
        spectrum : ndarray of complex, shape (..., points // 2 + 1)
            Its spectrum. [unit]

        Returns
        -------
        ndarray of float, shape (..., points)
            The samples; those near the end are not to be trusted. [unit]
        """
        import numpy as np

        grown = np.exp(self.sigma * self.step_s * np.arange(self.points)) / self.step_s
        return np.asarray(np.fft.irfft(spectrum, self.points, axis=-1) * grown)


def pixel_grid(pixel_s: float, rise_s: float, pixels: int, folded: float = _FOLDED) -> PixelGrid:
    """Samples close enough for the edges of a driver.

    Parameters
    ----------
    pixel_s : float
        Length of a pixel. [s]
    rise_s : float
        Length of an edge, from 0 to 100 %. [s]
    pixels : int
        How many pixels. [px]
    folded : float
        Weight of what lies beyond the window; what is cut off the spectrum grows by the inverse towards its end. [1]

    Returns
    -------
    PixelGrid
        Samples, twenty or more in an edge.

    Raises
    ------
    ValueError
        If pixel or edge are out of range.
    """
    import numpy as np

    if not (0.0 < rise_s <= pixel_s < math.inf and pixels > 0):
        raise ValueError(
            f"edge of {rise_s!r} s in {pixels} pixels of {pixel_s!r} s: allowed is an edge above zero and up to one "
            "pixel, and a pixel at least; give the driver's real edge"
        )
    per_pixel = math.ceil(pixel_s / (rise_s / 20.0))
    step_s = pixel_s / per_pixel
    points = good_length(pixels * per_pixel / _USED)
    sigma = -math.log(folded) / (points * step_s)
    s = np.asarray(sigma + 2j * np.pi / (points * step_s) * np.arange(points // 2 + 1), dtype=np.complex128)
    return PixelGrid(per_pixel, step_s, points, sigma, s, -np.expm1(-s * rise_s) / (s * rise_s) / s, rise_s)
