"""Copper against the netlist: breaks, bridges, missing pads, and the two netlists against one another."""

from __future__ import annotations

from collections.abc import Iterable

from scanloom.basis.verdict import Place
from scanloom.stages.board.copper import Break, Bridge, Copper, Touch
from scanloom.stages.board.graph import CUT
from scanloom.stages.board.model import FileRole
from scanloom.stages.board.sides import Lying
from scanloom.stages.board.sight import Sight, at_mm

_TOUCHING_MM = 0.005
_NEAR_MM = 0.3
MOST_TOLD = 12
"""Breaks or bridges that are told one by one. [1]"""
_CUT_NET = 14  # letters of a net's name that a netlist keeps
_HARMLESS = ("JP", "NT", "SJ", "MH", "FID", "H")


def judge_joined(sight: Sight, lying: Lying) -> None:
    """Judge breaks and bridges of the copper, and whether netlist and copper pads agree on names.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.
    lying : Lying
        Which way round files lie.
    """
    copper = sight.copper
    named = sight.netlist is not None or bool(sight.graph.copper_roles)
    if copper is None or not named:
        dense = copper is None and bool(sight.files.of("copper"))
        missing = (
            "copper that can be followed"
            if dense
            else "copper layers as Gerber"
            if copper is None
            else "the netlist as IPC-D-356A"
        )
        _not_compared(sight, "board.open", missing)
        _not_compared(sight, "board.short", missing)
        return
    lacking = (
        sight.netlist.layer_count - len(copper.roles) if sight.netlist is not None and len(copper.roles) > 1 else 0
    )
    if lacking > 0:
        _not_compared(sight, "board.open", f"{lacking} more copper layers as Gerber, which the netlist tells of")
        _not_compared(sight, "board.short", f"{lacking} more copper layers as Gerber, which the netlist tells of")
        return
    source = sight.netlist.role if sight.netlist is not None else None
    used = (*copper.roles, source, *sight.drill_roles)
    wrong = [role for role in used if not lying.is_as_it_is(role)]
    if wrong:
        names = ", ".join(role.file for role in wrong if role is not None)
        _follows(sight, "board.open", f"{len(copper.breaks) + len(copper.bare)} breaks or missing pads", names, used)
        _follows(sight, "board.short", f"{len(copper.bridges)} bridges", names, used)
    elif not sight.files.drills:
        sight.verdict(
            "board.open", "board.files", "stop", "Without the drill file nobody can say what joins the sides.",
            state="unknown", used=used, doubt="Export the drill file of plated holes.",
        )  # fmt: skip
    else:
        _breaks(sight)
    if not wrong:
        _bridges(sight)
    _names(sight)


def _not_compared(sight: Sight, code: str, missing: str) -> None:
    """Copper and nets that cannot be held against one another."""
    sight.verdict(
        code, "board.files", "stop", f"Copper and netlist cannot be compared without {missing}.", state="unknown",
        used=sight.files.roles, doubt=f"Export {missing}.",
    )  # fmt: skip


def _follows(sight: Sight, code: str, what: str, names: str, used: Iterable[FileRole | None]) -> None:
    """What comes of a file that lies wrong, told once."""
    sight.verdict(
        code, "board.files", "stop", f"As the files lie there are {what}: mend {names} first.",
        state="unknown" if what.startswith("0 ") else "fails", used=used, seen=f"{names} lies wrong",
        wanted="all files as they are", place=Place(names.split(", ")[0]), doubt="Follows from the file that lies wrong.",
    )  # fmt: skip


