"""One colour channel put together from what the dossier and the handbook state, whatever its style."""

from __future__ import annotations

import difflib
from dataclasses import replace

from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.dossier.model import ColourStage, Display
from scanloom.dossier.reading import Reading
from scanloom.handbook.buffers import Buffer, buffer
from scanloom.handbook.limits import known_row
from scanloom.handbook.sources import row_fact
from scanloom.stages.lanes import ChannelDrive
from scanloom.stages.levels.amplifier import Amplifier
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
from scanloom.stages.levels.wired import ColourWiring, many

USUAL_BACK = Span(74.25, 75.0, 75.75)
"""Resistor at an amplifier's output when none is stated: the cable's own, 1 %. Common practice, no source. [ohm]"""


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
            wiring, network=replace(net, pin_high_ohm=many(net.pin_high_ohm, fed), pin_low_ohm=many(net.pin_low_ohm, fed))
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
