"""A proposal of pins in words: why each pin, why no better map, why no map at all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import replace

from scanloom.stages.lanes.fitness import Fit
from scanloom.stages.lanes.propose_answer import NoPinMap, PinProposal
from scanloom.stages.lanes.propose_bound import Crowd, find_crowd, most_placed
from scanloom.stages.lanes.propose_reach import rooms_of
from scanloom.stages.lanes.propose_wish import PinWish, RingPin, lane_name

_ROOMS = 200
"""Choices of runs that a proof in words looks through; past these it names the best of them. [1]"""


def pin_words(pin: RingPin, now: int | None, *, kept: bool, sync: bool, buffered: bool, added: bool, fit: Fit) -> str:
    """Why a lane stands on a pin.

    Parameters
    ----------
    pin : RingPin
        The pin.
    now : int or None
        Its pin as stated. [1]
    kept : bool
        Whether it had to stay.
    sync : bool
        Whether it is a sync.
    buffered : bool
        Whether it drives the input of a buffer.
    added : bool
        Whether no buffer is stated for it.
    fit : Fit
        Whether the pin is a last resort for it.

    Returns
    -------
    str
        A few words.
    """
    words = ["kept" if kept else "as now" if now == pin.pin else f"moved from {now}" if now is not None else "new"]
    if buffered and pin.fit_for(sync=sync, buffered=False) == "no":
        words.append(f"must {'get' if added else 'keep'} a buffer: {pin.why or 'a direct load is not allowed'}")
    elif buffered and added:
        words.append("gets a buffer")
    if fit == "last":
        words.append(f"last resort: {pin.why or 'see the chip'}")
    if pin.noise:
        words.append(f"at start: {pin.noise}")
    return "; ".join(words)


def proposal_words(wish: PinWish, proposal: PinProposal, cuts: int) -> PinProposal:
    """Proposal with the sentences that argue for it.

    Parameters
    ----------
    wish : PinWish
        What was asked.
    proposal : PinProposal
        What was found.
    cuts : int
        Cuts of the ring that make a difference. [1]

    Returns
    -------
    PinProposal
        The same with its sentences.
    """
    cost, bound = proposal.cost, proposal.bound
    fit = [one.pin for one in wish.ring if _best_fit(wish, one) == "fit"]
    last = [one.pin for one in wish.ring if _best_fit(wish, one) == "last"]
    says = [
        f"{_lanes(wish)} on {_count(len(fit) + len(last), 'pin')} that may carry one of them"
        + (f", {len(last)} of these a last resort." if last else ".")
    ]
    if cost.last_resort:
        used = ", ".join(f"pin {one.pin} for {one.lane}" for one in proposal.given if one.fit == "last")
        least = f"no map takes fewer than {bound.last_resort}"
        says.append(f"Last resorts: {used}; {least}{_comfort(wish)}.")
    for one in proposal.given:
        pin = wish.ring[one.ring_place - 1]
        if one.buffered and pin.fit_for(sync=not one.connector, buffered=False) == "no":
            why = pin.why or "nothing may hang on it directly"
            says.append(
                f"{one.lane} on pin {one.pin} must go through a buffer, whose input neither loads nor pulls: {why}."
            )
        elif one.buffered and (one.lane, "either") in [(sync.name, sync.hangs) for sync in wish.syncs]:
            says.append(f"{one.lane} on pin {one.pin} gets a buffer, since that saves a last resort.")
    says.append(_crossing_words(wish, proposal, cuts))
    noisy = [str(one.pin) for one in proposal.given if one.noise]
    if noisy:
        says.append(
            f"{'Pins' if len(noisy) > 1 else 'Pin'} {', '.join(noisy)} {'do' if len(noisy) > 1 else 'does'} something "
            f"while the chip starts: look at the displays as it does; at least {bound.noisy} of the kind cannot be avoided."
        )
    if not proposal.proved:
        says.append(
            f"The search ended after {proposal.searched} partial maps: a better map may exist, but none with fewer than "
            f"{bound.last_resort} last resorts, then {bound.added_buffers} added buffers, {bound.crossings} crossings, "
            f"{bound.noisy} noisy pins."
        )
    return replace(proposal, says=(*says, *wish.notes))


def wish_faults(wish: PinWish) -> NoPinMap | None:
    """What cannot be before any search: kept pins that must not stay, words wider than their streams.

    Parameters
    ----------
    wish : PinWish
        What is asked.

    Returns
    -------
    NoPinMap or None
        None when a search may find a map.
    """
    ring = {one.pin: one for one in wish.ring}
    kept: list[tuple[str, int, bool, tuple[bool, ...]]] = []
    for channel in wish.channels:
        for number, pin in enumerate(channel.now if channel.kept else ()):
            kept.append((lane_name(channel, channel.bits - 1 - number), pin, False, (channel.buffered,)))
    for sync in wish.syncs:
        if sync.kept and sync.now is not None:
            kept.append((sync.name, sync.now, True, sync.ways))
    says: list[str] = []
    bad: list[tuple[str, int]] = []
    holder: dict[int, str] = {}
    for lane, pin, is_sync, ways in kept:
        if pin in holder:
            fault = f"which {holder[pin]} keeps, too"
        elif pin not in ring:
            fault = "which is not met on a walk around the module"
        elif all(ring[pin].fit_for(sync=is_sync, buffered=way) == "no" for way in ways):
            fault = f"which must not carry it: {ring[pin].why or 'by the list of pins'}"
        else:
            holder[pin] = lane
            continue
        bad.append((lane, pin))
        says.append(f"{lane} is kept on pin {pin}, {fault}; let it move.")
    if says:
        return NoPinMap(True, tuple(lane for lane, _ in bad), tuple(pin for _, pin in bad), (*says, *wish.notes))
    for need in wish.words:
        if need.rule != "among" and len(need.lanes) > need.width_lanes:
            text = (
                f"The word of {need.rig} wants {_count(len(need.lanes), 'lane')}, each on one pin, and its stream has "
                f"{need.width_lanes}; one lane carries one thing, so there is no map."
            )
            return NoPinMap(True, need.lanes, (), (text, *wish.notes))
    return None


def no_map_words(wish: PinWish, options: Mapping[str, Set[int]]) -> NoPinMap:
    """Proof that there is no map, in words.

    Parameters
    ----------
    wish : PinWish
        What was asked; it has no map.
    options : Mapping
        Places on the ring that each lane may take, runs apart. [1]

    Returns
    -------
    NoPinMap
        The lanes that are too many for their pins.
    """
    says: list[str] = []
    crowd = find_crowd(options)
    if crowd is None:
        crowd, where = _best_run(wish, options)
        rigs = ", ".join(dict.fromkeys(need.rig for need in wish.words))
        says.append(f"The word of {rigs} cannot leave on just any pins. {where}")
    pins = tuple(wish.ring[place].pin for place in crowd.places)
    everything = len(crowd.lanes) == len(options)
    who = _lanes(wish) if everything else f"{_count(len(crowd.lanes), 'lane')} ({', '.join(crowd.lanes)})"
    says.append(
        f"{who} need a pin each, and {_only(pins)} may carry any of them; one pin carries one lane, so there is no map."
    )
    others = _others(wish, pins)
    if others:
        says.append(f"Not for these: {others}.")
    return NoPinMap(True, crowd.lanes, pins, (*says, *_ways_out(wish, crowd), *wish.notes))


def _best_run(wish: PinWish, options: Mapping[str, Set[int]]) -> tuple[Crowd, str]:
    """The crowd in the choice of runs that places most lanes, and that choice in words."""
    places = {one.pin: number for number, one in enumerate(wish.ring)}
    best: tuple[int, Crowd, str] | None = None
    looked = 0
    for room in rooms_of(places, wish.words):
        own = {lane: allowed & room.get(lane, allowed) for lane, allowed in options.items()}
        crowd = find_crowd(own)
        placed = len(most_placed(own))
        looked += 1
        if crowd is not None and (best is None or placed > best[0]):
            inside = sorted({wish.ring[p].pin for lane in room for p in room[lane]})
            where = f"pins {inside[0]} to {inside[-1]}" if inside else "no pin at all"
            best = placed, crowd, where
        if looked == _ROOMS:
            break
    if best is None:
        raise ValueError("no choice of runs is too small for the wish; ask for words only where there is no map")
    placed, crowd, where = best
    if looked > 1:
        return crowd, f"Of {looked} choices the roomiest, {where}, has pins for {placed} of {len(options)} lanes."
    return crowd, f"They leave room for {placed} of {len(options)} lanes, on {where}."


def _ways_out(wish: PinWish, crowd: Crowd) -> list[str]:
    """What would help, where trying it shows that it does or may."""
    found: list[str] = []
    if any(one.kept for one in wish.channels) or any(one.kept for one in wish.syncs):
        found.append("Let more of what is kept move.")
    direct = [one for one in wish.syncs if one.hangs == "direct" and not one.kept]
    more = [one.pin for one in wish.ring if one.sync == "no" and one.buffered_sync != "no"]
    if direct and more:
        found.append(
            f"Through a buffer a sync could also go on {'pins' if len(more) > 1 else 'pin'} {', '.join(map(str, more))}."
        )
    return found


def _crossing_words(wish: PinWish, proposal: PinProposal, cuts: int) -> str:
    """What is known about crossings."""
    if not wish.ring_known:
        return (
            "The order of the pins around the module is not known, so the lanes follow the pins' numbers and crossings are not "
            "counted; write the walking order into board.around."
        )
    cost, bound = proposal.cost, proposal.bound
    kept = sum(one.kept for one in proposal.given if one.connector)
    if cost.crossings == 0:
        return "Pins and connectors come in the same order: no colour track crosses another, and none can do better."
    times = f"Colour tracks cross {_count(cost.crossings, 'time')}"
    if cost.key[:3] == bound.key[:3]:
        why = f"{kept} of the lanes are kept where they are" if kept else "the pins that may carry them are so few"
        places = f"in whichever of {cuts} places the ring of pins is cut open"
        return f"{times}: {why}; {places}, no map crosses less with so few last resorts."
    return f"{times}; no map crosses less than {_count(bound.crossings, 'time')}, as far as was searched."


def _comfort(wish: PinWish) -> str:
    """How many pins there are without reservation, if these are too few."""
    options: dict[str, Set[int]] = {}
    for channel in wish.channels:
        fit = {p for p, one in enumerate(wish.ring) if one.fit_for(sync=False, buffered=channel.buffered) == "fit"}
        for bit in range(channel.bits):
            options[lane_name(channel, bit)] = fit
    for sync in wish.syncs:
        options[sync.name] = {
            p for p, one in enumerate(wish.ring) if any(one.fit_for(sync=True, buffered=b) == "fit" for b in sync.ways)
        }
    crowd = find_crowd(options)
    if crowd is None:
        return ""
    return f", since {_count(len(crowd.lanes), 'lane')} share {_count(len(crowd.places), 'pin')} without a reservation"


def _best_fit(wish: PinWish, pin: RingPin) -> Fit:
    """How fit a pin is for the easiest of the lanes."""
    fits = {pin.fit_for(sync=False, buffered=one.buffered) for one in wish.channels}
    for sync in wish.syncs:
        fits |= {pin.fit_for(sync=True, buffered=way) for way in sync.ways}
    return "fit" if "fit" in fits else "last" if "last" in fits else "no"


def _others(wish: PinWish, pins: Sequence[int]) -> str:
    """Pins that are left out, by what speaks against them."""
    reasons: dict[str, list[int]] = {}
    for one in wish.ring:
        if one.pin not in pins:
            reasons.setdefault(one.why or "not within reach, or kept by others", []).append(one.pin)
    return "; ".join(f"{', '.join(map(str, sorted(found)))} ({why})" for why, found in reasons.items())


def _lanes(wish: PinWish) -> str:
    """All lanes in words."""
    colours = sum(one.bits for one in wish.channels)
    parts = [_count(colours, "colour lane")] if colours else []
    return " and ".join([*parts, *([_count(len(wish.syncs), "sync")] if wish.syncs else [])])


def _only(pins: Sequence[int]) -> str:
    """Pins in words, none included."""
    if not pins:
        return "no pin"
    return f"only {_count(len(pins), 'pin')}, {', '.join(map(str, sorted(pins)))},"


def _count(number: int, what: str) -> str:
    """Number with its noun."""
    return f"{number} {what}{'' if number == 1 else 's'}"
