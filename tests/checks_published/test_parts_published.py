"""Parts that others printed, beside those that the search proposes; sources as in levels.toml."""

from __future__ import annotations

import pytest

from scanloom.basis.span import Span
from scanloom.stages.levels.figures import channel_figures
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.search import NoNetwork, PartsProposal, PartsRequest, propose_parts

exact = Span.exact
PRINTED = ((510.0, 1000.0, 2000.0, 3900.0), (510.0, 1000.0, 2200.0, 4700.0))
"""Source page-270: for four bits at 0.7 V; its levels are computed with pins of no resistance. [ohm]"""


def single(bits: int, pin_ohm: float, **more: object) -> PartsRequest:
    return PartsRequest(bits, pairs=False, pin_high_ohm=exact(pin_ohm), **more)  # type: ignore[arg-type]


def error_v(part_ohm: tuple[float, ...], pin_ohm: float) -> float:
    pin = exact(pin_ohm)
    net = OutputNetwork("weighted", tuple(map(exact, part_ohm)), pin, pin, exact(3.3), exact(75.0))
    levels = channel_figures(net).level_v
    return max(abs(level - 0.7 * code / net.white_code) for code, level in enumerate(levels))


@pytest.mark.parametrize("series", ["E12", "E24"])
def test_one_bit_is_270_ohm(series: str) -> None:
    """Sources page-270 and guide-130: 270 ohm into 75 ohm gives about 0.7 V."""
    found = propose_parts(single(1, 0.0, series=series))
    assert isinstance(found, PartsProposal)
    assert [leg.ohm for leg in found.answers[0].legs] == [270.0]
    assert found.answers[0].full_scale_v == pytest.approx(0.7, abs=0.05)


def test_four_bits_are_those_of_the_page() -> None:
    """Source page-270: 510, 1k, 2k, 3k9; the best single parts of E24 once a pin has 25 ohm (its value from memory)."""
    found = propose_parts(single(4, 25.0))
    assert isinstance(found, PartsProposal)
    assert tuple(leg.ohm for leg in found.answers[0].legs) == PRINTED[0]


@pytest.mark.parametrize("pin_ohm", [0.0, 12.0, 25.0, 40.0])
@pytest.mark.parametrize("printed", PRINTED, ids=str)
def test_what_was_printed_is_never_better(printed: tuple[float, ...], pin_ohm: float) -> None:
    found = propose_parts(single(4, pin_ohm))
    assert isinstance(found, PartsProposal)
    assert found.answers[0].error_v <= error_v(printed, pin_ohm) + 1e-12


def test_parts_that_leave_the_window_are_not_proposed() -> None:
    """Source wiki-222: 330 and 680 ohm give 0.83 V, beyond the window of 0.77 V that a chipset datasheet prints."""
    found = propose_parts(single(2, 0.0, stock_ohm=(330.0, 680.0)))
    assert isinstance(found, NoNetwork)
    assert found.nearest is not None
    wider = propose_parts(single(2, 0.0, stock_ohm=(330.0, 680.0), white_high_v=0.84))
    assert isinstance(wider, PartsProposal)
    assert wider.answers[0].full_scale_v == pytest.approx(0.83, abs=0.005)


@pytest.mark.parametrize(("bits", "percent"), [(2, 33.333333), (3, 14.285714)])
def test_exact_ratios_rise_up_to_the_derived_tolerance(bits: int, percent: float) -> None:
    """Source carry: 1 / (2^n - 1) for a binary network; halves and doubles of one value are one, exactly."""
    white_ohm = 75.0 * (3.3 / 0.7 - 1.0)  # all legs side by side
    siemens = 1.0 / white_ohm / (2**bits - 1)
    value = 1.0 / siemens / (1 if bits == 2 else 2)
    found = propose_parts(PartsRequest(bits, stock_ohm=(value, value / 2) if bits == 2 else (value,)))
    assert isinstance(found, PartsProposal)
    best = found.answers[0]
    assert best.error_v == pytest.approx(0.0, abs=1e-9)
    assert best.monotonic_at_percent == pytest.approx(percent, abs=1e-4)
