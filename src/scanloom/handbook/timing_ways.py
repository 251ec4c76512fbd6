"""How a published timing carries a picture that no timing is listed for: as it is, divided, or within a border."""

from __future__ import annotations

import math
from collections.abc import Iterable
from fractions import Fraction

from scanloom.basis.record import record
from scanloom.handbook.timing_row import TimingRow

READIEST = (
    "640x480@60",
    "800x600@60",
    "1024x768@60",
    "800x600@56",
    "640x480@72",
    "640x480@75",
    "640x400@70",
    "720x400@70",
)
"""Timings that small displays take most readily, the readiest first. Common practice, no source."""


@record
class ParentWay:
    """One way of sending a picture by a listed parent.

    Parameters
    ----------
    parent : TimingRow
        The listed timing.
    times : int
        By what clock and horizontal figures are divided, and how often each row is sent. [1]
    size : tuple of int
        Pixels and rows of the picture. [1]
    """

    parent: TimingRow
    times: int
    size: tuple[int, int]

    @property
    def share(self) -> float:
        """Share of the active area that the picture fills [1]."""
        return self.times**2 * self.size[0] * self.size[1] / (self.parent.active_px * self.parent.active_lines)

    @property
    def keys(self) -> str:
        """The way as keys of a rig's raster."""
        scale = f", divide = {self.times}, repeat = {self.times}" if self.times > 1 else ""
        border = f', picture = "{self.size[0]}x{self.size[1]}"' if self.share < 1 else ""
        return f'parent = "{self.parent.name}"{scale}{border}'


def way_by_parent(rows: Iterable[TimingRow], px: int, lines: int, rate_hz: Fraction) -> ParentWay | None:
    """The listed parent that carries a picture best at about some rate.

    Parameters
    ----------
    rows : iterable of TimingRow
        Listed timings.
    px : int
        Pixels of the picture. [1]
    lines : int
        Rows of the picture. [1]
    rate_hz : Fraction
        Rate wanted; parents within 1.5 Hz of it count. [Hz]

    Returns
    -------
    ParentWay or None
        The smallest parent that the picture fills to three quarters, else the one it fills best; None when none holds it.
    """
    ways: list[ParentWay] = []
    for row in rows:
        if row.interlaced or rate_gap(row, rate_hz) > Fraction(3, 2) or not px or not lines:
            continue
        common = math.gcd(row.active_px, row.h_front_px, row.h_sync_px, row.h_back_px)
        for times in (1, 2, 3, 4):
            if common % times == 0 and times * px <= row.active_px and times * lines <= row.active_lines:
                ways.append(ParentWay(row, times, (px, lines)))
    if not ways:
        return None
    full = [way for way in ways if way.share >= 0.75] or [max(ways, key=lambda way: way.share)]
    return min(full, key=lambda w: (w.parent.active_px * w.parent.active_lines, w.times, w.parent.reduced_blanking))


def exact_rates(row: TimingRow) -> tuple[Fraction, ...]:
    """Exact rates that a timing may be called by.

    Parameters
    ----------
    row : TimingRow
        The timing.

    Returns
    -------
    tuple of Fraction
        Of frames; of fields first when interlaced. [Hz]
    """
    return (row.frame_rate_hz, row.frame_rate_hz / 2) if row.interlaced else (row.frame_rate_hz,)


def rate_gap(row: TimingRow, rate_hz: Fraction) -> Fraction:
    """Distance from a rate to the nearest one of a timing.

    Parameters
    ----------
    row : TimingRow
        The timing.
    rate_hz : Fraction
        The rate. [Hz]

    Returns
    -------
    Fraction
        Never negative. [Hz]
    """
    return min(abs(exact - rate_hz) for exact in exact_rates(row))
