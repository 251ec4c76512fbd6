"""Centroid files and parts lists."""

from __future__ import annotations

from scanloom.formats.board_files.damage import Damaged
from scanloom.formats.board_files.sheet import PART, Sheet, number, part_names, read_sheet
from scanloom.stages.board.model import Listed, Placed, Side

_PART = (
    "designator",
    "reference",
    "ref",
    "refdes",
    "ref des",
    "references",
    "designators",
    "reference designator",
    "part",
    "refs",
)
_X = (
    "mid x",
    "posx",
    "pos x",
    "x",
    "center x",
    "centre x",
    "x mm",
    "location x",
    "ref x",
    "pos x mm",
    "centroid x",
    "centerx",
)
_Y = (
    "mid y",
    "posy",
    "pos y",
    "y",
    "center y",
    "centre y",
    "y mm",
    "location y",
    "ref y",
    "pos y mm",
    "centroid y",
    "centery",
)
_TURN = ("rotation", "rot", "angle", "orientation", "turn")
_SIDE = ("layer", "side", "tb", "board side", "mount side")
_VALUE = ("value", "val", "comment", "part value", "description")
_PACKAGE = ("package", "footprint", "pattern", "case")
_COUNT = ("quantity", "qty", "count", "amount", "quantity per pcb", "number")
_FITTED = (
    "dnp",
    "dni",
    "do not populate",
    "do not place",
    "not fitted",
    "fitted",
    "populate",
    "place",
    "mounted",
    "excluded from bom",
)
_KNOWN = (*_PART, *_X, *_Y, *_TURN, *_SIDE, *_VALUE, *_PACKAGE, *_COUNT, *_FITTED)
_TOP = ("top", "t", "toplayer", "top layer", "f cu", "f.cu", "front", "component side", "1")
_BOTTOM = ("bottom", "b", "bot", "bottomlayer", "bottom layer", "b cu", "b.cu", "back", "solder side", "2")
_YES = (
    "1",
    "x",
    "yes",
    "y",
    "true",
    "dnp",
    "dni",
    "nf",
    "not fitted",
    "exclude",
    "excluded",
    "do not populate",
    "do not place",
    "no place",
)
_NO = ("0", "no", "n", "false", "not fitted", "dnp", "dni", "nf")


def read_table(text: str) -> Sheet:
    """A table that may be a centroid file or a parts list.

    Parameters
    ----------
    text : str
        The file.

    Returns
    -------
    Sheet
        Its columns and rows.

    Raises
    ------
    Damaged
        If there is no table with designators in it.
    """
    sheet = read_sheet(text, _KNOWN)
    if _part_column(sheet) is None:
        raise Damaged("no column of designators is found; R1, U2 or alike are wanted; add a column Designator")
    return sheet


def is_centroid(sheet: Sheet) -> bool:
    """Whether a table says where parts sit.

    Parameters
    ----------
    sheet : Sheet
        The table.

    Returns
    -------
    bool
        True with columns for X and Y.
    """
    return sheet.column(*_X) is not None and sheet.column(*_Y) is not None


def placed_rows(sheet: Sheet) -> tuple[tuple[Placed, ...], tuple[str, ...]]:
    """Rows of a centroid file, lengths in mm.

    Parameters
    ----------
    sheet : Sheet
        The table.

    Returns
    -------
    tuple
        The rows, and what was passed over.
    """
    part, x, y = _part_column(sheet), sheet.column(*_X), sheet.column(*_Y)
    assert part is not None and x is not None and y is not None
    turn, side, value, package = (sheet.column(*names) for names in (_TURN, _SIDE, _VALUE, _PACKAGE))
    scale = 0.0254 if "mil" in sheet.header[x].split() else 25.4 if "inch" in sheet.header[x].split() else 1.0
    made: list[Placed] = []
    odd = 0
    for row in sheet.body:
        at = number(row[x], scale), number(row[y], scale)
        angle = number(row[turn]) if turn is not None and row[turn] else 0.0
        if at[0] is None or at[1] is None or not row[part]:
            odd += 1
            continue
        made.append(
            Placed(
                row[part],
                at[0],
                at[1],
                angle if angle is not None else 0.0,
                _side(row[side]) if side is not None else "",
                row[value] if value is not None else "",
                row[package] if package is not None else "",
            )
        )
    remarks = [f"{odd} rows without a place are passed over"] if odd else []
    if turn is None:
        remarks.append("it has no column of rotations")
    if side is None:
        remarks.append("it has no column of sides")
    return tuple(made), tuple(remarks)


def listed_lines(sheet: Sheet) -> tuple[tuple[Listed, ...], tuple[str, ...]]:
    """Lines of a parts list.

    Parameters
    ----------
    sheet : Sheet
        The table.

    Returns
    -------
    tuple
        The lines, and what was passed over.
    """
    part = _part_column(sheet)
    assert part is not None
    value, package, count = (sheet.column(*names) for names in (_VALUE, _PACKAGE, _COUNT))
    marked = next((place for name in _FITTED if (place := sheet.column(name)) is not None), None)
    made: list[Listed] = []
    remarks: list[str] = []
    for row in sheet.body:
        names = part_names(row[part])
        if not names:
            continue
        text = row[value] if value is not None else ""
        fitted = not _not_fitted(sheet, marked, row) and not any(
            word in text.upper().split() for word in ("DNP", "DNI")
        )
        made.append(Listed(names, text, row[package] if package is not None else "", fitted))
        stated = number(row[count]) if count is not None else None
        if stated is not None and round(stated) != len(names):
            remarks.append(f"{', '.join(names[:4])}: {len(names)} designators, quantity {stated:g}")
    if value is None:
        remarks.append("it has no column of values")
    return tuple(made), tuple(remarks)


def _not_fitted(sheet: Sheet, marked: int | None, row: tuple[str, ...]) -> bool:
    """Whether a line's mark says that its parts stay away."""
    if marked is None:
        return False
    cell = row[marked].strip().lower()
    if sheet.header[marked] in ("fitted", "populate", "place", "mounted"):
        return cell in _NO
    return cell in _YES


def _part_column(sheet: Sheet) -> int | None:
    """Column of designators: by its name if its cells agree, else by its cells alone."""
    named = sheet.column(*_PART)
    best, share = None, 0.5
    for place in range(len(sheet.header)):
        cells = [cell for cell in sheet.values(place) if cell]
        good = sum(all(PART.fullmatch(name) for name in part_names(cell)) for cell in cells)
        if cells and good / len(cells) > share and (place == named or good > 1 or len(cells) == 1):
            best, share = place, good / len(cells)
            if place == named:
                return place
    return named if named is not None and not sheet.body else best if best is not None else named


def _side(text: str) -> Side:
    """Side of the board as written."""
    word = text.strip().lower()
    return "top" if word in _TOP else "bottom" if word in _BOTTOM else ""
