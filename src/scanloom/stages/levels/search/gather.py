"""A joint request from a dossier, and the patches that write its answer back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.basis.verdict import Patch
from scanloom.dossier.model import Display
from scanloom.dossier.reading import Reading
from scanloom.stages.lanes import ChannelDrive, LaneMap
from scanloom.stages.levels.colour import pin_limits
from scanloom.stages.levels.edges import cable_of
from scanloom.stages.levels.network import Missing, colour_stage, pin_driver
from scanloom.stages.levels.search.joint_request import (
    CurrentCap,
    JointChannel,
    JointProposal,
    JointRequest,
    JointSync,
)
from scanloom.stages.levels.search.request import MOST_BITS
from scanloom.stages.levels.shared import output_groups, shared_sync, sync_stage

SEARCHED_STYLES = ("direct", "series", "weighted")
"""Colour stages whose legs go from a pin of the chip straight to the connector."""


@record
class BoardParts:
    """What a board asks a joint search for.

    Parameters
    ----------
    request : JointRequest or None
        Channels, syncs and caps; None where no channel can be searched.
    stage_of : tuple of str
        For each channel of the request, the colour stage of the dossier that lists its parts.
    left_out : tuple of str
        What was left out, and why.
    """

    request: JointRequest | None
    stage_of: tuple[str, ...]
    left_out: tuple[str, ...]


def board_parts(rigs: Sequence[tuple[Reading, LaneMap]], wish: JointRequest) -> BoardParts:
    """Every channel and sync of all rigs, each once, with what the dossier and the handbook say of them.

    Channels of one colour stage with equally many pins share one list of parts. So they are searched as one kind, into
    a load that lies anywhere their displays' loads lie.

    Parameters
    ----------
    rigs : sequence of (Reading, LaneMap)
        Each rig with its lanes.
    wish : JointRequest
        Values, tolerance and demands; its channels, syncs and caps are replaced.

    Returns
    -------
    BoardParts
        The request, and what it leaves out.
    """
    channels: dict[str, JointChannel] = {}
    stages: dict[str, str] = {}
    left_out: dict[str, None] = {}
    most_a: list[float] = []
    syncs: dict[str, JointSync] = {}
    for reading, lanes in rigs:
        for known in lanes.channels:
            drive = known.value
            name = f"displays.{drive.display}.{drive.channel}"
            if name in channels:
                continue
            try:
                channels[name], stages[name] = _channel(reading.fork(), drive, name)
            except Missing as missing:
                left_out[f"{name}: {missing.says}."] = None
                continue
            limits = pin_limits(reading.fork(), drive.pins)
            most_a += [min(amount for amount, _ in limits)] if limits else []
        try:
            for sync in _syncs(reading.fork()):
                syncs.setdefault(sync.name, sync)
        except Missing as missing:
            left_out[f"levels.sync: {missing.says}."] = None
    if not channels:
        return BoardParts(None, (), tuple(left_out))
    joined = _joined(channels, stages)
    return BoardParts(
        replace(
            wish,
            channels=joined,
            syncs=tuple(syncs.values()),
            caps=_caps(rigs, channels, syncs),
            pin_most_a=min(most_a) if most_a else None,
        ),
        tuple(stages[one.name] for one in joined),
        tuple(left_out),
    )


def _channel(read: Reading, drive: ChannelDrive, name: str) -> tuple[JointChannel, str]:
    """One channel and the place of its colour stage."""
    display = read.plan.displays[drive.display]
    stage, key = colour_stage(read, display)
    style = read(stage.style) if stage is not None and stage.style is not None else "weighted"
    if style not in SEARCHED_STYLES:
        raise Missing(f"A colour stage of style {style!r} is not searched", f"{key}.style", "")
    if len(drive.pins) > MOST_BITS:
        raise Missing(f"{len(drive.pins)} pins are more than the {MOST_BITS} that are searched", f"{key}.part", "")
    if display.colour_load is None:
        raise Missing(f"The colour load of {display.name} is not known", f"displays.{display.name}.colour_load", "")
    pins = pin_driver(read, sinks=len(drive.pins) > 1)
    return JointChannel(name, len(drive.pins), pins.high_ohm, pins.low_ohm, pins.rail_v, read(display.colour_load)), key


def _joined(channels: dict[str, JointChannel], stages: dict[str, str]) -> tuple[JointChannel, ...]:
    """Channels with the loads of all that share their list of parts."""
    loads: dict[tuple[str, int], list[Span]] = {}
    for name, one in channels.items():
        loads.setdefault((stages[name], one.bits), []).append(one.load_ohm)

    def load(spans: list[Span]) -> Span:
        low, high = min(s.low for s in spans), max(s.high for s in spans)
        return Span(low, sum(s.typical for s in spans) / len(spans), high) if len(set(spans)) > 1 else spans[0]

    return tuple(replace(one, load_ohm=load(loads[stages[name], one.bits])) for name, one in channels.items())


def _plugged(read: Reading) -> tuple[Display, ...]:
    """Displays that a connector names."""
    plugged = {one.plugs.value for one in read.plan.connectors if one.plugs is not None}
    return tuple(one for one in read.plan.displays.values() if one.name in plugged)


def _syncs(read: Reading) -> list[JointSync]:
    """Sync outputs with what hangs on them, their branches left open."""
    stage, style = sync_stage(read)
    made = []
    for members in output_groups(read, stage, style, _plugged(read)):
        shared = shared_sync(read, stage, style, members)
        name = f"displays.{members[0].name}.sync" if style == "buffered" else "sync"
        try:
            cables = tuple([cable_of(read, display) for display in members])
        except Missing:  # then levels.sync-edge is unknown whatever the branch
            cables = None
        made.append(JointSync(name, shared, 2 * len(members), cables=cables))
    return made


def _caps(
    rigs: Sequence[tuple[Reading, LaneMap]], channels: dict[str, JointChannel], syncs: dict[str, JointSync]
) -> tuple[CurrentCap, ...]:
    """Totals and banks of the chip, once for each rig whose channels differ."""
    made: dict[tuple[float, tuple[str, ...]], CurrentCap] = {}
    for reading, lanes in rigs:
        chip = reading.plan.chip
        if chip is None:
            continue
        own_a = chip.table.own_pins.amount.high if chip.table.own_pins is not None else 0.0
        driven = {f"displays.{k.value.display}.{k.value.channel}": k.value for k in lanes.channels if k.value.driven}
        direct = tuple(name for name in syncs if name == "sync")  # a buffer's output does not load the chip
        wires = lanes.sync_pins.value if lanes.sync_pins is not None else None
        for row in chip.table.current:
            if row.over != "all pins":
                continue
            pins = None if row.pins is None else set(row.pins)
            members = tuple(
                name for name, one in driven.items() if name in channels and (pins is None or pins & set(one.pins))
            )
            if pins is None or (wires is not None and pins & {wires.h_pin, wires.v_pin}):
                members += direct
            name = "all pins" if pins is None else f"pins {min(pins)} to {max(pins)}"
            most_a = float(row.amount)
            cap = CurrentCap(f"{name} in rig {reading.rig_name}", most_a, members, own_a if pins is None else 0.0)
            if members:
                made.setdefault((most_a, members), cap)
    return tuple(made.values())


def joint_patches(board: BoardParts, found: JointProposal) -> tuple[tuple[Patch, ...], tuple[str, ...]]:
    """Changes of the dossier that write a set of parts back, and what they cannot say.

    Parameters
    ----------
    board : BoardParts
        Where the channels come from.
    found : JointProposal
        Their parts.

    Returns
    -------
    tuple
        The patches, and a sentence for each colour stage whose channels need different lists.
    """
    percent = f"{found.request.tolerance_percent:g} %"
    lists: dict[str, dict[str, int]] = {}
    for stage, channel, net in zip(board.stage_of, found.request.channels, found.channels, strict=True):
        ohms = ", ".join(f"{leg.whole_ohm:g}" for leg in net.legs)
        made = ", ".join(str(leg) for leg in net.legs)
        style = "series" if channel.bits == 1 else "weighted"
        why = f"; because fitted as {made}" if any(leg.how != "single" for leg in net.legs) else ""
        value = f'{{ style = "{style}", part = "{ohms} ohm ± {percent}{why}" }}'
        lists.setdefault(stage, {})[value] = channel.bits
    patches, says = [], []
    for stage, options in lists.items():
        if len(options) > 1:
            depths = ", ".join(str(bits) for bits in sorted(options.values(), reverse=True))
            says.append(
                f"{stage} lists one set of parts, and its channels have {depths} pins: give each a group of its own."
            )
            continue
        value = next(iter(options))
        patches.append(Patch(stage, value, f"parts of {stage} from the shared values"))
    branches = set(found.branches)
    if len(branches) == 1:
        leg = next(iter(branches))
        why = f"; because fitted as {leg}" if leg.how != "single" else ""
        patches.append(
            Patch(
                "levels.sync.branch", f'"{leg.whole_ohm:g} ohm ± {percent}{why}"', "sync branches from the same values"
            )
        )
    elif branches:
        says.append("The sync outputs want different branches, and levels.sync lists one: fit them by hand.")
    return tuple(patches), tuple(says)
