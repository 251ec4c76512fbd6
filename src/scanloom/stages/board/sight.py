"""What all checks of the board look through: the files, the dossier, and sums that more than one of them needs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scanloom.basis.fact import Fact, Known
from scanloom.basis.span import Span
from scanloom.basis.verdict import Judged, Place, Settle, Verdict, Weight
from scanloom.dossier.reading import Reading
from scanloom.stages.board.copper import Copper, join_copper
from scanloom.stages.board.graph import CUT, PinGraph, pin_graph
from scanloom.stages.board.model import BoardFiles, FileRole, Hole, Layer, Netlist, Role, Side
from scanloom.stages.board.pieces import TooDense

Limit = Known[Any] | None


class Sight:
    """A board seen through its files.

    Parameters
    ----------
    reading : Reading
        Of no rig: the board is shared by all.
    files : BoardFiles
        What was read from the folder.
    verdicts : iterable of Verdict
        Verdicts made already.
    """

    def __init__(self, reading: Reading, files: BoardFiles, verdicts: Iterable[Verdict] = ()) -> None:
        self.reading = reading
        self.files = files
        self.verdicts: list[Verdict] = list(verdicts)

    def verdict(
        self,
        code: str,
        subject: str,
        weight: Weight,
        says: str | Mapping[Judged, str],
        *,
        state: Judged,
        used: Iterable[FileRole | None] = (),
        read: Reading | None = None,
        seen: str = "",
        wanted: str = "",
        doubt: str = "",
        place: Place | None = None,
        found: Span | None = None,
        unit: str = "",
        low: float | None = None,
        high: float | None = None,
        target: float | None = None,
        limit: Limit = None,
    ) -> Verdict:
        """Make a verdict, keep it, and have it rest on the files it was read from.

        Parameters
        ----------
        code : str
            Slug ``board.what``.
        subject : str
            Line of the dossier that it protects, or ``board``.
        weight : Weight
            What it means if it does not hold.
        says : str or Mapping
            The sentence, or one for each state.
        state : Judged
            How it came out.
        used : iterable of FileRole
            Files it was read from.
        read : Reading or None
            What was read of the dossier.
        seen : str
            What was read.
        wanted : str
            What was expected.
        doubt : str
            Why it could be a false alarm, or what would settle it.
        place : Place or None
            Where on the board.
        found : Span or None
            A number found. [unit]
        unit : str
            Its unit.
        low : float or None
            Lowest value allowed. [unit]
        high : float or None
            Highest value allowed. [unit]
        target : float or None
            Value aimed at. [unit]
        limit : Known or None
            Handbook row that the limit is from.

        Returns
        -------
        Verdict
            The verdict, kept already.
        """
        own = (read or self.reading).fork()
        for role in used:
            if role is not None:
                own(Known(None, (file_fact(role),)))
        tail = f" Read: {seen}." if seen and not wanted else f" Read: {seen}; expected: {wanted}." if seen else ""
        made = own.verdict(
            code,
            subject,
            weight,
            (says if isinstance(says, str) else says[state]) + tail,
            state=state,
            found=found,
            unit=unit,
            low=low,
            high=high,
            target=target,
            limit=limit,
            settle=Settle(doubt) if doubt else None,
        )
        made = replace(made, place=place, subject=self._own_subject(code, subject))
        self.verdicts.append(made)
        return made

    def _own_subject(self, code: str, subject: str) -> str:
        """The subject, numbered where one check speaks of it more than once."""
        count = sum(v.code == code and v.subject.partition("#")[0] == subject for v in self.verdicts)
        return f"{subject}#{count + 1}" if count else subject

    @property
    def has_dossier(self) -> bool:
        """Whether there is anything to hold the files against."""
        dossier = self.reading.plan.dossier
        return dossier.board is not None or dossier.chip is not None

    @cached_property
    def graph(self) -> PinGraph:
        """Nets and pins of all sources."""
        made = pin_graph(self.files)
        board = self.reading.plan.dossier.board
        stated = {
            (part, pad): name
            for full, one in (board.parts if board else {}).items()
            for part in {full, full[:CUT]}
            for pad, name in one.pins.items()
        }
        return replace(made, functions={**made.functions, **stated}) if stated else made

    @cached_property
    def copper(self) -> Copper | None:
        """Copper joined to nets; None without a copper layer, or where it is one dense mess."""
        try:
            return join_copper(self.files)
        except TooDense:
            return None

    @cached_property
    def netlist(self) -> Netlist | None:
        """The netlist, if there is one."""
        return self.files.netlists[0] if self.files.netlists else None

    @cached_property
    def plated(self) -> tuple[Hole, ...]:
        """Holes that are plated, or of which nobody says."""
        return tuple(hole for hole in self.files.holes if hole.plated is not False)

    @property
    def drill_roles(self) -> tuple[FileRole, ...]:
        """The drill files."""
        return tuple(drill.role for drill in self.files.drills)

    def layer(self, role: Role, side: Side = "") -> Layer | None:
        """One image layer.

        Parameters
        ----------
        role : Role
            Its kind.
        side : Side
            Its side, empty for any.

        Returns
        -------
        Layer or None
            The first of that kind.
        """
        return next(iter(self.files.of(role, side)), None)

    @cached_property
    def outline(self) -> Layer | None:
        """The outline; of several claims the one that goes around most pads."""
        claims = [layer for layer in self.files.of("outline") if layer.paths]
        if len(claims) < 2:
            return claims[0] if claims else None
        pads = np.concatenate([*(flash_places(layer) for layer in self.files.of("copper")), np.zeros((0, 2))])

        def around(layer: Layer) -> tuple[int, float]:
            points = np.concatenate(layer.paths)
            low, high = points.min(axis=0), points.max(axis=0)
            inside = ((pads >= low) & (pads <= high)).all(axis=1)
            return int(inside.sum()), -float(np.prod(high - low))

        return max(claims, key=around)

    @cached_property
    def outline_box(self) -> tuple[float, float, float, float] | None:
        """Left, bottom, right and top of the board; None without an outline. [mm]."""
        layer = self.outline
        if layer is None or not layer.paths:
            return None
        points = np.concatenate(layer.paths)
        low, high = points.min(axis=0), points.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    @cached_property
    def centre(self) -> tuple[float, float]:
        """Middle of the board, or of all copper. [mm]."""
        box = self.outline_box
        if box is not None:
            return (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
        places = [flash_places(layer) for layer in self.files.of("copper")]
        points = np.concatenate(places) if places else np.zeros((0, 2))
        if not len(points):
            return 0.0, 0.0
        middle = (points.min(axis=0) + points.max(axis=0)) / 2
        return float(middle[0]), float(middle[1])


def file_fact(role: FileRole) -> Fact:
    """The fact that a file is as it is; an acceptance goes stale when it changes.

    Parameters
    ----------
    role : FileRole
        The file.

    Returns
    -------
    Fact
        Said by whoever exported it.
    """
    return Fact(f"files.{role.file}", f"{role.role} {role.side}".strip() + f", sha256 {role.sha256[:16]}", "said")


def flash_places(layer: Layer) -> NDArray[np.float64]:
    """Where a layer is flashed.

    Parameters
    ----------
    layer : Layer
        An image layer.

    Returns
    -------
    ndarray of float, shape (flashes, 2)
        Places of dark flashes. [mm]
    """
    return np.array([(o.x_mm, o.y_mm) for o in layer.drawn if o.kind == "flash" and o.dark], dtype=float).reshape(-1, 2)


def at_mm(x_mm: float, y_mm: float) -> str:
    """A place in words.

    Parameters
    ----------
    x_mm : float
        Along the board. [mm]
    y_mm : float
        Across the board. [mm]

    Returns
    -------
    str
        Such as ``12.3, 4.5 mm``.
    """
    return f"{x_mm:.2f}, {y_mm:.2f} mm"
