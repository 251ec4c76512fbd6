"""Figures of buffers, amplifiers, capacitance, ground and supply that sheets print or that follow by hand."""

from __future__ import annotations

import math

import pytest

from scanloom.basis.span import Span
from scanloom.handbook.buffers import buffer
from scanloom.stages.levels.amplifier import (
    Amplifier,
    amplified_level,
    amplifier_current,
    bandwidth_needed,
    slew_needed,
)
from scanloom.stages.levels.buffers import buffer_count, outputs_allowed
from scanloom.stages.levels.colour_edges import rise_of_channel
from scanloom.stages.levels.fan_out import SharedPin, shared_pin_current, shared_white
from scanloom.stages.levels.ground import SupplyPath, disturbance

EXACT = Span.exact
WHITE_A = 0.7 / 75.0


@pytest.mark.parametrize(
    ("family", "limit_a", "allowed", "packages"),
    [  # package limits as the sheets print them; eighteen outputs of 9.333 mA
        ("LVC", 0.100, 8, 3),  # Hitachi HD74LVC244A: 100 mA; 10 would do, the package has 8
        ("AHC", 0.075, 7, 3),  # 74AHC245 sheet, table 4: 75 mA; 8 would carry 74.7 mA, no room left
        ("HC", 0.070, 7, 3),  # Philips 74HC245, table 5: 70 mA
    ],
)
def test_outputs_of_a_package(family: str, limit_a: float, allowed: int, packages: int) -> None:
    row = buffer(family)
    assert row.package_current.high == limit_a
    assert outputs_allowed(row, WHITE_A) == allowed
    count = buffer_count(row, EXACT(WHITE_A), 18)
    assert (count.packages, count.spare) == (packages, 24 - 18)
    assert count.package_a.typical == pytest.approx(6 * WHITE_A)
    assert outputs_allowed(row, WHITE_A, kept_back=0.0) == min(8, math.floor(limit_a / WHITE_A))


@pytest.mark.parametrize(
    ("pin_ohm", "part_ohm", "white_v"),
    [(12.0, 240.0, 0.705), (25.0, 200.0, 0.707), (40.0, 160.0, 0.697)],  # one pin to three inputs, Ohm's law by hand
)
def test_one_pin_to_three_inputs(pin_ohm: float, part_ohm: float, white_v: float) -> None:
    shared = SharedPin(EXACT(pin_ohm), EXACT(3.3), EXACT(part_ohm), EXACT(75.0), 3)
    assert shared_white(shared).typical == pytest.approx(white_v, abs=5e-4)
    assert shared_pin_current(shared).typical == pytest.approx(3.0 * shared_white(shared).typical / 75.0)


@pytest.mark.parametrize(("clock_mhz", "needs_mhz"), [(25.175, 26.0), (40.0, 42.0), (65.0, 68.0)])
def test_bandwidth_of_a_third_of_a_pixel(clock_mhz: float, needs_mhz: float) -> None:
    """0.35 over the rise: the rule of oscilloscope makers' primers, common practice; 1.05 times the pixel clock."""
    needs_hz = bandwidth_needed(1e-6 / clock_mhz, 1.0 / 3.0)
    assert needs_hz == pytest.approx(needs_mhz * 1e6, rel=0.02)
    assert needs_hz * (1e-6 / clock_mhz / 3.0) == pytest.approx(0.35, abs=5e-4)


def test_slew_of_a_doubled_white() -> None:
    """1.4 V x 2.2 over the rise, as printed in makers' notes on video amplifiers; common practice."""
    assert slew_needed(1.4, 30e-9, 1.0 / 3.0) == pytest.approx(1.4 * 2.2 / 10e-9, rel=2e-3)


def test_a_back_terminated_amplifier() -> None:
    """Gain 2, 75 ohm into 75 ohm: what goes in comes out, and each channel takes 9.33 mA at white."""
    amplifier = Amplifier(2.0, EXACT(75.0), EXACT(75.0), EXACT(0.0))
    assert amplified_level(EXACT(0.7), amplifier).typical == pytest.approx(0.7)
    assert amplifier_current(EXACT(0.7), amplifier).typical == pytest.approx(9.333e-3, abs=1e-6)


@pytest.mark.parametrize(
    ("source_ohm", "picofarad", "tau_ns"),
    [(279.0, 20.0, 1.18), (279.0, 40.0, 2.36), (279.0, 100.0, 5.9), (75.0, 20.0, 0.75)],  # R C by hand
)
def test_pole_at_the_connector(source_ohm: float, picofarad: float, tau_ns: float) -> None:
    rise_s = rise_of_channel(source_ohm, 75.0, picofarad * 1e-12, 0.0, 0.0)
    assert rise_s / math.log(9.0) == pytest.approx(tau_ns * 1e-9, rel=0.01)


def test_a_guard_of_100_pf_spoils_even_the_slowest_pixel_and_5_pf_does_no_harm() -> None:
    third_s = 1.0 / 25.175e6 / 3.0
    assert rise_of_channel(279.0, 75.0, 115e-12, 8e-12, 2e-9) > third_s
    assert rise_of_channel(279.0, 75.0, 20e-12, 8e-12, 2e-9) < third_s / 3.0


def path(**changes: object) -> SupplyPath:
    usual: dict[str, object] = {
        "ground_h": EXACT(1e-9), "ground_ohm": EXACT(0.02), "pin_h": EXACT(0.0), "supply_pins": EXACT(1.0),
        "capacitor_h": EXACT(0.0), "capacitors": 4, "capacitor_ohm": EXACT(0.0), "stored_f": EXACT(1.0),
        "reply_s": EXACT(0.0), "regulator_ohm": EXACT(0.1), "edge_s": EXACT(2e-9),
    }  # fmt: skip
    return SupplyPath(**(usual | changes))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("outputs", "ground_h", "bounce_v", "dark_v"),
    [
        (17, 1e-9, 82e-3, 17.5e-3),
        (8, 4e-9, 151e-3, 32.0e-3),
    ],  # L di/dt + R i by hand
)
def test_ground_bounce(outputs: int, ground_h: float, bounce_v: float, dark_v: float) -> None:
    found = disturbance(path(ground_h=EXACT(ground_h)), EXACT(outputs * WHITE_A)).bounce_v.typical
    assert found == pytest.approx(bounce_v, abs=6e-4)
    assert found * 0.7 / 3.3 == pytest.approx(dark_v, abs=1e-4)


@pytest.mark.parametrize(
    ("changes", "dip_v"),
    [  # 168 mA, by hand
        ({"stored_f": EXACT(10e-6), "reply_s": EXACT(1e-6)}, 17e-3),
        ({"capacitor_h": EXACT(1e-9)}, 21e-3),
        ({"pin_h": EXACT(2e-9), "supply_pins": EXACT(6.0)}, 28e-3),
    ],
)
def test_dip_of_the_rail(changes: dict[str, object], dip_v: float) -> None:
    found = disturbance(path(**changes), EXACT(18 * WHITE_A))
    assert found.dip_v.typical == pytest.approx(dip_v, abs=5e-4)
    assert found.sag_v.typical == pytest.approx(17e-3, abs=5e-4)
