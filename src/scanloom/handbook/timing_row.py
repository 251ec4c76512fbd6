"""What one timing says, published or computed."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from scanloom.basis.record import record

Polarity = Literal["+", "-"]
TimingKind = Literal["dmt", "legacy", "formula"]
Blanking = Literal["", "v1", "v2", "other"]
FormulaName = Literal["cvt", "cvt-rb1", "cvt-rb2", "gtf"]


@record
class TimingRow:
    """One timing: published, or computed by a formula where no list holds it.

    An interlaced timing keeps the two ways its standard counts in: active and total lines are those of the whole frame;
    front porch, sync and back porch are those of the first field. The second field has one line more of back porch, so
    the total is active + 2 x (front + sync + back) + 1.

    Parameters
    ----------
    id : str
        DMT ID such as ``0x04``, or the name of any other timing; a computed timing that is one of the list bears its ID.
    kind : str
        ``dmt``, ``legacy`` or ``formula``.
    name : str
        Name such as ``640x480@60``, ``1280x768@60-rb``, ``1024x768@87i`` or ``1000x600@60 by cvt``.
    active_px : int
        Picture elements of a line. [1]
    active_lines : int
        Picture lines of a frame. [1]
    nominal_hz : Fraction
        Rate by which the source calls the timing, or that was asked of a formula; of frames, also when interlaced. [Hz]
    pixel_clock_hz : Fraction
        Pixel clock. [Hz]
    h_front_px : int
        Horizontal front porch with border. [1]
    h_sync_px : int
        Horizontal sync. [1]
    h_back_px : int
        Horizontal back porch with border. [1]
    h_border_px : int
        Border on either side, counted in the porches. [1]
    h_total_px : int
        Pixel clocks of a whole line. [1]
    v_front_lines : int
        Vertical front porch with border. [1]
    v_sync_lines : int
        Vertical sync. [1]
    v_back_lines : int
        Vertical back porch with border. [1]
    v_border_lines : int
        Border above and below, counted in the porches. [1]
    v_total_lines : int
        Lines of a whole frame. [1]
    h_polarity : str
        Polarity of horizontal sync, + or -.
    v_polarity : str
        Polarity of vertical sync, + or -.
    interlaced : bool
        Whether two fields make a frame.
    reduced_blanking : str
        ``v1`` or ``v2`` by formula, ``other`` by none, empty for full blanking.
    formula : str
        ``cvt`` where the standard declares that the timing follows CVT; of a computed timing the formula; else empty.
    edid_standard : str
        Standard timing code in an EDID block, four hexadecimal digits, or empty.
    edid_cvt : str
        CVT code in an EDID block, six hexadecimal digits, or empty.
    source : str
        Key of the source.
    place : str
        Place in the source, and what it does not say itself.
    """

    id: str
    kind: TimingKind
    name: str
    active_px: int
    active_lines: int
    nominal_hz: Fraction
    pixel_clock_hz: Fraction
    h_front_px: int
    h_sync_px: int
    h_back_px: int
    h_border_px: int
    h_total_px: int
    v_front_lines: int
    v_sync_lines: int
    v_back_lines: int
    v_border_lines: int
    v_total_lines: int
    h_polarity: Polarity
    v_polarity: Polarity
    interlaced: bool
    reduced_blanking: Blanking
    formula: Literal["", FormulaName]
    edid_standard: str
    edid_cvt: str
    source: str
    place: str

    @property
    def line_rate_hz(self) -> Fraction:
        """Lines a second [Hz]."""
        return self.pixel_clock_hz / self.h_total_px

    @property
    def frame_rate_hz(self) -> Fraction:
        """Vertical syncs a second: frames, or fields when interlaced [Hz]."""
        return self.line_rate_hz * (2 if self.interlaced else 1) / self.v_total_lines

    @property
    def names(self) -> tuple[str, ...]:
        """Names under which the row is found, the shortest exact one first."""
        if self.kind == "formula":
            return (self.name,)
        if self.kind == "legacy":
            return (self.name, f"legacy:{self.name}")
        if self.interlaced:
            return (self.name, f"{self.active_px}x{self.active_lines}@{plain_rate(self.nominal_hz)}i", f"dmt:{self.id}")
        return (self.name, f"dmt:{self.id}")


@record
class FamilyHeight:
    """Picture height that sync polarity stands for in the 31.469 kHz family.

    Parameters
    ----------
    lines : int
        Picture lines. [1]
    source : str
        Key of the source.
    place : str
        Place in the source.
    """

    lines: int
    source: str
    place: str


def plain_rate(rate: Fraction) -> str:
    """A rate in decimals, with as many digits as it has.

    Parameters
    ----------
    rate : Fraction
        The rate, in any unit. [1]

    Returns
    -------
    str
        At most ten digits.
    """
    return f"{float(rate):.10g}"
