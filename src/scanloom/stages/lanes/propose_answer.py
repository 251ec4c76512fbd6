"""What a proposal of pins answers."""

from __future__ import annotations

from scanloom.basis.record import record
from scanloom.stages.lanes.fitness import Fit


@record
class PinCost:
    """What a map costs, the dearest first: maps are compared item by item.

    Parameters
    ----------
    last_resort : int
        Pins that are a last resort. [1]
    added_buffers : int
        Syncs that get a buffer where none is stated. [1]
    crossings : int
        Crossings of the colour tracks. [1]
    noisy : int
        Pins that do something by themselves while the chip starts. [1]
    """

    last_resort: int
    added_buffers: int
    crossings: int
    noisy: int

    @property
    def key(self) -> tuple[int, int, int, int]:
        """The four numbers in the order they count."""
        return self.last_resort, self.added_buffers, self.crossings, self.noisy


@record
class PinGiven:
    """The pin that a proposal gives to one lane.

    Parameters
    ----------
    lane : str
        Such as ``J1.red``, ``J1.red.1`` for a more significant bit, ``h``.
    connector : str
        The connector, empty for a sync.
    channel : str
        red, green, blue, h or v.
    pin : int
        The pin. [1]
    ring_place : int
        Its place on the ring, from 1. [1]
    now : int or None
        The pin as stated. [1]
    kept : bool
        Whether it had to stay.
    fit : Fit
        Whether the pin is a last resort for this.
    noise : str
        What the pin does while the chip starts; empty for a quiet one.
    buffered : bool
        Whether it drives the input of a buffer.
    says : str
        Why this pin, in a few words.
    """

    lane: str
    connector: str
    channel: str
    pin: int
    ring_place: int
    now: int | None
    kept: bool
    fit: Fit
    noise: str
    buffered: bool
    says: str


@record
class WordOrder:
    """Order of a word that its pins ask for.

    Parameters
    ----------
    rig : str
        The rig.
    lanes : tuple of str
        What each lane carries, from bit 0 upward.
    changed : bool
        Whether the rig has another order now.
    """

    rig: str
    lanes: tuple[str, ...]
    changed: bool


@record
class PinProposal:
    """A map of lanes to pins.

    Parameters
    ----------
    given : tuple of PinGiven
        Colour lanes in the order of the connectors, most significant bit first; then the syncs.
    cost : PinCost
        What it costs.
    bound : PinCost
        What no map can undercut.
    proved : bool
        Whether the two are the same, so that no better map exists.
    ring_known : bool
        Whether crossings were counted along the real walking order.
    crossings_now : int or None
        Crossings of the stated pins; None when they cannot be counted. [1]
    moved : int
        Lanes whose stated pin changes. [1]
    orders : tuple of WordOrder
        Orders of words whose lanes leave on given pins.
    buffer_stage : bool
        Whether the sync stage must become a buffered one.
    searched : int
        Partial maps looked at. [1]
    says : tuple of str
        What was found and why it cannot be better.
    """

    given: tuple[PinGiven, ...]
    cost: PinCost
    bound: PinCost
    proved: bool
    ring_known: bool
    crossings_now: int | None
    moved: int
    orders: tuple[WordOrder, ...]
    buffer_stage: bool
    searched: int
    says: tuple[str, ...]

    def pins(self, connector: str, channel: str) -> tuple[int, ...]:
        """Pins of one channel.

        Parameters
        ----------
        connector : str
            The connector; empty for a sync.
        channel : str
            red, green, blue, h or v.

        Returns
        -------
        tuple of int
            Most significant first; empty when the wish has no such channel. [1]
        """
        return tuple(one.pin for one in self.given if (one.connector, one.channel) == (connector, channel))


@record
class NoPinMap:
    """That there is no map, or that none was found.

    Parameters
    ----------
    proved : bool
        Whether no map exists under the stated rules; else the search ended early.
    lanes : tuple of str
        Lanes that want more pins than there are for them.
    pins : tuple of int
        All pins that may carry any of them. [1]
    says : tuple of str
        The proof in words, and what would help.
    """

    proved: bool
    lanes: tuple[str, ...]
    pins: tuple[int, ...]
    says: tuple[str, ...]
