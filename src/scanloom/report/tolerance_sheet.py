"""Tolerance of a rig's colours in depth, as text and as JSON."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

from scanloom.report.sheets import plain_table
from scanloom.report.tolerance_documents import (
    ChannelToleranceDoc,
    InfluenceDoc,
    LooserDoc,
    PercentilesDoc,
    ToleranceDoc,
    YieldDoc,
)
from scanloom.stages.levels.chance import Percentiles
from scanloom.stages.levels.lot_report import LevelTolerance
from scanloom.stages.levels.sensitivity import Influence

SHOWN = 4
"""Influences that the text shows of each kind; JSON has all. [1]"""


def tolerance_doc(found: LevelTolerance) -> ToleranceDoc:
    """Tolerance in depth for JSON.

    Parameters
    ----------
    found : LevelTolerance
        What was measured.

    Returns
    -------
    ToleranceDoc
        For JSON.
    """
    lot = found.lot
    return ToleranceDoc(
        lot=YieldDoc(
            boards=lot.boards, good=lot.good_share, good_error=lot.error_share, white=lot.white_share,
            monotonic=lot.monotonic_share, inl=lot.inl_share, mismatch=lot.mismatch_share, white_v=_spread(lot.whites),
            inl_lsb=_spread(lot.linearities), mismatch_share=_spread(lot.mismatches),
        ),
        alike=[
            ChannelToleranceDoc(
                channels=list(one.built_alike),
                white=[_influence(each) for each in one.white_moved],
                worst_step=[_influence(each) for each in one.step_moved],
                looser=[LooserDoc(leg=p.leg, now_percent=p.now_percent, may_percent=p.may_percent) for p in one.looser],
                says=one.grades_say,
            )
            for one in found.alike
        ],
    )  # fmt: skip


def tolerance_sheet(found: LevelTolerance) -> RenderableType:
    """Tolerance in depth as text.

    Parameters
    ----------
    found : LevelTolerance
        What was measured.

    Returns
    -------
    RenderableType
        For a console.
    """
    lot = found.lot
    near = (
        f"to {lot.error_share:.2%}"
        if lot.good_share < 1.0
        else f"fewer than 1 in {lot.boards // 3 or 1} bad, sure 19 times in 20"
    )
    made: list[RenderableType] = [
        Text(
            f"{lot.boards} boards drawn by chance: {lot.good_share:.2%} good ({near}); white inside its window "
            f"{lot.white_share:.2%}, every step rising {lot.monotonic_share:.2%}, levels even {lot.inl_share:.2%}, colours alike "
            f"{lot.mismatch_share:.2%}"
        ),
        Text(f"white {lot.whites.p1:.3f} .. {lot.whites.p50:.3f} .. {lot.whites.p99:.3f} V for 98 in 100 channels"),
    ]
    for one in found.alike:
        made.append(Text(f"\n{', '.join(one.built_alike)}: {one.grades_say}"))
        table = plain_table("moves", "by", "1 % more of it", "its span", "share")
        for name, influences in (("white", one.white_moved), ("worst step", one.step_moved)):
            for each in influences[:SHOWN]:
                table.add_row(
                    name, each.element, _small(each.per_percent_v), _small(each.spread_v), f"{each.share:.0%}"
                )
        made.append(table)
    return Group(*made)


def _small(volt: float) -> str:
    """A small voltage in millivolts."""
    return f"{volt * 1e3:+.2f} mV"


def _spread(one: Percentiles) -> PercentilesDoc:
    """Percentiles for JSON."""
    return PercentilesDoc(
        least=one.least, p1=one.p1, p50=one.p50, p99=one.p99, most=one.most, mean=one.mean, deviation=one.deviation
    )


def _influence(one: Influence) -> InfluenceDoc:
    """An influence for JSON."""
    return InfluenceDoc(element=one.element, per_percent_v=one.per_percent_v, spread_v=one.spread_v, share=one.share)
