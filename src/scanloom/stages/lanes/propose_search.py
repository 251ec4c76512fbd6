"""Search for the best map: every cut of the ring and every run, each solved exactly, the hopeless ones left out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from scanloom.basis.record import record
from scanloom.stages.lanes.propose_place import (
    CROSSING,
    MOVED,
    NOISY,
    Item,
    Meter,
    Spent,
    place_items,
    within,
)

Room = Mapping[str, frozenset[int]]
"""Places left to each lane by one choice of runs; a lane that is not named may go anywhere. [1]"""
_NEVER = 1 << 200


@record
class Found:
    """Best map of a search.

    Parameters
    ----------
    places : tuple of int
        Place on the ring of each item. [1]
    cost : int
        Its packed cost. [1]
    bound : int
        Packed cost that no map undercuts. [1]
    room : Mapping
        The choice of runs it belongs to: places left to each lane. [1]
    cuts : int
        Places where cutting the ring makes a difference. [1]
    """

    places: tuple[int, ...]
    cost: int
    bound: int
    room: Room
    cuts: int


def search_map(items: Sequence[Item], size: int, rooms: Iterable[Room], meter: Meter) -> Found | None:
    """Cheapest map of all items to places of a ring.

    Parameters
    ----------
    items : sequence of Item
        Colour lanes in the order of the connectors, then syncs.
    size : int
        Places on the ring. [1]
    rooms : iterable of Mapping
        Choices of runs; one empty mapping where any lane goes anywhere. [1]
    meter : Meter
        Budget.

    Returns
    -------
    Found or None
        Best map found in the budget and what no map undercuts; None when there is no map.

    Raises
    ------
    Spent
        If the budget was used up before any map was found.

    Notes
    -----
    Crossings on a ring are those along the line that it becomes when it is cut in the best place, so the best map is the
    best over all cuts. A branch is one choice of runs and one cut. Its bound: last resorts, buffers and noise as if
    crossings were free, and the crossings of the kept lanes among themselves. Branches come in the order of their bounds,
    and the search ends where a bound reaches what has been found.
    """
    parts: list[tuple[int, Room, tuple[int, ...], tuple[Item, ...]]] = []
    best: Found | None = None
    undecided = False
    for room in rooms:
        own = tuple(within(one, room.get(one.name)) for one in items)
        try:
            least = place_items(own, range(size), _NEVER, meter, crossing=False)
        except Spent:
            undecided = True
            break
        if least is not None:
            parts.append((least[0], room, least[1], own))
    cuts = len({place for *_, own in parts for one in own for place in one.options})
    for _, room, places, own in parts:  # a map found without a look at crossings is a map
        cost = _cost(own, places, size)
        if best is None or cost < best.cost:
            best = Found(places, cost, 0, room, cuts)
    if best is None:
        if undecided:
            raise Spent
        return None
    branches = sorted(
        (least + CROSSING * _kept_crossings(own, cut, size), number, cut)
        for number, (least, *_, own) in enumerate(parts)
        for cut in sorted({place for one in own for place in one.options})
    )
    bound = _NEVER
    for lowest, number, cut in branches:
        _, room, _, own = parts[number]
        if lowest // MOVED >= best.cost // MOVED:
            bound = lowest
            break
        try:
            found = place_items(own, (*range(cut, size), *range(cut)), best.cost, meter)
        except Spent:
            bound = lowest
            break
        if found is not None:
            best = Found(found[1], found[0], 0, room, cuts)
    return replace(best, bound=0 if undecided else min(best.cost, bound))


def _cost(items: Sequence[Item], places: Sequence[int], size: int) -> int:
    """Packed cost of a map at its best cut; its moves count as worst, so that a searched map as good takes its place."""
    packed = sum(one.options[place] for one, place in zip(items, places, strict=True))
    lanes = [place for one, place in zip(items, places, strict=True) if not one.sync]
    crossings = min((_crossings(lanes, cut, size) for cut in lanes), default=0)
    return packed // NOISY * NOISY + CROSSING * crossings + NOISY - 1


def _kept_crossings(items: Sequence[Item], cut: int, size: int) -> int:
    """Crossings of the kept colour lanes among themselves at one cut."""
    return _crossings([next(iter(one.options)) for one in items if one.kept and not one.sync], cut, size)


def _crossings(lanes: Sequence[int], cut: int, size: int) -> int:
    """Pairs of lanes out of order along the ring cut open."""
    line = [(place - cut) % size for place in lanes]
    return sum(line[a] > line[b] for a in range(len(line)) for b in range(a + 1, len(line)))
