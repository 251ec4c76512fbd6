"""The 15-pin connectors: numbered from the right side, returns joined."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np

from scanloom.basis.record import record
from scanloom.basis.verdict import Place
from scanloom.stages.board.graph import PinGraph, PinPlace, named_ground
from scanloom.stages.board.model import Side
from scanloom.stages.board.pads import nets_file, nets_from
from scanloom.stages.board.sight import Sight

RETURNS = ("5", "6", "7", "8", "10")
"""Grounds of a 15-pin connector: 6, 7, 8 of the colours, 10 of the syncs, 5 of the rest."""


_COLOUR_OF = {"6": "1", "7": "2", "8": "3"}
_PLUG = re.compile(r"(?i)(?<!fe)male|plug|stecker|(?<![a-z])m(?![a-z])")
_SOCKET = re.compile(r"(?i)female|socket|receptacle|buchse|(?<![a-z])f(?![a-z])")
_PITCH_MM, _ROW_MM, _EDGE_MM, _INK_MM = (2.1, 2.5), (1.7, 2.8), 16.0, 4.0


@record
class _Socket:
    """One connector of a picture.

    Parameters
    ----------
    name : str
        As the dossier calls it, else as the files do.
    part : str
        As the netlist calls it.
    stated : bool
        Whether the dossier names it; what is only found is judged by a caution at most.
    side : Side
        Side that the placement file gives; empty when it gives none.
    gender : str
        plug, socket, or empty where no file says.
    """

    name: str
    part: str
    stated: bool
    side: Side
    gender: str

    @property
    def subject(self) -> str:
        """Line of the dossier that is protected."""
        return f"board.connectors.{self.name}" if self.stated else f"board.parts.{self.name}"


def judge_sockets(sight: Sight, places_right: bool) -> None:
    """Judge side and returns of every connector of the dossier, and of others that are dense 15-pin ones by their pads.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.
    places_right : bool
        Whether the netlist lies as it should; else the side cannot be seen from it.
    """
    graph = sight.graph
    stated = {graph.part(one.name): one.name for one in sight.reading.plan.connectors if graph.part(one.name)}
    found = [part for part in graph.parts if part not in stated and _is_dense(graph, part)]
    for part, name in [*stated.items(), *((part, part) for part in found)]:
        one = _Socket(
            name,
            part,
            part in stated,
            _placed_side(sight, name),
            _gender(sight, name, part),
        )
        if places_right:
            _side(sight, one)
        _returns(sight, one)


def _is_dense(graph: PinGraph, part: str) -> bool:
    """Whether a part's pins 1 to 15 stand in three rows of five at the usual pitch, in holes; a picture connector does."""
    at = [graph.place((part, str(n))) for n in range(1, 16)]
    if any(place is None or (place.hole_mm <= 0 and place.access != "both") for place in at):
        return False
    return _in_rows(at)


def _in_rows(at: list[PinPlace | None]) -> bool:
    """Whether fifteen places stand in three rows of five at the usual pitch."""
    spots = np.array([(place.x_mm, place.y_mm) for place in at if place is not None])
    rows = spots.reshape(3, 5, 2)
    steps = np.linalg.norm(np.diff(rows, axis=1), axis=2)
    along = (rows[0, 4] - rows[0, 0]) / max(float(np.linalg.norm(rows[0, 4] - rows[0, 0])), 1e-9)
    across = np.abs((rows.mean(axis=1) - rows[0].mean(axis=0)) @ np.array([-along[1], along[0]]))
    even = (steps > _PITCH_MM[0]).all() and (steps < _PITCH_MM[1]).all()
    apart = _ROW_MM[0] < across[1] < _ROW_MM[1] and 1.8 * across[1] < across[2] < 2.2 * across[1]
    return bool(even and apart)


def _gender(sight: Sight, name: str, part: str) -> str:
    """Plug or socket, by what the tables call the part."""
    line = sight.graph.line(part)
    texts = [line.value_text] if line is not None else []
    texts += [
        f"{row.value_text} {row.package}" for t in sight.files.placements for row in t.rows_placed if row.part == name
    ]
    text = " ".join(texts).replace("_", " ")
    if _SOCKET.search(text):
        return "socket"
    return "plug" if _PLUG.search(text) else ""


