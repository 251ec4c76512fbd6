"""Which pins a word may leave on, and the order its lanes must have for it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import product

from scanloom.stages.lanes.propose_answer import WordOrder
from scanloom.stages.lanes.propose_search import Room
from scanloom.stages.lanes.propose_wish import WordNeed


def choices_of(need: WordNeed, pins: Iterable[int]) -> tuple[frozenset[int], ...]:
    """Sets of pins of which the lanes of a word must keep to one.

    Parameters
    ----------
    need : WordNeed
        The word.
    pins : iterable of int
        Pins there are. [1]

    Returns
    -------
    tuple of frozenset
        One set, or for a run one a base, without those inside another; lanes past the last pin may only be spare. [1]
    """
    there = frozenset(pins)
    if need.rule != "run":
        return (there & frozenset(need.pins),)
    found = {
        there & frozenset(range(base, min(base + need.width_lanes - 1, high) + 1))
        for low, high in need.windows or ((0, max(there, default=0)),)
        for base in (need.bases or range(low, high + 1))
        if low <= base <= high
    }
    largest = [one for one in found if not any(one < other for other in found)]
    return tuple(sorted(largest, key=sorted))


def rooms_of(places: Mapping[int, int], needs: Sequence[WordNeed]) -> Iterator[Room]:
    """Places left to the lanes by each choice of runs.

    Parameters
    ----------
    places : Mapping
        Place on the ring of each pin. [1]
    needs : sequence of WordNeed
        The words; those that ask less of the same lanes than another are passed over.

    Yields
    ------
    Mapping
        One empty mapping without any need.
    """
    hard = [need for number, need in enumerate(needs) if not _covered(need, number, needs)]
    for choice in product(*(choices_of(need, places) for need in hard)):
        room: dict[str, frozenset[int]] = {}
        for need, pins in zip(hard, choice, strict=True):
            inside = frozenset(places[pin] for pin in pins)
            for lane in need.lanes:
                room[lane] = room[lane] & inside if lane in room else inside
        yield room


def word_order(need: WordNeed, pins: Mapping[str, int]) -> WordOrder | None:
    """Order of the lanes of a word on given pins.

    Parameters
    ----------
    need : WordNeed
        The word.
    pins : Mapping
        Pin of each lane. [1]

    Returns
    -------
    WordOrder or None
        The rig's own order where it will do; None where the order does not matter, or no lane is in the word.
    """
    if need.rule == "among" or not need.lanes:
        return None
    names = {pins[lane]: name for lane, name in need.word if lane}
    if need.rule == "slots":
        by_bit = [names.get(pin, "spare") for pin in need.pins]
        fits = all(need.pins[bit : bit + 1] == (pins[lane],) for bit, (lane, _) in enumerate(need.word) if lane)
    else:
        bases = {pins[lane] - bit for bit, (lane, _) in enumerate(need.word) if lane}
        fits = len(bases) == 1 and _base_allowed(need, min(bases), names)
        base = max(base for base in range(min(names) + 1) if _base_allowed(need, base, names))
        by_bit = [names.get(pin, "spare") for pin in range(base, max(names) + 1)]
    while by_bit[-1] == "spare":
        by_bit.pop()
    own = tuple(name for _, name in need.word)
    return WordOrder(need.rig, own, False) if fits else WordOrder(need.rig, tuple(by_bit), True)


def _base_allowed(need: WordNeed, base: int, pins: Iterable[int]) -> bool:
    """Whether a run that starts on a pin holds all of some pins by the rules."""
    first, last = min(pins), max(pins)
    inside = not need.windows or any(low <= base and last <= high for low, high in need.windows)
    return 0 <= base <= first and last < base + need.width_lanes and inside and (not need.bases or base in need.bases)


def _covered(need: WordNeed, number: int, needs: Sequence[WordNeed]) -> bool:
    """Whether another word, an earlier one if they are alike, asks at least as much of all lanes of this one."""
    for n, other in enumerate(needs):
        same = (need.rule, need.windows, need.bases) == (other.rule, other.windows, other.bases)
        lanes = set(need.lanes) <= set(other.lanes) and other.width_lanes <= need.width_lanes
        alike = set(need.lanes) == set(other.lanes) and other.width_lanes == need.width_lanes
        inside = need.rule == "run" or set(other.pins) <= set(need.pins)
        equal = alike and set(other.pins) == set(need.pins)
        if n != number and same and lanes and inside and (n < number or not equal):
            return True
    return False
