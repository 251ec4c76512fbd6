"""Drill files (Excellon, XNC): read as digits first, made numbers when the format is known or has been found by score."""

from __future__ import annotations

import re
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from scanloom.basis.record import record
from scanloom.formats.board_files.damage import Damaged
from scanloom.stages.board.model import Hole

MOST_HOLES = 200_000
"""Holes of one file. [1]"""
NEAR_MM = 0.06
"""How near a hole must be to a pad to count as on it. [mm]"""
_TOOL = re.compile(r"T(\d+)(?=.*C([\d.]+))")
_COORD = re.compile(r"([XY])([+-]?[\d.]+)")
_TIMES = "*"  # parts a coordinate from a count and a step, where a hole is repeated
_MOST_SUM = 300  # letters of a coordinate that repeats have been added to
_DIGITS = re.compile(r"\b(0+)\.(0+)\b")


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
class _Hit:
    """A hole as its digits."""

    tool: int
    xy: tuple[str, str]
    end: tuple[str, str] | None = None


@record
class DrillText:
    """A drill file as digits.

    Parameters
    ----------
    hits : tuple of _Hit
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

    hits: tuple[_Hit, ...]
    tools: dict[int, float]
    plating: dict[int, bool]
    inch: bool | None
    digits: tuple[int, int] | None
    trailing_dropped: bool | None
    pointed: bool
    whole_file: bool
    attributes: dict[str, str]
    curved: bool = False


def read_drill(text: str) -> DrillText:
    """Digits of a drill file.

    Parameters
    ----------
    text : str
        The file.

    Returns
    -------
    DrillText
        Everything it says.

    Raises
    ------
    Damaged
        If it is no drill file, or drills more than any board needs.

    References
    ----------
    [xnc] XNC Format Specification, revision 2021.11; older dialects from memory.
    """
    reader = _Reader()
    for line in text.split("\n"):
        if reader.line(line.strip()):
            break
    return reader.finish()


class _Reader:
    """State of a drilling machine that walks through the file."""

    def __init__(self) -> None:
        """As every file begins."""
        self.hits: list[_Hit] = []
        self.tools: dict[int, float] = {}
        self.plating: dict[int, bool] = {}
        self.inch: bool | None = None
        self.digits: tuple[int, int] | None = None
        self.dropped: bool | None = None
        self.attributes: dict[str, str] = {}
        self.plated_now: bool | None = None
        self.step = False
        self.known = False
        self.ended = False
        self.routing = False
        self.down = False
        self.curved = False
        self.tool = 0
        self.x, self.y = "0", "0"

    def line(self, line: str) -> bool:
        """Read one line; whether the file ends here."""
        if line.startswith(";"):
            self._comment(line[1:].strip())
            return False
        if line in ("M48", "%", "M95", "FMAT,2", "FMAT,1"):
            self.known = True
        elif line.startswith(("METRIC", "INCH", "M71", "M72")):
            self._unit(line)
        elif line in ("M30", "M00", "M02"):
            self.ended = True
            return True
        elif line in ("G90", "G91", "ICI", "ICI,ON", "ICI,OFF"):
            self.step = line in ("G91", "ICI", "ICI,ON")
        elif line.startswith("T") and line[1:2].isdigit():
            self._tool(line)
        elif line in ("M15", "M16", "M17"):
            self.down = line == "M15"
        elif line[:1] in ("X", "Y", "G"):
            self._move(line)
        elif line.startswith("R") and line[1:2].isdigit():
            self._repeat(line)
        return False

    def _comment(self, text: str) -> None:
        """A comment that means something."""
        upper = text.upper().replace("-", "_")
        if text.startswith("#@!"):
            name, _, value = text[3:].strip().partition(",")
            if name.startswith("TF"):
                self.attributes.setdefault(name[2:], value)
            elif name == "TA.AperFunction":
                self.plated_now = (
                    False if value.startswith("NonPlated") else True if value.startswith("Plated") else None
                )
        elif "TYPE=NON_PLATED" in upper:
            self.plated_now = False
        elif "TYPE=PLATED" in upper:
            self.plated_now = True
        elif "FILE_FORMAT=" in upper:
            found = re.search(r"FILE_FORMAT=(\d):(\d)", upper)
            self.digits = (int(found[1]), int(found[2])) if found else self.digits

    def _unit(self, line: str) -> None:
        """Unit, zeros and digits."""
        self.known = True
        self.inch = line.startswith(("INCH", "M72"))
        if ",LZ" in line or ",TZ" in line:  # they name the zeros that are kept
            self.dropped = ",LZ" in line
        found = _DIGITS.search(line)
        if found:
            self.digits = len(found[1]), len(found[2])

    def _tool(self, line: str) -> None:
        """A tool defined, or taken up."""
        number = int(re.match(r"T(\d{1,6})", line)[1])  # type: ignore[index]
        found = _TOOL.match(line)
        if found:
            self.known = True
            try:
                self.tools[number] = float(found[2])
            except ValueError:
                raise Damaged(f"tool {line[:30]!r}; T1C0.8 or alike is allowed; export the file again") from None
            if self.plated_now is not None:
                self.plating[number] = self.plated_now
        self.tool = number if number else self.tool

    def _move(self, line: str) -> None:
        """Coordinates: a hole, a slot, or a step of the router."""
        if line.startswith("G85"):
            line = line[3:]
        if line.startswith(("G00", "G01", "G02", "G03", "G05")):
            code = line[:3]
            self.curved = self.curved or (code in ("G02", "G03") and bool(_COORD.search(line)))
            self.routing = code != "G05"
            line = line[3:]
        elif line.startswith("G") and not line.startswith("G85"):
            return
        first, slot, second = line.partition("G85")
        here = self._to(first)
        if here is None:
            return
        start = (self.x, self.y)
        self.x, self.y = here
        if slot:
            end = self._to(second)
            if end is not None:
                self._hit(here, end)
                self.x, self.y = end
        elif not self.routing:
            self._hit(here, None)
        elif self.down:
            self._hit(start, here)

    def _to(self, text: str) -> tuple[str, str] | None:
        """Coordinates of a line, what is left out kept from before."""
        found = dict(_COORD.findall(text))
        if not found:
            return None
        if self.step:
            raise Damaged("coordinates as steps from hole to hole; absolute ones are read; export with G90")
        return found.get("X", self.x), found.get("Y", self.y)

    def _hit(self, at: tuple[str, str], end: tuple[str, str] | None) -> None:
        """One more hole."""
        if len(self.hits) >= MOST_HOLES:
            raise Damaged(f"more than {MOST_HOLES} holes; export one board alone")
        self.hits.append(_Hit(self.tool, at, end))

    def _repeat(self, line: str) -> None:
        """The last hole again at equal steps, kept as words: their digits are read when the format is known."""
        count = int(re.match(r"R(\d{1,6})", line)[1])  # type: ignore[index]
        steps = dict(_COORD.findall(line))
        if not self.hits or len(self.x) + len(self.y) > _MOST_SUM:
            raise Damaged("a repeated hole without a hole before it; write each hole out; export the file again")
        start = self.x, self.y
        for number in range(1, min(count, MOST_HOLES) + 1):
            self.x, self.y = (
                f"{at}{_TIMES}{number}{_TIMES}{steps[axis]}" if axis in steps else at
                for at, axis in zip(start, "XY", strict=True)
            )
            self._hit((self.x, self.y), None)

    def finish(self) -> DrillText:
        """What was read, or why it is no drill file."""
        if not self.known and not (self.hits and self.tool):
            raise Damaged(
                "no header of a drill file is found; an Excellon or XNC file is wanted; check what was exported"
            )
        pointed = bool(self.hits) and all(_pointed(hit) for hit in self.hits)
        return DrillText(
            tuple(self.hits), self.tools, self.plating, self.inch, self.digits, self.dropped, pointed, self.ended, self.attributes,
            self.curved,
        )  # fmt: skip


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
    if _TIMES in text:
        first, *steps = text.split(_TIMES)
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


def _pointed(hit: _Hit) -> bool:
    """Whether a hole's coordinates have their points; a bare zero needs none."""
    words = [word for text in (*hit.xy, *(hit.end or ())) for word in _words(text)]
    return all("." in word or word.strip("+-0") == "" for word in words)


def _words(text: str) -> list[str]:
    """Coordinates in one that is repeated; the counts between are none."""
    first, *steps = text.split(_TIMES)
    return [first, *steps[1::2]]
