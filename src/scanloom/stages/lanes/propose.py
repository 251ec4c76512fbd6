"""A map of lanes to pins, proposed on request: the best there is, or why there is none."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from scanloom.basis.verdict import Patch
from scanloom.stages.lanes.crossings import count_crossings
from scanloom.stages.lanes.fitness import Fit
from scanloom.stages.lanes.propose_answer import NoPinMap, PinGiven, PinProposal
from scanloom.stages.lanes.propose_place import BUFFER, LAST, MOVED, NOISY, Item, Meter, Spent, unpacked
from scanloom.stages.lanes.propose_reach import bits_of, one_pin_a_bit, rooms_of, word_order
from scanloom.stages.lanes.propose_search import Found, search_map
from scanloom.stages.lanes.propose_wish import ChannelWish, PinWish, RingPin, SyncWish, lane_name
from scanloom.stages.lanes.propose_words import no_map_words, pin_words, proposal_words, wish_faults

BUDGET = 500_000
"""Partial maps that a search looks at unless told otherwise; some seconds. [1]"""

BUFFER_STAGE = '{ style = "buffered", buffer = "LVC", outputs = "one per display", branch = "47 ohm ± 5 %" }'
"""A sync stage to start from where a proposal asks for a buffer."""


def propose_pins(
    wish: PinWish, *, budget: int = BUDGET, go_on: Callable[[], bool] | None = None
) -> PinProposal | NoPinMap:
    """Give every lane a pin, as cheaply as can be.

    No pin is used for what it must not carry, none twice, and what is kept stays. Among such maps the one with the fewest
    last resorts is best, then with the fewest added buffers, the fewest crossings of colour tracks, the fewest noisy pins;
    then the fewest moved lanes, and places early in the walking order.

    Parameters
    ----------
    wish : PinWish
        Pins and lanes.
    budget : int
        Partial maps to look at before the best so far must do. [1]
    go_on : callable or None
        Asked now and then; False ends the search early.

    Returns
    -------
    PinProposal or NoPinMap
        The map with what no map undercuts; or the proof that there is none under the stated rules.
    """
    faults = wish_faults(wish)
    if faults is not None:
        return faults
    items = _items(wish)
    meter = Meter(budget, go_on)
    try:
        found = _search(wish, items, meter)
        if found is None:
            return no_map_words(wish, {one.name: frozenset(one.options) for one in items})
        bound = found.bound
        if any(need.rule == "fixed" and bits_of(need, _pins(wish, items, found)) is None for need in wish.words):
            # two lanes stand on pins of one bit: what was found is a bound, but no map
            found = _search(one_pin_a_bit(wish, _pins(wish, items, found)), items, meter)
            if found is None:
                return _nothing_yet(wish, meter)
    except Spent:
        return _nothing_yet(wish, meter)
    by_lane = _pins(wish, items, found)
    given = _given(wish, found.places)
    proposal = PinProposal(
        given=given,
        cost=unpacked(found.cost),
        bound=unpacked(bound),
        proved=unpacked(found.cost) == unpacked(bound),
        ring_known=wish.ring_known,
        crossings_now=_crossings_now(wish),
        moved=sum(one.now is not None and one.now != one.pin for one in given),
        orders=tuple(order for need in wish.words if (order := word_order(need, by_lane)) is not None),
        buffer_stage=unpacked(found.cost).added_buffers > 0,
        searched=meter.seen,
        says=(),
    )
    return proposal_words(wish, proposal, found.cuts)


def proposal_patches(proposal: PinProposal) -> tuple[Patch, ...]:
    """Changes of the dossier that make a proposal its map.

    Parameters
    ----------
    proposal : PinProposal
        The proposal.

    Returns
    -------
    tuple of Patch
        Only what differs from what is stated; none when the map is there already.
    """
    patches: list[Patch] = []
    for connector, channel in dict.fromkeys((one.connector, one.channel) for one in proposal.given):
        own = [one for one in proposal.given if (one.connector, one.channel) == (connector, channel)]
        if all(one.now == one.pin for one in own):
            continue
        pins = [one.pin for one in own]
        key = f"board.connectors.{connector}.{channel}" if connector else f"board.sync.{channel}"
        value = str(pins[0]) if len(pins) == 1 else f"[{', '.join(map(str, pins))}]"
        patches.append(Patch(key, value, f"put it on pin{'s' if len(pins) > 1 else ''} {', '.join(map(str, pins))}"))
    for order in proposal.orders:
        if order.changed:
            names = ", ".join(f'"{name}"' for name in order.lanes)
            patches.append(Patch(f"rigs.{order.rig}.lanes", f"[{names}]", "order the word by its pins"))
    if proposal.buffer_stage:
        patches.append(Patch("levels.sync", BUFFER_STAGE, "drive the displays' syncs through a buffer"))
    return tuple(patches)


def _nothing_yet(wish: PinWish, meter: Meter) -> NoPinMap:
    """That the search ended without a map and without a proof."""
    says = f"The search ended after {meter.seen} partial maps without a whole one; none is proved impossible."
    return NoPinMap(False, (), (), (says, *wish.notes))


def _search(wish: PinWish, items: Sequence[Item], meter: Meter) -> Found | None:
    """Best map in the room that the words leave."""
    places = {one.pin: number for number, one in enumerate(wish.ring)}
    return search_map(items, len(wish.ring), rooms_of(places, wish.words), meter)


def _pins(wish: PinWish, items: Sequence[Item], found: Found) -> dict[str, int]:
    """Pin of each lane."""
    return {one.name: wish.ring[place].pin for one, place in zip(items, found.places, strict=True)}


def _items(wish: PinWish) -> list[Item]:
    """Lanes with the places they may take and what each costs."""
    made: list[Item] = []
    for channel in wish.channels:
        for number in range(channel.bits):
            now = channel.now[number] if number < len(channel.now) else None
            options = {
                place: _cost(one, one.fit_for(sync=False, buffered=channel.buffered), now)
                for place, one in enumerate(wish.ring)
                if one.fit_for(sync=False, buffered=channel.buffered) != "no" and (not channel.kept or one.pin == now)
            }
            made.append(Item(lane_name(channel, channel.bits - 1 - number), False, options, channel.kept))
    for sync in wish.syncs:
        options = {}
        for place, one in enumerate(wish.ring):
            ways = [_cost(one, fit, sync.now) + BUFFER * added for _, fit, added in _ways(sync, one)]
            if ways and (not sync.kept or one.pin == sync.now):
                options[place] = min(ways)
        made.append(Item(sync.name, True, options, sync.kept))
    return made


def _ways(sync: SyncWish, pin: RingPin) -> list[tuple[bool, Fit, bool]]:
    """Ways to hang a sync on a pin: through a buffer or not, how fit the pin is, whether that adds a buffer."""
    ways = [
        (buffered, pin.fit_for(sync=True, buffered=buffered), buffered and sync.hangs == "either")
        for buffered in sync.ways
    ]
    return [way for way in ways if way[1] != "no"]


def _cost(pin: RingPin, fit: Fit, now: int | None) -> int:
    """Packed cost of a lane on a pin."""
    return LAST * (fit == "last") + NOISY * bool(pin.noise) + MOVED * (now is not None and now != pin.pin)


def _given(wish: PinWish, places: Sequence[int]) -> tuple[PinGiven, ...]:
    """Pins of a map with what there is to say about each."""
    made: list[PinGiven] = []
    wanted: list[tuple[ChannelWish | SyncWish, str, int | None]] = []
    for channel in wish.channels:
        for number in range(channel.bits):
            now = channel.now[number] if number < len(channel.now) else None
            wanted.append((channel, lane_name(channel, channel.bits - 1 - number), now))
    wanted.extend((sync, sync.name, sync.now) for sync in wish.syncs)
    for (one, lane, now), place in zip(wanted, places, strict=True):
        pin = wish.ring[place]
        if isinstance(one, ChannelWish):
            connector, channel_name, buffered, added = one.connector, one.channel, one.buffered, False
            fit = pin.fit_for(sync=False, buffered=buffered)
        else:
            connector, channel_name = "", one.name
            buffered, fit, added = min(_ways(one, pin), key=lambda way: (way[1] == "last", way[2]))
        says = pin_words(pin, now, kept=one.kept, sync=not connector, buffered=buffered, added=added, fit=fit)
        made.append(
            PinGiven(lane, connector, channel_name, pin.pin, place + 1, now, one.kept, fit, pin.noise, buffered, says)
        )
    return tuple(made)


def _crossings_now(wish: PinWish) -> int | None:
    """Crossings of the stated pins, where all are stated and the walking order is known."""
    if not wish.ring_known or any(len(one.now) != one.bits for one in wish.channels):
        return None
    return count_crossings([one.pin for one in wish.ring], [pin for one in wish.channels for pin in one.now])
