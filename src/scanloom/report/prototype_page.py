"""The prototype's part of the page: sheets 1:1, what the tool paths do, differences to the final board, the rescue."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape

import shapely

from scanloom.report.board_svg import side_sheet
from scanloom.stages.board.differences import Difference
from scanloom.stages.board.graph import pin_graph
from scanloom.stages.board.model import BoardFiles, Layer
from scanloom.stages.board.pieces import TooDense, solid_pieces
from scanloom.survey.review import Reviewed


def prototype_sections(reviewed: Reviewed, files: BoardFiles, unlike: Sequence[Difference]) -> tuple[str, ...]:
    """Sections for a milled or etched board.

    Parameters
    ----------
    reviewed : Reviewed
        The review.
    files : BoardFiles
        The files.
    unlike : sequence of Difference
        Differences to the final board, the worst first.

    Returns
    -------
    tuple of str
        HTML; empty for a board that nobody mills.
    """
    if not files.tool_paths and not unlike:
        return ()
    made = ["<h2>The prototype</h2>"]
    if reviewed.review.milled:
        made.append(_paths(reviewed))
    if unlike:
        made.append(_unlike(unlike))
    if reviewed.review.fittings:
        made.append(_fittings(reviewed))
    made.extend(_sheets(files))
    return tuple(made)


def _paths(reviewed: Reviewed) -> str:
    """Tool paths, a line each."""
    rows = [
        f"<tr><td>{escape(one.file)}</td><td>{one.kind}</td><td>{one.map_name or 'nothing tells'}</td><td>{one.mirror_state}</td></tr>"
        for one in reviewed.review.milled
    ]
    head = "<tr><th>tool path</th><th>what it does</th><th>against the component side it is</th><th>copper comes out</th></tr>"
    return f"<h3>Tool paths</h3><table>{head}{''.join(rows)}</table>"


def _unlike(unlike: Sequence[Difference]) -> str:
    """Differences, the worst first."""
    rows = [
        f"<tr><td>{escape(one.key)}</td><td>{escape(one.here)}</td><td>{escape(one.there)}</td><td>{escape(one.why)}</td></tr>"
        for one in unlike
    ]
    head = "<tr><th>place in the dossier</th><th>prototype</th><th>final board</th><th>what it leaves open</th></tr>"
    return f"<h3>What this prototype does not prove, worst first</h3><table>{head}{''.join(rows)}</table>"


def _fittings(reviewed: Reviewed) -> str:
    """The rescue, part by part with its proof."""
    rows = [
        f"<tr><td>{escape(one.part)}</td><td>{one.way}</td>"
        f"<td>{escape(', '.join(f'{a} on {b}' for a, b in one.proof if a != b) or 'each pin on its own pad')}</td>"
        f"<td>{escape(one.remark)}</td></tr>"
        for one in reviewed.review.fittings
    ]
    head = "<tr><th>part</th><th>fit it</th><th>pins on pads</th><th>mind</th></tr>"
    return f"<h3>Rescue, if the board is mirrored and cut already</h3><table>{head}{''.join(rows)}</table>"


def _sheets(files: BoardFiles) -> Iterator[str]:
    """Sheets, each on a page of its own."""
    for words, svg in side_sheets(files):
        if not svg:
            yield f"<p>{escape(words)}</p>"
            continue
        yield f'<section class="sheet"><h3>{escape(words)}</h3><p class="soft">Print at 100 %, and check the ruler.</p>{svg}</section>'


def side_sheets(files: BoardFiles) -> Iterator[tuple[str, str]]:
    """Each copper side twice: as seen from the component side, and as it must lie in the machine.

    Parameters
    ----------
    files : BoardFiles
        The files.

    Yields
    ------
    tuple of str
        What the sheet shows, and its SVG 1:1; the SVG is empty where the words say why there is none.
    """
    for layer in files.of("copper"):
        if not layer.drawn or layer.role.side not in ("top", "bottom"):
            continue
        below = layer.role.side == "bottom"
        yield _sheet(files, layer, False, f"{layer.role.side} copper as seen from the component side, not mirrored")
        words = "mirrored left to right, since it lies below" if below else "not mirrored"
        yield _sheet(files, layer, below, f"{layer.role.side} copper as it must lie in the machine, copper up: {words}")


def _sheet(files: BoardFiles, layer: Layer, mirrored: bool, words: str) -> tuple[str, str]:
    """One sheet."""
    try:
        pieces, _ = solid_pieces(layer)
    except TooDense:
        return f"{layer.role.file} is too dense to be drawn.", ""
    graph = pin_graph(files)
    marks = []
    outlines = []
    for part, pins in graph.parts.items():
        places = [place for pin in pins for place in graph.places.get(pin, ())]
        first = graph.place((part, "1"))
        if len(places) >= 6:
            outlines.append(
                shapely.box(*shapely.total_bounds([shapely.Point(p.x_mm, p.y_mm) for p in places])).buffer(1.5)
            )
            if first is not None:
                marks.append((first.x_mm, first.y_mm, f"{part} pin 1"))
    edge = [shapely.LineString(path) for one in files.of("outline") for path in one.paths if len(path) > 1]
    box = shapely.total_bounds(edge or pieces)
    holes = [(h.x_mm, h.y_mm, h.diameter_mm or 0.0) for h in files.holes]
    svg = side_sheet(pieces, holes, tuple(map(float, box)), mirrored, words, marks, [*edge, *outlines])  # type: ignore[arg-type]
    return words, svg
