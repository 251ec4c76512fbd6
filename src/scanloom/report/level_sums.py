"""Levels of one channel as JSON."""

from __future__ import annotations

from scanloom.report.documents import LevelsDoc
from scanloom.stages.levels.figures import channel_figures
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.monotonic import monotonic_guaranteed
from scanloom.stages.levels.tolerance import level_spans


def levels_doc(net: OutputNetwork) -> LevelsDoc:
    """Everything one channel does.

    Parameters
    ----------
    net : OutputNetwork
        The channel.

    Returns
    -------
    LevelsDoc
        For JSON; a channel of one bit has no steps to be uneven, so its linearity is zero and its order certain.
    """
    figures = channel_figures(net)
    spans = level_spans(net)
    parts = [p.typical for p in net.part_ohm]
    if net.style == "ladder":
        parts = [net.rung_ohm[0].typical if net.rung_ohm else parts[0], parts[0]]
    return LevelsDoc(
        style=net.style,
        parts_ohm=parts,
        level_v=list(figures.level_v),
        level_low_v=[s.low for s in spans],
        level_high_v=[s.high for s in spans],
        full_scale_v=figures.level_v[-1],
        inl_lsb=figures.linearity.inl_lsb,
        dnl_min_lsb=figures.linearity.dnl_min_lsb,
        dnl_max_lsb=figures.linearity.dnl_max_lsb,
        monotonic_guaranteed=monotonic_guaranteed(net).guaranteed,
        source_ohm=figures.source_ohm,
        pin_current_a=[max(p.source_a, -p.sink_a) for p in figures.pins],
        white_current_a=figures.white_a,
        termination_w=figures.powers.load_w,
    )
