"""One colour of one connector followed from its pin back to the chip: gates, parts, what they make together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.basis.verdict import Place
from scanloom.dossier.model import Connector
from scanloom.stages.board.colour_circuit import Ways, chip_pins_behind, circuit_of
from scanloom.stages.board.gates import Gate, gates_of
from scanloom.stages.board.graph import PinGraph
from scanloom.stages.board.links import Link, links_of
from scanloom.stages.board.model import PinName
from scanloom.stages.board.sight import Sight
from scanloom.stages.board.stage_shape import Shape, shape_of


@record
class Lane:
    """One colour of one connector under judgement.

    Parameters
    ----------
    subject : str
        Line of the dossier.
    connector : Connector
        The connector.
    channel : str
        red, green or blue.
    pins : tuple of int
        Chip pins of the dossier, most significant first. [1]
    wanted : PinName
        Pin of the connector.
    chip : str
        Designator of the chip.
    place : Place
        Where the connector's pin is.
    """

    subject: str
    connector: Connector
    channel: str
    pins: tuple[int, ...]
    wanted: PinName
    chip: str
    place: Place


@record
class Leg:
    """What drives one leg.

    Parameters
    ----------
    chip_pins : tuple of int
        Pins of the chip that lead to it. [1]
    link : Link
        The leg.
    gate : Gate or None
        Buffer whose output drives it; None where the chip's pin does.
    before : tuple of str
        Parts between chip and buffer.
    """

    chip_pins: tuple[int, ...]
    link: Link
    gate: Gate | None
    before: tuple[str, ...] = ()

    @property
    def through(self) -> str:
        """Parts from chip to where the legs meet."""
        gate = (self.gate.part,) if self.gate is not None else ()
        return "+".join((*self.before, *gate, *self.link.parts))


@record
class Trace:
    """One colour of one connector.

    Parameters
    ----------
    net : str
        Net of the connector's pin.
    straight : tuple of int
        Chip pins on that very net. [1]
    output : Gate or None
        Buffer or amplifier whose output is on that very net.
    legs : tuple of Leg
        Legs in the order of the shape.
    shape : Shape
        What the parts make.
    amplifier : Gate or None
        Amplifier between where the legs meet and the connector.
    back : Link or None
        Part from its output to the connector.
    unknown : tuple of str
        Buffers and amplifiers on the way of which nobody tells the pins.
    """

    net: str
    straight: tuple[int, ...]
    output: Gate | None
    legs: tuple[Leg, ...]
    shape: Shape
    amplifier: Gate | None = None
    back: Link | None = None
    unknown: tuple[str, ...] = ()

    @property
    def fed_by(self) -> tuple[int, ...]:
        """Chip pins that arrive, in the order of the legs [1]."""
        found = dict.fromkeys([*self.straight, *(pin for leg in self.legs for pin in leg.chip_pins)])
        return tuple(found)

    @property
    def links(self) -> tuple[Link, ...]:
        """All parts of the sum."""
        return (*self.shape.links, *(() if self.back is None else (self.back,)))


def place_of(graph: PinGraph, lane: Lane, link: Link | None) -> Place:
    """Where the first part of a link is; the connector's pin where no file says.

    Parameters
    ----------
    graph : PinGraph
        Nets and parts.
    lane : Lane
        The channel.
    link : Link or None
        The link; None for the connector itself.

    Returns
    -------
    Place
        Named by the part.
    """
    if link is None or not link.parts:
        return lane.place
    name = link.parts[0]
    part = name if name in graph.parts else name.rsplit("-", 2)[0]  # a resistor of a pack is named by its pins, too
    at = next((found for pin in graph.parts.get(part, ()) if (found := graph.place(pin)) is not None), None)
    if at is None:
        return replace(lane.place, pin=name)
    return replace(lane.place, x_mm=at.x_mm, y_mm=at.y_mm, pin=name)


def ways_of(sight: Sight, pads: Mapping[int, tuple[PinName, ...]]) -> Ways:
    """Links, gates and chip nets of a board.

    Parameters
    ----------
    sight : Sight
        The board.
    pads : Mapping
        Pads of the chip by pin.

    Returns
    -------
    Ways
        What lanes can go through.
    """
    graph, board = sight.graph, sight.reading.plan.dossier.board
    stated = board.parts if board is not None else {}
    nets: dict[str, dict[int, None]] = {}
    for number, some in pads.items():
        for pad in some:
            if graph.nets.get(pad):
                nets.setdefault(graph.nets[pad], {})[number] = None
    chip_nets = {net: tuple(numbers) for net, numbers in nets.items()}
    plugs = {graph.part(one.name) for one in board.connectors} if board is not None else set()
    gates = gates_of(graph, stated)
    pins = [pin for part in plugs for pin in graph.parts.get(part, ())]
    pins += [(gate.part, gate.into) for gate in gates.by_output.values()]
    outlets = frozenset(graph.nets.get(pin, "") for pin in pins) - {graph.ground, ""}
    return Ways(graph, links_of(graph, stated), gates, chip_nets, outlets)


def trace_colour(ways: Ways, net: str, usual_percent: float) -> Trace:
    """Follow the net of a colour pin back to what feeds it.

    Parameters
    ----------
    ways : Ways
        What a lane can go through.
    net : str
        Net of the connector's pin.
    usual_percent : float
        Tolerance of parts whose line states none. [%]

    Returns
    -------
    Trace
        What was found.
    """
    graph, gates = ways.graph, ways.gates
    circuit = circuit_of(ways, net, usual_percent)
    shape = shape_of(circuit)
    met = set(circuit.met)
    output = None if net in ways.chip_nets else gates.by_output.get(net)
    ends = [gates.by_output.get(source) for source in shape.sources if source not in ways.chip_nets]
    amplifier = next((gate for gate in ends if gate is not None and gate.amplifies), None)
    if output is not None and output.amplifies:
        amplifier = output
    back: Link | None = None
    if amplifier is not None and len(shape.sources) <= 1 and not shape.misfit and shape.shunt is None:
        back = shape.legs[0] if shape.legs else None
        into = graph.nets.get((amplifier.part, amplifier.into), "")
        circuit = circuit_of(ways, into, usual_percent)
        shape = shape_of(circuit)
        met |= set(circuit.met)
    else:
        amplifier = None
    legs = tuple([_leg(ways, link, source) for link, source in zip(shape.legs, shape.sources, strict=True)])
    if output is not None and not output.amplifies:
        legs = (_leg(ways, Link((), (net, net), Span.exact(0.0)), net), *legs)
    on_way = {part for one in met for part, _ in graph.pins.get(one, ())}
    unknown = tuple([part for part in gates.unknown if part in on_way])
    return Trace(net, ways.chip_nets.get(circuit.net, ()), output, legs, shape, amplifier, back, unknown)


def _leg(ways: Ways, link: Link, source: str) -> Leg:
    """What drives one leg."""
    if source in ways.chip_nets:
        return Leg(ways.chip_nets[source], link, None)
    gate = ways.gates.by_output[source]
    into = ways.graph.nets.get((gate.part, gate.into), "")
    pins, before = chip_pins_behind(ways, into) if into else ((), ())
    return Leg(pins, link, gate, before)
