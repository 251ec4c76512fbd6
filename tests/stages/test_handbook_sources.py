"""Every row names a source, every source is used, every standing is one of seven."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from scanloom.basis.source import FACTS, STANDINGS, Source
from scanloom.handbook.load import table, table_names
from scanloom.handbook.sources import all_sources, row_fact, source

ROW_TABLES = [name for name in table_names() if name != "sources"]


def sourced(node: Any, path: str) -> Iterator[tuple[str, Any]]:
    """Every table that names a source, however deep, with its place in the file."""
    if isinstance(node, dict):
        if "source" in node:
            yield path, node
        for key, value in node.items():
            yield from sourced(value, f"{path}.{key}")
    elif isinstance(node, list):
        for number, value in enumerate(node):
            yield from sourced(value, f"{path}[{number}]")


def test_rows_are_found_at_any_depth() -> None:
    node = {"a": {"source": "x"}, "b": [{"c": {"source": "y"}}, {"source": "z", "d": {"source": "w"}}]}
    assert [(path, row["source"]) for path, row in sourced(node, "t")] == [
        ("t.a", "x"), ("t.b[0].c", "y"), ("t.b[1]", "z"), ("t.b[1].d", "w"),
    ]  # fmt: skip


@pytest.mark.parametrize("name", ROW_TABLES)
def test_every_row_names_a_listed_source_and_a_place(name: str) -> None:
    rows = list(sourced(table(name), name))
    assert rows
    keys = {s.key for s in all_sources()}
    assert [path for path, row in rows if row["source"] not in keys] == []
    assert [path for path, row in rows if not row.get("place", "").strip()] == []


@pytest.mark.parametrize(
    "name", ["dmt", "legacy", "formulas", "signal_levels", "cables", "buffers", "part_series", "supply_usual"]
)
def test_no_row_goes_without_a_source(name: str) -> None:
    nested = {"dmt": ("rows",), "legacy": ("rows", "height"), "formulas": ("rows",)}.get(name)
    parts = [table(name)[key] for key in nested] if nested else [table(name)]
    rows = {f"{name}.{key}": row for part in parts for key, row in part.items()}
    have = {path for path, _ in sourced(rows, "")}
    for path, row in rows.items():
        figures = [k for k, v in row.items() if isinstance(v, dict)] if name == "buffers" else [""]
        for figure in figures:
            assert f".{path}" + (f".{figure}" if figure else "") in have


def test_every_source_is_used() -> None:
    used = {row["source"] for name in ROW_TABLES for _, row in sourced(table(name), name)}
    assert [s.key for s in all_sources() if s.key not in used] == []


def test_standings_and_dates() -> None:
    for one in all_sources():
        assert one.standing in STANDINGS
        assert one.title.strip()
        assert one.is_fact == (one.standing in {"standard", "datasheet", "measured"})
        # what counts as a fact was read by somebody, on a day
        assert bool(one.read) or not one.is_fact, one.key
    assert FACTS < set(STANDINGS)


def test_memory_is_never_a_fact() -> None:
    assert not source("vesa-vsis").is_fact
    fact = row_fact("handbook.signal_levels.clock-wobble", "0.15 pixel", "vesa-vsis", "clause 7.5")
    assert fact.is_guess
    with pytest.raises(ValueError, match="recalled, yet read 2026-11-24"):
        replace(source("vesa-vsis"), read="2026-11-24")


def test_refusals() -> None:
    with pytest.raises(ValueError, match=r"source 'vesa-dmd': not in the list of sources; .*did you mean vesa-dmt"):
        source("vesa-dmd")
    with pytest.raises(ValueError, match="standing 'hearsay' is not known; standard, datasheet, handbook"):
        Source("x", "title", "", "hearsay", "")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match=r"table 'dmd': not in the handbook; .*dmt"):
        table("dmd")
    with pytest.raises(ValueError, match="not in the handbook"):
        table("../tables/dmt")
