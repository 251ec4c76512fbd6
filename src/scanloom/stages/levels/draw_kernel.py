"""The generator behind boards drawn by chance, compiled.

Numbers come from a generator of our own: a counter is scrambled, so the draw of one element on one board depends on
seed, board and element alone, never on the order of the work or on the version of a library. The scrambler is the
finaliser of splitmix64 (G. L. Steele, D. Lea, C. H. Flood, Fast splittable pseudorandom number generators, 2014; the
constants from memory, the first outputs checked against those that are widely printed).
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

GOLDEN = np.uint64(0x9E3779B97F4A7C15)
_FIRST = np.uint64(0xBF58476D1CE4E5B9)
_SECOND = np.uint64(0x94D049BB133111EB)
_30, _27, _31, _11 = np.uint64(30), np.uint64(27), np.uint64(31), np.uint64(11)
_TINY = 2.0**-53

# one standard deviation is a third of a side; what lies beyond the side is cut off
_CUT = 0.0013498980316300957


@njit(cache=True)
def scrambled(counter: np.uint64) -> np.uint64:
    """Counter turned into 64 bits that look like chance.

    Parameters
    ----------
    counter : uint64
        Any number. [1]

    Returns
    -------
    uint64
        The bits.
    """
    bits = (counter ^ (counter >> _30)) * _FIRST
    bits = (bits ^ (bits >> _27)) * _SECOND
    return bits ^ (bits >> _31)


@njit(cache=True)
def drawn(board: np.uint64, element: int) -> float:
    """Draw of one element of one board.

    Parameters
    ----------
    board : uint64
        Scrambled number of the board.
    element : int
        Number of the element. [1]

    Returns
    -------
    float
        From 0 up to 1, evenly. [1]
    """
    return float(scrambled(board + np.uint64(element + 1) * GOLDEN) >> _11) * _TINY


@njit(cache=True)
def normal_at(share: float) -> float:
    """Standard normal deviate below which a share lies.

    Parameters
    ----------
    share : float
        Between 0 and 1. [1]

    Returns
    -------
    float
        The deviate. [1]

    References
    ----------
    [acklam] P. J. Acklam, rational approximation of the inverse normal, relative error 1.15e-9 (from memory; the tests
    compare it with the standard library's).
    """
    if share < 0.02425 or share > 0.97575:
        tail = math.sqrt(-2.0 * math.log(min(share, 1.0 - share)))
        top = (
            (((-7.784894002430293e-03 * tail - 3.223964580411365e-01) * tail - 2.400758277161838e00) * tail
             - 2.549732539343734e00) * tail + 4.374664141464968e00
        ) * tail + 2.938163982698783e00  # fmt: skip
        under = (
            ((7.784695709041462e-03 * tail + 3.224671290700398e-01) * tail + 2.445134137142996e00) * tail
            + 3.754408661907416e00
        ) * tail + 1.0  # fmt: skip
        return top / under if share < 0.5 else -top / under
    off = share - 0.5
    square = off * off
    top = (
        (((-3.969683028665376e01 * square + 2.209460984245205e02) * square - 2.759285104469687e02) * square
         + 1.383577518672690e02) * square - 3.066479806614716e01
    ) * square + 2.506628277459239e00  # fmt: skip
    under = (
        (((-5.447609879822406e01 * square + 1.615858368580409e02) * square - 1.556989798598866e02) * square
         + 6.680131188771972e01) * square - 1.328068155288572e01
    ) * square + 1.0  # fmt: skip
    return off * top / under


@njit(cache=True)
def drawn_place(board: np.uint64, element: int, is_normal: bool) -> float:
    """Place of one element of one board in its span, whatever the span.

    Parameters
    ----------
    board : uint64
        Scrambled number of the board.
    element : int
        Number of the element. [1]
    is_normal : bool
        Whether values crowd around typical; else all are alike.

    Returns
    -------
    float
        From 0, the low end, up to 1; or, crowded, a normal deviate from -1 to 1, cut at the ends. [1]
    """
    share = drawn(board, element)
    if not is_normal:
        return share
    return min(max(normal_at(_CUT + share * (1.0 - 2.0 * _CUT)) * (1.0 / 3.0), -1.0), 1.0)


@njit(cache=True)
def placed(bounds: NDArray[np.float64], row: int, place: float, is_normal: bool) -> float:
    """Value at a place in a span.

    Parameters
    ----------
    bounds : ndarray of float, shape (rows, 3)
        Spans: low, typical, high. [unit]
    row : int
        Which of them. [1]
    place : float
        Place as `drawn_place` gives it. [1]
    is_normal : bool
        Whether it is a deviate: two half normals then meet at typical.

    Returns
    -------
    float
        The value. [unit]
    """
    low, typical, high = bounds[row]
    if not is_normal:
        return float(low + place * (high - low))
    return float(typical + place * ((high - typical) if place > 0.0 else (typical - low)))
