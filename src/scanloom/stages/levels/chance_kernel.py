"""Boards drawn by chance, compiled.

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

COMMON = 3
"""Draws of a board before those of its channels: rail, pins high, pins low. [1]"""
FIXED = 5
"""Elements of a channel before its legs: load, shunt, terminator, resistor behind an amplifier, load behind it. [1]"""

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
def placed(low: float, typical: float, high: float, share: float, is_normal: bool) -> float:
    """Place of a draw in a span.

    Parameters
    ----------
    low : float
        Low end. [unit]
    typical : float
        Typical value. [unit]
    high : float
        High end. [unit]
    share : float
        The draw, from 0 up to 1. [1]
    is_normal : bool
        Whether values crowd around typical: two half normals, cut at the ends; else all are alike.

    Returns
    -------
    float
        The value. [unit]
    """
    if not is_normal:
        return low + share * (high - low)
    deviate = normal_at(_CUT + share * (1.0 - 2.0 * _CUT)) / 3.0
    deviate = min(max(deviate, -1.0), 1.0)
    return typical + deviate * ((high - typical) if deviate > 0.0 else (typical - low))


@njit(cache=True)
def ladder_level(
    code: int, bits: int, high_ohm: NDArray[np.float64], low_ohm: NDArray[np.float64], rung_ohm: NDArray[np.float64],
    terminator_ohm: float, ground_ohm: float
) -> float:  # fmt: skip
    """Level of a ladder for a rail of 1 V.

    Parameters
    ----------
    code : int
        Bits of the channel. [1]
    bits : int
        How many. [1]
    high_ohm : ndarray of float, shape (legs,)
        Legs driven high, most significant first. [ohm]
    low_ohm : ndarray of float, shape (legs,)
        Legs driven low. [ohm]
    rung_ohm : ndarray of float, shape (rungs,)
        Rungs from the connector on. [ohm]
    terminator_ohm : float
        Terminator at the last tap. [ohm]
    ground_ohm : float
        Load and shunt at the connector. [ohm]

    Returns
    -------
    float
        Voltage at the connector. [V]

    References
    ----------
    [thevenin] One sweep from the terminator to the connector, as in `ladder_taps`.
    """
    seen_v, seen_ohm = 0.0, terminator_ohm
    for leg in range(bits - 1, -1, -1):
        is_on = (code >> (bits - 1 - leg)) & 1
        leg_ohm = high_ohm[leg] if is_on else low_ohm[leg]
        leg_v = 1.0 if is_on else 0.0
        share = seen_ohm / (seen_ohm + leg_ohm)
        seen_v, seen_ohm = seen_v + (leg_v - seen_v) * share, leg_ohm * share
        if leg > 0:
            seen_ohm += rung_ohm[leg - 1]
    return seen_v * ground_ohm / (ground_ohm + seen_ohm)


@njit(cache=True)
def run_boards(
    seed: np.uint64, first: int, boards: int, is_normal: bool, pins_alike: bool,
    rail: NDArray[np.float64], pin_high: NDArray[np.float64], pin_low: NDArray[np.float64], element: NDArray[np.float64],
    start: NDArray[np.int64], bits: NDArray[np.int64], is_ladder: NDArray[np.bool_], gain: NDArray[np.float64],
    group: NDArray[np.int64], limits: NDArray[np.float64], ranges: NDArray[np.float64],
    counts: NDArray[np.int64], moments: NDArray[np.float64], bins: NDArray[np.int64],
    whites: NDArray[np.float64], linearities: NDArray[np.float64],
) -> None:  # fmt: skip
    """Draw boards and count what becomes of them.

    Parameters
    ----------
    seed : uint64
        Seed of the run. [1]
    first : int
        Number of the first board. [1]
    boards : int
        How many. [1]
    is_normal : bool
        How values lie in their spans, as for `placed`.
    pins_alike : bool
        Whether all pins of a board lie at one place in their spans; else each lies anywhere.
    rail : ndarray of float, shape (channels, 3)
        Supply: low, typical, high; one place in the span for a whole board. [V]
    pin_high : ndarray of float, shape (channels, 3)
        Pins driven high. [ohm]
    pin_low : ndarray of float, shape (channels, 3)
        Pins driven low. [ohm]
    element : ndarray of float, shape (elements, 3)
        For each channel its fixed elements, its legs and its rungs; what is absent is infinite. [ohm]
    start : ndarray of int, shape (channels,)
        Place of a channel's first element. [1]
    bits : ndarray of int, shape (channels,)
        Legs of each channel. [1]
    is_ladder : ndarray of bool, shape (channels,)
        Whether the legs feed the taps of a ladder.
    gain : ndarray of float, shape (channels,)
        Gain of the amplifier behind a channel; 0 without one. [1]
    group : ndarray of int, shape (channels,)
        Display of each channel; channels of one display follow one another. [1]
    limits : ndarray of float, shape (4,)
        Least and most white in volt, most INL in steps, most mismatch as a share. [unit]
    ranges : ndarray of float, shape (3, 2)
        Ends of the counted range of white, INL and mismatch. [unit]
    counts : ndarray of int, shape (5,)
        Boards whose whites, order, INL, mismatch and all of these are good; added to. [1]
    moments : ndarray of float, shape (3, 4)
        For white, INL and mismatch: sum, sum of squares, least, most; about the start of the range. [unit]
    bins : ndarray of int, shape (3, bins)
        How often each lies where in its range; added to. [1]
    whites : ndarray of float, shape (boards, channels)
        White of each channel, or of shape (0, channels) when nobody asks. [V]
    linearities : ndarray of float, shape (boards, channels)
        INL of each channel, likewise. [LSB]
    """
    channels = start.shape[0]
    widest = 1
    for channel in range(channels):
        widest = max(widest, bits[channel])
    high_ohm, low_ohm = np.empty(widest), np.empty(widest)
    on, off, rung_ohm = np.empty(widest), np.empty(widest), np.empty(widest)
    for number in range(boards):
        board = scrambled(scrambled(seed) + np.uint64(first + number + 1) * GOLDEN)
        rail_share, high_share, low_share = drawn(board, 0), drawn(board, 1), drawn(board, 2)
        good_white, good_order, good_inl, good_match = True, True, True, True
        least, most, total, members = math.inf, 0.0, 0.0, 0
        counter = COMMON
        for channel in range(channels):
            legs, at = bits[channel], start[channel]
            rail_v = placed(rail[channel, 0], rail[channel, 1], rail[channel, 2], rail_share, is_normal)
            for leg in range(legs):
                if not pins_alike:
                    high_share = drawn(board, counter + FIXED + 2 * legs + 2 * leg)
                    low_share = drawn(board, counter + FIXED + 2 * legs + 2 * leg + 1)
                row = element[at + FIXED + leg]
                part = placed(row[0], row[1], row[2], drawn(board, counter + FIXED + leg), is_normal)
                pin = pin_high[channel]
                high_ohm[leg] = part + placed(pin[0], pin[1], pin[2], high_share, is_normal)
                if legs > 1:
                    pin = pin_low[channel]
                    low_ohm[leg] = part + placed(pin[0], pin[1], pin[2], low_share, is_normal)
            row = element[at]
            ground_ohm = placed(row[0], row[1], row[2], drawn(board, counter), is_normal)
            row = element[at + 1]
            if row[1] != math.inf:
                shunt_ohm = placed(row[0], row[1], row[2], drawn(board, counter + 1), is_normal)
                ground_ohm = ground_ohm * shunt_ohm / (ground_ohm + shunt_ohm)
            white, inl, ordered = 0.0, 0.0, True
            if legs == 1 and not is_ladder[channel]:
                white = ground_ohm / (ground_ohm + high_ohm[0])
            elif not is_ladder[channel]:
                ground = 1.0 / ground_ohm
                fed, load = 0.0, ground
                for leg in range(legs):
                    on[leg], off[leg] = 1.0 / high_ohm[leg], 1.0 / low_ohm[leg]
                    fed += on[leg]
                    load += off[leg]
                white = fed / (fed + ground)
                step, before, fed = white / ((1 << legs) - 1), 0.0, 0.0
                for code in range(1, 1 << legs):
                    leg = legs - 1
                    while not (code >> (legs - 1 - leg)) & 1:  # lower legs go off, one goes on
                        fed -= on[leg]
                        load += off[leg] - on[leg]
                        leg -= 1
                    fed += on[leg]
                    load += on[leg] - off[leg]
                    level = fed / load
                    ordered = ordered and level > before
                    inl = max(inl, abs(level - code * step))
                    before = level
                inl /= step
            else:
                row = element[at + 2]
                terminator_ohm = placed(row[0], row[1], row[2], drawn(board, counter + 2), is_normal)
                for rung in range(legs - 1):
                    row = element[at + FIXED + legs + rung]
                    rung_ohm[rung] = placed(
                        row[0], row[1], row[2], drawn(board, counter + FIXED + legs + rung), is_normal
                    )
                top = (1 << legs) - 1
                white = ladder_level(top, legs, high_ohm, low_ohm, rung_ohm, terminator_ohm, ground_ohm)
                step, before = white / top, 0.0
                for code in range(1, top + 1):
                    level = ladder_level(code, legs, high_ohm, low_ohm, rung_ohm, terminator_ohm, ground_ohm)
                    ordered = ordered and level > before
                    inl = max(inl, abs(level - code * step))
                    before = level
                inl /= step
            white *= rail_v
            if gain[channel] > 0.0:
                row = element[at + 3]
                back_ohm = placed(row[0], row[1], row[2], drawn(board, counter + 3), is_normal)
                row = element[at + 4]
                far_ohm = placed(row[0], row[1], row[2], drawn(board, counter + 4), is_normal)
                white *= gain[channel] * far_ohm / (far_ohm + back_ohm)
            counter += FIXED + 4 * legs
            good_white = good_white and limits[0] <= white <= limits[1]
            good_order = good_order and ordered
            good_inl = good_inl and inl <= limits[2]
            _note(moments, bins, ranges, 0, white)
            _note(moments, bins, ranges, 1, inl)
            if whites.shape[0]:
                whites[number, channel] = white
                linearities[number, channel] = inl
            least, most, total, members = min(least, white), max(most, white), total + white, members + 1
            if channel + 1 == channels or group[channel + 1] != group[channel]:
                mismatch = (most - least) * members / total
                good_match = good_match and mismatch <= limits[3]
                _note(moments, bins, ranges, 2, mismatch)
                least, most, total, members = math.inf, 0.0, 0.0, 0
        counts[0] += good_white
        counts[1] += good_order
        counts[2] += good_inl
        counts[3] += good_match
        counts[4] += good_white and good_order and good_inl and good_match


@njit(cache=True)
def _note(
    moments: NDArray[np.float64], bins: NDArray[np.int64], ranges: NDArray[np.float64], which: int, value: float
) -> None:
    """Count one figure where it lies."""
    off = value - ranges[which, 0]
    moments[which, 0] += off
    moments[which, 1] += off * off
    moments[which, 2] = min(moments[which, 2], value)
    moments[which, 3] = max(moments[which, 3], value)
    width = ranges[which, 1] - ranges[which, 0]
    place = int(off / width * bins.shape[1]) if width > 0.0 else 0
    bins[which, min(max(place, 0), bins.shape[1] - 1)] += 1
