"""The search for parts beside compiled brute force of the same run. Budgets are the floors the project sets itself."""

from __future__ import annotations

import time
from typing import Any

import numpy as np
import pytest
from parts_tried import rate

from scanloom.basis.span import Span
from scanloom.stages.levels.search import (
    JointChannel,
    JointProposal,
    JointRequest,
    PartsProposal,
    PartsRequest,
    propose_joint,
    propose_parts,
)
from scanloom.stages.levels.search.options import _table, leg_table
from scanloom.stages.levels.search.single import find_parts

PIN = Span.exact(25.0)
FOUR_BITS = PartsRequest(4, "E96", pin_high_ohm=PIN)
TIMES = 1e5
"""The search is this many times faster than trying all, at least. [1]"""
TRIED = 20_000_000
"""Networks that brute force tries here, to learn its rate. [1]"""


def brute_force_s(request: PartsRequest) -> float:
    """Seconds that brute force would take, from the rate it reaches on part of the work."""
    ohm = leg_table(request, request.leg_values_ohm).whole_ohm
    arguments = (ohm, request.bits, 25.0, 3.3, 1.0 / 75.0, 0.7)
    rate(*arguments, 1000)
    best = float("inf")
    for _ in range(3):
        began = time.perf_counter()
        rate(*arguments, TRIED)
        best = min(best, time.perf_counter() - began)
    return best / TRIED * float(ohm.size) ** request.bits


@pytest.mark.parametrize("whole", [False, True], ids=["answers", "explained"])
def test_four_bits_of_e96_with_pairs(benchmark: Any, whole: bool) -> None:
    """The whole request: table of legs as remembered, search, figures; explained, also what changed requests bring."""
    benchmark.extra_info["budget_s"] = 0.005
    work = propose_parts if whole else find_parts
    found = benchmark(work, FOUR_BITS)
    assert isinstance(found, PartsProposal)
    assert found.proved
    tried_s, search_s = brute_force_s(FOUR_BITS), benchmark.stats.stats.median
    benchmark.extra_info["times_faster"] = tried_s / search_s
    rate_hz = found.networks / tried_s
    print(
        f"\nbrute force {tried_s:.0f} s at {rate_hz:.3g} a second; search {search_s * 1e3:.3f} ms: {tried_s / search_s:.3g} times"
    )
    assert tried_s / search_s > TIMES


def test_four_bits_with_nothing_remembered(benchmark: Any) -> None:
    """The same with the table of legs made anew each time."""
    benchmark.extra_info["budget_s"] = 0.010

    def fresh() -> Any:
        _table.cache_clear()
        return find_parts(FOUR_BITS)

    assert isinstance(benchmark(fresh), PartsProposal)


def mixed() -> list[PartsRequest]:
    """120 requests: 1 to 5 bits, three series, any number of values or few, two pins."""
    made = [
        PartsRequest(bits, series, pin_high_ohm=Span.exact(pin), distinct_most=most, answers=1)
        for bits in range(1, 6)
        for series in ("E12", "E24", "E96")
        for pin in (0.0, 25.0)
        for most in (None, 1, 2, 3)
    ]
    assert len(made) == 120
    return made


def test_mixed_requests(benchmark: Any) -> None:
    benchmark.extra_info["budget_s"] = 0.2
    requests = mixed()
    found = benchmark(lambda: [find_parts(one) for one in requests])
    assert sum(isinstance(one, PartsProposal) for one in found) > 90


def joint(bits: tuple[int, ...], series: str, distinct: int) -> JointRequest:
    """Channels of some depths that share some values."""
    channels = tuple(JointChannel(f"channel-{place}", depth, PIN, PIN) for place, depth in enumerate(bits))
    return JointRequest(channels, distinct_most=distinct, series=series)


@pytest.mark.parametrize(
    ("bits", "distinct", "budget_s"), [((3, 3, 2), 2, 0.2), ((5, 6, 5), 3, 10.0)], ids=["332-two", "565-three"]
)
def test_joint_sets_of_e96(benchmark: Any, bits: tuple[int, ...], distinct: int, budget_s: float) -> None:
    benchmark.extra_info["budget_s"] = budget_s
    found = benchmark.pedantic(propose_joint, args=(joint(bits, "E96", distinct),), rounds=3, warmup_rounds=1)
    assert isinstance(found, JointProposal)
    assert found.proved
    assert np.isfinite(found.error_v)
