"""What the levels stage hands on."""

from __future__ import annotations

from scanloom.basis.fact import Known
from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.stages.levels.buffers import BufferCount
from scanloom.stages.levels.figures import ChannelFigures
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.wired import ColourWiring


@record
class ChannelLevels:
    """One colour channel with its levels.

    Parameters
    ----------
    display : str
        The display.
    channel : str
        red, green or blue.
    network : OutputNetwork
        What drives the parts, the parts and what they lead into: as for `wiring`.
    figures : ChannelFigures
        Everything it does with typical values.
    white_v : Span
        Bounds of white. [V]
    pin_a : Span
        Bounds of the most current of its hardest worked pin. [A]
    white_a : Span
        Bounds of what it draws from the rail at white. [A]
    chip_a : Span
        Bounds of what the chip's pins give it at white: next to nothing behind buffers. [A]
    output_a : Span
        Bounds of the most current of the hardest worked output that drives its parts: a pin's, or a buffer's. [A]
    wiring : ColourWiring
        The network with its buffer, its amplifier and the inputs that share its pins.
    """

    display: str
    channel: str
    network: OutputNetwork
    figures: ChannelFigures
    white_v: Span
    pin_a: Span
    white_a: Span
    chip_a: Span
    output_a: Span
    wiring: ColourWiring


@record
class SyncLevel:
    """Sync levels at one display.

    Parameters
    ----------
    display : str
        The display.
    high_v : Span
        Level when high. [V]
    low_v : Span
        Level when low. [V]
    """

    display: str
    high_v: Span
    low_v: Span


@record
class Switching:
    """What happens while all channels switch at once.

    Parameters
    ----------
    dark_v : Span
        What lands on the display of a channel that stays dark, the hardest hit one. [V]
    dip_v : Span
        How far the rail falls at the chip before the regulator answers. [V]
    sag_v : Span
        How far it stays down while the regulator holds it. [V]
    white_lost : Span
        Share of white that dip and sag take together. [1]
    """

    dark_v: Span
    dip_v: Span
    sag_v: Span
    white_lost: Span


@record
class LevelPlan:
    """Levels and currents of one rig.

    Parameters
    ----------
    channels : tuple of ChannelLevels
        Channels that lanes drive.
    syncs : tuple of SyncLevel
        One a display.
    pins_a : Span or None
        Current that counts against the chip's total, all at white; None when unknown. [A]
    inlet_a : Known or None
        Current from the inlet, all at white, resting on all that draws it; None when unknown. [A]
    regulator_w : Span or None
        Heat in the regulator, all at white; None when unknown. [W]
    white_average : float
        Share of a frame in which a full white picture is on, border and blanking apart. [1]
    buffers : tuple of BufferCount
        Packages of colour buffers, one count a colour stage; none without buffers.
    switching : Switching or None
        What switching all channels at once does; None when unknown.
    """

    channels: tuple[ChannelLevels, ...]
    syncs: tuple[SyncLevel, ...]
    pins_a: Span | None
    inlet_a: Known[Span] | None
    regulator_w: Span | None
    white_average: float
    buffers: tuple[BufferCount, ...] = ()
    switching: Switching | None = None
