"""From the sync pins of the chip to every connector, through resistors and the gates of a buffer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from scanloom.basis.verdict import Place
from scanloom.dossier.model import Connector
from scanloom.dossier.reading import Reading
from scanloom.stages.board.built_syncs import BuiltSync
from scanloom.stages.board.graph import PinGraph
from scanloom.stages.board.lane_paths import chip_pins, nets_file, nets_from
from scanloom.stages.board.model import PinName
from scanloom.stages.board.sight import Sight

SYNC_PIN = {"h": "13", "v": "14"}
"""Pins of a 15-pin connector that carry syncs."""
# Pin layouts of the common logic functions, output to input: from memory, the same in every family.
GATES: dict[str, dict[str, str]] = {
    "125": {"3": "2", "6": "5", "8": "9", "11": "12"},
    "244": {"18": "2", "16": "4", "14": "6", "12": "8", "9": "11", "7": "13", "5": "15", "3": "17"},
    "541": {"18": "2", "17": "3", "16": "4", "15": "5", "14": "6", "13": "7", "12": "8", "11": "9"},
    "34": {"2": "1", "4": "3", "6": "5", "8": "9", "10": "11", "12": "13"},
    "1G125": {"4": "2"},
    "2G34": {"6": "1", "4": "3"},
}
"""Input pin of each output pin, by function of the part."""
Sources = dict[str, set[int]]


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
    buffers = [graph.part(name) for name, part in board.parts.items() if "buffer" in part.is_ and graph.part(name)]
    by_net = {graph.nets[pad]: number for number, some in pads.items() for pad in some if graph.nets.get(pad)}
    inputs, unknown = _gates(graph, buffers)
    made: list[BuiltSync] = []
    for connector in plan.connectors:
        if graph.part(connector.name):
            made.extend(_judge(sight, connector, chip, wanted, by_net, inputs, unknown))
    return tuple(made)


def _judge(
    sight: Sight, connector: Connector, chip: str, wanted: Mapping[str, int], by_net: Mapping[str, int],
    inputs: Mapping[PinName, str], unknown: bool,
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
        found, through = _sources(graph, graph.nets.get(pin, ""), by_net, inputs)
        made.append(BuiltSync(connector.name, axis, tuple(sorted(found)), bool(found) or not unknown))
        at = graph.place(pin)
        place = Place(nets_file(graph), "", at.x_mm if at else None, at.y_mm if at else None, "-".join(pin))
        subject = f"board.connectors.{connector.name}.{axis}"
        seen = ", ".join(f"pin {n} of {chip}" for n in sorted(found)) or "no pin of the chip"
        seen += f" through {', '.join(through)}" if through else ""
        other = wanted["v" if axis == "h" else "h"]
        if found == {number} and not _as_decided(sight, read, subject, connector.name, axis, through, seen, place):
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
        elif not found and unknown:
            sight.verdict(
                "board.sync-path", subject, "stop", "Which gate of the buffer drives this sync is not known.", state="unknown",
                used=nets_from(graph), read=read, seen=seen, wanted=f"pin {number}", place=place,
                doubt="Give the buffer its function as value in the parts list, such as 74LVC125.",
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
    sight: Sight, read: Reading, subject: str, name: str, axis: str, through: tuple[str, ...], seen: str, place: Place
) -> bool:  # fmt: skip
    """Whether a sync comes through the parts that the dossier decided; what differs becomes a verdict."""
    graph, levels = sight.graph, read.plan.dossier.levels
    stage = levels.sync if levels is not None else None
    if stage is None or stage.style is None:
        return True
    style = read(stage.style)
    board = read.plan.dossier.board
    buffers = {graph.part(n) for n, part in (board.parts if board else {}).items() if "buffer" in part.is_}
    end = f"{name}-{SYNC_PIN[axis]}"
    if style == "buffered" and not buffers & set(through):
        sight.verdict(
            "board.sync-path", subject, "stop", f"{axis.upper()} sync reaches {end} past the buffer.", state="fails",
            used=nets_from(graph), read=read, seen=seen, wanted="through the sync buffer", place=place,
            doubt="A buffer that board.parts does not name is not known as one.",
        )  # fmt: skip
        return False
    stated = stage.branch if style == "buffered" else stage.part if style == "series" else None
    if stated is None:
        return True
    decided = read(stated)
    resistors = [part for part in through if part not in buffers]
    if not resistors:
        sight.verdict(
            "board.no-series-part", subject, "stop", f"{axis.upper()} sync reaches {end} with no resistor between.", state="fails",
            used=nets_from(graph), read=read, seen=seen, wanted=f"{decided.typical:g} ohm between", place=place,
            doubt="Right only if the dossier's branch resistor was given up: change levels.sync.",
        )  # fmt: skip
        return False
    values = [(part, value.amount) for part in resistors if (value := graph.value(part)) is not None]
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


def _sources(
    graph: PinGraph, net: str, by_net: Mapping[str, int], inputs: Mapping[PinName, str]
) -> tuple[set[int], tuple[str, ...]]:
    """Chip pins that drive a net, over two resistors and a gate at most, and the parts between."""
    found: set[int] = set()
    way: dict[str, tuple[str, ...]] = {net: ()} if net else {}
    edge = list(way)
    parts: dict[str, None] = {}
    for _ in range(4):
        onward: list[str] = []
        for one in edge:
            if one in by_net:
                found.add(by_net[one])
                parts.update(dict.fromkeys(way[one]))
                continue
            steps = [(part, behind) for part, behind in graph.beyond(one)]
            steps += [(pin[0], inputs[pin]) for pin in graph.pins.get(one, ()) if pin in inputs]
            for part, behind in steps:
                if behind not in way and behind != graph.ground and behind not in graph.rails:
                    way[behind] = (*way[one], part)
                    onward.append(behind)
        edge = onward
    return found, tuple(parts)


def _gates(graph: PinGraph, buffers: list[str]) -> tuple[dict[PinName, str], bool]:
    """Net at the input of each buffer output, and whether a buffer's layout could not be told."""
    inputs: dict[PinName, str] = {}
    unknown = False
    for part in buffers:
        table = _layout(graph, part)
        if table is None:
            unknown = True
            continue
        for out, into in table.items():
            net = graph.nets.get((part, into), "")
            if net:
                inputs[(part, out)] = net
    return inputs, unknown


