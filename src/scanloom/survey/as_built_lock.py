"""Whether a display follows the syncs as the board's files join them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from scanloom.basis.span import Span
from scanloom.stages.clock import ClockPlan
from scanloom.stages.lanes import Lane
from scanloom.stages.picture.lock import sync_faults
from scanloom.stages.picture.syncs import seen_syncs
from scanloom.survey.as_built_model import BuiltLock

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanloom.stages.timing import RasterTiming

DARK = "a dark screen or a message"


def built_lock(
    pins: tuple[int, int],
    fed: tuple[tuple[int, ...], tuple[int, ...]],
    words: NDArray[np.uint32] | None,
    lanes: Sequence[Lane],
    clock: ClockPlan,
    accepted: Span | None,
) -> BuiltLock:
    """What a display makes of its two sync pins.

    Parameters
    ----------
    pins : tuple of int
        Chip pins of horizontal and vertical sync. [1]
    fed : tuple of tuple of int
        Chip pins that drive the connector's two. [1]
    words : ndarray of uint32 or None
        Words of the frame as they leave the pins; None where counters make the syncs, and the raster tells them. [1]
    lanes : sequence of Lane
        Every bit of the word.
    clock : ClockPlan
        Clock of the rig.
    accepted : Span or None
        Line rates that the display takes; None when not known. [Hz]

    Returns
    -------
    BuiltLock
        The outcome.
    """
    made = clock.made
    exchanged = fed == ((pins[1],), (pins[0],))
    dead = tuple(axis for axis, some in zip("hv", fed, strict=True) if not some)
    if dead:
        return BuiltLock(False, False, dead, None, f"it would show {DARK}")
    if any(len(some) > 1 for some in fed):
        return BuiltLock(None, False, (), None, "two pins of the chip drive one sync against each other")
    if words is None:
        words, masks = _sync_words(made), {pins[0]: 1, pins[1]: 2}
    else:
        masks = {pin: 1 << lane.bit for lane in lanes for pin in lane.pins}
    h_mask, v_mask = masks.get(fed[0][0], 0), masks.get(fed[1][0], 0)
    try:
        seen = seen_syncs(words, h_mask, v_mask)
    except ValueError as error:
        return BuiltLock(False, exchanged, (), None, f"{str(error).partition(';')[0]}; it would show {DARK}")
    lines_hz = float(made.line_rate_hz) * made.h.total_px / seen.line_px
    changed = None if seen.line_px == made.h.total_px else lines_hz
    if accepted is not None and not accepted.low <= lines_hz <= accepted.high:
        return BuiltLock(False, exchanged, (), changed, f"it would show {DARK}")
    faults = sync_faults(seen, made, clock.candidate.wobble_px)
    failing = [fault for fault in faults if fault.state == "fails"]
    first = next(iter([*failing, *faults]), None)
    state = False if failing else None if faults else True
    return BuiltLock(
        state, exchanged, (), changed, "" if first is None else f"{first.reason}; it would show {first.shows}"
    )


def _sync_words(raster: RasterTiming) -> NDArray[np.uint32]:
    """A raster's own syncs: bit 0 the horizontal, bit 1 the vertical one."""
    h, v = raster.h, raster.v
    columns, lines = np.arange(h.total_px), np.arange(v.total_lines)
    begin_px, begin_line = h.active_px + h.front_px, v.active_lines + v.front_lines
    level = (columns >= begin_px) & (columns < begin_px + h.sync_px)
    frame = (lines >= begin_line) & (lines < begin_line + v.sync_lines)
    high = (level if h.polarity == "+" else ~level)[None, :], (frame if v.polarity == "+" else ~frame)[:, None]
    return np.asarray(high[0].astype(np.uint32) | (high[1].astype(np.uint32) << 1), dtype=np.uint32)
