"""A stage put on a board at random is traced back to the network that the dossier's own sums use."""

from __future__ import annotations

import pytest
from board_circuits import judged
from hypothesis import given, settings
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


def ends(span: Span) -> tuple[float, float, float]:
    """Bounds and typical value."""
    return span.low, span.typical, span.high
