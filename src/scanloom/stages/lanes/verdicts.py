"""Is the word wide enough, are the pins fit for it, can the chip route it, is it slow enough."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Any

from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.basis.verdict import Judged, Patch, Settle, Verdict
from scanloom.dossier.reading import Reading
from scanloom.handbook.chip import Chip, Pin, Routing, Stream
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


def judge_pin_kind(read: Reading, subject: str, pins: Sequence[int], sync: bool) -> Verdict:
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
    row_known: Known[Pin] | None = None
    for pin in pins:
        if not chip.exists(pin):
            faults.append(f"pin {pin} does not exist")
        for row in chip.pin_rows(pin):
            if row.allow == "any":
                continue
            row_known = chip.known("pin", row)
            read(row_known)
            if row.allow == "none" or (row.allow == "colour" and sync):
                faults.append(f"pin {pin} must not carry {job}: {row.reason or row.role or row.boot_effect}")
            elif row.allow == "last":
                cautions.append(f"pin {pin} is a last resort: {row.reason}")
    state: Judged = "fails" if faults or cautions else "holds"
    names = ", ".join(str(p) for p in pins)
    says = "; ".join(faults or cautions) or f"{'Pins' if len(pins) > 1 else 'Pin'} {names} may carry {job}"
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


def judge_routing(read: Reading, lanes: Sequence[Lane], chip: Chip | None, pins: Iterable[Known[Any]]) -> Verdict:
    """Whether the chip can bring each lane to its pins.

    Parameters
    ----------
    read : Reading
        Has read stream and depths; notes the routing rule.
    lanes : sequence of Lane
        Bits of the word with the pins they reach.
    chip : Chip or None
        Record of the chip, if it is known.
    pins : iterable of Known
        Channels and sync pins; read only where the rule makes pin numbers matter.

    Returns
    -------
    Verdict
        ``lanes.routing``; unknown when no rule is on record, and for a run while a lane has no pin.
    """
    subject = f"rigs.{read.rig_name}.lanes"
    rule = chip.table.routing if chip else None
    if chip is None or rule is None:
        return read.verdict(
            "lanes.routing", subject, "stop", "How this chip routes lanes to pins is not known.", state="unknown",
            settle=Settle("Look up in the chip's manual which pins its stream can reach.", fact="chip.like"),
        )  # fmt: skip
    known = chip.known("routing", rule)
    read(known)
    if rule.rule != "any" or not rule.fan_out:
        for holder in pins:
            read(holder)
    used = [lane for lane in lanes if lane.pins]
    fanned = [lane for lane in used if len(lane.pins) > 1]
    if fanned and not rule.fan_out:
        first = fanned[0]
        return read.verdict(
            "lanes.routing",
            subject,
            "stop",
            f"Lane {first.bit} ({first.name}) feeds pins {', '.join(map(str, first.pins))}, but a lane of this chip reaches one "
            "pin only; give red, green and blue a bit each.",
            state="fails",
            limit=known,
            remedy=_split_white(read, first),
        )
    if rule.rule == "any":
        says = "Any lane reaches any of these pins" + (f"; {len(fanned)} lanes feed several pins." if fanned else ".")
        return read.verdict("lanes.routing", subject, "stop", says, state="holds", limit=known)
    return _judge_run(read, subject, lanes, known)


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


def _judge_run(read: Reading, subject: str, lanes: Sequence[Lane], known: Known[Routing]) -> Verdict:
    """Routing of a chip whose lanes leave on one consecutive run of pins."""
    used = [lane for lane in lanes if lane.pins]
    homeless = [lane.name for lane in lanes if lane.carries != "spare" and not lane.pins]
    if homeless:
        return read.verdict(
            "lanes.routing",
            subject,
            "stop",
            f"Whether the lanes leave on one run of pins is not known while {', '.join(homeless)} has no pin.",
            state="unknown",
            limit=known,
        )
    bases = {lane.pins[0] - lane.bit for lane in used}
    pins = sorted(lane.pins[0] for lane in used)
    if len(bases) <= 1:
        where = f"pins {pins[0]} to {pins[-1]}" if pins else "no pin"
        return read.verdict(
            "lanes.routing", subject, "stop", f"The lanes leave on one run, {where}.", state="holds", limit=known
        )
    run = len(pins) == pins[-1] - pins[0] + 1
    ordered = sorted(used, key=lambda lane: lane.pins[0])
    names = ", ".join(f'"{lane.name}"' for lane in ordered)
    return read.verdict(
        "lanes.routing",
        subject,
        "stop",
        f"Lanes of this chip leave on consecutive pins in the order of the word; the pins are {', '.join(map(str, pins))}"
        + (", but the word's order differs." if run else ", which is no unbroken run."),
        state="fails",
        limit=known,
        remedy=(Patch(subject, f"[{names}]", "order the word by pin number"),) if run else (),
    )


def _split_white(read: Reading, lane: Lane) -> tuple[Patch, ...]:
    """Give each colour its own lane instead of one white lane."""
    display = read.plan.displays.get(lane.display)
    group = display.group.value if display is not None and display.group is not None else lane.display
    owner = group if group in read.rig.depth else lane.display
    bits = read.rig.depth[owner]["white"].value if "white" in read.rig.depth.get(owner, {}) else 1
    value = f"{{ red = {bits}, green = {bits}, blue = {bits} }}"
    return (Patch(f"rigs.{read.rig_name}.depth.{owner}", value, "give red, green and blue lanes of their own"),)
