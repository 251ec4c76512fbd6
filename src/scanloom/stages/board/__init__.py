"""The board: fabrication files against the dossier, before money moves. No layout rule check.

Polygons and arrays are heavy; only the review imports this stage.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from scanloom.basis.outcome import Outcome
from scanloom.basis.verdict import Place
from scanloom.dossier.reading import Reading
from scanloom.stages.board.full_names import with_full_names, with_full_parts
from scanloom.stages.board.inlet import judge_inlet
from scanloom.stages.board.joined import judge_joined
from scanloom.stages.board.lane_paths import judge_lane_paths
from scanloom.stages.board.milling import Milled, judge_milling
from scanloom.stages.board.model import NO_END, BoardFiles, Netlist
from scanloom.stages.board.parts import judge_parts
from scanloom.stages.board.placing import judge_placing
from scanloom.stages.board.register import hits_of
from scanloom.stages.board.rescue import Fitting, rescue
from scanloom.stages.board.result import BoardReview
from scanloom.stages.board.revisions import judge_revisions
from scanloom.stages.board.serial_pair import judge_serial
from scanloom.stages.board.sides import judge_sides, judge_swapped, pad_places
from scanloom.stages.board.sight import Sight
from scanloom.stages.board.sizes import judge_sizes
from scanloom.stages.board.sockets import judge_sockets
from scanloom.stages.board.spaces import judge_probes, judge_spaces
from scanloom.stages.board.straps import judge_straps
from scanloom.stages.board.supply_pins import judge_supply_pins
from scanloom.stages.board.sync_paths import judge_sync_paths

_TABLES = (".csv", ".tsv", ".txt", ".pos", ".bom", ".xy", ".mnt", ".mnb", ".pnp")

__all__ = ["BoardReview", "judge_board"]


def judge_board(reading: Reading, files: BoardFiles) -> Outcome[BoardReview]:
    """Review a board's files against the dossier.

    Parameters
    ----------
    reading : Reading
        Of no rig: the board is shared by all. A dossier without a board leaves those checks unknown.
    files : BoardFiles
        What was read from the folder.

    Returns
    -------
    Outcome
        What was found, and every verdict.
    """
    files = with_full_names(with_full_parts(files))
    sight = Sight(reading, files)
    _roles(sight)
    lying = judge_sides(sight)
    moved = lying.found.get(sight.netlist.role.file) if sight.netlist is not None else None
    if moved is not None and moved[0] == "as it is":  # told; the rest is judged as if it counted from the same origin
        del lying.found[files.netlists[0].role.file]
        files = replace(files, netlists=(_shifted(files.netlists[0], moved[1]),))
        sight = Sight(reading, files, sight.verdicts)
        lying.sight = sight
    counted_right = sight.netlist is None or lying.is_as_it_is(sight.netlist.role)
    if counted_right and all(lying.is_as_it_is(layer.role) for layer in files.of("paste")):
        _contents(sight)
    judge_swapped(sight, lying)
    judge_revisions(sight, lying)
    judge_joined(sight, lying)
    paths, channels = judge_lane_paths(sight)
    syncs = judge_sync_paths(sight)
    places_right = sight.netlist is None or lying.is_as_it_is(sight.netlist.role)
    judge_sockets(sight, places_right)
    judge_serial(sight)
    judge_inlet(sight)
    judge_supply_pins(sight)
    judge_straps(sight)
    milled = judge_milling(sight, lying)
    fittings = _judge_rescue(sight, milled)
    by_hand = judge_parts(sight)
    if places_right:  # else the netlist's own verdict says it all
        judge_placing(sight)
    judge_spaces(sight, lying)
    judge_sizes(sight, lying)
    judge_probes(sight)
    box = sight.outline_box
    size = (box[2] - box[0], box[3] - box[1]) if box is not None else None
    graph = sight.graph
    review = BoardReview(
        files.roles,
        size,
        len(graph.parts),
        len(graph.pins),
        len(files.holes),
        paths,
        by_hand,
        lying.found,
        milled,
        fittings,
        channels,
        syncs,
    )
    return Outcome(review, tuple(sight.verdicts))


def _shifted(netlist: Netlist, shift_mm: tuple[float, float]) -> Netlist:
    """A netlist whose points are moved."""
    points = tuple(replace(p, x_mm=p.x_mm + shift_mm[0], y_mm=p.y_mm + shift_mm[1]) for p in netlist.points)
    return replace(netlist, points=points)


def _roles(sight: Sight) -> None:
    """What every file was taken for, what is damaged, what stands twice."""
    roles = sight.files.roles
    damaged = [role for role in roles if role.damage and (role.role != "unreadable" or _matters(role.file))]
    for role in damaged[:8]:
        # some old programs leave the last command away: what is there may be whole, and nobody can see it
        whole = role.damage == NO_END
        table = role.role == "unreadable" and role.file.lower().endswith(_TABLES)
        sight.verdict(
            "board.file-damaged", "board.files", "caution" if table else "stop",
            f"{role.file} may not be whole: {role.damage}." if whole else f"{role.file} cannot be read whole: {role.damage}.",
            state="unknown" if whole else "fails", used=(role,), place=Place(role.file, role.role),
            doubt="Export the file again and compare its size.",
        )  # fmt: skip
    single = ("copper", "mask", "paste", "legend", "outline", "netlist", "centroid", "parts-list")
    seen: dict[tuple[str, str], list[str]] = {}
    for role in roles:
        if role.role in single and role.side != "inner":
            seen.setdefault((role.role, role.side), []).append(role.file)
    twice = {what: names for what, names in seen.items() if len(names) > 1 and what[0] not in ("centroid", "outline")}
    listed = [
        f"{r.file}: {f'{r.side} {r.role}'.strip()} (by {r.decided_by or 'nothing'})" for r in roles if r.role != "other"
    ]
    if twice:
        (kind, side), names = next(iter(twice.items()))
        sight.verdict(
            "board.roles", "board.files", "caution", f"{len(names)} files claim to be the {f'{side} {kind}'.strip()}.", state="fails",
            used=roles, seen=", ".join(names[:5]), wanted="one", place=Place(names[1], kind),
            doubt="Copies of an older export lie beside the new one: empty the folder first, or say what each file is.",
        )  # fmt: skip
    else:
        sight.verdict(
            "board.roles", "board.files", "note", f"{len(listed)} files were told apart.", state="holds", used=roles,
            seen="; ".join(listed[:40]), wanted="what you exported",
        )  # fmt: skip


def _judge_rescue(sight: Sight, milled: tuple[Milled, ...]) -> tuple[Fitting, ...]:
    """Ways to fit the parts of a board that comes out as its mirror image, or has come out so already."""
    if not any(one.mirror_state in ("flipped", "flipped twice") for one in milled) or not sight.graph.parts:
        return ()
    fittings = rescue(sight.graph)
    lost = [one.part for one in fittings if one.way == "none"]
    ways = [f"{one.part} {one.way}" for one in fittings if one.way not in ("as planned", "none")]
    sight.verdict(
        "board.rescue", "board.files", "note",
        f"If the board has been cut already, no way of fitting helps {', '.join(lost[:8])}." if lost
        else f"If the board has been cut already: {', '.join(ways[:20])}; all others as planned.",
        state="fails" if lost else "holds", used=sight.graph.roles, seen=f"{len(fittings)} parts proved pin by pin on the netlist",
        wanted="every pin on a pad of its own net", doubt="Bodies may be in one another's way: lay them on before you solder.",
    )  # fmt: skip
    return fittings


def _contents(sight: Sight) -> None:
    """Files that do not hold what their role asks for."""
    for layer in sight.files.of("outline"):
        pads = sum(one.kind == "flash" for one in layer.drawn)
        if pads > 3 or not layer.drawn:
            sight.verdict(
                "board.roles", f"board.files.{layer.role.file}", "stop", f"{layer.role.file} is no outline.", state="fails",
                used=(layer.role,), seen=f"{pads} pads among {len(layer.drawn)} objects", wanted="lines around the board",
                place=Place(layer.role.file, "outline"), doubt="Two files whose names were exchanged look so.",
            )  # fmt: skip
    for side in ("top", "bottom"):
        rows = [row for table in sight.files.placements for row in table.rows_placed if row.side == side]
        for layer in sight.files.of("paste", side):
            dabs = pad_places(layer)
            spots = [
                (at.x_mm, at.y_mm) for row in rows for pin in sight.graph.parts.get(sight.graph.part(row.part), ())
                for at in sight.graph.places.get(pin, ()) if at.access == side
            ]  # fmt: skip
            met = int(hits_of(np.array(spots).reshape(-1, 2), dabs, 1.0).sum()) if spots else 0
            lines = sum(one.kind == "stroke" for one in layer.drawn)
            if (len(spots) >= 6 and not met) or (not spots and lines > 20):
                sight.verdict(
                    "board.roles", f"board.files.{layer.role.file}", "caution",
                    f"{layer.role.file} puts no paste on the pads of its side.", state="fails",
                    used=(layer.role, *(t.role for t in sight.files.placements)),
                    seen=f"{met} of {len(spots)} pads of placed parts, {lines} lines", wanted="paste on most of them",
                    place=Place(layer.role.file, f"{side} paste"), doubt="Two files whose names were exchanged look so.",
                )  # fmt: skip


def _matters(name: str) -> bool:
    """Whether an unreadable file looks like one of the board's: pictures and notes do not."""
    return not name.lower().endswith(
        (".pdf", ".png", ".jpg", ".jpeg", ".svg", ".html", ".md", ".json", ".step", ".zip")
    )
