"""Levels of every rig of a dossier, and one set of values for all, as text and JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from scanloom.basis.verdict import Amount, Patch
from scanloom.report import parts_documents as d
from scanloom.report.board_sync_text import sync_branch_words, sync_edge_docs, sync_table, try_line
from scanloom.report.figures import amount, figure
from scanloom.report.parts_text import leg_doc
from scanloom.report.rig_doc import levels_plan_doc
from scanloom.report.sheets import plain_table
from scanloom.report.tolerance_sheet import tolerance_doc, tolerance_sheet
from scanloom.stages.levels.edges_plan import DisplayEdges
from scanloom.stages.levels.lot_report import LevelTolerance
from scanloom.stages.levels.result import ChannelLevels
from scanloom.stages.levels.search import JointProposal
from scanloom.survey import Survey

NO_TOLERANCES: Mapping[str, LevelTolerance] = MappingProxyType({})
"""No boards were asked for."""
NO_EDGES: Mapping[str, Sequence[DisplayEdges]] = MappingProxyType({})
"""No sync edges are known."""


def board_doc(
    file: str, survey: Survey, joint: JointProposal | None, caps: Sequence[d.CapDoc], patches: Sequence[Patch],
    says: Sequence[str], tolerances: Mapping[str, LevelTolerance] = NO_TOLERANCES,
    edges: Mapping[str, Sequence[DisplayEdges]] = NO_EDGES, branch: d.SyncBranchDoc | None = None,
) -> d.BoardLevelsDoc:  # fmt: skip
    """Levels of every rig, and one set of values for all channels.

    Parameters
    ----------
    file : str
        The dossier's file.
    survey : Survey
        Its survey.
    joint : JointProposal or None
        The set.
    caps : sequence of CapDoc
        Currents of the set under the chip's caps.
    patches : sequence of Patch
        What writes it back.
    says : sequence of str
        What else is to be said.
    tolerances : Mapping
        Tolerance in depth by rig, where boards were asked for.
    edges : Mapping
        Sync edges by rig.
    branch : SyncBranchDoc or None
        Branch part that makes them cleanest.

    Returns
    -------
    BoardLevelsDoc
        For JSON.
    """
    rigs = [
        d.RigLevelsDoc(
            rig=rig.name, levels=levels_plan_doc(rig.levels), sync_edges=sync_edge_docs(edges.get(rig.name, ())),
            tolerance=tolerance_doc(tolerances[rig.name]) if rig.name in tolerances else None,
        )
        for rig in survey.rigs
    ]  # fmt: skip
    made = None
    if joint is not None:
        made = d.JointDoc(
            values_ohm=list(joint.values_ohm),
            channels=[
                d.JointChannelDoc(
                    channel=one.name, legs=[leg_doc(leg) for leg in net.legs], error_v=net.error_v,
                    worst_error_v=net.worst_error_v, full_scale_v=net.full_scale_v, monotonic_at=net.monotonic_at_percent,
                )
                for one, net in zip(joint.request.channels, joint.channels, strict=True)
            ],
            branches=[
                d.JointBranchDoc(sync=one.name, leg=leg_doc(leg))
                for one, leg in zip(joint.request.syncs, joint.branches, strict=True)
            ],
            error_v=joint.error_v,
            parts=joint.parts,
            caps=list(caps),
            sets=joint.sets,
            proved=joint.proved,
            patches=[d.PartPatchDoc(key=one.key, value=one.value, says=one.says) for one in patches],
            try_line=try_line(file, patches),
        )  # fmt: skip
    return d.BoardLevelsDoc(file=file, rigs=rigs, sync_branch=branch, joint=made, says=list(says))


def board_sheet(
    title: str, survey: Survey, joint: JointProposal | None, caps: Sequence[d.CapDoc], says: Sequence[str],
    tolerances: Mapping[str, LevelTolerance] = NO_TOLERANCES,
    edges: Mapping[str, Sequence[DisplayEdges]] = NO_EDGES, branch: d.SyncBranchDoc | None = None,
) -> RenderableType:  # fmt: skip
    """Levels of every rig, and one set of values for all channels.

    Parameters
    ----------
    title : str
        Title of the dossier.
    survey : Survey
        Its survey.
    joint : JointProposal or None
        The set.
    caps : sequence of CapDoc
        Currents of the set under the chip's caps.
    says : sequence of str
        What else is to be said.
    tolerances : Mapping
        Tolerance in depth by rig, where boards were asked for.
    edges : Mapping
        Sync edges by rig.
    branch : SyncBranchDoc or None
        Branch part that makes them cleanest.

    Returns
    -------
    RenderableType
        For a console.
    """
    parts: list[RenderableType] = []
    for rig in survey.rigs:
        parts.append(Text(f"{title}, rig {rig.name}", style="bold"))
        if rig.levels is None:
            parts.append(Text("The levels wait on another stage; scanloom check says on which."))
            continue
        parts.append(_channel_table(rig.levels.channels))
        if rig.levels.syncs:
            parts.append(sync_table(rig.levels.syncs, edges.get(rig.name, ())))
        if rig.name in tolerances:
            parts.append(tolerance_sheet(tolerances[rig.name]))
    if joint is not None:
        proof = "proved best" if joint.proved else "best found in time"
        values = ", ".join(f"{ohm:g}" for ohm in joint.values_ohm)
        parts.append(Text(f"One set of values for all: {values} ohm ({proof} of {joint.sets} sets)", style="bold"))
        parts.append(_joint_table(joint))
        parts.extend(
            Text(f"{cap['name']}: at most {figure(cap['drawn_a'], 'A')} of {figure(cap['most_a'], 'A')}")
            for cap in caps
        )
    if branch is not None:
        parts.append(Text(sync_branch_words(branch)))
    parts.extend(Text(line) for line in says)
    return Group(*parts)


def _channel_table(channels: Sequence[ChannelLevels]) -> Table:
    """Levels of every channel, one row for those alike."""
    rows: dict[tuple[str, ...], list[str]] = {}
    for one in channels:
        ohms = ", ".join(f"{part.typical:g}" for part in one.network.part_ohm)
        low = min(one.figures.linearity.dnl_min_lsb, 0.0)
        steps = "one step" if one.network.bits == 1 else f"DNL {low:+.2f} LSB"
        white = amount(Amount.found(one.white_v, "V"))
        rows.setdefault((ohms, white, figure(one.pin_a.high, "A"), steps), []).append(f"{one.display}.{one.channel}")
    table = plain_table("channels", "parts", "white", "most of a pin", "steps")
    for row, names in rows.items():
        table.add_row(_together(names), *row)
    return table


def _joint_table(joint: JointProposal) -> Table:
    """Parts of every channel and branch, one row for those alike."""
    rows: dict[tuple[str, ...], list[str]] = {}
    for name, net in zip(joint.request.channels, joint.channels, strict=True):
        row: tuple[str, ...] = (
            ", ".join(map(str, net.legs)),
            f"{net.error_v * 1e3:.2f} mV",
            figure(net.full_scale_v, "V"),
        )
        rows.setdefault(row, []).append(name.name.removeprefix("displays."))
    for sync_name, leg in zip(joint.request.syncs, joint.branches, strict=True):
        row = (str(leg), "", "")
        rows.setdefault(row, []).append(f"{sync_name.name.removeprefix('displays.')} (branch)")
    table = plain_table("channels", "parts, largest bit first", "error", "white")
    for row, names in rows.items():
        table.add_row(_together(names), *row)
    return table


def _together(names: Sequence[str]) -> str:
    """Channels by display: the display once, then its channels."""
    found: dict[str, list[str]] = {}
    for name in names:
        display, _, channel = name.partition(".")
        found.setdefault(display, []).append(channel)
    return "; ".join(f"{display} {', '.join(channels)}".strip() for display, channels in found.items())
