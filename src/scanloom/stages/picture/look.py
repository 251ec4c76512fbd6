"""Ways to look at a shown picture: at the panel's size, against the ideal, as a histogram, under a loupe."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scanloom.basis.record import record
from scanloom.stages.picture.model import ShownPicture

if TYPE_CHECKING:
    from numpy.typing import NDArray


@record
class Difference:
    """How far one picture is from another, in steps of 255.

    Parameters
    ----------
    mean : float
        Mean distance over all samples and colours. [1]
    worst : int
        Largest distance. [1]
    share : float
        Share of samples that differ by more than eight steps in any colour. [1]
    """

    mean: float
    worst: int
    share: float


def on_panel(native: NDArray[np.uint8], panel: tuple[int, int]) -> NDArray[np.uint8]:
    """Picture stretched onto a panel: whole multiples repeat, anything else blends the two nearest, down and across.

    Parameters
    ----------
    native : ndarray of uint8, shape (lines, samples, 3)
        Picture as sampled. [1]
    panel : tuple of int
        Pixels and rows of the panel. [1]

    Returns
    -------
    ndarray of uint8, shape (rows, pixels, 3)
        Picture as lit. [1]

    Raises
    ------
    ValueError
        If the panel has no pixel.

    Notes
    -----
    Makers do not publish their scalers; between whole multiples this one is the plainest that blends.
    """
    width, height = panel
    if width < 1 or height < 1:
        raise ValueError(f"panel of {width}x{height}: 1x1 and more are allowed; give its pixels by its rows")
    made = _stretched(native.astype(np.float32), height, 0)
    return np.round(_stretched(made, width, 1)).astype(np.uint8)


def difference(shown: ShownPicture, ideal: ShownPicture) -> Difference:
    """How far a picture is from another of the same display, such as the one with all effects off.

    Parameters
    ----------
    shown : ShownPicture
        The picture.
    ideal : ShownPicture
        What it should be.

    Returns
    -------
    Difference
        In steps of the converter.

    Raises
    ------
    ValueError
        If they are of different size.
    """
    return distance(shown.native, ideal.native)


def distance(one: NDArray[np.uint8], other: NDArray[np.uint8]) -> Difference:
    """How far two pictures of one size are apart.

    Parameters
    ----------
    one : ndarray of uint8, shape (lines, samples, 3)
        A picture. [1]
    other : ndarray of uint8, shape (lines, samples, 3)
        Another. [1]

    Returns
    -------
    Difference
        In steps of 255.

    Raises
    ------
    ValueError
        If they are of different size.
    """
    if one.shape != other.shape:
        raise ValueError(f"pictures of {one.shape} and {other.shape}: one size is wanted; sample both alike")
    apart = np.abs(one.astype(np.int16) - other.astype(np.int16))
    return Difference(float(apart.mean()), int(apart.max(initial=0)), float((apart.max(axis=2) > 8).mean()))


def level_histogram(shown: ShownPicture, channel: str, bins: int = 64) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """How often each voltage stands at one input in the active part.

    Parameters
    ----------
    shown : ShownPicture
        The picture.
    channel : str
        red, green or blue.
    bins : int
        How many classes of voltage. [1]

    Returns
    -------
    tuple of ndarray
        Counts, shape (bins,), and bounds of the classes, shape (bins + 1,). [V]

    Raises
    ------
    ValueError
        If the display has no such channel, or there is no class.
    """
    if bins < 1:
        raise ValueError(f"{bins} classes: 1 or more are allowed; give the classes wanted")
    volts = active_volts(shown, channel)
    counts, bounds = np.histogram(volts, bins=bins)
    return counts.astype(np.int64), bounds


def active_volts(shown: ShownPicture, channel: str) -> NDArray[np.float64]:
    """Voltages at one input in the active part, before the coupling.

    Parameters
    ----------
    shown : ShownPicture
        The picture.
    channel : str
        red, green or blue.

    Returns
    -------
    ndarray of float, shape (lines, samples)
        Voltages. [V]

    Raises
    ------
    ValueError
        If the display has no such channel.
    """
    for trace in shown.traces:
        if trace.channel == channel:
            return trace.input_v[: shown.native.shape[0], : shown.native.shape[1]]
    names = ", ".join(trace.channel for trace in shown.traces) or "none"
    raise ValueError(f"{shown.display}: no channel {channel!r}; {names} are driven; name one of them")


def loupe(
    shown: ShownPicture, left_px: int, top_lines: int, width_px: int = 8, height_lines: int = 8
) -> dict[str, NDArray[np.float64]]:
    """Voltages of a small region, cut at the edge of the picture.

    Parameters
    ----------
    shown : ShownPicture
        The picture.
    left_px : int
        First sample, from 0. [1]
    top_lines : int
        First line, from 0. [1]
    width_px : int
        Samples across. [1]
    height_lines : int
        Lines down. [1]

    Returns
    -------
    dict
        Voltages by channel, shape (lines, samples), free to be written. [V]

    Raises
    ------
    ValueError
        If the region lies outside the picture.
    """
    lines, samples = shown.native.shape[:2]
    if not (0 <= left_px < samples and 0 <= top_lines < lines and width_px > 0 and height_lines > 0):
        raise ValueError(
            f"region at {left_px}, {top_lines} of {width_px}x{height_lines}: the picture has {samples}x{lines}; "
            "begin inside it, with at least one sample"
        )
    down, across = slice(top_lines, top_lines + height_lines), slice(left_px, left_px + width_px)
    return {t.channel: t.input_v[:lines, :samples][down, across].copy() for t in shown.traces}


def _stretched(picture: NDArray[np.float32], size: int, axis: int) -> NDArray[np.float32]:
    """One direction of a picture at another size."""
    own = picture.shape[axis]
    if size % own == 0:
        return np.repeat(picture, size // own, axis=axis)
    place = np.clip((np.arange(size) + 0.5) * own / size - 0.5, 0.0, own - 1.0)
    below = np.minimum(place.astype(np.int64), max(own - 2, 0))
    part = (place - below).astype(np.float32).reshape([-1 if a == axis else 1 for a in range(picture.ndim)])
    low, high = np.take(picture, below, axis=axis), np.take(picture, np.minimum(below + 1, own - 1), axis=axis)
    made: NDArray[np.float32] = low + (high - low) * part
    return made
