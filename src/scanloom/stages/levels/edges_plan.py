"""Sync edges of a whole plan, and the branch part proposed for it: what a maker asks for by name."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from scanloom.basis.fact import Known
from scanloom.basis.record import record
from scanloom.basis.verdict import Patch
from scanloom.circuit.signal_path import SignalPath
from scanloom.dossier.model import Display
from scanloom.dossier.reading import Reading
from scanloom.handbook.limits import known_limit
from scanloom.stages.levels.edges import cable_of
from scanloom.stages.levels.edges_exact import (
    BranchProposal,
    Cables,
    SyncEdges,
    SyncPassings,
    channel_path,
    propose_branch,
    sync_edges,
    sync_passings,
)
from scanloom.stages.levels.network import Missing, buffer_driver
from scanloom.stages.levels.result import ChannelLevels
from scanloom.stages.levels.shared import output_groups, shared_sync, sync_stage
from scanloom.stages.levels.sync import SharedSync


@record
class DisplayEdges:
    """Edges of the sync at one display.

    Parameters
    ----------
    display : str
        The display.
    edges : Known
        Its edges, resting on every fact of its output.
    """

    display: str
    edges: Known[SyncEdges]


@record
class DisplayPassings:
    """When the sync passes both levels at one display.

    Parameters
    ----------
    display : str
        The display.
    passings : Known
        Its edges, resting on every fact of its output.
    """

    display: str
    passings: Known[SyncPassings]


def measure_sync_edges(reading: Reading, channels: Sequence[ChannelLevels] = ()) -> tuple[DisplayEdges, ...]:
    """Edges of the sync at every display that is plugged in, solved in full.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    channels : sequence of ChannelLevels
        Colour channels of the rig; the first of each display is what its sync is held against.

    Returns
    -------
    tuple of DisplayEdges
        One a display; those of an output where a fact is missing are left out.

    Raises
    ------
    Missing
        If how the syncs are driven is not stated.
    """
    return tuple(
        [
            DisplayEdges(display.name, read.known(edges))
            for read, shared, cables, members, colours in _with_colours(reading, channels)
            for display, edges in zip(members, sync_edges(shared, cables, colours), strict=True)
        ]
    )


def measure_sync_passings(reading: Reading, channels: Sequence[ChannelLevels]) -> tuple[DisplayPassings, ...]:
    """When the sync passes both levels at every display that is plugged in, beside its own colour edges.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    channels : sequence of ChannelLevels
        Colour channels of the rig; the first of each display is what its sync is held against.

    Returns
    -------
    tuple of DisplayPassings
        One a display; those of an output where a fact is missing are left out.

    Raises
    ------
    Missing
        If how the syncs are driven is not stated.
    """
    return tuple(
        [
            DisplayPassings(display.name, read.known(one))
            for read, shared, cables, members, colours in _with_colours(reading, channels)
            for display, one in zip(members, sync_passings(shared, cables, colours), strict=True)
        ]
    )


def propose_sync_branch(reading: Reading, series: str = "E24") -> tuple[Known[BranchProposal], Patch] | None:
    """One branch part for all displays of a plan, and the change of the dossier that fits it.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    series : str
        Series to choose from.

    Returns
    -------
    tuple or None
        The proposal and its patch; None where no display has all its facts, or no value does even behind outputs apart.

    Raises
    ------
    Missing
        If how the syncs are driven is not stated.
    ValueError
        If there is no such series.
    """
    outputs = _outputs(reading)
    if not outputs:
        return None
    rests = reading.fork()
    for read, _, _, _ in outputs:
        rests(read.known(None))
    stage, style = sync_stage(rests)
    driver = buffer_driver(rests, stage.buffer if style == "buffered" and stage.buffer else Known("LVC", ()))
    apart = [
        (SharedSync(driver.high_ohm, driver.low_ohm, driver.rail_v, (one,)), (cable,))
        for _, shared, cables, _ in outputs
        for one, cable in zip(shared.inputs, cables, strict=True)
    ]
    found = propose_branch([(shared, cables) for _, shared, cables, _ in outputs], series, apart=apart)
    if found.branch_ohm is None:
        return None
    part = "" if found.branch_ohm == 0.0 else f', branch = "{found.branch_ohm:g} ohm ± 5 %"'
    own_outputs = found.sharing == "one per display"
    ways = "one per display" if own_outputs else stage.outputs.value if stage.outputs else "one"
    family = stage.buffer.value if style == "buffered" and stage.buffer else "LVC"
    says = f"fit {found.branch_ohm:g} ohm 5 % in each display's branch" + (
        ", one output per display" if own_outputs else ""
    )
    if style == "buffered" or own_outputs:
        value = f'{{ style = "buffered", buffer = "{family}", outputs = "{ways}"{part} }}'
    elif stage.part is not None:
        ohm = stage.part.value.typical
        value = f'{{ style = "{style}", part = "{ohm:g} ohm"{part} }}'
    else:
        value = f'{{ style = "{style}"{part} }}'
    return rests.known(found), Patch("levels.sync", value, says)


def _outputs(reading: Reading) -> list[tuple[Reading, SharedSync, Cables, tuple[Display, ...]]]:
    """Every output whose facts are all there, with a reading that has read them."""
    read = reading.fork()
    plugged = {c.plugs.value: c.plugs for c in reading.plan.connectors if c.plugs is not None}
    displays = tuple([d for d in reading.plan.displays.values() if d.name in plugged])
    stage, style = sync_stage(read)
    found = []
    for members in output_groups(read, stage, style, displays):
        own = read.fork()
        for display in members:
            own(plugged[display.name])
            own.maybe(display.group)
        try:
            shared = shared_sync(own, stage, style, members)
            cables = tuple([cable_of(own, display) for display in members])
        except Missing:
            continue
        own(known_limit("sync-driver-edge"))
        found.append((own, shared, cables, members))
    return found


def _with_colours(
    reading: Reading, channels: Sequence[ChannelLevels]
) -> Iterator[tuple[Reading, SharedSync, Cables, tuple[Display, ...], tuple[SignalPath | None, ...]]]:
    """Every output whose facts are all there, with the first colour channel of each of its displays."""
    first = {channel.display: channel for channel in reversed(channels)}
    for read, shared, cables, members in _outputs(reading):
        colours: list[SignalPath | None] = []
        for display, (line, length_m) in zip(members, cables, strict=True):
            channel = first.get(display.name)
            colours.append(
                None
                if channel is None
                else channel_path(channel.network, line, length_m.typical, load_f=_input_f(read))
            )
        yield read, shared, cables, members, tuple(colours)


def _input_f(read: Reading) -> float:
    """Typical capacitance of an input. [F]."""
    value = read(known_limit("sync-input-capacitance")).typical
    assert value is not None
    return value
