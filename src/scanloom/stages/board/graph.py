"""Nets, pins and parts: what hangs together by the netlist and by what copper pads say of themselves."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from scanloom.basis.record import record
from scanloom.stages.board.model import BoardFiles, FileRole, Listed, NetPoint, PinName, Side
from scanloom.stages.board.part_value import PartValue, part_value

CUT = 6
"""Characters of a designator that a netlist keeps. [1]"""
_GROUND = re.compile(
    r"(?i)(?:[A-Z0-9]+[_-])?(?:[ADPCSV]|USB|VGA|SYS|REF|IO)?GND[ADP]?(?:[_-]?\d+)?|GND(?:REF|PWR|S|ISO|[_-](?:VGA|USB|A|D|P|IO|SHIELD))"
    r"|(?:[ADP]?0V|[AD]?VSS[AD]?|EARTH|GROUND)"
)
_RAIL = re.compile(
    r"(?i)\+?\d{1,2}(?:[.,]\d{1,2})?V\d{0,2}(?:[_-]?(?:[AD]|IO|USB|MCU|IN|OUT|SYS|\d{1,2}))?|\+3V"
    r"|V(?:CC|DD|BUS|SYS|USB|DDIO|CCIO)(?:[_-]?(?:[AD]|IO|USB|MCU|3V3|5V|\d{1,2}))?"
)
_PACKS = (4, 8, 16)  # pins of packs of separate resistors; a pack with a common pin has an odd number, or one row
_TIES = re.compile(r"(?i)(?:NT|FB)\d+[A-Z]?")
_LINKS = re.compile(r"(?i)(?:JP|SJ|SB|L)\d+[A-Z]?")


@record
class PinPlace:
    """Where a pin meets the board.

    Parameters
    ----------
    x_mm : float
        Place. [mm]
    y_mm : float
        The same across the board. [mm]
    access : Side
        Side of its pad; both for a pin in a hole.
    hole_mm : float
        Diameter of its hole, 0 for a surface pad. [mm]
    """

    x_mm: float
    y_mm: float
    access: Side
    hole_mm: float = 0.0


@dataclass(frozen=True)
class PinGraph:
    """Nets and parts.

    Parameters
    ----------
    nets : Mapping
        Net of every pin; an empty net for a pin that is joined to nothing.
    places : Mapping
        Places of every pin; a pin may be met more than once.
    functions : Mapping
        What pins are called, such as GPIO25, where a file says.
    lines : Mapping
        Line of the parts list, by designator.
    netlist_role : FileRole or None
        The netlist.
    copper_roles : tuple of FileRole
        Copper files that name pins.
    list_role : FileRole or None
        The parts list.
    other_nets : Mapping
        The same by copper pads, where a netlist gave `nets`.
    placed_values : Mapping
        Values that the placement file gives, for parts whose line has none.
    """

    nets: Mapping[PinName, str]
    places: Mapping[PinName, tuple[PinPlace, ...]]
    functions: Mapping[PinName, str] = field(default_factory=dict)
    lines: Mapping[str, Listed] = field(default_factory=dict)
    netlist_role: FileRole | None = None
    copper_roles: tuple[FileRole, ...] = ()
    list_role: FileRole | None = None
    other_nets: Mapping[PinName, str] = field(default_factory=dict)
    placed_values: Mapping[str, str] = field(default_factory=dict)

    @property
    def roles(self) -> tuple[FileRole | None, ...]:
        """Files that the nets are from."""
        return (self.netlist_role, *self.copper_roles) if self.netlist_role is None else (self.netlist_role,)

    @cached_property
    def pins(self) -> Mapping[str, tuple[PinName, ...]]:
        """Pins of every net."""
        made: dict[str, list[PinName]] = {}
        for pin, net in self.nets.items():
            if net:
                made.setdefault(net, []).append(pin)
        return {net: tuple(pins) for net, pins in made.items()}

    @cached_property
    def parts(self) -> Mapping[str, tuple[PinName, ...]]:
        """Pins of every part."""
        made: dict[str, list[PinName]] = {}
        for pin in self.nets:
            made.setdefault(pin[0], []).append(pin)
        return {part: tuple(pins) for part, pins in made.items()}

    @cached_property
    def ground(self) -> str:
        """The ground net: the one with most pins, among those called so, by their name or by their pins, if any is; empty without nets."""
        named = [net for net in self.pins if named_ground(net)]
        named = named or [net for net in self.pins if "GND" in net.upper()] or self._called_ground()
        named = named or [net for net in self.pins if not _RAIL.fullmatch(net)] or list(self.pins)
        return max(named, key=lambda net: len(self.pins[net]), default="")

    def _called_ground(self) -> list[str]:
        """Nets of pins that their parts call ground."""
        return [self.nets[pin] for pin, name in self.functions.items() if named_ground(name) and self.nets.get(pin)]

    @cached_property
    def grounds(self) -> frozenset[str]:
        """Ground, and every net that a tie, a bead, a resistor of no value or, by its name, a link joins to it."""
        found, edge = {self.ground}, [self.ground]
        while edge:
            for part, behind in self.over(edge.pop()):
                value = self.value(part) if part[:1].upper() == "R" else None
                none = value is not None and value.unit_name == "ohm" and value.amount <= 1.0
                tied = none or _TIES.fullmatch(part) or (_LINKS.fullmatch(part) and named_ground(behind))
                if tied and behind not in found:
                    found.add(behind)
                    edge.append(behind)
        return frozenset(found)

    @cached_property
    def rails(self) -> frozenset[str]:
        """Supply nets: held to ground by two capacitors or more, or by name."""
        caps: dict[str, int] = {}
        for part, pins in self.parts.items():
            nets = {self.nets[pin] for pin in pins}
            if part.upper().startswith("C") and len(pins) == 2 and self.ground in nets and len(nets) == 2:
                (other,) = nets - {self.ground}
                caps[other] = caps.get(other, 0) + 1
        named = {net for net in self.pins if _RAIL.fullmatch(net.strip("/").rsplit("/", 1)[-1])}
        return frozenset({net for net, count in caps.items() if count >= 2 and net} | named) - {self.ground}

    def part(self, name: str) -> str:
        """A part as the netlist calls it, perhaps cut short; empty when there is none.

        Parameters
        ----------
        name : str
            Full designator.

        Returns
        -------
        str
            Name to ask `parts` for.
        """
        if name in self.parts:
            return name
        if len(name) > CUT and name[:CUT] in self.parts:
            return name[:CUT]
        shouted = [part for part in self.parts if part.upper() in (name.upper(), name[:CUT].upper())]
        return shouted[0] if len(shouted) == 1 else ""

    def line(self, part: str) -> Listed | None:
        """Line of the parts list for a part, full or cut name.

        Parameters
        ----------
        part : str
            Designator as the netlist has it.

        Returns
        -------
        Listed or None
            The line; None when it is not listed.
        """
        if part in self.lines:
            return self.lines[part]
        longer = [name for name in self.lines if len(part) == CUT and name[:CUT].upper() == part.upper()]
        return self.lines[longer[0]] if len(longer) == 1 else None

    def value(self, part: str) -> PartValue | None:
        """Value of a part by the parts list.

        Parameters
        ----------
        part : str
            Designator.

        Returns
        -------
        PartValue or None
            None when it is not listed, or not a value.
        """
        line = self.line(part)
        text = (line.value_text if line is not None else "") or self.placed_values.get(part, "")
        return part_value(text, part) if text else None

    def fitted(self, part: str) -> bool:
        """Whether a part is fitted, as far as the parts list says.

        Parameters
        ----------
        part : str
            Designator.

        Returns
        -------
        bool
            False when the list marks it, or lists other parts and not this one; lists for a machine leave out what sits in holes.
        """
        line = self.line(part)
        if line is not None:
            return line.fitted
        places = [at for pin in self.parts.get(part, ()) for at in self.places.get(pin, ())]
        return not self.lines or any(at.hole_mm > 0 or at.access == "both" for at in places)

    def beyond(self, net: str) -> tuple[tuple[str, str], ...]:
        """Resistors on a net, single ones and those of a pack in two rows, and the net behind each.

        Parameters
        ----------
        net : str
            The net.

        Returns
        -------
        tuple of tuple of str
            Part, and net behind it.
        """
        made = []
        for part, pin in self.pins.get(net, ()):
            if not part.upper().startswith("R") or not self.fitted(part):
                continue
            pins = self.parts[part]
            if len(pins) == 2:
                (behind,) = [self.nets[p] for p in pins if self.nets[p] != net] or [net]
            else:
                behind = self.nets.get((part, self._across(part, pin)), "")
            if behind and behind != net:
                made.append((part, behind))
        return tuple(made)

    def _across(self, part: str, pin: str) -> str:
        """Pin at the other end of one resistor in a pack of two or more, opposite in two rows; empty where it cannot be told."""
        pins = [name for _, name in self.parts[part]]
        if len(pins) not in _PACKS or {*pins} != {str(n) for n in range(1, len(pins) + 1)}:
            return ""
        half = len(pins) // 2
        at = [self.place((part, str(n))) for n in (1, half, half + 1)]
        if any(place is None for place in at):
            return ""
        (ax, ay), (bx, by), (cx, cy) = ((place.x_mm, place.y_mm) for place in at if place is not None)
        in_line = abs((bx - ax) * (cy - ay) - (by - ay) * (cx - ax)) < 0.1
        return "" if in_line else str(len(pins) + 1 - int(pin))

    def over(self, net: str) -> tuple[tuple[str, str], ...]:
        """Fitted parts of two pins on a net, of any kind, and the net behind each.

        Parameters
        ----------
        net : str
            The net.

        Returns
        -------
        tuple of tuple of str
            Part, and net behind it.
        """
        made = []
        for part in dict.fromkeys(part for part, _ in self.pins.get(net, ())):
            behind = {self.nets[pin] for pin in self.parts[part]} - {net, ""}
            there = self.fitted(part) or part[:2].upper() == "NT"  # a net tie is copper and on no list
            if len(self.parts[part]) == 2 and len(behind) == 1 and there:
                made.append((part, behind.pop()))
        return tuple(made)

    def place(self, pin: PinName) -> PinPlace | None:
        """First place of a pin.

        Parameters
        ----------
        pin : PinName
            Part and pin.

        Returns
        -------
        PinPlace or None
            None when no file says.
        """
        found = self.places.get(pin)
        return found[0] if found else None


def named_ground(net: str) -> bool:
    """Whether a net is called ground, in one of the usual ways.

    Parameters
    ----------
    net : str
        The net, with the sheet before it or without.

    Returns
    -------
    bool
        True for such as GND, /AGND or 0V; False for GND_EN.
    """
    return _GROUND.fullmatch(net.strip("/").rsplit("/", 1)[-1]) is not None


def pin_graph(files: BoardFiles) -> PinGraph:
    """Nets and parts of a set of files.

    Parameters
    ----------
    files : BoardFiles
        The files.

    Returns
    -------
    PinGraph
        By the netlist where there is one, else by the copper pads.
    """
    copper, roles = _of_copper(files)
    functions = {
        (cut, pin): name for (part, pin), (_, _, name) in copper.items() if name for cut in {part, part[:CUT]}
    }  # fmt: skip
    lines = {part: line for table in files.parts_lists for line in table.lines_listed for part in line.parts}
    list_role = files.parts_lists[0].role if files.parts_lists else None
    by_copper = {pin: net for pin, (net, _, _) in copper.items()}
    values = {row.part: row.value_text for table in files.placements for row in table.rows_placed if row.value_text}
    values = {part[:CUT]: text for part, text in values.items()} | values
    if files.netlists:
        netlist = files.netlists[0]
        nets, places = _of_points(netlist.points)
        return PinGraph(nets, places, functions, lines, netlist.role, roles, list_role, by_copper, values)
    found = {pin: places for pin, (_, places, _) in copper.items()}
    return PinGraph(by_copper, found, functions, lines, None, roles, list_role, placed_values=values)


def _of_points(
    points: Iterable[NetPoint],
) -> tuple[dict[PinName, str], dict[PinName, tuple[PinPlace, ...]]]:
    """Nets and places by a netlist; tooling holes and vias are no pins."""
    nets: dict[PinName, str] = {}
    places: dict[PinName, list[PinPlace]] = {}
    for point in points:
        if not point.part or not point.pin_name:
            continue
        pin = (point.part, point.pin_name)
        nets[pin] = nets.get(pin) or point.net
        places.setdefault(pin, []).append(PinPlace(point.x_mm, point.y_mm, point.access, point.hole_mm))
    return nets, {pin: tuple(found) for pin, found in places.items()}


def _of_copper(
    files: BoardFiles,
) -> tuple[dict[PinName, tuple[str, tuple[PinPlace, ...], str]], tuple[FileRole, ...]]:
    """Nets, places and names by copper pads that carry them."""
    found: dict[PinName, tuple[str, tuple[PinPlace, ...], str]] = {}
    roles = []
    for layer in files.of("copper"):
        named = [one for one in layer.drawn if one.pin is not None and one.kind == "flash"]
        if named:
            roles.append(layer.role)
        for one in named:
            assert one.pin is not None
            net = "" if one.net in ("N/C", "NC") or one.net.startswith("unconnected-(") else one.net
            old = found.get(one.pin)
            here = PinPlace(one.x_mm, one.y_mm, layer.role.side)
            if old is None:
                found[one.pin] = (net, (here,), one.pin_function)
                continue
            same = [p for p in old[1] if abs(p.x_mm - here.x_mm) < 0.01 and abs(p.y_mm - here.y_mm) < 0.01]
            through = PinPlace(here.x_mm, here.y_mm, "both") if same and same[0].access != here.access else None
            rest = tuple(p for p in old[1] if p not in same)
            found[one.pin] = (
                old[0] or net,
                (*rest, through or (same[0] if same else here)),
                old[2] or one.pin_function,
            )
    return found, tuple(roles)
