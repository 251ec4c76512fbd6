"""Rows of the project's timing and chip tables for the 12 MHz PLL chain and the `wifi240` chains.

Tables: `clocks.csv` and `clock_table.csv` of the project's reference data (computed there by another program; no
outside source). A row gives the rate nearest the target by the rule of its own table. Where our ranking puts another
row first, the test says which and why:

* whole rows of `clocks.csv` show any system clock that gives the rate; ours the highest rated one;
* its fractional rows take the least error whatever the wobble; ours the least wobble within 5000 ppm;
* its `audio` rows try total divides of 1, 2, 4, 2 .. 16 even; our chain has every whole unit divider from 2;
* `clock_table.csv` stops its 8 and 16/24 lanes at planning rates, ours at what the chain can make;
* its pattern rows give the wobble of evenly spread edges; ours walks the published order of later chips.
"""

from __future__ import annotations

import tomllib
from fractions import Fraction

import pytest

from scanloom.handbook.clock_chain import ClockChain
from scanloom.stages.clock.enumerate import best_rate, enumerate_rates
from scanloom.stages.clock.model import ClockCandidate
from scanloom.stages.clock.wobble import wobble_px

CHAINS = """
[[clock]]
name = "system PLL and 16.8 divider"
reference_hz = 12_000_000
source = "rp2040-datasheet"
place = "PLL and PIO chapters"
steps = [
    { name = "REFDIV", op = "divide", first = 1, last = 2, low_hz = 5_000_000 },
    { name = "FBDIV", op = "multiply", first = 16, last = 320, low_hz = 750_000_000, high_hz = 1_600_000_000 },
    { name = "PD1", op = "divide", first = 1, last = 7 },
    { name = "PD2", op = "divide", first = 1, last = 7, most = "PD1", rated = true, high_hz = 133_000_000 },
    { name = "divider", op = "divide", first = 256, last = 16_777_216, per = 256, edges = "accumulator" },
]
[[clock]]
name = "audio PLL"
reference_hz = 40_000_000
source = "recalled"
place = "class value"
steps = [
    { name = "sdm", op = "multiply", first = 262_144, last = 4_456_447, per = 65_536, register_first = 0, \
edges = "sigma-delta", low_hz = 350_000_000, high_hz = 500_000_000 },
    { name = "odiv", op = "divide", first = 4, last = 66, step = 2, register_first = 0, \
low_hz = 16_000_000, high_hz = 125_000_000 },
    { name = "unit divider", op = "divide", first = 2, last = 255 },
]
[[clock]]
name = "fixed 160 MHz, 16 lanes"
reference_hz = 160_000_000
source = "recalled"
place = "class value"
fixed = 2
steps = [
    { name = "unit divider", op = "divide", first = 2, last = 255, over = 63, edges = "pattern", \
edges_published = false },
]
"""
PLL, AUDIO_8, FIXED_16 = (ClockChain.model_validate(chain) for chain in tomllib.loads(CHAINS)["clock"])
AUDIO_16 = AUDIO_8.model_copy(update={"fixed": 2})


