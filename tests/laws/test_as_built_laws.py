"""What must hold of any board drawn as built: the dossier's own board changes nothing, exchanged files exchange pictures."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from board_sets import DOSSIER, good, plan_of, read_set

from scanloom.basis.span import Span
from scanloom.basis.verdict import Verdict
from scanloom.dossier.plan import Plan
from scanloom.formats.dossier_file import read_dossier_text
from scanloom.report.as_built_text import built_doc, built_figure, built_words
from scanloom.stages.board import BoardReview
from scanloom.stages.board.built import BuiltChannel
from scanloom.stages.board.built_syncs import BuiltSync
from scanloom.stages.picture.effects import no_effects
from scanloom.survey.as_built import draw_as_built
from scanloom.survey.as_built_model import BuiltDisplay
from scanloom.survey.review import Reviewed, review_board

COLOURS = ("red", "green", "blue")


@cache
def reviewed() -> Reviewed:
    """The good set."""
    return review_board(plan_of(), read_set(good()[1]))


def asking(connector: str, what: str = "red") -> tuple[Verdict, ...]:
    """A finding that asks for one connector's picture."""
    held = next(v for v in reviewed().made if v.code == "board.lane-path")
    subject = f"board.connectors.{connector}.{what}"
    return (replace(held, judged="fails", state="fails", subject=subject),)


def fed(review: BoardReview, connector: str, ways: Mapping[str, BuiltChannel | None]) -> BoardReview:
    """A review in which colours of one connector are fed otherwise; None for by nobody."""
    made = []
    for one in review.channels:
        way = ways.get(one.channel, one) if one.connector == connector else one
        made.append(
            replace(one, fed_by=(), network=None)
            if way is None
            else replace(one, fed_by=way.fed_by, network=way.network)
        )
    return replace(review, channels=tuple(made))


def drawn(review: BoardReview, connector: str, plan: Plan | None = None, **others: object) -> BuiltDisplay:
    """One display."""
    shown = draw_as_built(plan or plan_of(), review, asking(connector), **others)  # type: ignore[arg-type]
    assert not shown.not_drawn
    return shown.displays[0]


@pytest.mark.parametrize("connector", ["J1", "J3"])
def test_the_dossiers_own_board_gives_the_same_bits_and_no_words(connector: str) -> None:
    one = drawn(reviewed().review, connector)
    assert np.array_equal(one.meant, one.built) and one.meant.any()
    assert built_words(one) == () and built_figure(one) == ""
    assert built_doc(draw_as_built(plan_of(), reviewed().review, asking(connector)))["displays"] == []


@pytest.mark.parametrize("order", list(itertools.permutations(range(3))))
def test_exchanging_colours_in_the_files_exchanges_them_in_the_picture(order: tuple[int, ...]) -> None:
    own = {c.channel: c for c in reviewed().review.channels if c.connector == "J1"}
    ways = {COLOURS[at]: own[COLOURS[source]] for at, source in enumerate(order)}
    one = drawn(fed(reviewed().review, "J1", ways), "J1", effects=no_effects())
    assert np.array_equal(one.built, one.meant[:, :, list(order)])
    said = " ".join(built_words(one))
    moved = [name for at, name in enumerate(COLOURS) if order[at] != at]
    assert all(name in said for name in moved) and (said == "") == (not moved)


@pytest.mark.parametrize("gone", [c for n in (1, 2, 3) for c in itertools.combinations(COLOURS, n)])
def test_missing_colours_leave_what_additive_mixing_says(gone: tuple[str, ...]) -> None:
    """Mixing as in colour bars: ITU-R BT.471, from memory."""
    mixed = {
        ("red",): "cyan", ("green",): "magenta", ("blue",): "yellow",
        ("red", "green"): "blue", ("red", "blue"): "green", ("green", "blue"): "red",
    }  # fmt: skip
    one = drawn(fed(reviewed().review, "J1", dict.fromkeys(gone)), "J1")
    lost = [COLOURS.index(name) for name in gone]
    kept = [at for at in range(3) if at not in lost]
    assert not one.built[:, :, lost].any() and (not kept or one.built[:, :, kept].any())
    said = " ".join(built_words(one))
    assert "missing" in said
    assert f"white looks {mixed[gone]}" in said if gone in mixed else "stays dark" in said


def test_a_colour_of_another_display_is_named_and_its_white_is_not_compared() -> None:
    other = next(c for c in reviewed().review.channels if c.connector == "J4")
    said = built_words(drawn(fed(reviewed().review, "J1", {"blue": other}), "J1"))
    assert said[0] == "blue shows what is meant for green of relay-2"
    assert not any(words.startswith("white looks") or "darker" in words for words in said)


