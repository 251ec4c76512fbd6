"""Edges of fractional dividers put one by one on source clocks, and measured; the formulas must say the same.

The dividers are built from their description (an adder that carries; a list of intervals), not from the formulas.
"""

from __future__ import annotations

from fractions import Fraction
from math import gcd

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scanloom.stages.clock.wobble import lines_repeat_after, pattern_intervals, pattern_peak_to_peak, wobble_px

FEW = settings(derandomize=True, max_examples=80, deadline=None)


def carry_intervals(n: int, per: int, count: int) -> list[int]:
    """Intervals of a divider by n / per: whole part counted down, fraction added up, a carry adds a clock."""
    whole, fraction = divmod(n, per)
    rest, out = 0, []
    for _ in range(count):
        rest += fraction
        out.append(whole + (rest >= per))
        rest %= per
    return out


def order_as_described(whole: int, b: int, a: int) -> list[int]:
    """z times (x times N, then N + 1), then y times N; above one half the two lengths change places."""
    if b == 0:
        return [whole] * a
    few, one, other = (b, whole + 1, whole) if 2 * b <= a else (a - b, whole, whole + 1)
    z, y = few, a % few
    x = a // few - 1
    return ([other] * x + [one]) * z + [other] * y


def measured_spread(intervals: list[int], after: int, start: int) -> Fraction:
    """Peak-to-peak error of each `after`-th edge against even spacing, over a common period, in source clocks."""
    mean = Fraction(sum(intervals), len(intervals)) * after
    edges = [0]
    for interval in intervals * (after + 1) * 2:
        edges.append(edges[-1] + interval)
    used = edges[start::after][: len(intervals) + 1]
    errors = [edge - k * mean for k, edge in enumerate(used)]
    return max(errors) - min(errors)


def measured_repeat(intervals: list[int], after: int, h_total_px: int) -> int:
    """Least number of lines after which all pixel lengths come again."""
    period = len(intervals)
    edges = [0]
    for interval in intervals * (after + 1):
        edges.append(edges[-1] + interval)
    pixels = [edges[(k + 1) * after] - edges[k * after] for k in range(period)]  # comes again after `period` pixels
    for lines in range(1, period + 1):
        shift = lines * h_total_px
        if all(pixels[k] == pixels[(k + shift) % period] for k in range(period)):
            return lines
    raise AssertionError("a periodic list of pixels must come again")


@given(
    per=st.sampled_from([2, 3, 7, 12, 64, 256]),
    whole=st.integers(1, 40),
    part=st.integers(0, 255),
    after=st.integers(1, 6),
    h_total_px=st.sampled_from([1, 3, 424, 800, 832, 858, 1056, 1344]),
)
@FEW
def test_accumulator_measures_as_computed(per: int, whole: int, part: int, after: int, h_total_px: int) -> None:
    """Peak-to-peak (1 - 1/q) / D and repetition after denominator(h_total D) lines, for D after a whole divide too."""
    n = whole * per + part % per
    d = Fraction(n, per) * after
    intervals = carry_intervals(n, per, per)
    assert measured_spread(intervals, after, 0) / d == wobble_px(d)
    assert measured_repeat(intervals, after, h_total_px) == lines_repeat_after(d, h_total_px)


@given(data=st.data(), a=st.integers(2, 63), whole=st.integers(1, 9), after=st.integers(1, 6))
@FEW
def test_pattern_measures_as_computed(data: st.DataObject, a: int, whole: int, after: int) -> None:
    """The walked pattern, literal b and a: the worst start over all starts, and the same repetition law."""
    b = data.draw(st.integers(0, a - 1))
    intervals = order_as_described(whole, b, a)
    assert sum(intervals) == a * whole + b
    assert sorted(pattern_intervals(whole, b, a)) == sorted(intervals)
    worst = max(measured_spread(intervals, after, start) for start in range(gcd(a, after)))
    assert pattern_peak_to_peak(b, a, after) == worst
    if gcd(a, b) == 1:  # with larger registers for the same fraction the order comes again later
        d = Fraction(a * whole + b, a) * after
        assert measured_repeat(intervals, after, 800) == lines_repeat_after(d, 800)


