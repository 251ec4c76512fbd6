"""The budget strip: what there is little of, against its limit, all limits at one common mark."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from scanloom.basis.record import record
from scanloom.basis.verdict import TIGHT_MARGIN, Verdict
from scanloom.report.drawings.memory import block_sizes
from scanloom.report.figures import figure
from scanloom.report.stage_sheets import SheetInput

GaugeState = Literal["fits", "tight", "over", "unknown"]
MARK_PERCENT = 70.0
"""Where the limit stands on every gauge. [%]"""


@record
class Gauge:
    """One budget.

    Parameters
    ----------
    title : str
        What is spent.
    value : str
        How much, without its unit; a dash when unknown.
    unit : str
        Its unit.
    limit : str
        The limit in words.
    share : float
        Spent over allowed, held between 0 and 1.4. [1]
    state : GaugeState
        Whether it fits.
    note : str
        One line more.
    sheet : str
        Stage whose sheet tells more.
    on_guess : bool
        Whether it fits only if a guess is right.
    """

    title: str
    value: str
    unit: str
    limit: str
    share: float
    state: GaugeState
    note: str
    sheet: str
    on_guess: bool = False

    @property
    def fill(self) -> str:
        """Length of the bar up to the mark, in percent of the gauge."""
        return f"{min(self.share, 1.0) * MARK_PERCENT:.1f}%"

    @property
    def over(self) -> str:
        """Length of the part over the limit, in percent of the gauge; empty for none."""
        return f"{(self.share - 1.0) * MARK_PERCENT:.1f}%" if self.share > 1.0 else ""


def budget(given: SheetInput) -> tuple[Gauge, ...]:
    """Gauges of one rig.

    Parameters
    ----------
    given : SheetInput
        Survey and rig.

    Returns
    -------
    tuple of Gauge
        Always the same six, so that the strip never jumps.
    """
    return (
        _memory(given),
        _checked(given, "Word rate", "lanes.word-rate", "lanes", "planned for this stream"),
        _lanes(given),
        _checked(given, "Chip current", "levels.chip-current", "levels", "all at white, worst case"),
        _checked(given, "Inlet", "levels.inlet", "levels", "all at white, worst case"),
        _checked(given, "Drawing time", "memory.drawing-time", "memory", "for one picture"),
    )


def _gauge(title: str, found: float, limit: float, unit: str, state: GaugeState, note: str, sheet: str) -> Gauge:
    """Gauge of two numbers."""
    value, _, word = figure(found, unit).partition(" ")
    share = found / limit if limit > 0 else 1.4
    if state == "fits" and share > 1 - TIGHT_MARGIN:
        state = "tight"
    most = figure(limit, unit)
    if title == "Word rate":  # a rate of words, not of anything that swings
        word, most = word.replace("Hz", "word/s"), most.replace("Hz", "word/s")
    return Gauge(title, value, word, f"limit {most}", min(share, 1.4), state, note, sheet)


def _unknown(title: str, note: str, sheet: str) -> Gauge:
    """Gauge of what nobody knows."""
    return Gauge(title, "not known", "", "", 0.0, "unknown", note, sheet)


def _memory(given: SheetInput) -> Gauge:
    """Bytes placed against bytes free."""
    plan = given.rig.memory
    if plan is None or plan.placement is None:
        return _unknown("Memory", "free blocks or frame not known", "memory")
    placed = plan.placement
    note = f"{placed.free_bytes} B left in pieces" if placed.fits else f"{placed.lines_missing} rows find no place"
    state: GaugeState = "fits" if placed.fits else "over"
    return _gauge("Memory", float(placed.used_bytes), float(sum(block_sizes(placed))), "B", state, note, "memory")


def _lanes(given: SheetInput) -> Gauge:
    """Lanes in use against lanes of the stream; all in use is no worry."""
    lanes = given.rig.lanes
    if lanes is None:
        return _unknown("Lanes", "stream or depth not known", "lanes")
    used, there = lanes.used_lanes, len(lanes.lanes)
    state: GaugeState = "fits" if used <= there else "over"
    note = f"{lanes.colour_bits} colour bits, {there - used} spare"
    return Gauge("Lanes", f"{used}", "lanes", f"limit {there} lanes", min(used / there, 1.4), state, note, "lanes")


def _checked(given: SheetInput, title: str, code: str, sheet: str, note: str) -> Gauge:
    """Gauge of the worst check of a code."""
    checks = given.verdicts(code)
    if not checks:
        return _unknown(title, "not judged for this plan", sheet)
    worst = _worst(checks)
    found, limit = worst.found, worst.limit
    if found is None or limit is None or limit.high is None:
        return _unknown(title, "a fact is missing, see its sheet", sheet)
    value = found.high if found.high is not None else found.typical
    if value is None:
        return _unknown(title, "a fact is missing, see its sheet", sheet)
    states: dict[str, GaugeState] = {"fails": "over", "unknown": "unknown"}
    state = states.get(worst.judged, "fits")
    guess = worst.judged == "holds" and worst.on_guess
    if guess:
        note = f"{note.partition(',')[0]}, on a guess"
    return replace(_gauge(title, value, limit.high, limit.unit, state, note, sheet), on_guess=guess)


def _worst(checks: Sequence[Verdict]) -> Verdict:
    """The check with the least room."""
    order = {"fails": 0, "unknown": 1, "holds": 2}
    return min(checks, key=lambda v: (order[v.judged], v.margin if v.margin is not None else 1e9))
