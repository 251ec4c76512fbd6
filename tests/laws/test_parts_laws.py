"""What holds for every search for parts: its figures are those of the stage, and more freedom is never worse."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies_parts import spans

from scanloom.basis.span import Span
from scanloom.stages.levels.figures import channel_figures
from scanloom.stages.levels.monotonic import monotonic_at_percent, monotonic_guaranteed
from scanloom.stages.levels.search import PartsProposal, PartsRequest
from scanloom.stages.levels.search.request import Objective
from scanloom.stages.levels.search.single import FAR, find_parts
from scanloom.stages.levels.tolerance import level_spans, pin_current_spans


@st.composite
def requests(draw: st.DrawFn, objective: Objective = "nominal") -> PartsRequest:
    """Requests as a maker has them, up to 6 bits and any series."""
    high = draw(spans(0.5, 60.0))
    return PartsRequest(
        draw(st.integers(1, 6 if objective == "nominal" else 3)),
        draw(st.sampled_from(["E12", "E24", "E48", "E96"])),
        pairs=draw(st.booleans()),
        pin_high_ohm=high,
        pin_low_ohm=draw(st.sampled_from([None, high.map(lambda ohm: ohm * 0.7), Span.exact(20.0)])),
        rail_v=draw(spans(3.0, 3.6)),
        load_ohm=draw(spans(74.0, 76.0)),
        tolerance_percent=draw(st.sampled_from([0.1, 1.0, 2.0])),
        guaranteed=draw(st.booleans()),
        match_percent=draw(st.sampled_from([None, None, 5.0])) if objective != "yield" else None,
        distinct_most=draw(st.sampled_from([None, 2, 3])),
        pin_most_a=draw(st.sampled_from([None, 0.02])),
        objective=objective,
        answers=draw(st.integers(1, 6)),
    )


@settings(max_examples=40)
@given(requests())
def test_figures_are_those_of_the_stage(request: PartsRequest) -> None:
    found = find_parts(request)
    if not isinstance(found, PartsProposal):
        return
    for one in found.answers:
        net = one.network(request)
        figures = channel_figures(net)
        white, last = request.white_v, net.white_code
        ideal = [white * code / last for code in range(last + 1)]
        assert one.full_scale_v == pytest.approx(figures.level_v[-1], abs=1e-12)
        assert one.error_v == pytest.approx(
            max(abs(a - b) for a, b in zip(figures.level_v, ideal, strict=True)), abs=1e-12
        )
        worst = max(max(s.high - v, v - s.low) for s, v in zip(level_spans(net), ideal, strict=True))
        assert one.worst_error_v == pytest.approx(worst, abs=1e-12)
        lin = figures.linearity
        assert one.inl_lsb == pytest.approx(lin.inl_lsb, abs=1e-9)
        assert (one.dnl_min_lsb, one.dnl_max_lsb) == pytest.approx((lin.dnl_min_lsb, lin.dnl_max_lsb), abs=1e-9)
        assert one.source_ohm == pytest.approx(figures.source_ohm)
        assert one.white_current_a == pytest.approx(figures.white_a)
        assert one.pin_current_a == pytest.approx(max(max(p.source_a, -p.sink_a) for p in figures.pins))
        most = max(max(p.source_a.high, -p.sink_a.low) for p in pin_current_spans(net))
        assert one.pin_worst_a == pytest.approx(most)
        assert one.monotonic_at_percent == pytest.approx(monotonic_at_percent(net), abs=3e-6)
        assert all(a < b for a, b in pairwise(figures.level_v))
        # every demand is kept
        assert request.white_low_v - 1e-9 <= one.full_scale_v <= request.white_high_v + 1e-9
        assert monotonic_guaranteed(net).guaranteed or not request.guaranteed
        assert request.pin_most_a is None or most <= request.pin_most_a * (1 + 1e-9)
        values = {leg.ohm for leg in one.legs} | ({one.shunt_ohm} if one.shunt_ohm else set())
        assert one.distinct == len(values) <= (request.distinct_most or 99)
        assert one.parts == sum(leg.parts for leg in one.legs) + (one.shunt_ohm is not None)
        assert request.pairs or all(leg.how == "single" for leg in one.legs)
        if request.match_percent is not None:
            assert abs(one.source_ohm / request.line_ohm - 1) <= request.match_percent / 100 + 1e-9
    errors = [one.error_v for one in found.answers]
    assert all(a <= b + 1e-9 for a, b in pairwise(errors))
    assert errors[-1] <= FAR * errors[0] * 2 + 1e-9


@settings(max_examples=40)
@given(requests(), st.sampled_from(["series", "pairs", "distinct", "sure", "match", "pin"]))
def test_more_freedom_is_never_worse(request: PartsRequest, what: str) -> None:
    """E24 holds all of E12, E96 all of E48; a demand that is dropped leaves every network that kept it."""
    freer = {
        "series": replace(request, series={"E12": "E24", "E48": "E96"}.get(request.series, request.series)),
        "pairs": replace(request, pairs=True),
        "distinct": replace(request, distinct_most=request.distinct_most and request.distinct_most + 1),
        "sure": replace(request, guaranteed=False),
        "match": replace(request, match_percent=request.match_percent and request.match_percent * 2),
        "pin": replace(request, pin_most_a=None),
    }[what]
    found, other = find_parts(replace(request, answers=1)), find_parts(replace(freer, answers=1))
    if isinstance(found, PartsProposal):
        assert isinstance(other, PartsProposal)
        assert other.answers[0].error_v <= found.answers[0].error_v + 1e-9


@settings(max_examples=15)
@given(requests(objective="worst"))
def test_worst_case_bounds_the_typical_error(request: PartsRequest) -> None:
    found = find_parts(request)
    if isinstance(found, PartsProposal):
        assert found.bound_v <= found.answers[0].worst_error_v
        assert all(one.error_v <= one.worst_error_v + 1e-12 for one in found.answers)
        nominal = find_parts(replace(request, objective="nominal", answers=1))
        assert isinstance(nominal, PartsProposal)
        assert nominal.answers[0].error_v <= found.answers[0].error_v + 1e-9
        assert found.bound_v <= nominal.answers[0].worst_error_v + 1e-12
