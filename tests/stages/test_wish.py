"""Wishes in one line: what can be read, and what is said of the rest."""

from __future__ import annotations

import contextlib
import re

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from scanloom.survey.wish import MOST_BITS, MOST_DISPLAYS, Wish, WishedGroup, read_wish

Group = tuple[int, str, int | None]
COLOURS = {"colour", "green", "red", "blue", "white"}
READABLE: dict[str, list[Group]] = {
    "6 displays: 2 colour, 4 green": [(2, "colour", None), (4, "green", None)],
    "6 displays 2 colour 4 green": [(2, "colour", None), (4, "green", None)],
    "Six Displays: Two Colour and Four Green.": [(2, "colour", None), (4, "green", None)],
    "six monitors: 2 color and four green, please": [(2, "colour", None), (4, "green", None)],
    "2 rgb, 4 green": [(2, "colour", None), (4, "green", None)],
    "2 colour": [(2, "colour", None)],
    "a colour display": [(1, "colour", None)],
    "an rgb projector": [(1, "colour", None)],
    "6 displays in colour": [(6, "colour", None)],
    "3 colour displays with 2 bits": [(3, "colour", 2)],
    "3 green with 2 bits each": [(3, "green", 2)],
    "two colour with two bits, 1 red at 1 bit": [(2, "colour", 2), (1, "red", 1)],
    "6 monitors": [(6, "white", None)],
    "6 monitors:": [(6, "white", None)],
    "four monitors with 2 bits": [(4, "white", 2)],
    "1 amber, 1 mono, 1 blue screen": [(1, "white", None), (1, "white", None), (1, "blue", None)],
    "1 green, 2 green with 3 bits": [(1, "green", None), (2, "green", 3)],
    "12 green, 2 green": [(12, "green", None), (2, "green", None)],
    "  2\tcolour,\n 4 \u00a0green ": [(2, "colour", None), (4, "green", None)],
}
# What the message must name besides the wish itself.
UNREADABLE: dict[str, str] = {
    "": "nothing is wished",
    " \n": "nothing is wished",
    ":": "nothing is wished",
    "lots of displays": "'lots of displays' cannot be read",
    "lots of displays: 2 colour": "'lots of displays' cannot be read",
    "some old monitors, 2 colour": "'some old monitors' cannot be read",
    "2 colour and a parrot": "'a parrot' cannot be read",
    "2 colour: 4 green": "'2 colour' cannot be read",
    "2 greenish": "'2 greenish' cannot be read",
    "2.5 colour": "'2.5 colour' cannot be read",
    "-2 colour": "'-2 colour' cannot be read",
    "2 colour with many bits": "'with many bits' cannot be read",
    "12345 green": "'12345 green' cannot be read",
    "6 displays: 6": "'6' cannot be read",
    "6 displays, 7 displays": "'7 displays' cannot be read",
    "6 displays with 2 bits: 2 colour, 4 green": "bits of all displays together",
    "7 displays: 2 colour, 4 green": "7 displays are wished, but the colours make 6",
    "six displays: two colour": "6 displays are wished, but the colours make 2",
    "0 displays": "0 displays of a kind; 1 to 16",
    "0 colour, 2 green": "0 displays of a kind; 1 to 16",
    "99 displays": "99 displays; 1 to 16",
    "100 green": "100 displays; 1 to 16",
    "9 green, 8 red": "17 displays; 1 to 16",
    "2 colour with 9 bits": "9 bits; 1 to 6 bits a channel are allowed",
    "2 colour with 0 bits": "0 bits; 1 to 6 bits a channel are allowed",
    "2 colour with 12 bits": "12 bits; 1 to 6 bits a channel are allowed",
    "\u017fix colour": "cannot be read",  # letters that are an S and an I in capitals alone
    "f\u0131ve colour": "cannot be read",
}


def groups_of(wish: Wish) -> list[Group]:
    return [(group.count, group.colour, group.bits) for group in wish.groups]


@pytest.mark.parametrize("text", READABLE)
def test_it_is_read(text: str) -> None:
    wish = read_wish(text)
    assert groups_of(wish) == READABLE[text]
    assert wish.text == " ".join(text.split())
    assert wish.displays == sum(count for count, _, _ in READABLE[text])


@pytest.mark.parametrize("text", UNREADABLE)
def test_it_is_refused_with_the_way_to_write_it(text: str) -> None:
    """Each message: what was given; what is allowed; what to do, with an example that can be read."""
    with pytest.raises(ValueError) as caught:
        read_wish(text)
    says = str(caught.value)
    assert says.startswith(f"{text!r}: ")
    assert UNREADABLE[text] in says
    assert any(words in says for words in ("can be read", "are allowed", "must agree")), says
    example = re.search(r"(?:write it as|as in) '([^']+)'$", says)
    assert example is not None, says
    read_wish(example[1])


@pytest.mark.parametrize(("colour", "channels", "pins"), [("colour", 3, 3), ("white", 1, 3), ("green", 1, 1)])
def test_white_is_one_lane_on_three_pins(colour: str, channels: int, pins: int) -> None:
    group = WishedGroup(1, colour, None)
    assert (len(group.channels), group.pins_each) == (channels, pins)


WORDS = st.sampled_from(
    "6 2 0 99 a two six displays monitors : , . ; and with at of 1 2 9 bits bit each in colour COLOR rgb green amber "
    "please on ten \u0662 \u017fix".split()
)


@given(st.one_of(st.text(), st.lists(WORDS, max_size=12).map(" ".join), st.lists(WORDS, max_size=8).map("".join)))
@example("\x00")
@example("1 green" * 3)
@example("\ud800 green")
def test_any_text_is_read_or_refused(text: str) -> None:
    with contextlib.suppress(ValueError):
        wish = read_wish(text)
        assert 1 <= wish.displays <= MOST_DISPLAYS
        assert all(group.count >= 1 and group.colour in COLOURS for group in wish.groups)
        assert all(group.bits is None or 1 <= group.bits <= MOST_BITS for group in wish.groups)
        assert groups_of(read_wish(wish.text)) == groups_of(wish)
        assert wish.text.isprintable()  # it stands in a comment and in a title


KINDS = st.tuples(st.integers(1, 5), st.sampled_from(sorted(COLOURS)), st.one_of(st.none(), st.integers(1, MOST_BITS)))


@given(st.lists(KINDS, min_size=1, max_size=3), st.booleans(), st.sampled_from((", ", " and ", "; ")))
def test_what_is_written_plainly_is_read_back(kinds: list[Group], with_total: bool, joint: str) -> None:
    parts = [f"{count} {colour}" + (f" with {bits} bits" if bits else "") for count, colour, bits in kinds]
    total = f"{sum(count for count, _, _ in kinds)} displays: " if with_total else ""
    assert groups_of(read_wish(total + joint.join(parts))) == kinds
