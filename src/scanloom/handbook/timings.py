"""Published display timings: the VESA list and the older 31.469 kHz family, found by name."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache, lru_cache
from typing import Any, Literal, cast

from scanloom.basis.fact import Known
from scanloom.handbook.load import table
from scanloom.handbook.sources import row_fact
from scanloom.handbook.timing_row import Blanking, FamilyHeight, Polarity, TimingKind, TimingRow, plain_rate
from scanloom.handbook.timing_ways import ParentWay, exact_rates, rate_gap, way_by_parent

__all__ = [
    "FamilyHeight",
    "ParentWay",
    "Polarity",
    "TimingKind",
    "TimingRow",
    "all_timings",
    "family_height",
    "find_timing",
    "known_timing",
    "parent_way",
]

_NAME = re.compile(r"(\d+)x(\d+)@(\d+(?:\.\d+)?)(i?)((?:-rb)?)")
_FORMS = "640x480@60, with i after the rate when interlaced and -rb after it for reduced blanking, or dmt:0x04"


@cache
def all_timings() -> tuple[TimingRow, ...]:
    """Every timing of the handbook.

    Returns
    -------
    tuple of TimingRow
        The VESA list by ID, then the legacy parents.
    """
    rows: list[TimingRow] = []
    kind: TimingKind
    for kind in ("dmt", "legacy"):
        rows.extend(_row(key, kind, raw) for key, raw in table(kind)["rows"].items())
    return tuple(rows)


@lru_cache(maxsize=256)
def find_timing(text: str) -> TimingRow:
    """One timing by name.

    The rate in a name is the nominal one; the exact rate rounded to the digits given is taken where it fits one timing
    only (59.94 for 640x480@60). Interlaced timings answer to the rate of fields and of frames. Where the VESA list and
    the legacy family hold the same size and rate, the VESA row is taken: it is printed by a standard. The prefix
    ``legacy:`` asks for the other.

    Parameters
    ----------
    text : str
        Name such as ``800x600@60``, ``1280x768@60-rb``, ``1024x768@87i``, ``dmt:0x16`` or ``legacy:640x480@60``.

    Returns
    -------
    TimingRow
        The timing.

    Raises
    ------
    ValueError
        If the text is no timing's name, or fits several.
    """
    given = text.strip().lower().replace("×", "x").replace(" ", "")
    if given.startswith("dmt:"):
        return _by_id(text, given[4:])
    legacy_only = given.startswith("legacy:")
    match = _NAME.fullmatch(given.removeprefix("legacy:"))
    if match is None:
        raise ValueError(f"timing {text!r}: not a timing's name; allowed is {_FORMS}; write the size and the rate")
    px, lines, rate, interlace, blanking = match.groups()
    size = [
        row
        for row in all_timings()
        if (row.active_px, row.active_lines) == (int(px), int(lines)) and (row.kind == "legacy" or not legacy_only)
    ]
    shape = [r for r in size if r.interlaced == bool(interlace) and bool(r.reduced_blanking) == bool(blanking)]
    found = [row for row in shape if _is_nominal(row, rate)] or [row for row in shape if _is_rounded(row, rate)]
    found = [row for row in found if row.kind == "dmt"] or found
    if len(found) == 1:
        return found[0]
    if found:
        fit = ", ".join(row.names[-1] for row in found)
        raise ValueError(f"timing {text!r}: fits {len(found)} timings, {fit}; one is allowed; name the one you mean")
    raise ValueError(_not_found(text, int(px), int(lines), Fraction(rate), size))


def known_timing(text: str) -> Known[TimingRow]:
    """One timing by name, together with the fact that it is.

    Parameters
    ----------
    text : str
        Name as `find_timing` takes it.

    Returns
    -------
    Known
        The row and the fact with its source.

    Raises
    ------
    ValueError
        If the text is no timing's name, or fits several.
    """
    row = find_timing(text)
    words = f"{row.name}, {plain_rate(row.pixel_clock_hz / 1000)} kHz, {row.h_total_px} x {row.v_total_lines}"
    return Known(row, (row_fact(f"handbook.{row.kind}.{row.id}", words, row.source, row.place),))


def parent_way(px: int, lines: int, rate_hz: Fraction) -> ParentWay | None:
    """A listed parent that carries a picture of some size.

    Parameters
    ----------
    px : int
        Pixels of the picture. [1]
    lines : int
        Rows of the picture. [1]
    rate_hz : Fraction
        Rate wanted; where no parent runs at about it, one of 60 Hz is taken, which most displays know. [Hz]

    Returns
    -------
    ParentWay or None
        None for a picture larger than every parent.
    """
    rows = all_timings()
    return way_by_parent(rows, px, lines, rate_hz) or way_by_parent(rows, px, lines, Fraction(60))


def family_height(h_polarity: Polarity, v_polarity: Polarity) -> FamilyHeight | None:
    """Height that a display reads from polarity in the 31.469 kHz family.

    Parameters
    ----------
    h_polarity : str
        Polarity of horizontal sync, + or -.
    v_polarity : str
        Polarity of vertical sync, + or -.

    Returns
    -------
    FamilyHeight or None
        None for + +, which the family does not use.
    """
    row = table("legacy")["height"].get(h_polarity + v_polarity)
    return None if row is None else FamilyHeight(row["lines"], row["source"], row["place"])


def _row(key: str, kind: TimingKind, raw: dict[str, Any]) -> TimingRow:
    """A row from its line of figures; the columns are named at the head of the table."""
    size, hz, khz, *figures, hv, blanking, formula, standard, cvt = ("" if c == "." else c for c in raw["row"].split())
    px, lines = size.removesuffix("i").split("x")
    h_front, h_sync, h_back, h_border, h_total, v_front, v_sync, v_back, v_border, v_total = map(int, figures)
    interlaced = size.endswith("i")
    clock_hz = Fraction(khz) * 1000
    called = round(2 * clock_hz / (h_total * v_total)) if interlaced else hz
    name = f"{px}x{lines}@{called}{'i' if interlaced else ''}{'-rb' if blanking else ''}"
    return TimingRow(
        id=key,
        kind=kind,
        name=name,
        active_px=int(px),
        active_lines=int(lines),
        nominal_hz=Fraction(hz),
        pixel_clock_hz=clock_hz,
        h_front_px=h_front,
        h_sync_px=h_sync,
        h_back_px=h_back,
        h_border_px=h_border,
        h_total_px=h_total,
        v_front_lines=v_front,
        v_sync_lines=v_sync,
        v_back_lines=v_back,
        v_border_lines=v_border,
        v_total_lines=v_total,
        h_polarity=cast(Polarity, hv[0]),
        v_polarity=cast(Polarity, hv[1]),
        interlaced=interlaced,
        reduced_blanking=cast(Blanking, blanking),
        formula=cast(Literal["", "cvt"], formula),
        edid_standard=standard,
        edid_cvt=cvt,
        source=raw["source"],
        place=raw["place"],
    )


def _by_id(text: str, key: str) -> TimingRow:
    """The VESA row of an ID such as 0x0f, in either case."""
    for row in all_timings():
        if row.kind == "dmt" and row.id.lower() == key:
            return row
    raise ValueError(f"timing {text!r}: no such DMT ID; dmt:0x01 to dmt:0x58 are allowed; look the size up by name")


def _is_nominal(row: TimingRow, rate: str) -> bool:
    """Whether the rate is the one in the row's name, or the nominal one."""
    named = row.name.partition("@")[2].removesuffix("-rb").removesuffix("i")
    return Fraction(rate) in (row.nominal_hz, Fraction(named))


