"""Placement file against the netlist: origin, side, rotation, middle of each part."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from scanloom.basis.record import record
from scanloom.basis.verdict import Place, Weight
from scanloom.stages.board.graph import PinPlace
from scanloom.stages.board.model import FileRole, Placed, Side
from scanloom.stages.board.sight import Sight, at_mm

_ORIGIN_MM = 0.3
_OFF_MM = 0.5
_TURN_DEG = 20.0
_EITHER_WAY = re.compile(
    r"(?i)R|C(?!R)|L(?!ED)|F|Y|SW|S\d|JP|BTN|BUTTON|KEY"
)  # of two pins, these work half a turn round
_SURE = 4  # small surface parts from which an origin is sure


@record
class _Seated:
    """A row of the placement file beside the pads of its part.

    Parameters
    ----------
    row : Placed
        The row.
    middle_mm : tuple of float
        Middle of the box around the part's pads. [mm]
    pad_side : Side
        Side of its surface pads, both when all are in holes.
    heading_deg : float or None
        Direction from the first pin to the next but for what the row turns it by; None with one pin. [deg]
    pin_count : int
        Pins. [1]
    """

    row: Placed
    middle_mm: tuple[float, float]
    pad_side: Side
    heading_deg: float | None
    pin_count: int


def judge_placing(sight: Sight) -> None:
    """Judge the placement file.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.
    """
    graph = sight.graph
    if not sight.files.placements or not graph.places:
        missing = "the placement file (centroid) as CSV" if not sight.files.placements else "the netlist as IPC-D-356A"
        sight.verdict(
            "board.placement-origin", "board.files", "caution", f"Placement is not judged without {missing}.", state="unknown",
            used=sight.files.roles, doubt=f"Export {missing}.",
        )  # fmt: skip
        return
    role = sight.files.placements[0].role
    used = (role, *graph.roles)
    seated = _seated(sight)
    if len(seated) >= 3:
        seated = _bottom_turned(_bottom_as_above(sight, seated, role, used))
    if len(seated) < 3:
        sight.verdict(
            "board.placement-origin", "board.files", "caution", "Fewer than three rows of the placement file are in the netlist.",
            state="unknown", used=used, place=Place(role.file, "centroid"), doubt="Export both from one board.",
        )  # fmt: skip
        return
    moved = _origin(sight, seated, role, used)
    _sides(sight, seated, role, used)
    _turns(sight, seated, role, used)
    if moved is not None:
        _middles(sight, seated, moved, role, used)


def _seated(sight: Sight) -> list[_Seated]:
    """Rows whose part is in the netlist."""
    graph = sight.graph
    made = []
    for table in sight.files.placements:
        for row in table.rows_placed:
            part = graph.part(row.part)
            pads = [place for pin in graph.parts.get(part, ()) for place in graph.places.get(pin, ())]
            if not pads:
                continue
            xs, ys = [p.x_mm for p in pads], [p.y_mm for p in pads]
            sides = {p.access for p in pads if p.access in ("top", "bottom")}
            side: Side = "both" if len(sides) != 1 else next(iter(sides))
            made.append(
                _Seated(
                    row, ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2), side, _heading(sight, part, row),
                    len(graph.parts[part]),
                )
            )  # fmt: skip
    return made


def _heading(sight: Sight, part: str, row: Placed) -> float | None:
    """Direction from the lowest pin to the next that lies elsewhere, less the row's rotation."""
    graph = sight.graph
    pins = sorted(graph.parts[part], key=lambda pin: (len(pin[1]), pin[1]))
    places: list[PinPlace] = [graph.places[pin][0] for pin in pins if graph.places.get(pin)]
    for other in places[1:]:
        dx, dy = other.x_mm - places[0].x_mm, other.y_mm - places[0].y_mm
        if math.hypot(dx, dy) > 0.05:
            turn = -row.turn_deg if row.side == "bottom" else row.turn_deg
            return (math.degrees(math.atan2(dy, dx)) - turn) % 360.0
    return None


