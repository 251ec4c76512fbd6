"""Edges and pixels at the end of a cable, by our transfer functions and by ngspice through time.

The first four cases are decks of the project's own reference, whose waveforms ngspice 39.3 once gave; the others are
drawn at random. ngspice has an ideal line and one with constant resistance; skin effect is a chain of sections with a
ladder of R beside L, so what is left over there is the chain's coarseness as much as ours.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from line_decks import START_S, Case, deck, leg, straight

from scanloom.circuit.line import UniformLine, front_delay
from scanloom.circuit.pixel import driven_waveform, pixel_response
from scanloom.circuit.signal_path import Leg, SignalPath, path_step
from scanloom.circuit.switched import mean_drive, switched_samples, switched_waveform
from scanloom.circuit.switched_bound import echo_bound

Run = Callable[..., list[list[float]]]

COAX = UniformLine(3.7905010817971823e-07, 6.738668589861658e-11)
POOR = UniformLine(5.054001442396243e-07, 5.054001442396243e-11)
THIN = UniformLine(
    COAX.inductance_h_per_m, COAX.capacitance_f_per_m, 0.45, 0.00020026975770434625 * math.sqrt(math.pi * 10e6)
)
ROW = ((1, 0, 1, 1, 0, 0, 1, 0),)

REFERENCE = [
    Case("one pin", SignalPath((leg(270.0),), COAX, 2.0, 75.0, 5e-12, 1e-11), ROW, 40e-9, 2e-9, "none"),
    Case(
        "four bits, poor cable",
        SignalPath(tuple(leg(ohm) for ohm in (510.0, 1000.0, 2000.0, 3900.0)), POOR, 3.0, 75.0, 8e-12, 1.5e-11),
        (
            (0, 1, 1, 1, 1, 1, 1, 0),
            (1, 1, 1, 1, 0, 0, 0, 0),
            (1, 1, 0, 0, 1, 1, 0, 0),
            (1, 0, 1, 0, 1, 0, 1, 0),
        ),
        25e-9,
        1.5e-9,
        "none",
    ),
    Case(
        "constant resistance",
        SignalPath(
            (leg(270.0),),
            UniformLine(COAX.inductance_h_per_m, COAX.capacitance_f_per_m, 0.35),
            5.0,
            75.0,
            5e-12,
            1e-11,
        ),
        ROW,
        40e-9,
        2e-9,
        "constant",
    ),
]
SKIN = Case("skin effect", SignalPath((leg(270.0),), THIN, 5.0, 75.0, 5e-12, 1e-11), ROW, 40e-9, 2e-9, "skin")


def drawn(seed: int) -> Case:
    """A channel of 1 to 5 legs, weighted or a ladder, with or without a shunt, on a line of any impedance."""
    draw = random.Random(400 + seed)
    bits = draw.randint(1, 5)
    ladder = bits > 1 and draw.random() < 0.4
    parts = [draw.uniform(350.0, 600.0) * (1 if ladder else 2**at) for at in range(bits)]
    legs = tuple(leg(part, draw.uniform(10.0, 60.0), draw.uniform(2e-12, 9e-12)) for part in parts)
    rungs = tuple(draw.uniform(150.0, 300.0) for _ in range(bits - 1)) if ladder else ()
    impedance, speed = draw.uniform(45.0, 125.0), draw.uniform(0.6, 0.85) * 299792458.0
    loss = "none" if seed % 2 else "constant"
    line = UniformLine(impedance / speed, 1.0 / (impedance * speed), 0.0 if loss == "none" else draw.uniform(0.05, 0.9))
    path = SignalPath(
        legs, line, draw.uniform(0.3, 8.0), draw.choice([75.0, 37.5, draw.uniform(60.0, 400.0)]),
        draw.uniform(2e-12, 1.5e-11), draw.uniform(5e-12, 4e-11),
        draw.uniform(90.0, 300.0) if draw.random() < 0.5 else None, rungs,
        draw.uniform(300.0, 700.0) if ladder else None,
    )  # fmt: skip
    rows = tuple(tuple(draw.randint(0, 1) for _ in range(8)) for _ in range(bits))
    return Case(f"drawn {seed}", path, rows, draw.choice([15.4e-9, 25e-9, 39.7e-9]), draw.uniform(1e-9, 4e-9), loss)


def differences(case: Case, run: Run, sections: int = 200, step_s: float = 50e-12) -> tuple[float, float]:
    """Largest and root-mean-square difference to ngspice. [V]"""
    time_s, volts = (np.array(column) for column in run(deck(case, sections), ["v(b)"], case.until_s, step_s))
    step = path_step(case.path, case.rise_s, case.until_s)
    after_s = time_s - START_S - front_delay(case.path.line, case.path.length_m)
    off = driven_waveform(step, case.drive_v, case.pixel_s, after_s) - volts
    assert np.abs(volts).max() > 0.1, "the deck does nothing"
    return float(np.abs(off).max()), float(np.sqrt((off**2).mean()))


@pytest.mark.parametrize("case", [*REFERENCE, *map(drawn, range(8))], ids=lambda case: case.name)
def test_lines_without_skin_effect(case: Case, run_ngspice: Run) -> None:
    largest, mean = differences(case, run_ngspice)
    assert largest < 0.5e-3
    assert mean < 0.1e-3


def test_skin_effect(run_ngspice: Run) -> None:
    """A third of the reference deck's cable in sections of its length: the whole takes ngspice half a minute."""
    case = replace(SKIN, path=replace(SKIN.path, length_m=1.6))
    largest, mean = differences(case, run_ngspice, sections=56, step_s=200e-12)
    assert largest < 20e-3
    assert mean < 3e-3


