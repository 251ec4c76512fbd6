"""Which displays follow the signal, before anything is drawn."""

from __future__ import annotations

from collections.abc import Sequence

from scanloom.report.drawings import svg
from scanloom.report.drawings.drawing import Drawing, Table, drawing
from scanloom.stages.picture import DisplayOutlook
from scanloom.survey import RigSurvey

_WORDS = {True: "locks", False: "no lock", None: "perhaps"}
_CLASSES = {True: "s-holds", False: "s-fails", None: "s-unknown"}
_STEADY = "steady picture"


def lock_rows(rig: RigSurvey) -> Drawing | None:
    """One row a display: its sync as a train of pulses, whole, dashed or flat.

    Parameters
    ----------
    rig : RigSurvey
        Survey of one rig.

    Returns
    -------
    Drawing or None
        None where the picture was not judged.
    """
    if rig.picture is None or not rig.picture.displays:
        return None
    displays = rig.picture.displays
    dark = [one.display for one in displays if one.locks is False]
    unsure = [one.display for one in displays if one.locks is None]
    result = "Every display locks."
    if dark:
        result = f"No picture on {', '.join(dark)}."
    elif unsure:
        result = f"Not sure on {', '.join(unsure)}."
    return drawing(
        "lock-rows",
        "Does each display lock?",
        "Judged from rates, sync levels, edges, widths and polarities. Pulses stand for a lock, striped ones for perhaps, a flat "
        "line for none.",
        result,
        lambda width: _draw(width, displays),
        Table(
            "Each display",
            ("Display", "Locks", "What speaks against it"),
            tuple((one.display, _WORDS[one.locks], one.why_not or "nothing") for one in displays),
        ),
    )


def _draw(width: float, displays: Sequence[DisplayOutlook]) -> tuple[str, float]:
    """Rows of pulses, name and reason."""
    wide = width > 500
    lead = min(190.0, 12 + max(svg.width_px(one.display) for one in displays)) if wide else 0.0
    step = 28.0 if wide else 44.0
    out: list[str] = []
    for number, one in enumerate(displays):
        y = step * number + 4
        out.append(svg.text(0, y + 14, svg.cut(one.display, lead - 8 if wide else width - 80)))
        left, base = lead, y + (18 if wide else 36)
        out.append(svg.line(left, base, left + 66, base, "axis"))
        if one.locks is not False:
            kind = "sp" if one.locks else "sp gs"
            out += [svg.rect(left + 4 + 16 * pulse, base - 13, 6, 12, kind) for pulse in range(4)]
        word = _WORDS[one.locks]
        out.append(svg.text(lead + 78 if wide else width, y + 14, word, f"{'' if wide else 'e '}{_CLASSES[one.locks]}"))
        start = lead + 78 + 64 if wide else 78
        out.append(svg.text(start, y + (14 if wide else 34), svg.cut(one.why_not or _STEADY, width - start), "q"))
    return "".join(out), step * len(displays) + 4
