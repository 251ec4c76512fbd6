"""docs/architecture.md prints the same floors, stages and banned modules as the import contracts in pyproject.toml."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "architecture.md"


def contracts() -> dict[str, dict[str, list[str]]]:
    """Import contracts by id."""
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    return {contract["id"]: contract for contract in tomllib.loads(text)["tool"]["importlinter"]["contracts"]}


def printed(marker: str) -> list[set[str]]:
    """Names in backticks of each list item between a pair of markers."""
    page = PAGE.read_text(encoding="utf-8")
    found = re.findall(rf"<!-- {marker}: begin -->\n(.*?)<!-- {marker}: end -->", page, re.DOTALL)
    assert len(found) == 1, f"{PAGE.name}: markers of {marker} stand {len(found)} times; once is right"
    items = [line for line in found[0].splitlines() if re.match(r"\d+\. |- ", line)]
    return [set(re.findall(r"`([a-z_0-9]+)`", item)) for item in items]


@pytest.mark.parametrize("name", ["floors", "stages"])
def test_page_prints_the_layers_of_the_contract(name: str) -> None:
    layers = [set(re.findall(r"[a-z_0-9]+", layer)) for layer in contracts()[name]["layers"]]
    assert printed(name) == layers


def test_page_prints_what_sums_may_not_import() -> None:
    sources, banned = printed("pure")
    assert {f"scanloom.{name}" for name in sources} == set(contracts()["pure"]["source_modules"])
    assert banned == set(contracts()["pure"]["forbidden_modules"])


def test_layers_in_parentheses_are_those_not_built_yet() -> None:
    """An optional layer that exists would let its folder vanish without a word."""
    faults = []
    for name, folder in (("floors", "scanloom"), ("stages", "scanloom/stages")):
        for layer in re.split(r"[|:,]", ",".join(contracts()[name]["layers"])):
            place = ROOT / "src" / folder / layer.strip(" ()")
            exists = place.with_suffix(".py").exists() or any(place.glob("*.py"))
            if exists == layer.strip().startswith("("):
                faults.append(
                    f"{name}: {layer.strip()} {'exists: take its parentheses off' if exists else 'is missing'}"
                )
    assert not faults, "\n".join(faults)
