"""Random rigs for the picture chain: chips, streams, depths, lane maps, rasters with borders, repeats and divides."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import lcm
from typing import Any

import numpy as np
from hypothesis import strategies as st

from scanloom.basis.span import Span
from scanloom.handbook.chip import Stream
from scanloom.handbook.chips import chip, chip_names
from scanloom.stages.lanes import Lane
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.memory import EntryRules, ScanShape, SyncBits, TransferList, WordStore, list_builder
from scanloom.stages.picture.model import COLOURS, ChannelPath, DisplayPath, InputCable
from scanloom.stages.timing import FrameTiming, LineTiming, RasterTiming

STREAMS = [
    row for name in chip_names() for row in chip(name).table.stream if row.lanes >= (3 if row.sync == "word" else 1)
]


@dataclass(frozen=True)
class RandomRig:
    """Everything a frame passes through."""

    stream: Stream
    lanes: tuple[Lane, ...]
    shape: ScanShape
    raster: RasterTiming
    made: TransferList
    syncs: SyncBits
    displays: tuple[DisplayPath, ...]
    numbers: dict[tuple[str, str], Any]


def channel_network(bits: int, high_ohm: float = 30.0, low_ohm: float = 22.0, part_ohm: float = 240.0) -> OutputNetwork:
    """One part, or weighted parts."""
    exact = Span.exact
    parts = (exact(part_ohm),) if bits == 1 else tuple(exact(510.0 * 2.0**leg) for leg in range(bits))
    style = "series" if bits == 1 else "weighted"
    return OutputNetwork(style, parts, exact(high_ohm), exact(low_ohm), exact(3.3), exact(75.0))  # type: ignore[arg-type]


def raster_of(
    shape: ScanShape, polarities: str, divide: int, clock_hz: Fraction = Fraction(25_175_000)
) -> RasterTiming:
    """Raster with the figures of a shape."""
    line = LineTiming(
        shape.h_active_px, shape.h_front_px, shape.h_sync_px, shape.h_back_px, shape.h_total_px, polarities[0]
    )  # type: ignore[arg-type]
    frame = FrameTiming(
        shape.v_active_lines,
        shape.v_front_lines,
        shape.v_sync_lines,
        shape.v_back_lines,
        shape.v_total_lines,
        polarities[1],
    )  # type: ignore[arg-type]
    line_hz = clock_hz / shape.h_total_px
    return RasterTiming(
        "random", "random", divide, line, frame, clock_hz, line_hz, line_hz / shape.v_total_lines, False
    )


@st.composite
def random_rigs(draw: Any) -> RandomRig:
    """Small rigs whose frames take milliseconds."""
    stream: Stream = draw(st.sampled_from(STREAMS))
    sync_lanes = 2 if stream.sync == "word" else 0
    room = min(stream.lanes - sync_lanes, 14)
    wanted: list[tuple[str, str, int]] = []
    for number in range(draw(st.integers(1, 4))):
        kinds = draw(st.sampled_from([("green",), ("white",), COLOURS, ("red", "blue")]))
        bits = draw(st.integers(1, 3))
        if sum(b for *_, b in wanted) + bits * len(kinds) <= room:
            wanted += [(f"d{number}", kind, bits) for kind in kinds]
    if not wanted:
        wanted = [("d0", "green", 1)]
    carried = [(name, kind, bit) for name, kind, bits in wanted for bit in range(bits)]
    carried += [("", "h", 0), ("", "v", 0)][:sync_lanes]
    carried += [("", "spare", 0)] * (stream.lanes - len(carried))
    order = draw(st.permutations(range(stream.lanes)))
    lanes = tuple(Lane(bit, carried[at][1], carried[at][0], carried[at][2]) for bit, at in enumerate(order))  # type: ignore[arg-type]

    unit = stream.words_per_read
    picture_px = unit * draw(st.integers(1, max(1, 24 // unit)))
    border = draw(st.integers(0, 5))
    front, sync, back = draw(st.integers(0, 6)), draw(st.integers(1, 6)), draw(st.integers(2, 9))
    blank = border + front + sync + back
    # sync and blanking together must leave the sync pulse the rarer state, as every raster does
    back += (-blank) % lcm(unit, 1) + unit * draw(st.integers(1, 2))
    rows, repeat = draw(st.integers(1, 6)), draw(st.integers(1, 3))
    extra = draw(st.integers(0, 5))
    shape = ScanShape(
        picture_px + border, front, sync, back, rows * repeat + extra, draw(st.integers(0, 2)), 1,
        draw(st.integers(1, 3)), picture_px, rows, repeat,
    )  # fmt: skip
    polarities = draw(st.sampled_from(["++", "+-", "-+", "--"]))
    raster = raster_of(shape, polarities, draw(st.integers(1, 3)))
    build, fault = list_builder(stream)
    words = WordStore(stream.lanes, stream.words_per_read, stream.read_bytes)
    assert fault(shape, words) is None
    made = build(shape, words, EntryRules(12, draw(st.sampled_from([8, 64, 4092])) * unit * stream.read_bytes, 8))
    masks = [sum(1 << lane.bit for lane in lanes if lane.carries == kind) for kind in ("h", "v")]
    cable = InputCable(75.0, 0.66, 0.065, 0.24, 0.02, draw(st.floats(0.0, 30.0)))
    displays = tuple(
        DisplayPath(
            name,
            tuple(
                ChannelPath(name, colour, channel_network(bits))
                for n, kind, bits in wanted
                if n == name
                for colour in (COLOURS if kind == "white" else (kind,))
            ),
            cable,
        )
        for name in dict.fromkeys(n for n, *_ in wanted)
    )
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    most = 1 << 16 if stream.table is None else stream.table - 1
    numbers = {
        (name, kind): rng.integers(0, 1 << bits, (rows, picture_px)).astype(np.uint16) for name, kind, bits in wanted
    }
    if rows * picture_px > most:
        numbers = {key: np.minimum(value, 1) for key, value in numbers.items()}
    return RandomRig(stream, lanes, shape, raster, made, SyncBits(masks[0], masks[1], *polarities), displays, numbers)
