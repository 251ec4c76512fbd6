"""What must hold for every cable: dividers, passivity, linearity, and where a longer cable is never sharper."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scanloom.circuit.branched import Branch, BranchedLine, branch_levels, receiver_edges
from scanloom.circuit.line import UniformLine, line_attenuation_db, line_of_sheet, line_two_port, line_waves
from scanloom.circuit.pixel import driven_waveform, path_figures, pixel_response
from scanloom.circuit.signal_path import Leg, SignalPath, path_step, path_transfer, settled_levels
from scanloom.circuit.star import star_voltage
from scanloom.circuit.switched import mean_drive, switched_samples
from scanloom.circuit.switched_bound import echo_bound
from scanloom.stages.levels.ladder import ladder_taps
from scanloom.stages.levels.model import BuiltNetwork

few = settings(max_examples=20, deadline=None, derandomize=True)

ohms = st.floats(10.0, 2000.0)
lines = st.builds(
    line_of_sheet,
    st.floats(50.0, 120.0),
    st.floats(0.6, 0.9),
    st.floats(0.03, 0.12),
    st.floats(0.0, 0.2),
    st.sampled_from([0.0, 2e-4]),
)
legs = st.builds(Leg, st.floats(10.0, 60.0), st.floats(10.0, 60.0), ohms, st.floats(1e-12, 9e-12))
paths = st.builds(
    SignalPath,
    st.lists(legs, min_size=1, max_size=4).map(tuple),
    lines,
    st.floats(0.0, 20.0),
    st.floats(40.0, 400.0),
    st.floats(2e-12, 15e-12),
    st.floats(5e-12, 40e-12),
    st.one_of(st.none(), st.floats(80.0, 300.0)),
)


@few
@given(lines, st.floats(1e5, 1e9), st.floats(0.1, 30.0))
def test_a_two_port_is_reciprocal_and_two_halves_make_a_whole(line: UniformLine, hertz: float, length_m: float) -> None:
    s = np.array([2j * math.pi * hertz])
    whole = [v[0] for v in line_two_port(line, length_m, s)]
    half = [v[0] for v in line_two_port(line, length_m / 2.0, s)]
    assert whole[0] * whole[3] - whole[1] * whole[2] == pytest.approx(1.0, rel=1e-9)
    twice = np.array(half).reshape(2, 2) @ np.array(half).reshape(2, 2)
    assert np.allclose(twice.ravel(), whole, rtol=1e-9)
    # loss by the plain sum equals that of the arrays
    assert line_attenuation_db(line, hertz) == pytest.approx(
        float(line_waves(line, s)[0][0].real) * 20 / math.log(10), rel=1e-9
    )


@few
@given(paths)
def test_a_zero_cable_is_a_divider(path: SignalPath) -> None:
    short = replace(path, length_m=0.0)
    for at, level in enumerate(settled_levels(short)):
        arms = [(1.0 if at == other else 0.0, leg.pin_ohm + leg.part_ohm) for other, leg in enumerate(short.legs)]
        arms += [(0.0, short.load_ohm)] + ([(0.0, short.shunt_ohm)] if short.shunt_ohm else [])
        assert level == pytest.approx(star_voltage(arms), rel=1e-9)


@few
@given(paths)
def test_slow_signals_see_resistances_only(path: SignalPath) -> None:
    low = path_transfer(path, np.array([1e-6 + 0j]))[:, 0].real
    assert low == pytest.approx(np.array(settled_levels(path)), rel=1e-6)


@few
@given(paths)
def test_no_passive_network_gives_more_than_the_rail(path: SignalPath) -> None:
    assert 0.0 < sum(settled_levels(path)) < 1.0


@few
@given(paths, st.floats(50.0, 500.0))
def test_a_shunt_never_raises_a_level(path: SignalPath, shunt_ohm: float) -> None:
    bare, shunted = replace(path, shunt_ohm=None), replace(path, shunt_ohm=shunt_ohm)
    assert all(b >= s for b, s in zip(settled_levels(bare), settled_levels(shunted), strict=True))


def test_a_ladder_settles_where_the_levels_stage_says() -> None:
    built = BuiltNetwork("ladder", (480.0,) * 4, (25.0,) * 4, (25.0,) * 4, 3.3, 75.0, None, (260.0,) * 3, 500.0)
    line = UniformLine(3.79e-7, 6.74e-11)
    path = SignalPath((Leg(25.0, 25.0, 480.0),) * 4, line, 3.0, 75.0, 0.0, 0.0, None, (260.0,) * 3, 500.0)
    for code in range(16):
        on = [code >> (3 - leg) & 1 for leg in range(4)]
        ours = 3.3 * sum(b * v for b, v in zip(on, settled_levels(path), strict=True))
        assert ours == pytest.approx(ladder_taps(built, code)[0], rel=1e-12, abs=1e-15)


@few
@given(paths, st.integers(0, 2**31), st.floats(-2.0, 2.0), st.floats(-2.0, 2.0))
def test_the_chain_is_linear(path: SignalPath, seed: int, one: float, other: float) -> None:
    draw = np.random.default_rng(seed)
    first, second = draw.uniform(0.0, 3.3, (2, 6, len(path.legs)))
    step = path_step(path, 2e-9, 6 * 40e-9, 1e-3)
    times = draw.uniform(0.0, 6 * 40e-9, 20)
    together = driven_waveform(step, one * first + other * second, 40e-9, times)
    apart = one * driven_waveform(step, first, 40e-9, times) + other * driven_waveform(step, second, 40e-9, times)
    assert np.abs(together - apart).max() < 1e-9


@few
@given(paths)
def test_taps_add_up_to_the_settled_level(path: SignalPath) -> None:
    taps = pixel_response(path, 40e-9, 2e-9, tail=3e-3)
    assert np.abs(taps.tap.sum(axis=1) - taps.settled).sum() <= taps.left_out + 60 * taps.error
    assert taps.left_out <= 3e-3 * taps.settled.sum() or taps.tap.shape[1] == 512


@pytest.mark.parametrize("loss_db_per_m", [0.04, 0.09])
@pytest.mark.parametrize("clock_hz", [25.175e6, 65e6])
@pytest.mark.parametrize("load_ohm", [75.0, 82.5])
def test_a_longer_cable_is_never_sharper_on_a_matched_source(
    loss_db_per_m: float, clock_hz: float, load_ohm: float
) -> None:
    """True where the source takes all that comes back: matched, no capacitance at it; worst phase of 0.5 to 0.9."""
    line = line_of_sheet(75.0, 0.66, loss_db_per_m, 0.06)
    found = [
        path_figures(
            SignalPath((Leg(25.0, 25.0, 50.0),), line, length_m, load_ohm), 1.0 / clock_hz, 2e-9, echoes=0
        ).contrast
        for length_m in (0.5, 2.0, 5.0, 10.0, 20.0, 40.0)
    ]
    assert all(later < earlier for earlier, later in pairwise(found))


def test_a_longer_cable_can_be_sharper_where_echoes_return() -> None:
    """The law's limit: at 279 ohm and real capacitances 2 m are worse than 4 m, for the echo lands on the sample."""
    line = line_of_sheet(75.0, 0.66, 0.04, 0.06)
    short, long = [
        path_figures(
            SignalPath((Leg(25.0, 25.0, 254.0, 5e-12),), line, length_m, 75.0, 8e-12, 15e-12), 1 / 25.175e6, 2e-9
        ).contrast
        for length_m in (2.0, 4.0)
    ]
    assert long > short + 0.05


