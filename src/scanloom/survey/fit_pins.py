"""How many pins a wish takes, and how many of a chip's will do."""

from __future__ import annotations

from scanloom.handbook.chip import Chip, Routing, Stream
from scanloom.survey.wish import Wish


def pins_needed(wish: Wish, depth: tuple[int, ...]) -> int:
    """Pins for every colour bit and both syncs.

    Parameters
    ----------
    wish : Wish
        What is wished.
    depth : tuple of int
        Bits of each group. [1]

    Returns
    -------
    int
        Pins. [1]
    """
    return 2 + sum(g.count * g.pins_each * b for g, b in zip(wish.groups, depth, strict=True))


def pins_there(chip: Chip, stream: Stream) -> int:
    """Pins that will do without a last resort, under the stream's routing rule.

    Parameters
    ----------
    chip : Chip
        The chip.
    stream : Stream
        The stream.

    Returns
    -------
    int
        Pins; 0 when the record does not tell. [1]
    """
    routing = chip.routing_of(stream.name)
    if chip.table.pins is None or routing is None:
        return 0
    usable = [pin for pin in chip.table.pins.pins if all(row.allow in ("any", "colour") for row in chip.pin_rows(pin))]
    if routing.rule == "any":
        return len(usable if routing.pins is None else [pin for pin in usable if pin in routing.pins])
    if routing.rule == "fixed":
        return _matched(routing, set(usable)) + 2
    return max((_run_from(start, set(usable), routing) for start in usable), default=0)


def _run_from(start: int, usable: set[int], routing: Routing) -> int:
    """Pins of a run that starts somewhere, inside one window."""
    if routing.bases and start not in routing.bases:
        return 0
    ends = [high for low, high in routing.windows if low <= start <= high] or ([] if routing.windows else [max(usable)])
    best = 0
    for end in ends:
        pin = start
        while pin in usable and pin <= end:
            pin += 1
        best = max(best, pin - start)
    return best


def _matched(routing: Routing, usable: set[int]) -> int:
    """Lanes that can each have a pin of their own: a matching grown by augmenting paths."""
    owner: dict[int, int] = {}

    def find(lane: int, seen: set[int]) -> bool:
        for pin in routing.choices[lane]:
            if pin in usable and pin not in seen:
                seen.add(pin)
                if pin not in owner or find(owner[pin], seen):
                    owner[pin] = lane
                    return True
        return False

    return sum(find(lane, set()) for lane in range(len(routing.choices)))
