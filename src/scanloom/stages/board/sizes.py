"""Sizes that must fit one another: holes and pins, openings and pads; and an outline that closes."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from scanloom.basis.verdict import Place
from scanloom.stages.board.model import Hole, Layer, NetPoint
from scanloom.stages.board.sides import Lying
from scanloom.stages.board.sight import Sight, at_mm, flash_places

TIGHT_MM = 0.11
"""A hole narrower than the netlist's by more than this is another tool; plating takes about 0.1 mm: common practice, no source. [mm]"""
OPEN_SHARE = 0.5
"""Least part of a pad that the mask leaves open: common practice, no source. [1]"""
_END_MM = 0.05
_MOST_TOLD = 4
_MOST_PADS = 30_000


def judge_sizes(sight: Sight, lying: Lying) -> None:
    """Judge whether holes take their pins, the mask leaves pads open, and the outline closes.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.
    lying : Lying
        Which way round files lie; a file that lies wrong has its own verdict.
    """
    roles = [*(layer.role for layer in sight.files.of("copper")), *sight.drill_roles]
    netlist = sight.netlist
    right = all(lying.is_as_it_is(role) for role in roles)
    if netlist is not None and right and lying.is_as_it_is(netlist.role):
        _holes(sight, [p for p in netlist.points if p.hole_mm > 0])
    if right:
        _half_open(sight, lying)
    _closes(sight)


def _holes(sight: Sight, points: list[NetPoint]) -> None:
    """Drilled diameters against those of the netlist: the lines of one tool fail together."""
    holes = [
        h for h in sight.files.holes if h.diameter_mm and (h.x_mm, h.y_mm) == (h.x2_mm, h.y2_mm)
    ]  # a slot has two sizes
    netlist = sight.netlist
    if not holes or not points or netlist is None:
        return
    point, hole = shapely.STRtree(shapely.points([(h.x_mm, h.y_mm) for h in holes])).query(
        shapely.points([(p.x_mm, p.y_mm) for p in points]), predicate="dwithin", distance=0.1
    )
    drilled: dict[int, Hole] = {}
    for p, h in zip(point.tolist(), hole.tolist(), strict=True):
        if p not in drilled or (holes[h].diameter_mm or 0) > (drilled[p].diameter_mm or 0):
            drilled[p] = holes[h]
    tight: dict[tuple[float, float], list[NetPoint]] = {}
    for p, found in drilled.items():
        size = found.diameter_mm or 0.0
        if points[p].hole_mm - size > TIGHT_MM and not points[p].is_via:
            tight.setdefault((round(size, 3), round(points[p].hole_mm, 3)), []).append(points[p])
    used = (*sight.drill_roles, netlist.role)
    for (size, wanted), some in sorted(tight.items(), key=lambda pair: -len(pair[1]))[:_MOST_TOLD]:
        first = some[0]
        name = f"{first.part}-{first.pin_name}".strip("-")
        others = f" and of {len(some) - 1} more pins" if len(some) > 1 else ""
        sight.verdict(
            "board.hole-size", "board.files", "stop", f"The hole of {name}{others} is too narrow for the pin.", state="fails",
            used=used, seen=f"drilled {size:.2f} mm at {at_mm(first.x_mm, first.y_mm)}",
            wanted=f"{wanted:.2f} mm, as the netlist says", place=Place(_drill_at(sight, first), "drill", first.x_mm, first.y_mm, name),
            doubt="A netlist of an older part list looks so, too: hold the part's drawing against the tool table.",
        )  # fmt: skip
    if not tight and drilled:
        sight.verdict(
            "board.hole-size", "board.files", "stop", "No hole is narrower than the netlist says.", state="holds", used=used,
            seen=f"{len(drilled)} holes", wanted="the diameter of the netlist",
        )  # fmt: skip


def _drill_at(sight: Sight, point: NetPoint) -> str:
    """The drill file that has the hole of a point."""
    near = [
        drill.role.file for drill in sight.files.drills for h in drill.holes
        if abs(h.x_mm - point.x_mm) <= 0.1 and abs(h.y_mm - point.y_mm) <= 0.1
    ]  # fmt: skip
    return near[0] if near else sight.drill_roles[0].file