def test_pattern_starting_elsewhere_strays_no_further() -> None:
    """Every start a following divider can have is covered, not only the first few."""
    for b, a, after in [(8, 45, 2), (21, 62, 2), (13, 60, 4), (5, 6, 3), (7, 30, 6)]:
        intervals = order_as_described(3, b, a)
        assert pattern_peak_to_peak(b, a, after) == max(measured_spread(intervals, after, s) for s in range(a))


@pytest.mark.parametrize(
    ("source_hz", "n", "h_total_px", "wobble", "repeat"),
    [
        (125_000_000, 4 * 256 + 247, 800, 0.2006, 8),  # timing reference 7a: 3971.875 clocks a line, 8-line wobble
        (125_000_000, 3 * 256 + 32, 1056, 0.28, 1),  # 3300 clocks exactly: columns uneven, no wobble from line to line
        (133_000_000, 5 * 256 + 72, 800, 0.1834, 1),  # a fraction that is a multiple of 8/256 on 800 pixels
        (133_000_000, 5 * 256 + 71, 800, 0.1887, 8),
        (12_000_000, 4 * 256, 800, 0.0, 1),  # a whole divider has neither
    ],
)
def test_examples_of_the_reference(source_hz: int, n: int, h_total_px: int, wobble: float, repeat: int) -> None:
    """Worked cases of the project's timing reference, section 7 (own derivation there, no outside source)."""
    d = Fraction(n, 256)
    assert round(float(wobble_px(d)), 4) == wobble
    assert lines_repeat_after(d, h_total_px) == repeat
    intervals = carry_intervals(n, 256, 256)
    assert measured_spread(intervals, 1, 0) / d == wobble_px(d)
    assert measured_repeat(intervals, 1, h_total_px) == repeat
    assert source_hz / d > 0


@pytest.mark.parametrize("h_total_px", [800, 1056])
def test_multiples_of_eight_in_256_repeat_every_line(h_total_px: int) -> None:
    """The reference's rule of thumb for /256 dividers holds, and no other fraction repeats."""
    for part in range(256):
        assert (lines_repeat_after(Fraction(5 * 256 + part, 256), h_total_px) == 1) == (part % 8 == 0)


@pytest.mark.parametrize(
    ("b", "a", "clocks"),
    [(8, 45, 1.6), (47, 57, 1.9), (34, 63, 2.8), (2, 9, 0.89), (21, 62, 7.1)],
)
def test_pattern_figures_of_the_reference(b: int, a: int, clocks: float) -> None:
    """Timing reference 7b: all five figures reproduce, in source clocks and with each edge used."""
    digits = 2 if clocks < 1 else 1
    assert round(float(pattern_peak_to_peak(b, a)), digits) == clocks


def test_worst_pattern_and_share_above_one_clock() -> None:
    """21/62 (and its mirror 41/62) is the worst of all a up to 63; 65 % of the (a, b) pairs stray over one clock."""
    pairs = [(pattern_peak_to_peak(b, a), b, a) for a in range(2, 64) for b in range(1, a)]
    worst = max(pairs)[0]
    assert {(b, a) for peak, b, a in pairs if peak == worst} == {(21, 62), (41, 62)}
    assert round(100 * sum(peak > 1 for peak, _, _ in pairs) / len(pairs)) == 65


def test_reduced_fraction_strays_least() -> None:
    """The enumerator tries b/a in lowest terms only: larger registers for the same fraction never stray less."""
    for a in range(2, 64):
        for b in range(1, a):
            common = gcd(a, b)
            if common > 1:
                for after in (1, 2, 3, 4, 6):
                    assert pattern_peak_to_peak(b // common, a // common, after) <= pattern_peak_to_peak(b, a, after)


def test_refusals_name_what_to_do() -> None:
    """Broken preconditions are refused in words."""
    with pytest.raises(ValueError, match="0 source clocks"):
        wobble_px(Fraction(0))
    with pytest.raises(ValueError, match="give the horizontal total"):
        lines_repeat_after(Fraction(4), 0)
    with pytest.raises(ValueError, match="b from 0 to a - 1"):
        pattern_intervals(3, 5, 5)
    with pytest.raises(ValueError, match="each 0th edge"):
        pattern_peak_to_peak(1, 5, 0)
