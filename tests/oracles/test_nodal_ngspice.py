"""Steady voltages by our nodal solver, by exact fractions and by ngspice.

ngspice is an independent circuit simulator (BSD licence); a batch deck with `op` gives the operating point.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

import pytest

from scanloom.basis.span import Span
from scanloom.circuit.nodal import (
    GROUND,
    CurrentSource,
    Network,
    Resistor,
    VoltageSource,
    solve,
    solve_exact,
    solve_many,
)
from scanloom.circuit.star import star_currents, star_voltage
from scanloom.stages.levels.currents import leg_currents, rail_currents
from scanloom.stages.levels.figures import levels, source_ohm
from scanloom.stages.levels.model import BuiltNetwork, OutputNetwork, typical

Ask = Callable[[str, list[str]], dict[str, float]]

ONE_UV = 1e-6
ONE_UA = 1e-6


def random_network(seed: int) -> Network:
    """Network of 3 to 9 nodes: a random tree of resistors, some more of them, sources of each kind."""
    draw = random.Random(seed)
    nodes = [GROUND, *(f"n{place}" for place in range(1, draw.randint(4, 10)))]
    resistors = [
        Resistor(node, draw.choice(nodes[:place]), round(10 ** draw.uniform(1.0, 4.3), 3))
        for place, node in enumerate(nodes)
        if place
    ]
    for _ in range(draw.randint(1, 6)):
        one, other = draw.sample(nodes, 2)
        resistors.append(Resistor(one, other, round(10 ** draw.uniform(1.0, 4.3), 3)))
    # sources along a second random tree never close a loop
    order = draw.sample(nodes, len(nodes))
    voltages = tuple(
        VoltageSource(order[place], order[place - 1], round(draw.uniform(-5.0, 5.0), 4))
        for place in range(1, 1 + draw.randint(1, min(3, len(order) - 2)))
    )
    currents = []
    for _ in range(draw.randint(0, 2)):
        into, out_of = draw.sample(nodes, 2)
        currents.append(CurrentSource(into, out_of, round(draw.uniform(-0.02, 0.02), 6)))
    return Network(tuple(resistors), voltages, tuple(currents))


def spice_lines(network: Network, tag: str) -> list[str]:
    """Elements of a network in a deck's form, every node but ground renamed so that several share one deck."""

    def name(node: str) -> str:
        return "0" if node == GROUND else f"{tag}_{node}"

    # a current source in a deck drives from its first node through itself into its second
    return [
        *(f"R{tag}_{at} {name(r.plus)} {name(r.minus)} {r.ohm!r}" for at, r in enumerate(network.resistors)),
        *(f"V{tag}_{at} {name(v.plus)} {name(v.minus)} {v.volt!r}" for at, v in enumerate(network.voltages)),
        *(f"I{tag}_{at} {name(c.out_of)} {name(c.into)} {c.amp!r}" for at, c in enumerate(network.currents)),
    ]


SEEDS = range(30)


def test_random_networks_against_ngspice(ask_ngspice: Ask) -> None:
    networks = {f"c{seed}": random_network(seed) for seed in SEEDS}
    lines = [line for tag, network in networks.items() for line in spice_lines(network, tag)]
    vectors = [f"v({tag}_{node})" for tag, network in networks.items() for node in network.nodes]
    vectors += [f"i(v{tag}_{at})" for tag, network in networks.items() for at in range(len(network.voltages))]
    answers = ask_ngspice("\n".join(lines), vectors)
    assert any(v.minus != GROUND and v.plus != GROUND for n in networks.values() for v in n.voltages)
    assert any(n.currents for n in networks.values())
    for tag, network in networks.items():
        ours = solve(network)
        for node in network.nodes:
            assert ours.node_v[node] == pytest.approx(answers[f"v({tag}_{node})"], rel=0, abs=ONE_UV), (tag, node)
        for at, amp in enumerate(ours.source_a):
            # a deck counts the current that flows into the plus end
            assert amp == pytest.approx(-answers[f"i(v{tag}_{at})"], rel=0, abs=ONE_UA), (tag, at)