branches = st.builds(
    Branch, st.floats(0.0, 150.0), lines, st.floats(0.5, 15.0), st.floats(500.0, 5000.0), st.floats(5e-12, 15e-12)
)
syncs = st.builds(
    BranchedLine,
    st.floats(5.0, 60.0),
    st.floats(5.0, 60.0),
    st.floats(3.0, 3.6),
    st.lists(branches, min_size=1, max_size=4).map(tuple),
    st.floats(1e-9, 5e-9),
    st.floats(0.0, 100.0),
)


@few
@given(syncs, branches)
def test_another_display_never_raises_a_sync(net: BranchedLine, another: Branch) -> None:
    more = replace(net, branches=(*net.branches, another))
    assert all(b >= m for b, m in zip(branch_levels(net, True), branch_levels(more, True), strict=False))


@settings(max_examples=5, deadline=None, derandomize=True)
@given(syncs)
def test_edges_end_at_the_levels(net: BranchedLine) -> None:
    for edges, high, low in zip(
        receiver_edges(net, 0.8, 2.0), branch_levels(net, True), branch_levels(net, False), strict=True
    ):
        assert (edges.high_v, edges.low_v) == (high, low)
        if high > 2.05 and low < 0.75:
            assert edges.rising.between_s is not None and edges.rising.between_s > 0.0
            assert edges.falling.between_s is not None and edges.falling.between_s > 0.0


