"""Sets of files: a board in, names and bytes out."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

from demo_board import drills, gerber, tables
from demo_board.netlist import netlist
from demo_board.nouns import BOTTOM, TOP, Board

Files = dict[str, bytes]
LAYERS = (
    "top-copper", "bottom-copper", "top-mask", "bottom-mask", "top-paste", "bottom-paste", "top-legend", "bottom-legend", "outline",
)  # fmt: skip
ROLES = (*LAYERS, "plated", "unplated", "netlist", "centroid", "bom")
ENDINGS = {"plated": "drl", "unplated": "drl", "netlist": "ipc", "centroid": "csv", "bom": "csv"}


@dataclass(frozen=True, slots=True)
class Dialects:
    """Spelling of each kind of file, and how files are called: `roles`, by `endings`, by `initials`, or by `numbers`."""

    gerber: gerber.Style = field(default_factory=gerber.Style)
    drill: str = "xnc"
    netlist: str = "cut"
    table: tables.Style = field(default_factory=tables.Style)
    names: str = "roles"


PLAIN = Dialects()
NAMED: dict[str, Dialects] = {
    "plain": PLAIN,
    "netlist-noted": Dialects(netlist="noted"),
    "netlist-listed": Dialects(netlist="listed"),
    "comment-attributes": Dialects(gerber=gerber.Style("comments")),
    "no-attributes": Dialects(gerber=gerber.Style("none"), drill="no-attributes"),
    "inch": Dialects(gerber=gerber.Style(inch=True), drill="inch"),
    "slots-in-one": Dialects(drill="g85"),
    "drill-no-format": Dialects(drill="no-format"),
    "decimal-comma": Dialects(table=tables.Style(comma=True, marked=True)),
    "wide-csv": Dialects(table=tables.Style(encoding="utf-16")),
    "named-by-endings": Dialects(gerber=gerber.Style("none"), drill="no-attributes", names="endings"),
    "named-by-initials": Dialects(gerber=gerber.Style("none"), drill="no-attributes", names="initials"),
    "numbered": Dialects(names="numbers"),
    "shouted-values": Dialects(table=tables.Style(shouted=True, marked=True)),
}


NAMES = {
    "endings": (
        "gtl", "gbl", "gts", "gbs", "gtp", "gbp", "gto", "gbo", "gko", "drl", "npth.drl", "ipc", "centroid.csv", "bom.csv",
    ),
    "initials": (
        "CuTop", "CuBottom", "MaskTop", "MaskBottom", "PasteTop", "PasteBottom", "InkTop", "InkBottom", "EdgeCuts",
        "PTH", "NPTH", "Netlist", "Places", "Parts",
    ),
}  # fmt: skip
"""What files are called when not by their role, in the order of the roles."""


def name(board: Board, role: str, names: str = "roles") -> str:
    """File name of a role."""
    ending = ENDINGS.get(role, "gbr")
    if names == "numbers":
        return f"{roles(board).index(role) + 1:02}.{ending}"
    if names in NAMES and role in ROLES:
        word = NAMES[names][ROLES.index(role)]
        return f"{board.name}.{word}" if names == "endings" else f"{word}.{ending}"
    return f"{board.name}-{role}.{ENDINGS.get(role, 'gbr')}"


def roles(board: Board) -> tuple[str, ...]:
    """Roles of a board's files, inner copper included."""
    return (*ROLES, *(f"inner-{number}-copper" for number in range(2, 2 + len(board.inner))))


def written(board: Board, role: str, dialects: Dialects = PLAIN) -> bytes:
    """One file of a board."""
    style = dialects.gerber
    if role.startswith("inner-"):
        number = int(role.split("-")[1])
        return gerber.plane(board, number, board.inner[number - 2], style).encode()
    kinds: dict[str, Callable[[], str | bytes]] = {
        "outline": lambda: gerber.outline(board, style),
        "plated": lambda: drills.drill_file(board, drills.plated_hits(board), plated=True, dialect=dialects.drill),
        "unplated": lambda: drills.drill_file(board, drills.unplated_hits(board), plated=False, dialect=dialects.drill),
        "netlist": lambda: netlist(board, dialects.netlist),
        "centroid": lambda: tables.centroid(board, dialects.table),
        "bom": lambda: tables.bill(board, dialects.table),
    }
    for side in (TOP, BOTTOM):
        kinds[f"{side}-copper"] = lambda side=side: gerber.copper(board, side, style)  # type: ignore[misc]
        kinds[f"{side}-mask"] = lambda side=side: gerber.openings(board, side, style)  # type: ignore[misc]
        kinds[f"{side}-paste"] = lambda side=side: gerber.paste(board, side, style)  # type: ignore[misc]
        kinds[f"{side}-legend"] = lambda side=side: gerber.legend(board, side, style)  # type: ignore[misc]
    text = kinds[role]()
    return text.encode() if isinstance(text, str) else text


def files(board: Board, dialects: Dialects = PLAIN, only: Iterable[str] | None = None) -> Files:
    """A whole set, or some of its files."""
    return {
        name(board, role, dialects.names): written(board, role, dialects)
        for role in (roles(board) if only is None else only)
    }


def save(made: Files, folder: Path) -> None:
    """Write a set into a folder, making it where it does not exist."""
    folder.mkdir(parents=True, exist_ok=True)
    for file_name, content in made.items():
        (folder / file_name).write_bytes(content)


def differing(first: Files, second: Files) -> set[str]:
    """Names of files that are not the same in both sets, or stand in one only."""
    return {key for key in first.keys() | second.keys() if first.get(key) != second.get(key)}
