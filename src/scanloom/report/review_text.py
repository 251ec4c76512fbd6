"""A review of a board as JSON and as text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from scanloom.report import review_documents as d
from scanloom.report.text import print_check
from scanloom.survey.review import Reviewed, Since

if TYPE_CHECKING:
    from scanloom.stages.board.differences import Difference
    from scanloom.survey.as_built_model import BuiltShown


def review_doc(
    folder: str, dossier: str, reviewed: Reviewed, since: Since | None, report: str | None, unlike: Sequence[Difference] = (),
    shown: BuiltShown | None = None,
) -> d.ReviewDoc:  # fmt: skip
    """A review for JSON.

    Parameters
    ----------
    folder : str
        Folder of the files as the user named it.
    dossier : str
        The dossier's file, empty without one.
    reviewed : Reviewed
        The review.
    since : Since or None
        What changed since an earlier review.
    report : str or None
        Page that was written.
    unlike : sequence of Difference
        Differences to the final board.
    shown : BuiltShown or None
        What displays would show; None where no finding concerns that.

    Returns
    -------
    ReviewDoc
        For JSON.
    """
    review, survey = reviewed.review, reviewed.survey
    return d.ReviewDoc(
        folder=folder,
        dossier=dossier,
        ready=survey.exit_code() == 0,
        counts=d.ReviewCountsDoc(
            holds=survey.count("holds"),
            fails=survey.count("fails"),
            unknown=survey.count("unknown"),
            accepted=survey.count("accepted"),
            stale=survey.count("stale"),
        ),
        files=[
            d.ReviewFileDoc(
                file=role.file,
                role=role.role,
                side=role.side,
                decided_by=role.decided_by,
                sha256=role.sha256,
                remarks=list(role.remarks),
                damage=role.damage,
            )
            for role in review.roles
        ],
        size_mm=None if review.size_mm is None else list(review.size_mm),
        parts=review.part_count,
        nets=review.net_count,
        holes=review.hole_count,
        lanes=[
            d.LanePathDoc(
                connector=path.connector,
                channel=path.channel,
                chip_pin=path.chip_pin,
                reached=list(path.reached),
                through=path.through,
                as_built_ohm=path.as_built_ohm,
            )
            for path in review.lane_paths
        ],
        hand_parts=list(review.hand_parts),
        lying=[
            d.LyingDoc(file=file, map=name, along_mm=shift[0], across_mm=shift[1])
            for file, (name, shift) in review.lying.items()
        ],
        milled=[
            d.MilledDoc(file=m.file, kind=m.kind, map=m.map_name, mirror_state=m.mirror_state, side=m.side)
            for m in review.milled
        ],
        fittings=[
            d.FittingDoc(part=f.part, way=f.way, proof=[list(pair) for pair in f.proof], remark=f.remark)
            for f in review.fittings
        ],
        differences=[
            d.DifferenceDoc(rank=one.rank, key=one.key, here=one.here, there=one.there, why=one.why) for one in unlike
        ],
        shown=_shown_doc(shown),
        since=None if since is None else d.SinceDoc(mended=list(since.mended), new=list(since.new)),
        report=report,
    )


def print_review(
    console: Console, title: str, folder: str, reviewed: Reviewed, since: Since | None, unlike: Sequence[Difference], *,
    every: bool, strict: bool, shown: BuiltShown | None = None,
) -> None:  # fmt: skip
    """Print a review: files and their roles first, then what is open.

    Parameters
    ----------
    console : Console
        Where to.
    title : str
        Title of the dossier, perhaps empty.
    folder : str
        Folder of the files.
    reviewed : Reviewed
        The review.
    since : Since or None
        What changed since an earlier review.
    unlike : sequence of Difference
        Differences to the final board.
    every : bool
        Whether checks that hold are listed too.
    strict : bool
        Whether a stop that holds on a guess counts as unknown.
    shown : BuiltShown or None
        What displays would show; None where no finding concerns that.
    """
    console.print(files_table(reviewed))
    console.print(_size(reviewed))
    for word, style, names in (("mended", "green", since.mended), ("new", "bold red", since.new)) if since else ():
        for name in names:
            line = Text(f"{word:<9}", style=style)
            line.append(name, "default")
            console.print(line)
    if unlike:
        console.print(Text("What this prototype does not prove, worst first", style="bold"))
    for one in unlike:
        console.print(f"{one.key}: {one.here} here, {one.there} on the final board; {one.why}")
    console.print()
    print_check(console, title, folder, reviewed.survey, strict=strict, every=every, trial=None, beside=_beside(shown))


def files_table(reviewed: Reviewed) -> Table:
    """Files, what each was taken for, and by what.

    Parameters
    ----------
    reviewed : Reviewed
        The review.

    Returns
    -------
    Table
        A line a file.
    """
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("file", overflow="fold")
    table.add_column("taken for")
    table.add_column("by")
    table.add_column("remarks", overflow="fold")
    for role in reviewed.review.roles:
        words = f"{role.side} {role.role}".strip()
        table.add_row(
            role.file, words, role.decided_by, "; ".join((*role.remarks, *([role.damage] if role.damage else [])))
        )
    return table


def _size(reviewed: Reviewed) -> str:
    """The board in one line."""
    review = reviewed.review
    size = f"{review.size_mm[0]:.1f} x {review.size_mm[1]:.1f} mm, " if review.size_mm else ""
    return (
        f"{size}{review.part_count} parts, {review.net_count} nets, {review.hole_count} holes. Not a layout rule check."
    )


def _shown_doc(shown: BuiltShown | None) -> d.BuiltShownDoc:
    """What displays would show, for JSON."""
    if shown is None:
        return d.BuiltShownDoc(displays=[], not_drawn={})
    from scanloom.report.as_built_text import built_doc

    return built_doc(shown)


def _beside(shown: BuiltShown | None) -> Mapping[tuple[str, str], str]:
    """A line below each finding that a display would show."""
    if shown is None:
        return {}
    from scanloom.report.as_built_text import finding_lines

    return finding_lines(shown)
