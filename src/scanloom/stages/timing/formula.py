"""Timings by formula, in whole numbers: CVT with full and with reduced blanking, and GTF.

A rate stands as p / q hertz, a line period as a quotient of two whole numbers; in floating point, exact multiples of a
clock step would fall one step short.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from scanloom.basis.fact import Known
from scanloom.basis.record import record
from scanloom.handbook.formulas import BlankingCurve, Formula, aspect_sync_lines, formula_named
from scanloom.handbook.sources import row_fact
from scanloom.handbook.timing_row import FormulaName, TimingRow, plain_rate
from scanloom.handbook.timings import all_timings, parent_way

LARGEST = 16384
"""Pixels of a line, or lines of a frame, up to which a formula is asked: chosen by this project, no source."""
RATES_HZ = (1, 1000)
"""Frame rates for which a formula is asked. Above 1818 Hz nothing of a frame is left beside 550 us of blanking."""
_MICRO = 10**6


def formula_timing(formula: FormulaName, active_px: int, active_lines: int, rate_hz: Fraction) -> TimingRow:
    """Timing that a formula makes, refused where no display could be sent it.

    Parameters
    ----------
    formula : str
        ``cvt``, ``cvt-rb1``, ``cvt-rb2`` or ``gtf``.
    active_px : int
        Pixels of a line; rounded to whole cells as the formula says. [1]
    active_lines : int
        Lines of a frame. [1]
    rate_hz : Fraction
        Frame rate asked for. [Hz]

    Returns
    -------
    TimingRow
        Of kind ``formula``. It bears the ID of a listed timing that is the same in every figure.

    Raises
    ------
    ValueError
        If there is no such formula, a size or the rate is out of bounds, or a porch or a sync comes out as nothing.

    Examples
    --------
    >>> row = formula_timing("cvt", 1280, 768, Fraction(60))
    >>> row.name, row.id, row.pixel_clock_hz / 1000
    ('1280x768@60 by cvt', '0x17', Fraction(79500, 1))
    """
    row = formula_row(formula_named(formula), active_px, active_lines, rate_hz)
    parts: dict[str, int] = {
        "horizontal front porch": row.h_front_px,
        "horizontal sync": row.h_sync_px,
        "horizontal back porch": row.h_back_px,
        "vertical back porch": row.v_back_lines,
        "pixel clock": int(row.pixel_clock_hz),
    }
    missing = [f"{what} {figure}" for what, figure in parts.items() if figure <= 0]
    if missing:
        way = parent_way(row.active_px, row.active_lines, rate_hz)
        instead = f"use a child of a standard parent, for example {way.keys}" if way else "name a listed timing"
        raise ValueError(
            f"{row.name}: the formula makes {', '.join(missing)}, so there is no such raster; "
            f"porches, syncs and a clock of 1 or more are allowed; {instead}"
        )
    return row


def known_formula(formula: FormulaName, active_px: int, active_lines: int, rate_hz: Fraction) -> Known[TimingRow]:
    """Timing that a formula makes, together with the row of the handbook that it rests on.

    Parameters
    ----------
    formula : str
        ``cvt``, ``cvt-rb1``, ``cvt-rb2`` or ``gtf``.
    active_px : int
        Pixels of a line. [1]
    active_lines : int
        Lines of a frame. [1]
    rate_hz : Fraction
        Frame rate asked for. [Hz]

    Returns
    -------
    Known
        The timing as `formula_timing` makes it, and the fact with its source.

    Raises
    ------
    ValueError
        As `formula_timing` does.
    """
    row = formula_timing(formula, active_px, active_lines, rate_hz)
    words = f"{row.name}, {plain_rate(row.pixel_clock_hz / 1000)} kHz, {row.h_total_px} x {row.v_total_lines}"
    return Known(row, (row_fact(f"handbook.formulas.{formula}", words, row.source, row.place),))


def formula_row(formula: Formula, active_px: int, active_lines: int, rate_hz: Fraction) -> TimingRow:
    """Whatever a formula gives, even porches of nothing and less, which GTF makes of small sizes.

    Parameters
    ----------
    formula : Formula
        Constants of the formula.
    active_px : int
        Pixels of a line; rounded to whole cells. [1]
    active_lines : int
        Lines of a frame. [1]
    rate_hz : Fraction
        Frame rate asked for. [Hz]

    Returns
    -------
    TimingRow
        Of kind ``formula``; the parts always add up to the totals.

    Raises
    ------
    ValueError
        If a size or the rate is out of bounds.
    """
    _check(formula, active_px, active_lines, rate_hz)
    px = whole_cells(formula, active_px)
    if formula.curve is None:
        made = _reduced(formula, px, active_lines, rate_hz)
    elif formula.clock_step_hz is None:
        made = _gtf(formula, formula.curve, px, active_lines, rate_hz)
    else:
        made = _cvt(formula, formula.curve, px, active_lines, rate_hz)
    return _row(formula, px, active_lines, rate_hz, made)


def whole_cells(formula: Formula, active_px: int) -> int:
    """Active pixels as the formula takes them.

    Parameters
    ----------
    formula : Formula
        Constants of the formula.
    active_px : int
        Pixels asked for. [1]

    Returns
    -------
    int
        Rounded down to a cell by CVT, to the nearest (half up) by GTF, which does not round its clock. [1]
    """
    half = formula.cell_px // 2 if formula.clock_step_hz is None else 0
    return (active_px + half) // formula.cell_px * formula.cell_px


def listed_twin(row: TimingRow) -> TimingRow | None:
    """Listed timing that is the same in every figure.

    Parameters
    ----------
    row : TimingRow
        A computed timing.

    Returns
    -------
    TimingRow or None
        None where no list holds it.
    """
    return next((one for one in all_timings() if not one.interlaced and _figures(one) == _figures(row)), None)


@record
class _Made:
    """What a formula adds to the active area."""

    h: tuple[int, int, int]
    v: tuple[int, int, int]
    clock_hz: Fraction
    at_least: bool = False  # the least back porch decides


def _cvt(formula: Formula, curve: BlankingCurve, px: int, lines: int, rate_hz: Fraction) -> _Made:
    """CVT with full blanking; its clock follows the line period estimated before lines are rounded."""
    num, den = _line_estimate(formula, lines + formula.front_lines, rate_hz)
    sync = formula.sync_lines or aspect_sync_lines(px, lines, formula.cell_px)
    blank = formula.blank_us * den // (_MICRO * num) + 1
    at_least = blank < sync + formula.back_lines
    blank = max(blank, sync + formula.back_lines)
    cell, step = formula.cell_px, formula.clock_step_hz or 1
    share, whole = _blank_share(curve, num, den)
    h_blank = px * share // ((whole - share) * 2 * cell) * 2 * cell
    total = px + h_blank
    h_sync = curve.sync_percent * total // (100 * cell) * cell
    h = (h_blank // 2 - h_sync, h_sync, h_blank // 2)
    return _Made(h, (formula.front_lines, sync, blank - sync), Fraction(total * den // (num * step) * step), at_least)


def _reduced(formula: Formula, px: int, lines: int, rate_hz: Fraction) -> _Made:
    """CVT with reduced blanking: horizontal blanking is fixed, and the clock follows the rate asked for."""
    num, den = _line_estimate(formula, lines, rate_hz)
    sync = formula.sync_lines or aspect_sync_lines(px, lines, formula.cell_px)
    least = formula.front_lines + sync + formula.back_lines
    blank = formula.blank_us * den // (_MICRO * num) + 1
    at_least = blank < least
    blank = max(blank, least)
    if formula.sync_lines is None:  # version 1: what is left goes to the back porch
        v = (formula.front_lines, sync, blank - formula.front_lines - sync)
    else:  # version 2: to the front porch
        v = (blank - sync - formula.back_lines, sync, formula.back_lines)
        at_least = False
    h = formula.h_blank_px or (0, 0, 0)
    step = formula.clock_step_hz or 1
    p, q = rate_hz.numerator, rate_hz.denominator
    return _Made(h, v, Fraction(p * (lines + blank) * (px + sum(h)) // (q * step) * step), at_least)


def _gtf(formula: Formula, curve: BlankingCurve, px: int, lines: int, rate_hz: Fraction) -> _Made:
    """GTF: the rate asked for is met exactly, so the clock is not rounded."""
    num, den = _line_estimate(formula, lines + formula.front_lines, rate_hz)
    sync = formula.sync_lines or 0
    blank = _nearest(formula.blank_us * den, _MICRO * num)
    total_lines = lines + formula.front_lines + blank
    cell = formula.cell_px
    share, whole = _blank_share(curve, rate_hz.denominator, rate_hz.numerator * total_lines)
    h_blank = _nearest(px * share, (whole - share) * 2 * cell) * 2 * cell
    total = px + h_blank
    h_sync = _nearest(curve.sync_percent * total, 100 * cell) * cell
    h = (h_blank // 2 - h_sync, h_sync, h_blank // 2)
    return _Made(h, (formula.front_lines, sync, blank - sync), total * total_lines * rate_hz)


def _line_estimate(formula: Formula, lines: int, rate_hz: Fraction) -> tuple[int, int]:
    """Line period in seconds, as numerator and denominator: what blanking leaves of a frame, shared by the lines."""
    p, q = rate_hz.numerator, rate_hz.denominator
    return _MICRO * q - formula.blank_us * p, _MICRO * p * lines


def _blank_share(curve: BlankingCurve, num: int, den: int) -> tuple[int, int]:
    """Blank share of a line, as numerator and denominator, for a line period of num / den seconds."""
    share, whole = curve.offset_percent * den - curve.gradient_percent_per_s * num, 100 * den
    least = curve.least_percent
    return (share, whole) if least is None else (max(share, least * den), whole)


def _nearest(num: int, den: int) -> int:
    """Quotient rounded to the nearest whole number, half up."""
    return (2 * num + den) // (2 * den)


def _row(formula: Formula, px: int, lines: int, rate_hz: Fraction, made: _Made) -> TimingRow:
    """What a formula made, as a timing; it bears the ID of a listed one with the same figures."""
    name = f"{px}x{lines}@{plain_rate(rate_hz)} by {formula.name}"
    place = formula.place
    if made.at_least:
        place += f"; least back porch of {formula.back_lines} lines, of {formula.back_lines - 1} in another lineage"
    row = TimingRow(
        id=name,
        kind="formula",
        name=name,
        active_px=px,
        active_lines=lines,
        nominal_hz=rate_hz,
        pixel_clock_hz=made.clock_hz,
        h_front_px=made.h[0],
        h_sync_px=made.h[1],
        h_back_px=made.h[2],
        h_border_px=0,
        h_total_px=px + sum(made.h),
        v_front_lines=made.v[0],
        v_sync_lines=made.v[1],
        v_back_lines=made.v[2],
        v_border_lines=0,
        v_total_lines=lines + sum(made.v),
        h_polarity=formula.h_polarity,
        v_polarity=formula.v_polarity,
        interlaced=False,
        reduced_blanking=formula.blanking,
        formula=formula.name,
        edid_standard="",
        edid_cvt="",
        source=formula.source,
        place=place,
    )
    twin = listed_twin(row)
    return row if twin is None else replace(row, id=twin.id)


def _figures(row: TimingRow) -> tuple[object, ...]:
    """All that a display can tell of a timing."""
    h = (row.active_px, row.h_front_px, row.h_sync_px, row.h_back_px, row.h_polarity)
    return (
        h,
        (row.active_lines, row.v_front_lines, row.v_sync_lines, row.v_back_lines, row.v_polarity),
        row.pixel_clock_hz,
    )


def _check(formula: Formula, px: int, lines: int, rate_hz: Fraction) -> None:
    """Refuse sizes and rates that make no raster, or that nobody means."""
    given = f"{px}x{lines}@{plain_rate(rate_hz)} by {formula.name}"
    if px > LARGEST or lines > LARGEST or lines < 1 or whole_cells(formula, px) < 1:
        raise ValueError(
            f"{given}: {formula.cell_px} to {LARGEST} pixels and 1 to {LARGEST} lines are allowed; "
            "give the size of the whole raster, such as 1000x600"
        )
    if not RATES_HZ[0] <= rate_hz <= RATES_HZ[1]:
        raise ValueError(
            f"{given}: {RATES_HZ[0]} to {RATES_HZ[1]} frames a second are allowed; give the frame rate, such as 60"
        )