def _bottom_as_above(
    sight: Sight, seated: list[_Seated], role: FileRole, used: tuple[FileRole | None, ...]
) -> list[_Seated]:
    """The rows with those of the bottom seen from above; a file that counts them from below is told so, and read that way."""
    low = [s for s in seated if s.row.side == "bottom"]
    rest = [s for s in seated if s.row.side != "bottom"]
    if len(low) < 3:
        return seated
    off = np.array([(s.row.x_mm - s.middle_mm[0], s.row.y_mm - s.middle_mm[1]) for s in low])
    other = np.array([(-s.row.x_mm - s.middle_mm[0], s.row.y_mm - s.middle_mm[1]) for s in low])
    above = np.array([(s.row.x_mm - s.middle_mm[0], s.row.y_mm - s.middle_mm[1]) for s in rest]).reshape(-1, 2)
    sound = not len(above) or _agreeing(above) >= 0.5
    if _agreeing(off) >= 0.5 or _agreeing(other) < 0.8 or not sound:
        return seated
    from_middle = np.median(other, axis=0) - (np.median(above, axis=0) if len(above) else 0.0)
    one = low[0].row
    sight.verdict(
        "board.placement-origin", "board.files.bottom", "caution",
        "The placement file counts the parts of the bottom as seen from below.", state="fails", used=used,
        seen=f"{_agreeing(other):.0%} of {len(low)} parts agree when mirrored left to right, {_agreeing(off):.0%} as they are",
        wanted="both sides as seen from above", place=Place(role.file, "centroid", one.x_mm, one.y_mm, one.part),
        doubt="Some programs and makers do so by habit: ask the maker, or export with one view for both sides.",
    )  # fmt: skip
    return [
        replace(
            s, row=replace(s.row, x_mm=-s.row.x_mm - float(from_middle[0]), y_mm=s.row.y_mm - float(from_middle[1]))
        )
        if s.row.side == "bottom"
        else s
        for s in seated
    ]


def _agreeing(off: np.ndarray) -> float:
    """Share of shifts that are near their median."""
    return float((np.abs(off - np.median(off, axis=0)) < _OFF_MM).all(axis=1).mean())


def _bottom_turned(seated: list[_Seated]) -> list[_Seated]:
    """Headings of the bottom by the sense of rotation that fits its parts better: programs count from above or from below."""
    low = [s for s in seated if s.row.side == "bottom" and s.heading_deg is not None]
    other = {id(s): (s.heading_deg - 2 * s.row.turn_deg) % 360.0 for s in low if s.heading_deg is not None}
    kinds: dict[tuple[str, int], list[_Seated]] = {}
    for one in low:
        kinds.setdefault((one.row.package, one.pin_count), []).append(one)

    def fits(headings: Callable[[_Seated], float]) -> int:
        return sum(
            max(int((np.abs(_apart(turns, t)) < _TURN_DEG).sum()) for t in turns)
            for turns in (np.radians([headings(s) for s in some]) for some in kinds.values())
        )

    if not low or fits(lambda s: other[id(s)]) <= fits(lambda s: s.heading_deg or 0.0):
        return seated
    return [replace(s, heading_deg=other[id(s)]) if id(s) in other else s for s in seated]


def _origin(
    sight: Sight, seated: list[_Seated], role: FileRole, used: tuple[FileRole | None, ...]
) -> tuple[float, float] | None:  # fmt: skip
    """Common shift of all rows; None when they do not agree on one."""
    small = [
        s for s in seated if s.pin_count == 2 and s.pad_side != "both"
    ]  # what is larger is often given by its pin 1
    weight: Weight = "stop" if len(small) >= _SURE else "caution"
    seated = small if len(small) >= _SURE else seated
    off = np.array([(s.row.x_mm - s.middle_mm[0], s.row.y_mm - s.middle_mm[1]) for s in seated])
    middle = np.median(off, axis=0)
    near = (np.abs(off - middle) < _OFF_MM).all(axis=1).mean()
    place = Place(role.file, "centroid", seated[0].row.x_mm, seated[0].row.y_mm, seated[0].row.part)
    if near < 0.5:
        mirrored = np.array([(-s.row.x_mm - s.middle_mm[0], s.row.y_mm - s.middle_mm[1]) for s in seated])
        flipped = np.array([(s.row.x_mm - s.middle_mm[0], -s.row.y_mm - s.middle_mm[1]) for s in seated])
        for name, other in (("left to right", mirrored), ("top to bottom", flipped)):
            share = (np.abs(other - np.median(other, axis=0)) < _OFF_MM).all(axis=1).mean()
            if share >= 0.8:
                sight.verdict(
                    "board.placement-origin", "board.files", weight, f"The placement file is mirrored {name}.", state="fails",
                    used=used, seen=f"{share:.0%} of the parts agree when mirrored, {near:.0%} as it is", wanted="as it is",
                    place=place, doubt="An axis that counts the other way looks so: export again with Y upwards.",
                )  # fmt: skip
                return None
        sight.verdict(
            "board.placement-origin", "board.files", weight, "The placement file does not fit the board.", state="fails", used=used,
            seen=f"{near:.0%} of the parts agree on an origin", wanted="nearly all", place=place,
            doubt="Another revision, another unit or mirrored bottom parts look so.",
        )  # fmt: skip
        return None
    dx, dy = float(middle[0]), float(middle[1])
    if max(abs(dx), abs(dy)) > _ORIGIN_MM:
        sight.verdict(
            "board.placement-origin", "board.files", "caution", "The placement file counts from another origin than the board.",
            state="fails", used=used, seen=f"all parts are off by {at_mm(dx, dy)}", wanted="no shift", place=place,
            doubt="Some machines are set up part by part and do not mind: set the same origin for all files.",
        )  # fmt: skip
    else:
        sight.verdict(
            "board.placement-origin", "board.files", "stop", "Placement file and board count from the same origin.", state="holds",
            used=used, seen=f"off by {at_mm(dx, dy)}", wanted="no shift", place=place,
        )  # fmt: skip
    return dx, dy


