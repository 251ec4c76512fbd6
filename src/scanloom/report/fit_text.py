"""Plans for a wish, and a starter that was written, as text and JSON."""

from __future__ import annotations

import shlex
from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.text import Text

from scanloom.report import fit_documents as d
from scanloom.report.figures import figure
from scanloom.report.sheets import plain_table
from scanloom.report.stage_lines import times
from scanloom.survey.fit import FitRow
from scanloom.survey.starter import TO_MEASURE
from scanloom.survey.wish import Wish


def fit_doc(wish: Wish, rows: Sequence[FitRow], limit: int) -> d.FitDoc:
    """Plans for a wish.

    Parameters
    ----------
    wish : Wish
        The wish.
    rows : sequence of FitRow
        All plans, best first.
    limit : int
        Plans wanted. [1]

    Returns
    -------
    FitDoc
        For JSON.
    """
    return d.FitDoc(
        wish=wish.text,
        groups=[d.WishedDoc(count=g.count, colour=g.colour, bits=g.bits) for g in wish.groups],
        fitting=sum(row.fits for row in rows),
        nearly=sum(not row.fits for row in rows),
        reason="" if rows else _reason(wish),
        rows=[_row(row) for row in rows[:limit]],
    )


def fit_sheet(wish: Wish, rows: Sequence[FitRow], limit: int) -> RenderableType:
    """Plans for a wish.

    Parameters
    ----------
    wish : Wish
        The wish.
    rows : sequence of FitRow
        All plans, best first.
    limit : int
        Plans wanted. [1]

    Returns
    -------
    RenderableType
        For a console.
    """
    fitting = sum(row.fits for row in rows)
    head = Text(f"{wish.text}: {fitting} plans fit, {len(rows) - fitting} nearly", style="bold")
    if not rows:
        return Group(head, Text(_reason(wish)))
    lines: list[RenderableType] = []
    for number, row in enumerate(rows[:limit], 1):
        picture = f"{row.picture_px}x{row.picture_rows}"
        plan = f"{picture} in {row.parent}, clock / {row.divide}, each row {times(row.repeat)}"
        bits = "+".join(map(str, row.depth))
        word = f"{bits} {'bit' if bits == '1' else 'bits'} on {row.stream}, {float(row.word_rate_hz) / 1e6:.2f} MHz"
        lines.append(Text(f"{number:>3}  {plan}", style="bold" if row.fits else ""))
        below = [f"{row.chip}, {row.state}: {word}"]
        below.append(f"{row.bytes_free} B free, {row.pins} pins, {figure(row.current_a, 'A')} at white")
        below += [f"but {row.first_failure}; {row.cure}"] if row.first_failure else []
        lines.extend(Padding(Text(line), (0, 0, 0, 5)) for line in below)
    return Group(head, *lines)


def after_fit(wish: Wish, rows: Sequence[FitRow], chip: str) -> str:
    """What to type next, on one line so that it can be copied.

    Parameters
    ----------
    wish : Wish
        The wish.
    rows : sequence of FitRow
        All plans, best first.
    chip : str
        Chip as asked for.

    Returns
    -------
    str
        A sentence with a command; empty without plans.
    """
    if not rows:
        return ""
    return (
        f"Next: scanloom new mine.toml --wish {shlex.quote(wish.text)} --chip {chip if chip != 'all' else rows[0].chip}"
    )


def new_doc(file: str, row: FitRow) -> d.NewDoc:
    """A starter that was written.

    Parameters
    ----------
    file : str
        The file.
    row : FitRow
        The plan it is for.

    Returns
    -------
    NewDoc
        For JSON.
    """
    return d.NewDoc(
        file=file,
        row=_row(row),
        to_measure=[d.ToMeasureDoc(minutes=m, where=where, what=what) for m, where, what in TO_MEASURE],
    )


def new_sheet(file: str, row: FitRow) -> RenderableType:
    """A starter that was written.

    Parameters
    ----------
    file : str
        The file.
    row : FitRow
        The plan it is for.

    Returns
    -------
    RenderableType
        For a console.
    """
    plan = f"{row.parent}, clock / {row.divide}, rows x {row.repeat}, {row.picture_px}x{row.picture_rows} on {row.stream} of {row.chip}"
    table = plain_table("minutes", "where", "what to measure")
    for minutes, where, what in TO_MEASURE:
        table.add_row(str(minutes), where, what)
    lines = [Text(f"Written: {file}", style="bold"), Text(f"Plan: {plan}. Every fact in it is a guess.")]
    if row.first_failure:
        lines.append(Text(f"It nearly fits: {row.first_failure}; {row.cure}."))
    return Group(*lines, table)


def _row(row: FitRow) -> d.FitRowDoc:
    """One plan."""
    return d.FitRowDoc(
        chip=row.chip,
        parent=row.parent,
        divide=row.divide,
        repeat=row.repeat,
        picture=f"{row.picture_px}x{row.picture_rows}",
        stream=row.stream,
        depth=list(row.depth),
        bytes_used=row.bytes_used,
        bytes_free=row.bytes_free,
        word_rate_hz=float(row.word_rate_hz),
        frame_rate_hz=float(row.frame_rate_hz),
        pins=row.pins,
        current_a=row.current_a,
        state=row.state,
        first_failure=row.first_failure,
        cure=row.cure,
    )


def _reason(wish: Wish) -> str:
    """Why there is no plan at all."""
    return (
        f"No plan comes near: {wish.displays} displays in these colours fail in two ways or more everywhere; "
        "wish for fewer displays or bits."
    )
