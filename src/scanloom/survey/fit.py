"""Every plan that could grant a wish on a chip: parents, divisions, depths, streams and states, ranked."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from scanloom.basis.record import record
from scanloom.handbook.chip import Chip, FirmwareState, Stream
from scanloom.handbook.limits import limit
from scanloom.handbook.timing_ways import READIEST
from scanloom.handbook.timings import TimingRow, all_timings
from scanloom.stages.clock import WITHIN_PPM, ClockCandidate
from scanloom.stages.memory import USUAL_KEEP_BACK_BYTES, ScanShape, scan_shape
from scanloom.stages.timing import RasterTiming, child_raster, exact_divisors, image_window
from scanloom.survey.fit_frame import LEAST_ROWS, heights_of, memory_fault, placed_frame
from scanloom.survey.fit_pins import pins_needed, pins_there
from scanloom.survey.fit_streams import ChipKey, best_clock, fitting_streams
from scanloom.survey.wish import Wish

LINE_RATES_HZ = (30_000, 70_000)
"""Line rates that are looked at: below, monitors of the kind refuse; above, small ones do. Common practice, no source. [Hz]"""

_MOST_DIVIDE = 8
_MOST_REPEAT = 4
_LEAST_PX = 160
_NEARLY = 0.5
"""A picture counts as nearly fitting when this share of it would find room. [1]"""
_TOO_FAST = Fraction(1_000_000, 1_000_000 - WITHIN_PPM)
"""Of two rates within the limit of error of one another, the higher by the lower at most. [1]"""


@record
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
        The check that fails: lanes, pins, current, clock, rate or memory; none when it fits.
    first_failure : str
        The same in words; empty when it fits.
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
            rows.extend(_of_parent(wish, chip, parent, depth))
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
    """Plans with one parent and depth that fail in one way at most."""
    colour_lanes = sum(g.count * len(g.channels) * b for g, b in zip(wish.groups, depth, strict=True))
    needed, current_a = pins_needed(wish, depth), _current(wish, chip, depth)
    for child in _children(parent):
        raster = child.raster
        for stream in fitting_streams(chip, colour_lanes, raster.h.active_px, raster.h.total_px):
            failures = _wired(wish, chip, stream, colour_lanes, needed, current_a)
            if len(failures) > 1 or (failures and raster.pixel_clock_hz > Fraction(stream.planned) * _TOO_FAST):
                continue  # in the second case no clock is both near enough and slow enough
            made = best_clock(chip, stream.name, raster.pixel_clock_hz, raster.h.total_px)
            if made is None:
                continue
            failures |= _clocked(chip, stream, parent, child.divide, made)
            if len(failures) > 1:
                continue
            row = FitRow(
                chip.name, parent.name, child.divide, 1, raster.h.active_px, 0, stream.name, depth, 0, 0, made.achieved_hz,
                made.achieved_hz / (raster.h.total_px * raster.v.total_lines), needed, current_a, "", (), "", "",
            )  # fmt: skip
            for shape in child.shapes:
                for state in chip.table.state:
                    named = replace(row, repeat=shape.line_repeat, state=state.name)
                    yield from _placed(chip, named, shape, stream, state, failures)


@record
class _Child:
    """A parent divided, and its whole pictures, row by row sent once or more."""

    divide: int
    raster: RasterTiming
    shapes: tuple[ScanShape, ...]


@lru_cache(maxsize=128)
def _children(parent: TimingRow) -> tuple[_Child, ...]:
    """Divides of a parent that leave pixels enough, with repeats that leave rows enough."""
    made: list[_Child] = []
    for divide in exact_divisors(parent):
        if divide > _MOST_DIVIDE or parent.active_px // divide < _LEAST_PX:
            continue
        raster, lines = child_raster(parent, divide), parent.active_lines
        repeats = [n for n in range(1, _MOST_REPEAT + 1) if lines % n == 0 and lines // n >= LEAST_ROWS]
        shapes = tuple(scan_shape(raster, image_window(raster, None, repeat)) for repeat in repeats)
        made.append(_Child(divide, raster, shapes))
    return tuple(made)


def _wired(
    wish: Wish, chip: Chip, stream: Stream, colour_lanes: int, needed: int, current_a: float
) -> dict[str, tuple[str, str]]:
    """What fails of lanes, pins and current, each with its cure."""
    lanes = colour_lanes + (2 if stream.sync == "word" else 0)
    failures: dict[str, tuple[str, str]] = {}
    if lanes > stream.lanes:
        failures["lanes"] = (
            f"{lanes} lanes, {stream.name} has fewer",
            f"{_less(lanes - stream.lanes, 'lane')}: fewer bits or displays",
        )
    elif stream.table is not None and 1 << colour_lanes > stream.table:
        failures["lanes"] = (f"{colour_lanes} bits are more than {stream.table} colours", "fewer bits or displays")
    elif any(g.colour == "white" for g in wish.groups) and not _fans_out(chip, stream):
        failures["lanes"] = ("white is one lane on three pins, a lane here reaches one", "wish for colour in its place")
    there = _pins(ChipKey(chip), stream.name)
    if there < needed:
        failures["pins"] = (
            f"{needed} pins, {there} of the chip will do",
            f"{_less(needed - there, 'pin')}: fewer bits or displays",
        )
    most = next((float(c.amount) for c in chip.table.current if c.over == "all pins" and c.pins is None), None)
    if most is None or current_a > most:
        total = f"{most * 1e3:.0f} mA is the chip's total" if most else "the total is unknown"
        failures["current"] = (f"{current_a * 1e3:.0f} mA at white, {total}", "a buffer for each display")
    return failures


def _clocked(
    chip: Chip, stream: Stream, parent: TimingRow, divide: int, made: ClockCandidate
) -> dict[str, tuple[str, str]]:
    """What fails of clock and word rate, each with its cure."""
    failures: dict[str, tuple[str, str]] = {}
    wobble = limit("clock-wobble").high or 0.0
    if not made.within or float(made.wobble_px) > wobble:
        words = f"{made.ppm:+.0f} ppm off" if not made.within else f"{float(made.wobble_px):.2f} pixels of wobble"
        failures["clock"] = (f"pixel clock {words}", "take another parent")
    if made.achieved_hz > Fraction(stream.planned):
        slower = _slower(ChipKey(chip), stream.name, Fraction(stream.planned), parent, divide)
        failures["rate"] = ("words come faster than planned for the stream", slower)
    return failures


def _placed(
    chip: Chip,
    row: FitRow,
    shape: ScanShape,
    stream: Stream,
    state: FirmwareState,
    failures: Mapping[str, tuple[str, str]],
) -> Iterator[FitRow]:
    """One plan in RAM, and the same with a lower picture when only memory fails."""
    stored, free = shape.picture_px * shape.picture_rows * stream.word_bytes, sum(state.free)
    if _NEARLY * stored > free:
        return  # not even half of it would find room
    if failures and stored + USUAL_KEEP_BACK_BYTES > free and row.parent not in READIEST:
        return  # memory is a second failure, and no lower picture is tried
    heights = heights_of(chip, shape, stream, state) if row.parent in READIEST else iter((shape.picture_rows,))
    for rows in heights:
        lower = replace(shape, picture_rows=rows)
        placed = placed_frame(chip, lower, stream, state)
        fault = None if placed is not None and placed.fits else memory_fault(chip, lower, stream, state, placed)
        if fault is not None and failures:
            continue
        own = dict(failures) if fault is None else {"memory": fault}
        check, (first, cure) = next(iter(own.items()), ("", ("", "")))
        yield replace(
            row,
            picture_rows=rows,
            bytes_used=placed.used_bytes if placed else 0,
            bytes_free=free - (placed.used_bytes if placed else 0),
            failures=tuple(own),
            first_failure=f"{check}: {first}" if check else "",
            cure=cure,
        )


def _less(count: int, noun: str) -> str:
    """So many fewer."""
    return f"{count} {noun}{'' if count == 1 else 's'} less"


@lru_cache(maxsize=4096)
def _slower(key: ChipKey, stream: str, planned_hz: Fraction, parent: TimingRow, divide: int) -> str:
    """The next divide at which a stream is quick enough, or another parent."""
    for child in _children(parent):
        if child.divide > divide:
            made = best_clock(key.chip, stream, child.raster.pixel_clock_hz, child.raster.h.total_px)
            if made is not None and made.achieved_hz <= planned_hz:
                return f"divide by {child.divide}"
    return "take another parent"


def _fans_out(chip: Chip, stream: Stream) -> bool:
    """Whether one lane of a stream may feed several pins."""
    routing = chip.routing_of(stream.name)
    return routing is not None and routing.fan_out


@lru_cache(maxsize=256)
def _pins(key: ChipKey, stream_name: str) -> int:
    """Pins of a stream that will do, remembered."""
    return pins_there(key.chip, next(s for s in key.chip.table.stream if s.name == stream_name))


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
    """Order of plans: what fits; parents that displays take; whole pictures; square pixels; then size, depth and room.

    The three readiest parents count as one and come before all others; after depth, the readier parent comes first.
    Of pixels that are not square, those that are less long for their size come first.
    """
    likely = READIEST.index(row.parent) if row.parent in READIEST else len(READIEST)
    parent_lines = int(row.parent.split("x")[1].split("@")[0])
    cut = row.picture_rows * row.repeat < parent_lines
    pixels = row.picture_px * row.picture_rows
    stretch = max(row.divide, row.repeat) / min(row.divide, row.repeat)
    depth = tuple(-bits for bits in row.depth)
    room = (-row.bytes_free, row.parent, row.divide, row.repeat, row.stream, row.state, row.chip)
    return (len(row.failures), likely > 2, cut, stretch > 1, -pixels, stretch, depth, likely, *room)
