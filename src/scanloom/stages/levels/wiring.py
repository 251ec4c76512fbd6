"""One colour channel put together from what the dossier and the handbook state, whatever its style."""

from __future__ import annotations

import difflib
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.dossier.model import ColourStage, Display
from scanloom.dossier.reading import Reading
from scanloom.handbook.buffers import Buffer, buffer
from scanloom.handbook.limits import known_row
from scanloom.handbook.sources import row_fact
from scanloom.stages.lanes import ChannelDrive
from scanloom.stages.levels.amplifier import Amplifier, amplified_level, amplifier_current
from scanloom.stages.levels.fan_out import SharedPin, shared_pin_current, shared_white
from scanloom.stages.levels.figures import ChannelFigures, channel_figures
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.network import (
    STYLES,
    DriverFacts,
    Missing,
    buffer_driver,
    colour_parts,
    colour_stage,
    pin_driver,
)
from scanloom.stages.levels.tolerance import pin_current_spans, rail_current_span, white_span

USUAL_BACK = Span(74.25, 75.0, 75.75)
"""Resistor at an amplifier's output when none is stated: the cable's own, 1 %. Common practice, no source. [ohm]"""

# boards repeat one network many times over, and the page asks again at every keystroke
figures_of: Callable[[OutputNetwork], ChannelFigures] = lru_cache(maxsize=256)(channel_figures)


@dataclass(frozen=True, slots=True)
class ColourWiring:
    """What stands between the pins of one channel and its display.

    Parameters
    ----------
    style : str
        As stated.
    network : OutputNetwork
        Resistors, what drives them and what they lead into: the display, or the shunt at an amplifier's input.
    buffer : Buffer or None
        Logic family that drives them; None where the pins do.
    amplifier : Amplifier or None
        What stands behind them; None where the display does.
    fed : int
        Inputs that each pin feeds through parts of their own. [1]
    """

    style: str
    network: OutputNetwork
    buffer: Buffer | None = None
    amplifier: Amplifier | None = None
    fed: int = 1

    @property
    def is_shared(self) -> bool:
        """Whether a pin carries the current of several inputs."""
        return self.fed > 1 and self.buffer is None


def colour_wiring(read: Reading, drive: ChannelDrive, display: Display, fed: int = 1) -> ColourWiring:
    """What stands between the pins of one channel and its display.

    Parameters
    ----------
    read : Reading
        Has read the channel; notes the rest.
    drive : ChannelDrive
        The channel.
    display : Display
        The display.
    fed : int
        Channels that hang on these very pins. [1]

    Returns
    -------
    ColourWiring
        Pins or buffers, parts, amplifier and load.

    Raises
    ------
    Missing
        If a fact is not stated, or parts and pins do not match.
    """
    stage, key = colour_stage(read, display)
    if stage is None or stage.style is None:
        raise Missing("How the colour pins are wired is not stated", key, "State style and part of the colour stage.")
    style = known_style(read, stage, key)
    bits = len(drive.pins)
    parts = colour_parts(read, stage, style, bits, key)
    family: Buffer | None = None
    if style == "buffered":
        driver, family = _buffer(read, stage, key)
    else:
        driver = pin_driver(read, sinks=bits > 1)
    load = colour_load(read, display)
    shunt = _shunt(read, stage, style, key)
    amplifier: Amplifier | None = None
    if style == "amplified":
        assert shunt is not None
        amplifier, load, shunt = _amplifier(read, stage, key, load), shunt, None
    if style == "ladder":
        rung, leg = parts
        net = OutputNetwork(
            "ladder", (leg,) * bits, driver.high_ohm, driver.low_ohm, driver.rail_v, load,
            rung_ohm=(rung,) * (bits - 1), terminator_ohm=leg,
        )  # fmt: skip
    else:
        joined = "series" if bits == 1 and style != "weighted" else "weighted"
        net = OutputNetwork(joined, tuple(parts), driver.high_ohm, driver.low_ohm, driver.rail_v, load, shunt)  # type: ignore[arg-type]
    wiring = ColourWiring(style, net, family, amplifier, fed)
    if wiring.is_shared:  # each input sees the pin as so many times its resistance, where all are alike
        wiring = replace(
            wiring, network=replace(net, pin_high_ohm=_times(net.pin_high_ohm, fed), pin_low_ohm=_times(net.pin_low_ohm, fed))
        )  # fmt: skip
    return wiring


