"""Pins whose own name says ground or supply, against the nets they are on."""

from __future__ import annotations

import re
from collections.abc import Mapping

from scanloom.basis.verdict import Place
from scanloom.stages.board.graph import PinGraph
from scanloom.stages.board.model import PinName
from scanloom.stages.board.pads import nets_file
from scanloom.stages.board.sight import Sight

_GROUND = re.compile(r"(?i)(A|D|P)?GND\d*|VSS\d*|GROUND")
_GROUND_NET = re.compile(r"(?i)GND|VSS|GROUND|EARTH|\b0V")
_LOOSE = ("IN", "OUT")
_BELOW = re.compile(
    r"(?i)-\d.*|VEE.*|VNEG.*|V-|.*(?:_NEG|_N)"
)  # supplies below ground, where an amplifier's VSS belongs
_SUPPLY = re.compile(r"(?i)(A|D)?VCC\w*|(A|D)?VDD\w*|VIN|VIO|VOUT|IN|OUT|VBUS|3V3|5V|\+?3\.3V|\+?5V|V\+")


_DATA = re.compile(r"(?i)(usb[_-]?|u)?d(ata)?[+-]|usb[_-]?d[pmn]")


def judge_supply_pins(sight: Sight) -> None:
    """Judge pins that files name ground or supply.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.
    """
    graph = sight.graph
    named = {pin: name for pin, name in graph.functions.items() if pin in graph.nets}
    chips = {pin: name for pin, name in named.items() if pin[0].upper().startswith(("U", "IC", "VR", "Q", "MOD"))}
    ground = {pin: name for pin, name in chips.items() if _GROUND.fullmatch(name)}
    supply = {pin: name for pin, name in chips.items() if _SUPPLY.fullmatch(name)}
    if not ground and not supply:
        return
    # a module has several of each, and not every one need be joined
    wrong = [
        pin for pin in ground
        if graph.nets[pin] not in graph.grounds | {""} and not _GROUND_NET.search(graph.nets[pin])  # grounds may be apart
        and not _BELOW.fullmatch(graph.nets[pin].rsplit("/", 1)[-1])
    ]  # fmt: skip
    wrong += [pin for pin in supply if graph.nets[pin] == graph.ground]
    used = (*graph.copper_roles, *graph.roles)
    astray = _data_on_supply(sight, chips)
    bare = _without_ground(graph, ground)
    board = sight.reading.plan.dossier.board
    stated = {graph.part(name) for name in (board.parts if board else {})}
    for part in bare[:3]:
        pin = next(pin for pin in ground if pin[0] == part)
        at = graph.place(pin)
        sight.verdict(
            "board.supply-pins", f"board.parts.{part}", "stop" if part in stated else "caution",
            f"No ground pin of {part} is joined to anything.", state="fails",
            used=used, seen="no net", wanted=graph.ground, doubt="A part that is not fitted looks so, if the parts list lists it.",
            place=Place(nets_file(graph), "", at.x_mm if at else None, at.y_mm if at else None, "-".join(pin)),
        )  # fmt: skip
    for pin in wrong[:6]:
        at = graph.place(pin)
        sight.verdict(
            "board.supply-pins", f"board.parts.{pin[0]}", "caution" if _may_be_meant(graph, pin, named[pin]) else "stop",
            f"{'-'.join(pin)} is called {named[pin]} and is on another net.",
            state="fails", used=used, seen=graph.nets[pin] or "no net", wanted=graph.ground if pin in ground else "a supply",
            place=Place(nets_file(graph), "", at.x_mm if at else None, at.y_mm if at else None, "-".join(pin)),
            doubt="A part that floats on purpose, or an output called IN by its maker, looks so: read its datasheet.",
        )  # fmt: skip
    if not wrong and not bare and not astray:
        sight.verdict(
            "board.supply-pins", "board.parts", "stop", "Pins that are called ground or supply are on such nets.", state="holds",
            used=used, seen=f"{len(ground)} ground and {len(supply)} supply pins", wanted="none elsewhere",
        )  # fmt: skip


def _may_be_meant(graph: PinGraph, pin: PinName, name: str) -> bool:
    """Whether a pin may well be where it is: inputs and outputs by name, and grounds raised by a part of their own."""
    return name.upper() in _LOOSE or (
        _GROUND.fullmatch(name) is not None
        and graph.nets[pin] not in graph.rails
        and any(behind in graph.grounds for _, behind in graph.over(graph.nets[pin]))
    )


def _without_ground(graph: PinGraph, ground: Mapping[PinName, str]) -> list[str]:
    """Fitted parts that are wired and fed, and none of whose ground pins is joined to anything."""
    joined = {pin[0] for pin in ground if graph.nets[pin]}
    return [
        part for part in dict.fromkeys(pin[0] for pin in ground)
        if part not in joined and graph.fitted(part) and any(graph.nets[pin] in graph.rails for pin in graph.parts[part])
    ]  # fmt: skip


def _data_on_supply(sight: Sight, chips: Mapping[PinName, str]) -> int:
    """Pins called after a data line that sit on a supply, and pins called after the inlet's supply that miss it; how many."""
    graph = sight.graph
    inlet = {
        graph.nets[(part, pin)] for part, _ in graph.nets for pin in ("A4", "B9", "A9", "B4")
        if graph.nets.get((part, pin)) and (part, "A5") in graph.nets and (part, "B5") in graph.nets
    }  # fmt: skip
    fed = inlet | {behind for net in inlet for _, behind in (*graph.beyond(net), *graph.over(net))}
    told = 0
    for pin, name in chips.items():
        net = graph.nets[pin]
        data = bool(_DATA.fullmatch(name)) and net in {*graph.rails, graph.ground, *inlet}
        starved = name.upper() == "VBUS" and bool(inlet) and net not in fed
        if not data and not starved:
            continue
        told += 1
        at = graph.place(pin)
        sight.verdict(
            "board.supply-pins", f"board.parts.{pin[0]}", "caution",
            f"{'-'.join(pin)} is called {name} and is on {'a supply' if data else 'another net than the supply of the inlet'}.",
            state="fails", used=(*graph.copper_roles, *graph.roles), seen=net or "no net",
            wanted="the data line" if data else ", ".join(sorted(inlet)),
            place=Place(nets_file(graph), "", at.x_mm if at else None, at.y_mm if at else None, "-".join(pin)),
            doubt="A switch or a diode between inlet and part looks so, too: read its datasheet.",
        )  # fmt: skip
    return told
