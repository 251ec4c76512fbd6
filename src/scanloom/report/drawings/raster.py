"""The raster as a map: where in a frame picture, border, porches and syncs lie, to scale, with their times."""

from __future__ import annotations

from scanloom.report.drawings import svg
from scanloom.report.drawings.drawing import Drawing, Table, drawing
from scanloom.report.figures import figure
from scanloom.stages.timing import ImageWindow, RasterTiming
from scanloom.survey import RigSurvey


def raster_map(rig: RigSurvey) -> Drawing | None:
    """Map of one frame.

    Parameters
    ----------
    rig : RigSurvey
        Survey of one rig.

    Returns
    -------
    Drawing or None
        None where there is no raster.
    """
    if rig.timing is None:
        return None
    raster = rig.clock.value.made if rig.clock is not None else rig.timing.raster.value
    image = rig.timing.image.value if rig.timing.image is not None else None
    active = raster.h.active_px * raster.v.active_lines / (raster.h.total_px * raster.v.total_lines)
    return drawing(
        "raster-map",
        "One frame",
        "The whole frame to scale, as it is sent from left to right and from top to bottom: the picture, the black border "
        "around it if there is one, the porches, and the two syncs as hatched bands.",
        f"{figure(raster.line_s, 's')} a line, {figure(raster.frame_s, 's')} a frame; {active:.0%} of it is active.",
        lambda width: _draw(width, raster, image),
        _table(raster, image),
    )


def _draw(width: float, raster: RasterTiming, image: ImageWindow | None) -> tuple[str, float]:
    """The map, labels of the lines beside it."""
    h, v, fields = raster.h, raster.v, raster.fields
    labels = _labels(raster)
    gutter = max(svg.width_px(words) for _, words in labels) + 22
    across = width - gutter
    # the active part is shown four to three, as nearly all displays of this kind are
    down = across * h.active_px / h.total_px * 3 / 4 * v.total_lines / v.active_lines
    x = svg.scale(0, h.total_px, 0, across)
    y = svg.scale(0, v.total_lines, 22, 22 + down)
    out = [svg.rect(0, 22, across, down, "well")]
    out.append(svg.rect(0, 22, x(h.active_px), y(v.active_lines) - 22, "border"))
    if image is not None:
        left, top = x(image.left_px), y(image.top_lines)
        right, bottom = x(image.left_px + image.picture_px), y(image.top_lines + image.picture_lines)
        out.append(svg.rect(left, top, right - left, bottom - top, "picture"))
        middle = (top + bottom) / 2
        out.append(svg.text((left + right) / 2, middle - 4, f"{image.picture_px} x {image.image_rows}", "m bo"))
        repeat = {1: "each row once", 2: "each row twice"}.get(image.line_repeat, f"each row {image.line_repeat} times")
        out.append(svg.text((left + right) / 2, middle + 14, repeat, "m"))
    sync_x = h.active_px + h.front_px
    out.append(svg.rect(x(sync_x), 22, x(sync_x + h.sync_px) - x(sync_x), down, "sync"))
    first = v.active_lines + fields * v.front_lines
    out.append(svg.rect(0, y(first), across, y(first + fields * v.sync_lines) - y(first), "sync"))
    out.append(svg.text(x(h.active_px) / 2, 14, f"active {h.active_px} px", "m q"))
    sync_mid = x(sync_x + h.sync_px / 2)
    out.append(svg.text(min(sync_mid + 14, across), 14, "sync", "e q"))
    out.append(svg.rect(0, 22, across, down, "frame"))
    places = svg.apart([y(at) for at, _ in labels], 17, 30, 22 + down + 10)
    for (at, words), place in zip(labels, places, strict=True):
        out.append(svg.path(f"M{across:.1f} {y(at):.1f}L{across + 12:.1f} {place - 4:.1f}H{across + 16:.1f}", "lead"))
        out.append(svg.text(across + 20, place, words, "q"))
    return "".join(out), 22 + down + 14


def _labels(raster: RasterTiming) -> list[tuple[float, str]]:
    """Middle of each part of the frame, and its name and lines."""
    v, fields = raster.v, raster.fields
    made: list[tuple[float, str]] = []
    at = 0.0
    for name, lines in (
        ("active", v.active_lines),
        ("front", fields * v.front_lines),
        ("sync", fields * v.sync_lines),
        ("back", fields * v.back_lines),
    ):
        made.append((at + lines / 2, f"{name} {lines}"))
        at += lines
    return made


def _table(raster: RasterTiming, image: ImageWindow | None) -> Table:
    """All parts with counts and times."""
    h, v, fields = raster.h, raster.v, raster.fields
    rows: list[tuple[str, ...]] = []
    for name, px, lines in (
        ("active", h.active_px, v.active_lines),
        ("front porch", h.front_px, fields * v.front_lines),
        (f"sync ({h.polarity} across, {v.polarity} down)", h.sync_px, fields * v.sync_lines),
        ("back porch", h.back_px, fields * v.back_lines),
        ("in all", h.total_px, v.total_lines),
    ):
        rows.append((name, f"{px}", figure(px * raster.pixel_s, "s"), f"{lines}", figure(lines * raster.line_s, "s")))
    if image is not None and image.has_border:
        sides, ends = image.left_px + image.right_px, image.top_lines + image.bottom_lines
        across = (f"{image.left_px}, {image.right_px}", figure(sides * raster.pixel_s, "s"))
        down = (f"{image.top_lines}, {image.bottom_lines}", figure(ends * raster.line_s, "s"))
        rows.append(("border left and right", *across, "", ""))
        rows.append(("border above and below", "", "", *down))
    return Table("Parts of a line and of a frame", ("Part", "Pixels#", "Time#", "Lines#", "Time#"), tuple(rows))
