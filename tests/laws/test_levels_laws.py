"""Laws of the stage levels: what any channel and any shared sync must obey, and exact bounds against every corner.

The corners are solved by the batched nodal solver, which shares no code with the sums under test; it is itself compared
with ngspice and with exact fractions in tests/oracles.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise, product
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from scanloom.basis.span import Span
from scanloom.circuit.nodal import GROUND, Network, Resistor, VoltageSource, solve, solve_many
from scanloom.stages.levels.currents import leg_currents, part_powers, pin_currents, rail_currents
from scanloom.stages.levels.figures import channel_figures, levels, linearity
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.monotonic import monotonic_at_percent, monotonic_guaranteed
from scanloom.stages.levels.sizing import ladder_resistance, matched_resistances, series_resistance
from scanloom.stages.levels.sync import SharedSync, SyncInput, sync_levels
from scanloom.stages.levels.tolerance import (
    leg_current_span,
    level_span,
    level_spans,
    pin_current_spans,
    rail_current_span,
    white_span,
)

ROUNDING = 1e-12


def spans(low: float, high: float) -> st.SearchStrategy[Span]:
    """Exact, narrow or wide spans, typical anywhere inside."""

    def make(middle: float, below: float, above: float) -> Span:
        return Span(middle * (1.0 - below), middle, middle * (1.0 + above))

    width = st.sampled_from([0.0, 0.01, 0.05, 0.3])
    return st.builds(make, st.floats(low, high), width, width)


@st.composite
def channels(draw: st.DrawFn, most_bits: int = 4, styles: tuple[str, ...] = ("weighted", "ladder")) -> OutputNetwork:
    """Channels near the usual values and far from them, pins unequal."""
    style: Any = draw(st.sampled_from(styles))
    bits = draw(st.integers(1, most_bits))
    is_binary = draw(st.booleans())
    parts = tuple(
        draw(spans(350.0 * 2**leg, 450.0 * 2**leg) if is_binary and style == "weighted" else spans(50.0, 5000.0))
        for leg in range(bits)
    )
    pins = (draw(spans(1.0, 80.0)), draw(spans(1.0, 80.0)))
    rail, load = draw(spans(1.8, 5.0)), draw(spans(50.0, 100.0))
    shunt = draw(st.none() | spans(60.0, 1000.0))
    if style == "weighted":
        return OutputNetwork(style, parts, *pins, rail, load, shunt)
    rungs = tuple(draw(spans(50.0, 1000.0)) for _ in range(bits - 1))
    return OutputNetwork(style, parts, *pins, rail, load, shunt, rungs, draw(spans(50.0, 5000.0)))


# --- what any channel obeys ------------------------------------------------------------------------------------------


@given(st.floats(1.2, 6.0), st.floats(0.02, 0.98), st.floats(20.0, 200.0), st.floats(0.0, 60.0), st.integers(1, 3))
def test_divider_gives_white_back(rail_v: float, share: float, load_ohm: float, pin_ohm: float, inputs: int) -> None:
    white_v = share * rail_v
    assume(load_ohm * (rail_v / white_v - 1.0) > inputs * pin_ohm)
    part_ohm = series_resistance(rail_v, white_v, load_ohm, pin_ohm, inputs)
    if inputs == 1:
        exact = Span.exact
        net = OutputNetwork(
            "series", (exact(part_ohm),), exact(pin_ohm), exact(pin_ohm), exact(rail_v), exact(load_ohm)
        )
        assert levels(net) == pytest.approx((0.0, white_v), rel=1e-12)
    assume(pin_ohm > 0.0 and part_ohm > 1e-6)
    arms = [Resistor("pin", f"out{at}", part_ohm) for at in range(inputs)]
    loads = [Resistor(f"out{at}", GROUND, load_ohm) for at in range(inputs)]
    fed = Network((Resistor("rail", "pin", pin_ohm), *arms, *loads), (VoltageSource("rail", GROUND, rail_v),))
    assert solve(fed).node_v["out0"] == pytest.approx(white_v, rel=1e-9)


@given(st.floats(1.8, 6.0), st.floats(0.02, 0.48), st.floats(20.0, 200.0))
def test_matched_parts_give_white_and_match(rail_v: float, share: float, line_ohm: float) -> None:
    parts = matched_resistances(rail_v, share * rail_v, line_ohm)
    exact = Span.exact
    net = OutputNetwork(
        "series",
        (exact(parts.series_ohm),),
        exact(0.0),
        exact(0.0),
        exact(rail_v),
        exact(line_ohm),
        exact(parts.shunt_ohm),
    )
    found = channel_figures(net)
    assert found.level_v[-1] == pytest.approx(share * rail_v, rel=1e-12)
    assert found.source_ohm == pytest.approx(line_ohm, rel=1e-12)


@given(st.floats(1.8, 6.0), st.floats(0.05, 0.45), st.floats(20.0, 200.0), st.integers(1, 6), st.floats(0.0, 30.0))
def test_ladder_of_two_values_is_even(rail_v: float, share: float, load_ohm: float, bits: int, pin_ohm: float) -> None:
    exact = Span.exact
    rung_ohm = ladder_resistance(rail_v, share * rail_v, load_ohm, bits)
    assume(2.0 * rung_ohm > pin_ohm)
    net = OutputNetwork(
        "ladder",
        (exact(2.0 * rung_ohm - pin_ohm),) * bits,
        exact(pin_ohm),
        exact(pin_ohm),
        exact(rail_v),
        exact(load_ohm),
        rung_ohm=(exact(rung_ohm),) * (bits - 1),
        terminator_ohm=exact(2.0 * rung_ohm),
    )
    found = channel_figures(net)
    assert found.level_v == pytest.approx([share * rail_v * code / (2**bits - 1) for code in range(2**bits)])
    assert found.source_ohm == pytest.approx(rung_ohm)
    assert found.linearity.inl_lsb < 1e-9


@given(channels())
def test_no_passive_network_exceeds_the_rail(net: OutputNetwork) -> None:
    for code, span in enumerate(level_spans(net)):
        assert 0.0 <= span.low and span.high < net.rail_v.high
        assert (span.high == 0.0) == (code == 0)
    for pin in pin_current_spans(net):
        assert pin.source_a.low > 0.0 >= pin.sink_a.high


@given(channels(), spans(60.0, 1000.0))
def test_a_shunt_never_raises_a_level(net: OutputNetwork, shunt: Span) -> None:
    bare, loaded = level_spans(replace(net, shunt_ohm=None)), level_spans(replace(net, shunt_ohm=shunt))
    for without, with_it in zip(bare[1:], loaded[1:], strict=True):
        assert with_it.low < without.low and with_it.typical < without.typical and with_it.high < without.high


@given(
    channels(), st.sampled_from(["part", "pin_high", "pin_low", "rail", "load", "rung", "shunt"]), st.floats(0.1, 30.0)
)
def test_more_tolerance_never_narrows_a_band(net: OutputNetwork, which: str, percent: float) -> None:
    wider = {
        "part": lambda: replace(net, part_ohm=tuple(part.relative(percent) for part in net.part_ohm)),
        "pin_high": lambda: replace(net, pin_high_ohm=net.pin_high_ohm.relative(percent)),
        "pin_low": lambda: replace(net, pin_low_ohm=net.pin_low_ohm.relative(percent)),
        "rail": lambda: replace(net, rail_v=net.rail_v.relative(percent)),
        "load": lambda: replace(net, load_ohm=net.load_ohm.relative(percent)),
        "rung": lambda: replace(net, rung_ohm=tuple(rung.relative(percent) for rung in net.rung_ohm)),
        "shunt": lambda: replace(net, shunt_ohm=net.shunt_ohm and net.shunt_ohm.relative(percent)),
    }[which]()
    for code in range(1 << net.bits):
        pairs = [(level_span(net, code), level_span(wider, code))]
        pairs += [(leg_current_span(net, code, leg), leg_current_span(wider, code, leg)) for leg in range(net.bits)]
        pairs += [(rail_current_span(net, code), rail_current_span(wider, code))]
        for narrow, wide in pairs:
            assert wide.low <= narrow.low + ROUNDING and wide.high >= narrow.high - ROUNDING
    assert monotonic_guaranteed(net).guaranteed or not monotonic_guaranteed(wider).guaranteed


@given(channels())
def test_currents_balance_and_a_pin_is_worst_alone(net: OutputNetwork) -> None:
    currents_a = leg_currents(net)
    ground_ohm = 1.0 / (1.0 / net.load_ohm.typical + (1.0 / net.shunt_ohm.typical if net.shunt_ohm else 0.0))
    for level_v, amps in zip(levels(net), currents_a, strict=True):
        if net.style == "weighted":
            assert sum(amps) == pytest.approx(level_v / ground_ohm, abs=1e-12)
    for leg, pin in enumerate(pin_currents(net)):
        assert pin.source_a == max(amps[leg] for amps in currents_a)
        assert pin.sink_a == min(amps[leg] for amps in currents_a)


@given(channels())
def test_rail_power_is_all_turned_to_heat_at_white(net: OutputNetwork) -> None:
    """What the rail gives at white is the heat of pins, parts, terminator, shunt and load."""
    amps, rail_v = leg_currents(net)[-1], net.rail_v.typical
    pins_w = sum(amp**2 * net.pin_high_ohm.typical for amp in amps)
    legs_w = sum(amp**2 * part.typical for amp, part in zip(amps, net.part_ohm, strict=True))
    powers = part_powers(net)
    rest_w = powers.load_w + powers.shunt_w + powers.terminator_w
    given_w = rail_v * rail_currents(net)[-1]
    if net.style == "weighted":
        assert pins_w + legs_w + rest_w == pytest.approx(given_w, rel=1e-9)
    else:  # a rung's worst code need not be white
        known_w = pins_w + legs_w + rest_w
        assert known_w <= given_w + 1e-12
        assert given_w <= known_w + sum(powers.rung_w) + 1e-12


@given(st.integers(1, 6).flatmap(lambda bits: st.lists(st.floats(100.0, 9000.0), min_size=bits, max_size=bits)))
def test_closed_forms_of_linearity(parts: list[float]) -> None:
    """INL from the weights alone, and DNL at each carry, as derived for equal pins high and low.

    INL = (2^n - 1) / 2 sum |w - w*|; DNL into bit j = (2^n - 1)(w_j - sum of lower w) - 1.
    """
    exact = Span.exact
    style: Any = "weighted"
    net = OutputNetwork(style, tuple(map(exact, parts)), exact(25.0), exact(25.0), exact(3.3), exact(75.0))
    siemens = [1.0 / (part + 25.0) for part in parts]
    weights = [one / sum(siemens) for one in siemens]
    most = 2 ** len(parts) - 1
    ideal = [2**bit / most for bit in reversed(range(len(parts)))]
    found = linearity(levels(net))
    steps = [most * (weights[leg] - sum(weights[leg + 1 :])) - 1.0 for leg in range(len(parts))]
    closed = most / 2.0 * sum(abs(w - wanted) for w, wanted in zip(weights, ideal, strict=True))
    assert found.inl_lsb == pytest.approx(closed, abs=1e-9)
    assert found.dnl_min_lsb == pytest.approx(min(steps), abs=1e-9)
    assert found.dnl_max_lsb == pytest.approx(max(steps), abs=1e-9)


# --- bounds against every corner -------------------------------------------------------------------------------------


def wired(net: OutputNetwork, code: int) -> tuple[Network, list[Span]]:
    """Channel at one code as a plain network, and the span of each of its resistors; node out is the connector."""
    found: list[tuple[str, str, Span]] = [("out", GROUND, net.load_ohm)]
    if net.shunt_ohm is not None:
        found.append(("out", GROUND, net.shunt_ohm))
    taps = ["out", *(f"t{leg}" for leg in range(1, net.bits))] if net.style == "ladder" else ["out"] * net.bits
    voltages = []
    for leg, part in enumerate(net.part_ohm):
        is_on = code >> (net.bits - 1 - leg) & 1
        voltages.append(VoltageSource(f"s{leg}", GROUND, net.rail_v.typical if is_on else 0.0))
        found.append((f"s{leg}", f"p{leg}", net.pin_high_ohm if is_on else net.pin_low_ohm))
        found.append((f"p{leg}", taps[leg], part))
    found += [(taps[at], taps[at + 1], rung) for at, rung in enumerate(net.rung_ohm)]
    if net.terminator_ohm is not None:
        found.append((taps[-1], GROUND, net.terminator_ohm))
    return Network(tuple(Resistor(a, b, s.typical) for a, b, s in found), tuple(voltages)), [s for _, _, s in found]


def all_corners(every: list[Span]) -> NDArray[np.float64]:
    return np.array(list(product(*[(s.low,) if s.is_exact else (s.low, s.high) for s in every])))


def against_every_corner(net: OutputNetwork) -> None:
    """Level, pin currents and rail current of every code lie within every corner's, and reach the outermost."""
    for code in range(1 << net.bits):
        network, every = wired(net, code)
        solved = solve_many(network, resistor_ohm=all_corners(every))
        scale = np.array([[net.rail_v.low], [net.rail_v.high]]) / net.rail_v.typical
        level_v = solved.node_v[:, solved.nodes.index("out")] * scale
        span = level_span(net, code)
        assert (span.low, span.high) == pytest.approx((level_v.min(), level_v.max()), rel=1e-9, abs=1e-12)
        on = [leg for leg in range(net.bits) if code >> (net.bits - 1 - leg) & 1]
        for leg in range(net.bits):
            amps = solved.source_a[:, leg] * scale
            pin = leg_current_span(net, code, leg)
            assert (pin.low, pin.high) == pytest.approx((amps.min(), amps.max()), rel=1e-7, abs=1e-12)
        drawn = solved.source_a[:, on].sum(axis=1) * scale
        rail = rail_current_span(net, code)
        assert (rail.low, rail.high) == pytest.approx((drawn.min(), drawn.max()), rel=1e-7, abs=1e-12)
    white = level_span(net, net.white_code)
    assert (white_span(net).low, white_span(net).high) == pytest.approx((white.low, white.high), rel=1e-12)


