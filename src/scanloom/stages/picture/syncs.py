"""What a display reads from the two syncs: periods, widths, polarities."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from scanloom.basis.record import record

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from scanloom.handbook.timings import Polarity
    from scanloom.stages.timing import RasterTiming


@record
class SeenSyncs:
    """Syncs as a display sees them.

    Parameters
    ----------
    line_px : int
        Words from one horizontal pulse to the next. [1]
    h_sync_px : int
        Words inside a horizontal pulse. [1]
    h_polarity : str
        ``+`` when the pulse is high.
    frame_lines : int
        Lines from one vertical pulse to the next. [1]
    v_sync_lines : int
        Lines inside a vertical pulse. [1]
    v_polarity : str
        ``+`` when the pulse is high.
    steady : bool
        Whether every line and every pulse is as long as the others.
    """

    line_px: int
    h_sync_px: int
    h_polarity: Polarity
    frame_lines: int
    v_sync_lines: int
    v_polarity: Polarity
    steady: bool = True


def planned_syncs(raster: RasterTiming) -> SeenSyncs:
    """Syncs of a raster as planned.

    Parameters
    ----------
    raster : RasterTiming
        The raster.

    Returns
    -------
    SeenSyncs
        What a display should see. [1]
    """
    h, v = raster.h, raster.v
    return SeenSyncs(h.total_px, h.sync_px, h.polarity, v.total_lines, v.sync_lines, v.polarity)


def seen_syncs(words: NDArray[np.uint32], h_mask: int, v_mask: int) -> SeenSyncs:
    """Syncs as they leave the pins; the state that takes less time is the pulse, as a display decides it.

    Parameters
    ----------
    words : ndarray of uint32, shape (words,)
        Words of a whole frame or several, in the order sent; the first follows the last. [1]
    h_mask : int
        Bit of horizontal sync. [1]
    v_mask : int
        Bit of vertical sync. [1]

    Returns
    -------
    SeenSyncs
        Periods, widths and polarities. [1]

    Raises
    ------
    ValueError
        If one of the syncs never moves.
    """
    import numpy as np

    flat = np.asarray(words).reshape(-1)
    periods, widths, signs = [], [], []
    for name, mask in (("horizontal", h_mask), ("vertical", v_mask)):
        high = (flat & np.uint32(mask)) != 0
        sign = "+" if 2 * int(high.sum()) < high.size else "-"
        inside = high if sign == "+" else ~high
        begins = np.flatnonzero(inside & ~np.roll(inside, 1))
        if begins.size == 0:
            raise ValueError(f"{name} sync: it never moves in {flat.size} words; pulses are wanted; check its lane")
        ends = np.flatnonzero(~inside & np.roll(inside, 1))
        lengths = (ends[np.searchsorted(ends, begins) % ends.size] - begins) % flat.size
        periods.append(np.diff(np.append(begins, begins[0] + flat.size)))
        widths.append(lengths)
        signs.append(sign)
    line = int(np.median(periods[0]))
    steady = all(np.ptp(found) == 0 for found in (*periods, *widths))
    return SeenSyncs(
        line,
        int(np.median(widths[0])),
        cast("Polarity", signs[0]),
        round(float(np.median(periods[1])) / line),
        round(float(np.median(widths[1])) / line),
        cast("Polarity", signs[1]),
        steady,
    )
