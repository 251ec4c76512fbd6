"""Values as written: each knows its place, and is read together with its origin."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping
from typing import Any

from pydantic import GetJsonSchemaHandler
from pydantic_core import core_schema

from scanloom.basis.fact import MAKER_ORIGINS, Fact, Known, Origin
from scanloom.basis.record import record

_MOST_TEXT = 1000
_NAMED_TABLES = ("displays", "rigs", "connectors")


@record
class Leaf:
    """A value of the file and its place.

    Parameters
    ----------
    key : str
        Place in the dossier, such as ``displays.hero-left.colour_load``.
    raw : object
        The value as TOML gives it.
    """

    key: str
    raw: Any


def plant(raw: Any, key: str = "") -> Any:
    """Put each value of a parsed file together with its place.

    Parameters
    ----------
    raw : object
        Parsed TOML: tables, lists, values.
    key : str
        Place of this part.

    Returns
    -------
    object
        The same shape with a Leaf for each value; lists of plain values are one Leaf.
    """
    if isinstance(raw, Mapping):
        return {k: plant(v, f"{key}.{k}" if key else str(k)) for k, v in raw.items()}
    if isinstance(raw, list) and raw and all(isinstance(item, Mapping) for item in raw):
        named = key.rsplit(".", 1)[-1] in _NAMED_TABLES
        return [plant(item, f"{key}.{_item_name(item, i) if named else i}") for i, item in enumerate(raw, 1)]
    return Leaf(key, raw)


def _item_name(item: Mapping[str, Any], number: int) -> str:
    """Name of a table in a list, or its number from one when it has none."""
    name = item.get("name")
    return name if isinstance(name, str) and name else str(number)


def split_note(text: str) -> tuple[str, Origin, str]:
    """Take a written value apart: the value, its origin, and the words after it.

    Parameters
    ----------
    text : str
        ``value; origin words``; the first semicolon ends the value.

    Returns
    -------
    tuple
        Value text, origin (said without one), detail.

    Raises
    ------
    ValueError
        If the first word looks like a misspelt origin.
    """
    body, mark, note = text.partition(";")
    words = note.strip().split(None, 1)
    if not mark or not words:
        return body.strip(), "said", ""
    first = words[0].rstrip(",:")
    rest = words[1].strip() if len(words) > 1 else ""
    if first in MAKER_ORIGINS:
        return body.strip(), first, rest
    near = difflib.get_close_matches(first.lower(), MAKER_ORIGINS, 1, 0.75)
    if near:
        raise ValueError(
            f"{first!r} after the semicolon is not an origin; measured, sheet, standard, said, guess or because are; "
            f"did you mean '{near[0]}'?"
        )
    return body.strip(), "said", note.strip()


class Written:
    """Pydantic marker of a field that is read from a Leaf into a Known value.

    Parameters
    ----------
    read : callable
        Turns the value's text (or a bare TOML value) into what stages use; raises ValueError with words.
    schema : Mapping
        JSON Schema of the value as written.
    bare : tuple of type
        TOML types accepted besides text.
    many : bool
        Whether the field is a list whose items each carry an origin.
    """

    def __init__(
        self,
        read: Callable[[Any], Any],
        schema: Mapping[str, Any],
        bare: tuple[type, ...] = (str,),
        many: bool = False,
    ) -> None:
        self._read = read
        self._schema = dict(schema)
        self._bare = bare
        self._many = many

    @property
    def bare(self) -> tuple[type, ...]:
        """TOML types that it takes besides text."""
        return self._bare

    @property
    def many(self) -> bool:
        """Whether it is a list whose items each carry an origin."""
        return self._many

    @property
    def example(self) -> str:
        """How such a value is written, without its origin."""
        example = next(iter(self._schema.get("examples", ())), "")
        return str(example).partition(";")[0].strip()

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        """Validate through `take` alone; the annotated type is only for readers."""
        return core_schema.no_info_plain_validator_function(self.take)

    def __get_pydantic_json_schema__(self, schema: Any, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Schema of the value as written."""
        return {"type": "array", "items": self._schema} if self._many else dict(self._schema)

    def take(self, given: Any) -> Any:
        """Read one Leaf.

        Parameters
        ----------
        given : Leaf or Known or tuple
            What stands in the file; a value already read passes through.

        Returns
        -------
        Known or tuple of Known
            The value with its fact.

        Raises
        ------
        ValueError
            If it is not what the field takes.
        """
        if isinstance(given, Known) or (self._many and isinstance(given, tuple)):
            return given
        if not isinstance(given, Leaf):
            raise ValueError(f"a table stands here; {self._wanted()} is allowed; {self._example()}")
        if self._many:
            if not isinstance(given.raw, list):
                raise ValueError(f"{given.raw!r} is no list; a list of {self._wanted()} is allowed; put it in [ ]")
            return tuple(self._known(Leaf(f"{given.key}.{i}", item)) for i, item in enumerate(given.raw, 1))
        return self._known(given)

    def _known(self, leaf: Leaf) -> Known[Any]:
        """Value and fact of one Leaf."""
        raw = leaf.raw
        if isinstance(raw, bool) or not isinstance(raw, self._bare):
            raise ValueError(f"{_shown(raw)} is {_kind(raw)}; {self._wanted()} is allowed here; {self._example()}")
        if not isinstance(raw, str):
            return Known(self._read(raw), (Fact(leaf.key, _shown(raw), "said"),))
        refuse_odd_text(raw)
        body, origin, detail = split_note(raw)
        return Known(self._read(body), (Fact(leaf.key, body, origin, detail),))

    def _wanted(self) -> str:
        """What the field takes, in words."""
        return str(self._schema.get("description", "a value"))

    def _example(self) -> str:
        """How to write it."""
        examples = self._schema.get("examples") or []
        first = examples[0] if examples else None
        quoted = isinstance(first, str) and str in self._bare
        return f'write it as "{first}"' if quoted else f"write it as {first}"


def refuse_odd_text(text: str) -> None:
    """Refuse control characters, which would reach the terminal, and text too long to be meant.

    Parameters
    ----------
    text : str
        Text of the file.

    Raises
    ------
    ValueError
        If there is such a character, or more text than anybody means to write.
    """
    if len(text) > _MOST_TEXT:
        raise ValueError(
            f"{text[:40]!r} and so on is {len(text)} characters long; up to {_MOST_TEXT} are allowed; shorten it"
        )
    odd = next((c for c in text if not c.isprintable()), None)
    if odd is not None:
        raise ValueError(
            f"{_shown(text)} holds the control character {odd!r}; plain text on one line is allowed; delete it"
        )


def _shown(raw: Any) -> str:
    """A TOML value as short text."""
    text = repr(raw) if isinstance(raw, str) else str(raw).lower() if isinstance(raw, bool) else str(raw)
    return text if len(text) <= 60 else text[:57] + "..."


def _kind(raw: Any) -> str:
    """What sort of TOML value it is, in words."""
    if isinstance(raw, bool):
        return "a yes or no"
    if isinstance(raw, (int, float)):
        return "a bare number"
    return {"str": "text", "list": "a list"}.get(type(raw).__name__, "a date or time")
