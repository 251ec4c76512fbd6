"""What was worked out on request: the last answer for each rig, with the fingerprint of what it rests on."""

from __future__ import annotations

from dataclasses import dataclass, field

from scanloom.basis.record import record
from scanloom.report.on_request import Answered


@record
class Kept:
    """One answer.

    Parameters
    ----------
    choice : str
        What was chosen.
    mark : str
        Fingerprint of what it rests on.
    answer : Answered or None
        None where there was nothing to work on.
    refused : str
        Why there was nothing.
    """

    choice: str
    mark: str
    answer: Answered | None
    refused: str = ""


@dataclass(slots=True)
class Shelf:
    """Last answers, in memory alone."""

    _kept: dict[tuple[str, str], Kept] = field(default_factory=dict, init=False)

    def put(self, request: str, rig: str, kept: Kept) -> None:
        """Keep an answer in place of the one before it.

        Parameters
        ----------
        request : str
            What was asked for.
        rig : str
            Name of the rig.
        kept : Kept
            The answer.
        """
        self._kept[request, rig] = kept

    def get(self, request: str, rig: str) -> Kept | None:
        """The last answer.

        Parameters
        ----------
        request : str
            What is asked for.
        rig : str
            Name of the rig.

        Returns
        -------
        Kept or None
            None where it was never asked for.
        """
        return self._kept.get((request, rig))

    def png(self, name: str) -> bytes | None:
        """A picture by its content's name; no path leads anywhere else.

        Parameters
        ----------
        name : str
            Its name.

        Returns
        -------
        bytes or None
            None where no answer holds it.
        """
        answers = [kept.answer for kept in self._kept.values() if kept.answer is not None]
        return next((one.png for answer in answers for one in answer.pictures if one.name == name), None)
