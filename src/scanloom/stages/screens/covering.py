"""What was seen to work, or is listed, and covers a raster: the display sees the parent, whatever is stored or bordered."""

from __future__ import annotations

from scanloom.basis.fact import Known
from scanloom.dossier.edid import EdidBlock
from scanloom.dossier.model import Display
from scanloom.stages.timing import RasterTiming, timing_named


def proof_of(display: Display, raster: RasterTiming) -> Known[str] | None:
    """Proof on the very display that covers a raster.

    Parameters
    ----------
    display : Display
        The display.
    raster : RasterTiming
        The raster, as published or as made.

    Returns
    -------
    Known or None
        Name of the timing that was seen.
    """
    return _covering(display.proved, raster)


def promise_of(display: Display, identity: Known[EdidBlock] | None, raster: RasterTiming) -> Known[str] | None:
    """Promise that covers a raster: a listed name, or figures in the display's block that are those of the parent.

    Parameters
    ----------
    display : Display
        The display, with what its block lists.
    identity : Known or None
        Its identification block.
    raster : RasterTiming
        The raster as published.

    Returns
    -------
    Known or None
        What is listed, in words.
    """
    named = _covering(display.promised, raster)
    if named is not None or identity is None or identity.value.digital or raster.interlaced:
        return named
    divide = raster.divide
    h, v = raster.h, raster.v
    line = (h.active_px * divide, h.front_px * divide, h.sync_px * divide, h.back_px * divide)
    frame = (v.active_lines, v.front_lines, v.sync_lines, v.back_lines)
    for timing in identity.value.detailed:
        if timing.is_raster(line, frame, f"{h.polarity}{v.polarity}", raster.pixel_clock_hz * divide):
            return Known(timing.name, identity.facts)
    return None


def _covering(listed: tuple[Known[str], ...] | None, raster: RasterTiming) -> Known[str] | None:
    """The first of some named timings that is the parent of a raster."""
    for known in listed or ():
        row = timing_named(known.value)
        if row.name == raster.parent or row.id == raster.parent_id:
            return known
    return None
