"""Narrow places: webs of solder mask, gaps between nets, rings around holes, copper at the edge; and points to probe."""

from __future__ import annotations

from collections.abc import Container
from typing import Any

import numpy as np
import shapely

from scanloom.basis.verdict import Place
from scanloom.stages.board.model import Hole, Layer
from scanloom.stages.board.pieces import TooDense, near_but_apart
from scanloom.stages.board.sides import Lying
from scanloom.stages.board.sight import Sight, at_mm

_MOST_OPENINGS = 30_000
WEB_MM = 0.1
"""Narrowest web of solder mask that most makers keep: common practice, no source. [mm]"""
GAP_MM = 0.1
"""Narrowest gap between nets that most makers hold without a charge: common practice, no source. [mm]"""
EDGE_MM = 0.2
"""Least copper-free rim along the edge and around holes without plating: common practice, no source. [mm]"""
RING_MM = 0.05
"""Least copper around a plated hole: common practice, no source. [mm]"""


def judge_spaces(sight: Sight, lying: Lying) -> None:
    """Judge mask webs, clearances and rings. No layout rule check: only what costs a board.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.
    lying : Lying
        Which way round files lie.
    """
    for side in ("top", "bottom"):
        mask, copper = sight.layer("mask", side), sight.layer("copper", side)
        if mask is None:
            continue
        used = (mask.role, *sight.graph.roles)
        if copper is not None and all(lying.is_as_it_is(role) for role in (copper.role, *used)):
            _webs(sight, mask, copper)
            _open_pads(sight, mask, copper)
    if not sight.files.of("mask"):
        sight.verdict(
            "board.mask-web", "board.files", "caution", "Without the solder mask its webs are not judged.", state="unknown",
            used=sight.files.roles, doubt="Export both solder masks as Gerber.",
        )  # fmt: skip
    if sight.copper is not None and all(lying.is_as_it_is(role) for role in sight.copper.roles):
        _gaps(sight)
    _rings(sight, lying)
    _edges(sight, lying)


def _webs(sight: Sight, mask: Layer, copper: Layer) -> None:
    """Openings that merge over pads of different nets, and webs too narrow to stay."""
    openings = [s for s, o in zip(mask.shapes, mask.drawn, strict=True) if o.dark and s.area > 0]
    if not openings or len(openings) > _MOST_OPENINGS:
        if openings:
            sight.verdict(
                "board.mask-web", "board.files", "caution", f"{mask.role.file} has too many objects for its webs to be judged.",
                state="unknown", used=(mask.role,), seen=f"{len(openings)} objects", wanted=f"at most {_MOST_OPENINGS}",
                place=Place(mask.role.file, f"{mask.role.side} mask"), doubt="Export one board alone, not a panel.",
            )  # fmt: skip
        return
    whole = shapely.union_all(openings)
    merged = [one for one in (getattr(whole, "geoms", None) or [whole]) if one.geom_type == "Polygon"]
    pads, nets, names = _named_pads(sight, copper)
    used = (mask.role, copper.role, *sight.graph.roles)
    bad: list[tuple[str, float, float, str]] = []
    if pads:
        tree = shapely.STRtree(merged)
        pad, opening = tree.query(shapely.points(pads), predicate="within")
        inside: dict[int, list[int]] = {}
        for p, o in zip(pad.tolist(), opening.tolist(), strict=True):
            inside.setdefault(o, []).append(p)
        own: dict[int, set[str]] = {}
        for o, some in inside.items():
            own[o] = {nets[p] for p in some}
            real = {nets[p] for p in some if nets[p]}
            if len(real) > 1 or (len(real) == 1 and len(own[o]) > 1 and len({names[p] for p in some}) > 1):
                first = some[0]
                other = next(p for p in some if nets[p] != nets[first])
                bad.append(("merged", *_middle(pads[first], pads[other]), f"{names[first]} and {names[other]}"))
        a, b = tree.query(merged, predicate="dwithin", distance=WEB_MM - 1e-6)
        for i, j in zip(a.tolist(), b.tolist(), strict=True):
            if i < j and own.get(i) and own.get(j) and (own[i] | own[j] - {""}) and own[i] != own[j]:
                line = shapely.shortest_line(merged[i], merged[j])
                middle = line.interpolate(0.5, normalized=True)
                bad.append(
                    (f"{line.length:.3f} mm", middle.x, middle.y, f"{names[inside[i][0]]} and {names[inside[j][0]]}")
                )
    for what, x, y, pair in bad[:6]:
        sight.verdict(
            "board.mask-web", "board.files", "caution",
            f"No solder mask stays between {pair}." if what == "merged" else f"The mask between {pair} is too narrow to stay.",
            state="fails", used=used, seen=f"{'openings merge' if what == 'merged' else what} at {at_mm(x, y)}",
            wanted=f"a web of {WEB_MM:g} mm (common practice, no source)",
            place=Place(mask.role.file, f"{mask.role.side} mask", x, y, pair.split(" and ")[0]),
            doubt="Fine contacts are sometimes left without webs on purpose, and soldered with care.",
        )  # fmt: skip
    if len(bad) > 6:
        sight.verdict(
            "board.mask-web", "board.files", "caution", f"{len(bad) - 6} more webs of {mask.role.file} are too narrow.", state="fails",
            used=used, place=Place(mask.role.file, f"{mask.role.side} mask"), doubt="One opening rule for all pads mends them together.",
        )  # fmt: skip
    if not bad:
        sight.verdict(
            "board.mask-web", "board.files", "caution", f"Between pads of different nets {mask.role.file} keeps a web.",
            state="holds" if pads else "unknown", used=used, seen=f"{len(merged)} openings", wanted=f"webs of {WEB_MM:g} mm",
            place=Place(mask.role.file, f"{mask.role.side} mask"), doubt="" if pads else "Export the netlist as IPC-D-356A.",
        )  # fmt: skip


