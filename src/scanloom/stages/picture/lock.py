"""Whether a display locks to the syncs it sees, and what it would show when it does not."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from scanloom.basis.record import record
from scanloom.basis.verdict import Amount, Judged, Verdict
from scanloom.stages.picture.syncs import SeenSyncs
from scanloom.stages.timing import RasterTiming, rate_family_height

HALF_PIXEL = Fraction(1, 2)
"""Wobble from which a sample falls into the neighbouring pixel. [px]"""

FAMILY_HZ = (31_469.0, 0.01)
"""Line rate of the family in which polarity tells the height, and how near a rate must be to count. [Hz, 1]"""

Shows = Literal[
    "a dark screen or a message", "a rolling or torn picture", "a picture of the wrong height", "trembling edges"
]
"""What a display does that cannot follow."""


@record
class LockFault:
    """One reason why a display does not lock, or may not.

    Parameters
    ----------
    state : str
        ``fails`` or ``unknown``.
    reason : str
        What is given and what is accepted, with the numbers.
    shows : str
        What the display would show.
    """

    state: Judged
    reason: str
    shows: str


def sync_faults(seen: SeenSyncs, raster: RasterTiming, wobble_px: Fraction) -> tuple[LockFault, ...]:
    """What is wrong with syncs as seen, against the raster they are meant to be.

    Parameters
    ----------
    seen : SeenSyncs
        What the display gets, in pixels of the raster.
    raster : RasterTiming
        What it should get.
    wobble_px : Fraction
        Peak-to-peak error of pixel edges. [px]

    Returns
    -------
    tuple of LockFault
        Empty when nothing is wrong.

    References
    ----------
    [family] Polarity tells the height in the 31.469 kHz family: ``rate_family_height``. A pulse is what takes less than
    half of the time: common practice, no source.
    """
    found: list[LockFault] = []
    h, v = raster.h, raster.v
    rolls: Shows = "a rolling or torn picture"
    if not seen.steady:
        found.append(LockFault("fails", "lines or pulses of unequal length; all must be alike", rolls))
    for name, given, wanted, unit in (
        ("line", seen.line_px, h.total_px, "pixels"),
        ("frame", seen.frame_lines, v.total_lines, "lines"),
        ("horizontal sync", seen.h_sync_px, h.sync_px, "pixels"),
        ("vertical sync", seen.v_sync_lines, v.sync_lines, "lines"),
    ):
        if given != wanted:
            says = f"{name} of {given} {unit}; {wanted} are those of {raster.parent}"
            found.append(LockFault("fails" if name in ("line", "frame") else "unknown", says, rolls))
    for name, share in (
        ("horizontal", seen.h_sync_px / max(seen.line_px, 1)),
        ("vertical", seen.v_sync_lines / max(seen.frame_lines, 1)),
    ):
        if share >= 0.5:
            says = f"{name} sync {share:.0%} of the time; less than half is taken for the pulse"
            found.append(LockFault("fails", says, rolls))
    found.extend(_polarity(seen, raster))
    if wobble_px > HALF_PIXEL:
        says = f"edges wobble by {float(wobble_px):.2f} pixels; from {float(HALF_PIXEL)} on samples fall into the neighbour"
        found.append(LockFault("unknown", says, "trembling edges"))
    return tuple(found)


def said_faults(verdicts: tuple[Verdict, ...]) -> tuple[LockFault, ...]:
    """What earlier stages hold against a display's lock: rates, separate syncs, sync levels.

    Parameters
    ----------
    verdicts : tuple of Verdict
        Their verdicts on this display.

    Returns
    -------
    tuple of LockFault
        One for each that does not hold.
    """
    dark: Shows = "a dark screen or a message"
    return tuple(LockFault(v.judged, _words(v), dark) for v in verdicts if v.judged != "holds")


def edge_faults(verdicts: tuple[Verdict, ...]) -> tuple[LockFault, ...]:
    """What sync edges do to a display's lock: one that fails may count twice, one that is not known says nothing.

    Parameters
    ----------
    verdicts : tuple of Verdict
        What the levels stage says of the edges at this display.

    Returns
    -------
    tuple of LockFault
        One for each that fails.
    """
    torn: Shows = "a rolling or torn picture"
    return tuple(LockFault("unknown", _words(v), torn) for v in verdicts if v.judged == "fails")


def _polarity(seen: SeenSyncs, raster: RasterTiming) -> tuple[LockFault, ...]:
    """Polarity against the raster's, which matters where it tells the height."""
    given, wanted = (seen.h_polarity, seen.v_polarity), (raster.h.polarity, raster.v.polarity)
    if given == wanted:
        return ()
    says = f"polarities {' '.join(given)}; {' '.join(wanted)} are those of {raster.parent}"
    centre_hz, share = FAMILY_HZ
    family = abs(float(raster.line_rate_hz) / centre_hz - 1.0) < share
    told = rate_family_height(*given) if family else None
    if told is not None and told.lines != raster.v.active_lines:
        return (
            LockFault(
                "fails", f"{says}, and {' '.join(given)} stands for {told.lines} lines", "a picture of the wrong height"
            ),
        )
    return (LockFault("unknown", says, "a dark screen or a message"),)


_NAMES = {
    "line_rate": "line rate",
    "frame_rate": "frame rate",
    "pixel_clock": "pixel clock",
    "levels.sync-high": "high level of a sync",
    "levels.sync-low": "low level of a sync",
}


def _words(verdict: Verdict) -> str:
    """What an earlier stage says, with its numbers where it has them."""
    name = _NAMES.get(verdict.code) or _NAMES.get(verdict.subject.rpartition(".")[2])
    if name is None or verdict.found is None or verdict.limit is None:
        return verdict.says.rstrip(".").partition(": ")[0]
    return f"{name} of {_amount(verdict.found)}; {_range(verdict.limit)}"


def _amount(found: Amount) -> str:
    """A value with its unit; bounds where they differ."""
    if found.low == found.high:
        return f"{found.typical:.6g} {found.unit}"
    return f"{found.low:.4g} to {found.high:.4g} {found.unit}"


def _range(limit: Amount) -> str:
    """What is accepted."""
    if limit.low is not None and limit.high is not None:
        return f"{limit.low:.6g} to {limit.high:.6g} {limit.unit} is accepted"
    if limit.high is not None:
        return f"at most {limit.high:.6g} {limit.unit} is accepted"
    return f"at least {limit.low:.6g} {limit.unit} is accepted"
