"""`scanloom check`: survey a dossier."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from scanloom.cli.door import Refused, answer, console, write

if TYPE_CHECKING:
    from scanloom.formats.dossier_file import DossierFile
    from scanloom.survey import Survey, Trial
    from scanloom.survey.accepting import NotAcceptable


def check(
    dossier: Path,
    *,
    json: Annotated[bool, Parameter(negative="")] = False,
    strict: Annotated[bool, Parameter(negative="")] = False,
    all: Annotated[bool, Parameter(negative="")] = False,
    try_: Annotated[list[str] | None, Parameter(name="--try", negative="")] = None,
    keep: Annotated[bool, Parameter(negative="")] = False,
    accept: Annotated[tuple[str, str] | None, Parameter(negative="")] = None,
    because: str | None = None,
    by: str | None = None,
    rig: str | None = None,
) -> int:
    """Recompute every fact of a dossier and judge it, for every rig.

    Parameters
    ----------
    dossier
        The dossier, a TOML file.
    json
        Print JSON.
    strict
        Count a stop that holds only on a guess as unknown.
    all
        List the checks that hold, too.
    try_
        Survey with a value changed, KEY=VALUE, and show what that mends and breaks; nothing is written. May be repeated.
    keep
        Write the values of --try into the dossier.
    accept
        Accept the check CODE about SUBJECT as it is: writes it into the dossier with a fingerprint of what it rests on.
    because
        The reason, needed with --accept.
    by
        Who accepts it, needed with --accept where a limit on current is passed.
    rig
        With --accept: for this rig alone.

    Returns
    -------
    int
        0 nothing stands in the way, 1 something does, 2 the input cannot be read.
    """

    def work() -> int:
        from scanloom.formats.dossier_file import read_dossier
        from scanloom.survey import survey_plan

        file = read_dossier(dossier, str(dossier))
        if accept is not None:
            return _accept(file, accept, because, by, rig, json, strict)
        if because is not None or rig is not None or by is not None:
            raise Refused("--because, --by, --rig", "they go with --accept CODE SUBJECT; add it or leave them out")
        if keep and not try_:
            raise Refused("--keep", "it keeps the values of --try KEY=VALUE; add one")
        survey = survey_plan(file.plan)
        trial: Trial | None = None
        patches = dict(_patch(word) for word in try_ or ())
        if patches:
            from scanloom.survey import try_patches

            trial = try_patches(file, list(patches.items()), survey)
            if keep:
                _write(file, trial.text)
            survey = trial.survey
        return _show(file, survey, json, strict, all, patches, trial, keep)

    return answer("check", json, work)


def _show(
    file: DossierFile,
    survey: Survey,
    json: bool,
    strict: bool,
    every: bool,
    patches: dict[str, str],
    trial: Trial | None,
    kept: bool,
) -> int:
    """Print a survey in the form asked for."""
    title = file.plan.dossier.dossier.title
    if json:
        from scanloom.report.json_text import check_doc, envelope, tried_doc

        chip = file.plan.chip.name if file.plan.chip else ""
        result = check_doc(file.shown, title, survey, chip, strict=strict)
        if trial is not None:
            result["tried"] = tried_doc(patches, trial, written=kept)
        write(envelope("check", result, survey.verdicts))
    else:
        from scanloom.report.text import print_check

        print_check(console(), title, file.shown, survey, strict=strict, every=every, trial=trial)
        if kept:
            print(f"Written to {file.shown}.", file=sys.stderr)
    return survey.exit_code(strict=strict)


def _accept(
    file: DossierFile,
    what: tuple[str, str],
    because: str | None,
    by: str | None,
    rig: str | None,
    json: bool,
    strict: bool,
) -> int:
    """Write an acceptance with its mark, and survey again."""
    from scanloom.formats.dossier_file import read_dossier
    from scanloom.survey import survey_plan

    if not because or not because.strip():
        raise Refused("--accept", "no reason is given; an acceptance needs one; add --because 'why'")
    write_acceptance(file, survey_plan(file.plan), what, because, rig, by or "")
    fresh = read_dossier(file.path, file.shown)
    return _show(fresh, survey_plan(fresh.plan), json, strict, False, {}, None, False)


def write_acceptance(
    file: DossierFile, survey: Survey, what: tuple[str, str], because: str, rig: str | None = None, by: str = ""
) -> None:
    """Write an acceptance with its mark into a dossier.

    Parameters
    ----------
    file : DossierFile
        The dossier.
    survey : Survey
        The verdicts that may be accepted.
    what : tuple of str
        Code and subject accepted.
    because : str
        The reason.
    rig : str or None
        The rig it is for, None for all.
    by : str
        Who accepts; empty where no name is wanted.

    Raises
    ------
    Refused
        If no such check waits, or no reason is given.
    """
    from scanloom.survey.accepting import NotAcceptable, accepted_text

    if not because.strip():
        raise Refused("--accept", "no reason is given; an acceptance needs one; add --because 'why'")
    try:
        text = accepted_text(file, survey, what[0], what[1], because, rig=rig, by=by)
    except NotAcceptable as error:
        raise Refused("--accept", f"{error}{_hint(error)}") from None
    _write(file, text)


def _hint(error: NotAcceptable) -> str:
    """What to type, where it is not in the words already."""
    return "; add --by NAME" if error.wants_name else "; correct --rig" if error.wants_rig else ""


def _write(file: DossierFile, text: str) -> None:
    """Write the dossier, unless somebody else has changed it meanwhile."""
    from scanloom.formats.input_error import InputError, InputFault
    from scanloom.formats.text_file import FileFault
    from scanloom.formats.text_write import write_text_atomically

    try:
        write_text_atomically(file.path, text, file.sha256)
    except FileFault as error:
        raise InputError((InputFault(file.shown, 0, 0, "", error.text),)) from None


def _patch(word: str) -> tuple[str, str]:
    """KEY=VALUE taken apart."""
    key, mark, value = word.partition("=")
    if not mark or not key.strip() or not value.strip():
        raise Refused(
            "--try", f"{word!r} is no change; KEY=VALUE is allowed; write --try 'levels.colour.part=240 ohm ± 1 %'"
        )
    return key.strip(), value.strip()