@settings(max_examples=25, deadline=None)
@given(channels(most_bits=3, styles=("weighted",)))
def test_bounds_of_a_weighted_channel_equal_every_corner(net: OutputNetwork) -> None:
    against_every_corner(net)


@settings(max_examples=25, deadline=None)
@given(channels(most_bits=3, styles=("ladder",)))
def test_bounds_of_a_ladder_equal_every_corner(net: OutputNetwork) -> None:
    against_every_corner(net)


def four_bits(percent: float) -> OutputNetwork:
    parts = tuple(Span.exact(ohm).relative(percent) for ohm in (510.0, 1000.0, 2000.0, 3900.0))
    pin, low_pin = Span.exact(25.0).relative(30.0), Span.exact(18.0).relative(30.0)
    return OutputNetwork("weighted", parts, pin, low_pin, Span.exact(3.3).relative(5.0), Span.exact(75.0).relative(5.0))


@pytest.mark.parametrize("percent", [1.0, 5.0])
def test_bounds_of_four_bits_equal_all_1024_corners(percent: float) -> None:
    against_every_corner(four_bits(percent))


@settings(max_examples=25, deadline=None)
@given(channels(most_bits=3), st.integers(0, 2**32 - 1))
def test_no_copy_inside_the_spans_leaves_the_bounds(net: OutputNetwork, seed: int) -> None:
    """Corners are enough: copies drawn from the inside stay within."""
    draw = np.random.default_rng(seed)
    for code in range(1 << net.bits):
        network, every = wired(net, code)
        low, high = np.array([s.low for s in every]), np.array([s.high for s in every])
        inside = low + (high - low) * draw.random((64, len(every)))
        solved = solve_many(network, resistor_ohm=inside)
        level_v = solved.node_v[:, solved.nodes.index("out")] / net.rail_v.typical
        span = level_span(net, code)
        assert span.low / net.rail_v.low <= level_v.min() + 1e-9
        assert span.high / net.rail_v.high >= level_v.max() - 1e-9


