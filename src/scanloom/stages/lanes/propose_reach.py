"""Which pins a word may leave on, and the order its lanes must have for it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import product

from scanloom.stages.lanes.propose_answer import WordOrder
from scanloom.stages.lanes.propose_bound import most_placed
from scanloom.stages.lanes.propose_search import Room
from scanloom.stages.lanes.propose_wish import PinWish, WordNeed


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
    if need.rule == "among":
        return (there & frozenset(need.pins),)
    if need.rule == "fixed":
        return (there & {pin for choice in need.choices for pin in choice},)
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
        Places by lane; one empty mapping without any need. [1]
    """
    hard = [need for number, need in enumerate(needs) if not _covered(need, number, needs)]
    for choice in product(*(choices_of(need, places) for need in hard)):
        room: dict[str, frozenset[int]] = {}
        for need, pins in zip(hard, choice, strict=True):
            inside = frozenset(places[pin] for pin in pins)
            for lane in need.lanes:
                room[lane] = room[lane] & inside if lane in room else inside
        yield room


def bits_of(need: WordNeed, pins: Mapping[str, int]) -> Mapping[str, int] | None:
    """Bit of the word for each lane, where every bit has a choice of pins of its own.

    Parameters
    ----------
    need : WordNeed
        A word with fixed choices.
    pins : Mapping
        Pin of each lane. [1]

    Returns
    -------
    Mapping or None
        Bit by lane; None when two lanes stand on pins of the same bit and neither can have another. [1]
    """
    may = {lane: {bit for bit, own in enumerate(need.choices) if pins[lane] in own} for lane in need.lanes}
    found = most_placed(may)
    return found if len(found) == len(may) else None


def one_pin_a_bit(wish: PinWish, pins: Mapping[str, int]) -> PinWish:
    """The wish with one pin for each bit of a word with fixed choices, so that no two lanes can ask for one bit.

    Parameters
    ----------
    wish : PinWish
        The wish.
    pins : Mapping
        Pins of a map that would be best if two lanes could share a bit; they are chosen where possible. [1]

    Returns
    -------
    PinWish
        A narrower wish: its maps are maps of the whole wish, but its best need not be.
    """
    liked = set(pins.values())
    kept = {pin for one in wish.channels if one.kept for pin in one.now} | {s.now for s in wish.syncs if s.kept}
    words: list[WordNeed] = []
    for need in wish.words:
        if need.rule == "fixed":
            ring = [
                one for one in wish.ring if {one.colour, one.sync, one.buffered_colour, one.buffered_sync} != {"no"}
            ]
            order = sorted(
                ring, key=lambda one: (one.pin not in kept, one.pin not in liked, one.colour != "fit", bool(one.noise))
            )
            fit = [one.pin for one in order]
            may = {str(pin): {bit for bit, own in enumerate(need.choices) if pin in own} for pin in fit}
            chosen = {bit: int(pin) for pin, bit in most_placed(may).items()}
            need = replace(
                need, choices=tuple((chosen[bit],) if bit in chosen else () for bit in range(len(need.choices)))
            )
        words.append(need)
    return replace(wish, words=tuple(words))


def word_order(need: WordNeed, pins: Mapping[str, int]) -> WordOrder | None:
    """Order of the lanes of a word on given pins.

    Parameters
    ----------
    need : WordNeed
        The word.
    pins : Mapping
        Pin of each lane, such that the rule can be kept. [1]

    Returns
    -------
    WordOrder or None
        The rig's own order where it will do; None where the order does not matter, or no lane is in the word.
    """
    if need.rule == "among" or not need.lanes:
        return None
    own = tuple(name for _, name in need.word)
    stated = {lane: bit for bit, (lane, _) in enumerate(need.word) if lane}
    if need.rule == "fixed":
        if all(bit < len(need.choices) and pins[lane] in need.choices[bit] for lane, bit in stated.items()):
            return WordOrder(need.rig, own, False)
        bits = dict(bits_of(need, pins) or {})
    else:
        used = [pins[lane] for lane in need.lanes]
        bases = {pins[lane] - bit for lane, bit in stated.items()}
        if len(bases) == 1 and _base_allowed(need, min(bases), used):
            return WordOrder(need.rig, own, False)
        base = max(base for base in range(min(used) + 1) if _base_allowed(need, base, used))
        bits = {lane: pins[lane] - base for lane in need.lanes}
    names = {bits[lane]: name for lane, name in need.word if lane}
    return WordOrder(need.rig, tuple(names.get(bit, "spare") for bit in range(max(names) + 1)), True)


def _base_allowed(need: WordNeed, base: int, pins: Sequence[int]) -> bool:
    """Whether a run that starts on a pin holds all of some pins by the rules."""
    first, last = min(pins), max(pins)
    inside = not need.windows or any(low <= base and last <= high for low, high in need.windows)
    return 0 <= base <= first and last < base + need.width_lanes and inside and (not need.bases or base in need.bases)


def _covered(need: WordNeed, number: int, needs: Sequence[WordNeed]) -> bool:
    """Whether another word, an earlier one if they are alike, asks at least as much of all lanes of this one."""
    rules = (need.rule, need.windows, need.bases, need.pins, need.choices)
    for n, other in enumerate(needs):
        same = rules == (other.rule, other.windows, other.bases, other.pins, other.choices)
        lanes = set(need.lanes) <= set(other.lanes) and other.width_lanes <= need.width_lanes
        alike = set(need.lanes) == set(other.lanes) and other.width_lanes == need.width_lanes
        if n != number and same and lanes and (n < number or not alike):
            return True
    return False
