"""Every set of values, tried for all channels and syncs at once: compiled.

Inside one set a channel has no more than three legs a value, so its own optimum is a matter of microseconds; most sets
are ruled out by their hardest channel, which is asked first. What the worst channel of the best set has is the bound
for all others, so a set is only worked out if it may win.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from scanloom.stages.levels.search._kernel import BITS, BY_CURRENT, MOST_LEGS, leaf, search, window
from scanloom.stages.levels.search._sums_kernel import ON, ON_LEAST, ON_MOST, TIE_V, white_current

MOST_VALUES = 4


@njit(cache=True, error_model="numpy")
def may_begin(g: Any, ratio: Any, asks: Any, target_v: Any, facts: Any, bound: float, fits: Any, sums: Any) -> None:
    """Mark for each channel the legs that its most significant bit may have at all."""
    for kind in range(g.shape[0]):
        sums[:, 0, 0] = 0.0
        most, least, _ = window(g[kind], asks[kind], sums, 0, 0, target_v[kind], facts[kind], ratio[kind], bound)
        top, bottom = (ON_MOST, ON_LEAST) if asks[kind, 0] else (ON, ON)
        for option in range(g.shape[2]):
            fits[kind, option] = g[kind, top, option] <= most and g[kind, bottom, option] >= least


@njit(cache=True, error_model="numpy")
def caps_hold(white_a: Any, sync_a: Any, caps_a: Any, cap_kinds: Any, cap_syncs: Any) -> bool:
    """Whether the currents at white and those of the syncs stay within every cap."""
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
    kind: int, by_current: int, g: Any, value_of: Any, parts_of: Any, same_value: Any, ratio: Any, choice: Any,
    choices: int, asks: Any, target_v: Any, facts: Any, bound: float, row: Any, sums: Any, spent: Any,
) -> bool:  # fmt: skip
    """Best network of one kind of channel within a set, by error or by current at white."""
    asks[kind, BY_CURRENT] = by_current
    found = row[kind : kind + 1]
    spent[0] = 0
    return search(
        g[kind], value_of, parts_of, same_value, ratio[kind], choice, choices, -1, asks[kind], target_v[kind],
        facts[kind], bound, found, 0, sums, spent,
    ) > 0  # fmt: skip


@njit(cache=True, error_model="numpy")
def scan(
    first: int, values: int, count: int, g: Any, value_of: Any, parts_of: Any, same_value: Any, ratio: Any, asks: Any,
    target_v: Any, facts: Any, many: Any, sync_cost: Any, sync_a: Any, caps_a: Any, cap_kinds: Any, cap_syncs: Any,
    best: Any, best_rows: Any, best_sync: Any, best_set: Any, tally: Any,
) -> None:  # fmt: skip
    """Try every set of `count` values whose first is given; `best` keeps the key of the best set met so far.

    The key: errors of the channels from the worst down, in steps; distinct values in use; parts of all channels; sum of
    errors. An infinite cost marks a leg that a sync may not have as its branch.
    """
    kinds, syncs, options = g.shape[0], sync_cost.shape[0], g.shape[2]
    tie_v = facts[0, TIE_V]
    sums = np.zeros((4, MOST_LEGS + 1, 1 << MOST_LEGS))
    spent = np.zeros(1, np.int64)
    rows, cheap = np.zeros((kinds, 10)), np.zeros((kinds, 10))
    white_a = np.zeros(kinds)
    chosen_sync, least_sync = np.zeros(syncs, np.int64), np.zeros(syncs, np.int64)
    chosen_a, least_a = np.zeros(syncs), np.zeros(syncs)
    choice = np.zeros(3 * MOST_VALUES, np.int64)
    legs = np.zeros(MOST_LEGS, np.int64)
    key = np.zeros(kinds + 3)
    fits = np.zeros((kinds, options), np.bool_)
    place = np.arange(first, first + count)
    marked = -1.0
    while place[0] == first:
        tally[0] += 1
        bound = best[0] + tie_v
        if bound != marked:
            may_begin(g, ratio, asks, target_v, facts, bound, fits, sums)
            marked = bound
        choices = 0
        for i in range(count):
            for how in range(3):
                option = same_value[place[i], how]
                if option >= 0:
                    at = choices
                    while at > 0 and choice[at - 1] > option:
                        choice[at] = choice[at - 1]
                        at -= 1
                    choice[at] = option
                    choices += 1
        good = True
        for kind in range(kinds):
            begins = False
            for i in range(choices):
                if fits[kind, choice[i]]:
                    begins = True
                    break
            if not begins:
                good = False
                break
        for sync in range(syncs if good else 0):
            chosen_sync[sync], least_sync[sync] = -1, -1
            for i in range(choices):
                option = choice[i]
                if sync_cost[sync, option] == np.inf:
                    continue
                if chosen_sync[sync] < 0 or sync_cost[sync, option] < sync_cost[sync, chosen_sync[sync]]:
                    chosen_sync[sync] = option
                if least_sync[sync] < 0 or sync_a[sync, option] < sync_a[sync, least_sync[sync]]:
                    least_sync[sync] = option
            if chosen_sync[sync] < 0:
                good = False
                break
            chosen_a[sync], least_a[sync] = sync_a[sync, chosen_sync[sync]], sync_a[sync, least_sync[sync]]
        for kind in range(kinds if good else 0):
            if not solve_kind(
                kind, 0, g, value_of, parts_of, same_value, ratio, choice, choices, asks, target_v, facts, bound, rows, sums, spent
            ):
                good = False
                break
            white_a[kind] = white_of(g, asks, facts, rows, kind, legs)
        if good and not caps_hold(white_a, chosen_a, caps_a, cap_kinds, cap_syncs):
            # least current of every channel within a bound on the error: the smallest such bound that fits all caps
            for sync in range(syncs):
                chosen_sync[sync], chosen_a[sync] = least_sync[sync], least_a[sync]
            limit, good = bound, False
            while True:
                met = True
                for kind in range(kinds):
                    if not solve_kind(
                        kind, 1, g, value_of, parts_of, same_value, ratio, choice, choices, asks, target_v, facts, limit, cheap, sums, spent
                    ):
                        met = False
                        break
                    white_a[kind] = cheap[kind, 0]
                if not met or not caps_hold(white_a, chosen_a, caps_a, cap_kinds, cap_syncs):
                    break
                good = True
                worst = 0.0
                for kind in range(kinds):
                    for leg in range(asks[kind, BITS]):
                        legs[leg] = np.int64(cheap[kind, 4 + leg])
                    cheap[kind, 0] = leaf(g[kind], asks[kind], legs, target_v[kind], facts[kind], np.inf)
                    worst = max(worst, cheap[kind, 0])
                rows[:] = cheap
                limit = worst - tie_v
            for kind in range(kinds if good else 0):  # then each, in turn, as good as the caps leave it
                white_a[kind] = white_of(g, asks, facts, rows, kind, legs)
            for kind in range(kinds if good else 0):
                cheap[kind] = rows[kind]
                before = white_a[kind]
                solve_kind(
                    kind, 0, g, value_of, parts_of, same_value, ratio, choice, choices, asks, target_v, facts, limit + 2.0 * tie_v, rows, sums, spent
                )
                white_a[kind] = white_of(g, asks, facts, rows, kind, legs)
                if not caps_hold(white_a, chosen_a, caps_a, cap_kinds, cap_syncs):
                    rows[kind] = cheap[kind]
                    white_a[kind] = before
        if good:
            rank(rows, chosen_sync, choice, choices, value_of, parts_of, asks, many, tie_v, key)
            for i in range(kinds + 3):
                mine, theirs = key[i], best[i]
                if i < kinds:
                    mine, theirs = np.floor(mine / tie_v), np.floor(theirs / tie_v)
                if mine != theirs:
                    if mine < theirs:
                        best[: kinds + 3] = key
                        best_rows[:] = rows
                        best_sync[:] = chosen_sync
                        best_set[:count] = place
                    break
        step = count - 1  # next set
        while step > 0 and place[step] == values - count + step:
            step -= 1
        place[step] += 1
        for i in range(step + 1, count):
            place[i] = place[i - 1] + 1


@njit(cache=True, error_model="numpy")
def white_of(g: Any, asks: Any, facts: Any, rows: Any, kind: int, legs: Any) -> float:
    """Most current at white of a found network."""
    for leg in range(asks[kind, BITS]):
        legs[leg] = np.int64(rows[kind, 4 + leg])
    return white_current(g[kind], legs, asks[kind, BITS], facts[kind], True)


@njit(cache=True, error_model="numpy")
def rank(
    rows: Any, chosen_sync: Any, choice: Any, choices: int, value_of: Any, parts_of: Any, asks: Any, many: Any, tie_v: float, key: Any
) -> None:
    """Key of a set: errors from the worst down, distinct values in use, parts of all channels, sum of errors."""
    kinds = rows.shape[0]
    key[:kinds] = np.sort(rows[:, 0])[::-1]
    used, parts = 0, 0
    for i in range(choices):
        value = value_of[choice[i]]
        seen = False
        for j in range(i):
            if value_of[choice[j]] == value:
                seen = True
        if seen:
            continue
        found = False
        for kind in range(kinds):
            for leg in range(asks[kind, BITS]):
                if value_of[np.int64(rows[kind, 4 + leg])] == value:
                    found = True
        for sync in range(chosen_sync.size):
            if value_of[chosen_sync[sync]] == value:
                found = True
        used += found
    for kind in range(kinds):
        parts += many[kind] * np.int64(rows[kind, 2])
    for sync in range(chosen_sync.size):
        parts += many[kinds + sync] * parts_of[chosen_sync[sync]]
    key[kinds], key[kinds + 1], key[kinds + 2] = used, parts, rows[:, 0].sum()