def _side(sight: Sight, one: _Socket) -> None:
    """From which side the pins are numbered."""
    graph, name = sight.graph, one.name
    corner, along, across = (graph.place((one.part, pin)) for pin in ("1", "5", "11"))
    if corner is None or along is None or across is None:
        sight.verdict(
            "board.connector-side", one.subject, "stop" if one.stated else "caution",
            f"Pins 1, 5 and 11 of {name} are not all in the files.", state="unknown",
            used=nets_from(graph), doubt="Number the pads 1 to 15, and export the netlist again.",
        )  # fmt: skip
        return
    if not _in_rows([graph.place((one.part, str(n))) for n in range(1, 16)]):
        sight.verdict(
            "board.connector-side", one.subject, "stop", f"The pads of {name} do not stand in three rows of five, 1 to 15 in order.",
            state="unknown", used=nets_from(graph), place=Place(nets_file(graph), "", corner.x_mm, corner.y_mm, f"{one.part}-1"),
            doubt="A header for a cable looks so: follow the cable to the connector by eye. Else the pads are numbered wrong.",
        )  # fmt: skip
        return
    turn = _cross(corner, along, across)
    kind = one.gender or "socket"
    right = (turn > 0) == ((one.side != "bottom") == (kind == "socket"))
    if (
        not right and not one.side and _is_inked_below(sight, one.part)
    ):  # ink excuses, and never accuses: legends may be exchanged
        one, right = replace(one, side="bottom"), True
    place = Place(nets_file(graph), "", corner.x_mm, corner.y_mm, f"{one.part}-1")
    seen = f"from pin 1 to 5 to 11 {'counter-clockwise' if turn > 0 else 'clockwise'} seen from above, fitted on the {one.side or 'top'}"
    seen += f" as a {one.gender}" if one.gender else ""
    wanted = "counter-clockwise for a socket on top"
    if not right and not one.stated and not (one.gender and one.side):
        sight.verdict(
            "board.connector-side", one.subject, "caution",
            f"{name} is numbered as a plug on top is, or a socket fitted from below; no file says which it is.", state="unknown",
            used=nets_from(graph), seen=seen, wanted=wanted, place=place,
            doubt="If it is a socket on top, it is numbered from the wrong side: lay the part on a 1:1 print.",
        )  # fmt: skip
        return
    if not right:
        sight.verdict(
            "board.connector-side", one.subject, "stop" if one.stated else "caution",
            f"{name} is numbered as seen from the wrong side.", state="fails",
            used=nets_from(graph), seen=seen, wanted=wanted, place=place,
            doubt="Right for a plug on top, or a socket fitted from below; files cannot tell these apart: lay the part on a 1:1 print.",
        )  # fmt: skip
        return
    sight.verdict(
        "board.connector-side", one.subject, "stop" if one.stated else "caution",
        f"{name} is numbered as a {kind} on the {one.side or 'top'} is.", state="holds",
        used=nets_from(graph), seen=seen, wanted=wanted, place=place,
    )  # fmt: skip
    near, far = _edge_distances(sight, corner, across)
    if 0 < near < far - 1.0 and near < _EDGE_MM and kind == "socket":
        sight.verdict(
            "board.connector-faces", one.subject, "caution", f"The row 1 to 5 of {name} lies nearer to the board's edge than 11 to 15.",
            state="fails", used=nets_from(graph), seen=f"{near:.1f} mm against {far:.1f} mm",
            wanted="the row 11 to 15 next to the edge, as angled sockets have it", place=place,
            doubt="Upright sockets may face either way: lay the part on a 1:1 print.",
        )  # fmt: skip


def _cross(corner: PinPlace, along: PinPlace, across: PinPlace) -> float:
    """Sense of turn from pin 1 to 5 to 11, positive counter-clockwise."""
    u = along.x_mm - corner.x_mm, along.y_mm - corner.y_mm
    v = across.x_mm - corner.x_mm, across.y_mm - corner.y_mm
    return u[0] * v[1] - u[1] * v[0]


