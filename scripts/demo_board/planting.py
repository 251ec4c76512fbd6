"""What a planted mistake is: a set of files, and the record of what is wrong with it and where."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from demo_board import sets
from demo_board.board import board_of
from demo_board.nouns import Board, Part
from demo_board.sets import Files

COPPER = ("top-copper", "bottom-copper")
ROUTED = (*COPPER, "plated", "netlist")
"""Files that a change of nets alters: tracks and vias move, parts stay."""
TABLES = ("centroid", "bom")
ALL = sets.ROLES


@dataclass(frozen=True, slots=True)
class Where:
    """A place: a file's role, a pin such as `J4-2` or a part, a net, a spot in millimetres; what does not apply is empty.

    A finding at the spot may lie `within_mm` of it: half the copper changed and 1 mm, since a finding names one point of it.
    """

    role: str = ""
    pin: str = ""
    net: str = ""
    x_mm: float | None = None
    y_mm: float | None = None
    within_mm: float = 1.0


@dataclass(frozen=True, slots=True)
class Made:
    """Files that replace those of the good set, and places that are known only once they are made."""

    files: Files
    where: tuple[Where, ...] = ()


@dataclass(frozen=True, slots=True)
class Mistake:
    """One planted mistake.

    `code` is the verdict it must raise; `or_else` are codes that say the same as well; `follows` may fail besides, since
    they follow by necessity; `roles` are the files that differ from the good set, all others are the same to the byte.
    """

    name: str
    planted: str
    code: str
    roles: tuple[str, ...]
    make: Callable[[Board], Made]
    where: tuple[Where, ...] = ()
    follows: tuple[str, ...] = ()
    or_else: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Planted:
    """A mistake carried out: its whole set of files."""

    mistake: Mistake
    files: Files = field(repr=False)
    where: tuple[Where, ...] = ()


def carried_out(mistake: Mistake, good: Board, good_files: Files) -> Planted:
    """The good set with a mistake in it."""
    made = mistake.make(good)
    return Planted(mistake, good_files | made.files, (*mistake.where, *made.where))


def only(board: Board, *roles: str) -> Made:
    """Some files written from another board."""
    return Made(sets.files(board, only=roles))


def relaid(good: Board, parts: tuple[Part, ...], roles: tuple[str, ...]) -> Made:
    """Files of the board laid out anew with other parts or nets."""
    return only(board_of(parts, good.revision), *roles)


def without(parts: tuple[Part, ...], ref: str) -> tuple[Part, ...]:
    """The parts less one."""
    return tuple(part for part in parts if part.ref != ref)


def joined(parts: tuple[Part, ...], net: str, other: str) -> tuple[Part, ...]:
    """The parts with all pins of one net on another."""
    return tuple(
        replace(part, nets={pin: other if name == net else name for pin, name in part.nets.items()}) for part in parts
    )


def shifted(good: Board, dx_um: int, dy_um: int) -> Board:
    """All of the board moved."""
    return good.moved(lambda point: (point[0] + dx_um, point[1] + dy_um))


def file_only(role: str) -> tuple[Where, ...]:
    """A place that is a whole file."""
    return (Where(role=role),)
