"""Letters and digits of 5 by 7 pixels, drawn for this project, and lines of them that fill a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

GLYPHS = {
    "A": ".###. #...# #...# ##### #...# #...# #...#",
    "B": "####. #...# #...# ####. #...# #...# ####.",
    "C": ".###. #...# #.... #.... #.... #...# .###.",
    "D": "####. #...# #...# #...# #...# #...# ####.",
    "E": "##### #.... #.... ####. #.... #.... #####",
    "F": "##### #.... #.... ####. #.... #.... #....",
    "G": ".###. #...# #.... #.### #...# #...# .####",
    "H": "#...# #...# #...# ##### #...# #...# #...#",
    "I": ".###. ..#.. ..#.. ..#.. ..#.. ..#.. .###.",
    "J": "..### ...#. ...#. ...#. ...#. #..#. .##..",
    "K": "#...# #..#. #.#.. ##... #.#.. #..#. #...#",
    "L": "#.... #.... #.... #.... #.... #.... #####",
    "M": "#...# ##.## #.#.# #.#.# #...# #...# #...#",
    "N": "#...# ##..# #.#.# #..## #...# #...# #...#",
    "O": ".###. #...# #...# #...# #...# #...# .###.",
    "P": "####. #...# #...# ####. #.... #.... #....",
    "Q": ".###. #...# #...# #...# #.#.# #..#. .##.#",
    "R": "####. #...# #...# ####. #.#.. #..#. #...#",
    "S": ".#### #.... #.... .###. ....# ....# ####.",
    "T": "##### ..#.. ..#.. ..#.. ..#.. ..#.. ..#..",
    "U": "#...# #...# #...# #...# #...# #...# .###.",
    "V": "#...# #...# #...# #...# #...# .#.#. ..#..",
    "W": "#...# #...# #...# #.#.# #.#.# ##.## #...#",
    "X": "#...# #...# .#.#. ..#.. .#.#. #...# #...#",
    "Y": "#...# #...# .#.#. ..#.. ..#.. ..#.. ..#..",
    "Z": "##### ....# ...#. ..#.. .#... #.... #####",
    "0": ".###. #...# #..## #.#.# ##..# #...# .###.",
    "1": "..#.. .##.. ..#.. ..#.. ..#.. ..#.. .###.",
    "2": ".###. #...# ....# ...#. ..#.. .#... #####",
    "3": ".###. #...# ....# ..##. ....# #...# .###.",
    "4": "...#. ..##. .#.#. #..#. ##### ...#. ...#.",
    "5": "##### #.... ####. ....# ....# #...# .###.",
    "6": ".###. #.... #.... ####. #...# #...# .###.",
    "7": "##### ....# ...#. ..#.. .#... .#... .#...",
    "8": ".###. #...# #...# .###. #...# #...# .###.",
    "9": ".###. #...# #...# .#### ....# ....# .###.",
}
"""Rows of each letter from the top, a sign a pixel."""

WORDS = "DEEP STATION HULL 240 OHM ALARM RED GREEN BLUE 0123456789 THE QUICK SONAR WAVES JUMP OVER A FOXY BUOY "
"""Text that is repeated."""

_CELL_PX, _CELL_ROWS = 6, 9
_HYPHEN = "..... ..... ..... ##### ..... ..... ....."


def written(text: str) -> NDArray[np.float64]:
    """One line of text.

    Parameters
    ----------
    text : str
        Letters, digits, hyphens; anything else is a gap.

    Returns
    -------
    ndarray of float, shape (7, pixels)
        1 where a letter is lit, else 0. [1]
    """
    made = np.zeros((7, max(1, len(text) * _CELL_PX)))
    for place, letter in enumerate(text):
        drawn = _HYPHEN if letter == "-" else GLYPHS.get(letter)
        if drawn is not None:
            made[:, place * _CELL_PX : place * _CELL_PX + 5] = _glyph(drawn)
    return made


def _glyph(drawn: str) -> NDArray[np.float64]:
    """One letter, shape (7, 5)."""
    return np.array([[sign == "#" for sign in row] for row in drawn.split()], dtype=np.float64)


def lettering(width_px: int, rows: int) -> NDArray[np.float64]:
    """Picture full of text.

    Parameters
    ----------
    width_px : int
        Pixels of a row. [1]
    rows : int
        Rows. [1]

    Returns
    -------
    ndarray of float, shape (rows, pixels)
        1 where a letter is lit, else 0. [1]
    """
    made = np.zeros((rows + _CELL_ROWS, width_px + _CELL_PX))
    columns = max(1, width_px // _CELL_PX)
    at = 0
    for top in range(1, rows, _CELL_ROWS):
        for column in range(columns):
            drawn = GLYPHS.get(WORDS[at % len(WORDS)])
            at += 1
            if drawn is not None:
                left = column * _CELL_PX
                made[top : top + 7, left : left + 5] = _glyph(drawn)
    return made[:rows, :width_px]