def _open_pads(sight: Sight, mask: Layer, copper: Layer) -> None:
    """Pads of parts that the mask covers, so that nothing can be soldered there."""
    side = copper.role.side
    pads = [
        ("-".join(pin), place.x_mm, place.y_mm)
        for pin, found in sight.graph.places.items() for place in found
        if place.access in ("both", side)
    ]  # fmt: skip
    if not pads:
        return
    openings = [s for s, o in zip(mask.shapes, mask.drawn, strict=True) if o.dark]
    hit, _ = shapely.STRtree(openings).query(
        shapely.points([(x, y) for _, x, y in pads]), predicate="dwithin", distance=0.02
    )
    bare = {
        pads[n][0] for n in hit.tolist()
    }  # a pin may have several pads, and a hole needs an opening on one side alone
    other = sight.layer("mask", "bottom" if side == "top" else "top")
    through = {
        "-".join(pin): shapely.Point(found[0].x_mm, found[0].y_mm)
        for pin, found in sight.graph.places.items() if found[0].access == "both"
    }  # fmt: skip
    if other is not None and through:
        back, _ = shapely.STRtree([s for s, o in zip(other.shapes, other.drawn, strict=True) if o.dark]).query(
            list(through.values()), predicate="dwithin", distance=0.02
        )
        bare |= {list(through)[n] for n in back.tolist()}
    surface = [one for one in pads if one[0] not in bare]
    used = (mask.role, *sight.graph.roles)
    many = len(surface) > 0.2 * len(pads)
    for name, x, y in surface[: 1 if many else 4]:
        sight.verdict(
            "board.mask-covers", f"board.files.{side} mask", "stop" if many else "caution",
            f"Solder mask covers {len(surface)} of {len(pads)} pads." if many else f"Solder mask covers the pad of {name}.",
            state="fails", used=used, seen=f"no opening at {at_mm(x, y)}", wanted="an opening over every pad",
            place=Place(mask.role.file, f"{side} mask", x, y, name), doubt="Pads that are never soldered may be covered on purpose.",
        )  # fmt: skip
    if not surface:
        sight.verdict(
            "board.mask-covers", f"board.files.{side} mask", "stop", f"Every pad of the {side} has its opening in the mask.",
            state="holds", used=used, seen=f"{len(pads)} pads", wanted="an opening over every pad",
            place=Place(mask.role.file, f"{side} mask"),
        )  # fmt: skip


def _middle(a: tuple[float, float], b: tuple[float, float]) -> tuple[float, float]:
    """Half way between two places."""
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2


def _named_pads(sight: Sight, copper: Layer) -> tuple[list[tuple[float, float]], list[str], list[str]]:
    """Places, nets and names of pins on a side."""
    places: list[tuple[float, float]] = []
    nets: list[str] = []
    names: list[str] = []
    for pin, found in sight.graph.places.items():
        for one in found:
            if one.access in ("both", copper.role.side):
                places.append((one.x_mm, one.y_mm))
                nets.append(sight.graph.nets.get(pin, ""))
                names.append("-".join(pin))
    return places, nets, names


