"""A stage put on a board at random is traced back to the network that the dossier's own sums use."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from board_circuits import Board, judged, lane
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from strategies_stages import Drawn, stages

from scanloom.basis.span import Span
from scanloom.stages.lanes import ChannelDrive
from scanloom.stages.levels.wired import ColourWiring, wired_figures, wired_white
from scanloom.stages.levels.wiring import colour_wiring


@settings(max_examples=300, derandomize=True, deadline=None)
@given(stages())
def test_traced_stage_is_the_decided_one(drawn: Drawn) -> None:
    found = judged(drawn.board)
    wrong = [v.says for v in found.verdicts if v.judged != "holds" and v.code != "board.lane-level"]
    assert not wrong
    (built,) = found.channels
    pins = drawn.board.wired["red"]
    assert built.network is not None, built.unsure
    assert built.fed_by == pins
    assert built.straight == ('"direct"' in drawn.board.colour)
    read = found.reading.fork()
    decided = colour_wiring(read, ChannelDrive("screen", "J1", "red", pins, True), read.plan.displays["screen"])
    own = ColourWiring(decided.style, built.network, decided.buffer, built.amplifier)
    assert built.network.style == decided.network.style
    for name in ("part_ohm", "rung_ohm"):
        pairs = zip(getattr(built.network, name), getattr(decided.network, name), strict=True)
        assert all(ends(a) == pytest.approx(ends(b), rel=1e-9) for a, b in pairs)
    for name in ("shunt_ohm", "terminator_ohm", "load_ohm"):
        a, b = getattr(built.network, name), getattr(decided.network, name)
        assert (a is None) == (b is None)
        assert a is None or ends(a) == pytest.approx(ends(b), rel=1e-9)
    assert wired_figures(own).level_v == pytest.approx(wired_figures(decided).level_v, rel=1e-9)
    assert ends(wired_white(own)) == pytest.approx(ends(wired_white(decided)), rel=1e-9)
    (told,) = [v for v in found.verdicts if v.code == "board.lane-level"]
    assert told.found is not None
    assert told.found.typical == pytest.approx(wired_white(decided).typical, rel=1e-9)


PARTS = ("series", "weighted", "ladder", "matched", "buffered", "amplified")


@settings(max_examples=150, derandomize=True, deadline=None)
@given(stages(PARTS), st.data())
def test_no_part_can_be_left_out_unnoticed(drawn: Drawn, data: st.DataObject) -> None:
    board = drawn.board
    part = data.draw(st.sampled_from(sorted(name for name in board.parts if name.startswith(("R", "FB", "JP", "U")))))
    fewer = board.valued(**{part: "not fitted"}) if part.startswith(("R", "FB")) else board.without(part)
    assert noticed(fewer), part


@settings(max_examples=150, derandomize=True, deadline=None)
@given(stages(PARTS), st.data())
def test_no_value_can_be_another_unnoticed(drawn: Drawn, data: st.DataObject) -> None:
    board = drawn.board
    before = {name for name, nets in board.parts.items() if any(net.startswith("into-") for net in nets.values())}
    counted = [
        name
        for name, text in board.values.items()
        if text.endswith("ohm 1%") and text != "0.0 ohm 1%" and name not in before
    ]
    part = data.draw(st.sampled_from(sorted(counted)))
    ohm = float(board.values[part].split()[0]) * data.draw(st.sampled_from((0.1, 0.8, 1.3, 10.0)))
    assert noticed(board.valued(**{part: f"{ohm} ohm 1%"})), part


@settings(max_examples=100, derandomize=True, deadline=None)
@given(stages(("weighted", "ladder", "matched", "buffered", "amplified")), st.data())
def test_no_two_lanes_can_be_exchanged_unnoticed(drawn: Drawn, data: st.DataObject) -> None:
    board = drawn.board
    pins = board.wired["red"]
    assume(len(pins) > 1)
    one, other = data.draw(st.permutations(pins))[:2]
    sizes = re.findall(r"[\d.]+", board.colour.split("part = ")[1].split("ohm")[0])
    a, b = (float(sizes[pins.index(pin)]) for pin in (one, other)) if "ladder" not in board.colour else (1.0, 2.0)
    assume(abs(a - b) > 0.03 * max(a, b))  # legs that are alike may change places
    swap = {lane(one): lane(other), lane(other): lane(one)}
    parts = {name: {pin: swap.get(net, net) for pin, net in nets.items()} for name, nets in board.parts.items()}
    found = judged(replace(board, parts=parts))
    assert any(v.code == "board.lane-path" and v.judged == "fails" and "exchanged" in v.says for v in found.verdicts)


def noticed(board: Board) -> bool:
    """Whether anything fails but the level that was drawn at random, or the level is another than with the decided parts."""
    found = judged(board)
    told = [v for v in found.verdicts if v.judged == "fails" and v.place is not None]
    if any(v.code != "board.lane-level" for v in told):
        return True
    pins = board.wired["red"]
    read = found.reading.fork()
    decided = colour_wiring(read, ChannelDrive("screen", "J1", "red", pins, True), read.plan.displays["screen"])
    levels = [v.found.typical for v in told if v.found is not None and v.found.typical is not None]
    return any(abs(level - wired_white(decided).typical) > 1e-6 for level in levels)


def ends(span: Span) -> tuple[float, float, float]:
    """Bounds and typical value."""
    return span.low, span.typical, span.high
