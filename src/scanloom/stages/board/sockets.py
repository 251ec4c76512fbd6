"""The 15-pin connectors: numbered from the right side, returns joined; and the serial pair."""

from __future__ import annotations

from scanloom.basis.verdict import Place
from scanloom.stages.board.graph import PinGraph, PinPlace
from scanloom.stages.board.lane_paths import chip_pins, nets_file, nets_from, pin_number
from scanloom.stages.board.model import PinName
from scanloom.stages.board.sight import Sight

RETURNS = ("5", "6", "7", "8", "10")
"""Grounds of a 15-pin connector: 6, 7, 8 of the colours, 10 of the syncs, 5 of the rest."""


def judge_sockets(sight: Sight, places_right: bool) -> None:
    """Judge side and returns of every connector of the dossier.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.
    places_right : bool
        Whether the netlist lies as it should; else the side cannot be seen from it.
    """
    graph = sight.graph
    for connector in sight.reading.plan.connectors:
        part = graph.part(connector.name)
        if not part:
            continue
        if places_right:
            _side(sight, connector.name, part)
        _returns(sight, connector.name, part)


def _side(sight: Sight, name: str, part: str) -> None:
    """From which side the pins are numbered."""
    graph = sight.graph
    corner, along, across = (graph.place((part, pin)) for pin in ("1", "5", "11"))
    subject = f"board.connectors.{name}"
    if corner is None or along is None or across is None:
        sight.verdict(
            "board.connector-side", subject, "stop", f"Pins 1, 5 and 11 of {name} are not all in the files.", state="unknown",
            used=nets_from(graph), doubt="Number the pads 1 to 15, and export the netlist again.",
        )  # fmt: skip
        return
    turn = _cross(corner, along, across)
    side = _placed_side(sight, name)
    right = turn > 0 if side != "bottom" else turn < 0
    place = Place(nets_file(graph), "", corner.x_mm, corner.y_mm, f"{part}-1")
    seen = f"from pin 1 to 5 to 11 {'counter-clockwise' if turn > 0 else 'clockwise'} seen from above, fitted on the {side or 'top'}"
    if not right:
        sight.verdict(
            "board.connector-side", subject, "stop", f"{name} is numbered as seen from the wrong side.", state="fails",
            used=nets_from(graph), seen=seen, wanted="counter-clockwise for a socket on top", place=place,
            doubt="Right for a plug on top, or a socket fitted from below; files cannot tell these apart: lay the part on a 1:1 print.",
        )  # fmt: skip
        return
    row_far = _edge_distance(sight, corner), _edge_distance(sight, across)
    turned = row_far[0] is not None and row_far[1] is not None and 0 < row_far[0] < row_far[1]
    sight.verdict(
        "board.connector-side", subject, "stop", f"{name} is numbered as a socket on the {side or 'top'} is.", state="holds",
        used=nets_from(graph), seen=seen, wanted="counter-clockwise for a socket on top", place=place,
    )  # fmt: skip
    if turned:
        sight.verdict(
            "board.connector-faces", subject, "caution", f"The row 1 to 5 of {name} lies nearer to the board's edge than 11 to 15.",
            state="fails", used=nets_from(graph), seen=f"{row_far[0]:.1f} mm against {row_far[1]:.1f} mm",
            wanted="the row 11 to 15 next to the edge, as angled sockets have it", place=place,
            doubt="Upright sockets may face either way: lay the part on a 1:1 print.",
        )  # fmt: skip


def _cross(corner: PinPlace, along: PinPlace, across: PinPlace) -> float:
    """Sense of turn from pin 1 to 5 to 11, positive counter-clockwise."""
    u = along.x_mm - corner.x_mm, along.y_mm - corner.y_mm
    v = across.x_mm - corner.x_mm, across.y_mm - corner.y_mm
    return u[0] * v[1] - u[1] * v[0]


def _placed_side(sight: Sight, name: str) -> str:
    """Side that the centroid file gives a part, empty when it gives none."""
    rows = [row for table in sight.files.placements for row in table.rows_placed if row.part == name]
    return rows[0].side if rows else ""


def _edge_distance(sight: Sight, at: PinPlace) -> float | None:
    """Distance to the nearest edge of the board's box."""
    box = sight.outline_box
    if box is None:
        return None
    return min(at.x_mm - box[0], box[2] - at.x_mm, at.y_mm - box[1], box[3] - at.y_mm)


