"""What the identification block of a display states: the types that the reader fills."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from scanloom.basis.record import record
from scanloom.handbook.timings import Polarity

RangeFormula = Literal["gtf", "none", "gtf-2", "cvt", "unknown"]
SyncForm = Literal["separate", "composite", "analogue composite", "bipolar composite"]

SAME_CLOCK = Fraction(5, 1000)
"""Share by which the clock of a timing may differ and still be that timing: what VESA's list of monitor timings allows
each pixel clock, from memory; blocks state it in steps of 10 kHz."""


@record
class StandardTiming:
    """A timing that a block lists by width, shape and rate alone.

    Parameters
    ----------
    code : str
        The two bytes, four hexadecimal digits.
    width_px : int
        Picture elements of a line. [1]
    height_lines : int
        Picture lines. [1]
    rate_hz : int
        Frames a second, whole. [Hz]
    """

    code: str
    width_px: int
    height_lines: int
    rate_hz: int

    @property
    def name(self) -> str:
        """Name such as ``640x480@60``."""
        return f"{self.width_px}x{self.height_lines}@{self.rate_hz}"


@record
class DetailedTiming:
    """A timing that a block states in full, figure by figure as the block has them.

    Parameters
    ----------
    pixel_clock_hz : int
        Pixel clock, in steps of 10 kHz. [Hz]
    h_active_px : int
        Picture elements of a line. [1]
    h_blank_px : int
        Horizontal blanking. [1]
    h_offset_px : int
        From the start of blanking to sync. [1]
    h_sync_px : int
        Horizontal sync. [1]
    h_border_px : int
        Border on either side. [1]
    v_active_lines : int
        Picture lines; of a field when interlaced. [1]
    v_blank_lines : int
        Vertical blanking. [1]
    v_offset_lines : int
        From the start of blanking to sync. [1]
    v_sync_lines : int
        Vertical sync. [1]
    v_border_lines : int
        Border above and below. [1]
    width_mm : int
        Width of the picture, 0 when not stated. [mm]
    height_mm : int
        Height of the picture, 0 when not stated. [mm]
    interlaced : bool
        Whether two fields make a frame.
    sync : str
        How the syncs come: ``separate``, or some kind of composite.
    h_polarity : str or None
        Polarity of horizontal sync; None unless the syncs are separate.
    v_polarity : str or None
        Polarity of vertical sync; None unless the syncs are separate.
    """

    pixel_clock_hz: int
    h_active_px: int
    h_blank_px: int
    h_offset_px: int
    h_sync_px: int
    h_border_px: int
    v_active_lines: int
    v_blank_lines: int
    v_offset_lines: int
    v_sync_lines: int
    v_border_lines: int
    width_mm: int
    height_mm: int
    interlaced: bool
    sync: SyncForm
    h_polarity: Polarity | None
    v_polarity: Polarity | None

    @property
    def name(self) -> str:
        """Size and clock in words."""
        return f"{self.h_active_px}x{self.v_active_lines} at {self.pixel_clock_hz / 1e6:g} MHz, figure by figure"

    def is_raster(
        self,
        line_px: tuple[int, int, int, int],
        frame_lines: tuple[int, int, int, int],
        polarity: str,
        pixel_clock_hz: Fraction,
    ) -> bool:
        """Whether this is a given progressive raster with separate syncs.

        A block may count borders beside the blanking, as the words of the standard have it, or within, as some makers do;
        either reading counts.

        Parameters
        ----------
        line_px : tuple of int
            Active part, front porch, sync and back porch of a line, borders counted in the porches. [1]
        frame_lines : tuple of int
            The same of a frame. [1]
        polarity : str
            Polarity of horizontal and of vertical sync, such as ``-+``.
        pixel_clock_hz : Fraction
            Pixel clock. [Hz]

        Returns
        -------
        bool
            True when every count and polarity is the same and the clock within half a percent.
        """
        if self.interlaced or self.sync != "separate" or f"{self.h_polarity}{self.v_polarity}" != polarity:
            return False
        if abs(self.pixel_clock_hz - pixel_clock_hz) > pixel_clock_hz * SAME_CLOCK:
            return False
        return any(
            _parts(self.h_active_px, self.h_blank_px, self.h_offset_px, self.h_sync_px, h_border) == line_px
            and _parts(self.v_active_lines, self.v_blank_lines, self.v_offset_lines, self.v_sync_lines, v_border)
            == frame_lines
            for h_border, v_border in ((self.h_border_px, self.v_border_lines), (0, 0))
        )


@record
class RangeLimits:
    """Rates that may be tried, in the whole numbers that a block states; no promise of a picture.

    Parameters
    ----------
    v_min_hz : int
        Lowest frame rate, of fields when interlaced. [Hz]
    v_max_hz : int
        Highest frame rate. [Hz]
    h_min_hz : int
        Lowest line rate, in steps of 1 kHz. [Hz]
    h_max_hz : int
        Highest line rate, in steps of 1 kHz. [Hz]
    max_pixel_clock_hz : int or None
        Highest pixel clock, rounded up to 10 MHz, or in steps of 0.25 MHz beside CVT; None when not stated. [Hz]
    formula : str
        Formula by which unlisted timings may be made: ``gtf``, ``gtf-2`` with a second curve, ``cvt``, ``none``, or
        ``unknown`` for a code that the version does not define.
    """

    v_min_hz: int
    v_max_hz: int
    h_min_hz: int
    h_max_hz: int
    max_pixel_clock_hz: int | None
    formula: RangeFormula

    @property
    def v_usable(self) -> bool:
        """Whether the frame rates make a range."""
        return 0 < self.v_min_hz <= self.v_max_hz

    @property
    def h_usable(self) -> bool:
        """Whether the line rates make a range."""
        return 0 < self.h_min_hz <= self.h_max_hz


@record
class EdidBlock:
    """The base block, decoded and not yet judged.

    Parameters
    ----------
    fingerprint : str
        Twelve hexadecimal digits that change with any byte of the file.
    version : tuple of int
        Version and revision. [1]
    digital : bool
        Whether the block is that of a digital input.
    white_v : float or None
        White above blanking; None of a digital input. [V]
    sync_v : float or None
        Depth of sync on a colour; None of a digital input. [V]
    separate_sync : bool
        Whether an analogue input takes separate syncs.
    composite_sync : bool
        Whether it takes composite sync on the line of horizontal sync.
    green_sync : bool
        Whether it takes sync on green.
    width_mm : int or None
        Width of the picture in whole centimetres; None when not stated, as by a projector. [mm]
    height_mm : int or None
        Height of the picture in whole centimetres; None when not stated. [mm]
    established : tuple of str
        Established timings by name.
    standard : tuple of StandardTiming
        Standard timings, those of a further descriptor too.
    detailed : tuple of DetailedTiming
        Detailed timings; the first is the one preferred.
    ranges : RangeLimits or None
        Range limits; None when the block has none.
    name : str
        Name of the model as the block has it, for the eye only.
    extensions : int
        Extension blocks that the base block announces. [1]
    checksum_ok : bool
        Whether the bytes add up to a multiple of 256.
    passed_over : tuple of str
        Parts that list timings and are not read, in words.
    """

    fingerprint: str
    version: tuple[int, int]
    digital: bool
    white_v: float | None
    sync_v: float | None
    separate_sync: bool
    composite_sync: bool
    green_sync: bool
    width_mm: int | None
    height_mm: int | None
    established: tuple[str, ...]
    standard: tuple[StandardTiming, ...]
    detailed: tuple[DetailedTiming, ...]
    ranges: RangeLimits | None
    name: str
    extensions: int
    checksum_ok: bool
    passed_over: tuple[str, ...]


def _parts(active: int, blank: int, offset: int, sync: int, border: int) -> tuple[int, int, int, int]:
    """Active part, porches with their border, and sync in their order."""
    return active, offset + border, sync, blank - offset - sync + border
