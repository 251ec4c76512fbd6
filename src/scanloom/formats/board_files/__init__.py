"""Fabrication files of a board: each read for what it is, whatever its program called it."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scanloom.formats.board_files.damage import Damaged
from scanloom.formats.board_files.drill import read_drill
from scanloom.formats.board_files.drill_format import DrillText, formats_to_try, holes_of, score
from scanloom.formats.board_files.gerber import read_gerber
from scanloom.formats.board_files.ipc356 import read_ipc356
from scanloom.formats.board_files.raw_files import RawFile, raw_files
from scanloom.formats.board_files.roles import (
    Guess,
    by_attributes,
    by_name,
    drawn_in_negative,
    drill_span,
    has_telling_end,
    says_unplated,
)
from scanloom.formats.board_files.second_look import images_together, tables_on_the_board
from scanloom.formats.board_files.tables import (
    is_centroid,
    listed_lines,
    placed_rows,
    read_table,
)
from scanloom.formats.board_files.text import decoded, is_text
from scanloom.formats.board_files.tool_path import read_tool_path
from scanloom.formats.input_error import InputError, InputFault
from scanloom.stages.board.model import (
    BoardFiles,
    Drill,
    FileRole,
    Layer,
    Netlist,
    PartsList,
    Placement,
    Role,
    Side,
    ToolPath,
)

__all__ = ["ROLE_WORDS", "Damaged", "read_board_files"]

ROLE_WORDS: dict[str, Guess] = {
    **{f"{side} {role}": (role, side) for side in ("top", "bottom") for role in ("copper", "mask", "paste", "legend")},
    "inner copper": ("copper", "inner"),
    "outline": ("outline", ""),
    "drill": ("drill", ""),
    "plated drill": ("drill", "both"),
    "unplated drill": ("drill", ""),
    "netlist": ("netlist", ""),
    "centroid": ("centroid", ""),
    "parts-list": ("parts-list", ""),
    "tool-path": ("tool-path", ""),
    "top tool-path": ("tool-path", "top"),
    "bottom tool-path": ("tool-path", "bottom"),
    "other": ("other", ""),
}
"""What a file may be said to be."""

_PLACED_ROW = re.compile(r"(?m)^[A-Za-z]{1,6}\d+\S*\s.*\d\.\d+\s+[-+]?\d+\.\d")
_IMAGES = ("copper", "mask", "paste", "legend", "outline")


class _Set:
    """Files read so far."""

    def __init__(self, said: Mapping[str, str]) -> None:
        """Nothing yet, but what the maker says of some files."""
        self.said = dict(said)
        self.roles: list[FileRole] = []
        self.layers: list[Layer] = []
        self.negatives: list[str] = []
        self.drills: list[tuple[FileRole, DrillText, bool | None]] = []
        self.netlists: list[Netlist] = []
        self.placements: list[Placement] = []
        self.parts_lists: list[PartsList] = []
        self.tool_paths: list[ToolPath] = []

    def take(self, raw: RawFile) -> None:
        """Read one file for what it is."""
        said = self.said.pop(raw.name, None) or self.said.pop(raw.name.rsplit("/", 1)[-1], None)
        base = FileRole(raw.name, "other", sha256=raw.sha256)
        if raw.refused:
            self.roles.append(replace(base, role="unreadable", damage=raw.refused))
            return
        if not is_text(raw.data):
            self.roles.append(replace(base, decided_by="content", remarks=("no text",)))
            return
        text, encoding = decoded(raw.data)
        remarks = () if encoding == "utf-8" else (f"read as {encoding}",)
        base = replace(base, remarks=remarks)
        guess = ROLE_WORDS[said] if said is not None else by_name(raw.name)
        if said == "other":
            self.roles.append(replace(base, decided_by="you"))
            return
        try:
            self._read(base, text, guess, "you" if said is not None else "name" if guess else "content", said or "")
        except Damaged as error:
            self.roles.append(
                replace(base, role="unreadable", side=guess[1] if guess else "", decided_by="name", damage=str(error))
            )
        except (RecursionError, OverflowError, ValueError, ArithmeticError) as error:
            why = f"it cannot be made sense of ({type(error).__name__}: {str(error)[:80]}); export the file again"
            self.roles.append(replace(base, role="unreadable", decided_by="name", damage=why))

    def _read(self, base: FileRole, text: str, guess: Guess | None, by: str, said: str) -> None:
        """Try the readers that fit, the one that the name or the maker points to first."""
        role = guess[0] if guess else None
        head = text[:20_000]
        steps: list[tuple[bool, bool, Callable[[], None]]] = [
            (role in _IMAGES, _like_image(head), lambda: self._image(base, text, guess, by)),
            (role == "drill", _like_drill(head), lambda: self._drill(base, text, guess, by, said)),
            (role == "netlist", "\n317" in head or "\n327" in head or head.startswith(("317", "P  ")),
             lambda: self._netlist(base, text, by)),
            (role == "tool-path", _like_tool_path(head), lambda: self._path(base, text, guess, by)),
            (False, _like_table(base.file, head), lambda: self._table(base, text, role, by)),
        ]  # fmt: skip
        if by == "you" and role in ("centroid", "parts-list"):
            self._table(base, text, role, by)
            return
        # what a file holds outweighs an odd name, unless the maker has spoken
        chosen = [work for named, held, work in steps if named and (held or by == "you")]
        sure = by == "you" or has_telling_end(base.file)  # a word in a name alone is no reason to call a note damaged
        chosen = (
            chosen or [work for _, held, work in steps if held] or [work for named, _, work in steps if named and sure]
        )
        if not chosen:
            self.roles.append(
                replace(base, decided_by="content", remarks=(*base.remarks, "nothing that a board needs"))
            )
            return
        chosen[0]()

    def _image(self, base: FileRole, text: str, guess: Guess | None, by: str) -> None:
        """A Gerber image."""
        picture = read_gerber(text)
        own = by_attributes(picture.attributes)
        if by != "you" and own is not None:
            guess, by = own, "attributes"
        role, side = guess if guess is not None else ("other", "")
        if role not in (*_IMAGES, "other"):
            role, side = "other", ""
        remarks = (*base.remarks, *picture.remarks)
        made = replace(
            base, role=role, side=side, decided_by=by, remarks=remarks, damage=picture.damage, attributes=picture.attributes
        )  # fmt: skip
        self.roles.append(made)
        if role != "other" or guess is None:
            layer = Layer(made, picture.drawn, picture.shapes, picture.paths)
            stated = own is not None and picture.attributes.get(".FilePolarity", "").lower()
            if role == "copper" and (
                picture.negative or stated == "negative" or (not stated and drawn_in_negative(base.file))
            ):
                self.negatives.append(made.file)
            self.layers.append(layer)

    def _drill(self, base: FileRole, text: str, guess: Guess | None, by: str, said: str) -> None:
        """A drill file; its numbers wait for the copper."""
        read = read_drill(text)
        own = by_attributes(read.attributes)
        if by != "you" and own is not None:
            by = "attributes"
        unplated = says_unplated(base.file, read.attributes)
        if said in ("plated drill", "unplated drill"):
            unplated = said == "unplated drill"
        made = replace(
            base, role="drill", decided_by=by, attributes=read.attributes,
            damage="" if read.whole_file else "it ends without M30, so the rest may be missing",
        )  # fmt: skip
        self.drills.append((made, read, None if unplated is None else not unplated))

    def _netlist(self, base: FileRole, text: str, by: str) -> None:
        """A netlist."""
        points, remarks, damage, layers = read_ipc356(text)
        made = replace(base, role="netlist", decided_by=by, remarks=(*base.remarks, *remarks), damage=damage)
        self.roles.append(made)
        self.netlists.append(Netlist(made, points, layers))

    def _path(self, base: FileRole, text: str, guess: Guess | None, by: str) -> None:
        """A tool path; its side by its name."""
        cuts, plunges, remarks, damage = read_tool_path(text)
        words = base.file.lower()
        side: Side = guess[1] if guess and guess[1] else "bottom" if "bot" in words or "back" in words else ""
        side = side or ("top" if "top" in words or "front" in words else "")
        made = replace(
            base, role="tool-path", side=side, decided_by=by, remarks=(*base.remarks, *remarks), damage=damage
        )  # fmt: skip
        self.roles.append(made)
        self.tool_paths.append(ToolPath(made, cuts, plunges))

    def _table(self, base: FileRole, text: str, role: Role | None, by: str) -> None:
        """A centroid file or a parts list."""
        try:
            sheet = read_table(text)
        except Damaged as error:
            if by == "you" or any(
                word in base.file.lower() for word in ("bom", "parts", "centroid", "place", "pos", "pick")
            ):
                raise
            self.roles.append(replace(base, decided_by="content", remarks=(*base.remarks, str(error))))
            return
        if role == "centroid" and not is_centroid(sheet):
            raise Damaged("no columns for X and Y; a centroid file has them; add them, or call it parts-list")
        if role == "centroid" or (role != "parts-list" and is_centroid(sheet)):
            rows, remarks = placed_rows(sheet)
            made = replace(base, role="centroid", decided_by=by, remarks=(*base.remarks, *remarks))
            self.placements.append(Placement(made, rows))
        else:
            lines, remarks = listed_lines(sheet)
            made = replace(base, role="parts-list", decided_by=by, remarks=(*base.remarks, *remarks))
            self.parts_lists.append(PartsList(made, lines))
        self.roles.append(made)

    def _settle(self, kept: list[Any], seen: Sequence[Any]) -> None:
        """Keep what a second look made of some files, and their roles."""
        for number, one in enumerate(seen):
            self.roles[self.roles.index(kept[number].role)] = one.role
            kept[number] = one

    def finish(self) -> BoardFiles:
        """Everything read; drill formats that the files leave open are decided against the copper."""
        self._settle(self.layers, images_together(self.layers, self.negatives))
        self._settle(self.placements, tables_on_the_board(self.placements, self.layers))
        pads = _pads(self.layers)
        drills = []
        for role, text, plated in self.drills:
            try:
                drills.append(_decided(role, text, plated, pads))
            except Damaged as error:
                self.roles.append(replace(role, role="unreadable", damage=str(error)))
        roles = sorted([*self.roles, *(drill.role for drill in drills)], key=lambda one: one.file)
        return BoardFiles(
            tuple(roles), tuple(self.layers), tuple(drills), tuple(self.netlists), tuple(self.placements),
            tuple(self.parts_lists), tuple(self.tool_paths),
        )  # fmt: skip


def read_board_files(path: Path, shown: str | None = None, said: Mapping[str, str] | None = None) -> BoardFiles:
    """Read a folder or a zip of fabrication files.

    Parameters
    ----------
    path : Path
        Folder or zip.
    shown : str or None
        The path as the user named it.
    said : Mapping or None
        What the maker says a file is, by its name, in words of `ROLE_WORDS`.

    Returns
    -------
    BoardFiles
        Every file with its role, and what was read from it.

    Raises
    ------
    InputError
        If there is no such folder or zip, or no file of a board in it, or a file is named that is not there.
    """
    shown = shown or str(path)
    work = _Set(said or {})
    for raw in raw_files(path, shown):
        work.take(raw)
    if work.said:
        raise InputError(
            tuple(
                InputFault(shown, 0, 0, name, f"no such file; a file of {shown} is wanted; correct the name")
                for name in work.said
            )
        )
    files = work.finish()
    if all(one.role == "other" for one in files.roles):
        text = "no file of a board is in it; Gerber, drill, netlist and table files are read; name the right folder"
        raise InputError((InputFault(shown, 0, 0, "", text),))
    return files


def _decided(role: FileRole, text: DrillText, plated: bool | None, pads: NDArray[np.float64]) -> Drill:
    """Holes in the format that puts most of them on pads."""
    tried = formats_to_try(text)
    made = [(form, holes_of(text, form, plated)) for form in tried]
    remarks = list(role.remarks)
    form, holes = made[0]
    if len(made) > 1 and text.hits and len(pads):
        scored = sorted(((score(some, pads), -number) for number, (_, some) in enumerate(made)), reverse=True)
        form, holes = made[-scored[0][1]]
        remarks.append(
            f"format not given: {form.words} puts {scored[0][0]:.0%} of the holes on pads, the next best {scored[1][0]:.0%}"
        )
    elif len(made) > 1 and text.hits:
        remarks.append(f"format not given, and no copper to try it on: read as {form.words}")
    if text.curved:
        remarks.append("curved slots are taken as straight")
    if any(hole.diameter_mm is None for hole in holes):
        remarks.append("tools without a diameter")
    done = replace(role, remarks=tuple(remarks))
    return Drill(done, holes, drill_span(role.file, role.attributes))


def _pads(layers: list[Layer]) -> NDArray[np.float64]:
    """Where copper is flashed."""
    places = [
        (one.x_mm, one.y_mm)
        for layer in layers
        if layer.role.role == "copper"
        for one in layer.drawn
        if one.kind == "flash"
    ]
    return np.array(places, dtype=float).reshape(-1, 2)


def _like_image(head: str) -> bool:
    """Whether text holds a format or an aperture; some programs give the percent sign a line of its own."""
    return re.search(r"%\s*(?:FS[LTDAI]|ADD\d)", head) is not None


def _like_drill(head: str) -> bool:
    """Whether text begins as drill files do."""
    return head.lstrip("\ufeff %\n").startswith("M48") or ("\nM48" in head[:2000] and not _like_image(head))


def _like_tool_path(head: str) -> bool:
    """Whether text holds words of a mill."""
    if _like_image(head) or "M48" in head[:200]:
        return False
    lines = [line for line in head.upper().split("\n") if line.strip()][:400]
    moves = sum(("G0" in line or "G1" in line or "G2" in line or "G3" in line) for line in lines)
    return (
        moves >= 3 and any("Z" in line and "G" in line for line in lines) and not any("D01*" in line for line in lines)
    )


def _like_table(name: str, head: str) -> bool:
    """Whether text is a table."""
    ending = name.lower().rpartition(".")[2]
    if ending in ("pos", "csv", "mnt", "mnb", "pnp"):
        return True
    marks = head.count(",") + head.count(";") + head.count("\t")
    return ending in ("tsv", "txt", "bom", "xy") and (marks > 2 or _PLACED_ROW.search(head) is not None)
