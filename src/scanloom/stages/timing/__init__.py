"""Timing: the raster the display sees, its parent, children and borders."""

from __future__ import annotations

from scanloom.basis.fact import Known
from scanloom.basis.outcome import Outcome
from scanloom.basis.record import record
from scanloom.basis.verdict import Verdict
from scanloom.dossier.reading import Reading
from scanloom.stages.timing.formula import formula_row, formula_timing
from scanloom.stages.timing.formula_words import asked_timing, formula_cautions, known_parent, timing_named
from scanloom.stages.timing.model import FrameTiming, ImageWindow, LineTiming, RasterTiming
from scanloom.stages.timing.raster import (
    child_raster,
    exact_divisors,
    image_window,
    raster_at_clock,
    rate_family_height,
)
from scanloom.stages.timing.verdicts import (
    divided,
    formula_used,
    formula_wrong,
    parent_found,
    parent_missing,
    parent_patch,
    parent_wrong,
    pictured,
    tried,
)

__all__ = [
    "FrameTiming",
    "ImageWindow",
    "LineTiming",
    "RasterPlan",
    "RasterTiming",
    "asked_timing",
    "child_raster",
    "exact_divisors",
    "formula_cautions",
    "formula_row",
    "formula_timing",
    "image_window",
    "judge_timing",
    "parent_patch",
    "raster_at_clock",
    "rate_family_height",
    "timing_named",
]


@record
class RasterPlan:
    """The raster of one rig and the picture in it, each resting on its own facts.

    Parameters
    ----------
    raster : Known
        Raster as published or computed, divided; rests on parent, formula and divide.
    image : Known or None
        Picture and borders; rests on picture and repeat too; None when it does not fit.
    cautions : tuple of str
        What has to be said of a computed parent; none for a published one.
    """

    raster: Known[RasterTiming]
    image: Known[ImageWindow] | None
    cautions: tuple[str, ...] = ()


def judge_timing(reading: Reading) -> Outcome[RasterPlan]:
    """Raster of one rig.

    Parameters
    ----------
    reading : Reading
        Of one rig.

    Returns
    -------
    Outcome
        The raster plan, or none when no parent is known or it does not divide.
    """
    read = reading.fork()
    key = f"rigs.{reading.rig_name}.raster"
    choice = reading.rig.raster
    if choice is None or choice.parent is None:
        return Outcome(None, (parent_missing(read),))
    name, formula = read(choice.parent), read.maybe(choice.formula)
    known, why = tried(lambda: known_parent(name, formula))
    if known is None:
        return Outcome(None, (parent_wrong(read, why) if formula is None else formula_wrong(read, why),))
    row = read(known)
    cautions = formula_cautions(row, asked_timing(name)[0]) if formula is not None else ()
    verdicts: list[Verdict] = [parent_found(read, row) if formula is None else formula_used(read, row, cautions)]
    if choice.divide is None:
        divide = read.assume(f"{key}.divide", 1, "1", "the parent is sent undivided")
    else:
        divide = read(choice.divide)
    raster, why = tried(lambda: child_raster(row, divide))
    verdicts.append(divided(read, row, divide, why))
    if raster is None or raster.interlaced:
        return Outcome(None, tuple(verdicts))
    image_read = read.fork()
    if choice.repeat is None:
        repeat = image_read.assume(f"{key}.repeat", 1, "1", "each image row is sent once")
    else:
        repeat = image_read(choice.repeat)
    if choice.picture is None:
        size = image_read.assume(f"{key}.picture", None, "whole active area", "the picture fills the active area")
    else:
        size = image_read(choice.picture)
    image, why = tried(lambda: image_window(raster, size, repeat))
    borders = (image.left_px, image.right_px, image.top_lines, image.bottom_lines) if image else None
    most = f"{raster.h.active_px}x{raster.v.active_lines // max(repeat, 1)}"
    verdicts.append(pictured(image_read, why, borders, most))
    placed = image_read.known(image) if image else None
    return Outcome(RasterPlan(read.known(raster), placed, cautions), tuple(verdicts))