# --- steps that always rise ------------------------------------------------------------------------------------------


def least_step(net: OutputNetwork) -> float:
    """Least step between neighbouring codes over every corner, pins high and low apart. [V]"""
    kept = [*net.part_ohm, *[net.pin_high_ohm] * net.bits, *[net.pin_low_ohm] * net.bits, net.load_ohm, *net.rung_ohm]
    kept += [span for span in (net.shunt_ohm, net.terminator_ohm) if span is not None]
    corners = all_corners(kept)
    part, high, low = (corners[:, at * net.bits : (at + 1) * net.bits] for at in range(3))
    rest = corners[:, 3 * net.bits :]
    level_v = []
    for code in range(1 << net.bits):
        is_on = [bool(code >> (net.bits - 1 - leg) & 1) for leg in range(net.bits)]
        legs = [
            Resistor(f"s{leg}", f"t{leg}" if net.style == "ladder" and leg else "out", 1.0) for leg in range(net.bits)
        ]
        loads = [Resistor("out", GROUND, 1.0)]
        rungs = [Resistor(f"t{at}" if at else "out", f"t{at + 1}", 1.0) for at in range(len(net.rung_ohm))]
        shunts = [Resistor("out", GROUND, 1.0)] if net.shunt_ohm else []
        last = f"t{net.bits - 1}" if net.bits > 1 else "out"
        ends = [Resistor(last, GROUND, 1.0)] if net.terminator_ohm else []
        feeds = tuple(VoltageSource(f"s{leg}", GROUND, 1.0 if on else 0.0) for leg, on in enumerate(is_on))
        network = Network((*legs, *loads, *rungs, *shunts, *ends), feeds)
        ohms = np.hstack([part + np.where(is_on, high, low), rest])
        solved = solve_many(network, resistor_ohm=ohms)
        level_v.append(solved.node_v[:, solved.nodes.index("out")])
    return min(float((after - before).min()) for before, after in pairwise(level_v))