def _sides(sight: Sight, seated: list[_Seated], role: FileRole, used: tuple[FileRole | None, ...]) -> None:
    """Side of the row against the side of the pads."""
    stated = [s for s in seated if s.row.side and s.pad_side in ("top", "bottom")]
    wrong = [s for s in stated if s.row.side != s.pad_side]
    for one in wrong[:6]:
        sight.verdict(
            "board.placement-side", f"board.parts.{one.row.part}", "stop", f"{one.row.part} is placed on the wrong side.",
            state="fails", used=used, seen=one.row.side, wanted=one.pad_side,
            place=Place(role.file, "centroid", one.row.x_mm, one.row.y_mm, one.row.part),
            doubt="If all parts are told so, the sides of the netlist may be exchanged instead.",
        )  # fmt: skip
    if not wrong:
        says = "Every part is placed on the side of its pads." if stated else "The placement file states no sides."
        sight.verdict(
            "board.placement-side", "board.files", "stop" if stated else "caution", says, state="holds" if stated else "unknown",
            used=used, seen=f"{len(stated)} parts with surface pads", wanted="all on their side", place=Place(role.file, "centroid"),
            doubt="" if stated else "Export the placement file with a column Layer or Side.",
        )  # fmt: skip


def _turns(sight: Sight, seated: list[_Seated], role: FileRole, used: tuple[FileRole | None, ...]) -> None:
    """Rotations: all parts of one package and side must differ from their rotation by the same angle."""
    groups: dict[tuple[str, str, str, int], list[_Seated]] = {}
    for one in seated:
        if one.heading_deg is not None:
            kind = one.row.part.rstrip("0123456789")
            groups.setdefault((one.row.package, kind, one.row.side, one.pin_count), []).append(one)
    judged = alone = told = 0
    lone: list[list[_Seated]] = []
    for some in groups.values():
        if len(some) < 3:
            alone += len(some)
            lone.append(some)
            continue
        turns = np.radians([s.heading_deg for s in some if s.heading_deg is not None])
        best = max(turns, key=lambda t: float((np.abs(_apart(turns, t)) < _TURN_DEG).sum()))
        agree = np.abs(_apart(turns, best)) < _TURN_DEG
        if agree.mean() < 0.6:
            alone += len(some)
            continue
        judged += len(some)
        agree |= _own_kind(some, agree)
        for one, good, turn in zip(some, agree, turns, strict=True):
            half = abs(abs(float(_apart(np.array([turn]), best)[0])) - 180.0) < _TURN_DEG
            if not good and told < 6 and not (half and one.pin_count == 2 and _EITHER_WAY.match(one.row.part)):
                told += 1
                like = {s.row.value_text for s, fits in zip(some, agree, strict=True) if fits}
                sight.verdict(
                    "board.placement-rotated", f"board.parts.{one.row.part}",
                    "stop" if one.row.part[:1] in "RCL" or one.row.value_text in like else "caution",
                    f"{one.row.part} is turned otherwise than its like.", state="fails", used=used,
                    seen=f"{one.row.turn_deg:g} degrees in the file, {_apart(np.array([turn]), best)[0]:+.0f} from its like",
                    wanted="the same angle between pads and file for one package",
                    place=Place(role.file, "centroid", one.row.x_mm, one.row.y_mm, one.row.part),
                    doubt="Two footprints of one name look so. For a resistor half a turn does no harm.",
                )  # fmt: skip
    for one in _back_to_front([s for some in lone for s in some]):
        told += 1
        sight.verdict(
            "board.placement-rotated", f"board.parts.{one.row.part}", "caution",
            f"{one.row.part} seems to be placed back to front.", state="fails", used=used,
            seen=f"pin 1 to pin 2 points up at rotation 0 ({one.row.turn_deg:g} degrees in the file)",
            wanted="down, as at the other chips: pin 1 top left (IPC-7351)",
            place=Place(role.file, "centroid", one.row.x_mm, one.row.y_mm, one.row.part),
            doubt="A footprint drawn half a turn round looks so: look at pin 1 in the preview of the maker.",
        )  # fmt: skip
    if not told:
        sight.verdict(
            "board.placement-rotated", "board.files", "stop" if judged else "caution",
            "Parts of one package are all turned alike." if judged else "No three parts share a package, so rotations cannot be judged.",
            state="holds" if judged else "unknown", used=used, seen=f"{judged} parts judged, {alone} without enough of their kind",
            wanted="the same angle between pads and file for one package", place=Place(role.file, "centroid"),
            doubt="What angle a fabricator takes for zero cannot be seen from files: look at the preview that it shows.",
        )  # fmt: skip


