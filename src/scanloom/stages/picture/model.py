"""What the stand-in display is told: the way of each channel, its front end, and what comes out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.handbook.front_end import front_end_names, front_end_value
from scanloom.stages.levels.figures import levels
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.picture.front import Coupling

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

COLOURS = ("red", "green", "blue")
RECOVERY_ROWS = ("recovery-red", "recovery-green", "recovery-blue")
OWN_KNOBS = ("full-scale", "total")
"""Knobs that are no row of the handbook's table `front_end`."""
MAY_BE_ZERO = (
    "converter-noise",
    "sampling-jitter",
    "lane-skew",
    "supply-resistance",
    "supply-esr",
    "pad",
    "sampling-phase",
)
NO_KNOBS: Mapping[str, float] = MappingProxyType({})


@record
class InputCable:
    """Cable between connector and display, with typical figures.

    Parameters
    ----------
    impedance_ohm : float
        Characteristic impedance. [ohm]
    velocity_factor : float
        Speed on the line over that of light. [1]
    attenuation_db_per_m : float
        Loss at 10 MHz. [dB/m]
    resistance_ohm_per_m : float
        Direct-current resistance, there and back. [ohm/m]
    return_ohm_per_m : float
        Resistance that the colours' returns have in common. [ohm/m]
    length_m : float
        Length. [m]
    """

    impedance_ohm: float
    velocity_factor: float
    attenuation_db_per_m: float
    resistance_ohm_per_m: float
    return_ohm_per_m: float
    length_m: float


@record
class ChannelPath:
    """One driven colour channel, from its pins to the display.

    Parameters
    ----------
    display : str
        The display.
    channel : str
        red, green or blue.
    network : OutputNetwork
        Pins, parts and load; typical values count.
    """

    display: str
    channel: str
    network: OutputNetwork

    def level_v(self, load_ohm: float | None = None) -> tuple[float, ...]:
        """Settled levels into the load.

        Parameters
        ----------
        load_ohm : float or None
            Load to take in place of the display's own. [ohm]

        Returns
        -------
        tuple of float
            One for each number that the bits make. [V]
        """
        return levels(self.network if load_ohm is None else _loaded(self.network, load_ohm))


@record
class DisplayPath:
    """One display with its channels and its cable.

    Parameters
    ----------
    name : str
        The display.
    channels : tuple of ChannelPath
        Channels that lanes drive.
    cable : InputCable or None
        Its cable; None for none at all.
    panel : tuple of int or None
        Pixels and rows of its panel; None for tubes and unknown panels. [1]
    """

    name: str
    channels: tuple[ChannelPath, ...]
    cable: InputCable | None
    panel: tuple[int, int] | None = None

    @property
    def single_colour(self) -> bool:
        """Whether brightness is all it shows."""
        return len(self.channels) == 1


@record
class FrontEnd:
    """Knobs of the stand-in display that no dossier states; what rests on them is an illustration.

    Parameters
    ----------
    coupling : Coupling
        Coupling capacitor, clamp and diodes of each input.
    clamp_s : float
        Time the clamp closes in each line. [s]
    recovery_s : float
        Time constant of the recovery from overload. [s]
    recovery_share : tuple of float
        Share of the overload that stays behind, red, green and blue. [1]
    linear_share : float
        Level up to which the stage follows, over full scale. [1]
    noise_lsb : float
        Noise of the converter. [LSB]
    jitter_s : float
        Standard deviation of the sampling instants. [s]
    phase : float
        Sampling instant within a pixel. [1]
    lane_skew_s : float
        Time between the first and the last of the colours. [s]
    supply_ohm : float
        Load regulation of the pins' supply. [ohm]
    supply_s : float
        Time that regulator needs. [s]
    esr_ohm : float
        Series resistance of the capacitors at the pins' supply. [ohm]
    rise_s : float
        Rise of a pin, foot to top. [s]
    pad_f : float
        Capacitance behind each pin. [F]
    connector_f : float
        Capacitance of tracks and connector. [F]
    input_f : float
        Capacitance of the display's input. [F]
    converter_v : float or None
        Full scale of the converter; None for the white that displays are made for. [V]
    total_px : int or None
        Samples of a line by the display's own idea; None for those of the parent. [1]
    seed : int
        Number that fixes noise and jitter. [1]
    """

    coupling: Coupling
    clamp_s: float
    recovery_s: float
    recovery_share: tuple[float, float, float]
    linear_share: float
    noise_lsb: float
    jitter_s: float
    phase: float
    lane_skew_s: float
    supply_ohm: float
    supply_s: float
    esr_ohm: float
    rise_s: float
    pad_f: float
    connector_f: float
    input_f: float
    converter_v: float | None = None
    total_px: int | None = None
    seed: int = 1


