"""What the displays say: their rates against the one sent, and how their panels stretch it."""

from __future__ import annotations

from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.dossier.plan import Plan
from scanloom.report.drawings import svg
from scanloom.report.drawings.drawing import Drawing, Table, drawing
from scanloom.report.figures import figure
from scanloom.stages.screens.model import DisplayAnswer, ScreenAnswers
from scanloom.survey import RigSurvey

_SHORT = {"allowed by range, not promised": "not promised"}


def display_agreement(rig: RigSurvey, plan: Plan) -> Drawing | None:
    """Line rates that the displays accept, against the one sent.

    Parameters
    ----------
    rig : RigSurvey
        Survey of one rig.
    plan : Plan
        The dossier, for the displays.

    Returns
    -------
    Drawing or None
        None where the displays were not asked.
    """
    if rig.screens is None or not rig.screens.answers:
        return None
    answers = rig.screens
    blockers = ", ".join(answers.blockers)
    result = f"{blockers} refuse{'' if ',' in blockers else 's'} it." if blockers else "No display refuses it."
    return drawing(
        "display-agreement",
        "Do all displays accept it?",
        f"One bar a display: the line rates it accepts. The upright mark is the {figure(float(answers.line_rate_hz), 'Hz')} that "
        "is sent to all of them, so all bars must reach it. A striped bar rests on a guess.",
        result,
        lambda width: _draw(width, answers, plan),
        Table(
            "Each display",
            ("Display", "Line rate", "Frame rate", "Answer", "Panel stretch"),
            tuple(
                (
                    answer.display,
                    _range(plan.displays[answer.display].line_rate),
                    _range(plan.displays[answer.display].frame_rate),
                    answer.status,
                    "none known"
                    if answer.scaling is None
                    else f"{float(answer.scaling.across):g} by {float(answer.scaling.down):g}",
                )
                for answer in answers.answers
            ),
        ),
    )


def panel_scaling(rig: RigSurvey, plan: Plan) -> Drawing | None:
    """How panels with pixels of their own stretch the raster.

    Parameters
    ----------
    rig : RigSurvey
        Survey of one rig.
    plan : Plan
        The dossier, for the panels.

    Returns
    -------
    Drawing or None
        None where no panel is known.
    """
    if rig.screens is None or rig.timing is None:
        return None
    known = [a for a in rig.screens.answers if a.scaling is not None and plan.displays[a.display].panel is not None]
    if not known:
        return None
    uneven = [
        a.display for a in known if a.scaling and (a.scaling.across.denominator > 1 or a.scaling.down.denominator > 1)
    ]
    return drawing(
        "panel-scaling",
        "Stretch onto the panel",
        "Eight pixels of the parent in a row, above as they are sent, below as whole panel pixels: where the stretch is not a "
        "whole number some come out wider than others. A panel may blend them instead.",
        f"Uneven on {', '.join(uneven)}." if uneven else "Every panel takes whole numbers of its pixels.",
        lambda width: _draw_scaling(width, known, plan),
    )  # fmt: skip


def _range(known: Known[Span] | None) -> str:
    """Accepted rates with their origin."""
    if known is None:
        return "not known"
    span = known.value
    return f"{figure(span.low, 'Hz')} to {figure(span.high, 'Hz')}, {known.facts[0].origin}"


def _draw(width: float, answers: ScreenAnswers, plan: Plan) -> tuple[str, float]:
    """Bars on an axis of line rates."""
    wide = width > 500
    lead = min(190.0, 12 + max(svg.width_px(a.display) for a in answers.answers)) if wide else 0.0
    tail = 116.0 if wide else 0.0
    step = 26.0 if wide else 40.0
    spans = {a.display: plan.displays[a.display].line_rate for a in answers.answers}
    sent = float(answers.line_rate_hz)
    lows = [k.value.low for k in spans.values() if k is not None] + [sent]
    highs = [k.value.high for k in spans.values() if k is not None] + [sent]
    room = max((max(highs) - min(lows)) * 0.06, 500.0)
    x = svg.scale(min(lows) - room, max(highs) + room, lead + 4, width - tail - 12)
    bottom = 24 + step * len(answers.answers)
    out = [svg.rect(x(sent) - 1, 18, 2, bottom - 14 if wide else 4, "lm")]
    words = f"sent {figure(sent, 'Hz')}"
    over = x(sent) + svg.width_px(words) > width - tail
    out.append(svg.text(x(sent), 13, words, "e lt" if over else "lt"))
    for number, answer in enumerate(answers.answers):
        y = 24 + step * number + (7 if wide else 20)
        known = spans[answer.display]
        if known is not None:
            guess = any(fact.is_guess for fact in known.facts)
            kind = "out" if answer.status == "refused" else "sp gs" if guess else "sp"
            out.append(svg.rect(x(known.value.low), y, max(3.0, x(known.value.high) - x(known.value.low)), 12, kind))
        out.append(svg.text(0, y + (10 if wide else -6), svg.cut(answer.display, lead - 8 if wide else width - 110)))
        status = _SHORT.get(answer.status, answer.status)
        state = {"refused": " s-fails", "proved": " s-holds", "promised": " s-holds"}.get(answer.status, " q")
        out.append(
            svg.text(width - tail if wide else width, y + (10 if wide else -6), status, ("" if wide else "e") + state)
        )
        # on a telephone names stand above the bars, and the mark must not run through them
        out.append(svg.rect(x(sent) - 1, y - (7 if wide else 2), 2, step if wide else 16, "lm"))
    out.append(svg.line(lead + 4, bottom + 4, width - tail - 12, bottom + 4, "axis"))
    for value in svg.ticks((min(lows) - room) / 1e3, (max(highs) + room) / 1e3, 8 if wide else 4):
        out.append(svg.line(x(value * 1e3), bottom + 4, x(value * 1e3), bottom + 9, "axis"))
        out.append(svg.text(x(value * 1e3), bottom + 23, f"{value:g}", "m q"))
    out.append(svg.text(width - tail if wide else width, bottom + 38, "kHz", "e q"))
    return "".join(out), bottom + 44


def _draw_scaling(width: float, known: list[DisplayAnswer], plan: Plan) -> tuple[str, float]:
    """Sent pixels over panel pixels, one display below the other; like panels once."""
    groups: dict[tuple[tuple[int, int], float, float], list[str]] = {}
    for answer in known:
        panel = plan.displays[answer.display].panel
        assert panel is not None and answer.scaling is not None
        key = (panel.value, float(answer.scaling.across), float(answer.scaling.down))
        groups.setdefault(key, []).append(answer.display)
    out: list[str] = []
    top = 0.0
    for (panel_px, across, down), names in groups.items():
        out.append(svg.text(0, top + 14, svg.cut(", ".join(names), width), "bo"))
        words = f"{panel_px[0]} x {panel_px[1]} pixels, stretch {across:g} by {down:g}"
        out.append(svg.text(0, top + 32, words, "q"))
        unit = width / max(8 * across, round(8 * across))
        for number in range(8):
            left, right = number * across * unit, (number + 1) * across * unit
            out.append(svg.rect(left, top + 42, right - left, 14, "sp" if number % 2 else "hollow"))
            start, end = round(number * across) * unit, round((number + 1) * across) * unit
            out.append(svg.rect(start, top + 62, end - start, 14, "sp" if number % 2 else "hollow"))
        for number in range(round(8 * across) + 1):
            out.append(svg.line(number * unit, top + 76, number * unit, top + 82, "axis"))
        top += 96
    return "".join(out), top