def _own_kind(some: list[_Seated], agree: np.ndarray) -> np.ndarray:
    """Rows that differ from the rest together with every other one of their value: another drawing, not a mistake."""
    values: dict[str, list[int]] = {}
    for place, one in enumerate(some):
        values.setdefault(one.row.value_text, []).append(place)
    made = np.zeros(len(some), dtype=bool)
    for value, places in values.items():
        if value and len(places) >= 2 and not agree[places].any():
            made[places] = True
    return made


def _back_to_front(some: list[_Seated]) -> list[_Seated]:
    """Chips with two rows of surface pads that point the other way round than the rest of their kind does.

    References: IPC-7351, zero orientation with pin 1 top left: the next pin lies below it.
    """
    chips = [
        s
        for s in some
        if s.pin_count >= 6 and s.pad_side != "both" and s.row.part[:1] in "UI" and s.heading_deg is not None
    ]
    down = [s for s in chips if s.heading_deg is not None and abs(s.heading_deg - 270.0) < _TURN_DEG]
    up = [s for s in chips if s.heading_deg is not None and abs(s.heading_deg - 90.0) < _TURN_DEG]
    return up if down and len(up) <= len(down) and len(down) + len(up) == len(chips) else []


def _apart(turns: np.ndarray, other: float) -> np.ndarray:
    """Angles between turns and another, -180 to 180 degrees."""
    return np.asarray(np.degrees((turns - other + math.pi) % (2 * math.pi) - math.pi))


def _middles(
    sight: Sight, seated: list[_Seated], moved: tuple[float, float], role: FileRole, used: tuple[FileRole | None, ...]
) -> None:  # fmt: skip
    """Parts whose row is not in the middle of their pads."""
    off = [
        (math.hypot(s.row.x_mm - moved[0] - s.middle_mm[0], s.row.y_mm - moved[1] - s.middle_mm[1]), s) for s in seated
    ]  # fmt: skip
    far = sorted(((d, s) for d, s in off if d > _OFF_MM), key=lambda pair: -pair[0])
    bad = [(d, s) for d, s in far if s.pin_count <= 2 or d > 10.0]
    for distance, one in bad[:6]:
        sight.verdict(
            "board.placement-middle", f"board.parts.{one.row.part}", "caution", f"{one.row.part} is placed beside its pads.",
            state="fails", used=used, seen=f"{distance:.1f} mm off", wanted="in the middle of its pads",
            place=Place(role.file, "centroid", one.row.x_mm, one.row.y_mm, one.row.part),
            doubt="Connectors and modules are often given by another point than the middle.",
        )  # fmt: skip
    if not bad:
        sight.verdict(
            "board.placement-middle", "board.files", "caution", "Parts are placed in the middle of their pads.", state="holds",
            used=used, seen=f"{len(far)} of {len(seated)} parts off by more than {_OFF_MM:g} mm, none of two pins",
            wanted="parts of two pins in the middle", place=Place(role.file, "centroid"),
        )  # fmt: skip
