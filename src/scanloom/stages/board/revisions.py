"""Whether all files are of one board and one revision."""

from __future__ import annotations

import re

import numpy as np
import shapely

from scanloom.basis.verdict import Place, Weight
from scanloom.stages.board.register import hits_of
from scanloom.stages.board.sides import Lying, pad_places
from scanloom.stages.board.sight import Sight, at_mm

_EDGE_MM = 0.05
_COUPON_SHARE = 0.1  # of all pads and holes; another board's outline leaves far more outside


def judge_revisions(sight: Sight, lying: Lying) -> None:
    """Judge whether holes, pads, outline and what files say of themselves belong together.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.
    lying : Lying
        Which way round files lie; misses of a file that lies wrong are its own verdict.
    """
    _projects(sight)
    _holes_and_pads(sight, lying)
    _inside(sight, lying)
    _revision(sight)


def _projects(sight: Sight) -> None:
    """Projects and dates that files state."""
    stated = {r.file: r.attributes[".ProjectId"] for r in sight.files.roles if r.attributes.get(".ProjectId")}
    roles = [r for r in sight.files.roles if r.file in stated]
    if not stated:
        return
    ways: dict[str, list[str]] = {}
    for file, text in stated.items():
        ways.setdefault(text, []).append(file)
    usual = max(ways, key=lambda one: len(ways[one]))
    odd = [file for text, files in ways.items() if text != usual for file in files]
    if odd:
        sight.verdict(
            "board.mixed-revisions", "board.revision", "stop", f"{', '.join(odd[:4])} state another project or revision.",
            state="fails", used=roles, seen=stated[odd[0]], wanted=usual, place=Place(odd[0]),
            doubt="Drill files exported by another step may carry another mark: export all in one go.",
        )  # fmt: skip
        return
    sight.verdict(
        "board.mixed-revisions", "board.revision", "stop", "All files that state their project state the same one.",
        state="holds", used=roles, seen=usual, wanted="one project",
    )  # fmt: skip
    dates = {r.file: r.attributes[".CreationDate"][:10] for r in roles if r.attributes.get(".CreationDate")}
    if len(set(dates.values())) > 1:
        last = max(dates.values())
        old = [file for file, day in dates.items() if day != last]
        sight.verdict(
            "board.mixed-dates", "board.revision", "note", f"{', '.join(old[:4])} were exported on another day than the rest.",
            state="fails", used=roles, seen=", ".join(sorted(set(dates.values()))), wanted="one day", place=Place(old[0]),
            doubt="Harmless if nothing was changed between.",
        )  # fmt: skip


