"""Writing an acceptance: the text that a dossier has with it."""

from __future__ import annotations

import difflib

from scanloom.formats.dossier_file import DossierFile
from scanloom.survey.acceptance import NEEDS_NAME, covered_by, mark_of
from scanloom.survey.run import Survey


class NotAcceptable(Exception):
    """A check that cannot be accepted as asked for: says why, and what may be.

    Parameters
    ----------
    text : str
        The sentence.
    wants_name : bool
        Whether a name is missing.
    wants_rig : bool
        Whether the rig is wrong.
    """

    def __init__(self, text: str, *, wants_name: bool = False, wants_rig: bool = False) -> None:
        super().__init__(text)
        self.wants_name = wants_name
        self.wants_rig = wants_rig


def accepted_text(
    file: DossierFile, survey: Survey, code: str, subject: str, because: str, *, rig: str | None = None, by: str = ""
) -> str:
    """Text of a dossier with one more check accepted, or an older acceptance of it renewed.

    Parameters
    ----------
    file : DossierFile
        The dossier.
    survey : Survey
        Its survey.
    code : str
        Code of the check.
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
        Comments and order kept.

    Raises
    ------
    NotAcceptable
        If there is no such check, it holds, or a name is needed.
    """
    from scanloom.formats.toml_edit import append_table, set_value  # the editor costs a start-up

    covered = [survey.verdicts[i] for i in covered_by(survey.verdicts, code, subject, rig or "")]
    still = [v for v in covered if v.judged != "holds"]
    if not still:
        raise _not_acceptable(survey, code, subject, rig, bool(covered))
    if not by.strip() and any(v.code in NEEDS_NAME and v.weight == "stop" for v in still):
        raise NotAcceptable(
            f"{code} {subject} passes a limit on current; whoever accepts that must be named", wants_name=True
        )
    mark = mark_of(covered)
    given = {"because": because, **({"by": by.strip()} if by.strip() else {}), "mark": mark}
    for number, old in enumerate(file.plan.dossier.accepted):
        if (old.code, old.subject, old.rig) == (code, subject, rig or ""):
            text = file.text
            for key, value in given.items():
                text = set_value(text, ("accepted", number, key), value)
            return text
    entry = {"code": code, "subject": subject, **({"rig": rig} if rig else {}), **given}
    return append_table(file.text, "accepted", entry)


def _not_acceptable(survey: Survey, code: str, subject: str, rig: str | None, holds: bool) -> NotAcceptable:
    """Why a check cannot be accepted, and what may be."""
    rigs = [r.name for r in survey.rigs]
    if rig is not None and rig not in rigs:
        return NotAcceptable(f"{rig!r} is no rig; {', '.join(rigs)} are allowed", wants_rig=True)
    if holds:
        return NotAcceptable(f"{code} {subject} holds, so there is nothing to accept; leave it")
    waiting = sorted({f"{v.code} {v.subject}" for v in survey.verdicts if v.judged != "holds" and v.weight != "note"})
    near = difflib.get_close_matches(f"{code} {subject}", waiting, 1, 0.6)
    meant = f"did you mean {near[0]}?" if near else "copy code and subject from the survey"
    some = "; ".join(waiting[:6]) or "nothing"
    return NotAcceptable(f"{code} {subject} is no check of this survey; {some} may be accepted; {meant}")