def _gaps(sight: Sight) -> None:
    """Copper of different islands nearer than makers hold."""
    copper = sight.copper
    if copper is None:
        return
    known = {int(copper.island[t.pieces[0]]): t.net for t in copper.touches if t.pieces}
    found: list[tuple[float, float, float, str, str]] = []
    for number, role in enumerate(copper.roles):
        index = np.flatnonzero(copper.layer_of == number)
        try:
            near = near_but_apart(copper.pieces[index], copper.island[index], GAP_MM - 1e-4)
        except TooDense:
            sight.verdict(
                "board.clearance", f"board.files.{role.file}", "caution", f"{role.file} is too dense to measure its gaps.",
                state="unknown", used=(role,), seen=f"{len(index)} pieces of copper", place=Place(role.file, "copper"),
                doubt="Export pours as areas in place of lines, and review again.",
            )  # fmt: skip
            continue
        for i, j in index[near].tolist():
            line = shapely.shortest_line(copper.pieces[i], copper.pieces[j])
            middle = line.interpolate(0.5, normalized=True)
            pair = [known.get(int(copper.island[k])) or copper.named.get(k) or "copper without a net" for k in (i, j)]
            if pair[0] != pair[1]:
                found.append((line.length, middle.x, middle.y, " and ".join(pair), role.file))
    found.sort()
    for gap, x, y, nets, file in _spread(found)[:5]:
        sight.verdict(
            "board.clearance", "board.files", "caution", f"{nets} lie nearer to one another than most makers hold.", state="fails",
            used=copper.roles, seen=f"{gap:.3f} mm at {at_mm(x, y)}", wanted=f"{GAP_MM:g} mm (common practice, no source)",
            place=Place(file, "copper", x, y), doubt="Finer boards can be had at a price; this is no layout rule check.",
        )  # fmt: skip
    if not found:
        sight.verdict(
            "board.clearance", "board.files", "caution", f"No two nets come nearer than {GAP_MM:g} mm.", state="holds",
            used=copper.roles, seen=f"{len(copper.pieces)} pieces of copper", wanted=f"{GAP_MM:g} mm (common practice, no source)",
        )  # fmt: skip


def _spread(found: list[tuple[float, float, float, str, str]]) -> list[tuple[float, float, float, str, str]]:
    """The narrowest gap of each pair of nets."""
    made: dict[str, Any] = {}
    for one in found:
        made.setdefault(one[3], one)
    return list(made.values())


def _rings(sight: Sight, lying: Lying) -> None:
    """Copper left around plated holes."""
    layers = [one for one in (sight.layer("copper", "top"), sight.layer("copper", "bottom")) if one is not None]
    holes = [h for h in sight.plated if h.plated and h.diameter_mm]
    if (
        not layers
        or not holes
        or not all(lying.is_as_it_is(r) for r in (*(x.role for x in layers), *sight.drill_roles))
    ):
        return
    thin: list[tuple[float, float, float, str]] = []
    for layer in layers:
        flashes = [
            (o.x_mm, o.y_mm, s)
            for o, s in zip(layer.drawn, layer.shapes, strict=True)
            if o.kind == "flash" and o.dark and s.area > 0
        ]
        if not flashes:
            continue
        tree = shapely.STRtree(shapely.points([(x, y) for x, y, _ in flashes]))
        hole, pad = tree.query(shapely.points([(h.x_mm, h.y_mm) for h in holes]), predicate="dwithin", distance=0.06)
        best: dict[int, float] = {}
        for h, p in zip(hole.tolist(), pad.tolist(), strict=True):
            low_x, low_y, high_x, high_y = flashes[p][2].bounds
            room = min(high_x - low_x, high_y - low_y) / 2 - (holes[h].diameter_mm or 0.0) / 2
            best[h] = max(best.get(h, -9.0), room)
        best |= _bare_ends(layer, holes, best)
        thin += [(room, holes[h].x_mm, holes[h].y_mm, layer.role.file) for h, room in best.items() if room < RING_MM]
    thin.sort()
    for room, x, y, file in thin[:3]:
        sight.verdict(
            "board.ring", "board.files", "caution", "Hardly any copper is left around a plated hole.", state="fails",
            used=(*(x.role for x in layers), *sight.drill_roles), seen=f"{max(room, 0.0):.2f} mm at {at_mm(x, y)}",
            wanted=f"{RING_MM:g} mm (common practice, no source)", place=Place(file, "copper", x, y),
            doubt="A hole inside an area of copper loses nothing.",
        )  # fmt: skip


