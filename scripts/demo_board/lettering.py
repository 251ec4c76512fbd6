"""Letters of the legend as strokes on a grid of four by six, drawn for these boards."""

from __future__ import annotations

import itertools

from demo_board.nouns import BOTTOM, Stroke

# Each letter: strokes apart by a blank, points as two digits, across and up.
LETTERS = {
    "A": "00042644 0242 4440", "B": "00063645443303 3342413000", "C": "4536160501103041", "D": "00063645413000",
    "E": "46060040 0333", "F": "460600 0333", "G": "45361605011030414323", "H": "0006 4046 0343", "I": "0040 0646 2026",
    "J": "4641301001", "K": "0006 460340", "L": "060040", "M": "0006234640", "N": "00064046", "O": "100105163645413010",
    "P": "00063645443303", "Q": "100105163645413010 2240", "R": "00063645443303 2340", "S": "453616050413334241301001",
    "T": "0646 2620", "U": "060110304146", "V": "062046", "W": "0610233046", "X": "0046 0640", "Y": "062346 2320",
    "Z": "06460040", "0": "100105163645413010 0145", "1": "052620 1030", "2": "05163645440040", "3": "05163645443313 334241301001",
    "4": "30360242", "5": "460603334441301001", "6": "4536160501103041423303", "7": "064610", "8": "13040516364544331302011030414233",
    "9": "443313040516364541301001", "-": "0343", "+": "0343 2125", ".": "2021", " ": "",
}  # fmt: skip


def strokes(text: str, x_um: int, y_um: int, high_um: int, layer: str) -> list[Stroke]:
    """A line of text from its lower left; on the bottom it runs leftwards, to be read from that side."""
    step, sign = high_um // 6, -1 if layer == BOTTOM else 1
    drawn = []
    for place, letter in enumerate(text):
        origin = x_um + sign * place * step * 6
        for run in LETTERS[letter].split():
            points = [
                (origin + sign * int(run[n]) * step, y_um + int(run[n + 1]) * step) for n in range(0, len(run), 2)
            ]
            drawn += [Stroke(layer, start, end) for start, end in itertools.pairwise(points)]
    return drawn
