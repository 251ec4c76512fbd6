"""The joint search against every set of values and, in each, every network of every channel."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from parts_tried import allowed, worst_of
from strategies_parts import spans

from scanloom.basis.span import Span
from scanloom.handbook.series import values
from scanloom.stages.levels.search.joint import find_joint, with_branch
from scanloom.stages.levels.search.joint_request import CurrentCap, JointChannel, JointRequest, JointSync
from scanloom.stages.levels.sync import SharedSync, SyncInput, sync_levels
from scanloom.stages.levels.tolerance import rail_current_span

HOWS = {"single": 1.0, "parallel": 0.5, "series": 2.0}


@st.composite
def joint_requests(draw: st.DrawFn) -> JointRequest:
    """Up to three channels and a sync on a few values; caps near what such channels draw."""
    bits = draw(st.lists(st.integers(1, 3), min_size=1, max_size=3))
    near = [ohm for leg in range(max(bits)) for ohm in values("E24", 140.0 * 2**leg, 420.0 * 2 ** (leg + 1))]
    stock = draw(st.lists(st.sampled_from(near), min_size=2, max_size=6, unique=True))
    high, rail = draw(spans(5.0, 50.0)), draw(spans(3.0, 3.5))
    loads = draw(st.lists(spans(72.0, 78.0), min_size=1, max_size=2))
    channels = tuple(
        JointChannel(f"channel-{place}", depth, high, high.map(lambda ohm: ohm * 0.8), rail, loads[place % len(loads)])
        for place, depth in enumerate(bits)
    )
    syncs = []
    if draw(st.booleans()):
        load = Span.exact(draw(st.sampled_from([1000.0, 2200.0, 10_000.0])))
        shared = SharedSync(high, high, rail, (SyncInput(load),) * draw(st.integers(1, 4)))
        syncs.append(JointSync("sync", shared, len(shared.inputs), 2))
    caps = []
    if draw(st.booleans()):
        members = tuple(one.name for one in channels) + tuple(one.name for one in syncs)
        a_channel = draw(st.sampled_from([0.0088, 0.0094, 0.0098, 0.0105]))
        caps.append(CurrentCap("chip", a_channel * len(channels) + 0.004 * len(syncs), members))
        caps.append(CurrentCap("bank", a_channel, members[:1]))
    return JointRequest(
        channels,
        tuple(syncs),
        draw(st.integers(1, 3)),
        stock_ohm=tuple(stock),
        pairs=draw(st.booleans()),
        white_low_v=draw(st.sampled_from([0.5, 0.665])),
        white_high_v=draw(st.sampled_from([0.770, 0.9])),
        guaranteed=draw(st.booleans()),
        objective=draw(st.sampled_from(["nominal", "nominal", "worst"])),
        caps=tuple(caps),
    )


def choices(request: JointRequest, stock: tuple[float, ...]) -> Iterator[list[list[tuple[float, float]]]]:
    """For one set of values: error and current of each network of each channel; then current of each branch of each sync."""
    kinds = []
    for channel in request.channels:
        single = replace(request.single(channel), stock_ohm=stock, objective="nominal")
        found = []
        for one in allowed(single):
            net = one.network(single)
            error = worst_of(net, request.white_v) if request.objective == "worst" else one.error_v
            found.append((error, rail_current_span(net, net.white_code).high))
        kinds.append(found)
    for sync in request.syncs:
        held = []
        for ohm, how in product(stock, HOWS if request.pairs else ("single",)):
            part = Span.exact(ohm * HOWS[how]).relative(request.tolerance_percent)
            found_levels = sync_levels(with_branch(sync.shared, part))
            if min(s.low for s in found_levels.high_v) >= 2.0 and max(s.high for s in found_levels.low_v) <= 0.8:
                held.append((0.0, max(found_levels.driver_high_a.high, 0.0) * sync.wires))
        kinds.append(held)
    if all(kinds):
        yield kinds


def least_worst(request: JointRequest) -> float:
    """Smallest error of the worst channel over all sets and all that the caps allow; infinite if there is none."""
    names = [one.name for one in (*request.channels, *request.syncs)]
    best = math.inf
    for stock in combinations(
        sorted(request.stock_ohm or ()), min(request.distinct_most, len(request.stock_ohm or ()))
    ):
        for kinds in choices(request, stock):
            for limit in sorted({error for kind in kinds for error, _ in kind}):
                fit = [[current for error, current in kind if error <= limit] for kind in kinds]
                if limit >= best or not all(fit):
                    continue
                drawn = dict(zip(names, map(min, fit), strict=True))
                if all(cap.own_a + sum(drawn[name] for name in cap.members) <= cap.most_a for cap in request.caps):
                    best = limit
    return best


@settings(max_examples=60)
@given(joint_requests())
def test_worst_channel(request: JointRequest) -> None:
    tried, found = least_worst(request), find_joint(request)
    if found is None:
        assert tried == math.inf
        return
    assert found.proved
    assert found.error_v == pytest.approx(tried, abs=6e-6 if request.objective == "worst" else 2e-9)
    assert len(found.values_ohm) <= request.distinct_most
    for cap, drawn in zip(request.caps, found.caps_a, strict=True):
        assert drawn <= cap.most_a * (1 + 1e-9)
    if not request.caps and request.objective == "nominal":  # no other set is better further down the ranks
        errors = sorted((net.error_v for net in found.channels), reverse=True)
        for stock in combinations(
            sorted(request.stock_ohm or ()), min(request.distinct_most, len(request.stock_ohm or ()))
        ):
            for kinds in choices(request, stock):
                other = sorted((min(kind)[0] for kind in kinds[: len(request.channels)]), reverse=True)
                steps = [round((mine - theirs) / 2e-9) for mine, theirs in zip(errors, other, strict=True)]
                assert next((step for step in steps if step), 0) <= 0
