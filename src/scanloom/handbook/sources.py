"""Look-up of sources, and the fact that a handbook row is."""

from __future__ import annotations

from functools import cache

from scanloom.basis.fact import Fact
from scanloom.basis.source import Source
from scanloom.handbook.load import nearest_names, table


@cache
def source(key: str) -> Source:
    """One source by its key.

    Parameters
    ----------
    key : str
        Key in the list of sources.

    Returns
    -------
    Source
        Title, edition, standing and date read.

    Raises
    ------
    ValueError
        If no source has that key.
    """
    rows = table("sources")
    if key not in rows:
        like = " or ".join(nearest_names(key, rows)) or "a key of sources.toml"
        raise ValueError(f"source {key!r}: not in the list of sources; {len(rows)} keys are; did you mean {like}?")
    row = rows[key]
    return Source(key, row["title"], row["edition"], row["standing"], row["read"])


def all_sources() -> tuple[Source, ...]:
    """Every source of the handbook.

    Returns
    -------
    tuple of Source
        In the order of the list.
    """
    return tuple(source(key) for key in table("sources"))


def row_fact(key: str, text: str, source_key: str, place: str) -> Fact:
    """The fact that a handbook row states.

    Parameters
    ----------
    key : str
        Place of the row, such as ``handbook.dmt.0x04``.
    text : str
        The row in words or figures.
    source_key : str
        Key of its source.
    place : str
        Clause, table or page in that source.

    Returns
    -------
    Fact
        With the standing of the source as its origin.

    Raises
    ------
    ValueError
        If no source has that key.
    """
    return Fact(key, text, source(source_key).standing, place, source_key)
