"""One edit of the page as a change of the dossier's text, or the words why not."""

from __future__ import annotations

from scanloom.formats.dossier_file import DossierFile, key_path
from scanloom.formats.toml_edit import delete_value, set_value
from scanloom.web.fields import ABSENT, Typed, as_shown, as_written, outside, path_of, read_at


class Refused(Exception):
    """An edit that is not written: says what was given, what is allowed, what to do.

    Parameters
    ----------
    text : str
        The sentence, or several.
    """


class Conflict(Exception):
    """The file holds something else than the page showed when the edit began.

    Parameters
    ----------
    value : str
        Value in the file now.
    note : str
        Its note.
    """

    def __init__(self, value: str, note: str) -> None:
        super().__init__(value, note)
        self.value = value
        self.note = note


def edited(file: DossierFile, typed: Typed) -> str:
    """Text of a dossier with a typed value.

    Parameters
    ----------
    file : DossierFile
        The dossier as it is in the file this moment.
    typed : Typed
        What was typed, and what the page showed before.

    Returns
    -------
    str
        Comments and order kept; the same text where the file says so already.

    Raises
    ------
    Refused
        If the place or the value cannot be used.
    Conflict
        If the file holds something else there than the page showed.
    """
    try:
        path = path_of(typed, file.data)
    except ValueError as error:
        raise Refused(str(error)) from None
    raw = read_at(file.data, path)
    wanted = as_written(typed, raw)
    if raw is wanted or (raw is not ABSENT and raw == wanted and type(raw) is type(wanted)):
        return file.text
    if as_shown(raw) != (typed.was_value, typed.was_note):
        raise Conflict(*as_shown(raw))
    if isinstance(wanted, str):
        why = outside(typed.key, typed.value.strip(), file.path.parent)
        if why:
            raise Refused(why)
    try:
        if wanted is ABSENT:
            return delete_value(file.text, path)
        if typed.item is not None and read_at(file.data, key_path(typed.key, file.data)) is ABSENT:
            return set_value(file.text, path[:-1], [wanted])
        return set_value(file.text, path, wanted)
    except ValueError as error:
        raise Refused(str(error)) from None
