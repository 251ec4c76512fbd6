"""The serial pair: every talker meets the listener of the other side, straight or through small parts."""

from __future__ import annotations

import re

from scanloom.basis.verdict import Place
from scanloom.stages.board.graph import PinGraph
from scanloom.stages.board.model import PinName
from scanloom.stages.board.pads import chip_pins, nets_file, nets_from, pin_number
from scanloom.stages.board.sight import Sight

_IN_LINE = re.compile(r"(?i)(?:R|FB|L|JP|SJ|SB|NT|F)[A-Z]{0,3}\d+[A-Z]?")
_LINES = (("chip talks", "other hears"), ("other talks", "chip hears"))


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
    pairs: dict[str, dict[str, PinName | None]] = {}
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
        pairs[name] = ends
    good = {name for name, ends in pairs.items() if all(ends.values()) and all(_forward(graph, ends))}
    for name, ends in pairs.items():
        own = {pin[0] for what, pin in ends.items() if pin is not None and what.startswith("chip")}
        _pair(sight, name, ends, elsewhere=bool(good) and name not in good and _on_other_pins(graph, ends, own))


def _forward(graph: PinGraph, ends: dict[str, PinName | None]) -> tuple[bool, bool]:
    """Whether each talker meets its listener."""
    first, second = (_meet(graph, one, other) if (one := ends[a]) and (other := ends[b]) else False for a, b in _LINES)
    return first, second


def _on_other_pins(graph: PinGraph, ends: dict[str, PinName | None], chip: set[str]) -> bool:
    """Whether both lines of a part go to the chip, at pins that are none of the stated two."""
    named = {graph.nets.get(pin, "") for what, pin in ends.items() if pin is not None and what.startswith("chip")}
    lines = [
        _reach(graph, graph.nets[pin])
        for what, pin in ends.items()
        if pin is not None and what.startswith("other") and graph.nets.get(pin)
    ]
    return len(lines) == 2 and all(
        not reach & named and any(part in chip for net in reach for part, _ in graph.pins[net]) for reach in lines
    )


def _pair(sight: Sight, name: str, ends: dict[str, PinName | None], *, elsewhere: bool) -> None:
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
    forward = _forward(graph, ends)
    wrong = _meet(graph, pins["chip talks"], pins["other talks"]) or _meet(
        graph, pins["chip hears"], pins["other hears"]
    )
    spot = pins["chip talks" if not forward[0] and not wrong and forward[1] else "other talks"]  # whom nobody hears
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
    elif not all(forward) and elsewhere:
        sight.verdict(
            "board.serial-crossed", subject, "caution", f"{name} is on other pins of the chip than the stated pair.",
            state="unknown", used=nets_from(graph), seen=seen, wanted=wanted, place=place,
            doubt="A chip with two serial ports looks so: hold the second pair against both datasheets by eye.",
        )  # fmt: skip
    elif not all(forward) and (between := _between(graph, pins, forward)):
        sight.verdict(
            "board.serial-crossed", subject, "stop", f"Between chip and {name} stands {between}, through which no file shows the way.",
            state="unknown", used=nets_from(graph), seen=seen, wanted=wanted, place=place,
            doubt=f"Read in the datasheet of {between} which of its pins belong together, and follow both lines by eye.",
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
    """Whether two pins share a net, or face one another across resistors, beads or links."""
    a, b = graph.nets.get(one, ""), graph.nets.get(other, "")
    return bool(a) and bool(b) and b in _reach(graph, a)


def _reach(graph: PinGraph, net: str) -> set[str]:
    """Nets within three small parts in line, the supplies left out."""
    found, edge = {net}, [net]
    for _ in range(3):
        onward = [
            behind for one in edge for part, behind in graph.over(one)
            if _IN_LINE.fullmatch(part) and behind not in graph.grounds and behind not in graph.rails and behind not in found
        ]  # fmt: skip
        found.update(onward)
        edge = onward
    return found


def _between(graph: PinGraph, pins: dict[str, PinName], forward: tuple[bool, bool]) -> str:
    """A part on both ends of every missing line, such as a level shifter or a row of links; empty without one."""
    ends = {pin[0] for pin in pins.values()}
    shared = [_others(graph, pins[a], ends) & _others(graph, pins[b], ends) for a, b in _LINES]
    lacking = [parts for parts, meets in zip(shared, forward, strict=True) if not meets]
    return min(lacking[0]) if lacking and all(lacking) else ""


def _others(graph: PinGraph, pin: PinName, ends: set[str]) -> set[str]:
    """Further parts of more than two pins that a line goes to."""
    reach = _reach(graph, graph.nets[pin]) if graph.nets.get(pin) else set()
    return {part for net in reach for part, _ in graph.pins[net] if part not in ends and len(graph.parts[part]) > 2}
