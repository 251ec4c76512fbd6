"""One line edge by edge, for pins whose resistance depends on their state; slow, for a closer look only."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from scanloom.circuit.signal_path import SignalPath
from scanloom.circuit.switched import switched_samples
from scanloom.circuit.switched_bound import echo_bound
from scanloom.stages.picture.effects import Effects
from scanloom.stages.picture.model import ChannelPath, FrontEnd, InputCable
from scanloom.stages.picture.response import channel_skew, rise_of, shaped_path

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray


def line_edge_by_edge(
    channel: ChannelPath,
    cable: InputCable | None,
    numbers: NDArray[np.uint16],
    effects: Effects,
    front: FrontEnd,
    pixel_s: float,
    phases: Sequence[float],
) -> NDArray[np.float64]:
    """Voltage at the input with the resistance that each pin really has at every moment.

    Parameters
    ----------
    channel : ChannelPath
        Pins, parts and load.
    cable : InputCable or None
        Its cable.
    numbers : ndarray of uint16, shape (pixels,)
        Numbers of one line; before it all is black. [1]
    effects : Effects
        Which of edges, cable, its resistance, skew and the faults of termination count.
    front : FrontEnd
        Capacitances and rise.
    pixel_s : float
        Duration of a pixel. [s]
    phases : sequence of float
        Sampling instants in pixels. [1]

    Returns
    -------
    ndarray of float, shape (pixels, phases)
        Voltages at the load. [V]
    """
    path = shaped_path(channel, cable, effects, front)
    skew_px = channel_skew(channel.channel, front) / pixel_s if effects.lane_skew else 0.0
    rise_s = rise_of(effects, front, pixel_s)
    rail_v = channel.network.rail_v.typical
    made = np.empty((numbers.size, len(phases)))
    for at, phase in enumerate(phases):
        made[:, at] = switched_samples(path, rail_v, numbers.astype(np.int64), pixel_s, rise_s, phase - skew_px)
    return made


@lru_cache(maxsize=128)
def switching_bound(path: SignalPath, rail_v: float, pixel_s: float, rise_s: float, phase: float) -> float:
    """Most that a sample is off when pins count with their mean resistance.

    Parameters
    ----------
    path : SignalPath
        The channel.
    rail_v : float
        Supply of the pins. [V]
    pixel_s : float
        Duration of a pixel. [s]
    rise_s : float
        Rise of the pins. [s]
    phase : float
        Sampling instant in pixels. [1]

    Returns
    -------
    float
        The bound; infinite where none is found. [V]
    """
    return float(echo_bound(path, rail_v, pixel_s, rise_s, phase))
