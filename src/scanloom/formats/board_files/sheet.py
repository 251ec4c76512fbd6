"""Tables as programs export them: any separator, any header, columns found by what they hold."""

from __future__ import annotations

import csv
import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence

from scanloom.basis.record import record
from scanloom.formats.board_files.damage import Damaged

MOST_ROWS = 20_000
"""Rows of one table. [1]"""
PART = re.compile(r"[A-Za-z]{1,10}[A-Za-z0-9_]*\d+[A-Za-z]?")
"""A reference designator."""
_UNIT = re.compile(r"(?<![a-z])(mm|millimet(?:er|re)s?|mils?|thou|inch(?:es)?|in)(?![a-z])")
_UNITS_ABOVE = re.compile(r"(?i)units?[^\n]{0,20}?[:= ]\s*(mm|millimet(?:er|re)s?|mils?|thou|inch(?:es)?)\b")
_NUMBER = re.compile(r"([+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?)\s*(mm|mil|mils|in|inch|\")?")

_PLACED = re.compile(
    r"([A-Za-z]{1,6}[A-Za-z0-9_]*\d+[A-Za-z]?)\s+([+-]?\d+\.\d+)\s+([+-]?\d+\.\d+)\s+([+-]?\d+(?:\.\d+)?)(?:\s+(.*))?"
)


@record
class Sheet:
    """A table with its header.

    Parameters
    ----------
    header : tuple of str
        Names of columns, in lower case and without marks.
    body : tuple of tuple of str
        Rows, each as long as the header.
    units : tuple of str
        Unit that each column's name states, or else the lines above the header: mm, mil, in or empty.
    """

    header: tuple[str, ...]
    body: tuple[tuple[str, ...], ...]
    units: tuple[str, ...] = ()

    def column(self, *names: str) -> int | None:
        """Column by its name: the whole name first, then a name that starts so.

        Parameters
        ----------
        *names : str
            Names that it may have, the likeliest first.

        Returns
        -------
        int or None
            Its place from 0. [1]
        """
        for name in names:
            if name in self.header:
                return self.header.index(name)
        for name in names:
            for place, given in enumerate(self.header):
                if len(name) > 2 and given.startswith(name):
                    return place
        return None

    def axis(self, letter: str, *names: str) -> int | None:
        """Column of a coordinate: by its name, or else the one whose name ends with the axis.

        Parameters
        ----------
        letter : str
            x or y.
        *names : str
            Names that it may have, the likeliest first.

        Returns
        -------
        int or None
            Its place from 0; None where there is none, or where it may be several. [1]
        """
        place = self.column(*names)
        ending = [n for n, given in enumerate(self.header) if given.split()[-1:] == [letter]]
        return place if place is not None else ending[0] if len(ending) == 1 else None

    def values(self, place: int) -> list[str]:
        """A column.

        Parameters
        ----------
        place : int
            Its place from 0. [1]

        Returns
        -------
        list of str
            One text a row.
        """
        return [row[place] for row in self.body]


def read_sheet(text: str, known: Iterable[str]) -> Sheet:
    """A table of a file.

    Parameters
    ----------
    text : str
        The file.
    known : iterable of str
        Names of columns that a header may hold.

    Returns
    -------
    Sheet
        The table.

    Raises
    ------
    Damaged
        If there is no table in it.

    References
    ----------
    [csv] RFC 4180, and separators by count where a program uses others.
    """
    lines = [line for line in text.split("\n") if line.strip()]
    if len(lines) > MOST_ROWS:
        raise Damaged(f"more than {MOST_ROWS} rows; a table of one board is wanted; check the file")
    names = set(known)
    rows: list[list[str]] = []
    best, most, rows_marked = -1, 1, False
    for some, is_marked in _splits(lines):  # the separator that makes a header of known names, the likeliest first
        if best >= 0 and not is_marked and rows_marked:
            break  # a name of two words is one cell where a mark parts the cells
        for number, row in enumerate(some[:40]):
            hits = sum(plain(cell) in names or plain(cell).split()[-1:] in (["x"], ["y"]) for cell in row)
            if hits > most:
                rows, best, most, rows_marked = some, number, hits, is_marked
    if best < 0 and (places := _bare_places(lines)) is not None:
        return places
    if best < 0:
        raise Damaged(
            "no header with known columns is found; Designator, Value, X, Y or alike are wanted; add a header"
        )
    header = tuple(plain(cell) for cell in rows[best])
    width = len(header)
    body = tuple(
        (*(cell.strip() for cell in row[:width]), *[""] * (width - len(row)))
        for row in rows[best + 1 :]
        if any(cell.strip() for cell in row)
    )
    above = _UNITS_ABOVE.search("\n".join(" ".join(row) for row in rows[:best]))
    stated = _unit(above[1]) if above else ""
    return Sheet(header, body, tuple(_unit_in(cell) or stated for cell in rows[best]))


