"""Drill files: XNC with attributes as comments, and the older dialects that real programs write."""

from __future__ import annotations

from dataclasses import dataclass

from demo_board.nouns import Board


@dataclass(frozen=True, slots=True)
class Hit:
    """A hole or an upright slot: its diameter, its middle, and what the slot is longer."""

    drill_um: int
    x_um: int
    y_um: int
    slot_um: int = 0


def plated_hits(board: Board) -> list[Hit]:
    """Holes of vias and parts."""
    hits = {Hit(via.drill_um, via.x_um, via.y_um) for via in board.vias}
    hits |= {Hit(pad.drill_um, pad.x_um, pad.y_um, pad.slot_um) for pad in board.pads if pad.drill_um}
    return sorted(hits, key=lambda hit: (hit.drill_um, hit.slot_um, hit.x_um, hit.y_um))


def unplated_hits(board: Board) -> list[Hit]:
    """Holes without copper."""
    return sorted(
        (Hit(h.drill_um, h.x_um, h.y_um) for h in board.holes), key=lambda hit: (hit.drill_um, hit.x_um, hit.y_um)
    )


def drill_file(board: Board, hits: list[Hit], *, plated: bool, dialect: str = "xnc") -> str:
    """A drill file in a dialect.

    `xnc` and `inch` write decimal points and routed slots, `g85` slots as one command, `no-format` whole numbers of
    3.3 metric digits without leading zeros and says neither digits nor zeros, `no-attributes` leaves the comments out.
    """
    tools = {size: number for number, size in enumerate(sorted({hit.drill_um for hit in hits}), 1)}
    lines = ["M48", *head(board, plated, dialect)]
    inch = dialect == "inch"
    lines += [f"T{number:02}C{um / (25_400 if inch else 1_000):.{5 if inch else 3}f}" for um, number in tools.items()]
    lines += ["%", "G90", "G05"] if dialect != "no-format" else ["%"]
    for um, number in tools.items():
        lines.append(f"T{number:02}")
        for hit in (hit for hit in hits if hit.drill_um == um):
            lines += one(hit, dialect)
    lines += ["M30", ""]
    return "\n".join(lines)


def head(board: Board, plated: bool, dialect: str) -> list[str]:
    """Units and what the file is for."""
    if dialect == "no-format":
        return ["M71"]
    last = 2 + len(board.inner)
    facts = [
        f"TF.CreationDate,{board.made}", f"TF.ProjectId,{board.name},6465-6570-2d73746174696f6e,{board.revision}",
        f"TF.FileFunction,{'Plated' if plated else 'NonPlated'},1,{last},{'PTH' if plated else 'NPTH'}",
    ]  # fmt: skip
    told = [] if dialect == "no-attributes" else [f"; #@! {fact}" for fact in facts]
    return [*told, "INCH" if dialect == "inch" else "METRIC"]


def one(hit: Hit, dialect: str) -> list[str]:
    """Commands of one hole or slot."""

    def at(x_um: int, y_um: int) -> str:
        if dialect == "no-format":
            return f"X{x_um}Y{y_um}"
        if dialect == "inch":
            return f"X{x_um / 25_400:.5f}Y{y_um / 25_400:.5f}"
        return f"X{x_um / 1_000:.3f}Y{y_um / 1_000:.3f}"

    if not hit.slot_um:
        return [at(hit.x_um, hit.y_um)]
    low, high = at(hit.x_um, hit.y_um - hit.slot_um // 2), at(hit.x_um, hit.y_um + hit.slot_um // 2)
    if dialect in ("g85", "no-format"):
        return [f"{low}G85{high}"]
    return [f"G00{low}", "M15", f"G01{high}", "M16", "G05"]
