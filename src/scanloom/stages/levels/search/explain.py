"""Why an answer has its rank, what a changed request would bring, and the nearest request that has an answer."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from scanloom.stages.levels.search.answer import FoundNetwork, NoNetwork, PartsProposal, Trade
from scanloom.stages.levels.search.request import PartsRequest
from scanloom.stages.levels.search.single import Ruled, find_parts

FINER = {"E12": "E24", "E24": "E48", "E48": "E96", "E96": "E192"}
GRADES_PERCENT = (20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.25, 0.1)
"""Grades of parts that are sold. Common practice, no source. [%]"""
TRADE_NODES = 300_000
"""Nodes after which the look at a changed request gives up; it then names the best it met. [1]"""
Change = tuple[str, str, PartsRequest]
"""A changed request: the change in words, the option that asks for it, the request."""


def propose_parts(request: PartsRequest) -> PartsProposal | NoNetwork:
    """Parts of one channel, ranked and explained; or the nearest request that has an answer.

    Parameters
    ----------
    request : PartsRequest
        What is asked.

    Returns
    -------
    PartsProposal or NoNetwork
        The answers, or why there are none.

    Examples
    --------
    >>> found = propose_parts(PartsRequest(4, distinct_most=1))
    >>> print(found.says)
    no network of 4 bits with 1 distinct value has white from 0.665 to 0.77 V and every step rising; 2 values do: add --distinct 2
    """
    found = find_parts(request)
    if isinstance(found, Ruled):
        return _nearest(request, found)
    trades = tuple(_trades(found))
    answers = [replace(found.answers[0], why=_first(found, trades))]
    answers += [replace(one, why=_behind(found, one)) for one in found.answers[1:]]
    return replace(found, answers=tuple(answers), trades=trades)


def error_of(request: PartsRequest, found: FoundNetwork) -> float:
    """The error that a request wants small.

    Parameters
    ----------
    request : PartsRequest
        The request.
    found : FoundNetwork
        A network.

    Returns
    -------
    float
        Its worst case where that is the objective, else its typical error. [V]
    """
    return found.worst_error_v if request.objective == "worst" else found.error_v


def _trades(found: PartsProposal) -> Iterator[Trade]:
    """What one change would bring, dearer and cheaper ones, the largest gain first."""
    request, best = found.request, found.answers[0]
    if request.objective == "yield":  # shares of boards hardly differ between near networks
        return
    made = []
    for change, option, other in _changes(request, best):
        answer = find_parts(replace(other, answers=1), TRADE_NODES)
        if isinstance(answer, PartsProposal):
            gain_v = error_of(request, best) - error_of(request, answer.answers[0])
            made.append(Trade(change, option, answer.answers[0], gain_v))
    yield from sorted(made, key=lambda trade: -trade.gain_v)


def _changes(request: PartsRequest, best: FoundNetwork) -> Iterator[Change]:
    """Requests one step away: one that allows more, one that makes do with less."""
    needed = request.distinct_most
    if needed is not None and needed < request.bits:
        yield f"{_count(needed + 1, 'value')}", f"--distinct {needed + 1}", replace(request, distinct_most=needed + 1)
    if best.distinct > 1:
        fewer = best.distinct - 1
        yield f"only {_count(fewer, 'value')}", f"--distinct {fewer}", replace(request, distinct_most=fewer)
    if not request.pairs:
        yield "pairs of equal parts", "leave out --single", replace(request, pairs=True)
    elif any(leg.how != "single" for leg in best.legs):
        yield "single parts only", "--single", replace(request, pairs=False)
    if request.stock_ohm is None and request.series in FINER:
        finer = FINER[request.series]
        yield f"series {finer}", f"--series {finer}", replace(request, series=finer)
    if request.parts_most is not None and request.parts_most < 2 * request.bits:
        more = request.parts_most + 1
        yield _count(more, "part"), f"--parts-most {more}", replace(request, parts_most=more)


def _first(found: PartsProposal, trades: tuple[Trade, ...]) -> str:
    """Why the first answer is first, and what the next better one would cost."""
    request, best = found.request, found.answers[0]
    if request.objective == "yield":
        assert best.good_share is not None and found.most_share is not None
        lead = f"{best.good_share:.1%} of {request.boards} made-up boards are good"
        tail = (
            "no network does better on them" if found.proved else f"no network exceeds {found.most_share:.1%} on them"
        )
        return f"{lead}; {tail}."
    what = "worst case" if request.objective == "worst" else "error"
    lead = f"{_milli(error_of(request, best))} {what}, " + (
        f"the least of {found.networks:.2g} networks" if found.proved else "the least found before the search gave up"
    )
    better = [f"{t.change} would bring {_milli(error_of(request, t.best))}" for t in trades if t.gain_v > 1e-6]
    cheaper = [
        f"{t.change} would leave {_milli(error_of(request, t.best))}"
        for t in trades
        if t.gain_v <= 1e-6 and (t.best.distinct, t.best.parts) < (best.distinct, best.parts)
    ]
    return "; ".join([lead, *better, *cheaper]) + "."


def _behind(found: PartsProposal, one: FoundNetwork) -> str:
    """How a later answer differs from the first."""
    request, best = found.request, found.answers[0]
    if one.good_share is not None and best.good_share is not None:
        lead = f"{(best.good_share - one.good_share) * request.boards:.0f} good boards fewer than the first"
    else:
        behind_v = error_of(request, one) - error_of(request, best)
        lead = "as good as the first" if abs(behind_v) < 1e-6 else f"{_milli(behind_v)} behind the first"
        if request.objective == "worst":  # what lies within a meter's last digit counts as equal
            lead = f"worst case {_milli(one.worst_error_v)}, as good as the first; typical error {_milli(one.error_v)}"
    said = [lead]
    for name, now, was in (("value", one.distinct, best.distinct), ("part", one.parts, best.parts)):
        if now != was:
            said.append(f"{_count(abs(now - was), name)} {'fewer' if now < was else 'more'}")
    return ", ".join(said) + "."


def _nearest(request: PartsRequest, ruled: Ruled) -> NoNetwork:
    """The least change that brings an answer, tried from the mildest on."""
    asked = _asked(request)
    if not ruled.proved:
        return NoNetwork(
            request, f"{asked} was not found before the search gave up; ask for less", "", None, proved=False
        )
    for change, option, other in _milder(request):
        if isinstance(find_parts(replace(other, answers=1, objective="nominal"), TRADE_NODES), PartsProposal):
            how = option if option.startswith("leave") else f"add {option}"
            if other.stock_ohm != request.stock_ohm:
                how = f"put {option} in place of --stock"
            return NoNetwork(request, f"no {asked}; {change}: {how}", option, other, proved=True)
    return NoNetwork(
        request,
        f"no {asked}, nor with any one demand dropped; check rail, pins and load, or drop several demands",
        "",
        None,
        proved=True,
    )


def _milder(request: PartsRequest) -> Iterator[Change]:
    """Requests that ask for less in one thing, the mildest change of each first."""
    if request.distinct_most is not None:
        for most in range(request.distinct_most + 1, request.bits + 2):
            yield f"{_count(most, 'value')} do", f"--distinct {most}", replace(request, distinct_most=most)
    if request.parts_most is not None:
        for most in range(request.parts_most + 1, 2 * request.bits + 2):
            yield f"{most} parts do", f"--parts-most {most}", replace(request, parts_most=most)
    if not request.pairs:
        yield "pairs of equal parts do", "leave out --single", replace(request, pairs=True)
    if request.guaranteed:
        for percent in GRADES_PERCENT:
            if percent < request.tolerance_percent:
                yield (
                    f"parts of {percent:g} % do",
                    f"--tolerance '{percent:g} %'",
                    replace(request, tolerance_percent=percent),
                )
    if request.stock_ohm is None:
        finer = request.series
        while finer in FINER:
            finer = FINER[finer]
            yield f"series {finer} does", f"--series {finer}", replace(request, series=finer)
    if request.pin_most_a is not None:
        for step in range(1, 41):
            more_a = math.ceil(request.pin_most_a * 1.05**step * 1e4) / 1e4
            yield (
                f"{more_a * 1e3:g} mA a pin does",
                f"--pin-current '{more_a * 1e3:g} mA'",
                replace(request, pin_most_a=more_a),
            )
    if request.match_percent is not None:
        for percent in (10.0, 20.0, 30.0, 50.0):
            if percent > request.match_percent:
                yield (
                    f"a match within {percent:g} % does",
                    f"--match '{percent:g} %'",
                    replace(request, match_percent=percent),
                )
    if request.stock_ohm is not None:
        for series in ("E12", "E24", "E96"):
            yield f"series {series} does", f"--series {series}", replace(request, stock_ohm=None, series=series)
    yield (
        "values from 10 ohm to 100 kohm do",
        "--range '10 ohm .. 100 kohm'",
        replace(request, least_part_ohm=10.0, most_part_ohm=1e5),
    )
    for bits in range(request.bits - 1, 0, -1):
        yield f"{_count(bits, 'bit')} do", f"--bits {bits}", replace(request, bits=bits)


def _asked(request: PartsRequest) -> str:
    """The demands of a request in words."""
    said = [f"network of {_count(request.bits, 'bit')}"]
    if request.distinct_most is not None:
        said.append(f"with {_count(request.distinct_most, 'distinct value')}")
    if request.parts_most is not None:
        said.append(f"of {_count(request.parts_most, 'part')}")
    if not request.pairs:
        said.append("of single parts")
    if request.match_percent is not None:
        said.append(f"matched within {request.match_percent:g} %")
    said.append(f"has white from {request.white_low_v:g} to {request.white_high_v:g} V and every step")
    said.append(f"sure to rise at {request.tolerance_percent:g} %" if request.guaranteed else "rising")
    if request.pin_most_a is not None:
        said.append(f"with at most {request.pin_most_a * 1e3:g} mA a pin")
    return " ".join(said)


def _count(number: int, noun: str) -> str:
    """A number with its noun."""
    return f"{number} {noun}" + ("" if number == 1 else "s")


def _milli(volts: float) -> str:
    """Millivolts as the trade writes them."""
    return f"{volts * 1e3:.3g} mV"
