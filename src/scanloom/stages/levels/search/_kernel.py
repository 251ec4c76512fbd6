"""The search itself: depth first from the most significant leg, exact.

For a bound B on the error, each code asks two things of the legs: that its highest level lies below target + B, and its
lowest above target - B. With H the conductance of the legs that are on and L that of those that are off, a level is
rail x H / (H + L + ground), so either demand is of first degree in the legs: rail x H <= U (H + L + ground). It stays
so when a pin's resistance differs high and low, for H and L are then sums over different rows of the table; and when
every element stands at the corner that moves the level furthest, for that only chooses the rows. So one search serves
the typical error and the worst case, and the bounds below hold for unequal pins without a margin of their own:

- White bounds the sum of all legs, and with it what the legs not yet chosen can sum up to.
- A leg alone on bounds that leg.
- Each code whose chosen bits are given and whose other bits are all off, or all on, is asked at the most favourable
  sum that is left.
- Steps rise only if the legs below one conduct less together than it does, times `KAPPA` for unequal pins.

B starts small and doubles until enough is found; all that is left out lies above it. Found answers lower it. Errors are
compared in whole steps of `TIE_V`; then fewer distinct values, fewer parts, the smaller error, the earlier legs win. A
worst case is made least first; all whose worst case lies a little above it are then ranked as equals.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from scanloom.stages.levels.search._rank_kernel import keep
from scanloom.stages.levels.search._sums_kernel import (
    GROUND,
    GROUND_LEAST,
    GROUND_MOST,
    KAPPA,
    ON,
    ON_LEAST,
    ON_MOST,
    PIN_MOST_A,
    RAIL,
    RAIL_LEAST,
    RAIL_MOST,
    SHUNT,
    SUM_LEAST,
    SUM_MOST,
    TIE_V,
    nominal_error,
    pin_current,
    sure_to_rise,
    white_current,
    worst_error,
)

MOST_LEGS = 6
SLACK = 1e-11
"""Share by which every bound is widened, so that rounding never cuts an optimum off."""
FINER_V = 5e-6
"""Worst cases closer than this are not told apart. [V]"""
# what a search is asked for
CORNERS, SURE, RANK, BITS, DISTINCT_MOST, PARTS_MOST, NODES_MOST, SHUNT_VALUE = 0, 1, 2, 3, 4, 5, 6, 7
# what ranks the answers: the error that is bounded, the current at white, or the typical error
BY_ERROR, BY_CURRENT, BY_TYPICAL = 0, 1, 2
# what it counts
NODES, FOUND = 0, 1


@njit(cache=True, error_model="numpy")
def next_bound(last: float, asks: Any, tie_v: float) -> float:
    """Bound once enough is found: the step of the last one; of a worst case only what is better by `FINER_V` counts."""
    return last - FINER_V if asks[CORNERS] else float((np.floor(last / tie_v) + 1.0) * tie_v)


@njit(cache=True, error_model="numpy")
def extend(
    g: Any, asks: Any, sums: Any, depth: int, option: int, target_v: Any, facts: Any, ratio: Any, bound: float
) -> bool:
    """Put an option at a depth; false if some code can no longer be met."""
    bits, corners = asks[BITS], asks[CORNERS]
    rest = bits - 1 - depth
    top_v, bottom_v = (facts[RAIL_MOST], facts[RAIL_LEAST]) if corners else (facts[RAIL], facts[RAIL])
    top_g, bottom_g = (facts[GROUND_LEAST], facts[GROUND_MOST]) if corners else (facts[GROUND], facts[GROUND])
    au, bu = (g[3, option], g[4, option]) if corners else (g[0, option], g[1, option])
    al, bl = (g[2, option], g[5, option]) if corners else (g[0, option], g[1, option])
    most, least = white_bounds(asks, target_v, facts, bound)
    full = (1 << depth) - 1
    more_h = most * (1.0 + SLACK) - (sums[0, depth, full] + au)
    less_h = max(0.0, least * (1.0 - SLACK) - (sums[2, depth, full] + al))
    if more_h < -SLACK * most or (rest == 0 and less_h > SLACK * least):
        return False
    more_h = max(more_h, 0.0)
    more_l, less_l = ratio[0, option] * more_h, ratio[1, option] * less_h
    fewest_h, highest_h = less_h / ratio[2, option], more_h * ratio[2, option]
    for p in range((1 << depth) - 1, -1, -1):
        for bit in range(2):
            if bit:
                hu, lu, hl, ll = sums[0, depth, p] + au, sums[1, depth, p], sums[2, depth, p] + al, sums[3, depth, p]
            else:
                hu, lu, hl, ll = sums[0, depth, p], sums[1, depth, p] + bu, sums[2, depth, p], sums[3, depth, p] + bl
            place = 2 * p + bit
            sums[0, depth + 1, place], sums[1, depth + 1, place] = hu, lu
            sums[2, depth + 1, place], sums[3, depth + 1, place] = hl, ll
            code = place << rest
            if code:
                up, down = target_v[code] + bound, target_v[code] - bound
                if top_v * hu * (1.0 - SLACK) > up * (hu + lu + top_g + more_l):
                    return False
                if bottom_v * hl * (1.0 + SLACK) < down * (hl + ll + bottom_g + less_l):
                    return False
            if rest:
                code += (1 << rest) - 1
                up, down = target_v[code] + bound, target_v[code] - bound
                if top_v * (hu + fewest_h) * (1.0 - SLACK) > up * (hu + fewest_h + lu + top_g):
                    return False
                if bottom_v * (hl + highest_h) * (1.0 + SLACK) < down * (hl + highest_h + ll + bottom_g):
                    return False
    return True


@njit(cache=True, error_model="numpy")
def white_bounds(asks: Any, target_v: Any, facts: Any, bound: float) -> tuple[float, float]:
    """Most that all legs may sum up to (upper corner), and least (lower corner)."""
    white = target_v[(1 << asks[BITS]) - 1]
    up, down = white + bound, white - bound
    if asks[CORNERS]:
        most = up * facts[GROUND_LEAST] / (facts[RAIL_MOST] - up) if up < facts[RAIL_MOST] else np.inf
        least = down * facts[GROUND_MOST] / (facts[RAIL_LEAST] - down) if down < facts[RAIL_LEAST] else np.inf
        return most, max(least, 0.0)
    most = up * facts[GROUND] / (facts[RAIL] - up) if up < facts[RAIL] else np.inf
    least = down * facts[GROUND] / (facts[RAIL] - down) if down < facts[RAIL] else np.inf
    return min(most, facts[SUM_MOST]), max(least, facts[SUM_LEAST], 0.0)


@njit(cache=True, error_model="numpy")
def window(
    g: Any, asks: Any, sums: Any, depth: int, start: int, target_v: Any, facts: Any, ratio: Any, bound: float
) -> tuple[float, float, float, float, float]:
    """What the leg at a depth may conduct.

    Most at the upper corner, least at the lower; least that it and all below must at the lower; then, from white
    without this leg, least at the upper corner and most at the lower.
    """
    corners = asks[CORNERS]
    rest = asks[BITS] - 1 - depth
    most, least = white_bounds(asks, target_v, facts, bound)
    full = (1 << depth) - 1
    room = most * (1.0 + SLACK) - sums[0, depth, full]
    need = least * (1.0 - SLACK) - sums[2, depth, full]
    top_v, bottom_v = (facts[RAIL_MOST], facts[RAIL_LEAST]) if corners else (facts[RAIL], facts[RAIL])
    top_g, bottom_g = (facts[GROUND_LEAST], facts[GROUND_MOST]) if corners else (facts[GROUND], facts[GROUND])
    up, down = target_v[1 << rest] + bound, target_v[1 << rest] - bound
    q = ratio[0, start]
    highest = room
    if up < top_v and room < np.inf:
        highest = min(room, up * (top_g + sums[1, depth, 0] + q * room) / (top_v - up + up * q))
    lowest = need if rest == 0 else 0.0
    if 0.0 < down < bottom_v:
        q = ratio[1, start]
        alone = down * (bottom_g + sums[3, depth, 0])
        lowest = max(lowest, alone / (bottom_v - down))
        lowest = max(lowest, (alone + down * q * need) / (bottom_v - down + down * q))
    # white without this leg: what is left of the sum that white asks for must not be too bright, nor too dark
    code = (1 << asks[BITS]) - 1 - (1 << rest)
    up, down = target_v[code] + bound, target_v[code] - bound
    fewest, largest = 0.0, np.inf
    if up < top_v:
        share = up / (top_v - up)
        whole = sums[0, depth, full] + max(need, 0.0) / ratio[2, start]
        fewest = (whole - share * top_g) / (1.0 + share * ratio[0, start]) - SLACK * whole
    if 0.0 < down < bottom_v and room < np.inf:
        share = down / (bottom_v - down)
        whole = sums[2, depth, full] + max(room, 0.0) * ratio[2, start]
        largest = (whole - share * bottom_g) / (1.0 + share * ratio[1, start]) + SLACK * whole
    return highest * (1.0 + SLACK), lowest * (1.0 - SLACK), need, fewest, largest


@njit(cache=True, error_model="numpy")
def leaf(g: Any, asks: Any, legs: Any, target_v: Any, facts: Any, bound: float) -> float:
    """Error of a whole network, infinite if it may not be proposed."""
    bits = asks[BITS]
    nominal = nominal_error(g, legs, bits, target_v, facts)
    if nominal == np.inf or (not asks[CORNERS] and nominal > bound):
        return np.inf
    total = 0.0
    for leg in range(bits):
        total += g[ON, legs[leg]]
    if total < facts[SUM_LEAST] * (1.0 - SLACK) or total > facts[SUM_MOST] * (1.0 + SLACK):
        return np.inf
    if asks[SURE] and not sure_to_rise(g, legs, bits, facts):
        return np.inf
    if facts[PIN_MOST_A] < np.inf and pin_current(g, legs, bits, facts, True) > facts[PIN_MOST_A] * (1.0 + SLACK):
        return np.inf
    if asks[CORNERS]:
        return worst_error(g, legs, bits, target_v, facts)
    return nominal


@njit(cache=True, error_model="numpy")
def search(
    g: Any, value_of: Any, parts_of: Any, same_value: Any, ratio: Any, choice: Any, choices: int,
    asks: Any, target_v: Any, facts: Any, bound: float, found: Any, sums: Any, spent: Any,
) -> None:  # fmt: skip
    """Add to the found answers all that rank among them and whose error lies within the bound.

    `choice` lists the options to use, those that conduct most first; `ratio` holds, from each option on, the most of
    off / on at the upper corner, the least of it at the lower, and the most of on at the lower / on at the upper corner.
    A row of `found`: error, distinct values, parts, shunt, legs. Where something else ranks the answers, that is the
    first number, and the bound on the error stays as it was given. `spent` counts nodes, and the answers found so far; past the
    most nodes allowed the search stops.
    """
    bits, tie_v, count = asks[BITS], facts[TIE_V], spent[FOUND]
    top, bottom = (ON_MOST, ON_LEAST) if asks[CORNERS] else (ON, ON)
    weak, strong = (ON_LEAST, ON_MOST) if asks[SURE] else (ON, ON)
    legs = np.zeros(MOST_LEGS, np.int64)
    place, begin = np.zeros(MOST_LEGS + 1, np.int64), np.zeros(MOST_LEGS + 1, np.int64)
    listed = np.zeros(MOST_LEGS + 1, np.int64)
    narrow = np.zeros((MOST_LEGS + 1, 3 * (MOST_LEGS + 1)), np.int64)
    used, parts, slack = np.zeros(MOST_LEGS + 1, np.int64), np.zeros(MOST_LEGS + 1, np.int64), np.zeros(MOST_LEGS + 1)
    values = np.zeros((MOST_LEGS + 1, MOST_LEGS + 2), np.int64)
    limits = np.zeros((MOST_LEGS + 1, 5))
    row = np.zeros(10)
    row[3] = facts[SHUNT]
    if asks[SHUNT_VALUE] >= 0:
        values[0, 0], used[0], parts[0] = asks[SHUNT_VALUE], 1, 1
    slack[0] = np.inf
    for side in range(4):
        sums[side, 0, 0] = 0.0
    # how much of what legs conduct at their strongest can be there at the lower corner
    share = 0.0
    for place_of in range(choices):
        share = max(share, g[bottom, choice[place_of]] / g[strong, choice[place_of]])
    share *= 1.0 + SLACK
    # the least that so many legs at the bottom can conduct together, each more than all below it
    lowest = np.zeros(MOST_LEGS + 1)
    faint = choices - 1
    for leg in range(1, bits):
        while faint >= 0 and facts[KAPPA] * g[weak, choice[faint]] <= lowest[leg - 1]:
            faint -= 1
        if faint < 0:
            return
        lowest[leg] = lowest[leg - 1] + g[strong, choice[faint]]
        faint -= 1
    depth, fresh = 0, True
    while depth >= 0:
        if count == found.shape[0] and asks[RANK] == BY_ERROR:
            bound = min(bound, next_bound(found[count - 1, 0], asks, tie_v))
        if fresh:
            fresh = False
            start = 0 if depth == 0 else begin[depth]
            place[depth], listed[depth] = start, -1
            if start >= choices:
                depth -= 1
                continue
            limit = limits[depth]
            limit[0], limit[1], limit[2], limit[3], limit[4] = window(
                g, asks, sums, depth, choice[start], target_v, facts, ratio, bound
            )
            if share * slack[depth] < limits[depth, 2]:  # the legs above leave too little for white
                depth -= 1
                continue
            if used[depth] >= asks[DISTINCT_MOST]:  # only values that are there already
                listed[depth], place[depth] = 0, 0
                for i in range(used[depth]):
                    for how in range(3):
                        option = same_value[values[depth, i], how]
                        if option >= 0 and (depth == 0 or option > legs[depth - 1]):
                            narrow[depth, listed[depth]] = option
                            listed[depth] += 1
            else:  # the first that is not too strong
                least, most = start, choices
                while least < most:
                    middle = (least + most) // 2
                    if g[top, choice[middle]] > limits[depth, 0]:
                        least = middle + 1
                    else:
                        most = middle
                place[depth] = least
        rest = bits - 1 - depth
        if place[depth] >= (choices if listed[depth] < 0 else listed[depth]):
            depth -= 1
            continue
        option = choice[place[depth]] if listed[depth] < 0 else narrow[depth, place[depth]]
        begin[depth + 1] = place[depth] + 1
        place[depth] += 1
        if g[bottom, option] < limits[depth, 1] or g[top, option] < limits[depth, 3]:
            if listed[depth] < 0:
                depth -= 1
            continue
        if g[top, option] > limits[depth, 0] or g[bottom, option] > limits[depth, 4]:
            continue
        # legs below conduct less together than this one does: too weak a leg is not made up for, nor is one too many
        above = facts[KAPPA] * g[weak, option]
        if g[bottom, option] + share * above < limits[depth, 2] or above <= lowest[rest]:
            if listed[depth] < 0:
                depth -= 1
            continue
        if slack[depth] <= g[strong, option] + lowest[rest]:
            continue
        if parts[depth] + parts_of[option] + rest > asks[PARTS_MOST]:
            continue
        if facts[PIN_MOST_A] < np.inf:
            own = g[ON_MOST, option]
            least_a = facts[RAIL_MOST] * own * facts[GROUND_MOST] / (own + facts[GROUND_MOST])
            if least_a * (1.0 - SLACK) > facts[PIN_MOST_A]:
                continue
        spent[NODES] += 1
        if spent[NODES] > asks[NODES_MOST]:
            break
        if not extend(g, asks, sums, depth, option, target_v, facts, ratio, bound):
            continue
        legs[depth] = option
        now = used[depth]
        is_new = True
        for i in range(now):
            values[depth + 1, i] = values[depth, i]
            if values[depth, i] == value_of[option]:
                is_new = False
        if is_new:
            values[depth + 1, now] = value_of[option]
            now += 1
        used[depth + 1], parts[depth + 1] = now, parts[depth] + parts_of[option]
        if now > asks[DISTINCT_MOST]:
            continue
        if depth == bits - 1:
            error = leaf(g, asks, legs, target_v, facts, bound)
            if error <= bound:
                row[0] = error
                if asks[RANK] == BY_CURRENT:
                    row[0] = white_current(g, legs, bits, facts, True)
                elif asks[RANK] == BY_TYPICAL:
                    row[0] = nominal_error(g, legs, bits, target_v, facts)
                row[1], row[2] = now, parts[depth + 1]
                for leg in range(bits):
                    row[4 + leg] = legs[leg]
                count = keep(found, count, row, tie_v)
            continue
        slack[depth + 1] = min(slack[depth] - g[strong, option], above)
        depth += 1
        if listed[depth - 1] >= 0 or used[depth] >= asks[DISTINCT_MOST]:
            begin[depth] = 0
        fresh = True
    spent[FOUND] = count


@njit(cache=True, error_model="numpy")
def search_shunts(
    g: Any, value_of: Any, parts_of: Any, same_value: Any, ratio: Any, shunt_value: Any,
    asks: Any, target_v: Any, facts: Any, bound: float, found: Any, spent: Any,
) -> None:  # fmt: skip
    """One bound, every shunt: `facts` and `shunt_value` have a row for each, the lone row -1 for none."""
    spent[FOUND] = 0
    choice = np.arange(g.shape[1])
    sums = np.zeros((4, MOST_LEGS + 1, 1 << MOST_LEGS))
    for place in range(facts.shape[0]):
        if facts[place, SUM_MOST] < facts[place, SUM_LEAST]:
            continue
        asks[SHUNT_VALUE] = shunt_value[place]
        search(
            g,
            value_of,
            parts_of,
            same_value,
            ratio,
            choice,
            choice.size,
            asks,
            target_v,
            facts[place],
            bound,
            found,
            sums,
            spent,
        )
        if spent[FOUND] == found.shape[0] and asks[RANK] == BY_ERROR:
            bound = min(bound, next_bound(found[spent[FOUND] - 1, 0], asks, facts[0, TIE_V]))
