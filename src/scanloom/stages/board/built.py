"""Colours of the connectors as the files have them, for whoever draws or sums what a display would show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.dossier.reading import Reading
from scanloom.stages.board.colour_circuit import GROUND
from scanloom.stages.board.links import Link
from scanloom.stages.board.trace import Leg, Trace
from scanloom.stages.levels.amplifier import Amplifier
from scanloom.stages.levels.model import OutputNetwork, Style
from scanloom.stages.levels.network import DriverFacts, Missing, pin_driver
from scanloom.stages.levels.wired import ColourWiring

WEAK = 100.0
"""A part from a lane to ground is left out of the sum from so many times the pin's resistance on: below 1 % of the level."""


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
        Chip pins whose lanes arrive at this connector pin; legs of the network stand in the same order. That is the
        dossier's order of weights where they are its own, but that of the taps in a ladder. [1]
    network : OutputNetwork or None
        The levels' own network with as-built values; None where it is not known, or nothing arrives. A pin that feeds
        several colours stands in it with so many times its resistance, as in the levels.
    straight : bool
        Whether a chip pin sits on the connector's net with no part between.
    amplifier : Amplifier or None
        What stands behind the network, where the network leads into an amplifier.
    unsure : str
        What keeps it from being followed to its end; empty when nothing does.
    """

    connector: str
    channel: str
    fed_by: tuple[int, ...]
    network: OutputNetwork | None
    straight: bool
    amplifier: Amplifier | None = None
    unsure: str = ""


def built_channel(
    read: Reading,
    connector: str,
    channel: str,
    pins: Sequence[int],
    trace: Trace,
    decided: ColourWiring | None,
    lacks: str,
) -> BuiltChannel:
    """A colour of a connector with the values that the files give.

    Parameters
    ----------
    read : Reading
        Notes what is read of the chip's pins.
    connector : str
        The connector.
    channel : str
        red, green or blue.
    pins : sequence of int
        Pins that the dossier gives it, most significant first. [1]
    trace : Trace
        What was followed.
    decided : ColourWiring or None
        The stage as the dossier states it, None where it does not.
    lacks : str
        What the dossier lacks, where it lacks anything.

    Returns
    -------
    BuiltChannel
        With its network, or what keeps it from being known.
    """
    legs = in_order(trace, pins)
    fed = tuple(dict.fromkeys([*trace.straight, *(pin for leg in legs for pin in leg.chip_pins)]))
    straight = bool(trace.straight) and trace.amplifier is None
    network: OutputNetwork | None = None
    amplifier: Amplifier | None = None
    unsure = lacks or _unsure(trace, legs)
    if not unsure and fed and decided is not None:
        try:
            network, amplifier = _network(read, trace, legs, decided)
        except Missing as missing:
            unsure = str(missing)
    return BuiltChannel(connector, channel, fed, network, straight, amplifier, unsure)


def in_order(trace: Trace, pins: Sequence[int]) -> tuple[Leg, ...]:
    """Legs in the order that their network has them.

    Parameters
    ----------
    trace : Trace
        What was followed.
    pins : sequence of int
        Pins of the dossier, most significant first. [1]

    Returns
    -------
    tuple of Leg
        By the dossier's weights, foreign ones last; a ladder's from the connector on.
    """
    if trace.shape.is_ladder:
        return trace.legs
    place = {pin: index for index, pin in enumerate(pins)}
    return tuple(sorted(trace.legs, key=lambda leg: min((place.get(p, 1000 + p) for p in leg.chip_pins), default=2000)))


def _unsure(trace: Trace, legs: Sequence[Leg]) -> str:
    """What of the files keeps a circuit from being summed."""
    for link in trace.links:
        if link.ohm is None:
            return f"The value of {link.name} is not known"
    if trace.shape.misfit:
        return f"The parts make no stage that can be summed: {trace.shape.misfit}"
    if trace.unknown and not trace.fed_by:
        return f"Which pins of {trace.unknown[0]} belong together is not known"
    for leg in legs:
        if len(leg.chip_pins) != 1:
            pins = " and ".join(str(pin) for pin in leg.chip_pins)
            return f"{leg.link.name or 'The output'} is driven by {f'pins {pins} together' if pins else 'no pin of the chip'}"
    if len({leg.chip_pins for leg in legs}) < len(legs):
        return "Several outputs that one pin drives meet"
    if len({leg.gate is None for leg in legs}) > 1 or (trace.straight and (legs or len(trace.straight) > 1)):
        return "Outputs of several kinds drive one colour"
    return ""


def _network(
    read: Reading, trace: Trace, legs: Sequence[Leg], decided: ColourWiring
) -> tuple[OutputNetwork, Amplifier | None]:
    """The decided network with the parts that are there."""
    shape, base = trace.shape, decided.network
    driver = _driver(read, decided, legs)
    load, shunt, amplifier = base.load_ohm, _ohm(shape.shunt), decided.amplifier
    if trace.amplifier is not None:
        if amplifier is None:
            raise Missing(
                "The amplifier's gain is not stated", "levels.colour.amplifier.gain", "State style amplified."
            )
        back = _ohm(trace.back)
        if shunt is None or back is None or back.low <= 0.0:
            lost = "to ground at the amplifier's input" if shunt is None else "between the amplifier and the connector"
            raise Missing(f"There is no part {lost}", "levels.colour", "Put it in.", wrong=True)
        amplifier, load, shunt = replace(amplifier, back_ohm=back), shunt, None
    elif amplifier is not None:
        load, amplifier = amplifier.load_ohm, None
    shorted = next(
        (one for one in (shape.shunt, shape.terminator) if one is not None and one.ohm and one.ohm.low <= 0.0), None
    )
    if shorted is not None:
        raise Missing(f"{shorted.name} joins the colour to ground", "levels.colour", "Take it out.", wrong=True)
    parts = tuple([leg.link.ohm or Span.exact(0.0) for leg in legs]) or (Span.exact(0.0),)
    driver = _with_held(driver, shape.held, len(parts))
    end = _ohm(shape.terminator) if shape.is_ladder else shunt
    one_bit = decided.style == "ladder" and len(parts) == 1 and not shape.is_ladder
    if end is not None and (shape.is_ladder or one_bit):  # a ladder of one bit is a leg and the part that ends it
        rungs = tuple([rung.ohm or Span.exact(0.0) for rung in shape.rungs])
        made = replace(
            base, style="ladder", part_ohm=parts, rung_ohm=rungs, terminator_ohm=end, load_ohm=load,
            shunt_ohm=shunt if shape.is_ladder else None,
        )  # fmt: skip
    else:
        style: Style = "series" if len(parts) == 1 and base.style != "weighted" else "weighted"
        made = replace(
            base, style=style, part_ohm=parts, rung_ohm=(), terminator_ohm=None, load_ohm=load, shunt_ohm=shunt
        )
    return replace(made, pin_high_ohm=driver.high_ohm, pin_low_ohm=driver.low_ohm, rail_v=driver.rail_v), amplifier


def _ohm(link: Link | None) -> Span | None:
    """Resistance of a part that may be absent."""
    return None if link is None else link.ohm


def _driver(read: Reading, decided: ColourWiring, legs: Sequence[Leg]) -> DriverFacts:
    """What drives the legs: as decided, or the chip's own pins where the board goes past the buffer."""
    base = decided.network
    gated = any(leg.gate is not None for leg in legs)
    if gated and decided.buffer is None:
        raise Missing("The family of the buffer that the board has is not stated", "levels.colour.buffer", "State it.")
    if not gated and (decided.buffer is not None or (len(legs) > 1 and base.bits == 1)):
        return pin_driver(read, sinks=len(legs) > 1)
    return DriverFacts(base.pin_high_ohm, base.pin_low_ohm, base.rail_v)


def _with_held(driver: DriverFacts, held: Sequence[Link], bits: int) -> DriverFacts:
    """A pin with a part to ground, as one source behind one resistance."""
    strong = [one for one in held if one.ohm is not None and one.ohm.typical < WEAK * driver.high_ohm.typical]
    if not strong:
        return driver
    part = strong[0].ohm
    if bits > 1 or len(strong) > 1 or part is None or part.low <= 0.0 or GROUND not in strong[0].ends:
        says = "A part holds a lane at ground or a supply before the lanes meet"
        raise Missing(says, "levels.colour", "Take it out.", wrong=True)
    pin, rail = driver.high_ohm, driver.rail_v
    both = Span(*(a * b / (a + b) for a, b in zip(_ends(part), _ends(pin), strict=True)))
    left = Span(
        rail.low * part.low / (part.low + pin.high),
        rail.typical * part.typical / (part.typical + pin.typical),
        rail.high * part.high / (part.high + pin.low),
    )
    return DriverFacts(both, both, left)


def _ends(span: Span) -> tuple[float, float, float]:
    """Bounds and typical value."""
    return span.low, span.typical, span.high
