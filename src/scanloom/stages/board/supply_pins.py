"""Pins whose own name says ground or supply, against the nets they are on."""

from __future__ import annotations

import re

from scanloom.basis.verdict import Place
from scanloom.stages.board.pads import nets_file
from scanloom.stages.board.sight import Sight

_GROUND = re.compile(r"(?i)(A|D|P)?GND\d*|VSS\d*|GROUND")
_GROUND_NET = re.compile(r"(?i)GND|VSS|GROUND|EARTH|\b0V")
_LOOSE = ("IN", "OUT")
_SUPPLY = re.compile(r"(?i)(A|D)?VCC\w*|(A|D)?VDD\w*|VIN|VIO|VOUT|IN|OUT|VBUS|3V3|5V|\+?3\.3V|\+?5V|V\+")


def judge_supply_pins(sight: Sight) -> None:
    """Judge pins that files name ground or supply.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.
    """
    graph = sight.graph
    named = {pin: name for pin, name in graph.functions.items() if pin in graph.nets}
    chips = {pin: name for pin, name in named.items() if pin[0].upper().startswith(("U", "IC", "VR", "Q"))}
    ground = {pin: name for pin, name in chips.items() if _GROUND.fullmatch(name)}
    supply = {pin: name for pin, name in chips.items() if _SUPPLY.fullmatch(name)}
    if not ground and not supply:
        return
    # a module has several of each, and not every one need be joined
    wrong = [
        pin for pin in ground
        if graph.nets[pin] not in (graph.ground, "") and not _GROUND_NET.search(graph.nets[pin])  # grounds may be apart
    ]  # fmt: skip
    wrong += [pin for pin in supply if graph.nets[pin] == graph.ground]
    used = (*graph.copper_roles, *graph.roles)
    for pin in wrong[:6]:
        at = graph.place(pin)
        sight.verdict(
            "board.supply-pins", f"board.parts.{pin[0]}", "caution" if named[pin].upper() in _LOOSE else "stop",
            f"{'-'.join(pin)} is called {named[pin]} and is on another net.",
            state="fails", used=used, seen=graph.nets[pin] or "no net", wanted=graph.ground if pin in ground else "a supply",
            place=Place(nets_file(graph), "", at.x_mm if at else None, at.y_mm if at else None, "-".join(pin)),
            doubt="A part that floats on purpose, or an output called IN by its maker, looks so: read its datasheet.",
        )  # fmt: skip
    if not wrong:
        sight.verdict(
            "board.supply-pins", "board.parts", "stop", "Pins that are called ground or supply are on such nets.", state="holds",
            used=used, seen=f"{len(ground)} ground and {len(supply)} supply pins", wanted="none elsewhere",
        )  # fmt: skip
