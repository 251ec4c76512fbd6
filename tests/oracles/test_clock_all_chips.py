"""Each clock chain of the later chips against trying all of its settings; limits are written down here again.

Limits of the PLL of the RP2350: its datasheet, section 8.6.3 (reference at least 5 MHz, feedback 16 to 320, VCO 750 to
1600 MHz), system clock at most 150 MHz; divider of the fast port 1 to 4 (two bits in public register headers). Of the
others from memory and public device bindings: `wifi240-lcd` n 2 to 256, b/a with a up to 63, m 1 to 64; `stm32f407` M
with 1 to 2 MHz after it, N 50 to 432, VCO 100 to 432 MHz, P 2, 4, 6, 8, at most 168 MHz, timer period from 4;
`stm32h743` M with 2 to 16 MHz after it, a word of 13 fraction bits from 4 to 512, VCO 192 to 836 MHz, R 1 to 128.

Where a space is not walked to its end, the rest is ruled out by a bound that the test works out.
"""

from __future__ import annotations

import itertools
import math
import random
from fractions import Fraction
from functools import cache

import numpy as np
import pytest
from clock_tried import (
    TARGETS,
    Ints,
    Tried,
    best_of,
    first_rows,
    recipe_result,
    seen,
    tried_pll,
    values_in_registers,
)

from scanloom.handbook.chips import chip
from scanloom.handbook.clock_chain import ClockChain
from scanloom.stages.clock import ClockCandidate, chains_for, enumerate_chains, enumerate_rates

EACH_TARGET = pytest.mark.parametrize("target", TARGETS, ids=lambda t: f"{float(t) / 1e6:.4f}")
H_TOTAL_PX = 800


def chains(name: str, stream: str) -> tuple[ClockChain, ...]:
    found = chains_for(chip(name), stream)
    assert found
    return found


def check_sums(listed: tuple[ClockChain, ...], answers: tuple[ClockCandidate, ...]) -> None:
    """Registers and recipe of every answer come to its rate and to its error."""
    for answer in answers:
        chain = next(chain for chain in listed if chain.name == answer.chain)
        rate = chain.reference / chain.fixed
        for step, value in zip(chain.steps, values_in_registers(chain, answer), strict=True):
            rate = rate * value if step.op == "multiply" else rate / value
        assert rate == answer.achieved_hz == recipe_result(answer.recipe)


def check_chain(chain: ClockChain, target: Fraction, expected: list[Tried], *, whole_only: bool) -> None:
    limit = len(expected)
    assert limit >= 8
    found = enumerate_rates(chain, target, h_total_px=H_TOTAL_PX, whole_only=whole_only, limit=limit)
    assert seen(found) == seen(expected)
    check_sums((chain,), found)
    for answer, row in zip(found, expected, strict=True):
        assert not row.values or values_in_registers(chain, answer) == row.values


def numbers(*values: float | Fraction) -> tuple[Fraction, ...]:
    return tuple(Fraction(int(value)) if not isinstance(value, Fraction) else value for value in values)


# --- rp2350a, rp2350b: state machines behind a 16.8 divider, and the fast port behind a whole one


@cache
def port_settings() -> Ints:
    """REFDIV, FBDIV, PD1, PD2 and the port's divider of each setting."""
    rows = [
        (ref, feedback, first, second, k)
        for ref, feedback, first, k in itertools.product((1, 2), range(16, 321), range(1, 8), range(1, 5))
        for second in range(1, first + 1)
        if 750 * ref <= 12 * feedback <= 1600 * ref and 12 * feedback <= 150 * ref * first * second
    ]
    return np.array(rows, dtype=np.int64)


@cache
def best_of_port(target: Fraction) -> list[Tried]:
    """The best of every PLL setting with every divider of the port."""
    settings = port_settings()
    ref, feedback, first, second, k = settings.T
    zero = np.zeros_like(ref)
    head = first_rows(12_000_000 * feedback, ref * first * second * k, zero, zero + 1, target, 24)
    tried = []
    for r, f, one, two, by in settings[head].tolist():
        system = Fraction(12_000_000 * f, r * one * two)
        tried.append(Tried(system / by, Fraction(0), system, numbers(r, f, one, two, by)))
    return best_of(tried, target, 24)


@cache
def best_of_machine(target: Fraction, limit: int, whole_only: bool) -> list[Tried]:
    return best_of(tried_pll(target, (0, 150_000_000), limit, whole_only=whole_only), target, limit)


