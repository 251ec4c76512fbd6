"""What is left of a document when its faulty values are set aside, so that its names can be checked in the same go."""

from __future__ import annotations

import copy
from typing import Any

from pydantic import ValidationError

from scanloom.dossier.leaf import plant
from scanloom.dossier.model import Dossier

_MOST_ROUNDS = 4
_STAND_INS: dict[str, Any] = {
    "format": 1,
    "is": "?",
    "code": "x.x",
    "subject": "x",
    "because": "x",
    "dossier": {"format": 1},
}


def salvage(data: dict[str, Any]) -> tuple[Dossier | None, bool]:
    """A dossier from values that are not all good.

    Parameters
    ----------
    data : dict
        Values as TOML reads them.

    Returns
    -------
    tuple
        The dossier without its faulty values, or None when nothing can be made of it; and whether a name was among them, so
        that whoever refers to it must not be blamed.
    """
    rest = copy.deepcopy(data)
    names = False
    for _ in range(_MOST_ROUNDS):
        try:
            return Dossier.model_validate(plant(rest)), names
        except ValidationError as error:
            for one in error.errors(include_url=False, include_input=False):
                path = tuple(step for step in one["loc"] if step != "[key]")
                names = names or path[-1] in ("name", "group", "same_as")
                _set_aside(rest, path, missing=one["type"] == "missing")
    return None, names


def _set_aside(rest: Any, path: tuple[str | int, ...], *, missing: bool) -> None:
    """Delete a faulty value, or put a stand-in where the table cannot do without one; lists keep their length."""
    here = rest
    for step in path[:-1]:
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            return  # it went with a larger part
    key = path[-1]
    if not isinstance(here, dict) or not isinstance(key, str):
        if isinstance(here, list) and isinstance(key, int) and key < len(here):
            here[key] = {"name": f"unnamed-{key + 1}"}
        return
    was_there = here.pop(key, None) is not None
    if key == "name":
        number = path[-2] if len(path) > 1 else 0
        here[key] = f"unnamed-{number}"
    elif key in _STAND_INS and (missing or was_there):
        here[key] = copy.deepcopy(_STAND_INS[key])
