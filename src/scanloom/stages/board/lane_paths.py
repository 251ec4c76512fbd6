"""From chip pin to connector pin: what the netlist joins, and the level that the parts as listed give."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from scanloom.basis.fact import Known
from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.basis.verdict import Judged, Place
from scanloom.dossier.model import CHANNELS, Connector
from scanloom.dossier.reading import Reading
from scanloom.handbook.limits import known_limit
from scanloom.stages.board.graph import PinGraph
from scanloom.stages.board.model import FileRole, PinName
from scanloom.stages.board.sight import Sight
from scanloom.stages.lanes import ChannelDrive
from scanloom.stages.levels.network import Missing, colour_stage
from scanloom.stages.levels.tolerance import white_span
from scanloom.stages.levels.wiring import colour_wiring

COLOUR_PIN = {"red": "1", "green": "2", "blue": "3"}
"""Pins of a 15-pin connector that carry colours."""
_TOLERANCE = 5.0  # percent, for a listed value without one


@record
class LanePath:
    """What stands between one chip pin and a connector.

    Parameters
    ----------
    connector : str
        The connector.
    channel : str
        red, green or blue.
    chip_pin : int
        Pin of the chip, by its own number. [1]
    reached : tuple of str
        Pins of the connector that the net behind the part reaches.
    through : str
        The part; empty where chip and connector share a net.
    as_built_ohm : float or None
        Its value by the parts list. [ohm]
    """

    connector: str
    channel: str
    chip_pin: int
    reached: tuple[str, ...]
    through: str
    as_built_ohm: float | None


def chip_pins(sight: Sight) -> tuple[str, Mapping[int, tuple[PinName, ...]]]:
    """The chip's part, and its pads by the chip's own pin numbers.

    Parameters
    ----------
    sight : Sight
        The board.

    Returns
    -------
    tuple
        Designator, empty when the dossier names none; pads by pin. [1]
    """
    graph, board = sight.graph, sight.reading.plan.dossier.board
    name = next((n for n, part in (board.parts if board else {}).items() if part.is_ == "chip"), "")
    part = graph.part(name) if name else ""
    if not part:
        return name, {}
    made: dict[int, list[PinName]] = {}
    for pin in graph.parts[part]:
        number = pin_number(graph.functions.get(pin, "")) if graph.functions.get(pin) else pin_number(pin[1])
        if number is not None:
            made.setdefault(number, []).append(pin)
    return name, {number: tuple(pins) for number, pins in made.items()}


def pin_number(text: str) -> int | None:
    """Number of a pin by its name, such as GPIO25, IO25 or P0.25; a bare number is the pad's and tells nothing.

    Parameters
    ----------
    text : str
        Name of a pin.

    Returns
    -------
    int or None
        The number. [1]
    """
    upper = text.upper().strip()
    for mark in ("GPIO", "GPI", "IO", "GP", "D", "P"):
        if upper.startswith(mark):
            rest = upper[len(mark) :].lstrip("_.").split("/")[0]
            return int(rest) if rest.isdigit() and len(rest) <= 3 else None
    return None


def judge_lane_paths(sight: Sight) -> tuple[LanePath, ...]:
    """Judge every colour pin of the dossier: its series part, where it arrives, the level there.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.

    Returns
    -------
    tuple of LanePath
        What was found.
    """
    plan, graph = sight.reading.plan, sight.graph
    connectors = plan.connectors
    if not connectors:
        sight.verdict(
            "board.lane-path", "board.connectors", "stop" if sight.has_dossier else "note",
            "The dossier states no connectors to follow the lanes to.",
            state="unknown", used=graph.roles, doubt="State board.connectors with their pins, or name the dossier.",
        )  # fmt: skip
        return ()
    if not graph.nets:
        sight.verdict(
            "board.lane-path", "board.connectors", "stop", "Without nets nobody can follow a lane.", state="unknown",
            used=sight.files.roles, doubt="Export the netlist as IPC-D-356A, or Gerber X2 with nets and pins.",
        )  # fmt: skip
        return ()
    chip, pads = chip_pins(sight)
    if not pads:
        sight.verdict(
            "board.lane-path", "board.parts", "stop",
            f"Nothing tells which pad of {chip or 'the chip'} is which pin, so no lane can be followed." if chip
            else "The dossier does not say which part is the chip, so no lane can be followed.",
            state="unknown", used=graph.roles,
            doubt='State it in board.parts: U1 = { is = "chip", pins = { 8 = "GPIO32" } }, or export X2 with pin names.',
        )  # fmt: skip
        return ()
    made: list[LanePath] = []
    for connector in connectors:
        name = graph.part(connector.name)
        if not name:
            sight.verdict(
                "board.part-missing", f"board.connectors.{connector.name}", "stop",
                f"Connector {connector.name} of the dossier is on no net of the board.", state="fails", used=graph.roles,
                seen="no such designator", wanted=connector.name, place=Place(nets_file(graph), "netlist"),
                doubt="A connector may have another designator on the board: give both the same name.",
            )  # fmt: skip
            continue
        for channel in CHANNELS:
            made.extend(_channel(sight, connector, name, channel, chip, pads))
    return tuple(made)


def _channel(
    sight: Sight, connector: Connector, part: str, channel: str, chip: str, pads: Mapping[int, tuple[PinName, ...]]
) -> list[LanePath]:  # fmt: skip
    """One channel of one connector."""
    known: Known[tuple[int, ...]] | None = getattr(connector, channel)
    if known is None:
        return []
    graph = sight.graph
    read = sight.reading.fork()
    pins = read(known)
    subject = f"board.connectors.{connector.name}.{channel}"
    wanted = (part, COLOUR_PIN[channel])
    paths = [_path(graph, connector.name, channel, number, part, pads.get(number, ())) for number in pins]
    net = graph.nets.get(wanted, "")
    at = graph.place(wanted)
    place = Place(nets_file(graph), "", at.x_mm if at else None, at.y_mm if at else None, "-".join(wanted))
    direct = [number for number in pins if net and any(graph.nets.get(pad) == net for pad in pads.get(number, ()))]
    if direct:
        sight.verdict(
            "board.no-series-part", subject, "stop",
            f"Pin {direct[0]} of {chip} sits straight on {connector.name}-{COLOUR_PIN[channel]}, with no part between.",
            state="fails", used=nets_from(graph), read=read, seen=f"both on net {net}", wanted="a part of the colour stage between",
            place=place, doubt="Right only where the dossier's colour stage is direct: 3.3 V then reaches a 0.7 V input.",
        )  # fmt: skip
        return paths
    lost = [p for p in paths if COLOUR_PIN[channel] not in p.reached]
    if lost:
        _lost(sight, subject, read, lost[0], wanted, chip, pads, place)
        return paths
    sight.verdict(
        "board.no-series-part", subject, "stop", f"Between chip and {connector.name}-{COLOUR_PIN[channel]} stands its part.",
        state="holds", used=nets_from(graph), read=read, seen=", ".join(p.through for p in paths), wanted="a part on each pin",
        place=place,
    )  # fmt: skip
    sight.verdict(
        "board.lane-path", subject, "stop", f"{channel.capitalize()} arrives at {connector.name}-{COLOUR_PIN[channel]}.",
        state="holds", used=nets_from(graph), read=read, seen=", ".join(f"pin {p.chip_pin} through {p.through}" for p in paths),
        wanted=", ".join(f"pin {n}" for n in pins), place=place,
    )  # fmt: skip
    _level(sight, subject, connector, channel, pins, paths, place)
    return paths


def _lost(
    sight: Sight, subject: str, read: Reading, path: LanePath, wanted: PinName, chip: str,
    pads: Mapping[int, tuple[PinName, ...]], place: Place,
) -> None:  # fmt: skip
    """A lane that does not arrive where it should."""
    graph = sight.graph
    net = graph.nets.get(wanted, "")
    fed = [
        (n, part)
        for part, behind in graph.beyond(net)
        for n, some in pads.items()
        if any(graph.nets.get(p) == behind for p in some)
    ]
    elsewhere = ", ".join(f"{path.connector}-{pin}" for pin in path.reached)
    seen = f"pin {path.chip_pin} reaches {elsewhere or 'no pin of this connector'}"
    seen += (
        f"; {'-'.join(wanted)} is fed by pin {fed[0][0]} through {fed[0][1]}"
        if fed
        else f"; {'-'.join(wanted)} is fed by no pin"
    )
    same = [pin for pin in path.reached if pin in COLOUR_PIN.values()]
    if same:
        sight.verdict(
            "board.lane-path", subject, "stop",
            f"Pin {path.chip_pin} of {chip} arrives at {path.connector}-{same[0]} instead of {'-'.join(wanted)}.",
            state="fails", used=nets_from(graph), read=read, seen=seen, wanted=f"pin {path.chip_pin} at {'-'.join(wanted)}",
            place=place, doubt="Colours exchanged on one connector can be put right in firmware: change the dossier's pins.",
        )  # fmt: skip
        return
    missing = next((part for part, _ in _unfitted(graph, net)), "")
    if missing and not fed:
        seen += (
            f"; {missing} is listed as not fitted"
            if graph.line(missing)
            else f"; {missing} is on no line of the parts list"
        )
        place = replace(place, pin=missing)
    sight.verdict(
        "board.lane-path", subject, "stop", f"Pin {path.chip_pin} of {chip} does not arrive at {'-'.join(wanted)}.",
        state="fails", used=nets_from(graph), read=read, seen=seen, wanted=f"pin {path.chip_pin} through one part", place=place,
        doubt="A lane through a buffer or a transistor is not followed: state that colour stage in the dossier.",
    )  # fmt: skip


def _unfitted(graph: PinGraph, net: str) -> list[tuple[str, str]]:
    """Resistors on a net that are not fitted."""
    return [
        (pin[0], pin[1])
        for pin in graph.pins.get(net, ())
        if pin[0].upper().startswith("R") and not graph.fitted(pin[0])
    ]


def _path(graph: PinGraph, connector: str, channel: str, number: int, part: str, pads: Sequence[PinName]) -> LanePath:
    """What one chip pin reaches through one resistor."""
    reached: list[str] = []
    through, ohm = "", None
    for pad in pads:
        for resistor, behind in graph.beyond(graph.nets.get(pad, "")):
            ends = [pin for name, pin in graph.pins.get(behind, ()) if name == part]
            if ends:
                reached.extend(ends)
                through = resistor
                value = graph.value(resistor)
                ohm = value.amount if value is not None and value.unit_name == "ohm" else None
    return LanePath(connector, channel, number, tuple(reached), through, ohm)


def _level(
    sight: Sight,
    subject: str,
    connector: Connector,
    channel: str,
    pins: tuple[int, ...],
    paths: Sequence[LanePath],
    place: Place,
) -> None:
    """White as the listed parts give it."""
    graph = sight.graph
    read = sight.reading.fork()
    display = read.plan.displays.get(read(connector.plugs)) if connector.plugs is not None else None
    used = nets_from(graph)
    if any(p.as_built_ohm is None for p in paths):
        part = next(p.through for p in paths if p.as_built_ohm is None)
        sight.verdict(
            "board.lane-level", subject, "stop", f"The value of {part} is not known, so the level is not, either.",
            state="unknown", used=used, place=place, doubt=f"Export the parts list with {part} and its value.",
        )  # fmt: skip
        return
    if display is None:
        return
    drive = ChannelDrive(display.name, connector.name, channel, pins, True)
    read(getattr(connector, channel))
    try:
        wiring = colour_wiring(read, drive, display)
    except Missing as missing:
        sight.verdict(
            "board.lane-level", subject, "stop", f"{missing.says}, so the level of the parts as listed is not known.",
            state="unknown", used=used, read=read, place=place, doubt=missing.measure,
        )  # fmt: skip
        return
    net = wiring.network
    if net.style not in ("series", "weighted") or wiring.buffer is not None or wiring.amplifier is not None:
        sight.verdict(
            "board.lane-level", subject, "caution", f"A colour stage of style {wiring.style} is not followed part by part.",
            state="unknown", used=used, read=read, place=place, doubt="Compare the parts with the dossier by eye.",
        )  # fmt: skip
        return
    stated, _ = colour_stage(read.fork(), display)
    decided = net.part_ohm
    built = tuple(_as_built(graph, path, span) for path, span in zip(paths, decided, strict=True))
    extra = _to_ground(
        graph, graph.nets.get((graph.part(connector.name), COLOUR_PIN[channel]), ""), [p.through for p in paths]
    )
    made = replace(net, part_ohm=built, shunt_ohm=extra)
    limit = known_limit("white")
    low, high = limit.value.low, limit.value.high
    span = white_span(made)
    assert low is not None and high is not None
    state: Judged = (
        "holds" if low <= span.low and span.high <= high else "fails" if not low <= span.typical <= high else "unknown"
    )
    listed = ", ".join(f"{p.through} {p.as_built_ohm:g} ohm" for p in paths) + (
        " and a part to ground" if extra else ""
    )
    sight.verdict(
        "board.lane-level", subject, "stop",
        {
            "holds": f"White at {connector.name}-{COLOUR_PIN[channel]} with the parts as listed lies inside the window.",
            "fails": f"White at {connector.name}-{COLOUR_PIN[channel]} with the parts as listed lies outside the window.",
            "unknown": f"White at {connector.name}-{COLOUR_PIN[channel]} with the parts as listed may leave the window.",
        },
        state=state, used=used, read=read, seen=listed, wanted=", ".join(f"{s.typical:g} ohm" for s in decided), place=place,
        found=span, unit="V", low=low, high=high, target=limit.value.typical, limit=limit,
        doubt="" if state == "holds" else "A parts list may write its values in a way that is read wrong: look at the line.",
    )  # fmt: skip
    off = [
        (p, s)
        for p, s in zip(paths, decided, strict=True)
        if not s.low * 0.999 <= (p.as_built_ohm or 0) <= s.high * 1.001
    ]
    if stated is not None and off and state != "fails":
        path, span = off[0]
        sight.verdict(
            "board.part-value", subject, "caution", f"{path.through} is not the part that the dossier decided.", state="fails",
            used=used, read=read, seen=f"{path.as_built_ohm:g} ohm", wanted=f"{span.typical:g} ohm",
            place=replace(place, pin=path.through), doubt="Change the parts list, or levels.colour.part.",
        )  # fmt: skip


def _as_built(graph: PinGraph, path: LanePath, decided: Span) -> Span:
    """Bounds of a part as listed; the tolerance of the dossier where the list gives none."""
    assert path.as_built_ohm is not None
    value = graph.value(path.through)
    stated = value.tolerance_percent if value is not None else None
    usual = (decided.high / decided.typical - 1) * 100 if decided.typical else _TOLERANCE
    return Span.exact(path.as_built_ohm).relative(stated if stated is not None else usual)


def _to_ground(graph: PinGraph, net: str, without: Sequence[str]) -> Span | None:
    """A resistor from the connector's pin to ground, all of them side by side."""
    siemens = 0.0
    for part, behind in graph.beyond(net):
        value = graph.value(part)
        if behind == graph.ground and part not in without and value is not None and value.amount > 0:
            siemens += 1 / value.amount
    return Span.exact(1 / siemens) if siemens else None


def nets_from(graph: PinGraph) -> tuple[FileRole | None, ...]:
    """Files that a path is read from.

    Parameters
    ----------
    graph : PinGraph
        Nets and parts.

    Returns
    -------
    tuple of FileRole
        Netlist, copper that names pins, parts list.
    """
    return (*graph.roles, *graph.copper_roles, graph.list_role)


def nets_file(graph: PinGraph) -> str:
    """File that the nets are from.

    Parameters
    ----------
    graph : PinGraph
        Nets and parts.

    Returns
    -------
    str
        Its name; empty when there is none.
    """
    return next((role.file for role in graph.roles if role is not None), "")
