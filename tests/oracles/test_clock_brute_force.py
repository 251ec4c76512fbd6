"""The enumerator against trying everything: whole divider spaces of the handbook's chains, and small chains at random.

Nothing here uses the enumerator's table, windows or classes. Small chains are tried setting by setting in fractions,
with edges put on source clocks one by one. Large ones are tried in 64-bit integers: all numerators and denominators
stay below 2**53, so that their float quotients are correctly rounded and equal fractions are equal floats; the first
rows by float are then sorted again as fractions.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from functools import cache
from math import prod
from typing import Any

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
from hypothesis import given, settings
from hypothesis import strategies as st

from scanloom.handbook.clock_chain import ClockChain, ClockStep
from scanloom.stages.clock.enumerate import best_rate, enumerate_chains, enumerate_rates

WORD = {"register_first": 0, "per": 65536, "first": 4 * 65536, "last": 4 * 65536 + 2**22 - 1, "edges": "sigma-delta"}


def chain_rp2040() -> ClockChain:
    """12 MHz, PLL, 16.8 divider (RP2040 datasheet, PLL and PIO chapters; limits from memory)."""
    return ClockChain(
        name="system PLL and 16.8 divider",
        reference_hz=Decimal(12_000_000),
        source="rp2040-datasheet",
        place="PLL and PIO chapters",
        steps=(
            ClockStep(name="REFDIV", op="divide", first=1, last=2, low_hz=Decimal(5_000_000)),
            ClockStep(
                name="FBDIV",
                op="multiply",
                first=16,
                last=320,
                low_hz=Decimal(750_000_000),
                high_hz=Decimal(1_600_000_000),
            ),
            ClockStep(name="PD1", op="divide", first=1, last=7),
            ClockStep(name="PD2", op="divide", first=1, last=7, most="PD1", rated=True, high_hz=Decimal(133_000_000)),
            ClockStep(name="divider", op="divide", first=256, last=65536 * 256, per=256, edges="accumulator"),
        ),
    )


def chain_audio(fixed: int) -> ClockChain:
    """40 MHz, 22-bit word, 2 (od + 2), unit divider (recalled; class values)."""
    word = ClockStep.model_validate(
        {"name": "sdm", "op": "multiply", "low_hz": 350_000_000, "high_hz": 500_000_000} | WORD
    )
    return ClockChain(
        name=f"audio PLL, fixed {fixed}",
        reference_hz=Decimal(40_000_000),
        source="recalled",
        place="class value",
        fixed=fixed,
        steps=(
            word,
            ClockStep(
                name="odiv",
                op="divide",
                first=4,
                last=66,
                step=2,
                register_first=0,
                low_hz=Decimal(16_000_000),
                high_hz=Decimal(125_000_000),
            ),
            ClockStep(name="unit divider", op="divide", first=2, last=255),
        ),
    )


def chain_fixed(fixed: int) -> ClockChain:
    """160 MHz through N + b/a (recalled; order of edges from later chips)."""
    return ClockChain(
        name=f"fixed 160 MHz, fixed {fixed}",
        reference_hz=Decimal(160_000_000),
        source="recalled",
        place="class value",
        fixed=fixed,
        steps=(
            ClockStep(
                name="unit divider", op="divide", first=2, last=255, over=63, edges="pattern", edges_published=False
            ),
        ),
    )


def chain_timer() -> ClockChain:
    """8 MHz, M / N / P, timer divide: another family, with windows on the reference and the VCO (recalled)."""
    return ClockChain(
        name="M N P and timer",
        reference_hz=Decimal(8_000_000),
        source="recalled",
        place="class value",
        steps=(
            ClockStep(name="M", op="divide", first=2, last=63, low_hz=Decimal(1_000_000), high_hz=Decimal(2_000_000)),
            ClockStep(
                name="N", op="multiply", first=50, last=432, low_hz=Decimal(100_000_000), high_hz=Decimal(432_000_000)
            ),
            ClockStep(name="P", op="divide", first=2, last=8, step=2, rated=True, high_hz=Decimal(168_000_000)),
            ClockStep(name="timer", op="divide", first=1, last=65536),
        ),
    )


# --- rp2040: every PLL setting, every divider value within 2 %, every whole one within a factor of 3


@pytest.mark.parametrize("target", TARGETS, ids=lambda t: f"{float(t) / 1e6:.4f}")
def test_rp2040_equals_trying_everything(target: Fraction) -> None:
    """First rows, and deep enough to reach the fractional dividers; the rated range and a raised one."""
    chain = chain_rp2040()
    for system_hz, limit, whole_only in [
        (None, 40, False),
        (None, 12, True),
        ((100_000_000, 200_000_000), 24, False),
        ((125_000_000, 125_000_000), 5, False),
    ]:
        tried = tried_pll(target, system_hz or (0, 133_000_000), limit, whole_only=whole_only)
        found = enumerate_rates(chain, target, h_total_px=800, system_hz=system_hz, whole_only=whole_only, limit=limit)
        assert seen(found) == seen(best_of(tried, target, limit)), (system_hz, limit, whole_only)
        assert len(found) == limit
    deep = enumerate_rates(chain, target, h_total_px=800, limit=40)
    assert enumerate_rates(chain, target, h_total_px=800) == deep[:8]
    assert best_rate(chain, target, h_total_px=800) == deep[0]


def test_rp2040_deep_rows_do_reach_fractional_dividers() -> None:
    """The comparison above is not only about whole dividers."""
    rows = enumerate_rates(chain_rp2040(), 65_000_000, h_total_px=1344, limit=40)
    assert {row.wobble_px > 0 for row in rows} == {True, False}


# --- wifi240, 22-bit word: every word, every output divider, every unit divider that comes near


@cache
def legal_words() -> Ints:
    """All 245,761 multipliers (times 65536) whose numerator lies in 350 to 500 MHz."""
    n = np.arange(4 * 65536, 4 * 65536 + 2**22, dtype=np.int64)
    rate = 40_000_000 * n
    return n[(rate >= 350_000_000 * 65536) & (rate <= 500_000_000 * 65536)]


def tried_audio(target: Fraction, fixed: int, limit: int, near: float) -> list[Tried]:
    """The nearest rates of every (od, N) that reaches within `near` of the target, out of all words."""
    assert len(legal_words()) == 245_761
    tried = []
    for od, unit in itertools.product(range(32), range(2, 256)):
        output, total = 2 * (od + 2), 2 * (od + 2) * unit * fixed
        if not 350e6 / total / (1 + near) <= target <= 500e6 / total / (1 - near):
            continue
        n = legal_words()
        n = n[(40_000_000 * n >= 16_000_000 * 65536 * output) & (40_000_000 * n <= 125_000_000 * 65536 * output)]
        off = np.abs(40_000_000 * target.denominator * n - target.numerator * total * 65536)
        count = min(len(n), limit + 2)
        nearest = np.argpartition(off, count - 1)[:count] if count else off
        tried += [
            Tried(Fraction(40_000_000 * int(n[i]), 65536 * total), Fraction(0), None, (Fraction(int(n[i])),))
            for i in nearest
        ]
    return tried


@pytest.mark.parametrize("fixed", [1, 2])
@pytest.mark.parametrize("target", TARGETS, ids=lambda t: f"{float(t) / 1e6:.4f}")
def test_audio_chain_equals_trying_every_word(target: Fraction, fixed: int) -> None:
    """All words for all dividers that come within 1 %, or as near as any come; what is further ranks after."""
    limit = 8
    found = enumerate_rates(chain_audio(fixed), target, h_total_px=800, limit=limit)
    for near in (0.01, 0.1, 0.3, 0.7):
        expected = best_of(tried_audio(target, fixed, limit, near), target, limit)
        if len(expected) == limit and abs(expected[-1].rate / target - 1) <= near:
            break
    else:
        raise AssertionError("the oracle found too few rates")
    assert seen(found) == seen(expected)


# --- wifi240, fixed source through N + b/a: all N, all a, all b, in lowest terms or not


@cache
def pattern_table(fixed: int) -> tuple[Ints, ...]:
    """N a + b, a and peak-to-peak times a of every setting; the patterns are walked as described."""
    peaks = []
    for a in range(1, 64):
        for b in range(a):
            few, common = (b, 0) if 2 * b <= a else (a - b, 1)
            ones = [common] * a if few == 0 else ([common] * (a // few - 1) + [1 - common]) * few + [common] * (a % few)
            edges = np.concatenate([[0], np.cumsum(ones * fixed)]) * a - np.arange(a * fixed + 1) * b
            peaks.append((a, b, max(int(np.ptp(edges[start::fixed])) for start in range(fixed))))
    a, b, peak = np.array(peaks, dtype=np.int64).T
    whole = np.arange(2, 256, dtype=np.int64)[:, None]
    return (
        (whole * a + b).ravel(),
        np.broadcast_to(a, (254, len(a))).ravel(),
        np.broadcast_to(peak, (254, len(a))).ravel(),
    )


@pytest.mark.parametrize("fixed", [1, 2])
@pytest.mark.parametrize("target", TARGETS, ids=lambda t: f"{float(t) / 1e6:.4f}")
def test_fixed_chain_equals_trying_every_fraction(target: Fraction, fixed: int) -> None:
    """512,064 settings: values equal in lowest terms or not, the least wobble of each rate counts."""
    n, a, peak = pattern_table(fixed)
    num, den = 160_000_000 * a, n * fixed
    head = first_rows(num, den, peak, n * fixed, target, 30, many=4500)  # 63 ways to write a whole number
    tried = [
        Tried(Fraction(int(num[i]), int(den[i])), Fraction(int(peak[i]), int(n[i]) * fixed), None, ()) for i in head
    ]
    found = enumerate_rates(chain_fixed(fixed), target, h_total_px=800, limit=30)
    assert seen(found) == seen(best_of(tried, target, 30))
    assert enumerate_rates(chain_fixed(fixed), target, h_total_px=800) == found[:8]


# --- another family: M / N / P and a whole timer divide


@pytest.mark.parametrize("target", TARGETS, ids=lambda t: f"{float(t) / 1e6:.4f}")
def test_timer_chain_equals_trying_everything(target: Fraction) -> None:
    """All PLL settings and all timer periods from 1 to 40; longer ones fall 30 % short of every target here."""
    sys_num, sys_den = [], []
    for m, n, p in itertools.product(range(2, 64), range(50, 433), (2, 4, 6, 8)):
        if m * 1 <= 8 <= m * 2 and 100 * m <= 8 * n <= 432 * m and 8 * n <= 168 * m * p:
            sys_num.append(8_000_000 * n)
            sys_den.append(m * p)
    k = np.arange(1, 41, dtype=np.int64)[:, None]
    num = np.broadcast_to(np.array(sys_num, dtype=np.int64), (40, len(sys_num))).ravel()
    system_den = np.broadcast_to(np.array(sys_den, dtype=np.int64), (40, len(sys_den))).ravel()
    den = (np.array(sys_den, dtype=np.int64) * k).ravel()
    zero = np.zeros_like(num)
    head = first_rows(num, den, zero, zero + 1, target, 8)
    tried = [
        Tried(Fraction(int(num[i]), int(den[i])), Fraction(0), Fraction(int(num[i]), int(system_den[i])), ())
        for i in head
    ]
    found = enumerate_rates(chain_timer(), target, h_total_px=800, limit=8)
    assert seen(found) == seen(best_of(tried, target, 8))


# --- chains at random, small enough to try every setting as fractions


@cache
def spread_of(edges_are: str, whole: int, b: int, a: int, after: int) -> Fraction:
    """Peak-to-peak error in source clocks of each `after`-th edge, edges put on clocks one by one."""
    if edges_are == "accumulator":
        ones = [(k + 1) * b // a - k * b // a for k in range(a)]
    else:
        few, common = (b, 0) if 2 * b <= a else (a - b, 1)
        ones = [common] * a if few == 0 else ([common] * (a // few - 1) + [1 - common]) * few + [common] * (a % few)
    edges = list(itertools.accumulate([whole + one for one in ones] * after, initial=0))
    mean, spread = Fraction(edges[-1], a), Fraction(0)  # a pixels fill `after` periods
    for start in range(after):
        errors = [edge - k * mean for k, edge in enumerate(edges[start::after])]
        spread = max(spread, max(errors) - min(errors))
    return spread


def every_setting(chain: ClockChain, system_hz: tuple[int, int] | None) -> Iterator[Tried]:
    """Every setting of a chain, limits and windows read off the steps one by one."""
    choices: list[list[tuple[Fraction, int, int, int]]] = []
    for step in chain.steps:
        if step.edges == "pattern":
            wholes = range(step.first, step.last + 1)
            choices.append(
                [(n + Fraction(b, a), n, b, a) for n in wholes for a in range(1, step.over + 1) for b in range(a)]
            )
        else:
            numbers = range(step.first, step.last + 1, step.step)
            choices.append([(Fraction(n, step.per), n // step.per, n % step.per, step.per) for n in numbers])
    names = [step.name for step in chain.steps]
    for setting in itertools.product(*choices):
        rate, system, after, split = Fraction(chain.reference_hz), None, chain.fixed, None
        for step, choice in zip(chain.steps, setting, strict=True):
            value = choice[0]
            if step.most is not None and value > setting[names.index(step.most)][0]:
                break
            rate = rate * value if step.op == "multiply" else rate / value
            low, high = step.low_hz, step.high_hz
            if step.rated:
                system = rate
                if system_hz is not None:
                    low, high = Decimal(system_hz[0]), Decimal(system_hz[1])
            if (low is not None and rate < Fraction(low)) or (high is not None and rate > Fraction(high)):
                break
            if step.edges in ("accumulator", "pattern"):
                split = step, choice
            elif split is not None:
                after *= int(value)
        else:
            wobble = Fraction(0)
            if split is not None:
                step, (value, whole, b, a) = split
                wobble = spread_of(step.edges, whole, b, a, after) / (value * after)
            yield Tried(rate / chain.fixed, wobble, system, tuple(choice[0] for choice in setting))


@st.composite
def small_chains(draw: st.DrawFn) -> ClockChain:
    """Chains of up to four steps with every feature, some of them unable to make any rate."""
    count = draw(st.integers(1, 4))
    splitting = draw(st.one_of(st.none(), st.integers(0, count - 1)))
    rated = draw(st.one_of(st.none(), st.integers(0, count - 1)))
    steps: list[dict[str, Any]] = []
    for i in range(count):
        first, stride = draw(st.integers(1, 5)), draw(st.integers(1, 2))
        step: dict[str, Any] = {"name": f"s{i}", "op": draw(st.sampled_from(["multiply", "divide"])), "first": first}
        step |= {"step": stride, "last": first + stride * draw(st.integers(0, 2)), "rated": i == rated}
        if i == splitting:
            kind = draw(st.sampled_from(["accumulator", "pattern"]))
            step |= {"op": "divide", "step": 1, "edges": kind}
            if kind == "accumulator":  # now and then so long that 0.5 % hold a dozen values
                first += draw(st.sampled_from([0, 0, 500]))
                step |= {"per": draw(st.integers(2, 8)), "first": first, "last": first + draw(st.integers(0, 24))}
            else:
                step |= {"over": draw(st.integers(2, 7)), "last": first + draw(st.integers(0, 2))}
        elif splitting is not None and i > splitting:
            step["op"] = "divide"
        elif step["op"] == "multiply" and draw(st.booleans()):
            step |= {"per": draw(st.integers(2, 5)), "edges": "sigma-delta"}
        if step.get("edges") != "pattern" and draw(st.booleans()):
            step["register_first"] = draw(st.integers(0, 2))
        if i and draw(st.integers(0, 3)) == 0:
            step["most"] = f"s{draw(st.integers(0, i - 1))}"
        for key in ("low_hz", "high_hz"):
            if draw(st.integers(0, 6)) == 0:
                step[key] = draw(st.integers(20, 900)) if key == "low_hz" else draw(st.integers(900, 9000))
        steps.append(step)
    return ClockChain.model_validate(
        {
            "name": "any",
            "reference_hz": draw(st.integers(60, 2000)),
            "source": "recalled",
            "place": "none",
            "fixed": draw(st.sampled_from([1, 1, 2, 3])),
            "steps": steps,
        }
    )


def clocks_per_pixel(chain: ClockChain, values: tuple[Fraction, ...]) -> Fraction:
    """Source clocks a pixel lasts: the divider that splits clocks and all that divides after it."""
    kinds = [step.edges for step in chain.steps]
    at = next((i for i, kind in enumerate(kinds) if kind in ("accumulator", "pattern")), None)
    return Fraction(1) if at is None else chain.fixed * prod(values[at:], start=Fraction(1))


@given(
    chain=small_chains(),
    place=st.tuples(st.integers(20, 900), st.integers(1, 7)),
    offset=st.sampled_from([-6000, -5000, -900, 0, 1, 4999, 5000, 20_000]),
    limit=st.integers(1, 14),
    whole_only=st.booleans(),
    system=st.one_of(st.none(), st.tuples(st.integers(0, 900), st.integers(0, 5000))),
    on_a_rate=st.booleans(),
)
@settings(derandomize=True, max_examples=500, deadline=None)
def test_any_small_chain_equals_trying_everything(
    chain: ClockChain,
    place: tuple[int, int],
    offset: int,
    limit: int,
    whole_only: bool,
    system: tuple[int, int] | None,
    on_a_rate: bool,
) -> None:
    """Rates, wobble, system clock and settings, on and beside what the chain makes, at the edge of 5000 ppm too."""
    system_hz = None if system is None else (system[0], system[0] + system[1])
    tried = list(every_setting(chain, system_hz))
    if whole_only:
        tried = [row for row in tried if row.wobble == 0]
    target = Fraction(*place)
    if on_a_rate and tried:
        target = tried[place[0] % len(tried)].rate / (1 + Fraction(offset, 10**6))
    expected = best_of(tried, target, limit)
    found = enumerate_rates(chain, target, h_total_px=100, system_hz=system_hz, whole_only=whole_only, limit=limit)
    assert seen(found) == seen(expected)
    for candidate, row in zip(found, expected, strict=True):
        assert values_in_registers(chain, candidate) == row.values
        assert recipe_result(candidate.recipe) == row.rate
        assert candidate.error_ppm == (row.rate / target - 1) * 10**6
        assert candidate.within == (abs(candidate.error_ppm) <= 5000)
        assert candidate.lines_repeat_after == (100 * clocks_per_pixel(chain, row.values)).denominator


@pytest.mark.parametrize("shift", range(8))
@pytest.mark.parametrize("limit", [1, 2, 4, 5, 6, 7, 9, 30])
def test_one_long_accumulator_equals_trying_everything(shift: int, limit: int) -> None:
    """One way and sevenths of a clock: 5000 ppm hold five or six values, at most one of them whole; ends count."""
    chain = ClockChain.model_validate(
        {
            "name": "any",
            "reference_hz": 9000,
            "source": "recalled",
            "place": "none",
            "steps": [{"name": "s", "op": "divide", "first": 480, "last": 530, "per": 7, "edges": "accumulator"}],
        }
    )
    target = Fraction(9000 * 7, 501 + shift)
    tried = list(every_setting(chain, None))
    for place in (target, target * Fraction(1005, 1000), target / Fraction(995, 1000)):
        found = enumerate_rates(chain, place, h_total_px=100, limit=limit)
        assert seen(found) == seen(best_of(tried, place, limit))


@given(chains=st.lists(small_chains(), min_size=1, max_size=3), target=st.integers(20, 900), limit=st.integers(1, 9))
@settings(derandomize=True, max_examples=60, deadline=None)
def test_several_chains_equal_trying_all_of_them(chains: list[ClockChain], target: int, limit: int) -> None:
    """Several chains merge as if they were one list."""
    tried = [row for chain in chains for row in every_setting(chain, None)]
    found = enumerate_chains(chains, target, h_total_px=100, limit=limit)
    assert seen(found) == seen(best_of(tried, Fraction(target), limit))


def one_divide(name: str, reference_hz: int, by: int, *, rated: bool = False, edges: str = "whole") -> ClockChain:
    """A chain that makes one rate: a multiply by 1 (2 / 2 where it is dithered), then a divide."""
    dithered = edges == "sigma-delta"
    first = {"name": "up", "op": "multiply", "first": 2, "last": 2, "per": 2, "edges": edges} if dithered else None
    steps = [first] if first else []
    steps.append({"name": "source", "op": "divide", "first": 1, "last": 1, "rated": rated})
    steps.append({"name": "divider", "op": "divide", "first": by, "last": by})
    return ClockChain.model_validate(
        {"name": name, "reference_hz": reference_hz, "source": "recalled", "place": "none", "steps": steps}
    )


@pytest.mark.parametrize("turned", [False, True])
def test_same_rate_of_several_chains_is_shown_once(turned: bool) -> None:
    """The highest system clock first, then a source whose noise is known, then the earlier chain."""

    def shown(*chains: ClockChain) -> list[str]:
        ordered = reversed(chains) if turned else chains
        return [row.chain for row in enumerate_chains(ordered, 100, h_total_px=800)]

    low, high = one_divide("low", 400, 4, rated=True), one_divide("high", 900, 9, rated=True)
    apart, dithered = one_divide("apart", 500, 5), one_divide("dithered", 600, 6, edges="sigma-delta")
    assert shown(low, high) == ["high"]
    assert shown(apart, low) == ["low"]
    assert shown(apart, dithered) == ["apart"]
    assert shown(one_divide("a", 300, 3), one_divide("b", 700, 7)) == ["b" if turned else "a"]
