"""Voltage of a pin that nobody drives, when it feeds a tap of a ladder.

As in `node`, but several taps stand in a row, with a rung between neighbours, the load at the first tap and the
terminator at the last. All voltages lie between ground and rail, so every element but a rung moves the pin one way;
rungs are tried at both ends.
"""

from __future__ import annotations

from collections.abc import Sequence

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.stages.waking.node import Strand

Seen = tuple[float, float]
"""What is seen into one side of a tap: current into a short, and conductance; none of either where nothing hangs. [A, S]"""
_LOW, _TYPICAL, _HIGH = -1, 0, 1


@record
class LadderNet:
    """A pin that feeds a ladder while the chip starts.

    Parameters
    ----------
    legs : tuple of Strand
        Each pin with its internal pull at the far end and its leg to the tap, most significant first.
    leg : int
        Which of them is the pin. [1]
    rung_ohm : tuple of Span
        Parts between the taps, from the connector on. [ohm]
    terminator_ohm : Span
        From the last tap to ground. [ohm]
    load_ohm : Span
        Load of the display, from the first tap to ground. [ohm]

    Raises
    ------
    ValueError
        If legs and rungs do not make a ladder, or the pin is none of its legs.
    """

    legs: tuple[Strand, ...]
    leg: int
    rung_ohm: tuple[Span, ...]
    terminator_ohm: Span
    load_ohm: Span

    def __post_init__(self) -> None:
        """Refuse what is no ladder."""
        if len(self.rung_ohm) != len(self.legs) - 1 or not 0 <= self.leg < len(self.legs):
            raise ValueError(
                f"ladder: {len(self.legs)} legs, {len(self.rung_ohm)} rungs, leg {self.leg}; allowed is one rung fewer "
                "than legs and a leg that there is; give them"
            )


def ladder_level(net: LadderNet, *, plugged: bool) -> Span:
    """Bounds of the pin's voltage with the display plugged in or not.

    Parameters
    ----------
    net : LadderNet
        The pin.
    plugged : bool
        Whether the display is plugged in.

    Returns
    -------
    Span
        The voltage; the terminator always holds it. [V]

    References
    ----------
    [norton] Two sides of a tap joined; a rung in series.
    """
    ends = []
    for side in (_LOW, _TYPICAL, _HIGH):
        arms = [_seen(arm, side, own=place == net.leg) for place, arm in enumerate(net.legs)]
        load = (0.0, 1.0 / _end(net.load_ohm, side) if plugged else 0.0)
        rungs = [_ends(rung, side) for rung in net.rung_ohm]
        near = _behind(load, arms[: net.leg], rungs[: net.leg])
        far = _behind((0.0, 1.0 / _end(net.terminator_ohm, side)), arms[net.leg + 1 :][::-1], rungs[net.leg :][::-1])
        own_a, own_s = arms[net.leg]
        taps_v = [(a[0] + b[0] + own_a) / (a[1] + b[1] + own_s) for a in near for b in far]
        ends.append(_at_pin(net.legs[net.leg], max(taps_v) if side == _HIGH else min(taps_v), side))
    return Span(min(ends[:2]), ends[1], max(ends[1:]))


def ladder_worst(net: LadderNet, *, highest: bool) -> Span:
    """Bounds of the pin's voltage, the display plugged in or not, whichever moves it farther.

    Parameters
    ----------
    net : LadderNet
        The pin.
    highest : bool
        Whether farther means up; else down.

    Returns
    -------
    Span
        The farther bound of both, the other bound of the one that is worse with typical values. [V]

    References
    ----------
    [corners] As for `ladder_level`.
    """
    both = [ladder_level(net, plugged=False), ladder_level(net, plugged=True)]
    if highest:
        worst = max(both, key=lambda span: span.typical)
        return Span(worst.low, worst.typical, max(span.high for span in both))
    worst = min(both, key=lambda span: span.typical)
    return Span(min(span.low for span in both), worst.typical, worst.high)


def _seen(arm: Strand, side: int, *, own: bool) -> Seen:
    """A pin through its leg, from the tap, at the end that raises (or lowers) the pin."""
    volt, ohm, leg_ohm = _far_end(arm, side)
    if ohm is None:
        return 0.0, 0.0
    # the pin itself stands beyond its own leg, so that leg counts the other way
    turn = -1 if arm.pull_ohm is not None else 1
    whole_ohm = ohm + (_end(arm.part_ohm, -turn * side) if own else leg_ohm)
    return volt / whole_ohm, 1.0 / whole_ohm


def _far_end(arm: Strand, side: int) -> tuple[float, float | None, float]:
    """Voltage and resistance of a pin's pull, and its leg, at the end that raises (or lowers) the tap."""
    if arm.pull_ohm is not None and arm.pull_v is not None:
        return _end(arm.pull_v, side), _end(arm.pull_ohm, -side), _end(arm.part_ohm, -side)
    if arm.load_ohm is not None:
        return 0.0, _end(arm.load_ohm, side), _end(arm.part_ohm, side)
    return 0.0, None, 0.0


def _at_pin(arm: Strand, tap_v: float, side: int) -> float:
    """Voltage of the pin beyond its leg."""
    volt, ohm, _ = _far_end(arm, side)
    if ohm is None:
        return tap_v
    leg_ohm = _end(arm.part_ohm, side if arm.pull_ohm is not None else -side)
    return tap_v + (volt - tap_v) * leg_ohm / (ohm + leg_ohm)


def _behind(start: Seen, arms: Sequence[Seen], rung_choices_ohm: Sequence[Sequence[float]]) -> list[Seen]:
    """What is seen behind a tap, for each way to choose the rungs on that side."""
    found = [start]
    for (leg_a, leg_s), choices_ohm in zip(arms, rung_choices_ohm, strict=True):
        joined = [(amp + leg_a, siemens + leg_s) for amp, siemens in found]
        found = [
            (amp / (1.0 + siemens * rung_ohm), siemens / (1.0 + siemens * rung_ohm))
            for amp, siemens in joined
            for rung_ohm in choices_ohm
        ]
    return found


def _end(span: Span, side: int) -> float:
    """Low, typical or high of a span."""
    return span.typical if side == _TYPICAL else span.low if side == _LOW else span.high


def _ends(span: Span, side: int) -> list[float]:
    """Both ends of a span, or its typical value."""
    return [_end(span, side)] if side == _TYPICAL or span.is_exact else [span.low, span.high]
