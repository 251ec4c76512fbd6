"""What each stage found for a rig, in one line."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from scanloom.basis.span import Span
from scanloom.basis.verdict import Amount
from scanloom.report.figures import amount, figure
from scanloom.survey import RigSurvey

WAITS = "waits"


def stage_lines(rig: RigSurvey) -> Iterator[tuple[str, str]]:
    """Stages of one rig with a line each.

    Parameters
    ----------
    rig : RigSurvey
        The rig.

    Yields
    ------
    tuple of str
        Name of the stage, and what it found.
    """
    yield "timing", _timing(rig)
    yield "clock", _clock(rig)
    yield "screens", _screens(rig)
    yield "lanes", _lanes(rig)
    yield "memory", _memory(rig)
    yield "levels", _levels(rig)
    yield "waking", _waking(rig)
    yield "picture", _picture(rig)


def _timing(rig: RigSurvey) -> str:
    """Parent, division and picture."""
    if rig.timing is None:
        return WAITS
    raster = rig.timing.raster.value
    words = f"{raster.parent}, clock / {raster.divide}, {raster.h.total_px} x {raster.v.total_lines} in all"
    if rig.timing.image is None:
        return words
    image = rig.timing.image.value
    border = max(image.left_px, image.right_px, image.top_lines, image.bottom_lines)
    return f"{words}; picture {image.picture_px}x{image.image_rows}, each row {times(image.line_repeat)}" + (
        ", with border" if border else ""
    )


def _clock(rig: RigSurvey) -> str:
    """Rate and recipe."""
    if rig.clock is None:
        return WAITS
    best = rig.clock.value.candidate
    ppm = float((best.achieved_hz / rig.clock.value.target_hz - 1) * 1_000_000)
    return f"{figure(float(best.achieved_hz), 'Hz')} ({ppm:+.1f} ppm) = {best.recipe}"


def _screens(rig: RigSurvey) -> str:
    """Rates and how sure the displays are."""
    if rig.screens is None:
        return WAITS
    counts = Counter(a.status for a in rig.screens.answers)
    said = ", ".join(f"{n} {status}" for status, n in counts.items())
    return f"{figure(float(rig.screens.line_rate_hz), 'Hz')}, {float(rig.screens.frame_rate_hz):.3f} Hz: {said or 'no display'}"


def _lanes(rig: RigSurvey) -> str:
    """Lanes used."""
    if rig.lanes is None:
        return WAITS
    return f"{rig.lanes.used_lanes} of {len(rig.lanes.lanes)} lanes used, {len(rig.lanes.channels)} colour channels on pins"


def _memory(rig: RigSurvey) -> str:
    """Bytes and time to draw."""
    if rig.memory is None:
        return WAITS
    entries = len(rig.memory.transfer_list.entries)
    placed = rig.memory.placement
    words = f"{entries} transfer entries"
    if placed is not None:
        words = (
            f"{placed.used_bytes} B used with {placed.keep_back_bytes} B kept back, {placed.free_bytes} B free, {words}"
        )
    draw = rig.memory.drawing
    if draw is not None:
        words += f"; to draw {figure(draw.blank_window_s, 's')} in blank lines, {figure(draw.behind_beam_s, 's')} behind the beam"
    return words


def _levels(rig: RigSurvey) -> str:
    """White over all channels, currents."""
    if rig.levels is None:
        return WAITS
    plan = rig.levels
    words: list[str] = []
    if plan.channels:
        low, high = min(c.white_v.low for c in plan.channels), max(c.white_v.high for c in plan.channels)
        words.append(f"white {low:.3f} to {high:.3f} V")
    for one in plan.buffers:
        words.append(f"{_number(one.packages, 'package')} of {one.family} for {one.outputs} colour outputs")
    if plan.pins_a is not None:
        words.append(f"pins {_current(plan.pins_a)}")
    if plan.inlet_a is not None:
        words.append(f"inlet {_current(plan.inlet_a.value)} at white")
    return ", ".join(words) or "nothing known"


def _waking(rig: RigSurvey) -> str:
    """Boot pins, back-feeding and the current at the start."""
    if rig.waking is None:
        return WAITS
    plan = rig.waking
    words = [
        f"boot pin {b.start_pin} at {amount(Amount.found(b.worst_v, 'V'))}" for b in plan.boots if b.worst_v is not None
    ]
    fed = max(plan.back_feeds, key=lambda f: f.fed_a.high, default=None)
    if fed is not None and fed.fed_a.high > 0.0:
        words.append(f"{_current(fed.fed_a)} through a sync into the dead board")
    if plan.glitches:
        many = len(plan.glitches) > 1
        words.append(
            f"{_number(len(plan.glitches), 'pin')} move{'' if many else 's'} by {'themselves' if many else 'itself'} at the start"
        )
    if plan.start_a is not None:
        words.append(f"inlet {_current(plan.start_a)} at the start")
    if rig.levels is not None and rig.levels.channels:
        words.append("colour pins are inputs, held black by the displays, until the program runs")
    return ", ".join(words) or "nothing known"


def _picture(rig: RigSurvey) -> str:
    """Which displays lock, and the brightest white."""
    if rig.picture is None:
        return WAITS
    shown = rig.picture.displays
    words = [
        f"{len(names)} {word}"
        for lock, word in ((True, "locked"), (False, "refused"), (None, "unsure"))
        if (names := [d for d in shown if d.locks is lock])
    ]
    whites = [d.white_v for d in shown if d.white_v is not None]
    if whites:
        words.append(f"white up to {max(w.high for w in whites):.3f} V at the inputs")
    return ", ".join(words) or "no display"


def _number(count: int, noun: str) -> str:
    """So many of a thing."""
    return f"{count} {noun}{'' if count == 1 else 's'}"


def _current(span: Span) -> str:
    """A current with its bounds."""
    return amount(Amount.found(span, "A"))


def times(count: int) -> str:
    """How often something is sent, in words.

    Parameters
    ----------
    count : int
        How often. [1]

    Returns
    -------
    str
        ``once``, ``twice`` or a number of times.
    """
    return {1: "once", 2: "twice"}.get(count, f"{count} times")
