"""TOML read into models: all faults of a text at once, each at its line and column."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar, get_args, get_origin

from pydantic import BaseModel, ValidationError

from scanloom.basis.record import record
from scanloom.dossier.leaf import Leaf
from scanloom.formats.input_error import InputError, InputFault
from scanloom.formats.text_file import FileFault, read_text
from scanloom.formats.toml_places import Fault, KeyPath, TomlText, read_toml, source_line

M = TypeVar("M", bound=BaseModel)


@record
class CheckedText:
    """A text that is TOML, and the file it is from.

    Parameters
    ----------
    file : str
        The file as named by the user.
    text : str
        The whole text.
    toml : TomlText
        Values and places.
    """

    file: str
    text: str
    toml: TomlText

    def fault(self, path: KeyPath, words: str, *, at_key: bool = False) -> InputFault:
        """A fault at a place of the text.

        Parameters
        ----------
        path : tuple of str or int
            Key path, which need not exist.
        words : str
            What was given; what is allowed; what to do.
        at_key : bool
            Whether the key is at fault rather than its value.

        Returns
        -------
        InputFault
            With line, column and the source line.
        """
        place = self.toml.places.nearest(path)
        line, column = (place.key_line, place.key_column) if at_key else (place.line, place.column)
        source = source_line(self.text, line) if len(path) else ""
        return InputFault(self.file, line, column, spoken(path, self.toml.data), words, source)


def open_toml(path: Path, shown: str) -> CheckedText:
    """Text of a file, if it is TOML.

    Parameters
    ----------
    path : Path
        The file.
    shown : str
        The file as named by the user.

    Returns
    -------
    CheckedText
        Its text, values and places.

    Raises
    ------
    InputError
        If it cannot be read or is no TOML.
    """
    try:
        text = read_text(path)
    except FileFault as error:
        raise InputError((InputFault(shown, error.line or 0, error.column or 0, "", error.text),)) from None
    return parse_toml(text, shown)


def parse_toml(text: str, shown: str) -> CheckedText:
    """A text, if it is TOML.

    Parameters
    ----------
    text : str
        The text.
    shown : str
        The file as named by the user.

    Returns
    -------
    CheckedText
        Its values and places.

    Raises
    ------
    InputError
        If it is no TOML.
    """
    read = read_toml(text)
    if isinstance(read, Fault):
        raise InputError((InputFault(shown, read.line, read.column, "", read.text, source_line(text, read.line)),))
    return CheckedText(shown, text, read)


def validate(model: type[M], checked: CheckedText, raw: Any) -> tuple[M | None, list[InputFault]]:
    """A model of a text, or everything that keeps it from being one.

    Parameters
    ----------
    model : type
        The model.
    checked : CheckedText
        The text.
    raw : object
        Its values, perhaps planted.

    Returns
    -------
    tuple
        The model and no fault, or None and all faults.
    """
    try:
        return model.model_validate(raw), []
    except ValidationError as error:
        return None, _faults(model, checked, error)


def spoken(path: Sequence[str | int], data: Any) -> str:
    """Key path as people say it: named tables by name, others by number from one.

    Parameters
    ----------
    path : sequence of str or int
        Key path.
    data : object
        The values it leads into.

    Returns
    -------
    str
        Such as ``displays.hero-left.colour_load``.
    """
    words: list[str] = []
    here = data
    for step in path:
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            here = None
        named = here.get("name") if isinstance(here, Mapping) and isinstance(step, int) else None
        words.append(named if isinstance(named, str) and named else str(step + 1) if isinstance(step, int) else step)
    return ".".join(words)


def _faults(model: type[BaseModel], checked: CheckedText, error: ValidationError) -> list[InputFault]:
    """Pydantic's errors in our words; a misspelt key and the key it was meant to be count once."""
    found: list[InputFault] = []
    errors = error.errors(include_url=False, include_context=True)
    extras = [e["loc"] for e in errors if e["type"] == "extra_forbidden"]
    for one in errors:
        path = _path(one["loc"], checked)
        kind = one["type"]
        if kind == "missing":
            name = str(one["loc"][-1])
            if any(e[:-1] == one["loc"][:-1] and difflib.get_close_matches(str(e[-1]), [name], 1, 0.6) for e in extras):
                continue
            found.append(checked.fault(path, _missing(name)))
        elif kind == "extra_forbidden":
            found.append(checked.fault(path, _unknown_key(model, path), at_key=True))
        elif one["loc"] and one["loc"][-1] == "[key]":
            allowed = ", ".join(_key_choices(one)) or "another name"
            key = str(one["loc"][-2])
            near = difflib.get_close_matches(key, _key_choices(one), 1, 0.6)
            hint = f"did you mean '{near[0]}'?" if near else "choose one"
            found.append(
                checked.fault(path, f"the key {key!r} is not known here; {allowed} are allowed; {hint}", at_key=True)
            )
        else:
            found.append(checked.fault(path, _words(one)))
    return found


