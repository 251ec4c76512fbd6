"""One review of the board's files as the page keeps it, with everything drawn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from markupsafe import Markup

from scanloom.basis.fact import Fact
from scanloom.basis.record import record
from scanloom.basis.verdict import Verdict
from scanloom.formats.dossier_file import DossierFile, read_dossier
from scanloom.report.html import counted
from scanloom.report.open_verdicts import opened_first, worst_state
from scanloom.survey import Survey
from scanloom.survey.review import Reviewed, Since, grounds_mark, pictures_mark, shown_as_built
from scanloom.web.folder_marks import names_mark, signature

if TYPE_CHECKING:
    from scanloom.stages.board.differences import Difference
    from scanloom.stages.board.model import BoardFiles
    from scanloom.survey.as_built_model import BuiltShown

NOT_YET = "not reviewed yet; it runs on request"


@dataclass(slots=True)
class KeptReview:
    """One review.

    Parameters
    ----------
    key : tuple of str
        Fingerprints of what it rests on: dossier, files, dossier of the final board.
    path : Path
        Folder or zip.
    shown : str
        The same as the dossier names it.
    signature : object
        Times and sizes of the files when they were read.
    final_path : Path or None
        Dossier of the final board.
    reviewed : Reviewed
        The review, with what was accepted then.
    files : BoardFiles
        The files, for the page to print.
    crops : Mapping
        SVG and words of a finding's place, by code and subject.
    sheets : tuple
        Words and image of each copper side 1:1; none where no tool path is.
    unlike : tuple of Difference
        Differences to the final board.
    """

    key: tuple[str, str, str]
    path: Path
    shown: str
    signature: object
    final_path: Path | None
    reviewed: Reviewed
    files: BoardFiles
    crops: Mapping[tuple[str, str], tuple[Markup, str]]
    sheets: tuple[tuple[str, str], ...]
    unlike: tuple[Difference, ...]
    drawn: BuiltShown | None = field(default=None)
    """What displays would show, where a finding concerns that."""
    built: Mapping[tuple[str, str], Markup] = field(default_factory=dict)
    """The same as pictures and words, by code and subject of the finding."""
    rigs: str = ""
    """Fingerprint of the rigs that they are drawn for."""
    since: Since | None = field(default=None)
    """What changed since the review before."""

    def changed(self, grounds: str, files: str, final: str) -> tuple[str, ...]:
        """What has become another since.

        Parameters
        ----------
        grounds : str
            Fingerprint of the dossier now.
        files : str
            Of the files now.
        final : str
            Of the final board's dossier now.

        Returns
        -------
        tuple of str
            In words; empty when it still stands.
        """
        names = ("facts of the dossier that it may rest on", "the files", "the dossier of the final board")
        pairs = zip(names, self.key, (grounds, files, final), strict=True)
        return tuple(name for name, then, now in pairs if then != now)

    def page(self, title: str, survey: Survey) -> str:
        """The review as a page to print.

        Parameters
        ----------
        title : str
            Title of the dossier.
        survey : Survey
            Its verdicts, with what is accepted now.

        Returns
        -------
        str
            HTML.
        """
        from scanloom.report.prototype_page import prototype_sections
        from scanloom.report.review_page import review_page

        now = Reviewed(self.reviewed.review, survey, self.reviewed.made)
        extra = prototype_sections(now, self.files, self.unlike)
        return review_page(title, self.shown, now, self.files, self.since, extra, self.drawn)


@record
class BoardView:
    """What the sheets of board and prototype show.

    Parameters
    ----------
    named : str
        Folder that the dossier names; empty for none.
    running : bool
        Whether a review runs.
    faults : tuple of str
        Why the last run gave nothing.
    run : KeptReview or None
        The review that is shown.
    stale : tuple of str
        What has changed since.
    survey : Survey or None
        Its verdicts, with what is accepted now.
    redraw : bool
        Whether the rigs are others than those that pictures are drawn for.
    """

    named: str
    running: bool
    faults: tuple[str, ...]
    run: KeptReview | None
    stale: tuple[str, ...]
    survey: Survey | None
    redraw: bool = False

    @property
    def state(self) -> str:
        """State of the whole: that of its worst check, or stale, or unknown."""
        if self.survey is None or self.faults:
            return "unknown"
        return "stale" if self.stale else worst_state(self.survey.verdicts)

    @property
    def line(self) -> str:
        """What was found, in one line."""
        if not self.named:
            return "the dossier names no files of a board"
        if self.running:
            return "the review runs"
        if self.faults:
            return "the last review gave nothing"
        if self.survey is None:
            return NOT_YET
        return ("before the last change: " if self.stale else "") + counted(self.survey.verdicts)

    @property
    def paths(self) -> list[Verdict]:
        """Checks of the tool paths."""
        made = () if self.survey is None else self.survey.verdicts
        return [v for v in made if v.code.startswith("board.tool-path")]

    @property
    def paths_state(self) -> str:
        """State of the prototype: that of its tool paths alone."""
        return self.state if self.state in ("stale", "unknown") else worst_state(self.paths)

    @property
    def paths_line(self) -> str:
        """What was found of the tool paths, in one line."""
        if self.running or self.faults or self.survey is None:
            return self.line
        if not self.paths:
            return "no tool path is among the files"
        return ("before the last change: " if self.stale else "") + counted(self.paths)

    def closing(self, lines: Sequence[str]) -> list[str]:
        """The state of the plan with that of the board's files.

        Parameters
        ----------
        lines : sequence of str
            What the survey says of the dossier alone.

        Returns
        -------
        list of str
            Where the files stand in the way, no sentence says that nothing does.
        """
        if not self.named:
            return list(lines)
        if self.survey is None:
            return [*lines, "The board's files are not reviewed."]
        if self.stale:
            return [*lines, "The review of the board's files is stale."]
        blocking = len(self.survey.blocking(strict=False))
        if not blocking:
            return [*lines, "Nothing is open in the board's files."]
        rest = lines[1:] if lines[0].startswith("Nothing") else lines
        return [
            f"Not ready: {blocking} {'finding' if blocking == 1 else 'findings'} in the board's files to settle.",
            *rest,
        ]

    def with_board(self, survey: Survey) -> Survey:
        """All that is open, in the dossier and in the board's files.

        Parameters
        ----------
        survey : Survey
            That of the dossier.

        Returns
        -------
        Survey
            With the review's verdicts behind, unless they are stale.
        """
        if self.survey is None or self.stale:
            return survey
        return Survey(survey.rigs, (*survey.verdicts, *map(self._beside, self.survey.verdicts)))

    def _beside(self, verdict: Verdict) -> Verdict:
        """A finding for the list of open verdicts: its files left out, its doubt called one, its place told."""
        settle = verdict.settle
        if settle is not None and verdict.state == "fails":
            settle = replace(settle, what=f"Look at its place on the sheet Board. False alarm? {settle.what}")
        return replace(verdict, rests_on=tuple(self.facts(verdict)), settle=settle)

    @property
    def opened(self) -> list[Verdict]:
        """Findings that do not hold, the worst first."""
        return [] if self.survey is None else opened_first(self.survey.verdicts)[0]

    def facts(self, verdict: Verdict) -> list[Fact]:
        """What a finding rests on in the dossier.

        Parameters
        ----------
        verdict : Verdict
            The finding.

        Returns
        -------
        list of Fact
            Guesses first; the files are left out, since the finding names its own.
        """
        return sorted((f for f in verdict.rests_on if not f.key.startswith("files.")), key=lambda f: not f.is_guess)

    @property
    def held(self) -> list[Verdict]:
        """Checks that hold."""
        return [] if self.survey is None else opened_first(self.survey.verdicts)[1]


def run_review(file: DossierFile, path: Path, shown: str, final: str) -> KeptReview:
    """Read, review and draw.

    Parameters
    ----------
    file : DossierFile
        The dossier.
    path : Path
        Folder or zip of the files.
    shown : str
        The same as the dossier names it.
    final : str
        File name of the final board's dossier beside this one; empty for none.

    Returns
    -------
    KeptReview
        Complete.

    Raises
    ------
    InputError
        If the files or that dossier cannot be read.
    """
    # polygons and arrays are heavy; the page loads them only here
    from scanloom.formats.board_files import read_board_files
    from scanloom.report.board_svg import paper
    from scanloom.report.prototype_page import side_sheets
    from scanloom.report.review_page import built_sections
    from scanloom.stages.board.differences import differences
    from scanloom.survey.review import review_board

    beside = file.path.parent / final if final else None
    at = (signature(path), None if beside is None else signature(beside))
    files = read_board_files(path, shown)
    other = None if beside is None else read_dossier(beside, final)
    reviewed = review_board(file.plan, files)
    marks = (
        grounds_mark(file.plan),
        names_mark((role.file, role.sha256) for role in files.roles),
        "" if other is None else other.sha256,
    )
    sheets = [(words, paper(svg) if svg else "") for words, svg in side_sheets(files)] if files.tool_paths else []
    unlike = () if other is None else differences(file.plan, other.plan)
    drawn = shown_as_built(file.plan, reviewed)
    built = {finding: Markup(html) for finding, html in built_sections(drawn).items()}
    crops = _crops(reviewed, files)
    return KeptReview(
        marks,
        path,
        shown,
        at,
        beside,
        reviewed,
        files,
        crops,
        tuple(sheets),
        unlike,
        drawn,
        built,
        pictures_mark(file.plan),
    )


def _crops(reviewed: Reviewed, files: BoardFiles) -> dict[tuple[str, str], tuple[Markup, str]]:
    """Drawings of the places of findings, accepted ones too."""
    from scanloom.report.board_svg import Drawer
    from scanloom.report.board_whole import whole_board
    from scanloom.report.review_page import MOST_DRAWINGS

    drawer = Drawer(files)
    made: dict[tuple[str, str], tuple[Markup, str]] = {}
    for verdict in opened_first(reviewed.survey.verdicts)[0]:
        if verdict.place is None or verdict.judged == "unknown" or len(made) == MOST_DRAWINGS:
            continue
        svg, words = whole_board(files, verdict)
        if not svg:
            svg, words = drawer.crop(verdict.place)
        if svg:
            made[verdict.code, verdict.subject] = Markup(svg), words
    return made
