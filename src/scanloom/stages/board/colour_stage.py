"""Whether the parts between chip and connector make up the colour stage that the dossier decided."""

from __future__ import annotations

from itertools import permutations

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.basis.verdict import Judged, Place, Weight
from scanloom.dossier.model import CHANNELS, Connector
from scanloom.dossier.reading import Reading
from scanloom.stages.board.built import in_order
from scanloom.stages.board.colour_circuit import GROUND, Ways
from scanloom.stages.board.links import Link
from scanloom.stages.board.pads import nets_file, nets_from
from scanloom.stages.board.sight import Sight
from scanloom.stages.board.trace import Lane, Trace, place_of
from scanloom.stages.lanes import ChannelDrive
from scanloom.stages.levels.network import Missing, colour_stage
from scanloom.stages.levels.wired import ColourWiring
from scanloom.stages.levels.wiring import colour_wiring, known_style

_About = tuple[Sight, Lane, "Decided", Trace]
_MEND = "Change the nets, or the dossier's colour stage."
USUAL_PERCENT = 5.0
"""Tolerance of a listed value where neither list nor dossier states one. Common practice, no source. [%]"""


@record
class Decided:
    """Colour stage of one channel as the dossier has it.

    Parameters
    ----------
    style : str
        Its style; empty where it is not stated.
    wiring : ColourWiring or None
        Pins, parts and load; None where something is missing.
    lacks : str
        What is missing; empty when nothing is.
    measure : str
        How to come by it.
    plugged : bool
        Whether the dossier says which display is plugged in.
    read : Reading
        Notes what was read.
    """

    style: str
    wiring: ColourWiring | None
    lacks: str
    measure: str
    plugged: bool
    read: Reading

    @property
    def usual_percent(self) -> float:
        """Tolerance of the decided parts, for those whose line states none [%]."""
        part = self.wiring.network.part_ohm[0] if self.wiring is not None else None
        return min((part.high / part.typical - 1) * 100, 99.0) if part is not None and part.typical else USUAL_PERCENT


def stage_decided(sight: Sight, connector: Connector, channel: str, pins: tuple[int, ...]) -> Decided:
    """Read the colour stage of a channel.

    Parameters
    ----------
    sight : Sight
        The board.
    connector : Connector
        The connector.
    channel : str
        red, green or blue.
    pins : tuple of int
        Its pins, most significant first. [1]

    Returns
    -------
    Decided
        What the dossier states, and what it lacks.
    """
    read = sight.reading.fork()
    display = read.plan.displays.get(read(connector.plugs)) if connector.plugs is not None else None
    style = ""
    stage, key = colour_stage(read.fork(), display)
    if stage is not None and stage.style is not None:
        try:
            style = known_style(read.fork(), stage, key)
        except Missing:
            style = ""  # the sum below tells it
    if display is None:
        says = f"No display is said to be plugged in {connector.name}"
        return Decided(style, None, says, f"State plugs of {connector.name}.", False, read)
    drive = ChannelDrive(display.name, connector.name, channel, pins, True)
    read(getattr(connector, channel))
    twins = [
        known
        for one in read.plan.connectors
        for other in CHANNELS
        if one.plugs is not None and (one.name, other) != (connector.name, channel)
        if (known := getattr(one, other)) is not None and known.value == pins
    ]
    for twin in twins:  # that they share pins rests on the pins of each
        read(twin)
    try:
        return Decided(style, colour_wiring(read, drive, display, 1 + len(twins)), "", "", True, read)
    except Missing as missing:
        return Decided(style, None, str(missing), missing.measure, True, read)


def judge_stage(sight: Sight, lane: Lane, decided: Decided, trace: Trace) -> bool:
    """Judge whether a channel's parts make up its decided stage.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.
    lane : Lane
        The channel, all its lanes known to arrive.
    decided : Decided
        The stage.
    trace : Trace
        The parts.

    Returns
    -------
    bool
        Whether they do, so that part can be held against part.
    """
    if not decided.style:
        return False  # the level says what to state
    end = "-".join(lane.wanted)
    if _is_otherwise(sight, lane, decided, trace, end) or _is_misshapen(sight, lane, decided, trace, end):
        return False
    sight.verdict(
        "board.colour-parts", lane.subject, "stop", f"The parts before {end} make up the colour stage of the dossier.",
        state="holds", used=nets_from(sight.graph), read=decided.read.fork(), seen=_through(trace), wanted=f"style {decided.style}",
        place=lane.place,
    )  # fmt: skip
    return True


def _through(trace: Trace) -> str:
    """Parts of each leg."""
    return ", ".join(dict.fromkeys(leg.through or "no part" for leg in trace.legs)) or "no part"