# fmt: off
WHOLE = [
    ("25.175", "50.357143", "25.1785714", "141.86"),
    ("25.2", "25.200000", "25.2000000", "0.00"),
    ("28.322", "56.640000", "28.3200000", "-70.62"),
    ("31.5", "31.500000", "31.5000000", "0.00"),
    ("36.0", "36.000000", "36.0000000", "0.00"),
    ("40.0", "40.000000", "40.0000000", "0.00"),
    ("21.477", "42.960000", "21.4800000", "126.98"),
    ("49.5", "49.500000", "49.5000000", "0.00"),
    ("65.0", "65.000000", "65.0000000", "0.00"),
    ("74.25", "74.250000", "74.2500000", "0.00"),
    ("12.5875", "50.357143", "12.5892857", "141.86"),
    ("20.0", "20.000000", "20.0000000", "0.00"),
]
MOVED = [
    ("25.175", 2, 155, 7, 1, 5, 71, "25.1750026", "0.105", "0.1887"),
    ("25.2", 1, 126, 4, 3, 5, 0, "25.2000000", "0.000", "0.0000"),
    ("28.322", 2, 137, 5, 2, 2, 231, "28.3219381", "-2.186", "0.3432"),
    ("31.5", 1, 126, 4, 3, 4, 0, "31.5000000", "0.000", "0.0000"),
    ("36.0", 1, 126, 7, 2, 3, 0, "36.0000000", "0.000", "0.0000"),
    ("40.0", 1, 120, 4, 3, 3, 0, "40.0000000", "0.000", "0.0000"),
    ("21.477", 2, 143, 7, 1, 5, 181, "21.4772661", "-0.310", "0.1745"),
    ("49.5", 1, 132, 4, 4, 2, 0, "49.5000000", "0.000", "0.0000"),
    ("65.0", 1, 130, 4, 3, 2, 0, "65.0000000", "0.000", "0.0000"),
    ("74.25", 1, 99, 4, 4, 1, 0, "74.2500000", "0.000", "0.0000"),
    ("12.5875", 2, 155, 7, 1, 10, 142, "12.5875013", "0.105", "0.0940"),
    ("20.0", 1, 120, 4, 3, 6, 0, "20.0000000", "0.000", "0.0000"),
]
STANDING = [
    (125, "25.175", 4, 247, "25.1770260", "80.475", "0.2006"),
    (125, "25.2", 4, 246, "25.1968504", "-124.984", "0.2000"),
    (125, "28.322", 4, 106, "28.3185841", "-120.610", "0.2248"),
    (125, "31.5", 3, 248, "31.4960630", "-124.984", "0.2441"),
    (125, "36.0", 3, 121, "35.9955006", "-124.984", "0.2868"),
    (125, "40.0", 3, 32, "40.0000000", "0.000", "0.2800"),
    (125, "21.477", 5, 210, "21.4765101", "-35.510", "0.1705"),
    (125, "49.5", 2, 134, "49.5356037", "719.267", "0.3932"),
    (125, "65.0", 1, 236, "65.0406504", "625.391", "0.5122"),
    (125, "74.25", 1, 175, "74.2459397", "-54.685", "0.5916"),
    (125, "12.5875", 9, 238, "12.5885130", "80.475", "0.0999"),
    (125, "20.0", 6, 64, "20.0000000", "0.000", "0.1200"),
    (133, "25.175", 5, 72, "25.1834320", "334.934", "0.1834"),
    (133, "25.2", 5, 71, "25.2020725", "82.244", "0.1887"),
    (133, "28.322", 4, 178, "28.3261231", "145.580", "0.2113"),
    (133, "31.5", 4, 57, "31.4967623", "-102.785", "0.2359"),
    (133, "36.0", 3, 178, "35.9915433", "-234.907", "0.2685"),
    (133, "40.0", 3, 83, "40.0094007", "235.018", "0.2996"),
    (133, "21.477", 6, 49, "21.4813880", "191.611", "0.1609"),
    (133, "49.5", 2, 176, "49.4883721", "-234.907", "0.3488"),
    (133, "65.0", 2, 12, "64.9770992", "-352.319", "0.4809"),
    (133, "74.25", 1, 203, "74.1786492", "-960.953", "0.5556"),
    (133, "12.5875", 10, 145, "12.5870610", "-34.876", "0.0943"),
    (133, "20.0", 6, 166, "20.0047004", "235.018", "0.1492"),
]
HIGHEST = [
    (133, "12.5875", "12.58929", "141.9", 2, 235, 7, 2, 8),
    (133, "25.175", "25.17857", "141.9", 2, 235, 7, 2, 4),
    (133, "31.5", "31.5", "0.0", 1, 63, 3, 2, 4),
    (133, "20.0", "20.0", "0.0", 1, 70, 7, 1, 6),
    (133, "36.0", "36.0", "0.0", 1, 63, 7, 1, 3),
    (133, "40.0", "40.0", "0.0", 1, 70, 7, 1, 3),
    (133, "32.5", "32.5", "0.0", 1, 65, 3, 2, 4),
    (133, "65.0", "65.0", "0.0", 1, 65, 3, 2, 2),
    (200, "12.5875", "12.58929", "141.9", 2, 235, 4, 2, 14),
    (200, "25.175", "25.17857", "141.9", 2, 235, 4, 2, 7),
    (200, "31.5", "31.5", "0.0", 1, 63, 2, 2, 6),
    (200, "20.0", "20.0", "0.0", 1, 100, 3, 2, 10),
    (200, "36.0", "36.0", "0.0", 1, 75, 5, 1, 5),
    (200, "40.0", "40.0", "0.0", 1, 100, 3, 2, 5),
    (200, "32.5", "32.5", "0.0", 1, 65, 2, 2, 6),
    (200, "65.0", "65.0", "0.0", 1, 65, 2, 2, 3),
]
AUDIO = [
    ("direct", "25.175", 7, 7, 84, 41, 1, "25.1750014", "0.0539"),
    ("direct", "25.2", 6, 6, 20, 123, 1, "25.2000046", "0.1817"),
    ("direct", "28.322", 6, 7, 84, 44, 1, "28.3219910", "-0.3189"),
    ("direct", "31.5", 4, 5, 115, 51, 1, "31.4999898", "-0.3229"),
    ("direct", "36.0", 3, 5, 0, 0, 1, "36.0000000", "0.0000"),
    ("direct", "40.0", 3, 6, 0, 0, 1, "40.0000000", "0.0000"),
    ("direct", "21.477", 9, 7, 208, 0, 1, "21.4772727", "0.0000"),
    ("direct", "49.5", 3, 8, 96, 0, 1, "49.5000000", "0.0000"),
    ("direct", "65.0", 1, 5, 192, 0, 1, "65.0000000", "0.0000"),
    ("direct", "74.25", 1, 7, 35, 51, 1, "74.2499797", "-0.2740"),
    ("direct", "12.5875", 16, 7, 84, 41, 1, "12.5875007", "0.0539"),
    ("direct", "20.0", 7, 5, 0, 0, 1, "20.0000000", "0.0000"),
    ("halved", "25.175", 2, 6, 17, 236, 2, "25.1750183", "0.7273"),
    ("halved", "25.2", 2, 6, 20, 123, 2, "25.2000046", "0.1817"),
    ("halved", "28.322", 2, 7, 84, 44, 2, "28.3219910", "-0.3189"),
    ("halved", "31.5", 1, 5, 115, 51, 2, "31.4999898", "-0.3229"),
    ("halved", "36.0", 1, 6, 204, 205, 2, "36.0000102", "0.2826"),
    ("halved", "40.0", 1, 8, 0, 0, 2, "40.0000000", "0.0000"),
    ("halved", "21.477", 3, 6, 189, 23, 2, "21.4772644", "-0.3875"),
    ("halved", "49.5", 0, 5, 230, 102, 2, "49.4999695", "-0.6165"),
    ("halved", "12.5875", 7, 7, 84, 41, 2, "12.5875007", "0.0539"),
    ("halved", "20.0", 3, 6, 0, 0, 2, "20.0000000", "0.0000"),
    ("quartered", "25.175", 0, 6, 17, 236, 4, "25.1750183", "0.7273"),
    ("quartered", "25.2", 0, 6, 20, 123, 4, "25.2000046", "0.1817"),
    ("quartered", "28.322", 0, 7, 84, 44, 4, "28.3219910", "-0.3189"),
    ("quartered", "12.5875", 2, 6, 17, 236, 4, "12.5875092", "0.7273"),
    ("quartered", "20.0", 1, 8, 0, 0, 4, "20.0000000", "0.0000"),
    ("even", "25.175", 2, 6, 17, 236, 2, "25.1750183", "0.7273"),
    ("even", "25.2", 2, 6, 20, 123, 2, "25.2000046", "0.1817"),
    ("even", "28.322", 2, 7, 84, 44, 2, "28.3219910", "-0.3189"),
    ("even", "31.5", 1, 5, 115, 51, 2, "31.4999898", "-0.3229"),
    ("even", "36.0", 1, 6, 204, 205, 2, "36.0000102", "0.2826"),
    ("even", "40.0", 1, 8, 0, 0, 2, "40.0000000", "0.0000"),
    ("even", "21.477", 3, 6, 189, 23, 2, "21.4772644", "-0.3875"),
    ("even", "49.5", 0, 5, 230, 102, 2, "49.4999695", "-0.6165"),
    ("even", "12.5875", 7, 7, 84, 41, 2, "12.5875007", "0.0539"),
    ("even", "20.0", 3, 6, 0, 0, 2, "20.0000000", "0.0000"),
]
LANES = [
    ("8", "12.5875", "12.5875", "0.1"),
    ("8", "25.175", "25.17502", "0.7"),
    ("8", "31.5", "31.49999", "-0.3"),
    ("8", "20.0", "20.0", "0.0"),
    ("8", "36.0", "36.00001", "0.3"),
    ("8", "40.0", "40.0", "0.0"),
    ("8", "32.5", "32.5", "0.0"),
    ("8", "65.0", "40.0", "-384615.4"),
    ("16/24", "12.5875", "12.58751", "0.7"),
    ("16/24", "25.175", "25.17502", "0.7"),
    ("16/24", "31.5", "25.17502", "-200793.1"),
    ("16/24", "20.0", "20.0", "0.0"),
    ("16/24", "36.0", "25.17502", "-300693.9"),
    ("16/24", "40.0", "25.17502", "-370624.5"),
    ("16/24", "32.5", "25.17502", "-225384.1"),
    ("16/24", "65.0", "25.17502", "-612692.0"),
]
FIXED_WHOLE = [
    ("25.175", 3, "26.6666667", "59251.9"),
    ("25.2", 3, "26.6666667", "58201.1"),
    ("28.322", 3, "26.6666667", "-58446.9"),
    ("31.5", 3, "26.6666667", "-153439.2"),
    ("36.0", 2, "40.0000000", "111111.1"),
    ("40.0", 2, "40.0000000", "0.0"),
    ("21.477", 4, "20.0000000", "-68783.1"),
    ("49.5", 2, "40.0000000", "-191919.2"),
    ("65.0", 2, "40.0000000", "-384615.4"),
    ("74.25", 2, "40.0000000", "-461279.5"),
    ("12.5875", 6, "13.3333333", "59251.9"),
    ("20.0", 4, "20.0000000", "0.0"),
]
FIXED_PART = [
    ("25.175", 3, 8, 45, "25.1748252", "-6.94", "0.1538"),
    ("25.2", 3, 11, 63, "25.2000000", "0.00", "0.1550"),
    ("28.322", 2, 47, 57, "28.3229814", "34.65", "0.1739"),
    ("31.5", 2, 34, 63, "31.5000000", "0.00", "0.1938"),
    ("36.0", 2, 2, 9, "36.0000000", "0.00", "0.2000"),
    ("21.477", 3, 29, 40, "21.4765101", "-35.51", "0.1275"),
    ("12.5875", 6, 16, 45, "12.5874126", "-6.94", "0.0769"),
]
# fmt: on


