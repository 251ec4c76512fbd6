"""Values of the dossier as a person edits them: what stands in the file, taken apart, and put together again."""

from __future__ import annotations

import contextlib
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from scanloom.basis.fact import Fact, Known
from scanloom.basis.record import record
from scanloom.dossier.leaf import Written, split_note
from scanloom.dossier.model import Dossier
from scanloom.dossier.plan import Plan
from scanloom.formats.dossier_file import key_path
from scanloom.formats.toml_places import KeyPath

ABSENT = object()
"""Stands for a key that the file does not have."""
_LABELS = {
    "chip.like": "Chip",
    "chip.system": "System clocks",
    "chip.drive": "Drive setting",
    "chip.pin_high": "Pin driven high",
    "chip.pin_low": "Pin driven low",
    "supply.inlet": "Inlet current",
    "supply.air": "Air around the board",
    "board.around": "Pins around the module",
    "like": "Class",
    "lanes": "Lanes of the word",
    "edid": "EDID file",
    "clock": "Pixel clock",
    "redraw": "Time to redraw",
}
"""Names of fields whose key says too little by itself."""
_FALLS = ("measured", "sheet", "standard")
_FILES = ("chip.like", "board.files")


@record
class Typed:
    """What somebody typed into one field.

    Parameters
    ----------
    key : str
        Place in the dossier, as people say it.
    item : int or None
        Which item of a list, from 0; None for what is no list. [1]
    value : str
        The value.
    note : str
        Where it is from, or why it was decided.
    was_value : str
        The value as the page showed it when the edit began.
    was_note : str
        The note as the page showed it.
    """

    key: str
    item: int | None
    value: str
    note: str
    was_value: str
    was_note: str


@record
class FieldView:
    """One field of a sheet.

    Parameters
    ----------
    key : str
        Place in the dossier, as people say it.
    item : int or None
        Which item of a list, from 0. [1]
    label : str
        Its name.
    hint : str
        What it holds, and how such a value is written.
    value : str
        What stands in the file, without its origin; empty when nothing does.
    note : str
        Origin and what follows it.
    origin : str
        Word of its tag; empty for what has none.
    stand_in : str
        What counts while nothing is stated.
    noted : bool
        Whether it takes an origin; a pin number does not.
    """

    key: str
    item: int | None
    label: str
    hint: str
    value: str
    note: str
    origin: str
    stand_in: str
    noted: bool = True


def field_views(key: str, data: Mapping[str, Any], plan: Plan) -> list[FieldView]:
    """Fields for one place: one, or one for each item of a list and one to add to it.

    Parameters
    ----------
    key : str
        Place in the dossier, as people say it.
    data : Mapping
        The dossier as TOML reads it.
    plan : Plan
        The dossier made ready, for what stands in.

    Returns
    -------
    list of FieldView
        Empty where the place does not exist in this dossier.
    """
    info = _info(key)
    if info is None:
        return []
    marker = _marker(info)
    label = _label(key)
    said = info.description or ""
    quantity = marker is not None and re.search(r"\d", marker.example) is not None and "inch" not in marker.example
    hint = f"{said}, such as {marker.example}" if marker is not None and quantity else said
    try:
        raw = read_at(data, key_path(key, data))
    except ValueError:
        return []
    stand = _stand_in(key, plan) if raw is ABSENT else ""
    if marker is None or not marker.many:
        value, note, origin = _apart(raw)
        noted = marker is None or (list not in marker.bare and not key.startswith("board.sync."))
        return [FieldView(key, None, label, hint, value, note, origin, stand, noted)]
    items = raw if isinstance(raw, list) else []
    made = []
    for number, one in enumerate(items):
        value, note, origin = _apart(one)
        made.append(FieldView(key, number, f"{label} {number + 1}", hint, value, note, origin, ""))
    made.append(FieldView(key, len(items), f"{label}, one more", hint, "", "", "", stand))
    return made


def read_at(data: Any, path: KeyPath) -> Any:
    """Value at a path.

    Parameters
    ----------
    data : object
        Values as TOML reads them.
    path : tuple of str or int
        Where.

    Returns
    -------
    object
        The value, or ABSENT.
    """
    for step in path:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            return ABSENT
    return data


def path_of(typed: Typed, data: Mapping[str, Any]) -> KeyPath:
    """Where in the file a typed value goes.

    Parameters
    ----------
    typed : Typed
        What was typed.
    data : Mapping
        The dossier as TOML reads it.

    Returns
    -------
    tuple of str or int
        The path; its last steps need not exist.

    Raises
    ------
    ValueError
        If the place is none that the page offers, or a table it names is not there.
    """
    if _info(typed.key) is None:
        raise ValueError(
            f"{typed.key!r} is no value of a dossier; only what a sheet shows can be edited; reload the page"
        )
    path = key_path(typed.key, data)
    return path if typed.item is None else (*path, typed.item)


def as_shown(raw: Any) -> tuple[str, str]:
    """A value as the page shows it.

    Parameters
    ----------
    raw : object
        The value as TOML reads it, or ABSENT.

    Returns
    -------
    tuple of str
        Value and note.
    """
    value, note, _ = _apart(raw)
    return value, note


