"""Time to draw into a frame that is being shown, and the smallest changes that let a frame fit."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from scanloom.basis.record import record
from scanloom.stages.memory.model import EntryRules, ScanShape, TransferList, WordStore, check_shape
from scanloom.stages.memory.placement import Placement, place
from scanloom.stages.memory.transfer import alignment_fault, build_transfer_list

ListBuilder = Callable[[ScanShape, WordStore, EntryRules], TransferList]
FaultTeller = Callable[[ScanShape, WordStore], str | None]


@record
class DrawingTime:
    """When the rows of the one frame may be written, and how much a processor gets done meanwhile."""

    blank_lines: int
    """Lines of a frame that send no image row. [1]"""
    blank_window_s: float
    """Time in one piece in which no image row is sent. [s]"""
    behind_beam_s: float
    """Longest time a steady redraw from top to bottom may take unseen, begun once row 0 is sent. [s]"""
    each_frame_s: float
    """Longest time such a redraw may take when every frame is drawn anew. [s]"""
    frame_rate_hz: float
    """Frames a second. [Hz]"""
    line_cycles: float
    """Processor cycles in one line. [1]"""
    row_cycles: float
    """Processor cycles while one image row is sent, in all lines that repeat it. [1]"""
    pixel_cycles: float | None
    """Of these, cycles for each stored pixel of the row; None without a picture. [1]"""


@record
class FitChange:
    """A change of the raster that lets the frame fit."""

    what: str
    """The change in words."""
    bytes_saved: int
    """Bytes the frame then needs less. [B]"""
    picture_px: int
    """Stored words of a line after the change. [1]"""
    picture_rows: int
    """Stored image rows after the change. [1]"""
    line_repeat: int
    """Lines that send one image row after the change. [1]"""
    divide_doubled: bool
    """Whether the change halves all horizontal figures."""


def drawing_time(shape: ScanShape, line_s: float, cpu_hz: float) -> DrawingTime:
    """Time to draw into the frame that is being shown.

    Parameters
    ----------
    shape : ScanShape
        Raster and picture.
    line_s : float
        Duration of a line. [s]
    cpu_hz : float
        Clock of the processor that draws. [Hz]

    Returns
    -------
    DrawingTime
        Windows in which a row may be written, and processor cycles.

    Raises
    ------
    ValueError
        If the raster cannot be, or a time or rate is not positive.

    Notes
    -----
    Times count from the moment the columns of the first picture line begin; T is the duration of a line, V the lines
    of a frame, N the image rows, each sent in k lines. Row r is last read before (r + 1) k T and read again from
    (V + r k) T on, so it may be written between the two. A redraw that begins at k T and goes through the rows at a
    steady pace in a time D writes row r from k T + r D / N up to k T + (r + 1) D / N. If D is at least N k T, it never
    overtakes the beam, and the beam does not catch up with it before the last row, r = N - 1, when

        k T + D <= (V + (N - 1) k) T,  so  D = (V + (N - 2) k) T.

    With one row this is the frame without that row; with a full picture nearly two frames, since a redraw slower than
    the beam is first left behind and then caught up. A quicker redraw waits for the beam, and one in every frame has a
    frame at most. The end of a row's last line is not counted, nor what the DMA reads ahead of the pins (common
    practice, no source: a few read units).
    """
    check_shape(shape)
    for name, value, unit in (("line", line_s, "s"), ("processor clock", cpu_hz, "Hz")):
        if not (math.isfinite(value) and value > 0):
            raise ValueError(f"{name} of {value!r} {unit}: allowed is a finite number above 0; give it from the plan")
    frame_s = shape.v_total_lines * line_s
    blank_lines = shape.v_total_lines - shape.picture_lines
    behind_lines = shape.v_total_lines + (shape.picture_rows - 2) * shape.line_repeat
    behind_s = behind_lines * line_s if shape.picture_rows else frame_s
    row_cycles = cpu_hz * line_s * shape.line_repeat
    return DrawingTime(
        blank_lines=blank_lines,
        blank_window_s=blank_lines * line_s,
        behind_beam_s=behind_s,
        each_frame_s=min(behind_s, frame_s),
        frame_rate_hz=1.0 / frame_s,
        line_cycles=cpu_hz * line_s,
        row_cycles=row_cycles,
        pixel_cycles=row_cycles / shape.picture_px if shape.picture_px else None,
    )


def smallest_changes(
    shape: ScanShape,
    word_store: WordStore,
    rules: EntryRules,
    blocks_bytes: Sequence[int],
    keep_back_bytes: int,
    frames: int = 1,
    *,
    build: ListBuilder = build_transfer_list,
    fault: FaultTeller = alignment_fault,
) -> tuple[FitChange, ...]:
    """Find the smallest changes of the raster that let its frames fit.

    Parameters
    ----------
    shape : ScanShape
        Raster and picture that do not fit.
    word_store : WordStore
        How words lie in RAM.
    rules : EntryRules
        Size of an entry, longest run, cost of an allocation.
    blocks_bytes : sequence of int
        Free blocks. [B]
    keep_back_bytes : int
        Bytes that must stay in one piece for other things. [B]
    frames : int
        Frames wanted at once. [1]
    build : callable
        Builds the list; another one where hardware makes the syncs.
    fault : callable
        Tells why a raster cannot be cut into read units.

    Returns
    -------
    tuple of FitChange
        Changes that fit, the one that loses fewest stored pixels first; empty if none fits, or the raster fits already.

    Raises
    ------
    ValueError
        If the raster cannot be, is not whole read units, or a size is negative.

    Notes
    -----
    Each change is built and placed, never estimated. The rows are bisected, which is allowed because with one row less
    the list needs fewer bytes: a row goes, and its lines become blank lines, which take no more entries. What is given
    fits, and one row more does not. Only where the blank form changes does a special item grow as rows go, by less than
    a row; a taller picture could be passed over if that item filled a block which holds no row at all. Twice the divide
    is offered when all horizontal figures are even.
    """

    def tried(changed: ScanShape) -> Placement:
        return place(build(changed, word_store, rules), blocks_bytes, keep_back_bytes, frames)

    now = tried(shape)
    if now.fits or not shape.picture_rows:
        return ()
    found: list[FitChange] = []

    def keep(what: str, changed: ScanShape) -> bool:
        if not changed.picture_rows or fault(changed, word_store):
            return False
        placed = tried(changed)
        if placed.fits:
            saved = now.used_bytes - placed.used_bytes
            px, divided = changed.picture_px, changed.h_active_px != shape.h_active_px
            found.append(FitChange(what, saved, px, changed.picture_rows, changed.line_repeat, divided))
        return placed.fits

    # each row takes its size from some block, and its lines an entry each
    row_bytes = now.line_bytes + shape.line_repeat * rules.entry_bytes
    high = min(shape.picture_rows - 1, (sum(blocks_bytes) - keep_back_bytes) // (frames * row_bytes))
    low = 0
    while low < high:
        rows = (low + high + 1) // 2
        low, high = (rows, high) if tried(replace(shape, picture_rows=rows)).fits else (low, rows - 1)
    keep(f"a picture of {low} rows", replace(shape, picture_rows=low))

    doubled = replace(shape, picture_rows=shape.picture_rows // 2, line_repeat=shape.line_repeat * 2)
    across = (shape.h_active_px, shape.h_front_px, shape.h_sync_px, shape.h_back_px, shape.picture_px)
    halved = None
    if not any(figure % 2 for figure in across):
        active, front, sync, back, picture = (figure // 2 for figure in across)
        halved = replace(
            shape, h_active_px=active, h_front_px=front, h_sync_px=sync, h_back_px=back, picture_px=picture
        )
    enough = keep("each row in twice as many lines", doubled)
    if halved is not None:
        enough = keep("twice the divide", halved) or enough
        if not enough:
            both = replace(halved, picture_rows=doubled.picture_rows, line_repeat=doubled.line_repeat)
            keep("each row in twice as many lines, and twice the divide", both)
    return tuple(sorted(found, key=lambda change: -change.picture_px * change.picture_rows))
