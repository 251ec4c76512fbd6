"""The inlet of power: two pulls of its own, data pair, supply, shell."""

from __future__ import annotations

import re

from scanloom.basis.verdict import Place
from scanloom.stages.board.graph import PinGraph
from scanloom.stages.board.lane_paths import nets_file, nets_from
from scanloom.stages.board.sight import Sight

PULL_OHM, PULL_SHARE = 5100.0, 0.1
"""Pull of a sink that any source understands, and how far it may be off. [ohm]"""
_CONTACT = re.compile(r"[AB](1[0-2]|[1-9])")


def judge_inlet(sight: Sight) -> None:
    """Judge every inlet that the dossier names.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.

    References
    ----------
    [usb-c] USB Type-C Specification, table of sink terminations: Rd 5.1 kohm, within 10 % for default current; from memory.
    """
    graph, board = sight.graph, sight.reading.plan.dossier.board
    for name, part in (board.parts if board else {}).items():
        if part.is_ != "inlet" or not graph.nets:
            continue
        own = graph.part(name)
        if not own:
            sight.verdict(
                "board.part-missing", f"board.parts.{name}", "stop", f"The inlet {name} of the dossier is on no net of the board.",
                state="fails", used=nets_from(graph), seen="no such designator", wanted=name, place=Place(nets_file(graph)),
                doubt="Give both the same designator.",
            )  # fmt: skip
            continue
        pins = {pin: graph.nets[(own, pin)] for _, pin in graph.parts[own]}
        if "A5" not in pins and "B5" not in pins:
            sight.verdict(
                "board.inlet-pulls", f"board.parts.{name}", "caution", f"{name} has no contacts A5 and B5: its kind is not judged.",
                state="unknown", used=nets_from(graph), doubt="Name the contacts A1 to B12, or look at the pulls by eye.",
            )  # fmt: skip
            continue
        _pulls(sight, name, own, pins)
        _data(sight, name, own, pins)
        _supply(sight, name, own, pins)
        _shell(sight, name, own, pins)


def _pulls(sight: Sight, name: str, part: str, pins: dict[str, str]) -> None:
    """A5 and B5: each one resistor of 5.1 kohm to ground, not joined."""
    graph = sight.graph
    faults: list[str] = []
    unknown: list[str] = []
    seen: list[str] = []
    first = ""
    for contact in ("A5", "B5"):
        net = pins.get(contact, "")
        found = [(r, graph.value(r)) for r, behind in graph.beyond(net) if behind == graph.ground]
        seen.append(
            f"{contact}: "
            + (", ".join(f"{r} {v.amount:g} ohm" if v else f"{r} of unknown value" for r, v in found) or "nothing")
        )
        if len(found) != 1:
            faults.append(f"{contact} has {len(found)} pulls to ground")
        elif found[0][1] is None:
            unknown.append(found[0][0])
        elif abs(found[0][1].amount - PULL_OHM) > PULL_SHARE * PULL_OHM:
            faults.append(f"{contact} is pulled by {found[0][1].amount:g} ohm")
        first = first or (contact if faults else "")
    if pins.get("A5") and pins.get("A5") == pins.get("B5"):
        faults.append("A5 and B5 are joined")
    place = _place(graph, part, first or "A5")
    doubt = "Fails with some sources only; joined or missing pulls leave the board dead on a cable with a C plug at both ends."
    if faults:
        sight.verdict(
            "board.inlet-pulls", f"board.parts.{name}", "stop", f"{'; '.join(faults)}: many sources then give no current.",
            state="fails", used=nets_from(graph), seen="; ".join(seen), wanted="5.1 kohm to ground on each, apart", place=place,
            doubt=doubt,
        )  # fmt: skip
    else:
        says = (
            f"The value of {unknown[0]} is not known." if unknown else "A5 and B5 each have their own pull to ground."
        )
        sight.verdict(
            "board.inlet-pulls", f"board.parts.{name}", "stop", says, state="unknown" if unknown else "holds",
            used=nets_from(graph), seen="; ".join(seen), wanted="5.1 kohm to ground on each, apart", place=place,
            doubt="Export the parts list with values." if unknown else "",
        )  # fmt: skip


