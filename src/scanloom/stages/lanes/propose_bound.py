"""Why there is no map: lanes that together want more pins than may carry any of them."""

from __future__ import annotations

from collections.abc import Mapping, Set

from scanloom.basis.record import record


@record
class Crowd:
    """Lanes that share too few places.

    Parameters
    ----------
    lanes : tuple of str
        The lanes.
    places : tuple of int
        All places that any of them may take; fewer than lanes. [1]
    """

    lanes: tuple[str, ...]
    places: tuple[int, ...]


def most_placed(options: Mapping[str, Set[int]]) -> dict[str, int]:
    """As many lanes as can have a place of their own, each with its place.

    Parameters
    ----------
    options : Mapping
        Places that each lane may take. [1]

    Returns
    -------
    dict
        Place by lane; lanes left over are not in it. [1]

    References
    ----------
    [berge] A matching is largest when no augmenting path is left: C. Berge, Two theorems in graph theory, 1957.
    """
    holder: dict[int, str] = {}

    def settle(lane: str, tried: set[int]) -> bool:
        """Find the lane a place, moving others if need be."""
        for place in sorted(options[lane]):
            if place in tried:
                continue
            tried.add(place)
            if place not in holder or settle(holder[place], tried):
                holder[place] = lane
                return True
        return False

    for lane in options:
        settle(lane, set())
    return {lane: place for place, lane in holder.items()}


def find_crowd(options: Mapping[str, Set[int]]) -> Crowd | None:
    """Lanes that together want more places than any of them may take.

    Parameters
    ----------
    options : Mapping
        Places that each lane may take. [1]

    Returns
    -------
    Crowd or None
        None when every lane can have a place of its own.

    References
    ----------
    [hall] Every lane can have a place of its own just when no such crowd exists: P. Hall, On representatives of subsets,
        1935. From memory.
    """
    placed = most_placed(options)
    holder = {place: lane for lane, place in placed.items()}
    waiting = [lane for lane in options if lane not in placed]
    if not waiting:
        return None
    lanes, places = set(waiting), set[int]()
    while waiting:  # whoever holds a place that somebody left over could use belongs to the crowd
        for place in options[waiting.pop()]:
            if place not in places:
                places.add(place)
                if holder[place] not in lanes:
                    lanes.add(holder[place])
                    waiting.append(holder[place])
    return Crowd(tuple(lane for lane in options if lane in lanes), tuple(sorted(places)))
