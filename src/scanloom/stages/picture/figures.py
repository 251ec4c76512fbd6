"""What the eye notices of one display, in numbers: contrast of fine detail, ghosts, what an overload leaves behind."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from scanloom.basis.record import record
from scanloom.circuit.pixel import PathFigures, path_figures
from scanloom.circuit.signal_path import SignalPath
from scanloom.stages.picture.effects import Effects
from scanloom.stages.picture.exact import switching_bound
from scanloom.stages.picture.front import after_overload
from scanloom.stages.picture.model import COLOURS, ChannelPath, DisplayPath, FrontEnd
from scanloom.stages.picture.response import load_of, rise_of, sampled_response, sampling_phases, shaped_path
from scanloom.stages.picture.show import full_scale

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from scanloom.stages.timing import RasterTiming

_AFTER_PX = 64  # pixels looked at behind a lone one
_ALTERNATIONS = 16  # white pixels before it, every other one
_BEFORE = 2 * _ALTERNATIONS + 2
_LEAST_GHOST = 0.001
_NOTHING = 1e-12  # rounding


@record
class TailShare:
    """What one pixel leaves beside it.

    Parameters
    ----------
    delay_px : float
        How many pixels of the raster behind it. [px]
    share : float
        Over full scale; negative for what is darker than black. [1]
    """

    delay_px: float
    share: float


@record
class ChannelSight:
    """What one channel does to fine detail.

    Parameters
    ----------
    channel : str
        red, green or blue.
    white_v : float
        Level of a wide white area at the input, cable included. [V]
    converter_v : float
        Level that the converter calls 255. [V]
    alternating_contrast : float
        Swing of alternating pixels over that of wide areas, at the worst sampling phase of the handbook's range. [1]
    width_s : float
        Time of an edge from 10 to 90 %. [s]
    echoes : tuple of TailShare
        Echoes of the cable, the first to return first, over full scale.
    tails : tuple of TailShare
        What a lone white pixel leaves on black pixels behind it, strongest first, over full scale.
    cable_tail : float
        The strongest of them as the circuit alone makes it, over full scale. [1]
    recovery_tail : float
        What the recovery from overload adds at that place; an illustration. [1]
    dark_share : float
        What stands on the black pixels between and behind alternating white ones, over full scale. [1]
    echo_bound_v : float or None
        Bound on what any sample may be off, by taps left out and by pins whose two states differ; None where no bound
        is found. [V]
    """

    channel: str
    white_v: float
    converter_v: float
    alternating_contrast: float
    width_s: float
    echoes: tuple[TailShare, ...]
    tails: tuple[TailShare, ...]
    cable_tail: float
    recovery_tail: float
    dark_share: float
    echo_bound_v: float | None

    @property
    def worst_tail(self) -> float:
        """What stands at most beside fine detail, a lone pixel or alternating ones, over full scale [1]."""
        return max(self.dark_share, *(abs(tail.share) for tail in self.tails), 0.0)


@record
class DisplaySight:
    """What one display does to fine detail.

    Parameters
    ----------
    display : str
        The display.
    channels : tuple of ChannelSight
        Its driven channels.
    """

    display: str
    channels: tuple[ChannelSight, ...]


def display_sight(display: DisplayPath, raster: RasterTiming, effects: Effects, front: FrontEnd) -> DisplaySight:
    """Figures of every channel of one display.

    Parameters
    ----------
    display : DisplayPath
        The display.
    raster : RasterTiming
        The raster as really made.
    effects : Effects
        What counts.
    front : FrontEnd
        Knobs that no dossier states.

    Returns
    -------
    DisplaySight
        The figures.
    """
    return DisplaySight(
        display.name, tuple(channel_sight(display, channel, raster, effects, front) for channel in display.channels)
    )


def channel_sight(
    display: DisplayPath, channel: ChannelPath, raster: RasterTiming, effects: Effects, front: FrontEnd
) -> ChannelSight:
    """Figures of one channel.

    Parameters
    ----------
    display : DisplayPath
        Its display.
    channel : ChannelPath
        The channel.
    raster : RasterTiming
        The raster as really made.
    effects : Effects
        What counts.
    front : FrontEnd
        Knobs that no dossier states.

    Returns
    -------
    ChannelSight
        The figures.
    """
    pixel_s = raster.pixel_s
    # a display with a total of its own samples at every phase in turn; the figures are those of the phase it aims at
    pixel, _, phases = sampling_phases(replace(front, total_px=None), raster.h.total_px, raster.divide)
    response = sampled_response(channel, display.cable, effects, front, pixel_s, phases)
    level_v = channel.level_v(load_of(channel, effects))
    white_v = level_v[-1] * response.gain
    full_v = full_scale(front)
    shaped = effects.edges or effects.cable
    path = shaped_path(channel, display.cable, effects, front)
    rise_s = rise_of(effects, front, pixel_s)
    noticed = _noticed(path, pixel_s, rise_s) if shaped else None
    echo_bound_v = response.left_out * white_v
    if shaped:
        echo_bound_v += switching_bound(path, channel.network.rail_v.typical, pixel_s, rise_s, phases[-1])
    lone = _marks(
        channel, response.share, response.first, white_v, [0], effects, front, raster.line_s / pixel.size, full_v
    )
    dark = _marks(
        channel, response.share, response.first, white_v, range(-2 * _ALTERNATIONS, 1, 2), effects, front,
        raster.line_s / pixel.size, full_v,
    )  # fmt: skip
    strongest = int(np.abs(lone[1][_BEFORE + 1 :]).argmax()) + _BEFORE + 1
    added = float(lone[1][strongest] - lone[0][strongest])
    between = slice(_BEFORE - 2 * _ALTERNATIONS + 1, None, 2)
    return ChannelSight(
        channel.channel,
        white_v,
        full_v,
        noticed.contrast if noticed is not None else 1.0,
        noticed.edge_s if noticed is not None else 0.0,
        tuple(TailShare(g.delay_px, g.share * white_v / full_v) for g in noticed.ghosts) if noticed is not None else (),
        _tails(lone[1][_BEFORE + 1 :]),
        float(lone[0][strongest]),
        added if abs(added) > _NOTHING else 0.0,
        float(np.abs(dark[1][between]).max()),
        echo_bound_v if np.isfinite(echo_bound_v) else None,
    )


def _marks(
    channel: ChannelPath,
    share: NDArray[np.float64],
    first: int,
    white_v: float,
    lit: Iterable[int],
    effects: Effects,
    front: FrontEnd,
    sample_s: float,
    full_v: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """A few white pixels on black, counted from pixel `_BEFORE`: by circuit alone, and recovery added, over full scale."""
    made = np.zeros((_BEFORE + _AFTER_PX, share.shape[0]))
    for place in lit:
        for tap in range(share.shape[1]):
            at = _BEFORE + place + first + tap
            if 0 <= at < made.shape[0]:
                made[at] += white_v * share[:, tap]
    felt = made
    if effects.recovery:
        part = front.recovery_share[COLOURS.index(channel.channel)]
        # the input stage runs at the display's samples, one after the other
        linear_v = front.linear_share * full_v
        felt = after_overload(made.reshape(1, -1), sample_s, front.phase, part, front.recovery_s, linear_v)
        felt = felt.reshape(made.shape)
    # of the samples of one pixel the one that differs most from black
    worst = np.abs(felt).argmax(axis=1)[:, None]
    return (
        np.take_along_axis(made, worst, axis=1)[:, 0] / full_v,
        np.take_along_axis(felt, worst, axis=1)[:, 0] / full_v,
    )


def _tails(behind: NDArray[np.float64], most: int = 8) -> tuple[TailShare, ...]:
    """Strongest tails behind a pixel."""
    order = np.argsort(-np.abs(behind), kind="stable")[:most]
    return tuple(TailShare(float(at + 1), float(behind[at])) for at in order if abs(behind[at]) >= _LEAST_GHOST)


@lru_cache(maxsize=256)
def _noticed(path: SignalPath, pixel_s: float, rise_s: float) -> PathFigures:
    """Contrast, edge and echoes, kept, since boards repeat one channel many times over."""
    return path_figures(path, pixel_s, rise_s, usual_phases())


def usual_phases() -> tuple[float, float]:
    """Range of instants within a pixel at which displays sample.

    Returns
    -------
    tuple of float
        Earliest and latest. [1]
    """
    from scanloom.handbook.front_end import front_end_row

    row = front_end_row("sampling-phase").value
    return (row.low or 0.5, row.high or 0.9)
