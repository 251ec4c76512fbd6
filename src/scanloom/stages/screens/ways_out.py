"""Other parents that every display accepts."""

from __future__ import annotations

from collections.abc import Sequence

from scanloom.basis.fact import Known
from scanloom.dossier.edid import EdidBlock
from scanloom.dossier.identity import NO_IDENTITIES, Identities
from scanloom.dossier.model import Display
from scanloom.handbook.timing_ways import READIEST
from scanloom.handbook.timings import TimingRow, all_timings
from scanloom.stages.screens.rates import overruled
from scanloom.stages.timing import timing_named


def parents_for_all(
    displays: Sequence[Display], most: int = 4, *, identities: Identities = NO_IDENTITIES
) -> tuple[str, ...]:
    """Progressive timings inside every display's stated limits.

    Parameters
    ----------
    displays : sequence of Display
        The displays, classes filled in.
    most : int
        Names wanted. [1]
    identities : Mapping
        Identification blocks by display, for the highest pixel clock.

    Returns
    -------
    tuple of str
        Names, those proved or promised most often first, then the common ones, then by size; judged at the published
        rate, before any clock is chosen.
    """
    fit = [
        row
        for row in all_timings()
        if not row.interlaced and all(_accepts(d, identities.get(d.name), row) for d in displays)
    ]
    votes = {row.id: sum(row.id in _listed_ids(d) for d in displays) for row in fit}

    first = READIEST[:3]

    def rank(row: TimingRow) -> tuple[int, int, int]:
        likely = first.index(row.name) if row.name in first else len(first)
        return -votes[row.id], likely, row.active_px * row.active_lines

    names: list[str] = []
    for row in sorted(fit, key=rank):
        if row.name not in names:
            names.append(row.name)
    return tuple(names[:most])


def listed(display: Display, what: str) -> tuple[str, ...]:
    """Timing names a display states as proved or promised.

    Parameters
    ----------
    display : Display
        The display.
    what : str
        ``proved`` or ``promised``.

    Returns
    -------
    tuple of str
        Names as written.
    """
    known = getattr(display, what) or ()
    return tuple(k.value for k in known)


def _listed_ids(display: Display) -> frozenset[str]:
    """Timings, by ID, that the display is known or said to show."""
    return frozenset(timing_named(name).id for name in (*listed(display, "proved"), *listed(display, "promised")))


def _accepts(display: Display, identity: Known[EdidBlock] | None, row: TimingRow) -> bool:
    """Whether nothing stated speaks against the timing and something stated speaks for it."""
    seen_or_listed = row.id in _listed_ids(display)
    for known, rate_hz in ((display.line_rate, row.line_rate_hz), (display.frame_rate, row.frame_rate_hz)):
        counts = known is not None and not (seen_or_listed and overruled(known))
        if counts and known is not None and not known.value.low <= rate_hz <= known.value.high:
            return False
    ranges = identity.value.ranges if identity is not None and not identity.value.digital else None
    most_hz = ranges.max_pixel_clock_hz if ranges is not None else None
    if most_hz is not None and not seen_or_listed and row.pixel_clock_hz > most_hz:
        return False
    return display.line_rate is not None or seen_or_listed
