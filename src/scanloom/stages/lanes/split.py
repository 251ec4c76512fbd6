"""From depths to the bits of the word, and from connectors to channels."""

from __future__ import annotations

from collections.abc import Mapping

from scanloom.basis.fact import Known
from scanloom.basis.record import record
from scanloom.dossier.model import CHANNELS, Connector, Display
from scanloom.dossier.reading import Reading
from scanloom.handbook.chip import Stream
from scanloom.stages.lanes.model import Carries, ChannelDrive, Lane

COLOURS: tuple[Carries, ...] = ("red", "green", "blue", "white")


@record
class Wanted:
    """Bits that a display's picture takes.

    Parameters
    ----------
    display : str
        The display.
    connector : Connector or None
        Where it is plugged in.
    depths : Mapping
        Bits by channel, or by white alone. [1]
    """

    display: str
    connector: Connector | None
    depths: Mapping[str, Known[int]]

    def bits(self, channel: str) -> int:
        """Bits of one channel.

        Parameters
        ----------
        channel : str
            red, green, blue or white.

        Returns
        -------
        int
            0 when it has none. [1]
        """
        return self.depths[channel].value if channel in self.depths else 0


def depth_row(read: Reading, display: Display) -> Mapping[str, Known[int]] | None:
    """Depths of a display's channels: those of its group, or of its name where the group has none.

    Parameters
    ----------
    read : Reading
        Notes the group; the depths are for the caller to read.
    display : Display
        The display.

    Returns
    -------
    Mapping or None
        Bits by channel; None when the rig states none. [1]
    """
    table = read.rig.depth
    group = read.maybe(display.group)
    row = table.get(group) if group is not None and group in table else table.get(display.name)
    return {str(channel): known for channel, known in row.items()} if row else None


def connector_of(read: Reading, name: str) -> Connector | None:
    """Connector that a display is plugged in.

    Parameters
    ----------
    read : Reading
        Notes what is read.
    name : str
        The display.

    Returns
    -------
    Connector or None
        None when it is plugged in nowhere.
    """
    for connector in read.plan.connectors:
        if connector.plugs is not None and connector.plugs.value == name:
            read(connector.plugs)
            return connector
    return None


def channel_drives(read: Reading, wanted: Wanted) -> tuple[tuple[Known[ChannelDrive], ...], tuple[str, ...]]:
    """Channels of one display with their pins, and what is missing.

    Parameters
    ----------
    read : Reading
        Has read the group and the plug of the display.
    wanted : Wanted
        Its depths.

    Returns
    -------
    tuple
        Channels, each resting on just its own facts, and sentences about channels without matching pins.
    """
    made: list[Known[ChannelDrive]] = []
    missing: list[str] = []
    connector = wanted.connector
    if connector is None:
        return (), (f"{wanted.display} is plugged into no connector",)
    for channel in CHANNELS:
        pins_known = getattr(connector, channel)
        depth = wanted.depths.get(channel, wanted.depths.get("white"))
        own = read.fork()
        if pins_known is None:
            if depth is not None:
                missing.append(f"{connector.name} states no {channel} pin for {wanted.display}")
            continue
        pins = own(pins_known)
        if depth is None:
            own.assume(
                f"rigs.{read.rig_name}.depth.{wanted.display}.{channel}",
                0,
                "held low",
                "no lane of this rig drives the pin",
            )
        elif own(depth) != len(pins):
            missing.append(f"{wanted.display}.{channel} has {depth.value} bits and {len(pins)} pins")
        twin = next((k.value for k in made if k.value.pins == pins), None)
        if twin is not None and "white" not in wanted.depths:
            missing.append(
                f"{wanted.display}.{channel} hangs on the pins of {twin.channel}, which one lane drives; state white as the depth"
            )
        made.append(own.known(ChannelDrive(wanted.display, connector.name, channel, pins, depth is not None)))
    return tuple(made), tuple(missing)


def default_lanes(
    wanted: list[Wanted], channels: list[ChannelDrive], h: int | None, v: int | None, stream: Stream
) -> list[Lane]:
    """Lanes in the usual order: colour bits by connector, least significant first, then the syncs, then spare ones.

    Parameters
    ----------
    wanted : list of Wanted
        Displays in connector order.
    channels : list of ChannelDrive
        Their channels.
    h : int or None
        Pin of horizontal sync. [1]
    v : int or None
        Pin of vertical sync. [1]
    stream : Stream
        The stream; one with hardware syncs has no lanes for them.

    Returns
    -------
    list of Lane
        From bit 0; longer than the stream is wide when it does not fit.
    """
    lanes: list[Lane] = []
    for display in wanted:
        for carries in COLOURS:
            for level_bit in range(display.bits(carries)):
                pins = _pins_of(channels, display.display, carries, level_bit)
                lanes.append(Lane(len(lanes), carries, display.display, level_bit, pins))
    if stream.sync == "word":
        lanes.append(Lane(len(lanes), "h", pins=() if h is None else (h,)))
        lanes.append(Lane(len(lanes), "v", pins=() if v is None else (v,)))
    lanes.extend(Lane(bit, "spare") for bit in range(len(lanes), stream.lanes))
    return lanes


def stated_lanes(names: tuple[str, ...], default: list[Lane], width: int) -> list[Lane] | str:
    """Lanes in the order the rig states.

    Parameters
    ----------
    names : tuple of str
        Names from bit 0 upward.
    default : list of Lane
        The same lanes in the usual order.
    width : int
        Lanes of the stream. [1]

    Returns
    -------
    list of Lane or str
        The lanes, or a sentence that says what is wrong with the names.
    """
    by_name = {lane.name: lane for lane in default if lane.carries != "spare"}
    lanes: list[Lane] = []
    for bit, name in enumerate(names):
        bare = name.removesuffix(".0")
        if bare == "spare":
            lanes.append(Lane(bit, "spare"))
        elif bare not in by_name:
            return (
                f"lane {bit} is named {name!r}; {', '.join(by_name) or 'no name'} are left to place; correct the name"
            )
        else:
            old = by_name.pop(bare)
            lanes.append(Lane(bit, old.carries, old.display, old.level_bit, old.pins))
    if by_name:
        return f"{', '.join(by_name)} are in no lane; each must be named once; add them"
    lanes.extend(Lane(bit, "spare") for bit in range(len(lanes), width))
    return lanes


def _pins_of(channels: list[ChannelDrive], display: str, carries: Carries | str, level_bit: int) -> tuple[int, ...]:
    """Pins that one bit of one display reaches; white reaches the same bit of all three channels."""
    found: list[int] = []
    for channel in channels:
        if channel.display == display and carries in (channel.channel, "white") and level_bit < len(channel.pins):
            found.append(channel.pins[-1 - level_bit])
    return tuple(dict.fromkeys(found))  # colours that hang on one pin are reached once
