"""What the lanes stage computes: which bit of the word reaches which pins."""

from __future__ import annotations

from typing import Literal

from scanloom.basis.fact import Known
from scanloom.basis.record import record
from scanloom.handbook.chip import Stream

Carries = Literal["red", "green", "blue", "white", "h", "v", "spare"]


@record
class Lane:
    """One bit of the bus word.

    Parameters
    ----------
    bit : int
        Place in the word, 0 the least significant. [1]
    carries : Carries
        What it carries.
    display : str
        Display it belongs to, empty for syncs and spare lanes.
    level_bit : int
        Bit of the channel's level, 0 the least significant. [1]
    pins : tuple of int
        Pins it reaches. [1]
    """

    bit: int
    carries: Carries
    display: str = ""
    level_bit: int = 0
    pins: tuple[int, ...] = ()

    @property
    def name(self) -> str:
        """Name as a rig's `lanes` would write it."""
        if not self.display:
            return self.carries
        return f"{self.display}.{self.carries}" + (f".{self.level_bit}" if self.level_bit else "")


@record
class ChannelDrive:
    """Pins that together make one colour channel of one display.

    Parameters
    ----------
    display : str
        The display.
    connector : str
        The connector it is plugged in.
    channel : str
        red, green or blue.
    pins : tuple of int
        Pins, most significant first. [1]
    driven : bool
        Whether lanes of this rig drive them; else they are taken to be held low.
    """

    display: str
    connector: str
    channel: str
    pins: tuple[int, ...]
    driven: bool


@record
class SyncPins:
    """Pins of the shared syncs.

    Parameters
    ----------
    h_pin : int
        Pin of horizontal sync. [1]
    v_pin : int
        Pin of vertical sync. [1]
    """

    h_pin: int
    v_pin: int


@record
class LaneMap:
    """The bus word of one rig and the pins it reaches.

    Parameters
    ----------
    stream : Known
        The stream that sends it, a handbook row.
    lanes : tuple of Lane
        Every bit of the word, spare ones included, from bit 0.
    channels : tuple of Known
        Colour channels, each resting on just what it was read from.
    sync_pins : Known or None
        Pins of the syncs; None when not stated.
    incomplete : tuple of str
        What keeps sums over all pins from being known.
    crossings : int or None
        Crossings between the pins' walking order and the connectors; None when unknown. [1]
    """

    stream: Known[Stream]
    lanes: tuple[Lane, ...]
    channels: tuple[Known[ChannelDrive], ...]
    sync_pins: Known[SyncPins] | None
    incomplete: tuple[str, ...]
    crossings: int | None

    @property
    def used_lanes(self) -> int:
        """Lanes that carry something."""
        return sum(lane.carries != "spare" for lane in self.lanes)

    @property
    def colour_bits(self) -> int:
        """Lanes that carry colour [1]."""
        return sum(lane.carries not in ("h", "v", "spare") for lane in self.lanes)

    def mask(self, carries: Carries) -> int:
        """Bits of the word that carry a sync.

        Parameters
        ----------
        carries : Carries
            ``h`` or ``v``.

        Returns
        -------
        int
            Bit mask. [1]
        """
        return sum(1 << lane.bit for lane in self.lanes if lane.carries == carries)
