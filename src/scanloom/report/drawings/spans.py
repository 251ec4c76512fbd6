"""Found spans against their limits, one row each: levels, currents, anything a verdict holds against a window."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from scanloom.basis.record import record
from scanloom.basis.verdict import Amount, Verdict
from scanloom.report import figures
from scanloom.report.drawings import svg
from scanloom.report.drawings.drawing import Drawing, Table, drawing


@record
class Row:
    """One span and what it is called.

    Parameters
    ----------
    label : str
        Name of the row.
    verdict : Verdict
        A check with a found span and a limit.
    channel : str
        red, green or blue, where it is a lane's.
    """

    label: str
    verdict: Verdict
    channel: str = ""


def span_rows(name: str, heading: str, says: str, result: str, rows: Sequence[Row]) -> Drawing | None:
    """Spans of checks that share a unit, against their limits.

    Parameters
    ----------
    name : str
        Slug.
    heading : str
        Its heading.
    says : str
        One sentence that explains.
    result : str
        What it shows.
    rows : sequence of Row
        Checks; those without numbers are left out.

    Returns
    -------
    Drawing or None
        None where no row has numbers.
    """
    kept = [row for row in rows if row.verdict.found is not None and row.verdict.limit is not None]
    if not kept:
        return None
    return drawing(
        name,
        heading,
        f"{says} A solid bar rests on facts, a striped one on a guess; what lies outside the limit is striped the other way; "
        "the tick is the typical value.",
        result,
        lambda width: _draw(width, kept),
        Table(
            heading,
            ("Of", "Found", "Limit", "Verdict"),
            tuple((r.label, _found(r.verdict), _limit(r.verdict), state_words(r.verdict)) for r in kept),
        ),
    )


def state_words(verdict: Verdict) -> str:
    """State of a check in words.

    Parameters
    ----------
    verdict : Verdict
        The check.

    Returns
    -------
    str
        ``holds on a guess`` where it does.
    """
    return "holds on a guess" if verdict.state == "holds" and verdict.on_guess else verdict.state


def _found(verdict: Verdict) -> str:
    """What was found, in words."""
    assert verdict.found is not None
    return figures.amount(verdict.found)


def _limit(verdict: Verdict) -> str:
    """What is allowed, in words."""
    assert verdict.limit is not None
    return figures.limit(verdict.limit)


def _draw(width: float, rows: Sequence[Row]) -> tuple[str, float]:
    """Rows on one axis."""
    wide = width > 500
    lead = min(190.0, 12 + max(svg.width_px(row.label) for row in rows)) if wide else 0.0
    tail = 128.0 if wide else 0.0
    step = 26.0 if wide else 40.0
    low, high = _reach(rows)
    x = svg.scale(low, high, lead + 8, width - tail - 12)
    top = 24.0
    bottom = top + step * len(rows)
    first = rows[0].verdict.limit
    assert first is not None
    out: list[str] = []
    same = all(_ends(row.verdict) == _ends(rows[0].verdict) for row in rows)
    if same and wide:
        out.append(_window(x, first, low, high, top, bottom))
    for number, row in enumerate(rows):
        y = top + step * number
        limit = row.verdict.limit
        assert limit is not None
        if not (same and wide):
            # on a telephone names stand above the bars, and the limits must not run through them
            out.append(_window(x, limit, low, high, y + (0 if wide else 20), y + step - 4))
        out.append(_bar(x, row, y + (7 if wide else 20)))
        if wide:
            out.append(svg.text(0, y + 17, svg.cut(row.label, lead - 8)))
            out.append(svg.text(width - tail, y + 17, state_words(row.verdict), f"s-{row.verdict.state}"))
        else:
            out.append(svg.text(0, y + 13, svg.cut(row.label, width - 130)))
            out.append(svg.text(width, y + 13, state_words(row.verdict), f"e s-{row.verdict.state}"))
    if same:
        out.append(_names(x, first, width - tail))
    out.append(svg.line(lead + 8, bottom + 4, width - tail - 12, bottom + 4, "axis"))
    factor, word = _unit(max(abs(low), abs(high)), first.unit)
    for value in svg.ticks(low / factor, high / factor, 6 if wide else 4):
        place = x(value * factor)
        out.append(svg.line(place, bottom + 4, place, bottom + 9, "axis"))
        out.append(svg.text(place, bottom + 23, f"{value:g}", "m q"))
    out.append(svg.text(width - tail if wide else width, bottom + 38, word, "e q"))
    return "".join(out), bottom + 44


def _reach(rows: Sequence[Row]) -> tuple[float, float]:
    """Bounds of the axis: all spans and limits with some room."""
    numbers = [
        value
        for row in rows
        for one in (row.verdict.found, row.verdict.limit)
        if one is not None
        for value in (one.low, one.typical, one.high)
        if value is not None
    ]
    low, high = min(numbers), max(numbers)
    room = (high - low) * 0.12 or abs(high) * 0.2 or 1.0
    return (0.0 if 0.0 <= low < 0.3 * high else low - room), high + room


def _ends(verdict: Verdict) -> tuple[float | None, float | None]:
    """Both limits of a check."""
    assert verdict.limit is not None
    return verdict.limit.low, verdict.limit.high


def _window(
    x: Callable[[float], float], limit: Amount, low: float, high: float, top: float, bottom: float
) -> str:  # fmt: skip
    """The allowed window and its edges."""
    left = x(limit.low if limit.low is not None else low)
    right = x(limit.high if limit.high is not None else high)
    out = svg.rect(left, top, right - left, bottom - top, "win")
    for end in (limit.low, limit.high):
        if end is not None:
            out += svg.rect(x(end) - 1, top - 4, 2, bottom - top + 4, "lm")
    return out


def _names(x: Callable[[float], float], limit: Amount, most: float) -> str:
    """Figures of the limits above the window."""
    words = [(x(end), figures.figure(end, limit.unit)) for end in (limit.low, limit.high) if end is not None]
    out = ""
    if len(words) == 2:
        out += svg.text(min(words[0][0] + 2, words[1][0] - 4), 14, words[0][1], "e lt")
        out += svg.text(words[1][0] - 2, 14, words[1][1], "lt")
    else:
        place, name = words[0]
        ends = place + svg.width_px(f"limit {name}") > most
        out += svg.text(place, 14, f"limit {name}", "e lt" if ends else "lt")
    return out


def _bar(x: Callable[[float], float], row: Row, y: float) -> str:
    """One span: the part inside, the parts outside, the tick."""
    found, limit = row.verdict.found, row.verdict.limit
    assert found is not None and limit is not None
    numbers = [value for value in (found.low, found.typical, found.high) if value is not None]
    left, right = min(numbers), max(numbers)
    kind = f"sp {row.channel}" + (" gs" if row.verdict.on_guess else "")
    inner_left = left if limit.low is None else max(left, limit.low)
    inner_right = right if limit.high is None else min(right, limit.high)
    out = ""
    if inner_right >= inner_left:
        out += svg.rect(x(inner_left), y, x(inner_right) - x(inner_left), 12, kind.strip())
    if limit.low is not None and left < limit.low:
        out += svg.rect(x(left), y, x(min(right, limit.low)) - x(left), 12, "out")
    if limit.high is not None and right > limit.high:
        start = max(left, limit.high)
        out += svg.rect(x(start), y, x(right) - x(start), 12, "out")
    if found.typical is not None:
        out += svg.rect(x(found.typical) - 1, y - 3, 2, 18, "mid")
    return out


def _unit(size: float, unit: str) -> tuple[float, str]:
    """Factor and name of the unit along the axis."""
    for factor, name in ((1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "u"), (1e-9, "n")):
        if unit in ("A", "Hz", "s", "ohm", "W") and size >= factor:
            return factor, f"{name}{unit}"
    return 1.0, unit
