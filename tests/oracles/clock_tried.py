"""What oracles of the clock share: ranking of settings tried one by one, and a chain's answer read back.

Nothing here uses the enumerator's table, windows or classes.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from scanloom.handbook.clock_chain import ClockChain
from scanloom.stages.clock.model import ClockCandidate

TARGETS = [
    Fraction(25_175_000),
    Fraction(25_200_000),
    Fraction(28_322_000),
    Fraction(31_500_000),
    Fraction(36_000_000),
    Fraction(40_000_000),
    Fraction(65_000_000),
    Fraction(74_250_000),
    Fraction(236_250_000, 11),  # six times the colour subcarrier of 315/88 MHz, written 21.477
    Fraction(12_587_500),
    Fraction(20_000_000),
    Fraction(33_750_000),
    Fraction(49_500_000),
    Fraction(6_250_000),
]
Ints = npt.NDArray[np.int64]


class Tried(NamedTuple):
    """One setting as the oracle tried it."""

    rate: Fraction
    wobble: Fraction
    system: Fraction | None
    values: tuple[Fraction, ...]


def best_of(tried: list[Tried], target: Fraction, limit: int) -> list[Tried]:
    """Within 5000 ppm, wobble, distance, system clock; one row a rate; all as fractions."""

    def key(row: Tried) -> tuple[Any, ...]:
        distance = abs(row.rate - target)
        return 200 * distance > target, row.wobble, distance, -(row.system or 0), row.rate, row.values

    best: dict[Fraction, Tried] = {}
    for row in sorted(tried, key=key):
        best.setdefault(row.rate, row)
    return list(best.values())[:limit]


def seen(rows: list[Tried] | tuple[ClockCandidate, ...]) -> list[tuple[Fraction, Fraction, Fraction | None]]:
    """Rate, wobble and system clock of rows from either side."""
    return [
        (row.rate, row.wobble, row.system)
        if isinstance(row, Tried)
        else (row.achieved_hz, row.wobble_px, row.system_hz)
        for row in rows
    ]


def first_rows(num: Ints, den: Ints, w_num: Ints, w_den: Ints, target: Fraction, limit: int, many: int = 1500) -> Ints:
    """Indices that hold the best `limit` rates for certain: many more rows than that, by correctly rounded floats."""
    off = np.abs(num * target.denominator - den * target.numerator)
    outside = off * 200 > den * target.numerator
    assert max(num.max() * target.denominator, den.max() * target.numerator) < 2**53
    order = np.lexsort((off / den, w_num / w_den, outside))[:many]
    # Rows left out rank after those of `limit` rates, with half the head between for settings that tie.
    assert len(order) < many or len({Fraction(int(num[i]), int(den[i])) for i in order[: many // 2]}) >= limit
    return order


@cache
def pll_settings() -> Ints:
    """All (numerator, denominator) of a system clock from a 12 MHz crystal, whatever a chip may run at."""
    rows = [
        (12_000_000 * feedback, ref * first * second)
        for ref in (1, 2)
        for feedback in range(16, 321)
        for first in range(1, 8)
        for second in range(1, first + 1)
        if 12 / ref >= 5 and 750 * ref <= 12 * feedback <= 1600 * ref
    ]
    return np.array(rows, dtype=np.int64)


def tried_pll(target: Fraction, system_hz: tuple[int, int], limit: int, *, whole_only: bool) -> list[Tried]:
    """All PLL settings in the range, every 16.8 divider value within 2 %, every whole one within a factor of 3."""
    pll = pll_settings()
    pll = pll[(pll[:, 0] >= system_hz[0] * pll[:, 1]) & (pll[:, 0] <= system_hz[1] * pll[:, 1])]
    ratio = pll[:, 0] / pll[:, 1] / float(target)
    numbers, owners = [], []
    spans = [(256, 1 / 3, 3.0)] if whole_only else [(256, 1 / 3, 3.0), (1, 0.98, 1.02)]
    for stride, least, most in spans:
        first = np.ceil(ratio * least * 256 / stride).astype(np.int64)
        last = np.floor(ratio * most * 256 / stride).astype(np.int64)
        counts = np.maximum(last - first + 1, 0)
        owner = np.repeat(np.arange(len(pll)), counts)
        within = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
        numbers.append((first[owner] + within) * stride)
        owners.append(owner)
    n, owner = np.concatenate(numbers), np.concatenate(owners)
    legal = (n >= 256) & (n <= 65536 * 256)
    n, owner = n[legal], owner[legal]
    q = 256 // np.gcd(n, 256)
    num, den = pll[owner, 0] * 256, pll[owner, 1] * n
    head = first_rows(num, den, (q - 1) * 256, q * n, target, limit)
    return [
        Tried(
            Fraction(int(num[i]), int(den[i])),
            Fraction(int((q[i] - 1) * 256), int(q[i] * n[i])),
            Fraction(int(pll[owner[i], 0]), int(pll[owner[i], 1])),
            (),
        )
        for i in head
    ]


def values_in_registers(chain: ClockChain, candidate: ClockCandidate) -> tuple[Fraction, ...]:
    """Step values read back from what the candidate would write."""
    values = []
    for step, (name, written) in zip(chain.steps, candidate.settings, strict=True):
        assert name == step.name
        if step.register_first is not None:
            assert isinstance(written, int)
            values.append(Fraction(step.first + step.step * (written - step.register_first), step.per))
        else:
            whole, _, part = str(written).partition("+")
            values.append(int(whole) + Fraction(part or 0))
    return tuple(values)


def recipe_result(recipe: str) -> Fraction:
    """The sum a recipe spells out, worked out from left to right."""
    tokens = re.findall(r"[\d.]+|[x/()+]", re.sub(r"= [\d.]+ [kM]Hz,", "", recipe))
    scale = 10**6 if re.match(r"[\d.]+ MHz", recipe) else 10**3

    def product() -> Fraction:
        value = factor()
        while tokens and tokens[0] in "x/":
            value = value * factor() if tokens.pop(0) == "x" else value / factor()
        return value

    def factor() -> Fraction:
        token = tokens.pop(0)
        if token != "(":
            return Fraction(token)
        value = product()
        while tokens.pop(0) == "+":
            value += product()
        return value

    result = product()
    assert not tokens
    return result * scale
