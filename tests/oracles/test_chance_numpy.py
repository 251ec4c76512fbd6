"""Boards by chance by the compiled kernel and by plain numpy, which draws with another generator and sums another way."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from scanloom.basis.span import Span
from scanloom.stages.levels.chance import Lot, measure_yield
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.wired import ColourWiring

BOARDS = 40_000
EXACT = Span.exact


def weighted(parts: tuple[float, ...], percent: float, pin_percent: float = 30.0) -> OutputNetwork:
    pin = EXACT(25.0).relative(pin_percent)
    legs = tuple(EXACT(ohm).relative(percent) for ohm in parts)
    return OutputNetwork("weighted", legs, pin, pin, EXACT(3.3).relative(5.0), EXACT(75.0).relative(1.0))


def numpy_lot(net: OutputNetwork, channels: int, boards: int) -> dict[str, Any]:
    """The same lot, all codes at once."""
    draw = np.random.default_rng(5)

    def even(span: Span, *shape: int) -> Any:
        return draw.uniform(span.low, span.high, shape)

    rail, high, low = even(net.rail_v, boards, 1), even(net.pin_high_ohm, boards, 1), even(net.pin_low_ohm, boards, 1)
    load = even(net.load_ohm, boards, channels)
    parts = [even(part, boards, channels) for part in net.part_ohm]
    levels = []
    for code in range(1 << net.bits):
        fed, total = np.zeros((boards, channels)), 1.0 / load
        for leg, part in enumerate(parts):
            is_on = code >> (net.bits - 1 - leg) & 1
            siemens = 1.0 / (part + (high if is_on else low))
            fed = fed + siemens * is_on
            total = total + siemens
        levels.append(rail * fed / total)
    level = np.stack(levels, axis=2)
    step = level[:, :, -1:] / (level.shape[2] - 1)
    inl = np.abs(level / step - np.arange(level.shape[2])).max(axis=2)
    white = level[:, :, -1]
    return {
        "white": float(((white >= 0.665) & (white <= 0.770)).all(axis=1).mean()),
        "monotonic": float((np.diff(level, axis=2) > 0.0).all(axis=(1, 2)).mean()),
        "inl": float((inl <= 1.0).all(axis=1).mean()),
        "sd": float(white.std()),
        "median": float(np.median(white)),
        "inl_p99": float(np.percentile(inl, 99.0)),
        "mismatch_p50": float(np.median((white.max(axis=1) - white.min(axis=1)) / white.mean(axis=1))),
    }


@pytest.mark.parametrize(
    ("parts", "percent", "channels"),
    [((240.0,), 1.0, 3), ((499.0, 1020.0, 2050.0, 4120.0), 5.0, 3), ((511.0, 1050.0, 2150.0, 4320.0, 8660.0), 5.0, 2)],
    ids=["one-bit", "four-bits", "five-bits"],
)
def test_two_roads_to_one_yield(parts: tuple[float, ...], percent: float, channels: int) -> None:
    net = weighted(parts, percent)
    plain = numpy_lot(net, channels, BOARDS)
    ours = measure_yield(Lot((ColourWiring("weighted", net),) * channels, (0,) * channels), BOARDS)
    for name, found in (("white", ours.white_share), ("monotonic", ours.monotonic_share), ("inl", ours.inl_share)):
        error = math.sqrt(max(plain[name] * (1.0 - plain[name]), 1e-6) / BOARDS)
        assert found == pytest.approx(plain[name], abs=7.0 * error + 1e-9), name
    assert ours.whites.deviation == pytest.approx(plain["sd"], rel=0.02)
    assert ours.whites.p50 == pytest.approx(plain["median"], abs=1e-3)
    assert ours.linearities.p99 == pytest.approx(plain["inl_p99"], rel=0.03, abs=1e-3)
    assert ours.mismatches.p50 == pytest.approx(plain["mismatch_p50"], rel=0.03)


@pytest.mark.parametrize(("percent", "inl_p99", "unsure"), [(1.0, 0.19, 0.0), (5.0, 0.58, 0.006)])
def test_lots_that_others_drew(percent: float, inl_p99: float, unsure: float) -> None:
    """Figures of another program's lots, from notes: five bits of E96 parts, the three smallest legs of two in series.

    Two parts of one leg rarely err alike: its variance is that of one part with a tolerance smaller by root 2.
    """
    single, pair = (511.0, 1050.0), (2140.0, 4300.0, 8640.0)
    legs = [EXACT(ohm).relative(percent) for ohm in single] + [
        EXACT(ohm).relative(percent / math.sqrt(2.0)) for ohm in pair
    ]
    net = replace(weighted((*single, *pair), percent), part_ohm=tuple(legs))
    found = measure_yield(Lot((ColourWiring("weighted", net),), (0,)), BOARDS)
    assert found.whites.deviation == pytest.approx(0.021, abs=2e-3)
    assert 0.94 <= found.white_share <= 0.995
    assert found.linearities.p99 == pytest.approx(inl_p99, rel=0.06)
    assert 1.0 - found.monotonic_share == pytest.approx(unsure, abs=3e-3)
