"""Blocks of RAM with what lies in them, and the transfer list of one frame."""

from __future__ import annotations

from scanloom.report.drawings import svg
from scanloom.report.drawings.drawing import Drawing, Table, drawing
from scanloom.stages.memory import MemoryPlan, Placement, TransferList
from scanloom.survey import RigSurvey

_KINDS = {"entries": "entries", "keep-back": "kept"}


def block_map(rig: RigSurvey) -> Drawing | None:
    """Blocks of RAM, each with the rows and other things placed in it.

    Parameters
    ----------
    rig : RigSurvey
        Survey of one rig.

    Returns
    -------
    Drawing or None
        None where no free blocks are known.
    """
    plan = rig.memory
    if plan is None or plan.placement is None:
        return None
    placed = plan.placement
    result = (
        f"{placed.used_bytes} B used, {placed.free_bytes} B left in pieces; the largest is {max(placed.left_bytes, default=0)} B."
        if placed.fits
        else f"It does not fit: {placed.lines_missing} rows find no place."
    )
    return drawing(
        "block-map",
        "Blocks of RAM",
        "Each bar is one free block, longest for the largest: image rows in full colour, transfer entries dark, blank runs "
        "light, the keep-back striped, the rest empty.",
        result,
        lambda width: _draw_blocks(width, placed),
        _block_table(placed),
    )


def block_sizes(placed: Placement) -> tuple[int, ...]:
    """Sizes of the blocks, from what lies in them and what is left.

    Parameters
    ----------
    placed : Placement
        Where everything lies.

    Returns
    -------
    tuple of int
        One a block, in the order of the dossier. [B]
    """
    return tuple(
        rows * placed.line_bytes + left + sum(item.size_bytes for item in placed.specials if item.block == number)
        for number, (rows, left) in enumerate(zip(placed.lines_per_block, placed.left_bytes, strict=True))
    )


def _draw_blocks(width: float, placed: Placement) -> tuple[str, float]:
    """One bar a block."""
    sizes = block_sizes(placed)
    lead = 86.0
    end = max((svg.width_px(f"{size} B") for size in sizes), default=0.0) + 8
    x = svg.scale(0, max(sizes, default=1), 0, width - lead - end)
    out: list[str] = []
    for number, size in enumerate(sizes):
        top = 4.0 + 26 * number
        rows = placed.lines_per_block[number]
        out.append(svg.text(0, top + 13, f"{number + 1}: {rows} rows"))
        out.append(svg.rect(lead, top, x(size), 18, "track"))
        at = 0
        for item in placed.specials:
            if item.block == number:
                kind = _KINDS.get(item.name, "blankrun")
                out.append(svg.rect(lead + x(at), top, x(at + item.size_bytes) - x(at), 18, kind))
                at += item.size_bytes
        if rows:
            held = rows * placed.line_bytes
            out.append(svg.rect(lead + x(at), top, x(at + held) - x(at), 18, "sp"))
        out.append(svg.rect(lead, top, x(size), 18, "frame"))
        out.append(svg.text(width, top + 13, f"{size} B", "e q"))
    return "".join(out), 26.0 * len(sizes) + 8


def _block_table(placed: Placement) -> Table:
    """What lies in each block."""
    rows = tuple(
        (
            f"block {number + 1}",
            f"{size}",
            f"{placed.lines_per_block[number]}",
            ", ".join(f"{item.name} {item.size_bytes} B" for item in placed.specials if item.block == number) or "nothing else",
            f"{placed.left_bytes[number]}",
        )
        for number, size in enumerate(block_sizes(placed))
    )  # fmt: skip
    return Table("What lies where", ("Block", "Bytes#", "Rows#", "Besides", "Left#"), rows)


def transfer_strip(rig: RigSurvey) -> Drawing | None:
    """The transfer list of one frame, line by line.

    Parameters
    ----------
    rig : RigSurvey
        Survey of one rig.

    Returns
    -------
    Drawing or None
        None where there is no list.
    """
    plan = rig.memory
    if plan is None or not plan.transfer_list.entries:
        return None
    groups = line_groups(plan)
    listed = plan.transfer_list
    return drawing(
        "transfer-strip",
        "Transfer list",
        "One frame from its first active line to its last, left to right; neighbouring lines that are sent alike make one "
        "piece. After the last entry comes the first.",
        f"{len(listed.entries)} entries send {len(listed.stores)} stores; blank lines go as {listed.blank_form}.",
        lambda width: _draw_strip(width, groups),
        Table(
            "Lines that are sent alike",
            ("Lines", "Count#", "Each sends", "Entries#"),
            tuple((f"{first} to {last}", f"{last - first + 1}", what, f"{entries}") for first, last, what, entries in groups),
        ),
    )  # fmt: skip


def line_groups(plan: MemoryPlan) -> tuple[tuple[int, int, str, int], ...]:
    """Runs of neighbouring lines that are sent alike.

    Parameters
    ----------
    plan : MemoryPlan
        With the transfer list.

    Returns
    -------
    tuple of tuple
        First and last line, what each sends, and the entries of all; a run belongs to the line it starts in. [1]
    """
    total = plan.shape.h_total_px if _words(plan.transfer_list) else 1
    lines: dict[int, list[str]] = {}
    at = 0
    for entry in plan.transfer_list.entries:
        store = plan.transfer_list.stores[entry.store]
        lines.setdefault(at // total, []).append("row" if store.kind == "picture" else store.name)
        at += entry.words
    made: list[tuple[int, int, str, int]] = []
    for number in sorted(lines):
        what = ", ".join(_counted(lines[number]))
        if made and made[-1][2] == what and made[-1][1] == number - 1:
            first, _, _, entries = made[-1]
            made[-1] = (first, number, what, entries + len(lines[number]))
        else:
            made.append((number, number, what, len(lines[number])))
    return tuple(made)


def _words(listed: TransferList) -> int:
    """Words that all entries send."""
    return sum(entry.words for entry in listed.entries)


def _counted(names: list[str]) -> list[str]:
    """Names in order, neighbours alike with their number."""
    made: list[tuple[str, int]] = []
    for name in names:
        if made and made[-1][0] == name:
            made[-1] = (name, made[-1][1] + 1)
        else:
            made.append((name, 1))
    return [name if count == 1 else f"{count} x {name}" for name, count in made]


def _draw_strip(width: float, groups: tuple[tuple[int, int, str, int], ...]) -> tuple[str, float]:
    """The strip, its pieces named by their first line."""
    x = svg.scale(0, groups[-1][1] + 1, 0, width)
    out = [svg.rect(0, 4, width, 26, "track")]
    for first, last, what, _ in groups:
        kind = "sp" if what.startswith("row") or " x row" in what else "sync" if "sync" in what else "blankrun"
        out.append(svg.rect(x(first), 4, x(last + 1) - x(first), 26, kind))
    out.append(svg.rect(0, 4, width, 26, "frame"))
    edge = -100.0
    for first, *_ in groups:
        place = x(first)
        label = f"{first}"
        if place - edge >= 8 and place + svg.width_px(label) <= width:
            out.append(svg.line(place, 30, place, 36, "axis"))
            out.append(svg.text(place, 48, label, "q"))
            edge = place + svg.width_px(label)
    out.append(svg.text(width, 66, f"line of the frame, {groups[-1][1] + 1} in all", "e q"))
    return "".join(out), 72