def test_a_pin_of_the_syncs_on_a_colour_is_meant_for_nobody() -> None:
    own = next(c for c in reviewed().review.channels if c.connector == "J3")
    one = drawn(fed(reviewed().review, "J3", {"green": replace(own, fed_by=(26,))}), "J3")
    assert any("meant for nobody" in words or "missing" in words for words in built_words(one))


def test_syncs_by_two_pins_by_none_or_by_a_colour() -> None:
    def with_h(*pins: int, traced: bool = True) -> BuiltDisplay:
        syncs = tuple(
            BuiltSync("J3", "h", pins, traced) if (s.connector, s.axis) == ("J3", "h") else s
            for s in reviewed().review.syncs
        )
        return drawn(replace(reviewed().review, syncs=syncs), "J3", None)

    both, none = with_h(26, 27), with_h()
    assert both.lock.locks is None and "it may not lock: two pins" in built_words(both)[0]
    assert none.lock.dead == ("h",) and none.lock.locks is False
    assert with_h(19).lock.locks is False, "a colour is no steady pulse"
    lost = with_h(traced=False)
    assert lost.lock.locks is None and not lost.lock.as_meant, "what could not be followed is not taken for meant"
    assert "it may not lock: no file shows what drives its H sync" in built_words(lost)[0]


@cache
def two_bits() -> Plan:
    """The demo's dossier with two bits for each colour of one display."""
    text = DOSSIER.read_text(encoding="utf-8")
    for old, new in (
        ("red = 32, green = 33, blue = 25", "red = [32, 14], green = [33, 5], blue = [25, 15]"),
        ("red = 13, green = 4, blue = 18", "green = 4"),
        ('name = "hero-right"\n', 'name = "hero-right"\ngroup = "relays"\n'),
        ("heroes = { red = 1, green = 1, blue = 1 }", "heroes = { red = 2, green = 2, blue = 2 }"),
        (
            "[levels]\n",
            '[levels]\ngroups.heroes = { style = "weighted", part = "390, 820 ohm ± 1 %" }\n',
        ),
    ):
        assert old in text, old
        text = text.replace(old, new)
    return read_dossier_text(text, DOSSIER).plan


def test_legs_exchanged_put_numbers_out_of_order_and_short_ones_clip_the_upper() -> None:
    from scanloom.survey import survey_plan

    plan = two_bits()
    rig = survey_plan(plan).rigs[0]
    assert rig.levels is not None
    nets = {c.channel: c.network for c in rig.levels.channels if c.display == "hero-left"}
    pins = {"red": (32, 14), "green": (33, 5), "blue": (25, 15)}
    made = tuple(BuiltChannel("J1", name, pins[name], nets[name], False) for name in COLOURS)
    review = replace(reviewed().review, channels=made)
    assert built_words(drawn(review, "J1", plan)) == ()

    turned = replace(made[1], network=replace(nets["green"], part_ohm=nets["green"].part_ohm[::-1]))
    one = drawn(replace(review, channels=(made[0], turned, made[2])), "J1", plan)
    assert any("number 2 is darker than number 1" in words and "green" in words for words in built_words(one))

    short = replace(made[0], network=replace(nets["red"], part_ohm=(Span.exact(39.0), Span.exact(82.0))))
    one = drawn(replace(review, channels=(short, *made[1:])), "J1", plan)
    said = "; ".join(built_words(one))
    assert "clipped" in said and "everything from number 1 up looks alike" in said
    # all three numbers above 0 are over full scale: the ramp of red has two steps left
    band = one.built[one.built.shape[0] * 3 // 4 - 40, one.built.shape[1] * 3 // 4 :, 0]
    assert set(np.unique(band[8:-8] // 32)) <= {0, 7}


def test_a_part_without_value_is_not_drawn_and_says_so() -> None:
    channels = tuple(
        replace(c, network=None) if (c.connector, c.channel) == ("J1", "red") else c for c in reviewed().review.channels
    )
    review = replace(reviewed().review, channels=channels)
    shown = draw_as_built(plan_of(), review, asking("J1"))
    assert shown.displays == () and "value of a part of red is not known" in shown.not_drawn["J1"]
    other = draw_as_built(plan_of(), review, asking("J1", "h"))
    assert len(other.displays) == 1, "what is asked of the syncs does not hang on red"


def test_a_dossier_without_a_rig_says_that_nothing_is_drawn() -> None:
    text = DOSSIER.read_text(encoding="utf-8")
    head, _, rest = text.partition("[[rigs]]")
    bare = read_dossier_text(head + rest[rest.index("[batch]") :], DOSSIER).plan
    shown = draw_as_built(bare, reviewed().review, asking("J1"))
    assert shown.displays == () and "no rig" in shown.not_drawn["J1"]
