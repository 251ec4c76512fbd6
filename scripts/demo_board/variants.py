"""The good board told otherwise: each spelling of its files, inner planes, long names; and boards that tell little."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from demo_board import sets
from demo_board.board import MADE, good_board
from demo_board.nouns import Board, Footprint, Pad, Part, Shape, Track, placed
from demo_board.sets import Dialects

LONG = {"J8": "BOOTLINK1", "J9": "RESETLINK1", "D1": "LAMPGREEN1"}


def inner_planes() -> Board:
    """Four layers: a plane of ground and one of 3.3 V inside; the netlist counts its bottom as A04."""
    return replace(good_board(), inner=("GND", "3V3"))


def long_names() -> Board:
    """Names that a netlist cuts after six letters."""
    good = good_board()
    return replace(
        good,
        parts=tuple(replace(part, ref=LONG.get(part.ref, part.ref)) for part in good.parts),
        pads=tuple(replace(pad, ref=LONG.get(pad.ref, pad.ref)) for pad in good.pads),
    )


def bare_header() -> Board:
    """Two rows of ten pins and nothing else: its holes look the same from every side."""
    shape = Shape("C", 1_700, 1_700)
    pads = tuple(
        Pad(str(2 * place + row + 1), 2_540 * place - 11_430, 1_270 - 2_540 * row, shape, 1_000)
        for place in range(10) for row in range(2)
    )  # fmt: skip
    nets = {pad.number: f"pair-{(int(pad.number) + 1) // 2}" for pad in pads}
    part = Part(
        "J1", "two rows", Footprint("pins, two rows of 10", pads, 26_000, 6_000), nets, 15_000, 5_000, fit="hand"
    )
    tracks = tuple(
        Track("top", (x := 15_000 + 2_540 * place - 11_430, 3_730), (x, 6_270), 250, f"pair-{place + 1}")
        for place in range(10)
    )
    corners = ((0, 0), (30_000, 0), (30_000, 10_000), (0, 10_000))
    return Board("bare-header", "B", MADE, corners, (part,), tuple(placed(part)), tracks, ())


def told(dialects: Dialects) -> Callable[[], tuple[Board, Dialects]]:
    """The good board in a spelling."""
    return lambda: (good_board(), dialects)


VARIANTS: Mapping[str, Callable[[], tuple[Board, Dialects]]] = {
    **{name: told(dialects) for name, dialects in sets.NAMED.items()},
    "inner-planes": lambda: (inner_planes(), Dialects(netlist="noted")),
    "inner-comments": lambda: (inner_planes(), sets.NAMED["comment-attributes"]),
    "long-names": lambda: (long_names(), sets.PLAIN),
    "bare-header": lambda: (bare_header(), sets.PLAIN),
}
"""Sets without a mistake, by name; `plain` is the good set itself."""
