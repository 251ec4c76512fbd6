"""Laws of the stand-in display: with all effects off it gives back the frame; passive, linear, and so on."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from strategies_picture import RandomRig, channel_network, random_rigs, raster_of

from scanloom.circuit.pixel import path_figures
from scanloom.stages.memory import ScanShape
from scanloom.stages.picture.convert import nearest_numbers, read_back
from scanloom.stages.picture.effects import Effects, chosen_effects, effect_names, no_effects
from scanloom.stages.picture.frame import (
    channel_numbers,
    colour_table,
    colour_words,
    frame_bytes,
    raster_words,
    sent_words,
)
from scanloom.stages.picture.front import after_overload, behind_coupling
from scanloom.stages.picture.model import COLOURS, ChannelPath, DisplayPath, InputCable, usual_front_end
from scanloom.stages.picture.pins import pin_levels, with_shared_return
from scanloom.stages.picture.response import sampled_response, sampling_phases, signal_path
from scanloom.stages.picture.sampling import sample_input
from scanloom.stages.picture.show import show_rig
from scanloom.stages.picture.syncs import planned_syncs, seen_syncs

FRONT = usual_front_end()
CABLE = InputCable(75.0, 0.66, 0.065, 0.24, 0.02, 10.0)
LINEAR = ("edges", "cable", "cable-resistance", "lane-skew")


def on_pins(rig: RandomRig) -> Any:
    """Words of the whole raster, through RAM and list."""
    words = colour_words(rig.lanes, rig.numbers)
    table = None
    if rig.stream.table is not None:
        table, words = colour_table(words, rig.stream.table)
    sent = sent_words(frame_bytes(words, rig.made, rig.syncs, rig.stream), rig.made, rig.stream)
    return raster_words(sent if table is None else table[sent], rig.shape, hardware_syncs=rig.stream.sync == "hardware")


def expected(rig: RandomRig, display: str, colour: str) -> Any:
    """Numbers of one channel in the active part, laid out by hand from what was packed."""
    shape = rig.shape
    active = np.zeros((shape.v_active_lines, shape.h_active_px), dtype=np.uint16)
    packed = rig.numbers.get((display, colour), rig.numbers.get((display, "white")))
    assert packed is not None
    for row in range(shape.picture_rows):
        for again in range(shape.line_repeat):
            line = shape.top_border_lines + row * shape.line_repeat + again
            active[line, shape.left_border_px : shape.left_border_px + shape.picture_px] = packed[row]
    return active


@given(random_rigs())
@settings(max_examples=settings.default.max_examples)
def test_all_off_gives_back_the_frame(rig: RandomRig) -> None:
    """Hypothesis over chips, depths, lane maps and word orders: every display shows exactly what was packed."""
    words = on_pins(rig)
    shown = show_rig(rig.displays, words, rig.lanes, rig.raster, no_effects(), FRONT)
    for display, picture in zip(rig.displays, shown, strict=True):
        assert picture.display == display.name
        for channel, trace in zip(display.channels, picture.traces, strict=True):
            wanted = expected(rig, display.name, channel.channel)
            lines, columns = rig.raster.v.active_lines, rig.raster.h.active_px * rig.raster.divide
            seen = read_back(trace.amplified_v, channel.level_v())[:lines, :columns]
            assert np.array_equal(seen, np.repeat(wanted, rig.raster.divide, axis=1))
            level_v = np.asarray(channel.level_v())
            exact = np.round(255.0 * level_v / level_v[-1])[wanted]
            column = picture.native[:, :, COLOURS.index(channel.channel)]
            assert np.array_equal(column, np.repeat(exact, rig.raster.divide, axis=1).astype(np.uint8))
            assert not trace.sent_numbers[lines:].any()  # blank time is black
            assert not trace.sent_numbers[:, rig.raster.h.active_px :].any()


@given(random_rigs())
@settings(max_examples=30)
def test_syncs_seen_are_those_planned(rig: RandomRig) -> None:
    if rig.stream.sync == "hardware":
        return
    seen = seen_syncs(on_pins(rig), rig.syncs.h_mask, rig.syncs.v_mask)
    plan = planned_syncs(rig.raster)
    if 2 * plan.h_sync_px < plan.line_px and 2 * plan.v_sync_lines < plan.frame_lines:
        assert seen == plan


@given(random_rigs(), st.data())
@settings(max_examples=20)
def test_a_frame_with_one_bit_wrong_is_not_given_back(rig: RandomRig, data: Any) -> None:
    """The check above can fail: a flipped colour bit in RAM shows up on just the display it belongs to."""
    words = on_pins(rig).copy()
    lane = data.draw(st.sampled_from([lane for lane in rig.lanes if lane.display]))
    line = data.draw(st.integers(0, rig.shape.v_active_lines - 1))
    words[line, 0] ^= np.uint32(1 << lane.bit)
    for display in rig.displays:
        for channel in display.channels:
            got = channel_numbers(words, rig.lanes, display.name, channel.channel)
            lines, pixels = rig.shape.v_active_lines, rig.shape.h_active_px
            differs = (got[:lines, :pixels] != expected(rig, display.name, channel.channel)).any()
            hit = lane.display == display.name and lane.carries in (channel.channel, "white")
            assert differs == hit


SMALL = ScanShape(64, 4, 8, 12, 6, 1, 1, 2, 64, 6, 1)
RASTER = raster_of(SMALL, "--", 1)


def sampled(channel: ChannelPath, sent_v: Any, effects: Effects, cable: InputCable | None = CABLE) -> Any:
    pixel, which, phases = sampling_phases(FRONT, RASTER.h.total_px, RASTER.divide)
    return sample_input(sent_v, sampled_response(channel, cable, effects, FRONT, RASTER.pixel_s, phases), pixel, which)


@given(st.integers(0, 2**32 - 1), st.floats(0.0, 30.0), st.floats(-2.0, 2.0), st.sampled_from([0.0, 240.0]))
@settings(max_examples=25)
def test_the_linear_chain_is_linear(seed: int, length_m: float, factor: float, part_ohm: float) -> None:
    rng = np.random.default_rng(seed)
    one, other = rng.uniform(0.0, 2.5, (2, 10, RASTER.h.total_px))
    channel = ChannelPath("d", "green", channel_network(1, part_ohm=part_ohm))
    effects, cable = chosen_effects(only=LINEAR), replace(CABLE, length_m=round(length_m))
    both = sampled(channel, one + factor * other, effects, cable)
    apart = sampled(channel, one, effects, cable) + factor * sampled(channel, other, effects, cable)
    assert np.abs(both - apart).max() < 1e-9


@given(st.integers(1, 4), st.floats(5.0, 60.0), st.floats(5.0, 60.0), st.floats(0.0, 40.0), st.integers(0, 2**32 - 1))
@settings(max_examples=10, phases=[Phase.explicit, Phase.generate])
def test_no_passive_network_gives_more_than_the_rail(
    bits: int, high_ohm: float, low_ohm: float, length_m: float, seed: int
) -> None:
    """Settled levels stay below the rail whatever the load; samples of any picture stay below twice the rail, which a wave
    on an open end can reach."""
    channel = ChannelPath("d", "green", channel_network(bits, high_ohm, low_ohm, part_ohm=0.0))
    rng = np.random.default_rng(seed)
    numbers = rng.integers(0, 1 << bits, (10, RASTER.h.total_px)).astype(np.uint16)
    for name in (None, "double-termination", "missing-termination"):
        effects = chosen_effects(only=[*LINEAR, *([name] if name else [])])
        sent_v = pin_levels(channel, numbers, effects)
        rail_v = channel.network.rail_v.typical
        assert 0.0 <= sent_v.min() <= sent_v.max() <= rail_v
        made = sampled(channel, sent_v, effects, replace(CABLE, length_m=round(length_m)))
        assert np.abs(made).max() <= 2.0 * rail_v
        assert np.abs(sampled(channel, np.full_like(sent_v, sent_v.max()), effects)).max() <= rail_v * (1.0 + 1e-12)


@pytest.mark.parametrize("bits", [1, 3])
def test_no_cable_and_matched_load_is_the_divider(bits: int) -> None:
    channel = ChannelPath("d", "green", channel_network(bits, 25.0, 25.0))
    numbers = np.full((3, 20), (1 << bits) - 1, dtype=np.uint16)
    sent_v = pin_levels(channel, numbers, no_effects())
    legs = [(p.typical + 25.0) for p in channel.network.part_ohm]
    conductance = sum(1.0 / leg for leg in legs)
    assert sent_v == pytest.approx(3.3 * conductance / (conductance + 1.0 / 75.0), rel=1e-12)
    made = sampled(channel, np.full((6, RASTER.h.total_px), sent_v[0, 0]), chosen_effects(only=LINEAR), None)
    assert made == pytest.approx(sent_v[0, 0], rel=1e-12)


@given(
    st.floats(10.0, 40.0), st.sampled_from([25_175_000, 40_000_000, 65_000_000]), st.floats(60.0, 300.0),
    st.sampled_from([0.039, 0.065, 0.09]),
)  # fmt: skip
@settings(max_examples=12)
def test_a_cable_twice_as_long_never_raises_contrast(
    length_m: float, clock_hz: int, source_ohm: float, loss: float
) -> None:
    """From 10 m on, where an echo comes back pixels later. Below that it is not true, see the next test."""
    channel = ChannelPath("d", "green", channel_network(1, 25.0, 25.0, part_ohm=source_ohm - 25.0))
    contrasts = []
    for times in (1.0, 2.0):
        cable = replace(CABLE, length_m=times * length_m, attenuation_db_per_m=loss, resistance_ohm_per_m=0.06)
        path = signal_path(channel, cable, chosen_effects(only=LINEAR), FRONT)
        contrasts.append(path_figures(path, 1.0 / clock_hz, FRONT.rise_s).contrast)
    assert contrasts[1] <= contrasts[0] + 1e-5, contrasts


def test_an_echo_may_raise_contrast_with_length() -> None:
    """1.5 m of thin cable behind 240 ohm at 40 MHz put the echo of connector and input onto the sample, 10 m past it."""
    channel = ChannelPath("d", "green", channel_network(1, 25.0, 25.0))
    short, long = (
        path_figures(signal_path(channel, replace(CABLE, length_m=m), chosen_effects(only=LINEAR), FRONT), 25e-9, 2e-9)
        for m in (1.5, 10.0)
    )
    assert long.contrast > short.contrast


@given(st.floats(0.0, 0.7), st.floats(0.0, 0.7), st.floats(0.0, 0.7), st.floats(0.0, 1.0))
@settings(max_examples=40)
def test_shared_return_is_the_mesh(red: float, green: float, blue: float, return_ohm: float) -> None:
    """Against the nodal solver on the whole mesh: three sources, three loads, one common return."""
    from scanloom.circuit.nodal import GROUND, Network, Resistor, VoltageSource, solve

    paths = tuple(ChannelPath("d", colour, channel_network(1)) for colour in COLOURS)
    display = DisplayPath("d", paths, replace(CABLE, return_ohm_per_m=return_ohm / 10.0))
    source_ohm = 240.0 + 30.0
    levels = {c: np.full((1, 1), v) for c, v in zip(COLOURS, (red, green, blue), strict=True)}
    ours = with_shared_return(display, levels, Effects())
    parts: list[Resistor] = [Resistor("far", GROUND, max(return_ohm, 1e-9))]
    sources = []
    for colour in COLOURS:
        open_v = float(levels[colour][0, 0]) * (source_ohm + 75.0) / 75.0
        sources.append(VoltageSource(f"s{colour}", GROUND, open_v))
        parts += [Resistor(f"s{colour}", colour, source_ohm), Resistor(colour, "far", 75.0)]
    exact = solve(Network(tuple(parts), tuple(sources)))
    for colour in COLOURS:
        assert ours[colour][0, 0] == pytest.approx(exact.node_v[colour] - exact.node_v["far"], abs=1e-9)


@given(st.integers(0, 2**32 - 1), st.floats(-0.2, 0.2), st.floats(20e-9, 500e-9))
@settings(max_examples=25)
def test_recovery_leaves_what_never_overloads_alone(seed: int, share: float, tau_s: float) -> None:
    input_v = np.random.default_rng(seed).uniform(0.0, 0.76, (4, 50))
    assert np.abs(after_overload(input_v, 40e-9, 0.7, share, tau_s, 0.77) - input_v).max() < 1e-12
    assert after_overload(input_v * 4.0, 40e-9, 0.7, share, tau_s, 0.77).max() <= 0.77 + 1e-12


def test_coupling_without_diodes_gives_the_level_back_but_for_its_leak() -> None:
    """Black clamped to ground each line: levels stand above it as sent, to a few millivolts of droop."""
    level_v = np.zeros((20, 100))
    level_v[:, :60] = 0.7 * (np.arange(60) % 2)
    parts = replace(FRONT.coupling, diode_rail_v=float("inf"))
    made = behind_coupling(level_v, 40e-9, 0.7, (85, 98), 59.0, parts)
    assert np.abs(made[:, :60] - level_v[:, :60]).max() < 2e-3


def test_each_effect_does_something_and_all_off_nothing() -> None:
    """Every switch moves the volts or the numbers of a picture that shows it, so none is a dummy."""
    rng = np.random.default_rng(3)
    numbers = rng.integers(0, 2, (RASTER.v.total_lines, RASTER.h.total_px)).astype(np.uint16)
    numbers[RASTER.v.active_lines :] = 0
    numbers[:, RASTER.h.active_px :] = 0
    lanes = _three_lanes()
    words = numbers.astype(np.uint32) * 7
    front = replace(FRONT, coupling=replace(FRONT.coupling, diode_rail_v=1.8))
    display = DisplayPath("d", tuple(ChannelPath("d", c, channel_network(1, part_ohm=0.0)) for c in COLOURS), CABLE)
    base = chosen_effects(only=["coupling"])
    for name in effect_names():
        with_it = chosen_effects(only=["coupling", "cable", name])
        without = chosen_effects(only=["coupling", "cable"], without=[name])
        if name == "noise":
            with_it, without = (chosen_effects(only=["converter", *more]) for more in (["noise"], []))
        clocks = Fraction(25, 8)
        one, other = (show_rig([display], words, lanes, RASTER, e, front, clocks)[0] for e in (with_it, without))
        moved = max(
            float(np.abs(a.amplified_v - b.amplified_v).max()) for a, b in zip(one.traces, other.traces, strict=True)
        )
        changed = bool((one.native != other.native).any())
        assert moved > 1e-6 or changed, name
    assert base.on == ("coupling",)


def _three_lanes() -> Any:
    from scanloom.stages.lanes import Lane

    return tuple(Lane(bit, colour, "d") for bit, colour in enumerate(COLOURS))  # type: ignore[arg-type]


@given(st.lists(st.floats(0.01, 1.0), min_size=2, max_size=9, unique=True), st.integers(0, 2**32 - 1))
@settings(max_examples=40)
def test_nearest_level_is_nearest(levels: list[float], seed: int) -> None:
    level_v = [0.0, *sorted(levels)]
    wanted = np.random.default_rng(seed).uniform(0.0, 1.0, 200)
    got = np.asarray(level_v)[nearest_numbers(wanted, level_v)] / level_v[-1]
    best = np.abs(np.asarray(level_v)[None, :] / level_v[-1] - wanted[:, None]).min(axis=1)
    assert np.abs(np.abs(got - wanted) - best).max() < 1e-12