def _fail(about: _About, code: str, weight: Weight, says: str, doubt: str, link: Link | None = None) -> bool:
    """Say what does not fit the decided stage, and at which part."""
    sight, lane, decided, trace = about
    sight.verdict(
        code, lane.subject, weight, says, state="fails", used=nets_from(sight.graph), read=decided.read.fork(),
        seen=_through(trace), wanted=f"style {decided.style}", doubt=doubt,
        place=place_of(sight.graph, lane, link),
    )  # fmt: skip
    return True


def _is_otherwise(sight: Sight, lane: Lane, decided: Decided, trace: Trace, end: str) -> bool:
    """Whether buffer or amplifier are not as decided; says so."""
    style, about = decided.style, (sight, lane, decided, trace)
    past = next((leg.link for leg in trace.legs if leg.gate is None), None)
    gate = next((leg.gate for leg in trace.legs if leg.gate is not None), None)
    if style == "buffered" and past is not None:
        says = f"A lane reaches {end} past the buffer."
        return _fail(
            about,
            "board.lane-path",
            "stop",
            says,
            "A buffer that board.parts does not name is not known as one.",
            past,
        )
    if style == "amplified" and trace.amplifier is None:
        says = f"The lanes reach {end} past the amplifier."
        return _fail(
            about, "board.lane-path", "stop", says, "An amplifier that board.parts does not name is not known as one."
        )
    if style == "amplified" and trace.back is None:
        says = f"The amplifier's output sits straight on {end}, with no part that matches the cable."
        return _fail(about, "board.no-series-part", "stop", says, _MEND)
    if style not in ("buffered", "amplified") and gate is not None:
        says = f"A lane goes through {gate.part} before {end}, and the dossier's colour stage has no buffer."
        return _fail(about, "board.colour-parts", "stop", says, _MEND)
    if style != "amplified" and trace.amplifier is not None:
        says = f"{trace.amplifier.part} drives {end}, and the dossier's colour stage has no amplifier."
        return _fail(about, "board.colour-parts", "stop", says, _MEND)
    return False


def _is_misshapen(sight: Sight, lane: Lane, decided: Decided, trace: Trace, end: str) -> bool:
    """Whether the parts do not make up the decided style; says so, and what they have besides it."""
    shape, style, about = trace.shape, decided.style, (sight, lane, decided, trace)
    part, pin = lane.wanted
    plugs = {sight.graph.part(one.name) for one in sight.reading.plan.connectors} - {part}
    if other := next(
        (f"{a}-{b}" for a, b in sight.graph.pins.get(trace.net, ()) if a in plugs or (a == part and b != pin)), ""
    ):
        says = f"{other} hangs on the net of {end}, too, so that both displays load it."
        return _fail(about, "board.colour-parts", "stop", says, _MEND)
    if shape.misfit:
        says = f"The parts before {end} make no colour stage: {shape.misfit}."
        return _fail(about, "board.colour-parts", "stop", says, _MEND)
    ladder = shape.is_ladder or (style == "ladder" and len(trace.legs) == 1 and shape.shunt is not None)
    if ladder and style != "ladder":
        return _fail(about, "board.colour-parts", "stop", f"The parts before {end} make up a ladder.", _MEND)
    if not ladder and style == "ladder":
        says = f"The parts before {end} make no ladder: " + (
            "no part to ground ends it." if shape.shunt is None else "their legs meet at one net."
        )
        return _fail(about, "board.colour-parts", "stop", says, _MEND)
    wants = _wants_shunt(decided.wiring, style)
    if wants is True and shape.shunt is None:
        if (side := next((one for one in shape.held if GROUND in one.ends), None)) is not None:
            says = f"{side.name} leads to ground on the chip's side of the lane's part, and not where the dossier has it, at {end}."
            return _fail(about, "board.colour-parts", "stop", says, _MEND, side)
        says = f"The part to ground before {end} is missing."
        return _fail(about, "board.colour-parts", "stop", says, "Put the shunt in, or change levels.colour.")
    if shape.shunt is not None and ((wants is False and style != "ladder") or shape.is_ladder):
        says = f"{shape.shunt.name} leads from {end} to ground, and the dossier's colour stage has no such part."
        _fail(about, "board.colour-parts", "caution", says, _MEND, shape.shunt)
    if (legs := _exchanged(lane, trace, decided.wiring)) is not None:
        says = f"Legs before {end} are exchanged: {legs}."
        doubt = "Bits exchanged within one colour can be put right in firmware: change the order of the dossier's pins."
        return _fail(about, "board.lane-path", "stop", says, doubt)
    return False


def _wants_shunt(wiring: ColourWiring | None, style: str) -> bool | None:
    """Whether the stage has a part to ground where the lanes meet; None where that is not stated."""
    if style in ("matched", "amplified"):
        return True
    if style == "buffered":
        return None if wiring is None else wiring.network.shunt_ohm is not None
    return False