def _is_rounded(row: TimingRow, rate: str) -> bool:
    """Whether the rate is an exact one of the row, rounded to the digits given; tables also print it cut off."""
    digits = len(rate.partition(".")[2])
    step = Fraction(1, 10**digits)
    above = step if digits else step / 2  # nobody calls 59.94 Hz 59
    return any(-step / 2 <= exact - Fraction(rate) < above for exact in exact_rates(row))


def _not_found(text: str, px: int, lines: int, rate: Fraction, size: list[TimingRow]) -> str:
    """What was given, what there is, and which parent would carry the picture."""
    if size:
        allowed = f"{px}x{lines} is listed as " + _some(sorted(size, key=lambda row: rate_gap(row, rate)), 6)
    else:
        near = sorted(all_timings(), key=lambda row: _distance(row, px, lines, rate))
        allowed = f"{px}x{lines} is not listed, near it are " + _some(near, 3)
    return f"timing {text!r}: not in the tables; {allowed}; {_way_out(px, lines, rate)}"


def _distance(row: TimingRow, px: int, lines: int, rate: Fraction) -> float:
    """How far a timing is from a size and rate, rates counting a tenth."""

    def apart(ours: float, theirs: float) -> float:
        return max(ours, theirs) / max(min(ours, theirs), 1e-9) - 1

    rate_apart = min(apart(float(exact), float(rate)) for exact in exact_rates(row))
    return apart(row.active_px, px) + apart(row.active_lines, lines) + rate_apart / 10


def _some(rows: list[TimingRow], most: int) -> str:
    """Names of the first few timings, each once."""
    return ", ".join(list(dict.fromkeys(row.name for row in rows))[:most])


def _way_out(px: int, lines: int, rate: Fraction) -> str:
    """How a listed parent of about that rate carries the picture."""
    way = way_by_parent(all_timings(), px, lines, rate)
    if way is None:
        return "name one of them"
    if way.share == 1 and way.times == 1:
        return f"name {way.parent.name}"
    return f"name one of them, or write {way.keys}"
