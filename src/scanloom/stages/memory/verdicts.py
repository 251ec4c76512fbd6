"""Does the frame fit the free blocks, and is there time to draw it."""

from __future__ import annotations

from collections.abc import Iterable

from scanloom.basis.span import Span
from scanloom.basis.verdict import Patch, Settle, Verdict
from scanloom.dossier.reading import Reading
from scanloom.stages.memory.drawing import DrawingTime, FitChange
from scanloom.stages.memory.placement import Placement
from scanloom.stages.timing import RasterTiming


def judge_alignment(read: Reading, why: str | None) -> Verdict:
    """Whether runs of a line are whole reads of the DMA.

    Parameters
    ----------
    read : Reading
        Has read raster, picture and stream.
    why : str or None
        What is not whole, in words; None when all is.

    Returns
    -------
    Verdict
        ``memory.alignment``.
    """
    subject = f"rigs.{read.rig_name}.stream"
    if why is None:
        return read.verdict(
            "memory.alignment",
            subject,
            "stop",
            "Picture and blanking of a line are whole reads of the DMA.",
            state="holds",
        )
    return read.verdict("memory.alignment", subject, "stop", why[:1].upper() + why[1:].rstrip(".") + ".", state="fails")


def blocks_unknown(read: Reading, state: str | None, known: tuple[str, ...]) -> Verdict:
    """No list of free blocks for the firmware state.

    Parameters
    ----------
    read : Reading
        Has read the firmware state, if there is one.
    state : str or None
        Name of the state; None when the rig states none and none can be assumed.
    known : tuple of str
        States whose blocks are known.

    Returns
    -------
    Verdict
        ``memory.blocks``, unknown.
    """
    listed = f" Known are {', '.join(known)}." if known else ""
    what = f"in the state {state!r}" if state else "while the firmware state is not stated"
    return read.verdict(
        "memory.blocks", f"rigs.{read.rig_name}.firmware", "stop", f"How much RAM is free {what} is not known.{listed}", state="unknown",
        settle=Settle("Let the firmware print its free blocks, largest first, just before the frame is allocated.", minutes=15,
                      fact=f"chip.free.{state or 'bare'}"),
    )  # fmt: skip


def judge_blocks(
    read: Reading, placed: Placement, rows: int, changes: Iterable[FitChange], raster: RasterTiming
) -> Verdict:
    """Whether every row, blank run, entry and the piece kept back find room.

    Parameters
    ----------
    read : Reading
        Has read frame, blocks and keep-back.
    placed : Placement
        Where one frame lies.
    rows : int
        Image rows of the frame. [1]
    changes : iterable of FitChange
        Changes that would let it fit.
    raster : RasterTiming
        The raster, which the changes start from.

    Returns
    -------
    Verdict
        ``memory.blocks``: rows for which there is room, against those of the frame; each change is a remedy.
    """
    room = rows - placed.lines_missing
    if placed.fits and placed.line_bytes:
        room += sum(left // placed.line_bytes for left in placed.left_bytes)
    homeless = any(item.block is None for item in placed.specials)
    short = (
        "the pieces that must lie whole find no room"
        if homeless
        else f"{placed.lines_missing} of {rows} rows find no room"
    )
    return read.verdict(
        "memory.blocks",
        f"rigs.{read.rig_name}.raster",
        "stop",
        {
            "holds": f"The frame takes {placed.used_bytes} B with {placed.keep_back_bytes} B kept back and fits the blocks; "
            f"{placed.free_bytes} B stay free.",
            "fails": f"The frame takes {placed.used_bytes} B with {placed.keep_back_bytes} B kept back: {short}.",
            "unknown": "",
        },
        found=Span.exact(float(room)),
        unit="rows",
        low=float(rows),
        settle=Settle(
            "Let the firmware print its free blocks, largest first, just before the frame is allocated.",
            f"room for {rows} rows of {placed.line_bytes} B beside the rest",
            "less",
            15,
            "chip.free",
        ),
        remedy=tuple(_patch(read, change, raster) for change in changes),
    )


def judge_second_frame(read: Reading, wanted: int, placed: Placement) -> Verdict:
    """Whether as many frames fit as the rig asks for.

    Parameters
    ----------
    read : Reading
        Has read frame, blocks, keep-back and the number of frames.
    wanted : int
        Frames the rig asks for. [1]
    placed : Placement
        Placement that has counted the frames for which there is room.

    Returns
    -------
    Verdict
        ``memory.frames``.
    """
    subject = f"rigs.{read.rig_name}.frames"
    return read.verdict(
        "memory.frames",
        subject,
        "stop",
        {
            "holds": f"{wanted} frames fit at once.",
            "fails": f"{wanted} frames do not fit at once; {placed.frames_that_fit} would.",
            "unknown": "",
        },
        found=Span.exact(float(placed.frames_that_fit)),
        unit="frames",
        low=float(wanted),
        remedy=(Patch(subject, "1", "draw into the one frame that is shown"),),
    )


def judge_drawing(read: Reading, drawing: DrawingTime, redraw_s: Span | None) -> Verdict:
    """Whether a picture is drawn within the lines that show none; drawing behind the beam is stated beside it.

    Parameters
    ----------
    read : Reading
        Has read raster, picture, clock and the redraw time.
    drawing : DrawingTime
        Windows in which a row may be written.
    redraw_s : Span or None
        Time the firmware needs for one picture; None when not stated. [s]

    Returns
    -------
    Verdict
        ``memory.drawing-time``: a caution, or an unknown note when the time is not stated.
    """
    subject = f"rigs.{read.rig_name}.redraw"
    window = f"{drawing.blank_lines} blank lines give {drawing.blank_window_s * 1e3:.2f} ms"
    behind = f"from top to bottom behind the beam there are {drawing.behind_beam_s * 1e3:.1f} ms"
    settle = Settle(
        "Toggle a spare pin around the firmware's drawing of one picture and read its length.",
        f"up to {drawing.blank_window_s * 1e3:.2f} ms",
        "longer",
        15,
        subject,
    )
    if redraw_s is None:
        says = f"How long a redraw takes is not stated; {window}, {behind}."
        return read.verdict("memory.drawing-time", subject, "note", says, state="unknown", settle=settle)
    return read.verdict(
        "memory.drawing-time",
        subject,
        "caution",
        {
            "holds": f"A redraw fits the lines that show no picture: {window}.",
            "fails": f"A redraw does not fit the lines that show no picture: {window}; {behind}.",
            "unknown": f"A redraw may or may not fit the lines that show no picture: {window}; {behind}.",
        },
        found=redraw_s,
        unit="s",
        high=drawing.blank_window_s,
        settle=settle,
    )


def _patch(read: Reading, change: FitChange, raster: RasterTiming) -> Patch:
    """A change of the raster as one patch."""
    divide = raster.divide * (2 if change.divide_doubled else 1)
    choice = read.rig.raster
    parent = choice.parent.value if choice and choice.parent else raster.parent
    formula = f'formula = "{choice.formula.value}", ' if choice and choice.formula else ""
    value = (
        f'{{ parent = "{parent}", {formula}divide = {divide}, repeat = {change.line_repeat}, '
        f'picture = "{change.picture_px}x{change.picture_rows}" }}'
    )
    return Patch(f"rigs.{read.rig_name}.raster", value, f"{change.what}: saves {change.bytes_saved} B")