def target_hz(written: str) -> Fraction:
    """A target of the tables; 21.477 stands for six times the colour subcarrier, 315/88 MHz."""
    return Fraction(236_250_000, 11) if written == "21.477" else Fraction(written) * 10**6


def reads(candidate: ClockCandidate, achieved: str, ppm: str) -> bool:
    """Whether a candidate shows the printed rate and error to the printed digits."""
    digits = len(achieved.partition(".")[2])
    places = len(ppm.partition(".")[2])
    return (
        f"{round(float(candidate.achieved_hz) / 1e6, digits):.{digits}f}" == achieved
        and abs(candidate.ppm - float(ppm)) <= 0.5001 * 10**-places
    )


def best(chain: ClockChain, target: Fraction, **options: bool | tuple[int, int]) -> ClockCandidate:
    """First row of a chain."""
    found = best_rate(chain, target, h_total_px=800, **options)  # type: ignore[arg-type]
    assert found is not None
    return found


def test_twelve_megahertz_chain_at_25_175() -> None:
    """+142, -331, +993 ppm in that order, the first with the reference halved and 100.714 MHz."""
    rows = enumerate_rates(PLL, 25_175_000, h_total_px=800, whole_only=True, limit=3)
    assert [f"{float(row.achieved_hz) / 1e6:.6f}" for row in rows] == ["25.178571", "25.166667", "25.200000"]
    assert [round(row.ppm) for row in rows] == [142, -331, 993]
    first = rows[0]
    assert first.achieved_hz == Fraction(176_250_000, 7)
    assert first.system_hz == Fraction(705_000_000, 7)
    assert dict(first.settings) == {"REFDIV": 2, "FBDIV": 235, "PD1": 7, "PD2": 2, "divider": 4}
    assert first.recipe == "12 MHz / 2 x 235 / (7 x 2) = 100.714 MHz, / 4"
    assert all(row.within and row.noise_known and row.lines_repeat_after == 1 for row in rows)
    assert rows == enumerate_rates(PLL, 25_175_000, h_total_px=800, limit=3)  # fractional dividers change nothing here