@settings(max_examples=60, deadline=None)
@given(channels(most_bits=3, styles=("weighted",)))
def test_steps_of_a_weighted_channel_rise_when_they_do_in_every_corner(net: OutputNetwork) -> None:
    found = monotonic_guaranteed(net)
    assume(abs(found.margin) > 1e-9)
    assert found.guaranteed == (least_step(net) > 0.0)


@settings(max_examples=20, deadline=None)
@given(channels(most_bits=2, styles=("ladder",)))
def test_steps_of_a_ladder_rise_in_every_corner_when_they_are_said_to(net: OutputNetwork) -> None:
    if monotonic_guaranteed(net).guaranteed:
        assert least_step(net) > 0.0


EDGE_PERCENT = [
    # style, parts, pins high and low, shunt: the tolerance at which steps stop being sure is found by both roads
    ("weighted", (400.0, 800.0, 1600.0), (0.5, 0.5), None),
    ("weighted", (510.0, 1000.0, 2000.0), (40.0, 40.0), None),
    ("weighted", (510.0, 1000.0, 2000.0), (40.0, 15.0), None),
    ("weighted", (510.0, 1000.0, 2000.0), (15.0, 40.0), None),
    ("weighted", (510.0, 1000.0, 2000.0), (90.0, 10.0), 130.0),
    ("weighted", (510.0, 1000.0, 2000.0), (10.0, 90.0), 130.0),
    ("ladder", (500.0, 500.0, 500.0), (20.0, 20.0), None),
    ("ladder", (500.0, 500.0, 500.0), (40.0, 15.0), None),
    ("ladder", (500.0, 500.0, 500.0), (15.0, 40.0), None),
]


