"""Pixel rates a chain can make, best first: exact, and equal to trying every setting.

The step with the finest grain is solved for; all others are tabulated (`table.py`). Rates whose pixels last a whole
number of source clocks come first, so the nearest of those are looked for in a window that widens until there are
enough of them (`search.py`). Only when 5000 ppm hold too few do dividers that split clocks come in.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Final

from scanloom.handbook.clock_chain import ClockChain
from scanloom.stages.clock.model import WITHIN_PPM, ClockCandidate
from scanloom.stages.clock.recipe import register_values, write_recipe
from scanloom.stages.clock.search import Row, Rows, keep_best, splitting_rows, whole_rows
from scanloom.stages.clock.table import RateTable, rate_table
from scanloom.stages.clock.wobble import lines_repeat_after

Rate = Fraction | int
_NEAR_PPM: Final = (200, 1000, WITHIN_PPM)
_FAR_PPM: Final = (25_000, 125_000, 400_000, 600_000, 800_000, 950_000, None)


def enumerate_rates(
    chain: ClockChain,
    target_hz: Rate,
    *,
    h_total_px: int,
    system_hz: tuple[Rate, Rate] | None = None,
    whole_only: bool = False,
    limit: int = 8,
) -> tuple[ClockCandidate, ...]:
    """Best rates of one chain near a target, one row per rate.

    Ranked by: within 5000 ppm, then edge wobble, then distance, then the highest system clock. A rate that several
    settings reach is shown at the least wobble, then the highest system clock, then the smallest settings.

    Parameters
    ----------
    chain : ClockChain
        The chain.
    target_hz : Fraction or int
        Pixel rate asked for. [Hz]
    h_total_px : int
        Pixels of a whole line, blanking included. [1]
    system_hz : tuple of Fraction or None
        Lowest and highest system clock, in place of the chain's rated range; a chain apart from the system clock pays
        no heed. [Hz]
    whole_only : bool
        Leave out rates whose pixel is not a whole number of source clocks.
    limit : int
        Rows wanted. [1]

    Returns
    -------
    tuple of ClockCandidate
        At most `limit` rows, best first; fewer only if the chain makes no more rates.

    Raises
    ------
    ValueError
        If a rate, the line, the limit or the range of the system clock is out of order.

    References
    ----------
    [rank] The order is the project's own: displays recover the pixel clock from sync, so that half a per cent matters
    less than a jitter of edges (common practice, no source).
    """
    _check(target_hz, h_total_px, system_hz, limit)
    target = Fraction(target_hz)
    table = rate_table(chain, None if system_hz is None else (Fraction(system_hz[0]), Fraction(system_hz[1])))
    splits = chain.splitting_step is not None and not whole_only
    rows = _best_rows(table, target, limit, splits=splits)
    best = sorted(rows.values(), key=lambda row: _rank(table, row, target))[:limit]
    return tuple(candidate_of(table, row, target, h_total_px) for row in best)


def best_rate(
    chain: ClockChain,
    target_hz: Rate,
    *,
    h_total_px: int,
    system_hz: tuple[Rate, Rate] | None = None,
    whole_only: bool = False,
) -> ClockCandidate | None:
    """Best rate of one chain near a target: the first row of `enumerate_rates`.

    Parameters
    ----------
    chain : ClockChain
        The chain.
    target_hz : Fraction or int
        Pixel rate asked for. [Hz]
    h_total_px : int
        Pixels of a whole line, blanking included. [1]
    system_hz : tuple of Fraction or None
        Lowest and highest system clock, in place of the chain's rated range. [Hz]
    whole_only : bool
        Leave out rates whose pixel is not a whole number of source clocks.

    Returns
    -------
    ClockCandidate or None
        The best row; none if the chain makes no rate at all.

    Raises
    ------
    ValueError
        As `enumerate_rates`.

    References
    ----------
    [rank] As `enumerate_rates`.
    """
    rows = enumerate_rates(chain, target_hz, h_total_px=h_total_px, system_hz=system_hz, whole_only=whole_only, limit=1)
    return rows[0] if rows else None


def enumerate_chains(
    chains: Iterable[ClockChain],
    target_hz: Rate,
    *,
    h_total_px: int,
    system_hz: tuple[Rate, Rate] | None = None,
    whole_only: bool = False,
    limit: int = 8,
) -> tuple[ClockCandidate, ...]:
    """Best rates of several chains near a target, one row per rate.

    Parameters
    ----------
    chains : iterable of ClockChain
        The chains one stream may run on; of equal rows the earlier chain's is shown.
    target_hz : Fraction or int
        Pixel rate asked for. [Hz]
    h_total_px : int
        Pixels of a whole line, blanking included. [1]
    system_hz : tuple of Fraction or None
        Lowest and highest system clock, in place of the rated range of each chain that has one. [Hz]
    whole_only : bool
        Leave out rates whose pixel is not a whole number of source clocks.
    limit : int
        Rows wanted. [1]

    Returns
    -------
    tuple of ClockCandidate
        At most `limit` rows, best first.

    Raises
    ------
    ValueError
        As `enumerate_rates`.

    References
    ----------
    [rank] As `enumerate_rates`; at the same rate, wobble and system clock a source whose noise is known comes first.
    """
    _check(target_hz, h_total_px, system_hz, limit)
    found: list[ClockCandidate] = []
    for chain in chains:
        found += enumerate_rates(
            chain, target_hz, h_total_px=h_total_px, system_hz=system_hz, whole_only=whole_only, limit=limit
        )
    best: dict[Fraction, ClockCandidate] = {}
    for candidate in sorted(found, key=lambda c: c.rank):
        best.setdefault(candidate.achieved_hz, candidate)
    return tuple(best.values())[:limit]


def _check(target_hz: Rate, h_total_px: int, system_hz: tuple[Rate, Rate] | None, limit: int) -> None:
    """Refuse numbers that ask for nothing."""
    if target_hz <= 0:
        raise ValueError(f"pixel rate {target_hz} Hz: allowed is above 0; give the raster's pixel rate")
    if h_total_px < 1:
        raise ValueError(f"line of {h_total_px} pixels: allowed is 1 and more; give the horizontal total")
    if limit < 1:
        raise ValueError(f"limit of {limit} rows: allowed is 1 and more; give the rows wanted")
    if system_hz is not None and not 0 <= system_hz[0] <= system_hz[1]:
        raise ValueError(f"system clock {system_hz[0]} .. {system_hz[1]} Hz: not in order; give low, then high")


def _best_rows(table: RateTable, target: Fraction, limit: int, *, splits: bool) -> Rows:
    """Rows among which the best `limit` are: stops as soon as nothing better can be left."""
    # Whole rows within: if there are enough, all others rank after them.
    rows: Rows = {}
    for ppm in _NEAR_PPM:
        rows = whole_rows(table, target, ppm, limit)
        if len(rows) >= limit:
            return rows
    # Splitting rows within rank after those, but before whatever lies outside.
    within: Rows = {}
    if splits:
        within = splitting_rows(table, target, WITHIN_PPM, limit, inside=True)
        if len(rows | within) >= limit:
            return _merge(table, rows, within)
    # Outside, wobble counts before distance: whole rows at any distance, splitting ones last.
    for far in _FAR_PPM:
        rows = whole_rows(table, target, far, limit)
        if len(rows | within) >= limit:
            return _merge(table, rows, within)
    if splits:
        outside = splitting_rows(table, target, WITHIN_PPM, limit, inside=False)
        return _merge(table, rows, within, outside)
    return rows


def _rank(table: RateTable, row: Row, target: Fraction) -> tuple[bool, Fraction, Fraction, Fraction, Fraction]:
    """Sorting key of a row, the same as that of the candidate it becomes."""
    distance = abs(row.rate_hz - target)
    outside = distance * 10**6 > WITHIN_PPM * target
    return outside, row.wobble_px, distance, -(table.system_hz(row.way, row.value) or Fraction(0)), row.rate_hz


def _merge(table: RateTable, *parts: Rows) -> Rows:
    """Rows of several searches, the better one where they share a rate."""
    merged: Rows = {}
    for part in parts:
        for row in part.values():
            keep_best(table, merged, row)
    return merged


def candidate_of(table: RateTable, row: Row, target_hz: Fraction, h_total_px: int) -> ClockCandidate:
    """A row as the trade reads it.

    Parameters
    ----------
    table : RateTable
        Table the row is of.
    row : Row
        The row.
    target_hz : Fraction
        Rate asked for. [Hz]
    h_total_px : int
        Pixels of a whole line, blanking included. [1]

    Returns
    -------
    ClockCandidate
        Rate, error, wobble and recipe.
    """
    chain, values = table.chain, table.values(row.way, row.value)
    split = chain.splitting_step
    # Without a splitting divider a pixel is whole clocks whatever the settings, so one stands for all.
    clocks = Fraction(1) if split is None else row.value * row.way.after
    error = (row.rate_hz / target_hz - 1) * 10**6
    dithered = any(step.edges == "sigma-delta" for step in chain.steps)
    guessed = split is not None and row.wobble_px > 0 and not chain.steps[split].edges_published
    return ClockCandidate(
        chain=chain.name,
        achieved_hz=row.rate_hz,
        error_ppm=error,
        wobble_px=row.wobble_px,
        lines_repeat_after=lines_repeat_after(clocks, h_total_px),
        system_hz=table.system_hz(row.way, row.value),
        settings=register_values(chain, values),
        recipe=write_recipe(chain, values),
        noise_known=not dithered and not guessed,
        within=abs(error) <= WITHIN_PPM,
    )
