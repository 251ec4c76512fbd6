"""What one colour of a display shows as built, told by comparing numbers and levels with those that are meant."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from scanloom.stages.picture.effects import Effects
from scanloom.stages.picture.figures import channel_sight
from scanloom.stages.picture.model import ChannelPath, DisplayPath, FrontEnd, ShownPicture
from scanloom.stages.picture.response import load_of
from scanloom.stages.picture.show import full_scale
from scanloom.survey.as_built_model import BuiltColour

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanloom.stages.timing import RasterTiming

_INSIDE_PX = 6  # samples from the edge of a white area that count as its inside, echoes and edges apart


def built_colour(
    colour: str,
    at: int,
    meant: Sequence[ShownPicture],
    built: Sequence[ShownPicture],
    meant_paths: Sequence[DisplayPath],
    built_paths: Sequence[DisplayPath],
    raster: RasterTiming,
    effects: Effects,
    front: FrontEnd,
) -> BuiltColour:
    """One colour of one display.

    Parameters
    ----------
    colour : str
        red, green or blue.
    at : int
        Place of the display. [1]
    meant : sequence of ShownPicture
        All displays as meant.
    built : sequence of ShownPicture
        All displays as built.
    meant_paths : sequence of DisplayPath
        Their ways as meant.
    built_paths : sequence of DisplayPath
        Their ways as built.
    raster : RasterTiming
        The raster as really made.
    effects : Effects
        What counts.
    front : FrontEnd
        Knobs that no dossier states.

    Returns
    -------
    BuiltColour
        What it shows, and its white.
    """
    own, made = _path(meant_paths[at], colour), _path(built_paths[at], colour)
    whites = [
        None if path is None else channel_sight(display, path, raster, effects, front).white_v
        for display, path in ((meant_paths[at], own), (built_paths[at], made))
    ]
    sent, wanted = _sent(built[at], colour, raster), _sent(meant[at], colour, raster)
    if sent is None or made is None or not sent.any():
        return BuiltColour(colour, "dark", None, whites[0], None)
    alike = _alike(made, whites[1], effects, front)
    if own is not None and alike == _alike(own, whites[0], effects, front):
        alike = ()
    astray = _astray(made) if own is None or not _astray(own) else ()
    if wanted is not None and np.array_equal(sent, wanted):
        return BuiltColour(colour, "own", None, whites[0], whites[1], alike, astray)
    for other in meant:
        for trace in other.traces:
            if np.array_equal(sent, _active(trace.sent_numbers, raster)):
                return BuiltColour(colour, "other", (other.display, trace.channel), whites[0], whites[1], alike, astray)
    return BuiltColour(colour, "mixed", None, whites[0], whites[1], alike, astray)


def white_area(shown: ShownPicture, raster: RasterTiming) -> NDArray[np.bool_]:
    """Where every colour of a picture is at its highest number, away from edges.

    Parameters
    ----------
    shown : ShownPicture
        The picture.
    raster : RasterTiming
        The raster as really made.

    Returns
    -------
    ndarray of bool, shape (lines, samples)
        True inside wide white areas. [1]
    """
    inside = np.ones((raster.v.active_lines, raster.h.active_px), dtype=bool)
    for trace in shown.traces:
        numbers = _active(trace.sent_numbers, raster)
        inside &= (numbers == numbers.max()) & (numbers > 0)
    wide = np.repeat(inside & bool(shown.traces), raster.divide, axis=1)
    for shift in range(1, _INSIDE_PX + 1):
        wide[:, shift:] &= wide[:, :-shift].copy()
        wide[:, :-shift] &= wide[:, shift:].copy()
    return wide[: shown.native.shape[0], : shown.native.shape[1]]


def _path(display: DisplayPath, colour: str) -> ChannelPath | None:
    """Way of one colour, where there is one."""
    return next((one for one in display.channels if one.channel == colour), None)


def _sent(shown: ShownPicture, colour: str, raster: RasterTiming) -> NDArray[np.uint16] | None:
    """Numbers that a colour is sent in the active part; None where it is not driven."""
    return next((_active(t.sent_numbers, raster) for t in shown.traces if t.channel == colour), None)


def _active(numbers: NDArray[np.uint16], raster: RasterTiming) -> NDArray[np.uint16]:
    """The active part."""
    return numbers[: raster.v.active_lines, : raster.h.active_px]


def _alike(path: ChannelPath, white_v: float | None, effects: Effects, front: FrontEnd) -> tuple[int, ...]:
    """Numbers at or above full scale, of which there are at least two."""
    level_v = path.level_v(load_of(path, effects))
    if white_v is None or level_v[-1] <= 0.0:
        return ()
    gain = white_v / level_v[-1]
    over = tuple(number for number, level in enumerate(level_v) if level * gain >= full_scale(front))
    return over if len(over) > 1 else ()


def _astray(path: ChannelPath) -> tuple[int, ...]:
    """First two neighbouring numbers in the wrong order."""
    level_v = path.level_v()
    return next(((n, n + 1) for n in range(len(level_v) - 1) if level_v[n + 1] < level_v[n]), ())
