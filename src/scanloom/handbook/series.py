"""Preferred resistor values of IEC 60063."""

from __future__ import annotations

import math
from functools import cache

from scanloom.handbook.limits import named_row
from scanloom.handbook.load import table


def series_names() -> tuple[str, ...]:
    """Names of the series.

    Returns
    -------
    tuple of str
        From the coarsest to the finest.
    """
    return tuple(table("part_series"))


@cache
def decade(series: str) -> tuple[int, ...]:
    """Values of one decade, as whole numbers from 100.

    Parameters
    ----------
    series : str
        ``E12``, ``E24``, ``E48``, ``E96`` or ``E192``.

    Returns
    -------
    tuple of int
        In rising order. [1]

    Raises
    ------
    ValueError
        If there is no such series.
    """
    return tuple(named_row("part_series", series)["values"])


@cache
def values(series: str, low_ohm: float, high_ohm: float) -> tuple[float, ...]:
    """Values of a series between two bounds.

    Parameters
    ----------
    series : str
        ``E12``, ``E24``, ``E48``, ``E96`` or ``E192``.
    low_ohm : float
        Smallest value wanted, itself included. [ohm]
    high_ohm : float
        Largest value wanted, itself included. [ohm]

    Returns
    -------
    tuple of float
        In rising order, each the float nearest to the printed value. [ohm]

    Raises
    ------
    ValueError
        If there is no such series, or the bounds are not positive, finite and in order.
    """
    if not 0.0 < low_ohm <= high_ohm < math.inf:
        raise ValueError(
            f"bounds {low_ohm!r} to {high_ohm!r} ohm: positive, finite, rising bounds are allowed; "
            "give the smaller first"
        )
    first, last = math.floor(math.log10(low_ohm)), math.floor(math.log10(high_ohm))
    # one decade more on either side: the logarithm of 1000.0 may fall short of 3
    every = (_scaled(step, power - 2) for power in range(first - 1, last + 2) for step in decade(series))
    return tuple(ohm for ohm in every if low_ohm <= ohm <= high_ohm)


def nearest(series: str, ohm: float) -> float:
    """Value of a series nearest by ratio.

    Parameters
    ----------
    series : str
        ``E12``, ``E24``, ``E48``, ``E96`` or ``E192``.
    ohm : float
        Value wanted. [ohm]

    Returns
    -------
    float
        Value whose ratio to the wanted one is closest to 1, the smaller of two equally near. [ohm]

    Raises
    ------
    ValueError
        If there is no such series, or the value is not positive and finite.
    """
    if not 0.0 < ohm < math.inf:
        raise ValueError(f"value {ohm!r} ohm: positive and finite values are allowed; give the resistance wanted")
    around = values(series, ohm / 2.0, ohm * 2.0)
    return min(around, key=lambda value: max(value / ohm, ohm / value))


def _scaled(step: int, power: int) -> float:
    """A decade value times a power of ten, rounded once."""
    return float(step * 10**power) if power >= 0 else step / 10**-power