def test_no_setting_makes_25_175_exactly() -> None:
    """25.175/12 = 1007/480 and 1007 = 19 x 53: the feedback divider would have to be a multiple of 1007."""
    assert Fraction(25_175, 12_000) == Fraction(1007, 480)
    for whole_only in (True, False):
        rows = enumerate_rates(PLL, 25_175_000, h_total_px=800, whole_only=whole_only, limit=60)
        assert all(row.error_ppm != 0 for row in rows)


@pytest.mark.parametrize("high_mhz", [133, 150, 200])
def test_all_common_modes_lie_within_0_11_percent(high_mhz: int) -> None:
    """The reference's rule for a moved PLL and whole dividers; 74.25 MHz is exact up to 133 MHz too, at divide by 1."""
    for row in WHOLE:
        found = best(PLL, target_hz(row[0]), whole_only=True, system_hz=(0, high_mhz * 10**6))
        assert abs(found.ppm) <= 1100 and found.wobble_px == 0


# System clocks of `clocks.csv` that are not the highest for their rate, and ours.
HIGHER = {
    "25.175": "100.714286",
    "25.2": "126.000000",
    "31.5": "126.000000",
    "36.0": "108.000000",
    "40.0": "120.000000",
    "21.477": "107.400000",
    "49.5": "99.000000",
    "65.0": "130.000000",
    "12.5875": "100.714286",
    "20.0": "120.000000",
}


