"""The chain as a whole: from the words of one frame to what each display of a rig shows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from scanloom.basis.arrays import held
from scanloom.handbook.limits import limit
from scanloom.stages.levels.figures import source_ohm
from scanloom.stages.picture.effects import Effects
from scanloom.stages.picture.frame import channel_numbers
from scanloom.stages.picture.front import after_overload, behind_coupling, converter_numbers
from scanloom.stages.picture.model import COLOURS, ChannelPath, ChannelTrace, DisplayPath, FrontEnd, ShownPicture
from scanloom.stages.picture.pins import pin_levels, rail_share, with_shared_return
from scanloom.stages.picture.response import load_of, sampled_response, sampling_phases
from scanloom.stages.picture.sampling import divider_lateness, sample_input, sample_shift

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanloom.stages.lanes import Lane
    from scanloom.stages.timing import RasterTiming

    Volts = NDArray[np.float64]


def show_rig(
    displays: Sequence[DisplayPath],
    words: NDArray[np.uint32],
    lanes: Sequence[Lane],
    raster: RasterTiming,
    effects: Effects,
    front: FrontEnd,
    source_clocks: Fraction | None = None,
) -> tuple[ShownPicture, ...]:
    """What every display of a rig shows of one frame.

    Parameters
    ----------
    displays : sequence of DisplayPath
        The displays.
    words : ndarray of uint32, shape (lines, pixels)
        Words of the frame as they leave the pins, each line from its first active pixel. [1]
    lanes : sequence of Lane
        Every bit of the word.
    raster : RasterTiming
        The raster as really made.
    effects : Effects
        What counts.
    front : FrontEnd
        Knobs that no dossier states.
    source_clocks : Fraction or None
        Source clocks of a pixel where a fractional divider makes it; None for even pixels. [1]

    Returns
    -------
    tuple of ShownPicture
        One a display.
    """
    numbers = {
        (one.name, channel.channel): channel_numbers(words, lanes, one.name, channel.channel)
        for one in displays
        for channel in one.channels
    }
    share = rail_share(displays, numbers, raster, front) if effects.supply_dip else None
    late = divider_lateness(source_clocks, words.size) if effects.wobble and source_clocks is not None else None
    return tuple(
        show_display(
            one, {c.channel: numbers[one.name, c.channel] for c in one.channels}, raster, effects, front, share, late
        )
        for one in displays
    )


def show_display(
    display: DisplayPath,
    numbers: Mapping[str, NDArray[np.uint16]],
    raster: RasterTiming,
    effects: Effects,
    front: FrontEnd,
    rail: Volts | None = None,
    late_px: Volts | None = None,
) -> ShownPicture:
    """What one display shows.

    Parameters
    ----------
    display : DisplayPath
        The display.
    numbers : Mapping
        Numbers of each channel, shape (lines, pixels). [1]
    raster : RasterTiming
        The raster as really made.
    effects : Effects
        What counts.
    front : FrontEnd
        Knobs that no dossier states.
    rail : ndarray of float or None
        Share of the rail in each pixel, from `rail_share`. [1]
    late_px : ndarray of float or None
        Lateness of each pixel, from `divider_lateness`, in pixels. [1]

    Returns
    -------
    ShownPicture
        The active part as the display samples it, and every step on the way.
    """
    sent_v = {c.channel: pin_levels(c, numbers[c.channel], effects, rail) for c in display.channels}
    if effects.shared_return and display.cable is not None and len(display.channels) > 1:
        sent_v = with_shared_return(display, sent_v, effects)
    traces = tuple(
        _trace(display, channel, numbers[channel.channel], sent_v[channel.channel], raster, effects, front, late_px)
        for channel in display.channels
    )
    lines, columns = raster.v.active_lines, raster.h.active_px * raster.divide
    native = np.zeros((lines, columns, 3), dtype=np.uint8)
    for trace in traces:
        native[:, :, COLOURS.index(trace.channel)] = trace.values[:lines, :columns]
    most_v = limit("full-scale").high or 1.0
    over = [np.mean(trace.clamped_v[:lines, :columns] > most_v) for trace in traces]
    clipped = float(np.mean(over)) if over else 0.0
    return ShownPicture(display.name, held(native, native.shape), traces, float(raster.divide), clipped)


def _trace(
    display: DisplayPath,
    channel: ChannelPath,
    numbers: NDArray[np.uint16],
    sent_v: Volts,
    raster: RasterTiming,
    effects: Effects,
    front: FrontEnd,
    late_px: Volts | None,
) -> ChannelTrace:
    """One channel from settled levels to numbers."""
    pixel, which, phases = sampling_phases(front, raster.h.total_px, raster.divide)
    response = sampled_response(channel, display.cable, effects, front, raster.pixel_s, phases)
    samples = pixel.size
    colour = COLOURS.index(channel.channel)
    seed = front.seed * 1000 + sum(display.name.encode()) * 3 + colour
    input_v = sample_input(sent_v, response, pixel, which, sample_shift(effects, front, seed, raster, late_px))
    sample_s = raster.line_s / samples
    clamped_v = input_v
    if effects.coupling:
        parts = front.coupling
        if not effects.diode:
            parts = replace(parts, diode_rail_v=float("inf"))
        load_ohm = load_of(channel, effects)
        seen_ohm = 1.0 / (1.0 / load_ohm + 1.0 / source_ohm(channel.network))
        clamped_v = behind_coupling(
            input_v, sample_s, front.phase, clamp_window(raster, front, samples), seen_ohm, parts
        )
    full_v = full_scale(front)
    amplified_v = clamped_v
    if effects.recovery:
        amplified_v = after_overload(
            clamped_v,
            sample_s,
            front.phase,
            front.recovery_share[colour],
            front.recovery_s,
            front.linear_share * full_v,
        )
    if effects.converter:
        noise = front.noise_lsb if effects.noise else 0.0
        values = converter_numbers(amplified_v, full_v, noise, seed)
    else:
        full_v = channel.level_v()[-1]
        values = converter_numbers(amplified_v, full_v, 0.0, seed)
    return ChannelTrace(channel.channel, numbers, sent_v, input_v, clamped_v, amplified_v, values, full_v)


def full_scale(front: FrontEnd) -> float:
    """Full scale of a display's converter.

    Parameters
    ----------
    front : FrontEnd
        A full scale that somebody set, if so.

    Returns
    -------
    float
        Level that the converter calls 255; without a setting the white that displays are made for. [V]
    """
    return front.converter_v or limit("full-scale").typical or 0.7


def clamp_window(raster: RasterTiming, front: FrontEnd, samples: int) -> tuple[int, int]:
    """Samples of a line under the clamp: from the middle of the back porch on, as long as it lasts.

    Parameters
    ----------
    raster : RasterTiming
        The raster as really made.
    front : FrontEnd
        Time the clamp closes.
    samples : int
        Samples of a line. [1]

    Returns
    -------
    tuple of int
        First sample, and the one after the last. [1]
    """
    h = raster.h
    middle = h.active_px + h.front_px + h.sync_px + h.back_px / 2.0
    begin = int(middle * samples / h.total_px)
    count = max(1, round(front.clamp_s / raster.line_s * samples))
    return begin, min(begin + count, samples)
