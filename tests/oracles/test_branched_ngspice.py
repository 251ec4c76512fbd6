"""Edges at the receivers of a shared sync, against ngspice through time on random trees."""

from __future__ import annotations

import random
from collections.abc import Callable

import numpy as np
import pytest
from line_decks import line_elements

from scanloom.circuit.branched import Branch, BranchedLine, branch_levels, branch_steps, receiver_edges, settling_time
from scanloom.circuit.line import UniformLine, front_delay

Run = Callable[..., list[list[float]]]
LOW_V, HIGH_V = 0.8, 2.0
START_S = 2e-9
_STEP_M = 0.4  # ngspice stops at every echo of its ideal lines; lengths of one measure let echoes fall together


def tree(seed: int) -> BranchedLine:
    """A driver with 1 to 6 branches of any length, some with constant resistance, some pulled up."""
    draw = random.Random(700 + seed)
    resistive = seed % 2 == 1
    speed = 0.66 * 299792458.0
    branches = tuple(
        Branch(
            draw.choice([0.0, draw.uniform(10.0, 120.0)]),
            UniformLine(75.0 / speed, 1.0 / (75.0 * speed), draw.uniform(0.1, 0.5) if resistive else 0.0),
            draw.randint(2, 15) * _STEP_M, draw.uniform(700.0, 5000.0), draw.uniform(4e-12, 15e-12),
            *((2200.0, 5.0) if draw.random() < 0.3 else ()),
        )
        for _ in range(draw.randint(1, 2 if resistive else 5))
    )  # fmt: skip
    high, low = draw.uniform(8.0, 35.0), draw.uniform(8.0, 25.0)
    return BranchedLine(
        high, low, draw.uniform(3.1, 3.5), branches, draw.uniform(1e-9, 4e-9), draw.choice([0.0, draw.uniform(5.0, 40.0)]), 5e-12
    )  # fmt: skip


def deck(net: BranchedLine, rising: bool, until_s: float) -> str:
    """The tree with one edge; receivers are b0, b1 and so on."""
    # the open voltage starts where the old levels stand with the new resistance
    node_old = _node(net, not rising)
    ohm_old, ohm_new = (net.low_ohm, net.high_ohm) if rising else (net.high_ohm, net.low_ohm)
    amp = ((0.0 if rising else net.rail_v) - node_old) / (ohm_old + net.series_ohm)
    begin = node_old + amp * (ohm_new + net.series_ohm)
    end = net.rail_v if rising else 0.0
    lines = [
        f"V0 s 0 PWL(0 {begin!r} {START_S!r} {begin!r} {START_S + net.rise_s!r} {end!r} {until_s!r} {end!r})",
        f"R0 s p {ohm_new!r}", f"C0 p 0 {net.pad_f!r}", f"Rs p n {max(net.series_ohm, 1e-3)!r}",
    ]  # fmt: skip
    for at, branch in enumerate(net.branches):
        loss = "constant" if branch.line.resistance_ohm_per_m else "none"
        lines += [f"Rb{at} n a{at} {max(branch.part_ohm, 1e-3)!r}"]
        lines += line_elements(branch.line, branch.length_m, loss, f"a{at}", f"b{at}", tag=str(at))
        lines += [f"Rl{at} b{at} 0 {branch.load_ohm!r}", f"Cl{at} b{at} 0 {branch.load_f!r}"]
        if branch.pull_v:
            lines += [f"Vp{at} v{at} 0 {branch.pull_v!r}", f"Rp{at} b{at} v{at} {branch.pull_ohm!r}"]
    return "\n".join(lines)


def _node(net: BranchedLine, is_high: bool) -> float:
    """Steady voltage of the node by conductances, not by the code under test."""
    inflow, total = 0.0, 0.0
    ohm = (net.high_ohm if is_high else net.low_ohm) + net.series_ohm
    pairs = [(net.rail_v if is_high else 0.0, ohm)]
    for b in net.branches:
        g = 1.0 / b.load_ohm + 1.0 / b.pull_ohm
        pairs.append((b.pull_v / b.pull_ohm / g, b.part_ohm + b.line.resistance_ohm_per_m * b.length_m + 1.0 / g))
    for volt, r in pairs:
        inflow, total = inflow + volt / r, total + 1.0 / r
    return inflow / total


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("rising", [True, False], ids=["rising", "falling"])
def test_crossing_times(seed: int, rising: bool, run_ngspice: Run) -> None:
    net = tree(seed)
    until_s = min(settling_time(net), 250e-9)
    answer = run_ngspice(
        deck(net, rising, until_s + 40e-9),
        [f"v(b{at})" for at in range(len(net.branches))],
        until_s + 40e-9,
        100e-12,
    )
    time_s = np.array(answer[0])
    edges = receiver_edges(net, LOW_V, HIGH_V, until_s)
    steps = branch_steps(net, net.high_ohm if rising else net.low_ohm, until_s)
    olds, news = branch_levels(net, not rising), branch_levels(net, rising)
    checked = 0
    for at, branch in enumerate(net.branches):
        volts = np.array(answer[1 + at])
        front_s = START_S + front_delay(branch.line, branch.length_m)
        ours = olds[at] + (news[at] - olds[at]) * steps.level[at] / steps.settled[at]
        ours_s = front_s + steps.start_s + steps.step_s * np.arange(len(ours))
        measured = np.interp(ours_s, time_s, volts)
        assert np.abs(ours - measured).max() < 15e-3, at  # samples of 100 ps cut the corners of edges of 1 V/ns
        edge = edges[at].rising if rising else edges[at].falling
        flip = 1.0 if rising else -1.0
        near, far = (LOW_V, HIGH_V) if rising else (HIGH_V, LOW_V)
        past_near = np.flatnonzero(flip * volts >= flip * near)
        before_far = np.flatnonzero(flip * volts < flip * far)
        for found, index, level in ((edge.first_s, past_near[:1], near), (edge.last_s, before_far[-1:] + 1, far)):
            if found is None or not index.size or not 0 < index[0] < len(volts):
                continue
            i = int(index[0])
            theirs = time_s[i - 1] + (level - volts[i - 1]) / (volts[i] - volts[i - 1]) * (time_s[i] - time_s[i - 1])
            # time since the driver's edge began, so the cable's delay counts too
            assert found + front_s - START_S == pytest.approx(theirs - START_S, rel=0.01), (at, level)
            checked += 1
    assert checked
