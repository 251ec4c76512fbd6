"""Changes to a TOML text written by people: comments, order and spacing stay.

A change is cut into the text at the place the scanner gives, and the outcome is read again: unless exactly the asked
path has changed, the change is refused. `write_text_atomically` and `file_sha256` are named here too, for those who
edit files.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

from scanloom.formats import _toml_splice as splice
from scanloom.formats.text_write import file_sha256, write_text_atomically
from scanloom.formats.toml_places import KeyPath, Places, TomlText, read_toml
from scanloom.formats.toml_value import write_key, write_value

__all__ = ["append_table", "delete_value", "file_sha256", "set_value", "write_text_atomically"]


def set_value(text: str, path: KeyPath, value: Any) -> str:
    """Text with one value changed or added.

    A value on one line changes on that line only. Lists and tables change item by item, so that comments between items
    stay. A key that does not exist goes to the end of its table, a table that does not exist to the end of the text,
    the item after the last to the end of its list.

    Parameters
    ----------
    text : str
        A TOML text.
    path : tuple of str or int
        Which value.
    value : Any
        The new value: text, number, bool, date, time, list or mapping of such.

    Returns
    -------
    str
        The new text.

    Raises
    ------
    ValueError
        If the text is not TOML, TOML has no such value, the path leads through a value that is no table, or the text
        cannot be changed at this path only.
    """
    old = _read(text)
    if not path:
        raise ValueError("an empty path; a key is wanted; name what to change")
    try:
        plain = tomllib.loads(f"x = {write_value(value)}\n")["x"]
    except RecursionError as error:
        raise ValueError("a value nested without end; TOML is read to a hundred levels; flatten it") from error
    new = _set(text, old, path, plain)
    wanted = _with(old.data, path, plain)
    if not _same(_read(new).data, wanted):
        raise _refused(old.places, path)
    return new


def delete_value(text: str, path: KeyPath) -> str:
    """Text without one key, item or table.

    The line goes with its comment; a table goes with all below it. A table that only its last dotted key, or only a
    longer header, brought into being goes with that key.

    Parameters
    ----------
    text : str
        A TOML text.
    path : tuple of str or int
        What to delete.

    Returns
    -------
    str
        The new text.

    Raises
    ------
    ValueError
        If the text is not TOML, has no such path, or cannot be changed at this path only.
    """
    old = _read(text)
    if not path or path not in old.places:
        raise ValueError(f"{_shown(path)} is not in the text; only what is there can be deleted; check the path")
    new = splice.without(text, old.places, path)
    found = _read(new).data
    while path:
        wanted = _without(old.data, path)
        if _same(found, wanted):
            return new
        path = path[:-1]
        if path and _at(wanted, path):  # only what is empty now may have gone too
            break
    raise _refused(old.places, path)


def append_table(text: str, name: str, mapping: Mapping[str, Any]) -> str:
    """Text with one more entry ``[[name]]`` behind the last, or at the end of the text.

    Parameters
    ----------
    text : str
        A TOML text.
    name : str
        Name of the entries.
    mapping : Mapping
        Keys and values of the new entry.

    Returns
    -------
    str
        The new text.

    Raises
    ------
    ValueError
        If the text is not TOML, TOML has no such value, or the name holds something else than entries.
    """
    data = _read(text).data
    entries = data.get(name, [])
    if not isinstance(entries, list):
        raise ValueError(f"{name} is not a list of entries; an entry is added to such a list only; use another name")
    if name in data:
        return set_value(text, (name, len(entries)), mapping)
    return set_value(text, (name,), [mapping])


def _set(text: str, old: TomlText, path: KeyPath, value: Any) -> str:
    """Text with a value set, whatever stood at the path."""
    span = old.places.spans.get(path)
    if span is None:
        return _insert(text, old, path, value)
    before = _at(old.data, path)
    if _same(before, value):
        return text
    if isinstance(before, dict) and isinstance(value, dict):
        return _set_each(text, path, before, value, [*value, *(key for key in before if key not in value)])
    if isinstance(before, list) and isinstance(value, list) and (span.kind == "value" or _all_tables(value)):
        longer = [*range(len(value)), *range(len(before) - 1, len(value) - 1, -1)]
        return _set_each(text, path, dict(enumerate(before)), dict(enumerate(value)), longer)
    if span.kind == "value":
        return splice.replaced(text, span.start, span.end, write_value(value, text[span.start : span.end]))
    if isinstance(path[-1], int):
        raise ValueError(f"{_shown(path)}: an entry with its own header; it is a table; give a mapping")
    text = splice.without(text, old.places, path)
    return _insert(text, _read(text), path, value)


def _set_each(text: str, path: KeyPath, before: dict[Any, Any], value: dict[Any, Any], keys: list[Any]) -> str:
    """Text with the items of a list or the keys of a table set one by one; those to be deleted come last."""
    for key in keys:
        here, now = (*path, key), _read(text)
        if key not in value:
            text = splice.without(text, now.places, here)
        elif key not in before or not _same(before[key], value[key]):
            text = _set(text, now, here, value[key])
    now = _read(text)
    if path not in now.places:  # the last dotted key or entry took its table along
        return _insert(text, now, path, [] if isinstance(next(iter(before)), int) else {})
    return text


def _insert(text: str, old: TomlText, path: KeyPath, value: Any) -> str:
    """Text with a value where none was."""
    table = path[:-1]
    while table not in old.places:
        table = table[:-1]
    rest, places = path[len(table) :], old.places
    span, parent = places.spans[table], _at(old.data, table)
    if isinstance(parent, list) and rest == (len(parent),):
        if span.kind == "value":
            return splice.add_item(text, places, table, write_value(value))
        if not isinstance(value, dict):
            raise ValueError(f"{_shown(path)}: an entry of [[{_shown(table)}]] is a table; give a mapping")
        return splice.add_block(text, places, f"[[{write_key(*splice.names(table))}]]", _lines(value), table)
    if not isinstance(parent, dict) or not all(isinstance(part, str) for part in rest):
        kind = "a list" if isinstance(parent, list) else "a table" if isinstance(parent, dict) else "a value"
        allowed = f"it has {len(parent)} items, counted from 0" if isinstance(parent, list) else "a table takes names"
        raise ValueError(f"{_shown(path)}: {_shown(table) or 'the document'} is {kind}; {allowed}; check the path")
    if table in places.members or span.owner in places.members:
        return splice.add_pair(text, places, table, write_key(*splice.names(rest)), write_value(value))
    if not table and (len(rest) > 1 or isinstance(value, dict)):
        lines = _lines(value) if len(rest) == 1 else [f"{write_key(*splice.names(rest[1:]))} = {write_value(value)}"]
        return splice.add_block(text, places, f"[{write_key(*splice.names(rest[:1]))}]", lines)
    if not table and isinstance(value, list) and value and _all_tables(value):
        for number, entry in enumerate(value):
            after = path if number else ()
            text = splice.add_block(
                text, _read(text).places, f"[[{write_key(*splice.names(path))}]]", _lines(entry), after
            )
        return text
    return splice.add_line(text, places, table, write_key(*splice.names(rest)), write_value(value))


def _lines(table: dict[str, Any]) -> list[str]:
    """Lines of a table's body."""
    return [f"{write_key(key)} = {write_value(item)}" for key, item in table.items()]


