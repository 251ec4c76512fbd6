"""Values and keys as TOML writes them, each on one line."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Mapping
from typing import Any

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_ESCAPES = {"\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r", '"': '\\"', "\\": "\\\\"}


def write_value(value: Any, like: str = "") -> str:
    """One value as TOML text.

    Parameters
    ----------
    value : Any
        Text, number, bool, date, time, list or mapping of such.
    like : str
        Text of the value it replaces: single quotes are kept where the new text allows them.

    Returns
    -------
    str
        The value on one line.

    Raises
    ------
    ValueError
        If TOML has no such value.
    """
    if isinstance(value, str):
        plain = value.isprintable() and "'" not in value and like.startswith("'") and not like.startswith("'''")
        return f"'{value}'" if plain else _quoted(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return int.__repr__(value)  # numbers of an enum would print their name
    if isinstance(value, float):
        return float.__repr__(value) if math.isfinite(value) else f"{value:f}"
    if isinstance(value, datetime.datetime):
        offset = value.utcoffset()
        if offset is not None and offset.total_seconds() % 60:
            raise ValueError(f"{value} has an offset with seconds; TOML has hours and minutes; round it")
        return value.isoformat()
    if isinstance(value, datetime.time) and value.tzinfo is not None:
        raise ValueError(f"{value} is a time of day with an offset; TOML has none; drop the offset or give a date")
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    if isinstance(value, list | tuple):
        return "[" + ", ".join(write_value(item) for item in value) + "]"
    if isinstance(value, Mapping):
        if not value:
            return "{}"
        return "{ " + ", ".join(f"{write_key(key)} = {write_value(item)}" for key, item in value.items()) + " }"
    if value is None:
        raise ValueError("None given; TOML has no empty value; delete the key")
    kind = type(value).__name__
    raise ValueError(
        f"{value!r} of type {kind}; text, numbers, true, false, dates, lists, tables are allowed; convert it"
    )


def write_key(*parts: str) -> str:
    """Key as TOML text, dotted where it has several parts.

    Parameters
    ----------
    *parts : str
        Names, outermost first.

    Returns
    -------
    str
        The key, in quotes where it needs them.

    Raises
    ------
    ValueError
        If a part is no text.
    """
    for part in parts:
        if not isinstance(part, str):
            raise ValueError(f"{part!r} as a key; a key is text; give its name")
    return ".".join(part if _BARE_KEY.fullmatch(part) else _quoted(part) for part in parts)


def _quoted(text: str) -> str:
    """Text in double quotes with escapes."""
    out = []
    for char in text:
        code = ord(char)
        if char in _ESCAPES:
            out.append(_ESCAPES[char])
        elif code < 0x20 or code == 0x7F:
            out.append(f"\\u{code:04X}")
        elif 0xD800 <= code <= 0xDFFF:
            raise ValueError(f"half a character, U+{code:04X}; TOML holds whole ones; take it out")
        else:
            out.append(char)
    return '"' + "".join(out) + '"'
