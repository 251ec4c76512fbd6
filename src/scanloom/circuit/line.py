"""A uniform line with losses: what a metre of cable does to a signal.

Conductor loss is one causal formula, Zs(s) = sqrt(Rdc^2 + K^2 s): direct-current resistance at the bottom, skin effect,
with the inductance that belongs to it, further up. Dielectric loss is a constant angle, C(s) = C (s/s0)^(-2d/pi) with
d the loss angle: as causal as the conductor's, and C itself at s0 = 2 pi 10 MHz.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from scanloom.basis.record import record

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Complexes = NDArray[np.complex128]

LIGHT_M_PER_S = 299_792_458.0
"""Speed of light. [m/s]"""

SHEET_HZ = 10e6
"""Frequency at which skin resistance, attenuation and capacitance of a line are stated. [Hz]"""

COPPER_SKIN_OHM = 2.61e-7
"""Surface resistance of copper over the root of frequency, pi mu0 rho under the root at 20 degrees Celsius. [ohm]"""

COPPER_OHM_M = 1.724e-8
"""Resistivity of annealed copper at 20 degrees Celsius. [ohm*m]"""


@record
class UniformLine:
    """Figures of one metre of a line.

    Parameters
    ----------
    inductance_h_per_m : float
        Inductance outside the conductors. [H/m]
    capacitance_f_per_m : float
        Capacitance at 10 MHz. [F/m]
    resistance_ohm_per_m : float
        Direct-current resistance, there and back. [ohm/m]
    skin_ohm_per_m : float
        Resistance by skin effect at 10 MHz, growing with the root of frequency; 0 for a line without. [ohm/m]
    loss_tangent : float
        Loss tangent of the dielectric, the same at every frequency. [1]

    Raises
    ------
    ValueError
        If inductance or capacitance is not above zero, or a loss is negative.
    """

    inductance_h_per_m: float
    capacitance_f_per_m: float
    resistance_ohm_per_m: float = 0.0
    skin_ohm_per_m: float = 0.0
    loss_tangent: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what is no line, or a line that amplifies."""
        for name in ("inductance_h_per_m", "capacitance_f_per_m"):
            value = getattr(self, name)
            if not 0.0 < value < math.inf:
                raise ValueError(f"{name}: {value!r}; allowed is above zero and finite; give the cable's own")
        for name in ("resistance_ohm_per_m", "skin_ohm_per_m", "loss_tangent"):
            value = getattr(self, name)
            if not 0.0 <= value < math.inf:
                raise ValueError(f"{name}: {value!r}; allowed is zero or more and finite; give the cable's own")

    @property
    def impedance_ohm(self) -> float:
        """Characteristic impedance without losses, in ohms."""
        return math.sqrt(self.inductance_h_per_m / self.capacitance_f_per_m)

    @property
    def delay_s_per_m(self) -> float:
        """Time the front of a signal takes for a metre, in seconds."""
        return math.sqrt(self.inductance_h_per_m * self.capacitance_f_per_m)


