"""What each element does to white and to the worst step, and which parts need not be as good as they are.

A level is a ratio of two sums, each of first degree in any one resistance (or in the rail), so it is (a + b x) /
(c + d x) in that element alone. For such a function the slopes at two places multiply to the square of the slope of
the chord between them; three places therefore give the slope at any one of them exactly, without a small difference.
A pin's resistance stands in every leg at once, so its slope is the sum of the slopes of the legs.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.handbook.limits import limit
from scanloom.stages.levels.figures import built_level
from scanloom.stages.levels.model import BuiltNetwork, OutputNetwork, check_code, legs_on, typical
from scanloom.stages.levels.monotonic import monotonic_guaranteed
from scanloom.stages.levels.tolerance import white_span

GRADES = (1.0, 2.0, 5.0, 10.0)
"""Tolerances that parts are sold in, those of the series E96, E48, E24 and E12 of IEC 60063, from memory. [%]"""


@record
class Influence:
    """What one element does to one figure of a channel.

    Parameters
    ----------
    element : str
        The element: rail, load, shunt, terminator, pin high, pin low, part or rung with its number from 1.
    per_percent_v : float
        Change of the figure when the element grows by a hundredth. [V]
    spread_v : float
        Width that the element's own span gives the figure, taken as a straight line. [V]
    share : float
        Share of that in the sum of all elements. [1]
    """

    element: str
    per_percent_v: float
    spread_v: float
    share: float


@record
class LooserPart:
    """A part that need not be as good as it is.

    Parameters
    ----------
    leg : int
        Which part, 0 the most significant. [1]
    now_percent : float
        Tolerance it has. [%]
    may_percent : float
        Loosest grade that will do there, with what was loosened before it. [%]
    white_v : Span
        Exact bounds of white with that grade there. [V]
    """

    leg: int
    now_percent: float
    may_percent: float
    white_v: Span


def white_influences(net: OutputNetwork) -> tuple[Influence, ...]:
    """What each element does to white.

    Parameters
    ----------
    net : OutputNetwork
        The channel.

    Returns
    -------
    tuple of Influence
        The strongest first. [V]

    References
    ----------
    [chord] See the head of this module.
    """
    return _ranked(net, level_slopes(net, net.white_code))


def step_influences(net: OutputNetwork, code: int | None = None) -> tuple[Influence, ...]:
    """What each element does to the height of one step.

    Parameters
    ----------
    net : OutputNetwork
        The channel.
    code : int, optional
        Code that the step leads to; absent: the smallest step with typical values. [1]

    Returns
    -------
    tuple of Influence
        The strongest first. [V]

    Raises
    ------
    ValueError
        If no step leads to the code.

    References
    ----------
    [chord] The slope of a difference is the difference of the slopes.
    """
    upper = worst_step(net) if code is None else code
    check_code(upper, net.bits)
    if upper == 0:
        raise ValueError(f"code 0: no step leads to it; allowed are 1 to {net.white_code}; give one of them")
    before, after = level_slopes(net, upper - 1), level_slopes(net, upper)
    return _ranked(net, {name: after[name] - before[name] for name in after})


def worst_step(net: OutputNetwork) -> int:
    """Code that the smallest step leads to, with typical values.

    Parameters
    ----------
    net : OutputNetwork
        The channel.

    Returns
    -------
    int
        The code. [1]
    """
    built = typical(net)
    level_v = [built_level(built, code) for code in range(1 << net.bits)]
    return min(range(1, len(level_v)), key=lambda code: level_v[code] - level_v[code - 1])


def level_slopes(net: OutputNetwork, code: int) -> dict[str, float]:
    """Slope of a level with typical values, for every element.

    Parameters
    ----------
    net : OutputNetwork
        The channel.
    code : int
        Bits of the channel. [1]

    Returns
    -------
    dict of str to float
        Change of the level for a change of the element by one of its units. [V/ohm, V/V]

    Raises
    ------
    ValueError
        If the code has more bits than the network.

    References
    ----------
    [chord] See the head of this module.
    """
    built = typical(net)
    found = {"rail": built_level(built, code) / built.rail_v}
    found["load"] = _slope(lambda ohm: built_level(replace(built, load_ohm=ohm), code), built.load_ohm)
    if built.shunt_ohm is not None:
        found["shunt"] = _slope(lambda ohm: built_level(replace(built, shunt_ohm=ohm), code), built.shunt_ohm)
    if built.terminator_ohm is not None:
        found["terminator"] = _slope(
            lambda ohm: built_level(replace(built, terminator_ohm=ohm), code), built.terminator_ohm
        )
    legs = [_slope(_leg_level(built, leg, code), part) for leg, part in enumerate(built.part_ohm)]
    found |= {f"part {leg + 1}": slope for leg, slope in enumerate(legs)}
    for place, rung in enumerate(built.rung_ohm):
        found[f"rung {place + 1}"] = _slope(_rung_level(built, place, code), rung)
    is_on = legs_on(code, net.bits)
    found["pin high"] = sum(slope for slope, on in zip(legs, is_on, strict=True) if on)
    found["pin low"] = sum(slope for slope, on in zip(legs, is_on, strict=True) if not on)
    return found


def looser_parts(net: OutputNetwork, window_v: tuple[float, float] | None = None) -> tuple[LooserPart, ...]:
    """Parts that may be of a looser grade, all of them together, with white still sure of its window.

    Parts are tried from the one that does least to white; each gets the loosest grade with which the exact worst case
    holds, what was loosened before staying so. Steps that were sure to rise stay sure.

    Parameters
    ----------
    net : OutputNetwork
        The channel.
    window_v : tuple of float, optional
        Least and most white; absent: the handbook's window. [V]

    Returns
    -------
    tuple of LooserPart
        Those that may be looser, in the order they were loosened; none where white is not sure even now. [%, V]

    References
    ----------
    [corners] Every answer is the exact worst case, `white_span` and `monotonic_guaranteed`, with the looser grade.
    """
    row = limit("white")
    low_v, high_v = window_v if window_v is not None else (row.low, row.high)
    assert low_v is not None and high_v is not None
    sure = monotonic_guaranteed(net).guaranteed

    def holds(trial: OutputNetwork) -> bool:
        white = white_span(trial)
        return low_v <= white.low and white.high <= high_v and (not sure or monotonic_guaranteed(trial).guaranteed)

    if not holds(net):
        return ()
    slopes = level_slopes(net, net.white_code)
    order = sorted(range(net.bits), key=lambda leg: abs(slopes[f"part {leg + 1}"]) * net.part_ohm[leg].typical)
    found: list[LooserPart] = []
    for leg in order:
        now = tolerance_percent(net.part_ohm[leg])
        for grade in reversed(GRADES):
            if grade <= now:
                break
            parts = list(net.part_ohm)
            parts[leg] = Span.exact(parts[leg].typical).relative(grade)
            trial = replace(net, part_ohm=tuple(parts))
            if holds(trial):
                net = trial
                found.append(LooserPart(leg, now, grade, white_span(net)))
                break
    return tuple(found)


def looser_words(net: OutputNetwork, looser: Sequence[LooserPart]) -> str:
    """Which grade each part needs, as a sentence.

    Parameters
    ----------
    net : OutputNetwork
        The channel.
    looser : sequence of LooserPart
        What `looser_parts` found for it.

    Returns
    -------
    str
        Such as ``1 % for part 1 (510 ohm); 5 % will do for part 4 (3900 ohm).``
    """
    may = {one.leg: one.may_percent for one in looser}
    words = []
    for leg, part in enumerate(net.part_ohm):
        here = f"part {leg + 1} ({part.typical:g} ohm)"
        words.append(
            f"{may[leg]:g} % will do for {here}" if leg in may else f"{tolerance_percent(part):.3g} % for {here}"
        )
    return "; ".join(words) + "."


def tolerance_percent(span: Span) -> float:
    """Tolerance of a part about its typical value, the larger side.

    Parameters
    ----------
    span : Span
        The part. [ohm]

    Returns
    -------
    float
        The tolerance; 0 for an exact part. [%]
    """
    if span.is_exact:
        return 0.0
    return 100.0 * max(span.high - span.typical, span.typical - span.low) / span.typical


def _slope(level: Callable[[float], float], at: float) -> float:
    """Slope of (a + b x) / (c + d x) at one place, from three."""
    # a part may be zero: a wire
    first, second = (2.0 * at, 3.0 * at) if at > 0.0 else (100.0, 200.0)
    own, one, two = level(at), level(first), level(second)
    between = (two - one) / (second - first)
    if between == 0.0:
        return 0.0
    return (one - own) / (first - at) * ((two - own) / (second - at)) / between


def _leg_level(built: BuiltNetwork, leg: int, code: int) -> Callable[[float], float]:
    """Level as a function of one leg's part."""
    return lambda ohm: built_level(
        replace(built, part_ohm=(*built.part_ohm[:leg], ohm, *built.part_ohm[leg + 1 :])), code
    )


