"""What the waking stage computes: levels and currents while the board starts, or stands unpowered."""

from __future__ import annotations

from typing import Literal

from scanloom.basis.record import record
from scanloom.basis.span import Span

Wanted = Literal["high", "low"]


@record
class BootLevel:
    """A pin that the chip reads while it starts, and the level it then finds.

    Parameters
    ----------
    subject : str
        Place of the net in the dossier.
    start_pin : int
        The pin. [1]
    wants : {"high", "low"}
        Level the chip wants.
    detached_v : Span or None
        Level with no display plugged in; None when nothing holds it. [V]
    attached_v : Span or None
        Level with every display plugged in; None when nothing holds it. [V]
    worst_v : Span or None
        Level with just those displays plugged in that spoil it most; this is the one that is judged. [V]
    """

    subject: str
    start_pin: int
    wants: Wanted
    detached_v: Span | None
    attached_v: Span | None
    worst_v: Span | None


@record
class BackFeed:
    """What displays push into the unpowered board through one sync.

    Parameters
    ----------
    subject : str
        Place of the sync in the dossier.
    fed_a : Span
        Current through the clamp of the pin, or out of the buffer's worst output, into the dead rail. [A]
    lift_v : Span
        Voltage that the dead rail would rise to if nothing drew from it. [V]
    """

    subject: str
    fed_a: Span
    lift_v: Span


@record
class Glitch:
    """A pin that moves by itself while the chip starts.

    Parameters
    ----------
    subject : str
        Place of the net in the dossier.
    start_pin : int
        The pin. [1]
    noise : str
        What it does, as the chip's record words it.
    """

    subject: str
    start_pin: int
    noise: str


@record
class WakingPlan:
    """Reset and power of one rig, displays attached.

    Parameters
    ----------
    boots : tuple of BootLevel
        Pins with a boot role that carry colour or sync, as far as their levels are known.
    back_feeds : tuple of BackFeed
        Syncs through which displays may feed the unpowered board, as far as the current is known.
    glitches : tuple of Glitch
        Pins that move by themselves.
    start_a : Span or None
        Current from the inlet, all at white and the radio, where it is on, in a burst; None when unknown. [A]
    """

    boots: tuple[BootLevel, ...]
    back_feeds: tuple[BackFeed, ...]
    glitches: tuple[Glitch, ...]
    start_a: Span | None