def line_of_sheet(
    impedance_ohm: float,
    velocity_factor: float,
    attenuation_db_per_m: float,
    conductor_ohm_per_m: float = 0.0,
    loss_tangent: float = 0.0,
) -> UniformLine:
    """Line that has the figures of a cable's sheet.

    Parameters
    ----------
    impedance_ohm : float
        Characteristic impedance. [ohm]
    velocity_factor : float
        Speed on the line over that of light. [1]
    attenuation_db_per_m : float
        Loss at 10 MHz, all causes together. [dB/m]
    conductor_ohm_per_m : float
        Direct-current resistance of inner conductor and shield together. [ohm/m]
    loss_tangent : float
        Loss tangent of the dielectric. [1]

    Returns
    -------
    UniformLine
        The line; its skin resistance makes up what the other losses leave of the attenuation.

    Raises
    ------
    ValueError
        If a figure is out of range, or direct current and dielectric alone lose more than the sheet says.

    Examples
    --------
    >>> line = line_of_sheet(75.0, 0.66, 0.065, 0.4)
    >>> round(line_attenuation_db(line, 10e6), 9)
    0.065

    References
    ----------
    [telegraph] Telegrapher's equations; solved for the skin resistance by bisection, as attenuation rises with it.
    """
    if not (0.0 < impedance_ohm < math.inf and 0.0 < velocity_factor <= 1.0 and 0.0 <= attenuation_db_per_m < math.inf):
        raise ValueError(
            f"cable of {impedance_ohm!r} ohm, velocity factor {velocity_factor!r}, {attenuation_db_per_m!r} dB/m: allowed "
            "are an impedance above zero, a factor up to 1 and a loss of zero or more; give the figures of its sheet"
        )
    delay_s = 1.0 / (velocity_factor * LIGHT_M_PER_S)

    def line(skin_ohm: float) -> UniformLine:
        return UniformLine(
            impedance_ohm * delay_s, delay_s / impedance_ohm, conductor_ohm_per_m, skin_ohm, loss_tangent
        )

    least_db = line_attenuation_db(line(0.0), SHEET_HZ)
    if least_db > attenuation_db_per_m * (1.0 + 1e-9) + 1e-12:  # a loss of nothing is only rounding
        raise ValueError(
            f"cable of {attenuation_db_per_m!r} dB/m: its {conductor_ohm_per_m!r} ohm/m and loss tangent "
            f"{loss_tangent!r} alone lose {least_db:.4g} dB/m; give a larger loss or a smaller resistance"
        )
    low, high = 0.0, 1.0
    while line_attenuation_db(line(high), SHEET_HZ) < attenuation_db_per_m:
        high *= 2.0
    for _ in range(60):
        middle = (low + high) / 2.0
        if line_attenuation_db(line(middle), SHEET_HZ) < attenuation_db_per_m:
            low = middle
        else:
            high = middle
    return line(low if low == 0.0 else high)


def copper_resistance(skin_ohm_per_m: float) -> float:
    """Direct-current resistance of the round copper wire that has a given skin resistance at 10 MHz.

    Stands in, as a guess, where a sheet gives attenuation alone. The shield counts as free, so the wire comes out
    thin and its resistance somewhat high.

    Parameters
    ----------
    skin_ohm_per_m : float
        Skin resistance at 10 MHz. [ohm/m]

    Returns
    -------
    float
        Resistance of the wire. [ohm/m]

    Raises
    ------
    ValueError
        If the skin resistance is not above zero.

    Examples
    --------
    >>> round(copper_resistance(0.876), 3)  # 0.30 mm
    0.244

    References
    ----------
    [skin] Surface resistance over the circumference; resistivity over the cross-section.
    """
    if not 0.0 < skin_ohm_per_m < math.inf:
        raise ValueError(
            f"skin_ohm_per_m: {skin_ohm_per_m!r}; allowed is above zero; give the skin resistance at 10 MHz"
        )
    thick_m = COPPER_SKIN_OHM * math.sqrt(SHEET_HZ) / (math.pi * skin_ohm_per_m)
    return COPPER_OHM_M / (math.pi * (thick_m / 2.0) ** 2)


def line_attenuation_db(line: UniformLine, hertz: float) -> float:
    """Loss of a metre of a matched line at one frequency.

    Parameters
    ----------
    line : UniformLine
        The line.
    hertz : float
        Frequency, above zero. [Hz]

    Returns
    -------
    float
        Loss. [dB/m]

    Raises
    ------
    ValueError
        If the frequency is not above zero.

    References
    ----------
    [telegraph] Real part of the propagation constant.
    """
    if not 0.0 < hertz < math.inf:
        raise ValueError(f"hertz: {hertz!r}; allowed is above zero; give the frequency of interest")
    # plain complex numbers, so that a light command needs no numpy
    s = 2j * math.pi * hertz
    root = 2.0 * line.skin_ohm_per_m**2 * (s / (2.0 * math.pi * SHEET_HZ))
    series = s * line.inductance_h_per_m + (line.resistance_ohm_per_m**2 + root) ** 0.5
    shunt = s * _capacitance(line, abs(s)) * complex(math.cos(_angle(line)), -math.sin(_angle(line)))
    gamma: complex = (series * shunt) ** 0.5
    return abs(gamma.real) * 20.0 / math.log(10.0)


