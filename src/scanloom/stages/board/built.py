"""What the files join to each colour and sync of a connector, in the terms of levels and picture."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.dossier.model import CHANNELS, Connector
from scanloom.stages.board.graph import PinGraph
from scanloom.stages.board.lane_paths import COLOUR_PIN, chip_pins
from scanloom.stages.board.sight import Sight
from scanloom.stages.lanes import ChannelDrive
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.network import Missing
from scanloom.stages.levels.wiring import colour_wiring

_TOLERANCE = 5.0  # percent, for a listed value without one
Leg = tuple[int, str, float | None]  # chip pin, part, its resistance


@record
class BuiltChannel:
    """One colour of one connector as the files have it.

    Parameters
    ----------
    connector : str
        The connector.
    channel : str
        red, green or blue.
    fed_by : tuple of int
        Chip pins whose lanes arrive at the connector's pin: the dossier's own in its order of weights, then others. [1]
    network : OutputNetwork or None
        The network of the levels stage with the parts as listed, a leg for each of these pins; None where not known.
    straight : bool
        Whether a chip pin sits on the connector's net with no part between.
    """

    connector: str
    channel: str
    fed_by: tuple[int, ...]
    network: OutputNetwork | None
    straight: bool


def built_channels(sight: Sight) -> tuple[BuiltChannel, ...]:
    """Every colour of every connector as the files have it, for stages of resistors alone.

    Parameters
    ----------
    sight : Sight
        The board; no verdict is made.

    Returns
    -------
    tuple of BuiltChannel
        Those of styles direct, series and weighted; of the others nothing is said.
    """
    plan, graph = sight.reading.plan, sight.graph
    _, pads = chip_pins(sight)
    on_net: dict[str, list[int]] = {}
    for number, some in pads.items():
        for pad in some:
            if graph.nets.get(pad):
                on_net.setdefault(graph.nets[pad], []).append(number)
    if not on_net:
        return ()
    made: list[BuiltChannel] = []
    for connector in plan.connectors:
        part = graph.part(connector.name)
        for channel in CHANNELS if part else ():
            one = _channel(sight, connector, part, channel, on_net)
            if one is not None:
                made.append(one)
    return tuple(made)


def _channel(
    sight: Sight, connector: Connector, part: str, channel: str, on_net: Mapping[str, Sequence[int]]
) -> BuiltChannel | None:
    """One colour; None where the dossier wants none there, or a stage that is not followed."""
    graph, plan = sight.graph, sight.reading.plan
    known = getattr(connector, channel)
    display = plan.displays.get(connector.plugs.value) if connector.plugs is not None else None
    if known is None or display is None:
        return None
    own: tuple[int, ...] = known.value
    try:
        wiring = colour_wiring(
            sight.reading.fork(), ChannelDrive(display.name, connector.name, channel, own, True), display
        )
    except Missing:
        return None
    if wiring.style not in ("direct", "series", "weighted"):
        return None
    net = graph.nets.get((part, COLOUR_PIN[channel]), "")
    direct = tuple(on_net.get(net, ()))
    legs: list[Leg] = [(number, "", 0.0) for number in direct]
    for resistor, behind in graph.beyond(net):
        if behind == graph.ground or behind in graph.rails:
            continue
        value = graph.value(resistor)
        ohm = value.amount if value is not None and value.unit_name == "ohm" else None
        legs += [(number, resistor, ohm) for number in on_net.get(behind, ()) if number not in direct]
    legs.sort(key=lambda leg: (own.index(leg[0]), 0) if leg[0] in own else (len(own), leg[0]))
    return BuiltChannel(
        connector.name, channel, tuple(leg[0] for leg in legs), _network(graph, wiring.network, legs, net), bool(direct)
    )


def _network(graph: PinGraph, stated: OutputNetwork, legs: Sequence[Leg], net: str) -> OutputNetwork | None:
    """The stated network with the parts as listed; None without a pin, or where a value is not known."""
    if not legs or any(leg[2] is None for leg in legs):
        return None
    parts = []
    for _, part, ohm in legs:
        value = graph.value(part) if part else None
        percent = value.tolerance_percent if value is not None else None
        parts.append(Span.exact(ohm or 0.0).relative(_TOLERANCE if percent is None else percent))
    siemens = 0.0
    for resistor, behind in graph.beyond(net):
        value = graph.value(resistor)
        if behind == graph.ground and value is not None and value.unit_name == "ohm" and value.amount > 0.0:
            siemens += 1.0 / value.amount
    style = stated.style if len(parts) == stated.bits else "weighted"
    shunt = Span.exact(1.0 / siemens) if siemens else None
    try:
        return replace(stated, style=style, part_ohm=tuple(parts), shunt_ohm=shunt)
    except ValueError:  # more legs than a channel may have
        return None