SKIN_RUN_V = [
    0.0,
    0.0,
    0.653555,
    0.664041,
    0.008692,
    0.001062,
    0.656079,
    0.663709,
    0.661873,
    0.664781,
    0.011251,
    0.001044,
    0.00226,
    -0.000624,
    0.653531,
    0.66406,
    0.008825,
    0.00142,
    0.002271,
    -0.000265,
]


def test_skin_effect_as_it_once_ran() -> None:
    """Samples of the reference deck as ngspice 39.3 gave them: 5 m in 200 sections, from 7 ns in steps of 20 ns."""
    step = path_step(SKIN.path, SKIN.rise_s, SKIN.until_s)
    after_s = 7e-9 + 20e-9 * np.arange(len(SKIN_RUN_V)) - START_S - front_delay(THIN, 5.0)
    off = driven_waveform(step, SKIN.drive_v, SKIN.pixel_s, after_s) - SKIN_RUN_V
    assert np.abs(off).max() < 20e-3
    assert np.sqrt((off**2).mean()) < 3e-3


@pytest.mark.parametrize("case", [REFERENCE[1], drawn(2), SKIN], ids=lambda case: case.name)
def test_taps_are_the_waveform_at_the_samples(case: Case) -> None:
    """The filter at pixel rate against the waveform, at several phases; no simulator needed."""
    pixels = len(case.bits[0])
    step = path_step(case.path, case.rise_s, (pixels + 2) * case.pixel_s)
    for phase in (0.0, 0.3, 0.55, 0.9, 1.4):
        taps = pixel_response(case.path, case.pixel_s, case.rise_s, phase, tail=1e-5)
        times = (np.arange(pixels) + phase) * case.pixel_s
        volts = driven_waveform(step, case.drive_v, case.pixel_s, times)
        filtered = np.zeros(pixels)
        for at in range(len(case.path.legs)):
            padded = np.concatenate((case.drive_v[:, at], np.repeat(case.drive_v[-1:, at], -taps.first)))
            filtered += np.convolve(padded, taps.tap[at])[-taps.first :][:pixels]
        assert np.abs(filtered - volts).max() < 3.3 * (taps.left_out + 12 * taps.error + 12 * step.error)


def switching(path: SignalPath, bits: tuple[int, ...], pixel_s: float, rise_s: float) -> str:
    """Deck of a pin that is 30 ohm when high and 22 ohm when low, on the way between both during an edge."""
    one = path.legs[0]
    # the pin's current, its conductance as far on its way as its voltage is
    current = f"({3.3}*v(f)-v(p))*(v(f)/{one.pin_high_ohm}+(1-v(f))/{one.pin_low_ohm})"
    part = f"R0 p a {one.part_ohm}" if one.part_ohm else "V0 p a 0"
    return "\n".join([
        f"Vf f 0 PWL({straight(bits, pixel_s, rise_s, 1.0)})",
        f"Bp 0 p I={current}",
        part,
        f"Cp p 0 {one.pad_f}",
        f"Cc a 0 {path.connector_f}",
        f"T1 a 0 b 0 Z0={path.line.impedance_ohm!r} TD={path.line.delay_s_per_m * path.length_m!r}",
        f"Rl b 0 {path.load_ohm}",
        f"Cl b 0 {path.load_f}",
    ])  # fmt: skip


@pytest.mark.parametrize(("part_ohm", "load_ohm"), [(0.0, 82.5), (0.0, 67.5), (0.0, 150.0), (240.0, 82.5)])
def test_pin_whose_resistance_switches(part_ohm: float, load_ohm: float, run_ngspice: Run) -> None:
    path = SignalPath((Leg(30.0, 22.0, part_ohm, 5e-12),), COAX, 5.0, load_ohm, 8e-12, 1.5e-11)
    pixel_s, rise_s = 40e-9, 2e-9
    draw = random.Random(31)
    bits = tuple(draw.randint(0, 1) for _ in range(24))
    until_s = START_S + len(bits) * pixel_s
    answer = run_ngspice(switching(path, bits, pixel_s, rise_s), ["v(b)"], until_s, 50e-12, "reltol=1e-6")
    time_s, volts = (np.array(column) for column in answer)
    ours_s, ours = switched_waveform(path, 3.3, bits, pixel_s, rise_s)
    after_s = time_s - START_S - front_delay(path.line, path.length_m)
    inside = (after_s > 0.0) & (after_s < ours_s[-1])
    exact = np.interp(after_s[inside], ours_s, ours)
    assert np.abs(exact - volts[inside]).max() < 2e-3  # straight lines between our samples cut corners of edges
    at = (np.arange(len(bits) - 1) + 0.5) * pixel_s
    samples = switched_samples(path, 3.3, bits, pixel_s, rise_s)[:-1]
    measured = np.interp(at, after_s, volts)
    assert np.abs(samples - measured).max() < 0.5e-3
    taps = pixel_response(path, pixel_s, rise_s, tail=1e-4)
    drive = mean_drive(path, 3.3)[list(bits), 0]
    simple = np.convolve(drive, taps.tap[0])[-taps.first :][: len(bits) - 1]
    bound = echo_bound(path, 3.3, pixel_s, rise_s)
    off = float(np.abs(simple - measured).max())
    assert off < bound + 0.5e-3
    assert off > 0.02 * bound, "so wide a bound would say nothing"
