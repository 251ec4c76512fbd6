"""Sync edges at every display, and the branch part that makes them cleanest, as text and JSON."""

from __future__ import annotations

import shlex
from collections.abc import Sequence

from rich.table import Table

from scanloom.basis.verdict import Amount, Patch
from scanloom.report import parts_documents as d
from scanloom.report.figures import amount, figure
from scanloom.report.sheets import plain_table
from scanloom.stages.levels.edges_exact import BranchProposal
from scanloom.stages.levels.edges_plan import DisplayEdges
from scanloom.stages.levels.result import SyncLevel


def sync_edge_docs(found: Sequence[DisplayEdges]) -> list[d.SyncEdgeDoc]:
    """Edges of one rig.

    Parameters
    ----------
    found : sequence of DisplayEdges
        Edges at each display.

    Returns
    -------
    list of SyncEdgeDoc
        For JSON.
    """
    return [
        d.SyncEdgeDoc(
            display=one.display,
            between_s=one.edges.value.between_s,
            slope_v_per_s=one.edges.value.slope,
            again=one.edges.value.again,
            overshoot_v=one.edges.value.overshoot_v,
            rise_after_s=one.edges.value.rise_after_s,
            fall_after_s=one.edges.value.fall_after_s,
        )
        for one in found
    ]


def sync_table(levels: Sequence[SyncLevel], found: Sequence[DisplayEdges]) -> Table:
    """Levels and edges of the syncs at every display.

    Parameters
    ----------
    levels : sequence of SyncLevel
        Levels at each display.
    found : sequence of DisplayEdges
        Edges where all that they rest on is known.

    Returns
    -------
    Table
        One row for displays alike.
    """
    edges = {one.display: one.edges.value for one in found}
    rows: dict[tuple[str, ...], list[str]] = {}
    for sync in levels:
        high, low = (amount(Amount.found(span, "V")) for span in (sync.high_v, sync.low_v))
        edge = edges.get(sync.display)
        row: tuple[str, ...]
        if edge is None:
            row = (high, low, "cable or load unknown", "")
        else:
            after = [s for s in (edge.rise_after_s, edge.fall_after_s) if s is not None]
            took = "never gets there" if edge.between_s is None else figure(edge.between_s, "s")
            again = f", passes {edge.again} times more" if edge.again else ""
            row = (high, low, took + again, " and ".join(figure(s, "s") for s in after))
        rows.setdefault(row, []).append(sync.display)
    table = plain_table("syncs of", "high", "low", "0.8 to 2.0 V in", "after the colours (rise and fall)")
    for row, names in rows.items():
        table.add_row(", ".join(names), *row)
    return table


def sync_branch_doc(file: str, found: BranchProposal, patch: Patch) -> d.SyncBranchDoc | None:
    """The branch part that makes edges cleanest.

    Parameters
    ----------
    file : str
        The dossier's file.
    found : BranchProposal
        The part.
    patch : Patch
        The change that fits it.

    Returns
    -------
    SyncBranchDoc or None
        For JSON; None where no part does.
    """
    if found.branch_ohm is None:
        return None
    return d.SyncBranchDoc(
        branch_ohm=found.branch_ohm,
        sharing=found.sharing,
        overshoot_v=found.overshoot_v,
        between_s=found.between_s,
        tried=found.tried,
        proved=found.proved,
        patch=d.PartPatchDoc(key=patch.key, value=patch.value, says=patch.says),
        try_line=try_line(file, [patch]),
    )


def sync_branch_words(one: d.SyncBranchDoc) -> str:
    """The branch part in a sentence.

    Parameters
    ----------
    one : SyncBranchDoc
        As JSON has it.

    Returns
    -------
    str
        The sentence.
    """
    proof = "proved best of its series" if one["proved"] else "best found"
    part = "a wire" if one["branch_ohm"] == 0.0 else f"{one['branch_ohm']:g} ohm"
    apart = ", each display on an output of its own" if one["sharing"] == "one per display" else ""
    return (
        f"Cleanest sync edges with {part} in each display's branch{apart} ({proof}): slowest "
        f"{figure(one['between_s'], 's')} from 0.8 to 2.0 V, overshoot {figure(one['overshoot_v'], 'V')}."
    )


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
