"""Registration: which of four maps, and which shift, lays one set of places on another."""

from __future__ import annotations

from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from scanloom.basis.record import record

MapName = Literal["as it is", "mirrored left to right", "mirrored top to bottom", "turned half round"]
MAPS: dict[MapName, tuple[float, float]] = {
    "as it is": (1.0, 1.0),
    "mirrored left to right": (-1.0, 1.0),
    "mirrored top to bottom": (1.0, -1.0),
    "turned half round": (-1.0, -1.0),
}
NEAR_MM = 0.06
"""How near two places must be to be one. [mm]"""
LEAST_SHARE = 0.9
"""Share of reference places that the true map must meet. [1]"""
LEAST_LEAD = 3
"""Places by which the true map must beat the next. [1]"""
_BIN_MM = 0.1
_SAMPLE, _PADS = 100, 600  # differences are taken between samples; the hits are counted over all


@record
class Fit:
    """How well one map lays places on others.

    Parameters
    ----------
    map_name : MapName
        The map.
    hits : int
        Reference places that are met. [1]
    shift_mm : tuple of float
        Shift after the map, along and across. [mm]
    """

    map_name: MapName
    hits: int
    shift_mm: tuple[float, float]


@record
class Registration:
    """All four maps, the best first.

    Parameters
    ----------
    fits : tuple of Fit
        One for each map.
    reference_places : int
        Reference places there are. [1]
    """

    fits: tuple[Fit, ...]
    reference_places: int

    @property
    def best(self) -> Fit:
        """The map that meets most."""
        return self.fits[0]

    @property
    def share(self) -> float:
        """Share of reference places that the best map meets [1]."""
        return self.best.hits / self.reference_places if self.reference_places else 0.0

    @property
    def lead(self) -> int:
        """Places by which the best map beats the next [1]."""
        return self.fits[0].hits - self.fits[1].hits

    @property
    def decided(self) -> bool:
        """Whether the best map is certain."""
        return self.share >= LEAST_SHARE and self.lead >= LEAST_LEAD

    def of(self, name: MapName) -> Fit:
        """One of the maps.

        Parameters
        ----------
        name : MapName
            Its name.

        Returns
        -------
        Fit
            How well it does.
        """
        return next(fit for fit in self.fits if fit.map_name == name)


def register(reference: NDArray[np.float64], places: NDArray[np.float64], centre: tuple[float, float]) -> Registration:
    """Lay places on a reference by each of the four maps about a centre, with any shift.

    Parameters
    ----------
    reference : ndarray of float, shape (holes, 2)
        Where things must be. [mm]
    places : ndarray of float, shape (pads, 2)
        Where they are drawn. [mm]
    centre : tuple of float
        Centre that maps turn and mirror about. [mm]

    Returns
    -------
    Registration
        The four maps, the best first; at equal hits the one as it is, then the smaller shift.
    """
    target = np.unique(np.round(reference, 4), axis=0)
    drawn = np.unique(np.round(places, 4), axis=0)
    middle = np.array(centre)
    complete = bool(len(target)) and bool(hits_of(target, drawn).all())  # the others then only have to be shown unlike
    fits = [_best_fit(name, target, (drawn - middle) * sign + middle, brief=complete) for name, sign in MAPS.items()]
    order = list(MAPS)
    fits.sort(key=lambda fit: (-fit.hits, order.index(fit.map_name)))
    return Registration(tuple(fits), len(target))


def hits_of(reference: NDArray[np.float64], places: NDArray[np.float64], near_mm: float = NEAR_MM) -> NDArray[np.bool_]:
    """Which reference places are met.

    Parameters
    ----------
    reference : ndarray of float, shape (holes, 2)
        Where things must be. [mm]
    places : ndarray of float, shape (pads, 2)
        Where they are. [mm]
    near_mm : float
        How near is met. [mm]

    Returns
    -------
    ndarray of bool, shape (holes,)
        True where something lies. [1]
    """
    met = np.zeros(len(reference), dtype=bool)
    if len(reference) and len(places):
        tree = shapely.STRtree(shapely.points(places))
        hit, _ = tree.query(shapely.points(reference), predicate="dwithin", distance=near_mm)
        met[hit] = True
    return met


def _best_fit(name: MapName, target: NDArray[np.float64], drawn: NDArray[np.float64], *, brief: bool) -> Fit:
    """Best shift of one map: the fullest bins of all differences, tried on a sample, then the best one counted."""
    if not len(target) or not len(drawn):
        return Fit(name, 0, (0.0, 0.0))
    tree = shapely.STRtree(shapely.points(drawn))
    still = _count(tree, target, (0.0, 0.0))
    if still == len(target):
        return Fit(name, still, (0.0, 0.0))
    some = _spread_out(target, _SAMPLE // 2 if brief else _SAMPLE)
    tried = [
        (_count(tree, some, shift), -abs(shift[0]) - abs(shift[1]), shift)
        for shift in _likely_shifts(some, drawn, _PADS // 2 if brief else _PADS)
    ]
    shift = max(tried)[2]
    moved = _count(tree, target, shift)
    return Fit(name, moved, shift) if moved > still else Fit(name, still, (0.0, 0.0))


def _count(tree: shapely.STRtree, target: NDArray[np.float64], shift: tuple[float, float]) -> int:
    """Reference places met after a shift."""
    hit, _ = tree.query(shapely.points(target - np.array(shift)), predicate="dwithin", distance=NEAR_MM)
    return len(np.unique(hit))


def _spread_out(places: NDArray[np.float64], most: int) -> NDArray[np.float64]:
    """Some of the places, taken evenly."""
    return np.asarray(places[np.linspace(0, len(places) - 1, min(most, len(places))).astype(int)])


def _likely_shifts(some: NDArray[np.float64], drawn: NDArray[np.float64], most: int) -> list[tuple[float, float]]:
    """Middles of the fullest bins of differences."""
    others = _spread_out(drawn, most)
    far = (some[:, None, :] - others[None, :, :]).reshape(-1, 2)
    bins = np.round(far / _BIN_MM).astype(np.int64)
    keys = (bins[:, 0] << 32) + (bins[:, 1] & 0xFFFFFFFF)
    values, counts = np.unique(keys, return_counts=True)
    made = []
    for place in np.argsort(-counts, kind="stable")[:8]:
        middle = np.median(far[keys == values[place]], axis=0)
        made.append((float(middle[0]), float(middle[1])))
    return made
