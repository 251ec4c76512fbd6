"""Whether a frame of a plan finds room in the RAM of a chip, how tall it may be, and what would help; remembered."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

from scanloom.handbook.chip import Chip, FirmwareState, Stream
from scanloom.stages.memory import (
    USUAL_KEEP_BACK_BYTES,
    EntryRules,
    Placement,
    ScanShape,
    TransferList,
    WordStore,
    list_builder,
    place,
)
from scanloom.stages.memory.drawing import FaultTeller, ListBuilder

LEAST_ROWS = 100
"""Rows below which a picture is not worth a look. [1]"""

STEP_ROWS = 8
"""Heights of lower pictures are multiples of this. [1]"""


def heights_of(chip: Chip, shape: ScanShape, stream: Stream, state: FirmwareState) -> Iterator[int]:
    """Picture heights worth a look: all rows; when they do not fit, the tallest multiple of 8 that does, down to half.

    Parameters
    ----------
    chip : Chip
        The chip.
    shape : ScanShape
        Raster and picture, all rows of it.
    stream : Stream
        The stream.
    state : FirmwareState
        The firmware state.

    Yields
    ------
    int
        Rows. [1]
    """
    yield shape.picture_rows
    whole = placed_frame(chip, shape, stream, state)
    if whole is None or whole.fits:
        return

    def fits(rows: int) -> bool:
        placed = placed_frame(chip, replace(shape, picture_rows=rows), stream, state)
        return placed is not None and placed.fits

    # rows that are not sent take their entries with them, so that somewhat more may fit than the whole picture could place
    rows = (shape.picture_rows - whole.lines_missing) // STEP_ROWS * STEP_ROWS
    while rows + STEP_ROWS < shape.picture_rows and fits(rows + STEP_ROWS):
        rows += STEP_ROWS
    least = max(LEAST_ROWS, shape.picture_rows / 2)
    while rows >= least and not fits(rows):
        rows -= STEP_ROWS
    if rows >= least:
        yield rows


def memory_fault(
    chip: Chip, shape: ScanShape, stream: Stream, state: FirmwareState, placed: Placement | None
) -> tuple[str, str] | None:
    """Say why a frame finds no room, and the smallest change that was seen to mend it.

    Parameters
    ----------
    chip : Chip
        The chip.
    shape : ScanShape
        Raster and picture.
    stream : Stream
        The stream.
    state : FirmwareState
        The firmware state.
    placed : Placement or None
        Where the frame lies; None when its list cannot be built.

    Returns
    -------
    tuple of str, or None
        Fault and cure in words; None when the frame fits.
    """
    if placed is None:
        if chip.table.transfer is None:
            return "how the DMA is fed is not on record", "complete the chip file"
        return "a line is no whole number of reads", "take another stream, divide or parent"
    if placed.fits:
        return None
    missing, left = placed.lines_missing, shape.picture_rows - placed.lines_missing
    ways = [f"a picture of {left} rows"] if left >= LEAST_ROWS else []
    if shape.picture_rows % 2 == 0 and shape.picture_rows // 2 >= LEAST_ROWS:
        half = replace(shape, picture_rows=shape.picture_rows // 2, line_repeat=shape.line_repeat * 2)
        again = placed_frame(chip, half, stream, state)
        ways += [f"each row {half.line_repeat} times"] if again is not None and again.fits else []
    return f"{missing} of {shape.picture_rows} rows find no room", ", or ".join(
        ways
    ) or "take a smaller picture or parent"


def placed_frame(chip: Chip, shape: ScanShape, stream: Stream, state: FirmwareState) -> Placement | None:
    """Where a frame lies in a firmware state's blocks.

    Parameters
    ----------
    chip : Chip
        The chip.
    shape : ScanShape
        Raster and picture.
    stream : Stream
        The stream.
    state : FirmwareState
        The state.

    Returns
    -------
    Placement or None
        None when a line is no whole number of reads, or the transfer rules are not on record.
    """
    rules = chip.table.transfer
    if rules is None:
        return None
    words = WordStore(stream.lanes, stream.words_per_read, stream.read_bytes)
    entry_rules = EntryRules(rules.entry_bytes, rules.longest_run_bytes, rules.allocation_bytes)
    return _placed(shape, words, entry_rules, *list_builder(stream), state.free)


@lru_cache(maxsize=65_536)
def _placed(
    shape: ScanShape,
    words: WordStore,
    rules: EntryRules,
    build: ListBuilder,
    fault: FaultTeller,
    blocks_bytes: tuple[int, ...],
) -> Placement | None:
    """Where a frame lies, remembered: depths, streams of one width and chips of one family share it."""
    made = _listed(shape, words, rules, build, fault)
    return None if made is None else place(made, blocks_bytes, USUAL_KEEP_BACK_BYTES, count_frames=False)


@lru_cache(maxsize=64)
def _listed(
    shape: ScanShape, words: WordStore, rules: EntryRules, build: ListBuilder, fault: FaultTeller
) -> TransferList | None:
    """Transfer list of a shape, or none where a line is no whole number of reads; long, so that few are remembered."""
    return None if fault(shape, words) is not None else build(shape, words, rules)
