"""What joins two nets for direct current: resistors, packs of them, beads, closed links."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.dossier.model import Part
from scanloom.stages.board.graph import CUT, PinGraph
from scanloom.stages.board.part_value import PartValue

_PACK = re.compile(r"R(?:N|A|P|\d|$)")
_HALF = re.compile(r"R(\d+)[._]([12])")
_LINKS = ("JP", "SJ", "LK")


@record
class Link:
    """A part, or several that count as one, between two nets.

    Parameters
    ----------
    parts : tuple of str
        Designators.
    ends : tuple of str
        The two nets.
    ohm : Span or None
        Resistance, None where no file tells. [ohm]
    percent : float or None
        Tolerance, where the parts list states one; the span is exact until it is widened. [%]
    lacks : str
        What would tell the resistance, where it is not known.
    """

    parts: tuple[str, ...]
    ends: tuple[str, str]
    ohm: Span | None
    percent: float | None = None
    lacks: str = ""

    @property
    def name(self) -> str:
        """Designators in one word."""
        return "+".join(self.parts)

    @property
    def is_sure(self) -> bool:
        """Whether it is sure that the two nets are joined at all."""
        return not self.lacks or self.lacks.startswith("Export")

    def beyond(self, net: str) -> str:
        """Net at the other end.

        Parameters
        ----------
        net : str
            One end.

        Returns
        -------
        str
            The other.
        """
        return self.ends[1] if self.ends[0] == net else self.ends[0]


def links_of(graph: PinGraph, stated: Mapping[str, Part]) -> Mapping[str, tuple[Link, ...]]:
    """All links of a board, by each of their nets.

    Parameters
    ----------
    graph : PinGraph
        Nets and parts.
    stated : Mapping
        What the dossier says of parts.

    Returns
    -------
    Mapping
        Links of a net.
    """
    says = {name: part for full, part in stated.items() for name in {full, full[:CUT]}}
    made: dict[str, list[Link]] = {}
    for part in graph.parts:
        for link in _links(graph, part, says.get(part)):
            if all(link.ends) and link.ends[0] != link.ends[1]:
                for net in link.ends:
                    made.setdefault(net, []).append(link)
    return {net: tuple(links) for net, links in made.items()}


def _links(graph: PinGraph, part: str, stated: Part | None) -> Iterator[Link]:
    """Links that one part makes."""
    mark = re.match(r"[A-Z]*", part.upper())
    kind = mark[0] if mark else ""
    pins = [pin for _, pin in graph.parts[part]]
    if kind in _LINKS or kind == "NT":
        yield from _closed(graph, part, pins, kind, stated)
    elif not graph.fitted(part):
        return
    elif kind in ("FB", "L") and len(pins) == 2:  # a bead's ohms are told at 100 MHz; for direct current there are few
        yield Link((part,), _ends(graph, part, pins), Span.exact(0.0))
    elif len(pins) >= 2 and (
        _PACK.match(part.upper()) or (kind[:1] == "R" and len(pins) == 2 and _in_ohms(graph, part))
    ):
        pairs, lacks = ([(pins[0], pins[1])], "") if len(pins) == 2 else _pairs(graph, part, pins, stated)
        value = graph.value(part)
        for pair in pairs:
            ends = _ends(graph, part, pair)
            own = (part,) if len(pins) == 2 else (f"{part}-{pair[0]}-{pair[1]}",)
            if lacks or value is None or value.unit_name != "ohm":
                yield Link(own, ends, None, lacks=lacks or f"Export the parts list with {part} and its value.")
            else:
                yield _valued(own, ends, value)


def _in_ohms(graph: PinGraph, part: str) -> bool:
    """Whether a part's value is a resistance, whatever its letters."""
    value = graph.value(part)
    return value is not None and value.unit_name == "ohm"


def _valued(own: tuple[str, ...], ends: tuple[str, str], value: PartValue) -> Link:
    """A resistor of known value."""
    return Link(own, ends, Span.exact(value.amount), value.tolerance_percent)


def _ends(graph: PinGraph, part: str, pins: tuple[str, str] | list[str]) -> tuple[str, str]:
    """Nets of two pins of a part."""
    return graph.nets[(part, pins[0])], graph.nets[(part, pins[1])]


def _closed(graph: PinGraph, part: str, pins: list[str], kind: str, stated: Part | None) -> Iterator[Link]:
    """A link closed by copper, solder or a jumper; open ones join nothing."""
    says = stated.is_.lower() if stated is not None else ""
    line = graph.line(part)
    if len(pins) != 2 or "open" in says or (line is not None and not line.fitted and "closed" not in says):
        return
    if kind == "NT" or "closed" in says:
        yield Link((part,), _ends(graph, part, pins), Span.exact(0.0))
    else:
        lacks = f'Say whether it is closed: board.parts.{part} = {{ is = "closed link" }}, or "open link".'
        yield Link((part,), _ends(graph, part, pins), None, lacks=lacks)


def _pairs(graph: PinGraph, part: str, pins: list[str], stated: Part | None) -> tuple[list[tuple[str, str]], str]:
    """Pins of a pack that each of its resistors joins, and what would tell where that is not sure."""
    names = {graph.functions.get((part, pin), "").upper(): pin for pin in pins}
    common = names.get("COMMON") or names.get("COM")
    halves: dict[str, dict[str, str]] = {}
    for name, pin in names.items():
        if half := _HALF.fullmatch(name):
            halves.setdefault(half[1], {})[half[2]] = pin
    if not common and halves:
        return [(one["1"], one["2"]) for one in halves.values() if len(one) == 2], ""
    says = stated.is_.lower() if stated is not None else ""
    numbers = sorted(int(pin) for pin in pins if pin.isdigit())
    if not common and (len(numbers) != len(pins) or numbers != list(range(1, len(pins) + 1))):
        return [], ""
    text = line.value_text.lower() if (line := graph.line(part)) is not None else ""
    shared = bool(common) or "common" in says or "common" in text or len(pins) % 2 == 1
    if shared:
        hub = common or "1"
        return [(hub, pin) for pin in pins if pin != hub], ""
    pairs = [(str(n), str(len(pins) + 1 - n)) for n in range(1, len(pins) // 2 + 1)]
    apart = "separate" in says or "separate" in text
    held = graph.nets[(part, "1")] in {graph.ground, *graph.rails}
    if held and not apart:  # pin 1 on a supply is how packs with a common pin are wired
        return (
            pairs,
            f'Say how it is made: board.parts.{part} = {{ is = "resistors, common pin" }}, or "resistors, separate".',
        )
    return pairs, ""
