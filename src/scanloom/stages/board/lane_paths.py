"""From chip pin to connector pin: what the netlist joins, through which parts, and where it arrives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from scanloom.basis.fact import Known
from scanloom.basis.record import record
from scanloom.basis.verdict import Place
from scanloom.dossier.model import CHANNELS, Connector
from scanloom.dossier.reading import Reading
from scanloom.stages.board.built import BuiltChannel, built_channel
from scanloom.stages.board.colour_circuit import Ways, chip_pins_behind
from scanloom.stages.board.colour_stage import Decided, judge_gates, judge_stage, stage_decided
from scanloom.stages.board.graph import PinGraph
from scanloom.stages.board.lane_level import judge_level
from scanloom.stages.board.model import PinName
from scanloom.stages.board.pads import COLOUR_PIN, chip_pins, nets_file, nets_from
from scanloom.stages.board.sight import Sight
from scanloom.stages.board.trace import Lane, Trace, place_of, trace_colour, ways_of


@record
class LanePath:
    """What stands between one chip pin and a connector.

    Parameters
    ----------
    connector : str
        The connector.
    channel : str
        red, green or blue.
    chip_pin : int
        Pin of the chip, by its own number. [1]
    reached : tuple of str
        Pins of the connector that it reaches through parts.
    through : str
        The parts up to where legs meet; empty where chip and connector share a net.
    as_built_ohm : float or None
        Resistance of its own leg by the parts list. [ohm]
    """

    connector: str
    channel: str
    chip_pin: int
    reached: tuple[str, ...]
    through: str
    as_built_ohm: float | None


def judge_lane_paths(sight: Sight) -> tuple[tuple[LanePath, ...], tuple[BuiltChannel, ...]]:
    """Judge every colour pin of the dossier: its parts, where it arrives, the level there.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.

    Returns
    -------
    tuple
        What was found of every chip pin, and of every colour.
    """
    plan, graph = sight.reading.plan, sight.graph
    connectors = plan.connectors
    if not connectors:
        sight.verdict(
            "board.lane-path", "board.connectors", "stop" if sight.has_dossier else "note",
            "The dossier states no connectors to follow the lanes to.",
            state="unknown", used=graph.roles, doubt="State board.connectors with their pins, or name the dossier.",
        )  # fmt: skip
        return (), ()
    if not graph.nets:
        sight.verdict(
            "board.lane-path", "board.connectors", "stop", "Without nets nobody can follow a lane.", state="unknown",
            used=sight.files.roles, doubt="Export the netlist as IPC-D-356A, or Gerber X2 with nets and pins.",
        )  # fmt: skip
        return (), ()
    chip, pads = chip_pins(sight)
    if not pads:
        sight.verdict(
            "board.lane-path", "board.parts", "stop",
            f"Nothing tells which pad of {chip or 'the chip'} is which pin, so no lane can be followed." if chip
            else "The dossier does not say which part is the chip, so no lane can be followed.",
            state="unknown", used=graph.roles,
            doubt='State it in board.parts: U1 = { is = "chip", pins = { 8 = "GPIO32" } }, or export X2 with pin names.',
        )  # fmt: skip
        return (), ()
    ways = ways_of(sight, pads)
    judge_gates(sight, ways)
    made: list[LanePath] = []
    built: list[BuiltChannel] = []
    for connector in connectors:
        name = graph.part(connector.name)
        if not name:
            sight.verdict(
                "board.part-missing", f"board.connectors.{connector.name}", "stop",
                f"Connector {connector.name} of the dossier is on no net of the board.", state="fails", used=graph.roles,
                seen="no such designator", wanted=connector.name, place=Place(nets_file(graph), "netlist"),
                doubt="A connector may have another designator on the board: give both the same name.",
            )  # fmt: skip
            continue
        for channel in CHANNELS:
            known: Known[tuple[int, ...]] | None = getattr(connector, channel)
            if known is not None:
                paths, one = _channel(sight, ways, pads, connector, (name, COLOUR_PIN[channel]), channel, known, chip)
                made.extend(paths)
                built.append(one)
    return tuple(made), tuple(built)


def _channel(
    sight: Sight, ways: Ways, pads: Mapping[int, tuple[PinName, ...]], connector: Connector, wanted: PinName, channel: str,
    known: Known[tuple[int, ...]], chip: str,
) -> tuple[list[LanePath], BuiltChannel]:  # fmt: skip
    """One channel of one connector."""
    graph = sight.graph
    read = sight.reading.fork()
    pins = read(known)
    at = graph.place(wanted)
    place = Place(nets_file(graph), "", at.x_mm if at else None, at.y_mm if at else None, "-".join(wanted))
    lane = Lane(f"board.connectors.{connector.name}.{channel}", connector, channel, pins, wanted, chip, place)
    decided = stage_decided(sight, connector, channel, pins)
    trace = trace_colour(ways, graph.nets.get(wanted, ""), decided.usual_percent)
    paths = [_path(ways, lane, number, pads.get(number, ()), trace) for number in pins]
    kind = _kind_unnamed(ways, decided, trace, pins) if not trace.fed_by else ""
    lacks = decided.lacks or (f"Which part is the {kind} of the colours is not known" if kind else "")
    one = built_channel(decided.read.fork(), connector.name, channel, pins, trace, decided.wiring, lacks)
    if _arrives(sight, read, ways, pads, lane, decided, trace, paths):
        stage_right = judge_stage(sight, lane, decided, trace)
        judge_level(sight, lane, decided, trace, one, stage_right)
    return paths, one


def _arrives(
    sight: Sight, read: Reading, ways: Ways, pads: Mapping[int, tuple[PinName, ...]], lane: Lane, decided: Decided,
    trace: Trace, paths: list[LanePath],
) -> bool:  # fmt: skip
    """Whether each lane arrives where the dossier wants it, and no other; every answer is a verdict."""
    graph, end = sight.graph, f"{lane.connector.name}-{lane.wanted[1]}"
    used = nets_from(graph)
    bare = trace.straight if trace.amplifier is None else ()
    output = trace.output if trace.amplifier is None else None
    if (bare and decided.style != "direct") or output is not None:
        what = f"Pin {bare[0]} of {lane.chip}" if output is None else f"Output {output.out} of {output.part}"
        sight.verdict(
            "board.no-series-part", lane.subject, "stop", f"{what} sits straight on {end}, with no part between.",
            state="fails", used=used, read=read, seen=f"both on net {trace.net}", wanted="a part of the colour stage between",
            place=lane.place, doubt="Right only where the dossier's colour stage is direct: 3.3 V then reaches a 0.7 V input.",
        )  # fmt: skip
        return False
    lost = [path for path in paths if path.chip_pin not in trace.fed_by]
    if lost:
        _lost(sight, read, ways, lane, decided, trace, lost[0], pads)
        return False
    others = [pin for pin in trace.fed_by if pin not in lane.pins]
    if others:
        sight.verdict(
            "board.lane-path", lane.subject, "stop", f"{end} is fed by pin {others[0]} of {lane.chip}, too.", state="fails", used=used,
            read=read, seen=", ".join(f"pin {pin}" for pin in trace.fed_by), wanted=", ".join(f"pin {pin}" for pin in lane.pins),
            place=lane.place, doubt="Right if the dossier lists too few pins: change the connector's line.",
        )  # fmt: skip
        return False
    open_link = next((link for link in trace.links if not link.is_sure), None)
    if open_link is not None:
        sight.verdict(
            "board.lane-path", lane.subject, "stop", f"Whether {open_link.name} joins its two nets is not known.", state="unknown",
            used=used, read=read, place=place_of(graph, lane, open_link), doubt=open_link.lacks,
        )  # fmt: skip
        return False
    none = decided.style == "direct" and bool(bare)
    sight.verdict(
        "board.no-series-part", lane.subject, "stop",
        f"Pin {bare[0]} of {lane.chip} is wired straight to {end}, as the dossier decided." if none
        else f"Between chip and {end} stands its part.",
        state="holds", used=used, read=read, seen="no part between" if none else ", ".join(path.through for path in paths),
        wanted="no part" if none else "a part on each pin", place=lane.place,
    )  # fmt: skip
    sight.verdict(
        "board.lane-path", lane.subject, "stop", f"{lane.channel.capitalize()} arrives at {end}.", state="holds", used=used, read=read,
        seen=", ".join(f"pin {path.chip_pin} through {path.through or 'no part'}" for path in paths),
        wanted=", ".join(f"pin {n}" for n in lane.pins), place=lane.place,
    )  # fmt: skip
    return True


def _lost(
    sight: Sight, read: Reading, ways: Ways, lane: Lane, decided: Decided, trace: Trace, path: LanePath,
    pads: Mapping[int, tuple[PinName, ...]],
) -> None:  # fmt: skip
    """A lane that does not arrive where it should."""
    graph, used = sight.graph, nets_from(sight.graph)
    wanted, end = "-".join(lane.wanted), f"{lane.connector.name}-{lane.wanted[1]}"
    elsewhere = ", ".join(f"{path.connector}-{pin}" for pin in path.reached)
    seen = f"pin {path.chip_pin} reaches {elsewhere or 'no pin of this connector'}"
    fed = [(pin, leg.through) for leg in trace.legs for pin in leg.chip_pins] + [
        (pin, "no part") for pin in trace.straight
    ]
    seen += f"; {wanted} is fed by pin {fed[0][0]} through {fed[0][1]}" if fed else f"; {wanted} is fed by no pin"
    if ways.gates.absent and decided.style in ("buffered", "amplified"):
        seen += f"; {ways.gates.absent[0]} of the dossier is not on the board, or not fitted"
    unknown = dict.fromkeys([*trace.unknown, *_unknown_at(ways, path.chip_pin, pads)])
    if unknown and not path.reached:
        sight.verdict(
            "board.lane-path", lane.subject, "stop",
            f"Which input of {' and '.join(unknown)} drives which output is not known, so {end} cannot be followed.",
            state="unknown", used=used, read=read, seen=seen, wanted=f"pin {path.chip_pin} at {wanted}", place=lane.place,
            doubt=ways.gates.lacks(tuple(unknown)),
        )  # fmt: skip
        return
    kind = _kind_unnamed(ways, decided, trace, lane.pins)
    if kind and not path.reached:
        sight.verdict(
            "board.lane-path", lane.subject, "stop",
            f"Which part is the {kind} of the colours is not known, so {end} cannot be followed.",
            state="unknown", used=used, read=decided.read.fork(), seen=seen, wanted=f"pin {path.chip_pin} at {wanted}", place=lane.place,
            doubt=f'Name it in board.parts: U5 = {{ is = "video {kind}", pins = {{ 2 = "1A", 3 = "1Y" }} }}.',
        )  # fmt: skip
        return
    same = [pin for pin in path.reached if pin in COLOUR_PIN.values() and pin != lane.wanted[1]]
    if same:
        sight.verdict(
            "board.lane-path", lane.subject, "stop",
            f"Pin {path.chip_pin} of {lane.chip} arrives at {path.connector}-{same[0]} instead of {wanted}.",
            state="fails", used=used, read=read, seen=seen, wanted=f"pin {path.chip_pin} at {wanted}",
            place=lane.place, doubt="Colours exchanged on one connector can be put right in firmware: change the dossier's pins.",
        )  # fmt: skip
        return
    missing = next((part for part in _unfitted(graph, trace.net)), "")
    place = lane.place
    if missing and not fed:
        seen += (
            f"; {missing} is listed as not fitted"
            if graph.line(missing)
            else f"; {missing} is on no line of the parts list"
        )
        place = replace(place, pin=missing)
    sight.verdict(
        "board.lane-path", lane.subject, "stop", f"Pin {path.chip_pin} of {lane.chip} does not arrive at {wanted}.",
        state="fails", used=used, read=read, seen=seen, wanted=f"pin {path.chip_pin} through its parts", place=place,
        doubt="A lane through a transistor, or a buffer that board.parts does not name, is not followed.",
    )  # fmt: skip


def _kind_unnamed(ways: Ways, decided: Decided, trace: Trace, pins: tuple[int, ...]) -> str:
    """What the decided stage goes through, buffer or amplifier, where no known one is fed by the pins or feeds the connector."""
    kind = {"buffered": "buffer", "amplified": "amplifier"}.get(decided.style, "")
    gates = [gate for gate in ways.gates.by_output.values() if gate.amplifies == (kind == "amplifier")]
    known = (kind == "amplifier" and bool(gates)) or any(leg.gate is not None for leg in trace.legs)
    nets = [ways.graph.nets.get((gate.part, gate.into), "") for gate in gates]
    known = known or any(set(pins) & set(chip_pins_behind(ways, net)[0]) for net in nets if net)
    return "" if known or ways.gates.absent else kind


def _unknown_at(ways: Ways, number: int, pads: Mapping[int, tuple[PinName, ...]]) -> list[str]:
    """Buffers and amplifiers of unknown pins that a chip pin leads to, at once or through one part."""
    graph = ways.graph
    nets = {graph.nets.get(pad, "") for pad in pads.get(number, ())} - {""}
    nets |= {link.beyond(net) for net in set(nets) for link in ways.links.get(net, ())} - {graph.ground, *graph.rails}
    return [
        part for part in ways.gates.unknown if any(name == part for net in nets for name, _ in graph.pins.get(net, ()))
    ]


def _unfitted(graph: PinGraph, net: str) -> list[str]:
    """Resistors on a net that are not fitted."""
    return [
        part for part, _ in graph.pins.get(net, ()) if part.upper().startswith("R") and not graph.fitted(part)
    ]  # fmt: skip


def _path(ways: Ways, lane: Lane, number: int, pads: tuple[PinName, ...], trace: Trace) -> LanePath:
    """What one chip pin reaches, and through which parts."""
    name, channel = lane.connector.name, lane.channel
    leg = next((leg for leg in trace.legs if number in leg.chip_pins), None)
    if leg is not None:
        ohm = leg.link.ohm.typical if leg.link.ohm is not None else None
        return LanePath(name, channel, number, (lane.wanted[1],), leg.through, ohm)
    if number in trace.straight:
        return LanePath(name, channel, number, (lane.wanted[1],), "", None)
    reached, through, value = _onward(ways, {ways.graph.nets.get(pad, "") for pad in pads} - {""}, lane.wanted[0])
    return LanePath(name, channel, number, reached, through, value)


def _onward(ways: Ways, start: set[str], part: str) -> tuple[tuple[str, ...], str, float | None]:
    """Pins of a part that lie behind links and gates from some nets on, the way there, and its resistance."""
    graph = ways.graph
    forward: dict[str, list[tuple[str, str]]] = {}
    for out, gate in ways.gates.by_output.items():
        forward.setdefault(graph.nets.get((gate.part, gate.into), ""), []).append((gate.part, out))
    way: dict[str, tuple[tuple[str, ...], float | None]] = dict.fromkeys(start, ((), 0.0))
    edge = sorted(start)
    reached: dict[str, None] = {}
    first: tuple[tuple[str, ...], float | None] = ((), None)
    while edge:
        net = edge.pop(0)
        ends = [pin for name, pin in graph.pins.get(net, ()) if name == part] if net not in start else []
        if ends:
            first = first if reached else way[net]
            reached.update(dict.fromkeys(ends))
            continue
        parts, ohm = way[net]
        steps = [
            (link.name, link.beyond(net), link.ohm.typical if link.ohm else None) for link in ways.links.get(net, ())
        ]
        steps += [(gate, out, 0.0) for gate, out in forward.get(net, ())]
        for through, behind, more in steps:
            if (
                behind not in way
                and behind not in ways.chip_nets
                and behind != graph.ground
                and behind not in graph.rails
            ):
                way[behind] = ((*parts, through), None if ohm is None or more is None else ohm + more)
                edge.append(behind)
    return tuple(reached), "+".join(first[0]), first[1]
