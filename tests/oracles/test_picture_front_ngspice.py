"""Coupling, clamp, diodes and overload recovery against ngspice, an independent circuit simulator (BSD licence).

The first three decks are the project's own reference decks, made anew from their parameters; the others vary rail,
resistances, capacitor, pattern and pixel clock from fixed seeds. Bounds: 10 mV for the clamp, 1 mV for the recovery.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pytest

from scanloom.stages.picture.front import Coupling, after_overload, coupled_run

Run = Callable[..., list[list[float]]]
SCALE_V = 1.05 * 1.380649e-23 * 300.15 / 1.602176634e-19  # ngspice works at 27 degrees Celsius
PHASE = 0.7


@dataclass(frozen=True)
class ClampDeck:
    """Lines of a pattern into a clamped input."""

    name: str
    open_v: float
    source_ohm: float
    rail_v: float
    pattern: tuple[int, ...]
    pixel_s: float = 1.001 / 25.2e6  # 25.175 MHz, as the reference decks have it
    farad: float = 47e-9
    clamp_ohm: float = 100.0
    diode_ohm: float = 15.0
    total: int = 800
    first: int = 200
    clamp_from: int = 104
    lines: int = 3

    @property
    def clamp_px(self) -> int:
        return math.ceil(1e-6 / self.pixel_s)

    def line(self) -> list[int]:
        bits = [0] * self.total
        bits[self.first : self.first + len(self.pattern)] = self.pattern
        return bits

    def deck(self) -> str:
        """The circuit; edges of 1 ns about the pixel boundaries, clamp on just the samples that the model clamps."""
        points, last = [(0.0, 0.0)], 0
        for at, bit in enumerate(self.line() * self.lines):
            if bit != last:
                edge = at * self.pixel_s
                points += [(edge - 0.5e-9, last * self.open_v), (edge + 0.5e-9, bit * self.open_v)]
                last = bit
        wave = "\n".join(f"+ {time:.12g} {volt:.9g}" for time, volt in points)
        start, width = self.clamp_from * self.pixel_s, self.clamp_px * self.pixel_s
        return f"""Vth s 0 PWL(
{wave})
Rth s a {self.source_ohm!r}
Cc a x {self.farad!r} IC=0
Vdd vdd 0 {self.rail_v!r}
D1 x vdd dm
D2 0 x dm
.model dm D(IS=1e-14 N=1.05 RS={self.diode_ohm!r})
Rb x 0 1meg
Vc c 0 PULSE(0 1 {start - 2.5e-9:.12g} 5n 5n {width - 5e-9:.12g} {self.total * self.pixel_s:.12g})
S1 x 0 c 0 sm
.model sm SW(VT=.5 VH=.1 RON={self.clamp_ohm!r} ROFF=1e9)"""

    @property
    def parts(self) -> Coupling:
        return Coupling(self.farad, self.clamp_ohm, 1e6, self.rail_v, self.diode_ohm, SCALE_V, 1e-14)


def reference_patterns() -> list[ClampDeck]:
    alternating = tuple([1, 0] * 300)
    low = ClampDeck("low rail, overdriven", 2.911764705882353, 8.823529411764707, 1.8, alternating)
    return [low, ClampDeck("right level", 0.7, 59.090844811494186, 3.3, alternating)]


def random_deck(seed: int) -> ClampDeck:
    draw = random.Random(seed)
    runs: list[int] = []
    while len(runs) < 500:
        runs += [draw.getrandbits(1)] * draw.choice([1, 1, 2, 3, 8, 40])
    pin_ohm = draw.uniform(10.0, 60.0)
    return ClampDeck(
        f"seed {seed}",
        3.3 * 75.0 / (75.0 + pin_ohm),
        75.0 * pin_ohm / (75.0 + pin_ohm),
        draw.choice([1.5, 1.8, 2.2, 2.5, 3.3]),
        tuple(runs[:500]),
        pixel_s=1.0 / draw.uniform(20e6, 65e6),
        farad=draw.choice([10e-9, 47e-9, 100e-9]),
        clamp_ohm=draw.uniform(50.0, 200.0),
        diode_ohm=draw.uniform(5.0, 30.0),
    )


@pytest.mark.parametrize(
    "one", [*reference_patterns(), *(random_deck(seed) for seed in range(5))], ids=lambda one: one.name
)
def test_clamp_and_diodes(run_ngspice: Run, one: ClampDeck) -> None:
    level_v = np.array([one.line()] * one.lines, dtype=float) * one.open_v
    clamp = (one.clamp_from, one.clamp_from + one.clamp_px)
    ours, _ = coupled_run(level_v, 0.0, one.pixel_s, PHASE, clamp, one.source_ohm, one.parts)
    end_s = one.total * one.lines * one.pixel_s
    time, volts = run_ngspice(one.deck(), ["v(x)"], end_s, step_s=2e-9, options="reltol=1e-4")
    at = (np.arange(ours.size) + PHASE) * one.pixel_s
    theirs = np.interp(at, time, volts)
    assert np.abs(ours.reshape(-1) - theirs).max() < 10e-3


def test_low_rail_pulls_the_baseline_down(run_ngspice: Run) -> None:
    """Reference run: 10 ohm pin, 1.8 V rail, alternating: the baseline falls by more than 0.4 V within a line."""
    one = reference_patterns()[0]
    level_v = np.array([one.line()], dtype=float) * one.open_v
    clamp = (one.clamp_from, one.clamp_from + one.clamp_px)
    ours, charge_v = coupled_run(level_v, 0.0, one.pixel_s, PHASE, clamp, one.source_ohm, one.parts)
    assert -0.47 < ours[0, -1] < -0.40
    assert charge_v == pytest.approx(-ours[0, -1], abs=1e-3)


@dataclass(frozen=True)
class RecoveryDeck:
    """A pattern into an input stage that clips and recovers."""

    name: str
    tau_s: float
    share: float
    linear_v: float
    peak_v: float
    pattern: Sequence[int]
    pixel_s: float = 39.722e-9

    def deck(self) -> str:
        points, last = ["0 0"], 0
        for at, bit in enumerate([0, 0, 0, *self.pattern]):
            if bit != last:
                edge = at * self.pixel_s
                points += [f"{edge - 1e-10:.12g} {last * self.peak_v!r}", f"{edge + 1e-10:.12g} {bit * self.peak_v!r}"]
                last = bit
        return f"""Vi u 0 PWL({" ".join(points)})
