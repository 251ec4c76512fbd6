"""Rows of the project's chip clock table for the chips without an audio PLL: nearest steady clock, error, recipe.

The table was computed for the project by another program; no outside source. Each row's recipe is worked out again
here, and what the chip's record makes must be the same clock or a nearer one. It is nearer where the table had tried
fewer settings: its `stm32f407` rows know only 1 MHz behind M, its `stm32h743` rows only 5 MHz behind M and one word
for each R. Rows without such a comment are equal to the last printed digit, system clock included.
"""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

import pytest

from scanloom.handbook.chips import chip
from scanloom.stages.clock import chains_for, enumerate_chains

MHZ = 10**6


class Row(NamedTuple):
    """A row as printed, its recipe as a fraction, and the nearer clock that the table misses."""

    target: str  # MHz
    nearest: str  # MHz, five decimals at most
    error: str  # ppm, one decimal
    within: bool  # within 0.5 %
    system: Fraction | None  # MHz
    divide: int
    better: Fraction | None = None  # MHz


def rp2350(feedback: int, ref: int, first: int, second: int) -> Fraction:
    """12 MHz / ref x feedback / (first x second)."""
    return Fraction(12 * feedback, ref * first * second)


def f407(n: int) -> Fraction:
    """1 MHz x n / 2."""
    return Fraction(n, 2)


def h743(whole: int, part: int) -> Fraction:
    """5 MHz x (whole + part/8192): the VCO, no system clock."""
    return 5 * (whole + Fraction(part, 8192))


# fmt: off
ROWS = {
    "rp2350a": [
        Row("12.5875", "12.58929", "141.9", True, rp2350(235, 2, 7, 2), 8),
        Row("25.175", "25.17857", "141.9", True, rp2350(235, 2, 7, 2), 4),
        Row("31.5", "31.5", "0.0", True, rp2350(63, 1, 3, 2), 4),
        Row("20.0", "20.0", "0.0", True, rp2350(70, 1, 3, 2), 7),
        Row("36.0", "36.0", "0.0", True, rp2350(72, 1, 3, 2), 4),
        Row("40.0", "40.0", "0.0", True, rp2350(70, 1, 7, 1), 3),
        Row("32.5", "32.5", "0.0", True, rp2350(65, 1, 3, 2), 4),
        Row("65.0", "65.0", "0.0", True, rp2350(65, 1, 3, 2), 2),
    ],
    "wifi240-lcd": [
        Row("12.5875", "12.63158", "3501.8", True, Fraction(240), 19),
        Row("25.175", "24.0", "-46673.3", False, Fraction(240), 10),
        Row("31.5", "32.0", "15873.0", False, Fraction(160), 5),
        Row("20.0", "20.0", "0.0", True, Fraction(40), 2),
        Row("36.0", "34.28571", "-47619.0", False, Fraction(240), 7),
        Row("40.0", "40.0", "0.0", True, Fraction(160), 4),
        Row("32.5", "32.0", "-15384.6", False, Fraction(160), 5),
        Row("65.0", "60.0", "-76923.1", False, Fraction(240), 4),
    ],
    "stm32f407": [
        # 8 MHz / 5 x 236 / 6 = 62.933 MHz, / 5: 66 ppm instead of 271, out of a reference of 1.6 MHz
        Row("12.5875", "12.59091", "270.8", True, f407(277), 11, better=Fraction(8 * 236, 5 * 6 * 5)),
        Row("25.175", "25.16667", "-331.0", True, f407(302), 6),
        Row("31.5", "31.5", "0.0", True, f407(315), 5),
        Row("20.0", "20.0", "0.0", True, f407(320), 8),
        Row("36.0", "36.0", "0.0", True, f407(288), 4),
        Row("40.0", "40.0", "0.0", True, f407(320), 4),
        Row("32.5", "32.5", "0.0", True, f407(325), 5),
        Row("65.0", "42.0", "-353846.2", False, f407(336), 4),
    ],
    "stm32h743": [
        # a multiple of 1/8192 that is the target exactly: 25.175 x 25 / 5 = 125 + 7168/8192
        Row("12.5875", "12.58751", "0.7", True, h743(40, 2294), 16, better=h743(62, 7680) / 25),
        Row("25.175", "25.17502", "0.7", True, h743(40, 2294), 8, better=h743(125, 7168) / 25),
        # R = 5 times whole numbers: 31.5 x 10 = 5 x 63, 36 x 10 = 5 x 72
        Row("31.5", "31.49998", "-0.6", True, h743(44, 819), 7, better=h743(63, 0) / 10),
        Row("20.0", "20.0", "0.0", True, h743(40, 0), 10),
        Row("36.0", "35.99996", "-1.1", True, h743(43, 1638), 6, better=h743(72, 0) / 10),
        Row("40.0", "40.0", "0.0", True, h743(40, 0), 5),
        Row("32.5", "32.5", "0.0", True, h743(39, 0), 6),
        Row("65.0", "65.0", "0.0", True, h743(39, 0), 3),
    ],
}
# fmt: on
STREAM = {"rp2350a": "8 lanes", "wifi240-lcd": "16 lanes", "stm32f407": "16 lanes", "stm32h743": "24 lanes"}
EACH = pytest.mark.parametrize(
    ("name", "row"), [(name, row) for name, rows in ROWS.items() for row in rows], ids=lambda part: str(part)[:24]
)


