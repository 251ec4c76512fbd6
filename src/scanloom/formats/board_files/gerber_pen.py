"""The pen of a Gerber plotter: where it is, what it draws with, and everything it has drawn."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity

from scanloom.formats.board_files.arcs import arc_points, sweep_of
from scanloom.formats.board_files.damage import Damaged
from scanloom.formats.board_files.gerber_aperture import QUARTER, Aperture, crossings_likely, filled
from scanloom.stages.board.model import Drawn

MOST_OBJECTS = 200_000
"""Objects of one image; a dense board of ten layers has 140,000 in all. [1]"""
_MOST_POINTS = 3_000_000
_MOST_CROSSINGS = 20_000_000
Point = tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """Everything a Gerber file draws and says.

    Parameters
    ----------
    drawn : tuple of Drawn
        Objects in their order.
    shapes : ndarray of object, shape (objects,)
        Their outlines. [mm]
    paths : tuple of ndarray
        Their middle lines, shape (points, 2). [mm]
    attributes : Mapping
        What it says of itself.
    remarks : tuple of str
        What was passed over.
    damage : str
        Why it may not be whole.
    negative : bool
        Whether it says that it shows what is left away.
    """

    drawn: tuple[Drawn, ...]
    shapes: NDArray[np.object_]
    paths: tuple[NDArray[np.float64], ...]
    attributes: Mapping[str, str]
    remarks: tuple[str, ...]
    damage: str
    negative: bool = False


@dataclass(slots=True)
class _Item:
    """One object before its outline is made; a round stroke waits, so that all are made at once."""

    drawn: Drawn
    path: list[Point]
    shape: Any = None


@dataclass(slots=True)
class _Repeat:
    """Objects that are drawn several times."""

    steps: Sequence[Point]
    start: int


@dataclass
class Pen:
    """Where the plotter is and what it has drawn.

    Parameters
    ----------
    x, y : float
        Where it is. [mm]
    bend : int
        1 for lines, 2 for arcs clockwise, 3 the other way. [1]
    one_quadrant : bool
        Whether arcs stay inside a quadrant and their centres carry no signs.
    dark : bool
        Whether it adds or clears.
    mirror : tuple of bool
        Whether apertures are mirrored along and across.
    turn_deg : float
        Turn of apertures, counter-clockwise. [deg]
    grow : float
        Factor that apertures are grown by. [1]
    last_act : int
        What the last move did: 1 drew, 2 moved, 3 flashed. [1]
    aperture : Aperture or None
        What it draws with.
    block : list or None
        Block that it flashes instead.
    says : dict
        What the file says of the objects that follow.
    attributes : dict
        What the file says of itself.
    blocks : dict
        Blocks by their D code.
    """

    x: float = 0.0
    y: float = 0.0
    bend: int = 1
    one_quadrant: bool = False
    dark: bool = True
    mirror: tuple[bool, bool] = (False, False)
    turn_deg: float = 0.0
    grow: float = 1.0
    last_act: int = 0
    aperture: Aperture | None = None
    block: list[_Item] | None = None
    says: dict[str, str] = field(default_factory=dict)
    attributes: dict[str, str] = field(default_factory=dict)
    blocks: dict[int, list[_Item]] = field(default_factory=dict)
    _items: list[_Item] = field(default_factory=list)
    _outer: list[tuple[int, list[_Item]]] = field(default_factory=list)
    _area: list[Point] | None = None
    _repeat: _Repeat | None = None
    _points: int = 0
    _made: int = 0
    _crossed: int = 0

    def go(self, act: int, x: float | None, y: float | None, i: float, j: float) -> None:
        """Draw, move or flash.

        Parameters
        ----------
        act : int
            1 draws, 2 moves, 3 flashes. [1]
        x : float or None
            Where to, None to stay. [mm]
        y : float or None
            The same across. [mm]
        i : float
            Centre of an arc from its start. [mm]
        j : float
            The same across. [mm]

        Raises
        ------
        Damaged
            If there is nothing to draw with.
        """
        self.last_act = act
        to = (self.x if x is None else x, self.y if y is None else y)
        if max(abs(to[0]), abs(to[1])) > 1e5:
            raise Damaged(f"a coordinate of {max(to, key=abs):.0f} mm; at most 100 m are read; check the format")
        if act == 1:
            path = self._line(to, i, j)
            if self._area is not None:
                if not self._area:
                    self._area.append((self.x, self.y))
                self._area.extend(path[1:])
            else:
                self._stroke(path)
        elif act == 2:
            if self._area:
                self._end_contour()
        elif self._area is not None:
            raise Damaged("a flash inside an area; only lines are allowed there; export the file again")
        else:
            self._flash(to)
        self.x, self.y = to

    def open_area(self) -> None:
        """Start of a filled area."""
        self._area = []

    def close_area(self) -> None:
        """End of a filled area."""
        if self._area:
            self._end_contour()
        self._area = None

    def open_block(self, number: int) -> None:
        """Start of a block aperture.

        Parameters
        ----------
        number : int
            Its D code. [1]

        Raises
        ------
        Damaged
            If blocks nest too deep.
        """
        if len(self._outer) >= 8:
            raise Damaged("block apertures nested more than 8 deep; export the file again")
        self._outer.append((number, self._items))
        self._items = []

    def close_block(self) -> None:
        """End of a block aperture."""
        if self._outer:
            number, outer = self._outer.pop()
            self.blocks[number] = self._items
            self._items = outer

    def open_repeat(self, steps: Sequence[Point]) -> None:
        """Start of repeated objects.

        Parameters
        ----------
        steps : sequence of tuple
            Offsets, the first one zero. [mm]
        """
        self.close_repeat()
        self._repeat = _Repeat(steps, len(self._items))

    def close_repeat(self) -> None:
        """End of repeated objects: draw the copies."""
        if self._repeat is None:
            return
        once = self._items[self._repeat.start :]
        for dx, dy in self._repeat.steps[1:]:
            for item in once:
                self._add(_moved(item, lambda p, dx=dx, dy=dy: (p[0] + dx, p[1] + dy), (1, 0, 0, 1, dx, dy)))
        self._repeat = None

    def finish(self, remarks: Sequence[str], damage: str, negative: bool = False) -> Picture:
        """Everything drawn, with outlines.

        Parameters
        ----------
        remarks : sequence of str
            What was passed over.
        damage : str
            Why the file may not be whole.
        negative : bool
            Whether it says that it shows what is left away.

        Returns
        -------
        Picture
            The image.
        """
        self.close_repeat()
        if self._area:
            damage = damage or "an area is never closed"
        while self._outer:
            damage = damage or "a block aperture is never closed"
            self.close_block()
        shapes = np.empty(len(self._items), dtype=object)
        groups: dict[int, list[int]] = {}
        for number, item in enumerate(self._items):
            if item.shape is None:
                groups.setdefault(len(item.path), []).append(number)
            else:
                shapes[number] = item.shape
        for numbers in groups.values():
            lines = shapely.linestrings(np.array([self._items[n].path for n in numbers], dtype=float))
            widths = np.array([self._items[n].drawn.width_mm for n in numbers])
            made = shapely.buffer(lines, widths / 2, quad_segs=QUARTER)
            shapes[numbers] = np.where(widths > 0, made, lines)
        return Picture(
            tuple(item.drawn for item in self._items),
            shapes,
            tuple(np.array(item.path, dtype=float).reshape(-1, 2) for item in self._items),
            dict(self.attributes),
            tuple(remarks),
            damage,
            negative,
        )

    def _stroke(self, path: list[Point]) -> None:
        """A line or an arc with the present aperture."""
        tool = self._tool()
        if tool.round_mm is not None:
            self._add(_Item(self._object("stroke", path[0], tool.round_mm * self.grow), path))
            return
        self._points += 10 * len(path)  # each step of another shape than a circle costs a hull
        shape = self._placed(tool.shape)
        parts = [
            shapely.union(affinity.translate(shape, *a), affinity.translate(shape, *b)).convex_hull
            for a, b in itertools.pairwise(path)
        ]
        low_x, low_y, high_x, high_y = shape.bounds if not shape.is_empty else (0.0, 0.0, 0.0, 0.0)
        width = min(high_x - low_x, high_y - low_y)
        self._add(_Item(self._object("stroke", path[0], width), path, shapely.union_all(parts)))

    def _flash(self, at: Point) -> None:
        """The present aperture, or block, once."""
        if self.block is not None:
            a, b, d, e = self._matrix()
            for item in list(self.block):
                made = _moved(
                    item, lambda p: (a * p[0] + b * p[1] + at[0], d * p[0] + e * p[1] + at[1]), (a, b, d, e, *at)
                )
                made.drawn = replace(
                    made.drawn, dark=made.drawn.dark == self.dark, width_mm=made.drawn.width_mm * self.grow
                )
                self._add(made)
            return
        shape = self._placed(self._tool().shape)
        self._add(_Item(self._object("flash", at, 0.0), [at], affinity.translate(shape, *at)))

    def _end_contour(self) -> None:
        """Close one outline of an area."""
        assert self._area is not None
        path = self._area
        self._area = []
        if len(path) >= 3:
            self._crossed += crossings_likely(path)
            if self._crossed > _MOST_CROSSINGS:
                raise Damaged(
                    "areas whose outlines cross themselves over and over; simple outlines are read; export again"
                )
            self._add(_Item(self._object("area", path[0], 0.0), path, filled(path)))

    def _add(self, item: _Item) -> None:
        """Keep an object, as long as there are not far too many."""
        self._made += 1
        self._points += len(item.path)
        if self._made > MOST_OBJECTS or self._points > _MOST_POINTS:
            raise Damaged(f"it draws more than {MOST_OBJECTS} objects or {_MOST_POINTS} points; export one board alone")
        self._items.append(item)

    def _object(self, kind: Any, at: Point, width: float) -> Drawn:
        """An object with what is said of it."""
        pin = self.says.get(".P", "").split(",")
        return Drawn(
            kind,
            *at,
            dark=self.dark,
            width_mm=width,
            net=self.says.get(".N", "").split(",")[0],
            pin=(pin[0], pin[1]) if len(pin) > 1 else None,
            pin_function=pin[2] if len(pin) > 2 else "",
            purpose=self.aperture.purpose if self.aperture is not None and kind != "area" else "",
        )

    def _tool(self) -> Aperture:
        """The present aperture."""
        if self.aperture is None:
            raise Damaged("it draws before any aperture is taken; one is wanted first; export the file again")
        return self.aperture

    def _matrix(self) -> tuple[float, float, float, float]:
        """Mirror, then turn and grow."""
        turn = math.radians(self.turn_deg)
        sx, sy = (-1.0 if self.mirror[0] else 1.0), (-1.0 if self.mirror[1] else 1.0)
        c, s = math.cos(turn) * self.grow, math.sin(turn) * self.grow
        return c * sx, -s * sy, s * sx, c * sy

    def _placed(self, shape: Any) -> Any:
        """An aperture as mirrored, turned and grown."""
        if self.mirror == (False, False) and not self.turn_deg and self.grow == 1.0:
            return shape
        return affinity.affine_transform(shape, (*self._matrix(), 0.0, 0.0))

    def _line(self, to: Point, i: float, j: float) -> list[Point]:
        """From here to there, arcs as short lines."""
        here = (self.x, self.y)
        if self.bend == 1:
            return [here, to]
        centre = self._centre(to, i, j)
        return arc_points(here, to, centre, clockwise=self.bend == 2, full=not self.one_quadrant)

    def _centre(self, to: Point, i: float, j: float) -> Point:
        """Centre of an arc; within one quadrant the signs of i and j are not given."""
        if not self.one_quadrant:
            return self.x + i, self.y + j
        best: tuple[float, Point] | None = None
        for sx in (1, -1):
            for sy in (1, -1):
                centre = self.x + sx * abs(i), self.y + sy * abs(j)
                off = abs(math.dist(centre, (self.x, self.y)) - math.dist(centre, to))
                if sweep_of((self.x, self.y), to, centre, self.bend == 2) <= math.pi / 2 + 1e-3 and (
                    best is None or off < best[0] - 1e-9
                ):
                    best = off, centre
        return best[1] if best else (self.x + i, self.y + j)


def _moved(item: _Item, move: Any, matrix: tuple[float, float, float, float, float, float]) -> _Item:
    """A copy of an object somewhere else."""
    path = [move(p) for p in item.path]
    x, y = move((item.drawn.x_mm, item.drawn.y_mm))
    shape = None if item.shape is None else affinity.affine_transform(item.shape, matrix)
    return _Item(replace(item.drawn, x_mm=x, y_mm=y), path, shape)
