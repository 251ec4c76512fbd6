"""What the templates show: one sheet of one rig, with strip, thread and open verdicts around it."""

from __future__ import annotations

from dataclasses import fields as dataclass_fields
from typing import Any

from scanloom.basis.record import record
from scanloom.basis.verdict import Verdict
from scanloom.report.closing import closing
from scanloom.report.fact_rows import decisions, fact_rows
from scanloom.report.html import counted
from scanloom.report.on_request import OnRequest, inputs_mark
from scanloom.report.open_verdicts import accepted_harm, open_groups, worst_state
from scanloom.report.stage_sheets import SHEETS, Sheet, SheetInput, waits_on
from scanloom.report.strip import budget
from scanloom.survey import RigSurvey
from scanloom.web.board import finals
from scanloom.web.desk import Desk, Surveyed
from scanloom.web.fields import FieldView, field_views
from scanloom.web.shelf import Kept

FACTS, DECISIONS = "facts", "decisions"
EXTRA = {FACTS: "Facts", DECISIONS: "Decisions"}
BOARD, PROTOTYPE = "board", "prototype"
ON_REQUEST = {BOARD: "Board", PROTOTYPE: "Prototype"}
"""Sheets of the review of the board's files, which runs only when asked for."""
_REVIEW_FIELDS = {BOARD: ("board.files", "board.revision"), PROTOTYPE: ()}


@record
class Address:
    """What a page shows.

    Parameters
    ----------
    sheet : str
        Name of a sheet.
    rig : str
        Name of a rig.
    display : str
        Name of a display.
    """

    sheet: str
    rig: str
    display: str

    def to(self, sheet: str = "", rig: str = "", display: str = "") -> str:
        """Address of a neighbour: what is not named stays.

        Parameters
        ----------
        sheet : str
            Another sheet.
        rig : str
            Another rig.
        display : str
            Another display.

        Returns
        -------
        str
            Path and query.
        """
        named = {"rig": rig or self.rig, "display": display or self.display}
        query = "&".join(f"{key}={value}" for key, value in named.items() if value)
        return f"/sheet/{sheet or self.sheet}" + (f"?{query}" if query else "")


@record
class Step:
    """One stage on the thread.

    Parameters
    ----------
    name : str
        Its name.
    title : str
        Its heading.
    state : str
        Of its worst check.
    line : str
        What it found.
    waits : str
        Stage it waits on; empty when it does not.
    """

    name: str
    title: str
    state: str
    line: str
    waits: str


@record
class Offer:
    """Work that a sheet offers, and what came out the last time.

    Parameters
    ----------
    request : OnRequest
        The work.
    kept : Kept or None
        Its last answer for the rig.
    stale : bool
        Whether something it rests on has changed since.
    """

    request: OnRequest
    kept: Kept | None
    stale: bool


def address(desk: Desk, sheet: str, rig: str, display: str) -> Address | None:
    """What is to be shown, names that lead nowhere replaced.

    Parameters
    ----------
    desk : Desk
        The open dossier.
    sheet : str
        Sheet asked for; empty for the first that needs looking at.
    rig : str
        Rig asked for.
    display : str
        Display asked for.

    Returns
    -------
    Address or None
        None when there is no such sheet.
    """
    if desk.good is None:
        return Address(sheet or SHEETS[0].name, "", "")
    rigs = [one.name for one in desk.good.survey.rigs]
    displays = list(desk.good.file.plan.displays)
    rig = rig if rig in rigs else (rigs[0] if rigs else "")
    display = display if display in displays else (displays[0] if displays else "")
    if not sheet:
        sheet = _first_open(desk.good, rig, display)
    known = {one.name for one in SHEETS} | set(EXTRA) | set(ON_REQUEST)
    return Address(sheet, rig, display) if sheet in known else None