def _placed_side(sight: Sight, name: str) -> Side:
    """Side that the centroid file gives a part, empty when it gives none."""
    rows = [row for table in sight.files.placements for row in table.rows_placed if row.part == name]
    return rows[0].side if rows else ""


def _is_inked_below(sight: Sight, part: str) -> bool:
    """Whether the legend below draws lines around the pads of a part, and the one on top does not."""
    at = [place for pin in sight.graph.parts[part] for place in sight.graph.places.get(pin, ())]
    if not at:
        return False
    left, right = min(p.x_mm for p in at) - _INK_MM, max(p.x_mm for p in at) + _INK_MM
    low, high = min(p.y_mm for p in at) - _INK_MM, max(p.y_mm for p in at) + _INK_MM
    lines = {
        side: sum(
            one.kind == "stroke" and left < one.x_mm < right and low < one.y_mm < high
            for layer in sight.files.of("legend", side) for one in layer.drawn
        )
        for side in ("top", "bottom")
    }  # fmt: skip
    return lines["bottom"] >= 4 and lines["bottom"] > 3 * lines["top"]


def _edge_distances(sight: Sight, corner: PinPlace, across: PinPlace) -> tuple[float, float]:
    """Distances of both rows to the edge that lies nearest in the direction across them; noughts without an outline."""
    box = sight.outline_box
    if box is None:
        return 0.0, 0.0
    upright = abs(across.y_mm - corner.y_mm) >= abs(across.x_mm - corner.x_mm)
    one, two = (corner.y_mm, across.y_mm) if upright else (corner.x_mm, across.x_mm)
    low, high = (box[1], box[3]) if upright else (box[0], box[2])
    return (one - low, two - low) if one + two < low + high else (high - one, high - two)


def _returns(sight: Sight, one: _Socket) -> None:
    """Whether the grounds of a connector are joined to ground; those of colours and syncs that it does not carry need not be."""
    graph, name, part = sight.graph, one.name, one.part
    if not any((part, pin) in graph.nets for pin in RETURNS):
        sight.verdict(
            "board.returns", one.subject, "stop", f"None of the pins 5, 6, 7, 8 and 10 of {name} is in the files.", state="unknown",
            used=nets_from(graph), doubt="Number the pads 1 to 15, and export the netlist again.",
        )  # fmt: skip
        return
    nets = {pin: graph.nets.get((part, pin), "") for pin in RETURNS}
    loose = [pin for pin, net in nets.items() if net not in graph.grounds]
    apart = [pin for pin in loose if named_ground(nets[pin])]
    needed = [
        pin for pin in loose
        if pin not in apart and (pin == "10" or (pin in _COLOUR_OF and _in_use(graph, part, _COLOUR_OF[pin])))
    ]  # fmt: skip
    first = (needed or loose or ["6"])[0]
    at = graph.place((part, first))
    place = Place(nets_file(graph), "", at.x_mm if at else None, at.y_mm if at else None, f"{part}-{first}")
    on = ", ".join(f"{pin} on {nets[pin] or 'nothing'}" for pin in loose)
    seen, wanted = on or f"5, 6, 7, 8 and 10 on {graph.ground}", f"net {graph.ground}"
    doubt = "A board with two grounds joins them elsewhere: then look there. Without its return a colour has no level."
    if loose and loose == apart:
        sight.verdict(
            "board.returns", one.subject, "stop" if one.stated else "caution",
            f"Pins {', '.join(loose)} of {name} are on a ground of their own, and no file shows where it meets the other.",
            state="unknown", used=nets_from(graph), seen=seen, wanted=wanted, place=place, doubt=doubt,
        )  # fmt: skip
        return
    sight.verdict(
        "board.returns", one.subject, "stop" if one.stated and (needed or not loose) else "caution",
        f"Pins {', '.join(loose)} of {name} are not joined to ground." if loose else f"All returns of {name} are joined to ground.",
        state="fails" if loose else "holds", used=nets_from(graph), seen=seen, wanted=wanted, place=place, doubt=doubt if loose else "",
    )  # fmt: skip


def _in_use(graph: PinGraph, part: str, pin: str) -> bool:
    """Whether a pin of a connector leads to any other part."""
    return any(other != part for other, _ in graph.pins.get(graph.nets.get((part, pin), ""), ()))
