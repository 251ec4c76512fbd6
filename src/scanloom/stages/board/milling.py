"""Tool paths of a mill against copper and holes: mirrored as often as the copper side wants, and all alike."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from scanloom.basis.record import record
from scanloom.basis.verdict import Place
from scanloom.stages.board.copper import Copper
from scanloom.stages.board.model import Side, ToolPath
from scanloom.stages.board.register import MAPS, MapName, register
from scanloom.stages.board.sides import Lying
from scanloom.stages.board.sight import Sight, at_mm

PathKind = Literal["isolation", "drilling", "outline"]
MirrorState = Literal["good", "flipped", "flipped twice", "unknown"]
_SHALLOW_MM = 0.6
_NEAR_MM = 0.6  # an isolating path runs this near to copper
_LEAD, _LEAST = 0.1, 0.8


@record
class Milled:
    """What a tool path cuts, and how it lies.

    Parameters
    ----------
    file : str
        The file.
    kind : PathKind
        isolation, drilling or outline.
    map_name : MapName or None
        Map from the board, seen from the component side, to the machine; None when nothing tells.
    shift_mm : tuple of float
        Shift after the map. [mm]
    mirror_state : MirrorState
        Whether the copper comes out right: good, flipped, flipped twice.
    side : Side
        Copper side that is cut.
    """

    file: str
    kind: PathKind
    map_name: MapName | None
    shift_mm: tuple[float, float]
    mirror_state: MirrorState
    side: Side


def judge_milling(sight: Sight, lying: Lying) -> tuple[Milled, ...]:
    """Judge every tool path.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.
    lying : Lying
        Which way round the image files lie.

    Returns
    -------
    tuple of Milled
        What was found.
    """
    paths = sight.files.tool_paths
    if not paths:
        return ()
    side = _copper_side(sight)
    made = [_milled(sight, lying, path, side) for path in paths]
    for one in made:
        if one.kind == "isolation":
            _tell_isolation(sight, lying, one)
    _tell_together(sight, made)
    return tuple(made)


def kind_of(path: ToolPath) -> PathKind:
    """What a tool path does.

    Parameters
    ----------
    path : ToolPath
        The path.

    Returns
    -------
    PathKind
        drilling with more holes than runs, outline when it cuts deep, else isolation.
    """
    if len(path.plunges) > len(path.runs):
        return "drilling"
    depth = min((float(run[:, 2].min()) for run in path.runs), default=0.0)
    return "outline" if depth < -_SHALLOW_MM else "isolation"


def _copper_side(sight: Sight) -> Side:
    """Side whose copper is milled: the one that there is; of two, the one that a path's name says."""
    sides = [layer.role.side for layer in sight.files.of("copper") if len(layer.drawn)]
    if len(sides) == 1:
        return sides[0]
    named: list[Side] = [path.role.side for path in sight.files.tool_paths if path.role.side]
    return named[0] if named else ""


def _milled(sight: Sight, lying: Lying, path: ToolPath, side: Side) -> Milled:
    """One path."""
    kind = kind_of(path)
    own = path.role.side or side
    if kind == "drilling":
        name, shift = _drilled(sight, path)
        return Milled(path.role.file, kind, name, shift, "unknown", own)
    if kind == "outline" or sight.copper is None:
        return Milled(path.role.file, kind, None, _box_middle(np.concatenate(path.runs)), "unknown", own)
    name, shift = _isolated(sight, sight.copper, path, own)  # against the image file, which may lie wrong itself
    layer = sight.layer("copper", own) if own else sight.layer("copper")
    gerber = lying.found.get(layer.role.file, ("as it is", (0.0, 0.0)))[0] if layer is not None else "as it is"
    state: MirrorState = "unknown"
    if name is not None and own in ("top", "bottom"):
        count = int(_mirrored(name)) + int(_mirrored(gerber))
        wanted = 1 if own == "bottom" else 0
        state = "good" if count % 2 == wanted else "flipped twice" if count == 2 else "flipped"
        if count == 1 and wanted == 0 and _mirrored(gerber) and _mirrored(name):
            state = "flipped twice"
    if name is not None and gerber != "as it is":
        signs = MAPS[name][0] * MAPS[gerber][0], MAPS[name][1] * MAPS[gerber][1]
        name = next(n for n, s in MAPS.items() if s == signs)
    return Milled(path.role.file, kind, name, shift, state, own)


