"""docs/dossier.md: every table and field of the dossier, from its models; examples from the demo dossiers."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, get_args, get_origin

from pydantic import BaseModel

from scanloom.basis.fact import MAKER_ORIGINS
from scanloom.dossier.leaf import Written
from scanloom.dossier.model import Dossier
from scanloom.handbook.cables import cable_kinds
from scanloom.handbook.chips import chip_names, display_classes
from scanloom.handbook.load import table

DEMOS = ("examples/deep-station/final.toml", "examples/deep-station/first-evening.toml")
ORIGINS = {
    "measured": "somebody measured this very thing; then when, who, how",
    "sheet": "printed in its datasheet or manual; then the page",
    "standard": "laid down by a standard; then which",
    "said": "somebody said so; also what counts when no word follows the value",
    "guess": "nobody knows yet; whatever rests on it holds on a guess only, and is counted apart",
    "because": "no fact but a decision; then the reason",
}
HEAD = """# The dossier

One TOML file beside the firmware holds what is known of a job and what was decided, each with its origin. It holds no
computed value; the one exception is the `mark` of an acceptance, which `scanloom check DOSSIER --accept CODE SUBJECT
--because TEXT` writes. Everything else is computed anew at each survey.

## How a value is written

A value is one string: the quantity, then a semicolon, then one word that says where it is from, then what one wants to
remember: `"20 .. 40 ohm; measured 2031-01-09 Ilse, 3 pins"`. The first semicolon ends the value.

| word | meaning |
|---|---|
{origins}

A quantity is read exactly, digit by digit, and always has its unit:

- one number: `"25.175 MHz"`, `"24000 B"`; a resistor may be written as on its body, `"4k7"`;
- a number with its tolerance: `"75 ohm ± 2 %"`;
- two bounds, the middle being expected: `"3.25 .. 3.35 V"`; or bounds with what is expected between them:
  `"20 .. 28 .. 40 ohm"`;
- several values, the last one carrying the unit for all: `"510, 1000, 2000 ohm ± 1 %"`. Where a channel has several
  bits, lists of parts and pins run from the most significant.

A decimal comma, a missing unit, a unit of the wrong kind and words such as `nan` are refused, and the message shows an
accepted form. Pin numbers, counts and dates stay bare; names are lower-case words joined by hyphens. A key that nobody
knows is refused with the nearest known one. All faults of a file are told at once, each with its line.

What is left out is unknown, never zero. A display may borrow: `same_as` copies the facts of another one (they fall to
*said*, a guess stays a guess, `proved` is never copied), and `like` lets its class in the handbook stand in, as a guess.

