"""What a circuit of resistors is: legs that meet at one pin, a ladder, or neither."""

from __future__ import annotations

from collections.abc import Sequence

from scanloom.basis.record import record
from scanloom.stages.board.colour_circuit import GROUND, Circuit
from scanloom.stages.board.links import Link


@record
class Shape:
    """A circuit told apart.

    Parameters
    ----------
    is_ladder : bool
        Whether the legs feed the taps of a ladder; else they meet at one net.
    legs : tuple of Link
        Parts from what drives to where they meet; those of a ladder from the connector on.
    sources : tuple of str
        Net that drives each leg.
    shunt : Link or None
        Part to ground where legs meet, or at the connector's end of a ladder.
    rungs : tuple of Link
        Parts between the taps of a ladder, from the connector on.
    terminator : Link or None
        Part to ground at the last tap of a ladder.
    held : tuple of Link
        Parts from what drives to ground or a supply.
    misfit : str
        What makes it neither; empty when it is one of them.
    """

    is_ladder: bool
    legs: tuple[Link, ...]
    sources: tuple[str, ...]
    shunt: Link | None = None
    rungs: tuple[Link, ...] = ()
    terminator: Link | None = None
    held: tuple[Link, ...] = ()
    misfit: str = ""

    @property
    def links(self) -> tuple[Link, ...]:
        """All parts of the sum."""
        ground = [one for one in (self.shunt, self.terminator) if one is not None]
        return (*self.legs, *self.rungs, *ground, *self.held)


def shape_of(circuit: Circuit) -> Shape:
    """Tell a circuit apart.

    Parameters
    ----------
    circuit : Circuit
        What hangs on a net.

    Returns
    -------
    Shape
        Legs, rungs and parts to ground, or what does not fit.
    """
    sources, inner = set(circuit.sources), set(circuit.inner)
    ties = {GROUND, *circuit.rails}
    held = [link for link in circuit.links if ties & set(link.ends) and sources & set(link.ends)]
    rest = [link for link in circuit.links if link not in held]
    misfit = _misfit(circuit, rest)
    if misfit or not inner:
        legs = [link for link in rest if sources & set(link.ends) and circuit.net in link.ends]
        feeds = tuple([_other(link, circuit.net) for link in legs])
        shunt = next((link for link in rest if set(link.ends) == {circuit.net, GROUND}), None)
        return Shape(False, tuple(legs), feeds, shunt, held=_of(held, feeds), misfit=misfit)
    return _ladder(circuit, rest, held)


def _misfit(circuit: Circuit, links: list[Link]) -> str:
    """A link that no colour stage has: to a supply, or from lane to lane."""
    sources, rails = set(circuit.sources), set(circuit.rails)
    for link in links:
        if rails & set(link.ends):
            return f"{link.name} leads to {next(end for end in link.ends if end in rails)}"
        if set(link.ends) <= sources:
            return f"{link.name} joins two lanes before they meet"
    return ""


def _ladder(circuit: Circuit, links: list[Link], held: list[Link]) -> Shape:
    """A ladder walked from the connector on."""
    sources, inner = set(circuit.sources), set(circuit.inner)
    tap, seen = circuit.net, {circuit.net}
    legs: list[Link] = []
    feeds: list[str] = []
    rungs: list[Link] = []
    grounds: list[Link | None] = []
    misfit = ""
    while True:
        here = [link for link in links if tap in link.ends]
        own = [link for link in here if _other(link, tap) in sources]
        onward = [link for link in here if _other(link, tap) in inner - seen]
        legs.extend(own)
        feeds.extend(_other(link, tap) for link in own)
        grounds.append(next((link for link in here if _other(link, tap) == GROUND), None))
        if len(own) != 1 and not misfit:
            misfit = (
                f"{' and '.join(one.name for one in own)} meet at one tap" if own else _bare_tap(circuit, tap, here)
            )
        if len(onward) > 1 and not misfit:
            misfit = f"{' and '.join(one.name for one in onward)} branch off one tap"
        if not onward:
            break
        rungs.append(onward[0])
        tap = _other(onward[0], tap)
        seen.add(tap)
    for index, link in enumerate(grounds[:-1]):
        if link is not None and index and not misfit:
            misfit = f"{link.name} leads to ground within the ladder"
    if grounds[-1] is None and (not misfit or len(own) == 2):  # the last leg and the one before then share a tap
        misfit = "no part to ground ends the ladder"
    if len({id(link) for link in links}) > len(legs) + len(rungs) + sum(g is not None for g in grounds) and not misfit:
        misfit = "the parts between chip and connector make a loop"
    shunt = grounds[0] if len(grounds) > 1 else None
    return Shape(True, tuple(legs), tuple(feeds), shunt, tuple(rungs), grounds[-1], _of(held, feeds), misfit)


def _of(held: list[Link], feeds: Sequence[str]) -> tuple[Link, ...]:
    """Parts that hold a source which feeds a leg."""
    return tuple([link for link in held if set(feeds) & set(link.ends)])


def _bare_tap(circuit: Circuit, tap: str, here: list[Link]) -> str:
    """Words for a tap without a leg."""
    if tap == circuit.net and len(here) == 1:
        return f"{here[0].name} stands between the connector and where the other parts meet"
    return f"no lane feeds where {' and '.join(one.name for one in here)} meet"


def _other(link: Link, net: str) -> str:
    """The other end of a link."""
    return link.ends[1] if link.ends[0] == net else link.ends[0]
