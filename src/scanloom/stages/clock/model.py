"""What the enumerator hands back: a rate the chip can make, and how."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from scanloom.basis.record import record

WITHIN_PPM: Final = 5000
"""Error a candidate may have and still count as the rate asked for: 0.5 %, as the DMT allows a pixel clock. [ppm]"""


@record
class ClockCandidate:
    """One pixel rate a chain can make, at its best setting.

    Parameters
    ----------
    chain : str
        Name of the chain.
    achieved_hz : Fraction
        The rate, exactly. [Hz]
    error_ppm : Fraction
        Distance from the rate asked for, positive when too fast, exactly. [ppm]
    wobble_px : Fraction
        Peak-to-peak error of pixel edges in pixels; 0 when a pixel is a whole number of source clocks. [1]
    lines_repeat_after : int
        Lines until the edges fall on source clocks as before; 1 when every line repeats the one before. [1]
    system_hz : Fraction or None
        System clock the setting needs; none in a chain apart from the system clock. [Hz]
    settings : tuple of (str, int or str)
        Each step's name with what goes into its register, in the order of the chain.
    recipe : str
        The settings as a sum in words.
    noise_known : bool
        Whether the wobble is all there is to say: false for a sigma-delta source, whose noise has no published figure,
        and for a pattern whose order is not published for this chip.
    within : bool
        Whether the error is at most 5000 ppm either way.
    """

    chain: str
    achieved_hz: Fraction
    error_ppm: Fraction
    wobble_px: Fraction
    lines_repeat_after: int
    system_hz: Fraction | None
    settings: tuple[tuple[str, int | str], ...]
    recipe: str
    noise_known: bool
    within: bool

    @property
    def ppm(self) -> float:
        """Distance from the rate asked for, as a float."""
        return float(self.error_ppm)

    @property
    def rank(self) -> tuple[bool, Fraction, Fraction, Fraction, bool, Fraction]:
        """Sorting key, best first: within, wobble, distance, system clock; then known noise, then the lower rate."""
        return (
            not self.within,
            self.wobble_px,
            abs(self.error_ppm),
            -(self.system_hz or Fraction(0)),
            not self.noise_known,
            self.achieved_hz,
        )