def usual_front_end(knobs: Mapping[str, float] = NO_KNOBS) -> FrontEnd:
    """Front end with the handbook's assumptions, or others in their place.

    Parameters
    ----------
    knobs : Mapping
        Other values by the names of the handbook's table `front_end`; beside them ``full-scale`` in volts and ``total``,
        the samples of a line by the display's own idea. [unit]

    Returns
    -------
    FrontEnd
        Every other knob at its typical place.

    Raises
    ------
    ValueError
        If there is no such knob, or a value is out of range.
    """
    names = (*front_end_names(), *OWN_KNOBS)
    for name, value in knobs.items():
        if name not in names:
            raise ValueError(f"{name!r} is no knob; {', '.join(names)} are; name one of them")
        least = -1.0 if name in RECOVERY_ROWS else 0.0
        if not (least < value < float("inf") or (value == 0.0 and name in MAY_BE_ZERO)):
            raise ValueError(f"{name} = {value!r}: above {least:g} is allowed; give such a value")
    if knobs.get("sampling-phase", 0.5) >= 1.0 or knobs.get("total", 1.0) % 1.0:
        raise ValueError("sampling-phase below 1 and total a whole number are allowed; give such values")

    def at(name: str) -> float:
        return knobs.get(name, front_end_value(name))

    return FrontEnd(
        coupling=Coupling(
            at("coupling"), at("clamp-ohm"), at("leak-ohm"), at("diode-rail"), at("diode-ohm"), at("diode-scale"),
            at("diode-saturation"),
        ),
        clamp_s=at("clamp-time"),
        recovery_s=at("recovery-time"),
        recovery_share=(at(RECOVERY_ROWS[0]), at(RECOVERY_ROWS[1]), at(RECOVERY_ROWS[2])),
        linear_share=at("linear-share"),
        noise_lsb=at("converter-noise"),
        jitter_s=at("sampling-jitter"),
        phase=at("sampling-phase"),
        lane_skew_s=at("lane-skew"),
        supply_ohm=at("supply-resistance"),
        supply_s=at("supply-time"),
        esr_ohm=at("supply-esr"),
        rise_s=at("pin-rise"),
        pad_f=at("pad"),
        connector_f=at("connector"),
        input_f=at("input"),
        converter_v=knobs.get("full-scale"),
        total_px=int(knobs["total"]) if "total" in knobs else None,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class ChannelTrace:
    """One channel on its way, step by step; arrays run in time, each line from its first active pixel.

    Parameters
    ----------
    channel : str
        red, green or blue.
    sent_numbers : ndarray of uint16, shape (lines, pixels)
        Numbers that the channel's lanes carry. [1]
    sent_v : ndarray of float, shape (lines, pixels)
        Level that each pixel would settle to at the load. [V]
    input_v : ndarray of float, shape (lines, samples)
        Voltage at the input at each sampling instant. [V]
    clamped_v : ndarray of float, shape (lines, samples)
        Behind coupling, clamp and diodes. [V]
    amplified_v : ndarray of float, shape (lines, samples)
        Behind the input stage. [V]
    values : ndarray of uint8, shape (lines, samples)
        Numbers of the converter. [1]
    converter_v : float
        Level that the converter calls 255. [V]
    """

    channel: str
    sent_numbers: NDArray[np.uint16]
    sent_v: NDArray[np.float64]
    input_v: NDArray[np.float64]
    clamped_v: NDArray[np.float64]
    amplified_v: NDArray[np.float64]
    values: NDArray[np.uint8]
    converter_v: float


@dataclass(frozen=True, slots=True, eq=False)
class ShownPicture:
    """What one display shows.

    Parameters
    ----------
    display : str
        The display.
    native : ndarray of uint8, shape (lines, samples, 3)
        The active part as sampled, red, green, blue; the array cannot be written. [1]
    traces : tuple of ChannelTrace
        Its channels, step by step.
    samples_px : float
        Samples for each stored pixel of the raster. [1]
    clipped_share : float
        Share of the active samples of its channels above the largest full scale that a front end can be set to. [1]
    """

    display: str
    native: NDArray[np.uint8]
    traces: tuple[ChannelTrace, ...]
    samples_px: float
    clipped_share: float


def _loaded(network: OutputNetwork, load_ohm: float) -> OutputNetwork:
    """The same network into another load."""
    return replace(network, load_ohm=Span.exact(load_ohm))
