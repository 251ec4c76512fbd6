"""Dossiers as plain data, their facts, and surveys of them: shared by the laws."""

from __future__ import annotations

import copy
import datetime
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from scanloom.formats.dossier_file import read_dossier_text
from scanloom.survey import Survey, survey_plan

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "examples" / "deep-station"
Step = str | int
Key = tuple[str, str, str]


def example(name: str) -> dict[str, Any]:
    """One of the demo dossiers as data."""
    return tomllib.loads((EXAMPLES / name).read_text(encoding="utf-8"))


def dumped(data: Mapping[str, Any]) -> str:
    """Data as TOML text: one line a top-level value, tables inline below."""
    lines: list[str] = []
    for key, value in data.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            for item in value:
                lines.append(f"[[{key}]]")
                lines.extend(f"{k} = {_value(v)}" for k, v in item.items())
        else:
            lines.append(f"[{key}]")
            lines.extend(f"{_name(k)} = {_value(v)}" for k, v in value.items())
    return "\n".join(lines) + "\n"


def surveyed(data: Mapping[str, Any]) -> Survey:
    """Survey of a dossier given as data."""
    return survey_plan(read_dossier_text(dumped(data), EXAMPLES / "law.toml").plan)


def facts_of(data: Any, path: tuple[Step, ...] = ()) -> Iterator[tuple[Step, ...]]:
    """Place of every stated value; a list of plain values is one."""
    if isinstance(data, dict):
        for key, value in data.items():
            yield from facts_of(value, (*path, key))
    elif isinstance(data, list) and data and isinstance(data[0], dict):
        for number, item in enumerate(data):
            yield from facts_of(item, (*path, number))
    else:
        yield path


def without(data: dict[str, Any], path: tuple[Step, ...]) -> dict[str, Any]:
    """The data with one value deleted."""
    made = copy.deepcopy(data)
    here: Any = made
    for step in path[:-1]:
        here = here[step]
    del here[path[-1]]
    return made


def with_value(data: dict[str, Any], path: tuple[Step, ...], value: Any) -> dict[str, Any]:
    """The data with one value put in place of another."""
    made = copy.deepcopy(data)
    here: Any = made
    for step in path[:-1]:
        here = here[step]
    here[path[-1]] = value
    return made


def value_at(data: Any, path: tuple[Step, ...]) -> Any:
    """The value at a place."""
    for step in path:
        data = data[step]
    return data


def spoken(data: Any, path: tuple[Step, ...]) -> str:
    """A place as verdicts name it."""
    words: list[str] = []
    for step in path:
        data = data[step]
        named = isinstance(step, int) and isinstance(data, dict) and "name" in data
        words.append(str(data["name"]) if named else str(step + 1) if isinstance(step, int) else step)
    return ".".join(words)


def by_key(survey: Survey) -> dict[Key, Any]:
    """Verdicts by what identifies them."""
    return {(v.code, v.subject, v.rig): v for v in survey.verdicts}


def names(verdict: Any, key: str) -> bool:
    """Whether a verdict names a fact, or an item of it."""
    return any(f.key == key or f.key.startswith(key + ".") for f in verdict.rests_on)


def plain(verdict: Any) -> bool:
    """Whether a verdict holds on facts alone."""
    return verdict is not None and verdict.state == "holds" and not verdict.on_guess


def _name(key: str) -> str:
    return key if key.replace("-", "").replace("_", "").isalnum() else f'"{key}"'


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return str(value)
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_name(k)} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_value(v) for v in value) + "]"
    return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
