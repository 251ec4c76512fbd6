"""Levels of traced stages against nodal analysis of the whole netlist, written apart from the tracing.

Modified nodal analysis: one row a net, one more for each source of known voltage. Handbook: C. Ho, A. Ruehli,
P. Brennan, The modified nodal approach to network analysis, IEEE Trans. CAS 22 (1975).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pytest
from board_circuits import Board, judged, lane
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies_stages import Drawn, Element, stages

from scanloom.handbook.buffers import buffer
from scanloom.stages.levels.wired import ColourWiring, wired_figures, wired_white

HIGH_OHM, LOW_OHM, RAIL_V, LOAD_OHM = 30.0, 20.0, 3.3, 75.0
Held = Mapping[str, tuple[float, float]]
"""Voltage and resistance that hold a net. [V, ohm]"""


def nodal(elements: Sequence[Element], held: Held, gains: Sequence[tuple[str, str, float]], wanted: str) -> float:
    """Voltage of one net."""
    every = (
        {net for a, b, _ in elements for net in (a, b)} | set(held) | {n for i, o, _ in gains for n in (i, o)} | {"GND"}
    )
    same = {net: net for net in every}
    for a, b, ohm in elements:
        if ohm == 0.0:  # nets joined by nothing are one; ground keeps its name
            first, other = sorted((same[a], same[b]), key=lambda net: net != "GND")
            same = {net: first if own == other else own for net, own in same.items()}
    row = {net: index for index, net in enumerate(sorted(set(same.values()) - {"GND"}))}
    size = len(row) + len(gains)
    left, right = np.zeros((size, size)), np.zeros(size)
    for a, b, ohm in ((same[a], same[b], ohm) for a, b, ohm in elements if ohm):
        for one, other in ((a, b), (b, a)):
            if one != "GND":
                left[row[one], row[one]] += 1.0 / ohm
                if other != "GND":
                    left[row[one], row[other]] -= 1.0 / ohm
    if same[wanted] == "GND":
        return 0.0
    for net, (volt, ohm) in held.items():
        if same[net] != "GND":
            left[row[same[net]], row[same[net]]] += 1.0 / ohm
            right[row[same[net]]] += volt / ohm
    for index, (into, out, gain) in enumerate(gains, len(row)):
        left[row[same[out]], index] = 1.0
        left[index, row[same[out]]], left[index, row[same[into]]] = 1.0, -gain
    left[np.arange(len(row)), np.arange(len(row))] += 1e-12  # nets that hang in the air
    return float(np.linalg.solve(left, right)[row[same[wanted]]])


def held_by(
    pins: Sequence[int], code: int, nets: Mapping[int, str], high_ohm: float, low_ohm: float
) -> dict[str, tuple[float, float]]:
    """Nets of the pins for one code, most significant first."""
    made = {"out-red": (0.0, LOAD_OHM)}
    for index, pin in enumerate(pins):
        on = code >> (len(pins) - 1 - index) & 1
        made[nets[pin]] = (RAIL_V, high_ohm) if on else (0.0, low_ohm)
    return made


@settings(max_examples=80, derandomize=True, deadline=None)
@given(stages(("series", "weighted", "ladder", "matched", "buffered", "amplified")))
def test_level_of_every_code_is_that_of_the_raw_netlist(drawn: Drawn) -> None:
    found = judged(drawn.board)
    (built,) = found.channels
    assert built.network is not None
    pins = drawn.board.wired["red"]
    amplified = [gate for gate in drawn.gates if gate[2]]
    buffers = {into: out for into, out, gain in drawn.gates if not gain}
    high, low = HIGH_OHM, LOW_OHM
    nets = {pin: lane(pin) for pin in pins}
    if buffers:
        row = buffer("AHC")
        assert row.resistance.typical is not None
        high = low = row.resistance.typical
        nets = {pin: f"drive-{pin}" for pin in pins}
    style = drawn.board.colour.split('"')[1]
    figures = wired_figures(ColourWiring(style, built.network, None, built.amplifier))
    for code, level_v in enumerate(figures.level_v):
        held = held_by(pins, code, nets, high, low if len(pins) > 1 else high)
        if len(pins) == 1 and code == 0:
            assert level_v == pytest.approx(0.0, abs=1e-12)
            continue
        elements = [
            e for e in drawn.elements if not (buffers and (e[0].startswith("lane-") or e[1].startswith("into-")))
        ]
        assert level_v == pytest.approx(nodal(elements, held, amplified, "out-red"), rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("channels", [("red", "green"), ("red", "green", "blue")])
def test_a_pin_that_feeds_several_colours_is_shared_out_among_them(channels: tuple[str, ...]) -> None:
    board = Board('style = "series", part = "220 ohm ± 1 %"', dict.fromkeys(channels, (4,)))
    for index, channel in enumerate(channels, 1):
        board.resistor(f"R{index}", lane(4), f"out-{channel}", "220")
    found = judged(board)
    elements = [(lane(4), f"out-{channel}", 220.0) for channel in channels]
    held = {f"out-{channel}": (0.0, LOAD_OHM) for channel in channels} | {lane(4): (RAIL_V, HIGH_OHM)}
    for channel in channels:
        told = next(v for v in found.verdicts if v.code == "board.lane-level" and v.subject.endswith(channel))
        assert told.found is not None
        assert told.found.typical == pytest.approx(nodal(elements, held, (), f"out-{channel}"), rel=1e-9)


STARTS: list[list[Element]] = [
    [("lane-4", "out-red", 220.0)],
    [("lane-4", "out-red", 220.0), ("lane-5", "out-red", 470.0)],
    [("lane-4", "out-red", 470.0), ("out-red", "a", 220.0), ("lane-5", "a", 470.0), ("a", "GND", 470.0)],
]
NETS = ("lane-4", "lane-5", "out-red", "a", "b", "GND")


@st.composite
def tangles(draw: st.DrawFn) -> list[Element]:
    """Resistors thrown between few nets, as no one would draw a stage."""
    pairs = [(a, b) for a in NETS for b in NETS if a < b]
    ohm = st.sampled_from((0.0, 47.0, 100.0, 220.0, 470.0, 1000.0))
    start: list[Element] = draw(st.sampled_from(STARTS))
    return [*start, *draw(st.lists(st.builds(lambda pair, r: (*pair, r), st.sampled_from(pairs), ohm), max_size=5))]


@settings(max_examples=400, derandomize=True, deadline=None)
@given(tangles(), st.sampled_from(("weighted", "ladder", "matched")))
def test_a_tangle_is_summed_right_or_not_at_all(elements: list[Element], style: str) -> None:
    colour = f'style = "{style}", part = "240, 470 ohm ± 1 %"' + (
        ', shunt = "150 ohm ± 1 %"' if style == "matched" else ""
    )
    board = Board(colour, {"red": (4, 5)})
    for index, (a, b, ohm) in enumerate(elements, 1):
        board.resistor(f"R{index}", a, b, f"{ohm:g} ohm")
    (built,) = judged(board).channels
    if built.network is None:
        assert built.unsure or not built.fed_by
        return
    white = wired_white(ColourWiring(style, built.network)).typical
    nets = {pin: lane(pin) for pin in built.fed_by}
    figures = wired_figures(ColourWiring(style, built.network))
    for code in range(1, 1 << len(built.fed_by)):
        held = held_by(built.fed_by, code, nets, HIGH_OHM, LOW_OHM)
        assert figures.level_v[code] == pytest.approx(nodal(elements, held, (), "out-red"), rel=1e-9, abs=1e-9)
    assert white == pytest.approx(figures.level_v[-1])
