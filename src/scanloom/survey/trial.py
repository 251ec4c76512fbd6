"""What a change of the dossier would do, before anything is written."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence

from scanloom.basis.record import record
from scanloom.basis.verdict import Verdict
from scanloom.formats.dossier_file import DossierFile, key_path, read_dossier_text
from scanloom.formats.input_error import InputError, InputFault
from scanloom.survey.run import Survey, survey_plan


@record
class Change:
    """One verdict before and after.

    Parameters
    ----------
    before : Verdict or None
        As it was; None when the check is new.
    after : Verdict or None
        As it would be; None when the check goes away.
    """

    before: Verdict | None
    after: Verdict | None


@record
class Trial:
    """A dossier with a change, surveyed but not written.

    Parameters
    ----------
    text : str
        Text the file would have.
    survey : Survey
        Survey of that text.
    mended : tuple of Change
        Checks that do not hold now and then would, notes apart.
    broken : tuple of Change
        Checks that would not hold and now do, or are not made at all, notes apart.
    moved : tuple of Change
        Other checks whose state or numbers would change, or that would no longer be made.
    """

    text: str
    survey: Survey
    mended: tuple[Change, ...]
    broken: tuple[Change, ...]
    moved: tuple[Change, ...]


def try_patches(file: DossierFile, patches: Sequence[tuple[str, str]], before: Survey | None = None) -> Trial:
    """Survey a dossier with some values changed; nothing is written.

    Parameters
    ----------
    file : DossierFile
        The dossier.
    patches : sequence of tuple
        Place and new value as TOML text, such as ``("levels.colour.part", '"240 ohm ± 1 %"')``; text that is no TOML value
        is taken as a string.
    before : Survey or None
        Survey of the dossier as it is, if there is one.

    Returns
    -------
    Trial
        Survey with the change, and what it mends and breaks.

    Raises
    ------
    InputError
        If a place leads nowhere or the changed dossier cannot be understood.
    """
    from scanloom.formats.toml_edit import set_value  # the editor costs a start-up that light commands need not pay

    text = file.text
    for key, written in patches:
        try:
            text = set_value(text, key_path(key, tomllib.loads(text)), _value(written))
        except ValueError as error:
            raise InputError((InputFault(file.shown, 0, 0, key, str(error)),)) from None
    after = survey_plan(read_dossier_text(text, file.path, f"{file.shown} with the change").plan)
    return _compare(text, before if before is not None else survey_plan(file.plan), after)


def _value(written: str) -> object:
    """A value as TOML reads it, or the text itself."""
    try:
        return tomllib.loads(f"x = {written}")["x"]
    except tomllib.TOMLDecodeError:
        return written


def _compare(text: str, before: Survey, after: Survey) -> Trial:
    """Sort the checks that change."""
    old = {(v.code, v.subject, v.rig): v for v in before.verdicts}
    new = {(v.code, v.subject, v.rig): v for v in after.verdicts}
    mended: list[Change] = []
    broken: list[Change] = []
    moved: list[Change] = []
    for key in [*old, *(k for k in new if k not in old)]:
        was, now = old.get(key), new.get(key)
        either = now if now is not None else was
        counts = either is not None and either.weight != "note"
        was_open = was is not None and was.is_open
        if counts and was_open and now is not None and not now.is_open:
            mended.append(Change(was, now))
        elif counts and now is not None and now.is_open and not was_open:
            broken.append(Change(was, now))
        elif was is None or now is None or (was.state, was.found, was.limit) != (now.state, now.found, now.limit):
            moved.append(Change(was, now))
    return Trial(text, after, tuple(mended), tuple(broken), tuple(moved))
