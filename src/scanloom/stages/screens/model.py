"""What each display says to the raster as the clock makes it."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from scanloom.basis.record import record

Status = Literal["proved", "promised", "allowed by range, not promised", "refused", "unknown"]


@record
class PanelScaling:
    """How a display with pixels of its own stretches the raster it is sent.

    Parameters
    ----------
    across : Fraction
        Panel pixels for each pixel of the parent. [1]
    down : Fraction
        Panel rows for each line of the parent. [1]
    """

    across: Fraction
    down: Fraction


@record
class DisplayAnswer:
    """One display's answer.

    Parameters
    ----------
    display : str
        The display.
    status : Status
        How sure it is to show the raster.
    scaling : PanelScaling or None
        Stretch onto its panel; None for tubes and unknown panels.
    """

    display: str
    status: Status
    scaling: PanelScaling | None


@record
class ScreenAnswers:
    """Answers of all displays to one timing; the rig works only where all agree.

    Parameters
    ----------
    line_rate_hz : Fraction
        Line rate as made. [Hz]
    frame_rate_hz : Fraction
        Frame rate as made. [Hz]
    answers : tuple of DisplayAnswer
        One a display, in the order of the dossier.
    blockers : tuple of str
        Displays that refuse.
    parents_for_all : tuple of str
        Other parents inside every display's limits, the likeliest first; filled when a display refuses.
    """

    line_rate_hz: Fraction
    frame_rate_hz: Fraction
    answers: tuple[DisplayAnswer, ...]
    blockers: tuple[str, ...]
    parents_for_all: tuple[str, ...]