Bov ov 0 V=max(0,v(u)-v(q)-{self.linear_v!r})
Bq 0 q I={self.share!r}*v(ov)/1k
Rq q 0 1k
Cq q 0 {self.tau_s / 1e3!r}
Bo o 0 V=min(v(u)-v(q),{self.linear_v!r})"""


REFERENCE = RecoveryDeck(
    "reference", 150e-9, 0.08, 0.77, 2.475, (0, 1, 0, 1, 0, 1, 1, 1, 1, 0, 0, 0, 0, 0, 1, *[0] * 9)
)


def random_recovery(seed: int) -> RecoveryDeck:
    draw = random.Random(100 + seed)
    pattern = tuple(draw.getrandbits(1) for _ in range(40))
    share = draw.uniform(-0.2, 0.2)
    return RecoveryDeck(f"seed {seed}", draw.uniform(20e-9, 500e-9), share, 0.77, draw.uniform(0.8, 2.8), pattern)


@pytest.mark.parametrize("one", [REFERENCE, *(random_recovery(seed) for seed in range(5))], ids=lambda one: one.name)
def test_overload_recovery(run_ngspice: Run, one: RecoveryDeck) -> None:
    input_v = np.array([[0, 0, 0, *one.pattern]], dtype=float) * one.peak_v
    ours = after_overload(input_v, one.pixel_s, PHASE, one.share, one.tau_s, one.linear_v)
    time, volts = run_ngspice(one.deck(), ["v(o)"], input_v.size * one.pixel_s, step_s=0.2e-9, options="reltol=1e-4")
    theirs = np.interp((np.arange(input_v.size) + PHASE) * one.pixel_s, time, volts)
    assert np.abs(ours.reshape(-1) - theirs).max() < 1e-3
