"""The rescue of a mirrored board: which parts, fitted from the other side or turned, make it electrically right."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scanloom.basis.record import record
from scanloom.stages.board.graph import PinGraph
from scanloom.stages.board.model import PinName

Way = Literal[
    "as planned", "turned a quarter", "turned half round", "turned three quarters", "from the other side", "none"
]
_TURNS: tuple[tuple[Way, int], ...] = (
    ("as planned", 0), ("turned half round", 2), ("turned a quarter", 1), ("turned three quarters", 3),
)  # fmt: skip
_NEAR_MM = 0.25
_EITHER_WAY = ("R", "L", "F", "C", "SW", "JP")


@record
class Fitting:
    """How one part goes onto a mirrored board.

    Parameters
    ----------
    part : str
        The part.
    way : Way
        How it is fitted; none where no way makes it right.
    proof : tuple of tuple of str
        Each pin and the pin whose pad it then meets.
    remark : str
        What to mind.
    """

    part: str
    way: Way
    proof: tuple[tuple[str, str], ...]
    remark: str = ""


def rescue(graph: PinGraph) -> tuple[Fitting, ...]:
    """Find for every part of a board that came out as its mirror image how it may still be fitted.

    Parameters
    ----------
    graph : PinGraph
        Nets and places as they were meant.

    Returns
    -------
    tuple of Fitting
        One for each part with pins, in order of their names; each proved pin by pin against the nets.

    Notes
    -----
    The mirror image of a part's own pads is what the board offers it. Turned about the board's face, a part keeps its
    handedness; from the other side it is mirrored itself, and then meets its own pads. A surface part cannot change
    sides, since there is no copper; laid on its back it could, which is told and not counted.
    """
    made = []
    for part in sorted(graph.parts, key=_natural):
        pins = [pin for pin in graph.parts[part] if graph.places.get(pin)]
        if pins:
            made.append(_fit(graph, part, pins))
    return tuple(made)


def _fit(graph: PinGraph, part: str, pins: Sequence[PinName]) -> Fitting:
    """The first way that is right."""
    places = np.array([(graph.places[p][0].x_mm, graph.places[p][0].y_mm) for p in pins])
    places = places - (places.min(axis=0) + places.max(axis=0)) / 2
    pads = places * np.array([-1.0, 1.0])
    for way, turns in _TURNS:
        turned = _turned(places, turns)
        met = _met(turned, pads)
        if met is not None and _right(graph, part, pins, met):
            remark = "" if way == "as planned" else "turn the part on the copper as drawn"
            if any(p[1] != pins[m][1] for p, m in zip(pins, met, strict=True)):
                remark = "its pins change places, which does no harm here"
            return Fitting(part, way, _proof(pins, met), remark)
    through = all(place.hole_mm > 0 for pin in pins for place in graph.places[pin])
    if through:
        met = list(range(len(pins)))
        remark = "solder on the side of its body"
        if part.upper().startswith("J"):
            remark += "; a socket's rows then lie the other way round, so try the plug first"
        return Fitting(part, "from the other side", _proof(pins, met), remark)
    return Fitting(part, "none", (), "its pads lie on one side alone; on its back with bent legs is the last resort")


def _turned(places: NDArray[np.float64], quarters: int) -> NDArray[np.float64]:
    """Places turned by quarters, counter-clockwise."""
    made = places
    for _ in range(quarters):
        made = np.stack([-made[:, 1], made[:, 0]], axis=1)
    return np.asarray(made - (made.min(axis=0) + made.max(axis=0)) / 2)


def _met(pins: NDArray[np.float64], pads: NDArray[np.float64]) -> list[int] | None:
    """Pad that each pin meets; None when one meets none, or two meet one."""
    far = np.hypot(pins[:, None, 0] - pads[None, :, 0], pins[:, None, 1] - pads[None, :, 1])
    best = far.argmin(axis=1)
    if (far[np.arange(len(pins)), best] > _NEAR_MM).any() or len(set(best.tolist())) < len(pins):
        return None
    return [int(one) for one in best]


def _right(graph: PinGraph, part: str, pins: Sequence[PinName], met: Sequence[int]) -> bool:
    """Whether every pin meets a pad of its own net, or the part does not mind."""
    same = all(graph.nets[pin] == graph.nets[pins[m]] for pin, m in zip(pins, met, strict=True))
    value = graph.value(part)
    polar = value is not None and value.unit_name == "F" and value.amount > 2e-6  # may be an electrolytic one
    either = len(pins) == 2 and not polar and any(
        part.upper().startswith(mark) and part[len(mark) :].isdigit() for mark in _EITHER_WAY
    )  # fmt: skip
    return same or either


def _proof(pins: Sequence[PinName], met: Sequence[int]) -> tuple[tuple[str, str], ...]:
    """Pins beside the pads that they meet."""
    return tuple((pin[1], pins[m][1]) for pin, m in zip(pins, met, strict=True))


def _natural(name: str) -> tuple[str, int]:
    """R2 before R10."""
    letters = name.rstrip("0123456789")
    digits = name[len(letters) :]
    return letters, int(digits) if digits and len(digits) < 9 else 0
