"""Tool paths of a mill: words G0 to G3 after ISO 6983, and the plain drilling cycles."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from scanloom.formats.board_files.arcs import arc_points
from scanloom.formats.board_files.damage import Damaged

MOST_MOVES = 400_000
"""Moves of one file. [1]"""
_WORD = re.compile(r"([A-Z])\s*([+-]?(?:\d+\.?\d*|\.\d+))")
_COMMENT = re.compile(r"\([^)\n]*\)?|;.*")
_CYCLES = (81, 82, 83)


def read_tool_path(
    text: str,
) -> tuple[tuple[NDArray[np.float64], ...], NDArray[np.float64], tuple[str, ...], str]:
    """Cuts and drilled places of a tool path.

    Parameters
    ----------
    text : str
        The file.

    Returns
    -------
    tuple
        Runs in the material, shape (points, 3); places drilled, shape (holes, 2); remarks; why it may not be whole. [mm]

    Raises
    ------
    Damaged
        If it is no tool path, or longer than any board needs.

    References
    ----------
    [iso6983] ISO 6983-1:2009, preparatory functions G00 to G03; drilling cycles from memory.
    """
    mill = _Mill()
    for number, line in enumerate(text.split("\n"), 1):
        if mill.ended:
            break
        words = _WORD.findall(_COMMENT.sub(" ", line).upper())
        if words:
            mill.block(words, number)
    return mill.finish()


class _Mill:
    """Where the tool is; material lies below zero."""

    def __init__(self) -> None:
        """At the origin, lifted, in millimetres, absolute."""
        self.at = np.zeros(3)
        self.scale = 1.0
        self.absolute = True
        self.mode = 0
        self.cycle = 0
        self.cycle_z = 0.0
        self.ended = False
        self.told = False
        self.moves = 0
        self.run: list[tuple[float, float, float]] = []
        self.cuts: list[NDArray[np.float64]] = []
        self.plunges: list[tuple[float, float]] = []
        self.remarks: dict[str, None] = {}

    def block(self, words: list[tuple[str, str]], line: int) -> None:
        """One line."""
        values: dict[str, float] = {}
        for letter, text in words:
            value = float(text)
            if abs(value) > 1e6:
                raise Damaged(f"line {line}: {letter}{text[:20]}; at most a million is allowed; check the file")
            if letter == "G":
                self._code(round(value * 10))
            elif letter == "M" and round(value) in (2, 30):
                self.ended = True
            elif letter in "XYZIJR":
                values[letter] = value * self.scale
        if values:
            self._go(values, line)

    def _code(self, tenths: int) -> None:
        """A preparatory function, in tenths."""
        code = tenths // 10
        if tenths % 10:
            return
        if code in (0, 1, 2, 3):
            self.mode, self.cycle, self.told = code, 0, True
        elif code in _CYCLES:
            self.cycle = code
        elif code == 80:
            self.cycle = 0
        elif code in (20, 21):
            self.scale = 25.4 if code == 20 else 1.0
        elif code in (90, 91):
            self.absolute = code == 90
        elif code in (50, 51, 68, 92):
            self.remarks[f"passed over G{code}, which mirrors, turns or moves what follows"] = None

    def _go(self, values: dict[str, float], line: int) -> None:
        """A move."""
        self.moves += 1
        if self.moves > MOST_MOVES:
            raise Damaged(f"more than {MOST_MOVES} moves; mill one board alone")
        if self.cycle:
            to = self._target({k: v for k, v in values.items() if k != "Z"})
            self._lift()
            self.cycle_z = values.get("Z", self.cycle_z)
            self.at = to
            if self.cycle_z < 0:
                self.plunges.append((float(to[0]), float(to[1])))
            return
        to = self._target(values)
        path = self._path(to, values, line)
        below = self.at[2] < 0 or to[2] < 0
        if below and self.mode == 0 and to[2] < 0 and (to[:2] != self.at[:2]).any():
            self.remarks["it hurries sideways (G0) inside the material"] = None
        if below:
            if not self.run:
                self.run.append((float(self.at[0]), float(self.at[1]), float(self.at[2])))
            self.run.extend(path[1:])
        if to[2] >= 0:
            self._lift()
        self.at = to

    def _target(self, values: dict[str, float]) -> NDArray[np.float64]:
        """Where a move ends."""
        given = np.array([values.get(axis, np.nan) for axis in "XYZ"])
        if not self.absolute:
            return np.asarray(self.at + np.nan_to_num(given))
        return np.where(np.isnan(given), self.at, given)

    def _path(self, to: NDArray[np.float64], values: dict[str, float], line: int) -> list[tuple[float, float, float]]:
        """Points from here to there."""
        here = self.at
        ends = [(float(here[0]), float(here[1]), float(here[2])), (float(to[0]), float(to[1]), float(to[2]))]
        if self.mode in (0, 1):
            return ends
        start, end = (ends[0][0], ends[0][1]), (ends[1][0], ends[1][1])
        if "R" in values:
            centre = _centre_by_radius(start, end, values["R"], self.mode == 2, line)
        elif "I" in values or "J" in values:
            centre = start[0] + values.get("I", 0.0), start[1] + values.get("J", 0.0)
        else:
            raise Damaged(f"line {line}: an arc without centre or radius; I and J, or R, are wanted; export again")
        flat = arc_points(start, end, centre, clockwise=self.mode == 2)
        depths = np.linspace(here[2], to[2], len(flat))
        return [(x, y, float(z)) for (x, y), z in zip(flat, depths, strict=True)]

    def _lift(self) -> None:
        """The tool leaves the material: what it did there was a hole or a cut."""
        if not self.run:
            return
        made = np.array(self.run)
        self.run = []
        if np.ptp(made[:, 0]) < 1e-6 and np.ptp(made[:, 1]) < 1e-6:
            self.plunges.append((float(made[0, 0]), float(made[0, 1])))
        else:
            self.cuts.append(made)

    def finish(
        self,
    ) -> tuple[tuple[NDArray[np.float64], ...], NDArray[np.float64], tuple[str, ...], str]:
        """What was cut."""
        self._lift()
        if not self.moves or not self.told:
            raise Damaged(
                "no move of a tool is found; words G0 to G3 with X, Y and Z are wanted; check what was exported"
            )
        damage = "" if self.ended else "it ends without M2 or M30, so the rest may be missing"
        return tuple(self.cuts), np.array(self.plunges, dtype=float).reshape(-1, 2), tuple(self.remarks), damage


def _centre_by_radius(
    start: tuple[float, float], end: tuple[float, float], radius: float, clockwise: bool, line: int
) -> tuple[float, float]:
    """Centre of an arc given by its radius; a negative one takes the long way."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    chord = float(np.hypot(dx, dy))
    if chord < 1e-9 or abs(radius) < chord / 2 - 1e-3:
        raise Damaged(
            f"line {line}: radius {radius:g} mm over a chord of {chord:g} mm; half the chord is the least; export again"
        )
    rise = max(0.0, radius * radius - chord * chord / 4) ** 0.5
    side = -1.0 if clockwise == (radius > 0) else 1.0
    return (start[0] + end[0]) / 2 - side * dy / chord * rise, (start[1] + end[1]) / 2 + side * dx / chord * rise
