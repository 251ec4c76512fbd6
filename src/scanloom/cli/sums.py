"""Commands that compute without a dossier: timing, clock."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated

from cyclopts import Parameter

from scanloom.cli.door import Refused, answer, asked, console, write
from scanloom.handbook.timing_row import FormulaName

Flag = Parameter(negative="")


def timing(
    name: str,
    *,
    divide: int = 1,
    repeat: int = 1,
    picture: str | None = None,
    formula: FormulaName | None = None,
    json: Annotated[bool, Flag] = False,
) -> int:
    """Show a published timing, or one by formula, divided and with a picture in it if asked for.

    Parameters
    ----------
    name
        Timing such as 800x600@60, 1280x768@60-rb, 1024x768@87i or dmt:0x16; with --formula, size and rate.
    divide
        Divide clock and horizontal figures; must be exact.
    repeat
        Times each image row is sent.
    picture
        Stored pixels by image rows, such as 320x200; the rest is border.
    formula
        Compute the timing instead: CVT with full blanking, with reduced blanking version 1 or 2, or GTF.
    json
        Print JSON.

    Returns
    -------
    int
        0, or 2 when the timing cannot be made.
    """

    def work() -> int:
        from scanloom.handbook.sources import source
        from scanloom.stages.timing import (
            asked_timing,
            child_raster,
            formula_cautions,
            formula_timing,
            image_window,
            timing_named,
        )

        if formula is None:
            row = asked("NAME", lambda: timing_named(name))
            cautions = formula_cautions(row)
        else:
            wanted = asked("NAME", lambda: asked_timing(name))
            row = asked("NAME", lambda: formula_timing(formula, *wanted))
            cautions = formula_cautions(row, wanted[0])
        raster = asked("--divide", lambda: child_raster(row, divide))
        size = _size(picture) if picture is not None else None
        option = "--repeat" if picture is None else "--picture"
        image = (
            None if raster.interlaced and size is None else asked(option, lambda: image_window(raster, size, repeat))
        )
        if json:
            from scanloom.report.json_text import envelope
            from scanloom.report.timing_doc import timing_doc

            write(envelope("timing", timing_doc(raster, image, source(row.source).title, row.place, cautions)))
        else:
            from scanloom.report.sheets import timing_sheet

            console().print(timing_sheet(raster, image, source(row.source).title, row.place, cautions))
        return 0

    return answer("timing", json, work)


def clock(
    target: str,
    *,
    chip: str,
    h_total: int,
    system: str | None = None,
    whole_only: Annotated[bool, Flag] = False,
    stream: str | None = None,
    limit: int = 8,
    json: Annotated[bool, Flag] = False,
) -> int:
    """List the pixel rates a chip can really make near a target, best first.

    Parameters
    ----------
    target
        Pixel rate wanted, such as "25.175 MHz".
    chip
        Chip of the handbook, or a path to your own chip file.
    h_total
        Pixels of a whole line, blanking included.
    system
        Range of system clocks to use, such as "100 .. 133 MHz".
    whole_only
        Leave out fractional dividers.
    stream
        Stream by its lanes, such as "8 lanes", where the clocks depend on it.
    limit
        Rows wanted.
    json
        Print JSON.

    Returns
    -------
    int
        0, 1 when no rate lies within 5000 ppm, or 2 when the question cannot be read.
    """

    def work() -> int:
        from scanloom.basis import units
        from scanloom.cli.sheets import find_chip
        from scanloom.stages.clock import chains_for, enumerate_chains

        hertz = Fraction(asked("TARGET", lambda: units.read(target, "Hz")))
        bounds = None
        if system is not None:
            span = asked("--system", lambda: units.read_span(system, "Hz"))
            bounds = (Fraction(span.low), Fraction(span.high))
        record = find_chip(chip, "--chip")
        name = " ".join(stream.split()) if stream else None
        names = [s.name for s in record.table.stream]
        if name is not None and name not in names:
            raise Refused(
                "--stream", f"{stream!r} is no stream of {record.name}; {', '.join(names)} are allowed; choose one"
            )
        chains = chains_for(record, name)
        if name is None and any(c.streams for c in chains):
            raise Refused(
                "--stream",
                f"the clocks of {record.name} depend on the stream; {', '.join(names)} are allowed; add --stream '{names[0]}'",
            )
        if limit < 1:
            raise Refused("--limit", f"{limit} rows: 1 or more are allowed; give the rows wanted")
        if h_total < 1:
            raise Refused("--h-total", f"{h_total} pixels: 1 or more are allowed; give the horizontal total")
        found = asked(
            "TARGET, --system",
            lambda: enumerate_chains(
                chains, hertz, h_total_px=h_total, system_hz=bounds, whole_only=whole_only, limit=limit
            ),
        )
        if json:
            from scanloom.report.json_text import envelope
            from scanloom.report.timing_doc import clock_doc

            write(envelope("clock", clock_doc(record.name, hertz, h_total, found)))
        else:
            from scanloom.report.sheets import clock_sheet

            console().print(clock_sheet(record.name, float(hertz), found))
        return 0 if any(c.within for c in found) else 1

    return answer("clock", json, work)


def _size(text: str) -> tuple[int, int]:
    """Width and height from an argument."""
    width, mark, height = text.partition("x")
    if not (mark and width.strip().isdigit() and height.strip().isdigit()):
        raise Refused("--picture", f"{text!r} is no size; width x height is allowed; write 320x200")
    return int(width), int(height)