def _data(sight: Sight, name: str, part: str, pins: dict[str, str]) -> None:
    """A6 with B6, A7 with B7, the two apart and leading somewhere."""
    graph = sight.graph
    faults = [
        f"{a} and {b} are on different nets"
        for a, b in (("A6", "B6"), ("A7", "B7"))
        if a in pins and b in pins and pins[a] != pins[b]
    ]
    plus, minus = pins.get("A6") or pins.get("B6", ""), pins.get("A7") or pins.get("B7", "")
    if plus and plus == minus:
        faults.append("both data lines are one net")
    lonely = [net for net in (plus, minus) if not net or all(pin[0] == part for pin in graph.pins.get(net, ()))]
    sight.verdict(
        "board.inlet-data", f"board.parts.{name}", "caution",
        f"{'; '.join(faults)}." if faults else "The data lines of the inlet lead nowhere." if lonely
        else "The data pair of the inlet is complete.",
        state="fails" if faults or lonely else "holds", used=nets_from(graph),
        seen=f"A6 {pins.get('A6') or '-'}, B6 {pins.get('B6') or '-'}, A7 {pins.get('A7') or '-'}, B7 {pins.get('B7') or '-'}",
        wanted="A6 with B6, A7 with B7", place=_place(graph, part, "A6"),
        doubt="An inlet for power alone needs no data pair." if faults or lonely else "",
    )  # fmt: skip


def _supply(sight: Sight, name: str, part: str, pins: dict[str, str]) -> None:
    """Supply and ground contacts, those that there are."""
    graph = sight.graph
    power = {pins[c] for c in ("A4", "A9", "B4", "B9") if c in pins}
    ground = {pins[c] for c in ("A1", "A12", "B1", "B12") if c in pins}
    good = len(power) == 1 and "" not in power and graph.ground not in power and ground == {graph.ground}
    sight.verdict(
        "board.inlet-supply", f"board.parts.{name}", "stop",
        "Supply and ground of the inlet are complete." if good else "Contacts of supply or ground of the inlet are not all joined.",
        state="holds" if good else "fails", used=nets_from(graph),
        seen=f"supply {_listed(power)}; ground {_listed(ground)}",
        wanted=f"one supply net; {graph.ground}", place=_place(graph, part, "A4"),
        doubt="" if good else "A board with a ground of its own for the inlet looks so: look where the two meet.",
    )  # fmt: skip


def _listed(nets: set[str]) -> str:
    """Nets in words."""
    return ", ".join(sorted(net or "nothing" for net in nets)) or "none"


def _to_ground(graph: PinGraph, net: str, part: str) -> bool:
    """Whether another part on a net leads to ground."""
    others = {other for other, _ in graph.pins.get(net, ()) if other != part}
    return any(graph.nets[pin] == graph.ground for other in others for pin in graph.parts[other])


def _shell(sight: Sight, name: str, part: str, pins: dict[str, str]) -> None:
    """The shell: joined to ground, straight or through a part."""
    graph = sight.graph
    shell = {pin: net for pin, net in pins.items() if not _CONTACT.fullmatch(pin)}
    if not shell:
        sight.verdict(
            "board.shell-floating", f"board.parts.{name}", "caution", "No pad of the inlet's shell is in the files.", state="unknown",
            used=nets_from(graph), doubt="Give the shell's pads a name and a net.", place=_place(graph, part, "A1"),
        )  # fmt: skip
        return
    loose = [
        pin for pin, net in shell.items()
        if net != graph.ground and not _to_ground(graph, net, part)
    ]  # fmt: skip
    pin = (loose or list(shell))[0]
    sight.verdict(
        "board.shell-floating", f"board.parts.{name}", "caution",
        "The shell of the inlet floats." if loose else "The shell of the inlet is joined to ground.",
        state="fails" if loose else "holds", used=nets_from(graph), seen=f"{pin} on {shell[pin] or 'nothing'}",
        wanted=f"{graph.ground}, straight or through a part", place=_place(graph, part, pin),
        doubt="Some leave it open on purpose against ground loops; the cable's screen then does nothing." if loose else "",
    )  # fmt: skip


def _place(graph: PinGraph, part: str, pin: str) -> Place:
    """A pin as a place."""
    at = graph.place((part, pin))
    return Place(nets_file(graph), "", at.x_mm if at else None, at.y_mm if at else None, f"{part}-{pin}")
