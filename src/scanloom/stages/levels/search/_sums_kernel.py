"""Compiled sums of one weighted channel: levels, worst case, steps, currents, made-up boards.

Each is the sum of a module beside this one, written for speed: `figures`, `tolerance`, `monotonic`, `currents`. The
tests hold the two against each other. No fast arithmetic: an optimum is only proved if every sum is what it says.

Legs come as their place in a table of conductances, one row for each corner, see `ROWS` in `options`.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

ON, OFF, ON_LEAST, ON_MOST, OFF_LEAST, OFF_MOST = 0, 1, 2, 3, 4, 5
# places in the row of numbers that go with a request
RAIL, RAIL_LEAST, RAIL_MOST, GROUND, GROUND_LEAST, GROUND_MOST = 0, 1, 2, 3, 4, 5
SUM_LEAST, SUM_MOST, PIN_MOST_A, TIE_V, KAPPA, SHUNT = 6, 7, 8, 9, 10, 11
RISE_V = 1e-9
"""A step counts as rising from this on; what is less is rounding. [V]"""


@njit(cache=True, error_model="numpy")
def level(g: Any, legs: Any, bits: int, code: int, on: int, off: int, rail_v: float, ground: float) -> float:
    """Level of one code, legs taken from two rows of the table."""
    high, low = 0.0, 0.0
    for leg in range(bits):
        if code >> (bits - 1 - leg) & 1:
            high += g[on, legs[leg]]
        else:
            low += g[off, legs[leg]]
    return rail_v * high / (high + low + ground)


@njit(cache=True, error_model="numpy")
def every_level(g: Any, legs: Any, bits: int, rail_v: float, ground: float) -> Any:
    """Typical level of every code, from code 0."""
    found = np.zeros(1 << bits)
    for code in range(1, 1 << bits):
        found[code] = level(g, legs, bits, code, ON, OFF, rail_v, ground)
    return found


@njit(cache=True, error_model="numpy")
def nominal_error(g: Any, legs: Any, bits: int, target_v: Any, facts: Any) -> float:
    """Largest distance of a typical level from its target; infinite where a step does not rise."""
    worst, before = 0.0, 0.0
    for code in range(1, 1 << bits):
        now = level(g, legs, bits, code, ON, OFF, facts[RAIL], facts[GROUND])
        if now - before < RISE_V:
            return np.inf
        worst = max(worst, abs(now - target_v[code]))
        before = now
    return worst


@njit(cache=True, error_model="numpy")
def worst_error(g: Any, legs: Any, bits: int, target_v: Any, facts: Any) -> float:
    """Largest distance of a level from its target, every element at the corner that moves it furthest."""
    worst = 0.0
    for code in range(1, 1 << bits):
        top = level(g, legs, bits, code, ON_MOST, OFF_LEAST, facts[RAIL_MOST], facts[GROUND_LEAST])
        bottom = level(g, legs, bits, code, ON_LEAST, OFF_MOST, facts[RAIL_LEAST], facts[GROUND_MOST])
        worst = max(worst, top - target_v[code], target_v[code] - bottom)
    return worst


@njit(cache=True, error_model="numpy")
def least_margin(on: Any, off: Any, bits: int, ground: Any) -> float:
    """Smallest margin of a carry, as `monotonic` derives it; `on` and `off` hold least and most of each leg."""
    found = 1.0
    for leg in range(bits):
        a, al, b, lower = on[0, leg], off[0, leg], 0.0, 0.0
        for below in range(leg + 1, bits):
            b += on[1, below]
            lower += off[1, below]
        h = 0.0
        r = ground[0] if ground[0] * (a - b) <= ground[1] * (a - b) else ground[1]
        for higher in range(leg):
            as_on = on[0, higher] if on[0, higher] * (al - lower) <= on[1, higher] * (al - lower) else on[1, higher]
            as_off = off[0, higher] if off[0, higher] * (a - b) <= off[1, higher] * (a - b) else off[1, higher]
            if as_on * (al - lower) < as_off * (a - b):
                h += as_on
            else:
                r += as_off
        drive = h * al + r * a + a * al
        found = min(found, (drive - h * lower - r * b - b * lower) / drive)
    return found


@njit(cache=True, error_model="numpy")
def sure_to_rise(g: Any, legs: Any, bits: int, facts: Any) -> bool:
    """Whether every step rises wherever parts, pins and load lie in their spans."""
    on, off, ground = np.empty((2, bits)), np.empty((2, bits)), np.empty(2)
    for leg in range(bits):
        on[0, leg], on[1, leg] = g[ON_LEAST, legs[leg]], g[ON_MOST, legs[leg]]
        off[0, leg], off[1, leg] = g[OFF_LEAST, legs[leg]], g[OFF_MOST, legs[leg]]
    ground[0], ground[1] = facts[GROUND_LEAST], facts[GROUND_MOST]
    return bits == 1 or least_margin(on, off, bits, ground) > 0.0


@njit(cache=True, error_model="numpy")
def rises_up_to(part_ohm: Any, bits: int, pin_high: float, pin_low: float, load: float, shunt: float) -> float:
    """Largest tolerance of the parts, in percent, at which every step is sure to rise; the rest at typical values."""
    if bits == 1:
        return 100.0
    on, off, ground = np.empty((2, bits)), np.empty((2, bits)), np.empty(2)
    sure, unsure, percent = 0.0, 100.0, 0.0
    while unsure - sure > 1e-6:
        for side in range(2):
            scale = 1.0 + percent / 100.0 if side == 0 else 1.0 - percent / 100.0
            for leg in range(bits):
                on[side, leg] = 1.0 / (part_ohm[leg] * scale + pin_high)
                off[side, leg] = 1.0 / (part_ohm[leg] * scale + pin_low)
            ground[side] = 1.0 / load + (1.0 / (shunt * scale) if shunt > 0.0 else 0.0)
        if least_margin(on, off, bits, ground) > 0.0:
            sure = percent
        elif percent == 0.0:
            return 0.0
        else:
            unsure = percent
        percent = (sure + unsure) / 2.0
    return sure


@njit(cache=True, error_model="numpy")
def pin_current(g: Any, legs: Any, bits: int, facts: Any, worst: bool) -> float:
    """Most current of any pin, out of it or into it: its bit alone on, or alone off."""
    own_on, own_off, others_on, others_off = ON, OFF, ON, OFF
    rail_v, weak, strong = facts[RAIL], facts[GROUND], facts[GROUND]
    if worst:  # own resistance least; the rest pulls the node against this pin
        own_on, own_off, others_on, others_off = ON_MOST, OFF_MOST, ON_MOST, OFF_MOST
        rail_v, weak, strong = facts[RAIL_MOST], facts[GROUND_LEAST], facts[GROUND_MOST]
    most = 0.0
    for leg in range(bits):
        high, low = 0.0, 0.0
        for other in range(bits):
            if other != leg:
                high += g[others_on, legs[other]]
                low += g[others_off, legs[other]]
        own = g[own_on, legs[leg]]
        most = max(most, rail_v * own * (low + strong) / (own + low + strong))
        own = g[own_off, legs[leg]]
        most = max(most, rail_v * own * high / (own + high + weak))
    return most


@njit(cache=True, error_model="numpy")
def white_current(g: Any, legs: Any, bits: int, facts: Any, worst: bool) -> float:
    """Current from the rail with every bit on."""
    total = 0.0
    for leg in range(bits):
        total += g[ON_MOST if worst else ON, legs[leg]]
    ground = facts[GROUND_MOST] if worst else facts[GROUND]
    rail_v = facts[RAIL_MOST] if worst else facts[RAIL]
    return float(rail_v * total * ground / (total + ground))


@njit(cache=True, error_model="numpy")
def chance(seed: int, board: int, draw: int) -> float:
    """An even number between -1 and 1 that depends on nothing but its arguments (splitmix64, S. Vigna, from memory)."""
    z = np.uint64(seed) + np.uint64(0x9E3779B97F4A7C15) * (np.uint64(board) * np.uint64(64) + np.uint64(draw + 1))
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    z = z ^ (z >> np.uint64(31))
    return float(np.float64(z >> np.uint64(11)) * 2.0**-52 - 1.0)


@njit(cache=True, error_model="numpy")
def drawn(span: Any, even: float) -> float:
    """A value of a span, spread evenly to either side of its middle."""
    end = span[2] - span[1] if even >= 0.0 else span[1] - span[0]
    return float(span[1] + end * even)


@njit(cache=True, error_model="numpy")
def good_boards(ohm: Any, bits: int, spans: Any, shunt: float, part: float, window: Any, boards: int, seed: int) -> int:
    """Boards whose white lies in the window and whose steps all rise; `spans` are pin high, pin low, rail, load."""
    good = 0
    on, off = np.empty(bits), np.empty(bits)
    for board in range(boards):
        rail = drawn(spans[2], chance(seed, board, 0))
        ground = 1.0 / drawn(spans[3], chance(seed, board, 1))
        if shunt > 0.0:
            ground += 1.0 / (shunt * (1.0 + part * chance(seed, board, 2)))
        for leg in range(bits):
            made = ohm[leg] * (1.0 + part * chance(seed, board, 4 + 3 * leg))
            on[leg] = 1.0 / (made + drawn(spans[0], chance(seed, board, 5 + 3 * leg)))
            off[leg] = 1.0 / (made + drawn(spans[1], chance(seed, board, 6 + 3 * leg)))
        before, rising = 0.0, True
        for code in range(1, 1 << bits):
            high, low = 0.0, 0.0
            for leg in range(bits):
                if code >> (bits - 1 - leg) & 1:
                    high += on[leg]
                else:
                    low += off[leg]
            now = rail * high / (high + low + ground)
            if now <= before:
                rising = False
                break
            before = now
        if rising and window[0] <= before <= window[1]:
            good += 1
    return good


@njit(cache=True, error_model="numpy")
def most_good_boards(
    least: float, most: float, bits: int, spans: Any, part: float, window: Any, boards: int, seed: int
) -> int:
    """No network without a shunt has more good boards than this.

    White of a board lies in the window only if the sum of its conductances lies between two bounds; a leg's conductance
    in a board is its typical one times a ratio that lies between its ratios for the smallest and largest part. So each
    board asks the typical sum to lie in an interval, and no sum lies in more of them than the count at the fullest place.
    """
    opens, closes = np.empty(boards), np.empty(boards)
    for board in range(boards):
        rail = drawn(spans[2], chance(seed, board, 0))
        ground = 1.0 / drawn(spans[3], chance(seed, board, 1))
        low, high = np.inf, 0.0
        for leg in range(bits):
            error = 1.0 + part * chance(seed, board, 4 + 3 * leg)
            pin = drawn(spans[0], chance(seed, board, 5 + 3 * leg))
            for ohm in (least, most):
                ratio = (ohm + spans[0, 1]) / (ohm * error + pin)
                low, high = min(low, ratio), max(high, ratio)
        opens[board] = window[0] * ground / (rail - window[0]) / high if rail > window[0] else np.inf
        closes[board] = window[1] * ground / (rail - window[1]) / low if rail > window[1] else np.inf
    opens.sort()
    closes.sort()
    best, shut = 0, 0
    for place in range(boards):
        if opens[place] == np.inf:
            break
        while shut < boards and closes[shut] < opens[place]:  # one that opens where another closes counts beside it
            shut += 1
        best = max(best, place + 1 - shut)
    return best
