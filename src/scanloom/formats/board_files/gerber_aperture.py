"""Apertures of a Gerber file as polygons around the origin, macros included."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from shapely import affinity

from scanloom.basis.record import record
from scanloom.formats.board_files.damage import Damaged

QUARTER = 8
"""Corners that stand for a quarter of a circle; a 1 mm circle is then 2.4 um too small at most. [1]"""
_MOST_STATEMENTS = 2000
_NUMBER = re.compile(r"\d+\.?\d*|\.\d+")


@record
class Aperture:
    """A shape to flash or to draw with.

    Parameters
    ----------
    shape : object
        Polygon around the origin, in mm; empty for a zero aperture.
    round_mm : float or None
        Diameter of a plain circle, None for any other shape. [mm]
    purpose : str
        Aperture function, such as ViaPad.
    """

    shape: Any
    round_mm: float | None
    purpose: str = ""


def standard_aperture(letter: str, numbers: Sequence[float], scale: float, purpose: str) -> Aperture:
    """Circle, rectangle, obround or regular polygon, perhaps with a round hole.

    Parameters
    ----------
    letter : str
        C, R, O or P.
    numbers : sequence of float
        Its modifiers, in units of the file. [1]
    scale : float
        Millimetres in one unit. [mm]
    purpose : str
        Aperture function.

    Returns
    -------
    Aperture
        The shape.

    Raises
    ------
    Damaged
        If modifiers are missing or impossible.

    References
    ----------
    [gerber] Gerber Layer Format Specification, section 4.4, standard aperture templates.
    """
    if not numbers or any(not math.isfinite(n) or n < 0 for n in numbers[: 1 if letter == "P" else 3]):
        raise Damaged(f"aperture {letter} with sizes {list(numbers)}; sizes from 0 are allowed; export the file again")
    first = numbers[0] * scale
    if letter == "C":
        hole = numbers[1] * scale if len(numbers) > 1 else 0.0
        return Aperture(_holed(_disc(0.0, 0.0, first), hole), None if hole else first, purpose)
    if letter in "RO":
        if len(numbers) < 2:
            raise Damaged(f"aperture {letter} with one size; width and height are wanted; export the file again")
        width, height = first, numbers[1] * scale
        hole = numbers[2] * scale if len(numbers) > 2 else 0.0
        if letter == "R":
            return Aperture(_holed(_box(width, height), hole), None, purpose)
        length = abs(width - height) / 2
        ends = [(-length, 0.0), (length, 0.0)] if width > height else [(0.0, -length), (0.0, length)]
        thick = min(width, height)
        made = shapely.LineString(ends).buffer(thick / 2, quad_segs=QUARTER) if thick > 0 else shapely.Polygon()
        return Aperture(_holed(made, hole), None, purpose)
    corners = round(numbers[1]) if len(numbers) > 1 else 0
    if not 3 <= corners <= 12:
        raise Damaged(f"polygon aperture with {corners} corners; 3 to 12 are allowed; export the file again")
    turn = numbers[2] if len(numbers) > 2 else 0.0
    hole = numbers[3] * scale if len(numbers) > 3 else 0.0
    return Aperture(_holed(_regular(0.0, 0.0, first, corners, turn), hole), None, purpose)


def macro_aperture(body: str, numbers: Sequence[float], scale: float, purpose: str) -> Aperture:
    """One use of an aperture macro.

    Parameters
    ----------
    body : str
        Statements of the macro, each ended by ``*``.
    numbers : sequence of float
        Its parameters. [1]
    scale : float
        Millimetres in one unit. [mm]
    purpose : str
        Aperture function.

    Returns
    -------
    Aperture
        The shape.

    Raises
    ------
    Damaged
        If a statement cannot be understood.

    References
    ----------
    [gerber] Gerber Layer Format Specification, section 4.5, aperture macros.
    """
    known = dict(enumerate(numbers, 1))
    made: Any = shapely.Polygon()
    statements = [one.strip() for one in body.split("*") if one.strip()]
    if len(statements) > _MOST_STATEMENTS:
        raise Damaged(f"a macro of {len(statements)} statements; at most {_MOST_STATEMENTS} are read; simplify the pad")
    for statement in statements:
        if statement.startswith("0"):
            continue
        if statement.startswith("$"):
            name, mark, text = statement.partition("=")
            if not mark or not name[1:].isdigit():
                raise Damaged(f"macro statement {statement[:40]!r}; $n=... is allowed; export the file again")
            known[int(name[1:])] = _Sum(text, known).value()
            continue
        values = [_Sum(text, known).value() for text in statement.split(",")]
        dark, part = _primitive(values, scale)
        made = made.union(part) if dark else made.difference(part)
    return Aperture(made, None, purpose)


def _primitive(values: Sequence[float], scale: float) -> tuple[bool, Any]:
    """One primitive of a macro: whether it adds, and its shape."""
    code, rest = round(values[0]), list(values[1:])
    try:
        if code == 1:
            turn = rest[4] if len(rest) > 4 else 0.0
            return bool(rest[0]), _turned(_disc(rest[2] * scale, rest[3] * scale, rest[1] * scale), turn)
        if code == 4:
            count = int(rest[1])
            points = [(rest[2 + 2 * i] * scale, rest[3 + 2 * i] * scale) for i in range(count + 1)]
            turn = rest[4 + 2 * count] if len(rest) > 4 + 2 * count else 0.0
            return bool(rest[0]), _turned(filled(points), turn)
        if code == 5:
            made = _regular(rest[2] * scale, rest[3] * scale, rest[4] * scale, int(rest[1]), 0.0)
            return bool(rest[0]), _turned(made, rest[5] if len(rest) > 5 else 0.0)
        if code in (2, 20):
            ends = [(rest[2] * scale, rest[3] * scale), (rest[4] * scale, rest[5] * scale)]
            made = shapely.LineString(ends).buffer(rest[1] * scale / 2, cap_style="flat")
            return bool(rest[0]), _turned(made, rest[6] if len(rest) > 6 else 0.0)
        if code in (21, 22):
            made = _box(rest[1] * scale, rest[2] * scale)
            x, y = (
                (rest[3] * scale, rest[4] * scale)
                if code == 21
                else (
                    (rest[3] + rest[1] / 2) * scale,
                    (rest[4] + rest[2] / 2) * scale,
                )
            )
            return bool(rest[0]), _turned(affinity.translate(made, x, y), rest[5] if len(rest) > 5 else 0.0)
        if code == 7:
            x, y, outer, inner, gap = (value * scale for value in rest[:5])
            ring = _disc(x, y, outer).difference(_disc(x, y, inner))
            cross = affinity.translate(_box(outer, gap).union(_box(gap, outer)), x, y)
            return True, _turned(ring.difference(cross), rest[5] if len(rest) > 5 else 0.0)
    except (IndexError, ValueError, OverflowError, shapely.errors.GEOSException) as error:
        raise Damaged(f"macro primitive {code} with {len(rest)} values; see its definition; export again") from error
    raise Damaged(f"macro primitive {code}; 1, 4, 5, 7, 20 and 21 are read; export the file again")


class _Sum:
    """A sum in a macro: numbers, $n, + - x / and brackets."""

    def __init__(self, text: str, known: dict[int, float]) -> None:
        """Drop spaces; a long sum is refused, since brackets nest."""
        self._text = "".join(text.split()).replace("X", "x")
        self._known = known
        self._at = 0
        if len(self._text) > 400 or self._text.count("(") > 40 or "-" * 20 in self._text or "+" * 20 in self._text:
            raise Damaged("a macro sum too long or nested too deep; plain sums are read; export the file again")

    def value(self) -> float:
        """What it comes to."""
        made = self._terms()
        if self._at != len(self._text) or not math.isfinite(made):
            raise Damaged(f"macro sum {self._text[:40]!r}; numbers, $n, + - x / and brackets are allowed; export again")
        return made

    def _terms(self) -> float:
        """Products added up."""
        made = self._factors()
        while self._peek() in ("+", "-"):
            sign = 1.0 if self._take() == "+" else -1.0
            made += sign * self._factors()
        return made

    def _factors(self) -> float:
        """Values multiplied."""
        made = self._one()
        while self._peek() in ("x", "/"):
            times = self._take() == "x"
            other = self._one()
            if not times and other == 0:
                raise Damaged(f"macro sum {self._text[:40]!r} divides by zero; export the file again")
            made = made * other if times else made / other
        return made

    def _one(self) -> float:
        """A number, a parameter, a sign or a bracket."""
        mark = self._peek()
        if mark in ("+", "-"):
            return self._one() if self._take() == "+" else -self._one()
        if mark == "(":
            self._take()
            made = self._terms()
            if self._peek() != ")":
                raise Damaged(f"macro sum {self._text[:40]!r} lacks a bracket; export the file again")
            self._take()
            return made
        if mark == "$":
            self._take()
        found = _NUMBER.match(self._text, self._at)
        if not found:
            raise Damaged(f"macro sum {self._text[:40]!r}; a number or $n is missing; export the file again")
        self._at = found.end()
        return self._known.get(int(float(found[0])), 0.0) if mark == "$" else float(found[0])

    def _peek(self) -> str:
        """Next character, empty at the end."""
        return self._text[self._at : self._at + 1]

    def _take(self) -> str:
        """Next character, passed over."""
        self._at += 1
        return self._text[self._at - 1]


def filled(points: Sequence[tuple[float, float]]) -> Any:
    """Area inside a closed line, also where the line crosses itself.

    Parameters
    ----------
    points : sequence of tuple
        Corners. [mm]

    Returns
    -------
    object
        A valid polygon or several; empty for a line without area.
    """
    if len(set(points)) < 3:
        return shapely.Polygon()
    made = shapely.Polygon(points)
    return made if made.is_valid else areas_of(shapely.make_valid(made))


def crossings_likely(points: Sequence[tuple[float, float]]) -> int:
    """Pairs of sides that may cross, judged by a few of them; a mess of thousands would take for ever to sort out.

    Parameters
    ----------
    points : sequence of tuple
        Corners. [mm]

    Returns
    -------
    int
        Pairs, without those of neighbours. [1]
    """
    if len(points) < 50:
        return 0
    ends = np.array(points)
    sides = shapely.linestrings(np.stack([ends[:-1], ends[1:]], axis=1))
    some = sides[np.linspace(0, len(sides) - 1, min(40, len(sides))).astype(int)]
    hit, _ = shapely.STRtree(sides).query(some, predicate="crosses")
    return int(len(hit) / len(some) * len(sides) / 2)


def areas_of(shape: Any) -> Any:
    """The areas of a shape; loose lines and points dropped.

    Parameters
    ----------
    shape : object
        Any geometry.

    Returns
    -------
    object
        Polygon or several.
    """
    if shape.geom_type in ("Polygon", "MultiPolygon"):
        return shape
    parts = [one for one in getattr(shape, "geoms", ()) if one.geom_type in ("Polygon", "MultiPolygon")]
    return shapely.union_all(parts) if parts else shapely.Polygon()


def _disc(x: float, y: float, diameter: float) -> Any:
    """A disc as a polygon."""
    return shapely.Point(x, y).buffer(diameter / 2, quad_segs=QUARTER) if diameter > 0 else shapely.Polygon()


def _box(width: float, height: float) -> Any:
    """A rectangle around the origin."""
    flat = width <= 0 or height <= 0
    return shapely.Polygon() if flat else shapely.box(-width / 2, -height / 2, width / 2, height / 2)


def _regular(x: float, y: float, diameter: float, corners: int, turn_deg: float) -> Any:
    """A regular polygon with its first corner to the right."""
    if not 3 <= corners <= 100 or diameter <= 0:
        return shapely.Polygon()
    turns = [math.radians(turn_deg) + 2 * math.pi * i / corners for i in range(corners)]
    return shapely.Polygon([(x + math.cos(a) * diameter / 2, y + math.sin(a) * diameter / 2) for a in turns])


def _holed(shape: Any, hole: float) -> Any:
    """A shape with a round hole in the middle."""
    return shape.difference(_disc(0.0, 0.0, hole)) if hole > 0 else shape


def _turned(shape: Any, turn_deg: float) -> Any:
    """A shape turned about the origin."""
    return affinity.rotate(shape, turn_deg, origin=(0, 0)) if turn_deg else shape
