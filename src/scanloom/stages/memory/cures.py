"""What else would make a frame fit, with the bytes it takes and what it costs."""

from __future__ import annotations

from collections.abc import Sequence

from scanloom.basis.record import record
from scanloom.handbook.chip import Stream, Transfer
from scanloom.stages.memory.drawing import FitChange, ListBuilder
from scanloom.stages.memory.model import EntryRules, ScanShape, WordStore
from scanloom.stages.memory.placement import place

EXPANSION_CYCLES = (2.0, 4.0)
"""Processor cycles to expand one packed pixel by a table. From memory. [1]"""

LEAST_CYCLES = 4.0
"""Cycles a pixel below which nothing is drawn just ahead of the beam. From memory. [1]"""

SPARE_SHARE = 0.3
"""Share of the cycles that is left for everything else. From memory. [1]"""

LINE_BUFFERS = 8
"""Lines kept ready ahead of the beam: seven lines of stall are survived. Common practice, no source. [1]"""


@record
class Cure:
    """One way out of a frame that does not fit.

    Parameters
    ----------
    what : str
        What is done.
    used_bytes : int
        Bytes taken then, with what is kept back. [B]
    fits : bool
        Whether that finds room, and the processor has the cycles it costs.
    cost : str
        What it costs, in words.
    """

    what: str
    used_bytes: int
    fits: bool
    cost: str


def memory_cures(
    shape: ScanShape,
    stream: Stream,
    streams: Sequence[Stream],
    transfer: Transfer,
    blocks_bytes: Sequence[int],
    keep_back_bytes: int,
    colour_bits: int,
    pixel_cycles: float | None,
    changes: Sequence[FitChange],
    used_bytes: int,
    build: ListBuilder,
) -> tuple[Cure, ...]:
    """Ways out, those that fit first, then the least bytes saved at the least cost.

    Parameters
    ----------
    shape : ScanShape
        Raster and picture that do not fit.
    stream : Stream
        Its stream.
    streams : sequence of Stream
        All streams of the chip.
    transfer : Transfer
        Rules of its transfer list.
    blocks_bytes : sequence of int
        Free blocks. [B]
    keep_back_bytes : int
        Kept back in one piece. [B]
    colour_bits : int
        Colour bits of a word. [1]
    pixel_cycles : float or None
        Processor cycles for each stored pixel; None when unknown. [1]
    changes : sequence of FitChange
        Changes of the raster that fit.
    used_bytes : int
        Bytes of the frame as it is, with what is kept back. [B]
    build : callable
        Builds the transfer list.

    Returns
    -------
    tuple of Cure
        Raster changes, fewer bits, packing, drawing just ahead of the beam.
    """
    rules = EntryRules(transfer.entry_bytes, transfer.longest_run_bytes, transfer.allocation_bytes)
    found = [Cure(change.what, used_bytes - change.bytes_saved, True, _loss(shape, change)) for change in changes]
    found += _fewer_bits(shape, stream, streams, rules, blocks_bytes, keep_back_bytes, colour_bits, build)
    found.append(_packed(shape, stream, rules, blocks_bytes, keep_back_bytes, colour_bits, pixel_cycles))
    found.append(_ahead(shape, stream, rules, blocks_bytes, keep_back_bytes, pixel_cycles))
    return tuple(sorted(found, key=lambda cure: not cure.fits))


def _loss(shape: ScanShape, change: FitChange) -> str:
    """Pixels that a change of the raster gives up."""
    before, after = shape.picture_px * shape.picture_rows, change.picture_px * change.picture_rows
    return f"{change.picture_px}x{change.picture_rows} stored pixels, {100 * (1 - after / before):.0f} % fewer"


