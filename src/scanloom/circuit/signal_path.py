"""From the pins of one channel to the display's input: legs, connector, cable, load, as one linear network.

Legs meet at the connector (or at the taps of a ladder); pad capacitance sits between pin and part. The pin's resistance
counts as one number here, whatever its state; `switched` has what changes when it does.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from scanloom.basis.record import record
from scanloom.circuit.line import UniformLine, front_delay, line_waves
from scanloom.circuit.response import StepResponse, step_response

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Complexes = NDArray[np.complex128]


@record
class Leg:
    """One bit: a pin, the capacitance at it, and the part that leads on.

    Parameters
    ----------
    pin_high_ohm : float
        Resistance of the pin driven high, above zero. [ohm]
    pin_low_ohm : float
        Resistance of the pin driven low, above zero. [ohm]
    part_ohm : float
        Resistance of the part; 0 for a bare wire. [ohm]
    pad_f : float
        Capacitance from pin to ground. [F]

    Raises
    ------
    ValueError
        If a value is out of range.
    """

    pin_high_ohm: float
    pin_low_ohm: float
    part_ohm: float
    pad_f: float = 0.0

    def __post_init__(self) -> None:
        """Refuse values with which nothing can be computed."""
        _refuse(self, ("pin_high_ohm", "pin_low_ohm"), ("part_ohm", "pad_f"))

    @property
    def pin_ohm(self) -> float:
        """Resistance that stands for both states: that of their mean conductance, in ohms."""
        return 2.0 / (1.0 / self.pin_high_ohm + 1.0 / self.pin_low_ohm)


@record
class SignalPath:
    """One channel from its pins to the display's input.

    Parameters
    ----------
    legs : tuple of Leg
        Its bits, most significant first; one for a single pin, an amplifier or a buffer.
    line : UniformLine
        The cable.
    length_m : float
        Length of the cable, zero or more. [m]
    load_ohm : float
        Termination inside the display; `math.inf` where it is missing. [ohm]
    load_f : float
        Capacitance of the display's input. [F]
    connector_f : float
        Capacitance of connector, trace and protection parts. [F]
    shunt_ohm : float, optional
        Part from the connector to ground. [ohm]
    rung_ohm : tuple of float
        Parts between the taps of a ladder, from the connector on; empty where all legs meet. [ohm]
    terminator_ohm : float, optional
        Part from the last tap of a ladder to ground. [ohm]

    Raises
    ------
    ValueError
        If there is no leg, a value is out of range, or a ladder's rungs are not one less than its legs.
    """

    legs: tuple[Leg, ...]
    line: UniformLine
    length_m: float
    load_ohm: float
    load_f: float = 0.0
    connector_f: float = 0.0
    shunt_ohm: float | None = None
    rung_ohm: tuple[float, ...] = ()
    terminator_ohm: float | None = None

    def __post_init__(self) -> None:
        """Refuse values with which nothing can be computed."""
        if not self.legs:
            raise ValueError("signal path: no leg; allowed is one or more; give one for each bit")
        _refuse(self, (), ("length_m", "load_f", "connector_f"))
        if not self.load_ohm > 0.0:
            raise ValueError(f"load_ohm: {self.load_ohm!r}; allowed is above zero; give the display's termination")
        for name in ("shunt_ohm", "terminator_ohm"):
            if getattr(self, name) is not None:
                _refuse(self, (name,), ())
        if self.rung_ohm and (len(self.rung_ohm) != len(self.legs) - 1 or min(self.rung_ohm) <= 0.0):
            raise ValueError(
                f"rung_ohm: {len(self.rung_ohm)} for {len(self.legs)} legs; allowed is one between each two taps, above "
                "zero; give one less than there are legs"
            )


def settled_levels(path: SignalPath) -> tuple[float, ...]:
    """Steady volts at the load for each volt at each pin's driver, the cable's own resistance included.

    Parameters
    ----------
    path : SignalPath
        The channel.

    Returns
    -------
    tuple of float
        One a leg, most significant first. [1]

    Examples
    --------
    >>> line = UniformLine(3.79e-7, 6.74e-11)
    >>> path = SignalPath((Leg(25.0, 25.0, 240.0),), line, 0.0, 75.0)
    >>> round(settled_levels(path)[0] * 3.3, 4)
    0.7279

    References
    ----------
    [divider] Legs as currents into one node, cable resistance and load as a divider behind it.
    """
    conductance, injected = _source(path, 0.0)
    cable_ohm = path.line.resistance_ohm_per_m * path.length_m
    reach = path.load_ohm / (path.load_ohm + cable_ohm) if math.isfinite(path.load_ohm) else 1.0
    load_s = 1.0 / (path.load_ohm + cable_ohm)
    return tuple([float(amp.real / (conductance.real + load_s) * reach) for amp in injected])


def path_transfer(path: SignalPath, s: Complexes) -> Complexes:
    """Volts at the load for each volt at each pin's driver.

    Parameters
    ----------
    path : SignalPath
        The channel.
    s : ndarray of complex, shape (n,)
        Complex frequencies with a real part of zero or more, none of them zero. [Hz]

    Returns
    -------
    ndarray of complex, shape (legs, n)
        Transfer of each leg, most significant first. [1]

    References
    ----------
    [waves] Source, line and load joined by their reflections: see `echo_transfers`.
    """
    import numpy as np

    parts = _waves(path, s)
    gamma_l = parts.gamma * path.length_m
    return parts.sent * np.exp(-gamma_l) / (1.0 - parts.turned * np.exp(-2.0 * gamma_l))


def echo_transfers(path: SignalPath, s: Complexes, echoes: int) -> Complexes:
    """Share of each arrival at the load: the first, and what went back and forth once, twice and so on.

    Parameters
    ----------
    path : SignalPath
        The channel.
    s : ndarray of complex, shape (n,)
        Complex frequencies with a real part of zero or more, none of them zero. [Hz]
    echoes : int
        How many echoes to give after the first arrival. [1]

    Returns
    -------
    ndarray of complex, shape (echoes + 1, n)
        All legs together; the sum over all arrivals is the transfer. [1]

    References
    ----------
    [bounce] T = T0 sum over m of (Gs Gl exp(-2 gamma l))^m, Gs and Gl the reflections of source and load.
    """
    import numpy as np

    parts = _waves(path, s)
    gamma_l = parts.gamma * path.length_m
    first = parts.sent.sum(axis=0) * np.exp(-gamma_l)
    return np.stack([first * (parts.turned * np.exp(-2.0 * gamma_l)) ** m for m in range(echoes + 1)])


def path_step(path: SignalPath, rise_s: float, until_s: float, tolerance: float = 2e-5) -> StepResponse:
    """Step response of each leg at the load, counted from the moment the front can arrive.

    Parameters
    ----------
    path : SignalPath
        The channel.
    rise_s : float
        Length of the driver's edge, from 0 to 100 %. [s]
    until_s : float
        Time up to which it is wanted, after the cable's delay. [s]
    tolerance : float
        Error wanted. [1]

    Returns
    -------
    StepResponse
        One output a leg, volts for each volt at its driver. [1]

    References
    ----------
    [laplace] See `scanloom.circuit.response`.
    """
    return step_response(delayed(path_transfer, path), settled_levels(path), rise_s, until_s, tolerance)


def delayed(
    transfer: Callable[[SignalPath, Complexes], Complexes], path: SignalPath
) -> Callable[[Complexes], Complexes]:
    """A transfer function with the cable's delay taken out.

    Parameters
    ----------
    transfer : callable
        Transfer of a path at complex frequencies.
    path : SignalPath
        The channel.

    Returns
    -------
    callable
        The same for this path, its time counted from the front's arrival.
    """
    import numpy as np

    delay_s = front_delay(path.line, path.length_m)
    return lambda s: transfer(path, s) * np.exp(s * delay_s)


def legs_of_code(legs: int) -> NDArray[np.bool_]:
    """Which legs are on for each code.

    Parameters
    ----------
    legs : int
        Bits of the channel. [bits]

    Returns
    -------
    ndarray of bool, shape (codes, legs)
        Codes from 0 on, legs most significant first. [1]
    """
    import numpy as np

    return (np.arange(1 << legs)[:, None] >> np.arange(legs - 1, -1, -1) & 1).astype(np.bool_)


@dataclass(frozen=True, slots=True, eq=False)
class _Waves:
    """What a path does to waves: sent to the load by each leg, turned round at both ends, lost on a metre."""

    sent: Complexes
    turned: Complexes
    gamma: Complexes


def _waves(path: SignalPath, s: Complexes) -> _Waves:
    """Waves of a path; the exponentials of the line are left to the caller."""
    gamma, impedance = line_waves(path.line, s)
    source_s, injected = _source(path, s)
    near = 1.0 + impedance * source_s
    far = 1.0 + impedance * (1.0 / path.load_ohm + s * path.load_f)
    # a leg sends its current into line and source; the load then shows 1 + its reflection
    return _Waves(injected * (impedance / near * (2.0 / far)), (2.0 / near - 1.0) * (2.0 / far - 1.0), gamma)


def _source(path: SignalPath, s: Complexes | float) -> tuple[Complexes, Complexes]:
    """Admittance at the connector looking back, and current that each leg brings there for a volt at its driver."""
    import numpy as np

    flat = np.zeros_like(np.asarray(s), dtype=np.complex128)
    injected = np.zeros((len(path.legs), *flat.shape), dtype=np.complex128)
    admittance = flat + (0.0 if path.terminator_ohm is None else 1.0 / path.terminator_ohm)
    for at in range(len(path.legs) - 1, -1, -1):
        if path.rung_ohm and at < len(path.rung_ohm):  # carry all that lies beyond through the rung
            weaker = 1.0 / (1.0 + path.rung_ohm[at] * admittance)
            admittance, injected = admittance * weaker, injected * weaker
        leg = path.legs[at]
        pin_s = 1.0 / leg.pin_ohm
        behind = pin_s + s * leg.pad_f
        out = 1.0 / (1.0 + leg.part_ohm * behind)
        admittance = admittance + behind * out
        injected[at] = pin_s * out
    if path.shunt_ohm is not None:
        admittance = admittance + 1.0 / path.shunt_ohm
    return admittance + s * path.connector_f, injected


def _refuse(of: object, above: tuple[str, ...], least: tuple[str, ...]) -> None:
    """Refuse fields that are not above zero, or not zero or more."""
    for name in (*above, *least):
        value = getattr(of, name)
        if not (0.0 <= value < math.inf) or (name in above and value == 0.0):
            allowed = "above zero" if name in above else "zero or more"
            raise ValueError(f"{name}: {value!r}; allowed is {allowed} and finite; give the part's own value")
