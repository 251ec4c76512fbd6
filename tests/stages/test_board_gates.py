"""Buffers and amplifiers told by the names of their pins, by their function, or not at all; packs by their pins."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scanloom.dossier.model import Part
from scanloom.stages.board.gates import DIRECTIONS, ENABLES, GATES, SUPPLIES, gates_of
from scanloom.stages.board.graph import PinGraph
from scanloom.stages.board.links import links_of
from scanloom.stages.board.model import Listed


def graph_of(part: str, names: dict[str, str], value: str) -> PinGraph:
    """One part, each pin on a net of its own but those that are called ground."""
    nets = {(part, pin): "GND" if name == "GND" else f"net-{pin}" for pin, name in names.items()}
    return PinGraph(
        nets, {}, {(part, pin): name for pin, name in names.items() if name}, {part: Listed((part,), value)}
    )


@pytest.mark.parametrize(
    ("names", "wanted"),
    [
        ({"1": "1A", "2": "1Y", "3": "2A", "4": "2Y"}, {"2": "1", "4": "3"}),
        ({"1": "A0", "2": "A1", "3": "Y1", "4": "Y0"}, {"4": "1", "3": "2"}),
        ({"1": "IN1", "2": "IN2", "7": "OUT2", "8": "OUT1"}, {"8": "1", "7": "2"}),
        ({"3": "IN+", "2": "IN-", "6": "OUT"}, {"6": "3"}),
        ({"1": "D3", "2": "Q3"}, {"2": "1"}),
        ({"1": "A1", "2": "Y2"}, {}),
    ],
)
def test_pins_with_names(names: dict[str, str], wanted: dict[str, str]) -> None:
    found = gates_of(graph_of("U5", names, "x"), {"U5": Part.model_validate({"is": "video amplifier"})})
    assert {gate.out: gate.into for gate in found.by_output.values()} == wanted
    assert bool(found.unknown) == (not wanted)


@pytest.mark.parametrize(
    ("value", "function"),
    [("74LVC125", "125"), ("74AHC244PW", "244"), ("74LVC1G34", "1G34"), ("74LVC2G125", "2G125"), ("74HC541D", "541"), ("74LVC126", "126"),
     ("74LVCH244A", "244"), ("74ALVC-541", "541"), ("74HCT07", "07"), ("74AUP1G17", "1G17"), ("74HC34", "34")],
)  # fmt: skip
@pytest.mark.parametrize("stated", [True, False])
def test_functions_by_value(value: str, function: str, stated: bool) -> None:
    pins = dict.fromkeys(
        map(
            str,
            range(1, {"2G125": 9}.get(function, 7 if "G" in function else 21 if function in ("244", "541") else 15)),
        ),
        "",
    )
    said = {"U5": Part.model_validate({"is": "video buffer"})} if stated else {}
    found = gates_of(graph_of("U5", pins, value), said)
    assert {gate.out: gate.into for gate in found.by_output.values()} == GATES[function]
    assert found.supplies["U5"] == SUPPLIES[function]
    assert {gate.out: gate.enables for gate in found.by_output.values() if gate.enables} == ENABLES.get(function, {})


@pytest.mark.parametrize(
    ("value", "pins"),
    [("74LVC3G34", 8), ("74LVC8T245", 24), ("74LVC16244", 48), ("74LVC1G04, 17 mA", 5), ("74LVC125", 20), ("74LVC240", 20), ("LM317", 14)],
)  # fmt: skip
def test_other_parts_are_not_taken_for_a_function(value: str, pins: int) -> None:
    graph = graph_of("U5", dict.fromkeys(map(str, range(1, pins + 1)), ""), value)
    found = gates_of(graph, {"U5": Part.model_validate({"is": "video buffer"})})
    assert found.unknown == ("U5",)
    assert not found.by_output and not found.supplies


@pytest.mark.parametrize(("value", "size", "pin"), [("74LVC245", 20, "1"), ("74LVC1T45", 6, "5")])
@pytest.mark.parametrize("held", ["3V3", "GND", "elsewhere"])
def test_direction_pin_turns_the_part(value: str, size: int, pin: str, held: str) -> None:
    graph = graph_of("U5", dict.fromkeys(map(str, range(1, size + 1)), ""), value)
    nets = {**graph.nets, ("U5", pin): held, ("C1", "1"): "3V3", ("C1", "2"): "GND"}
    found = gates_of(replace(graph, nets=nets), {"U5": Part.model_validate({"is": "sync buffer"})})
    name = value.removeprefix("74LVC")
    wanted = {"3V3": GATES[name], "GND": {into: out for out, into in GATES[name].items()}, "elsewhere": {}}[held]
    assert {gate.out: gate.into for gate in found.by_output.values()} == wanted
    assert bool(found.unknown) == (held == "elsewhere")
    assert all(gate.enables == ENABLES.get(name, {}).get(gate.out, gate.enables) for gate in found.by_output.values())
    assert not ENABLES.get(name) or all(gate.enables for gate in found.by_output.values())


def test_no_pin_of_a_function_has_two_uses() -> None:
    for name, table in GATES.items():
        enables = {pin for pins in ENABLES.get(name, {}).values() for pin in pins}
        used = [*table, *table.values(), *enables, *SUPPLIES[name], *([DIRECTIONS[name]] if name in DIRECTIONS else [])]
        assert len(used) == len(set(used)), name


@pytest.mark.parametrize(
    ("pins", "names", "says", "wanted"),
    [
        (8, {}, "resistors, separate", {"1-8", "2-7", "3-6", "4-5"}),
        (9, {}, "", {f"1-{n}" for n in range(2, 10)}),
        (8, {}, "resistors, common pin", {f"1-{n}" for n in range(2, 9)}),
        (4, {"1": "R1.1", "2": "R2.1", "3": "R1.2", "4": "R2.2"}, "", {"1-3", "2-4"}),
        (6, {"6": "COMMON"}, "", {f"6-{n}" for n in range(1, 6)}),
    ],
)
def test_packs(pins: int, names: dict[str, str], says: str, wanted: set[str]) -> None:
    graph = graph_of("RN1", {str(n): names.get(str(n), "") for n in range(1, pins + 1)}, "240")
    stated = {"RN1": Part.model_validate({"is": says})} if says else {}
    found = {link for links in links_of(graph, stated).values() for link in links}
    assert {link.name.removeprefix("RN1-") for link in found} == wanted
    assert {link.ohm.typical for link in found if link.ohm} == {240.0}
