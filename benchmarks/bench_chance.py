"""Boards drawn by chance, beside the same draws in plain numpy, in one run."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from scanloom.basis.span import Span
from scanloom.stages.levels.chance import Lot, measure_yield
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.wiring import ColourWiring

BOARDS, CHANNELS = 1_000_000, 18


def channel(*parts_ohm: float) -> OutputNetwork:
    pin = Span.exact(25.0).relative(30.0)
    parts = tuple(Span.exact(ohm).relative(1.0) for ohm in parts_ohm)
    style: Any = "series" if len(parts) == 1 else "weighted"
    return OutputNetwork(style, parts, pin, pin, Span.exact(3.3).relative(5.0), Span.exact(75.0).relative(1.0))


def lot(net: OutputNetwork, spread: Any = "even") -> Lot:
    return Lot((ColourWiring(net.style, net),) * CHANNELS, tuple(at // 3 for at in range(CHANNELS)), spread)


def plain_numpy(boards: int) -> float:
    """Yield of boards of 18 one-bit channels, as one would write it."""
    draw = np.random.default_rng(1)
    rail = draw.uniform(3.135, 3.465, (boards, 1))
    pin = draw.uniform(17.5, 32.5, (boards, 1))
    part = draw.uniform(0.99 * 240.0, 1.01 * 240.0, (boards, CHANNELS))
    load = draw.uniform(74.25, 75.75, (boards, CHANNELS))
    white = rail * load / (load + part + pin)
    return float(((white >= 0.665) & (white <= 0.770)).all(axis=1).mean())


@pytest.mark.parametrize(
    ("parts", "spread"),
    [((240.0,), "even"), ((240.0,), "normal"), ((510.0, 1000.0, 2000.0, 3900.0), "even")],
    ids=["one-bit", "one-bit-normal", "four-bits"],
)
def test_a_million_boards_of_18_channels(benchmark: Any, parts: tuple[float, ...], spread: str) -> None:
    benchmark.extra_info["budget_s"] = 4.0
    one = lot(channel(*parts), spread)
    measure_yield(one, 10)  # compiled before the clock starts
    found = benchmark.pedantic(measure_yield, args=(one, BOARDS), rounds=3)
    assert found.boards == BOARDS


def test_a_million_boards_in_plain_numpy(benchmark: Any) -> None:
    """One bit, whites alone: no linearity, no mismatch, no percentiles."""
    found = benchmark.pedantic(plain_numpy, args=(BOARDS,), rounds=3)
    ours = measure_yield(lot(channel(240.0)), BOARDS).white_share
    assert found == pytest.approx(ours, abs=0.003)
