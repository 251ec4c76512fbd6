"""What a display would show with the board as its files have it, beside what the dossier means it to show."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from scanloom.basis.record import record
from scanloom.stages.picture.look import Difference

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Finding = tuple[str, str]
"""Code and subject of a verdict of the review."""


@record
class BuiltColour:
    """One colour of a display, by comparing what it is sent with what every colour is meant to be sent.

    Parameters
    ----------
    channel : str
        red, green or blue.
    shows : {"own", "other", "dark", "mixed"}
        Its own picture, that of another colour or display, nothing, or something that is meant for nobody.
    source : tuple of str or None
        Display and colour that the picture is meant for, where it is another's.
    meant_v : float or None
        White at the input as meant; None where the rig does not drive it. [V]
    built_v : float or None
        The same as built; None where nothing arrives. [V]
    alike : tuple of int
        Numbers that the converter takes all for the brightest, and as meant does not; empty where none are. [1]
    astray : tuple of int
        Two neighbouring numbers of which the higher is the darker, and as meant is not; empty where none are. [1]
    """

    channel: str
    shows: Literal["own", "other", "dark", "mixed"]
    source: tuple[str, str] | None
    meant_v: float | None
    built_v: float | None
    alike: tuple[int, ...] = ()
    astray: tuple[int, ...] = ()


@record
class BuiltLock:
    """What a display makes of the syncs as built.

    Parameters
    ----------
    locks : bool or None
        Whether it follows them; None when that is not known.
    exchanged : bool
        Whether each of the two stands on the other's pin.
    dead : tuple of str
        h or v, where no pin of the chip drives it.
    lines_hz : float or None
        Pulses in a second on the pin of the horizontal sync, where they are not those of the plan. [Hz]
    reason : str
        What speaks against it, and what it would show; empty when nothing does.
    as_meant : bool
        Whether both arrive as the dossier means it, or it means none.
    """

    locks: bool | None
    exchanged: bool
    dead: tuple[str, ...]
    lines_hz: float | None
    reason: str
    as_meant: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class BuiltDisplay:
    """One display, as meant and as built.

    Parameters
    ----------
    display : str
        The display.
    connector : str
        Where it is plugged in.
    rig : str
        The rig that is drawn: the first that shows a difference.
    findings : tuple of Finding
        Verdicts that ask for the picture.
    meant : ndarray of uint8, shape (lines, samples, 3)
        What the dossier means it to show; black without lock. [1]
    built : ndarray of uint8, shape (lines, samples, 3)
        What it would show. [1]
    apart : Difference
        How far the one is from the other.
    colours : tuple of BuiltColour
        Its colours.
    meant_white : tuple of float
        Red, green and blue of the middle of a wide white area as meant, of 255. [1]
    built_white : tuple of float
        The same as built. [1]
    lock : BuiltLock
        The syncs as built.
    """

    display: str
    connector: str
    rig: str
    findings: tuple[Finding, ...]
    meant: NDArray[np.uint8]
    built: NDArray[np.uint8]
    apart: Difference
    colours: tuple[BuiltColour, ...]
    meant_white: tuple[float, ...]
    built_white: tuple[float, ...]
    lock: BuiltLock

    @property
    def differs(self) -> bool:
        """Whether the two pictures are not the same."""
        return self.apart.worst > 0


@dataclass(frozen=True, slots=True, eq=False)
class BuiltShown:
    """Displays of a review with a finding that concerns what they show.

    Parameters
    ----------
    displays : tuple of BuiltDisplay
        In the order of the connectors.
    not_drawn : Mapping
        Why a display is not drawn, by its connector.
    asked : Mapping
        Findings that ask for a picture, by connector.
    """

    displays: tuple[BuiltDisplay, ...]
    not_drawn: Mapping[str, str]
    asked: Mapping[str, tuple[Finding, ...]]

    def of(self, code: str, subject: str) -> BuiltDisplay | None:
        """The display that a finding concerns.

        Parameters
        ----------
        code : str
            Code of the finding.
        subject : str
            Its subject.

        Returns
        -------
        BuiltDisplay or None
            None where nothing was drawn for it.
        """
        return next((one for one in self.displays if (code, subject) in one.findings), None)
