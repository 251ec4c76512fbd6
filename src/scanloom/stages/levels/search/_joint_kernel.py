"""Every set of values, tried for all channels and syncs at once: compiled.

Inside one set a channel has no more than three legs a value, so its own optimum is a matter of microseconds; most sets
are ruled out by their hardest channel, which is asked first. What the worst channel of the best set has is the bound
for all others, so a set is only worked out if it may win.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from scanloom.stages.levels.search._kernel import (
    BITS,
    BY_CURRENT,
    BY_ERROR,
    FOUND,
    MOST_LEGS,
    NODES,
    RANK,
    leaf,
    search,
    window,
)
from scanloom.stages.levels.search._rank_kernel import copy
from scanloom.stages.levels.search._sums_kernel import ON, ON_LEAST, ON_MOST, TIE_V, white_current

MOST_VALUES = 4


@njit(cache=True, error_model="numpy")
def may_begin(g: Any, ratio: Any, asks: Any, target_v: Any, facts: Any, bound: float, fits: Any, sums: Any) -> None:
    """Mark for each channel the legs that its most significant bit may have at all."""
    for kind in range(g.shape[0]):
        for side in range(4):
            sums[side, 0, 0] = 0.0
        most, least, _, _, _ = window(g[kind], asks[kind], sums, 0, 0, target_v[kind], facts[kind], ratio[kind], bound)
        top, bottom = (ON_MOST, ON_LEAST) if asks[kind, 0] else (ON, ON)
        for option in range(g.shape[2]):
            fits[kind, option] = g[kind, top, option] <= most and g[kind, bottom, option] >= least


@njit(cache=True, error_model="numpy")
def caps_hold(white_a: Any, sync_a: Any, caps: Any) -> bool:
    """Whether the currents at white and those of the syncs stay within every cap."""
    caps_a, cap_kinds, cap_syncs = caps
    for cap in range(caps_a.size):
        total = 0.0
        for kind in range(white_a.size):
            total += cap_kinds[cap, kind] * white_a[kind]
        for sync in range(sync_a.size):
            total += cap_syncs[cap, sync] * sync_a[sync]
        if total > caps_a[cap]:
            return False
    return True


@njit(cache=True, error_model="numpy")
def solve_kind(
    kind: int, legs: Any, channels: Any, choice: Any, choices: int, bound: float, row: Any, work: Any
) -> bool:
    """Best network of one kind of channel within a set, by error or by current at white, as its `asks` say."""
    g, ratio, asks, target_v, facts = channels
    value_of, parts_of, same_value = legs
    sums, spent = work
    spent[NODES] = spent[FOUND] = 0
    search(
        g[kind], value_of, parts_of, same_value, ratio[kind], choice, choices, asks[kind], target_v[kind], facts[kind],
        bound, row[kind : kind + 1], sums, spent,
    )  # fmt: skip
    return bool(spent[FOUND] > 0)


@njit(cache=True, error_model="numpy")
def solve_all(legs: Any, channels: Any, choice: Any, choices: int, bound: float, rows: Any, work: Any) -> bool:
    """Every kind of channel, the hardest first; false as soon as one has no network within the bound."""
    for kind in range(rows.shape[0]):
        if not solve_kind(kind, legs, channels, choice, choices, bound, rows, work):
            return False
    return True


@njit(cache=True, error_model="numpy")
def options_of(rows: Any, kind: int, options: Any) -> None:
    """Legs of a found row."""
    for leg in range(options.size):
        options[leg] = np.int64(rows[kind, 4 + leg])


@njit(cache=True, error_model="numpy")
def whites(channels: Any, rows: Any, white_a: Any) -> None:
    """Most current at white of each found network."""
    g, _, asks, _, facts = channels
    options, worst = np.zeros(MOST_LEGS, np.int64), True
    for kind in range(rows.shape[0]):
        options_of(rows, kind, options)
        white_a[kind] = white_current(g[kind], options, asks[kind, BITS], facts[kind], worst)


@njit(cache=True, error_model="numpy")
def fit_caps(
    legs: Any,
    channels: Any,
    choice: Any,
    choices: int,
    bound: float,
    rows: Any,
    cheap: Any,
    white_a: Any,
    sync_a: Any,
    caps: Any,
    work: Any,
) -> bool:
    """Networks within the caps whose worst error is least.

    Within a bound on the error each channel can do with some least current, and no other choice helps a cap more. So
    the bound is lowered to the worst error met, less one step, until no choice fits.
    """
    g, _, asks, target_v, facts = channels
    tie_v = facts[0, TIE_V]
    good = False
    kinds, options = rows.shape[0], np.zeros(MOST_LEGS, np.int64)
    for kind in range(kinds):
        asks[kind, RANK] = BY_CURRENT
    while solve_all(legs, channels, choice, choices, bound, cheap, work):
        for kind in range(kinds):
            white_a[kind] = cheap[kind, 0]
        if not caps_hold(white_a, sync_a, caps):
            break
        good = True
        worst = 0.0
        for kind in range(kinds):
            options_of(cheap, kind, options)
            cheap[kind, 0] = leaf(g[kind], asks[kind], options, target_v[kind], facts[kind], np.inf)
            worst = max(worst, cheap[kind, 0])
            copy(cheap[kind], rows[kind])
        bound = worst - tie_v
    for kind in range(kinds):
        asks[kind, RANK] = BY_ERROR
    if not good:
        return False
    for kind in range(kinds):  # then each, in turn, as good as the caps leave it
        copy(rows[kind], cheap[kind])
        solve_kind(kind, legs, channels, choice, choices, bound + 2.0 * tie_v, rows, work)
        whites(channels, rows, white_a)
        if not caps_hold(white_a, sync_a, caps):
            copy(cheap[kind], rows[kind])
    return True


@njit(cache=True, error_model="numpy")
def merge(place: Any, same_value: Any, choice: Any) -> int:
    """Legs of a set of values, those that conduct most first."""
    choices = 0
    for value in place:
        for how in range(3):
            option = same_value[value, how]
            if option >= 0:
                at = choices
                while at > 0 and choice[at - 1] > option:
                    choice[at] = choice[at - 1]
                    at -= 1
                choice[at] = option
                choices += 1
    return choices


@njit(cache=True, error_model="numpy")
def branch_of(cost: Any, choice: Any, choices: int) -> int:
    """Leg of least finite cost, -1 if there is none."""
    found = -1
    for i in range(choices):
        if cost[choice[i]] < np.inf and (found < 0 or cost[choice[i]] < cost[found]):
            found = choice[i]
    return found


@njit(cache=True, error_model="numpy")
def begins(fits: Any, choice: Any, choices: int) -> bool:
    """Whether every channel has a leg to begin with."""
    for kind in range(fits.shape[0]):
        met = False
        for i in range(choices):
            if fits[kind, choice[i]]:
                met = True
                break
        if not met:
            return False
    return True


@njit(cache=True, error_model="numpy")
def scan(
    first: int, values: int, count: int, legs: Any, channels: Any, many: Any, sync_cost: Any, sync_a: Any, caps: Any,
    best: Any, best_rows: Any, best_sync: Any, best_set: Any, tally: Any,
) -> None:  # fmt: skip
    """Try every set of `count` values whose first is given; `best` keeps the key of the best set met so far.

    The key: errors of the channels from the worst down, in steps; how far syncs lie from the line, in quarters; distinct
    values in use; parts of all channels; sum of errors. An infinite cost, or current, marks a leg that a sync may not have as its branch.
    """
    g, ratio, asks, target_v, facts = channels
    _, _, same_value = legs
    kinds, syncs = g.shape[0], sync_cost.shape[0]
    tie_v = facts[0, TIE_V]
    work = (np.zeros((4, MOST_LEGS + 1, 1 << MOST_LEGS)), np.zeros(2, np.int64))
    rows, cheap, white_a = np.zeros((kinds, 10)), np.zeros((kinds, 10)), np.zeros(kinds)
    branch, drawn_a = np.zeros(syncs, np.int64), np.zeros(syncs)
    choice = np.zeros(3 * MOST_VALUES, np.int64)
    key = np.zeros(kinds + 4)
    fits = np.zeros((kinds, g.shape[2]), np.bool_)
    place = np.arange(first, first + count)
    marked = -1.0
    while place[0] == first:
        tally[0] += 1
        bound = best[0] + tie_v
        if bound != marked:
            may_begin(g, ratio, asks, target_v, facts, bound, fits, work[0])
            marked = bound
        choices = merge(place, same_value, choice)
        good = begins(fits, choice, choices)
        for sync in range(syncs if good else 0):
            branch[sync] = branch_of(sync_cost[sync], choice, choices)
            if branch[sync] < 0:
                good = False
                break
            drawn_a[sync] = sync_a[sync, branch[sync]]
        if good and solve_all(legs, channels, choice, choices, bound, rows, work):
            whites(channels, rows, white_a)
            if not caps_hold(white_a, drawn_a, caps):
                for sync in range(syncs):
                    branch[sync] = branch_of(sync_a[sync], choice, choices)
                    drawn_a[sync] = sync_a[sync, branch[sync]]
                good = fit_caps(legs, channels, choice, choices, bound, rows, cheap, white_a, drawn_a, caps, work)
            if good:
                rank(rows, branch, choices, sync_cost, legs, asks, many, key)
                if precedes(key, best, kinds, tie_v):
                    copy(key, best)
                    copy(branch, best_sync)
                    copy(place, best_set)
                    for kind in range(kinds):
                        copy(rows[kind], best_rows[kind])
        step = count - 1  # next set
        while step > 0 and place[step] == values - count + step:
            step -= 1
        place[step] += 1
        for i in range(step + 1, count):
            place[i] = place[i - 1] + 1


@njit(cache=True, error_model="numpy")
def precedes(key: Any, best: Any, kinds: int, tie_v: float) -> bool:
    """Whether a set ranks before the best so far."""
    for i in range(key.size):
        mine, theirs = key[i], best[i]
        if i < kinds:
            mine, theirs = np.floor(mine / tie_v), np.floor(theirs / tie_v)
        if mine != theirs:
            return bool(mine < theirs)
    return False


@njit(cache=True, error_model="numpy")
def rank(rows: Any, branch: Any, choices: int, sync_cost: Any, legs: Any, asks: Any, many: Any, key: Any) -> None:
    """Key of a set, see `scan`."""
    value_of, parts_of, _ = legs
    kinds = rows.shape[0]
    for kind in range(kinds):
        at = kind
        while at > 0 and key[at - 1] < rows[kind, 0]:
            key[at] = key[at - 1]
            at -= 1
        key[at] = rows[kind, 0]
    seen = np.zeros(choices + 1, np.int64)
    used, parts, total = 0, 0, 0.0
    for kind in range(kinds + 1):
        count = asks[kind, BITS] if kind < kinds else branch.size
        for place in range(count):
            option = np.int64(rows[kind, 4 + place]) if kind < kinds else branch[place]
            parts += parts_of[option] * (many[kind] if kind < kinds else many[kinds + place])
            fresh = True
            for i in range(used):
                fresh = fresh and seen[i] != value_of[option]
            if fresh:
                seen[used] = value_of[option]
                used += 1
        if kind < kinds:
            total += rows[kind, 0]
    away = 0.0
    for sync in range(branch.size):
        away += np.floor(4.0 * sync_cost[sync, branch[sync]])
    key[kinds], key[kinds + 1], key[kinds + 2], key[kinds + 3] = away, used, parts, total
