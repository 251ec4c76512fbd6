"""Boards drawn by chance, compiled: every element of every channel, the levels they make, and what is counted."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from scanloom.stages.levels.draw_kernel import GOLDEN, drawn_place, placed, scrambled

COMMON = 3
"""Draws of a board before those of its channels: rail, pins high, pins low. [1]"""
FIXED = 5
"""Elements of a channel before its legs: load, shunt, terminator, resistor behind an amplifier, load behind it. [1]"""


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
def star_steps(
    legs: int,
    high_ohm: NDArray[np.float64],
    low_ohm: NDArray[np.float64],
    ground_ohm: float,
    level: NDArray[np.float64],
) -> None:
    """Every level of legs that meet at one point, for a rail of 1 V.

    Parameters
    ----------
    legs : int
        How many. [1]
    high_ohm : ndarray of float, shape (legs,)
        Legs driven high, most significant first; turned into conductances. [ohm]
    low_ohm : ndarray of float, shape (legs,)
        Legs driven low; likewise. [ohm]
    ground_ohm : float
        Load and shunt. [ohm]
    level : ndarray of float, shape (codes,)
        Filled with the level of each code. [V]

    References
    ----------
    [millman] Conductances, kept as sums: from one code to the next one leg goes on and all lower ones go off.
    """
    fed, load = 0.0, 1.0 / ground_ohm
    for leg in range(legs):  # in place: they are drawn anew for the next channel
        high_ohm[leg], low_ohm[leg] = 1.0 / high_ohm[leg], 1.0 / low_ohm[leg]
        load += low_ohm[leg]
    on, off = high_ohm, low_ohm
    level[0] = 0.0
    for code in range(1, 1 << legs):
        leg = legs - 1
        while not (code >> (legs - 1 - leg)) & 1:
            fed -= on[leg]
            load += off[leg] - on[leg]
            leg -= 1
        fed += on[leg]
        load += on[leg] - off[leg]
        level[code] = fed / load


@njit(cache=True)
def evenness(codes: int, level: NDArray[np.float64]) -> tuple[float, bool]:
    """How even levels are, and whether each lies above the one before.

    Parameters
    ----------
    codes : int
        How many levels. [1]
    level : ndarray of float, shape (codes,)
        Levels from code 0, which is 0 V. [V]

    Returns
    -------
    tuple
        INL on the line through both ends, and the answer. [LSB]
    """
    step, inl, ordered = level[codes - 1] / (codes - 1), 0.0, True
    for code in range(1, codes):
        ordered = ordered and level[code] > level[code - 1]
        inl = max(inl, abs(level[code] - code * step))
    return inl / step, ordered


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
        How values lie in their spans, as for `drawn_place`.
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
        Whether the legs feed the taps of a ladder. [1]
    gain : ndarray of float, shape (channels,)
        Gain of the amplifier behind a channel; 0 without one. [1]
    group : ndarray of int, shape (channels,)
        Display of each channel; channels of one display follow one another. [1]
    limits : ndarray of float, shape (4,)
        Least and most white in volt, most INL in steps, most mismatch as a share. [unit]
    ranges : ndarray of float, shape (3, 3)
        Ends of the counted range of white, INL and mismatch, and how many bins a unit takes. [unit]
    counts : ndarray of int, shape (5,)
        Boards whose whites, order, INL, mismatch and all of these are good; added to. [1]
    moments : ndarray of float, shape (3, 4)
        For white, INL and mismatch: sum, sum of squares, least, most; sums about the start of the range. [unit]
    bins : ndarray of int, shape (3, bins)
        How often each lies where in its range; added to. INL of a single leg and mismatch of a lone channel are 0
        and not counted. [1]
    whites : ndarray of float, shape (boards, channels)
        White of each channel, or of shape (0, channels) when nobody asks. [V]
    linearities : ndarray of float, shape (boards, channels)
        INL of each channel, likewise. [LSB]
    """
    channels = start.shape[0]
    widest = 1
    for channel in range(channels):
        widest = max(widest, bits[channel])
    high_ohm, low_ohm, rung_ohm = np.empty(widest), np.empty(widest), np.empty(widest)
    level = np.empty(1 << widest)
    for number in range(boards):
        board = scrambled(scrambled(seed) + np.uint64(first + number + 1) * GOLDEN)
        rail_place, high_place, low_place = (
            drawn_place(board, 0, is_normal), drawn_place(board, 1, is_normal), drawn_place(board, 2, is_normal)
        )  # fmt: skip
        good_white, good_order, good_inl, good_match = True, True, True, True
        least, most, total, members = math.inf, 0.0, 0.0, 0
        counter = COMMON
        for channel in range(channels):
            legs, at = bits[channel], start[channel]
            for leg in range(legs):
                own = counter + FIXED + leg
                if not pins_alike:
                    high_place = drawn_place(board, own + 2 * legs, is_normal)
                    low_place = drawn_place(board, own + 3 * legs, is_normal)
                part = placed(element, at + FIXED + leg, drawn_place(board, own, is_normal), is_normal)
                high_ohm[leg] = part + placed(pin_high, channel, high_place, is_normal)
                low_ohm[leg] = part + placed(pin_low, channel, low_place, is_normal)
            ground_ohm = placed(element, at, drawn_place(board, counter, is_normal), is_normal)
            if element[at + 1, 1] != math.inf:
                shunt_ohm = placed(element, at + 1, drawn_place(board, counter + 1, is_normal), is_normal)
                ground_ohm = ground_ohm * shunt_ohm / (ground_ohm + shunt_ohm)
            inl, ordered = 0.0, True
            if is_ladder[channel]:
                terminator_ohm = placed(element, at + 2, drawn_place(board, counter + 2, is_normal), is_normal)
                for rung in range(legs - 1):
                    place = drawn_place(board, counter + FIXED + legs + rung, is_normal)
                    rung_ohm[rung] = placed(element, at + FIXED + legs + rung, place, is_normal)
                for code in range(1 << legs):
                    level[code] = ladder_level(code, legs, high_ohm, low_ohm, rung_ohm, terminator_ohm, ground_ohm)
            elif legs > 1:
                star_steps(legs, high_ohm, low_ohm, ground_ohm, level)
            else:  # a part of no resistance is allowed here
                level[1] = ground_ohm / (ground_ohm + high_ohm[0])
            if legs > 1:
                inl, ordered = evenness(1 << legs, level)
                good_order = good_order and ordered
                good_inl = good_inl and inl <= limits[2]
                _note(moments, bins, ranges, 1, inl)
            white = level[(1 << legs) - 1] * placed(rail, channel, rail_place, is_normal)
            if gain[channel] > 0.0:
                back_ohm = placed(element, at + 3, drawn_place(board, counter + 3, is_normal), is_normal)
                far_ohm = placed(element, at + 4, drawn_place(board, counter + 4, is_normal), is_normal)
                white *= gain[channel] * far_ohm / (far_ohm + back_ohm)
            counter += FIXED + 4 * legs
            good_white = good_white and limits[0] <= white <= limits[1]
            _note(moments, bins, ranges, 0, white)
            if whites.shape[0]:
                whites[number, channel] = white
                linearities[number, channel] = inl
            least, most, total, members = min(least, white), max(most, white), total + white, members + 1
            if channel + 1 == channels or group[channel + 1] != group[channel]:
                mismatch = (most - least) * members / total
                good_match = good_match and mismatch <= limits[3]
                if members > 1:
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
    place = int(off * ranges[which, 2])
    bins[which, min(max(place, 0), bins.shape[1] - 1)] += 1
