"""Sync edges on a time axis: between both levels of each display's input, beside the display's own colour edges."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from scanloom.dossier.plan import Plan
from scanloom.report.drawings import svg
from scanloom.report.drawings.drawing import Drawing, Table, drawing
from scanloom.report.figures import figure
from scanloom.survey import RigSurvey

if TYPE_CHECKING:
    from scanloom.circuit.branched import Edge
    from scanloom.stages.levels.edges_plan import DisplayPassings

_NS = 1e-9


def sync_passings(rig: RigSurvey, plan: Plan) -> Drawing | None:
    """When the shared sync passes both levels at each display; takes some hundredths of a second.

    Parameters
    ----------
    rig : RigSurvey
        Survey of one rig.
    plan : Plan
        The dossier.

    Returns
    -------
    Drawing or None
        None where no display has all its facts.
    """
    from scanloom.dossier.reading import Reading
    from scanloom.stages.levels.edges_plan import measure_sync_passings
    from scanloom.stages.levels.network import Missing

    stated = next((one for one in plan.rigs if one.name == rig.name), None)
    if rig.levels is None or stated is None:
        return None
    try:
        found = measure_sync_passings(Reading(plan, stated), rig.levels.channels)
    except Missing:
        return None
    if not found:
        return None
    return drawing(
        "sync-passings",
        "Sync edges beside the colour edges",
        "Two bars a display, rise above fall: from first leaving one level of a sync input (0.8 or 2.0 V) to last passing the "
        "other, typical parts, echoes and cable losses included; the tick is half way. Zero is the middle of the display's own "
        "colour edge, which comes through the same cable. Only a bar's length and a sync that turns back matter; an offset that "
        "stays the same moves the picture sideways by so much. A striped bar rests on a guess.",
        _result(found),
        lambda width: _draw(width, found),
        Table(
            "Each sync edge",
            ("Display", "Edge", "Between the levels#", "Half way, after colour#", "Passes again#", "Overshoot#"),
            tuple(
                (one.display, name, _took(edge), _after(one, edge), f"{edge.again}", figure(edge.beyond_v, "V"))
                for one in found
                for name, edge in _edges(one)
            ),
        ),
    )


def _edges(one: DisplayPassings) -> tuple[tuple[str, Edge], ...]:
    """Both edges with their words."""
    return ("rise", one.passings.value.rising), ("fall", one.passings.value.falling)


def _took(edge: Edge) -> str:
    """Time between the levels."""
    return "never gets there" if edge.between_s is None else figure(edge.between_s, "s")


def _told(edge: Edge) -> str:
    """Time between the levels, and how often it turns back."""
    return _took(edge) + (f", {edge.again} again" if edge.again else "")


def _after(one: DisplayPassings, edge: Edge) -> str:
    """Half way, counted from the colour."""
    colour_s = one.passings.value.colour_s
    if edge.middle_s is None or colour_s is None:
        return "not known"
    return figure(edge.middle_s - colour_s, "s")


def _result(found: Sequence[DisplayPassings]) -> str:
    """Worst of all displays."""
    never = [one.display for one in found if any(edge.between_s is None for _, edge in _edges(one))]
    if never:
        return f"It never passes both levels at {', '.join(never)}."
    again = [one.display for one in found if any(edge.again for _, edge in _edges(one))]
    if again:
        return f"It turns back between the levels at {', '.join(again)}: an input may count one edge twice."
    took, where = max((edge.between_s or 0.0, one.display) for one in found for _, edge in _edges(one))
    return f"Every edge passes in one go; the slowest takes {figure(took, 's')}, at {where}."


def _draw(width: float, found: Sequence[DisplayPassings]) -> tuple[str, float]:
    """Two bars a display on one axis."""
    wide = width > 500
    lead = min(190.0, 12 + max(svg.width_px(one.display) for one in found)) if wide else 0.0
    tail = 132.0 if wide else 0.0
    head, bar, gap = (0.0 if wide else 18.0), 20.0, 8.0
    step = head + 2 * bar + gap
    times = [0.0]
    for one in found:
        zero = one.passings.value.colour_s or 0.0
        times += [t - zero for _, e in _edges(one) for t in (e.first_s, e.middle_s, e.last_s) if t is not None]
    room = (max(times) - min(times)) * 0.1 or _NS
    x = svg.scale((min(times) - room) / _NS, (max(times) + room) / _NS, lead + 40, width - tail - 8)
    top = 22.0
    bottom = top + step * len(found)
    words = "own colour edge"
    half = svg.width_px(words) / 2
    out = [svg.text(min(max(x(0.0), half), width - half), 13, words, "m lt")]
    for number, one in enumerate(found):
        y = top + step * number
        zero = one.passings.value.colour_s or 0.0
        guess = any(fact.is_guess for fact in one.passings.facts)
        out.append(svg.rect(x(0.0) - 1, y + head - 2, 2, step - head - 2, "lm"))
        name = one.display if one.passings.value.colour_s is not None else f"{one.display}, no colour"
        both = " and ".join(_told(edge) for _, edge in _edges(one))
        room_px = lead - 8 if wide else width - svg.width_px(both) - 8
        out.append(svg.text(0, y + (bar + 4 if wide else 14), svg.cut(name, room_px)))
        if not wide:
            out.append(svg.text(width, y + 14, both, "e q"))
        for row, (word, edge) in enumerate(_edges(one)):
            at = y + head + bar * row
            out.append(svg.text(lead, at + 14, word, "q"))
            if edge.first_s is not None and edge.last_s is not None:
                left, right = x((edge.first_s - zero) / _NS), x((edge.last_s - zero) / _NS)
                kind = "out" if edge.again else "sp gs" if guess else "sp"
                out.append(svg.rect(left, at + 4, right - left, 12, kind))
            if edge.middle_s is not None:
                out.append(svg.rect(x((edge.middle_s - zero) / _NS) - 1, at + 1, 2, 18, "mid"))
            told = _told(edge)
            if wide:
                out.append(svg.text(width - tail, at + 14, told, "s-fails" if edge.again else ""))
    out.append(svg.line(lead + 40, bottom + 4, width - tail - 8, bottom + 4, "axis"))
    for value in svg.ticks((min(times) - room) / _NS, (max(times) + room) / _NS, 6 if wide else 4):
        out.append(svg.line(x(value), bottom + 4, x(value), bottom + 9, "axis"))
        out.append(svg.text(x(value), bottom + 23, f"{value:g}", "m q"))
    out.append(svg.text(width - tail if wide else width, bottom + 38, "ns after the colour edge", "e q"))
    return "".join(out), bottom + 44
