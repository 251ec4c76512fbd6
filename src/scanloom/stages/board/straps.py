"""Boot pins as built: the level that resistors on the board give, and everything else on their nets."""

from __future__ import annotations

import re
from collections.abc import Mapping

from scanloom.basis.record import record
from scanloom.basis.verdict import Judged, Place
from scanloom.handbook.chip import Chip, Pin
from scanloom.handbook.limits import known_limit
from scanloom.stages.board.graph import PinGraph
from scanloom.stages.board.pads import COLOUR_PIN, chip_pins, nets_file, nets_from
from scanloom.stages.board.sight import Sight

LAMP_DROP_V = (1.5, 2.4)
"""Voltage over a lamp, red to blue, at the tens of microamperes that a pull gives it: from memory, common practice. [V]"""
_LAMP = re.compile(r"(?i)(?:D|LED)\d+[A-Z]?")
_CHIP = re.compile(r"(?i)(?:U|IC|MOD|RN|RP)\d+[A-Z]?")
_MOST_PINS = 19  # fifteen and four of a shell
_HIGH, _LOW = 0.75, 0.25  # shares of the rail, where the chip's record gives no thresholds: common practice


@record
class _Strap:
    """What holds a boot pin.

    Parameters
    ----------
    net : str
        Its net; empty when the pad is joined to nothing.
    share : float or None
        Level as a share of the rail, None when nothing holds it. [1]
    by : tuple of str
        Resistors that hold it.
    besides : tuple of str
        Other pins on the net.
    unsure : tuple of str
        Resistors to a supply or ground whose value is not known; then nothing is said of the level.
    """

    net: str
    share: float | None
    by: tuple[str, ...]
    besides: tuple[str, ...]
    unsure: tuple[str, ...] = ()


@record
class _Lamp:
    """A lamp at a boot pin.

    Parameters
    ----------
    siemens : float
        Conductance of the resistor before it. [S]
    to_ground : bool
        Whether it leads to ground; else to a supply.
    words : str
        What to call it.
    """

    siemens: float
    to_ground: bool
    words: str


def judge_straps(sight: Sight) -> None:
    """Judge every pin that the chip reads while it starts.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.
    """
    chip = sight.reading.plan.chip
    if chip is None or not sight.graph.nets:
        sight.verdict(
            "board.boot-pin", "chip.like", "stop" if sight.has_dossier else "note",
            "Which pins the chip reads while it starts is not known.", state="unknown",
            used=sight.graph.roles, doubt="State chip.like, and export the netlist.",
        )  # fmt: skip
        return
    name, pads = chip_pins(sight)
    if not pads:
        return
    for row in chip.table.pin:
        for number in row.pins:
            if row.boot is not None and number in pads:
                _judge(
                    sight, chip, row, number, f"{name}-{pads[number][0][1]}", sight.graph.nets.get(pads[number][0], "")
                )


def _judge(sight: Sight, chip: Chip, row: Pin, number: int, pad: str, net: str) -> None:
    """One boot pin."""
    graph = sight.graph
    read = sight.reading.fork()
    if read.plan.dossier.chip is not None:
        read.maybe(read.plan.dossier.chip.like)
    read(chip.known("pin", row))
    strap = _strap(graph, chip, row, net, pad)
    high = row.boot != "must be low"
    low_most, high_least = _thresholds(chip)
    good = strap.share is not None and (strap.share >= high_least if high else strap.share <= low_most)
    bad = strap.share is not None and (strap.share <= low_most if high else strap.share >= high_least)
    state: Judged = "holds" if good else "fails" if bad or strap.share is not None else "unknown"
    word = "high" if high else "low"
    at = graph.place((graph.part(pad.split("-")[0]), pad.split("-", 1)[1]))
    level = (
        f"the value of {', '.join(strap.unsure)} is not known"
        if strap.unsure
        else "nothing holds it"
        if strap.share is None
        else f"{strap.share:.0%} of the rail by {', '.join(strap.by) or 'its own pull'}"
    )
    others = f"; also on the net: {', '.join(strap.besides[:6])}" if strap.besides else ""
    says: Mapping[Judged, str] = {
        "holds": f"Boot pin {number} is held {word}.",
        "fails": f"Boot pin {number} must be {word} and is not: {row.boot_effect}.",
        "unknown": f"The value of {', '.join(strap.unsure)} is not known, so the level of boot pin {number} is not, either."
        if strap.unsure
        else f"Nothing on the board holds boot pin {number}: {row.boot_effect}.",
    }
    sight.verdict(
        "board.boot-pin", f"board.pins.{number}", "caution" if row.boot == "high by default" else "stop", says, state=state,
        used=nets_from(graph), read=read, seen=level + others,
        wanted=f"at least {high_least:.0%}" if high else f"at most {low_most:.0%}",
        place=Place(nets_file(graph), "", at.x_mm if at else None, at.y_mm if at else None, pad),
        doubt="" if state == "holds" else "What else sits on the net may pull it while the chip starts: measure it at reset.",
    )  # fmt: skip


