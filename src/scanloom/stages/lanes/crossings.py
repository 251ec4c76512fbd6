"""Crossings between pins around a module and connectors along an edge."""

from __future__ import annotations

from collections.abc import Sequence


def count_crossings(around: Sequence[int], wanted: Sequence[int]) -> int | None:
    """Fewest crossings of straight tracks from a ring of pins to a row of connectors.

    The ring may be cut anywhere, since tracks may leave the module on either side of it.

    Parameters
    ----------
    around : sequence of int
        Pins as met around the module, counter-clockwise seen from the component side. [1]
    wanted : sequence of int
        Pins in the order of the connectors, left to right with the plug side towards you. [1]

    Returns
    -------
    int or None
        Pairs out of order, at the best cut; None when a pin is not on the ring. [1]

    Notes
    -----
    With the plug side towards you the lower side of the ring is walked from left to right, so ring order and connector
    order run alike. Cutting one place later moves the first of n pins to the end: of the n - 1 pairs with it, those in
    order become out of order and the reverse.

    References
    ----------
    [inversions] Crossings of two orders of the same items are the inversions of one in terms of the other.
    """
    place = {pin: number for number, pin in enumerate(around)}
    if any(pin not in place for pin in wanted):
        return None
    ring = sorted(range(len(wanted)), key=lambda i: place[wanted[i]])
    # ring[k] is the connector place of the k-th pin on the ring
    crossings = sum(ring[i] > ring[j] for i in range(len(ring)) for j in range(i + 1, len(ring)))
    best = crossings
    for first in ring[:-1]:
        crossings += len(ring) - 1 - 2 * first
        best = min(best, crossings)
    return best
