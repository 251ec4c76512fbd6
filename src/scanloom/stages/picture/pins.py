"""From numbers to the level each pixel settles to: parts and load, the rail that all share, the return one display shares."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from scanloom.stages.levels.currents import rail_currents
from scanloom.stages.levels.figures import source_ohm
from scanloom.stages.picture.effects import Effects
from scanloom.stages.picture.front import supply_sag
from scanloom.stages.picture.model import ChannelPath, DisplayPath, FrontEnd
from scanloom.stages.picture.response import load_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanloom.stages.timing import RasterTiming

    Volts = NDArray[np.float64]


def pin_levels(channel: ChannelPath, numbers: NDArray[np.uint16], effects: Effects, rail: Volts | None = None) -> Volts:
    """Level that each pixel would settle to at the load, with a cable of no length.

    Parameters
    ----------
    channel : ChannelPath
        Pins, parts and load.
    numbers : ndarray of uint16, shape (lines, pixels)
        Numbers of the channel. [1]
    effects : Effects
        Whether the load is missing or double.
    rail : ndarray of float or None
        Share of the rail in each pixel. [1]

    Returns
    -------
    ndarray of float, shape (lines, pixels)
        Levels, exact for every number, unequal pin resistances included. [V]
    """
    level_v = np.asarray(channel.level_v(load_of(channel, effects)))[numbers]
    return level_v if rail is None else level_v * rail


def rail_share(
    displays: Sequence[DisplayPath],
    numbers: Mapping[tuple[str, str], NDArray[np.uint16]],
    raster: RasterTiming,
    front: FrontEnd,
) -> Volts:
    """What is left of the pins' rail in each pixel, as a share of its unloaded voltage.

    Parameters
    ----------
    displays : sequence of DisplayPath
        All displays, since they share the rail.
    numbers : Mapping
        Numbers of each display's channel, shape (lines, pixels). [1]
    raster : RasterTiming
        The raster as really made.
    front : FrontEnd
        Regulator and capacitors.

    Returns
    -------
    ndarray of float, shape (lines, pixels)
        Share, at most one. [1]
    """
    shape = next(iter(numbers.values())).shape
    drawn_a = np.zeros(shape)
    rail_v = 0.0
    for one in displays:
        for channel in one.channels:
            drawn_a += np.asarray(rail_currents(channel.network))[numbers[one.name, channel.channel]]
            rail_v = channel.network.rail_v.typical
    sag_v = supply_sag(drawn_a.reshape(-1), raster.pixel_s, front.supply_ohm, front.supply_s, front.esr_ohm)
    return (1.0 - sag_v / rail_v).reshape(shape)


def with_shared_return(display: DisplayPath, sent_v: Mapping[str, Volts], effects: Effects) -> dict[str, Volts]:
    """Levels of one display's colours with the resistance that their returns have in common.

    Parameters
    ----------
    display : DisplayPath
        The display and its cable.
    sent_v : Mapping
        Settled levels of each channel, shape (lines, pixels). [V]
    effects : Effects
        Whether the load is missing or double.

    Returns
    -------
    dict
        The same with the common drop taken off, in the same shape. [V]

    Notes
    -----
    True while the current keeps to resistance, so for changes slower than some ten kilohertz; at pixel rate each colour's
    current comes back through its own shield.

    References
    ----------
    [mesh] One node, the display's ground: S = S0 / (1 + R sum 1/(Ri + Li)), each level falls by Li/(Ri + Li) R S. A dark
    channel thus falls below black by its divider's share of the drop, not by all of it, and not above black.
    """
    assert display.cable is not None
    return_ohm = display.cable.return_ohm_per_m * display.cable.length_m
    loads = {c.channel: load_of(c, effects) for c in display.channels}
    both = {c.channel: loads[c.channel] + source_ohm(c.network) for c in display.channels}
    total_a = np.sum([level / loads[name] for name, level in sent_v.items()], axis=0)
    total_a = total_a / (1.0 + return_ohm * sum(1.0 / ohm for ohm in both.values()))
    return {name: level - loads[name] / both[name] * return_ohm * total_a for name, level in sent_v.items()}