def _breaks(sight: Sight) -> None:
    """Nets in several islands, and points without copper."""
    copper = sight.copper
    assert copper is not None
    roles = [one for one in (*copper.roles, *sight.drill_roles, sight.netlist.role if sight.netlist else None) if one]
    told = 0
    hard = [b for b in copper.breaks if not all(_harmless(t) for t in b.cut_off)]
    alike = [b for b in hard if _cut_alike(sight, b.net)]
    real = [b for b in hard if b not in alike]
    for one in alike[:MOST_TOLD]:
        sight.verdict(
            "board.open", f"board.nets.{one.net}", "stop", f"{one.net} is several pieces; it may be nets whose names were cut alike.",
            state="unknown", used=roles, seen=f"{_pins(one.cut_off)} apart from the rest", wanted="one piece of copper",
            place=Place(copper.roles[0].file, "copper", one.x_mm, one.y_mm, "-".join(one.cut_off[0].name).strip("-")),
            doubt="The netlist keeps fourteen letters of a name. Shorten the names, or export Gerber X2 with nets and pins.",
        )  # fmt: skip
    for one in real[:MOST_TOLD]:
        told += 1
        ends = _pins(one.cut_off)
        first = one.cut_off[0]
        seen = _gap(sight, one)
        hangs = "hangs" if len(one.cut_off) == 1 else "hang"
        sight.verdict(
            "board.open", f"board.nets.{one.net}", "stop", f"Net {one.net} is broken: {ends} {hangs} apart from the rest.",
            state="fails", used=roles, seen=seen,
            wanted="one piece of copper",
            place=Place(one.layer_file, "copper", one.x_mm, one.y_mm, "-".join(first.name).strip("-")),
            doubt="Sense points that are meant to stand apart, and links closed by solder, look so, too.",
        )  # fmt: skip
    bare = [t for t in copper.bare if t.net and not _harmless(t)]
    for touch in bare[: MOST_TOLD - told if told < MOST_TOLD else 0]:
        told += 1
        sight.verdict(
            "board.open", f"board.nets.{touch.net}", "stop",
            f"There is no copper where {'-'.join(touch.name).strip('-') or 'a via'} of net {touch.net} should be.",
            state="fails", used=roles, seen=f"nothing at {at_mm(touch.x_mm, touch.y_mm)}, {touch.side}", wanted="a pad",
            place=Place(_file_of(copper, touch.side), f"{touch.side} copper", touch.x_mm, touch.y_mm, "-".join(touch.name).strip("-")),
            doubt="A netlist of another revision looks so, too.",
        )  # fmt: skip
    left = len(real) + len(bare) - told
    if left > 0:
        sight.verdict(
            "board.open", "board.files", "stop", f"{left} more breaks or missing pads; mend the first ones and review again.",
            state="fails", used=roles, place=Place(copper.roles[0].file, "copper"),
            doubt="So many at once mean a mirrored side or files of two revisions.",
        )  # fmt: skip
    soft = len(copper.breaks) - len(hard)
    if soft:
        sight.verdict(
            "board.open-link", "board.files", "note", f"{soft} links or net ties stand apart from their net.",
            state="fails", used=roles, doubt="Links are closed by solder or by hand.",
        )  # fmt: skip
    if not told and not alike:
        nets = len({t.net for t in copper.touches if t.net})
        sight.verdict(
            "board.open", "board.files", "stop", "Every net is one piece of copper.", state="holds", used=roles,
            seen=f"{nets} nets, {len(copper.touches)} points, {len(copper.pieces)} pieces of copper", wanted="no gap",
        )  # fmt: skip


def _cut_alike(sight: Sight, net: str) -> bool:
    """Whether a broken net may be several whose names became one: as long as a record allows, each piece a net by itself."""
    copper = sight.copper
    assert copper is not None
    if len(net) != _CUT_NET or sight.graph.copper_roles:
        return False
    parts: dict[int, set[str]] = {}
    for touch in copper.touches:
        if touch.net == net and touch.pieces and touch.name[0]:
            parts.setdefault(int(copper.island[touch.pieces[0]]), set()).add(touch.name[0])
    return len(parts) > 1 and all(len(some) > 1 for some in parts.values())


def _gap(sight: Sight, one: Break) -> str:
    """A break in words: a gap, or a hole that is not there."""
    at = at_mm(one.x_mm, one.y_mm)
    if one.gap_mm > _TOUCHING_MM:
        return f"a gap of {one.gap_mm:.2f} mm at {at}"
    if any(max(abs(h.x_mm - one.x_mm), abs(h.y_mm - one.y_mm)) < _NEAR_MM for h in sight.plated):
        return f"top and bottom do not meet in the hole at {at}"
    return f"no plated hole joins top and bottom at {at}"


def _file_of(copper: Copper, side: str) -> str:
    """The copper file of a side."""
    return next((role.file for role in copper.roles if role.side == side), copper.roles[0].file)


