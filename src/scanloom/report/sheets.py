"""Answers of single commands as text: a timing, clocks, levels, a chip."""

from __future__ import annotations

from collections.abc import Sequence

from rich import box
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from scanloom.basis.span import Span
from scanloom.handbook.chip import Chip, Routing
from scanloom.handbook.limits import limit
from scanloom.report.figures import figure
from scanloom.report.level_sums import levels_doc
from scanloom.report.stage_lines import times
from scanloom.stages.clock import ClockCandidate
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.timing import ImageWindow, RasterTiming


def timing_sheet(
    raster: RasterTiming, image: ImageWindow | None, source: str, place: str, cautions: Sequence[str] = ()
) -> RenderableType:
    """One raster.

    Parameters
    ----------
    raster : RasterTiming
        The raster.
    image : ImageWindow or None
        The picture in it.
    source : str
        Title of the source of the parent.
    place : str
        Place in it.
    cautions : sequence of str
        What has to be said of a computed parent.

    Returns
    -------
    RenderableType
        For a console.
    """
    table = plain_table("", "active", "front porch", "sync", "back porch", "total", "polarity")
    h, v = raster.h, raster.v
    row_h = (h.active_px, h.front_px, h.sync_px, h.back_px, h.total_px)
    row_v = (v.active_lines, v.front_lines, v.sync_lines, v.back_lines, v.total_lines)
    table.add_row("pixels", *map(str, row_h), h.polarity)
    table.add_row("lines", *map(str, row_v), v.polarity)
    rate = "fields" if raster.interlaced else "frames"
    head = f"{raster.parent}" + (f", clock and horizontal figures / {raster.divide}" if raster.divide > 1 else "")
    lines = [
        Text(head, style="bold"),
        Text(
            f"pixel clock {figure(float(raster.pixel_clock_hz), 'Hz')}, line rate {figure(float(raster.line_rate_hz), 'Hz')}, "
            f"{float(raster.frame_rate_hz):.6f} {rate} a second"
        ),
    ]
    if raster.interlaced:
        lines.append(
            Text(
                "Interlaced: porches and sync are those of the first field, active and total lines those of the frame."
            )
        )
    if image is not None:
        lines.append(
            Text(
                f"picture {image.picture_px} x {image.image_rows} rows, each sent {times(image.line_repeat)}; border left {image.left_px}, "
                f"right {image.right_px} pixels, top {image.top_lines}, bottom {image.bottom_lines} lines"
            )
        )
    told = [Text(f"caution: {sentence}") for sentence in cautions]
    return Group(*lines, table, *told, Text(f"from: {source}, {place}", style="dim"))


def clock_sheet(chip: str, target_hz: float, candidates: Sequence[ClockCandidate]) -> RenderableType:
    """Rates near a target, best first.

    Parameters
    ----------
    chip : str
        The chip.
    target_hz : float
        Rate asked for. [Hz]
    candidates : sequence of ClockCandidate
        Rates.

    Returns
    -------
    RenderableType
        For a console.
    """
    if not candidates:
        return Text(f"{chip} makes no rate near {figure(target_hz, 'Hz')} inside the stated system clocks.")
    table = plain_table("pixel rate", "error", "wobble", "repeats after", "recipe")
    for c in candidates:
        mark = "" if c.within else " (over 5000 ppm)"
        noise = "" if c.noise_known else " + noise"
        table.add_row(
            figure(float(c.achieved_hz), "Hz"),
            f"{c.ppm:+.1f} ppm{mark}",
            f"{float(c.wobble_px):.3f} px{noise}",
            f"{c.lines_repeat_after} line{'s' if c.lines_repeat_after != 1 else ''}",
            c.recipe,
        )
    notes = [
        Text(
            f"{chip}, {figure(target_hz, 'Hz')} wanted; best first: nearness within 5000 ppm, then steadiness, then error"
        )
    ]
    if not any(c.within for c in candidates):
        notes.append(
            Text(f"None lies within 5000 ppm: {chip} cannot make this rate. Ask for another rate, or use another chip.")
        )
    if any(not c.noise_known for c in candidates):
        notes.append(Text("noise: the source adds some of its own, for which no figure is published"))
    return Group(notes[0], table, *notes[1:])