def _drilled(sight: Sight, path: ToolPath) -> tuple[MapName | None, tuple[float, float]]:
    """Map and shift that lay holes on the drilled places."""
    holes = np.array([(h.x_mm, h.y_mm) for h in sight.files.holes], dtype=float).reshape(-1, 2)
    if not len(holes) and sight.netlist is not None:
        holes = np.array([(p.x_mm, p.y_mm) for p in sight.netlist.points if p.hole_mm], dtype=float).reshape(-1, 2)
    if len(holes) < 3 or len(path.plunges) < 3:
        return None, (0.0, 0.0)
    fits = register(path.plunges, holes, sight.centre)
    return (fits.best.map_name, fits.best.shift_mm) if fits.decided else (None, (0.0, 0.0))


def _isolated(sight: Sight, copper: Copper, path: ToolPath, side: Side) -> tuple[MapName | None, tuple[float, float]]:
    """Map and shift that lay copper between the runs: those stay outside of it and near to it."""
    pieces = _pieces(copper, side)
    if not len(pieces) or not path.runs:
        return None, (0.0, 0.0)
    points = _samples(path)
    tree = shapely.STRtree(pieces)
    low_x, low_y, high_x, high_y = shapely.total_bounds(pieces)
    middle = np.array([(low_x + high_x) / 2, (low_y + high_y) / 2])
    own = np.array(_box_middle(np.concatenate(path.runs)))
    scores: list[tuple[float, MapName, tuple[float, float]]] = []
    centre = np.array(sight.centre)
    for name, sign in MAPS.items():
        back = (points - own) * sign + middle  # maps are their own inverse
        spots = shapely.points(back)
        near, _ = tree.query(spots, predicate="dwithin", distance=_NEAR_MM)
        inside, _ = tree.query(spots, predicate="intersects")
        good = (len(np.unique(near)) - len(np.unique(inside))) / len(points)
        shift = own - ((middle - centre) * sign + centre)
        scores.append((good, name, (float(shift[0]), float(shift[1]))))
    scores.sort(key=lambda one: -one[0])
    sure = scores[0][0] >= _LEAST and scores[0][0] - scores[1][0] >= _LEAD
    return (scores[0][1], scores[0][2]) if sure else (None, (0.0, 0.0))


def _pieces(copper: Copper, side: Side) -> NDArray[np.object_]:
    """Copper of one side."""
    wanted = [number for number, role in enumerate(copper.roles) if side in ("", role.side)]
    return np.asarray(copper.pieces[np.isin(copper.layer_of, wanted)])


def _samples(path: ToolPath) -> NDArray[np.float64]:
    """Places along the runs, evenly taken."""
    lines = [shapely.LineString(run[:, :2]) for run in path.runs if len(run) > 1]
    lines = [line for line in lines if line.length > 0]
    total = sum(line.length for line in lines)
    step = max(total / 3000, 0.05)
    made: list[Any] = []
    for line in lines:
        count = max(2, min(3000, round(line.length / step)))
        made.append(
            shapely.get_coordinates(shapely.line_interpolate_point(line, np.arange(count) / count, normalized=True))
        )
    return np.concatenate(made) if made else np.zeros((0, 2))


def _box_middle(points: NDArray[np.float64]) -> tuple[float, float]:
    """Middle of the box around points."""
    middle = (points[:, :2].min(axis=0) + points[:, :2].max(axis=0)) / 2
    return float(middle[0]), float(middle[1])


def _mirrored(name: MapName) -> bool:
    """Whether a map exchanges left and right hands."""
    return MAPS[name][0] * MAPS[name][1] < 0


