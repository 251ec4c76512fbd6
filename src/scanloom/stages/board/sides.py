"""Which way round every file lies: registration against the holes, swapped sides, moved layers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from scanloom.basis.verdict import Place
from scanloom.stages.board.model import Drill, FileRole, Layer
from scanloom.stages.board.register import MAPS, MapName, Registration, hits_of, register
from scanloom.stages.board.scale import judge_scale
from scanloom.stages.board.sight import Sight, at_mm

_LEAST_PLACES = 3
_SMALL_MM2 = 100.0  # areas up to this may be pads
_STILL_MM = 0.05


class Lying:
    """Maps found so far, by file: against the holes, or against what the holes agree with.

    Parameters
    ----------
    sight : Sight
        The board.
    """

    def __init__(self, sight: Sight) -> None:
        self.sight = sight
        self.found: dict[str, tuple[MapName, tuple[float, float]]] = {}
        self.strange: set[str] = set()
        self.outline_fits = True

    def is_as_it_is(self, role: FileRole | None) -> bool:
        """Whether a file was found to lie as it should.

        Parameters
        ----------
        role : FileRole or None
            The file.

        Returns
        -------
        bool
            True also when nothing tells.
        """
        if role is None:
            return True
        name, shift = self.found.get(role.file, ("as it is", (0.0, 0.0)))
        return name == "as it is" and _still(shift) and role.file not in self.strange


def judge_sides(sight: Sight) -> Lying:
    """Judge which way round every layer, the netlist and every drill file lie.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.

    Returns
    -------
    Lying
        What was found, for checks that build on it.
    """
    lying = Lying(sight)
    main = _main_drill(sight)
    holes = _hole_places(main) if main is not None else np.zeros((0, 2))
    if main is None or len(holes) < _LEAST_PLACES:
        sight.verdict(
            "board.side-mirrored", "board", "caution",
            "No plated holes to hold the layers against, so nobody can say whether a side is mirrored.",
            state="unknown", used=sight.files.roles, doubt="Export the drill file of plated holes.",
        )  # fmt: skip
        return lying
    seen = [(layer.role, pad_places(layer)) for layer in sight.files.of("copper")]
    if sight.netlist is not None:
        points = np.array([(p.x_mm, p.y_mm) for p in sight.netlist.points if p.hole_mm], dtype=float).reshape(-1, 2)
        if len(points) >= _LEAST_PLACES:
            seen.append((sight.netlist.role, points))
    facing = [(role, register(holes, places, sight.centre)) for role, places in seen]
    matched = [(role, places, fits) for (role, places), (_, fits) in zip(seen, facing, strict=True)]
    lying.strange = judge_scale(sight, main.role, holes, matched)
    facing = [] if main.role.file in lying.strange else [one for one in facing if one[0].file not in lying.strange]
    odd = _odd_drill(facing)
    if odd is not None:
        name, shift = odd
        lying.found[main.role.file] = odd
        _tell(sight, main.role, name, shift, facing[0][1], "the copper")
        facing = [(role, _relative(fits, name, shift)) for role, fits in facing]
    for role, fits in facing:
        _judge(lying, role, fits, "the plated holes", main.role)
    _images(lying)
    _other_drills(lying, main)
    return lying


def _judge(lying: Lying, role: FileRole, fits: Registration, against: str, other: FileRole) -> None:
    """One file against what it should lie on."""
    sight, best = lying.sight, fits.best
    least = 0.3 if role.side == "inner" else 0.9
    used = (role, other)
    numbers = f"{best.hits} of {fits.reference_places} places meet {best.map_name}, {fits.fits[1].hits} {fits.fits[1].map_name}"
    if fits.share >= least and fits.lead >= 3 and (best.map_name != "as it is" or not _still(best.shift_mm)):
        lying.found[role.file] = (best.map_name, best.shift_mm)
        _tell(sight, role, best.map_name, best.shift_mm, fits, against, used)
        return
    own = fits.of("as it is")
    if best.map_name == "as it is" and fits.lead >= 3 and _still(best.shift_mm) and fits.share >= least / 2:
        sight.verdict(
            "board.side-mirrored", f"board.files.{role.file}", "stop", f"{role.file} lies on {against} as it is.",
            state="holds", used=used, seen=numbers, wanted="as it is", place=Place(role.file, _layer(role)),
        )  # fmt: skip
        return
    if own.hits == best.hits and fits.share >= least:
        says = f"{role.file} meets {against} in more than one way, so nothing tells which is right."
    else:
        says = f"{role.file} does not meet {against} well enough to say which way round it lies."
    sight.verdict(
        "board.side-mirrored", f"board.files.{role.file}", "caution", says, state="unknown", used=used, seen=numbers,
        wanted="one map that meets nine in ten, three ahead of the next", place=Place(role.file, _layer(role)),
        doubt="Boards with few or symmetric holes cannot be told from files: look at the lettering beside pin 1 of a socket.",
    )  # fmt: skip


def _tell(
    sight: Sight, role: FileRole, name: MapName, shift: tuple[float, float], fits: Registration, against: str,
    used: Sequence[FileRole] = (),
) -> None:  # fmt: skip
    """A file that lies the wrong way round, or aside."""
    numbers = f"{fits.best.hits} of {fits.reference_places} places meet so, {fits.of('as it is').hits} as it is"
    place = Place(role.file, _layer(role), *sight.centre)
    doubt = (
        "A false alarm only if this file belongs to another board or panel: export all files in one go and look again."
    )
    if name == "as it is":
        sight.verdict(
            "board.registration", f"board.files.{role.file}", "caution" if role.role == "netlist" else "stop",
            f"{role.file} lies aside of {against}.", state="fails",
            used=used or (role,), seen=f"moved by {at_mm(-shift[0], -shift[1])}; {numbers}", wanted="no shift",
            place=place, doubt=doubt,
        )  # fmt: skip
    else:
        sight.verdict(
            "board.side-mirrored", f"board.files.{role.file}", "stop", f"{role.file} is {name} against {against}.", state="fails",
            used=used or (role,), seen=numbers, wanted="as it is", place=place, doubt=doubt,
        )  # fmt: skip


def _images(lying: Lying) -> None:
    """Mask and paste against the copper of their side; what the copper does is taken off again."""
    sight = lying.sight
    for side in ("top", "bottom"):
        copper = sight.layer("copper", side)
        if copper is None:
            continue
        pads = pad_places(copper)
        for kind in ("mask", "paste"):
            for layer in sight.files.of(kind, side):
                places = pad_places(layer)
                if len(places) < _LEAST_PLACES:
                    continue
                fits = register(places, pads, sight.centre)
                under = lying.found.get(copper.role.file)
                if under is not None:
                    fits = _relative(fits, *under)
                _judge(lying, layer.role, _backwards(fits), f"the copper of its side, {copper.role.file}", copper.role)
        _legend(lying, copper)


def _legend(lying: Lying, copper: Layer) -> None:
    """Lettering keeps off pads: where another map keeps off far better, the legend lies wrong."""
    sight = lying.sight
    under = lying.found.get(copper.role.file)
    mask = sight.layer("mask", copper.role.side) or copper
    pads = [s for s, o in zip(mask.shapes, mask.drawn, strict=True) if o.kind == "flash" and not s.is_empty]
    for layer in sight.files.of("legend", copper.role.side):
        points = np.concatenate([*layer.paths, np.zeros((0, 2))])
        if len(points) < 50 or len(pads) < 10 or under is not None or mask.role.file in lying.found:
            continue
        points = points[np.linspace(0, len(points) - 1, min(4000, len(points))).astype(int)]
        tree = shapely.STRtree(pads)
        middle = np.array(sight.centre)
        on: dict[MapName, int] = {}
        for name, sign in MAPS.items():
            hit, _ = tree.query(shapely.points((points - middle) * sign + middle), predicate="intersects")
            on[name] = len(np.unique(hit))
        best = min(on, key=lambda one: (on[one], list(MAPS).index(one)))
        numbers = f"{on['as it is']} of {len(points)} points of the lettering lie on pads, {on[best]} when {best}"
        # letters over a few pads are a habit; a legend that lies wrong meets pads about as often as by chance
        chance = sum(met for name, met in on.items() if name not in ("as it is", best)) / 2
        if on["as it is"] > max(20, 5 * on[best] + 10, chance / 2) and on["as it is"] > len(points) / 50:
            sight.verdict(
                "board.side-mirrored", f"board.files.{layer.role.file}", "caution", f"{layer.role.file} seems to be {best}.", state="fails",
                used=(layer.role, mask.role), seen=numbers, wanted="lettering beside the pads",
                place=Place(layer.role.file, _layer(layer.role), *sight.centre),
                doubt="A program that lets lettering run over pads looks so, too: look whether it reads from the side it is on.",
            )  # fmt: skip


def _other_drills(lying: Lying, main: Drill) -> None:
    """Every other drill file against pads, openings and the netlist."""
    sight = lying.sight
    known = [pad_places(layer) for layer in sight.files.of("copper") if lying.is_as_it_is(layer.role)]
    known += [pad_places(layer) for layer in sight.files.of("mask") if lying.is_as_it_is(layer.role)]
    if sight.netlist is not None:
        known.append(np.array([(p.x_mm, p.y_mm) for p in sight.netlist.points], dtype=float).reshape(-1, 2))
    places = np.concatenate([*known, np.zeros((0, 2))])
    for drill in sight.files.drills:
        holes = _hole_places(drill, every=True)
        if drill is main or not len(holes):
            continue
        if len(holes) >= _LEAST_PLACES:
            fits = register(holes, places, sight.centre)
            aside = fits.best.map_name != "as it is" or not _still(fits.best.shift_mm)
            none_here = not hits_of(holes, places).any()  # which map it is may stay open, that it is aside does not
            if aside and ((fits.share >= 0.9 and fits.lead >= 3) or (fits.share == 1.0 and none_here)):
                lying.found[drill.role.file] = (fits.best.map_name, fits.best.shift_mm)
                _tell(sight, drill.role, fits.best.map_name, fits.best.shift_mm, fits, "pads and openings")
                continue
        met = int(hits_of(holes, places).sum())
        state = "holds" if met == len(holes) else "unknown"
        sight.verdict(
            "board.registration", f"board.files.{drill.role.file}", "caution",
            f"Of the {len(holes)} holes of {drill.role.file}, {met} lie on a pad, an opening or a point of the netlist.",
            state="holds" if state == "holds" else "unknown", used=(drill.role,), place=Place(drill.role.file, "drill"),
            doubt="Unplated holes often have neither pad nor opening: look whether they sit in the connectors' ears and corners.",
        )  # fmt: skip


def judge_swapped(sight: Sight, lying: Lying) -> None:
    """Whether top and bottom are exchanged: surface pads of the netlist must fall on pads of their own side.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.
    lying : Lying
        Which way round files lie.
    """
    _names_against_words(sight)
    if sight.netlist is None:
        sight.verdict(
            "board.sides-swapped", "board.files", "caution",
            "Without a netlist nobody can say whether top and bottom are exchanged.", state="unknown",
            used=sight.files.roles, doubt="Export the netlist as IPC-D-356A.",
        )  # fmt: skip
        return
    for kind in ("copper", "mask", "paste"):
        top, bottom = sight.layer(kind, "top"), sight.layer(kind, "bottom")
        found: dict[str, int] = {"own": 0, "other": 0, "all": 0}
        used: list[FileRole | None] = [sight.netlist.role]
        for side, own, other in (("top", top, bottom), ("bottom", bottom, top)):
            points = np.array(
                [(p.x_mm, p.y_mm) for p in sight.netlist.points if p.access == side], dtype=float
            ).reshape(-1, 2)
            if own is None or not len(points):
                continue
            used.append(own.role)
            on_own = hits_of(points, _turned_back(lying, own))
            on_other = hits_of(points, _turned_back(lying, other)) if other is not None else np.zeros(len(points), bool)
            found["own"] += int((on_own & ~on_other).sum())
            found["other"] += int((on_other & ~on_own).sum())
            found["all"] += len(points)
        if not found["all"] or (top is None and bottom is None):
            continue
        numbers = (
            f"{found['own']} of {found['all']} surface pads lie on their own side alone, {found['other']} on the other"
        )
        place = Place((top or bottom).role.file, kind, *sight.centre)  # type: ignore[union-attr]
        if found["other"] > found["own"] + 2 and found["other"] > 0.5 * found["all"]:
            sight.verdict(
                "board.sides-swapped", f"board.files.{kind}", "stop", f"Top and bottom {kind} are exchanged.", state="fails",
                used=used, seen=numbers, wanted="all on their own side", place=place,
                doubt="A netlist that calls its sides the other way round looks so, too: look on which side the module sits.",
            )  # fmt: skip
        elif found["own"] > found["other"] + 2:
            sight.verdict(
                "board.sides-swapped", f"board.files.{kind}", "stop", f"Top and bottom {kind} are each on their side.",
                state="holds", used=used, seen=numbers, wanted="all on their own side", place=place,
            )  # fmt: skip
        elif kind == "copper":
            sight.verdict(
                "board.sides-swapped", "board.files", "caution", "No surface pads tell top from bottom.", state="unknown",
                used=used, seen=numbers, wanted="three pads or more on one side alone", place=place,
                doubt="Look at the lettering in the copper: it must read from its own side.",
            )  # fmt: skip


def _names_against_words(sight: Sight) -> None:
    """A file whose name says one side and whose own words the other."""
    from scanloom.stages.board.names import side_by_name

    for role in sight.files.roles:
        named = side_by_name(role.file)
        if role.decided_by == "attributes" and role.side in ("top", "bottom") and named not in ("", role.side):
            sight.verdict(
                "board.sides-swapped", f"board.files.{role.file}", "stop",
                f"The name of {role.file} says {named}, the file itself says {role.side}.", state="fails", used=(role,),
                seen=role.attributes.get(".FileFunction", ""), wanted=named, place=Place(role.file, _layer(role)),
                doubt="A maker who goes by names builds the board inside out: name the files anew from one export.",
            )  # fmt: skip


def pad_places(layer: Layer) -> NDArray[np.float64]:
    """Places of flashes, and middles of areas small enough to be pads.

    Parameters
    ----------
    layer : Layer
        An image layer.

    Returns
    -------
    ndarray of float, shape (pads, 2)
        Places. [mm]
    """
    made = [(o.x_mm, o.y_mm) for o in layer.drawn if o.kind == "flash" and o.dark]
    for one, shape in zip(layer.drawn, layer.shapes, strict=True):
        if one.kind == "area" and one.dark and 0 < shape.area <= _SMALL_MM2:
            low_x, low_y, high_x, high_y = shape.bounds
            made.append(((low_x + high_x) / 2, (low_y + high_y) / 2))
    return np.array(made, dtype=float).reshape(-1, 2)


def _turned_back(lying: Lying, layer: Layer) -> NDArray[np.float64]:
    """Places of a layer, laid as they should be where that was found to be otherwise."""
    places = pad_places(layer)
    name, shift = lying.found.get(layer.role.file, ("as it is", (0.0, 0.0)))
    middle = np.array(lying.sight.centre)
    return np.asarray((places - middle) * np.array(MAPS[name]) + middle + np.array(shift))


def _main_drill(sight: Sight) -> Drill | None:
    """The drill file with most plated holes."""
    plated = [d for d in sight.files.drills if any(h.plated is not False for h in d.holes)]
    return max(plated or sight.files.drills, key=lambda drill: len(_hole_places(drill)), default=None)


def _hole_places(drill: Drill, every: bool = False) -> NDArray[np.float64]:
    """Middles of the holes of a file that are plated, or of all."""
    every = every or all(h.plated is False for h in drill.holes)  # a milled board has no plating at all
    made = [((h.x_mm + h.x2_mm) / 2, (h.y_mm + h.y2_mm) / 2) for h in drill.holes if every or h.plated is not False]
    return np.array(made, dtype=float).reshape(-1, 2)


def _odd_drill(
    facing: Sequence[tuple[FileRole, Registration]],
) -> tuple[MapName, tuple[float, float]] | None:
    """The map that most other files agree on against the drill file, so that it is the drill file that lies wrong."""
    votes: dict[tuple[MapName, int, int], list[Registration]] = {}
    for _, fits in facing:
        if fits.decided and (fits.best.map_name != "as it is" or not _still(fits.best.shift_mm)):
            shift = fits.best.shift_mm
            votes.setdefault((fits.best.map_name, round(shift[0] * 5), round(shift[1] * 5)), []).append(fits)
    most = max(votes.values(), key=len, default=[])
    if len(most) >= 2 and 2 * len(most) > len(facing):
        return most[0].best.map_name, most[0].best.shift_mm
    return None


def _relative(fits: Registration, name: MapName, shift: tuple[float, float]) -> Registration:
    """Fits as they would be if what they are held against were laid right."""
    turn = MAPS[name]
    renamed = []
    for fit in fits.fits:
        sign = MAPS[fit.map_name]
        other = next(n for n, s in MAPS.items() if s == (sign[0] * turn[0], sign[1] * turn[1]))
        moved = (fit.shift_mm[0] - shift[0], fit.shift_mm[1] - shift[1])
        renamed.append(type(fit)(other, fit.hits, moved))
    return Registration(tuple(renamed), fits.reference_places)


def _backwards(fits: Registration) -> Registration:
    """Fits of places on pads turned into those of the layer itself: the shift the other way."""
    return Registration(
        tuple(type(f)(f.map_name, f.hits, (-f.shift_mm[0], -f.shift_mm[1])) for f in fits.fits), fits.reference_places
    )


def _still(shift: tuple[float, float]) -> bool:
    """Whether a shift is none."""
    return abs(shift[0]) < _STILL_MM and abs(shift[1]) < _STILL_MM


def _layer(role: FileRole) -> str:
    """Side and kind in words."""
    return f"{role.side} {role.role}".strip()
