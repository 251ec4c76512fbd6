"""Lanes: the bus word split into colours and syncs, and the pins its bits reach."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from scanloom.basis.fact import Known
from scanloom.basis.outcome import Outcome
from scanloom.basis.verdict import Settle, Verdict
from scanloom.dossier.reading import Reading
from scanloom.handbook.chip import Stream
from scanloom.stages.lanes.crossings import count_crossings
from scanloom.stages.lanes.fitness import colour_style
from scanloom.stages.lanes.model import ChannelDrive, Lane, LaneMap, SyncPins
from scanloom.stages.lanes.routing import judge_routing
from scanloom.stages.lanes.split import Wanted, channel_drives, connector_of, default_lanes, depth_row, stated_lanes
from scanloom.stages.lanes.verdicts import judge_crossings, judge_pin_kind, judge_table, judge_width, judge_word_rate
from scanloom.stages.lanes.words import pack_words, unpack_words

__all__ = ["ChannelDrive", "Lane", "LaneMap", "SyncPins", "find_stream", "judge_lanes", "pack_words", "unpack_words"]


def judge_lanes(reading: Reading, word_rate_hz: Known[Fraction] | None) -> Outcome[LaneMap]:
    """Split the word of one rig and judge its lanes and pins.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    word_rate_hz : Known or None
        Pixel rate as the chip makes it. [Hz]

    Returns
    -------
    Outcome
        The lane map, or none when stream or depths are missing.
    """
    verdicts: list[Verdict] = []
    stream = find_stream(reading.fork())
    if isinstance(stream, Verdict):
        return Outcome(None, (stream,))
    base = reading.fork()
    wanted, channels, incomplete, faults = _displays(base, verdicts)
    sync = _sync_pins(reading.fork(), verdicts)
    if faults:
        return Outcome(None, tuple(verdicts))
    drives = [known.value for known in channels]
    h, v = (sync.value.h_pin, sync.value.v_pin) if sync else (None, None)
    row = base(stream)
    lanes = default_lanes(wanted, drives, h, v, row)
    stated = base.maybe(reading.rig.lanes)
    if stated is not None:
        ordered = stated_lanes(stated, lanes, row.lanes)
        if isinstance(ordered, str):
            subject = f"rigs.{reading.rig_name}.lanes"
            verdicts.append(
                base.verdict(
                    "lanes.order", subject, "stop", f"The lane order cannot be read: {ordered}.", state="fails"
                )
            )
            return Outcome(None, tuple(verdicts))
        lanes = ordered
    verdicts.append(judge_width(base.fork(), lanes, row))
    if row.table is not None:
        verdicts.append(judge_table(base.fork(), lanes, stream))
    if len(lanes) > row.lanes:
        return Outcome(None, tuple(verdicts))
    _judge_pins(reading, channels, sync, verdicts)
    hardware = sync.value if sync and row.sync == "hardware" else None
    holders = (*channels, *((sync,) if sync else ()))
    verdicts.append(judge_routing(base.fork(), lanes, reading.plan.chip, row.name, holders, hardware))
    rate = reading.fork()
    verdicts.append(judge_word_rate(rate, rate.maybe(word_rate_hz), stream))
    crossings = _judge_crossings(reading.fork(), verdicts)
    if sync is None:
        incomplete.append("the sync pins are not stated")
    result = LaneMap(stream, tuple(lanes), tuple(channels), sync, tuple(incomplete), crossings)
    return Outcome(result, tuple(verdicts))


def find_stream(read: Reading) -> Known[Stream] | Verdict:
    """Stream of the rig, or the verdict that says why there is none.

    Parameters
    ----------
    read : Reading
        Of one rig; a fork, since the stream's facts are noted in it.

    Returns
    -------
    Known or Verdict
        The handbook row resting on chip and stream, or a verdict.
    """
    chip = read.plan.chip
    subject = f"rigs.{read.rig_name}.stream"
    wanted = read.maybe(read.rig.stream)
    if chip is None or read.plan.dossier.chip is None or read.plan.dossier.chip.like is None:
        return read.verdict(
            "lanes.stream", subject, "stop", "The chip is not stated, so nothing is known of its streams.", state="unknown",
            settle=Settle("Write the chip into the dossier: [chip] like = ...", minutes=1, fact="chip.like"),
        )  # fmt: skip
    read(read.plan.dossier.chip.like)
    names = ", ".join(s.name for s in chip.table.stream)
    if wanted is None:
        return read.verdict(
            "lanes.stream", subject, "stop", f"The stream is not stated; {chip.name} has {names or 'none on record'}.", state="unknown",
            settle=Settle("Choose a stream by its lanes.", minutes=1, fact=subject),
        )  # fmt: skip
    for row in chip.table.stream:
        if row.name == " ".join(wanted.split()):
            read(chip.known("stream", row))
            return read.known(row)
    return read.verdict(
        "lanes.stream",
        subject,
        "stop",
        f"{chip.name} has no stream called {wanted!r}; it has {names or 'none on record'}.",
        state="fails" if chip.table.stream else "unknown",
    )


def _displays(
    base: Reading, verdicts: list[Verdict]
) -> tuple[list[Wanted], list[Known[ChannelDrive]], list[str], bool]:
    """Bits and channels of all displays, in connector order; what is missing becomes verdicts."""
    order = {c.plugs.value: i for i, c in enumerate(base.plan.connectors) if c.plugs is not None}
    displays = sorted(base.plan.displays.values(), key=lambda d: order.get(d.name, len(order)))
    wanted: list[Wanted] = []
    channels: list[Known[ChannelDrive]] = []
    incomplete: list[str] = []
    faults = not displays
    if not displays:
        verdicts.append(
            base.verdict(
                "lanes.depth",
                f"rigs.{base.rig_name}.depth",
                "stop",
                "No display is stated, so there is no word to split.",
                state="unknown",
            )
        )
    for display in displays:
        own = Reading(base.plan, base.rig)
        depths = depth_row(own, display)
        if depths is None or ("white" in depths and len(depths) > 1):
            verdicts.append(_depth_verdict(own, display.name, depths))
            faults = True
            continue
        base(own.known(None))  # the width of the word rests on groups and depths alone
        for depth in depths.values():
            base(depth)
        connector = connector_of(own, display.name)
        want = Wanted(display.name, connector, depths)
        found, missing = channel_drives(own, want)
        wanted.append(want)
        channels.extend(found)
        incomplete.extend(missing)
        verdicts.append(_pins_verdict(own, display.name, found, missing))
    return wanted, channels, incomplete, faults


def _depth_verdict(read: Reading, display: str, depths: Mapping[str, Known[int]] | None) -> Verdict:
    """A display without depth, or with white beside other channels."""
    subject = f"rigs.{read.rig_name}.depth"
    if depths is None:
        return read.verdict(
            "lanes.depth", f"{subject}.{display}", "stop", f"The rig states no depth for {display} or its group.", state="unknown",
            settle=Settle("Write its bits into the rig's depth.", minutes=1, fact=subject),
        )  # fmt: skip
    return read.verdict(
        "lanes.depth", f"{subject}.{display}", "stop",
        f"{display} has white beside other channels; white stands for all three at once.", state="fails",
    )  # fmt: skip


def _pins_verdict(
    own: Reading, display: str, found: tuple[Known[ChannelDrive], ...], missing: tuple[str, ...]
) -> Verdict:
    """Whether every bit of a display has its pin."""
    read = own.fork()
    for known in found:
        read(known)
    mismatch = any("bits and" in text or "hangs on" in text for text in missing)
    return read.verdict(
        "lanes.pins",
        f"displays.{display}",
        "stop",
        (missing[0][0].upper() + missing[0][1:] + ".") if missing else f"Every colour bit of {display} has its pin.",
        state="fails" if mismatch else "unknown" if missing else "holds",
        settle=Settle(
            "State connector and pins of the display under [board] connectors.", minutes=5, fact="board.connectors"
        ),
    )


def _sync_pins(read: Reading, verdicts: list[Verdict]) -> Known[SyncPins] | None:
    """Pins of the syncs; missing ones become a verdict."""
    board = read.plan.dossier.board
    if board is None or board.sync is None or board.sync.h is None or board.sync.v is None:
        verdicts.append(
            read.verdict(
                "lanes.sync",
                "board.sync",
                "stop",
                "The pins of the syncs are not stated.",
                state="unknown",
                settle=Settle("State both under [board] sync.", minutes=1, fact="board.sync"),
            )
        )
        return None
    return read.known(SyncPins(read(board.sync.h), read(board.sync.v)))


def _judge_pins(
    reading: Reading, channels: list[Known[ChannelDrive]], sync: Known[SyncPins] | None, verdicts: list[Verdict]
) -> None:
    """Pin kinds of every channel and of the syncs, each resting on its own pins."""
    chip_facts = reading.plan.dossier.chip
    for known in channels:
        drive = known.value
        connector = next(c for c in reading.plan.connectors if c.name == drive.connector)
        read = reading.fork()
        if chip_facts is not None:
            read.maybe(chip_facts.like)
        read(getattr(connector, drive.channel))
        style = colour_style(reading.plan, reading.plan.displays.get(drive.display))
        subject = f"board.connectors.{drive.connector}.{drive.channel}"
        verdicts.append(judge_pin_kind(read, subject, drive.pins, False, style))
    board, levels = reading.plan.dossier.board, reading.plan.dossier.levels
    wired = levels.sync.style if levels is not None and levels.sync is not None else None
    stated = board.sync if board is not None and sync is not None else None
    for name, pin_known in (("h", stated.h), ("v", stated.v)) if stated is not None else ():
        if pin_known is None:
            continue
        read = reading.fork()
        if chip_facts is not None:
            read.maybe(chip_facts.like)
        pin = read(pin_known)
        verdicts.append(judge_pin_kind(read, f"board.sync.{name}", (pin,), True, wired))


def _judge_crossings(read: Reading, verdicts: list[Verdict]) -> int | None:
    """Crossings of the colour tracks, by the maker's walking order or the handbook's."""
    plan = read.plan
    pins: list[int] = []
    for connector in plan.connectors:
        for stated in (connector.red, connector.green, connector.blue):
            pins.extend(() if stated is None else stated.value)
            read.maybe(stated)
    around: tuple[int, ...] | None = None
    if plan.dossier.board is not None and plan.dossier.board.around is not None:
        around = read(plan.dossier.board.around)
    elif plan.chip is not None and plan.chip.table.around is not None:
        if plan.dossier.chip is not None:
            read.maybe(plan.dossier.chip.like)
        around = read(plan.chip.known("around", plan.chip.table.around)).pins
    crossings = None if around is None or not pins else count_crossings(around, pins)
    verdicts.append(judge_crossings(read, crossings, around is not None))
    return crossings
