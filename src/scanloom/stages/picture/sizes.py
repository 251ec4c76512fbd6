"""How much each effect does to one picture: the picture once more without it."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from scanloom.basis.record import record
from scanloom.stages.picture.effects import Effects, chosen_effects
from scanloom.stages.picture.model import DisplayPath, FrontEnd, ShownPicture
from scanloom.stages.picture.show import show_rig

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanloom.stages.lanes import Lane
    from scanloom.stages.timing import RasterTiming

_NUMBERS_ONLY = ("converter", "noise")  # these act behind the last voltage


@record
class EffectSize:
    """What one effect does to one display.

    Parameters
    ----------
    effect : str
        The effect.
    display : str
        The display.
    mean_v : float
        Mean change of the voltage that the converter sees, over the active part. [V]
    most_v : float
        Largest change. [V]
    mean_lsb : float
        Mean change of the numbers shown. [LSB]
    """

    effect: str
    display: str
    mean_v: float
    most_v: float
    mean_lsb: float


def effect_sizes(
    displays: Sequence[DisplayPath],
    words: NDArray[np.uint32],
    lanes: Sequence[Lane],
    raster: RasterTiming,
    effects: Effects,
    front: FrontEnd,
    source_clocks: Fraction | None = None,
) -> tuple[EffectSize, ...]:
    """Size of every effect that is on, on every display, for one picture.

    Parameters
    ----------
    displays : sequence of DisplayPath
        The displays.
    words : ndarray of uint32, shape (lines, pixels)
        Words of the frame as they leave the pins. [1]
    lanes : sequence of Lane
        Every bit of the word.
    raster : RasterTiming
        The raster as really made.
    effects : Effects
        What counts.
    front : FrontEnd
        Knobs that no dossier states.
    source_clocks : Fraction or None
        Source clocks of a pixel where a fractional divider makes it. [1]

    Returns
    -------
    tuple of EffectSize
        By effect, then by display. Effects that hide one another, such as an echo that a clamp cuts off, do not add up.
    """
    whole = show_rig(displays, words, lanes, raster, effects, front, source_clocks)
    made: list[EffectSize] = []
    for name in effects.on:
        less = chosen_effects(only=effects.on, without=[name])
        without = show_rig(displays, words, lanes, raster, less, front, source_clocks)
        made.extend(_size(name, one, other) for one, other in zip(whole, without, strict=True))
    return tuple(made)


def _size(effect: str, one: ShownPicture, other: ShownPicture) -> EffectSize:
    """What lies between two pictures of one display."""
    lines, samples = one.native.shape[:2]
    apart = [
        np.abs(a.amplified_v[:lines, :samples] - b.amplified_v[:lines, :samples])
        for a, b in zip(one.traces, other.traces, strict=True)
    ]
    steps = float(np.abs(one.native.astype(np.int16) - other.native).mean() * 3.0 / max(len(apart), 1))
    if not apart or effect in _NUMBERS_ONLY:
        return EffectSize(effect, one.display, 0.0, 0.0, steps)
    return EffectSize(effect, one.display, float(np.mean(apart)), float(np.max(apart)), steps)
