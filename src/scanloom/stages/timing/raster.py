"""Sums of the timing stage: children of a timing, and a picture placed in one."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

from scanloom.handbook.timings import FamilyHeight, Polarity, TimingRow, family_height
from scanloom.stages.timing.model import FrameTiming, ImageWindow, LineTiming, RasterTiming


def exact_divisors(row: TimingRow) -> tuple[int, ...]:
    """Divisors that leave every horizontal figure of a timing whole.

    Parameters
    ----------
    row : TimingRow
        Published timing.

    Returns
    -------
    tuple of int
        In rising order, 1 among them. [1]
    """
    return _divisors(math.gcd(*(figure for _, figure in _figures(row))))


def child_raster(row: TimingRow, divide: int) -> RasterTiming:
    """Raster whose clock and horizontal figures are those of a published timing, divided.

    The display sees the parent's line rate, frame rate, sync width in time and polarity, and samples the parent's
    width; each pixel of the child lasts as long as `divide` of the parent's.

    Parameters
    ----------
    row : TimingRow
        Published timing, the parent.
    divide : int
        Divisor; 1 gives the parent itself. [1]

    Returns
    -------
    RasterTiming
        The child.

    Raises
    ------
    ValueError
        If a horizontal figure does not divide exactly, or the divisor is below 1.
    """
    if divide < 1:
        raise ValueError(f"divide {divide!r}: {_list(exact_divisors(row))} are allowed for {row.name}; choose one")
    uneven = [f"{name} {figure}" for name, figure in _figures(row) if figure % divide]
    if uneven:
        are = "is" if len(uneven) == 1 else "are"
        raise ValueError(
            f"divide {divide!r}: of {row.name}, {', '.join(uneven)} {are} not divisible by {divide}; "
            f"{_list(exact_divisors(row))} are allowed; choose one of them, or another parent"
        )
    active, front, sync, back = (figure // divide for _, figure in _figures(row))
    return RasterTiming(
        parent=row.name,
        parent_id=row.id,
        divide=divide,
        h=LineTiming(active, front, sync, back, row.h_total_px // divide, row.h_polarity),
        v=FrameTiming(
            row.active_lines, row.v_front_lines, row.v_sync_lines, row.v_back_lines, row.v_total_lines, row.v_polarity
        ),
        pixel_clock_hz=row.pixel_clock_hz / divide,
        line_rate_hz=row.line_rate_hz,
        frame_rate_hz=row.frame_rate_hz,
        interlaced=row.interlaced,
        formula=row.formula if row.kind == "formula" and row.formula else None,
    )


def raster_at_clock(raster: RasterTiming, pixel_clock_hz: Fraction) -> RasterTiming:
    """The same raster as another pixel clock makes it.

    Parameters
    ----------
    raster : RasterTiming
        Raster as published.
    pixel_clock_hz : Fraction
        Clock of the raster's own pixels that the chip really makes. [Hz]

    Returns
    -------
    RasterTiming
        Same counts, with line and frame rate moved along with the clock.

    Raises
    ------
    ValueError
        If the clock is not positive.
    """
    if pixel_clock_hz <= 0:
        raise ValueError(f"pixel clock {pixel_clock_hz} Hz: a positive rate is allowed; give the rate the chip makes")
    line_hz = pixel_clock_hz / raster.h.total_px
    frame_hz = line_hz * raster.fields / raster.v.total_lines
    return replace(raster, pixel_clock_hz=pixel_clock_hz, line_rate_hz=line_hz, frame_rate_hz=frame_hz)


def image_window(raster: RasterTiming, picture: tuple[int, int] | None, repeat: int) -> ImageWindow:
    """Place of a picture in the active area, in its middle; an odd pixel or line goes right or below.

    Parameters
    ----------
    raster : RasterTiming
        Raster that shows the picture, already divided.
    picture : tuple of int or None
        Stored pixels of a row and image rows; None for a picture that fills the active area. [1]
    repeat : int
        Lines that show each image row. [1]

    Returns
    -------
    ImageWindow
        Picture and borders.

    Raises
    ------
    ValueError
        If the picture does not fit, or lines are left over when it should fill the area.
    """
    width, height = raster.h.active_px, raster.v.active_lines
    if repeat < 1:
        raise ValueError(f"repeat {repeat!r}: 1 or more lines to a row are allowed; give 1 to show each row once")
    if picture is None:
        if height % repeat:
            raise ValueError(
                f"repeat {repeat!r}: {height} active lines are not a multiple of it; "
                f"{_list(_divisors(height))} are allowed; choose one, "
                f'or write picture = "{width}x{height // repeat}" and leave a border'
            )
        picture = (width, height // repeat)
    picture_px, rows = picture
    given = f"picture {picture_px}x{rows} with repeat {repeat}"
    if picture_px < 1 or rows < 1:
        raise ValueError(f"{given}: 1 pixel and 1 row or more are allowed; give the stored pixels by the image rows")
    if picture_px > width or rows * repeat > height:
        raise ValueError(
            f"{given}: takes {picture_px} pixels and {rows * repeat} lines; {width} pixels and {height} lines, "
            f"that is {width}x{height // repeat} at this repeat, are allowed; "
            "make it smaller, or choose another parent or divide"
        )
    left, top = (width - picture_px) // 2, (height - rows * repeat) // 2
    return ImageWindow(
        image_rows=rows,
        line_repeat=repeat,
        picture_px=picture_px,
        left_px=left,
        right_px=width - picture_px - left,
        top_lines=top,
        bottom_lines=height - rows * repeat - top,
    )


def rate_family_height(h_polarity: Polarity, v_polarity: Polarity) -> FamilyHeight | None:
    """Picture height that sync polarity tells a display in the 31.469 kHz family.

    Timings of 350 and of 400 lines there have the same totals and rates, so a wrong polarity shows a wrong height.

    Parameters
    ----------
    h_polarity : str
        Polarity of horizontal sync, + or -.
    v_polarity : str
        Polarity of vertical sync, + or -.

    Returns
    -------
    FamilyHeight or None
        350 lines for + -, 400 for - +, 480 for - -, each with its source; None for + +.

    References
    ----------
    [presets] Manual of a 22-inch monitor, table of preset timing modes; ``monitor-22-inch`` in the list of sources.
    """
    return family_height(h_polarity, v_polarity)


def _figures(row: TimingRow) -> tuple[tuple[str, int], ...]:
    """Horizontal figures that a child divides, with the names people know them by."""
    return (
        ("active", row.active_px),
        ("front porch", row.h_front_px),
        ("sync", row.h_sync_px),
        ("back porch", row.h_back_px),
    )


def _divisors(number: int) -> tuple[int, ...]:
    """All divisors in rising order."""
    return tuple(n for n in range(1, number + 1) if number % n == 0)


def _list(numbers: tuple[int, ...]) -> str:
    """Numbers as a phrase."""
    return ", ".join(map(str, numbers))