@pytest.mark.parametrize(("target", "system_mhz", "achieved", "ppm"), WHOLE)
def test_whole_divider_rows(target: str, system_mhz: str, achieved: str, ppm: str) -> None:
    """Same rate and error in each row; the system clock is the table's or a higher one."""
    found = best(PLL, target_hz(target), whole_only=True)
    assert reads(found, achieved, ppm)
    assert found.system_hz is not None
    assert f"{float(found.system_hz) / 1e6:.6f}" == HIGHER.get(target, system_mhz)
    assert float(HIGHER.get(target, "inf")) > float(system_mhz)


@pytest.mark.parametrize(("high_mhz", "target", "achieved", "ppm", "ref", "fb", "pd1", "pd2", "cycles"), HIGHEST)
def test_highest_system_clock_rows(
    high_mhz: int, target: str, achieved: str, ppm: str, ref: int, fb: int, pd1: int, pd2: int, cycles: int
) -> None:
    """`clock_table.csv` shows the highest system clock: all 16 rows agree to the register."""
    found = best(PLL, target_hz(target), system_hz=(0, high_mhz * 10**6))
    assert reads(found, f"{float(achieved):.5f}", ppm)
    assert [value for _, value in found.settings] == [ref, fb, pd1, pd2, cycles]


@pytest.mark.parametrize(("target", "ref", "fb", "pd1", "pd2", "whole", "part", "achieved", "ppm", "wobble"), MOVED)
def test_moved_pll_with_fraction_rows(
    target: str, ref: int, fb: int, pd1: int, pd2: int, whole: int, part: int, achieved: str, ppm: str, wobble: str
) -> None:
    """Rate, error and wobble reproduce; the row is our best only where its fraction is nought."""
    system = 12_000_000 * Fraction(fb, ref * pd1 * pd2)
    rows = enumerate_rates(PLL, target_hz(target), h_total_px=800, system_hz=(system, system), limit=40)
    row = next(row for row in rows if row.achieved_hz == system / Fraction(256 * whole + part, 256))
    assert reads(row, achieved, ppm) and f"{float(row.wobble_px):.4f}" == wobble
    found = best(PLL, target_hz(target))
    assert found.wobble_px == 0
    assert (found.achieved_hz == row.achieved_hz) == (part == 0)


