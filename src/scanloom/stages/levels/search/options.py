"""The table a search works on: every leg that the values allow, with its conductances at each corner."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from scanloom.basis.span import Span
from scanloom.stages.levels.search.answer import How, Leg
from scanloom.stages.levels.search.request import PartsRequest

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

ROWS = ("on", "off", "on, least", "on, most", "off, least", "off, most")
"""Rows of the table of conductances; on is a pin driven high."""
HOWS: tuple[How, ...] = ("single", "parallel", "series")


@dataclass(frozen=True, slots=True, eq=False)
class LegTable:
    """Every leg that a list of values allows, those that conduct most first.

    Parameters
    ----------
    legs : tuple of Leg
        What each is made of.
    siemens : ndarray of float, shape (6, legs)
        Conductance with its pin, one row for each of `ROWS`. [S]
    value_of : ndarray of int, shape (legs,)
        Place of its value in the list. [1]
    parts_of : ndarray of int, shape (legs,)
        Its parts. [1]
    same_value : ndarray of int, shape (values, 3)
        Legs made of each value; -1 where there is none. [1]
    nominal_ratio : ndarray of float, shape (3, legs)
        Bounds from each leg on for the typical error, see `_kernel.search`. [1]
    corner_ratio : ndarray of float, shape (3, legs)
        The same for the worst case. [1]
    whole_ohm : ndarray of float, shape (legs,)
        Resistance of the parts alone. [ohm]
    kappa : float
        How much more the legs below one may conduct than it does, for pins that differ high and low. [1]
    kappa_sure : float
        The same when the steps must be sure to rise. [1]
    """

    legs: tuple[Leg, ...]
    siemens: NDArray[np.float64]
    value_of: NDArray[np.int64]
    parts_of: NDArray[np.int64]
    same_value: NDArray[np.int64]
    nominal_ratio: NDArray[np.float64]
    corner_ratio: NDArray[np.float64]
    whole_ohm: NDArray[np.float64]
    kappa: float
    kappa_sure: float


def leg_table(request: PartsRequest, values_ohm: tuple[float, ...]) -> LegTable:
    """Every leg of a request.

    Parameters
    ----------
    request : PartsRequest
        Says which legs may be used.
    values_ohm : tuple of float
        All values of the request, those of the shunt too. [ohm]

    Returns
    -------
    LegTable
        The legs. [S]
    """
    lowest = request.leg_values_ohm[0]
    return _table(
        values_ohm, lowest, request.pairs, request.tolerance_percent / 100.0, request.pin_high_ohm, request.low_pin_ohm
    )


@lru_cache(maxsize=64)
def _table(
    values_ohm: tuple[float, ...], lowest_ohm: float, pairs: bool, part: float, high: Span, low: Span
) -> LegTable:
    """The table for one list of values; requests often share it."""
    import numpy as np

    # equal resistances: fewer parts first
    made = sorted(
        (
            (Leg(ohm, how).whole_ohm, Leg(ohm, how).parts, place, how)
            for place, ohm in enumerate(values_ohm)
            if ohm >= lowest_ohm
            for how in (HOWS if pairs else HOWS[:1])
        ),
    )
    ohm = np.array([row[0] for row in made])
    value_of = np.array([row[2] for row in made], np.int64)
    same_value = np.full((len(values_ohm), 3), -1, np.int64)
    for option, (_, _, place, how) in enumerate(made):
        same_value[place, HOWS.index(how)] = option
    weak, strong = ohm * (1.0 + part), ohm * (1.0 - part)
    siemens = 1.0 / np.stack(
        [ohm + high.typical, ohm + low.typical, weak + high.high, strong + high.low, weak + low.high, strong + low.low]
    )
    on, off, on_least, on_most, off_least, off_most = siemens
    return LegTable(
        tuple(Leg(values_ohm[place], how) for _, _, place, how in made),
        siemens,
        value_of,
        np.array([row[1] for row in made], np.int64),
        same_value,
        _from_here(off / on, off / on, on / on),
        _from_here(off_least / on_most, off_most / on_least, on_least / on_most),
        ohm,
        max(1.0, float((off / on).max() / (off / on).min())) * (1.0 + 1e-9),
        max(1.0, float((off_least / on_least).max() / (off_most / on_most).min())) * (1.0 + 1e-9),
    )


def _from_here(
    most: NDArray[np.float64], least: NDArray[np.float64], other_most: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Largest, smallest and largest of three ratios over each leg and all that conduct less."""
    import numpy as np

    return np.stack(
        [
            np.maximum.accumulate(most[::-1])[::-1],
            np.minimum.accumulate(least[::-1])[::-1],
            np.maximum.accumulate(other_most[::-1])[::-1],
        ]
    )