def _unit_in(cell: str) -> str:
    """Unit in a column's name, such as X (mil)."""
    found = _UNIT.findall(cell.lower())
    return _unit(found[-1]) if found else ""


def _unit(word: str) -> str:
    """A unit's name as short as can be."""
    word = word.lower()
    return (
        "mil"
        if word.startswith(("mil", "tho")) and not word.startswith("millim")
        else "mm"
        if word.startswith("m")
        else "in"
    )


def _bare_places(lines: Sequence[str]) -> Sheet | None:
    """Rows without a header that say part, place across and along, turn, and perhaps value and package."""
    rows = [found for line in lines if (found := _PLACED.fullmatch(line.strip()))]
    if len(rows) < 2 or len(rows) < 0.9 * len(lines):
        return None
    body = tuple((r[1], r[2], r[3], r[4], *(r[5] or "").partition(" ")[::2]) for r in rows)
    return Sheet(("designator", "x", "y", "rotation", "value", "package"), body)


def plain(cell: str) -> str:
    """A header's name without capitals, units and marks.

    Parameters
    ----------
    cell : str
        As written.

    Returns
    -------
    str
        Lower case, words joined by one space.
    """
    bare = "".join(c for c in unicodedata.normalize("NFKD", cell) if not unicodedata.combining(c))
    return " ".join(re.sub(r"[^a-z0-9#]+", " ", re.sub(r"\(.*?\)", " ", bare.lower())).split())


def number(text: str, unit_mm: float = 1.0) -> float | None:
    """A length or an angle, with decimal point or comma and perhaps a unit.

    Parameters
    ----------
    text : str
        As written.
    unit_mm : float
        Millimetres in one unit where none is written. [mm]

    Returns
    -------
    float or None
        Millimetres, or the bare number; None for anything else. [unit]
    """
    found = _NUMBER.fullmatch(text.strip())
    if not found:
        return None
    made = float(found[1].replace(",", "."))
    unit = found[2] or ""
    scale = 0.0254 if unit.startswith("mil") else 25.4 if unit[:1] in ("i", '"') else 1.0 if unit else unit_mm
    return made * scale if abs(made) < 1e7 else None


def part_names(text: str) -> tuple[str, ...]:
    """Designators of a cell: a list with commas, semicolons or spaces, and ranges such as R1-R4.

    Parameters
    ----------
    text : str
        The cell.

    Returns
    -------
    tuple of str
        The designators.
    """
    made: list[str] = []
    for word in re.split(r"[,;\s]+", text.strip()):
        span = re.fullmatch(r"([A-Za-z_]+)(\d{1,5})\s*(?:-|\.\.|–)\s*\1?(\d{1,5})", word)
        if span and int(span[2]) <= int(span[3]) <= int(span[2]) + 500:
            made.extend(f"{span[1]}{n}" for n in range(int(span[2]), int(span[3]) + 1))
        elif word:
            made.append(word)
    return tuple(made)


def _splits(lines: Sequence[str]) -> Iterator[tuple[list[list[str]], bool]]:
    """Cells and whether a mark parts them: that which splits most lines alike first, then gaps, then every blank."""
    scored: list[tuple[float, list[list[str]]]] = []
    for mark in (",", ";", "\t", "|"):
        try:
            rows = list(csv.reader(lines, delimiter=mark, skipinitialspace=True))
        except csv.Error:
            continue
        widths = [len(row) for row in rows]
        usual = max(set(widths), key=widths.count, default=0)
        if usual > 1:
            scored.append((usual * widths.count(usual) / max(1, len(widths)), rows))
    yield from ((rows, True) for _, rows in sorted(scored, key=lambda one: -one[0]))
    yield [re.split(r"\s{2,}|\s(?=[-+]?\d+\.\d)", line.strip()) for line in lines], False
    yield [re.findall(r'"[^"]*"|\S+', line) for line in lines], False
