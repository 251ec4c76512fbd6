"""Digits of drill files: the formats that a file leaves open, and holes in millimetres."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from scanloom.basis.record import record
from scanloom.formats.board_files.damage import Damaged
from scanloom.stages.board.model import Hole

NEAR_MM = 0.06
"""A hole this near to a pad's middle is on it. [mm]"""
TIMES = "*"
"""Parts a coordinate from a count and a step, where a hole is repeated."""


@record
class DrillFormat:
    """How digits become millimetres.

    Parameters
    ----------
    inch : bool
        Whether the unit is an inch.
    whole : int
        Digits before the point. [1]
    part : int
        Digits after the point. [1]
    trailing_dropped : bool
        Whether zeros at the end are left out; else those at the start.
    """

    inch: bool
    whole: int
    part: int
    trailing_dropped: bool

    @property
    def words(self) -> str:
        """The format as a person would say it."""
        unit = "inch" if self.inch else "mm"
        return f"{unit} {self.whole}.{self.part}, {'trailing' if self.trailing_dropped else 'leading'} zeros dropped"


@record
class DrillHit:
    """A hole as its digits.

    Parameters
    ----------
    tool : int
        Number of its tool. [1]
    xy : tuple of str
        Coordinates as written.
    end : tuple of str or None
        Other end of a slot.
    """

    tool: int
    xy: tuple[str, str]
    end: tuple[str, str] | None = None


@record
class DrillText:
    """A drill file as digits.

    Parameters
    ----------
    hits : tuple of DrillHit
        Holes and slots.
    tools : dict
        Diameter by tool, in the unit of the file. [1]
    plating : dict
        Whether a tool makes plated holes, where the file says.
    inch : bool or None
        Unit, None when the file does not say.
    digits : tuple of int or None
        Digits before and after the point, where the file says. [1]
    trailing_dropped : bool or None
        Which zeros are left out, where the file says.
    pointed : bool
        Whether coordinates have their points written.
    whole_file : bool
        Whether the file is ended as it should be.
    attributes : dict
        What it says of itself.
    curved : bool
        Whether a slot is curved; it is taken as straight.
    """

    hits: tuple[DrillHit, ...]
    tools: dict[int, float]
    plating: dict[int, bool]
    inch: bool | None
    digits: tuple[int, int] | None
    trailing_dropped: bool | None
    pointed: bool
    whole_file: bool
    attributes: dict[str, str]
    curved: bool = False


def formats_to_try(text: DrillText) -> tuple[DrillFormat, ...]:
    """Formats that the file leaves open, the usual one first.

    Parameters
    ----------
    text : DrillText
        The file.

    Returns
    -------
    tuple of DrillFormat
        At least one.
    """
    units = (False, True) if text.inch is None else (text.inch,)
    zeros = (False, True) if text.trailing_dropped is None else (text.trailing_dropped,)
    made: list[DrillFormat] = []
    for inch in units:
        usual = [(2, 4), (2, 5), (3, 3), (2, 3)] if inch else [(3, 3), (4, 2), (2, 4), (4, 4), (3, 5), (2, 5)]
        for whole, part in [text.digits] if text.digits else usual:
            made.extend(DrillFormat(inch, whole, part, dropped) for dropped in zeros)
    return tuple(made[:1]) if text.pointed and text.inch is not None else tuple(made)


def holes_of(text: DrillText, form: DrillFormat, plated: bool | None) -> tuple[Hole, ...]:
    """Holes in millimetres.

    Parameters
    ----------
    text : DrillText
        The file.
    form : DrillFormat
        How to read its digits.
    plated : bool or None
        Whether the whole file is plated, where file or name say so.

    Returns
    -------
    tuple of Hole
        In the order of the file.

    Raises
    ------
    Damaged
        If a coordinate is no number.
    """
    scale = 25.4 if form.inch else 1.0
    made: list[Hole] = []
    for hit in text.hits:
        x, y = (_millimetres(word, form) for word in hit.xy)
        x2, y2 = (x, y) if hit.end is None else (_millimetres(word, form) for word in hit.end)
        tool = text.tools.get(hit.tool)
        size = None if tool is None else tool * scale
        made.append(Hole(x, y, size, text.plating.get(hit.tool, plated), x2, y2))
    return tuple(made)


def score(holes: Iterable[Hole], pads: NDArray[np.float64]) -> float:
    """Share of holes that fall on a pad.

    Parameters
    ----------
    holes : iterable of Hole
        Holes.
    pads : ndarray of float, shape (pads, 2)
        Places of pads. [mm]

    Returns
    -------
    float
        0 to 1; 0 without holes or pads. [1]
    """
    import shapely

    places = np.array([(hole.x_mm, hole.y_mm) for hole in holes], dtype=float).reshape(-1, 2)
    if not len(places) or not len(pads):
        return 0.0
    tree = shapely.STRtree(shapely.points(pads))
    hit, _ = tree.query(shapely.points(places), predicate="dwithin", distance=NEAR_MM)
    return len(np.unique(hit)) / len(places)


def _millimetres(text: str, form: DrillFormat) -> float:
    """One coordinate, perhaps with steps from a hole that is repeated."""
    if TIMES in text:
        first, *steps = text.split(TIMES)
        pairs = zip(steps[::2], steps[1::2], strict=True)
        return _millimetres(first, form) + sum(int(n) * _millimetres(step, form) for n, step in pairs)
    scale = 25.4 if form.inch else 1.0
    if "." in text:
        return _float(text) * scale
    digits = text.lstrip("+-")
    if not digits.isdigit() or len(digits) > 12:
        raise Damaged(f"the coordinate {text[:30]!r}; at most 12 digits are allowed; export the file again")
    if form.trailing_dropped:
        digits = digits.ljust(form.whole + form.part, "0")
    made = int(digits) / float(10**form.part) * scale
    return -made if text.startswith("-") else made


def _float(text: str) -> float:
    """A decimal number of sensible size."""
    try:
        made = float(text)
    except ValueError:
        raise Damaged(f"{text[:30]!r} is no number; a decimal number is wanted; export the file again") from None
    if abs(made) > 1e5:
        raise Damaged(f"the coordinate {text[:30]!r}; at most 100 m are read; check the format")
    return made


def pointed(hit: DrillHit) -> bool:
    """Whether a hole's coordinates have their points; a bare zero needs none.

    Parameters
    ----------
    hit : DrillHit
        The hole.

    Returns
    -------
    bool
        True where no digit's place is open.
    """
    words = [word for text in (*hit.xy, *(hit.end or ())) for word in _words(text)]
    return all("." in word or word.strip("+-0") == "" for word in words)


def _words(text: str) -> list[str]:
    """Coordinates in one that is repeated; the counts between are none."""
    first, *steps = text.split(TIMES)
    return [first, *steps[1::2]]
