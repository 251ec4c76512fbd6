"""From the sync pins of the chip to every connector, through resistors and the gates of a buffer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from scanloom.basis.verdict import Place
from scanloom.dossier.model import Connector
from scanloom.dossier.reading import Reading
from scanloom.stages.board.built_syncs import BuiltSync
from scanloom.stages.board.colour_circuit import Ways, chip_pins_behind
from scanloom.stages.board.graph import PinGraph
from scanloom.stages.board.pads import chip_pins, nets_file, nets_from
from scanloom.stages.board.sight import Sight
from scanloom.stages.board.trace import ways_of

SYNC_PIN = {"h": "13", "v": "14"}
"""Pins of a 15-pin connector that carry syncs."""


def judge_sync_paths(sight: Sight) -> tuple[BuiltSync, ...]:
    """Judge where the syncs of every connector come from.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.

    Returns
    -------
    tuple of BuiltSync
        What was found.
    """
    plan, graph = sight.reading.plan, sight.graph
    board = plan.dossier.board
    if board is None or board.sync is None or board.sync.h is None or board.sync.v is None or not graph.nets:
        return ()
    chip, pads = chip_pins(sight)
    if not pads:
        return ()
    read = sight.reading.fork()
    wanted = {"h": read(board.sync.h), "v": read(board.sync.v)}
    ways = ways_of(sight, pads)
    own = {number: {graph.nets[pad] for pad in some if graph.nets.get(pad)} for number, some in pads.items()}
    made: list[BuiltSync] = []
    for connector in plan.connectors:
        if graph.part(connector.name):
            made.extend(_judge(sight, connector, chip, wanted, ways, own))
    return tuple(made)


def _judge(
    sight: Sight, connector: Connector, chip: str, wanted: Mapping[str, int], ways: Ways,
    own: Mapping[int, set[str]],
) -> list[BuiltSync]:  # fmt: skip
    """Both syncs of one connector."""
    graph = sight.graph
    board = sight.reading.plan.dossier.board
    assert board is not None and board.sync is not None and board.sync.h is not None and board.sync.v is not None
    part = graph.part(connector.name)
    made: list[BuiltSync] = []
    for axis, number in wanted.items():
        read = sight.reading.fork()
        read(board.sync.h if axis == "h" else board.sync.v)
        pin = (part, SYNC_PIN[axis])
        pins, through = chip_pins_behind(ways, graph.nets.get(pin, ""))
        found = set(pins)
        between = _strangers(graph, graph.nets.get(pin, ""), own.get(number, set()), {part, chip, *ways.gates.parts})
        lost = pin not in graph.nets or bool(ways.gates.unknown) or bool(between)  # it may be fed in a way nobody sees
        made.append(BuiltSync(connector.name, axis, tuple(sorted(found)), bool(found) or not lost))
        at = graph.place(pin)
        place = Place(nets_file(graph), "", at.x_mm if at else None, at.y_mm if at else None, "-".join(pin))
        subject = f"board.connectors.{connector.name}.{axis}"
        seen = ", ".join(f"pin {n} of {chip}" for n in sorted(found)) or "no pin of the chip"
        seen += f" through {', '.join(through)}" if through else ""
        other = wanted["v" if axis == "h" else "h"]
        if found == {number} and not _as_decided(
            sight, ways, read, subject, connector.name, axis, through, seen, place
        ):
            continue
        if found == {number}:
            sight.verdict(
                "board.sync-path", subject, "stop", f"{axis.upper()} sync arrives at {connector.name}-{SYNC_PIN[axis]}.",
                state="holds", used=nets_from(graph), read=read, seen=seen, wanted=f"pin {number}", place=place,
            )  # fmt: skip
        elif other in found and number not in found:
            sight.verdict(
                "board.connector-function", subject, "stop",
                f"{connector.name}-{SYNC_PIN[axis]} carries the other sync.", state="fails", used=nets_from(graph), read=read,
                seen=seen, wanted=f"pin {number}", place=place,
                doubt="Right if the dossier's two sync pins are exchanged: change board.sync, or the nets.",
            )  # fmt: skip
        elif pin not in graph.nets:
            sight.verdict(
                "board.sync-path", subject, "stop", f"{'-'.join(pin)} is not in the files, so its sync is not followed.",
                state="unknown", used=nets_from(graph), read=read, seen="no such pad", wanted=f"pin {number}", place=place,
                doubt="Number the connector's pads 1 to 15, and export the netlist again.",
            )  # fmt: skip
        elif not found and ways.gates.unknown:
            sight.verdict(
                "board.sync-path", subject, "stop", "Which gate of the buffer drives this sync is not known.", state="unknown",
                used=nets_from(graph), read=read, seen=seen, wanted=f"pin {number}", place=place,
                doubt=ways.gates.lacks(ways.gates.unknown),
            )  # fmt: skip
        elif not found and between:
            sight.verdict(
                "board.sync-path", subject, "stop", f"{axis.upper()} sync goes through {between[0]}, of which no file shows the way.",
                state="unknown", used=nets_from(graph), read=read, seen=seen, wanted=f"pin {number}", place=place,
                doubt=f"Name {between[0]} as a sync buffer in board.parts, with its function as value, or follow it by eye.",
            )  # fmt: skip
        else:
            sight.verdict(
                "board.sync-path", subject, "stop",
                f"{axis.upper()} sync does not arrive at {connector.name}-{SYNC_PIN[axis]}."
                if not found else f"{connector.name}-{SYNC_PIN[axis]} is fed by another pin, or by two.",
                state="fails", used=nets_from(graph), read=read, seen=seen, wanted=f"pin {number} alone", place=place,
                doubt="A sync through a part other than a resistor or a known buffer is not followed.",
            )  # fmt: skip
    return made


def _as_decided(
    sight: Sight, ways: Ways, read: Reading, subject: str, name: str, axis: str, through: tuple[str, ...], seen: str, place: Place
) -> bool:  # fmt: skip
    """Whether a sync comes through the parts that the dossier decided; what differs becomes a verdict."""
    graph, levels = sight.graph, read.plan.dossier.levels
    stage = levels.sync if levels is not None else None
    if stage is None or stage.style is None:
        return True
    style = read(stage.style)
    buffers = set(ways.gates.parts)
    end = f"{name}-{SYNC_PIN[axis]}"
    if style == "buffered" and not buffers & set(through):
        sight.verdict(
            "board.sync-path", subject, "stop", f"{axis.upper()} sync reaches {end} past the buffer.", state="fails",
            used=nets_from(graph), read=read, seen=seen, wanted="through the sync buffer", place=place,
            doubt="A buffer that board.parts does not name is not known as one.",
        )  # fmt: skip
        return False
    if style != "buffered" and (gate := next((part for part in through if part in buffers), "")):
        sight.verdict(
            "board.sync-path", subject, "stop", f"{axis.upper()} sync goes through {gate} to {end}, and the dossier has no sync buffer.",
            state="fails", used=nets_from(graph), read=read, seen=seen, wanted=f"style {style}", place=replace(place, pin=gate),
            doubt="Right if the buffer was added later: change levels.sync, so that its level and edges are summed.",
        )  # fmt: skip
        return False
    stated = stage.branch if style == "buffered" else stage.part if style == "series" else None
    if stated is None:
        return True
    decided = read(stated)
    ohms = {link.name: link.ohm for links in ways.links.values() for link in links}
    resistors = [part for part in through if part not in buffers and not ((ohm := ohms.get(part)) and ohm.high == 0.0)]
    if not resistors:
        sight.verdict(
            "board.no-series-part", subject, "stop", f"{axis.upper()} sync reaches {end} with no resistor between.", state="fails",
            used=nets_from(graph), read=read, seen=seen, wanted=f"{decided.typical:g} ohm between", place=place,
            doubt="Right only if the dossier's branch resistor was given up: change levels.sync.",
        )  # fmt: skip
        return False
    values = [(part, ohm.typical) for part in resistors if (ohm := ohms.get(part)) is not None]
    total = sum(amount for _, amount in values)
    if len(values) == len(resistors) and not decided.low * 0.999 <= total <= decided.high * 1.001:
        near = abs(total - decided.typical) <= 0.3 * decided.typical
        sight.verdict(
            "board.part-value" if near else "board.sync-path", subject, "caution" if near else "stop",
            f"The resistor before {end} is not the one that the dossier decided.", state="fails", used=nets_from(graph), read=read,
            seen=f"{values[0][0]} {total:g} ohm", wanted=f"{decided.typical:g} ohm", place=replace(place, pin=values[0][0]),
            doubt="Change the parts list, or levels.sync.",
        )  # fmt: skip
        return near
    return True


def _strangers(graph: PinGraph, net: str, near: set[str], known: set[str]) -> list[str]:
    """Parts between a connector and the wanted pin that are neither resistors nor known buffers, such as a level shifter."""
    far = {net, *(behind for _, behind in graph.over(net))} - graph.grounds - graph.rails
    near = near | {behind for one in near for _, behind in graph.over(one)} - graph.grounds - graph.rails
    at = [
        {part for one in some for part, _ in graph.pins.get(one, ()) if len(graph.parts[part]) > 2}
        for some in (far, near)
    ]
    return sorted((at[0] & at[1]) - known)
