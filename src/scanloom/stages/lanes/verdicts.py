"""Is the word wide enough, are the pins fit for it, can the chip route it, is it slow enough."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.basis.verdict import Judged, Patch, Settle, Verdict
from scanloom.dossier.reading import Reading
from scanloom.handbook.chip import Chip, Pin, Stream
from scanloom.stages.lanes.fitness import row_fit
from scanloom.stages.lanes.model import Lane


def judge_width(read: Reading, lanes: Sequence[Lane], stream: Stream) -> Verdict:
    """Whether the word has a lane for every bit.

    Parameters
    ----------
    read : Reading
        Has read stream, depths and lane order.
    lanes : sequence of Lane
        Bits of the word, more than the stream has where they do not fit.
    stream : Stream
        The stream that sends it.

    Returns
    -------
    Verdict
        ``lanes.width``; spare lanes are named.
    """
    used = sum(lane.carries != "spare" for lane in lanes)
    colour = sum(bool(lane.display) for lane in lanes)
    spare = [str(lane.bit) for lane in lanes if lane.carries == "spare"]
    names = f"{colour} colour bits and {used - colour} syncs"
    return read.verdict(
        "lanes.width",
        f"rigs.{read.rig_name}.stream",
        "stop",
        {
            "holds": f"{names} take {used} of {stream.lanes} lanes; {'spare: ' + ', '.join(spare) if spare else 'none is spare'}.",
            "fails": f"{names} take {used} lanes, but the stream has {stream.lanes}.",
            "unknown": "",
        },
        found=Span.exact(float(used)),
        unit="lanes",
        high=float(stream.lanes),
    )


def judge_table(read: Reading, lanes: Sequence[Lane], stream_known: Known[Stream]) -> Verdict:
    """Whether every combination of the colour bits has an entry in the colour table.

    Parameters
    ----------
    read : Reading
        Has read stream and depths.
    lanes : sequence of Lane
        Bits of the word.
    stream_known : Known
        A stream whose stored words are indices into a table.

    Returns
    -------
    Verdict
        ``lanes.table``: combinations asked for against the entries there are.
    """
    entries = stream_known.value.table or 1
    bits = sum(lane.carries not in ("spare", "h", "v") for lane in lanes)
    return read.verdict(
        "lanes.table",
        f"rigs.{read.rig_name}.stream",
        "stop",
        {
            "holds": f"The {1 << bits} combinations of {bits} colour bits all have an entry in the colour table.",
            "fails": f"{bits} colour bits have {1 << bits} combinations, more than the colour table has entries.",
            "unknown": "",
        },
        found=Span.exact(float(1 << bits)),
        unit="entries",
        high=float(entries),
        limit=stream_known,
    )


def judge_pin_kind(
    read: Reading, subject: str, pins: Sequence[int], sync: bool, style: Known[str] | None = None
) -> Verdict:
    """Whether the pins of one net may carry a picture at all, by the chip's list of pins.

    Parameters
    ----------
    read : Reading
        Has read the pins; notes the chip's rows on them.
    subject : str
        Place in the dossier where the pins stand.
    pins : sequence of int
        Pins of the net. [1]
    sync : bool
        Whether they carry a sync; else a colour.
    style : Known or None
        How the net is wired, if it is stated; read only for a pin that a buffer would make fit.

    Returns
    -------
    Verdict
        ``lanes.pin-kind``: a pin that must not fails with weight stop, a last resort with caution. For a net of one pin
        the remedy names a free one.
    """
    chip = read.plan.chip
    job = "sync" if sync else "colour"
    if chip is None or chip.table.pins is None:
        return read.verdict(
            "lanes.pin-kind", subject, "stop", "The chip's list of pins is not known, so nobody can say what these pins are for.",
            state="unknown",
            settle=Settle("Read the pin list of the chip's datasheet into a chip file.", fact="chip.like"),
        )  # fmt: skip
    read(chip.known("pins", chip.table.pins))  # that nothing speaks against a pin is known from the whole list
    faults: list[str] = []
    cautions: list[str] = []
    through = ""
    row_known: Known[Pin] | None = None
    for pin in pins:
        if not chip.exists(pin):
            faults.append(f"pin {pin} does not exist")
        for row in chip.pin_rows(pin):
            if row.allow == "any":
                continue
            row_known = chip.known("pin", row)
            read(row_known)
            fit = row_fit(row, sync=sync, buffered=False)
            eased = row_fit(row, sync=sync, buffered=True)
            if eased != fit and style is not None and read(style) == "buffered":
                fit, through = eased, ", since only a buffer hangs on it"
            if fit == "no":
                faults.append(f"pin {pin} must not carry {job}: {row.reason or row.role or row.boot_effect}")
            elif fit == "last":
                cautions.append(f"pin {pin} is a last resort: {row.reason}")
    state: Judged = "fails" if faults or cautions else "holds"
    names = ", ".join(str(p) for p in pins)
    says = "; ".join(faults or cautions) or f"{'Pins' if len(pins) > 1 else 'Pin'} {names} may carry {job}{through}"
    free = free_pins(read, chip, sync) if state == "fails" else ()
    remedy = (Patch(subject, str(free[0]), f"move it to pin {free[0]}"),) if free and len(pins) == 1 else ()
    return read.verdict(
        "lanes.pin-kind",
        subject,
        "caution" if cautions and not faults else "stop",
        says[0].upper() + says[1:] + ".",
        state=state,
        limit=row_known,
        remedy=remedy,
    )


def judge_word_rate(read: Reading, word_rate_hz: Fraction | None, stream_known: Known[Stream]) -> Verdict:
    """Whether the stream is quick enough: over the planning rate is a caution, over the hard rate a stop.

    Parameters
    ----------
    read : Reading
        Has read the word rate.
    word_rate_hz : Fraction or None
        Words a second, which are the pixels as the chip makes them; None while the clock is not known. [Hz]
    stream_known : Known
        The stream with its two rates.

    Returns
    -------
    Verdict
        ``lanes.word-rate``; a rate at the limit holds.
    """
    stream = stream_known.value
    planned, hard = Fraction(stream.planned), Fraction(stream.hard)
    subject = f"rigs.{read.rig_name}.stream"
    over_hard = word_rate_hz is not None and word_rate_hz > hard
    # judged exactly: at the limit it holds
    over_planned = word_rate_hz is not None and hard >= word_rate_hz > planned
    limit = float(planned if over_planned else hard)
    return read.verdict(
        "lanes.word-rate",
        subject,
        "caution" if over_planned else "stop",
        {
            "holds": f"The words come no faster than planned for {stream.name}.",
            "fails": f"The words come faster than {'this stream can send' if over_hard else 'it is wise to plan'} "
            f"({stream.limited_by}).",
            "unknown": "The word rate is not known while the pixel clock is not.",
        },
        found=None if word_rate_hz is None else Span.exact(float(word_rate_hz)),
        unit="Hz",
        high=limit if over_planned or over_hard else float(planned),
        limit=stream_known,
        remedy=(
            Patch(
                f"rigs.{read.rig_name}.raster.divide", "2", "halve the pixel clock: each stored pixel is twice as wide"
            ),
        ),
    )


def judge_crossings(read: Reading, crossings: int | None, known_order: bool) -> Verdict:
    """Whether tracks from module to connectors can stay on one side; only ever a note.

    Parameters
    ----------
    read : Reading
        Has read the pins of the connectors and the walking order.
    crossings : int or None
        Fewest crossings; None when they cannot be counted. [1]
    known_order : bool
        Whether the order of the pins around the module is known, which decides why they cannot.

    Returns
    -------
    Verdict
        ``lanes.crossings``; holds without a crossing.
    """
    subject = "board.connectors"
    if crossings is None:
        why = "a pin is not in the walking order" if known_order else "the pins' order around the module is not known"
        return read.verdict(
            "lanes.crossings", subject, "note", f"Crossings cannot be counted: {why}.", state="unknown",
            settle=Settle("Walk counter-clockwise around the module, seen from above, and write its pin numbers into board.around.",
                          minutes=5, fact="board.around"),
        )  # fmt: skip
    return read.verdict(
        "lanes.crossings",
        subject,
        "note",
        {
            "holds": "Pins and connectors come in the same order: colour tracks need not cross, one side will do.",
            "fails": f"Colour tracks cross {crossings} times: a one-sided prototype needs as many wire bridges.",
            "unknown": "",
        },
        found=Span.exact(float(crossings)),
        unit="crossings",
        high=0.0,
    )


def free_pins(read: Reading, chip: Chip, sync: bool) -> tuple[int, ...]:
    """Pins of the chip that are not in use and may carry colour or sync without a reservation.

    Parameters
    ----------
    read : Reading
        Gives the plan; nothing is noted, since what is merely offered is no ground of a verdict.
    chip : Chip
        Record of the chip.
    sync : bool
        Whether the pin is to carry a sync; else a colour.

    Returns
    -------
    tuple of int
        In the order of the record, without pins of connectors and syncs; empty when the record lists no pins. [1]
    """
    if chip.table.pins is None:
        return ()
    board = read.plan.dossier.board
    taken: set[int] = set()
    for connector in read.plan.connectors:
        for known in (connector.red, connector.green, connector.blue):
            taken.update(known.value if known else ())
    for pin in (board.sync.h, board.sync.v) if board and board.sync else ():
        taken.update({pin.value} if pin else ())
    allowed = ("any",) if sync else ("any", "colour")
    return tuple(
        pin
        for pin in chip.table.pins.pins
        if pin not in taken and all(row.allow in allowed and not row.noise for row in chip.pin_rows(pin))
    )
