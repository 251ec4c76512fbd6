"""Built-in test pictures: brightness from 0 to 1 for each stored pixel and colour, or levels lane by lane."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Literal, get_args

import numpy as np

from scanloom.stages.picture.lettering import lettering, written

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanloom.stages.lanes import Lane

PatternName = Literal["card", "border", "bars", "checker", "column", "text", "ramps", "lanes"]
PATTERNS: tuple[PatternName, ...] = get_args(PatternName)
"""Names of the built-in pictures."""

PATTERN_WORDS: Mapping[PatternName, str] = {
    "card": "border, text, checker, bars, ramps and a lit column on one card",
    "border": "lit border one pixel wide, dots in the middle",
    "bars": "upright bars of 16 pixels",
    "checker": "checker of single pixels",
    "column": "one lit column in the middle",
    "text": "letters and digits of 5 by 7 pixels",
    "ramps": "a ramp for each colour and one for all",
    "lanes": "one field a lane, lit by that lane alone",
}

_BAR_PX = 16


def pattern(name: PatternName, width_px: int, rows: int) -> NDArray[np.float64]:
    """One built-in picture.

    Parameters
    ----------
    name : str
        One of `PATTERNS` but ``lanes``, which `lane_fields` makes.
    width_px : int
        Stored pixels of a row. [1]
    rows : int
        Image rows. [1]

    Returns
    -------
    ndarray of float, shape (rows, pixels, 3)
        Brightness of red, green and blue, 0 to 1. [1]

    Raises
    ------
    ValueError
        If there is no such picture, or it has no pixel.
    """
    if width_px < 1 or rows < 1:
        raise ValueError(f"picture of {width_px}x{rows}: 1x1 and more are allowed; give the size that is stored")
    x, y = np.arange(width_px)[None, :], np.arange(rows)[:, None]
    grey = np.zeros((rows, width_px))
    if name == "border":
        grey[[0, -1], :] = 1.0
        grey[:, [0, -1]] = 1.0
        grey[8:-8:16, 8:-8:16] = 1.0
    elif name == "bars":
        grey[:] = (x // _BAR_PX) % 2 == 0
    elif name == "checker":
        grey[:] = (x + y) % 2 == 0
    elif name == "column":
        grey[:, width_px // 2] = 1.0
    elif name == "text":
        grey = lettering(width_px, rows)
    elif name == "ramps":
        return _ramps(width_px, rows)
    elif name == "card":
        return _card(width_px, rows)
    else:
        raise ValueError(f"{name!r} is no picture of brightness; {', '.join(PATTERNS[:-1])} are; choose one")
    return np.repeat(grey[:, :, None], 3, axis=2)


def named_card(name: str, width_px: int, rows: int) -> NDArray[np.float64]:
    """The card with a name on it, so that one display's picture can be told from another's.

    Parameters
    ----------
    name : str
        The name.
    width_px : int
        Stored pixels of a row. [1]
    rows : int
        Image rows. [1]

    Returns
    -------
    ndarray of float, shape (rows, pixels, 3)
        Brightness of red, green and blue, 0 to 1. [1]

    Raises
    ------
    ValueError
        If it has no pixel.
    """
    made = pattern("card", width_px, rows)
    letters = written(name.upper())
    times = max(1, (width_px // 2 - 16) // letters.shape[1])
    letters = np.repeat(np.repeat(letters, times, axis=0), times, axis=1)
    letters = np.pad(letters, 3)[: max(0, rows // 2 - 2), : max(0, width_px // 2 - 6)]
    top, left = max(1, (rows // 2 - letters.shape[0]) // 2), 2
    made[top : top + letters.shape[0], left : left + letters.shape[1]] = letters[:, :, None]
    return made


def lane_fields(lanes: Sequence[Lane], width_px: int, rows: int) -> dict[tuple[str, str], NDArray[np.uint16]]:
    """Fields side by side, each lit by one lane alone, in the order of the word.

    Parameters
    ----------
    lanes : sequence of Lane
        Every bit of the word.
    width_px : int
        Stored pixels of a row. [1]
    rows : int
        Image rows. [1]

    Returns
    -------
    dict
        Numbers of each display's channel, shape (rows, pixels). [1]
    """
    colour = [lane for lane in lanes if lane.display]
    made: dict[tuple[str, str], NDArray[np.uint16]] = {}
    for place, lane in enumerate(colour):
        field = made.setdefault((lane.display, lane.carries), np.zeros((rows, width_px), dtype=np.uint16))
        begin, end = place * width_px // len(colour), (place + 1) * width_px // len(colour)
        field[:, begin:end] |= np.uint16(1 << lane.level_bit)
    return made


def _ramps(width_px: int, rows: int) -> NDArray[np.float64]:
    """Four bands: red, green, blue, all, each from dark to bright."""
    made = np.zeros((rows, width_px, 3))
    ramp = np.linspace(0.0, 1.0, width_px) if width_px > 1 else np.ones(1)
    for band, colours in enumerate(((0,), (1,), (2,), (0, 1, 2))):
        begin, end = band * rows // 4, (band + 1) * rows // 4
        for colour in colours:
            made[begin:end, :, colour] = ramp
    return made


def _card(width_px: int, rows: int) -> NDArray[np.float64]:
    """Four pictures in the quarters, a lit column between them, a lit border around."""
    made = np.zeros((rows, width_px, 3))
    middle_px, middle_row = width_px // 2, rows // 2
    quarters: tuple[tuple[PatternName, slice, slice], ...] = (
        ("text", slice(0, middle_row), slice(0, middle_px)),
        ("checker", slice(0, middle_row), slice(middle_px, width_px)),
        ("bars", slice(middle_row, rows), slice(0, middle_px)),
        ("ramps", slice(middle_row, rows), slice(middle_px, width_px)),
    )
    for name, down, across in quarters:
        high, wide = down.stop - down.start, across.stop - across.start
        if high > 0 and wide > 0:
            made[down, across] = pattern(name, wide, high)
    gap = slice(max(0, middle_px - 4), min(width_px, middle_px + 5))
    made[:, gap] = 0.0
    made[:, middle_px] = 1.0
    made[[0, -1], :] = 1.0
    made[:, [0, -1]] = 1.0
    return made