A JSON Schema for editors is in `docs/schemas/dossier.json`.
"""


@dataclass(frozen=True, slots=True)
class Held:
    """What a field holds: a value, a table, a list of tables or tables by name."""

    kind: str
    model: type[BaseModel] | None = None
    marker: Written | None = None
    keys: int = 0  # levels of names between the field and its values


@dataclass(frozen=True, slots=True)
class Row:
    """One field as the page shows it."""

    key: str
    field: str
    takes: str
    example: str
    says: str


@dataclass(frozen=True, slots=True)
class Section:
    """One table of the dossier."""

    heading: str
    model: type[BaseModel]
    rows: tuple[Row, ...]
    same: str = ""


def page(root: Path, words: Mapping[str, Mapping[str, str]]) -> str:
    """The page."""
    if set(ORIGINS) != set(MAKER_ORIGINS):
        raise ValueError(
            f"origins are {', '.join(MAKER_ORIGINS)}, pages_dossier.py tells of {', '.join(ORIGINS)}; match them"
        )
    parts = sections(root, words)
    lines = [HEAD.format(origins="\n".join(f"| `{w}` | {ORIGINS[w]} |" for w in MAKER_ORIGINS)).rstrip()]
    for part in parts:
        lines += ["", f"## {part.heading}", ""]
        owner = _owner(part.model)
        if part.same:
            lines.append(f"Fields as in `{part.same}`.")
            continue
        lines += [owner, ""] if owner else []
        lines += ["| field | takes | example | meaning |", "|---|---|---|---|"]
        for row in part.rows:
            shown = f"`{row.example}`" if row.example else ""
            lines.append(f"| `{row.field}` | {row.takes} | {shown} | {row.says} |".replace("|  |", "| |"))
    lines += ["", "## Names that the handbook knows", ""]
    lines += [f"- {what}: {', '.join(f'`{name}`' for name in names)}." for what, names in _known().items()]
    return "\n".join(lines) + "\n"


def _known() -> dict[str, tuple[str, ...]]:
    """Names that fields may take from the handbook, by what takes them."""
    return {
        "Chips, for `chip.like`": chip_names(),
        "Classes of displays, for `displays.like`": tuple(display_classes()),
        "Kinds of cable, for `displays.cable`": cable_kinds(),
        "Logic families, for `levels.sync.buffer` and `levels.colour.buffer`": tuple(table("buffers")),
    }


def sections(root: Path, words: Mapping[str, Mapping[str, str]]) -> list[Section]:
    """Every table with its fields."""
    demos = [tomllib.loads((root / name).read_text(encoding="utf-8")) for name in DEMOS]
    faults: list[str] = []
    used: set[str] = set()
    found = list(_walk(Dossier, (), "", demos, words, used, faults, {}))
    faults += [
        f"{key}: words in pages_words.toml, but the dossier has no such field; delete them"
        for key in words.keys() - used
    ]
    if faults:
        raise ValueError("\n".join(sorted(faults)))
    return found


def _walk(
    model: type[BaseModel],
    path: tuple[str, ...],
    heading: str,
    demos: list[dict[str, Any]],
    words: Mapping[str, Mapping[str, str]],
    used: set[str],
    faults: list[str],
    seen: dict[type[BaseModel], str],
) -> Iterator[Section]:
    """A table, then the tables in it."""
    if model in seen:
        yield Section(heading, model, (), seen[model])
        return
    seen[model] = heading
    rows: list[Row] = []
    inner: list[tuple[type[BaseModel], tuple[str, ...], str]] = []
    for name, info in model.model_fields.items():
        field = info.alias or name
        here = (*path, field)
        held = _held([info.annotation, *info.metadata])
        key = ".".join(word for word in here if word != "*")
        used.add(key)
        own = words.get(key, {})
        if held.model is not None:
            names = {"table": (), "tables": ("*",), "named": ("*",)}[held.kind]
            shown = ".".join(
                word.replace("*", "NAME")
                for word in (*_plain(here, seen), *(("NAME",) if held.kind == "named" else ()))
            )
            title = f"[[{shown}]]" if held.kind == "tables" else f"[{shown}]"
            inner.append((held.model, (*here, *names), title))
            what = {"table": "a table", "tables": "a list of tables", "named": "tables by name"}[held.kind]
            takes, example = f"{what}, `{title}`", ""
            described = info.description or _owner(held.model)[:1].lower() + _owner(held.model)[1:].rstrip(".")
        else:
            takes, usual = _takes(held, info)
            stated = next((pair for demo in demos for pair in _stated(demo, (*here, *("*",) * held.keys))), None)
            example = own.get("example") or (_written(*stated, held.keys) if stated is not None else usual)
            described = info.description or ""
        if described and "says" in own:
            faults.append(f"{key}: describes itself by now; delete its words in pages_words.toml")
        says = described or own.get("says", "")
        if not says:
            faults.append(f'{key}: no description; add one to the model, or [fields."{key}"] says in pages_words.toml')
        rows.append(Row(key, field, takes + ("; must be there" if info.is_required() else ""), example, says))
    if path:
        yield Section(heading, model, tuple(rows))
    for each, where, title in inner:
        yield from _walk(each, where, title, demos, words, used, faults, seen)


def _plain(path: tuple[str, ...], seen: Mapping[type[BaseModel], str]) -> list[str]:
    """A path as a TOML heading spells it: the tables of a list are entered without a name."""
    named = [heading.strip("[]") for heading in seen.values() if heading.endswith("NAME]")]
    made: list[str] = []
    for word in path:
        if word != "*":
            made.append(word)
        elif ".".join([*made, "NAME"]) in named:
            made.append("NAME")
    return made


def _held(annotations: list[Any]) -> Held:
    """What an annotation lets a field hold."""
    for one in annotations:
        if isinstance(one, Written):
            return Held("value", marker=one)
    for one in annotations:
        origin, inner = get_origin(one), [a for a in get_args(one) if a is not type(None) and a is not Ellipsis]
        if isinstance(one, type) and issubclass(one, BaseModel):
            return Held("table", one)
        if origin is dict:
            value = _held([inner[1]])
            return Held("named", value.model) if value.model else Held("value", None, value.marker, value.keys + 1)
        if origin is tuple or origin is Annotated or inner:
            value = _held(inner if origin is not Annotated else list(get_args(one)))
            if value.model is not None and origin is tuple:
                return Held("tables", value.model)
            if value.model is not None or value.marker is not None:
                return value
    return Held("value")


def _takes(held: Held, info: Any) -> tuple[str, str]:
    """What a value may be, in words, and the usual example of its kind."""
    if held.marker is None:
        shapes = [m for m in info.metadata if hasattr(m, "json_schema")]
        shape = shapes[0].json_schema if shapes else {}
        return ("1" if "const" in shape else "a name" if "pattern" in shape else "text"), ""
    shape = held.marker.__get_pydantic_json_schema__({}, None)  # type: ignore[arg-type]
    item = shape.get("items", {}) if "description" not in shape else shape
    examples = item.get("examples", [])
    example = _toml(examples[0]) if examples else ""
    words = str(item.get("description", "a value"))
    listed = item is not shape
    return (
        f"{'' if held.keys == 0 else 'by name: '}{'a list: ' if listed else ''}{words}",
        f"[{example}]" if listed else example,
    )


def _owner(model: type[BaseModel]) -> str:
    """What the docstring of a table says of its owner, without the name of the table."""
    text = " ".join((model.__doc__ or "").split())
    text = re.sub(r"^\[+[\w.]+\]+[,:]?\s*", "", text)
    return text[:1].upper() + text[1:] if " " in text else ""


def _stated(data: Any, path: tuple[str, ...], names: tuple[str, ...] = ()) -> Iterator[tuple[Any, tuple[str, ...]]]:
    """Values that a dossier states at a path, a star standing for any name or number; with the names met at stars."""
    if not path:
        yield data, names
    elif isinstance(data, list):
        for item in data:
            yield from _stated(item, path[1:] if path[0] == "*" else path, names)
    elif isinstance(data, dict):
        for key in data if path[0] == "*" else (path[0],):
            if key in data:
                yield from _stated(data[key], path[1:], (*names, key) if path[0] == "*" else names)


def _written(value: Any, names: tuple[str, ...], keys: int) -> str:
    """A value as the dossier writes it, behind the names it goes by where the maker chooses them."""
    return f"{'.'.join(names[-keys:])} = {_toml(value)}" if keys else _toml(value)


def _toml(value: Any) -> str:
    """A value as TOML writes it."""
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, list):
        return f"[{', '.join(_toml(v) for v in value)}]"
    return str(value)
