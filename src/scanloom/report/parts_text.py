"""Parts that a search found, as text and JSON."""

from __future__ import annotations

import shlex
from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from scanloom.basis.verdict import Amount, Patch
from scanloom.report import parts_documents as d
from scanloom.report.figures import amount, figure
from scanloom.report.rig_doc import levels_plan_doc
from scanloom.report.sheets import plain_table
from scanloom.stages.levels.search.answer import FoundNetwork, Leg, NoNetwork, PartsProposal
from scanloom.stages.levels.search.joint_request import JointProposal
from scanloom.survey import Survey


def parts_doc(answer: PartsProposal | NoNetwork) -> d.PartsDoc | d.NoPartsDoc:
    """Ranked answers of a search, or that there are none.

    Parameters
    ----------
    answer : PartsProposal or NoNetwork
        What the search found.

    Returns
    -------
    PartsDoc or NoPartsDoc
        For JSON.
    """
    if isinstance(answer, NoNetwork):
        return d.NoPartsDoc(found="nothing", says=answer.says, option=answer.option, proved=answer.proved)
    return d.PartsDoc(
        **_found(answer.answers[0]),
        objective=answer.request.objective,
        proved=answer.proved,
        bound_v=answer.bound_v,
        most_share=answer.most_share,
        networks=answer.networks,
        searched=answer.searched,
        others=[_found(one) for one in answer.answers[1:]],
        trades=[
            d.TradeDoc(
                change=one.change, option=one.option, gain_v=one.gain_v, error_v=one.best.error_v,
                distinct=one.best.distinct, parts=one.best.parts,
            )
            for one in answer.trades
        ],
    )  # fmt: skip


def parts_sheet(answer: PartsProposal) -> RenderableType:
    """Ranked answers of a search.

    Parameters
    ----------
    answer : PartsProposal
        What the search found.

    Returns
    -------
    RenderableType
        For a console.
    """
    best, request = answer.answers[0], answer.request
    table = plain_table("rank", "parts, largest bit first", "error", "white", "values", "parts")
    for rank, one in enumerate(answer.answers, 1):
        legs = ", ".join(map(str, one.legs))
        if one.shunt_ohm is not None:
            legs += f"; shunt {one.shunt_ohm:g}"
        error_v = one.worst_error_v if request.objective == "worst" else one.error_v
        table.add_row(
            str(rank), legs, f"{error_v * 1e3:.2f} mV", figure(one.full_scale_v, "V"), str(one.distinct),
            str(one.parts),
        )  # fmt: skip
    proof = "proved best" if answer.proved else "best found, not proved"
    lines = [f"{rank}: {one.why}" for rank, one in enumerate(answer.answers, 1)]
    lines += [
        f"{proof}; typical error {best.error_v * 1e3:.2f} mV, worst corner {best.worst_error_v * 1e3:.2f} mV",
        f"source resistance {figure(best.source_ohm, 'ohm')}; most current of a pin {figure(best.pin_current_a, 'A')}; "
        f"white draws {figure(best.white_current_a, 'A')}",
    ]
    if request.bits > 1:
        lines.insert(
            len(answer.answers) + 1,
            f"INL {best.inl_lsb:.3f} LSB, DNL {best.dnl_min_lsb:+.3f} to {best.dnl_max_lsb:+.3f} LSB; every step is sure to "
            f"rise with parts up to {best.monotonic_at_percent:.2f} %",
        )
    return Group(table, *(Text(line) for line in lines))


def board_doc(
    file: str, survey: Survey, joint: JointProposal | None, caps: Sequence[d.CapDoc], patches: Sequence[Patch],
    says: Sequence[str],
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

    Returns
    -------
    BoardLevelsDoc
        For JSON.
    """
    rigs = [d.RigLevelsDoc(rig=rig.name, levels=levels_plan_doc(rig.levels)) for rig in survey.rigs]
    made = None
    if joint is not None:
        made = d.JointDoc(
            values_ohm=list(joint.values_ohm),
            channels=[
                d.JointChannelDoc(
                    channel=one.name, legs=[_leg(leg) for leg in net.legs], error_v=net.error_v,
                    worst_error_v=net.worst_error_v, full_scale_v=net.full_scale_v, monotonic_at=net.monotonic_at_percent,
                )
                for one, net in zip(joint.request.channels, joint.channels, strict=True)
            ],
            branches=[
                d.JointBranchDoc(sync=one.name, leg=_leg(leg))
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
    title: str, survey: Survey, joint: JointProposal | None, caps: Sequence[d.CapDoc], says: Sequence[str]
) -> RenderableType:
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


def _leg(leg: Leg) -> d.LegDoc:
    """One leg."""
    return d.LegDoc(ohm=leg.ohm, how=leg.how)


def _found(one: FoundNetwork) -> d.FoundDoc:
    """One network."""
    return d.FoundDoc(
        legs=[_leg(leg) for leg in one.legs],
        shunt_ohm=one.shunt_ohm,
        error_v=one.error_v,
        worst_error_v=one.worst_error_v,
        full_scale_v=one.full_scale_v,
        inl_lsb=one.inl_lsb,
        dnl_min_lsb=one.dnl_min_lsb,
        dnl_max_lsb=one.dnl_max_lsb,
        monotonic_at=one.monotonic_at_percent,
        source_ohm=one.source_ohm,
        pin_current_a=one.pin_current_a,
        pin_worst_a=one.pin_worst_a,
        white_current_a=one.white_current_a,
        distinct=one.distinct,
        parts=one.parts,
        good_share=one.good_share,
        why=one.why,
    )
