"""The frozen lists of preferred values against the rule they are made by.

The rule of IEC 60063 (three-digit series): 100 * 10^(i/n) rounded to a whole number. Known exception: E192 has 920
where the rule gives 919. Computed here in whole numbers, so that no rounding of a float decides.
"""

import pytest

from scanloom.handbook.series import decade, nearest, series_names, values


def by_rule(n: int) -> list[int]:
    """Whole numbers nearest to 100 * 10^(i/n): v with (2v - 1)^n <= 200^n * 10^i < (2v + 1)^n."""
    made, v = [], 100
    for i in range(n):
        while (2 * v + 1) ** n <= 200**n * 10**i:
            v += 1
        made.append(v)
    return made


@pytest.mark.parametrize("n", [48, 96])
def test_three_digit_series_follow_the_rule(n: int) -> None:
    assert list(decade(f"E{n}")) == by_rule(n)


def test_e192_follows_the_rule_but_for_920() -> None:
    have, rule = decade("E192"), by_rule(192)
    assert [(i, a, b) for i, (a, b) in enumerate(zip(have, rule, strict=True)) if a != b] == [(185, 920, 919)]


def test_two_digit_series_depart_from_the_rule_where_they_are_known_to() -> None:
    rule = [(step + 5) // 10 * 10 for step in by_rule(24)]
    assert [a for a, b in zip(decade("E24"), rule, strict=True) if a != b] == [270, 300, 330, 360, 390, 430, 470, 820]


def test_each_series_is_every_second_value_of_the_next() -> None:
    assert decade("E24")[::2] == decade("E12")
    assert decade("E96")[::2] == decade("E48")
    assert decade("E192")[::2] == decade("E96")
    assert series_names() == ("E12", "E24", "E48", "E96", "E192")


@pytest.mark.parametrize(("series", "count"), [("E12", 25), ("E24", 49), ("E96", 193)])
def test_two_decades_and_their_end(series: str, count: int) -> None:
    assert len(values(series, 100.0, 10_000.0)) == count


def test_values_reach_across_decades_and_keep_their_bounds() -> None:
    assert values("E12", 8.2, 12.0) == (8.2, 10.0, 12.0)
    assert values("E24", 4.7e3, 4.7e3) == (4700.0,)
    assert values("E24", 1000.0, 1000.0) == (1000.0,)
    assert values("E24", 0.1, 0.11) == (0.1, 0.11)
    assert values("E12", 101.0, 119.0) == ()


@pytest.mark.parametrize("series", ["E12", "E24", "E48", "E96", "E192"])
@pytest.mark.parametrize("ohm", [0.99, 75.0, 99.7, 110.0, 278.571, 1e6, 9.99e6])
def test_nearest_by_brute_force(series: str, ohm: float) -> None:
    every = [step * 10.0**power for power in range(-4, 7) for step in decade(series)]
    best = min(max(value / ohm, ohm / value) for value in every)
    found = nearest(series, ohm)
    assert max(found / ohm, ohm / found) == pytest.approx(best, rel=1e-12)


def test_nearest_counts_by_ratio() -> None:
    assert nearest("E12", 109.6) == 120.0  # 110 would be the middle, 109.54 the mean by ratio
    assert nearest("E12", 109.5) == 100.0


def test_refusals() -> None:
    with pytest.raises(ValueError, match="'E25': no such row; E12, E24, E48, E96, E192 are allowed; did you mean"):
        decade("E25")
    with pytest.raises(ValueError, match=r"bounds 10.0 to 5.0 ohm"):
        values("E12", 10.0, 5.0)
    with pytest.raises(ValueError, match=r"value 0\.0 ohm"):
        nearest("E12", 0.0)
