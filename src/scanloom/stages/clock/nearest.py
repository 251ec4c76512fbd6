"""The rate nearest to one that somebody fixed, whatever its wobble."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from scanloom.handbook.clock_chain import ClockChain
from scanloom.stages.clock.enumerate import candidate_of, enumerate_chains
from scanloom.stages.clock.model import WITHIN_PPM, ClockCandidate
from scanloom.stages.clock.search import Row, splitting_rows, whole_rows
from scanloom.stages.clock.table import RateTable, rate_table

_WINDOWS_PPM = (1, 30, 500, WITHIN_PPM)
_MOST_ROWS = 100_000
"""More rows than any chain has inside a window, so that none is left out for its wobble. [1]"""


def nearest_rate(
    chains: Iterable[ClockChain],
    wanted_hz: Fraction,
    *,
    h_total_px: int,
    system_hz: tuple[Fraction, Fraction] | None = None,
) -> ClockCandidate | None:
    """Rate nearest to a fixed one; of equal distances the steadier.

    Parameters
    ----------
    chains : iterable of ClockChain
        The chains one stream may run on.
    wanted_hz : Fraction
        The rate that was fixed, perhaps rounded. [Hz]
    h_total_px : int
        Pixels of a whole line, blanking included. [1]
    system_hz : tuple of Fraction or None
        Lowest and highest system clock, in place of each chain's rated range. [Hz]

    Returns
    -------
    ClockCandidate or None
        None when the chains make no rate at all.

    Raises
    ------
    ValueError
        As `enumerate_chains`.
    """
    listed = tuple(chains)
    best = enumerate_chains(listed, wanted_hz, h_total_px=h_total_px, system_hz=system_hz, limit=1)
    if not best or not best[0].within:
        return best[0] if best else None
    for ppm in _WINDOWS_PPM:
        found: list[tuple[Fraction, Fraction, int, RateTable, Row]] = []
        for number, chain in enumerate(listed):
            table = rate_table(chain, system_hz)
            rows = dict(whole_rows(table, wanted_hz, ppm, 4))
            if chain.splitting_step is not None:
                for rate, row in splitting_rows(table, wanted_hz, ppm, _MOST_ROWS, inside=True).items():
                    rows.setdefault(rate, row)
            found += [(abs(row.rate_hz - wanted_hz), row.wobble_px, number, table, row) for row in rows.values()]
        if found:
            *_, table, row = min(found, key=lambda item: item[:3])
            return candidate_of(table, row, wanted_hz, h_total_px)
    return best[0]
