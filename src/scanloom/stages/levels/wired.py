"""What one wired colour channel does at its display, whatever its style."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.handbook.buffers import Buffer
from scanloom.stages.levels.amplifier import Amplifier, amplified_level, amplifier_current
from scanloom.stages.levels.fan_out import SharedPin, shared_pin_current, shared_white
from scanloom.stages.levels.figures import ChannelFigures, channel_figures
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.tolerance import pin_current_spans, rail_current_span, white_span

# boards repeat one network many times over, and the page asks again at every keystroke
figures_of: Callable[[OutputNetwork], ChannelFigures] = lru_cache(maxsize=256)(channel_figures)


@record
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
    return many(most, wiring.fed if wiring.is_shared else 1)


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


def many(span: Span, count: int) -> Span:
    """So many times a span.

    Parameters
    ----------
    span : Span
        The span. [unit]
    count : int
        How many times. [1]

    Returns
    -------
    Span
        All three bounds so many times as large. [unit]
    """
    return Span(count * span.low, count * span.typical, count * span.high)