# The rows of the fixed system clocks that are best by our ranking as well: no divider within 5000 ppm wobbles less.
STANDING_BEST = {
    (125, "31.5"),
    (125, "40.0"),
    (125, "65.0"),
    (125, "20.0"),
    (133, "25.175"),
    (133, "49.5"),
    (133, "65.0"),
}


@pytest.mark.parametrize(("system_mhz", "target", "whole", "part", "achieved", "ppm", "wobble"), STANDING)
def test_standing_system_clock_rows(
    system_mhz: int, target: str, whole: int, part: int, achieved: str, ppm: str, wobble: str
) -> None:
    """Rate, error and wobble reproduce; where another is first, it wobbles less within 5000 ppm."""
    system = system_mhz * 10**6
    rows = enumerate_rates(PLL, target_hz(target), h_total_px=800, system_hz=(system, system), limit=40)
    row = next(row for row in rows if row.achieved_hz == system / Fraction(256 * whole + part, 256))
    assert reads(row, achieved, ppm) and f"{float(row.wobble_px):.4f}" == wobble
    assert (row == rows[0]) == ((system_mhz, target) in STANDING_BEST)
    assert row == rows[0] or (rows[0].within and rows[0].wobble_px < row.wobble_px)


# The divides each block of audio rows tries, as (first, last, step) of the unit divider and a fixed divide.
DIVIDES = {"direct": (1, 1, 1, 1), "halved": (2, 2, 1, 1), "quartered": (2, 2, 1, 2), "even": (2, 16, 2, 1)}


