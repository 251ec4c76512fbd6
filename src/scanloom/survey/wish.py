"""A wish in one line: how many displays, in which colours, with how many bits."""

from __future__ import annotations

import re
from dataclasses import dataclass

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
_COUNT = r"(\d{1,2}|" + "|".join(_NUMBERS) + ")"
_TOTAL = re.compile(_COUNT + r"\s+(?:displays?|monitors?|projectors?|screens?)", re.IGNORECASE)
_PART = re.compile(
    _COUNT + r"\s+(?:in\s+)?(" + "|".join(_COLOURS) + r")(?:\s+(?:displays?|monitors?|projectors?|screens?))?"
    r"(?:\s+(?:with|at|of)\s+(\d)\s+bits?(?:\s+each)?)?",
    re.IGNORECASE,
)
_EXAMPLE = "6 displays: 2 colour, 4 green"
MOST_DISPLAYS = 16
"""More displays than any chip of the handbook has pins for. [1]"""


@dataclass(frozen=True, slots=True)
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


@dataclass(frozen=True, slots=True)
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
        Such as ``6 displays: 2 colour, 4 green``, ``3 colour displays with 2 bits`` or ``4 monitors``.

    Returns
    -------
    Wish
        The displays by group; displays without a colour show white, one lane to all three inputs.

    Raises
    ------
    ValueError
        If nothing can be made of it, or its numbers disagree.
    """
    head, mark, tail = text.strip().partition(":")
    body = tail if mark else head
    groups: list[WishedGroup] = []
    rest = body
    for match in _PART.finditer(body):
        bits = int(match[3]) if match[3] else None
        word = match[2].lower()
        colour = (
            "colour" if _COLOURS[word] == 3 else {"amber": "white", "mono": "white", "single": "white"}.get(word, word)
        )
        groups.append(WishedGroup(_number(match[1]), colour, bits))
        rest = rest.replace(match[0], " ", 1)
    total = _TOTAL.search(head if mark else rest)
    if total and not mark:
        rest = rest.replace(total[0], " ", 1)
    left = re.sub(r"[,.;]|\band\b|\bplease\b|\bon\b", " ", rest).strip()
    if left or not (groups or total):
        raise ValueError(
            f"{text!r}: {left or text!r} cannot be read; a number of displays and their colours can "
            f"(colour, green, red, blue, white; 'with 2 bits'); write it as {_EXAMPLE!r}"
        )
    if not groups and total:
        groups.append(WishedGroup(_number(total[1]), "white", None))
    wish = Wish(text.strip(), tuple(groups))
    if total and _number(total[1]) != wish.displays:
        raise ValueError(
            f"{text!r}: {_number(total[1])} displays are wished, but the colours make {wish.displays}; both must agree; correct one"
        )
    if not 1 <= wish.displays <= MOST_DISPLAYS:
        raise ValueError(
            f"{text!r}: {wish.displays} displays; 1 to {MOST_DISPLAYS} are allowed; ask for fewer on one chip"
        )
    if any(group.bits is not None and not 1 <= group.bits <= 6 for group in wish.groups):
        raise ValueError(f"{text!r}: 1 to 6 bits a channel are allowed; change the bits")
    return wish


def _number(word: str) -> int:
    """A count in figures or words."""
    return int(word) if word.isdigit() else _NUMBERS[word.lower()]