@pytest.mark.parametrize(("style", "parts", "pins", "shunt"), EDGE_PERCENT)
def test_tolerance_that_keeps_steps_rising(
    style: Any, parts: tuple[float, ...], pins: tuple[float, float], shunt: float | None
) -> None:
    """Just inside, no corner runs backwards; just outside, one does. A ladder may be refused up to 3 % too early."""
    exact = Span.exact

    def channel(percent: float) -> OutputNetwork:
        rungs = tuple(exact(260.0).relative(percent) for _ in parts[1:]) if style == "ladder" else ()
        terminator = exact(520.0).relative(percent) if style == "ladder" else None
        legs = tuple(exact(part).relative(percent) for part in parts)
        beside = None if shunt is None else exact(shunt).relative(percent)
        return OutputNetwork(
            style, legs, exact(pins[0]), exact(pins[1]), exact(3.3), exact(75.0), beside, rungs, terminator
        )

    percent = monotonic_at_percent(channel(0.0))
    assert 0.1 < percent < 50.0
    assert least_step(channel(percent * 0.999999)) > 0.0
    assert least_step(channel(percent * (1.03 if style == "ladder" else 1.000001))) < 0.0


@st.composite
def near_the_edge(draw: st.DrawFn, style: Any) -> Callable[[float], OutputNetwork]:
    """Three-bit channel whose middle carry runs backwards when its last part is scaled down far enough.

    The first leg is strong, so that its state, its pin and the load weigh on the middle carry; pins differ widely.
    """
    first, middle = draw(spans(100.0, 400.0)), draw(spans(700.0, 1500.0))
    width = draw(st.sampled_from([0.0, 1.0, 5.0]))
    pins = (draw(spans(1.0, 300.0)), draw(spans(1.0, 300.0)))
    load, shunt = draw(spans(40.0, 300.0)), draw(st.none() | spans(60.0, 1000.0))
    rungs = (draw(spans(50.0, 400.0)), draw(spans(50.0, 400.0))) if style == "ladder" else ()
    terminator = draw(spans(300.0, 3000.0)) if style == "ladder" else None

    def channel(scale: float) -> OutputNetwork:
        last = Span.exact(middle.typical * scale).relative(width)
        parts = (first, middle, last)
        return OutputNetwork(style, parts, *pins, Span.exact(3.3), load, shunt, rungs, terminator)

    return channel


