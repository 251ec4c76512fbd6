"""Commands that compute without a dossier: timing, clock, levels."""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from typing import TYPE_CHECKING, Annotated, Literal, TypeVar

from cyclopts import Parameter

from scanloom.cli.door import Refused, answer, console, write
from scanloom.handbook.timing_row import FormulaName

if TYPE_CHECKING:
    from scanloom.basis.span import Span
    from scanloom.stages.levels.model import OutputNetwork

Flag = Parameter(negative="")
T = TypeVar("T")


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
            row = _asked("NAME", lambda: timing_named(name))
            cautions = formula_cautions(row)
        else:
            asked = _asked("NAME", lambda: asked_timing(name))
            row = _asked("NAME", lambda: formula_timing(formula, *asked))
            cautions = formula_cautions(row, asked[0])
        raster = _asked("--divide", lambda: child_raster(row, divide))
        size = _size(picture) if picture is not None else None
        option = "--repeat" if picture is None else "--picture"
        image = (
            None if raster.interlaced and size is None else _asked(option, lambda: image_window(raster, size, repeat))
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

        hertz = Fraction(_asked("TARGET", lambda: units.read(target, "Hz")))
        bounds = None
        if system is not None:
            span = _asked("--system", lambda: units.read_span(system, "Hz"))
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
        found = _asked(
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


def levels(
    *,
    parts: str,
    pin: str = "0 ohm",
    pin_low: str | None = None,
    rail: str = "3.3 V",
    load: str = "75 ohm",
    style: Literal["weighted", "ladder"] = "weighted",
    tolerance: str | None = None,
    json: Annotated[bool, Flag] = False,
) -> int:
    """Compute the levels of one colour channel with given parts.

    Parameters
    ----------
    parts
        Resistors, most significant first, such as 510,1k,2k,3.9k; for a ladder R,2R and the bits as 180,360x8.
    pin
        Output resistance of a pin, such as "25 ohm" or "20 .. 40 ohm".
    pin_low
        Output resistance of a pin driven low, where it differs.
    rail
        Supply of the pins.
    load
        Termination in the display.
    style
        Each part to the connector, or a ladder of two values.
    tolerance
        Tolerance of the parts, such as "1 %".
    json
        Print JSON.

    Returns
    -------
    int
        0, or 2 when the question cannot be read.
    """

    def work() -> int:
        network = _network(parts, pin, pin_low, rail, load, style, tolerance)
        if json:
            from scanloom.report.json_text import envelope
            from scanloom.report.level_sums import levels_doc

            write(envelope("levels", levels_doc(network)))
        else:
            from scanloom.report.sheets import levels_sheet

            console().print(levels_sheet(network))
        return 0

    return answer("levels", json, work)


def _network(
    parts: str, pin: str, pin_low: str | None, rail: str, load: str, style: str, tolerance: str | None
) -> OutputNetwork:
    """Output network of what was typed."""
    from scanloom.basis import units
    from scanloom.basis.span import Span
    from scanloom.stages.levels.model import OutputNetwork

    percent = float(_asked("--tolerance", lambda: units.read(tolerance, "%"))) if tolerance else 0.0
    _asked("--tolerance", lambda: Span.exact(1.0).relative(percent))
    ladder = re.fullmatch(r"(.*)x(\d+)", parts)
    listed, count = (ladder[1], ladder[2]) if ladder else (parts, "")
    values = [_part(word, percent) for word in listed.split(",")]
    high = _span(pin, "ohm", "--pin")
    low = high if pin_low is None else _span(pin_low, "ohm", "--pin-low")
    rail_v, load_ohm = _span(rail, "V", "--rail"), _span(load, "ohm", "--load")
    if style == "ladder":
        if len(values) != 2 or not count.isdigit() or not 1 <= int(count) <= 12:
            raise Refused(
                "--parts", f"{parts!r} is no ladder; R,2R and the number of bits are allowed; write 180,360x8"
            )
        rung, leg = values
        bits = int(count)
        return _asked(
            "--parts",
            lambda: OutputNetwork(
                "ladder", (leg,) * bits, high, low, rail_v, load_ohm, rung_ohm=(rung,) * (bits - 1), terminator_ohm=leg
            ),
        )
    if count:
        raise Refused("--parts", f"{parts!r}: a number of bits goes with --style ladder; list one part a bit")
    kind: Literal["series", "weighted"] = "series" if len(values) == 1 else "weighted"
    return _asked("--parts", lambda: OutputNetwork(kind, tuple(values), high, low, rail_v, load_ohm))


def _part(word: str, percent: float) -> Span:
    """One resistor with its tolerance."""
    from scanloom.basis.span import Span
    from scanloom.basis.typed_amounts import read_part

    return _asked("--parts", lambda: Span.exact(float(read_part(word))).relative(percent))


def _span(text: str, unit: str, argument: str) -> Span:
    """A quantity with bounds from an argument."""
    from scanloom.basis import units

    return _asked(argument, lambda: units.read_span(text, unit)).span()


def _size(text: str) -> tuple[int, int]:
    """Width and height from an argument."""
    width, mark, height = text.partition("x")
    if not (mark and width.strip().isdigit() and height.strip().isdigit()):
        raise Refused("--picture", f"{text!r} is no size; width x height is allowed; write 320x200")
    return int(width), int(height)


def _asked(argument: str, work: Callable[[], T]) -> T:
    """Result of some work; words with which it refuses are put to the argument."""
    try:
        return work()
    except ValueError as error:
        raise Refused(argument, str(error)) from None
