"""The transfer list of a stream whose syncs hardware makes: picture runs alone, blank time costs nothing."""

from __future__ import annotations

from scanloom.stages.memory.model import (
    Entry,
    EntryRules,
    ScanShape,
    TransferList,
    WordStore,
    check_shape,
)
from scanloom.stages.memory.row_runs import row_runs, row_stores


def picture_fault(shape: ScanShape, word_store: WordStore) -> str | None:
    """Say why image rows cannot be sent in whole read units, if so.

    Parameters
    ----------
    shape : ScanShape
        Raster and picture.
    word_store : WordStore
        How words lie in RAM.

    Returns
    -------
    str or None
        What was given, what is allowed and what to do; None when a row is whole read units.
    """
    unit = word_store.words_per_read
    odd = shape.picture_px % unit
    if not odd:
        return None
    near = [str(n) for n in (shape.picture_px - odd, shape.picture_px - odd + unit) if 0 < n <= shape.h_active_px]
    return (
        f"picture of {shape.picture_px} words: a row is whole reads of {unit} words ({word_store.read_bytes} B); "
        f"make the picture {' or '.join(near) or 'wider'} words wide"
    )


def build_picture_list(shape: ScanShape, word_store: WordStore, rules: EntryRules) -> TransferList:
    """Build the transfer list of one frame when syncs, porches and borders are made by counters.

    Parameters
    ----------
    shape : ScanShape
        Raster and picture; borders count as longer porches, which the counters hold.
    word_store : WordStore
        How words lie in RAM.
    rules : EntryRules
        Size of an entry, longest run, cost of an allocation.

    Returns
    -------
    TransferList
        Each row as often as it is sent, in the order of the lines; no blank store.

    Raises
    ------
    ValueError
        If the raster cannot be, or a row is no whole number of read units.
    """
    check_shape(shape)
    why = picture_fault(shape, word_store)
    if why is not None:
        raise ValueError(why)
    unit = word_store.words_per_read
    longest = rules.longest_run_bytes // word_store.read_bytes * unit
    if longest < 1:
        raise ValueError(
            f"longest run of {rules.longest_run_bytes} B: a read of {word_store.read_bytes} B or more is allowed; "
            "take the number from the chip profile"
        )
    rows = row_runs(shape.picture_rows, shape.picture_px, longest)
    entries: list[Entry] = []
    for once in rows:
        entries += [*once] * shape.line_repeat
    return TransferList(row_stores(shape.picture_rows, shape.picture_px), tuple(entries), word_store, rules, "none")
