"""A wish in one line: how many displays, in which colours, with how many bits."""

from __future__ import annotations

import re
from typing import overload

from scanloom.basis.record import record

_COLOURS = {
    "colour": 3,
    "color": 3,
    "rgb": 3,
    "green": 1,
    "red": 1,
    "blue": 1,
    "amber": 1,
    "white": 1,
    "mono": 1,
    "single": 1,
}
_NUMBERS = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "a": 1, "an": 1}
_COUNT = r"(?<![\w.-])(\d{1,4}|" + "|".join(_NUMBERS) + ")"
_NOUN = r"(?:displays?|monitors?|projectors?|screens?)"
_BITS = r"(?:\s+(?:with|at|of)\s+(\d{1,4}|" + "|".join(_NUMBERS) + r")\s+bits?(?:\s+each)?)?\b"
# ASCII: otherwise a letter that is like another in capitals alone would pass the pattern and miss the tables
_PART = re.compile(
    rf"{_COUNT}\s+(?:{_NOUN}\s+)?(?:in\s+)?({'|'.join(_COLOURS)})\b(?:\s+{_NOUN}\b)?{_BITS}", re.IGNORECASE | re.ASCII
)
_TOTAL = re.compile(rf"{_COUNT}\s+{_NOUN}\b{_BITS}", re.IGNORECASE | re.ASCII)
_FILL = re.compile(r"[,;]|\.(?!\d)|\b(?:and|please|on)\b", re.IGNORECASE)
_EXAMPLE = "6 displays: 2 colour, 4 green"
MOST_DISPLAYS = 16
"""More displays than any chip of the handbook has pins for. [1]"""

MOST_BITS = 6
"""More bits of a channel than any chip of the handbook has pins for on one display in colour. [1]"""


@record
class WishedGroup:
    """Displays that are wished for alike.

    Parameters
    ----------
    count : int
        How many. [1]
    colour : str
        ``colour`` for red, green and blue, else the one colour: green, red, blue or white.
    bits : int or None
        Bits of each channel, if the wish says. [1]
    """

    count: int
    colour: str
    bits: int | None

    @property
    def channels(self) -> tuple[str, ...]:
        """Channels that get lanes of their own."""
        if self.colour == "colour":
            return ("red", "green", "blue")
        return (self.colour,)

    @property
    def pins_each(self) -> int:
        """Colour pins of one display for each bit [1]."""
        return 3 if self.colour in ("colour", "white") else 1


@record
class Wish:
    """What somebody wants to see.

    Parameters
    ----------
    text : str
        As written.
    groups : tuple of WishedGroup
        The displays.
    """

    text: str
    groups: tuple[WishedGroup, ...]

    @property
    def displays(self) -> int:
        """Displays in all [1]."""
        return sum(group.count for group in self.groups)


def read_wish(text: str) -> Wish:
    """Read a wish.

    Parameters
    ----------
    text : str
        Such as ``6 displays: 2 colour, 4 green``, ``3 colour displays with 2 bits`` or ``4 monitors``; counts in figures
        or words.

    Returns
    -------
    Wish
        The displays by group; displays without a colour show white, one lane to all three inputs.

    Raises
    ------
    ValueError
        If nothing can be made of it, or its numbers disagree.
    """
    said = " ".join(text.split())
    head, mark, body = said.partition(":")
    if not mark:
        head, body = "", said
    parts = list(_PART.finditer(body))
    groups = [WishedGroup(_number(part[1]), _shown(part[2]), _number(part[3])) for part in parts]
    rest = _PART.sub(" ", body)
    total = _TOTAL.search(head if mark else rest)
    if total is not None:
        head, rest = _TOTAL.sub(" ", head, count=1), rest if mark else _TOTAL.sub(" ", rest, count=1)
        if not groups:
            groups.append(WishedGroup(_number(total[1]), "white", _number(total[2])))
    left = " ".join(_FILL.sub(" ", f"{head} {rest}").split())
    if left or not groups or (parts and total is not None and total[2]):
        what = f"{left or 'bits of all displays together'!r} cannot be read" if groups or left else "nothing is wished"
        raise ValueError(
            f"{text!r}: {what}; a number of displays and their colours can be read (colour, green, red, blue, white; "
            f"'with 2 bits' behind a colour); write it as {_EXAMPLE!r}"
        )
    wish = Wish(said, tuple(groups))
    if total is not None and _number(total[1]) != wish.displays:
        raise ValueError(
            f"{text!r}: {_number(total[1])} displays are wished, but the colours make {wish.displays}; both must agree; "
            f"correct one, as in {_EXAMPLE!r}"
        )
    if not all(group.count for group in groups) or wish.displays > MOST_DISPLAYS:
        what = f"{wish.displays} displays" if wish.displays > MOST_DISPLAYS else "0 displays of a kind"
        raise ValueError(f"{text!r}: {what}; 1 to {MOST_DISPLAYS} on one chip are allowed; write it as {_EXAMPLE!r}")
    odd = [group.bits for group in groups if group.bits is not None and not 1 <= group.bits <= MOST_BITS]
    if odd:
        raise ValueError(
            f"{text!r}: {odd[0]} bits; 1 to {MOST_BITS} bits a channel are allowed; write it as '2 colour with 2 bits'"
        )
    return wish


@overload
def _number(word: str) -> int: ...
@overload
def _number(word: str | None) -> int | None: ...
def _number(word: str | None) -> int | None:
    """A count in figures or words, if there is one."""
    return None if word is None else int(word) if word.isdigit() else _NUMBERS[word.lower()]


def _shown(word: str) -> str:
    """Colour that a word stands for; one colour of any phosphor is white on all three inputs."""
    name = word.lower()
    return "colour" if _COLOURS[name] == 3 else {"amber": "white", "mono": "white", "single": "white"}.get(name, name)
