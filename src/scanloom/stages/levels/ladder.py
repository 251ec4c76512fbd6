"""Levels of a channel whose legs feed the taps of a ladder.

The matrix of a ladder's taps has three diagonals, so one sweep from the last tap to the connector solves it: at each
tap all that lies behind is one voltage behind one resistance. The sweep here carries several such pairs at a time,
one for each way to choose the rungs behind, because that is what the exact worst case needs.
"""

from __future__ import annotations

from collections.abc import Sequence

from scanloom.circuit.star import star_voltage
from scanloom.stages.levels.model import BuiltNetwork

Behind = tuple[float, float]
"""What is seen into one side of a tap: open voltage and resistance. [V, ohm]"""


def behind_taps(start: Behind, branches: Sequence[Behind], rung_choices_ohm: Sequence[Sequence[float]]) -> list[Behind]:
    """Voltage and resistance behind a tap, for each way to choose the rungs on that side.

    Parameters
    ----------
    start : (float, float)
        What ends the ladder on that side: voltage and resistance to the first tap. [V, ohm]
    branches : sequence of (float, float)
        Voltage and resistance of the leg at each tap passed, from the end inwards. [V, ohm]
    rung_choices_ohm : sequence of sequence of float
        Values to try for the rung after each of these taps. [ohm]

    Returns
    -------
    list of (float, float)
        Open voltage and resistance, one pair for each combination of rungs. [V, ohm]

    References
    ----------
    [thevenin] Voltage and resistance of two sides joined at a tap, then a rung in series.
    """
    found = [start]
    for (leg_v, leg_ohm), choices_ohm in zip(branches, rung_choices_ohm, strict=True):
        joined = [
            (
                (behind_v * leg_ohm + leg_v * behind_ohm) / (behind_ohm + leg_ohm),
                behind_ohm * leg_ohm / (behind_ohm + leg_ohm),
            )
            for behind_v, behind_ohm in found
        ]
        found = [(behind_v, behind_ohm + rung_ohm) for behind_v, behind_ohm in joined for rung_ohm in choices_ohm]
    return found


def tap_choices(
    branches: Sequence[Behind],
    ground_ohm: float,
    terminator_ohm: float,
    rung_choices_ohm: Sequence[Sequence[float]],
    leg: int,
) -> list[float]:
    """Voltage of one tap, for each way to choose the rungs.

    Parameters
    ----------
    branches : sequence of (float, float)
        Voltage and resistance of each leg, most significant first. [V, ohm]
    ground_ohm : float
        Load and shunt at the connector. [ohm]
    terminator_ohm : float
        Terminator at the last tap. [ohm]
    rung_choices_ohm : sequence of sequence of float
        Values to try for each rung, from the connector on. [ohm]
    leg : int
        Which tap; 0 is the connector. [1]

    Returns
    -------
    list of float
        One voltage for each combination of rungs. [V]

    References
    ----------
    [thevenin] Both sides of the tap and its own leg, joined as a star.
    """
    # each side is swept from its end inwards
    near = behind_taps((0.0, ground_ohm), branches[:leg], rung_choices_ohm[:leg])
    far = behind_taps((0.0, terminator_ohm), branches[leg + 1 :][::-1], rung_choices_ohm[leg:][::-1])
    return [star_voltage((one, other, branches[leg])) for one in near for other in far]


def ladder_taps(built: BuiltNetwork, code: int) -> tuple[float, ...]:
    """Voltage of every tap for one code.

    Parameters
    ----------
    built : BuiltNetwork
        A copy in style ladder.
    code : int
        Bits of the channel. [1]

    Returns
    -------
    tuple of float
        Voltage of each leg's tap, most significant first; the first is the level into the load. [V]

    Raises
    ------
    ValueError
        If the code has more bits than the network, or the copy is no ladder.

    References
    ----------
    [thomas] Elimination of a tridiagonal system: forward sweep, then back substitution.
    """
    if built.terminator_ohm is None:
        raise ValueError(f"style {built.style}: no terminator; allowed is style ladder; use the star sums for others")
    branches = built.branches(code)
    behind = (0.0, built.terminator_ohm)
    swept: list[Behind] = []  # per tap from the last on: what is seen from the rung towards the connector
    for leg in range(len(branches) - 1, 0, -1):
        (seen_v, seen_ohm), rung_ohm = behind, built.rung_ohm[leg - 1]
        leg_v, leg_ohm = branches[leg]
        both_ohm = seen_ohm + leg_ohm
        swept.append(((seen_v * leg_ohm + leg_v * seen_ohm) / both_ohm, seen_ohm * leg_ohm / both_ohm))
        behind = (swept[-1][0], swept[-1][1] + rung_ohm)
    taps = [star_voltage((behind, branches[0], (0.0, built.ground_ohm)))]
    for (open_v, open_ohm), rung_ohm in zip(reversed(swept), built.rung_ohm, strict=True):
        taps.append(open_v + (taps[-1] - open_v) * open_ohm / (open_ohm + rung_ohm))
    return tuple(taps)


def ladder_leg_currents(built: BuiltNetwork, code: int) -> tuple[float, ...]:
    """Current out of each pin for one code; a pin below its tap's voltage takes current in.

    Parameters
    ----------
    built : BuiltNetwork
        A copy in style ladder.
    code : int
        Bits of the channel. [1]

    Returns
    -------
    tuple of float
        Current of each leg, most significant first, positive out of the pin. [A]

    Raises
    ------
    ValueError
        If the code has more bits than the network, or the copy is no ladder.

    References
    ----------
    [ohm] Ohm's law for each leg.
    """
    taps = ladder_taps(built, code)
    return tuple([(volt - tap_v) / ohm for (volt, ohm), tap_v in zip(built.branches(code), taps, strict=True)])


def ladder_source_ohm(built: BuiltNetwork, code: int) -> float:
    """Resistance that the connector shows to the cable, without the load.

    Parameters
    ----------
    built : BuiltNetwork
        A copy in style ladder.
    code : int
        Bits of the channel. [1]

    Returns
    -------
    float
        Thevenin resistance. [ohm]

    Raises
    ------
    ValueError
        If the code has more bits than the network, or the copy is no ladder.

    References
    ----------
    [thevenin] The ladder collapsed from its terminator to the connector, with the rail held.
    """
    if built.terminator_ohm is None:
        raise ValueError(f"style {built.style}: no terminator; allowed is style ladder; use the star sums for others")
    legs_ohm = [ohm for _, ohm in built.branches(code)]
    seen_ohm = built.terminator_ohm
    for leg_ohm, rung_ohm in zip(legs_ohm[:0:-1], reversed(built.rung_ohm), strict=True):
        seen_ohm = seen_ohm * leg_ohm / (seen_ohm + leg_ohm) + rung_ohm
    siemens = 1.0 / seen_ohm + 1.0 / legs_ohm[0]
    return 1.0 / (siemens if built.shunt_ohm is None else siemens + 1.0 / built.shunt_ohm)
