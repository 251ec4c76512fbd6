"""Levels and currents that others printed, or that follow by hand, come out as printed; rows are in levels.toml."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from scanloom.basis.source import STANDINGS
from scanloom.basis.span import Span
from scanloom.circuit.nodal import GROUND, Network, Resistor, VoltageSource, solve
from scanloom.stages.levels.currents import leg_currents
from scanloom.stages.levels.figures import channel_figures, source_match, source_ohm
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.monotonic import monotonic_at_percent
from scanloom.stages.levels.sizing import ladder_resistance, matched_resistances, series_resistance
from scanloom.stages.levels.sync import SharedSync, SyncInput, sync_levels
from scanloom.stages.levels.tolerance import white_span

FILE = tomllib.loads((Path(__file__).parent / "levels.toml").read_text(encoding="utf-8"))
Row = dict[str, Any]


def span(given: float | list[float]) -> Span:
    if not isinstance(given, list):
        return Span.exact(float(given))
    return Span.of(*given) if len(given) == 2 else Span(*given)


def channel(net: Row) -> OutputNetwork:
    percent = net.get("part_percent", 0.0)
    parts = net["part"] if isinstance(net["part"], list) else [net["part"]] * net["bits"]

    def part(value: float) -> Span:
        return span(value).relative(percent)

    return OutputNetwork(
        net["style"],
        tuple(part(value) for value in parts),
        span(net["pin"]),
        span(net["pin"]),
        span(net["rail"]),
        span(net["load"]),
        part(net["shunt"]) if "shunt" in net else None,
        tuple(part(net["rung"]) for _ in parts[1:]) if "rung" in net else (),
        part(net["terminator"]) if "terminator" in net else None,
    )


@dataclass(frozen=True)
class FanOut:
    """One pin that feeds several inputs through a part each."""

    level_v: float
    pin_a: float


def fan_out(pin_ohm: float, part_ohm: float, inputs: int) -> FanOut:
    arms = [Resistor("pin", f"out{at}", part_ohm) for at in range(inputs)]
    loads = [Resistor(f"out{at}", GROUND, 75.0) for at in range(inputs)]
    solved = solve(Network((Resistor("rail", "pin", pin_ohm), *arms, *loads), (VoltageSource("rail", GROUND, 3.3),)))
    return FanOut(solved.node_v["out0"], solved.source_a[0])


def inl_from_weights(net: OutputNetwork) -> float:
    """(2^n - 1) / 2 times the sum over the legs of how far each weight lies from its power of two."""
    siemens = [1.0 / (part.typical + net.pin_high_ohm.typical) for part in net.part_ohm]
    most = net.white_code
    ideal = [math.ldexp(1.0, bit) / most for bit in reversed(range(net.bits))]
    return 0.5 * most * sum(abs(g / sum(siemens) - wanted) for g, wanted in zip(siemens, ideal, strict=True))


def one_sync(pin_ohm: float, series_ohm: float, rail_v: float, load_ohm: float, inputs: int) -> Any:
    many = (SyncInput(span(load_ohm)),) * inputs
    return sync_levels(SharedSync(span(pin_ohm), span(pin_ohm), span(rail_v), many, span(series_ohm)))


CALLS: dict[str, Callable[[Row], Any]] = {
    "channel_figures": lambda row: channel_figures(channel(row["net"])),
    "leg_currents": lambda row: leg_currents(channel(row["net"])),
    "source_match": lambda row: source_match(source_ohm(channel(row["net"])), row["line_ohm"]),
    "white_span": lambda row: white_span(channel(row["net"])),
    "monotonic_at_percent": lambda row: monotonic_at_percent(channel(row["net"])),
    "inl_from_weights": lambda row: inl_from_weights(channel(row["net"])),
    "series_resistance": lambda row: series_resistance(**row["args"]),
    "matched_resistances": lambda row: matched_resistances(**row["args"]),
    "ladder_resistance": lambda row: ladder_resistance(**row["args"]),
    "fan_out": lambda row: fan_out(**row["args"]),
    "sync_levels": lambda row: one_sync(**row["args"]),
}


def taken(answer: Any, take: str) -> Any:
    """Walk into an answer: numbers index, max takes the largest, other words are fields."""
    for step in filter(None, take.split(".")):
        if step.lstrip("-").isdigit():
            answer = answer[int(step)]
        else:
            answer = max(answer) if step == "max" else getattr(answer, step)
    return answer


def named(row: Row) -> str:
    return f"{row['id']}-{row['call']}-{row.get('take', '')}".rstrip("-")


@pytest.mark.parametrize("row", FILE["row"], ids=named)
def test_figure_comes_out_as_printed(row: Row) -> None:
    found = taken(CALLS[row["call"]](row), row.get("take", ""))
    if isinstance(row["value"], list):
        assert len(found) == len(row["value"])
        for code, (ours, printed) in enumerate(zip(found, row["value"], strict=True)):
            assert ours == pytest.approx(printed, rel=0, abs=row["tolerance"]), code
        return
    if "lit" in row:  # share of the frame in which the picture is sent
        found *= math.prod(row["lit"]["picture"]) / math.prod(row["lit"]["total"])
    found = found * row.get("times", 1) / row.get("over", 1.0)
    if "decibel_over" in row:
        found = 20.0 * math.log10(found / row["decibel_over"])
    assert found == pytest.approx(row["value"], rel=0, abs=row["tolerance"])


def test_rows_name_their_sources_and_none_is_missing() -> None:
    used = {row["source"] for row in FILE["row"]}
    assert used == set(FILE["sources"])
    assert all(source["standing"] in STANDINGS for source in FILE["sources"].values())
    assert {f"A{number}" for number in range(1, 16)} <= {row["id"] for row in FILE["row"]}
