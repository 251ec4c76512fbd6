"""Boards drawn by chance: how many of a lot turn out good, where the exact worst case says only that some may not."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.handbook.limits import limit
from scanloom.stages.levels.result import LevelPlan
from scanloom.stages.levels.wired import ColourWiring, wired_white

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Spread = Literal["even", "normal"]
BINS = 8192
"""Places that figures are counted in; percentiles are read between them. [1]"""
_ABSENT = (math.inf, math.inf, math.inf)
_MOST_INL = 8.0
_MOST_MISMATCH = 0.5


@record
class Lot:
    """What all boards of a lot have in common.

    Parameters
    ----------
    channels : tuple of ColourWiring
        Every colour channel of a board; those of one display follow one another.
    shows : tuple of int
        Number of the display that each channel belongs to. [1]
    spread : {"even", "normal"}
        Whether values lie evenly in their spans, or crowd around typical: two half normals of a third of each side, cut
        at the ends.
    pins_alike : bool
        Whether all pins of a board lie at one place in their spans, as those of one chip nearly do; else each lies
        anywhere.

    Raises
    ------
    ValueError
        If there is no channel, the two lists differ in length, or the spread is unknown.
    """

    channels: tuple[ColourWiring, ...]
    shows: tuple[int, ...]
    spread: Spread = "even"
    pins_alike: bool = True

    def __post_init__(self) -> None:
        """Refuse a lot of nothing."""
        if not self.channels or len(self.channels) != len(self.shows):
            raise ValueError(
                f"lot: {len(self.channels)} channels, {len(self.shows)} displays named; allowed is one display a channel, "
                "one channel or more; name them"
            )
        if self.spread not in ("even", "normal"):
            raise ValueError(f"spread {self.spread!r}; allowed are even, normal; choose one")


@record
class Percentiles:
    """How one figure is spread over a lot.

    Parameters
    ----------
    least : float
        Smallest met. [unit]
    p1 : float
        One in a hundred lies below. [unit]
    p50 : float
        Half lie below. [unit]
    p99 : float
        One in a hundred lies above. [unit]
    most : float
        Largest met. [unit]
    mean : float
        Mean of all. [unit]
    deviation : float
        Standard deviation of all. [unit]
    """

    least: float
    p1: float
    p50: float
    p99: float
    most: float
    mean: float
    deviation: float


@record
class LotYield:
    """Boards of a lot that turn out good.

    Parameters
    ----------
    boards : int
        Boards drawn. [1]
    white_share : float
        Boards with every white inside the window, as a share. [1]
    monotonic_share : float
        Boards on which every larger number is brighter. [1]
    inl_share : float
        Boards on which no level is off by more than a step. [1]
    mismatch_share : float
        Boards on which no display's colours differ by more than they may. [1]
    good_share : float
        Boards with all of these. [1]
    error_share : float
        Standard error of that share. [1]
    whites : Percentiles
        White of every channel. [V]
    linearities : Percentiles
        INL of every channel. [LSB]
    mismatches : Percentiles
        Largest less smallest white of a display over their mean, of every display. [1]
    """

    boards: int
    white_share: float
    monotonic_share: float
    inl_share: float
    mismatch_share: float
    good_share: float
    error_share: float
    whites: Percentiles
    linearities: Percentiles
    mismatches: Percentiles


def lot_of(plan: LevelPlan, spread: Spread = "even", *, pins_alike: bool = True) -> Lot:
    """The lot that a rig's level plan describes.

    Parameters
    ----------
    plan : LevelPlan
        Its channels, with every element's span.
    spread : {"even", "normal"}
        How values lie in their spans.
    pins_alike : bool
        Whether all pins of a board are alike.

    Returns
    -------
    Lot
        One channel for each of the plan's.

    Raises
    ------
    ValueError
        If the plan has no channel.
    """
    names = {name: number for number, name in enumerate(dict.fromkeys(c.display for c in plan.channels))}
    ordered = sorted(plan.channels, key=lambda c: names[c.display])
    return Lot(tuple(c.wiring for c in ordered), tuple(names[c.display] for c in ordered), spread, pins_alike)


def measure_yield(
    lot: Lot, boards: int = 100_000, seed: int = 1, window_v: tuple[float, float] | None = None
) -> LotYield:
    """Draw boards and count the good ones; the same seed always draws the same boards.

    Parameters
    ----------
    lot : Lot
        What the boards have in common.
    boards : int, optional
        How many to draw. [1]
    seed : int, optional
        Any number from 0. [1]
    window_v : tuple of float, optional
        Least and most white; absent: the handbook's window. [V]

    Returns
    -------
    LotYield
        Shares of good boards and how figures are spread. [1, V, LSB]

    Raises
    ------
    ValueError
        If the number of boards or the seed is out of its bounds.

    Notes
    -----
    Elements are independent but for the rail and, where `pins_alike`, the pins. Channels that share a pin count as
    alike, each with its own share of it.

    References
    ----------
    [monte-carlo] Share of good draws; its standard error is that of a binomial share.
    """
    return _run(lot, boards, seed, window_v, keep=False)[0]


def drawn_whites(lot: Lot, boards: int, seed: int = 1) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """White and INL of every channel of every board that `measure_yield` draws.

    Parameters
    ----------
    lot : Lot
        What the boards have in common.
    boards : int
        How many to draw. [1]
    seed : int, optional
        Any number from 0. [1]

    Returns
    -------
    tuple of ndarray of float, shape (boards, channels)
        White, and INL. [V, LSB]

    Raises
    ------
    ValueError
        If the number of boards or the seed is out of its bounds.

    References
    ----------
    [monte-carlo] As for `measure_yield`.
    """
    _, whites, linearities = _run(lot, boards, seed, None, keep=True)
    return whites, linearities


def _run(
    lot: Lot, boards: int, seed: int, window_v: tuple[float, float] | None, *, keep: bool
) -> tuple[LotYield, NDArray[np.float64], NDArray[np.float64]]:
    """Draw boards, count them and read the counts."""
    import numpy as np

    from scanloom.stages.levels.chance_kernel import run_boards

    if not (1 <= boards <= 1_000_000_000 and 0 <= seed < 1 << 63):
        raise ValueError(
            f"{boards} boards, seed {seed}; allowed are 1 to a thousand million, and 0 up to 2^63; give both"
        )
    window, inl, mismatch = limit("white"), limit("inl").high, limit("channel-mismatch").high
    low_v, high_v = window_v if window_v is not None else (window.low, window.high)
    assert inl is not None and mismatch is not None
    every = [wired_white(wiring) for wiring in lot.channels]
    edge = (max(span.high for span in every) - min(span.low for span in every)) * 0.01  # rounding may leave the corners
    ends = [(min(span.low for span in every) - edge, max(span.high for span in every) + edge)]
    ends += [(0.0, _MOST_INL), (0.0, _MOST_MISMATCH)]
    ranges = np.array([(low, high, BINS / max(high - low, 1e-30)) for low, high in ends])
    element: list[tuple[float, float, float]] = []
    start: list[int] = []
    for wiring in lot.channels:
        start.append(len(element))
        element += _elements(wiring)
    nets = [wiring.network for wiring in lot.channels]
    counts, bins = np.zeros(5, np.int64), np.zeros((3, BINS), np.int64)
    moments = np.array([(0.0, 0.0, math.inf, -math.inf)] * 3)
    kept = np.empty((boards if keep else 0, len(nets))), np.empty((boards if keep else 0, len(nets)))
    run_boards(
        np.uint64(seed), 0, boards, lot.spread == "normal", lot.pins_alike,
        np.array([_three(net.rail_v) for net in nets]), np.array([_three(net.pin_high_ohm) for net in nets]),
        np.array([_three(net.pin_low_ohm) for net in nets]), np.array(element), np.array(start),
        np.array([net.bits for net in nets]), np.array([net.style == "ladder" for net in nets]),
        np.array([0.0 if w.amplifier is None else w.amplifier.gain for w in lot.channels]), np.array(lot.shows),
        np.array([low_v, high_v, inl, mismatch / 100.0]), ranges, counts, moments, bins, *kept,
    )  # fmt: skip
    white, order, even, alike, good = [int(count) / boards for count in counts]
    whites, linearities, mismatches = [_percentiles(bins[at], moments[at], ranges[at]) for at in range(3)]
    error = math.sqrt(good * (1.0 - good) / boards)
    found = LotYield(boards, white, order, even, alike, good, error, whites, linearities, mismatches)
    return found, *kept


def _elements(wiring: ColourWiring) -> list[tuple[float, float, float]]:
    """Spans of a channel in the order that the kernel takes them."""
    net, amplifier = wiring.network, wiring.amplifier
    fixed = (
        net.load_ohm,
        net.shunt_ohm,
        net.terminator_ohm,
        None if amplifier is None else amplifier.back_ohm,
        None if amplifier is None else amplifier.load_ohm,
    )
    return [_ABSENT if span is None else _three(span) for span in (*fixed, *net.part_ohm, *net.rung_ohm)]


def _three(span: Span) -> tuple[float, float, float]:
    """Bounds of a span as the kernel takes them."""
    return span.low, span.typical, span.high


def _percentiles(bins: NDArray[np.int64], moments: NDArray[np.float64], ends: NDArray[np.float64]) -> Percentiles:
    """Percentiles read from counts, to a part in the number of bins of the range."""
    import numpy as np

    total = int(bins.sum())
    if not total:  # nothing that could differ: steps of a single bit, colours of a lone channel
        return Percentiles(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    below = np.concatenate([[0], np.cumsum(bins)]) / total
    edges = np.linspace(ends[0], ends[1], len(bins) + 1)
    least, most = float(moments[2]), float(moments[3])
    mean = float(moments[0]) / total
    deviation = math.sqrt(max(float(moments[1]) / total - mean * mean, 0.0))
    # a figure that is the same on every board has no place inside its bin
    p1, p50, p99 = [min(max(float(np.interp(share, below, edges)), least), most) for share in (0.01, 0.5, 0.99)]
    return Percentiles(least, p1, p50, p99, most, mean + float(ends[0]), deviation)