def _rung_level(built: BuiltNetwork, place: int, code: int) -> Callable[[float], float]:
    """Level as a function of one rung."""
    return lambda ohm: built_level(
        replace(built, rung_ohm=(*built.rung_ohm[:place], ohm, *built.rung_ohm[place + 1 :])), code
    )


def _ranked(net: OutputNetwork, slopes: dict[str, float]) -> tuple[Influence, ...]:
    """Influences with their shares, the strongest first."""
    spans = _spans(net)
    spreads = {name: abs(slope) * (spans[name].high - spans[name].low) for name, slope in slopes.items()}
    total = sum(spreads.values())
    made = [
        Influence(name, slope * spans[name].typical / 100.0, spreads[name], spreads[name] / total if total else 0.0)
        for name, slope in slopes.items()
    ]
    return tuple(sorted(made, key=lambda one: (-one.spread_v, -abs(one.per_percent_v))))


def _spans(net: OutputNetwork) -> dict[str, Span]:
    """Span of every element by its name."""
    found = {"rail": net.rail_v, "load": net.load_ohm, "pin high": net.pin_high_ohm, "pin low": net.pin_low_ohm}
    found |= {f"part {leg + 1}": part for leg, part in enumerate(net.part_ohm)}
    found |= {f"rung {place + 1}": rung for place, rung in enumerate(net.rung_ohm)}
    if net.shunt_ohm is not None:
        found["shunt"] = net.shunt_ohm
    if net.terminator_ohm is not None:
        found["terminator"] = net.terminator_ohm
    return found
