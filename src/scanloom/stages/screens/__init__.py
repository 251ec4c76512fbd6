"""Screens: whether all displays accept the raster as the clock makes it."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from scanloom.basis.fact import Known
from scanloom.basis.outcome import Outcome
from scanloom.basis.span import Span
from scanloom.basis.verdict import Patch, Settle, Verdict
from scanloom.dossier.model import Display
from scanloom.dossier.reading import Reading
from scanloom.handbook.limits import LimitRow, known_limit
from scanloom.handbook.timings import find_timing
from scanloom.stages.clock import ClockPlan
from scanloom.stages.screens.model import DisplayAnswer, PanelScaling, ScreenAnswers, Status
from scanloom.stages.screens.ways_out import parents_for_all
from scanloom.stages.timing import RasterTiming

__all__ = ["DisplayAnswer", "PanelScaling", "ScreenAnswers", "Status", "judge_screens", "parents_for_all"]


def judge_screens(reading: Reading, raster: Known[RasterTiming], clock: Known[ClockPlan]) -> Outcome[ScreenAnswers]:
    """Ask every display.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    raster : Known
        The raster as published.
    clock : Known
        The raster as really made.

    Returns
    -------
    Outcome
        All answers and the blocking displays.
    """
    made = clock.value.made
    answers: list[DisplayAnswer] = []
    verdicts: list[Verdict] = []
    blockers: list[str] = []
    ways: tuple[str, ...] = ()
    refusing = [d.name for d in reading.plan.displays.values() if _refuses(d, made)]
    if refusing:
        ways = parents_for_all(tuple(reading.plan.displays.values()))
    for display in reading.plan.displays.values():
        status, found = _ask(reading, raster, clock, display, ways)
        verdicts.extend(found)
        if status == "refused":
            blockers.append(display.name)
        scaling = _scaling(reading, raster, display, verdicts)
        answers.append(DisplayAnswer(display.name, status, scaling))
    if not answers:
        verdicts.append(
            reading.fork().verdict(
                "screens.rate", "displays", "stop", "No display is stated, so nobody can refuse.", state="unknown"
            )
        )
    result = ScreenAnswers(made.line_rate_hz, made.frame_rate_hz, tuple(answers), tuple(blockers), ways)
    return Outcome(result, tuple(verdicts))


def _ask(
    reading: Reading, raster: Known[RasterTiming], clock: Known[ClockPlan], display: Display, ways: tuple[str, ...]
) -> tuple[Status, list[Verdict]]:
    """Status of one display and the verdicts on its rates and promises."""
    made = clock.value.made
    proof = _covering(display.proved, made)
    promise = _covering(display.promised, made)
    verdicts = [
        _rate(reading, clock, display, "line_rate", proof or promise, ways),
        _rate(reading, clock, display, "frame_rate", proof or promise, ways),
    ]
    if any(v.state == "fails" for v in verdicts):
        return "refused", verdicts
    read = reading.fork()
    subject = f"displays.{display.name}"
    settle = Settle(
        f"Plug {display.name} into a bench board that sends {made.parent} and watch it for an hour.",
        "a steady picture: write it into proved",
        "no lock, or it drops out",
        60,
        f"{subject}.proved",
    )
    if proof is not None or promise is not None:
        read(raster)  # the display sees the parent, whatever clock is chosen
        text = read(proof if proof is not None else promise)  # type: ignore[arg-type]
        how: Status = "proved" if proof is not None else "promised"
        says = (
            f"{display.name} was seen to show {text}."
            if proof is not None
            else f"The sheet of {display.name} lists {text}."
        )
        verdicts.append(read.verdict("screens.not-promised", subject, "caution", says, state="holds", settle=settle))
        return how, verdicts
    read(clock)
    ranges = [r for r in (display.line_rate, display.frame_rate) if r is not None]
    for known in ranges:
        read(known)
    if len(ranges) < 2:
        says = f"Nothing says whether {display.name} shows {made.parent}."
        verdicts.append(read.verdict("screens.not-promised", subject, "caution", says, state="unknown", settle=settle))
        return "unknown", verdicts
    says = f"{display.name} allows the rates of {made.parent}, but neither proof nor sheet promises a picture."
    verdicts.append(read.verdict("screens.not-promised", subject, "caution", says, state="fails", settle=settle))
    return "allowed by range, not promised", verdicts


def _rate(
    reading: Reading,
    clock: Known[ClockPlan],
    display: Display,
    what: Literal["line_rate", "frame_rate"],
    listed: Known[str] | None,
    ways: tuple[str, ...],
) -> Verdict:
    """Whether one rate, as the clock makes it, lies inside what the display accepts."""
    read = reading.fork()
    made = read(clock).made
    rate_hz = made.line_rate_hz if what == "line_rate" else made.frame_rate_hz
    subject = f"displays.{display.name}.{what}"
    words = what.replace("_", " ")
    settle = Settle(f"Read the {words}s on the label or in the sheet of {display.name}.", minutes=5, fact=subject)
    stated: Known[Span] | None = getattr(display, what)
    limit: Known[LimitRow] | None = None
    if listed is not None and (stated is None or stated.facts[0].class_value):
        # what was seen, or is listed for the very display, outweighs what its class usually takes
        row = find_timing(read(listed))
        nominal = row.line_rate_hz if what == "line_rate" else row.frame_rate_hz
        limit = known_limit("clock-error")
        share = (limit.value.high or 0.0) / 1e6
        low, high = float(nominal) * (1 - share), float(nominal) * (1 + share)
        holds = f"The {words} is that of {row.name}, which {display.name} takes."
    elif stated is None:
        says = f"Which {words}s {display.name} accepts is not known."
        return read.verdict("screens.rate", subject, "stop", says, state="unknown", settle=settle)
    else:
        low, high = read(stated).low, stated.value.high
        holds = f"The {words} lies inside what {display.name} accepts."
    parent = f"rigs.{reading.rig_name}.raster.parent"
    remedy = [Patch(parent, f'"{name}"', f"send {name}, which all displays accept") for name in ways]
    other = ", or send " + " or ".join(ways) if ways else "; no published timing suits all displays"
    return read.verdict(
        "screens.rate",
        subject,
        "stop",
        {
            "holds": holds,
            "fails": f"{display.name} refuses this {words} and so blocks the rig: swap {display.name}{other}.",
            "unknown": "",
        },
        found=Span.exact(float(rate_hz)),
        unit="Hz",
        low=low,
        high=high,
        limit=limit,
        remedy=remedy,
        settle=settle,
    )


def _covering(listed: tuple[Known[str], ...] | None, made: RasterTiming) -> Known[str] | None:
    """The proof or promise that covers a raster: the display sees the parent, whatever is stored or bordered."""
    for known in listed or ():
        row = find_timing(known.value)
        if row.name == made.parent or row.id == made.parent_id:
            return known
    return None


def _refuses(display: Display, made: RasterTiming) -> bool:
    """Whether a stated range rules the raster out."""
    listed = _covering(display.proved, made) or _covering(display.promised, made)
    pairs = ((display.line_rate, made.line_rate_hz), (display.frame_rate, made.frame_rate_hz))
    return any(
        known is not None
        and not (listed is not None and known.facts[0].class_value)
        and not known.value.low <= rate <= known.value.high
        for known, rate in pairs
    )


def _scaling(
    reading: Reading, raster_known: Known[RasterTiming], display: Display, verdicts: list[Verdict]
) -> PanelScaling | None:
    """Stretch of the parent onto the panel; a note when it differs across and down."""
    if display.panel is None:
        return None
    read = reading.fork()
    raster = read(raster_known)
    width, height = read(display.panel)
    scaling = PanelScaling(Fraction(width, raster.h.active_px * raster.divide), Fraction(height, raster.v.active_lines))
    across, down = float(scaling.across), float(scaling.down)
    verdicts.append(
        read.verdict(
            "screens.scaling",
            f"displays.{display.name}.panel",
            "note",
            {
                "holds": f"The panel of {display.name} stretches the raster {across:.3g} by {down:.3g}.",
                "fails": f"The panel of {display.name} stretches the raster {across:.3g} across, {down:.3g} down: "
                "circles turn oval.",
                "unknown": "",
            },
            found=Span.exact(abs(across / down - 1) * 100),
            unit="%",
            high=2.0,
        )
    )
    return scaling
