"""The search for parts against every network tried: same optimum, same rank, and none where there is none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from parts_tried import allowed, every_leg, good_on_boards, rate, worst_of
from strategies_parts import small_requests

from scanloom.basis.span import Span
from scanloom.stages.levels.search._kernel import FINER_V
from scanloom.stages.levels.search.answer import FoundNetwork, PartsProposal
from scanloom.stages.levels.search.request import PartsRequest
from scanloom.stages.levels.search.single import FAR, TIE_V, WORST_TIE_V, Ruled, find_parts


def ranked(found: list[FoundNetwork]) -> list[FoundNetwork]:
    """Best first, by the documented order."""
    return sorted(found, key=lambda one: (np.floor(one.error_v / TIE_V), one.distinct, one.parts, one.error_v))


def same_rank(one: FoundNetwork, other: FoundNetwork) -> None:
    """Equal but for rounding at the edge of a step of the order."""
    assert one.error_v == pytest.approx(other.error_v, abs=2 * TIE_V)
    if abs(one.error_v - other.error_v) < 1e-13:
        edge = abs(one.error_v / TIE_V - round(one.error_v / TIE_V))
        assert (one.distinct, one.parts) == (other.distinct, other.parts) or edge < 1e-3


@settings(max_examples=120)
@given(small_requests())
def test_typical_error(request: PartsRequest) -> None:
    tried = ranked(allowed(request))
    found = find_parts(request)
    if not tried:
        assert found == Ruled(proved=True)
        return
    assert isinstance(found, PartsProposal)
    assert found.proved
    worth = [one for one in tried[: request.answers] if one.error_v <= FAR * tried[0].error_v]
    assert len(worth) <= len(found.answers) <= request.answers
    for one, other in zip(found.answers, tried, strict=False):
        same_rank(one, other)


@settings(max_examples=80)
@given(small_requests(objective="worst"))
def test_worst_case(request: PartsRequest) -> None:
    tried = [(worst_of(one.network(request), request.white_v), one) for one in allowed(request)]
    found = find_parts(request)
    if not tried:
        assert found == Ruled(proved=True)
        return
    least = min(worst for worst, _ in tried)
    assert isinstance(found, PartsProposal)
    assert found.proved
    assert least - FINER_V - 1e-9 <= found.bound_v <= least + 1e-9
    first = found.answers[0]
    assert first.worst_error_v <= least + FINER_V + WORST_TIE_V + 1e-12
    # those as good as the best by a meter's last digit: fewer values, then parts, then the typical error decide
    as_good = [one for worst, one in tried if worst <= least + WORST_TIE_V - 1e-11]
    best = min(as_good, key=lambda one: (one.distinct, one.parts, one.error_v))
    assert (first.distinct, first.parts, first.error_v) <= (best.distinct, best.parts, best.error_v + TIE_V)
    assert first.worst_error_v == pytest.approx(worst_of(first.network(request), request.white_v), abs=1e-12)


@settings(max_examples=40)
@given(small_requests(objective="yield"))
def test_yield(request: PartsRequest) -> None:
    tried = allowed(request)
    found = find_parts(request)
    if not tried:
        assert found == Ruled(proved=True)
        return
    assert isinstance(found, PartsProposal)
    most = max(good_on_boards(request, one) for one in tried)
    share = found.answers[0].good_share
    assert share == pytest.approx(most / request.boards) if found.proved else share is not None
    assert found.most_share is not None
    assert found.most_share >= most / request.boards - 1e-12
    assert share == pytest.approx(good_on_boards(request, found.answers[0]) / request.boards)


@pytest.mark.parametrize(("series", "bits"), [("E24", 2), ("E24", 3), ("E96", 2), ("E12", 4)])
def test_whole_series(series: str, bits: int) -> None:
    """Every network of a whole series, pairs too, up to 32 million; only the least error is compared."""
    request = PartsRequest(bits, series, pin_high_ohm=Span.exact(25.0), answers=1)
    ohm = np.array([leg.whole_ohm for leg in every_leg(request)])
    least = rate(ohm, bits, 25.0, 3.3, 1.0 / 75.0, 0.7, ohm.size**bits)
    found = find_parts(request)
    assert isinstance(found, PartsProposal)
    assert found.answers[0].error_v == pytest.approx(least, abs=2e-9)
