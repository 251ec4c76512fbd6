"""Screens: whether all displays accept the raster as the clock makes it."""

from __future__ import annotations

from fractions import Fraction

from scanloom.basis.fact import Known
from scanloom.basis.outcome import Outcome
from scanloom.basis.span import Span
from scanloom.basis.verdict import Settle, Verdict
from scanloom.dossier.identity import from_block
from scanloom.dossier.model import Display
from scanloom.dossier.reading import Reading
from scanloom.stages.clock import ClockPlan
from scanloom.stages.screens.covering import promise_of, proof_of
from scanloom.stages.screens.identity import judge_identity, takes_no_separate_syncs
from scanloom.stages.screens.model import DisplayAnswer, PanelScaling, ScreenAnswers, Status
from scanloom.stages.screens.rates import Question, judge_pixel_clock, judge_rate
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
    displays = reading.plan.displays
    asked = {name: _ask(reading, raster, clock, display, ()) for name, display in displays.items()}
    by_rate = [name for name, (status, _) in asked.items() if status == "refused"]
    ways: tuple[str, ...] = ()
    if by_rate:  # of another parent nothing but a rate gets better
        ways = parents_for_all(tuple(displays.values()), identities=reading.plan.identities)
        asked |= {name: _ask(reading, raster, clock, displays[name], ways) for name in by_rate}
    answers: list[DisplayAnswer] = []
    verdicts: list[Verdict] = []
    for name, display in displays.items():
        status, found = asked[name]
        identity = reading.plan.identities.get(name)
        if status != "proved" and takes_no_separate_syncs(identity):
            status = "refused"
        verdicts.extend(found)
        verdicts.extend(judge_identity(reading, display, identity))
        scaling = _scaling(reading, raster, display, verdicts)
        answers.append(DisplayAnswer(name, status, scaling))
    if not answers:
        verdicts.append(
            reading.fork().verdict(
                "screens.rate", "displays", "stop", "No display is stated, so nobody can refuse.", state="unknown"
            )
        )
    blockers = tuple(answer.display for answer in answers if answer.status == "refused")
    result = ScreenAnswers(made.line_rate_hz, made.frame_rate_hz, tuple(answers), blockers, ways)
    return Outcome(result, tuple(verdicts))


def _ask(
    reading: Reading, raster: Known[RasterTiming], clock: Known[ClockPlan], display: Display, ways: tuple[str, ...]
) -> tuple[Status, list[Verdict]]:
    """Status of one display and the verdicts on its rates and promises."""
    made = clock.value.made
    identity = reading.plan.identities.get(display.name)
    proof = proof_of(display, made)
    promise = promise_of(display, identity, raster.value)
    asked = Question(display, identity, raster.value, clock, proof or promise, ways)
    verdicts = [judge_rate(reading, asked, "line_rate"), judge_rate(reading, asked, "frame_rate")]
    pixel_clock = judge_pixel_clock(reading, asked)
    if pixel_clock is not None:
        verdicts.append(pixel_clock)
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
        paper = "identification block" if promise is not None and from_block(promise) else "sheet"
        says = (
            f"{display.name} was seen to show {text}."
            if proof is not None
            else f"The {paper} of {display.name} lists {text}."
        )
        verdicts.append(read.verdict("screens.not-promised", subject, "caution", says, state="holds", settle=settle))
        return how, verdicts
    read(clock)
    ranges = [r for r in (display.line_rate, display.frame_rate) if r is not None]
    for known in ranges:
        read(known)
    if len(ranges) < 2 or any(v.state == "unknown" for v in verdicts):
        says = f"Nothing says whether {display.name} shows {made.parent}."
        verdicts.append(read.verdict("screens.not-promised", subject, "caution", says, state="unknown", settle=settle))
        return "unknown", verdicts
    says = f"{display.name} allows the rates of {made.parent}, but neither proof nor sheet promises a picture."
    verdicts.append(read.verdict("screens.not-promised", subject, "caution", says, state="fails", settle=settle))
    return "allowed by range, not promised", verdicts


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
