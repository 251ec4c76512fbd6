"""Whether a sync edge reaches each display in one go, or dwells between both levels while echoes come and go.

The survey follows the echoes as a staircase; `sync_edges` has the exact answer for one plan, on request.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from scanloom.basis.span import Span
from scanloom.basis.verdict import Patch, Settle, Verdict
from scanloom.circuit.bounce import Staircase, staircases
from scanloom.circuit.branched import Branch, BranchedLine
from scanloom.circuit.line import UniformLine
from scanloom.dossier.model import Display
from scanloom.dossier.reading import Reading
from scanloom.handbook.cables import known_cable
from scanloom.handbook.limits import LimitRow, known_limit, limit
from scanloom.stages.levels.network import Missing
from scanloom.stages.levels.sync import SharedSync

FALLS_BACK_V = 0.05
"""A fall between both levels that an input without hysteresis takes for a second edge. [V]"""

WEAK, TYPICAL, STRONG = "weak", "typical", "strong"

# one output is judged again for every rig, and at every keystroke on the page
_stairs: Callable[..., tuple[Staircase, ...]] = lru_cache(maxsize=256)(staircases)


def judge_edges(
    read: Reading, shared: SharedSync, members: tuple[Display, ...], remedy: tuple[Patch, ...]
) -> tuple[Verdict, ...]:
    """Edges of one output at each of its displays.

    Parameters
    ----------
    read : Reading
        Has read the output; notes cables and what stands in for edge and capacitance.
    shared : SharedSync
        Driver, parts and inputs.
    members : tuple of Display
        The displays on this output.
    remedy : tuple of Patch
        What would mend an edge.

    Returns
    -------
    tuple of Verdict
        One a display.
    """
    try:
        cables = tuple([cable_of(read, display) for display in members])
    except Missing as missing:
        settle = Settle(missing.measure, minutes=5, fact=missing.fact)
        return tuple(
            [
                read.fork().verdict(
                    "levels.sync-edge", _subject(d), "caution", missing.says + ".", state="unknown", settle=settle
                )
                for d in members
            ]
        )
    edge, input_f = read(known_limit("sync-driver-edge")), read(known_limit("sync-input-capacitance"))
    for level in ("sync-in-low", "sync-in-high"):
        read(known_limit(level))
    found = _corners(shared, cables, edge, input_f)
    return tuple(
        [
            _verdict(read.fork(), display, {corner: stairs[at] for corner, stairs in found.items()}, remedy)
            for at, display in enumerate(members)
        ]
    )


def cable_of(read: Reading, display: Display) -> tuple[UniformLine, Span]:
    """Cable of a display.

    Parameters
    ----------
    read : Reading
        Notes it.
    display : Display
        The display.

    Returns
    -------
    tuple
        The line, and its length. [m]

    Raises
    ------
    Missing
        If no cable is stated.
    """
    if display.cable is None:
        raise Missing(
            f"The cable of {display.name} is not known, so neither are the edges of its sync",
            f"displays.{display.name}.cable",
            f"Measure the cable of {display.name} and look for a kind printed on it.",
        )
    run = read(display.cable)
    return read(known_cable(run.kind)), run.length_m


def branched_line(
    shared: SharedSync,
    cables: tuple[tuple[UniformLine, Span], ...],
    edge: LimitRow,
    input_f: LimitRow,
    corner: str = TYPICAL,
) -> BranchedLine:
    """One output with its cables, every part at one end of its span or at its typical value.

    Parameters
    ----------
    shared : SharedSync
        Driver, parts and inputs.
    cables : tuple
        Line and length of each input's cable. [m]
    edge : LimitRow
        Edge of the driver. [s]
    input_f : LimitRow
        Capacitance of an input. [F]
    corner : str
        ``weak``: high resistances, heavy loads, slow edge; ``strong``: the other way; ``typical``.

    Returns
    -------
    BranchedLine
        The output.
    """

    def at(span: Span | None, *, weak_high: bool, absent: float = 0.0) -> float:
        if span is None:
            return absent
        return span.typical if corner == TYPICAL else span.high if weak_high == (corner == WEAK) else span.low

    def of(row: LimitRow) -> float:
        value = row.typical if corner == TYPICAL else row.high if corner == WEAK else row.low
        assert value is not None
        return value

    branches = tuple(
        [
            Branch(
                at(one.branch_ohm, weak_high=True),
                line,
                at(length_m, weak_high=True),
                at(one.load_ohm, weak_high=False),
                of(input_f),
                at(one.pull_ohm, weak_high=False, absent=float("inf")),
                at(one.pull_v, weak_high=True),
            )
            for one, (line, length_m) in zip(shared.inputs, cables, strict=True)
        ]
    )
    return BranchedLine(
        max(at(shared.driver_high_ohm, weak_high=True), 1e-3),
        max(at(shared.driver_low_ohm, weak_high=True), 1e-3),
        at(shared.rail_v, weak_high=False),
        branches,
        of(edge),
        at(shared.series_ohm, weak_high=True),
    )


def edges_hold(shared: SharedSync, cables: tuple[tuple[UniformLine, Span], ...]) -> bool:
    """Whether `judge_edges` would find every edge of one output clean in all corners.

    Parameters
    ----------
    shared : SharedSync
        Driver, parts and inputs.
    cables : tuple
        Line and length of each input's cable. [m]

    Returns
    -------
    bool
        Whether it would.
    """
    most_s = limit("sync-edge").high
    assert most_s is not None
    return all(
        stairs.between_s is not None and stairs.between_s <= most_s and stairs.back_v <= FALLS_BACK_V
        for corner in _corners(shared, cables, limit("sync-driver-edge"), limit("sync-input-capacitance")).values()
        for stairs in corner
    )


def _corners(
    shared: SharedSync, cables: tuple[tuple[UniformLine, Span], ...], edge: LimitRow, input_f: LimitRow
) -> dict[str, tuple[Staircase, ...]]:
    """Edges at each display with weak, typical and strong parts."""
    low, high = limit("sync-in-low").high, limit("sync-in-high").low
    assert low is not None and high is not None
    return {
        corner: _stairs(branched_line(shared, cables, edge, input_f, corner), low, high, slow=corner == WEAK)
        for corner in (WEAK, TYPICAL, STRONG)
    }


def _verdict(read: Reading, display: Display, found: dict[str, Staircase], remedy: tuple[Patch, ...]) -> Verdict:
    """One display's edges against the longest that a receiver is promised."""
    row = known_limit("sync-edge")
    most_s = row.value.high
    assert most_s is not None
    times = [stairs.between_s for stairs in found.values()]
    known = [time_s for time_s in times if time_s is not None]
    typical = found[TYPICAL]
    name = display.name
    span = (
        Span(min(known), typical.between_s, max(known)) if typical.between_s is not None and len(known) == 3 else None
    )
    if typical.back_v > FALLS_BACK_V:
        state, says = "fails", f"A sync edge falls back half way at {name}: it may count one edge twice."
    elif typical.between_s is None:
        state, says = "fails", f"A sync edge never passes both levels at {name}."
    elif typical.between_s > most_s:
        state, says = "fails", f"A sync edge dwells between low and high at {name}: lines jitter or count twice."
    elif max(stairs.back_v for stairs in found.values()) > FALLS_BACK_V or span is None or span.high > most_s:
        state, says = "unknown", f"A sync edge may dwell or fall back half way at {name}, with unlucky parts."
    else:
        state, says = "holds", f"Each sync edge passes from low to high in one go at {name}."
    return read.verdict(
        "levels.sync-edge",
        _subject(display),
        "caution",
        says,
        found=span,
        unit="s",
        high=most_s,
        state=state,  # type: ignore[arg-type]
        limit=row,
        settle=Settle(
            f"Look at pin 13 of {name}'s plug with an oscilloscope while everything is plugged in.",
            "the edge passes from 0.8 to 2.0 V within 80 ns and does not turn back",
            "it stops or turns back between them",
            15,
            f"displays.{name}.cable",
        ),
        remedy=remedy,
    )


def _subject(display: Display) -> str:
    """Place of a display's sync in the dossier."""
    return f"displays.{display.name}.sync"
