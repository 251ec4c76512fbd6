"""Mistakes of the tables: values, places and parts that the centroid file and the parts table get wrong."""

from __future__ import annotations

from dataclasses import replace

from demo_board import sets, tables
from demo_board.circuit import changed
from demo_board.nouns import Board, Part
from demo_board.planting import TABLES, Made, Mistake, Where, file_only, only, shifted


def revalued(good: Board, **values: str) -> Board:
    """The board with other values of parts."""
    return replace(good, parts=tuple(replace(part, value=values.get(part.ref, part.value)) for part in good.parts))


def placed_otherwise(good: Board, ref: str, old: str, new: str) -> Made:
    """The centroid file with one row altered."""
    rows = tables.centroid(good).decode().split("\r\n")
    at = next(n for n, row in enumerate(rows) if row.startswith(f"{ref},"))
    head, found, tail = rows[at].rpartition(old)
    if not found:
        raise ValueError(f"{ref}: no {old!r} in its row")
    rows[at] = head + new + tail
    return Made({sets.name(good, "centroid"): "\r\n".join(rows).encode()})


def left_out(good: Board, ref: str) -> tuple[Part, ...]:
    """Parts with one marked as not to be fitted."""
    return changed(good.parts, ref, fit="none")


ENTRIES = (
    Mistake(
        "part-24-ohm",
        "R1 is 24 ohm, a slip of a decade",
        "board.lane-level",
        TABLES,
        lambda good: only(revalued(good, R1="24"), *TABLES),
        (Where(pin="R1"), Where(pin="J1-1")),
    ),
    Mistake(
        "parts-270-ohm",
        "all colour parts 270 ohm, as often copied",
        "board.lane-level",
        TABLES,
        lambda good: only(revalued(good, **{f"R{n}": "270" for n in range(1, 11)}), *TABLES),
        tuple(Where(pin=f"R{n}") for n in range(1, 11)),
    ),
    Mistake(
        "inlet-pull-51k",
        "R30 is 51 kilohm in place of 5.1",
        "board.inlet-pulls",
        TABLES,
        lambda good: only(revalued(good, R30="51k"), *TABLES),
        (Where(pin="R30"), Where(pin="J7-B5")),
    ),
    Mistake(
        "placed-below",
        "the centroid file puts U2 on the bottom",
        "board.placement-side",
        ("centroid",),
        lambda good: placed_otherwise(good, "U2", "top", "bottom"),
        (Where(pin="U2"),),
    ),
    Mistake(
        "placed-turned",
        "the centroid file turns R12 by a quarter",
        "board.placement-rotated",
        ("centroid",),
        lambda good: placed_otherwise(good, "R12", ",180,", ",270,"),
        (Where(pin="R12"),),
    ),
    Mistake(
        "placed-back-to-front",
        "the centroid file turns D2, a lamp, by half a turn",
        "board.placement-rotated",
        ("centroid",),
        lambda good: placed_otherwise(good, "D2", ",0,", ",180,"),
        (Where(pin="D2"),),
    ),
    Mistake(
        "placed-from-elsewhere",
        "the centroid file counts from another origin",
        "board.placement-origin",
        ("centroid",),
        lambda good: only(shifted(good, 10_000, 5_000), "centroid"),
        file_only("centroid"),
    ),
    Mistake(
        "placed-mirrored",
        "the centroid file mirrored left to right",
        "board.placement-origin",
        ("centroid",),
        lambda good: only(good.mirrored_x(), "centroid"),
        file_only("centroid"),
        ("board.placement-rotated",),
        ("board.side-mirrored", "board.placement-side"),
    ),
    Mistake(
        "not-placed",
        "the centroid file lacks C4",
        "board.part-missing",
        ("centroid",),
        lambda good: only(replace(good, parts=tuple(part for part in good.parts if part.ref != "C4")), "centroid"),
        (Where(pin="C4"),),
    ),
    Mistake(
        "not-bought",
        "the parts table lacks R14",
        "board.part-missing",
        ("bom",),
        lambda good: only(replace(good, parts=tuple(part for part in good.parts if part.ref != "R14")), "bom"),
        (Where(pin="R14"),),
        ("board.lane-path",),
    ),
    Mistake(
        "not-fitted",
        "R9, a colour part, marked as not to be fitted",
        "board.part-missing",
        ("top-paste", *TABLES),
        lambda good: only(replace(good, parts=left_out(good, "R9")), "top-paste", *TABLES),
        (Where(pin="R9"),),
        ("board.lane-level",),
        ("board.lane-path",),
    ),
)