def edge_of(channel: Callable[[float], OutputNetwork]) -> float:
    """Scale at which steps begin to be sure; examples whose first carry decides are passed over."""
    backwards, rising = 0.02, 50.0
    assume(monotonic_guaranteed(channel(rising)).guaranteed)
    assume(not monotonic_guaranteed(channel(backwards)).guaranteed)
    while rising / backwards > 1.0 + 1e-9:
        middle = (rising * backwards) ** 0.5
        if monotonic_guaranteed(channel(middle)).guaranteed:
            rising = middle
        else:
            backwards = middle
    return rising


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(near_the_edge("weighted"))
def test_edge_of_a_weighted_channel_is_that_of_every_corner(channel: Callable[[float], OutputNetwork]) -> None:
    edge = edge_of(channel)
    assert least_step(channel(edge * 1.00001)) > 0.0
    assert least_step(channel(edge * 0.99999)) < 0.0


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(near_the_edge("ladder"))
def test_edge_of_a_ladder_is_never_inside_that_of_every_corner(channel: Callable[[float], OutputNetwork]) -> None:
    edge = edge_of(channel)
    assert least_step(channel(edge * 1.00001)) > 0.0


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(
    st.sampled_from(["weighted", "ladder"]),
    spans(80.0, 400.0),
    st.tuples(st.floats(1.0, 400.0), st.floats(1.0, 400.0)),
    st.tuples(spans(40.0, 300.0), st.none() | spans(60.0, 1000.0)),
    st.tuples(spans(50.0, 400.0), st.floats(50.0, 400.0), st.floats(300.0, 3000.0)),
    st.floats(0.4, 2.5),
)
def test_edge_is_exact_when_the_lower_side_is(
    style: Any,
    first: Span,
    pins: tuple[float, float],
    ground: tuple[Span, Span | None],
    ladder: tuple[Span, float, float],
    ratio: float,
) -> None:
    """Four bits, bounds on the higher side only: with two lower legs and unlike pins either state there can be worse.

    Without bounds on the lower side a ladder's answer is exact too.
    """
    exact = Span.exact

    def channel(scale: float) -> OutputNetwork:
        parts = (first, exact(1000.0), exact(1000.0 * scale), exact(1000.0 * scale * ratio))
        rungs = (ladder[0], exact(ladder[1]), exact(ladder[1])) if style == "ladder" else ()
        end = exact(ladder[2]) if style == "ladder" else None
        return OutputNetwork(style, parts, exact(pins[0]), exact(pins[1]), exact(3.3), *ground, rungs, end)

    edge = edge_of(channel)
    # the bounded rung lies on the lower side of the first carry: where that decides, it may be refused early
    assume(monotonic_guaranteed(channel(edge * 0.9999)).leg > 0)
    assert least_step(channel(edge * 1.00001)) > 0.0
    assert least_step(channel(edge * 0.9999)) < 0.0