@EACH_TARGET
def test_rp2350a_equals_trying_everything(target: Fraction) -> None:
    """40 rows reach the fractional dividers, 12 whole ones do not."""
    (machine,) = chains("rp2350a", "8 lanes")
    (port,) = chains("rp2350a", "8 lanes, fast port")
    check_chain(machine, target, best_of_machine(target, 40, False), whole_only=False)
    check_chain(machine, target, best_of_machine(target, 12, True), whole_only=True)
    check_chain(port, target, best_of_port(target), whole_only=False)
    check_chain(port, target, best_of_port(target)[:12], whole_only=True)


@EACH_TARGET
def test_rp2350b_equals_trying_everything(target: Fraction) -> None:
    """Each chain, and all at once as if no stream were chosen."""
    (machine,) = chains("rp2350b", "32 lanes")
    (port,) = chains("rp2350b", "8 lanes, fast port")
    check_chain(machine, target, best_of_machine(target, 40, False)[:8], whole_only=False)
    check_chain(port, target, best_of_port(target)[:8], whole_only=False)
    both = enumerate_chains((machine, port), target, h_total_px=H_TOTAL_PX, limit=20)
    everything = [*best_of_machine(target, 40, False), *best_of_port(target)]
    assert seen(both) == seen(best_of(everything, target, 20))
    check_sums((machine, port), both)


def test_every_stream_of_rp2350_has_a_chain() -> None:
    for name, row in itertools.product(("rp2350a", "rp2350b"), ("1 lane", "6 lanes", "16 lanes")):
        assert chains(name, row) == chains(name, "8 lanes")
    assert chains("rp2350b", "32 lanes") == chains("rp2350b", "8 lanes")


# --- wifi240-lcd: three sources through n + b/a and then m, 32,901,120 settings each

SOURCES_HZ = {"240 MHz source": 240_000_000, "160 MHz source": 160_000_000, "40 MHz source": 40_000_000}
MOST_M = 64


@cache
def dividers() -> tuple[Ints, Ints, Ints, np.ndarray]:
    """n a + b, a and b of every first divider, and its value, in rising order of value."""
    pairs = [(a, b) for a in range(1, 64) for b in range(a)]
    a, b = np.array(pairs, dtype=np.int64).T
    top = (np.arange(2, 257, dtype=np.int64)[:, None] * a + b).ravel()
    a, b = (np.broadcast_to(part, (255, len(pairs))).ravel() for part in (a, b))
    assert len(top) * MOST_M == 32_901_120
    order = np.argsort(top / a, kind="stable")
    return top[order], a[order], b[order], (top / a)[order]


