"""docs/sources.md: the handbook's sources, how far each may be leant on, and what rests on it."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Any

from scanloom.basis.source import FACTS, STANDINGS, Source
from scanloom.handbook.load import table, table_names
from scanloom.handbook.sources import all_sources

HEAD = """# Sources of the handbook

{standing}

| source | standing | read | used by |
|---|---|---|---|
"""
STANDING = """Each row of the handbook's tables names a source below and the page, table or clause in it. The standing says how
far the row may be leant on: {facts} make it a fact; {guesses} leave it a guess, and a check that holds on a guess is
counted apart. A *recalled* source was not looked up, so it has no date."""


def page() -> str:
    """The page."""
    used: dict[str, dict[str, int]] = {}
    for name in table_names():
        if name != "sources":
            for key in source_keys(table(name)):
                rows = used.setdefault(key, {})
                rows[name] = rows.get(name, 0) + 1
    facts = ", ".join(f"*{s}*" for s in STANDINGS if s in FACTS)
    guesses = ", ".join(f"*{s}*" for s in STANDINGS if s not in FACTS)
    lines = [HEAD.format(standing=textwrap.fill(STANDING.format(facts=facts, guesses=guesses), 120)).rstrip()]
    for one in all_sources():
        names = ", ".join(f"`{name}`" for name in used.get(one.key, {})) or "nothing"
        lines.append(f"| [`{one.key}`](#{one.key}) | {one.standing} | {one.read or '-'} | {names} |")
    for one in all_sources():
        lines += _section(one, used.get(one.key, {}))
    return "\n".join(lines) + "\n"


def _section(one: Source, used: dict[str, int]) -> Iterator[str]:
    """One source."""
    yield from ("", f"## {one.key}", "", f"{one.title}." if not one.title.endswith(".") else one.title, "")
    if one.edition:
        yield f"- Edition: {one.edition}."
    yield f"- Standing: {one.standing}, so its rows are {'facts' if one.is_fact else 'guesses'}."
    yield f"- Read: {one.read or 'not looked up for this handbook'}."
    told = [f"{_table(name)}, {count} row{'s' if count > 1 else ''}" for name, count in used.items()]
    yield f"- Used by: {'; '.join(told) or 'nothing'}."


def _table(name: str) -> str:
    """A table in words."""
    folder, _, chip = name.rpartition("/")
    return f"chip `{chip}`" if folder == "chips" else f"table `{name}`"


def source_keys(held: Any) -> Iterator[str]:
    """Source keys anywhere in a table."""
    if isinstance(held, dict):
        for key, value in held.items():
            if key == "source" and isinstance(value, str):
                yield value
            else:
                yield from source_keys(value)
    elif isinstance(held, list):
        for item in held:
            yield from source_keys(item)