def _layout(graph: PinGraph, part: str) -> dict[str, str] | None:
    """Layout of a buffer: by the names of its pins, the digits of its value, or the resistors at its outputs."""
    named = {graph.functions.get(pin, "").upper(): pin[1] for pin in graph.parts[part]}
    own = {named[f"Y{n}"]: named[f"A{n}"] for n in range(9) if f"Y{n}" in named and f"A{n}" in named}
    if own:
        return own
    line = graph.line(part)
    text = line.value_text.upper() if line is not None else ""
    for name in sorted(GATES, key=len, reverse=True):
        if text.replace("-", "").find(name.upper()) >= 0 and any(c.isdigit() for c in text):
            return GATES[name]
    pins = {pin: graph.nets[(part, pin)] for _, pin in graph.parts[part]}
    driven = {
        pin for pin, net in pins.items()
        if net and net != graph.ground and net not in graph.rails and len(graph.beyond(net)) > 0
        and not any(name == part and other != pin for name, other in graph.pins.get(net, ()))
    }  # fmt: skip
    fit = sorted(
        ((len(driven & set(table)), name) for name, table in GATES.items() if len(pins) in _sizes(table)), reverse=True
    )  # fmt: skip
    sure = bool(fit) and 3 * fit[0][0] >= 2 * len(driven) > 0 and (len(fit) == 1 or fit[1][0] < fit[0][0])
    return GATES[fit[0][1]] if sure else None


def _sizes(table: Mapping[str, str]) -> tuple[int, ...]:
    """Pins that a package with this layout has."""
    most = max(int(pin) for pin in (*table, *table.values()))
    return (5, 6) if most <= 6 else (14, 15) if most <= 14 else (20, 21)
