"""Memory: frames in blocks of RAM, the transfer list, and the time to draw."""

from __future__ import annotations

from scanloom.basis.fact import Known
from scanloom.basis.outcome import Outcome
from scanloom.basis.record import record
from scanloom.basis.verdict import Settle, Verdict
from scanloom.dossier.reading import Reading
from scanloom.handbook.chip import Stream, Transfer
from scanloom.stages.clock import ClockPlan
from scanloom.stages.memory.blocks import frame_place, free_blocks, judge_external_rate, judge_place
from scanloom.stages.memory.cures import Cure, memory_cures
from scanloom.stages.memory.drawing import (
    DrawingTime,
    FaultTeller,
    FitChange,
    ListBuilder,
    drawing_time,
    smallest_changes,
)
from scanloom.stages.memory.image import SyncBits, store_words
from scanloom.stages.memory.model import Entry, EntryRules, ScanShape, Segment, Store, TransferList, WordStore
from scanloom.stages.memory.picture_list import build_picture_list, picture_fault
from scanloom.stages.memory.placement import Placement, SpecialItem, place
from scanloom.stages.memory.transfer import alignment_fault, build_transfer_list
from scanloom.stages.memory.verdicts import (
    blocks_unknown,
    judge_alignment,
    judge_blocks,
    judge_drawing,
    judge_second_frame,
)
from scanloom.stages.timing import ImageWindow, RasterTiming

__all__ = [
    "USUAL_KEEP_BACK_BYTES",
    "Cure",
    "DrawingTime",
    "Entry",
    "EntryRules",
    "FitChange",
    "MemoryPlan",
    "Placement",
    "ScanShape",
    "Segment",
    "SpecialItem",
    "Store",
    "SyncBits",
    "TransferList",
    "WordStore",
    "alignment_fault",
    "build_picture_list",
    "build_transfer_list",
    "drawing_time",
    "judge_memory",
    "list_builder",
    "place",
    "scan_shape",
    "smallest_changes",
    "store_words",
]

USUAL_KEEP_BACK_BYTES = 24_000
"""Kept back when nothing is stated: stacks, strings and library buffers of a small program. Common practice, no source. [B]"""


@record
class MemoryPlan:
    """One rig's frame in RAM.

    Parameters
    ----------
    shape : ScanShape
        Raster and picture as plain counts.
    transfer_list : TransferList
        The list that the DMA walks for one frame.
    placement : Placement or None
        Where it lies; None when no free blocks are known.
    drawing : DrawingTime or None
        Time to draw; None when clock or processor are not known.
    changes : tuple of FitChange
        Smallest changes that make it fit, when it does not.
    cures : tuple of Cure
        All ways out with bytes and cost, when it does not fit.
    """

    shape: ScanShape
    transfer_list: TransferList
    placement: Placement | None
    drawing: DrawingTime | None
    changes: tuple[FitChange, ...]
    cures: tuple[Cure, ...]


def scan_shape(raster: RasterTiming, image: ImageWindow) -> ScanShape:
    """Counts of one raster and the picture in it.

    Parameters
    ----------
    raster : RasterTiming
        The raster.
    image : ImageWindow
        The picture.

    Returns
    -------
    ScanShape
        Plain counts. [1]
    """
    return ScanShape(
        h_active_px=raster.h.active_px,
        h_front_px=raster.h.front_px,
        h_sync_px=raster.h.sync_px,
        h_back_px=raster.h.back_px,
        v_active_lines=raster.v.active_lines,
        v_front_lines=raster.v.front_lines,
        v_sync_lines=raster.v.sync_lines,
        v_back_lines=raster.v.back_lines,
        picture_px=image.picture_px,
        picture_rows=image.image_rows,
        line_repeat=image.line_repeat,
    )


