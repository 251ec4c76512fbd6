"""Drill files (Excellon, XNC): read as digits first, made numbers when the format is known or has been found by score."""

from __future__ import annotations

import re

from scanloom.formats.board_files.damage import Damaged
from scanloom.formats.board_files.drill_format import TIMES, DrillHit, DrillText, pointed

MOST_HOLES = 200_000
"""Holes of one file. [1]"""
_TOOL = re.compile(r"T(\d+)(?=.*C([\d.]+))")
_COORD = re.compile(r"([XY])([+-]?[\d.]+)")
_MOST_SUM = 300  # letters of a coordinate that repeats have been added to
_DIGITS = re.compile(r"\b(0+)\.(0+)\b")


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
        self.hits: list[DrillHit] = []
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
        self.pattern_from = 0
        self.pattern: tuple[DrillHit, ...] = ()
        self.pattern_step = ("", "")

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
        elif line.startswith(("M25", "M01", "M02", "M08")):
            self._pattern(line)
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
        self.hits.append(DrillHit(self.tool, at, end))

    def _repeat(self, line: str) -> None:
        """The last hole again at equal steps, kept as words: their digits are read when the format is known."""
        count = int(re.match(r"R(\d{1,6})", line)[1])  # type: ignore[index]
        steps = dict(_COORD.findall(line))
        if not self.hits or len(self.x) + len(self.y) > _MOST_SUM:
            raise Damaged("a repeated hole without a hole before it; write each hole out; export the file again")
        start = self.x, self.y
        for number in range(1, min(count, MOST_HOLES) + 1):
            self.x, self.y = (
                f"{at}{TIMES}{number}{TIMES}{steps[axis]}" if axis in steps else at
                for at, axis in zip(start, "XY", strict=True)
            )
            self._hit((self.x, self.y), None)

    def _pattern(self, line: str) -> None:
        """Holes from M25 to M01 again at each M02 with its step from the last, until M08."""
        if line == "M25":
            self.pattern_from, self.pattern, self.pattern_step = len(self.hits), (), ("", "")
        elif line == "M01":
            self.pattern = tuple(self.hits[self.pattern_from :])
        elif line == "M08":
            self.pattern = ()
        else:
            steps = dict(_COORD.findall(line))
            if re.sub(_COORD, "", line) != "M02" or len("".join(self.pattern_step)) > _MOST_SUM:
                raise Damaged(f"{line[:30]!r}, a pattern turned or too long; M02X1.0Y1.0 is read; write each hole out")
            x, y = (
                f"{was}{TIMES}1{TIMES}{steps[axis]}" if axis in steps else was
                for was, axis in zip(self.pattern_step, "XY", strict=True)
            )
            self.pattern_step = x, y
            if len(self.hits) + len(self.pattern) > MOST_HOLES:
                raise Damaged(f"more than {MOST_HOLES} holes; export one board alone")
            for hit in self.pattern:
                end = None if hit.end is None else (hit.end[0] + x, hit.end[1] + y)
                self.hits.append(DrillHit(hit.tool, (hit.xy[0] + x, hit.xy[1] + y), end))

    def finish(self) -> DrillText:
        """What was read, or why it is no drill file."""
        if not self.known and not (self.hits and self.tool):
            raise Damaged(
                "no header of a drill file is found; an Excellon or XNC file is wanted; check what was exported"
            )
        is_pointed = bool(self.hits) and all(pointed(hit) for hit in self.hits)
        return DrillText(
            tuple(self.hits), self.tools, self.plating, self.inch, self.digits, self.dropped, is_pointed, self.ended, self.attributes,
            self.curved,
        )  # fmt: skip
