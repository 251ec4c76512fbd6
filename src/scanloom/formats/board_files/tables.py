"""Centroid files and parts lists."""

from __future__ import annotations

from dataclasses import replace

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
    "repere",
    "bezeichner",
    "bauteil",
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
    "position x",
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
    "position y",
)
_TURN = ("rotation", "rot", "angle", "orientation", "turn", "winkel", "drehung")
_SIDE = ("layer", "side", "tb", "board side", "mount side", "face", "seite")
_VALUE = ("value", "val", "comment", "part value", "description", "wert", "valeur")
_PACKAGE = ("package", "footprint", "pattern", "case", "boitier", "gehause", "bauform")
_COUNT = ("quantity", "qty", "count", "amount", "quantity per pcb", "number", "qte", "menge", "anzahl")
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
    "monte",
    "bestuckt",
    "bestueckt",
)
_LEAST_SPREAD = 0.2  # of the board's size, that parts spread at least
_MILLIMETRES = {"mm": 1.0, "mil": 0.0254, "in": 25.4}
NO_UNIT = "it states no unit: taken as mm"
"""Said of a centroid file whose lengths may be anything."""
_KNOWN = (*_PART, *_X, *_Y, *_TURN, *_SIDE, *_VALUE, *_PACKAGE, *_COUNT, *_FITTED)
_TOP = ("top", "t", "toplayer", "top layer", "f cu", "f.cu", "front", "component side", "1", "dessus", "oben")
_BOTTOM = (
    "bottom",
    "b",
    "bot",
    "bottomlayer",
    "bottom layer",
    "b cu",
    "b.cu",
    "back",
    "solder side",
    "2",
    "dessous",
    "unten",
)
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
_NO = ("0", "no", "n", "false", "not fitted", "dnp", "dni", "nf", "non", "nein")
_SAYS_FITTED = ("fitted", "populate", "place", "mounted", "monte", "bestuckt", "bestueckt")


def in_likely_unit(rows: tuple[Placed, ...], size_mm: tuple[float, float]) -> tuple[tuple[Placed, ...], str]:
    """Rows of a file that states no unit, in the unit in which they fit the board.

    Parameters
    ----------
    rows : tuple of Placed
        Rows as if in mm.
    size_mm : tuple of float
        Size of the board. [mm]

    Returns
    -------
    tuple
        The rows, and what was decided; empty where mm fit.
    """
    if len(rows) < 3:
        return rows, ""
    spread = max(
        (max(places) - min(places)) / size
        for places, size in zip(zip(*((r.x_mm, r.y_mm) for r in rows), strict=True), size_mm, strict=True)
    )
    for unit, scale in _MILLIMETRES.items():
        if _LEAST_SPREAD < spread * scale < 1.05:
            if unit == "mm":
                return rows, ""
            moved = tuple(replace(r, x_mm=r.x_mm * scale, y_mm=r.y_mm * scale) for r in rows)
            return moved, f"it states no unit: taken as {unit}, in which the parts spread as wide as the board"
    return rows, ""


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
    return sheet.axis("x", *_X) is not None and sheet.axis("y", *_Y) is not None


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
    part, x, y = _part_column(sheet), sheet.axis("x", *_X), sheet.axis("y", *_Y)
    assert part is not None and x is not None and y is not None
    turn, side, value, package = (sheet.column(*names) for names in (_TURN, _SIDE, _VALUE, _PACKAGE))
    mirrored = next((n for n, name in enumerate(sheet.header) if "mirror" in name), None) if side is None else None
    unit = sheet.units[x] if sheet.units else ""
    scale = _MILLIMETRES[unit or "mm"]
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
                _side(row[side]) if side is not None else _mirrored(row[mirrored]) if mirrored is not None else "",
                row[value] if value is not None else "",
                row[package] if package is not None else "",
            )
        )
    remarks = [f"{odd} rows without a place are passed over"] if odd else []
    if not unit and not any(row[x].rstrip().endswith(("m", "l", "n", "s", '"')) for row in sheet.body):
        remarks.append(NO_UNIT)
    if turn is None:
        remarks.append("it has no column of rotations")
    if side is None and mirrored is None:
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
    if sheet.header[marked] in _SAYS_FITTED:
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


def _mirrored(text: str) -> Side:
    """Side of the board where a column says whether a part is mirrored."""
    word = text.strip().lower()
    return "bottom" if word in ("yes", "y", "true", "1") else "top" if word in ("no", "n", "false", "0") else ""
