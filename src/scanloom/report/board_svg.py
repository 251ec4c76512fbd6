"""Ink-line drawings of a board: the place of a finding from the side it lies on, and whole sides 1:1."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Sequence
from html import escape
from typing import Any

import numpy as np
import shapely

from scanloom.basis.verdict import Place
from scanloom.stages.board.model import BoardFiles, Drawn, Layer

CROP_MM = 7.0
"""Half the width of a drawing around a place. [mm]"""
SHEET_LOOK = """svg.board-sheet path,svg.board-sheet circle{stroke-width:.1}
svg .sheet-copper{fill:#10242b;stroke:none}
svg .sheet-hole{fill:#fff}
svg .sheet-cross,svg .sheet-outline{stroke-width:.2}
svg .sheet-pin{stroke-width:.3}
svg .sheet-text{font-size:3.2px;fill:#10242b;stroke:none}
"""
"""Style of whole sides on paper: ink on white, whatever the screen is set to."""
_SCALE = 22.0  # pixels a millimetre of a crop
_MOST_SHAPES = 900


class Drawer:
    """Draws places of one board; keeps what a second drawing needs again.

    Parameters
    ----------
    files : BoardFiles
        The files.
    """

    def __init__(self, files: BoardFiles) -> None:
        self._files = files
        self._trees: dict[str, Any] = {}

    def crop(self, place: Place) -> tuple[str, str]:
        """A drawing around a place, and the words beside it.

        Parameters
        ----------
        place : Place
            Where to look; a place without a position gives nothing.

        Returns
        -------
        tuple of str
            SVG and its words, both empty where there is nothing to draw.
        """
        if place.x_mm is None or place.y_mm is None:
            return "", ""
        below = "bottom" in place.layer or any(
            r.file == place.file and r.side == "bottom" and r.role in ("copper", "mask", "paste", "legend")
            for r in self._files.roles
        )
        side = "bottom" if below else "top"
        x, y = place.x_mm, place.y_mm
        window = shapely.box(x - CROP_MM, y - CROP_MM, x + CROP_MM, y + CROP_MM)
        body: list[str] = []
        for layer in (*self._files.of("copper", side), *self._files.of("outline")):  # type: ignore[arg-type]
            body.extend(self._shapes(layer, window, (x, y), below))
        body.extend(self._holes(window, (x, y), below))
        body.append(_mark())
        words = (
            f"{'Seen from below' if below else 'Seen from above'}, {2 * CROP_MM:g} mm wide, around {x:.2f}, {y:.2f} mm"
        )
        if place.pin:
            words += f": {place.pin}"
        size = 2 * CROP_MM * _SCALE
        svg = (
            f'<svg class="board-crop" role="img" aria-label="{escape(words)}" width="{size:.0f}" height="{size:.0f}" '
            f'viewBox="0 0 {size:.0f} {size:.0f}">' + "".join(body) + "</svg>"
        )
        return svg, words

    def _shapes(self, layer: Layer, window: Any, at: tuple[float, float], below: bool) -> Iterable[str]:
        """Outlines of a layer inside a window."""
        name = layer.role.file
        if name not in self._trees:
            self._trees[name] = shapely.STRtree(layer.shapes)
        found = np.sort(self._trees[name].query(window, predicate="intersects"))[:_MOST_SHAPES]
        for number in found.tolist():
            shape = layer.shapes[number]
            part = shapely.intersection(shape, window) if layer.drawn[number].kind == "area" else shape
            style = "outline" if layer.role.role == "outline" else _style(layer.drawn[number])
            path = _path(part, at, below)
            if path:
                yield f'<path class="{style}" d="{path}"/>'

    def _holes(self, window: Any, at: tuple[float, float], below: bool) -> Iterable[str]:
        """Holes inside a window."""
        for hole in self._files.holes:
            if abs(hole.x_mm - at[0]) < CROP_MM and abs(hole.y_mm - at[1]) < CROP_MM:
                x, y = _pixels(hole.x_mm, hole.y_mm, at, below)
                radius = (hole.diameter_mm or 0.3) / 2 * _SCALE
                style = "hole" if hole.plated is not False else "hole bare"
                yield f'<circle class="{style}" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"/>'


def _style(drawn: Drawn) -> str:
    """Kind of line for an object."""
    return "clear" if not drawn.dark else {"flash": "pad", "stroke": "track", "area": "area"}[drawn.kind]


def _pixels(x: float, y: float, at: tuple[float, float], below: bool) -> tuple[float, float]:
    """Where a place comes to lie in a crop; from below, left and right change places."""
    dx = (at[0] - x if below else x - at[0]) + CROP_MM
    return dx * _SCALE, (at[1] - y + CROP_MM) * _SCALE


def _path(shape: Any, at: tuple[float, float], below: bool) -> str:
    """Outline of a shape as path data."""
    made: list[str] = []
    for part in getattr(shape, "geoms", None) or [shape]:
        rings = (
            [part.exterior, *part.interiors]
            if part.geom_type == "Polygon"
            else [part]
            if part.geom_type == "LineString"
            else []
        )
        for ring in rings:
            points = shapely.get_coordinates(ring.simplify(0.02))
            if len(points) > 1:
                steps = (f"{x:.1f} {y:.1f}" for x, y in (_pixels(px, py, at, below) for px, py in points.tolist()))
                made.append("M" + "L".join(steps) + ("Z" if part.geom_type == "Polygon" else ""))
    return "".join(made)


def _mark() -> str:
    """The place itself: a ring with four ticks, readable in grey."""
    m = CROP_MM * _SCALE
    ticks = "".join(
        f'<line class="mark" x1="{m + a * 16:.0f}" y1="{m + b * 16:.0f}" x2="{m + a * 26:.0f}" y2="{m + b * 26:.0f}"/>'
        for a, b in ((1, 0), (-1, 0), (0, 1), (0, -1))
    )
    return f'<circle class="mark" cx="{m:.0f}" cy="{m:.0f}" r="16"/>{ticks}'


def side_sheet(
    shapes: Sequence[Any], holes: Sequence[tuple[float, float, float]], box: tuple[float, float, float, float],
    mirrored: bool, words: str, marks: Sequence[tuple[float, float, str]] = (), outlines: Sequence[Any] = (),
) -> str:  # fmt: skip
    """A whole side 1:1, in millimetres, with alignment marks and a ruler to check the printer.

    Parameters
    ----------
    shapes : sequence of object
        Copper, in mm seen from the component side.
    holes : sequence of tuple of float
        Centre and diameter of each hole. [mm]
    box : tuple of float
        Left, bottom, right, top. [mm]
    mirrored : bool
        Whether left and right are exchanged, as the side lies in the machine.
    words : str
        What it shows, for those who cannot see it.
    marks : sequence of tuple
        Places with a word, such as pin 1. [mm]
    outlines : sequence of object
        Outlines drawn thin, such as that of the module.

    Returns
    -------
    str
        SVG with its size in millimetres.
    """
    left, bottom, right, top = box
    rim = 8.0
    width, height = max(right - left, 50.0) + 2 * rim, top - bottom + 2 * rim + 17

    def to(x: float, y: float) -> tuple[float, float]:
        across = right - x if mirrored else x - left
        return across + rim, top - y + rim

    def path(shape: Any) -> str:
        made: list[str] = []
        for part in getattr(shape, "geoms", None) or [shape]:
            rings = (
                [part.exterior, *part.interiors]
                if part.geom_type == "Polygon"
                else [part]
                if part.geom_type == "LineString"
                else []
            )
            for ring in rings:
                points = [to(px, py) for px, py in shapely.get_coordinates(ring.simplify(0.01)).tolist()]
                if len(points) > 1:
                    steps = "L".join(f"{x:.3f} {y:.3f}" for x, y in points)
                    made.append(f"M{steps}" + ("Z" if part.geom_type == "Polygon" else ""))
        return "".join(made)

    body = [f'<path class="sheet-copper" d="{p}"/>' for p in map(path, shapes) if p]
    body += [f'<path class="sheet-outline" d="{p}"/>' for p in map(path, outlines) if p]
    for x, y, diameter in holes:
        px, py = to(x, y)
        body.append(f'<circle class="sheet-hole" cx="{px:.3f}" cy="{py:.3f}" r="{max(diameter, 0.3) / 2:.3f}"/>')
    for x, y, text in marks:
        px, py = to(x, y)
        body.append(f'<circle class="sheet-pin" cx="{px:.3f}" cy="{py:.3f}" r="1.2"/>')
        body.append(f'<text class="sheet-text" x="{px + 1.6:.2f}" y="{py - 0.8:.2f}">{escape(text)}</text>')
    for x, y in ((left, bottom), (right, bottom), (left, top), (right, top)):
        px, py = to(x, y)
        body.append(f'<path class="sheet-cross" d="M{px - 4:.2f} {py:.2f}h8M{px:.2f} {py - 4:.2f}v8"/>')
    ruler = height - 11
    ticks = "".join(f"M{rim + mm:.1f} {ruler:.1f}v{-3 if mm % 10 == 0 else -1.5}" for mm in range(0, 51, 5))
    body.append(f'<path class="sheet-cross" d="M{rim} {ruler:.1f}h50{ticks}"/>')
    body.append(f'<text class="sheet-text" x="{rim}" y="{ruler + 5:.1f}">50 mm: measure this on paper</text>')
    return (
        f'<svg class="board-sheet" role="img" aria-label="{escape(words)}" width="{width:.2f}mm" height="{height:.2f}mm" '
        f'viewBox="0 0 {width:.3f} {height:.3f}">' + "".join(body) + "</svg>"
    )


def paper(svg: str) -> str:
    """A whole side as an image that brings its own style, so that no look of a page changes it.

    Parameters
    ----------
    svg : str
        From `side_sheet`.

    Returns
    -------
    str
        Address of the image, its content inside.
    """
    ink = "svg{background:#fff;font-family:sans-serif}svg path,svg circle{fill:none;stroke:#10242b}"
    whole = svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    opening, _, rest = whole.partition(">")
    styled = f"{opening}><style>{ink}{SHEET_LOOK}</style>{rest}"
    return "data:image/svg+xml;base64," + b64encode(styled.encode()).decode()
