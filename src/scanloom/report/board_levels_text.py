"""Levels of every rig of a dossier, and one set of values for all, as text and JSON."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from rich.console import Group, RenderableType
from rich.text import Text

from scanloom.basis.verdict import Amount, Patch
from scanloom.report import parts_documents as d
from scanloom.report.figures import amount, figure
from scanloom.report.parts_text import leg_doc
from scanloom.report.rig_doc import levels_plan_doc
from scanloom.report.sheets import plain_table
from scanloom.report.tolerance_sheet import tolerance_doc, tolerance_sheet
from scanloom.stages.levels.lot_report import LevelTolerance
from scanloom.stages.levels.search import JointProposal
from scanloom.survey import Survey

NO_TOLERANCES: Mapping[str, LevelTolerance] = MappingProxyType({})
"""No boards were asked for."""


def board_doc(
    file: str, survey: Survey, joint: JointProposal | None, caps: Sequence[d.CapDoc], patches: Sequence[Patch],
    says: Sequence[str], tolerances: Mapping[str, LevelTolerance] = NO_TOLERANCES,
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

    Returns
    -------
    BoardLevelsDoc
        For JSON.
    """
    rigs = [
        d.RigLevelsDoc(
            rig=rig.name, levels=levels_plan_doc(rig.levels),
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
    return d.BoardLevelsDoc(file=file, rigs=rigs, joint=made, says=list(says))


def board_sheet(
    title: str, survey: Survey, joint: JointProposal | None, caps: Sequence[d.CapDoc], says: Sequence[str],
    tolerances: Mapping[str, LevelTolerance] = NO_TOLERANCES,
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
        table = plain_table("channel", "parts", "white", "most of a pin", "steps")
        for one in rig.levels.channels:
            ohms = ", ".join(f"{part.typical:g}" for part in one.network.part_ohm)
            low = min(one.figures.linearity.dnl_min_lsb, 0.0)
            steps = "one step" if one.network.bits == 1 else f"DNL {low:+.2f} LSB"
            white = amount(Amount.found(one.white_v, "V"))
            table.add_row(f"{one.display}.{one.channel}", ohms, white, figure(one.pin_a.high, "A"), steps)
        for sync in rig.levels.syncs:
            high, low_level = (amount(Amount.found(span, "V")) for span in (sync.high_v, sync.low_v))
            table.add_row(f"{sync.display}.sync", "", f"high {high}, low {low_level}", "", "")
        parts.append(table)
        if rig.name in tolerances:
            parts.append(tolerance_sheet(tolerances[rig.name]))
    if joint is not None:
        proof = "proved best" if joint.proved else "best found in time"
        values = ", ".join(f"{ohm:g}" for ohm in joint.values_ohm)
        parts.append(Text(f"One set of values for all: {values} ohm ({proof} of {joint.sets} sets)", style="bold"))
        table = plain_table("channel", "parts, largest bit first", "error", "white")
        for name, net in zip(joint.request.channels, joint.channels, strict=True):
            row = (f"{net.error_v * 1e3:.2f} mV", figure(net.full_scale_v, "V"))
            table.add_row(name.name.removeprefix("displays."), ", ".join(map(str, net.legs)), *row)
        for sync_name, leg in zip(joint.request.syncs, joint.branches, strict=True):
            table.add_row(f"{sync_name.name.removeprefix('displays.')}, branch", str(leg), "", "")
        parts.append(table)
        parts.extend(
            Text(f"{cap['name']}: at most {figure(cap['drawn_a'], 'A')} of {figure(cap['most_a'], 'A')}")
            for cap in caps
        )
    parts.extend(Text(line) for line in says)
    return Group(*parts)


def try_line(file: str, patches: Sequence[Patch]) -> str:
    """Command that shows what a set of parts mends and breaks.

    Parameters
    ----------
    file : str
        The dossier's file.
    patches : sequence of Patch
        The changes.

    Returns
    -------
    str
        The command; empty where nothing changes.
    """
    if not patches:
        return ""
    words = " ".join(f"--try {shlex.quote(f'{one.key}={one.value}')}" for one in patches)
    return f"scanloom check {shlex.quote(file)} {words}"