@pytest.mark.parametrize(("kind", "target", "odiv", "sdm2", "sdm1", "sdm0", "divide", "achieved", "ppm"), AUDIO)
def test_audio_rows(
    kind: str, target: str, odiv: int, sdm2: int, sdm1: int, sdm0: int, divide: int, achieved: str, ppm: str
) -> None:
    """With the row's own divides the best rate is the row's; with all unit dividers it is as near or nearer."""
    first, last, step, fixed = DIVIDES[kind]
    unit = AUDIO_8.steps[2].model_copy(update={"first": first, "last": last, "step": step})
    odiv_step = AUDIO_8.steps[1]
    if kind == "direct":  # these rows know no lower end of the output window: 12.5875 lies below the profile's 16 MHz
        odiv_step = odiv_step.model_copy(update={"low_hz": None})
    narrowed = AUDIO_8.model_copy(update={"steps": (AUDIO_8.steps[0], odiv_step, unit), "fixed": fixed})
    found = best(narrowed, target_hz(target))
    word = sdm2 * 65536 + sdm1 * 256 + sdm0
    formula = 40_000_000 * (4 + Fraction(word, 65536)) / (2 * (odiv + 2)) / divide
    assert reads(found, achieved, ppm) and found.achieved_hz == formula
    assert not found.noise_known and found.wobble_px == 0
    if kind != "direct":  # the unit divider starts at 2
        free = best(AUDIO_16 if fixed == 2 else AUDIO_8, target_hz(target))
        assert abs(free.error_ppm) <= abs(found.error_ppm)
        if (kind, target) in NEARER_AUDIO:
            assert reads(free, *NEARER_AUDIO[kind, target])
        else:
            assert free.achieved_hz == found.achieved_hz


# Audio rows beaten by a unit divider their block does not try.
NEARER_AUDIO = {
    ("halved", "25.175"): ("25.1750014", "0.0539"),  # 40 MHz x (11 + 21545/65536) / 6 = 75.525 MHz, / 3
    ("quartered", "12.5875"): ("12.5875007", "0.0539"),  # 40 MHz x (11 + 21545/65536) / 6 = 75.525 MHz, / (3 x 2)
    ("even", "25.175"): ("25.1750014", "0.0539"),  # 40 MHz x (11 + 21545/65536) / 6 = 75.525 MHz, / 3
}

# Rows of `clock_table.csv` that are not the nearest the chain can make, and ours. 65 MHz on 8 lanes: the table stops at
# its planning rate of 40 MW/s. 31.5 MHz and faster on 16 lanes: the table names its fastest mode, the chain reaches
# 31.25. The others: a unit divider of 3, where the table divides by 2 or 4 only.
NEARER_LANES = {
    ("8", "25.175"): ("25.17500", "0.1"),  # 40 MHz x (11 + 21545/65536) / 6 = 75.525 MHz, / 3
    ("8", "65.0"): ("62.50000", "-38461.5"),  # 40 MHz x (12 + 32768/65536) / 4 = 125 MHz, / 2
    ("16/24", "12.5875"): ("12.58750", "0.1"),  # 40 MHz x (11 + 21545/65536) / 6 = 75.525 MHz, / (3 x 2)
    ("16/24", "31.5"): ("31.25000", "-7936.5"),  # 40 MHz x (12 + 32768/65536) / 4 = 125 MHz, / (2 x 2)
    ("16/24", "36.0"): ("31.25000", "-131944.4"),  # 40 MHz x (12 + 32768/65536) / 4 = 125 MHz, / (2 x 2)
    ("16/24", "40.0"): ("31.25000", "-218750.0"),  # 40 MHz x (12 + 32768/65536) / 4 = 125 MHz, / (2 x 2)
    ("16/24", "32.5"): ("31.25000", "-38461.5"),  # 40 MHz x (12 + 32768/65536) / 4 = 125 MHz, / (2 x 2)
    ("16/24", "65.0"): ("31.25000", "-519230.8"),  # 40 MHz x (12 + 32768/65536) / 4 = 125 MHz, / (2 x 2)
}


@pytest.mark.parametrize(("lanes", "target", "achieved", "ppm"), LANES)
def test_lane_rows(lanes: str, target: str, achieved: str, ppm: str) -> None:
    """Rate of each row, or the nearer one the chain makes."""
    chain = AUDIO_8 if lanes == "8" else AUDIO_16
    found = best(chain, target_hz(target))
    if (lanes, target) in NEARER_LANES:
        assert reads(found, *NEARER_LANES[lanes, target])
        assert abs(found.ppm) < abs(float(ppm))
    else:
        assert reads(found, f"{float(achieved):.5f}", ppm)


