"""Every plan that could grant a wish on a chip: parents, divisions, depths, streams and states, ranked."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from scanloom.handbook.chip import Chip, FirmwareState, Stream
from scanloom.handbook.limits import limit
from scanloom.handbook.timings import TimingRow, all_timings
from scanloom.stages.clock import ClockCandidate, enumerate_chains
from scanloom.stages.memory import (
    EntryRules,
    Placement,
    ScanShape,
    TransferList,
    WordStore,
    list_builder,
    place,
    scan_shape,
)
from scanloom.stages.timing import child_raster, exact_divisors, image_window
from scanloom.survey.fit_pins import pins_needed, pins_there
from scanloom.survey.wish import Wish

LIKELY = (
    "640x480@60",
    "800x600@60",
    "1024x768@60",
    "800x600@56",
    "640x480@72",
    "640x480@75",
    "640x400@70",
    "720x400@70",
)
"""Parents that small displays take most readily, the readiest first. Common practice, no source."""

LINE_RATES_HZ = (30_000, 70_000)
"""Line rates that are looked at: below, monitors of the kind refuse; above, small ones do. Common practice, no source. [Hz]"""

KEEP_BACK_BYTES = 24_000
"""Kept back for everything else while nothing is stated. [B]"""

_MOST_REPEAT = 4
_LEAST_PX = 160
_LEAST_ROWS = 100
_NEARLY = 0.5
"""A picture counts as nearly fitting when this share of it would find room. [1]"""
_CHECKS = ("lanes", "pins", "clock", "rate", "current", "memory")


@dataclass(frozen=True, slots=True)
class FitRow:
    """One plan for a wish.

    Parameters
    ----------
    chip : str
        The chip.
    parent : str
        Timing that the displays see.
    divide : int
        Division of the clock. [1]
    repeat : int
        Times each row is sent. [1]
    picture_px : int
        Stored pixels of a row. [1]
    picture_rows : int
        Stored rows. [1]
    stream : str
        The stream.
    depth : tuple of int
        Bits of each channel, one for each group of the wish. [1]
    bytes_used : int
        Bytes of the frame with what is kept back. [B]
    bytes_free : int
        Bytes left, negative when it does not fit. [B]
    word_rate_hz : Fraction
        Words a second, as the clock makes them. [Hz]
    frame_rate_hz : Fraction
        Frames a second. [Hz]
    pins : int
        Pins for colours and syncs. [1]
    current_a : float
        Current of all pins at white. [A]
    state : str
        Firmware state.
    failures : tuple of str
        Checks that fail, in order: lanes, pins, clock, rate, current, memory.
    first_failure : str
        The first of them in words; empty when it fits.
    cure : str
        The smallest change that would mend it; empty when it fits.
    """

    chip: str
    parent: str
    divide: int
    repeat: int
    picture_px: int
    picture_rows: int
    stream: str
    depth: tuple[int, ...]
    bytes_used: int
    bytes_free: int
    word_rate_hz: Fraction
    frame_rate_hz: Fraction
    pins: int
    current_a: float
    state: str
    failures: tuple[str, ...]
    first_failure: str
    cure: str

    @property
    def fits(self) -> bool:
        """Whether nothing fails."""
        return not self.failures


Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, eq=False)
class _Key:
    """A chip as a key: told apart by the record itself, so that two files of one name stay apart."""

    chip: Chip

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Key) and other.chip is self.chip

    def __hash__(self) -> int:
        return id(self.chip)


def propose_fit(wish: Wish, chip: Chip, progress: Progress | None = None) -> tuple[FitRow, ...]:
    """All plans that fit or nearly fit, best first.

    Parameters
    ----------
    wish : Wish
        What is wished.
    chip : Chip
        The chip.
    progress : callable or None
        Told how many parents of how many are done.

    Returns
    -------
    tuple of FitRow
        Plans that fit, by stored pixels, depth and how readily displays take the parent; then those with one failure.
    """
    rows: list[FitRow] = []
    parents = wished_parents()
    for number, parent in enumerate(parents, 1):
        for depth in wished_depths(wish):
            rows.extend(row for row in _of_parent(wish, chip, parent, depth) if len(row.failures) <= 1)
        if progress is not None:
            progress(number, len(parents))
    return tuple(sorted(_best_of_each(rows), key=_rank))


def merged_rows(found: Sequence[Sequence[FitRow]]) -> tuple[FitRow, ...]:
    """Plans of several chips in one order.

    Parameters
    ----------
    found : sequence of sequence of FitRow
        Plans chip by chip.

    Returns
    -------
    tuple of FitRow
        Best first.
    """
    return tuple(sorted((row for rows in found for row in rows), key=_rank))


def wished_parents() -> tuple[TimingRow, ...]:
    """Parents that are looked at: progressive, of a line rate that displays of the kind take, each raster once.

    Returns
    -------
    tuple of TimingRow
        In the order of the handbook.
    """
    kept: dict[tuple[object, ...], TimingRow] = {}
    for row in all_timings():
        if row.interlaced or not LINE_RATES_HZ[0] <= row.line_rate_hz <= LINE_RATES_HZ[1] or row.reduced_blanking:
            continue
        kept.setdefault((row.pixel_clock_hz, row.active_px, row.active_lines, row.h_total_px, row.v_total_lines), row)
    return tuple(kept.values())


def wished_depths(wish: Wish) -> tuple[tuple[int, ...], ...]:
    """Depths that are looked at: as wished, or 1 to 3 bits a channel alike, or more for colour than for the rest.

    Parameters
    ----------
    wish : Wish
        What is wished.

    Returns
    -------
    tuple of tuple of int
        Bits of each group. [1]
    """
    made: list[tuple[int, ...]] = []
    for colour_bits in (1, 2, 3):
        for other_bits in {1, colour_bits}:
            bits = tuple(
                g.bits if g.bits is not None else colour_bits if g.colour == "colour" else other_bits
                for g in wish.groups
            )
            made.append(bits)
    return tuple(dict.fromkeys(made))


def _of_parent(wish: Wish, chip: Chip, parent: TimingRow, depth: tuple[int, ...]) -> Iterator[FitRow]:
    """Plans with one parent and depth."""
    colour_lanes = sum(g.count * len(g.channels) * b for g, b in zip(wish.groups, depth, strict=True))
    for divide in exact_divisors(parent):
        raster = child_raster(parent, divide)
        if raster.h.active_px < _LEAST_PX or divide > 8:
            continue
        for stream in fitting_streams(chip, colour_lanes):
            made = best_clock(chip, stream.name, raster.pixel_clock_hz, raster.h.total_px)
            if made is None:
                continue
            for repeat in range(1, _MOST_REPEAT + 1):
                if raster.v.active_lines % repeat or raster.v.active_lines // repeat < _LEAST_ROWS:
                    continue
                shape = scan_shape(raster, image_window(raster, None, repeat))
                for state in chip.table.state:
                    yield from _judged(wish, chip, parent, divide, shape, stream, made, state, depth, colour_lanes)


def fitting_streams(chip: Chip, colour_lanes: int) -> tuple[Stream, ...]:
    """Streams worth a look: of each kind of sync the narrowest that holds the word, and where none does the widest.

    Parameters
    ----------
    chip : Chip
        The chip.
    colour_lanes : int
        Lanes for colours. [1]

    Returns
    -------
    tuple of Stream
        In the order of the record.
    """
    kept: dict[tuple[object, ...], Stream] = {}
    for stream in sorted(chip.table.stream, key=lambda s: s.lanes):
        routing = chip.routing_of(stream.name)
        kind = (stream.sync, stream.table is None, routing.rule if routing else "", routing.pins if routing else None)
        enough = stream.lanes >= colour_lanes + (2 if stream.sync == "word" else 0)
        old = kept.get(kind)
        if old is None or old.lanes < colour_lanes + (2 if old.sync == "word" else 0):
            if enough or old is None or stream.lanes > old.lanes:
                kept[kind] = stream
    return tuple(kept.values())


def best_clock(chip: Chip, stream: str, target_hz: Fraction, h_total_px: int) -> ClockCandidate | None:
    """Best pixel rate of a stream, remembered by the chains that serve it.

    Parameters
    ----------
    chip : Chip
        The chip.
    stream : str
        The stream.
    target_hz : Fraction
        Rate of the raster. [Hz]
    h_total_px : int
        Pixels of a whole line. [1]

    Returns
    -------
    ClockCandidate or None
        None when the chip's clocks are not on record.
    """
    numbers = tuple(n for n, c in enumerate(chip.table.clock) if not c.streams or stream in c.streams)
    return _best_clock(_Key(chip), numbers, target_hz, h_total_px)


@lru_cache(maxsize=4096)
def _best_clock(key: _Key, numbers: tuple[int, ...], target_hz: Fraction, h_total_px: int) -> ClockCandidate | None:
    """Best pixel rate of some chains of a chip."""
    chains = tuple(key.chip.table.clock[n] for n in numbers)
    for whole_only in (True, False):
        found = enumerate_chains(chains, target_hz, h_total_px=h_total_px, whole_only=whole_only, limit=1)
        if found and (found[0].within or not whole_only):
            return found[0]
    return None


def _judged(
    wish: Wish,
    chip: Chip,
    parent: TimingRow,
    divide: int,
    shape: ScanShape,
    stream: Stream,
    made: ClockCandidate,
    state: FirmwareState,
    depth: tuple[int, ...],
    colour_lanes: int,
) -> Iterator[FitRow]:
    """One plan, and the same with a lower picture when only memory fails."""
    lanes = colour_lanes + (2 if stream.sync == "word" else 0)
    needed = pins_needed(wish, depth)
    there = _pins(_Key(chip), stream.name)
    failures: dict[str, tuple[str, str]] = {}
    if lanes > stream.lanes or (stream.table is not None and 1 << colour_lanes > stream.table):
        failures["lanes"] = (f"{lanes} lanes, {stream.name} has fewer", "give up a bit or a display")
    if there < needed:
        failures["pins"] = (f"{needed} pins, {there} of the chip will do", "give up a bit or a display")
    wobble = limit("clock-wobble").high or 0.0
    if not made.within or float(made.wobble_px) > wobble:
        words = f"{made.ppm:+.0f} ppm off" if not made.within else f"{float(made.wobble_px):.2f} pixels of wobble"
        failures["clock"] = (f"pixel clock {words}", "take another parent")
    if made.achieved_hz > Fraction(stream.planned):
        failures["rate"] = ("words come faster than planned for the stream", "twice the divide")
    current = _current(wish, chip, depth)
    most = next((float(c.amount) for c in chip.table.current if c.over == "all pins" and c.pins is None), None)
    if most is None or current > most:
        failures["current"] = (
            f"{current * 1e3:.0f} mA at white"
            + (f", {most * 1e3:.0f} mA is the chip's total" if most else ", the total is unknown"),
            "a buffer for each display",
        )
    if len(failures) > 1:
        return
    frame_rate = made.achieved_hz / (shape.h_total_px * shape.v_total_lines)
    row = FitRow(
        chip.name, parent.name, divide, shape.line_repeat, shape.picture_px, shape.picture_rows, stream.name, depth, 0, 0,
        made.achieved_hz, frame_rate, needed, current, state.name, (), "", "",
    )  # fmt: skip
    if _NEARLY * shape.picture_px * shape.picture_rows * stream.word_bytes > sum(state.free):
        return  # not even half of it would find room
    heights = _heights(chip, shape, stream, state) if parent.name in LIKELY else iter((shape.picture_rows,))
    for rows in heights:
        lower = replace(shape, picture_rows=rows)
        placed = placed_frame(chip, lower, stream, state)
        own = dict(failures)
        if placed is None:
            own["memory"] = ("a line is no whole number of reads", "take another stream or parent")
        elif not placed.fits:
            missing = placed.lines_missing
            own["memory"] = (
                f"{missing} of {rows} rows find no room",
                f"a picture of {max(rows - missing, 0)} rows, or each row twice",
            )
        ordered = tuple(check for check in _CHECKS if check in own)
        first = own[ordered[0]] if ordered else ("", "")
        yield replace(
            row,
            picture_rows=rows,
            bytes_used=placed.used_bytes if placed else 0,
            bytes_free=sum(state.free) - (placed.used_bytes if placed else 0),
            failures=ordered,
            first_failure=f"{ordered[0]}: {first[0]}" if ordered else "",
            cure=first[1],
        )


def _heights(chip: Chip, shape: ScanShape, stream: Stream, state: FirmwareState) -> Iterator[int]:
    """Picture heights worth a look: all rows; when they do not fit, the tallest multiple of 8 that does, down to half."""
    yield shape.picture_rows
    whole = placed_frame(chip, shape, stream, state)
    if whole is None or whole.fits:
        return
    rows = (shape.picture_rows - whole.lines_missing) // 8 * 8
    while rows >= max(_LEAST_ROWS, shape.picture_rows // 2):
        placed = placed_frame(chip, replace(shape, picture_rows=rows), stream, state)
        if placed is not None and placed.fits:
            yield rows
            return
        rows -= 8


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
    return _placed(_Key(chip), shape, stream.name, state.name)


@lru_cache(maxsize=65_536)
def _placed(key: _Key, shape: ScanShape, stream_name: str, state_name: str) -> Placement | None:
    """Where a frame lies, remembered: depths share shapes."""
    table = key.chip.table
    rules = table.transfer
    if rules is None:
        return None
    stream = next(s for s in table.stream if s.name == stream_name)
    state = next(s for s in table.state if s.name == state_name)
    entry_rules = EntryRules(rules.entry_bytes, rules.longest_run_bytes, rules.allocation_bytes)
    made = _listed(shape, stream, entry_rules)
    return None if made is None else place(made, state.free, KEEP_BACK_BYTES, count_frames=False)


@lru_cache(maxsize=256)
def _pins(key: _Key, stream_name: str) -> int:
    """Pins of a stream that will do, remembered."""
    return pins_there(key.chip, next(s for s in key.chip.table.stream if s.name == stream_name))


@lru_cache(maxsize=512)
def _listed(shape: ScanShape, stream: Stream, rules: EntryRules) -> TransferList | None:
    """Transfer list of a shape, or none where a line is no whole number of reads."""
    words = WordStore(stream.lanes, stream.words_per_read, stream.read_bytes)
    build, fault = list_builder(stream)
    return None if fault(shape, words) is not None else build(shape, words, rules)


def _current(wish: Wish, chip: Chip, depth: tuple[int, ...]) -> float:
    """Current of all pins at white: 0.700 V into 75 ohm a channel whatever its depth, and the chip's own pins."""
    white, load = limit("white").typical or 0.0, limit("termination").typical or 1.0
    channels = sum(g.count * g.pins_each for g in wish.groups)
    own = chip.table.own_pins.amount.typical if chip.table.own_pins else 0.0
    return channels * white / load + own


def _best_of_each(rows: list[FitRow]) -> list[FitRow]:
    """Of plans that differ in what failed alone, the whole picture; plans that fit all stay."""
    kept: dict[tuple[object, ...], FitRow] = {}
    for row in rows:
        key = (
            row.parent,
            row.divide,
            row.repeat,
            row.stream,
            row.depth,
            row.state,
            row.picture_rows if row.fits else 0,
        )
        if key not in kept:
            kept[key] = row
    return list(kept.values())


def _rank(row: FitRow) -> tuple[object, ...]:
    """Order of plans: what fits; parents that displays take; whole pictures; square pixels; then size, depth and room."""
    likely = LIKELY.index(row.parent) if row.parent in LIKELY else len(LIKELY)
    parent_lines = int(row.parent.split("x")[1].split("@")[0])
    cut = row.picture_rows * row.repeat < parent_lines
    pixels = row.picture_px * row.picture_rows
    stretch = max(row.divide, row.repeat) / min(row.divide, row.repeat)
    depth = tuple(-bits for bits in row.depth)
    room = (-row.bytes_free, row.parent, row.divide, row.repeat, row.stream, row.state, row.chip)
    return (len(row.failures), likely > 2, cut, stretch > 1, -pixels, stretch, depth, likely, *room)
