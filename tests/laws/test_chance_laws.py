"""Laws of tolerance by chance, of sensitivity, of shared pins, amplifiers and buffers, and exact answers to hold them to."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import product
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_levels_laws import channels, spans

from scanloom.basis.span import Span
from scanloom.circuit.nodal import GROUND, Network, Resistor, VoltageSource, solve
from scanloom.handbook.buffers import buffer, buffer_families
from scanloom.stages.levels.amplifier import Amplifier, amplified_level
from scanloom.stages.levels.buffers import buffer_count, outputs_allowed
from scanloom.stages.levels.chance import Lot, Spread, drawn_whites, measure_yield
from scanloom.stages.levels.colour import load_heat
from scanloom.stages.levels.draw_kernel import normal_at, scrambled
from scanloom.stages.levels.fan_out import SharedPin, shared_pin_current, shared_white
from scanloom.stages.levels.figures import channel_figures, levels
from scanloom.stages.levels.ground import SupplyPath, disturbance
from scanloom.stages.levels.mismatch import colour_mismatch, white_on_one_rail
from scanloom.stages.levels.model import OutputNetwork, typical
from scanloom.stages.levels.monotonic import monotonic_guaranteed
from scanloom.stages.levels.sensitivity import (
    level_slopes,
    looser_parts,
    looser_words,
    step_influences,
    white_influences,
    worst_step,
)
from scanloom.stages.levels.tolerance import level_span, white_span
from scanloom.stages.levels.wired import ColourWiring, wired_white, wired_white_current

EXACT = Span.exact
RAIL, PIN, LOAD = EXACT(3.3), EXACT(25.0), EXACT(75.0)
FEW = settings(max_examples=30, deadline=None)


def lot(*nets: OutputNetwork, **changes: Any) -> Lot:
    return Lot(tuple(ColourWiring(net.style, net) for net in nets), (0,) * len(nets), **changes)


def single(part: Span, rail: Span = RAIL, pin: Span = PIN, load: Span = LOAD) -> OutputNetwork:
    return OutputNetwork("series", (part,), pin, pin, rail, load)


FOUR = OutputNetwork(
    "weighted", tuple(EXACT(ohm).relative(1.0) for ohm in (510.0, 1000.0, 2000.0, 3900.0)),
    EXACT(25.0).relative(10.0), EXACT(25.0).relative(10.0), EXACT(3.3).relative(1.0), EXACT(75.0).relative(1.0),
)  # fmt: skip


# --- the generator --------------------------------------------------------------------------------------------------


def test_scrambler_gives_the_numbers_that_are_widely_printed() -> None:
    """First outputs of splitmix64 for seed 1234567, as printed on a public page of worked programs; from memory."""
    printed = [6457827717110365317, 3203168211198807973, 9817491932198370423, 4593380528125082431, 16408922859458223821]
    golden, made = 0x9E3779B97F4A7C15, []
    for step in range(1, 6):
        made.append(int(scrambled(np.uint64((1234567 + step * golden) % 2**64))))
    assert made == printed


def test_deviates_are_those_of_the_standard_library() -> None:
    shares = [0.00135, 0.01, 0.0242, 0.0243, 0.2, 0.5, 0.77, 0.9757, 0.9758, 0.999]
    assert [normal_at(s) for s in shares] == pytest.approx(
        [NormalDist().inv_cdf(s) for s in shares], rel=2e-9, abs=1e-12
    )


def test_a_run_is_the_same_again_and_its_numbers_are_kept() -> None:
    """The numbers themselves, so that no version of anything may change a yield that somebody wrote down."""
    one, two = measure_yield(lot(FOUR, FOUR), 2000, 7), measure_yield(lot(FOUR, FOUR), 2000, 7)
    assert one == two != measure_yield(lot(FOUR, FOUR), 2000, 8)
    whites, _ = drawn_whites(lot(FOUR), 3, 7)
    assert whites[:, 0] == pytest.approx(KEPT, rel=1e-12)
    longer, _ = drawn_whites(lot(FOUR), 9, 7)
    assert np.array_equal(longer[:3], whites)


KEPT = [0.6998445018318745, 0.699118207760462, 0.6943691189665874]


# --- exact answers ----------------------------------------------------------------------------------------------------


def test_a_linear_figure_has_the_variance_of_its_span() -> None:
    """White is in proportion to the rail: evenly spread over 2 a it deviates by a / root 3; mean and ends are its own."""
    net = single(EXACT(240.0), rail=Span(3.135, 3.3, 3.465))
    found = measure_yield(lot(net), 40_000).whites
    share = levels(single(EXACT(240.0)))[1] / 3.3
    assert found.deviation == pytest.approx(share * 0.165 / math.sqrt(3.0), rel=0.01)
    assert found.mean == pytest.approx(share * 3.3, abs=5.0 * share * 0.165 / math.sqrt(3.0 * 40_000))
    assert (found.p1, found.p50, found.p99) == pytest.approx(
        [share * (3.135 + 0.33 * at) for at in (0.01, 0.5, 0.99)], abs=2e-4
    )


def test_normal_values_deviate_by_a_third_of_their_span_but_for_the_cut() -> None:
    """Variance of a normal cut at three deviations: 1 - 6 f(3) / (2 F(3) - 1)."""
    net = single(EXACT(240.0), rail=Span(3.135, 3.3, 3.465))
    found = measure_yield(lot(net, spread="normal"), 40_000).whites
    unit = NormalDist()
    cut = 1.0 - 6.0 * unit.pdf(3.0) / (2.0 * unit.cdf(3.0) - 1.0)
    share = levels(single(EXACT(240.0)))[1] / 3.3
    assert found.deviation == pytest.approx(share * 0.055 * math.sqrt(cut), rel=0.015)


@pytest.mark.parametrize("spread", ["even", "normal"])
def test_yield_of_one_part_is_its_share_of_the_span(spread: Spread) -> None:
    """White falls with the part alone, so the window is a piece of its span, and its share is known."""
    part = Span(216.0, 240.0, 264.0)
    net = single(part)

    def ohm_of(white_v: float) -> float:
        return 75.0 * (3.3 / white_v - 1.0) - 25.0

    low_ohm, high_ohm = ohm_of(0.77), ohm_of(0.72)
    assert part.low < low_ohm < high_ohm < part.high
    if spread == "even":
        exact = (high_ohm - low_ohm) / (part.high - part.low)
    else:
        unit = NormalDist(240.0, 8.0)
        exact = (unit.cdf(high_ohm) - unit.cdf(low_ohm)) / (unit.cdf(264.0) - unit.cdf(216.0))
    found = measure_yield(lot(net, spread=spread), 40_000, window_v=(0.72, 0.77))
    assert found.white_share == pytest.approx(exact, abs=5.0 * math.sqrt(exact * (1.0 - exact) / 40_000))


def test_mismatch_of_two_exact_channels_is_known() -> None:
    found = measure_yield(lot(single(EXACT(240.0)), single(EXACT(270.0))), 10)
    first, second = levels(single(EXACT(240.0)))[1], levels(single(EXACT(270.0)))[1]
    mean = (first + second) / 2.0
    assert found.mismatches.most == pytest.approx((first - second) / mean, rel=1e-12)
    assert (found.mismatch_share, found.inl_share, found.monotonic_share) == (0.0, 1.0, 1.0)


@settings(max_examples=15, deadline=None)
@given(channels(most_bits=4), st.integers(0, 2**32))
def test_exact_copies_are_the_channel_itself(net: OutputNetwork, seed: int) -> None:
    """With no tolerance the compiled sums must be those of the plain ones: level, linearity, order."""
    exact = replace(
        net, part_ohm=tuple(EXACT(p.typical) for p in net.part_ohm), pin_high_ohm=EXACT(net.pin_high_ohm.typical),
        pin_low_ohm=EXACT(net.pin_low_ohm.typical), rail_v=EXACT(net.rail_v.typical), load_ohm=EXACT(net.load_ohm.typical),
        shunt_ohm=None if net.shunt_ohm is None else EXACT(net.shunt_ohm.typical),
        rung_ohm=tuple(EXACT(r.typical) for r in net.rung_ohm),
        terminator_ohm=None if net.terminator_ohm is None else EXACT(net.terminator_ohm.typical),
    )  # fmt: skip
    whites, linearities = drawn_whites(lot(exact), 1, seed)
    figures = channel_figures(exact)
    assert whites[0, 0] == pytest.approx(figures.level_v[-1], rel=1e-12)
    assert linearities[0, 0] == pytest.approx(figures.linearity.inl_lsb, rel=1e-9, abs=1e-9)
    if abs(figures.linearity.dnl_min_lsb + 1.0) > 1e-9:
        found = measure_yield(lot(exact), 1, seed)
        assert found.monotonic_share == float(figures.linearity.dnl_min_lsb > -1.0)


@settings(max_examples=15, deadline=None)
@given(channels(most_bits=4), st.integers(0, 2**32), st.booleans(), st.sampled_from(["even", "normal"]))
def test_no_board_leaves_the_corners(net: OutputNetwork, seed: int, alike: bool, spread: Spread) -> None:
    whites, _ = drawn_whites(lot(net, spread=spread, pins_alike=alike), 300, seed)
    bounds = level_span(net, net.white_code)
    assert bounds.low - 1e-12 <= whites.min() and whites.max() <= bounds.high + 1e-12


def test_boards_come_near_the_corners_of_a_single_channel() -> None:
    """The corners are no idle bound: with four free elements a lot of boards comes within a few per cent of them."""
    net = single(Span(216.0, 240.0, 264.0), Span(3.135, 3.3, 3.465), Span(20.0, 25.0, 30.0), Span(73.5, 75.0, 76.5))
    found, bounds = measure_yield(lot(net), 40_000).whites, white_span(net)
    assert found.least - bounds.low < 0.06 * (bounds.high - bounds.low)
    assert bounds.high - found.most < 0.06 * (bounds.high - bounds.low)


# --- laws of chance -----------------------------------------------------------------------------------------------------


@settings(max_examples=10, deadline=None)
@given(channels(most_bits=3), st.floats(0.5, 0.9), st.floats(0.3, 0.95), st.integers(0, 1000))
def test_yield_falls_as_the_window_narrows(net: OutputNetwork, middle: float, narrower: float, seed: int) -> None:
    bounds = white_span(net)
    at, half = bounds.low + middle * (bounds.high - bounds.low), (bounds.high - bounds.low) / 2.0 + 1e-6
    wide = measure_yield(lot(net), 400, seed, (at - half, at + half))
    narrow = measure_yield(lot(net), 400, seed, (at - narrower * half, at + narrower * half))
    assert narrow.white_share <= wide.white_share
    assert narrow.good_share <= min(narrow.white_share, narrow.monotonic_share, narrow.inl_share, narrow.mismatch_share)


def test_a_window_that_the_corners_hold_makes_every_board_good_and_one_beside_it_none() -> None:
    bounds = white_span(FOUR)
    assert measure_yield(lot(FOUR), 500, window_v=(bounds.low - 1e-12, bounds.high + 1e-12)).white_share == 1.0
    assert measure_yield(lot(FOUR), 500, window_v=(bounds.high + 1e-6, bounds.high + 1.0)).white_share == 0.0


def test_pins_that_go_alike_spread_white_more_than_free_ones() -> None:
    """Common pins add up, free ones average out."""
    loose = replace(FOUR, pin_high_ohm=Span(10.0, 25.0, 40.0), rail_v=EXACT(3.3), load_ohm=EXACT(75.0))
    alike, free = measure_yield(lot(loose), 4000), measure_yield(lot(loose, pins_alike=False), 4000)
    assert alike.whites.deviation > 1.2 * free.whites.deviation


def test_refusals() -> None:
    with pytest.raises(ValueError, match="one display a channel"):
        Lot((ColourWiring("series", FOUR),), ())
    with pytest.raises(ValueError, match="allowed are even, normal"):
        lot(FOUR, spread="flat")
    with pytest.raises(ValueError, match="0 boards"):
        measure_yield(lot(FOUR), 0)


# --- sensitivity ---------------------------------------------------------------------------------------------------------


@FEW
@given(channels())
def test_slopes_are_those_of_small_differences(net: OutputNetwork) -> None:
    built = typical(net)
    for code in {net.white_code, net.white_code // 2}:
        slopes = level_slopes(net, code)
        assert slopes["rail"] == pytest.approx(level_span(net, code).typical / net.rail_v.typical)
        for name, change in (
            ("load", "load_ohm"),
            ("pin high", "pin_high_ohm"),
            ("pin low", "pin_low_ohm"),
            ("shunt", "shunt_ohm"),
        ):
            span = getattr(net, change)
            if span is None:
                continue
            step = 1e-4 * span.typical
            up, down = [
                level_span(replace(net, **{change: EXACT(span.typical + way * step)}), code).typical
                for way in (1.0, -1.0)
            ]
            assert slopes[name] == pytest.approx((up - down) / (2.0 * step), rel=1e-4, abs=1e-9), name
        for leg in range(net.bits):
            step = 1e-4 * built.part_ohm[leg]
            ends = []
            for way in (1.0, -1.0):
                parts = [EXACT(ohm) for ohm in built.part_ohm]
                parts[leg] = EXACT(built.part_ohm[leg] + way * step)
                ends.append(level_span(replace(net, part_ohm=tuple(parts)), code).typical)
            assert slopes[f"part {leg + 1}"] == pytest.approx((ends[0] - ends[1]) / (2.0 * step), rel=1e-4, abs=1e-9)


@FEW
@given(channels(), st.sampled_from([1e-3, 1e-4]))
def test_shares_add_up_to_the_span_as_tolerances_vanish(net: OutputNetwork, percent: float) -> None:
    def tight(span: Span) -> Span:
        return EXACT(span.typical).relative(percent)

    small = replace(
        net, part_ohm=tuple(map(tight, net.part_ohm)), pin_high_ohm=tight(net.pin_high_ohm), pin_low_ohm=tight(net.pin_low_ohm),
        rail_v=tight(net.rail_v), load_ohm=tight(net.load_ohm), shunt_ohm=None if net.shunt_ohm is None else tight(net.shunt_ohm),
        rung_ohm=tuple(map(tight, net.rung_ohm)), terminator_ohm=None if net.terminator_ohm is None else tight(net.terminator_ohm),
    )  # fmt: skip
    found, bounds = white_influences(small), white_span(small)
    assert sum(one.share for one in found) == pytest.approx(1.0)
    assert sum(one.spread_v for one in found) == pytest.approx(bounds.high - bounds.low, rel=1e-4)


def test_the_worst_step_hangs_on_the_part_that_carries_into_it() -> None:
    assert worst_step(FOUR) == 8
    found = step_influences(FOUR)
    assert found[0].element == "part 1"
    assert found[0].per_percent_v < 0.0 < found[1].per_percent_v
    with pytest.raises(ValueError, match="no step leads to it"):
        step_influences(FOUR, 0)


def test_one_per_cent_here_and_more_there() -> None:
    """Proved anew by every corner: with the looser grades white holds, with one grade more somewhere it does not."""
    looser = looser_parts(FOUR)
    assert looser_words(FOUR, looser) == (
        "1 % for part 1 (510 ohm); 2 % will do for part 2 (1000 ohm); 10 % will do for part 3 (2000 ohm); "
        "10 % will do for part 4 (3900 ohm)."
    )
    may = {one.leg: one.may_percent for one in looser}

    def corners(grades: dict[int, float]) -> tuple[float, float]:
        found = []
        parts = [EXACT(p.typical).relative(grades.get(leg, 1.0)) for leg, p in enumerate(FOUR.part_ohm)]
        for ohms in product(*[(p.low, p.high) for p in parts]):
            for pin, rail, load in product(*[(s.low, s.high) for s in (FOUR.pin_high_ohm, FOUR.rail_v, FOUR.load_ohm)]):
                fed = sum(1.0 / (ohm + pin) for ohm in ohms)
                found.append(rail * fed / (fed + 1.0 / load))
        return min(found), max(found)

    low, high = corners(may)
    assert 0.665 <= low and high <= 0.770
    assert (looser[-1].white_v.low, looser[-1].white_v.high) == pytest.approx((low, high))
    # one grade looser for the second part white would still hold, but a step may run backwards; for the first it would not
    assert monotonic_guaranteed(with_grades(may)).guaranteed
    assert not monotonic_guaranteed(with_grades(may | {1: 5.0})).guaranteed
    low, high = corners(may | {0: 2.0})
    assert low < 0.665 or high > 0.770 or not monotonic_guaranteed(with_grades(may | {0: 2.0})).guaranteed


def with_grades(grades: dict[int, float]) -> OutputNetwork:
    return replace(
        FOUR, part_ohm=tuple(EXACT(p.typical).relative(grades.get(leg, 1.0)) for leg, p in enumerate(FOUR.part_ohm))
    )


def test_nothing_may_be_looser_where_white_is_not_sure_now() -> None:
    assert looser_parts(replace(FOUR, rail_v=EXACT(3.3).relative(10.0))) == ()


# --- shared pins, amplifiers, buffers, supply -------------------------------------------------------------------------------


@FEW
@given(spans(1.0, 60.0), spans(1.8, 5.0), spans(50.0, 400.0), spans(50.0, 100.0), st.integers(1, 3))
def test_bounds_of_a_shared_pin_equal_every_corner(pin: Span, rail: Span, part: Span, load: Span, fed: int) -> None:
    shared = SharedPin(pin, rail, part, load, fed)
    whites, currents = [], []
    ends = [(s.low, s.high) for s in (rail, pin, *(part,) * fed, *(load,) * fed)]
    for rail_v, pin_ohm, *rest in product(*ends):
        arms = list(zip(rest[:fed], rest[fed:], strict=True))
        resistors = [Resistor("rail", "pin", pin_ohm)]
        for at, (own, far) in enumerate(arms):
            resistors += [Resistor("pin", f"o{at}", own), Resistor(f"o{at}", GROUND, far)]
        solved = solve(Network(tuple(resistors), (VoltageSource("rail", GROUND, rail_v),)))
        whites.append(solved.node_v["o0"])
        currents.append(solved.source_a[0])
    white, current = shared_white(shared), shared_pin_current(shared)
    assert (white.low, white.high) == pytest.approx((min(whites), max(whites)))
    assert (current.low, current.high) == pytest.approx((min(currents), max(currents)))


@FEW
@given(spans(1.0, 60.0), spans(50.0, 400.0), st.integers(1, 2))
def test_one_input_more_on_a_pin_never_raises_white(pin: Span, part: Span, fed: int) -> None:
    fewer = SharedPin(pin, EXACT(3.3), part, EXACT(75.0), fed)
    more = replace(fewer, fed=fed + 1)
    assert shared_white(more).low < shared_white(fewer).low and shared_white(more).high < shared_white(fewer).high
    assert shared_pin_current(more).low > shared_pin_current(fewer).low


@FEW
@given(spans(0.3, 1.0), spans(60.0, 90.0), spans(60.0, 90.0), st.sampled_from([1.0, 2.0, 4.0]))
def test_bounds_of_an_amplifier_equal_every_corner(seen: Span, back: Span, load: Span, gain: float) -> None:
    found = [
        gain * v * r / (r + b)
        for v, r, b in product((seen.low, seen.high), (load.low, load.high), (back.low, back.high))
    ]
    level = amplified_level(seen, Amplifier(gain, back, load, EXACT(0.0)))
    assert (level.low, level.high) == pytest.approx((min(found), max(found)))


@FEW
@given(channels(most_bits=3, styles=("weighted",)), st.sampled_from(buffer_families()))
def test_buffers_never_raise_what_the_chip_gives(net: OutputNetwork, family: str) -> None:
    """Up to what the sheet allows into their inputs, microamperes beside milliamperes."""
    bare = ColourWiring("weighted", net)
    behind = ColourWiring("buffered", net, buffer(family))
    direct, _ = wired_white_current(bare)
    chip, rail = wired_white_current(behind)
    assert chip.high < direct.low
    assert rail == wired_white_current(bare)[1]
    assert wired_white(behind) == wired_white(bare)


@given(st.sampled_from(buffer_families()), st.floats(1e-4, 0.2), st.integers(1, 60), st.none() | st.integers(1, 20))
def test_packages_carry_what_they_are_counted_for(
    family: str, output_a: float, outputs: int, packages: int | None
) -> None:
    row = buffer(family)
    found = buffer_count(row, EXACT(output_a), outputs, packages)
    assert found.packages * max(found.per_package, 1) >= outputs or packages is not None
    assert found.per_package <= row.outputs
    assert row.package_current.high is not None
    if found.per_package:
        assert found.per_package * output_a <= row.package_current.high
    if packages is None and found.packages > 1 and found.per_package:
        assert (found.packages - 1) * found.per_package < outputs
    assert outputs_allowed(row, 2.0 * output_a) <= outputs_allowed(row, output_a)


@FEW
@given(st.floats(0.001, 0.3), st.floats(1.05, 3.0))
def test_more_inductance_disturbs_more_and_slower_edges_less(step_a: float, factor: float) -> None:
    usual = SupplyPath(
        EXACT(1e-9), EXACT(0.02), EXACT(2e-9), EXACT(4.0), EXACT(1e-9), 4, EXACT(0.02), EXACT(10e-6), EXACT(1e-6),
        EXACT(0.1), EXACT(2e-9),
    )  # fmt: skip
    base = disturbance(usual, EXACT(step_a))
    long = disturbance(replace(usual, ground_h=EXACT(factor * 1e-9)), EXACT(step_a))
    slow = disturbance(replace(usual, edge_s=EXACT(factor * 2e-9)), EXACT(step_a))
    wide = disturbance(replace(usual, ground_h=Span(1e-9, 1e-9, factor * 1e-9)), EXACT(step_a))
    assert long.bounce_v.typical > base.bounce_v.typical > slow.bounce_v.typical
    assert slow.dip_v.typical <= base.dip_v.typical
    assert wide.bounce_v.low == base.bounce_v.low and wide.bounce_v.high > base.bounce_v.high


@FEW
@given(channels(most_bits=2, styles=("weighted",)), spans(50.0, 100.0), st.integers(0, 2**32 - 1))
def test_no_copy_heats_the_load_more_than_the_bounds(net: OutputNetwork, load: Span, seed: int) -> None:
    """Copies drawn from inside the spans, the load's resistance anywhere: matched or not."""
    wiring = ColourWiring(net.style, replace(net, load_ohm=load))
    bounds = load_heat(wiring)
    draw = np.random.default_rng(seed)
    for share in draw.random(40):
        ohm = load.low + float(share) * (load.high - load.low)
        white = wired_white(replace(wiring, network=replace(net, load_ohm=EXACT(ohm))))
        assert white.high**2 / ohm <= bounds.high * (1.0 + 1e-9)
        assert white.low**2 / ohm >= bounds.low * (1.0 - 1e-9)


@FEW
@given(channels(most_bits=2), channels(most_bits=2), st.integers(0, 2**32))
def test_no_board_has_colours_farther_apart_than_the_corners(
    one: OutputNetwork, other: OutputNetwork, seed: int
) -> None:
    other = replace(other, rail_v=one.rail_v)
    bounds = colour_mismatch([white_on_one_rail(ColourWiring(net.style, net)) for net in (one, other)])
    found = measure_yield(lot(one, other, pins_alike=False), 100, seed).mismatches
    assert bounds.low - 1e-9 <= found.least and found.most <= bounds.high + 1e-9
