"""Image rows as stores and as runs: the same for every raster that shows the same picture, so they are kept."""

from __future__ import annotations

from functools import lru_cache

from scanloom.stages.memory.model import Entry, Segment, Store


def cut_run(store: int, first_word: int, last_word: int, longest_words: int) -> list[Entry]:
    """Entries of one run, none longer than the longest.

    Parameters
    ----------
    store : int
        Place of the store among the stores. [1]
    first_word : int
        First word that is sent. [1]
    last_word : int
        The word behind the last. [1]
    longest_words : int
        Most words one entry can send. [1]

    Returns
    -------
    list of Entry
        In the order sent.
    """
    return [Entry(store, at, min(longest_words, last_word - at)) for at in range(first_word, last_word, longest_words)]


@lru_cache(maxsize=256)
def row_stores(rows: int, picture_px: int) -> tuple[Store, ...]:
    """Stores of all image rows.

    Parameters
    ----------
    rows : int
        Image rows. [1]
    picture_px : int
        Words of a row. [1]

    Returns
    -------
    tuple of Store
        One a row.
    """
    return tuple(Store(f"row {row}", "picture", (Segment(picture_px, False, False, row),)) for row in range(rows))


@lru_cache(maxsize=256)
def row_runs(rows: int, picture_px: int, longest_words: int) -> tuple[tuple[Entry, ...], ...]:
    """Entries that send each image row once.

    Parameters
    ----------
    rows : int
        Image rows. [1]
    picture_px : int
        Words of a row. [1]
    longest_words : int
        Most words one entry can send. [1]

    Returns
    -------
    tuple of tuple of Entry
        The entries of each row; row n is store n.
    """
    return tuple(tuple(cut_run(row, 0, picture_px, longest_words)) for row in range(rows))
