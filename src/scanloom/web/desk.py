"""The open dossier: what is on the disk, the last good survey, edits, undo. Never loses what somebody else wrote."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from scanloom.basis.record import record
from scanloom.formats.dossier_file import DossierFile, read_dossier_text
from scanloom.formats.input_error import InputError, InputFault
from scanloom.formats.text_file import FileFault, read_text
from scanloom.formats.text_write import file_sha256, write_text_atomically
from scanloom.survey import Survey, Trial, survey_plan, try_patches
from scanloom.survey.accepting import NotAcceptable, accepted_text
from scanloom.web.board import BoardDesk
from scanloom.web.edit import Refused, edited
from scanloom.web.fields import Typed, falls
from scanloom.web.shelf import Shelf

_TRIES = 8
_KEPT = 6
_MOST_UNDO = 100


@record
class Surveyed:
    """A dossier and its survey.

    Parameters
    ----------
    file : DossierFile
        The dossier.
    survey : Survey
        Its survey.
    """

    file: DossierFile
    survey: Survey


@record
class Done:
    """One thing written from the page.

    Parameters
    ----------
    says : str
        What it was, in words.
    before : str
        Text of the file before.
    after : str
        Text of the file after.
    """

    says: str
    before: str
    after: str


@dataclass(slots=True)
class Desk:
    """One dossier, open in the page.

    Parameters
    ----------
    path : Path
        The file.
    shown : str
        The file as named by the user.
    """

    path: Path
    shown: str
    good: Surveyed | None = field(default=None, init=False)
    """The last dossier that could be read, and its survey."""
    faults: tuple[InputFault, ...] = field(default=(), init=False)
    """What is wrong with the file as it is now; empty when it can be read."""
    version: int = field(default=0, init=False)
    """Grows with every change of what is seen. [1]"""
    done: list[Done] = field(default_factory=list, init=False)
    """What the page wrote, the newest last."""
    board: BoardDesk = field(default_factory=BoardDesk, init=False)
    """Reviews of the board's files."""
    shelf: Shelf = field(default_factory=Shelf, init=False)
    """What was worked out on request."""
    _sha: str = field(default="", init=False)
    _cache: OrderedDict[str, Surveyed] = field(default_factory=OrderedDict, init=False)

    def reload(self, *, anew: bool = False) -> bool:
        """Look at the file again.

        Parameters
        ----------
        anew : bool
            Whether to survey again though the text is the same, since a file that it names has changed.

        Returns
        -------
        bool
            Whether anything has changed.
        """
        try:
            text = read_text(self.path)
        except FileFault as error:
            fault = InputFault(self.shown, error.line or 0, error.column or 0, "", error.text)
            if self.faults == (fault,):
                return False
            self.faults, self._sha = (fault,), ""
            self.version += 1
            return True
        sha = file_sha256(text)
        if sha == self._sha and not anew:
            return False
        if anew:
            self._cache.clear()
        self._sha = sha
        self.version += 1
        try:
            self.good = self.survey_of(text)
            self.faults = ()
        except InputError as error:
            self.faults = error.faults
        return True

    def beside(self) -> tuple[Path, ...]:
        """Files that the dossier names and that its survey reads.

        Returns
        -------
        tuple of Path
            Chip file and identification blocks.
        """
        if self.good is None:
            return ()
        dossier = self.good.file.plan.dossier
        names = [display.edid.value for display in dossier.displays if display.edid is not None]
        if dossier.chip is not None and dossier.chip.like is not None:
            names += [dossier.chip.like.value] if dossier.chip.like.value.endswith(".toml") else []
        return tuple(self.path.parent / name for name in names)

    def survey_of(self, text: str) -> Surveyed:
        """Survey of a text, as it would stand in the file.

        Parameters
        ----------
        text : str
            The text.

        Returns
        -------
        Surveyed
            Kept for the next time the same text is asked for.

        Raises
        ------
        InputError
            If it cannot be understood.
        """
        sha = file_sha256(text)
        if sha in self._cache:
            return self._cache[sha]
        file = read_dossier_text(text, self.path, self.shown)
        made = Surveyed(file, survey_plan(file.plan))
        self._cache[sha] = made
        while len(self._cache) > _KEPT:
            self._cache.popitem(last=False)
        return made

    def look(self, typed: Typed) -> Surveyed:
        """Survey with what is being typed; nothing is written.

        Parameters
        ----------
        typed : Typed
            What stands in the field.

        Returns
        -------
        Surveyed
            With the change.

        Raises
        ------
        Refused
            If the value cannot be understood.
        """
        return self._readable(edited(self._now().file, typed))

    def write(self, typed: Typed) -> str:
        """Write one value.

        Parameters
        ----------
        typed : Typed
            What stands in the field.

        Returns
        -------
        str
            What was done, in words; empty when the file said so already.

        Raises
        ------
        Refused
            If the value cannot be understood, or the file cannot be written.
        Conflict
            If somebody else has changed this very value meanwhile.
        """
        said = "Written."
        if falls(typed):
            origin = typed.note.strip().partition(" ")[0]
            said = f"Written. The old value was {origin}; the new one counts as said until you tell where it is from."
        wrote = self._put(lambda seen: edited(seen.file, typed), typed.key)
        return said if wrote else ""

    def take(self, key: str, value: str) -> str:
        """Write a remedy.

        Parameters
        ----------
        key : str
            Place in the dossier.
        value : str
            New value as TOML text.

        Returns
        -------
        str
            What was done, in words.

        Raises
        ------
        Refused
            If the place leads nowhere or the file cannot be written.
        """
        try:
            self._put(lambda seen: try_patches(seen.file, [(key, value)], seen.survey).text, key)
        except InputError as error:
            raise Refused(error.faults[0].text) from None
        return f"Written: {key} = {value}."

    def attempt(self, key: str, value: str) -> Trial:
        """What a remedy would mend and break; nothing is written.

        Parameters
        ----------
        key : str
            Place in the dossier.
        value : str
            New value as TOML text.

        Returns
        -------
        Trial
            The survey with it.

        Raises
        ------
        Refused
            If the place leads nowhere or the value cannot be understood.
        """
        seen = self._now()
        try:
            return try_patches(seen.file, [(key, value)], seen.survey)
        except InputError as error:
            raise Refused(error.faults[0].text) from None

    def accept(self, code: str, subject: str, because: str, rig: str | None, by: str) -> str:
        """Accept a check with a reason.

        Parameters
        ----------
        code : str
            Its code.
        subject : str
            Its subject.
        because : str
            The reason.
        rig : str or None
            The rig it is for; None for every rig.
        by : str
            Who accepts it.

        Returns
        -------
        str
            What was done, in words.

        Raises
        ------
        Refused
            If no reason is given, or the check cannot be accepted.
        """
        if not because.strip():
            raise Refused("no reason is given; an acceptance needs one; say why it may stay as it is")
        words = " ".join(because.split())

        def text(seen: Surveyed) -> str:
            survey = self.board.survey_for(code, seen)
            try:
                return accepted_text(seen.file, survey, code, subject, words, rig=rig, by=by)
            except NotAcceptable as error:
                raise Refused(str(error)) from None

        self._put(text, code)
        return f"Accepted: {code} {subject}."

    def undo(self) -> str:
        """Take back the last thing that the page wrote.

        Returns
        -------
        str
            What was done, in words.

        Raises
        ------
        Refused
            If there is nothing, or somebody else has changed the file since.
        """
        if not self.done:
            raise Refused("nothing was written from this page yet; only that can be undone")
        last = self.done[-1]
        current = self._text()
        if current != last.after:
            raise Refused(
                "the file has changed since in another editor; only what was written last can be undone; change it back by hand"
            )
        try:
            self._store(last.before, current)
        except FileFault as error:
            raise Refused(error.text) from None
        self.done.pop()
        return f"Undone: {last.says}."

    def _now(self) -> Surveyed:
        """The dossier as the page shows it."""
        if self.good is None:
            raise Refused("the file cannot be read; only a readable one is edited; mend it in a text editor first")
        return self.good

    def _text(self) -> str:
        """The file as it is on the disk this moment."""
        try:
            return read_text(self.path)
        except FileFault as error:
            raise Refused(error.text) from None

    def _put(self, change: Callable[[Surveyed], str], says: str) -> bool:
        """Read, change and write; begun anew when somebody else writes in between."""
        for attempt in range(_TRIES):
            before = self._text()
            try:
                seen = self.survey_of(before)
            except InputError:
                raise Refused(
                    "the file has a fault that another editor left; only a readable file is edited; mend that first"
                ) from None
            after = change(seen)
            if after == before:
                self.reload()
                return False
            self._readable(after)
            try:
                self._store(after, before)
            except FileFault as error:
                if attempt + 1 < _TRIES and self._text() != before:
                    continue
                raise Refused(error.text) from None
            self.done.append(Done(says, before, after))
            del self.done[:-_MOST_UNDO]
            return True
        raise Refused("another editor writes all the time; one at a time may; try again in a moment")

    def _store(self, text: str, expected: str) -> None:
        """Write the file if it still holds the expected text, and look at it."""
        write_text_atomically(self.path, text, file_sha256(expected))
        self.reload()

    def _readable(self, text: str) -> Surveyed:
        """Survey of a text, or the reader's own words."""
        try:
            return self.survey_of(text)
        except InputError as error:
            raise Refused(
                " ".join(
                    f"{fault.path}: {fault.text}." if fault.path else f"{fault.text}." for fault in error.faults[:3]
                )
            ) from None