def levels_sheet(net: OutputNetwork) -> RenderableType:
    """Levels of one channel.

    Parameters
    ----------
    net : OutputNetwork
        The channel.

    Returns
    -------
    RenderableType
        For a console.
    """
    doc = levels_doc(net)
    white = limit("white")
    spread = any(a != b for a, b in zip(doc["level_low_v"], doc["level_high_v"], strict=True))
    table = plain_table("code", "level", *(("lowest", "highest") if spread else ()))
    for code, level in enumerate(doc["level_v"]):
        row = [str(code), f"{level:.4f} V"]
        if spread:
            row += [f"{doc['level_low_v'][code]:.4f} V", f"{doc['level_high_v'][code]:.4f} V"]
        table.add_row(*row)
    low, high = white.low or 0.0, white.high or 0.0
    inside = low <= doc["level_low_v"][-1] and doc["level_high_v"][-1] <= high
    where = "inside" if inside else "outside or across the edge of"
    legs = ", ".join(figure(a, "A") for a in doc["pin_current_a"])
    lines = [
        f"white {doc['full_scale_v']:.4f} V, {where} the window of {low} to {high} V",
        f"source resistance {figure(doc['source_ohm'], 'ohm')}; most current of each pin, largest bit first: {legs}",
        f"white draws {figure(doc['white_current_a'], 'A')}; the display's termination takes {figure(doc['termination_w'], 'W')}",
    ]
    if net.bits > 1:
        order = (
            "a brighter code is brighter with every copy of these parts"
            if doc["monotonic_guaranteed"]
            else "with unlucky parts a brighter code may be darker"
        )
        lines.insert(
            1, f"INL {doc['inl_lsb']:.3f} LSB, DNL {doc['dnl_min_lsb']:+.3f} to {doc['dnl_max_lsb']:+.3f} LSB; {order}"
        )
    return Group(table, *(Text(line) for line in lines))


def chips_sheet(chips: Sequence[Chip]) -> RenderableType:
    """The chips there are.

    Parameters
    ----------
    chips : sequence of Chip
        The chips.

    Returns
    -------
    RenderableType
        For a console.
    """
    table = plain_table("chip", "what it is")
    for chip in chips:
        table.add_row(chip.name, chip.table.chip.title)
    return table


