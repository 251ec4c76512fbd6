"""Cables: what one channel's filter costs beside a circuit simulator's run of the same line, and sync edges.

Budgets are for a quiet machine. ngspice runs a few pixels through a cable without losses, the quickest it can do.
"""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from scanloom.circuit.bounce import staircases
from scanloom.circuit.branched import Branch, BranchedLine, receiver_edges
from scanloom.circuit.pixel import path_figures, pixel_response
from scanloom.circuit.signal_path import Leg, SignalPath
from scanloom.circuit.switched import switched_samples
from scanloom.circuit.switched_bound import echo_bound
from scanloom.handbook.cables import cable_line

PIXEL_S, RISE_S = 1 / 25.175e6, 2e-9
DECK = """* eight pixels through 2 m
V0 s 0 PULSE(0 3.3 5n 2n 2n 38n 80n)
Ro s p 25
Cp p 0 5p
R0 p a 240
Cc a 0 15p
T1 a 0 b 0 Z0=75 TD=10.1n
Rl b 0 75
Cl b 0 8p
.options reltol=1e-5
.control
tran 50p 400n 0 50p
quit
.endc
.end
"""


def channel(kind: str, length_m: float, part_ohm: float = 240.0) -> SignalPath:
    """A colour channel of one pin."""
    leg = Leg(30.0, 22.0, part_ohm, 5e-12)
    return SignalPath((leg,), cable_line(kind), length_m, 75.0, 8e-12, 15e-12)


@pytest.mark.parametrize(("kind", "length_m", "budget_s"), [("rg59", 2.0, 0.005), ("thin", 12.0, 0.03)])
def test_pixel_response(benchmark: Any, kind: str, length_m: float, budget_s: float) -> None:
    benchmark.extra_info["budget_s"] = budget_s
    assert benchmark(pixel_response, channel(kind, length_m), PIXEL_S, RISE_S).tap.shape[1] > 2


def test_figures(benchmark: Any) -> None:
    benchmark.extra_info["budget_s"] = 0.05
    assert 0.0 < benchmark(path_figures, channel("thin", 12.0), PIXEL_S, RISE_S).contrast < 1.0


def test_echo_bound(benchmark: Any) -> None:
    benchmark.extra_info["budget_s"] = 0.05
    assert benchmark(echo_bound, channel("rg59", 2.0, 0.0), 3.3, PIXEL_S, RISE_S) > 0.0


def test_edge_by_edge(benchmark: Any) -> None:
    """Sixty-four pixels of a bare pin."""
    benchmark.extra_info["budget_s"] = 0.1
    codes = [0, 1, 1, 0, 1, 0, 0, 1] * 8
    assert len(benchmark(switched_samples, channel("rg59", 2.0, 0.0), 3.3, codes, PIXEL_S, RISE_S)) == 64


def output() -> BranchedLine:
    """Two displays on one buffer output."""
    line = cable_line("thin")
    branches = tuple(Branch(47.0, line, length_m, 2200.0, 8e-12) for length_m in (10.0, 12.0))
    return BranchedLine(12.0, 12.0, 3.3, branches, RISE_S)


def test_sync_edges_in_full(benchmark: Any) -> None:
    benchmark.extra_info["budget_s"] = 0.1
    assert benchmark(receiver_edges, output(), 0.8, 2.0)[0].rising.again == 0


def test_sync_edges_of_the_survey(benchmark: Any) -> None:
    benchmark.extra_info["budget_s"] = 0.001
    assert benchmark(staircases, output(), 0.8, 2.0, slow=True)[0].between_s is not None


def test_ngspice_same_line(benchmark: Any, tmp_path: Path) -> None:
    program = shutil.which("ngspice")
    if program is None:
        pytest.skip("ngspice is not installed (Debian package ngspice)")
    deck = tmp_path / "deck.cir"
    deck.write_text(DECK, encoding="utf-8")

    def run() -> None:
        subprocess.run([program, "-n", "-b", deck.name], cwd=tmp_path, capture_output=True, check=True)

    benchmark.pedantic(run, rounds=3)