def as_written(typed: Typed, raw: Any) -> Any:
    """What goes into the file for what was typed.

    A new value under an old note that told of a measurement or a sheet would lie: the note is dropped, and the value
    counts as said, as with values that `same_as` copies.

    Parameters
    ----------
    typed : Typed
        What was typed.
    raw : object
        What stands there now, or ABSENT.

    Returns
    -------
    object
        A value for TOML, or ABSENT where the key is to go.
    """
    value, note = " ".join(typed.value.split()), " ".join(typed.note.split())
    if ";" in value:  # both typed into one box, as they stand in the file
        value, _, note = (part.strip() for part in value.partition(";"))
    elif falls(typed):
        note = ""
    if not value:
        return ABSENT
    if note:
        return f"{value}; {note}"
    marker = _marker(_info(typed.key))
    bare = marker.bare if marker is not None else (str,)
    if isinstance(raw, str) or bare == (str,):
        return value
    try:
        plain = tomllib.loads(f"x = {value}")["x"]
    except tomllib.TOMLDecodeError:
        return value
    return plain if isinstance(plain, bare) else value


def falls(typed: Typed) -> bool:
    """Whether an edit changes a value but not the note that told where the old one was from.

    Parameters
    ----------
    typed : Typed
        What was typed.

    Returns
    -------
    bool
        True where the origin falls to said.
    """
    changed = typed.value.strip() != typed.was_value.strip()
    same = typed.note.strip() == typed.was_note.strip()
    return changed and same and typed.note.strip().partition(" ")[0].rstrip(",:") in _FALLS


def outside(key: str, value: str, folder: Path) -> str:
    """Why a path may not be written from the page: it leads out of the dossier's folder.

    Parameters
    ----------
    key : str
        Place in the dossier.
    value : str
        What was typed.
    folder : Path
        Folder of the dossier.

    Returns
    -------
    str
        Empty when there is nothing against it.
    """
    named = key in _FILES or key.endswith(".edid")
    if not named or not ("/" in value or "\\" in value or value.startswith("..") or value.endswith((".toml", ".bin"))):
        return ""
    try:
        inside = (folder / value).resolve().is_relative_to(folder.resolve())
    except (OSError, ValueError):
        inside = False
    if inside:
        return ""
    return f"{value!r} lies outside the dossier's folder; from the page only files inside it may be named; move the file there"


def _apart(raw: Any) -> tuple[str, str, str]:
    """Value, note and origin of what stands in the file."""
    if raw is ABSENT:
        return "", "", ""
    if isinstance(raw, str):
        value, _, note = raw.partition(";")
        origin = ""
        with contextlib.suppress(ValueError):
            origin = str(split_note(raw)[1])
        return value.strip(), note.strip(), origin
    if isinstance(raw, bool):
        return str(raw).lower(), "", ""
    if isinstance(raw, list):
        return "[" + ", ".join(f'"{one}"' if isinstance(one, str) else str(one) for one in raw) + "]", "", ""
    return str(raw), "", ""


def _label(key: str) -> str:
    """Name of a field: the last words of its place."""
    words = key.split(".")
    named = _LABELS.get(key) or (_LABELS.get(words[-1]) if words[0] in ("displays", "rigs") else None)
    if named is not None:
        return named
    if len(words) > 3 and words[-3] == "depth":
        return f"Depth of {words[-2]}, {words[-1]}"
    if words[0] == "board" and words[1] == "connectors":
        return f"{words[2]} {words[3]}"
    keep = 2 if words[-2] in ("colour", "sync", "free", "raster") else 1
    words = words[-keep:]
    return re.sub(r"[_.]", " ", " ".join(words)).capitalize()


def _info(key: str) -> FieldInfo | None:
    """Field of the dossier's model that a place belongs to."""
    model: Any = Dossier
    found: FieldInfo | None = None
    for word in key.split("."):
        if isinstance(model, dict):
            model = model["item"]
            if isinstance(model, FieldInfo):
                found, model = model, None
            continue
        if not (isinstance(model, type) and issubclass(model, BaseModel)):
            return None
        found = model.model_fields.get(word)
        if found is None:
            return None
        model = _inside(found.annotation, found)
    return found if found is not None and _marker(found) is not None else None


def _inside(annotation: Any, info: FieldInfo) -> Any:
    """What an annotation leads to: a table, or a dict of named items."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if get_origin(annotation) is dict:
        inner = _inside(get_args(annotation)[1], info)
        return {"item": inner if inner is not None else info}
    if get_origin(annotation) is tuple:
        inner = _inside(get_args(annotation)[0], info)
        return {"item": inner} if inner is not None else None
    for one in get_args(annotation):
        inner = _inside(one, info)
        if inner is not None:
            return inner
    return None


def _marker(info: FieldInfo | None) -> Written | None:
    """How a field is read."""
    if info is None:
        return None
    waiting: list[Any] = [*info.metadata, info.annotation]
    while waiting:
        one = waiting.pop(0)
        if isinstance(one, Written):
            return one
        waiting.extend(getattr(one, "__metadata__", ()))
        waiting.extend(get_args(one))
    return None


def _stand_in(key: str, plan: Plan) -> str:
    """What counts for a display while nothing is stated: its block's, its model's or its class's value."""
    words = key.split(".")
    if words[0] != "displays" or len(words) != 3:
        return ""
    display = plan.displays.get(words[1])
    known = getattr(display, words[2], None) if display is not None else None
    many = known if isinstance(known, tuple) else (known,)
    facts: list[Fact] = [one.facts[0] for one in many if isinstance(one, Known)]
    if not facts:
        return ""
    tag = "class value, a guess" if facts[0].class_value else facts[0].origin
    return f"now {', '.join(fact.text for fact in facts)} ({tag})"