def _strap(graph: PinGraph, chip: Chip, row: Pin, net: str, pad: str) -> _Strap:
    """Level of a net by its resistors, the chip's own pull and displays plugged in."""
    up = down = 0.0
    by: list[str] = []
    unsure: list[str] = []
    if net == graph.ground or net in graph.rails:
        return _Strap(net, 0.0 if net == graph.ground else 1.0, (net,), ())
    for part, behind in graph.beyond(net):
        value = graph.value(part)
        ohm = value.amount if value is not None and value.unit_name == "ohm" else None
        if behind == graph.ground or behind in graph.rails:
            if ohm is None:
                unsure.append(part)
                continue
            siemens = 1 / max(ohm, 1e-3)
            up, down = (up, down + siemens) if behind == graph.ground else (up + siemens, down)
            by.append(f"{part} {ohm:g} ohm")
        elif _is_colour(graph, behind):
            usual = known_limit("termination").value.typical
            assert usual is not None
            down += 1 / ((ohm or 0.0) + usual)
            by.append(f"{part} and a display of {usual:g} ohm")
    logic, pull = chip.table.logic, row.pull
    if logic is not None and pull in ("up", "down"):
        weak = 1 / float(logic.pull.typical)
        up, down = (up + weak, down) if pull == "up" else (up, down + weak)
    lamps = _lamps(graph, net)
    by += [lamp.words for lamp in lamps]
    mine = {*by, *(f"{part} " for part in unsure)}
    besides = tuple(
        f"{part}-{pin}" for part, pin in graph.pins.get(net, ())
        if f"{part}-{pin}" != pad and part != pad.split("-")[0] and not any(word.startswith(f"{part} ") for word in mine)
    )  # fmt: skip
    share = None
    if not unsure and up + down + sum(lamp.siemens for lamp in lamps):
        rail_v = float(chip.table.supply.rail.typical) if chip.table.supply is not None else 3.3
        levels = [_with_lamps(up, down, lamps, drop_v / rail_v) for drop_v in LAMP_DROP_V]
        share = min(levels) if row.boot != "must be low" else max(levels)
    return _Strap(net, share, tuple(by), besides, tuple(unsure))


def _lamps(graph: PinGraph, net: str) -> list[_Lamp]:
    """Lamps that hang on a net through one resistor, or straight, and lead to a supply or ground."""
    made = []
    for resistor, between in (("", net), *graph.beyond(net)):
        for part, far in graph.over(between):
            to_ground = far == graph.ground
            if not _LAMP.fullmatch(part) or far == net or not (to_ground or far in graph.rails):
                continue
            cathode = next(
                (pin for pin in graph.parts[part] if graph.functions.get(pin, pin[1]).upper() in ("K", "C", "1")), None
            )
            if cathode is not None and (graph.nets[cathode] == far) != to_ground:
                continue  # it blocks
            value = graph.value(resistor) if resistor else None
            ohm = max(value.amount, 1.0) if value is not None and value.unit_name == "ohm" else 1.0
            made.append(
                _Lamp(1 / ohm, to_ground, f"{resistor} and the lamp {part}" if resistor else f"the lamp {part}")
            )
    return made


def _with_lamps(up: float, down: float, lamps: list[_Lamp], drop: float) -> float:
    """Level, as a share of the rail, of pulls to rail and ground and of lamps that conduct from a given drop on."""
    level = up / (up + down) if up + down else next((drop if lamp.to_ground else 1 - drop) for lamp in lamps)
    for lamp in lamps:
        source = drop if lamp.to_ground else 1 - drop
        if (level > source) == lamp.to_ground:
            level = (up + lamp.siemens * source) / (up + down + lamp.siemens)
    return level


def _is_colour(graph: PinGraph, net: str) -> bool:
    """Whether a net ends at a colour pin of a connector of fifteen pins and a shell."""
    return any(
        pin in COLOUR_PIN.values() and 15 <= len(graph.parts[part]) <= _MOST_PINS and not _CHIP.fullmatch(part)
        and all((part, other) in graph.nets for other in ("11", "13", "15"))
        for part, pin in graph.pins.get(net, ())
    )  # fmt: skip


def _thresholds(chip: Chip) -> tuple[float, float]:
    """Thresholds as shares of the rail."""
    logic, supply = chip.table.logic, chip.table.supply
    if logic is None or supply is None:
        return _LOW, _HIGH
    rail = float(supply.rail.typical)
    return float(logic.low_most) / rail, float(logic.high_least) / rail