def judge_memory(
    reading: Reading,
    raster_known: Known[RasterTiming],
    image_known: Known[ImageWindow],
    stream_known: Known[Stream],
    clock: Known[ClockPlan] | None,
    colour_bits: int,
) -> Outcome[MemoryPlan]:
    """Build the transfer list of one rig, place it, and judge it.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    raster_known : Known
        The raster.
    image_known : Known
        The picture in it.
    stream_known : Known
        The stream that sends it.
    clock : Known or None
        The raster as really made.
    colour_bits : int
        Colour bits of a word, for the ways out alone. [1]

    Returns
    -------
    Outcome
        The memory plan, or none when the list cannot be built.
    """
    read = reading.fork()
    shape = scan_shape(read(raster_known), read(image_known))
    stream = read(stream_known)
    words = WordStore(stream.lanes, stream.words_per_read, stream.read_bytes)
    build, fault = list_builder(stream)
    why = fault(shape, words)
    verdicts: list[Verdict] = [judge_alignment(read.fork(), why)]
    chip = read.plan.chip
    transfer = chip.table.transfer if chip else None
    if why is not None or chip is None or transfer is None:
        if transfer is None:
            verdicts.append(_no_rules(read.fork()))
        return Outcome(None, tuple(verdicts))
    rules = _rules(read(chip.known("transfer", transfer)))
    made = build(shape, words, rules)
    placement, changes, room = _place(read.fork(), made, shape, words, rules, verdicts, raster_known.value, stream)
    placed = judge_place(reading.fork())
    verdicts.extend([placed] if placed is not None else [])
    if clock is not None and frame_place(Reading(reading.plan, reading.rig)) == "external":
        rate = reading.fork()
        frame_place(rate)
        found = judge_external_rate(rate, rate(clock).candidate.achieved_hz, rate(stream_known))
        verdicts.extend([found] if found is not None else [])
    drawing = _draw(reading.fork(), raster_known, image_known, shape, clock, verdicts)
    cures: tuple[Cure, ...] = ()
    if placement is not None and not placement.fits:
        cycles = drawing.pixel_cycles if drawing else None
        cures = memory_cures(
            shape, stream, chip.table.stream, transfer, room, placement.keep_back_bytes, colour_bits, cycles, changes,
            placement.used_bytes, build,
        )  # fmt: skip
    return Outcome(MemoryPlan(shape, made, placement, drawing, changes, cures), tuple(verdicts))


def list_builder(stream: Stream) -> tuple[ListBuilder, FaultTeller]:
    """How the list of a stream is built: with blank runs where syncs are bits of the word, else without.

    Parameters
    ----------
    stream : Stream
        The stream.

    Returns
    -------
    tuple
        Builder of the list, and teller of why a raster cannot be cut into read units.
    """
    if stream.sync == "hardware":
        return build_picture_list, picture_fault
    return build_transfer_list, alignment_fault


def _rules(row: Transfer) -> EntryRules:
    """Rules of the chip's transfer entries."""
    return EntryRules(row.entry_bytes, row.longest_run_bytes, row.allocation_bytes)


def _no_rules(read: Reading) -> Verdict:
    """Nothing is known of how the DMA is fed."""
    return read.verdict(
        "memory.blocks", f"rigs.{read.rig_name}.raster", "stop", "How this chip's DMA takes its list of runs is not on record.",
        state="unknown", settle=Settle("Look up entry size and longest run in the chip's manual.", fact="chip.like"),
    )  # fmt: skip


def _place(
    read: Reading,
    made: TransferList,
    shape: ScanShape,
    words: WordStore,
    rules: EntryRules,
    verdicts: list[Verdict],
    raster: RasterTiming,
    stream: Stream,
) -> tuple[Placement | None, tuple[FitChange, ...], tuple[int, ...]]:
    """Place the frame, and judge it and the second one if asked for; the free blocks are handed on."""
    facts = read.plan.dossier.chip
    build, fault = list_builder(stream)
    blocks, state = free_blocks(read)
    if blocks is None or facts is None:
        known = (
            (*(facts.free if facts else ()), *(s.name for s in read.plan.chip.table.state)) if read.plan.chip else ()
        )
        verdicts.append(blocks_unknown(read, state, tuple(dict.fromkeys(known))))
        return None, (), ()
    if facts.keep_back is None:
        keep = read.assume(
            "chip.keep_back", USUAL_KEEP_BACK_BYTES, f"{USUAL_KEEP_BACK_BYTES} B", "usual for a small program"
        )
    else:
        keep = read(facts.keep_back)
    placement = place(made, blocks, keep)
    changes = () if placement.fits else smallest_changes(shape, words, rules, blocks, keep, build=build, fault=fault)
    verdicts.append(judge_blocks(read.fork(), placement, shape.picture_rows, changes, raster))
    if read.rig.frames is not None:
        more = read.fork()
        wanted = more(read.rig.frames)
        verdicts.append(
            judge_second_frame(more, wanted, placement if wanted < 2 else place(made, blocks, keep, wanted))
        )
    return placement, changes, blocks


def _draw(
    read: Reading,
    raster_known: Known[RasterTiming],
    image_known: Known[ImageWindow],
    shape: ScanShape,
    clock: Known[ClockPlan] | None,
    verdicts: list[Verdict],
) -> DrawingTime | None:
    """Time to draw at the rate the clock really makes."""
    read(raster_known)
    read(image_known)
    chip = read.plan.chip
    if clock is None or chip is None or chip.table.chip.processor is None:
        return None
    line_s = 1.0 / float(read(clock).made.line_rate_hz)
    drawing = drawing_time(shape, line_s, float(chip.table.chip.processor))
    verdicts.append(judge_drawing(read, drawing, read.maybe(read.rig.redraw)))
    return drawing
