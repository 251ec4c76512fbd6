"""The review of a board's files, with what the maker accepted, and what changed since an earlier review."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from scanloom.basis.record import record
from scanloom.basis.verdict import Verdict
from scanloom.dossier.model import Accepted
from scanloom.dossier.plan import Plan
from scanloom.dossier.reading import Reading
from scanloom.survey.acceptance import accept
from scanloom.survey.run import Survey

if TYPE_CHECKING:
    from scanloom.stages.board import BoardReview
    from scanloom.stages.board.model import BoardFiles
    from scanloom.survey.as_built_model import BuiltShown

BOARD = "board."
"""What the codes of the review begin with."""
CONCERNS = (
    "board.lane-level", "board.lane-path", "board.no-series-part", "board.part-value", "board.connector-function",
    "board.sync-path",
)  # fmt: skip
"""Codes of the review that say something of what a display shows."""
PLACE = "board.connectors."


@record
class Reviewed:
    """A review of a board's files.

    Parameters
    ----------
    review : BoardReview
        What was found.
    survey : Survey
        All verdicts, acceptances applied; no rigs.
    made : tuple of Verdict
        The verdicts as the stage made them.
    """

    review: BoardReview
    survey: Survey
    made: tuple[Verdict, ...] = ()


@record
class Since:
    """What changed since an earlier review, as code and subject.

    Parameters
    ----------
    mended : tuple of str
        Failed or stood open then, holds now or is not asked any more.
    new : tuple of str
        Fails now and did not then.
    """

    mended: tuple[str, ...]
    new: tuple[str, ...]


def review_board(plan: Plan, files: BoardFiles) -> Reviewed:
    """Review a board's files against a dossier.

    Parameters
    ----------
    plan : Plan
        The dossier made ready.
    files : BoardFiles
        What was read from the folder.

    Returns
    -------
    Reviewed
        Findings and verdicts.
    """
    from scanloom.stages.board import judge_board  # polygons and arrays: only the review loads them

    outcome = judge_board(Reading(plan), files)
    assert outcome.result is not None
    survey = Survey((), accept(outcome.verdicts, of_board(plan.dossier.accepted)))
    return Reviewed(outcome.result, survey, outcome.verdicts)


def concerned(verdicts: Iterable[Verdict]) -> dict[str, tuple[tuple[str, str], ...]]:
    """Findings that concern what a display shows, by connector.

    Parameters
    ----------
    verdicts : iterable of Verdict
        Verdicts of a review.

    Returns
    -------
    dict
        Code and subject of those that fail, or are unknown with a number found.
    """
    made: dict[str, list[tuple[str, str]]] = {}
    for v in verdicts:
        open_one = v.judged == "fails" or (v.judged == "unknown" and v.found is not None)
        if v.code in CONCERNS and v.subject.startswith(PLACE) and open_one:
            name = v.subject.removeprefix(PLACE).partition("#")[0].rpartition(".")[0]
            made.setdefault(name, []).append((v.code, v.subject))
    return {name: tuple(findings) for name, findings in made.items()}


def shown_as_built(plan: Plan, reviewed: Reviewed) -> BuiltShown | None:
    """What displays would show with the board as the files have it, where a finding concerns that.

    Parameters
    ----------
    plan : Plan
        The dossier made ready.
    reviewed : Reviewed
        The review.

    Returns
    -------
    BuiltShown or None
        None where no finding does; nothing of the picture is loaded then.
    """
    if not concerned(reviewed.made):
        return None
    from scanloom.survey.as_built import draw_as_built

    return draw_as_built(plan, reviewed.review, reviewed.made)


def accepted_anew(reviewed: Reviewed, plan: Plan) -> Reviewed:
    """A kept review with what the dossier accepts now; nothing is reviewed again.

    Parameters
    ----------
    reviewed : Reviewed
        The review.
    plan : Plan
        The dossier as it is now.

    Returns
    -------
    Reviewed
        The same findings.
    """
    survey = Survey((), accept(reviewed.made, of_board(plan.dossier.accepted)))
    return Reviewed(reviewed.review, survey, reviewed.made)


def grounds_mark(plan: Plan) -> str:
    """Fingerprint of all in a dossier that a review may rest on: board, levels, chip and displays.

    Parameters
    ----------
    plan : Plan
        The dossier made ready.

    Returns
    -------
    str
        Sixteen hexadecimal digits; what is accepted does not count, since that is applied afterwards.
    """
    stated = plan.dossier
    # a display counts with all it states: which part of it a check reads hangs on how the board drives it
    grounds = (stated.board, stated.levels, stated.chip, plan.chip, sorted(plan.displays.items()))
    return hashlib.sha256(repr(grounds).encode()).hexdigest()[:16]


def pictures_mark(plan: Plan) -> str:
    """Fingerprint of what pictures of a review rest on besides: the rigs, which say what is sent.

    Parameters
    ----------
    plan : Plan
        The dossier made ready.

    Returns
    -------
    str
        Sixteen hexadecimal digits.
    """
    return hashlib.sha256(repr(plan.rigs).encode()).hexdigest()[:16]


def of_board(accepted: Iterable[Accepted]) -> tuple[Accepted, ...]:
    """Acceptances that speak of the review; a survey of the dossier leaves these alone.

    Parameters
    ----------
    accepted : iterable of Accepted
        All of a dossier.

    Returns
    -------
    tuple of Accepted
        Those with a code of the board.
    """
    return tuple(one for one in accepted if one.code.startswith(BOARD))


def since(before: Mapping[tuple[str, str], str], survey: Survey) -> Since:
    """Compare a review with an earlier one.

    Parameters
    ----------
    before : Mapping
        States of the earlier review by code and subject.
    survey : Survey
        The present one.

    Returns
    -------
    Since
        What was mended and what is new.
    """
    now = {(v.code, v.subject): v.state for v in survey.verdicts}
    open_then = [key for key, state in before.items() if state in ("fails", "stale")]
    mended = [key for key in open_then if now.get(key, "holds") in ("holds", "accepted")]
    new = [
        key for key, state in now.items() if state == "fails" and before.get(key) not in ("fails", "stale", "accepted")
    ]
    return Since(tuple(" ".join(key) for key in mended), tuple(" ".join(key) for key in new))
