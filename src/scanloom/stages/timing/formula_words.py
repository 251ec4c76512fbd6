"""Names of computed timings, and what has to be said wherever one is used."""

from __future__ import annotations

import re
from fractions import Fraction

from scanloom.basis.fact import Known
from scanloom.handbook.formulas import formula_named
from scanloom.handbook.timing_row import TimingRow, plain_rate
from scanloom.handbook.timings import find_timing, known_timing, parent_way
from scanloom.stages.timing.formula import formula_timing, known_formula, listed_twin

_SIZE = re.compile(r"(\d{1,5})x(\d{1,5})@(\d{1,4}(?:\.\d{1,6})?)")
_NAMED = re.compile(r"(\S+) by (\S+)")
_FAR = Fraction(1, 100)
"""Share by which rounding may miss the rate before that is told: chosen by this project, no source."""


def asked_timing(text: str) -> tuple[int, int, Fraction]:
    """Size and rate that a formula is asked for.

    Parameters
    ----------
    text : str
        Such as ``1000x600@60`` or ``1000x600@59.94``; the rate is taken as it stands, to the last digit.

    Returns
    -------
    tuple of int, int and Fraction
        Pixels [1], lines [1] and frames a second. [Hz]

    Raises
    ------
    ValueError
        If the text is no size and rate.
    """
    match = _SIZE.fullmatch(text.strip().lower().replace("×", "x").replace(" ", ""))
    if match is None:
        raise ValueError(
            f"timing {text!r}: a formula takes a size and a rate, with up to six decimals; 1000x600@60 is allowed; "
            "write the size and the rate, or leave the formula out"
        )
    return int(match[1]), int(match[2]), Fraction(match[3])


def timing_named(text: str) -> TimingRow:
    """One timing by name, listed or computed.

    Parameters
    ----------
    text : str
        Name as `find_timing` takes it, or that of a computed timing such as ``1000x600@60 by cvt``.

    Returns
    -------
    TimingRow
        The timing.

    Raises
    ------
    ValueError
        If the text is no timing's name, or no raster comes of it.
    """
    named = _NAMED.fullmatch(_spaced(text))
    if named is None:
        return find_timing(text)
    return formula_timing(formula_named(named[2]).name, *asked_timing(named[1]))


def known_parent(text: str, formula: str | None) -> Known[TimingRow]:
    """Parent of a rig, listed or computed, together with the fact that it is.

    Parameters
    ----------
    text : str
        Name of a listed timing; with a formula, size and rate.
    formula : str or None
        Name of the formula; None for a listed timing.

    Returns
    -------
    Known
        The timing and the fact with its source.

    Raises
    ------
    ValueError
        If there is no such timing or formula, or no raster comes of it.
    """
    if formula is not None:
        return known_formula(formula_named(formula).name, *asked_timing(text))
    named = _NAMED.fullmatch(_spaced(text))
    if named is not None:
        raise ValueError(
            f"timing {text!r}: a parent is a listed timing, or a size and a rate beside a formula; "
            f'write parent = "{named[1]}", formula = "{named[2]}"'
        )
    return known_timing(text)


def formula_cautions(row: TimingRow, asked_px: int | None = None) -> tuple[str, ...]:
    """What has to be said of a computed timing.

    Parameters
    ----------
    row : TimingRow
        Any timing.
    asked_px : int or None
        Pixels of a line that were asked for; None where nobody asked for others. [1]

    Returns
    -------
    tuple of str
        Sentences, the main one first; none for a listed timing.
    """
    if row.kind != "formula":
        return ()
    said = [formula_caution(row)]
    if asked_px is not None and asked_px != row.active_px:
        said.append(rounding_told(row, asked_px))
    if abs(row.frame_rate_hz / row.nominal_hz - 1) > _FAR:
        asked = plain_rate(row.nominal_hz)
        said.append(f"It comes to {float(row.frame_rate_hz):.3f} frames a second, not to the {asked} asked for.")
    return tuple(said)


def formula_caution(row: TimingRow) -> str:
    """The main thing to say of a computed timing: what to use in its place, or how far it may be leant on.

    Parameters
    ----------
    row : TimingRow
        A computed timing.

    Returns
    -------
    str
        One sentence.
    """
    twin = listed_twin(row)
    if twin is not None:
        return f"{row.name} is the published timing {twin.name}: name that, and leave the formula out."
    if is_small(row):
        way = parent_way(row.active_px, row.active_lines, row.nominal_hz)
        keys = way.keys if way else 'parent = "640x480@60"'
        return f"Never compute a timing below about 640x480: use a child of a standard parent, for example {keys}."
    return (
        f"{row.name} is computed and in no display's list of usual timings: "
        "only its own sheet or block, or a trial on it, can promise that it locks."
    )


def rounding_told(row: TimingRow, asked_px: int) -> str:
    """That a formula takes whole cells.

    Parameters
    ----------
    row : TimingRow
        A computed timing.
    asked_px : int
        Pixels of a line that were asked for. [1]

    Returns
    -------
    str
        One sentence.
    """
    cell = formula_named(row.formula).cell_px
    return f"{asked_px} pixels are no multiple of {cell}, so the formula makes them {row.active_px}."


def is_small(row: TimingRow) -> bool:
    """Whether a timing is below about 640x480, where a formula gives porches of nothing or line rates no display takes.

    Parameters
    ----------
    row : TimingRow
        Any timing.

    Returns
    -------
    bool
        True for fewer than 640 pixels or fewer than 480 lines; the bound is common practice, no source.
    """
    return row.active_px < 640 or row.active_lines < 480


def _spaced(text: str) -> str:
    """A name in small letters, with single spaces."""
    return " ".join(text.lower().replace("×", "x").split())
