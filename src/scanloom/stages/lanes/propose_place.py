"""Best places for lanes along a ring that is cut open: exact, by building maps up place by place."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from scanloom.basis.record import record
from scanloom.stages.lanes.propose_answer import PinCost

_STEP = 24
"""Bits for each part of a packed cost; far more than any count of lanes squared."""
TIE, MOVED, NOISY, CROSSING, BUFFER, LAST = (1 << (_STEP * n) for n in range(6))
"""One unit of each part of a packed cost, so that comparing numbers compares part by part, the dearest first."""


class Spent(Exception):
    """The budget of a search is used up."""


@dataclass(slots=True)
class Meter:
    """Counts partial maps, and stops a search that has seen enough.

    Parameters
    ----------
    budget : int
        Partial maps to look at before giving up. [1]
    go_on : callable or None
        Asked now and then; False gives up.
    seen : int
        Partial maps looked at. [1]
    """

    budget: int
    go_on: Callable[[], bool] | None = None
    seen: int = 0

    def spend(self, amount: int) -> None:
        """Note partial maps that were looked at.

        Parameters
        ----------
        amount : int
            How many. [1]

        Raises
        ------
        Spent
            If there have been too many, or nobody wants to wait longer.
        """
        self.seen += amount
        if self.seen > self.budget or (self.go_on is not None and not self.go_on()):
            raise Spent


@record
class Item:
    """One lane to place.

    Parameters
    ----------
    name : str
        The lane.
    sync : bool
        Whether it is a sync, whose track counts in no crossing.
    options : Mapping
        Places on the ring that it may take, each with its packed cost. [1]
    kept : bool
        Whether its one place is given.
    """

    name: str
    sync: bool
    options: Mapping[int, int]
    kept: bool = False


def unpacked(cost: int) -> PinCost:
    """Parts of a packed cost.

    Parameters
    ----------
    cost : int
        Packed cost. [1]

    Returns
    -------
    PinCost
        Its four parts that count; moves and the tie-break are left out.
    """
    mask = (1 << _STEP) - 1
    last, buffers, crossings, noisy = (cost // unit & mask for unit in (LAST, BUFFER, CROSSING, NOISY))
    return PinCost(last, buffers, crossings, noisy)


def place_items(
    items: Sequence[Item], order: Sequence[int], below: int, meter: Meter, *, crossing: bool = True
) -> tuple[int, tuple[int, ...]] | None:
    """Cheapest places for all items along a line of places.

    Parameters
    ----------
    items : sequence of Item
        Colour lanes in the order of the connectors, then syncs.
    order : sequence of int
        Places of the ring from the cut onward. [1]
    below : int
        Only a packed cost below this is of use. [1]
    meter : Meter
        Counts partial maps.
    crossing : bool
        Whether crossings, moves and the tie-break count; without them the least of all other parts is found.

    Returns
    -------
    tuple or None
        Packed cost and place of each item; None when nothing is cheaper. [1]

    Notes
    -----
    Free colour lanes that may take the same places at the same cost form a class. Of two such lanes whose tracks cross,
    exchanging their pins takes that crossing away and never adds one: a third track that crosses neither before crosses
    neither after, whichever side it ends on. So some best map has each class in the order of the connectors, and a
    partial map is known by how many of each class it has placed. Lanes that are kept stand where they are.
    """
    at = {place: number for number, place in enumerate(order)}
    kept = [n for n, one in enumerate(items) if one.kept]
    if not all(items[n].options for n in kept):
        return None
    places = {n: next(iter(items[n].options)) for n in kept}
    if len(set(places.values())) != len(places):
        return None
    wired = [(n, at[places[n]]) for n in kept if not items[n].sync]
    start = sum(_worth(items[n].options[places[n]], crossing) for n in kept)
    if crossing:
        start += CROSSING * sum(a < b and x > y for a, x in wired for b, y in wired)
    taken = set(places.values())
    free = [n for n in range(len(items)) if n not in places]
    classes = _classes(items, [n for n in free if not items[n].sync])
    syncs = [n for n in free if items[n].sync]
    slots = [p for p in order if p not in taken and any(p in items[n].options for n in free)]
    first: tuple[int, ...] = (0,) * (len(classes) + 1)
    layer, trail = {first: start}, []
    for number, place in enumerate(slots):
        left = len(slots) - number - 1
        here = _Slot(items, place, at[place], wired, crossing)
        fresh: dict[tuple[int, ...], int] = {}
        came: dict[tuple[int, ...], tuple[tuple[int, ...], int]] = {}
        for key, cost in layer.items():
            missing = len(free) - sum(key[:-1]) - key[-1].bit_count()
            if missing <= left and cost < fresh.get(key, below):
                fresh[key], came[key] = cost, (key, -1)
            if missing > left + 1 or not missing:
                continue
            for step, item, extra in here.steps(key, classes, syncs):
                if cost + extra < fresh.get(step, below):
                    fresh[step], came[step] = cost + extra, (key, item)
        meter.spend(len(layer))
        layer = fresh
        trail.append(came)
    end = (*(len(one) for one in classes), (1 << len(syncs)) - 1)
    if layer.get(end, below) >= below:
        return None
    key = end
    for place, came in zip(reversed(slots), reversed(trail), strict=True):
        key, item = came[key]
        if item >= 0:
            places[item] = place
    return layer[end], tuple(places[n] for n in range(len(items)))


class _Slot:
    """One place of the line, and what each next item would cost there."""

    def __init__(
        self, items: Sequence[Item], place: int, number: int, wired: Sequence[tuple[int, int]], crossing: bool
    ) -> None:
        """Take the place with the kept lanes around it."""
        self.items, self.place, self.number, self.wired, self.crossing = items, place, number, wired, crossing

    def steps(
        self, key: tuple[int, ...], classes: Sequence[Sequence[int]], syncs: Sequence[int]
    ) -> list[tuple[tuple[int, ...], int, int]]:
        """Partial maps one item larger: key, item, packed extra cost."""
        found = []
        for k, members in enumerate(classes):
            if key[k] == len(members):
                continue
            item = members[key[k]]
            cost = self.items[item].options.get(self.place)
            if cost is not None:
                extra = _worth(cost, self.crossing)
                if self.crossing:
                    extra += CROSSING * self._crossings(item, key, k, classes) + 3 * self.number * TIE
                found.append(((*key[:k], key[k] + 1, *key[k + 1 :]), item, extra))
        for s, item in enumerate(syncs):
            cost = self.items[item].options.get(self.place)
            if cost is not None and not key[-1] >> s & 1:
                extra = _worth(cost, self.crossing) + (max(0, 2 - s) * self.number * TIE if self.crossing else 0)
                found.append(((*key[:-1], key[-1] | 1 << s), item, extra))
        return found

    def _crossings(self, item: int, key: tuple[int, ...], own: int, classes: Sequence[Sequence[int]]) -> int:
        """Crossings of the item's track with kept lanes and with lanes of other classes placed before it."""
        kept = sum((lane < item) != (number < self.number) for lane, number in self.wired)
        later = (key[k] - bisect_left(members, item) for k, members in enumerate(classes) if k != own)
        return kept + sum(n for n in later if n > 0)


def _classes(items: Sequence[Item], lanes: Sequence[int]) -> list[list[int]]:
    """Lanes that may take the same places at the same cost, moves apart."""
    found: dict[tuple[tuple[int, int], ...], list[int]] = {}
    for n in lanes:
        found.setdefault(tuple(sorted((p, c // NOISY) for p, c in items[n].options.items())), []).append(n)
    return list(found.values())


def _worth(cost: int, crossing: bool) -> int:
    """Cost of a place; without the moves where only the dearer parts count."""
    return cost if crossing else cost // NOISY * NOISY


def within(item: Item, places: frozenset[int] | None) -> Item:
    """Item with fewer places to choose from.

    Parameters
    ----------
    item : Item
        The item.
    places : frozenset of int or None
        Places it may take; None for all. [1]

    Returns
    -------
    Item
        The same lane.
    """
    if places is None:
        return item
    return replace(item, options={p: c for p, c in item.options.items() if p in places})