def line_waves(line: UniformLine, s: Complexes) -> tuple[Complexes, Complexes]:
    """Propagation constant and characteristic impedance in the plane of complex frequency.

    Parameters
    ----------
    line : UniformLine
        The line.
    s : ndarray of complex, shape (n,)
        Complex frequencies with a real part of zero or more, none of them zero. [Hz]

    Returns
    -------
    tuple of ndarray of complex, shape (n,)
        Propagation constant of a metre, and impedance. [1/m, ohm]

    References
    ----------
    [telegraph] gamma = sqrt(Z Y), Zc = sqrt(Z / Y), with Z and Y of a metre.
    """
    import numpy as np

    series = line_series(line, s)
    shunt = s * line.capacitance_f_per_m
    if line.loss_tangent:
        shunt = shunt * (s / (2.0 * math.pi * SHEET_HZ)) ** (-2.0 * _angle(line) / math.pi)
    gamma = np.sqrt(series) * np.sqrt(shunt)  # each root lies in the right half plane, so the product of both is right
    return gamma, series / gamma


def line_series(line: UniformLine, s: Complexes) -> Complexes:
    """Series impedance of a metre: resistance, skin effect and inductance.

    Parameters
    ----------
    line : UniformLine
        The line.
    s : ndarray of complex, shape (n,)
        Complex frequencies with a real part of zero or more. [Hz]

    Returns
    -------
    ndarray of complex, shape (n,)
        Impedance. [ohm/m]

    References
    ----------
    [skin] Zs = sqrt(Rdc^2 + K^2 s), K from the skin resistance at 10 MHz.
    """
    import numpy as np

    series = s * line.inductance_h_per_m
    if line.skin_ohm_per_m:
        # at 10 MHz the root's real part is the skin resistance itself: K^2 w = 2 R^2
        k_squared = 2.0 * line.skin_ohm_per_m**2 / (2.0 * math.pi * SHEET_HZ)
        return series + np.sqrt(line.resistance_ohm_per_m**2 + k_squared * s)
    return series + line.resistance_ohm_per_m


def line_two_port(
    line: UniformLine, length_m: float, s: Complexes
) -> tuple[Complexes, Complexes, Complexes, Complexes]:
    """Chain matrix of a length of line: near voltage and current from the far ones.

    Parameters
    ----------
    line : UniformLine
        The line.
    length_m : float
        Its length, zero or more. [m]
    s : ndarray of complex, shape (n,)
        Complex frequencies with a real part of zero or more, none of them zero. [Hz]

    Returns
    -------
    tuple of ndarray of complex, shape (n,)
        A, B, C and D of V1 = A V2 + B I2, I1 = C V2 + D I2. [1, ohm, S, 1]

    References
    ----------
    [telegraph] A = D = cosh(gamma l), B = Zc sinh(gamma l), C = sinh(gamma l) / Zc.
    """
    import numpy as np

    gamma, impedance = line_waves(line, s)
    cosh, sinh = np.cosh(gamma * length_m), np.sinh(gamma * length_m)
    return cosh, impedance * sinh, sinh / impedance, cosh


def front_delay(line: UniformLine, length_m: float) -> float:
    """Time until the very first of a signal arrives.

    A lossy dielectric lets the highest frequencies run ahead a little; they are counted up to 100 GHz.

    Parameters
    ----------
    line : UniformLine
        The line.
    length_m : float
        Its length. [m]

    Returns
    -------
    float
        Delay. [s]

    References
    ----------
    [telegraph] Length times the root of L C at the top of the band.
    """
    at_top = line.inductance_h_per_m * _capacitance(line, 2.0 * math.pi * 100e9)
    return length_m * math.sqrt(at_top)


def _angle(line: UniformLine) -> float:
    """Loss angle of the dielectric, in radians."""
    return math.atan(line.loss_tangent)


def _capacitance(line: UniformLine, omega: float) -> float:
    """Modulus of the capacitance at a frequency in radians a second, in farads a metre."""
    ratio = omega / (2.0 * math.pi * SHEET_HZ)
    return float(line.capacitance_f_per_m * ratio ** (-2.0 * _angle(line) / math.pi))
