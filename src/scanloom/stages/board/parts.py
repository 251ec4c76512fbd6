"""Parts that are missing, listed twice or valued in two ways, and those to solder by hand."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from scanloom.basis.verdict import Place
from scanloom.stages.board.graph import CUT
from scanloom.stages.board.model import Placed
from scanloom.stages.board.part_value import part_value
from scanloom.stages.board.sight import Sight

_NO_PART = re.compile(r"(?i)(TP|FID|MH|H|JP|NT|SJ|G|LOGO|KIT|MK|MP|REF|E|FIDUCIAL|HOLE|MARK)\d+[A-Z]?")


def judge_parts(sight: Sight) -> tuple[str, ...]:
    """Judge netlist, parts list, placement file and dossier against one another.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.

    Returns
    -------
    tuple of str
        Parts to solder by hand: all their pins in holes, and in no placement file.
    """
    graph = sight.graph
    _of_dossier(sight)
    if graph.list_role is None:
        sight.verdict(
            "board.part-missing", "board.files", "caution", "Without a parts list nobody can say what is fitted.", state="unknown",
            used=sight.files.roles, doubt="Export the parts list (BOM) as CSV.",
        )  # fmt: skip
    elif graph.parts:
        _of_list(sight)
    _values(sight)
    _lamps(sight)
    return _by_hand(sight)


def _of_dossier(sight: Sight) -> None:
    """Parts that the dossier names."""
    graph, board = sight.graph, sight.reading.plan.dossier.board
    if board is None or not graph.parts:
        return
    gone = [name for name, part in board.parts.items() if not graph.part(name) and part.is_ != "inlet"]
    for name in gone:
        sight.verdict(
            "board.part-missing", f"board.parts.{name}", "stop", f"{name} of the dossier is on no net of the board.", state="fails",
            used=graph.roles, seen="no such designator", wanted=name, place=Place("", "netlist", pin=name),
            doubt="A part may have another designator on the board: give both the same name.",
        )  # fmt: skip


def _of_list(sight: Sight) -> None:
    """Netlist against parts list and placement file."""
    graph = sight.graph
    assert graph.list_role is not None
    used = (*graph.roles, graph.list_role, *(t.role for t in sight.files.placements))
    unlisted = [
        part
        for part in graph.parts
        if graph.line(part) is None and not _NO_PART.fullmatch(part) and _has_net(sight, part)
    ]
    for part in unlisted[:8]:
        at = graph.place(graph.parts[part][0])
        sight.verdict(
            "board.part-missing", f"board.parts.{part}", "caution", f"{part} is on the board and on no line of the parts list.",
            state="fails", used=used, seen="no line", wanted=f"a line with {part}",
            place=Place(graph.list_role.file, "parts-list", at.x_mm if at else None, at.y_mm if at else None, part),
            doubt="Parts of copper alone, such as marks and test pads, need no line.",
        )  # fmt: skip
    cut = {part[:CUT].upper() for part in graph.parts}
    strange = [
        p for p, line in graph.lines.items() if p[:CUT].upper() not in cut and line.fitted and not _NO_PART.fullmatch(p)
    ]
    for part in strange[:8]:
        sight.verdict(
            "board.part-strange", f"board.parts.{part}", "caution", f"{part} is listed and not on the board.", state="fails",
            used=used, seen="no pin in the netlist", wanted=part, place=Place(graph.list_role.file, "parts-list", pin=part),
            doubt="Screws, jumpers and enclosures have no pins.",
        )  # fmt: skip
    twice = _listed_twice(sight)
    for part in twice[:4]:
        sight.verdict(
            "board.part-twice", f"board.parts.{part}", "caution", f"{part} stands on two lines of the parts list.", state="fails",
            used=used, seen="two lines", wanted="one", place=Place(graph.list_role.file, "parts-list", pin=part),
            doubt="Alternative parts are listed so by some programs.",
        )  # fmt: skip
    unplaced = _unplaced(sight)
    for part in unplaced[:8]:
        at = graph.place(graph.parts[part][0])
        sight.verdict(
            "board.part-missing", f"board.parts.{part}", "caution", f"{part} has surface pads and no row in the placement file.",
            state="fails", used=used, seen="no row", wanted=f"a row for {part}",
            place=Place(sight.files.placements[0].role.file, "centroid", at.x_mm if at else None, at.y_mm if at else None, part),
            doubt="Parts that are soldered by hand on purpose have none: mark them as not fitted.",
        )  # fmt: skip
    _placed_unfitted(sight)
    if not unlisted and not unplaced:
        sight.verdict(
            "board.part-missing", "board.files", "stop", "Every part of the board is listed, and every surface part is placed.",
            state="holds", used=used, seen=f"{len(graph.parts)} parts on the board, {len(graph.lines)} listed", wanted="none missing",
        )  # fmt: skip
    left = len(unlisted) + len(unplaced) - min(8, len(unlisted)) - min(8, len(unplaced))
    if left > 0:
        sight.verdict(
            "board.part-missing", "board.files", "caution", f"{left} more parts are missing.", state="fails", used=used,
            doubt="So many at once mean a list of another board.",
        )  # fmt: skip


def _has_net(sight: Sight, part: str) -> bool:
    """Whether a part is joined to anything; loose pads are mechanical."""
    return any(sight.graph.nets[pin] for pin in sight.graph.parts[part])


def _placed_unfitted(sight: Sight) -> None:
    """Parts that the parts list leaves out and the placement file sets all the same."""
    graph = sight.graph
    for table in sight.files.placements:
        both = [
            row
            for row in table.rows_placed
            if (line := graph.line(graph.part(row.part))) is not None and not line.fitted
        ]
        for row in both[:8]:
            sight.verdict(
                "board.part-unsure", f"board.parts.{row.part}", "caution",
                f"{row.part} is listed as not fitted, and the placement file sets it.", state="fails",
                used=(table.role, graph.list_role), seen="a row in the placement file", wanted="none, or a part that is fitted",
                place=Place(table.role.file, "centroid", row.x_mm, row.y_mm, row.part),
                doubt="Some programs list every part and leave the choice to the parts list: tell the maker which one counts.",
            )  # fmt: skip


def _listed_twice(sight: Sight) -> list[str]:
    """Designators on more than one line."""
    seen: set[str] = set()
    twice: dict[str, None] = {}
    for table in sight.files.parts_lists[:1]:
        for line in table.lines_listed:
            for part in line.parts:
                if part in seen:
                    twice[part] = None
                seen.add(part)
    return list(twice)


def _unplaced(sight: Sight) -> list[str]:
    """Listed parts with surface pads that no placement file has; none is told when whole kinds are left out."""
    graph = sight.graph
    placed = _placed(sight)
    if not placed:
        return []
    cut = {part[:CUT].upper() for part in placed}
    made = []
    for part, pins in graph.parts.items():
        line = graph.line(part)
        surface = any(p.access in ("top", "bottom") for pin in pins for p in graph.places.get(pin, ()))
        if (
            line is not None
            and line.fitted
            and surface
            and part[:CUT].upper() not in cut
            and not _in_holes(sight, part)
        ):
            made.append(part)
    return made


def _placed(sight: Sight) -> Mapping[str, Placed]:
    """Rows of the placement files by designator."""
    return {row.part: row for table in sight.files.placements for row in table.rows_placed}


def _in_holes(sight: Sight, part: str) -> bool:
    """Whether any pin of a part sits in a hole."""
    graph = sight.graph
    return any(p.hole_mm > 0 for pin in graph.parts[part] for p in graph.places.get(pin, ()))


def _values(sight: Sight) -> None:
    """Values of the parts list against those of the placement file."""
    graph = sight.graph
    placed = _placed(sight)
    if graph.list_role is None or not placed or not any(row.value_text for row in placed.values()):
        return
    used = (graph.list_role, *(t.role for t in sight.files.placements))
    compared = 0
    odd: list[tuple[str, str, str]] = []
    for part, row in placed.items():
        line = graph.line(part)
        if line is None or not row.value_text or not line.value_text:
            continue
        compared += 1
        a, b = part_value(line.value_text, part), part_value(row.value_text, part)
        if a is not None and b is not None:
            same = a.unit_name == b.unit_name and abs(a.amount - b.amount) <= 1e-3 * max(a.amount, b.amount)
        else:
            same = a is not b or _bare(line.value_text) == _bare(row.value_text)
        if not same:
            odd.append((part, line.value_text, row.value_text))
    if len(odd) > max(5, compared / 3):
        return  # the two columns mean different things
    for part, listed, given in odd[:8]:
        row = placed[part]
        sight.verdict(
            "board.part-value", f"board.parts.{part}", "caution", f"{part} has another value in the parts list than in the placement file.",
            state="fails", used=used, seen=listed, wanted=given,
            place=Place(graph.list_role.file, "parts-list", row.x_mm, row.y_mm, part),
            doubt="One of the files is older: export both in one go.",
        )  # fmt: skip
    if not odd and compared:
        sight.verdict(
            "board.part-value", "board.files", "caution", "Parts list and placement file give the same values.", state="holds",
            used=used, seen=f"{compared} parts compared", wanted="no difference",
        )  # fmt: skip


def _lamps(sight: Sight) -> None:
    """Lamps the wrong way round: between ground and a resistor to a supply, pin 1 (the cathode) must be at ground."""
    graph = sight.graph
    for part, pins in graph.parts.items():
        nets = {pin: graph.nets[(part, pin)] for _, pin in pins}
        if not re.fullmatch(r"(?i)(D|LED)\d+", part) or len(pins) != 2 or graph.ground not in nets.values():
            continue
        others = [net for net in nets.values() if net != graph.ground]
        fed = (
            len(others) == 1
            and len(graph.pins.get(others[0], ())) == 2
            and any(b in graph.rails for _, b in graph.beyond(others[0]))
        )
        named = [pin for pin in nets if graph.functions.get((part, pin), pin).upper() in ("K", "C")]
        cathode = next(iter(named or [pin for pin in nets if pin == "1"]), None)
        if not fed or cathode is None:
            continue
        at = graph.place((part, cathode))
        good = nets[cathode] == graph.ground
        sight.verdict(
            "board.part-polarity", f"board.parts.{part}", "caution",
            f"{part} has its cathode at ground." if good else f"{part} sits the wrong way round and stays dark.",
            state="holds" if good else "fails", used=(*graph.roles, graph.list_role), seen=f"pin {cathode} on {nets[cathode]}",
            wanted=f"pin {cathode} on {graph.ground} (IPC-7351: pin 1 is the cathode)",
            place=Place("", "netlist", at.x_mm if at else None, at.y_mm if at else None, f"{part}-{cathode}"),
            doubt="" if good else "Some makers number the anode 1: look at the part's own drawing.",
        )  # fmt: skip


def _by_hand(sight: Sight) -> tuple[str, ...]:
    """Parts to solder by hand."""
    graph = sight.graph
    placed = {part[:CUT].upper() for part in _placed(sight)}
    made = [
        part for part in graph.parts
        if _in_holes(sight, part) and part[:CUT].upper() not in placed and not _NO_PART.fullmatch(part) and graph.fitted(part)
    ]  # fmt: skip
    if not made:
        return ()
    sight.verdict(
        "board.hand-solder", "board.files", "note", f"{len(made)} parts sit in holes and are placed by no machine: {_some(made)}.",
        state="holds", used=(*graph.roles, *(t.role for t in sight.files.placements)), doubt="Count the minutes, or ask for assembly.",
    )  # fmt: skip
    return tuple(sorted(made))


def _some(names: Iterable[str]) -> str:
    """A few names in words."""
    sorted_names = sorted(names)
    return ", ".join(sorted_names[:12]) + (f" and {len(sorted_names) - 12} more" if len(sorted_names) > 12 else "")


def _bare(text: str) -> str:
    """A value without blanks: fixed columns join words with underlines."""
    return re.sub(r"[\s_]+", "", text).lower()