def megahertz(rate: Fraction) -> str:
    """As the table prints it: five decimals, closing zeros left out."""
    whole, _, part = f"{float(rate):.5f}".partition(".")
    return f"{whole}.{part.rstrip('0') or '0'}"


@EACH
def test_each_row_is_what_its_recipe_makes(name: str, row: Row) -> None:
    assert row.system is not None
    made, target = row.system / row.divide, Fraction(row.target)
    assert (megahertz(made), f"{float((made / target - 1) * 10**6):.1f}") == (row.nearest, row.error)
    assert row.within == (abs(made / target - 1) <= Fraction(5, 1000))
    if row.better is not None:
        assert abs(row.better - target) < abs(made - target)


@EACH
def test_the_nearest_steady_clock_is_the_row_or_nearer(name: str, row: Row) -> None:
    assert row.system is not None
    target = Fraction(row.target)
    listed = chains_for(chip(name), STREAM[name])
    (best,) = enumerate_chains(listed, target * MHZ, h_total_px=800, whole_only=True, limit=1)
    made = row.system / row.divide if row.better is None else row.better
    assert best.achieved_hz == made * MHZ
    assert best.within == row.within
    assert best.wobble_px == 0
    if name in ("rp2350a", "stm32f407") and row.better is None:
        assert best.system_hz == row.system * MHZ


# Section 7c of the project's timing notes, 8 MHz: nearest clocks of M, N, P and a whole period, in ppm. Two of its rows
# are left out: 74.25 MHz and 21.477 (+196) come from periods below 4, which DMA to a port does not keep up with.
@pytest.mark.parametrize(("target", "ppm"), [("25.175", -331), ("28.322", -71), ("31.5", 0), ("36", 0), ("40", 0)])
def test_other_clocks_of_the_timer(target: str, ppm: int) -> None:
    wanted = Fraction(target) * MHZ
    (best,) = enumerate_chains(chains_for(chip("stm32f407"), None), wanted, h_total_px=800, limit=1)
    assert round(best.ppm) == ppm


# Section 7a of the same notes: a system clock of 150 MHz at most reaches 74.25 MHz with a whole divider of 2.
def test_the_150_mhz_part_makes_74_25_mhz_at_two_clocks_a_pixel() -> None:
    (best,) = enumerate_chains(chains_for(chip("rp2350a"), "8 lanes"), 74_250_000, h_total_px=1650, limit=1)
    assert best.achieved_hz == 74_250_000
    assert best.system_hz == 148_500_000
    assert best.wobble_px == 0