def known_style(read: Reading, stage: ColourStage, key: str) -> str:
    """Style of a colour stage, one of those that there are.

    Parameters
    ----------
    read : Reading
        Notes the style.
    stage : ColourStage
        The stage, its style stated.
    key : str
        Its place in the dossier.

    Returns
    -------
    str
        The style.

    Raises
    ------
    Missing
        If there is no such style.
    """
    assert stage.style is not None
    style = read(stage.style)
    if style not in STYLES:
        near = difflib.get_close_matches(style, STYLES, 1, 0.6)
        meant = f"did you mean '{near[0]}'" if near else "choose one"
        says = f"There is no colour stage of style {style!r}; {', '.join(STYLES)} are allowed; {meant}"
        raise Missing(says, f"{key}.style", "Correct the style.", wrong=True)
    return style


def colour_load(read: Reading, display: Display) -> Span:
    """Termination of a display's colour inputs.

    Parameters
    ----------
    read : Reading
        Notes it.
    display : Display
        The display.

    Returns
    -------
    Span
        The load. [ohm]

    Raises
    ------
    Missing
        If it is not known.
    """
    if display.colour_load is None:
        raise Missing(
            f"The colour load of {display.name} is not known",
            f"displays.{display.name}.colour_load",
            f"Measure pin 1 to pin 6 of {display.name}'s plug with an ohmmeter, display off.",
        )
    return read(display.colour_load)


def line_ohm(read: Reading) -> float:
    """Resistance that cable and termination have in common.

    Parameters
    ----------
    read : Reading
        Notes the handbook's row.

    Returns
    -------
    float
        The resistance. [ohm]
    """
    usual = read(known_row("signal_levels", "termination")).typical
    assert usual is not None
    return usual


def wired_figures(wiring: ColourWiring) -> ChannelFigures:
    """Everything a channel does with typical values, at the display's end of an amplifier.

    Parameters
    ----------
    wiring : ColourWiring
        The channel.

    Returns
    -------
    ChannelFigures
        Levels at the display, currents of pins or buffer outputs, powers. [V, LSB, A, W, ohm]
    """
    figures = figures_of(wiring.network)
    amplifier = wiring.amplifier
    if amplifier is None:
        return figures
    level_v = tuple([amplified_level(Span.exact(v), amplifier).typical for v in figures.level_v])
    return replace(
        figures,
        level_v=level_v,
        powers=replace(figures.powers, load_w=level_v[-1] ** 2 / amplifier.load_ohm.typical, shunt_w=figures.powers.load_w),
        source_ohm=amplifier.back_ohm.typical,
    )  # fmt: skip


def wired_white(wiring: ColourWiring) -> Span:
    """Bounds of white at the display.

    Parameters
    ----------
    wiring : ColourWiring
        The channel.

    Returns
    -------
    Span
        Level into the display's load with every bit on; exact but where channels of several bits share pins, whose
        inputs then count as alike. [V]
    """
    shared = shared_pin(wiring)
    if shared is not None:
        return shared_white(shared)
    white = white_span(wiring.network)
    return white if wiring.amplifier is None else amplified_level(white, wiring.amplifier)


def wired_output_current(wiring: ColourWiring) -> Span:
    """Bounds of the most current of the hardest worked output that drives the parts, pin or buffer.

    Parameters
    ----------
    wiring : ColourWiring
        The channel.

    Returns
    -------
    Span
        Current out of it, of all inputs that it feeds. [A]
    """
    shared = shared_pin(wiring)
    if shared is not None:
        return shared_pin_current(shared)
    most = max((p.source_a for p in pin_current_spans(wiring.network)), key=lambda s: s.high)
    return _times(most, wiring.fed if wiring.is_shared else 1)