def _holes_and_pads(sight: Sight, lying: Lying) -> None:
    """Plated holes without a pad, and pads through the board without a hole."""
    layers = [one for one in (sight.layer("copper", "top"), sight.layer("copper", "bottom")) if one is not None]
    holes = np.array([((h.x_mm + h.x2_mm) / 2, (h.y_mm + h.y2_mm) / 2) for h in sight.plated], dtype=float).reshape(
        -1, 2
    )
    right = all(lying.is_as_it_is(r) for r in (*(x.role for x in layers), *sight.drill_roles))
    if len(layers) < 1 or not len(holes) or not right:
        return
    used = (*(x.role for x in layers), *sight.drill_roles)
    sure = [h.plated is True for h in sight.plated]
    covered = np.zeros((len(layers), len(holes)), dtype=bool)
    for number, layer in enumerate(layers):
        dark = np.array([o.dark for o in layer.drawn], dtype=bool)
        hit, _ = shapely.STRtree(layer.shapes[dark]).query(shapely.points(holes), predicate="dwithin", distance=0.02)
        covered[number, hit] = True
    missing = [n for n in range(len(holes)) if sure[n] and not covered[:, n].any()]
    missing = _not_buried(sight, holes, missing)
    through = _coincident(sight)
    open_pads = through[~hits_of(through, _all_holes(sight), 0.3)]
    allowed = max(2, round(0.02 * len(holes)))
    numbers = f"{len(missing)} of {len(holes)} plated holes without copper, {len(open_pads)} pads on both sides without a hole"
    if len(missing) > allowed or (len(open_pads) > max(6, 0.1 * len(holes)) and len(missing) > 2):
        at = holes[missing[0]] if missing else open_pads[0]
        sight.verdict(
            "board.mixed-revisions", "board.files", "stop", "Drill file and copper are not of one revision.", state="fails",
            used=used, seen=numbers, wanted=f"at most {allowed} holes without copper",
            place=Place(sight.drill_roles[0].file, "drill", float(at[0]), float(at[1])),
            doubt="Unplated holes in a file that does not say so have no pad, either.",
        )  # fmt: skip
        return
    if missing or len(open_pads):
        for n in missing[:4]:
            sight.verdict(
                "board.hole-without-pad", "board.files", "caution", "A plated hole has no copper on either side.", state="fails",
                used=used, seen=f"nothing at {at_mm(*holes[n])}", wanted="a pad",
                place=Place(sight.drill_roles[0].file, "drill", float(holes[n][0]), float(holes[n][1])),
                doubt="Mounting holes may be plated without a pad.",
            )  # fmt: skip
        if len(open_pads):
            x, y = float(open_pads[0][0]), float(open_pads[0][1])
            sight.verdict(
                "board.pad-without-hole", "board.files", "caution" if _needs_hole(sight, x, y) else "note",
                f"{len(open_pads)} pads lie on both sides at one place and have no hole.", state="fails",
                used=used, seen=f"the first at {at_mm(x, y)}", wanted="a hole", place=Place(layers[0].role.file, "copper", x, y),
                doubt="Fingers of an edge connector, and marks for the placing machine, have none.",
            )  # fmt: skip
        return
    sight.verdict(
        "board.mixed-revisions", "board.files", "stop", "Every plated hole has its copper, and every through pad its hole.",
        state="holds", used=used, seen=numbers, wanted="none",
    )  # fmt: skip


def _not_buried(sight: Sight, holes: np.ndarray, missing: list[int]) -> list[int]:
    """Of holes without outer copper, those that meet none on inner layers, either."""
    for layer in sight.files.of("copper", "inner") if missing else ():
        dark = np.array([o.dark for o in layer.drawn], dtype=bool)
        spots = shapely.points(holes[missing])
        hit, _ = shapely.STRtree(layer.shapes[dark]).query(spots, predicate="dwithin", distance=0.02)
        met = set(hit.tolist())
        missing = [n for number, n in enumerate(missing) if number not in met]
    return missing


def _needs_hole(sight: Sight, x_mm: float, y_mm: float) -> bool:
    """Whether the netlist has a hole at a place."""
    points = sight.netlist.points if sight.netlist is not None else ()
    return any(p.hole_mm and abs(p.x_mm - x_mm) < 0.1 and abs(p.y_mm - y_mm) < 0.1 for p in points)


def _coincident(sight: Sight) -> np.ndarray:
    """Pads flashed at one place on top and bottom."""
    top, bottom = sight.layer("copper", "top"), sight.layer("copper", "bottom")
    if top is None or bottom is None:
        return np.zeros((0, 2))
    places = pad_places(top)
    return places[hits_of(places, pad_places(bottom), 0.02)]


def _all_holes(sight: Sight) -> np.ndarray:
    """Middles of all holes, slots by several points."""
    made = [
        (h.x_mm + t * (h.x2_mm - h.x_mm), h.y_mm + t * (h.y2_mm - h.y_mm))
        for h in sight.files.holes
        for t in (0, 0.5, 1)
    ]
    return np.array(made, dtype=float).reshape(-1, 2)