def _returns(sight: Sight, name: str, part: str) -> None:
    """Whether the grounds of a connector are joined to ground."""
    graph = sight.graph
    loose = [pin for pin in RETURNS if graph.nets.get((part, pin), "") != graph.ground]
    at = graph.place((part, loose[0] if loose else "6"))
    place = Place(
        nets_file(graph), "", at.x_mm if at else None, at.y_mm if at else None, f"{part}-{loose[0] if loose else '6'}"
    )
    on = ", ".join(f"{pin} on {graph.nets.get((part, pin)) or 'nothing'}" for pin in loose)
    sight.verdict(
        "board.returns", f"board.connectors.{name}", "stop",
        f"Pins {', '.join(loose)} of {name} are not joined to ground." if loose else f"All returns of {name} are joined to ground.",
        state="fails" if loose else "holds", used=nets_from(graph), seen=on or f"5, 6, 7, 8 and 10 on {graph.ground}",
        wanted=f"net {graph.ground}", place=place,
        doubt="A board with two grounds joins them elsewhere: then look there. Without its return a colour has no level." if loose else "",
    )  # fmt: skip


def judge_serial(sight: Sight) -> None:
    """Judge whether every talker of the dossier's parts meets the listener of the other one.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.
    """
    graph, board = sight.graph, sight.reading.plan.dossier.board
    if board is None or not graph.nets:
        return
    chip, _ = chip_pins(sight)
    talkers = {name: part for name, part in board.parts.items() if part.talks and part.hears}
    if chip not in talkers or not graph.part(chip):
        return
    for name, other in talkers.items():
        if name == chip or not graph.part(name):
            continue
        mine = talkers[chip]
        assert mine.talks and mine.hears and other.talks and other.hears
        ends = {
            "chip talks": _pin(graph, chip, mine.talks), "chip hears": _pin(graph, chip, mine.hears),
            "other talks": _pin(graph, name, other.talks), "other hears": _pin(graph, name, other.hears),
        }  # fmt: skip
        _pair(sight, name, ends)


def _pair(sight: Sight, name: str, ends: dict[str, PinName | None]) -> None:
    """One serial pair."""
    graph = sight.graph
    subject = f"board.parts.{name}"
    missing = [what for what, pin in ends.items() if pin is None]
    if missing:
        sight.verdict(
            "board.serial-crossed", subject, "stop", f"A pin of the serial pair of chip and {name} is not in the files.",
            state="unknown", used=nets_from(graph), seen=", ".join(missing),
            doubt="Correct talks and hears in board.parts: they are the part's own pin names.",
        )  # fmt: skip
        return
    pins = {what: pin for what, pin in ends.items() if pin is not None}
    forward = (
        _meet(graph, pins["chip talks"], pins["other hears"]),
        _meet(graph, pins["other talks"], pins["chip hears"]),
    )
    wrong = _meet(graph, pins["chip talks"], pins["other talks"]) or _meet(
        graph, pins["chip hears"], pins["other hears"]
    )
    spot = pins[
        "chip talks" if not forward[0] and not wrong and forward[1] else "other talks"
    ]  # the talker nobody hears
    at = graph.place(spot)
    place = Place(nets_file(graph), "", at.x_mm if at else None, at.y_mm if at else None, "-".join(spot))
    seen = "; ".join(f"{'-'.join(pin)} on {graph.nets.get(pin) or 'nothing'}" for pin in pins.values())
    words = {what: "-".join(pin) for what, pin in pins.items()}
    wanted = f"{words['chip talks']} to {words['other hears']}, {words['other talks']} to {words['chip hears']}"
    doubt = "Names such as TX on a net are useless: one side's talker is the other's listener. Check the pins against both datasheets."
    if wrong:
        sight.verdict(
            "board.serial-crossed", subject, "stop", f"The serial pair is crossed: two talkers, or two listeners, of {name} and chip meet.",
            state="fails", used=nets_from(graph), seen=seen, wanted=wanted, place=place, doubt=doubt,
        )  # fmt: skip
    elif not all(forward):
        sight.verdict(
            "board.serial-open", subject, "stop", f"Between chip and {name} a serial line is missing.", state="fails",
            used=nets_from(graph), seen=seen, wanted=wanted, place=place, doubt=doubt,
        )  # fmt: skip
    else:
        sight.verdict(
            "board.serial-crossed", subject, "stop", f"Each talker of chip and {name} meets the other's listener.", state="holds",
            used=nets_from(graph), seen=seen, wanted=wanted, place=place,
        )  # fmt: skip


def _pin(graph: PinGraph, name: str, own: str) -> PinName | None:
    """A pin of a part by the part's own name: the pad's name, its function, or the number in both."""
    part = graph.part(name)
    if (part, own) in graph.nets:
        return part, own
    for pin in graph.parts.get(part, ()):
        function = graph.functions.get(pin, pin[1])
        if function.upper() == own.upper() or (pin_number(own) is not None and pin_number(function) == pin_number(own)):
            return pin
    return None


def _meet(graph: PinGraph, one: PinName, other: PinName) -> bool:
    """Whether two pins share a net, or face one another across a resistor."""
    a, b = graph.nets.get(one, ""), graph.nets.get(other, "")
    return bool(a) and bool(b) and (a == b or any(behind == b for _, behind in graph.beyond(a)))
