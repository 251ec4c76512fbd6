"""Packaged tables, each parsed once and only when somebody asks for it."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

# a path beside this file: importlib.resources gives the same text 19 ms later, most of it spent on its own imports
TABLES = Path(__file__).parent / "tables"


@cache
def table(name: str) -> Mapping[str, Any]:
    """One packaged table as TOML reads it.

    Parameters
    ----------
    name : str
        File name below ``tables`` without its ending, such as ``dmt`` or ``chips/rp2040``.

    Returns
    -------
    Mapping
        The parsed table, shared by all callers: read it, never change it.

    Raises
    ------
    ValueError
        If there is no such table.
    """
    path = TABLES / f"{name}.toml"
    if ".." in Path(name).parts or not path.is_file():
        raise ValueError(f"table {name!r}: not in the handbook; {', '.join(table_names())} are; name one of them")
    return tomllib.loads(path.read_text(encoding="utf-8"))


def table_names() -> tuple[str, ...]:
    """Names of all packaged tables.

    Returns
    -------
    tuple of str
        Names as `table` takes them, sorted.
    """
    return tuple(sorted(path.relative_to(TABLES).with_suffix("").as_posix() for path in TABLES.rglob("*.toml")))


def nearest_names(given: str, known: Iterable[str], most: int = 3) -> tuple[str, ...]:
    """Known names spelt most like a given one, for messages that say what was perhaps meant.

    Parameters
    ----------
    given : str
        Name as given.
    known : iterable of str
        Names that exist.
    most : int
        How many to return at most. [1]

    Returns
    -------
    tuple of str
        Nearest first, empty when none is alike.
    """
    from difflib import get_close_matches  # only a mistake pays for this import

    return tuple(get_close_matches(given, list(known), n=most, cutoff=0.5))