@pytest.mark.parametrize("seed", SEEDS)
def test_random_networks_against_fractions(seed: int) -> None:
    network = random_network(seed)
    ours, exact = solve(network), solve_exact(network)
    for node, volt in exact.node_v.items():
        assert ours.node_v[node] == pytest.approx(float(volt), rel=1e-10, abs=1e-11), node
    for got, amp in zip(ours.source_a, exact.source_a, strict=True):
        assert got == pytest.approx(float(amp), rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_exact_answers_balance_to_nothing(seed: int) -> None:
    """Kirchhoff's current law at every node, and every source's own voltage, without rounding."""
    network = random_network(seed)
    exact = solve_exact(network)
    into = dict.fromkeys([GROUND, *network.nodes], Fraction(0))
    for resistor in network.resistors:
        amp = (exact.node_v[resistor.plus] - exact.node_v[resistor.minus]) / Fraction(resistor.ohm)
        into[resistor.plus] -= amp
        into[resistor.minus] += amp
    for source, amp in zip(network.voltages, exact.source_a, strict=True):
        assert exact.node_v[source.plus] - exact.node_v[source.minus] == Fraction(source.volt)
        into[source.plus] += amp
        into[source.minus] -= amp
    for current in network.currents:
        into[current.into] += Fraction(current.amp)
        into[current.out_of] -= Fraction(current.amp)
    assert set(into.values()) == {Fraction(0)}


@dataclass(frozen=True)
class Case:
    """One random channel."""

    tag: str
    net: OutputNetwork


def random_channel(seed: int) -> OutputNetwork:
    """Weighted channel or ladder of 1 to 5 bits with unequal pins, some with a shunt."""
    draw = random.Random(1000 + seed)
    bits = draw.randint(1, 5)
    exact = Span.exact
    pins = (exact(round(draw.uniform(5.0, 60.0), 2)), exact(round(draw.uniform(5.0, 60.0), 2)))
    rail, load = exact(round(draw.uniform(1.8, 5.0), 3)), exact(round(draw.uniform(50.0, 100.0), 2))
    shunt = exact(round(draw.uniform(60.0, 400.0), 1)) if draw.random() < 0.4 else None
    if seed % 2:
        parts = tuple(exact(round(draw.uniform(0.8, 1.2) * 400.0 * 2**leg, 1)) for leg in range(bits))
        return OutputNetwork("weighted", parts, *pins, rail, load, shunt)
    parts = tuple(exact(round(draw.uniform(300.0, 700.0), 1)) for _ in range(bits))
    rungs = tuple(exact(round(draw.uniform(150.0, 350.0), 1)) for _ in range(bits - 1))
    return OutputNetwork("ladder", parts, *pins, rail, load, shunt, rungs, exact(round(draw.uniform(300.0, 700.0), 1)))


def channel_network(built: BuiltNetwork, code: int) -> Network:
    """Channel at one code as a plain network: pin and part apart, one source a pin; node out is the connector."""
    bits = len(built.part_ohm)
    resistors = [Resistor("out", GROUND, built.load_ohm)]
    if built.shunt_ohm is not None:
        resistors.append(Resistor("out", GROUND, built.shunt_ohm))
    voltages = []
    taps = ["out", *(f"t{leg}" for leg in range(1, bits))] if built.style == "ladder" else ["out"] * bits
    for leg in range(bits):
        is_on = code >> (bits - 1 - leg) & 1
        voltages.append(VoltageSource(f"s{leg}", GROUND, built.rail_v if is_on else 0.0))
        resistors.append(Resistor(f"s{leg}", f"p{leg}", built.pin_high_ohm[leg] if is_on else built.pin_low_ohm[leg]))
        resistors.append(Resistor(f"p{leg}", taps[leg], built.part_ohm[leg]))
    for at, rung in enumerate(built.rung_ohm):
        resistors.append(Resistor(taps[at], taps[at + 1], rung))
    if built.terminator_ohm is not None:
        resistors.append(Resistor(taps[-1], GROUND, built.terminator_ohm))
    return Network(tuple(resistors), tuple(voltages))


CHANNELS = [Case(f"d{seed}", random_channel(seed)) for seed in range(24)]


def test_channels_against_ngspice(ask_ngspice: Ask) -> None:
    lines: list[str] = []
    vectors: list[str] = []
    for case in CHANNELS:
        for code in range(1 << case.net.bits):
            tag = f"{case.tag}c{code}"
            lines += spice_lines(channel_network(typical(case.net), code), tag)
            vectors += [f"v({tag}_out)", *(f"i(v{tag}_{leg})" for leg in range(case.net.bits))]
    answers = ask_ngspice("\n".join(lines), vectors)
    assert {case.net.style for case in CHANNELS} == {"weighted", "ladder"}
    for case in CHANNELS:
        level_v, currents_a = levels(case.net), leg_currents(case.net)
        for code in range(1 << case.net.bits):
            tag = f"{case.tag}c{code}"
            assert level_v[code] == pytest.approx(answers[f"v({tag}_out)"], rel=0, abs=ONE_UV), tag
            for leg, amp in enumerate(currents_a[code]):
                assert amp == pytest.approx(-answers[f"i(v{tag}_{leg})"], rel=0, abs=ONE_UA), (tag, leg)


@pytest.mark.parametrize("case", CHANNELS, ids=lambda case: f"{case.tag}-{case.net.style}-{case.net.bits}")
def test_channels_against_fractions(case: Case) -> None:
    level_v, currents_a, drawn_a = levels(case.net), leg_currents(case.net), rail_currents(case.net)
    for code in range(1 << case.net.bits):
        exact = solve_exact(channel_network(typical(case.net), code))
        assert level_v[code] == pytest.approx(float(exact.node_v["out"]), rel=1e-12, abs=1e-15)
        assert currents_a[code] == pytest.approx([float(amp) for amp in exact.source_a], rel=1e-9, abs=1e-14)
        on = [leg for leg in range(case.net.bits) if code >> (case.net.bits - 1 - leg) & 1]
        assert drawn_a[code] == pytest.approx(float(sum(exact.source_a[leg] for leg in on)), rel=1e-10, abs=1e-14)


@pytest.mark.parametrize("case", CHANNELS, ids=lambda case: f"{case.tag}-{case.net.style}-{case.net.bits}")
def test_source_resistance_against_fractions(case: Case) -> None:
    """One ampere into the connector, rail at rest and load taken off, raises it by the source resistance."""
    channel = channel_network(typical(case.net), case.net.white_code)
    at_rest = Network(
        channel.resistors[1:],
        tuple(VoltageSource(v.plus, v.minus, 0.0) for v in channel.voltages),
        (CurrentSource("out", GROUND, 1.0),),
    )
    assert source_ohm(case.net) == pytest.approx(float(solve_exact(at_rest).node_v["out"]), rel=1e-12)


@pytest.mark.parametrize("seed", range(20))
def test_star_against_fractions(seed: int) -> None:
    draw = random.Random(2000 + seed)
    branches = [(draw.uniform(-5.0, 5.0), 10 ** draw.uniform(0.0, 5.0)) for _ in range(draw.randint(1, 6))]
    node = sum(Fraction(v) / Fraction(r) for v, r in branches) / sum(1 / Fraction(r) for _, r in branches)
    assert star_voltage(branches) == pytest.approx(float(node), rel=1e-12, abs=1e-14)
    expected = [float((Fraction(v) - node) / Fraction(r)) for v, r in branches]
    assert star_currents(branches) == pytest.approx(expected, rel=1e-9, abs=1e-14)


def test_many_cases_are_the_same_cases_one_by_one() -> None:
    network = random_network(7)
    draw = random.Random(7)
    ohms = [[r.ohm * draw.uniform(0.5, 2.0) for r in network.resistors] for _ in range(5)]
    volts = [[draw.uniform(-5.0, 5.0) for _ in network.voltages] for _ in range(5)]
    both = solve_many(network, resistor_ohm=ohms, source_v=volts)
    one_factoring = solve_many(network, source_v=volts)
    for case in range(5):
        voltages = tuple(VoltageSource(v.plus, v.minus, x) for v, x in zip(network.voltages, volts[case], strict=True))
        resistors = tuple(Resistor(r.plus, r.minus, x) for r, x in zip(network.resistors, ohms[case], strict=True))
        alone = solve(Network(resistors, voltages, network.currents))
        assert both.node_v[case] == pytest.approx([alone.node_v[node] for node in both.nodes], rel=1e-10, abs=1e-12)
        assert both.source_a[case] == pytest.approx(alone.source_a, rel=1e-10, abs=1e-12)
        same_parts = solve(Network(network.resistors, voltages, network.currents))
        assert one_factoring.node_v[case] == pytest.approx([same_parts.node_v[node] for node in both.nodes], abs=1e-11)
    assert not both.node_v.flags.writeable