# Rates with halves: N + 1/2, then the fixed divide by 2, is a whole number of source clocks and regular in any order.
# At 36 MHz the two are equally far; the slower one is shown first.
HALVES = {
    "31.5": ("32.0000000", "15873.0"),
    "36.0": ("32.0000000", "-111111.1"),
    "21.477": ("22.8571429", "64247.9"),
    "12.5875": ("12.3076923", "-22229.0"),
}


@pytest.mark.parametrize(("target", "whole", "achieved", "ppm"), FIXED_WHOLE)
def test_fixed_source_whole_rows(target: str, whole: int, achieved: str, ppm: str) -> None:
    """160 MHz / (N x 2): the row's rate, or a nearer one that divides by N + 1/2."""
    rows = enumerate_rates(FIXED_16, target_hz(target), h_total_px=800, whole_only=True, limit=8)
    row = next(row for row in rows if dict(row.settings) == {"unit divider": whole})
    assert reads(row, achieved, ppm) and row.noise_known
    if target in HALVES:
        assert reads(rows[0], *HALVES[target]) and abs(rows[0].error_ppm) <= abs(row.error_ppm)
        assert str(rows[0].settings[0][1]).endswith("+1/2") and rows[0].noise_known
    else:
        assert row == rows[0]


# Wobble in pixels of the published order; the table's figure is that of evenly spread edges, the same only for 2/9.
WALKED = {
    "25.175": "0.2517",  # 0.1538 if evenly spread
    "25.2": "0.3300",  # 0.1550 if evenly spread
    "28.322": "0.3416",  # 0.1739 if evenly spread
    "31.5": "0.5437",  # 0.1938 if evenly spread
    "36.0": "0.2000",  # 0.2000 if evenly spread
    "21.477": "0.3087",  # 0.1275 if evenly spread
    "12.5875": "0.3916",  # 0.0769 if evenly spread
}


@pytest.mark.parametrize(("target", "whole", "b", "a", "achieved", "ppm", "even"), FIXED_PART)
def test_fixed_source_fraction_rows(
    target: str, whole: int, b: int, a: int, achieved: str, ppm: str, even: str
) -> None:
    """160 MHz / ((N + b/a) x 2): rate and error reproduce, the table's wobble is a lower bound of the walked one."""
    d = 2 * Fraction(whole * a + b, a)
    assert f"{float(wobble_px(d)):.4f}" == even
    rows = enumerate_rates(FIXED_16, target_hz(target), h_total_px=800, limit=120)
    row = next(row for row in rows if row.achieved_hz == 160_000_000 / d)
    assert reads(row, achieved, ppm)
    assert f"{float(row.wobble_px):.4f}" == WALKED[target] >= even
    assert not row.noise_known  # the order is that of later chips
    assert rows[0].wobble_px < row.wobble_px  # no such row is best by our ranking


def test_fraction_row_out_of_tolerance() -> None:
    """The table's fraction for 40 MHz, (2 + 1/63) x 2, lies 7874 ppm off, out of tolerance; 2 x 2 is exact."""
    off = (160_000_000 / (2 * Fraction(127, 63)) / 40_000_000 - 1) * 10**6
    assert round(float(off), 2) == -7874.02
    assert best(FIXED_16, Fraction(40_000_000)).recipe == "160 MHz / (2 x 2)"
    assert [row.within for row in enumerate_rates(FIXED_16, 40_000_000, h_total_px=800, limit=3)] == [
        True,
        False,
        False,
    ]


def test_fraction_row_with_a_further_divide_by_three() -> None:
    """160 / ((2 + 2/3) x 3) = 20 MHz is 8 source clocks and regular; our chain divides by 2 and makes it as 4 x 2."""
    assert wobble_px(3 * Fraction(8, 3)) == 0
    assert best(FIXED_16, Fraction(20_000_000)).recipe == "160 MHz / (4 x 2)"