@cache
def walked(m: int) -> Ints:
    """Peak-to-peak error of each m-th edge, times a: a walk through m periods of the order, for each a and b."""
    peaks = np.zeros((64, 64), dtype=np.int64)
    for a in range(1, 64):
        longer = []
        for b in range(a):
            few, common = (b, 0) if 2 * b <= a else (a - b, 1)
            order = ([common] * (a // few - 1) + [1 - common]) * few + [common] * (a % few) if few else [common] * a
            assert sum(order) == b
            longer.append(order)
        edges = np.zeros((a, a * m), dtype=np.int32)
        edges[:, 1:] = np.cumsum(np.tile(np.array(longer, dtype=np.int32), m), axis=1, dtype=np.int32)[:, :-1]
        errors = edges * a - np.arange(a, dtype=np.int32)[:, None] * np.arange(a * m, dtype=np.int32)
        peaks[a, :a] = np.ptp(errors.reshape(a, a, m), axis=1).max(axis=1)  # (b, which edge, where m starts)
    return peaks


@cache
def whole_pixels() -> dict[int, int]:
    """Source clocks of a pixel of all settings whose edges stray nowhere, each with the largest m that makes it."""
    found: dict[int, int] = {}
    top, a, b, _ = dividers()
    for m in range(1, MOST_M + 1):
        still = walked(m)[a, b] == 0
        assert not (top[still] * m % a[still]).any()  # so each of these pixels is a whole number of clocks
        found |= dict.fromkeys(np.unique(top[still] * m // a[still]).tolist(), m)
    return found


def best_of_source(source_hz: int, target: Fraction) -> tuple[list[Tried], list[Tried]]:
    """The best 30 of every setting within 0.6 % of the target and of all steady ones; the best 12 of the steady alone.

    What is left out lies further than 5000 ppm and wobbles, so that it ranks after thousands of steady rates.
    """
    top, a, b, value = dividers()
    clocks = source_hz / float(target)
    tried = []
    for m in range(1, MOST_M + 1):
        first, last = np.searchsorted(value, [clocks / m / 1.006, clocks / m * 1.006])
        peaks = walked(m)[a[first:last], b[first:last]]
        for t, part, peak in zip(top[first:last].tolist(), a[first:last].tolist(), peaks.tolist(), strict=True):
            rate, wobble = Fraction(source_hz * part, t * m), Fraction(peak, t * m)
            tried.append(Tried(rate, wobble, None, numbers(Fraction(t, part), m)))
    largest_m = whole_pixels()
    assert len(largest_m) > 5000
    for d in sorted(largest_m, key=lambda d: abs(source_hz / d - float(target)))[:60]:
        tried.append(Tried(Fraction(source_hz, d), Fraction(0), None, numbers(Fraction(d, largest_m[d]), largest_m[d])))
    return best_of(tried, target, 30), best_of([row for row in tried if row.wobble == 0], target, 12)


@pytest.mark.parametrize("target", [*TARGETS, Fraction(1_875_000)], ids=lambda t: f"{float(t) / 1e6:.4f}")
def test_display_unit_equals_trying_everything(target: Fraction) -> None:
    """The last target is 240 MHz / (2 x 64): low enough to reach the largest m."""
    listed = chains("wifi240-lcd", "16 lanes")
    assert {chain.name: chain.reference for chain in listed} == SOURCES_HZ
    everything: list[Tried] = []
    steady: list[Tried] = []
    for chain in listed:
        best, best_steady = best_of_source(SOURCES_HZ[chain.name], target)
        check_chain(chain, target, best, whole_only=False)
        check_chain(chain, target, best_steady, whole_only=True)
        everything += best
        steady += best_steady
    for tried, whole_only in ((everything, False), (steady, True)):
        found = enumerate_chains(listed, target, h_total_px=H_TOTAL_PX, whole_only=whole_only, limit=12)
        assert seen(found) == seen(best_of(tried, target, 12))
        check_sums(listed, found)
        assert all(row.noise_known for row in found)


def test_whole_dividers_alone_keep_a_pixel_whole() -> None:
    """Fractions that m makes whole again add pixel lengths only above 256 clocks, such as 257 = (4 + 5/63) x 63."""
    products = {n * m for n in range(2, 257) for m in range(1, 65)}
    more = set(whole_pixels()) - products
    assert products <= set(whole_pixels())
    assert min(more) == 257 == (4 + Fraction(5, 63)) * 63


# --- stm32f407: M, N, P, and a timer period


@cache
def timer_settings() -> Ints:
    """M, N, P of every PLL setting."""
    rows = [
        (m, n, p)
        for m, n, p in itertools.product(range(2, 64), range(50, 433), (2, 4, 6, 8))
        if m <= 8 <= 2 * m and 100 * m <= 8 * n <= 432 * m and 8 * n <= 168 * m * p
    ]
    return np.array(rows, dtype=np.int64)


@EACH_TARGET
def test_timer_equals_trying_everything(target: Fraction) -> None:
    """All PLL settings with periods from 4 to 64; at 168 MHz a longer one stays below 2.6 MHz, further than any row."""
    (chain,) = chains("stm32f407", "16 lanes")
    pll, periods = timer_settings(), np.arange(4, 65, dtype=np.int64)
    m, n, p = np.repeat(pll, len(periods), axis=0).T
    period = np.tile(periods, len(pll))
    zero = np.zeros_like(m)
    limit = 12
    tried = []
    for i in first_rows(8_000_000 * n, m * p * period, zero, zero + 1, target, limit):
        system = Fraction(8_000_000 * int(n[i]), int(m[i] * p[i]))
        tried.append(Tried(system / int(period[i]), Fraction(0), system, numbers(m[i], n[i], p[i], period[i])))
    best = best_of(tried, target, limit)
    assert target - Fraction(168_000_000, 65) > abs(best[-1].rate - target)
    check_chain(chain, target, best, whole_only=False)
    found = enumerate_chains((chain,), target, h_total_px=H_TOTAL_PX, limit=limit)
    assert found == enumerate_rates(chain, target, h_total_px=H_TOTAL_PX, limit=limit, whole_only=True)


# --- stm32h743: M, a word of 22 bits, R

CRYSTAL_HZ = 25_000_000
PER = 8192
WORDS = range(4 * PER, 512 * PER + PER)
MS = [m for m in range(1, 64) if 2_000_000 * m <= CRYSTAL_HZ <= 16_000_000 * m]
RS = range(1, 129)
H743_LIMIT = 8


def legal(words: Ints, m: int, r: int) -> Ints:
    """Words whose VCO and outcome lie within limits."""
    vco = CRYSTAL_HZ * words
    inside = (vco >= 192_000_000 * PER * m) & (vco <= 836_000_000 * PER * m) & (vco <= 150_000_000 * PER * m * r)
    return words[inside]


def words_around(target: Fraction, m: int, r: int, count: int) -> Ints:
    """`count` words on each side of the one that would hit the target, or those nearest to it that are legal.

    For one M and R the rate rises with the word, so no other word is among the `count` nearest.
    """
    least = max(WORDS.start, math.ceil(Fraction(192_000_000 * PER * m, CRYSTAL_HZ)))
    most = min(WORDS.stop - 1, 836_000_000 * PER * m // CRYSTAL_HZ, 150_000_000 * PER * m * r // CRYSTAL_HZ)
    below = math.floor(target * m * r * PER / CRYSTAL_HZ)
    first = max(min(below - count + 1, most - count + 1), least)
    last = min(max(below + count, least + count - 1), most)
    return np.arange(first, last + 1, dtype=np.int64)


def nearest(words: Ints, m: int, r: int, target: Fraction, count: int) -> Ints:
    """The nearest `count` words of many, in rising order, and all that are as near as the last."""
    if len(words) <= count:
        return words
    off: Ints = np.abs(CRYSTAL_HZ * target.denominator * words - target.numerator * PER * m * r)
    kept: Ints = words[off <= np.partition(off, count - 1)[count - 1]]
    return kept


@EACH_TARGET
def test_fractional_pll_equals_the_words_around_the_target(target: Fraction) -> None:
    """All M and R, 3.4e10 settings, each with the only words that can be among its nearest."""
    (chain,) = chains("stm32h743", "24 lanes")
    assert MS == list(range(2, 13))
    parts = [(words_around(target, m, r, H743_LIMIT), m, r) for m in MS for r in RS]
    words = np.concatenate([words for words, _, _ in parts])
    m, r = (np.repeat([part[i] for part in parts], [len(part[0]) for part in parts]) for i in (1, 2))
    zero = np.zeros_like(words)
    head = first_rows(CRYSTAL_HZ * words, PER * m * r, zero, zero + 1, target, H743_LIMIT, many=6000)
    tried = []  # of one rate up to 1,078 settings
    for n, up, down in zip(*(part[head].tolist() for part in (words, m, r)), strict=True):
        rate, values = Fraction(CRYSTAL_HZ * n, PER * up * down), numbers(up, Fraction(n, PER), down)
        tried.append(Tried(rate, Fraction(0), None, values))
    check_chain(chain, target, best_of(tried, target, H743_LIMIT), whole_only=False)
    found = enumerate_chains((chain,), target, h_total_px=H_TOTAL_PX, limit=H743_LIMIT)
    assert not any(row.noise_known for row in found)  # the dithered word adds noise that nobody has printed


@pytest.mark.parametrize(
    ("m", "r"), sorted([*random.Random(743).sample(list(itertools.product(MS, RS)), 6), (5, 8), (12, 128)])
)
def test_fractional_pll_word_by_word_on_a_slice(m: int, r: int) -> None:
    """One M and R with all 4,169,728 words: the bound above leaves nothing out, and the enumerator agrees."""
    (chain,) = chains("stm32h743", "24 lanes")
    assert len(WORDS) == 4_169_728
    up, word, down = chain.steps
    fixed = (up.model_copy(update={"first": m, "last": m}), word, down.model_copy(update={"first": r, "last": r}))
    sliced = chain.model_copy(update={"steps": fixed})
    words = legal(np.arange(WORDS.start, WORDS.stop, dtype=np.int64), m, r)
    for target in TARGETS:
        best = nearest(words, m, r, target, H743_LIMIT)
        assert set(best.tolist()) <= set(words_around(target, m, r, H743_LIMIT).tolist())
        exact = target * m * r * PER / CRYSTAL_HZ
        (first, *_) = nearest(words, m, r, target, 1) if len(words) else (None,)
        if len(words) and words[0] <= exact <= words[-1]:
            assert first in (math.floor(exact), math.ceil(exact))
        tried = [Tried(Fraction(CRYSTAL_HZ * int(n), PER * m * r), Fraction(0), None, ()) for n in best]
        found = enumerate_rates(sliced, target, h_total_px=H_TOTAL_PX, limit=H743_LIMIT)
        assert seen(found) == seen(best_of(tried, target, H743_LIMIT))
