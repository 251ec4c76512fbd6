"""What a dossier wants of its pins, over all rigs at once, since the board serves every rig."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from scanloom.dossier.model import CHANNELS, Connector, Rig
from scanloom.dossier.plan import Plan
from scanloom.dossier.reading import Reading
from scanloom.handbook.chip import Chip, Routing, Stream
from scanloom.stages.lanes.fitness import colour_style, pin_fit
from scanloom.stages.lanes.propose_wish import ChannelWish, Hanging, PinWish, RingPin, SyncWish, WordNeed, lane_name
from scanloom.stages.lanes.split import Wanted, default_lanes, depth_row, stated_lanes


def wish_for(plan: Plan, *, keep: Collection[str] = (), may_buffer: bool = True) -> PinWish:
    """Pins and lanes of a dossier.

    Values are read without a note of their facts, since what is merely offered is no ground of a verdict.

    Parameters
    ----------
    plan : Plan
        The plan.
    keep : collection of str
        Connectors whose stated pins stay; ``sync`` for those of the syncs, ``all`` for every stated pin.
    may_buffer : bool
        Whether a sync may get a buffer where none is stated.

    Returns
    -------
    PinWish
        Channels of all rigs together, with the most bits that any rig gives each.

    Raises
    ------
    ValueError
        If the chip, its list of pins or its routing is not on record, no connector is stated, or `keep` names nothing here.
    """
    chip = plan.chip
    if chip is None or chip.table.pins is None or not chip.table.routing:
        given = "no chip is stated" if chip is None else f"{chip.name} has no list of pins or no routing on record"
        raise ValueError(f"{given}; a chip with both is wanted; name one in [chip] like, or complete its file")
    if not plan.connectors:
        raise ValueError(
            "no connector is stated; one for each display is wanted; list them in [board] connectors, left to right"
        )
    names = [one.name for one in plan.connectors]
    strange = [word for word in keep if word not in (*names, "sync", "all")]
    if strange:
        raise ValueError(
            f"{', '.join(strange)} names no connector; {', '.join(names)}, sync or all are allowed; correct the name"
        )
    notes: list[str] = []
    channels = _channels(plan, keep, notes)
    return PinWish(
        ring=_ring(plan, chip),
        channels=channels,
        syncs=_syncs(plan, keep, may_buffer),
        words=_words(plan, chip, channels, notes),
        ring_known=_around(plan, chip) is not None,
        notes=tuple(notes),
    )


def _around(plan: Plan, chip: Chip) -> tuple[int, ...] | None:
    """The maker's walking order, or the handbook's."""
    board = plan.dossier.board
    if board is not None and board.around is not None:
        return board.around.value
    return chip.table.around.pins if chip.table.around is not None else None


def _ring(plan: Plan, chip: Chip) -> tuple[RingPin, ...]:
    """Pins in walking order, or by number where it is not known, each with what may hang on it."""
    listed = chip.table.pins.pins if chip.table.pins is not None else ()
    made: list[RingPin] = []
    for pin in dict.fromkeys(_around(plan, chip) or listed):
        rows = chip.pin_rows(pin)
        if pin not in listed:
            made.append(RingPin(pin, "no", "no", "no", "no", why="the chip has no such pin"))
            continue
        why = [
            row.reason or row.boot_effect or row.role or ""
            for row in rows
            if row.allow != "any" or row.boot in ("must be high", "must be low")
        ]
        made.append(
            RingPin(
                pin,
                colour=pin_fit(rows, sync=False, buffered=False),
                sync=pin_fit(rows, sync=True, buffered=False),
                buffered_colour=pin_fit(rows, sync=False, buffered=True),
                buffered_sync=pin_fit(rows, sync=True, buffered=True),
                noise=", ".join(row.noise for row in rows if row.noise),
                why="; ".join(dict.fromkeys(filter(None, why))),
            )
        )
    return tuple(made)


def _channels(plan: Plan, keep: Collection[str], notes: list[str]) -> tuple[ChannelWish, ...]:
    """Channels of every connector: those that a rig gives bits, and those that have pins already."""
    made: list[ChannelWish] = []
    plugged = {one.plugs.value for one in plan.connectors if one.plugs is not None}
    homeless = [name for name in plan.displays if name not in plugged]
    if homeless:
        notes.append(f"Left out, since plugged in nowhere: {', '.join(homeless)}.")
    for connector in plan.connectors:
        display = plan.displays.get(connector.plugs.value) if connector.plugs is not None else None
        style = colour_style(plan, display)
        for channel in CHANNELS:
            stated = getattr(connector, channel)
            now: tuple[int, ...] = stated.value if stated is not None else ()
            bits = max((_bits(plan, rig, connector, channel) for rig in plan.rigs), default=0) or len(now)
            if not bits:
                continue
            kept = bool(now) and not {connector.name, "all"}.isdisjoint(keep)
            if now and len(now) != bits:
                notes.append(
                    f"{connector.name}.{channel} has {len(now)} pins and wants {bits}; all of them were chosen anew."
                )
                now, kept = (), False
            buffered = style is not None and style.value == "buffered"
            made.append(ChannelWish(connector.name, channel, bits, buffered, now, kept))
    return tuple(made)


def _bits(plan: Plan, rig: Rig, connector: Connector, channel: str) -> int:
    """Bits that a rig gives one channel of a connector; white stands for all three."""
    display = plan.displays.get(connector.plugs.value) if connector.plugs is not None else None
    depths = depth_row(Reading(plan, rig), display) if display is not None else None
    known = depths.get(channel, depths.get("white")) if depths is not None else None
    return known.value if known is not None else 0


def _syncs(plan: Plan, keep: Collection[str], may_buffer: bool) -> tuple[SyncWish, ...]:
    """Both syncs: through buffers where these are stated, else as it suits."""
    levels, board = plan.dossier.levels, plan.dossier.board
    style = levels.sync.style if levels is not None and levels.sync is not None else None
    hangs: Hanging = "either" if may_buffer else "direct"
    if style is not None and style.value == "buffered":
        hangs = "buffered"
    stated = board.sync if board is not None else None
    made: list[SyncWish] = []
    for name, known in (("h", stated.h if stated else None), ("v", stated.v if stated else None)):
        now = known.value if known is not None else None
        kept = now is not None and not {"sync", "all"}.isdisjoint(keep)
        made.append(SyncWish("h" if name == "h" else "v", hangs, now, kept))
    return tuple(made)


def _words(plan: Plan, chip: Chip, channels: Sequence[ChannelWish], notes: list[str]) -> tuple[WordNeed, ...]:
    """Words whose lanes cannot leave on just any pin, one or more a rig."""
    made: list[WordNeed] = []
    for rig in plan.rigs:
        name = " ".join(rig.stream.value.split()) if rig.stream is not None else ""
        stream = next((one for one in chip.table.stream if one.name == name), None)
        rule = chip.routing_of(stream.name) if stream is not None else None
        if stream is None or rule is None:
            notes.append(f"{rig.name} names no stream whose routing is on record, so its word was left out.")
            continue
        word, white = _word(plan, rig, stream, channels)
        if white and not rule.fan_out:
            notes.append(
                f"{rig.name} has white lanes, each on three pins; a lane of its stream reaches one only, so its word was left out."
            )
            continue
        made.extend(_needs(rig, stream, rule, word))
    return tuple(made)


def _needs(rig: Rig, stream: Stream, rule: Routing, word: Sequence[tuple[str, str]]) -> list[WordNeed]:
    """What the routing rule asks of a word, and of syncs that hardware makes."""
    made: list[WordNeed] = []
    if stream.sync == "hardware":
        for sync, pins in (("h", rule.h), ("v", rule.v)):
            if pins:
                made.append(WordNeed(rig.name, "among", ((sync, sync),), pins=pins))
    if rule.rule == "any":
        if rule.pins is not None:
            made.append(WordNeed(rig.name, "among", tuple(word), stream.lanes, pins=rule.pins))
    elif rule.rule == "run":
        made.append(WordNeed(rig.name, "run", tuple(word), stream.lanes, (), rule.windows, rule.bases))
    else:
        made.append(WordNeed(rig.name, "fixed", tuple(word), len(rule.choices), choices=rule.choices))
    return made


def _word(plan: Plan, rig: Rig, stream: Stream, channels: Sequence[ChannelWish]) -> tuple[list[tuple[str, str]], bool]:
    """Wanted lanes of a rig's word with their names in it, in its present order; and whether a lane feeds several."""
    plugs = {one.name: one.plugs.value for one in plan.connectors if one.plugs is not None}
    wanted: list[Wanted] = []
    for connector, display_name in plugs.items():
        display = plan.displays.get(display_name)
        depths = depth_row(Reading(plan, rig), display) if display is not None else None
        if depths:
            wanted.append(Wanted(display_name, next(c for c in plan.connectors if c.name == connector), depths))
    lanes = default_lanes(wanted, [], None, None, stream)
    stated = rig.lanes.value if rig.lanes is not None else None
    ordered = stated_lanes(stated, lanes, stream.lanes) if stated is not None else lanes
    lanes = lanes if isinstance(ordered, str) else ordered
    homes = {display: connector for connector, display in plugs.items()}
    by_channel: Mapping[tuple[str, str], ChannelWish] = {(one.connector, one.channel): one for one in channels}
    word: list[tuple[str, str]] = []
    white = False
    for lane in lanes:
        if not lane.display:
            word.append(("" if lane.carries == "spare" else lane.carries, lane.name))
            continue
        own = CHANNELS if lane.carries == "white" else (lane.carries,)
        white = white or len(own) > 1
        for channel in own:
            word.append((lane_name(by_channel[homes[lane.display], channel], lane.level_bit), lane.name))
    return word, white
