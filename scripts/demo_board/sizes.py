"""Boards of a size, for benchmarks: many small nets of pads, tracks, vias and holes, none of which means anything."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator

from demo_board.board import MADE
from demo_board.nouns import BOTTOM, TOP, Board, Footprint, Hole, Pad, Part, Point, Shape, Track, Via, placed

SMALL, ROUND = Shape("R", 800, 900), Shape("C", 1_400, 1_400)


def large() -> Board:
    """285 by 97 mm, two layers, 2,000 plated holes, 8,000 copper objects."""
    return sized("large-board", 285, 97, columns=50, rows=20, through=250)


def medium() -> Board:
    """100 by 100 mm, two layers, 700 plated holes, 2,800 copper objects and a few more."""
    return sized("medium-board", 100, 100, columns=16, rows=20, through=80)


def sized(name: str, wide_mm: int, high_mm: int, *, columns: int, rows: int, through: int, seed: int = 7) -> Board:
    """A board of cells, each with one net from a pad through two vias, or from hole to hole, and a little apart.

    A cell of small pads is nine copper objects and two holes, one of holes five objects and two holes. Pads of
    neighbouring cells make one part, so that parts and nets form long chains.
    """
    chance = random.Random(seed)
    wide, high = wide_mm * 1_000, high_mm * 1_000
    holed = set(chance.sample(range(columns * rows), through))
    step_x, step_y = (wide - 8_000) // columns, (high - 8_000) // rows
    tracks: list[Track] = []
    vias: list[Via] = []
    ends: list[tuple[Point, Point, bool]] = []
    for cell in range(columns * rows):
        row, column = divmod(cell, columns)
        x = 4_000 + column * step_x + 900 + chance.randrange(0, 300, 10)
        y = 4_000 + row * step_y + 900 + chance.randrange(0, 300, 10)
        first, last = (x, y), (x + step_x - 2_400, y)
        net = f"net-{cell:04}"
        if cell in holed:
            tracks.append(Track(BOTTOM, first, last, 250, net))
        else:
            vias += [Via(first[0], y + 1_400, net), Via(last[0], y + 1_400, net)]
            tracks += [
                Track(TOP, first, (first[0], y + 1_400), 250, net),
                Track(TOP, last, (last[0], y + 1_400), 250, net),
            ]
            tracks.append(Track(BOTTOM, (first[0], y + 1_400), (last[0], y + 1_400), 250, net))
        ends.append((first, last, cell in holed))
    parts = tuple(chained(ends))
    pads = tuple(pad for part in parts for pad in placed(part))
    holes = tuple(Hole(x, y, 2_000) for x in (2_000, wide - 2_000) for y in (2_000, high - 2_000))
    corners = ((0, 0), (wide, 0), (wide, high), (0, high))
    return Board(name, "B", MADE, corners, parts, pads, tuple(tracks), tuple(vias), (), holes)


def chained(ends: list[tuple[Point, Point, bool]]) -> Iterator[Part]:
    """Parts between the end of one cell and the start of the next; the outermost ends are test pads."""

    def pad(number: str, at: Point, origin: Point, hole: bool) -> Pad:
        return Pad(number, at[0] - origin[0], at[1] - origin[1], ROUND if hole else SMALL, 800 if hole else 0)

    def probe(ref: str, at: Point, hole: bool, net: str) -> Part:
        return Part(
            ref, "test pad", Footprint("test pad", (pad("1", at, at, hole),), 800, 900), {"1": net}, *at, fit="none"
        )

    yield probe("TP1", ends[0][0], ends[0][2], "net-0000")
    for n, ((_, start, hole), (end, _, next_hole)) in enumerate(itertools.pairwise(ends)):
        pads = (pad("1", start, start, hole), pad("2", end, start, next_hole))
        nets = {"1": f"net-{n:04}", "2": f"net-{n + 1:04}"}
        fit = "hand" if hole and next_hole else "machine"
        yield Part(f"R{n + 1}", "1k", Footprint(f"link {n}", pads, 800, 900), nets, *start, fit=fit)
    last = len(ends) - 1
    yield probe("TP2", ends[last][1], ends[last][2], f"net-{last:04}")