def _bare_ends(layer: Layer, holes: list[Hole], padded: Container[int]) -> dict[int, float]:
    """Copper around holes without a pad at which a track ends all the same: the drill takes the track's end away."""
    rest = [n for n in range(len(holes)) if n not in padded]
    dark = [s for s, o in zip(layer.shapes, layer.drawn, strict=True) if o.dark and s.area > 0]
    if not rest or not dark:
        return {}
    points = shapely.points([(holes[n].x_mm, holes[n].y_mm) for n in rest])
    hole, shape = shapely.STRtree(dark).query(points, predicate="intersects")
    over: dict[int, list[Any]] = {}
    for h, s in zip(hole.tolist(), shape.tolist(), strict=True):
        over.setdefault(h, []).append(dark[s])
    made: dict[int, float] = {}
    for h, shapes in over.items():
        radius = (holes[rest[h]].diameter_mm or 0.0) / 2
        made[rest[h]] = shapely.union_all(shapes).boundary.distance(points[h]) - radius
    return made


def _edges(sight: Sight, lying: Lying) -> None:
    """Copper too near to the edge of the board, or to a hole without plating."""
    copper, outline = sight.copper, sight.outline
    if copper is None or not all(lying.is_as_it_is(role) for role in (*copper.roles, *sight.drill_roles)):
        return
    rims: list[tuple[str, Any]] = []
    if outline is not None and len(outline.paths) and lying.outline_fits:
        rims += [("the edge of the board", shapely.LineString(path)) for path in outline.paths if len(path) > 1]
    for hole in sight.files.holes:
        if hole.plated is False and hole.diameter_mm:
            axis = shapely.LineString([(hole.x_mm, hole.y_mm), (hole.x2_mm, hole.y2_mm)])
            rims.append(("a hole without plating", axis.buffer(hole.diameter_mm / 2).exterior))
    if not rims:
        return
    found: dict[tuple[str, int], tuple[float, float, float, str]] = {}
    lines = [line for _, line in rims]
    piece, rim = shapely.STRtree(lines).query(copper.pieces, predicate="dwithin", distance=EDGE_MM - 2e-3)
    for p, r in zip(piece.tolist(), rim.tolist(), strict=True):
        what = rims[r][0]
        shape = copper.pieces[p]
        if what != "the edge of the board" and shape.covers(lines[r].centroid):
            continue  # its own pad
        line = shapely.shortest_line(shape, lines[r])
        middle = line.interpolate(0.5, normalized=True)
        key = (what, int(copper.layer_of[p]) if what == "the edge of the board" else r)
        if key not in found or line.length < found[key][0]:
            found[key] = line.length, middle.x, middle.y, copper.roles[int(copper.layer_of[p])].file
    for (what, _), (gap, x, y, file) in sorted(found.items(), key=lambda pair: pair[1])[:5]:
        sight.verdict(
            "board.clearance", "board.outline" if what == "the edge of the board" else "board.holes", "caution",
            f"Copper lies nearer to {what} than most makers hold.", state="fails",
            used=(*copper.roles, *sight.drill_roles, outline.role if outline is not None else None),
            seen=f"{gap:.2f} mm at {at_mm(x, y)}", wanted=f"{EDGE_MM:g} mm (common practice, no source)",
            place=Place(file, "copper", x, y), doubt="Contacts at the edge reach it on purpose.",
        )  # fmt: skip


def judge_probes(sight: Sight) -> None:
    """List lanes, syncs and supplies that a probe cannot reach.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.
    """
    graph = sight.graph
    wanted: dict[str, str] = {}
    for connector in sight.reading.plan.connectors:
        part = graph.part(connector.name)
        for pin, what in (("1", "red"), ("2", "green"), ("3", "blue"), ("13", "h"), ("14", "v")):
            if getattr(connector, what, True) is not None and graph.nets.get((part, pin)):
                wanted[graph.nets[(part, pin)]] = f"{connector.name} {what}"
    for rail in sorted(graph.rails):
        wanted[rail] = f"supply {rail}"
    if not wanted:
        return
    blind = [
        what for net, what in wanted.items()
        if not any(part.upper().startswith("TP") or _has_hole(sight, (part, pin)) for part, pin in graph.pins.get(net, ()))
    ]  # fmt: skip
    sight.verdict(
        "board.probe", "board.files", "note",
        f"No test pad or pin in a hole lets a probe reach {', '.join(blind[:6])}."
        if blind else "A probe can reach every lane, sync and supply.",
        state="fails" if blind else "holds", used=graph.roles, seen=f"{len(wanted) - len(blind)} of {len(wanted)} nets", wanted="all",
        doubt="A series part's end can be probed, too, with a steady hand." if blind else "",
    )  # fmt: skip


def _has_hole(sight: Sight, pin: tuple[str, str]) -> bool:
    """Whether a pin sits in a hole."""
    return any(place.hole_mm > 0 or place.access == "both" for place in sight.graph.places.get(pin, ()))
