"""What drawing a rig gives: each display's picture beside the ideal one, and what it rests on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from scanloom.basis.verdict import Verdict
from scanloom.stages.picture.figures import DisplaySight
from scanloom.stages.picture.look import Difference, on_panel
from scanloom.stages.picture.model import DisplayPath, ShownPicture
from scanloom.stages.picture.outlook import DisplayOutlook

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


class NothingToDraw(ValueError):
    """A rig whose plan is too incomplete for a picture; says what it waits on."""


@dataclass(frozen=True, slots=True, eq=False)
class DrawnDisplay:
    """One display with its picture.

    Parameters
    ----------
    outlook : DisplayOutlook
        Whether it locks, and what speaks against it.
    path : DisplayPath
        Its channels and its cable.
    shown : ShownPicture
        The picture with its analogue truth.
    ideal : ShownPicture
        The same with all effects off.
    sight : DisplaySight
        What fine detail looks like.
    apart : Difference
        How far the one is from the other.
    """

    outlook: DisplayOutlook
    path: DisplayPath
    shown: ShownPicture
    ideal: ShownPicture
    sight: DisplaySight
    apart: Difference

    def lit(self, panel: bool = False) -> NDArray[np.uint8]:
        """What the display lights: black where it does not lock.

        Parameters
        ----------
        panel : bool
            Whether at the size of its panel, where it has one.

        Returns
        -------
        ndarray of uint8, shape (lines, samples, 3)
            The picture. [1]
        """
        import numpy as np

        native = self.shown.native if self.outlook.locks is not False else np.zeros_like(self.shown.native)
        return on_panel(native, self.path.panel) if panel and self.path.panel is not None else native


@dataclass(frozen=True, slots=True, eq=False)
class DrawnRig:
    """All displays of one rig.

    Parameters
    ----------
    rig : str
        The rig.
    displays : tuple of DrawnDisplay
        Its displays, in the order of the dossier.
    words : ndarray of uint32, shape (lines, pixels)
        Words as they leave the pins. [1]
    verdicts : tuple of Verdict
        On lock, clipping, ghosts and contrast.
    mark : str
        Fingerprint of words, effects and verdicts: another one means that the picture is stale.
    """

    rig: str
    displays: tuple[DrawnDisplay, ...]
    words: NDArray[np.uint32]
    verdicts: tuple[Verdict, ...]
    mark: str