def _fewer_bits(
    shape: ScanShape,
    stream: Stream,
    streams: Sequence[Stream],
    rules: EntryRules,
    blocks_bytes: Sequence[int],
    keep_back_bytes: int,
    colour_bits: int,
    build: ListBuilder,
) -> list[Cure]:
    """Streams with shorter words, and the bits that must go for them."""
    syncs = 2 if stream.sync == "word" else 0
    made: list[Cure] = []
    for other in streams:
        narrower = other.sync == stream.sync and other.word_bytes < stream.word_bytes and other.table is None
        if not narrower or other.lanes - syncs < 1:
            continue
        words = WordStore(other.lanes, other.words_per_read, other.read_bytes)
        try:
            placed = place(build(shape, words, rules), blocks_bytes, keep_back_bytes, count_frames=False)
        except ValueError:
            continue  # a line is no whole number of reads there
        if placed.fits:
            gone = max(0, colour_bits + syncs - other.lanes)
            made.append(
                Cure(
                    f"words of {other.name}",
                    placed.used_bytes,
                    True,
                    f"{gone} of {colour_bits} colour bits go" if gone else "no bit goes",
                )
            )
    return sorted(made, key=lambda cure: -cure.used_bytes)[:1]


def _packed(
    shape: ScanShape,
    stream: Stream,
    rules: EntryRules,
    blocks_bytes: Sequence[int],
    keep_back_bytes: int,
    colour_bits: int,
    pixel_cycles: float | None,
) -> Cure:
    """Colour bits stored without the syncs and spare lanes, expanded line by line."""
    row = -(-shape.picture_px * colour_bits // 32) * 4 + rules.overhead_bytes
    used = shape.picture_rows * row + _buffers(shape, stream, rules) + keep_back_bytes
    room = _rows_fit(row, shape.picture_rows, _buffers(shape, stream, rules) + keep_back_bytes, blocks_bytes)
    return Cure(
        "colour bits packed without syncs and spare lanes",
        used,
        room and _has(pixel_cycles, EXPANSION_CYCLES[1]),
        _cycles(EXPANSION_CYCLES, pixel_cycles),
    )


def _ahead(
    shape: ScanShape,
    stream: Stream,
    rules: EntryRules,
    blocks_bytes: Sequence[int],
    keep_back_bytes: int,
    pixel_cycles: float | None,
) -> Cure:
    """No frame at all: each line drawn from what the picture is made of, just before it is sent."""
    used = _buffers(shape, stream, rules) + keep_back_bytes
    room = used <= max(blocks_bytes, default=0)
    words = f"lines drawn just ahead of the beam into {LINE_BUFFERS} buffers"
    return Cure(
        words, used, room and _has(pixel_cycles, LEAST_CYCLES), _cycles((LEAST_CYCLES, LEAST_CYCLES), pixel_cycles)
    )


def _buffers(shape: ScanShape, stream: Stream, rules: EntryRules) -> int:
    """Bytes of the line buffers, and of the entries that send them."""
    line = -(-shape.h_total_px // stream.words_per_read) * stream.read_bytes + rules.overhead_bytes
    return LINE_BUFFERS * line + 2 * shape.v_total_lines * rules.entry_bytes


def _rows_fit(row_bytes: int, rows: int, whole_bytes: int, blocks_bytes: Sequence[int]) -> bool:
    """Whether rows and one whole piece find room: the piece in the block where it costs fewest rows."""
    room = [block // row_bytes for block in blocks_bytes]
    left = [
        sum(room) - room[n] + (block - whole_bytes) // row_bytes
        for n, block in enumerate(blocks_bytes)
        if block >= whole_bytes
    ]
    return max(left, default=-1) >= rows


def _has(pixel_cycles: float | None, wanted: float) -> bool:
    """Whether the processor has the cycles, with a share to spare."""
    return pixel_cycles is not None and pixel_cycles * (1 - SPARE_SHARE) >= wanted


def _cycles(wanted: tuple[float, float], pixel_cycles: float | None) -> str:
    """Cycles a pixel wanted and there, in words."""
    need = f"{wanted[0]:g}" if wanted[0] == wanted[1] else f"{wanted[0]:g} to {wanted[1]:g}"
    have = "an unknown number" if pixel_cycles is None else f"{pixel_cycles:.1f}"
    return f"{need} processor cycles a pixel of {have}, {SPARE_SHARE * 100:.0f} % of them to be spared"