def _half_open(sight: Sight, lying: Lying) -> None:
    """Pads that have an opening, and most of them still lies under the mask."""
    shut: dict[str, tuple[float, float, float, Layer]] = {}
    clear: set[str] = set()
    judged: list[Any] = []
    for side in ("top", "bottom"):
        mask, copper = sight.layer("mask", side), sight.layer("copper", side)
        if mask is None or copper is None or not lying.is_as_it_is(mask.role):
            continue
        pads = [
            (f"{o.pin[0]}-{o.pin[1]}", o.x_mm, o.y_mm, s) for o, s in zip(copper.drawn, copper.shapes, strict=True)
            if o.kind == "flash" and o.dark and o.pin is not None and s.area > 0
        ]  # fmt: skip
        openings = [s for s, o in zip(mask.shapes, mask.drawn, strict=True) if o.dark and s.area > 0]
        if not pads or not openings or len(pads) > _MOST_PADS:
            continue
        judged += [mask.role, copper.role]
        pad, opening = shapely.STRtree(openings).query([one[3] for one in pads], predicate="intersects")
        over: dict[int, list[Any]] = {}
        for p, o in zip(pad.tolist(), opening.tolist(), strict=True):
            over.setdefault(p, []).append(openings[o])
        for p, some in over.items():
            name, x, y, shape = pads[p]
            share = shapely.intersection(shape, shapely.union_all(some)).area / shape.area
            if share >= OPEN_SHARE:
                clear.add(f"{name}@{x:.2f},{y:.2f}")
            elif some[0].distance(shapely.Point(x, y)) < 0.02:  # one that only grazes it is told by mask-covers
                shut.setdefault(f"{name}@{x:.2f},{y:.2f}", (share, x, y, mask))
    left = {key: one for key, one in shut.items() if key not in clear}  # a hole needs an opening on one side alone
    for key, (share, x, y, mask) in list(left.items())[: 1 if len(left) > _MOST_TOLD else None]:
        name = key.split("@")[0]
        sight.verdict(
            "board.mask-opening", f"board.files.{mask.role.side} mask", "caution",
            f"The opening in the mask over {name} is smaller than its pad"
            + (f", and so are {len(left) - 1} more." if len(left) > _MOST_TOLD else "."),
            state="fails", used=judged, seen=f"{share:.0%} of the pad is open at {at_mm(x, y)}",
            wanted=f"at least {OPEN_SHARE:.0%} (common practice, no source)",
            place=Place(mask.role.file, f"{mask.role.side} mask", x, y, name),
            doubt="Large pads for cooling may have small windows on purpose.",
        )  # fmt: skip
    if not left and judged:
        sight.verdict(
            "board.mask-opening", "board.files", "caution", "No opening in the mask is much smaller than its pad.", state="holds",
            used=judged, seen=f"{len(clear)} pads", wanted=f"at least {OPEN_SHARE:.0%} open",
        )  # fmt: skip


def _closes(sight: Sight) -> None:
    """Whether the lines of the outline close around the pads."""
    outline = sight.outline
    if outline is None:
        return
    edges = sight.files.of("outline")  # cut-outs, or a part of the edge, may be in a file of their own
    lines = [shapely.LineString(path) for layer in edges for path in layer.paths if len(path) > 1]
    lines = [line for line in lines if line.length > 0]
    pads = np.concatenate([*(flash_places(layer) for layer in sight.files.of("copper")), np.zeros((0, 2))])
    if not lines or not len(pads) or len(lines) > _MOST_PADS:
        return
    snapped = shapely.set_precision(shapely.union_all(lines), _END_MM)
    fields = list(shapely.get_parts(shapely.polygonize(shapely.get_parts(shapely.node(snapped)))))
    inside = np.zeros(len(pads), dtype=bool)
    for one in fields:
        inside |= shapely.contains_xy(shapely.Polygon(one.exterior).buffer(_END_MM), pads[:, 0], pads[:, 1])
    if not inside.any():
        ends = _loose_ends(lines)
        x, y = ends[0] if ends else (float(lines[0].coords[0][0]), float(lines[0].coords[0][1]))
        sight.verdict(
            "board.outline-open", "board.files", "stop", "The outline does not close around the board.", state="fails",
            used=(outline.role,), seen=f"a loose end at {at_mm(x, y)}" + (f", {len(ends)} in all" if len(ends) > 1 else ""),
            wanted="one closed line around all pads", place=Place(outline.role.file, "outline", x, y),
            doubt="Makers refuse such a file, or guess; a part of the edge may be drawn in another file.",
        )  # fmt: skip
        return
    sight.verdict(
        "board.outline-open", "board.files", "stop", "The outline closes around the board.", state="holds", used=(outline.role,),
        seen=f"{len(lines)} lines", wanted="one closed line",
    )  # fmt: skip


def _loose_ends(lines: list[Any]) -> list[tuple[float, float]]:
    """Ends of lines at which no other line goes on."""
    ends = [
        (float(c[0]), float(c[1]), number)
        for number, line in enumerate(lines) for c in (line.coords[0], line.coords[-1]) if not line.is_closed
    ]  # fmt: skip
    if not ends:
        return []
    end, line = shapely.STRtree(lines).query(
        shapely.points([one[:2] for one in ends]), predicate="dwithin", distance=_END_MM
    )
    met = {e for e, n in zip(end.tolist(), line.tolist(), strict=True) if n != ends[e][2]}
    return [one[:2] for number, one in enumerate(ends) if number not in met]
