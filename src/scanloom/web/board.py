"""Reviews of the board's files: run on request in a thread, kept by what they rest on, stale when that has changed."""

from __future__ import annotations

import threading
from collections import OrderedDict
from pathlib import Path
from typing import TYPE_CHECKING

from scanloom.formats.input_error import InputError
from scanloom.formats.text_file import FileFault, read_text
from scanloom.formats.text_write import file_sha256
from scanloom.survey import Survey
from scanloom.survey.review import BOARD, accepted_anew, grounds_mark, pictures_mark, since
from scanloom.web.board_run import BoardView, KeptReview, run_review
from scanloom.web.edit import Refused
from scanloom.web.folder_marks import files_mark, signature

if TYPE_CHECKING:
    from scanloom.web.desk import Surveyed

_KEPT = 4
_MOST_FINALS = 40


class BoardDesk:
    """The reviews of one open dossier; one at a time runs, the last few are kept in memory."""

    def __init__(self) -> None:
        self.running = False
        self.faults: tuple[str, ...] = ()
        """Why the last run gave nothing; empty when it did."""
        self._kept: OrderedDict[tuple[str, str, str], KeptReview] = OrderedDict()
        self._last: KeptReview | None = None
        self._done: tuple[KeptReview | None, tuple[str, ...]] | None = None
        self._watched: tuple[Path, object] | None = None
        self._files, self._final = "", ""

    def start(self, seen: Surveyed, final: str = "") -> None:
        """Begin a review in a thread of its own.

        Parameters
        ----------
        seen : Surveyed
            The dossier.
        final : str
            File name of the final board's dossier, where this one is a prototype's; empty for none.

        Raises
        ------
        Refused
            If one runs already, or a file lies where the page may not read.
        """
        if self.running:
            raise Refused("a review runs already; one at a time may; wait until it is done")
        folder = folder_of(seen)
        if final and final not in finals(seen):
            raise Refused(f"{final!r} is no dossier beside this one; choose one of the list")
        self.running = True
        threading.Thread(target=self._work, args=(seen, folder, final), name="board review", daemon=True).start()

    def _work(self, seen: Surveyed, folder: Path, final: str) -> None:
        """Review, and leave the outcome to be collected; the thread changes nothing else."""
        assert seen.file.plan.dossier.board is not None and seen.file.plan.dossier.board.files is not None
        shown = seen.file.plan.dossier.board.files.value
        try:
            self._done = run_review(seen.file, folder, shown, final), ()
        except InputError as error:
            self._done = None, tuple(str(fault) for fault in error.faults)
        except FileFault as error:
            self._done = None, (f"{final}: {error.text}",)
        except Exception as error:  # a fault of ours must end the run in words, or the page waits for ever
            self._done = (
                None,
                (f"the review broke off ({type(error).__name__}: {str(error)[:200]}); run scanloom review",),
            )

    def collect(self) -> bool:
        """Take over what the thread has made.

        Returns
        -------
        bool
            Whether there was anything.
        """
        if self._done is None:
            return False
        (made, self.faults), self._done, self.running = self._done, None, False
        if made is None:
            return True
        if self._last is not None and made.key != self._last.key:
            before = {(v.code, v.subject): v.state for v in self._last.reviewed.survey.verdicts}
            made.since = since(before, made.reviewed.survey)
        elif self._last is not None:
            made.since = self._last.since
        self._last = self._kept[made.key] = made
        self._kept.move_to_end(made.key)
        while len(self._kept) > _KEPT:
            self._kept.popitem(last=False)
        self._watched, (_, self._files, self._final) = (made.path, made.signature), made.key
        return True

    def look_at_files(self, seen: Surveyed) -> bool:
        """Look whether the files are still those of the last review; their content counts, not their times.

        Parameters
        ----------
        seen : Surveyed
            The dossier.

        Returns
        -------
        bool
            Whether they have become others.
        """
        if self._last is None:
            return False
        try:
            folder = folder_of(seen)
            beside = self._last.final_path
            now = (folder, (signature(folder), None if beside is None else signature(beside)))
            if now == self._watched:
                return False
            self._watched = now
            files, final = files_mark(folder), "" if beside is None else file_sha256(read_text(beside))
        except (Refused, InputError, FileFault, OSError):
            files, final = "gone", self._final
        changed = (files, final) != (self._files, self._final)
        self._files, self._final = files, final
        return changed

    def view(self, seen: Surveyed) -> BoardView:
        """What the sheets show.

        Parameters
        ----------
        seen : Surveyed
            The dossier, perhaps with an edit that is not written.

        Returns
        -------
        BoardView
            The review that fits, else the last one, marked stale.
        """
        board = seen.file.plan.dossier.board
        named = board.files.value if board is not None and board.files is not None else ""
        grounds = grounds_mark(seen.file.plan) if self._last is not None else ""
        run = self._kept.get((grounds, self._files, self._final), self._last)
        stale = () if run is None else run.changed(grounds, self._files, self._final)
        survey = None if run is None else accepted_anew(run.reviewed, seen.file.plan).survey
        redraw = run is not None and bool(run.built) and run.rigs != pictures_mark(seen.file.plan)
        return BoardView(named, self.running, self.faults, run, stale, survey, redraw)

    def survey_for(self, code: str, seen: Surveyed) -> Survey:
        """Survey that a code belongs to: that of the dossier, or the board's review.

        Parameters
        ----------
        code : str
            Code of a check.
        seen : Surveyed
            The dossier.

        Returns
        -------
        Survey
            With the check in it, if there is such a check.

        Raises
        ------
        Refused
            If it is the board's, and no review stands.
        """
        if not code.startswith(BOARD):
            return seen.survey
        view = self.view(seen)
        if view.survey is None or view.stale:
            raise Refused("the board's files have not been reviewed as they are now; review them first, then accept")
        return view.survey


def folder_of(seen: Surveyed) -> Path:
    """Folder or zip that a dossier names, which the page may read.

    Parameters
    ----------
    seen : Surveyed
        The dossier.

    Returns
    -------
    Path
        Inside the folder of the dossier.

    Raises
    ------
    Refused
        If none is named, or it lies outside.
    """
    board, base = seen.file.plan.dossier.board, seen.file.path.parent
    if board is None or board.files is None:
        raise Refused("the dossier names no files of a board; board.files names their folder; write it there first")
    name = board.files.value
    try:
        path = (base / name).resolve()
        inside = path.is_relative_to(base.resolve())
    except (OSError, ValueError):
        inside = False
    if not inside:
        raise Refused(
            f"{name!r} lies outside the dossier's folder; the page reads only files inside it; move the folder there, "
            "or use scanloom review"
        )
    return path


def finals(seen: Surveyed) -> tuple[str, ...]:
    """Names of other TOML files beside a dossier, one of which may be that of the final board.

    Parameters
    ----------
    seen : Surveyed
        The dossier.

    Returns
    -------
    tuple of str
        By name; ordinary files of this very folder alone.
    """
    own = seen.file.path
    try:
        found = sorted(
            p.name for p in own.parent.glob("*.toml") if p.is_file() and not p.is_symlink() and p.name != own.name
        )
    except OSError:
        return ()
    return tuple(found[:_MOST_FINALS])