def _inside(sight: Sight, lying: Lying) -> None:
    """Whether holes and copper lie inside the outline."""
    box = sight.outline_box
    outline = sight.outline
    if box is None or outline is None:
        sight.verdict(
            "board.outline", "board.files", "stop", "No file tells the outline of the board.", state="unknown",
            used=sight.files.roles, doubt="Export the outline (profile) as Gerber.",
        )  # fmt: skip
        return
    outside: list[tuple[str, float, float]] = []
    for layer in sight.files.of("copper"):
        places = pad_places(layer)
        if not lying.is_as_it_is(layer.role):
            continue
        away = _beyond(places, box)
        outside += [(layer.role.file, float(x), float(y)) for x, y in places[away]]
    for drill in sight.files.drills:
        places = np.array([(h.x_mm, h.y_mm) for h in drill.holes], dtype=float).reshape(-1, 2)
        if lying.is_as_it_is(drill.role) and len(places):
            outside += [(drill.role.file, float(x), float(y)) for x, y in places[_beyond(places, box)]]
    used = (outline.role, *(x.role for x in sight.files.of("copper")), *sight.drill_roles)
    size = f"{box[2] - box[0]:.2f} x {box[3] - box[1]:.2f} mm"
    if outside:
        lying.outline_fits = False
        file, x, y = outside[0]
        if len({name for name, *_ in outside}) > 1:  # several files agree against it
            file = outline.role.file
        sight.verdict(
            "board.outline", "board.files", _weight_outside(sight, outside),
            f"{len(outside)} pads or holes lie outside the outline.", state="fails",
            used=used, seen=f"the first at {at_mm(x, y)} in {file}, the outline is {size}", wanted="everything inside",
            place=Place(file, "", x, y), doubt="Panel rails, test coupons and plated edges lie outside on purpose.",
        )  # fmt: skip
    else:
        sight.verdict(
            "board.outline", "board.files", "stop", "All pads and holes lie inside the outline.", state="holds", used=used,
            seen=size, wanted="everything inside", place=Place(outline.role.file, "outline"),
        )  # fmt: skip


def _weight_outside(sight: Sight, outside: list[tuple[str, float, float]]) -> Weight:
    """A part outside costs the board; a few pads that no net knows are rails or coupons."""
    places = np.array([(x, y) for _, x, y in outside], dtype=float)
    if sight.netlist is not None:
        pins = np.array([(p.x_mm, p.y_mm) for p in sight.netlist.points if p.part], dtype=float).reshape(-1, 2)
        return "stop" if hits_of(places, pins, 0.3).any() else "caution"
    every = sum(len(pad_places(layer)) for layer in sight.files.of("copper")) + len(sight.files.holes)
    return "stop" if len(outside) > _COUPON_SHARE * every else "caution"


def _beyond(places: np.ndarray, box: tuple[float, float, float, float]) -> np.ndarray:
    """Which places lie outside a box."""
    low = (places < np.array(box[:2]) - _EDGE_MM).any(axis=1)
    return np.asarray(low | (places > np.array(box[2:]) + _EDGE_MM).any(axis=1))


def _revision(sight: Sight) -> None:
    """Revision of the dossier against the one that files state."""
    board = sight.reading.plan.dossier.board
    stated = {r.file: r.attributes[".ProjectId"] for r in sight.files.roles if r.attributes.get(".ProjectId")}
    if board is None or board.revision is None:
        return
    read = sight.reading.fork()
    wanted = read(board.revision)
    roles = [r for r in sight.files.roles if r.file in stated]
    found = {text.split(",")[-1].strip() for text in stated.values()}
    if not stated:
        sight.verdict(
            "board.revision", "board.revision", "note", "No file states its revision.", state="unknown", read=read,
            used=sight.files.roles, doubt=f"Look for revision {wanted} in the lettering.",
        )  # fmt: skip
        return
    bare = re.compile(r"(?i)^rev(?:ision)?[-_ ]*")
    same = {bare.sub("", text).lower() for text in found} == {bare.sub("", wanted).lower()}
    sight.verdict(
        "board.revision", "board.revision", "caution",
        "The files state the revision of the dossier." if same else "The files state another revision than the dossier.",
        state="holds" if same else "fails", read=read, used=roles, seen=", ".join(sorted(found)), wanted=wanted,
        place=Place(roles[0].file), doubt="" if same else "Change board.revision, or export the files of that revision.",
    )  # fmt: skip
