"""What displays would show with the demo board's planted mistakes: the right words, and none for the good set."""

from __future__ import annotations

from functools import cache

import pytest
from board_sets import good, plan_of, read_set

from demo_board.mistakes import MISTAKES
from demo_board.planting import carried_out
from scanloom.report.as_built_text import built_words, finding_lines, shown_line
from scanloom.survey.as_built_model import BuiltShown
from scanloom.survey.review import review_board, shown_as_built

# Additive mixing as in colour bars, white without green magenta and so on: ITU-R BT.471, from memory.
WORDS = {
    "lanes-crossed": {"hero-left": ["red and blue exchanged"]},
    "displays-crossed": {"relay-2": ["the picture of relay-3"], "relay-3": ["the picture of relay-2"]},
    "no-series-part": {"relay-2": ["white is 2.3", "clipped, since an input takes 1.0 V at most"]},
    "part-24-ohm": {"hero-left": ["white of red is 1.8", "clipped"]},
    "parts-270-ohm": {
        name: ["% darker", "in place of 0.7"]
        for name in ("hero-left", "hero-right", "relay-1", "relay-2", "relay-3", "relay-4")
    },
    "not-fitted": {"relay-3": ["green is missing", "relay-3 stays dark"]},
    "syncs-exchanged": {"relay-4": ["it would not lock: H and V exchanged", "59.94 pulses", "dark screen"]},
    "not-bought": {"relay-2": ["it would not lock: no pin of the chip drives H sync"]},
    "boot-pin-loaded": {"relay-4": ["stays dark"]},
}
# Wrong on the board, and the same picture: levels and edges of a sync are judged by the survey, not drawn.
SAME_PICTURE = ("buffer-bypassed", "no-branch-part")
# Nothing of it concerns a connector's colours or syncs.
NOT_ASKED = ("shell-floating", "inlet-pull-51k", "tracks-bridged", "serial-crossed")


@cache
def shown_of(name: str) -> BuiltShown | None:
    """A planted set, drawn."""
    board, files = good()
    planted = carried_out(next(m for m in MISTAKES if m.name == name), board, files)
    return shown_as_built(plan_of(), review_board(plan_of(), read_set(planted.files)))


@pytest.mark.parametrize("name", WORDS)
def test_planted_mistake_is_told_as_its_display_would_show_it(name: str) -> None:
    shown = shown_of(name)
    assert shown is not None and not shown.not_drawn
    assert {one.display for one in shown.displays} == set(WORDS[name])
    for one in shown.displays:
        said = shown_line(one)
        assert one.differs and all(words in said for words in WORDS[name][one.display]), said
        assert one.findings and shown.of(*one.findings[0]) is one


@pytest.mark.parametrize("name", SAME_PICTURE)
def test_a_fault_that_does_not_show_has_no_words(name: str) -> None:
    shown = shown_of(name)
    assert shown is not None and shown.displays
    for one in shown.displays:
        assert not one.differs and built_words(one) == () and shown_line(one) == ""
    assert all("other level or edge does is not drawn" in line for line in finding_lines(shown).values())
    assert set(finding_lines(shown)) == {finding for one in shown.displays for finding in one.findings}


@pytest.mark.parametrize("name", NOT_ASKED)
def test_other_faults_ask_for_no_picture(name: str) -> None:
    assert shown_of(name) is None


def test_good_set_asks_for_no_picture() -> None:
    assert shown_as_built(plan_of(), review_board(plan_of(), read_set(good()[1]))) is None


def test_white_is_that_of_a_divider() -> None:
    """Ohm's law by hand: rail 3.3 V, pin 30 ohm, load 75 ohm, the part; the cable takes under 4 %."""
    for name, display, part_ohm in (("no-series-part", "relay-2", 0.0), ("part-24-ohm", "hero-left", 24.0)):
        shown = shown_of(name)
        assert shown is not None
        one = next(d for d in shown.displays if d.display == display)
        wrong = next(c for c in one.colours if c.built_v != c.meant_v)
        by_hand = 3.3 * 75.0 / (75.0 + 30.0 + part_ohm)
        assert wrong.built_v is not None and 0.96 * by_hand < wrong.built_v <= by_hand


def test_a_display_without_lock_is_black_and_its_meant_picture_is_not() -> None:
    shown = shown_of("syncs-exchanged")
    assert shown is not None
    (one,) = shown.displays
    assert not one.built.any() and one.meant.any() and one.lock.exchanged and one.lock.locks is False
    # VESA DMT, ID 0x04, 640x480 at 60 Hz: the vertical frequency, which the horizontal pin then gets
    assert one.lock.lines_hz == pytest.approx(59.94, abs=0.02)
