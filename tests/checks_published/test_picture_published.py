"""Figures of the picture stage that others have printed, or that the trade takes for granted."""

from __future__ import annotations

import pytest

from scanloom.basis.span import Span
from scanloom.handbook.front_end import front_end_names, front_end_row, front_end_value
from scanloom.handbook.limits import limit
from scanloom.handbook.sources import source
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.picture.convert import LUMA
from scanloom.stages.picture.model import ChannelPath, usual_front_end
from scanloom.stages.timing import rate_family_height


def test_front_end_as_its_datasheet_has_it() -> None:
    # Analog Devices AD9883A: 75 ohm, then 47 nF; full scale 0.5 to 1.0 V; sampling jitter 500 ps peak to peak
    assert front_end_value("coupling") == 47e-9
    assert (limit("full-scale").low, limit("full-scale").high) == (0.5, 1.0)
    jitter = front_end_row("sampling-jitter").value
    assert (jitter.low or 0.0) * 6.0 == pytest.approx(500e-12, rel=0.01)
    assert (jitter.high or 0.0) * 4.0 == pytest.approx(500e-12, rel=0.01)


def test_what_is_assumed_is_called_so() -> None:
    """All but two rows are from memory: none of them counts as a fact."""
    facts = [name for name in front_end_names() if source(front_end_row(name).value.source).is_fact]
    assert facts == ["coupling", "sampling-jitter"]


def test_weights_of_brightness() -> None:
    # ITU-R BT.601, clause 2.5.1, from memory
    assert LUMA == (0.299, 0.587, 0.114)
    assert sum(LUMA) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("pin_ohm", "white_v"), [(0.0, 3.30), (15.0, 2.75), (25.0, 2.475), (40.0, 2.152), (57.0, 1.875)]
)
def test_straight_wire_into_75_ohm(pin_ohm: float, white_v: float) -> None:
    """3.3 V through the pin alone: Ohm's law. The last figure is often printed as 1.880 V, which is a pin of 56.6 ohm."""
    exact = Span.exact
    network = OutputNetwork("series", (exact(0.0),), exact(pin_ohm), exact(pin_ohm), exact(3.3), exact(75.0))
    assert ChannelPath("d", "green", network).level_v()[-1] == pytest.approx(white_v, abs=5e-4)


def test_polarities_of_the_family() -> None:
    """Common practice, no source beside the manual the handbook names: + - 350 lines, - + 400, - - 480."""
    found = {signs: told.lines for signs in ("+-", "-+", "--") if (told := rate_family_height(*signs))}  # type: ignore[arg-type]
    assert found == {"+-": 350, "-+": 400, "--": 480}


def test_knobs_take_the_place_of_assumptions() -> None:
    front = usual_front_end({"recovery-time": 300e-9, "full-scale": 1.0, "total": 808})
    assert (front.recovery_s, front.converter_v, front.total_px) == (300e-9, 1.0, 808)
    assert usual_front_end().recovery_s == 150e-9
    for wrong in (
        {"ghost": 1.0},
        {"recovery-time": 0.0},
        {"recovery-red": -1.0},
        {"sampling-phase": 1.0},
        {"total": 0.5},
    ):
        with pytest.raises(ValueError, match=r"allowed|is no knob"):
            usual_front_end(wrong)