def _missing(name: str) -> str:
    """Words for a key that a table cannot do without."""
    if name == "dossier":
        return "the table [dossier] is missing; every file must begin with it; add [dossier] and below it format = 1"
    lines = {"format": "format = 1", "because": 'because = "why"', "name": 'name = "hero-left"', "is": 'is = "chip"'}
    line = lines.get(name, f"{name} = ...")
    return f"{name!r} is missing; every such table must state it; add the line {line}"


def _path(loc: tuple[int | str, ...], checked: CheckedText) -> KeyPath:
    """Key path of an error, without pydantic's own additions."""
    return tuple(step for step in loc if step not in ("[key]", "is_"))


def _words(error: Any) -> str:
    """Words for one of pydantic's errors."""
    given = error.get("input")
    shown = _shown(given)
    kind = error["type"]
    if kind in ("value_error", "assertion_error"):
        return str(error["msg"]).partition(", ")[2] or str(error["msg"])
    if kind in ("model_type", "dict_type", "model_attributes_type"):
        return f"{shown} stands where a table belongs; a table with its keys is allowed; write it as [name] or {{ key = value }}"
    if kind in ("tuple_type", "list_type"):
        return f"{shown} stands where a list of tables belongs; write each as [[name]] with its keys below"
    if kind == "string_type":
        return f"{shown} is no text; text in quotes is allowed; put it in quotes"
    if kind == "literal_error" and error["ctx"]["expected"] in (given if isinstance(given, str) else "", repr(given)):
        return f"{shown} is in quotes; {error['ctx']['expected']} is allowed; write it without quotes"
    if kind == "literal_error":
        return f"{shown} is not allowed; {error['ctx']['expected']} is; choose it"
    if kind in ("int_type", "int_parsing", "int_from_float"):
        return f"{shown} is no whole number; a bare whole number is allowed; write it without quotes"
    return f"{shown}: {str(error['msg'])[:1].lower()}{str(error['msg'])[1:]}; check the value"


def _shown(given: Any) -> str:
    """What stood in the file, short."""
    raw = given.raw if isinstance(given, Leaf) else given
    if isinstance(raw, (Mapping, BaseModel)):
        return "a table"
    if isinstance(raw, (list, tuple)):
        return "a list"
    return f"{raw!r}" if len(f"{raw!r}") <= 60 else f"{raw!r}"[:57] + "..."


def _key_choices(error: Any) -> list[str]:
    """Names allowed for a key, as pydantic lists them."""
    expected = str((error.get("ctx") or {}).get("expected", ""))
    return [word.strip(" '") for word in expected.replace(" or ", ",").split(",") if word.strip(" '")]


def _unknown_key(model: type[BaseModel], path: KeyPath) -> str:
    """Words for a key nobody knows, with the nearest that somebody does."""
    key = str(path[-1])
    known = _keys_at(model, path[:-1])
    near = difflib.get_close_matches(key, known, 1, 0.6)
    listed = ", ".join(known)
    meant = f"did you mean {near[0]!r}?" if near else "delete the line, or move it where it belongs"
    return f"the key {key!r} is not known here; {listed or 'no key'} are allowed; {meant}"


def _keys_at(model: type[BaseModel], path: KeyPath) -> list[str]:
    """Keys that the table at a path may have."""
    here: Any = model
    for step in path:
        if isinstance(step, int):
            continue
        if isinstance(here, type) and issubclass(here, BaseModel) and step in here.model_fields:
            here = _table_type(here.model_fields[step].annotation)
        elif isinstance(here, dict):
            here = here["item"]
        else:
            return []
    if isinstance(here, type) and issubclass(here, BaseModel):
        return [info.alias or name for name, info in here.model_fields.items()]
    return []


def _table_type(annotation: Any) -> Any:
    """Model behind an annotation: optional, tuple of, dict of."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if get_origin(annotation) is dict:
        return {"item": _table_type(get_args(annotation)[1])}
    for inner in get_args(annotation):
        found = _table_type(inner)
        if found is not None:
            return found
    return None


def raise_all(faults: Iterable[InputFault]) -> None:
    """Raise all faults together, if there are any.

    Parameters
    ----------
    faults : iterable of InputFault
        Faults found.

    Raises
    ------
    InputError
        If there is at least one.
    """
    listed = sorted(faults, key=lambda f: (f.file, f.line, f.column))
    if listed:
        raise InputError(tuple(listed))
