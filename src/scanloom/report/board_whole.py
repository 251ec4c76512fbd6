"""A small drawing of the whole board for a file that lies wrong as a whole: its places against what they should meet."""

from __future__ import annotations

from html import escape

import numpy as np
from numpy.typing import NDArray

from scanloom.basis.verdict import Place, Verdict
from scanloom.stages.board.model import BoardFiles

WHOLE_CODES = (
    "board.side-mirrored", "board.registration", "board.scale", "board.sides-swapped", "board.mixed-revisions",
    "board.placement-origin",
)  # fmt: skip
"""Findings about a file as a whole; around one spot of it there is nothing to see."""
_WIDE_PX = 520.0
_MOST = 3000
_ARM_PX = 2.4


def whole_board(files: BoardFiles, verdict: Verdict) -> tuple[str, str]:
    """The board small: rings are what a file should meet, crosses are where the file has it.

    Parameters
    ----------
    files : BoardFiles
        The files.
    verdict : Verdict
        The finding.

    Returns
    -------
    tuple of str
        SVG and its words, both empty where the finding is about a spot, or there is nothing to draw.
    """
    place = verdict.place
    if place is None or verdict.code not in WHOLE_CODES:
        return "", ""
    drawn, wanted, against = _places(files, place)
    if not len(drawn) or not len(wanted):
        return "", ""
    paths = [path for layer in files.of("outline") for path in layer.paths if len(path) > 1]
    points = np.concatenate([*paths, wanted, drawn])
    low, high = points.min(axis=0), points.max(axis=0)
    scale = _WIDE_PX / max(float(high[0] - low[0]), 0.6 * float(high[1] - low[1]), 1.0)

    def at(some: NDArray[np.float64]) -> list[tuple[float, float]]:
        return [(10 + (x - low[0]) * scale, 10 + (high[1] - y) * scale) for x, y in some.tolist()]

    width, height = 20 + (high[0] - low[0]) * scale, 20 + (high[1] - low[1]) * scale
    edge = "".join("M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in at(path)) for path in paths)
    rings = "".join(f"M{x - 2.2:.1f} {y:.1f}a2.2 2.2 0 1 0 4.4 0a2.2 2.2 0 1 0 -4.4 0" for x, y in at(wanted[:_MOST]))
    crosses = "".join(
        f"M{x - _ARM_PX:.1f} {y:.1f}h{2 * _ARM_PX}M{x:.1f} {y - _ARM_PX:.1f}v{2 * _ARM_PX}"
        for x, y in at(drawn[:_MOST])
    )
    words = f"The whole board seen from above. Rings: {against}. Crosses: {place.file} as it lies; right where each ring has its cross"
    svg = (
        f'<svg class="board-crop board-whole" role="img" aria-label="{escape(words)}" width="{width:.0f}" height="{height:.0f}" '
        f'viewBox="0 0 {width:.0f} {height:.0f}"><path class="outline" d="{edge}"/><path class="area" d="{rings}"/>'
        f'<path class="mark" d="{crosses}"/></svg>'
    )
    return svg, words


def _places(files: BoardFiles, place: Place) -> tuple[NDArray[np.float64], NDArray[np.float64], str]:
    """Where a file has its places, where they should be, and what those are."""
    holes = [(h.x_mm, h.y_mm) for h in files.holes if h.plated is not False]
    pads = {
        layer.role.file: [(o.x_mm, o.y_mm) for o in layer.drawn if o.kind == "flash" and o.dark]
        for layer in files.layers
    }
    role = next((r for r in files.roles if r.file == place.file), None)
    copper = [
        spot
        for layer in files.of("copper")
        for spot in pads[layer.role.file]
        if role is None or role.side in ("", layer.role.side)
    ]
    own: list[tuple[float, float]] = pads.get(place.file, [])
    wanted, against = holes, "plated holes"
    for drill in files.drills:
        if drill.role.file == place.file:
            own, wanted, against = [(h.x_mm, h.y_mm) for h in drill.holes], copper, "pads of the copper"
    for netlist in files.netlists:
        if netlist.role.file == place.file:
            own = [(p.x_mm, p.y_mm) for p in netlist.points if p.hole_mm]
    for table in files.placements:
        if table.role.file == place.file:
            own, wanted, against = [(p.x_mm, p.y_mm) for p in table.rows_placed], copper, "pads of the copper"
    if role is not None and role.role in ("mask", "paste"):
        wanted, against = copper, f"pads of the {role.side} copper"
    return _array(own), _array(wanted), against


def _array(places: list[tuple[float, float]]) -> NDArray[np.float64]:
    """Places as an array, each once."""
    return np.array(sorted(set(places)), dtype=float).reshape(-1, 2)