def wired_white_current(wiring: ColourWiring) -> tuple[Span, Span]:
    """What a channel draws at white: from the chip's pins, and from the rail in all.

    Parameters
    ----------
    wiring : ColourWiring
        The channel.

    Returns
    -------
    tuple of Span
        Current of the chip's pins, and all that the board's supply gives for it. A buffer's inputs count against the
        chip, its outputs do not. An amplifier's current counts with the rail's, more than true where its supply is the
        inlet itself. [A]
    """
    net, shared = wiring.network, shared_pin(wiring)
    if shared is not None:  # what all its inputs draw together is the pin's current
        drawn = shared_pin_current(shared)
        each = Span(drawn.low / shared.fed, drawn.typical / shared.fed, drawn.high / shared.fed)
        return each, each
    drawn = rail_current_span(net, net.white_code)
    if wiring.buffer is not None:
        return input_current(wiring.buffer, net.bits), drawn
    if wiring.amplifier is None:
        return drawn, drawn
    own = amplifier_current(white_span(net), wiring.amplifier)
    return drawn, Span(drawn.low + own.low, drawn.typical + own.typical, drawn.high + own.high)


def input_current(family: Buffer, inputs: int) -> Span:
    """Current into so many inputs of buffers.

    Parameters
    ----------
    family : Buffer
        Their logic family.
    inputs : int
        How many. [1]

    Returns
    -------
    Span
        From none to the most that the sheet allows. [A]
    """
    row = family.input_current
    assert row.typical is not None and row.high is not None
    return Span(0.0, inputs * row.typical, inputs * row.high)


def shared_pin(wiring: ColourWiring) -> SharedPin | None:
    """The pin that a channel of one bit shares with others, without what stands for the others in its network.

    Parameters
    ----------
    wiring : ColourWiring
        The channel.

    Returns
    -------
    SharedPin or None
        Pin and inputs; None where the pin is the channel's own, or bounds are taken from the network. [V, ohm]
    """
    net = wiring.network
    if not wiring.is_shared or net.bits > 1 or net.shunt_ohm is not None or wiring.amplifier is not None:
        return None
    pin = Span(*(end / wiring.fed for end in (net.pin_high_ohm.low, net.pin_high_ohm.typical, net.pin_high_ohm.high)))
    return SharedPin(pin, net.rail_v, net.part_ohm[0], net.load_ohm, wiring.fed)


def _buffer(read: Reading, stage: ColourStage, key: str) -> tuple[DriverFacts, Buffer]:
    """Outputs of the buffers, and their family."""
    if stage.buffer is None:
        raise Missing(
            "The logic family of the colour buffers is not stated", f"{key}.buffer", "Read the marking of the buffer."
        )
    driver = buffer_driver(read, stage.buffer, f"{key}.buffer")
    family = buffer(stage.buffer.value)
    if not 0.9 * family.rail_v <= driver.rail_v.typical <= 1.1 * family.rail_v:
        raise Missing(
            f"The handbook knows {family.family} at {family.rail_v:g} V alone, and the rail is {driver.rail_v.typical:.3g} V",
            f"{key}.buffer",
            "Choose a family for that rail, or measure white at the connector.",
        )
    row = family.input_current
    read(Known(None, (row_fact(f"handbook.buffers.{row.name}", f"{row.high:g} {row.unit}", row.source, row.place),)))
    return driver, family


def _shunt(read: Reading, stage: ColourStage, style: str, key: str) -> Span | None:
    """Part from where the others meet to ground, where the style has one."""
    if style in ("matched", "amplified") and stage.shunt is None:
        raise Missing(
            f"The shunt of the {style} colour stage is not stated",
            f"{key}.shunt",
            "Read the parts list, or measure it.",
        )
    return read.maybe(stage.shunt) if style in ("matched", "amplified", "buffered") else None


def _amplifier(read: Reading, stage: ColourStage, key: str, load: Span) -> Amplifier:
    """The amplifier, usual values where nothing is stated."""
    facts = stage.amplifier
    gain = read.maybe(facts.gain) if facts else None
    if gain is None:
        gain = read.assume(f"{key}.amplifier.gain", 2, "2", "half is lost at the resistor that matches the cable")
    back = read.maybe(facts.back) if facts else None
    if back is None:
        back = read.assume(f"{key}.amplifier.back", USUAL_BACK, "75 ohm ± 1 %", "it matches the cable")
    idle = read.maybe(facts.current) if facts else None
    if idle is None:
        row = read(known_row("supply_usual", "amplifier-idle"))
        idle = row.span()
    return Amplifier(float(gain), back, load, idle)


def _times(span: Span, count: int) -> Span:
    """So many times a span."""
    return Span(count * span.low, count * span.typical, count * span.high)