@given(channels(most_bits=3))
def test_guaranteed_means_the_typical_levels_rise(net: OutputNetwork) -> None:
    if monotonic_guaranteed(net).guaranteed:
        assert all(after > before for before, after in pairwise(levels(net)))
        assert linearity(levels(net)).dnl_min_lsb > -1.0


# --- shared sync -----------------------------------------------------------------------------------------------------


@st.composite
def sync_inputs(draw: st.DrawFn, may_pull: bool = True) -> SyncInput:
    load, branch = draw(spans(500.0, 10000.0)), draw(st.none() | spans(10.0, 200.0))
    if may_pull and draw(st.booleans()):
        return SyncInput(load, branch, draw(spans(1000.0, 10000.0)), draw(spans(2.0, 5.0)))
    return SyncInput(load, branch)


def shared(most: int, may_pull: bool = True) -> st.SearchStrategy[SharedSync]:
    return st.builds(
        SharedSync,
        spans(5.0, 60.0),
        spans(5.0, 60.0),
        spans(1.8, 5.0),
        st.lists(sync_inputs(may_pull), min_size=1, max_size=most).map(tuple),
        st.none() | spans(20.0, 200.0),
    )


@settings(max_examples=40, deadline=None)
@given(shared(most=2))
def test_sync_bounds_equal_every_corner(sync: SharedSync) -> None:
    for is_high in (True, False):
        # columns: driver, [series], per input load, [branch], [pull-up]; sources: rail, pull-up voltages
        found: list[tuple[str, str, Span]] = [("rail", "pin", sync.driver_high_ohm if is_high else sync.driver_low_ohm)]
        volts = [sync.rail_v if is_high else Span.exact(0.0)]
        feeds = [VoltageSource("rail", GROUND, 1.0)]
        node = "pin"
        if sync.series_ohm is not None:
            node = "node"
            found.append(("pin", "node", sync.series_ohm))
        at_input = []
        for place, one in enumerate(sync.inputs):
            end = node
            if one.branch_ohm is not None:
                end = f"in{place}"
                found.append((node, end, one.branch_ohm))
            found.append((end, GROUND, one.load_ohm))
            at_input.append(end)
            if one.pull_ohm is not None and one.pull_v is not None:
                found.append((f"up{place}", end, one.pull_ohm))
                feeds.append(VoltageSource(f"up{place}", GROUND, 1.0))
                volts.append(one.pull_v)
        network = Network(tuple(Resistor(a, b, s.typical) for a, b, s in found), tuple(feeds))
        corners = all_corners([*(s for _, _, s in found), *volts])
        solved = solve_many(network, resistor_ohm=corners[:, : len(found)], source_v=corners[:, len(found) :])
        ours = sync_levels(sync)
        for place, span in enumerate(ours.high_v if is_high else ours.low_v):
            level_v = solved.node_v[:, solved.nodes.index(at_input[place])]
            assert (span.low, span.high) == pytest.approx((level_v.min(), level_v.max()), rel=1e-9, abs=1e-12)
        amps = solved.source_a[:, 0]
        current = ours.driver_high_a if is_high else ours.driver_low_a
        assert (current.low, current.high) == pytest.approx((amps.min(), amps.max()), rel=1e-7, abs=1e-12)


