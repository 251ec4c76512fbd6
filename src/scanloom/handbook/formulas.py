"""Constants of the formulas that make a timing where no list holds one."""

from __future__ import annotations

from functools import cache
from typing import Any, get_args

from scanloom.basis.record import record
from scanloom.handbook.load import table
from scanloom.handbook.timing_row import Blanking, FormulaName, Polarity

FORMULAS: tuple[FormulaName, ...] = get_args(FormulaName)
"""Names of the formulas: CVT with full blanking, with reduced blanking version 1 and 2, and GTF."""


@record
class BlankingCurve:
    """Share of a line that is blank, falling as the lines get longer.

    Parameters
    ----------
    offset_percent : int
        Share of an endlessly short line. [%]
    gradient_percent_per_s : int
        By how much the share falls with the line period. [%/s]
    least_percent : int or None
        Share below which it does not fall. [%]
    sync_percent : int
        Share of the whole line that horizontal sync takes, before rounding. [%]
    """

    offset_percent: int
    gradient_percent_per_s: int
    least_percent: int | None
    sync_percent: int


@record
class Formula:
    """Constants of one formula; just one of `curve` and `h_blank_px` is there.

    Parameters
    ----------
    name : str
        ``cvt``, ``cvt-rb1``, ``cvt-rb2`` or ``gtf``.
    blanking : str
        ``v1`` or ``v2`` for reduced blanking, else empty.
    cell_px : int
        Active pixels are a multiple of it. [1]
    clock_step_hz : int or None
        The pixel clock is a multiple of it; None where it is not rounded. [Hz]
    blank_us : int
        Microseconds of vertical blanking at least, front porch left out where there is a curve. [1]
    front_lines : int
        Vertical front porch, or the least one. [1]
    sync_lines : int or None
        Vertical sync; None where it follows the aspect ratio. [1]
    back_lines : int
        Least vertical back porch. [1]
    curve : BlankingCurve or None
        Horizontal blanking that follows the line period.
    h_blank_px : tuple of int or None
        Horizontal front porch, sync and back porch that are fixed. [1]
    h_polarity : str
        Polarity of horizontal sync, + or -.
    v_polarity : str
        Polarity of vertical sync, + or -.
    source : str
        Key of the source.
    place : str
        Place in the source.
    """

    name: FormulaName
    blanking: Blanking
    cell_px: int
    clock_step_hz: int | None
    blank_us: int
    front_lines: int
    sync_lines: int | None
    back_lines: int
    curve: BlankingCurve | None
    h_blank_px: tuple[int, int, int] | None
    h_polarity: Polarity
    v_polarity: Polarity
    source: str
    place: str


@cache
def formula_named(name: str) -> Formula:
    """Constants of one formula.

    Parameters
    ----------
    name : str
        ``cvt``, ``cvt-rb1``, ``cvt-rb2`` or ``gtf``.

    Returns
    -------
    Formula
        From the handbook's table.

    Raises
    ------
    ValueError
        If no formula has that name.
    """
    if name not in FORMULAS:
        raise ValueError(f"formula {name!r}: not in the handbook; {', '.join(FORMULAS)} are allowed; choose one")
    raw: dict[str, Any] = table("formulas")["rows"][name]
    curve = raw.get("curve")
    return Formula(
        name=name,
        blanking=raw["blanking"],
        cell_px=raw["cell_px"],
        clock_step_hz=raw.get("clock_step_hz"),
        blank_us=raw["blank_us"],
        front_lines=raw["front_lines"],
        sync_lines=raw.get("sync_lines"),
        back_lines=raw["back_lines"],
        curve=None if curve is None else BlankingCurve(**{"least_percent": None} | curve),
        h_blank_px=tuple(raw["h_blank_px"]) if "h_blank_px" in raw else None,
        h_polarity=raw["hv"][0],
        v_polarity=raw["hv"][1],
        source=raw["source"],
        place=raw["place"],
    )


def aspect_sync_lines(active_px: int, active_lines: int, cell_px: int) -> int:
    """Lines of vertical sync by which CVT tells the aspect ratio.

    Parameters
    ----------
    active_px : int
        Active pixels, a multiple of the cell. [1]
    active_lines : int
        Active lines. [1]
    cell_px : int
        Pixels of a cell. [1]

    Returns
    -------
    int
        4 for 4:3, 5 for 16:9, 6 for 16:10, 7 for 5:4 and 15:9, 10 for any other. [1]

    References
    ----------
    [cvt] VESA Coordinated Video Timings, from memory; that the rounded width decides is read off DMT ID 28h.
    """
    rows = table("formulas")
    for row in rows["aspects"]:
        if active_px == active_lines * row["across"] // (row["down"] * cell_px) * cell_px:
            return int(row["sync_lines"])
    return int(rows["other"]["sync_lines"])
