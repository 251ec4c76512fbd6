"""Pictures through pins, parts, cable and input against ngspice, an independent circuit simulator (BSD licence).

Lines without loss and with constant loss to 0.5 mV; a pin of 30 ohm high and 22 ohm low on a bare wire within the bound
that the command prints, and edge by edge to 0.5 mV.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from line_decks import START_S, Case, deck
from test_lines_ngspice import switching

from scanloom.basis.span import Span
from scanloom.circuit.line import front_delay
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.picture.effects import chosen_effects
from scanloom.stages.picture.exact import line_edge_by_edge
from scanloom.stages.picture.figures import channel_sight
from scanloom.stages.picture.model import ChannelPath, DisplayPath, InputCable, usual_front_end
from scanloom.stages.picture.pins import pin_levels, with_shared_return
from scanloom.stages.picture.response import rise_of, sampled_response, signal_path
from scanloom.stages.picture.sampling import sample_input
from scanloom.stages.timing import child_raster, timing_named

Run = Callable[..., list[list[float]]]
FRONT = usual_front_end()
EFFECTS = chosen_effects(only=["edges", "cable", "cable-resistance"])
RASTER = child_raster(timing_named("640x480@60"), 1)
exact = Span.exact


def sent(channel: ChannelPath, cable: InputCable, numbers: Any, pixel_s: float, phase: float) -> Any:
    """Samples of one line by the chain of the stand-in display; a line of black stands before it."""
    line = np.concatenate((np.zeros_like(numbers), numbers, np.zeros(8, dtype=np.uint16))).reshape(1, -1)
    response = sampled_response(channel, cable, EFFECTS, FRONT, pixel_s, (phase,))
    at = np.arange(line.size)
    made = sample_input(pin_levels(channel, line, EFFECTS), response, at, np.zeros_like(at))
    return made[0, numbers.size : 2 * numbers.size], response.left_out


@pytest.mark.parametrize("seed", range(6))
def test_chain_on_lines_without_skin_effect(seed: int, run_ngspice: Run) -> None:
    draw = random.Random(900 + seed)
    bits = draw.choice([1, 1, 2, 4])
    parts = tuple(exact(draw.uniform(0.9, 1.1) * (260.0 if bits == 1 else 400.0 * 2.0**leg)) for leg in range(bits))
    pin = exact(draw.uniform(15.0, 50.0))
    network = OutputNetwork(
        "series" if bits == 1 else "weighted", parts, pin, pin, exact(3.3), exact(draw.choice([75.0, 73.5, 90.0]))
    )
    resistance = draw.uniform(0.1, 0.6) if seed >= 4 else 0.0
    cable = InputCable(draw.choice([75.0, 60.0, 100.0]), 0.66, 0.0, resistance, 0.0, draw.uniform(0.5, 8.0))
    channel = ChannelPath("d", "green", network)
    pixel_s, phase = 1.0 / draw.uniform(20e6, 50e6), draw.uniform(0.5, 0.9)
    numbers = np.array([draw.randrange(1 << bits) for _ in range(8 if resistance else 24)], dtype=np.uint16)
    ours, left_out = sent(channel, cable, numbers, pixel_s, phase)
    path = signal_path(channel, cable, EFFECTS, FRONT)
    rows = tuple(tuple(int(n) >> (bits - 1 - leg) & 1 for n in numbers) for leg in range(bits))
    case = Case("d", path, rows, pixel_s, FRONT.rise_s, "constant" if resistance else "none")
    time_s, volts = (np.array(c) for c in run_ngspice(deck(case), ["v(b)"], case.until_s, 100e-12))
    at_s = START_S + front_delay(path.line, path.length_m) + (np.arange(numbers.size) + phase) * pixel_s
    off = np.abs(ours - np.interp(at_s, time_s, volts)).max()
    white_v = channel.level_v()[-1]
    assert left_out * white_v < 3e-3
    # what the taps leave out is counted apart: a picture trades it for speed
    assert off < 0.5e-3 + left_out * white_v


@pytest.mark.parametrize("load_ohm", [75.0, 82.5, 67.5])
def test_switching_pin_on_a_bare_wire_lies_within_the_printed_bound(load_ohm: float, run_ngspice: Run) -> None:
    network = OutputNetwork("series", (exact(0.0),), exact(30.0), exact(22.0), exact(3.3), exact(load_ohm))
    channel, cable = ChannelPath("d", "green", network), InputCable(75.0, 0.66, 0.0, 0.0, 0.0, 5.0)
    draw = random.Random(7)
    numbers = np.array([draw.getrandbits(1) for _ in range(32)], dtype=np.uint16)
    pixel_s, phase = RASTER.pixel_s, FRONT.phase
    display = DisplayPath("d", (channel,), cable)
    printed = channel_sight(display, channel, RASTER, EFFECTS, FRONT).echo_bound_v
    assert printed is not None
    ours, _ = sent(channel, cable, numbers, pixel_s, phase)
    path = signal_path(channel, cable, EFFECTS, FRONT)
    rise_s = rise_of(EFFECTS, FRONT, pixel_s)
    elements = switching(path, tuple(int(n) for n in numbers), pixel_s, rise_s)
    until_s = START_S + (numbers.size + 2) * pixel_s
    time_s, volts = (np.array(c) for c in run_ngspice(elements, ["v(b)"], until_s, 50e-12, "reltol=1e-6"))
    at_s = START_S + front_delay(path.line, path.length_m) + (np.arange(numbers.size) + phase) * pixel_s
    inside = at_s < until_s
    theirs = np.interp(at_s[inside], time_s, volts)
    off = float(np.abs(ours[inside] - theirs).max())
    assert off < printed + 0.5e-3
    assert off > 0.01 * printed, "so wide a bound would say nothing"
    closer = line_edge_by_edge(channel, cable, numbers, EFFECTS, FRONT, pixel_s, (phase,))[:, 0]
    assert np.abs(closer[inside] - theirs).max() < 0.5e-3


def test_shared_return_in_a_deck(ask_ngspice: Callable[[str, list[str]], dict[str, float]]) -> None:
    """Three colours, one return of 0.3 ohm: the dark one falls by its divider's share of the drop, not by all of it."""
    network = OutputNetwork("series", (exact(240.0),), exact(30.0), exact(30.0), exact(3.3), exact(75.0))
    paths = tuple(ChannelPath("d", colour, network) for colour in ("red", "green", "blue"))
    display = DisplayPath("d", paths, InputCable(75.0, 0.66, 0.0, 0.0, 0.03, 10.0))
    white_v = network_white = paths[0].level_v()[-1]
    levels = {c: np.full((1, 1), v) for c, v in (("red", white_v), ("green", 0.0), ("blue", network_white))}
    ours = with_shared_return(display, levels, EFFECTS)
    elements = "\n".join(
        f"V{c} s{c} 0 {3.3 if c != 'g' else 0.0}\nR{c} s{c} {c} 270\nL{c} {c} far 75".replace("L", "Rl") for c in "rgb"
    )
    answers = ask_ngspice(f"{elements}\nRret far 0 0.3", ["v(r)", "v(g)", "v(far)"])
    assert ours["green"][0, 0] == pytest.approx(answers["v(g)"] - answers["v(far)"], abs=1e-7)
    assert ours["red"][0, 0] == pytest.approx(answers["v(r)"] - answers["v(far)"], abs=1e-7)
    drop = 2.0 * white_v / 75.0 * 0.3
    assert 0.1 * drop < -ours["green"][0, 0] < 0.3 * drop