@pytest.mark.parametrize("part_ohm", [0.0, 240.0])
def test_equal_states_switch_nothing(part_ohm: float) -> None:
    path = SignalPath((Leg(25.0, 25.0, part_ohm, 5e-12),), UniformLine(3.79e-7, 6.74e-11), 4.0, 82.5, 8e-12, 15e-12)
    assert echo_bound(path, 3.3, 40e-9, 2e-9) == 0.0
    assert mean_drive(path, 3.3)[:, 0] == pytest.approx([0.0, 3.3])
    codes = [0, 1, 1, 0, 1, 0, 0, 1, 0, 1]
    step = path_step(path, 2e-9, 12 * 40e-9, 1e-6)
    times = (np.arange(10) + 0.5) * 40e-9
    plain = driven_waveform(step, 3.3 * np.array(codes, dtype=float)[:, None], 40e-9, times)
    assert np.abs(switched_samples(path, 3.3, codes, 40e-9, 2e-9) - plain).max() < 1e-4


@pytest.mark.parametrize("seed", range(6))
def test_the_bound_holds_for_random_pictures(seed: int) -> None:
    draw = np.random.default_rng(seed)
    bits = int(draw.integers(1, 4))
    legs = tuple(
        Leg(float(draw.uniform(25, 45)), float(draw.uniform(15, 30)), float(draw.uniform(0, 60)) if bits == 1 else 400.0 * 2**at, 5e-12)
        for at in range(bits)
    )  # fmt: skip
    path = SignalPath(
        legs, UniformLine(3.79e-7, 6.74e-11), float(draw.uniform(1, 8)), float(draw.uniform(60, 160)), 8e-12, 15e-12
    )
    codes = draw.integers(0, 1 << bits, 60)
    taps = pixel_response(path, 40e-9, 2e-9, tail=1e-4)
    drive = mean_drive(path, 3.3)[codes]
    simple = sum(np.convolve(drive[:, leg], taps.tap[leg])[-taps.first :][:59] for leg in range(bits))
    off = np.abs(simple - switched_samples(path, 3.3, codes, 40e-9, 2e-9)[:59]).max()
    assert 0.0 < off < echo_bound(path, 3.3, 40e-9, 2e-9) + 3.3 * (taps.left_out + 1e-4)


def test_steady_levels_of_switching_pins_are_exact() -> None:
    """A long run of one code ends at the level that conductances give."""
    legs = (Leg(40.0, 22.0, 510.0, 5e-12), Leg(40.0, 22.0, 1000.0, 5e-12))
    path = SignalPath(legs, UniformLine(3.79e-7, 6.74e-11), 2.0, 75.0, 8e-12, 15e-12)
    for code in (1, 2, 3):
        arms = [
            (3.3 if code >> (1 - at) & 1 else 0.0, (40.0 if code >> (1 - at) & 1 else 22.0) + leg.part_ohm)
            for at, leg in enumerate(legs)
        ]
        level = star_voltage([*arms, (0.0, 75.0)])
        assert mean_drive(path, 3.3)[code] @ np.array(settled_levels(path)) == pytest.approx(level, rel=1e-9)
        assert switched_samples(path, 3.3, [code] * 30, 40e-9, 2e-9)[25] == pytest.approx(level, abs=2e-5)
