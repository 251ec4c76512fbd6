"""How far the edges of a fractional divider stray, and after how many lines they stray alike again."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from math import gcd


def wobble_px(clocks_per_pixel: Fraction) -> Fraction:
    """Peak-to-peak error of pixel edges that an accumulator divider puts on source clocks.

    Parameters
    ----------
    clocks_per_pixel : Fraction
        Source clocks a pixel lasts, D = p/q in lowest terms. [1]

    Returns
    -------
    Fraction
        Peak-to-peak error in pixels, (1 - 1/q) / D; 0 for a whole D. [1]

    Raises
    ------
    ValueError
        If D is not above 0.

    Examples
    --------
    >>> wobble_px(Fraction(4)), wobble_px(Fraction(25, 8))
    (Fraction(0, 1), Fraction(7, 25))

    References
    ----------
    [accumulator] Derived: edge k falls at floor(k D); the remainders k p mod q of D = p/q take every value 0 ... q - 1.
    """
    d = _above_zero(clocks_per_pixel)
    return (1 - Fraction(1, d.denominator)) / d


def lines_repeat_after(clocks_per_pixel: Fraction, h_total_px: int) -> int:
    """Lines until the edges fall on source clocks as they did before.

    Parameters
    ----------
    clocks_per_pixel : Fraction
        Source clocks a pixel lasts, D. [1]
    h_total_px : int
        Pixels of a whole line, blanking included. [1]

    Returns
    -------
    int
        The denominator of h_total D: 1 when each line repeats the one before, uneven columns and all. [1]

    Raises
    ------
    ValueError
        If D or the line is not above 0.

    Examples
    --------
    >>> lines_repeat_after(Fraction(4 * 256 + 247, 256), 800), lines_repeat_after(Fraction(25, 8), 1056)
    (8, 1)

    References
    ----------
    [accumulator] Derived: intervals between edges repeat after q pixels and not before, so whole lines after
    q / gcd(q, h_total).
    """
    d = _above_zero(clocks_per_pixel)
    if h_total_px < 1:
        raise ValueError(f"line of {h_total_px} pixels: allowed is 1 and more; give the horizontal total")
    return (h_total_px * d).denominator


def pattern_intervals(whole: int, b: int, a: int) -> tuple[int, ...]:
    """Intervals of one period of a divider by N + b/a, in the published order.

    Parameters
    ----------
    whole : int
        The whole part N. [1]
    b : int
        Numerator of the fraction, below a. [1]
    a : int
        Denominator of the fraction: intervals in a period. [1]

    Returns
    -------
    tuple of int
        Source clocks of each interval: z times (x times N, then N + 1), then y times N; for b above a/2 mirrored: z
        times (N, then x times N + 1), then y times N + 1. [1]

    Raises
    ------
    ValueError
        If b/a is not a fraction below 1, or N is below 1.

    Examples
    --------
    >>> pattern_intervals(2, 2, 5), pattern_intervals(2, 3, 5)
    ((2, 3, 2, 3, 2), (2, 3, 2, 3, 3))

    References
    ----------
    [pattern] Register descriptions of the fractional dividers (yn1, x, y, z) in later chips of the wifi240 class, from
    memory; the order of the first generation is not published.
    """
    if whole < 1 or not 0 <= b < a:
        raise ValueError(f"divider {whole} + {b}/{a}: allowed is N from 1 and b from 0 to a - 1; give such numbers")
    short, long = (whole,), (whole + 1,)
    if b == 0:
        return short * a
    if 2 * b <= a:
        return (short * (a // b - 1) + long) * b + short * (a % b)
    z = a - b
    return (short + long * (a // z - 1)) * z + long * (a % z)


@lru_cache(maxsize=8192)
def pattern_peak_to_peak(b: int, a: int, every: int = 1) -> Fraction:
    """Peak-to-peak error of a patterned divider's edges.

    Parameters
    ----------
    b : int
        Numerator of the fraction in N + b/a; N itself does not matter. [1]
    a : int
        Denominator of the fraction. [1]
    every : int
        Only each so-manieth edge is used, as by a whole divider that follows. [1]

    Returns
    -------
    Fraction
        Peak-to-peak error in source clocks, for the worst of the edges at which that divider may start. [1]

    Raises
    ------
    ValueError
        If b/a is not a fraction below 1, or `every` is below 1.

    Examples
    --------
    >>> pattern_peak_to_peak(2, 9), pattern_peak_to_peak(1, 2, every=2)
    (Fraction(8, 9), Fraction(0, 1))

    References
    ----------
    [pattern] Derived by walking one period of `pattern_intervals`; not (1 - 1/a), for the order is not evenly spread.
    """
    if every < 1:
        raise ValueError(f"each {every}th edge: allowed is 1 and more; give the whole divide that follows")
    errors, error = [], 0
    for interval in pattern_intervals(1, b, a):
        errors.append(error)
        error += a * (interval - 1) - b  # a times (interval - mean), so that it stays whole
    starts = gcd(every, a)
    spreads = (max(errors[start::starts]) - min(errors[start::starts]) for start in range(starts))
    return Fraction(max(spreads), a)


def _above_zero(clocks_per_pixel: Fraction) -> Fraction:
    """The number of clocks a pixel lasts, refused when it is none."""
    if clocks_per_pixel <= 0:
        raise ValueError(
            f"pixel of {clocks_per_pixel} source clocks: allowed is above 0; give source rate over pixel rate"
        )
    return Fraction(clocks_per_pixel)
