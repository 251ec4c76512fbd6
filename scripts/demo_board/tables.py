"""Centroid and parts tables as CSV, in the spellings that programs are known to use."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass

from demo_board.nouns import Board, Part


@dataclass(frozen=True, slots=True)
class Style:
    """How a table is written down."""

    comma: bool = False  # decimal comma, columns apart by semicolons
    encoding: str = "utf-8"
    marked: bool = False  # byte order mark in front
    shouted: bool = False  # 10K, 5.1k, 240R, 0.1u in place of 10k, 5k1, 240, 100n


SHOUTED = {
    "10k": "10K",
    "5k1": "5.1k",
    "240": "240R",
    "47": "47R",
    "1k": "1K0",
    "100n": "X7R 0.1u",
    "10u": "10\u00b5F",
    "1u": "1uF",
}


def value(text: str, style: Style) -> str:
    """Value of a part in the spelling of the table."""
    return SHOUTED.get(text, text) if style.shouted else text


def encoded(rows: Iterable[Iterable[object]], style: Style) -> bytes:
    """Rows as bytes."""
    text = io.StringIO()
    csv.writer(text, delimiter=";" if style.comma else ",", lineterminator="\r\n").writerows(rows)
    out = text.getvalue()
    if style.marked and style.encoding == "utf-8":
        out = "\ufeff" + out
    return out.encode(style.encoding)


def centroid(board: Board, style: Style | None = None) -> bytes:
    """Where the placing machine puts its parts: middle, turn and side."""
    style = style or Style()

    def mm(um: int) -> str:
        text = f"{um / 1_000:.3f}"
        return text.replace(".", ",") if style.comma else text

    rows: list[list[object]] = [["Designator", "Value", "Package", "X (mm)", "Y (mm)", "Rotation", "Side"]]
    for part in board.parts:
        if part.fit == "machine":
            x, y = middle(part)
            rows.append([part.ref, value(part.value, style), part.footprint.name, mm(x), mm(y), part.turn_deg, "top"])
    return encoded(rows, style)


def middle(part: Part) -> tuple[int, int]:
    """Middle of the box around the pads, which is what a centroid means."""
    places = [part.at((pad.x_um, pad.y_um)) for pad in part.footprint.pads]
    xs, ys = [x for x, _ in places], [y for _, y in places]
    return (min(xs) + max(xs)) // 2, (min(ys) + max(ys)) // 2


def bill(board: Board, style: Style | None = None) -> bytes:
    """Parts by value, with who fits them; test pads and marks are no parts."""
    style = style or Style()
    groups: dict[tuple[str, str, str], list[str]] = {}
    for part in board.parts:
        if part.fit != "none" or part.value not in ("test pad", "mark"):
            groups.setdefault((part.value, part.footprint.name, part.fit), []).append(part.ref)
    rows: list[list[object]] = [["Quantity", "Designators", "Value", "Package", "Fitted by", "DNP"]]
    for (text, package, fit), refs in groups.items():
        left_out = "DNP" if fit == "none" else ""
        rows.append([len(refs), ",".join(refs), value(text, style), package, fit, left_out])
    return encoded(rows, style)
