"""Whether the rates, as the clock makes them, lie inside what a display accepts."""

from __future__ import annotations

from typing import Any, Literal

from scanloom.basis.fact import Known
from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.basis.verdict import Judged, Settle, Verdict
from scanloom.dossier.edid import EdidBlock
from scanloom.dossier.identity import from_block
from scanloom.dossier.model import Display
from scanloom.dossier.reading import Reading
from scanloom.handbook.limits import known_limit
from scanloom.stages.clock import ClockPlan
from scanloom.stages.timing import RasterTiming, parent_patch

STEP_HZ = {"line_rate": 1000.0, "frame_rate": 1.0}
"""Steps in which an identification block states rates. [Hz]"""


@record
class Question:
    """One display and the raster it is asked about.

    Parameters
    ----------
    display : Display
        The display.
    identity : Known or None
        Its identification block.
    raster : RasterTiming
        The raster as published.
    clock : Known
        The raster as really made.
    listed : Known or None
        The proof or the promise that covers the raster.
    ways : tuple of str
        Other parents that all displays accept.
    """

    display: Display
    identity: Known[EdidBlock] | None
    raster: RasterTiming
    clock: Known[ClockPlan]
    listed: Known[str] | None
    ways: tuple[str, ...]


def overruled(known: Known[Any]) -> bool:
    """Whether a range gives way to what was seen, or is listed, for the very display.

    Parameters
    ----------
    known : Known
        A range of a display.

    Returns
    -------
    bool
        True for what a class usually takes, and for the whole numbers of a block, which cut off what the block lists.
    """
    return known.facts[0].class_value or from_block(known)


def judge_rate(reading: Reading, asked: Question, what: Literal["line_rate", "frame_rate"]) -> Verdict:
    """Judge one rate.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    asked : Question
        The display and the raster.
    what : str
        ``line_rate`` or ``frame_rate``.

    Returns
    -------
    Verdict
        A stop, with other parents as the remedy.
    """
    read = reading.fork()
    name = asked.display.name
    made = read(asked.clock).made
    words = what.replace("_", " ")
    subject = f"displays.{name}.{what}"
    settle = Settle(f"Read the {words}s on the label or in the sheet of {name}.", minutes=5, fact=subject)
    stated: Known[Span] | None = getattr(asked.display, what)
    rate_hz = float(getattr(made, f"{what}_hz"))
    if asked.listed is not None and (stated is None or overruled(stated)):
        return _as_listed(read, asked, asked.listed, what, rate_hz, settle)
    if stated is None:
        says = f"Which {words}s {name} accepts is not known."
        return read.verdict("screens.rate", subject, "stop", says, state="unknown", settle=settle)
    low, high = read(stated).low, stated.value.high
    return read.verdict(
        "screens.rate",
        subject,
        "stop",
        {
            "holds": f"The {words} lies inside what {name} accepts.",
            "fails": f"{name} refuses this {words} and so blocks the rig: swap {name}{_other(asked.ways)}.",
            "unknown": f"The {words} lies less than half a step outside the range in the identification block of {name}, "
            "which counts in whole steps.",
        },
        found=Span.exact(rate_hz),
        unit="Hz",
        low=low,
        high=high,
        state=_at_the_edge(stated, rate_hz, STEP_HZ[what] / 2),
        remedy=[parent_patch(reading, way, f"send {way}, which all displays accept") for way in asked.ways],
        settle=settle,
    )


def judge_pixel_clock(reading: Reading, asked: Question) -> Verdict | None:
    """Judge the clock at which the display samples: the parent's, since a child differs in its own pixels only.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    asked : Question
        The display and the raster.

    Returns
    -------
    Verdict or None
        A stop; None when no block states a highest pixel clock.
    """
    known = asked.identity
    limits = known.value.ranges if known is not None and not known.value.digital else None
    if known is None or limits is None or limits.max_pixel_clock_hz is None:
        return None
    read = reading.fork()
    name = asked.display.name
    made = read(asked.clock).made
    clock_hz = float(made.pixel_clock_hz * made.divide)
    subject = f"displays.{name}.pixel_clock"
    settle = Settle(f"Look the highest pixel clock up in the sheet of {name}.", minutes=5)
    if asked.listed is not None:
        return _as_listed(read, asked, asked.listed, "pixel_clock", clock_hz, settle)
    read(known)
    return read.verdict(
        "screens.rate",
        subject,
        "stop",
        {
            "holds": f"The pixel clock of {made.parent} lies inside what {name} accepts.",
            "fails": f"{name} refuses the pixel clock of {made.parent} and so blocks the rig: "
            f"swap {name}{_other(asked.ways)}.",
            "unknown": "",
        },
        found=Span.exact(clock_hz),
        unit="Hz",
        high=float(limits.max_pixel_clock_hz),
        remedy=[parent_patch(reading, way, f"send {way}, which all displays accept") for way in asked.ways],
        settle=settle,
    )


def _as_listed(
    read: Reading,
    asked: Question,
    listed: Known[str],
    what: Literal["line_rate", "frame_rate", "pixel_clock"],
    made_hz: float,
    settle: Settle,
) -> Verdict:
    """Judge a rate against that of a timing which the display is known, or said, to take."""
    read(listed)
    raster, name = asked.raster, asked.display.name
    published_hz = {
        "line_rate": raster.line_rate_hz,
        "frame_rate": raster.frame_rate_hz,
        "pixel_clock": raster.pixel_clock_hz * raster.divide,
    }[what]
    words = what.replace("_", " ")
    limit = known_limit("clock-error")
    share = (limit.value.high or 0.0) / 1e6
    return read.verdict(
        "screens.rate",
        f"displays.{name}.{what}",
        "stop",
        {
            "holds": f"The {words} is that of {raster.parent}, which {name} takes.",
            "fails": f"{name} refuses this {words} and so blocks the rig: swap {name}{_other(asked.ways)}.",
            "unknown": "",
        },
        found=Span.exact(made_hz),
        unit="Hz",
        low=float(published_hz) * (1 - share),
        high=float(published_hz) * (1 + share),
        limit=limit,
        remedy=[parent_patch(read, way, f"send {way}, which all displays accept") for way in asked.ways],
        settle=settle,
    )


def _other(ways: tuple[str, ...]) -> str:
    """The ways out besides another display."""
    return ", or send " + " or ".join(ways) if ways else "; no published timing suits all displays"


def _at_the_edge(stated: Known[Span], rate_hz: float, half_hz: float) -> Judged | None:
    """Unknown where only the rounding of a block puts a rate outside; else the numbers decide."""
    low, high = stated.value.low, stated.value.high
    outside = not low <= rate_hz <= high
    return "unknown" if from_block(stated) and outside and low - half_hz <= rate_hz <= high + half_hz else None
