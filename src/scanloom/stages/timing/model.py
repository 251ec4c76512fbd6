"""What the timing stage hands on: the raster a display sees, and where the picture lies in it."""

from __future__ import annotations

from fractions import Fraction

from scanloom.basis.record import record
from scanloom.handbook.timing_row import FormulaName
from scanloom.handbook.timings import Polarity


@record
class LineTiming:
    """One line, in pixel clocks of the raster itself.

    Parameters
    ----------
    active_px : int
        Picture elements. [1]
    front_px : int
        Front porch with border. [1]
    sync_px : int
        Sync. [1]
    back_px : int
        Back porch with border. [1]
    total_px : int
        The whole line. [1]
    polarity : str
        Polarity of horizontal sync, + or -.

    Raises
    ------
    ValueError
        If picture or sync is missing, a porch is negative, or the parts do not make the total.
    """

    active_px: int
    front_px: int
    sync_px: int
    back_px: int
    total_px: int
    polarity: Polarity

    def __post_init__(self) -> None:
        """Refuse parts that make no line."""
        _check_parts("line", (self.active_px, self.front_px, self.sync_px, self.back_px))
        parts = self.active_px + self.front_px + self.sync_px + self.back_px
        if parts != self.total_px:
            raise ValueError(f"line: its parts make {parts} pixels, the total says {self.total_px}; make them equal")


@record
class FrameTiming:
    """One frame, in lines.

    Of an interlaced raster, active and total count the whole frame, front porch, sync and back porch the first field,
    as its standard does.

    Parameters
    ----------
    active_lines : int
        Picture lines. [1]
    front_lines : int
        Front porch with border. [1]
    sync_lines : int
        Sync. [1]
    back_lines : int
        Back porch with border. [1]
    total_lines : int
        The whole frame. [1]
    polarity : str
        Polarity of vertical sync, + or -.

    Raises
    ------
    ValueError
        If picture or sync is missing, or a porch is negative.
    """

    active_lines: int
    front_lines: int
    sync_lines: int
    back_lines: int
    total_lines: int
    polarity: Polarity

    def __post_init__(self) -> None:
        """Refuse parts that make no frame; only the raster knows whether there are two fields."""
        _check_parts("frame", (self.active_lines, self.front_lines, self.sync_lines, self.back_lines))


@record
class RasterTiming:
    """The raster as the display sees it.

    Parameters
    ----------
    parent : str
        Name of the timing it is or is a child of.
    parent_id : str
        DMT ID, or the name where the VESA list leaves it out.
    divide : int
        Divisor of the parent's clock and horizontal figures. [1]
    h : LineTiming
        One line.
    v : FrameTiming
        One frame.
    pixel_clock_hz : Fraction
        Clock of this raster's own pixels. [Hz]
    line_rate_hz : Fraction
        Horizontal syncs a second. [Hz]
    frame_rate_hz : Fraction
        Vertical syncs a second: frames, or fields when interlaced. [Hz]
    interlaced : bool
        Whether two fields make a frame.
    formula : FormulaName or None
        Formula that made the parent; None for a published one.

    Raises
    ------
    ValueError
        If the vertical parts do not make the total, or the rates do not follow from the clock.
    """

    parent: str
    parent_id: str
    divide: int
    h: LineTiming
    v: FrameTiming
    pixel_clock_hz: Fraction
    line_rate_hz: Fraction
    frame_rate_hz: Fraction
    interlaced: bool
    formula: FormulaName | None = None

    def __post_init__(self) -> None:
        """Refuse figures that contradict one another."""
        v, fields = self.v, self.fields
        # a frame of two fields has one odd line, half of it in each field: that is what makes the fields interleave
        parts = v.active_lines + fields * (v.front_lines + v.sync_lines + v.back_lines) + (fields - 1)
        if parts != v.total_lines:
            raise ValueError(f"frame: its parts make {parts} lines, the total says {v.total_lines}; make them equal")
        line_hz = self.pixel_clock_hz / self.h.total_px
        if (self.line_rate_hz, self.frame_rate_hz) != (line_hz, line_hz * fields / v.total_lines):
            raise ValueError(
                f"raster: a clock of {float(self.pixel_clock_hz):.10g} Hz makes other rates than the stated "
                f"{float(self.line_rate_hz):.10g} Hz and {float(self.frame_rate_hz):.10g} Hz; compute them"
            )

    @property
    def fields(self) -> int:
        """Vertical syncs in a frame: two when interlaced [1]."""
        return 2 if self.interlaced else 1

    @property
    def pixel_s(self) -> float:
        """Duration of a pixel [s]."""
        return float(1 / self.pixel_clock_hz)

    @property
    def line_s(self) -> float:
        """Duration of a line [s]."""
        return float(1 / self.line_rate_hz)

    @property
    def frame_s(self) -> float:
        """Duration of a whole frame, both fields when interlaced [s]."""
        return float(self.v.total_lines / self.line_rate_hz)

    @property
    def h_sync_s(self) -> float:
        """Duration of horizontal sync [s]."""
        return float(self.h.sync_px / self.pixel_clock_hz)

    @property
    def v_sync_s(self) -> float:
        """Duration of vertical sync [s]."""
        return float(self.v.sync_lines / self.line_rate_hz)

    @property
    def blank_lines(self) -> int:
        """Lines of a frame outside the active ones [1]."""
        return self.v.total_lines - self.v.active_lines


@record
class ImageWindow:
    """Where the stored picture lies among the active pixels and lines.

    Parameters
    ----------
    image_rows : int
        Rows stored. [1]
    line_repeat : int
        Lines that show each row. [1]
    picture_px : int
        Pixels stored in a row. [1]
    left_px : int
        Border left of the picture. [1]
    right_px : int
        Border right of the picture. [1]
    top_lines : int
        Border above the picture. [1]
    bottom_lines : int
        Border below the picture. [1]
    """

    image_rows: int
    line_repeat: int
    picture_px: int
    left_px: int
    right_px: int
    top_lines: int
    bottom_lines: int

    @property
    def picture_lines(self) -> int:
        """Lines that show the picture [1]."""
        return self.image_rows * self.line_repeat

    @property
    def has_border(self) -> bool:
        """Whether any active pixel or line lies outside the picture."""
        return any((self.left_px, self.right_px, self.top_lines, self.bottom_lines))


def _check_parts(what: str, parts: tuple[int, int, int, int]) -> None:
    """Refuse a missing picture or sync and negative porches."""
    active, front, sync, back = parts
    if active < 1 or sync < 1 or front < 0 or back < 0:
        raise ValueError(
            f"{what}: picture {active}, front porch {front}, sync {sync}, back porch {back}; picture and sync of 1 "
            "or more and porches of 0 or more are allowed; give figures of a published timing"
        )