@given(shared(most=5, may_pull=False), sync_inputs(may_pull=False))
def test_another_input_never_raises_a_high_level(sync: SharedSync, another: SyncInput) -> None:
    before = sync_levels(sync)
    after = sync_levels(replace(sync, inputs=(*sync.inputs, another)))
    for old, new in zip(before.high_v, after.high_v, strict=False):
        assert new.low < old.low and new.typical < old.typical and new.high < old.high
    assert after.driver_high_a.low > before.driver_high_a.low
    assert all(level == Span.exact(0.0) for level in after.low_v)
    assert after.driver_low_a == Span.exact(0.0)


@given(shared(most=5))
def test_sync_stays_between_ground_and_the_highest_supply(sync: SharedSync) -> None:
    found = sync_levels(sync)
    top_v = max(sync.rail_v.high, *[one.pull_v.high for one in sync.inputs if one.pull_v], 0.0)
    for high, low in zip(found.high_v, found.low_v, strict=True):
        assert 0.0 <= low.low and high.high < top_v and low.high < top_v
    assert found.driver_low_a.high <= 0.0
    if not any(one.pull_v for one in sync.inputs):
        assert found.driver_high_a.low > 0.0


@given(shared(most=4), st.permutations(range(4)))
def test_the_order_of_inputs_does_not_matter(sync: SharedSync, order: list[int]) -> None:
    kept = [place for place in order if place < len(sync.inputs)]
    turned = sync_levels(replace(sync, inputs=tuple(sync.inputs[place] for place in kept)))
    straight = sync_levels(sync)
    for place, old in enumerate(kept):
        assert turned.high_v[place].low == pytest.approx(straight.high_v[old].low, rel=1e-12)
        assert turned.low_v[place].high == pytest.approx(straight.low_v[old].high, rel=1e-12, abs=1e-15)


def test_a_ladder_whose_lower_legs_may_be_strong_is_not_called_sure() -> None:
    """Strong lower legs leave the tap less to lose to the terminator, which makes the carry above them weaker."""
    exact = Span.exact
    net = OutputNetwork(
        "ladder", (exact(100.0), exact(700.0), exact(480.0)), Span(1.0, 150.0, 300.0), exact(1.0), exact(3.3), exact(40.0),
        None, (exact(50.0), exact(79.0)), exact(300.0),
    )  # fmt: skip
    assert least_step(net) < 0.0
    assert not monotonic_guaranteed(net).guaranteed
