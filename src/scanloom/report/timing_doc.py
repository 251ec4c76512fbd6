"""Timings and clocks as JSON."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from scanloom.report import stage_documents as d
from scanloom.stages.clock import ClockCandidate
from scanloom.stages.timing import ImageWindow, RasterTiming


def timing_doc(
    raster: RasterTiming, image: ImageWindow | None, source: str, place: str, cautions: Iterable[str] = ()
) -> d.TimingDoc:
    """One raster and the picture in it.

    Parameters
    ----------
    raster : RasterTiming
        The raster.
    image : ImageWindow or None
        The picture.
    source : str
        Title of the source of the parent.
    place : str
        Place in it.
    cautions : iterable of str
        What has to be said of a computed parent.

    Returns
    -------
    TimingDoc
        For JSON.
    """
    h, v = raster.h, raster.v
    return d.TimingDoc(
        parent=raster.parent,
        parent_id=raster.parent_id,
        formula=raster.formula,
        divide=raster.divide,
        h=d.HorizontalDoc(
            active_px=h.active_px,
            front_px=h.front_px,
            sync_px=h.sync_px,
            back_px=h.back_px,
            total_px=h.total_px,
            polarity=h.polarity,
        ),
        v=d.VerticalDoc(
            active_lines=v.active_lines,
            front_lines=v.front_lines,
            sync_lines=v.sync_lines,
            back_lines=v.back_lines,
            total_lines=v.total_lines,
            polarity=v.polarity,
        ),
        pixel_clock_hz=float(raster.pixel_clock_hz),
        line_rate_hz=float(raster.line_rate_hz),
        frame_rate_hz=float(raster.frame_rate_hz),
        interlaced=raster.interlaced,
        image_rows=image.image_rows if image else None,
        line_repeat=image.line_repeat if image else 1,
        picture_px=image.picture_px if image else None,
        borders=[image.left_px, image.right_px, image.top_lines, image.bottom_lines] if image else None,
        source=source,
        place=place,
        cautions=list(cautions),
    )


def clock_doc(chip: str, target_hz: Fraction, h_total_px: int, candidates: Iterable[ClockCandidate]) -> d.ClockDoc:
    """Rates near a target.

    Parameters
    ----------
    chip : str
        The chip.
    target_hz : Fraction
        Rate asked for. [Hz]
    h_total_px : int
        Pixels of a whole line. [1]
    candidates : iterable of ClockCandidate
        Rates, best first.

    Returns
    -------
    ClockDoc
        For JSON.
    """
    return d.ClockDoc(
        chip=chip,
        target_hz=float(target_hz),
        h_total_px=h_total_px,
        candidates=[
            d.CandidateDoc(
                achieved_hz=float(c.achieved_hz),
                error_ppm=float((c.achieved_hz / target_hz - 1) * 1_000_000),
                wobble_px=float(c.wobble_px),
                lines_repeat_after=c.lines_repeat_after,
                system_hz=None if c.system_hz is None else float(c.system_hz),
                within=c.within,
                noise_known=c.noise_known,
                chain=c.chain,
                recipe=c.recipe,
                settings=dict(c.settings),
            )
            for c in candidates
        ],
    )