def _tell_isolation(sight: Sight, lying: Lying, one: Milled) -> None:
    """Whether the copper comes out right."""
    role = next(p.role for p in sight.files.tool_paths if p.role.file == one.file)
    used = (role, *(layer.role for layer in sight.files.of("copper")), *sight.drill_roles)
    place = Place(one.file, f"{one.side} tool-path".strip(), *sight.centre)
    wanted = (
        "mirrored once, since the copper lies below"
        if one.side == "bottom"
        else "not mirrored, since the copper lies on top"
    )
    if one.mirror_state == "unknown":
        sight.verdict(
            "board.tool-path-mirrored", f"board.files.{one.file}", "stop", f"Whether {one.file} comes out mirrored is not known.",
            state="unknown", used=used, place=place, wanted=wanted, seen="no map of four fits its copper better than the others",
            doubt="Cut it in cardboard, lay a 1:1 print of the component side on it, and look whether pin 1 of each part fits.",
        )  # fmt: skip
        return
    image = [f for f, (name, _) in lying.found.items() if _mirrored(name)]
    seen = f"the path is {one.map_name}" + (f" in all, and {image[0]} itself is mirrored" if image else "")
    says = {
        "good": f"{one.file} cuts the copper the right way round.",
        "flipped": f"{one.file} cuts the board as its mirror image.",
        "flipped twice": f"{one.file} cuts the board as its mirror image: mirrored on export and again for the mill.",
    }[one.mirror_state]
    sight.verdict(
        "board.tool-path-mirrored", f"board.files.{one.file}", "stop", says,
        state="holds" if one.mirror_state == "good" else "fails", used=used, seen=seen, wanted=wanted, place=place,
        doubt="" if one.mirror_state == "good" else "Right if the mill's program mirrors once more: then let it not, or state so.",
    )  # fmt: skip


def _tell_together(sight: Sight, made: list[Milled]) -> None:
    """Whether all paths of a board lie alike."""
    known = [one for one in made if one.map_name is not None]
    cuts = [one for one in known if one.kind == "isolation"]
    lead = cuts[0] if cuts else known[0] if known else None
    if lead is None or lead.map_name is None:
        return
    for one in made:
        if one is lead:
            continue
        role = next(p.role for p in sight.files.tool_paths if p.role.file == one.file)
        used = (role, *(p.role for p in sight.files.tool_paths if p.role.file == lead.file))
        place = Place(one.file, "tool-path", *sight.centre)
        if one.map_name is None:
            off = _outline_off(sight, one, lead)
            good, seen = (
                off is None or max(map(abs, off)) < 0.5,
                "" if off is None else f"its middle is off by {at_mm(*off)}",
            )
            if one.kind != "outline" or off is None:
                continue
        else:
            apart = (one.shift_mm[0] - lead.shift_mm[0], one.shift_mm[1] - lead.shift_mm[1])
            good = one.map_name == lead.map_name and max(map(abs, apart)) < 0.15
            seen = f"{one.file} is {one.map_name}, {lead.file} is {lead.map_name}, {at_mm(*apart)} apart"
        sight.verdict(
            "board.tool-path-apart", f"board.files.{one.file}", "stop",
            f"{one.file} and {lead.file} lie alike." if good else f"{one.file} and {lead.file} do not lie alike, so one misses the other.",
            state="holds" if good else "fails", used=used, seen=seen, wanted="one map and one origin for all paths", place=place,
            doubt="" if good else "Right only if the board is turned over between the two: then drill from the other side.",
        )  # fmt: skip


def _outline_off(sight: Sight, one: Milled, lead: Milled) -> tuple[float, float] | None:
    """How far the middle of an outline's path is from where the leading path puts the board's middle."""
    box = sight.outline_box
    if box is None or lead.map_name is None:
        return None
    centre = np.array(sight.centre)
    middle = (np.array([(box[0] + box[2]) / 2, (box[1] + box[3]) / 2]) - centre) * MAPS[lead.map_name] + centre
    off = np.array(one.shift_mm) - middle - np.array(lead.shift_mm)
    return float(off[0]), float(off[1])