def _all_tables(items: list[Any]) -> bool:
    """Whether all items of a list are tables."""
    return all(isinstance(item, dict) for item in items)


def _read(text: str) -> TomlText:
    """Text with values and places; ValueError when it is not TOML."""
    found = read_toml(text)
    if not isinstance(found, TomlText):
        raise ValueError(f"line {found.line}, column {found.column}: {found.text}")
    return found


def _at(data: Any, path: KeyPath) -> Any:
    """What stands at a path."""
    for part in path:
        data = data[part]
    return data


def _with(data: Any, path: KeyPath, value: Any) -> Any:
    """Values with one changed or added; what is not on the path is shared, not copied."""
    if not path:
        return value
    part = path[0]
    if isinstance(data, list) and isinstance(part, int):
        inner = data[part] if part < len(data) else {}
        return [*data[:part], _with(inner, path[1:], value), *data[part + 1 :]]
    return {**data, part: _with(data.get(part, {}), path[1:], value)}


def _without(data: Any, path: KeyPath) -> Any:
    """Values without one."""
    part = path[0]
    if len(path) > 1:
        return _with(data, path[:1], _without(data[part], path[1:]))
    if isinstance(data, list):
        return [item for number, item in enumerate(data) if number != part]
    return {key: item for key, item in data.items() if key != part}


def _same(one: Any, other: Any) -> bool:
    """Whether values are the same in type too; nan equals nan, 0.0 is not -0.0."""
    if type(one) is not type(other):
        return False
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(_same(item, other[key]) for key, item in one.items())
    if isinstance(one, list):
        return len(one) == len(other) and all(map(_same, one, other))
    return repr(one) == repr(other)


def _shown(path: KeyPath) -> str:
    """Path for a sentence."""
    return ".".join(write_key(part) if isinstance(part, str) else str(part) for part in path)


def _refused(places: Places, path: KeyPath) -> ValueError:
    """Sentence for a change that would touch more than it should."""
    place = places.nearest(path)
    given = f"{_shown(path)}: cannot be changed without changing something else"
    return ValueError(f"{given}; see line {place.line}; change it by hand")
