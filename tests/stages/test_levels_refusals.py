"""What the circuit floor and the sums of levels refuse, and in which words."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from scanloom.basis.span import Span
from scanloom.circuit.nodal import GROUND, CurrentSource, Network, Resistor, VoltageSource, solve, solve_many
from scanloom.circuit.star import star_currents, star_voltage
from scanloom.stages.levels.figures import channel_figures, levels, linearity, source_match
from scanloom.stages.levels.ladder import ladder_taps
from scanloom.stages.levels.model import OutputNetwork, legs_on, typical
from scanloom.stages.levels.monotonic import monotonic_at_percent, monotonic_guaranteed
from scanloom.stages.levels.sizing import ladder_resistance, matched_resistances, series_resistance
from scanloom.stages.levels.sync import SharedSync, SyncInput
from scanloom.stages.levels.tolerance import leg_current_span, level_span

EXACT = Span.exact
R = Resistor


def net(**changes: Any) -> OutputNetwork:
    usual: dict[str, Any] = {
        "style": "weighted",
        "part_ohm": (EXACT(390.0), EXACT(820.0)),
        "pin_high_ohm": EXACT(25.0),
        "pin_low_ohm": EXACT(20.0),
        "rail_v": EXACT(3.3),
        "load_ohm": EXACT(75.0),
    }
    return OutputNetwork(**usual | changes)


def refuse(call: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()


NETWORKS: list[tuple[Callable[[], object], str]] = [
    (lambda: Network((R("a", GROUND, 0.0),)), "resistor a to 0: 0.0 ohm; allowed is above zero"),
    (lambda: Network((R("a", GROUND, -5.0),)), "resistor a to 0: -5.0 ohm"),
    (lambda: Network((R("a", GROUND, float("nan")),)), "nan ohm"),
    (lambda: Network((R("a", "a", 5.0),)), "node a: an element joins it to itself"),
    (lambda: Network((R("a", GROUND, 5.0), R("b", "c", 5.0))), "node b, c: no path to ground"),
    (lambda: Network((R("a", GROUND, 5.0),), currents=(CurrentSource("b", "a", 1.0),)), "node b: no path to ground"),
    (
        lambda: Network((R("a", GROUND, 5.0),), (VoltageSource("a", GROUND, float("inf")),)),
        "voltage a over 0: inf; allowed is a finite number",
    ),
    (
        lambda: Network((R("a", GROUND, 5.0),), (VoltageSource("a", GROUND, 1.0), VoltageSource("a", GROUND, 2.0))),
        "voltage a over 0: 2.0 V contradicts the 1.0 V",
    ),
    (
        lambda: Network((R("a", GROUND, 5.0),), (VoltageSource("a", GROUND, 1.0), VoltageSource(GROUND, "a", -1.0))),
        "voltage 0 over a: -1.0 V gives the same voltage again",
    ),
    (
        lambda: Network(
            (R("a", GROUND, 5.0), R("b", "c", 5.0)),
            (VoltageSource("a", "b", 1.0), VoltageSource("b", "c", 1.0), VoltageSource("a", "c", 3.0)),
        ),
        "voltage a over c: 3.0 V contradicts the 2.0 V",
    ),
    (lambda: solve_many(Network((R("a", GROUND, 5.0),)), resistor_ohm=[[1.0, 2.0]]), r"resistor_ohm: shape \(1, 2\)"),
    (lambda: solve_many(Network((R("a", GROUND, 5.0),)), resistor_ohm=[[0.0]]), "smallest is 0.0 ohm"),
    (lambda: solve_many(Network((R("a", GROUND, 5.0),)), resistor_ohm=[[float("inf")]]), "not finite"),
    (
        lambda: solve_many(
            Network((R("a", GROUND, 5.0),), (VoltageSource("a", GROUND, 1.0),)),
            resistor_ohm=[[1.0], [2.0]],
            source_v=[[1.0], [2.0], [3.0]],
        ),
        "2 of resistor_ohm, 3 of source_v",
    ),
    (lambda: star_voltage([]), "star: no branch"),
    (lambda: star_voltage([(1.0, -2.0)]), "branch 0: -2.0 ohm"),
    (lambda: star_voltage([(1.0, 2.0), (0.0, float("inf"))]), "branch 1: inf ohm"),
    (lambda: star_voltage([(1.0, 0.0), (2.0, 0.0)]), r"hold the node at \[1.0, 2.0\] V"),
    (lambda: star_currents([(1.0, 0.0), (1.0, 0.0)]), r"branches \[0, 1\] have no resistance"),
]

CHANNELS: list[tuple[Callable[[], object], str]] = [
    (lambda: net(style="r-2r"), "allowed are series, weighted, ladder"),
    (lambda: net(part_ohm=()), "0 legs; allowed are 1 to 12"),
    (lambda: net(style="series"), "2 legs in style series"),
    (lambda: net(style="ladder"), "ladder of 2 legs: 0 rungs and terminator None"),
    (lambda: net(rung_ohm=(EXACT(5.0),)), "only a ladder has them"),
    (lambda: net(terminator_ohm=EXACT(5.0)), "only a ladder has them"),
    (lambda: net(rail_v=Span(0.0, 3.3, 3.4)), "rail_v: as low as 0.0"),
    (lambda: net(load_ohm=EXACT(0.0)), "load_ohm: as low as 0.0"),
    (lambda: net(shunt_ohm=EXACT(-1.0)), "shunt_ohm: as low as -1.0"),
    (lambda: net(pin_low_ohm=EXACT(-1.0)), "pin_low_ohm: as low as -1.0 ohm"),
    (lambda: net(part_ohm=(EXACT(5.0), EXACT(-1.0))), r"part_ohm\[1\]: as low as -1.0 ohm"),
    (
        lambda: net(part_ohm=(EXACT(0.0), EXACT(5.0)), pin_low_ohm=Span(0.0, 5.0, 9.0)),
        r"part_ohm\[0\]: no resistance from pin to connector",
    ),
    (lambda: typical(net()).branches(4), "code 4; allowed are 0 to 3 with 2 bits"),
    (lambda: level_span(net(), -1), "code -1; allowed are 0 to 3"),
    (lambda: leg_current_span(net(), 1, 2), "leg 2; allowed are 0 to 1"),
    (lambda: legs_on(8, 3), "code 8; allowed are 0 to 7"),
    (lambda: ladder_taps(typical(net()), 1), "style weighted: no terminator"),
    (lambda: linearity([0.7]), "at least two, rising"),
    (lambda: linearity([0.7, 0.7]), "at least two, rising"),
    (lambda: source_match(-1.0, 75.0), "source -1.0 ohm"),
    (lambda: series_resistance(3.3, 3.4, 75.0), "white 3.4 V from a pin of 3.3 V"),
    (lambda: series_resistance(3.3, 0.7, 75.0, 100.0, 3), "lacks 21.43 ohm; use a stronger pin or a buffer"),
    (lambda: matched_resistances(1.2, 0.7, 75.0), "below half the pin's voltage"),
    (lambda: ladder_resistance(3.3, 2.0, 75.0, 1), "out of reach of 1 bits"),
    (lambda: ladder_resistance(3.3, 0.7, 75.0, 0), "one bit or more"),
]

INPUT = SyncInput(EXACT(2200.0))
SYNCS: list[tuple[Callable[[], object], str]] = [
    (lambda: SyncInput(EXACT(2200.0), pull_ohm=EXACT(1000.0)), "half a pull-up"),
    (lambda: SyncInput(EXACT(0.0)), "load_ohm: as low as 0.0 ohm"),
    (lambda: SyncInput(EXACT(2200.0), branch_ohm=EXACT(-1.0)), "branch_ohm: as low as -1.0 ohm"),
    (lambda: SyncInput(EXACT(2200.0), None, EXACT(1000.0), EXACT(-1.0)), "pull_v: as low as -1.0 V"),
    (lambda: SharedSync(EXACT(25.0), EXACT(25.0), EXACT(3.3), ()), "no input"),
    (lambda: SharedSync(EXACT(25.0), EXACT(25.0), EXACT(0.0), (INPUT,)), "rail_v: as low as 0.0 V"),
    (lambda: SharedSync(EXACT(25.0), EXACT(0.0), EXACT(3.3), (INPUT,)), "driver_low_ohm: as low as 0.0 ohm"),
    (
        lambda: SharedSync(EXACT(25.0), EXACT(5.0), EXACT(3.3), (INPUT,), EXACT(-1.0)),
        "as low as 25.0 ohm with -1.0 ohm behind it",
    ),
]


@pytest.mark.parametrize(("call", "words"), [*NETWORKS, *CHANNELS, *SYNCS])
def test_refuses_in_words(call: Callable[[], object], words: str) -> None:
    refuse(call, words)


def test_sources_without_a_loop_are_taken() -> None:
    """The clean twin: floating sources in a chain, and two groups joined by a later source."""
    chain = Network(
        (R("a", GROUND, 5.0), R("d", GROUND, 5.0)),
        (VoltageSource("a", "b", 1.0), VoltageSource("c", "d", 1.0), VoltageSource("b", "c", 1.0)),
    )
    found = solve(chain)
    assert found.node_v["a"] - found.node_v["d"] == pytest.approx(3.0)
    assert found.node_v["a"] == pytest.approx(1.5)
    assert found.source_a == pytest.approx((0.3, 0.3, 0.3))


def test_a_bare_wire_is_a_channel() -> None:
    """A colour pin without its resistor is a plan that must be judged, not refused."""
    found = channel_figures(net(style="series", part_ohm=(EXACT(0.0),), pin_high_ohm=EXACT(0.0)))
    assert found.level_v == (0.0, 3.3)
    assert found.white_a == pytest.approx(44e-3)
    assert found.source_ohm == 0.0


def test_a_channel_out_of_order_is_no_error() -> None:
    backwards = net(part_ohm=(EXACT(820.0), EXACT(390.0)))
    assert levels(backwards)[2] < levels(backwards)[1]
    found = monotonic_guaranteed(backwards)
    assert (found.guaranteed, found.leg) == (False, 0)
    assert found.margin < 0.0
    assert monotonic_at_percent(backwards) == 0.0
    assert channel_figures(backwards).linearity.dnl_min_lsb < -1.0


def test_a_single_leg_always_rises() -> None:
    single = net(style="series", part_ohm=(EXACT(240.0).relative(20.0),))
    assert monotonic_guaranteed(single).guaranteed
    assert monotonic_at_percent(single) == 100.0


def test_white_is_not_the_most_a_ladder_draws() -> None:
    """Alternating taps feed one another: an 8-bit ladder draws over a third more than at white at its worst code."""
    ladder = net(
        style="ladder",
        part_ohm=(EXACT(360.0),) * 8,
        pin_high_ohm=EXACT(0.0),
        pin_low_ohm=EXACT(0.0),
        rung_ohm=(EXACT(180.0),) * 7,
        terminator_ohm=EXACT(360.0),
    )
    found = channel_figures(ladder)
    assert found.white_a == pytest.approx(18.951e-3, abs=5e-7)
    assert found.peak_a > 1.35 * found.white_a
