"""A review of a board as one page that needs nothing else: findings with drawings, files, what changed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from scanloom.basis.verdict import Verdict
from scanloom.report import figures
from scanloom.report.board_svg import SHEET_LOOK, Drawer
from scanloom.report.board_whole import whole_board
from scanloom.report.closing import closing
from scanloom.report.open_verdicts import opened_first
from scanloom.stages.board.model import BoardFiles
from scanloom.survey.as_built_model import BuiltShown
from scanloom.survey.review import Reviewed, Since

MOST_DRAWINGS = 60
"""Drawings on one page. [1]"""
STYLE = f"""
body{{font:15px/20px "DejaVu Sans",system-ui,sans-serif;
  font-variant-numeric:tabular-nums;background:#dce3e1;color:#10242b;
  margin:0}}
main{{max-width:1000px;margin:0 auto;padding:24px;background:#fafbf8}}
h1{{font-size:22px;line-height:28px}}
h2{{font-size:18px;line-height:24px;border-top:1px solid #bcc9c6;padding-top:16px}}
h3{{font-size:15px;margin:24px 0 4px}}
p{{margin:4px 0}}
.soft{{color:#48595e;font-size:13px;line-height:18px}}
table{{border-collapse:collapse;width:100%;font-size:13px;line-height:18px}}
th,td{{text-align:left;padding:4px 12px 4px 0;border-bottom:1px solid #dfe6e3;vertical-align:top}}
td{{overflow-wrap:anywhere}}
td:first-child{{min-width:13em}}
td:nth-child(2){{min-width:9em}}
.state{{font-weight:700}}
.fails .state,.stale .state{{color:#a1104d}}
.unknown .state{{color:#775000}}
.holds .state{{color:#14665a}}
svg.board-crop{{background:#eff3f0;border:1px solid #bcc9c6;border-radius:3px;max-width:100%;height:auto}}
svg path,svg circle,svg line{{fill:none;stroke:#10242b;stroke-width:1}}
svg .track{{stroke:#48595e}}
svg .area{{stroke:#6f8286;stroke-dasharray:5 3}}
svg .clear{{stroke:#bcc9c6}}
svg .outline{{stroke-width:2}}
svg .hole{{stroke-width:1.5}}
svg .bare{{stroke-dasharray:3 2}}
svg .mark{{stroke:#41439b;stroke-width:3}}
svg.board-whole .area{{stroke-dasharray:none}}
svg.board-whole .mark{{stroke-width:1}}
{SHEET_LOOK}figure{{margin:8px 0}}
.pair{{display:flex;flex-wrap:wrap;gap:12px}}
.pair img{{display:block;max-width:100%;height:auto;border:1px solid #bcc9c6}}
@media screen and (max-width:640px){{
  main{{padding:16px}}
  table,tbody,tr,td{{display:block;width:auto}}
  tr:first-child{{display:none}}
  td,td:first-child,td:nth-child(2){{min-width:0;border:0;padding:0}}
  tr{{border-bottom:1px solid #dfe6e3;padding:4px 0}}
  td:first-child{{font-weight:700}}
}}
@media screen and (prefers-color-scheme:dark){{
  body{{background:#0c1417;color:#e3ebe8}}
  svg{{background:#eff3f0}}
  main{{background:#141f23}}
  .soft{{color:#a9b8b8}}
  h2,th,td,tr{{border-color:#35454a}}
  .fails .state,.stale .state{{color:#ff8fb3}}
  .unknown .state{{color:#f0c060}}
  .holds .state{{color:#7fd6c2}}
}}
@media print{{
  body,main{{background:#fff}}
  h3,figure{{break-inside:avoid}}
  .sheet{{break-before:page}}
  main{{max-width:none;padding:0}}
}}
"""


def review_page(
    title: str, folder: str, reviewed: Reviewed, files: BoardFiles, since: Since | None, extra: Sequence[str] = (),
    shown: BuiltShown | None = None,
) -> str:  # fmt: skip
    """A page with every finding.

    Parameters
    ----------
    title : str
        Title of the dossier, perhaps empty.
    folder : str
        Folder of the files.
    reviewed : Reviewed
        The review.
    files : BoardFiles
        The files, for the drawings.
    since : Since or None
        What changed since an earlier review.
    extra : sequence of str
        Further sections as HTML, such as the prototype's.
    shown : BuiltShown or None
        What displays would show; None where no finding concerns that.

    Returns
    -------
    str
        HTML.
    """
    survey, review = reviewed.survey, reviewed.review
    drawer = Drawer(files)
    opened, held = opened_first(survey.verdicts)
    size = f"{review.size_mm[0]:.1f} x {review.size_mm[1]:.1f} mm, " if review.size_mm else ""
    made = [
        f"<h1>{escape(title or 'Review of a board')}</h1>",
        f"<p>Files of <b>{escape(folder)}</b>: {size}{review.part_count} parts, {review.net_count} nets, {review.hole_count} holes.</p>",
        *(f"<p>{escape(line)}</p>" for line in closing(survey, strict=False)),
        '<p class="soft">This is not a layout rule check. Read every "false alarm" line before you act on it.</p>',
        *_changes(since),
        "<h2>What is open</h2>",
    ]
    drawn, pictures = 0, built_sections(shown)
    for verdict in opened:
        picture = ""
        if verdict.place is not None and drawn < MOST_DRAWINGS and verdict.state != "unknown":
            svg, words = whole_board(files, verdict)
            if not svg:
                svg, words = drawer.crop(verdict.place)
            if svg:
                picture = f'<figure>{svg}<figcaption class="soft">{escape(words)}</figcaption></figure>'
                drawn += 1
        made.append(_card(verdict, picture + pictures.get((verdict.code, verdict.subject), "")))
    if not opened:
        made.append("<p>Nothing.</p>")
    made += [*extra, "<h2>Files</h2>", _files(reviewed), "<h2>What holds</h2>", _held(held)]
    head = (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{escape(title or folder)}: review</title>'
    )
    view = '<meta name="viewport" content="width=device-width">'
    return f"{head}{view}<style>{STYLE}</style></head><body><main>{''.join(made)}</main></body></html>\n"


def built_sections(shown: BuiltShown | None) -> dict[tuple[str, str], str]:
    """For each finding what its display would show: the pictures with the first, the words alone with the others.

    Parameters
    ----------
    shown : BuiltShown or None
        The displays; None where no finding concerns them.

    Returns
    -------
    dict
        HTML by code and subject; nothing where the picture is the one that is meant.
    """
    if shown is None:
        return {}
    from scanloom.report.as_built_text import built_figure, finding_lines

    made = {finding: f'<p class="do">{escape(line)}</p>' for finding, line in finding_lines(shown).items()}
    for one in shown.displays:
        figure, first = built_figure(one), one.findings[0]
        for finding in one.findings if figure else ():
            more = f"{made[finding][:-4]} The pictures stand at {escape(first[1])}.</p>"
            made[finding] = figure if finding == first else more
    return made


def _card(v: Verdict, picture: str) -> str:
    """One finding."""
    lines = [
        f'<h3><span class="state">{v.state}</span> {v.weight} · {escape(v.code)} · {escape(v.subject)}</h3>',
        f"<p>{escape(v.says)}</p>",
    ]
    if v.found is not None and v.limit is not None:
        lines.append(f"<p>found {escape(figures.amount(v.found))}; limit {escape(figures.limit(v.limit))}</p>")
    if v.place is not None:
        where = [v.place.file, v.place.layer, v.place.pin]
        if v.place.x_mm is not None and v.place.y_mm is not None:
            where.append(f"{v.place.x_mm:.2f}, {v.place.y_mm:.2f} mm")
        lines.append(f'<p class="soft">place: {escape(", ".join(w for w in where if w))}</p>')
    lines.append(picture)
    if v.settle is not None:
        lines.append(f'<p class="soft">false alarm? {escape(v.settle.what)}</p>')
    if v.because:
        lines.append(f"<p>accepted because {escape(v.because)}</p>")
    if v.sources:
        lines.append(
            f'<p class="soft">limit from {escape("; ".join(f"{s.title}, {s.place} ({s.standing})" for s in v.sources))}</p>'
        )
    facts = [f.key for f in v.rests_on if not f.key.startswith("files.")]
    if facts:
        lines.append(f'<p class="soft">protects and rests on: {escape(", ".join(facts[:12]))}</p>')
    return f'<section class="{v.state}">{"".join(lines)}</section>'


def _changes(since: Since | None) -> Iterable[str]:
    """What changed."""
    if since is None:
        return
    yield "<h2>Since the earlier review</h2>"
    yield f"<p>mended: {escape('; '.join(since.mended) or 'nothing')}</p><p>new: {escape('; '.join(since.new) or 'nothing')}</p>"


def _files(reviewed: Reviewed) -> str:
    """Files and their roles."""
    rows = [
        f"<tr><td>{escape(r.file)}</td><td>{escape(f'{r.side} {r.role}'.strip())}</td><td>{escape(r.decided_by)}</td>"
        f"<td>{escape('; '.join((*r.remarks, *([r.damage] if r.damage else []))))}</td></tr>"
        for r in reviewed.review.roles
    ]
    return f"<table><tr><th>file</th><th>taken for</th><th>by</th><th>remarks</th></tr>{''.join(rows)}</table>"


def _held(held: Sequence[Verdict]) -> str:
    """Checks that hold, a line each."""
    rows = [f"<tr><td>{escape(v.code)}</td><td>{escape(v.subject)}</td><td>{escape(v.says)}</td></tr>" for v in held]
    return f"<table><tr><th>check</th><th>protects</th><th>what was read</th></tr>{''.join(rows)}</table>"
