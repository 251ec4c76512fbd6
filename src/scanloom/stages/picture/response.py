"""From the way of a channel to a filter: what one pixel leaves at each instant at which the display samples."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from scanloom.basis.arrays import held
from scanloom.circuit.line import LIGHT_M_PER_S, UniformLine, line_of_sheet
from scanloom.circuit.pixel import PixelResponse, pixel_response
from scanloom.circuit.signal_path import Leg, SignalPath, settled_levels
from scanloom.stages.levels.model import typical
from scanloom.stages.picture.effects import Effects
from scanloom.stages.picture.model import COLOURS, ChannelPath, FrontEnd, InputCable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

OPEN_OHM = 1e6
"""What is left of a load that is missing: the leak behind the coupling capacitor. [ohm]"""

TAIL = 1e-3
"""Share of a level that the taps left out may add up to. [1]"""

MOST_TAPS = 96
"""Longest filter; beyond it a tail is counted in the bound and left out. [1]"""

LEAST_OHM = 1e-3
"""Pins and loads below this are taken as this, so that no sum divides by nothing. [ohm]"""

BARE_F, BARE_RISE_S = 2e-12, 1e-9
"""Capacitance at either end, and rise, that stay where edges are off: a response that never falls off has no end. [F, s]"""

_FINEST = 64  # phases of a display whose total is not a multiple of the raster's


@dataclass(frozen=True, slots=True, eq=False)
class SampledResponse:
    """Filter of one channel for every phase at which its display samples; the arrays cannot be written.

    Parameters
    ----------
    first : int
        Pixel of the first tap, seen from the sampled one; -1 is the pixel that comes next. [px]
    share : ndarray of float, shape (phases, taps)
        Share of each pixel's settled level; a row sums to one. [1]
    steepness : ndarray of float, shape (phases, taps)
        Derivative of each share by the sampling instant. [1/s]
    gain : float
        Settled level at the end of the cable over that at its start. [1]
    left_out : float
        Bound on what a sample lacks, over the level of white: taps left out, legs taken as alike, errors of the sums. [1]
    """

    first: int
    share: NDArray[np.float64]
    steepness: NDArray[np.float64]
    gain: float
    left_out: float


def sampling_phases(
    front: FrontEnd, line_px: int, divide: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], tuple[float, ...]]:
    """Where in the raster each sample of a line falls.

    Parameters
    ----------
    front : FrontEnd
        Sampling phase and the display's own total.
    line_px : int
        Pixels of a whole line. [1]
    divide : int
        Divisor of the parent's clock; the display samples at the parent's. [1]

    Returns
    -------
    tuple
        Pixel of each sample; which of the phases it has; and the phases, in pixels of the raster. [1]
    """
    total = front.total_px or divide * line_px
    if total == divide * line_px:
        at = np.arange(total)
        return at // divide, at % divide, tuple((j + front.phase) / divide for j in range(divide))
    place = (np.arange(total) + front.phase) * (line_px / total)
    pixel = np.floor(place).astype(np.int64)
    which = np.minimum(((place - pixel) * _FINEST).astype(np.int64), _FINEST - 1)
    return pixel, which, tuple((j + 0.5) / _FINEST for j in range(_FINEST))


def signal_path(channel: ChannelPath, cable: InputCable | None, effects: Effects, front: FrontEnd) -> SignalPath:
    """Circuit of one channel with the effects that are on.

    Parameters
    ----------
    channel : ChannelPath
        Pins, parts and load.
    cable : InputCable or None
        Its cable.
    effects : Effects
        Which of edges, cable, its resistance and the faults of termination count.
    front : FrontEnd
        Capacitances.

    Returns
    -------
    SignalPath
        The circuit, typical values. [ohm, F]
    """
    built = typical(channel.network)
    pads = front.pad_f if effects.edges else 0.0
    legs = tuple(
        Leg(max(high, LEAST_OHM), max(low, LEAST_OHM), part, pads)
        for high, low, part in zip(built.pin_high_ohm, built.pin_low_ohm, built.part_ohm, strict=True)
    )
    run = cable if effects.cable or effects.cable_resistance else None
    length_m = run.length_m if run is not None else 0.0
    return SignalPath(
        legs,
        cable_line(run, resistance=effects.cable_resistance, lossy=effects.cable),
        length_m,
        load_of(channel, effects),
        front.input_f if effects.edges else BARE_F,
        front.connector_f if effects.edges else BARE_F,
        built.shunt_ohm,
        built.rung_ohm,
        built.terminator_ohm,
    )


def shaped_path(channel: ChannelPath, cable: InputCable | None, effects: Effects, front: FrontEnd) -> SignalPath:
    """Circuit that shapes the pixels: without its cable where the cable does not count.

    Parameters
    ----------
    channel : ChannelPath
        Pins, parts and load.
    cable : InputCable or None
        Its cable.
    effects : Effects
        What counts.
    front : FrontEnd
        Capacitances.

    Returns
    -------
    SignalPath
        The circuit, typical values. [ohm, F]
    """
    path = signal_path(channel, cable, effects, front)
    return path if effects.cable else _short(path)


def load_of(channel: ChannelPath, effects: Effects) -> float:
    """Load at the end of the cable, faults included.

    Parameters
    ----------
    channel : ChannelPath
        The channel.
    effects : Effects
        Whether a load is double or missing.

    Returns
    -------
    float
        The load. [ohm]
    """
    stated = channel.network.load_ohm.typical
    return OPEN_OHM if effects.missing_termination else stated / 2.0 if effects.double_termination else stated


@lru_cache(maxsize=64)
def cable_line(cable: InputCable | None, *, resistance: bool = True, lossy: bool = True) -> UniformLine:
    """Line of a cable.

    Parameters
    ----------
    cable : InputCable or None
        The cable; None for a line that nobody will use.
    resistance : bool
        Whether its direct-current resistance counts.
    lossy : bool
        Whether its skin loss counts.

    Returns
    -------
    UniformLine
        The line. [ohm]
    """
    if cable is None:
        return _lossless(75.0, 0.66, 0.0)
    ohm = cable.resistance_ohm_per_m if resistance else 0.0
    if not lossy or cable.attenuation_db_per_m == 0.0:
        return _lossless(cable.impedance_ohm, cable.velocity_factor, ohm)
    return line_of_sheet(cable.impedance_ohm, cable.velocity_factor, cable.attenuation_db_per_m, ohm)


def rise_of(effects: Effects, front: FrontEnd, pixel_s: float) -> float:
    """Rise of a pin's edge, never longer than a pixel.

    Parameters
    ----------
    effects : Effects
        Whether edges count.
    front : FrontEnd
        Their rise.
    pixel_s : float
        Duration of a pixel. [s]

    Returns
    -------
    float
        From foot to top. [s]
    """
    return min(front.rise_s if effects.edges else BARE_RISE_S, pixel_s)


def channel_skew(channel: str, front: FrontEnd) -> float:
    """How late a colour leaves its pins: red first, blue last.

    Parameters
    ----------
    channel : str
        red, green or blue.
    front : FrontEnd
        Time between the first and the last.

    Returns
    -------
    float
        Time behind the middle one. [s]
    """
    return (COLOURS.index(channel) - 1) * front.lane_skew_s / 2.0


def sampled_response(
    channel: ChannelPath,
    cable: InputCable | None,
    effects: Effects,
    front: FrontEnd,
    pixel_s: float,
    phases: Sequence[float],
) -> SampledResponse:
    """Filter of one channel.

    Parameters
    ----------
    channel : ChannelPath
        Pins, parts and load.
    cable : InputCable or None
        Its cable.
    effects : Effects
        What counts.
    front : FrontEnd
        Capacitances, rise and skew.
    pixel_s : float
        Duration of a pixel of the raster. [s]
    phases : sequence of float
        Sampling instants in pixels. [1]

    Returns
    -------
    SampledResponse
        The filter; a single tap of one without edges and cable.

    Notes
    -----
    The legs of a channel are taken as alike in time; they differ by what pad capacitance does to unequal parts. What
    that may cost is counted in `left_out`.
    """
    path = signal_path(channel, cable, effects, front)
    gain = sum(settled_levels(path)) / sum(settled_levels(_short(path)))
    skew_px = channel_skew(channel.channel, front) / pixel_s if effects.lane_skew else 0.0
    if not (effects.edges or (effects.cable and path.length_m) or skew_px):
        one = np.ones((len(phases), 1))
        return SampledResponse(0, held(one, one.shape), held(0.0 * one, one.shape), gain, 0.0)
    shaped = shaped_path(channel, cable, effects, front)
    rise_s = rise_of(effects, front, pixel_s)
    found = [_pixel(shaped, pixel_s, rise_s, phase - skew_px) for phase in phases]
    first = min(one.first for one in found)
    taps = max(one.first - first + one.tap.shape[1] for one in found)
    share, slope = np.zeros((len(found), taps)), np.zeros((len(found), taps))
    left_out = 0.0
    for row, taken in enumerate(found):
        settled = float(taken.settled.sum())
        span = slice(taken.first - first, taken.first - first + taken.tap.shape[1])
        own = taken.tap.sum(axis=0) / settled
        share[row, span] = own
        slope[row, span] = taken.slope.sum(axis=0) / settled
        share[row, -1] += 1.0 - share[row].sum()  # what is left out comes with the last tap: wide areas stay exact
        # worst of all pictures: each leg's own taps against the common ones
        unlike = np.abs(taken.tap - taken.settled[:, None] * own).sum() / settled
        left_out = max(
            left_out, 2.0 * taken.left_out / settled + float(unlike) + taken.error * taken.tap.shape[1] / settled
        )
    return SampledResponse(first, held(share, share.shape), held(slope, slope.shape), gain, left_out)


def _lossless(impedance_ohm: float, velocity_factor: float, resistance_ohm_per_m: float) -> UniformLine:
    """Line without skin effect."""
    delay_s = 1.0 / (velocity_factor * LIGHT_M_PER_S)
    return UniformLine(impedance_ohm * delay_s, delay_s / impedance_ohm, resistance_ohm_per_m)


@lru_cache(maxsize=512)
def _pixel(path: SignalPath, pixel_s: float, rise_s: float, phase: float) -> PixelResponse:
    """Filter for one phase, kept, since boards repeat one channel many times over."""
    return pixel_response(path, pixel_s, rise_s, phase, tail=TAIL, most_taps=MOST_TAPS)


@lru_cache(maxsize=64)
def _short(path: SignalPath) -> SignalPath:
    """The same circuit without its cable."""
    from dataclasses import replace

    return replace(path, length_m=0.0)
