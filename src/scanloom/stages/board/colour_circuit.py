"""The resistors that hang on a colour pin of a connector, drawn together to as few as stand for them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.stages.board.gates import Gate, Gates
from scanloom.stages.board.graph import PinGraph
from scanloom.stages.board.links import Link

GROUND = "ground"
"""End of a link that is on the ground net."""
_MOST_NETS = 200


@record
class Ways:
    """What a lane can go through.

    Parameters
    ----------
    graph : PinGraph
        Nets and parts.
    links : Mapping
        Links by net.
    gates : Gates
        Buffers and amplifiers.
    chip_nets : Mapping
        Chip pins on each net. [1]
    outlets : frozenset of str
        Nets of the connectors and of the inputs of buffers and amplifiers, where other displays hang.
    """

    graph: PinGraph
    links: Mapping[str, tuple[Link, ...]]
    gates: Gates
    chip_nets: Mapping[str, tuple[int, ...]]
    outlets: frozenset[str]


@record
class Circuit:
    """What hangs on one net, up to what drives it and what holds it.

    Parameters
    ----------
    net : str
        The net that it was seen from.
    links : tuple of Link
        As few as stand for all parts. Ends are nets, or `GROUND`.
    sources : tuple of str
        Nets that a chip pin, a buffer or an amplifier drives.
    rails : tuple of str
        Supply nets that were met.
    inner : tuple of str
        Other nets that are left.
    met : tuple of str
        All nets on the way but ground and supplies.
    """

    net: str
    links: tuple[Link, ...]
    sources: tuple[str, ...]
    rails: tuple[str, ...]
    inner: tuple[str, ...]
    met: tuple[str, ...]


def circuit_of(ways: Ways, net: str, usual_percent: float) -> Circuit:
    """Everything between a net and what drives it.

    Parameters
    ----------
    ways : Ways
        What a lane can go through.
    net : str
        Net of a connector's colour pin, or of an amplifier's input.
    usual_percent : float
        Tolerance of parts whose line states none. [%]

    Returns
    -------
    Circuit
        Parts side by side and one after the other count as one; dead ends are left out.
    """
    graph = ways.graph
    drives = {*ways.chip_nets, *ways.gates.by_output} - {net}
    ends = {*drives, *graph.rails, graph.ground}
    seen = {net}
    edge = [net]
    found: dict[int, Link] = {}
    while edge and len(seen) < _MOST_NETS:
        one = edge.pop()
        for link in ways.links.get(one, ()):
            found[id(link)] = link
            behind = link.beyond(one)
            if behind not in seen:
                seen.add(behind)
                if behind not in ends:
                    edge.append(behind)
    for one in sorted(seen & drives):
        for link in ways.links.get(one, ()):
            found.update({id(beside): beside for beside in _beside(ways, link, one, ends)})
    kept = [_wide(link, usual_percent, graph.ground) for link in found.values()]
    inner = {end for link in found.values() for end in link.ends} - ends - {net}
    drawn, inner = _together(kept, inner)
    met = {end for link in drawn for end in link.ends}
    return Circuit(
        net,
        tuple(drawn),
        tuple(sorted(met & drives)),
        tuple(sorted(met & graph.rails)),
        tuple(sorted(met & inner)),
        tuple(sorted(seen - graph.rails - {graph.ground})),
    )


def _beside(ways: Ways, start: Link, source: str, ends: set[str]) -> list[Link]:
    """Links that load a source before its leg, or join it to another one; none where the way leads to a display."""
    found, edge, nets = [start], [start.beyond(source)], {source}
    while edge:
        one = edge.pop()
        if one in nets:
            continue
        nets.add(one)
        if one in ways.outlets:
            return []  # what other displays draw is the levels' business, who share a pin out among them
        if one not in ends:
            more = [link for link in ways.links.get(one, ()) if link not in found]
            found.extend(more)
            edge.extend(link.beyond(one) for link in more)
    return found


def chip_pins_behind(ways: Ways, net: str) -> tuple[tuple[int, ...], tuple[str, ...]]:
    """Chip pins that lead to the input of a gate, and the parts between.

    Parameters
    ----------
    ways : Ways
        What a lane can go through.
    net : str
        Net of the input.

    Returns
    -------
    tuple
        Chip pins; designators, gates among them. [1]
    """
    graph = ways.graph
    way: dict[str, tuple[str, ...]] = {net: ()}
    edge = [net]
    pins: dict[int, None] = {}
    parts: dict[str, None] = {}
    while edge and len(way) < _MOST_NETS:
        one = edge.pop(0)
        if one in ways.chip_nets:
            pins.update(dict.fromkeys(ways.chip_nets[one]))
            parts.update(dict.fromkeys(way[one]))
            continue
        gate = ways.gates.by_output.get(one)
        steps = [(link.name, link.beyond(one)) for link in ways.links.get(one, ())]
        if gate is not None:
            steps.append((gate.part, graph.nets.get((gate.part, gate.into), "")))
        for part, behind in steps:
            if behind and behind not in way and behind != graph.ground and behind not in graph.rails:
                way[behind] = (*way[one], part)
                edge.append(behind)
    return tuple(pins), tuple(parts)


def gate_at(ways: Ways, net: str) -> Gate | None:
    """Gate whose output is on a net.

    Parameters
    ----------
    ways : Ways
        What a lane can go through.
    net : str
        The net.

    Returns
    -------
    Gate or None
        None when a chip pin drives it.
    """
    return None if net in ways.chip_nets else ways.gates.by_output.get(net)


def _wide(link: Link, usual_percent: float, ground: str) -> Link:
    """A link with its tolerance, and with ground called so."""
    ends = (GROUND if link.ends[0] == ground else link.ends[0], GROUND if link.ends[1] == ground else link.ends[1])
    percent = usual_percent if link.percent is None else link.percent
    return replace(link, ends=ends, ohm=None if link.ohm is None else link.ohm.relative(percent))


def _together(links: Iterable[Link], inner: set[str]) -> tuple[list[Link], set[str]]:
    """Links drawn together until no two can be."""
    now = list(links)
    left = set(inner)
    while True:
        now = [link for link in now if link.ends[0] != link.ends[1]]
        if (made := _side_by_side(now)) is not None:
            now = made
            continue
        touching = Counter(end for link in now for end in link.ends)
        spare = next((net for net in sorted(left) if touching[net] <= 2), "")
        step = _one_less(now, spare) if spare else None
        if step is None:
            step = _closed_up(now, left)
        if step is None:
            return now, left
        now, gone = step
        left.discard(gone)


def _side_by_side(links: Sequence[Link]) -> list[Link] | None:
    """Two links between the same nets made one; None when there are none."""
    by_ends: dict[frozenset[str], int] = {}
    for index, link in enumerate(links):
        other = by_ends.setdefault(frozenset(link.ends), index)
        if other != index:
            first = links[other]
            ohm = None if first.ohm is None or link.ohm is None else _parallel(first.ohm, link.ohm)
            both = Link((*first.parts, *link.parts), first.ends, ohm, lacks=first.lacks or link.lacks)
            return [both if i == other else one for i, one in enumerate(links) if i != index]
    return None


def _one_less(links: Sequence[Link], net: str) -> tuple[list[Link], str]:
    """Links without a net that is a dead end or passes on from one link to another."""
    touching = [link for link in links if net in link.ends]
    rest = [link for link in links if net not in link.ends]
    if len(touching) < 2:
        return rest, net
    first, second = touching
    ends = (first.beyond(net), second.beyond(net))
    ohm = None if first.ohm is None or second.ohm is None else _sum(first.ohm, second.ohm)
    return [*rest, Link((*first.parts, *second.parts), ends, ohm, lacks=first.lacks or second.lacks)], net


def _closed_up(links: Sequence[Link], inner: set[str]) -> tuple[list[Link], str] | None:
    """Links without one of no resistance that ends at an inner net; None when there is none."""
    for index, link in enumerate(links):
        gone = next((end for end in link.ends if end in inner), "")
        if gone and link.ohm is not None and link.ohm.high == 0.0:
            stays = link.beyond(gone)
            moved = [_moved(one, gone, stays, link.parts) for i, one in enumerate(links) if i != index]
            return moved, gone
    return None


def _moved(link: Link, gone: str, stays: str, through: tuple[str, ...]) -> Link:
    """A link with an end put on another net; it goes through the parts that made the two nets one."""
    if gone not in link.ends:
        return link
    a, b = link.ends
    return replace(link, ends=(stays if a == gone else a, stays if b == gone else b), parts=(*link.parts, *through))


def _sum(first: Span, second: Span) -> Span:
    """Two resistances one after the other."""
    return Span(first.low + second.low, first.typical + second.typical, first.high + second.high)


def _parallel(first: Span, second: Span) -> Span:
    """Two resistances side by side."""

    def both(a: float, b: float) -> float:
        return a * b / (a + b) if a > 0.0 and b > 0.0 else 0.0

    return Span(both(first.low, second.low), both(first.typical, second.typical), both(first.high, second.high))
