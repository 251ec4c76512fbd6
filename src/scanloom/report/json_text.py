"""Results and verdicts as JSON, in one envelope for every command."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from scanloom import __version__
from scanloom.basis.span import Span
from scanloom.basis.verdict import Amount, Verdict
from scanloom.formats.input_error import InputFault
from scanloom.handbook.chip import Chip
from scanloom.report import documents as d
from scanloom.report import stage_documents as s
from scanloom.report import verdict_documents as v
from scanloom.report.rig_doc import stages_doc
from scanloom.survey import Survey, Trial


def envelope(
    command: str, result: Any, verdicts: Iterable[Verdict] = (), errors: Iterable[InputFault] | None = None
) -> str:
    """The one shape that every command prints.

    Parameters
    ----------
    command : str
        The command.
    result : object
        Its result, None when its input could not be read.
    verdicts : iterable of Verdict
        What it judged.
    errors : iterable of InputFault or None
        Faults of an unreadable input.

    Returns
    -------
    str
        JSON text with a final line end.
    """
    made: dict[str, Any] = {
        "tool": "scanloom",
        "version": __version__,
        "command": command,
        "result": result,
        "verdicts": [verdict_doc(v) for v in verdicts],
    }
    if errors is not None:
        made["errors"] = [
            v.ErrorDoc(file=e.file, line=e.line, column=e.column, path=e.path, text=e.text) for e in errors
        ]
    return json.dumps(made, ensure_ascii=False, indent=2, allow_nan=False) + "\n"


def verdict_doc(verdict: Verdict) -> v.VerdictDoc:
    """One verdict.

    Parameters
    ----------
    verdict : Verdict
        The verdict.

    Returns
    -------
    VerdictDoc
        For JSON.
    """
    settle, place = verdict.settle, verdict.place
    return v.VerdictDoc(
        code=verdict.code,
        subject=verdict.subject,
        rig=verdict.rig,
        state=verdict.state,
        judged=verdict.judged,
        weight=verdict.weight,
        says=verdict.says,
        found=_amount(verdict.found),
        limit=_amount(verdict.limit),
        margin=verdict.margin,
        rests_on=[
            v.FactDoc(key=f.key, text=f.text, origin=f.origin, detail=f.detail, source=f.source, guess=f.is_guess)
            for f in verdict.rests_on
        ],
        on_guess=verdict.on_guess,
        settle=None
        if settle is None
        else v.SettleDoc(
            what=settle.what,
            holds_if=settle.holds_if,
            fails_if=settle.fails_if,
            minutes=settle.minutes,
            fact=settle.fact,
        ),
        remedy=[v.PatchDoc(key=p.key, value=p.value, says=p.says) for p in verdict.remedy],
        sources=[v.SourceDoc(title=s.title, place=s.place, standing=s.standing) for s in verdict.sources],
        place=None
        if place is None
        else v.PlaceDoc(file=place.file, layer=place.layer, x_mm=place.x_mm, y_mm=place.y_mm, pin=place.pin),
        because=verdict.because,
    )


def chip_doc(chip: Chip) -> d.ChipDoc:
    """A whole chip record.

    Parameters
    ----------
    chip : Chip
        The chip.

    Returns
    -------
    ChipDoc
        For JSON.
    """
    return d.ChipDoc(
        name=chip.name,
        record=_plain(chip.table.model_dump(exclude_none=True)),
        sources={
            key: {"title": s.title, "edition": s.edition, "standing": s.standing, "read": s.read}
            for key, s in sorted(chip.sources.items())
        },
    )


def check_doc(file: str, title: str, survey: Survey, chip: str, *, strict: bool = False) -> d.CheckDoc:
    """A whole survey.

    Parameters
    ----------
    file : str
        The dossier's file.
    title : str
        Its title.
    survey : Survey
        The survey.
    chip : str
        Name of the chip.
    strict : bool
        Whether a stop that holds on a guess counts as unknown.

    Returns
    -------
    CheckDoc
        For JSON.
    """
    return d.CheckDoc(
        file=file,
        title=title,
        ready=survey.exit_code(strict=strict) == 0,
        counts=counts_doc(survey),
        rigs=[s.RigDoc(name=rig.name, stages=stages_doc(rig, chip)) for rig in survey.rigs],
    )


def counts_doc(survey: Survey) -> d.CountsDoc:
    """Checks by state.

    Parameters
    ----------
    survey : Survey
        The survey.

    Returns
    -------
    CountsDoc
        For JSON.
    """
    return d.CountsDoc(
        holds=survey.count("holds"),
        fails=survey.count("fails"),
        unknown=survey.count("unknown"),
        accepted=survey.count("accepted"),
        stale=survey.count("stale"),
        on_guess=len(survey.on_guess),
    )


def tried_doc(patches: Mapping[str, str], trial: Trial, *, written: bool) -> d.TriedDoc:
    """What a tried change does.

    Parameters
    ----------
    patches : Mapping
        Places and new values.
    trial : Trial
        The trial.
    written : bool
        Whether the change was written in the end.

    Returns
    -------
    TriedDoc
        For JSON.
    """

    def listed(changes: Iterable[Any]) -> list[d.ChangeDoc]:
        made: list[d.ChangeDoc] = []
        for change in changes:
            one = change.after or change.before
            made.append(
                d.ChangeDoc(
                    code=one.code,
                    subject=one.subject,
                    rig=one.rig,
                    before=change.before.state if change.before else None,
                    after=change.after.state if change.after else None,
                )
            )
        return made

    return d.TriedDoc(
        patches=dict(patches),
        mended=listed(trial.mended),
        broken=listed(trial.broken),
        moved=listed(trial.moved),
        written=written,
    )


def _amount(one: Amount | None) -> v.AmountDoc | None:
    """An amount, if there is one."""
    return None if one is None else v.AmountDoc(low=one.low, typical=one.typical, high=one.high, unit=one.unit)


def _plain(value: Any) -> Any:
    """Plain JSON of a record: decimals as numbers, spans as three numbers."""
    if isinstance(value, dict):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, Span):
        return [value.low, value.typical, value.high]
    if isinstance(value, (list, tuple)):
        return [_plain(v) for v in value]
    if value is None or isinstance(value, (str, int, float, bool)):
        return value
    return float(value)
