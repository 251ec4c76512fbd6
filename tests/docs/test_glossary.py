"""One word, one meaning, one unit: each field of a result has a row in docs/glossary.md (term, meaning, unit)."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
GLOSSARY = ROOT / "docs" / "glossary.md"
FLOORS = ("stages", "basis")
# Last word of a field's name and what its entry must give as unit; names without such a word may have any.
SUFFIXES = {
    **{"a": "A", "bytes": "B", "db": "dB", "f": "F", "h": "H", "hz": "Hz", "m": "m", "mm": "mm", "ohm": "ohm"},
    **{"ppm": "ppm", "s": "s", "v": "V", "w": "W"},
}


def rows() -> list[tuple[list[str], str, str]]:
    """Terms in backticks, meaning and unit of each row."""
    found = []
    for line in GLOSSARY.read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip().strip("|").split("|")]
        if line.startswith("|") and len(cells) == 3 and not re.fullmatch(r"[-: ]+", cells[0]) and cells[0] != "term":
            found.append((re.findall(r"`([^`]+)`", cells[0]) or [cells[0]], cells[1], cells[2]))
    return found


def result_fields() -> dict[str, str]:
    """Public fields of frozen dataclasses on the floors where results are made, each with a place where it stands."""
    found: dict[str, str] = {}
    for floor in FLOORS:
        for path in sorted((ROOT / "src" / "scanloom" / floor).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.ClassDef) and not node.name.startswith("_") and is_frozen(node):
                    for name in field_names(node):
                        found.setdefault(name, f"{path.relative_to(ROOT / 'src').as_posix()}: {node.name}")
    return found


def is_frozen(node: ast.ClassDef) -> bool:
    """Whether a class is a frozen dataclass, or a record, which is one."""
    calls = [decorator for decorator in node.decorator_list if isinstance(decorator, ast.Call)]
    return any(getattr(decorator, "id", "") == "record" for decorator in node.decorator_list) or any(
        getattr(call.func, "id", getattr(call.func, "attr", "")) == "dataclass"
        and any(
            k.arg == "frozen" and isinstance(k.value, ast.Constant) and k.value.value is True for k in call.keywords
        )
        for call in calls
    )


def field_names(node: ast.ClassDef) -> list[str]:
    """Public annotated names in a class body."""
    named = [s.target.id for s in node.body if isinstance(s, ast.AnnAssign) and isinstance(s.target, ast.Name)]
    return [name for name in named if not name.startswith("_")]


def test_every_result_field_has_an_entry() -> None:
    text = GLOSSARY.read_text(encoding="utf-8")
    told = set(re.findall(r"`([^`\n]+)`", text))
    fields = result_fields()
    assert fields
    missing = [f"{name}  ({place})" for name, place in sorted(fields.items()) if name not in told]
    if missing:
        pytest.fail(f"{len(missing)} fields without an entry in docs/glossary.md\n" + "\n".join(missing), pytrace=False)


def test_every_term_has_one_row_a_meaning_and_a_unit() -> None:
    faults: list[str] = []
    seen: set[str] = set()
    assert rows()
    for terms, meaning, unit in rows():
        faults += [f"{term}: has two rows" for term in terms if term in seen]
        if not meaning:
            faults.append(f"{terms[0]}: has no meaning")
        if not unit:
            faults.append(f"{terms[0]}: has no unit; write - where there is none")
        seen.update(terms)
    assert not faults, "\n".join(faults)


def test_unit_is_the_one_in_the_name() -> None:
    faults = []
    for terms, _, unit in rows():
        for term in terms:
            expected = SUFFIXES.get(term.rpartition("_")[2]) if "_" in term else None
            if expected and unit.strip("`[]") != expected:
                faults.append(f"{term}: the name says {expected}, the row says {unit}")
    assert not faults, "\n".join(faults)
