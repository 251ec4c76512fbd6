"""What can be said of each display's picture without drawing it."""

from __future__ import annotations

from scanloom.basis.record import record
from scanloom.basis.span import Span


@record
class DisplayOutlook:
    """One display.

    Parameters
    ----------
    display : str
        The display.
    locks : bool or None
        Whether it follows the syncs; None when that is not known.
    why_not : str
        What speaks against it, and what it would show; empty when nothing does.
    white_v : Span or None
        Bounds of white of its brightest channel, without what a cable takes off; None when not known. [V]
    """

    display: str
    locks: bool | None
    why_not: str
    white_v: Span | None


@record
class PictureOutlook:
    """All displays of one rig.

    Parameters
    ----------
    displays : tuple of DisplayOutlook
        In the order of the dossier.
    """

    displays: tuple[DisplayOutlook, ...]
