"""Netlists after IPC-D-356 and 356A, in the dialects that programs write."""

from __future__ import annotations

import re
from collections.abc import Iterable

from scanloom.formats.board_files.damage import Damaged
from scanloom.stages.board.model import NetPoint, Side

MOST_POINTS = 200_000
"""Points of one netlist. [1]"""
_KINDS = ("317", "327", "367")
_HOLE = re.compile(r"D\s*(\d{1,5})\s*([PU])?")
_LONG = re.compile(r"([^\s-]{7,})-(\S{1,8}?)\s*M?\s*(?=D\s*\d|A\s?\d\d)")
_ACCESS = re.compile(r"A\s?(\d\d)")
_AT = re.compile(r"X\s*([+-]?\s*\d+)\s*Y\s*([+-]?\s*\d+)")
_ALIAS = re.compile(r"(NNAME\S*)\s+(\S.*)")
_NAMELESS = ("", "N/C", "NC")
_OPEN = "unconnected-("  # how one program names the net of a pin that is joined to nothing; cut short, many become one


def read_ipc356(text: str) -> tuple[tuple[NetPoint, ...], tuple[str, ...], str, int]:
    """Points of a netlist.

    Parameters
    ----------
    text : str
        The file.

    Returns
    -------
    tuple
        The points; remarks; why it may not be whole; copper layers that the board has by its access sides. [1]

    Raises
    ------
    Damaged
        If it is no netlist of this kind.

    References
    ----------
    [ipc356] IPC-D-356A, record layout as the files of five programs agree on it; rarer records from memory.
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    scale = _scale(lines)
    aliases = _aliases(lines)
    found: list[tuple[str, str, NetPoint, int]] = []
    ended = False
    unread = 0
    for line in lines:
        if line.startswith("999"):
            ended = True
            break
        if not line.startswith(_KINDS):
            continue
        at = _AT.search(line, 38)
        if at is None:
            unread += 1
            continue
        if len(found) >= MOST_POINTS:
            raise Damaged(f"more than {MOST_POINTS} points; export one board alone")
        found.append(_point(line, at, scale, aliases))
    if not found:
        raise Damaged("no record 317 or 327 is found; an IPC-D-356 netlist is wanted; check what was exported")
    bottom = max(2, *(layer for *_, layer in found))
    points = tuple(_sided(point, layer, bottom) for _, _, point, layer in found)
    remarks = [f"{unread} records without a place are passed over"] if unread else []
    if aliases:
        remarks.append(f"{len(aliases)} long net names are given by alias")
    if bottom > 2:
        remarks.append(f"the bottom is called A{bottom:02d}")
    damage = "" if ended else "it ends without record 999, so the rest may be missing"
    return points, tuple(remarks), damage, bottom


def _point(line: str, at: re.Match[str], scale: float, aliases: dict[str, str]) -> tuple[str, str, NetPoint, int]:
    """One record: number of its access layer beside the point."""
    net = line[3:17].strip()
    net = aliases.get(net, net)
    part = line[20:26].strip()
    pin = line[27:31].strip() if line[26:27] == "-" else ""
    long = None if line[26:27] in ("-", " ", "") else _LONG.match(line[20 : at.start()])
    if long is not None:  # a designator that was not cut pushes the rest to the right
        part, pin = long.groups()
    pin = str(int(pin)) if pin.isascii() and pin.isdigit() else pin  # 01 is what others call 1
    via = part.upper() == "VIA"
    tail = line[31 : at.start()]
    hole = _HOLE.search(tail)
    access = _ACCESS.search(tail)
    x, y = (int(word.replace(" ", "")) * scale for word in at.groups())
    through = line.startswith(("317", "367"))
    point = NetPoint(
        "" if net.upper() in _NAMELESS or net.lower().startswith(_OPEN) else net,
        "" if via else part,
        pin,
        x,
        y,
        "both",
        int(hole[1]) * scale if hole and through else 0.0,
        not (line.startswith("367") or (hole is not None and hole[2] == "U")),
        via,
    )
    layer = int(access[1]) if access else 0 if through else 1
    return net, part, point, layer


def _sided(point: NetPoint, layer: int, bottom: int) -> NetPoint:
    """The point with its side: A00 both, A01 top, the highest number the bottom, whatever it is."""
    side: Side = "both" if layer == 0 else "top" if layer == 1 else "bottom" if layer == bottom else "inner"
    if side == "both":
        return point
    return NetPoint(
        point.net, point.part, point.pin_name, point.x_mm, point.y_mm, side, point.hole_mm, point.plated, point.is_via
    )


def _scale(lines: Iterable[str]) -> float:
    """Millimetres in one unit of the file; ten-thousandths of an inch where it does not say."""
    for line in lines:
        if line.startswith(("P", "p")) and "UNITS" in line.upper():
            words = line.upper().split("UNITS", 1)[1].split()
            return 0.001 if "1" in words[:2] or "SI" in words else 0.00254
    return 0.00254


def _aliases(lines: Iterable[str]) -> dict[str, str]:
    """Long names of nets, by the short ones that records use."""
    made: dict[str, str] = {}
    for line in lines:
        if not line.startswith(("P", "C")):
            continue
        found = _ALIAS.match(line[1:].strip())
        if found:
            made[found[1]] = found[2].strip()
            made.setdefault(found[1].removeprefix("NNAME"), found[2].strip())  # in comments the record keeps the tail
    return made
