"""The chip's pads by its own pin numbers, and the files that paths are read from."""

from __future__ import annotations

from collections.abc import Mapping

from scanloom.stages.board.graph import PinGraph
from scanloom.stages.board.model import FileRole, PinName
from scanloom.stages.board.sight import Sight

COLOUR_PIN = {"red": "1", "green": "2", "blue": "3"}
"""Pins of a 15-pin connector that carry colours."""


def chip_pins(sight: Sight) -> tuple[str, Mapping[int, tuple[PinName, ...]]]:
    """The chip's part, and its pads by the chip's own pin numbers.

    Parameters
    ----------
    sight : Sight
        The board.

    Returns
    -------
    tuple
        Designator, empty when the dossier names none; pads by pin. [1]
    """
    graph, board = sight.graph, sight.reading.plan.dossier.board
    name = next((n for n, part in (board.parts if board else {}).items() if part.is_ == "chip"), "")
    part = graph.part(name) if name else ""
    if not part:
        return name, {}
    made: dict[int, list[PinName]] = {}
    for pin in graph.parts[part]:
        number = pin_number(graph.functions.get(pin, "")) if graph.functions.get(pin) else pin_number(pin[1])
        if number is not None:
            made.setdefault(number, []).append(pin)
    return name, {number: tuple(pins) for number, pins in made.items()}


def pin_number(text: str) -> int | None:
    """Number of a pin by its name, such as GPIO25, IO25 or P0.25; a bare number is the pad's and tells nothing.

    Parameters
    ----------
    text : str
        Name of a pin.

    Returns
    -------
    int or None
        The number. [1]
    """
    upper = text.upper().strip()
    for mark in ("GPIO", "GPI", "IO", "GP", "D", "P"):
        if upper.startswith(mark):
            rest = upper[len(mark) :].lstrip("_.").split("/")[0]
            return int(rest) if rest.isdigit() and len(rest) <= 3 else None
    return None


def nets_from(graph: PinGraph) -> tuple[FileRole | None, ...]:
    """Files that a path is read from.

    Parameters
    ----------
    graph : PinGraph
        Nets and parts.

    Returns
    -------
    tuple of FileRole
        Netlist, copper that names pins, parts list.
    """
    return (*graph.roles, *graph.copper_roles, graph.list_role)


def nets_file(graph: PinGraph) -> str:
    """File that the nets are from.

    Parameters
    ----------
    graph : PinGraph
        Nets and parts.

    Returns
    -------
    str
        Its name; empty when there is none.
    """
    return next((role.file for role in graph.roles if role is not None), "")
