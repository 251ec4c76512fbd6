"""Comb routing: each pad has a column of its own on the bottom, each net a row on top; a via where they meet.

No two columns share an x and no two nets a stretch of a row, so that nothing can touch by construction and no search
is needed. Pads outside the channel reach their columns by short tracks that keep their order.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from dataclasses import dataclass, field, replace

from demo_board.nouns import BOTTOM, TOP, Pad, Part, Point, Track, Via

APART_UM = 650  # columns
VIAS_UM = 850  # columns that start side by side, with a via each
EDGE_UM = 3_000  # around the outermost column
ROW_UM = 1_000
SPARE_UM = 1_200  # along a row, between two nets
WIDTH_UM, POWER_UM = 250, 400
POWER = {"GND", "3V3", "5V"}


@dataclass(slots=True)
class Comb:
    """Copper as it grows."""

    low_um: int
    high_um: int
    tracks: list[Track] = field(default_factory=list)
    vias: list[Via] = field(default_factory=list)
    ends: dict[str, list[Point]] = field(
        default_factory=lambda: defaultdict(list)
    )  # by net: column, and where it starts
    taken: list[Point] = field(default_factory=list)  # columns, and where they start
    wide_um: int = 200_000

    def wire(self, layer: str, net: str, *points: Point) -> None:
        """Tracks along points."""
        width = (
            POWER_UM
            if net in POWER and layer == TOP and len(points) == 2 and points[0][1] == points[1][1]
            else WIDTH_UM
        )
        for start, end in itertools.pairwise(points):
            if start != end:
                self.tracks.append(Track(layer, start, end, width, net))

    def free(self, x_um: int, y_um: int) -> bool:
        """Whether a column may start at a place."""
        inside = EDGE_UM <= x_um <= self.wide_um - EDGE_UM
        return inside and all(
            abs(x_um - x) >= (VIAS_UM if abs(y_um - y) < VIAS_UM else APART_UM) for x, y in self.taken
        )

    def column(self, wish_um: int, step_um: int, start_um: int, least_um: int = -(10**9)) -> int:
        """Free column at a wished place or beyond."""
        for x in range(wish_um, wish_um + 1_000 * step_um, step_um):
            if x >= least_um and self.free(x, start_um):
                self.taken.append((x, start_um))
                return x
        raise ValueError(f"no free column near {wish_um}")

    def leave(self, part: Part, pad: Pad) -> None:
        """Bring one pad to its column."""
        net = part.nets.get(pad.number)
        if net is None:
            return
        at = part.at((pad.x_um, pad.y_um))
        if pad.leave == "H":  # straight down the bottom, or by its path
            self.hole(part, pad, at, net)
        elif pad.path:
            self.wire(TOP, net, at, *(part.at(point) for point in pad.path))
        elif pad.leave == "V":
            self.taken.append(at)
            self.end(net, at, via=True)
        elif pad.leave in ("L", "R"):
            sign = -1 if (pad.leave == "L") != (part.turn_deg == 180) else 1
            x = self.column(at[0] + sign * 1_800, sign * 50, at[1])
            self.wire(TOP, net, at, (x, at[1]))
            self.end(net, (x, at[1]), via=True)
        elif part.side == BOTTOM:
            self.taken.append(at)
            self.end(net, at)
        elif pad.leave == "N":
            y = at[1] + part.footprint.escape_um * (1 if part.y_um < self.low_um else -1)
            self.taken.append((at[0], y))
            self.wire(TOP, net, at, (at[0], y))
            self.end(net, (at[0], y), via=True)

    def hole(self, part: Part, pad: Pad, at: Point, net: str) -> None:
        """Leave a plated hole on the bottom."""
        points = [at, *(part.at(point) for point in pad.path)]
        column = points[-1]
        if any(abs(column[0] - x) < APART_UM for x, _ in self.taken if x != column[0]):
            raise ValueError(f"{part.ref}: its hole at {column[0]} stands in a column that is taken")
        self.taken.append(column)
        self.wire(BOTTOM, net, *points)
        self.end(net, points[-1])

    def end(self, net: str, at: Point, *, via: bool = False) -> None:
        """Note where a column starts."""
        if via:
            self.vias.append(Via(*at, net))
        self.ends[net].append(at)

    def rows(self) -> None:
        """Give each net the lowest row that is free along its whole stretch, and draw columns and row."""
        reached: list[int] = []
        spans = sorted((min(x for x, _ in ends), max(x for x, _ in ends), net) for net, ends in self.ends.items())
        for left, right, net in spans:
            row = next((n for n, end in enumerate(reached) if end + SPARE_UM < left), len(reached))
            reached[row:] = [right, *reached[row + 1 :]]
            y = self.low_um + ROW_UM * (row + 1)
            if y > self.high_um:
                raise ValueError(f"{net}: row {row} does not fit into the channel")
            for x, start in sorted(set(self.ends[net])):
                self.wire(BOTTOM, net, (x, start), (x, y))
            for x in sorted({x for x, _ in self.ends[net]}):
                self.vias.append(Via(x, y, net))
            if left < right:
                self.wire(TOP, net, (left, y), (right, y))


def comb(
    parts: tuple[Part, ...], poured: set[tuple[str, str]], low_um: int, high_um: int
) -> tuple[Comb, tuple[Part, ...]]:
    """Route all nets of the parts; pins in `poured` are joined by a pour and need no column.

    Holes come first, since they cannot give way; then what hangs on fixed pads; then small parts of the far half, which
    slide to where their columns are free. Returns the copper and the parts in their final places.
    """
    made = Comb(low_um, high_um)
    for part in parts:
        for pad in part.footprint.pads:
            if pad.leave == "H" and (part.ref, pad.number) not in poured:
                made.leave(part, pad)
    small = [part for part in parts if part.y_um > high_um and {pad.leave for pad in part.footprint.pads} == {"N"}]
    for part in parts:
        if part not in small:
            drawn_down(made, part)
            for pad in part.footprint.pads:
                if pad.leave not in "DH" or not pad.leave:
                    made.leave(part, pad)
    settled: dict[str, Part] = {}
    for part in small:
        settled[part.ref] = slid(made, part, list(settled.values()))
        for pad in part.footprint.pads:
            made.leave(settled[part.ref], pad)
    made.rows()
    return made, tuple(settled.get(part.ref, part) for part in parts)


def drawn_down(made: Comb, part: Part) -> None:
    """Bring a row of pads to columns in the same order, spread about the middle where the pads stand closer."""
    pads = sorted(
        (pad for pad in part.footprint.pads if pad.leave == "D" and pad.number in part.nets), key=lambda pad: pad.x_um
    )
    close = any(b.x_um - a.x_um < VIAS_UM for a, b in itertools.pairwise(pads))
    last = -(10**9)
    for place, pad in enumerate(pads):
        spread = part.x_um + (2 * place - len(pads) + 1) * VIAS_UM // 2
        at = part.at((pad.x_um, pad.y_um))
        y = at[1] - part.footprint.escape_um
        last = made.column(spread if close else at[0], 50, y, last + APART_UM)
        start = (last, y)
        clear = (at[0], at[1] - pad.shape.h_um) if close else at
        made.wire(TOP, part.nets[pad.number], at, clear, start)
        made.end(part.nets[pad.number], start, via=True)


def slid(made: Comb, part: Part, others: list[Part]) -> Part:
    """A small part at the nearest place whose columns are free and where no other small part stands."""
    reach = [part.at((pad.x_um, 0))[0] - part.x_um for pad in part.footprint.pads]
    start = part.y_um - part.footprint.escape_um
    for turn in range(2_000):
        for x in (part.x_um + turn * 50, part.x_um - turn * 50):
            clear = all(made.free(x + step, start) for step in reach)
            if part.side == BOTTOM:  # a pad there is as wide as two columns
                clear = clear and all(abs(x - taken) >= 900 for taken, _ in made.taken)
            apart = all(
                abs(x - other.x_um) >= (part.footprint.body_w_um + other.footprint.body_w_um) // 2 + 1_600
                for other in others if other.y_um == part.y_um
            )  # fmt: skip
            if clear and apart:
                return replace(part, x_um=x)
    raise ValueError(f"{part.ref}: no place is free for it")
