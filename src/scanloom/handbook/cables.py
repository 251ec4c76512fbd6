"""Coaxial lines inside video cables."""

from __future__ import annotations

from functools import cache

from scanloom.basis.fact import Known
from scanloom.basis.record import record
from scanloom.circuit.line import UniformLine, copper_resistance, line_of_sheet
from scanloom.handbook.limits import named_row
from scanloom.handbook.load import table
from scanloom.handbook.sources import row_fact


@record
class Cable:
    """What a kind of cable does to a signal.

    Parameters
    ----------
    kind : str
        Name of the kind.
    impedance_ohm : float
        Characteristic impedance. [ohm]
    velocity_factor : float
        Speed on the line over that of light. [1]
    attenuation_db_per_m : float
        Loss at 10 MHz; it grows with the root of frequency. [dB/m]
    conductor_ohm_per_m : float or None
        Direct-current resistance of the inner conductor, None where no sheet gives it. [ohm/m]
    shield_ohm_per_m : float or None
        Direct-current resistance of the shield, None where no sheet gives it. [ohm/m]
    source : str
        Key of the source.
    place : str
        Place in the source.
    """

    kind: str
    impedance_ohm: float
    velocity_factor: float
    attenuation_db_per_m: float
    conductor_ohm_per_m: float | None
    shield_ohm_per_m: float | None
    source: str
    place: str


@cache
def cable(kind: str) -> Cable:
    """One kind of cable.

    Parameters
    ----------
    kind : str
        ``rg59``, ``mini 23 awg``, ``thin`` or ``32 awg``.

    Returns
    -------
    Cable
        Its figures and source.

    Raises
    ------
    ValueError
        If there is no such kind.
    """
    raw = named_row("cables", kind)
    conductor, shield = raw.get("conductor_ohm"), raw.get("shield_ohm")
    return Cable(
        kind=kind,
        impedance_ohm=raw["impedance_ohm"],
        velocity_factor=raw["velocity_factor"],
        attenuation_db_per_m=raw["attenuation_db"] / 100.0,  # sheets give 100 m
        conductor_ohm_per_m=None if conductor is None else conductor / 1000.0,  # sheets give 1 km
        shield_ohm_per_m=None if shield is None else shield / 1000.0,
        source=raw["source"],
        place=raw["place"],
    )


@cache
def cable_line(kind: str) -> UniformLine:
    """One kind of cable as a line with losses.

    Where no sheet gives the conductors' resistance, that of a copper wire with the same skin resistance stands in.

    Parameters
    ----------
    kind : str
        Kind as `cable` takes it.

    Returns
    -------
    UniformLine
        The line; its loss at 10 MHz is the sheet's.

    Raises
    ------
    ValueError
        If there is no such kind.
    """
    row = cable(kind)
    sheet = (row.impedance_ohm, row.velocity_factor, row.attenuation_db_per_m)
    if row.conductor_ohm_per_m is not None:
        return line_of_sheet(*sheet, row.conductor_ohm_per_m + (row.shield_ohm_per_m or 0.0))
    return line_of_sheet(*sheet, copper_resistance(line_of_sheet(*sheet).skin_ohm_per_m))


def known_cable(kind: str) -> Known[UniformLine]:
    """One kind of cable as a line, together with the fact that it is.

    Parameters
    ----------
    kind : str
        Kind as `cable` takes it.

    Returns
    -------
    Known
        The line and the fact with its source.

    Raises
    ------
    ValueError
        If there is no such kind.
    """
    row = cable(kind)
    text = f"{row.impedance_ohm:g} ohm, {row.velocity_factor:g} of light, {row.attenuation_db_per_m * 100.0:g} dB/100 m"
    return Known(cable_line(kind), (row_fact(f"handbook.cables.{kind}", text, row.source, row.place),))


def cable_kinds() -> tuple[str, ...]:
    """Kinds that `cable` takes.

    Returns
    -------
    tuple of str
        In the order of the table.
    """
    return tuple(table("cables"))
