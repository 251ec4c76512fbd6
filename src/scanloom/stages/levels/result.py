"""What the levels stage hands on."""

from __future__ import annotations

from dataclasses import dataclass

from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.stages.levels.figures import ChannelFigures
from scanloom.stages.levels.model import OutputNetwork


@dataclass(frozen=True, slots=True)
class ChannelLevels:
    """One colour channel with its levels.

    Parameters
    ----------
    display : str
        The display.
    channel : str
        red, green or blue.
    network : OutputNetwork
        Pins, parts and load.
    figures : ChannelFigures
        Everything it does with typical values.
    white_v : Span
        Bounds of white. [V]
    pin_a : Span
        Bounds of the most current of its hardest worked pin. [A]
    white_a : Span
        Bounds of what it draws from the rail at white. [A]
    """

    display: str
    channel: str
    network: OutputNetwork
    figures: ChannelFigures
    white_v: Span
    pin_a: Span
    white_a: Span


@dataclass(frozen=True, slots=True)
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


@dataclass(frozen=True, slots=True)
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
    """

    channels: tuple[ChannelLevels, ...]
    syncs: tuple[SyncLevel, ...]
    pins_a: Span | None
    inlet_a: Known[Span] | None
    regulator_w: Span | None
    white_average: float