def chip_sheet(chip: Chip) -> RenderableType:
    """A chip record as one sheet.

    Parameters
    ----------
    chip : Chip
        The chip.

    Returns
    -------
    RenderableType
        For a console.
    """
    t = chip.table
    parts: list[RenderableType] = [
        Text(f"{chip.name}: {t.chip.title}", style="bold"),
        _from(chip, t.chip.source, t.chip.place),
    ]
    states = plain_table("firmware state", "free RAM that the stream can read", "from")
    for state in t.state:
        states.add_row(
            state.name, f"{', '.join(map(str, state.free))} B, {sum(state.free)} B in all", _short(chip, state.source)
        )
    streams = plain_table("stream", "plan", "most", "bytes a word", "limited by", "from")
    for stream in t.stream:
        size = stream.read_bytes / stream.words_per_read
        streams.add_row(
            stream.name,
            figure(float(stream.planned), "Hz"),
            figure(float(stream.hard), "Hz"),
            f"{size:g}",
            stream.limited_by,
            _short(chip, stream.source),
        )
    parts += [states, streams]
    if t.transfer is not None:
        parts.append(
            Text(
                f"Transfer entry {t.transfer.entry_bytes} B, longest run {t.transfer.longest_run_bytes} B, each allocation costs "
                f"{t.transfer.allocation_bytes} B ({_short(chip, t.transfer.source)})"
            )
        )
    parts.extend(Text(_routing(chip, row)) for row in t.routing)
    if t.external is not None:
        ext = t.external
        rate = f"plan {ext.planned_bytes_per_s / 1e6:g} MB a second, at most {ext.hard_bytes_per_s / 1e6:g}"
        parts.append(Text(f"External memory {ext.size_bytes} B, {rate} ({_short(chip, ext.source)})"))
    clocks = plain_table("clock", "steps", "from")
    for chain in t.clock:
        steps = " ".join(f"{'x' if s.op == 'multiply' else '/'} {s.name}" for s in chain.steps)
        clocks.add_row(chain.name, f"{figure(float(chain.reference), 'Hz')} {steps}", _short(chip, chain.source))
    drives = plain_table("drive", "high: low, typical, guaranteed", "low: low, typical, guaranteed", "from")
    for drive in t.drive:
        mark = " (at reset)" if drive.at_reset else ""
        drives.add_row(drive.name + mark, _ohms(drive.high), _ohms(drive.low), _short(chip, drive.source))
    currents = plain_table("current", "most", "from")
    for row in t.current:
        currents.add_row(f"{row.name}, {row.over}", figure(float(row.amount), "A"), _short(chip, row.source))
    parts += [clocks, drives, currents, _pins(chip)]
    return Group(*parts)


def _routing(chip: Chip, row: Routing) -> str:
    """How lanes reach pins, in words."""
    words = {
        "any": "any lane to any of the pins",
        "run": "one consecutive run in the order of the word",
        "fixed": "a fixed choice for each lane",
    }
    parts = [words[row.rule], "one lane may feed several pins" if row.fan_out else "one lane reaches one pin"]
    if row.pins is not None:
        parts.append(f"pins {', '.join(map(str, row.pins))}")
    if row.windows:
        parts.append(f"inside {' or '.join(f'{a} to {b}' for a, b in row.windows)}")
    if row.bases:
        parts.append(f"starting at {', '.join(map(str, row.bases))}")
    return f"Routing of {', '.join(row.streams) or 'all streams'}: {'; '.join(parts)} ({_short(chip, row.source)})"


def _pins(chip: Chip) -> RenderableType:
    """Pins that differ from an ordinary output."""
    table = plain_table("pins", "may carry", "boot", "by itself", "why", "from")
    words = {"any": "anything", "colour": "colour only", "last": "last resort", "none": "nothing"}
    for row in chip.table.pin:
        boot = f"{row.boot}: {row.boot_effect}" if row.boot else ""
        pull = f"pull {row.pull}" if row.pull else ""
        table.add_row(
            ", ".join(map(str, row.pins)),
            words[row.allow],
            boot,
            ", ".join(w for w in (pull, row.noise) if w),
            row.reason,
            _short(chip, row.source),
        )
    free = [p for p in (chip.table.pins.pins if chip.table.pins else ()) if not chip.pin_rows(p)]
    return Group(table, Text(f"All other pins are ordinary outputs: {', '.join(map(str, free)) or 'none'}"))


def _ohms(span: Span) -> str:
    """Three resistances."""
    return f"{span.low:g} .. {span.typical:g} .. {span.high:g} ohm"


def _from(chip: Chip, key: str, place: str) -> Text:
    """Source of a row in full."""
    return Text(f"from: {chip.sources[key].title}, {place}", style="dim")


def _short(chip: Chip, key: str) -> str:
    """Standing of the source of a row."""
    return chip.sources[key].standing


def plain_table(*columns: str) -> Table:
    """A plain table that reads without colour.

    Parameters
    ----------
    *columns : str
        Headings.

    Returns
    -------
    Table
        Without rows.
    """
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 2, 0, 0))
    for column in columns:
        table.add_column(column, overflow="fold")
    return table
