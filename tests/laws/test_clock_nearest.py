"""A rate that some setting makes is found again, however it wobbles."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from scanloom.handbook.chips import chip
from scanloom.stages.clock import chains_for, nearest_rate


@settings(max_examples=25)
@given(st.integers(63, 133), st.sampled_from([(7, 1), (5, 2), (6, 1), (4, 2), (3, 2)]), st.integers(600, 3000))
def test_rp2040_setting_is_found_again(feedback: int, post: tuple[int, int], divider: int) -> None:
    system = Fraction(12_000_000) * feedback / (post[0] * post[1])
    if not 750_000_000 <= 12_000_000 * feedback <= 1_600_000_000 or system > 133_000_000:
        return
    rate = system * 256 / divider
    found = nearest_rate(chains_for(chip("rp2040"), None), rate, h_total_px=800)
    assert found is not None and found.achieved_hz == rate
    rounded = nearest_rate(chains_for(chip("rp2040"), None), Fraction(round(rate)), h_total_px=800)
    assert rounded is not None and abs(rounded.achieved_hz - rate) <= 1


@settings(max_examples=15)
@given(st.integers(4, 200), st.integers(2, 63), st.data())
def test_wifi240_fractional_setting_is_found_again(whole: int, over: int, data: st.DataObject) -> None:
    part = data.draw(st.integers(0, over - 1))
    rate = Fraction(160_000_000) / (whole + Fraction(part, over))
    found = nearest_rate(chains_for(chip("wifi240"), "8 lanes"), rate, h_total_px=800)
    assert (found is not None and abs(found.achieved_hz - rate) * 2 <= 1) or (
        found is not None and found.achieved_hz == rate
    )
