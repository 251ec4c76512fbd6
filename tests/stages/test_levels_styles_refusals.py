"""What the sums of further styles, of chance and of supply refuse, and in which words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from scanloom.basis.span import Span
from scanloom.handbook.buffers import buffer
from scanloom.handbook.limits import known_row, limit
from scanloom.stages.levels.amplifier import Amplifier, bandwidth_needed
from scanloom.stages.levels.buffers import buffer_count, outputs_allowed
from scanloom.stages.levels.chance import Lot, drawn_whites, lot_of
from scanloom.stages.levels.colour_edges import rise_of_channel
from scanloom.stages.levels.fan_out import SharedPin
from scanloom.stages.levels.ground import SupplyPath
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.result import LevelPlan
from scanloom.stages.levels.sensitivity import level_slopes, looser_words, tolerance_percent
from scanloom.stages.levels.wired import ColourWiring

X = Span.exact
NET = OutputNetwork("series", (X(240.0),), X(25.0), X(25.0), X(3.3), X(75.0))
PATH = SupplyPath(X(1e-9), X(0.02), X(2e-9), X(4.0), X(1e-9), 4, X(0.02), X(1e-5), X(1e-6), X(0.1), X(2e-9))

REFUSED: list[tuple[Callable[[], object], str]] = [
    (lambda: Amplifier(0.0, X(75.0), X(75.0), X(0.0)), "allowed are above zero"),
    (lambda: Amplifier(2.0, X(75.0), X(75.0), X(-0.1)), "the current zero or more"),
    (lambda: bandwidth_needed(0.0, 0.3), "allowed is above zero"),
    (lambda: SharedPin(X(25.0), X(3.3), X(200.0), X(75.0), 0), "one input or more"),
    (lambda: SharedPin(X(25.0), X(0.0), X(200.0), X(75.0), 3), "rail and load above zero"),
    (lambda: replace(PATH, capacitors=0), "0 capacitors"),
    (lambda: replace(PATH, edge_s=X(0.0)), "edge 0.0 s"),
    (lambda: replace(PATH, ground_h=X(-1e-9)), "something is negative"),
    (lambda: outputs_allowed(buffer("LVC"), 0.0), "allowed are above zero"),
    (lambda: outputs_allowed(buffer("LVC"), 0.01, 1.0), "0 up to 1"),
    (lambda: buffer_count(buffer("LVC"), X(0.01), 0), "allowed is one or more"),
    (lambda: buffer_count(buffer("LVC"), X(0.01), 8, 0), "allowed is one or more"),
    (lambda: rise_of_channel(75.0, 0.0, 0.0, 0.0, 0.0), "allowed are a line above zero"),
    (lambda: rise_of_channel(75.0, 75.0, -1e-12, 0.0, 0.0), "the rest zero or more"),
    (lambda: limit("rise").span(), "a bound is left out"),
    (lambda: known_row("supply_usual", "ground-pth"), "did you mean ground-path"),
    (lambda: drawn_whites(Lot((ColourWiring("series", NET),), (0,)), 5, -1), "seed -1"),
    (lambda: lot_of(LevelPlan((), (), None, None, None, 0.0)), "one channel or more"),
    (lambda: level_slopes(NET, 2), "allowed are 0 to 1"),
]


@pytest.mark.parametrize(("call", "words"), REFUSED)
def test_refuses_in_words(call: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()


def test_the_clean_twins_are_taken() -> None:
    assert Amplifier(2.0, X(75.0), X(75.0), X(0.0)).gain == 2.0
    assert buffer_count(buffer("LVC"), X(0.01), 8, 1).spare == 0
    assert rise_of_channel(0.0, 75.0, 1e-9, 0.0, 0.0) == 0.0
    assert known_row("supply_usual", "ground-path").value.span().typical == 1e-9


def test_a_wire_has_slopes_too() -> None:
    """A part of no ohm: the slope is that of the pin before it, -V / (R + 75), by hand."""
    wire = replace(NET, part_ohm=(X(0.0),))
    assert level_slopes(wire, 1)["part 1"] == pytest.approx(-3.3 * 75.0 / 100.0**2)


def test_an_output_that_is_too_much_for_any_package_is_counted_one_a_package() -> None:
    count = buffer_count(buffer("AHC"), X(0.2), 3)
    assert (count.per_package, count.packages) == (0, 3)
    assert count.package_a.typical == 0.2


def test_words_of_a_part_with_uneven_bounds() -> None:
    uneven = replace(NET, part_ohm=(Span(230.0, 240.0, 243.0),))
    assert tolerance_percent(uneven.part_ohm[0]) == pytest.approx(100.0 * 10.0 / 240.0)
    assert looser_words(uneven, ()) == "4.17 % for part 1 (240 ohm)."
