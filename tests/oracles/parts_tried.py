"""Every network of a small request, tried one by one: compiled, and written without a look at the search.

Legs are resistances here, each code is a sum of its own, and every demand is put to the whole network.
"""

from __future__ import annotations

from itertools import pairwise, product
from typing import Any

import numpy as np
from numba import njit

from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.monotonic import monotonic_guaranteed
from scanloom.stages.levels.search.answer import FoundNetwork, Leg
from scanloom.stages.levels.search.request import PartsRequest
from scanloom.stages.levels.tolerance import level_spans, pin_current_spans


@njit(cache=True)
def try_all(ohm: Any, bits: int, high: float, low: float, rail: float, ground: float, white: float) -> Any:
    """For every choice of legs: largest error of a typical level (infinite if a step does not rise), and white."""
    kinds = ohm.size
    tried = kinds**bits
    out = np.empty((tried, 2))
    chosen = np.empty(bits)
    last = 2**bits - 1
    for number in range(tried):
        left = number
        for leg in range(bits - 1, -1, -1):
            chosen[leg] = ohm[left % kinds]
            left //= kinds
        error, before = 0.0, 0.0
        for code in range(1, last + 1):
            into, through = 0.0, ground
            for leg in range(bits):
                if (code >> (bits - 1 - leg)) % 2 == 1:
                    into += rail / (chosen[leg] + high)
                    through += 1.0 / (chosen[leg] + high)
                else:
                    through += 1.0 / (chosen[leg] + low)
            now = into / through
            if now < before + 1e-9:
                error = np.inf
                break
            error = max(error, abs(now - white * code / last))
            before = now
        out[number, 0], out[number, 1] = error, before
    return out


@njit(cache=True)
def rate(ohm: Any, bits: int, pin: float, rail: float, ground: float, white: float, most: int) -> float:
    """The same search as a benchmark meets it: the first so many choices, only the smallest error kept."""
    kinds, last = ohm.size, 2**bits - 1
    siemens = 1.0 / (ohm + pin)
    place = np.zeros(bits, np.int64)
    best = np.inf
    for _ in range(most):
        total = 0.0
        for leg in range(bits):
            total += siemens[place[leg]]
        scale = rail / (total + ground)
        above, below = 0.0, 0.0
        for leg in range(bits):
            off = scale * siemens[place[leg]] - white * 2 ** (bits - 1 - leg) / last
            if off > 0.0:
                above += off
            else:
                below -= off
        best = min(best, max(above, below))
        for leg in range(bits - 1, -1, -1):
            place[leg] += 1
            if place[leg] < kinds:
                break
            place[leg] = 0
    return best


def every_leg(request: PartsRequest) -> list[Leg]:
    """Legs a request allows."""
    hows = ("single", "parallel", "series") if request.pairs else ("single",)
    return [Leg(ohm, how) for ohm in request.leg_values_ohm for how in hows]  # type: ignore[arg-type]


def worst_of(net: OutputNetwork, white_v: float) -> float:
    """Worst case from the bounds that another module computes."""
    last = net.white_code
    ideal = [white_v * code / last for code in range(last + 1)]
    return max(max(s.high - v, v - s.low) for s, v in zip(level_spans(net), ideal, strict=True))


def made_of(legs: tuple[Leg, ...], shunt_ohm: float | None, error_v: float) -> FoundNetwork:
    """A network with what brute force knows of it."""
    values = {leg.ohm for leg in legs} | (set() if shunt_ohm is None else {shunt_ohm})
    parts = sum(leg.parts for leg in legs) + (shunt_ohm is not None)
    return FoundNetwork(legs, shunt_ohm, error_v, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, len(values), parts)


def allowed(request: PartsRequest) -> list[FoundNetwork]:
    """Every network that meets a request, its typical error told, in no order."""
    legs = every_leg(request)
    ohm = np.array([leg.whole_ohm for leg in legs])
    found = []
    for shunt in request.shunt_values_ohm or (None,):
        ground = 1.0 / request.load_ohm.typical + (0.0 if shunt is None else 1.0 / shunt)
        out = try_all(
            ohm, request.bits, request.pin_high_ohm.typical, request.low_pin_ohm.typical,
            request.rail_v.typical, ground, request.white_v,
        )  # fmt: skip
        good = np.isfinite(out[:, 0]) & (out[:, 1] >= request.white_low_v) & (out[:, 1] <= request.white_high_v)
        places = list(product(range(len(legs)), repeat=request.bits)) if good.any() else []
        for number in np.flatnonzero(good):
            net = made_of(tuple(legs[place] for place in places[number]), shunt, float(out[number, 0]))
            if meets(request, net):
                found.append(net)
    return found


def meets(request: PartsRequest, found: FoundNetwork) -> bool:
    """Whether a network meets the demands that stand beside white and rising steps."""
    if request.distinct_most is not None and found.distinct > request.distinct_most:
        return False
    if request.parts_most is not None and found.parts > request.parts_most:
        return False
    net = found.network(request)
    if request.match_percent is not None:
        siemens = sum(1.0 / (leg.whole_ohm + request.pin_high_ohm.typical) for leg in found.legs)
        source = 1.0 / (siemens + 1.0 / (found.shunt_ohm or np.inf))
        if abs(source / request.line_ohm - 1.0) > request.match_percent / 100.0 + 1e-12:
            return False
    if request.guaranteed and not monotonic_guaranteed(net).guaranteed:
        return False
    if request.pin_most_a is None:
        return True
    most = max(max(pin.source_a.high, -pin.sink_a.low) for pin in pin_current_spans(net))
    return most <= request.pin_most_a


MASK = (1 << 64) - 1


def even(seed: int, board: int, draw: int) -> float:
    """The same drawn number in whole numbers of Python: splitmix64, then an even spread from -1 to 1."""
    z = (seed + 0x9E3779B97F4A7C15 * (board * 64 + draw + 1)) & MASK
    z = (z ^ z >> 30) * 0xBF58476D1CE4E5B9 & MASK
    z = (z ^ z >> 27) * 0x94D049BB133111EB & MASK
    return ((z ^ z >> 31) >> 11) / 2**52 - 1.0


def good_on_boards(request: PartsRequest, found: FoundNetwork) -> int:
    """Good boards of one network, counted in plain Python."""
    part = request.tolerance_percent / 100.0

    def of(span: Any, share: float) -> float:
        end = span.high if share >= 0 else span.low
        return float(span.typical + (end - span.typical) * abs(share))

    good = 0
    for board in range(request.boards):
        rail, load = (
            of(request.rail_v, even(request.seed, board, 0)),
            of(request.load_ohm, even(request.seed, board, 1)),
        )
        on, off = [], []
        for leg, made in enumerate(found.legs):
            ohm = made.whole_ohm * (1.0 + part * even(request.seed, board, 4 + 3 * leg))
            on.append(ohm + of(request.pin_high_ohm, even(request.seed, board, 5 + 3 * leg)))
            off.append(ohm + of(request.low_pin_ohm, even(request.seed, board, 6 + 3 * leg)))
        levels = []
        for bits in product((0, 1), repeat=len(on)):
            branches = [
                (rail if bit else 0.0, up if bit else down) for bit, up, down in zip(bits, on, off, strict=True)
            ]
            branches.append((0.0, load))
            levels.append(sum(v / r for v, r in branches) / sum(1 / r for _, r in branches))
        rising = all(one < other for one, other in pairwise(levels))
        good += rising and request.white_low_v <= levels[-1] <= request.white_high_v
    return good
