"""What a proposal of pins is asked."""

from __future__ import annotations

from typing import Literal

from scanloom.basis.record import record
from scanloom.stages.lanes.fitness import Fit

Hanging = Literal["direct", "buffered", "either"]
"""Whether a pin drives the displays, the input of a buffer, or whichever serves best."""


@record
class RingPin:
    """A pin on its place around the module, and what may hang on it.

    Parameters
    ----------
    pin : int
        The pin. [1]
    colour : Fit
        For a colour that the pin drives itself.
    sync : Fit
        For a sync that the pin drives itself.
    buffered_colour : Fit
        For a colour through a buffer.
    buffered_sync : Fit
        For a sync through a buffer.
    noise : str
        What the pin does by itself while the chip starts; empty for a quiet one.
    why : str
        What speaks against it, in words.
    """

    pin: int
    colour: Fit = "fit"
    sync: Fit = "fit"
    buffered_colour: Fit = "fit"
    buffered_sync: Fit = "fit"
    noise: str = ""
    why: str = ""

    def fit_for(self, *, sync: bool, buffered: bool) -> Fit:
        """What may be hung on the pin.

        Parameters
        ----------
        sync : bool
            Whether it is to carry a sync; else a colour.
        buffered : bool
            Whether it drives a buffer; else the displays.

        Returns
        -------
        Fit
            Fit, a last resort, or not.
        """
        if sync:
            return self.buffered_sync if buffered else self.sync
        return self.buffered_colour if buffered else self.colour


@record
class ChannelWish:
    """A colour channel that needs pins.

    Parameters
    ----------
    connector : str
        The connector.
    channel : str
        red, green or blue.
    bits : int
        Pins it needs. [1]
    buffered : bool
        Whether its pins drive buffers.
    now : tuple of int
        Its pins as stated, most significant first; empty when none are. [1]
    kept : bool
        Whether the stated pins are wired already and must stay.
    """

    connector: str
    channel: str
    bits: int = 1
    buffered: bool = False
    now: tuple[int, ...] = ()
    kept: bool = False


@record
class SyncWish:
    """A shared sync that needs a pin.

    Parameters
    ----------
    name : str
        ``h`` or ``v``.
    hangs : Hanging
        What its pin drives.
    now : int or None
        Its pin as stated. [1]
    kept : bool
        Whether the stated pin is wired already and must stay.
    """

    name: Literal["h", "v"]
    hangs: Hanging = "direct"
    now: int | None = None
    kept: bool = False

    @property
    def ways(self) -> tuple[bool, ...]:
        """Ways it may hang: False on the pin itself, True through a buffer."""
        return {"direct": (False,), "buffered": (True,), "either": (False, True)}[self.hangs]


@record
class WordNeed:
    """Where the lanes of one word may leave the chip.

    Parameters
    ----------
    rig : str
        The rig whose word it is.
    rule : str
        among, any lane on any of a few pins; run, on consecutive pins in the order of the word; fixed, each bit of the word
        on a choice of its own.
    word : tuple
        Wanted lane and its name in the word from bit 0, as the rig has them now; a spare lane is ``("", "spare")``.
    width_lanes : int
        Lanes of the stream, spare ones included: the longest run. [lanes]
    pins : tuple of int
        For among, the pins. [1]
    windows : tuple
        First and last pin of each window that a run must stay inside; empty for no limit. [1]
    bases : tuple of int
        Pins that may stand first in a run; empty for any. [1]
    choices : tuple
        For fixed, the pins of bit 0, bit 1 and so on. [1]
    """

    rig: str
    rule: Literal["among", "run", "fixed"]
    word: tuple[tuple[str, str], ...]
    width_lanes: int = 0
    pins: tuple[int, ...] = ()
    windows: tuple[tuple[int, int], ...] = ()
    bases: tuple[int, ...] = ()
    choices: tuple[tuple[int, ...], ...] = ()

    @property
    def lanes(self) -> tuple[str, ...]:
        """Wanted lanes of the word."""
        return tuple(lane for lane, _ in self.word if lane)


@record
class PinWish:
    """Everything a proposal needs to know; hardware, so the channels of all rigs together.

    Parameters
    ----------
    ring : tuple of RingPin
        Pins in walking order, counter-clockwise seen from the component side.
    channels : tuple of ChannelWish
        In the order of the connectors, left to right with the plug side towards you; red, green, blue.
    syncs : tuple of SyncWish
        Syncs that share pins.
    words : tuple of WordNeed
        Words that cannot leave on just any pins; empty where any lane reaches any pin.
    ring_known : bool
        Whether the ring really is the walking order; else it is the order of the numbers, and crossings cannot be counted.
    notes : tuple of str
        Sentences about what the wish leaves out.

    Raises
    ------
    ValueError
        If a pin is on the ring twice, a lane is wished twice, or a channel has no bits or keeps a wrong number of pins.
    """

    ring: tuple[RingPin, ...]
    channels: tuple[ChannelWish, ...] = ()
    syncs: tuple[SyncWish, ...] = ()
    words: tuple[WordNeed, ...] = ()
    ring_known: bool = True
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a wish that contradicts itself."""
        pins = [one.pin for one in self.ring]
        if len(set(pins)) != len(pins):
            raise ValueError(
                f"pins {pins} name one twice; each may stand once on the ring; walk around the module again"
            )
        for one in self.channels:
            if one.bits < 1 or (one.kept and len(one.now) != one.bits):
                raise ValueError(
                    f"{one.connector}.{one.channel} wants {one.bits} bits and keeps {len(one.now) if one.kept else 0} pins; "
                    "one bit or more, each with its pin where they are kept, is allowed; state them anew"
                )
        if any(one.kept and one.now is None for one in self.syncs):
            raise ValueError("a sync is kept without a pin; what is kept has its pin stated; state it or let it move")
        names = [lane_name(one, bit) for one in self.channels for bit in range(one.bits)] + [s.name for s in self.syncs]
        if len(set(names)) != len(names):
            raise ValueError(f"lanes {', '.join(names)} name one twice; each may be wished once; leave one out")
        lost = [lane for need in self.words for lane in need.lanes if lane not in names]
        if lost:
            raise ValueError(
                f"words name {', '.join(lost)}, which nothing wishes; {', '.join(names)} are wished; correct the word"
            )


def lane_name(wish: ChannelWish, level_bit: int) -> str:
    """Name of one bit of a channel.

    Parameters
    ----------
    wish : ChannelWish
        The channel.
    level_bit : int
        Place in its level, 0 the least significant. [1]

    Returns
    -------
    str
        Such as ``J1.red``, or ``J1.red.1`` for bit 1.
    """
    return f"{wish.connector}.{wish.channel}" + (f".{level_bit}" if level_bit else "")