def _exchanged(lane: Lane, trace: Trace, wiring: ColourWiring | None) -> str | None:
    """Words for pins that have one another's legs; None when each has its own, or no order explains the values."""
    if trace.shape.is_ladder:
        taps = [leg.chip_pins[0] for leg in trace.legs]
        return None if taps == list(lane.pins) else f"taps are fed by pins {', '.join(map(str, taps))}"
    legs = in_order(trace, lane.pins)
    if wiring is None or len(legs) != wiring.network.bits or len(legs) < 2 or any(leg.link.ohm is None for leg in legs):
        return None
    built = [leg.link.ohm.typical for leg in legs if leg.link.ohm is not None]
    parts = wiring.network.part_ohm
    if _fits(built, parts) or len(built) > 6:
        return None
    if any(_fits(list(order), parts) for order in permutations(built)):
        return ", ".join(f"pin {leg.chip_pins[0]} has {ohm:g} ohm" for leg, ohm in zip(legs, built, strict=True))
    return None


def _fits(built: list[float], parts: tuple[Span, ...]) -> bool:
    """Whether each value lies within its part's bounds."""
    return all(span.low * 0.999 <= ohm <= span.high * 1.001 for ohm, span in zip(built, parts, strict=True))


def judge_gates(sight: Sight, ways: Ways) -> None:
    """Judge enable and supply pins of the buffers whose layout is known.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.
    ways : Ways
        Links and gates.
    """
    graph = sight.graph
    for part in ways.gates.parts:
        gates = [gate for gate in ways.gates.by_output.values() if gate.part == part]
        enables = {pin for gate in gates for pin in gate.enables}
        high = any(gate.on_when_high for gate in gates)
        ground, supply = ways.gates.supplies.get(part, ("", ""))
        if not enables and not ground:
            continue
        faults = [
            f"{part}-{pin} does not switch its outputs on: {why}"
            for pin in sorted(enables)
            if (why := _off(ways, part, pin, high))
        ]
        if ground and graph.nets.get((part, ground)) != graph.ground:
            faults.append(f"{part}-{ground} is the ground pin and is on {graph.nets.get((part, ground)) or 'no net'}")
        on = graph.nets.get((part, supply), "") if supply else ""
        if supply and (not on or on == graph.ground):
            faults.append(f"{part}-{supply} is the supply pin and is on {on or 'no net'}")
        open_ends = [pin for pin in sorted(enables) if not faults and _off(ways, part, pin, high) is None]
        guess = part in ways.gates.guessed
        state: Judged = ("unknown" if guess else "fails") if faults else "unknown" if open_ends else "holds"
        pin = faults[0].split(" ")[0] if faults else f"{part}-{open_ends[0]}" if open_ends else part
        at = graph.place((part, pin.rpartition("-")[2]))
        place = Place(nets_file(graph), "", at.x_mm if at else None, at.y_mm if at else None, pin)
        doubt = (
            "Its layout was told from the resistors at its outputs: give its function in the parts list."
            if guess
            else f"A pin that the chip drives {'high' if high else 'low'} before it sends a picture is right, too."
        )
        sight.verdict(
            "board.buffer-pins", f"board.parts.{part}", "stop" if faults else "caution",
            f"{'; '.join(faults)}." if faults
            else f"What holds {pin} is not known, so the buffer may be off." if open_ends
            else f"Enable and supply pins of {part} are tied right.",
            state=state, used=nets_from(graph), seen=f"enables {', '.join(sorted(enables)) or 'none'}",
            wanted=f"enables {'high' if high else 'low'}, supply pins on their nets", place=place, doubt="" if state == "holds" else doubt,
        )  # fmt: skip


def _off(ways: Ways, part: str, pin: str, on_when_high: bool) -> str | None:
    """Why an enable pin is off; empty when it is on, None when nobody can say."""
    graph = ways.graph
    on, off = (graph.rails, graph.grounds) if on_when_high else (graph.grounds, graph.rails)
    net = graph.nets.get((part, pin))
    if net is None:
        return ""  # no file tells of this pin, and other checks say so
    if net in on:
        return ""
    if not net or (len(graph.pins.get(net, ())) < 2):
        return "it hangs in the air"
    if net in off:
        return f"it is on {net}"
    behind = {link.beyond(net) for link in ways.links.get(net, ())}
    driven = net in ways.chip_nets or any(name[:1].upper() in "UQI" and name != part for name, _ in graph.pins[net])
    if driven:
        return "" if on & behind else None
    if on & behind:
        return ""
    held = sorted(behind & off)
    return f"it is held at {held[0]}" if held else None
