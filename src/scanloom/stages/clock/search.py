"""Where in a table to look: the nearest rates without wobble, the least wobble among the others.

Floats say where to look and what to leave out, with a margin; what is compared is fractions.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import gcd
from typing import Final

from scanloom.basis.record import record
from scanloom.handbook.clock_chain import ClockStep
from scanloom.stages.clock.table import Bounds, RateTable, Way
from scanloom.stages.clock.wobble import pattern_peak_to_peak

_MARGIN: Final = 1e-9  # relative; some million times the rounding of the floats it covers


@record
class Row:
    """One setting: its rate, its wobble, and the settings themselves.

    Parameters
    ----------
    rate_hz : Fraction
        The rate. [Hz]
    wobble_px : Fraction
        Peak-to-peak error of pixel edges. [1]
    way : Way
        All steps but the solved one.
    value : Fraction
        Value of the solved step. [1]
    """

    rate_hz: Fraction
    wobble_px: Fraction
    way: Way
    value: Fraction


Rows = dict[Fraction, Row]
"""The best setting of each rate."""

_Reach = tuple[int, int, int, int]
"""Factors (low numerator, low denominator, high numerator, high denominator) that turn up / down of a way into bounds
of the solved value."""


def whole_rows(table: RateTable, target_hz: Fraction, ppm: int | None, limit: int) -> Rows:
    """Nearest rates without wobble.

    Parameters
    ----------
    table : RateTable
        The table.
    target_hz : Fraction
        The target. [Hz]
    ppm : int or None
        How far from it, below a million; none: any distance. [ppm]
    limit : int
        Rates wanted. [1]

    Returns
    -------
    dict of Row
        The `limit` nearest rates at their best settings, all there are if they are fewer, and perhaps some more.

    References
    ----------
    [cap] Derived: in one way each value gives its own rate, so that beyond `limit` values on one side of the target
    there are `limit` better rates.
    """
    reach = None if ppm is None else _reach(table, target_hz, ppm)
    divide = table.step.op == "divide"
    aim, at = float(target_hz), 1 / target_hz if divide else target_hz
    lattices: dict[int, list[tuple[int, int, int]]] = {}
    near: list[tuple[float, int, int, Way]] = []
    for up, down, way in _nearby(table, reach):
        if way.after not in lattices:
            lattices[way.after] = _lattices(table.step, way.after)
        for per, first, step in lattices[way.after]:
            if reach is not None:  # most ways end here: no number in reach
                low = -(-up * per * reach[0] // (down * reach[1]))
                high = up * per * reach[2] // (down * reach[3])
                if low > high:
                    continue
            least, most = _numbers(way.span, per)
            if reach is not None:
                least, most = max(least, low), min(most, high)
            middle = up * per * at.numerator // (down * at.denominator)
            least = max(least, min(middle, most) - limit * step)
            most = min(most, max(middle, least) + limit * step)
            for n in range(least + (first - least) % step, most + 1, step):
                rate = up * per / (down * n) if divide else down * n / (up * per)
                near.append((abs(rate - aim), n, per, way))
    near.sort(key=lambda item: item[0])
    rows: Rows = {}
    enough = float("inf")
    for distance, n, per, way in near:
        if distance > enough:
            break
        keep_best(table, rows, Row(_rate(way, n, per, divide=divide), Fraction(0), way, Fraction(n, per)))
        if enough == float("inf") and len(rows) >= limit:
            enough = distance + aim * _MARGIN
    return rows


def splitting_rows(table: RateTable, target_hz: Fraction, ppm: int, limit: int, *, inside: bool) -> Rows:
    """Rates with the least wobble among those with some.

    Parameters
    ----------
    table : RateTable
        Table of a chain with a splitting divider.
    target_hz : Fraction
        The target. [Hz]
    ppm : int
        Half width of the window round it, below a million. [ppm]
    limit : int
        Rates wanted. [1]
    inside : bool
        Whether to look inside the window, its ends included, or outside.

    Returns
    -------
    dict of Row
        The `limit` rates with the least wobble, all there are if they are fewer, and perhaps some more.

    References
    ----------
    [class] Derived: for one way and one fraction of a clock the wobble falls as the divider grows, so that beyond the
    `limit` largest dividers there are `limit` better rates.
    """
    reach, divide = _reach(table, target_hz, ppm), table.step.op == "divide"
    classes: dict[int, list[_Class]] = {}
    least_first: list[tuple[float, int, _Class, Way]] = []
    for up, down, way in _nearby(table, reach if inside else None):
        if way.after not in classes:
            classes[way.after] = _classes(table.step, way.after)
        for one in classes[way.after]:
            numbers = [
                n
                for low, high in _ranges(way.span, one.per, reach, up, down, inside=inside)
                for n in _largest(one, low, high, limit)
            ]
            if numbers:  # a pattern is walked only when it is wanted
                per_n = float(one.peak(way.after)) * one.per / way.after
                least_first += [(per_n / n, n, one, way) for n in numbers]
    least_first.sort(key=lambda item: item[0])
    rows: Rows = {}
    enough = float("inf")
    for wobble, n, one, way in least_first:
        if wobble > enough:
            break
        exact = one.peak(way.after) * one.per / (n * way.after)
        keep_best(table, rows, Row(_rate(way, n, one.per, divide=divide), exact, way, Fraction(n, one.per)))
        if enough == float("inf") and len(rows) >= limit:
            enough = wobble * (1 + _MARGIN)
    return rows


def keep_best(table: RateTable, rows: Rows, row: Row) -> None:
    """Note a row unless a better setting of its rate is noted.

    Parameters
    ----------
    table : RateTable
        The table the row is from.
    rows : dict of Row
        The best setting of each rate so far; changed in place.
    row : Row
        The row.

    References
    ----------
    [rank] Less wobble, then the higher system clock, then the smaller settings in the order of the chain.
    """
    old = rows.get(row.rate_hz)
    if old is None or _setting_rank(table, row) < _setting_rank(table, old):
        rows[row.rate_hz] = row


def _setting_rank(table: RateTable, row: Row) -> tuple[Fraction, Fraction, tuple[Fraction, ...]]:
    """Sorting key among settings of one rate, best first."""
    return row.wobble_px, -(table.system_hz(row.way, row.value) or Fraction(0)), table.values(row.way, row.value)


# --- where to look


def _reach(table: RateTable, target_hz: Fraction, ppm: int) -> _Reach:
    """Factors for the solved values whose rate lies at most so far from the target, both ends included."""
    low, high = target_hz * (1 - Fraction(ppm, 10**6)), target_hz * (1 + Fraction(ppm, 10**6))
    if table.step.op == "divide":
        low, high = 1 / high, 1 / low
    return low.numerator, low.denominator, high.numerator, high.denominator


def _nearby(table: RateTable, reach: _Reach | None) -> Sequence[tuple[int, int, Way]]:
    """Ways whose solved value may lie in reach, and a few more."""
    if reach is None or not table.rows:
        return table.rows
    low, high = reach[0] / reach[1], reach[2] / reach[3]
    if table.step.op == "divide":  # value = slope * factor
        first, last = table.lowest / high, table.highest / low
    else:  # value = factor / slope
        first, last = low / table.highest, high / table.lowest
    begin = bisect_left(table.slopes, first * (1 - _MARGIN))
    return table.rows[begin : bisect_right(table.slopes, last * (1 + _MARGIN))]


def _numbers(span: Bounds, per: int) -> tuple[int, int]:
    """First and last n with n / per inside a span."""
    return -(-span[0] * per // span[1]), span[2] * per // span[3]


def _ranges(span: Bounds, per: int, reach: _Reach, up: int, down: int, *, inside: bool) -> tuple[tuple[int, int], ...]:
    """Ranges of n inside the span and inside the reach, or inside the span and outside the reach."""
    least, most = _numbers(span, per)
    low = -(-up * per * reach[0] // (down * reach[1]))
    high = up * per * reach[2] // (down * reach[3])
    if inside:
        return ((max(least, low), min(most, high)),)
    return (least, min(most, low - 1)), (max(least, high + 1), most)


def _rate(way: Way, n: int, per: int, *, divide: bool) -> Fraction:
    """The rate of a way at a solved value of n / per."""
    return Fraction(way.up * per, way.down * n) if divide else Fraction(way.down * n, way.up * per)


# --- which values keep a pixel whole, and how far off the others are


def _lattices(step: ClockStep, after: int) -> list[tuple[int, int, int]]:
    """Values of the solved step that keep a pixel whole, each as (per, some n, step of n); spans do the rest."""
    if step.edges == "accumulator":
        return [(gcd(step.per, after), 0, 1)]
    if step.edges == "pattern":
        fits = [a for a in range(1, min(step.over, after) + 1) if after % a == 0]
        return [(a, 0, 1) for a in fits if not any(b > a and b % a == 0 for b in fits)]
    return [(step.per, step.first, step.step)]


@record
class _Class:
    """Values n / per with one fraction of a source clock left over: n = offset modulo stride.

    For an accumulator, offset is 0 and n holds no more of `part` than the stride: the remainders are the multiples of
    stride / part. For a pattern, part is 0 and the fraction is offset / per.
    """

    per: int
    offset: int
    stride: int
    part: int

    def peak(self, after: int) -> Fraction:
        """Peak-to-peak error of the edges in source clocks."""
        if self.part:
            return 1 - Fraction(self.stride, self.part)
        return pattern_peak_to_peak(self.offset, self.per, after)


def _classes(step: ClockStep, after: int) -> list[_Class]:
    """All classes of the solved step whose pixel is not whole."""
    if step.edges == "accumulator":
        part = step.per // gcd(step.per, after)
        return [_Class(step.per, 0, stride, part) for stride in range(1, part) if part % stride == 0]
    return [
        _Class(a, b, a, 0)
        for a in range(2, step.over + 1)
        if after % a
        for b in range(1, a)
        if gcd(a, b) == 1  # the same fraction with larger a strays at least as far
    ]


def _largest(one: _Class, low: int, high: int, limit: int) -> Iterator[int]:
    """The `limit` largest n of a class in a range."""
    found = 0
    for n in range(high - (high - one.offset) % one.stride, low - 1, -one.stride):
        if one.part and gcd(n, one.part) != one.stride:
            continue
        yield n
        found += 1
        if found == limit:
            return
