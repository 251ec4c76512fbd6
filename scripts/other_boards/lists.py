"""Parts lists and placement files in the habits of several programs."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass

from demo_board.nouns import BOTTOM, TOP, Board, Part
from demo_board.tables import middle


@dataclass(frozen=True, slots=True)
class Habit:
    """How the tables of one program look."""

    bill: str = "plain"  # plain, left out (column DNP), fitted, order numbers (no values), per part
    unit: str = "mm"  # or inch, mil
    origin_um: tuple[int, int] = (0, 0)  # what the places are counted from
    turns: str = "0..360"  # or signed
    bottom: str = "as seen from above"  # or mirrored
    quoted: bool = True
    delimiter: str = ","


def bill(board: Board, habit: Habit) -> bytes:
    """The parts list."""
    groups: dict[tuple[str, str, str], list[str]] = {}
    for part in board.parts:
        if not part.ref.startswith(("TP", "FID", "MH")):
            key = (part.value, part.footprint.name, part.fit)
            groups.setdefault((*key[:2], part.ref if habit.bill == "per part" else part.fit), []).append(part.ref)
    heads = {
        "plain": ["Id", "Designator", "Footprint", "Quantity", "Designation"],
        "left out": ["Reference", "Value", "Footprint", "Qty", "DNP"],
        "fitted": ["Item", "Qty", "Reference(s)", "Value", "Fitted", "Footprint"],
        "order numbers": ["Quantity", "RefDes", "Manufacturer Part Number", "Alternate", "Package"],
        "per part": ["Comment", "Designator", "Footprint", "LibRef"],
    }
    rows: list[list[object]] = [list(heads[habit.bill])]
    for number, ((value, package, fit), refs) in enumerate(groups.items(), 1):
        names, out = ", ".join(refs), fit == "none"
        rows.append(
            {
                "plain": [number, names, package, len(refs), value],
                "left out": [names, value, package, len(refs), "DNP" if out else ""],
                "fitted": [number, len(refs), names, value, "No" if out else "Yes", package],
                "order numbers": [len(refs), names, f"XQ-{abs(hash_of(value)):05}-T", "XQ-ALT", package],
                "per part": [value, names, package, package],
            }[habit.bill]
        )
    return table(rows, habit)


def hash_of(text: str) -> int:
    """A number that stands for a text, the same at each run."""
    return sum((place + 1) * ord(letter) for place, letter in enumerate(text)) % 100_000


def places(board: Board, habit: Habit) -> bytes:
    """The placement file."""
    size = {"mm": 1_000.0, "inch": 25_400.0, "mil": 25.4}[habit.unit]
    rows: list[list[object]] = [
        ["Ref", "Val", "Package", f"PosX ({habit.unit})", f"PosY ({habit.unit})", "Rot", "Side"]
    ]
    for part in board.parts:
        if part.fit == "machine":
            x, y = at(part)
            x, y = x - habit.origin_um[0], y - habit.origin_um[1]
            if part.side == BOTTOM and habit.bottom == "mirrored":
                x = -x
            turn = part.turn_deg % 360
            turn = turn - 360 if habit.turns == "signed" and turn > 180 else turn
            side = "top" if part.side == TOP else "bottom"
            rows.append([part.ref, part.value, part.footprint.name, f"{x / size:.4f}", f"{y / size:.4f}", turn, side])
    return table(rows, habit)


def at(part: Part) -> tuple[int, int]:
    """Where the machine is told to put a part; a large one counts from its own origin."""
    return (part.x_um, part.y_um) if part.footprint.body_w_um > 12_000 else middle(part)


def table(rows: list[list[object]], habit: Habit) -> bytes:
    """Rows as bytes."""
    text = io.StringIO()
    quoting = csv.QUOTE_ALL if habit.quoted else csv.QUOTE_MINIMAL
    csv.writer(text, delimiter=habit.delimiter, quoting=quoting, lineterminator="\n").writerows(rows)
    return text.getvalue().encode()
