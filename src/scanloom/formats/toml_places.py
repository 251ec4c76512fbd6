"""Where each key and each value stands in a TOML text, and what is wrong with a text that is not TOML."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Iterator, Mapping
from typing import Any

from scanloom.basis.record import record
from scanloom.formats._toml_scan import KeyPath, NestedTooDeep, Scanner, Stuck
from scanloom.formats.toml_faults import Fault, explain, too_deep, too_long

__all__ = ["Fault", "KeyPath", "Place", "Places", "TomlText", "read_toml", "scan_places", "source_line", "syntax_fault"]


@record
class Place:
    """Where one key and its value stand.

    Lines and columns count from 1, columns in characters; an end is the first character after the value.

    Parameters
    ----------
    kind : str
        ``value`` (after ``=``, or an item of a list), ``header`` (``[table]``, or one entry ``[[table]]``), ``entries``
        (all entries of a ``[[table]]``, placed at the first), ``dotted`` or ``implied`` (a table that only a dotted key
        or only a longer header brings into being; placed at that part of the key), or ``document``.
    line : int
        Line to point at when nothing more particular is known: that of the value or header. [1]
    column : int
        Column of the same. [1]
    key_line : int
        Line of the key; of the value itself where an item of a list has none. [1]
    key_column : int
        Column of the key. [1]
    value_line : int
        Line where the value begins. [1]
    value_column : int
        Column where the value begins. [1]
    value_end_line : int
        Line where the value ends. [1]
    value_end_column : int
        Column after the last character of the value. [1]
    value_start : int
        Characters of the text before the value. [1]
    value_end : int
        Characters of the text up to the end of the value. [1]
    """

    kind: str
    line: int
    column: int
    key_line: int
    key_column: int
    value_line: int
    value_column: int
    value_end_line: int
    value_end_column: int
    value_start: int
    value_end: int


class Places(Mapping[KeyPath, Place]):
    """Every key path of a text with its place; the empty path is the document.

    Parameters
    ----------
    text : str
        The text that was scanned.
    scanner : Scanner
        The scanner that has walked it.
    """

    __slots__ = ("_line_starts", "members", "spans", "statements")

    def __init__(self, text: str, scanner: Scanner) -> None:
        """Keep characters only; lines and columns are worked out when asked for."""
        self.spans = scanner.spans
        self.statements = scanner.statements
        self.members = scanner.members
        self._line_starts = [0, *(found.end() for found in re.finditer("\n", text))]

    def __len__(self) -> int:
        """Count the key paths."""
        return len(self.spans)

    def __iter__(self) -> Iterator[KeyPath]:
        """Go through the key paths in the order of the text."""
        return iter(self.spans)

    def __getitem__(self, path: KeyPath) -> Place:
        """Place of a key path; KeyError when the text has none."""
        kind, key, start, end, _ = self.spans[path]
        start_at, key_at, end_at = self.line_and_column(start), self.line_and_column(key), self.line_and_column(end)
        return Place(kind, *start_at, *key_at, *start_at, *end_at, start, end)

    def nearest(self, path: KeyPath) -> Place:
        """Place of the longest beginning of a path that stands in the text.

        Parameters
        ----------
        path : tuple of str or int
            Key path, which need not exist.

        Returns
        -------
        Place
            Its place, or that of the table it is missing from.
        """
        while path not in self.spans:
            path = path[:-1]
        return self[path]

    def line_and_column(self, characters: int) -> tuple[int, int]:
        """Line and column of a character.

        Parameters
        ----------
        characters : int
            Characters of the text before it. [1]

        Returns
        -------
        tuple of int
            Line and column, both from 1. [1]
        """
        line = bisect_right(self._line_starts, characters)
        return line, characters - self._line_starts[line - 1] + 1


@record
class TomlText:
    """A text that is TOML, read once.

    Parameters
    ----------
    data : dict
        The values, as the standard library reads them.
    places : Places
        Where each of them stands.
    """

    data: dict[str, Any]
    places: Places


def scan_places(text: str) -> Places:
    """Place of each key and each value of a TOML text.

    Parameters
    ----------
    text : str
        A text that is TOML (`syntax_fault` finds nothing).

    Returns
    -------
    Places
        The places by key path.

    Raises
    ------
    ValueError
        If the walk meets something that is not TOML, or key paths longer than `MOST_NESTED`.
    """
    scanner = Scanner(text)
    scanner.run()
    return Places(text, scanner)


def read_toml(text: str) -> TomlText | Fault:
    """Values and places of a TOML text, or what keeps it from being TOML.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    TomlText or Fault
        The text as read, or the first fault in it.
    """
    scanner = Scanner(text)
    stuck: Stuck | None = None
    try:
        scanner.run()
    except NestedTooDeep:  # before the reader: it recurses on brackets and is slow on long dotted keys
        return too_deep(text, scanner.at)
    except Stuck as error:
        stuck = error
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        return explain(text, str(error))
    except ValueError as error:  # an integer beyond the interpreter's limit of digits
        return too_long(text, str(error))
    if stuck is not None:
        raise stuck  # the reader took what the walk did not: a fault of ours, to be seen
    return TomlText(data, Places(text, scanner))


def syntax_fault(text: str) -> Fault | None:
    """What keeps a text from being TOML.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    Fault or None
        The first fault, or None for a text that is TOML.
    """
    found = read_toml(text)
    return found if isinstance(found, Fault) else None


def source_line(text: str, line: int) -> str:
    """One line of a text, without its line end.

    Parameters
    ----------
    text : str
        The text.
    line : int
        Which line, from 1; the line after the last is empty. [1]

    Returns
    -------
    str
        The line.

    Raises
    ------
    ValueError
        If the text has no such line.
    """
    lines = text.split("\n", line)  # str.splitlines would also split at characters that TOML allows inside a string
    if not 1 <= line <= len(lines):
        raise ValueError(f"line {line}: the text has {text.count(chr(10)) + 1} lines; give one of them, from 1")
    return lines[line - 1].removesuffix("\r")
