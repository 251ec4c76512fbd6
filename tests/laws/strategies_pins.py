"""Small random wishes for pins: few enough lanes and pins that every map there is can be tried."""

from __future__ import annotations

from hypothesis import strategies as st

from scanloom.stages.lanes.propose_wish import ChannelWish, PinWish, RingPin, SyncWish, WordNeed, lane_name

FITS = st.sampled_from(("fit",) * 7 + ("last", "last", "no"))


@st.composite
def rings(draw: st.DrawFn, most: int = 7) -> tuple[RingPin, ...]:
    """A ring of pins whose numbers do not follow the walk."""
    numbers = draw(st.lists(st.integers(0, 9), min_size=most - 2, max_size=most, unique=True))
    return tuple(
        RingPin(pin, draw(FITS), draw(FITS), draw(FITS), draw(FITS), draw(st.sampled_from(("", "", "pulses"))))
        for pin in numbers
    )


@st.composite
def wishes(draw: st.DrawFn, most_pins: int = 7, most_lanes: int = 5, words: bool = True) -> PinWish:
    """A wish of few lanes; some kept on some pin, rightly or not, some words bound to runs, pins or bits."""
    ring = draw(rings(most_pins))
    pins = [one.pin for one in ring]
    left = most_lanes
    free = draw(st.permutations(pins))
    channels: list[ChannelWish] = []
    for connector in ("J1", "J2"):
        for channel in ("red", "green", "blue"):
            bits = draw(st.sampled_from((0, 1, 1, 2)))
            if not 0 < bits <= left:
                continue
            left -= bits
            now = tuple(free.pop() for _ in range(bits)) if len(free) >= bits and draw(st.booleans()) else ()
            kept = bool(now) and draw(st.booleans())
            channels.append(ChannelWish(connector, channel, bits, draw(st.booleans()), now, kept))
    syncs: list[SyncWish] = []
    for name in ("h", "v"):
        if left and draw(st.booleans()):
            left -= 1
            sync_now = free.pop() if free and draw(st.booleans()) else None
            hangs = draw(st.sampled_from(("direct", "buffered", "either")))
            syncs.append(SyncWish(name, hangs, sync_now, sync_now is not None and draw(st.booleans())))
    lanes = [lane_name(one, bit) for one in channels for bit in range(one.bits)] + [one.name for one in syncs]
    needs = [draw(_needs(lanes)) for _ in range(draw(st.sampled_from((0, 0, 1, 1, 2))))] if words and lanes else []
    return PinWish(ring, tuple(channels), tuple(syncs), tuple(needs))


@st.composite
def _needs(draw: st.DrawFn, lanes: list[str]) -> WordNeed:
    """A word of some of the lanes, and what its rule asks of them."""
    order = draw(st.permutations(lanes))
    used = order[: draw(st.integers(1, len(order)))]
    word = tuple((lane, f"name of {lane}") for lane in used)
    rule = draw(st.sampled_from(("run", "run", "among")))
    if rule == "among":
        return WordNeed("rig", "among", word, 9, tuple(draw(st.sets(st.integers(0, 9), min_size=5, max_size=10))))
    windows = draw(st.sampled_from(((), (), ((0, 5), (3, 9)), ((1, 8),))))
    bases = draw(st.sampled_from(((), (), (0, 2, 3), (1, 2, 4, 6))))
    return WordNeed("rig", "run", word, draw(st.sampled_from((4, 6, 8, 8))), (), windows, bases)


@st.composite
def fixed_wishes(draw: st.DrawFn) -> PinWish:
    """A wish whose lanes share one word, each bit of it with a few pins of its own, some of them on two bits."""
    plain = draw(wishes(6, 4, words=False))
    lanes = [lane_name(one, bit) for one in plain.channels for bit in range(one.bits)] + [s.name for s in plain.syncs]
    bits = draw(st.integers(max(1, len(lanes)), 5))
    choices = tuple(tuple(sorted(draw(st.sets(st.integers(0, 9), min_size=3, max_size=7)))) for _ in range(bits))
    word = tuple((lane, f"name of {lane}") for lane in lanes)
    return PinWish(plain.ring, plain.channels, plain.syncs, (WordNeed("rig", "fixed", word, bits, choices=choices),))
