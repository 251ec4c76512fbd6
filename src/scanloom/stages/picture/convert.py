"""From brightness to the numbers of each channel: the nearest level that the parts make."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from scanloom.stages.picture.model import COLOURS, DisplayPath

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanloom.stages.lanes import Lane
    from scanloom.stages.picture.frame import ChannelKey

LUMA = (0.299, 0.587, 0.114)
"""Weights of red, green and blue in brightness, ITU-R BT.601, clause 2.5.1, from memory. [1]"""


def picture_numbers(
    brightness: NDArray[np.float64], displays: Sequence[DisplayPath], lanes: Sequence[Lane]
) -> dict[ChannelKey, NDArray[np.uint16]]:
    """Numbers of every channel that a picture asks for, the same picture on all displays.

    A display with one colour, and a channel that one lane feeds to all colours, takes brightness alone.

    Parameters
    ----------
    brightness : ndarray of float, shape (rows, pixels, 3)
        Red, green and blue, 0 to 1, as voltages: no curve is applied. [1]
    displays : sequence of DisplayPath
        The displays with their levels.
    lanes : sequence of Lane
        Every bit of the word.

    Returns
    -------
    dict
        Numbers by display and what its lanes carry, shape (rows, pixels). [1]

    Raises
    ------
    ValueError
        If the picture is not of that shape.
    """
    if brightness.ndim != 3 or brightness.shape[2] != 3:
        raise ValueError(f"picture of shape {brightness.shape}: rows, pixels and 3 colours are wanted; give it so")
    grey = brightness @ np.array(LUMA)
    made: dict[ChannelKey, NDArray[np.uint16]] = {}
    for display in displays:
        paths = {one.channel: one for one in display.channels}
        carried = dict.fromkeys(lane.carries for lane in lanes if lane.display == display.name)
        for carries in carried:
            path = next(iter(paths.values()), None) if carries == "white" else paths.get(carries)
            if path is None:
                continue
            alone = carries == "white" or display.single_colour
            wanted = grey if alone else brightness[:, :, COLOURS.index(carries)]
            made[display.name, carries] = nearest_numbers(wanted, path.level_v())
    return made


def nearest_numbers(brightness: NDArray[np.float64], level_v: Sequence[float]) -> NDArray[np.uint16]:
    """Number whose level comes nearest to a share of white.

    Parameters
    ----------
    brightness : ndarray of float
        Shares of white, 0 to 1. [1]
    level_v : sequence of float
        Level of each number, in any order; the last is white. [V]

    Returns
    -------
    ndarray of uint16, of the same shape
        Numbers; of two levels equally near, the darker. [1]
    """
    shares = np.asarray(level_v) / level_v[-1]
    order = np.argsort(shares, kind="stable")
    rising = shares[order]
    between = (rising[1:] + rising[:-1]) / 2.0
    return order[np.searchsorted(between, brightness, side="left")].astype(np.uint16)


def read_back(sampled_v: NDArray[np.float64], level_v: Sequence[float]) -> NDArray[np.uint16]:
    """Numbers that samples stand for.

    Parameters
    ----------
    sampled_v : ndarray of float
        Samples. [V]
    level_v : sequence of float
        Level of each number. [V]

    Returns
    -------
    ndarray of uint16, of the same shape
        Numbers. [1]
    """
    return nearest_numbers(sampled_v / level_v[-1], level_v)
