"""Every map of few lanes to few pins, tried one by one: the proposal is as good as the best of them, or there is none.

The rules are written anew here from the wording of the wish, so that no line of the search is trusted.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import permutations, product

from hypothesis import HealthCheck, given, settings
from strategies_pins import fixed_wishes, wishes

from scanloom.stages.lanes.propose import propose_pins
from scanloom.stages.lanes.propose_answer import NoPinMap, PinProposal
from scanloom.stages.lanes.propose_bound import find_crowd
from scanloom.stages.lanes.propose_wish import PinWish, WordNeed, lane_name

Cost = tuple[int, int, int, int]
WAYS = {"direct": (False,), "buffered": (True,), "either": (False, True)}
MANY = settings(max_examples=120, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])


def lanes_of(wish: PinWish) -> list[tuple[str, bool, bool, str, int | None]]:
    """Name, sync or not, buffered colour or not, how it hangs, the pin it must keep."""
    found: list[tuple[str, bool, bool, str, int | None]] = []
    for one in wish.channels:
        for number in range(one.bits):
            kept = one.now[number] if one.kept else None
            found.append((lane_name(one, one.bits - 1 - number), False, one.buffered, "", kept))
    found.extend((s.name, True, False, s.hangs, s.now if s.kept else None) for s in wish.syncs)
    return found


def word_allows(need: WordNeed, pins: Mapping[str, int]) -> bool:
    """Whether some order of a word brings its lanes to these pins."""
    used = [pins[lane] for lane, _ in need.word if lane]
    if need.rule == "among":
        return all(pin in need.pins for pin in used)
    if need.rule == "fixed":
        orders = permutations(range(len(need.choices)), len(used))
        return any(all(pin in need.choices[bit] for pin, bit in zip(used, order, strict=True)) for order in orders)
    for base in need.bases or range(10):
        for low, high in need.windows or ((0, 99),):
            if low <= base and all(base <= pin < base + need.width_lanes and pin <= high for pin in used):
                return True
    return False


def crossings(ring: Sequence[int], colours: Sequence[int]) -> int:
    """Pairs out of order, at the best of all cuts, each counted from the start."""
    best = len(colours) ** 2
    for cut in range(len(ring)):
        at = {pin: place for place, pin in enumerate([*ring[cut:], *ring[:cut]])}
        best = min(best, sum(at[a] > at[b] for n, a in enumerate(colours) for b in colours[n + 1 :]))
    return best


def costs(wish: PinWish) -> Iterator[tuple[Cost, dict[str, int]]]:
    """Cost and pins of every map that keeps all rules, each way to hang its syncs apart."""
    ring = {one.pin: one for one in wish.ring}
    lanes = lanes_of(wish)
    ways = [WAYS[hangs] if sync else (buffered,) for _, sync, buffered, hangs, _ in lanes]
    may: dict[tuple[bool, bool, int], str] = {}
    for one in wish.ring:
        may[False, False, one.pin], may[True, False, one.pin] = one.colour, one.sync
        may[False, True, one.pin], may[True, True, one.pin] = one.buffered_colour, one.buffered_sync
    for chosen in permutations(ring, len(lanes)):
        pins = {lane[0]: pin for lane, pin in zip(lanes, chosen, strict=True)}
        if any(lane[4] not in (None, pins[lane[0]]) for lane in lanes):
            continue
        crossed = -1
        for hung in product(*ways):
            fits = [may[one[1], way, pin] for one, way, pin in zip(lanes, hung, chosen, strict=True)]
            if "no" in fits:
                continue
            if crossed < 0:
                if not all(word_allows(need, pins) for need in wish.words):
                    break
                crossed = crossings(list(ring), [p for lane, p in zip(lanes, chosen, strict=True) if not lane[1]])
            added = sum(way for one, way in zip(lanes, hung, strict=True) if one[3] == "either")
            noisy = sum(bool(ring[pin].noise) for pin in chosen)
            yield (fits.count("last"), added, crossed, noisy), pins


def checked(wish: PinWish, answer: PinProposal) -> None:
    """A proposal is one of the maps, and says what that map costs."""
    pins = {one.lane: one.pin for one in answer.given}
    mine = [cost for cost, other in costs(wish) if other == pins]
    assert mine, "the proposal breaks a rule"
    assert answer.cost.key == min(mine)


@MANY
@given(wishes())
def test_no_map_is_better_than_the_proposal(wish: PinWish) -> None:
    best = min((cost for cost, _ in costs(wish)), default=None)
    answer = propose_pins(wish)
    if best is None:
        assert isinstance(answer, NoPinMap) and answer.proved, answer
        return
    assert isinstance(answer, PinProposal), answer
    assert answer.cost.key == best
    assert answer.proved and answer.bound.key == best
    checked(wish, answer)


@MANY
@given(wishes())
def test_a_search_cut_short_tells_the_truth(wish: PinWish) -> None:
    best = min((cost for cost, _ in costs(wish)), default=None)
    for budget in (0, 12, 40):
        answer = propose_pins(wish, budget=budget)
        if isinstance(answer, NoPinMap):
            assert best is None or not answer.proved
            continue
        assert best is not None
        assert answer.bound.key <= best <= answer.cost.key
        assert answer.proved == (answer.bound == answer.cost)
        checked(wish, answer)


@MANY
@given(fixed_wishes())
def test_bits_with_pins_of_their_own_are_bounded(wish: PinWish) -> None:
    """Here the search may miss the best map, but never a proof of it, and never a rule."""
    best = min((cost for cost, _ in costs(wish)), default=None)
    answer = propose_pins(wish)
    if isinstance(answer, NoPinMap):
        assert best is None or not answer.proved
        return
    assert best is not None
    assert answer.bound.key <= best <= answer.cost.key
    checked(wish, answer)


@MANY
@given(wishes(words=False))
def test_crowds_are_crowds(wish: PinWish) -> None:
    """Hall's condition: without words there is no map just when some lanes have fewer pins among them than they are."""
    answer = propose_pins(wish)
    if not isinstance(answer, NoPinMap):
        return
    options: dict[str, set[int]] = {}
    for name, sync, buffered, hangs, kept in lanes_of(wish):
        ways = WAYS[hangs] if sync else (buffered,)
        own = {one.pin for one in wish.ring if any(one.fit_for(sync=sync, buffered=way) != "no" for way in ways)}
        options[name] = own & {kept} if kept is not None else own
    crowd = find_crowd(options)
    assert crowd is not None
    assert len(crowd.places) < len(crowd.lanes)
    assert set(crowd.places) == set().union(*(options[lane] for lane in crowd.lanes))