def regions(desk: Desk, seen: Surveyed, at: Address, *, unwritten: bool) -> dict[str, Any]:
    """Everything that changes with a survey.

    Parameters
    ----------
    desk : Desk
        The open dossier.
    seen : Surveyed
        What to show; with an edit that is not written yet, another one than the desk's.
    at : Address
        Where.
    unwritten : bool
        Whether it shows an edit that is not in the file.

    Returns
    -------
    dict
        Names for the templates.
    """
    survey = seen.survey
    rig = next((one for one in survey.rigs if one.name == at.rig), None)
    given = given_at(seen, at)
    sheet = next((one for one in SHEETS if one.name == at.sheet), None)
    checks: tuple[Verdict, ...] = sheet.verdicts(given) if sheet is not None else ()
    board = desk.board.view(seen)
    milled = board.run is not None and bool(board.run.files.tool_paths)
    return {
        "at": at,
        "desk": desk,
        "seen": seen,
        "survey": survey,
        "rig": rig,
        "unwritten": unwritten,
        "gauges": budget(given),
        "steps": [*_thread(given), Step(BOARD, ON_REQUEST[BOARD], board.state, board.line, "")],
        "extra": EXTRA | ({PROTOTYPE: ON_REQUEST[PROTOTYPE]} if milled or at.sheet == PROTOTYPE else {}),
        "board": board,
        "finals": finals(seen) if at.sheet in ON_REQUEST and milled else (),
        "sheet": sheet,
        "state": worst_state(checks),
        "line": sheet.line(given) if sheet is not None else "",
        "drawings": sheet.drawings(given) if sheet is not None else (),
        "offers": offers(desk, seen, at),
        "checks": checks,
        "counted": counted(checks),
        "groups": open_groups(board.with_board(survey)),
        "notes": open_groups(survey, notes=True),
        "harm": accepted_harm(survey),
        "closing": board.closing(closing(survey, strict=False)),
        "facts": fact_rows(seen.file.plan, survey) if at.sheet == FACTS else (),
        "decisions": decisions(seen.file.plan) if at.sheet == DECISIONS else (),
        "accepted": seen.file.plan.dossier.accepted,
    }


def offers(desk: Desk, seen: Surveyed, at: Address) -> tuple[Offer, ...]:
    """Work that the sheet offers on request.

    Parameters
    ----------
    desk : Desk
        The open dossier, which keeps what came out.
    seen : Surveyed
        What is shown.
    at : Address
        Where.

    Returns
    -------
    tuple of Offer
        In the order of the sheet.
    """
    sheet, made = sheet_of(at), []
    for request in sheet.requests if sheet is not None else ():
        kept = desk.shelf.get(request.name, at.rig)
        stale = kept is not None and kept.mark != inputs_mark(given_at(seen, at), seen.file.data)
        made.append(Offer(request, kept, stale))
    return tuple(made)


def fields(seen: Surveyed, at: Address) -> list[FieldView]:
    """Fields of a sheet.

    Parameters
    ----------
    seen : Surveyed
        What is in the file.
    at : Address
        Where.

    Returns
    -------
    list of FieldView
        In the order of the sheet.
    """
    sheet = next((one for one in SHEETS if one.name == at.sheet), None)
    keys = sheet.fields(given_at(seen, at)) if sheet is not None else _REVIEW_FIELDS.get(at.sheet, ())
    return [view for key in keys for view in field_views(key, seen.file.data, seen.file.plan)]


def sheet_of(at: Address) -> Sheet | None:
    """The sheet that is shown.

    Parameters
    ----------
    at : Address
        Where.

    Returns
    -------
    Sheet or None
        None for facts and decisions, which are no stage.
    """
    return next((one for one in SHEETS if one.name == at.sheet), None)


_NOTHING: dict[str, Any] = {one.name: None for one in dataclass_fields(RigSurvey)}
_NO_RIG = RigSurvey(**(_NOTHING | {"name": ""}))


def given_at(seen: Surveyed, at: Address) -> SheetInput:
    """What sheets are drawn from; a dossier without a rig shows sheets that know nothing.

    Parameters
    ----------
    seen : Surveyed
        What is shown.
    at : Address
        Where.

    Returns
    -------
    SheetInput
        For the sheet.
    """
    rig = next((one for one in seen.survey.rigs if one.name == at.rig), _NO_RIG)
    display = at.display if at.display in seen.file.plan.displays else ""
    return SheetInput(seen.file.plan, seen.survey, rig, display)


def _thread(given: SheetInput) -> list[Step]:
    """Stages in their order."""
    made = []
    for sheet in SHEETS:
        waits = waits_on(given, sheet.name)
        state = "unknown" if waits else worst_state(sheet.verdicts(given))
        made.append(Step(sheet.name, sheet.title, state, sheet.line(given), waits))
    return made


def _first_open(seen: Surveyed, rig: str, display: str) -> str:
    """First sheet with something open that counts, else the first of all."""
    given = given_at(seen, Address("", rig, display))
    for sheet in SHEETS:
        if any(v.is_open and v.weight != "note" for v in sheet.verdicts(given)):
            return sheet.name
    return SHEETS[0].name
