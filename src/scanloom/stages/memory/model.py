"""What goes in and comes out of the transfer list: raster, word store, stores, entries."""

from __future__ import annotations

from dataclasses import fields
from typing import Literal

from scanloom.basis.record import record

BlankForm = Literal["one run", "two runs"]


@record
class ScanShape:
    """One child raster in plain numbers, horizontal in child pixels, which are bus words.

    The left border is half of what the picture leaves of the active part, rounded down; the top border likewise. What
    is over lies right and below.
    """

    h_active_px: int
    """Active words of a line, borders included. [1]"""
    h_front_px: int
    """Words from the end of active to the leading edge of horizontal sync. [1]"""
    h_sync_px: int
    """Words inside the horizontal sync pulse. [1]"""
    h_back_px: int
    """Words from the trailing edge of horizontal sync to the start of active. [1]"""
    v_active_lines: int
    """Active lines, borders included. [1]"""
    v_front_lines: int
    """Lines from the end of active to vertical sync. [1]"""
    v_sync_lines: int
    """Line periods inside the vertical sync pulse. [1]"""
    v_back_lines: int
    """Lines from the end of vertical sync to the start of active. [1]"""
    picture_px: int
    """Stored words of a line, at most the active ones. [1]"""
    picture_rows: int
    """Stored image rows. [1]"""
    line_repeat: int
    """Lines that send one image row. [1]"""

    @property
    def h_total_px(self) -> int:
        """Words of a whole line [1]."""
        return self.h_active_px + self.h_front_px + self.h_sync_px + self.h_back_px

    @property
    def v_total_lines(self) -> int:
        """Lines of a whole frame [1]."""
        return self.v_active_lines + self.v_front_lines + self.v_sync_lines + self.v_back_lines

    @property
    def left_border_px(self) -> int:
        """Black active words left of the picture [1]."""
        return (self.h_active_px - self.picture_px) // 2

    @property
    def right_border_px(self) -> int:
        """Black active words right of the picture [1]."""
        return self.h_active_px - self.picture_px - self.left_border_px

    @property
    def picture_lines(self) -> int:
        """Lines that send picture words [1]."""
        return self.picture_rows * self.line_repeat

    @property
    def top_border_lines(self) -> int:
        """Black active lines above the picture [1]."""
        return (self.v_active_lines - self.picture_lines) // 2


@record
class WordStore:
    """How bus words lie in RAM."""

    lanes: int
    """Lanes of the stream that sends the words. [1]"""
    words_per_read: int
    """Words in one read unit of the DMA (eight lanes of a 4-byte read: 4). [1]"""
    read_bytes: int
    """Bytes of one read unit; a run starts and ends on a whole one. [B]"""

    def size_bytes(self, words: int) -> int:
        """Bytes that whole reads of so many words take.

        Parameters
        ----------
        words : int
            Words, a multiple of the words of one read. [1]

        Returns
        -------
        int
            Their size. [B]
        """
        return words // self.words_per_read * self.read_bytes


@record
class EntryRules:
    """What the chip and its allocator charge for a run."""

    entry_bytes: int
    """Bytes of one entry of the transfer list. [B]"""
    longest_run_bytes: int
    """Most bytes one entry can send. [B]"""
    overhead_bytes: int
    """Bytes the allocator takes beside each allocation. [B]"""


@record
class Segment:
    """Neighbouring words of one kind. True means inside the sync pulse, whatever its polarity."""

    words: int
    """How many words. [1]"""
    h_sync: bool
    """Whether they lie inside the horizontal sync pulse."""
    v_sync: bool
    """Whether they lie inside the vertical sync pulse."""
    row: int | None
    """Image row whose words these are; None is black. [1]"""


@record
class Store:
    """One allocation of words."""

    name: str
    """What it is called in a plan and in the firmware."""
    kind: Literal["picture", "blank"]
    """Whether it holds an image row, or black and sync."""
    segments: tuple[Segment, ...]
    """The words, in the order they are sent."""

    @property
    def words(self) -> int:
        """Words of the whole store [1]."""
        return sum([part.words for part in self.segments])


@record
class Entry:
    """One run the DMA sends: a store, or a part of one."""

    store: int
    """Place of the store in the list's stores. [1]"""
    first_word: int
    """First word of the store that is sent. [1]"""
    words: int
    """How many words are sent. [1]"""


@record
class TransferList:
    """What the DMA sends for one frame, a ring: after the last entry comes the first.

    Line 0 is the first active line. The first word is the first of the picture's columns in line 0, so that sync, back
    porch and left border of line 0 are the last words of the ring. Vertical sync runs for whole line periods from the
    leading edge of horizontal sync.
    """

    stores: tuple[Store, ...]
    """Image rows from the top, then the blank stores."""
    entries: tuple[Entry, ...]
    """Runs in the order they are sent."""
    word_store: WordStore
    """How the words lie in RAM."""
    rules: EntryRules
    """What an entry and an allocation cost, and how long a run may be."""
    blank_form: Literal["one run", "two runs", "none"]
    """Whether a blank line outside vertical sync is sent as one run, or as two that share black words."""


def check_shape(shape: ScanShape) -> None:
    """Refuse a raster that cannot be, or a picture that does not lie inside it.

    Parameters
    ----------
    shape : ScanShape
        Raster and picture.

    Raises
    ------
    ValueError
        If a count is negative, there is nothing active, or the picture is larger than the active part.
    """
    for name in [one.name for one in fields(shape)]:
        least = 1 if name in ("h_active_px", "v_active_lines", "line_repeat") else 0
        if getattr(shape, name) < least:
            raise ValueError(
                f"{name} = {getattr(shape, name)}: allowed is {least} or more; give the count from the child raster"
            )
    if shape.picture_px > shape.h_active_px:
        raise ValueError(
            f"picture of {shape.picture_px} words: allowed is up to the {shape.h_active_px} active words of a line; "
            "make the picture narrower or take another parent"
        )
    if shape.picture_lines > shape.v_active_lines:
        raise ValueError(
            f"picture of {shape.picture_rows} rows, each sent in {shape.line_repeat} lines: allowed is up to the "
            f"{shape.v_active_lines} active lines; store fewer rows or repeat them less"
        )
    if shape.picture_rows and not shape.picture_px:
        raise ValueError(
            f"picture of {shape.picture_rows} rows of 0 words: allowed is 1 word or more; give the picture a width"
        )