def _bridges(sight: Sight) -> None:
    """Nets that are one piece of copper."""
    copper = sight.copper
    assert copper is not None
    roles = [one for one in (*copper.roles, *sight.drill_roles, sight.netlist.role if sight.netlist else None) if one]
    bridges = copper.bridges
    real = [b for b in bridges if not _tied(b)]
    for one in real[:MOST_TOLD]:
        nets = " and ".join(one.nets_joined[:4]) + (
            f" and {len(one.nets_joined) - 4} more" if len(one.nets_joined) > 4 else ""
        )
        sight.verdict(
            "board.short", f"board.nets.{one.nets_joined[0]}", "stop", f"{nets} are one piece of copper.",
            state="fails", used=roles, seen=f"joined at {at_mm(one.x_mm, one.y_mm)} in {one.layer_file}",
            wanted="copper apart",
            place=Place(one.layer_file, "copper", one.x_mm, one.y_mm, _pins(one.touches[:1])),
            doubt="Net ties, closed links and sense points are joined on purpose.",
        )  # fmt: skip
    if len(real) > MOST_TOLD:
        sight.verdict(
            "board.short", "board.files", "stop", f"{len(real) - MOST_TOLD} more nets are joined; mend the first ones.",
            state="fails", used=roles, place=Place(copper.roles[0].file, "copper"),
            doubt="So many at once mean a mirrored side or files of two revisions.",
        )  # fmt: skip
    if len(bridges) > len(real):
        sight.verdict(
            "board.short-link", "board.files", "note",
            f"{len(bridges) - len(real)} pairs of nets are joined at links, net ties or mounting holes.", state="fails",
            used=roles, doubt="Look whether each is meant to be closed.",
        )  # fmt: skip
    if not real:
        sight.verdict(
            "board.short", "board.files", "stop", "No two nets are one piece of copper.", state="holds", used=roles,
            seen=f"{len(copper.contacts)} contacts between pieces", wanted="none between nets",
        )  # fmt: skip


def _names(sight: Sight) -> None:
    """Pins that copper pads and the netlist give to different nets; the two need not use the same names."""
    graph = sight.graph
    if not graph.other_nets or graph.netlist_role is None:
        return
    pairs: dict[str, dict[str, list[tuple[str, str]]]] = {}
    full: dict[str, set[str]] = {}
    for part, _ in graph.other_nets:
        full.setdefault(part[:CUT], set()).add(part)
    for (part, pin), net in graph.other_nets.items():
        if len(full[part[:CUT]]) > 1:
            continue  # parts whose cut names became one
        other = graph.nets.get((part[:CUT], pin), graph.nets.get((part, pin)))
        if net and other:
            pairs.setdefault(net, {}).setdefault(other, []).append((part, pin))
    split = {net: others for net, others in pairs.items() if len(others) > 1}
    for net, others in list(split.items())[:MOST_TOLD]:
        rare = min(others, key=lambda one: len(others[one]))
        part, pin = others[rare][0]
        at = graph.place((part[:CUT], pin)) or graph.place((part, pin))
        sight.verdict(
            "board.netlist-differs", f"board.nets.{net}", "stop",
            f"The copper file puts {part}-{pin} on net {net}, the netlist on {rare}.", state="fails",
            used=(*graph.copper_roles, graph.netlist_role), seen=f"{rare} in the netlist", wanted=f"the net of {net}",
            place=Place(graph.netlist_role.file, "netlist", at.x_mm if at else None, at.y_mm if at else None, f"{part}-{pin}"),
            doubt="Files of two exports look so: export netlist and copper in one go.",
        )  # fmt: skip
    if not split:
        sight.verdict(
            "board.netlist-differs", "board.files", "stop", "Copper pads and netlist give every pin the same net.",
            state="holds", used=(*graph.copper_roles, graph.netlist_role), seen=f"{len(pairs)} nets compared", wanted="no pin apart",
            doubt="Both come from one program, so this does not prove the circuit right.",
        )  # fmt: skip


def _pins(touches: Iterable[Touch]) -> str:
    """A few pins in words."""
    names = list(dict.fromkeys("-".join(t.name).strip("-") or "a via" for t in touches))
    return ", ".join(names[:5]) + (f" and {len(names) - 5} more" if len(names) > 5 else "")


def _harmless(touch: Touch) -> bool:
    """Whether a point belongs to a link, a net tie, a test pad or a mounting hole."""
    name = touch.name[0].upper()
    return any(name.startswith(mark) and name[len(mark) :].isdigit() for mark in _HARMLESS)


def _tied(bridge: Bridge) -> bool:
    """Whether all but one of the joined nets meet at links and net ties only at this place."""
    free = {t.net for t in bridge.touches if not _harmless(t)}
    at = {t.net for t in bridge.touches if t.name[0].upper().startswith(("JP", "NT", "SJ")) and t.name[0][2:].isdigit()}
    near = [
        t
        for t in bridge.touches
        if t.net in at and _harmless(t) and abs(t.x_mm - bridge.x_mm) + abs(t.y_mm - bridge.y_mm) < 5.0
    ]
    return len(free) <= 1 or (set(bridge.nets_joined) <= at and bool(near))
