"""Levels: from pin to 0.7 V, shared syncs, currents, supply."""

from __future__ import annotations

from scanloom.basis.fact import Known
from scanloom.basis.outcome import Outcome
from scanloom.basis.verdict import Verdict
from scanloom.dossier.reading import Reading
from scanloom.stages.lanes import LaneMap
from scanloom.stages.levels.buffers import BufferCount
from scanloom.stages.levels.colour import judge_channel
from scanloom.stages.levels.colour_edges import judge_edges
from scanloom.stages.levels.mismatch import judge_mismatch
from scanloom.stages.levels.packages import judge_packages
from scanloom.stages.levels.result import ChannelLevels, LevelPlan, Switching, SyncLevel
from scanloom.stages.levels.shared import judge_syncs
from scanloom.stages.levels.supply import judge_pins_total, judge_supply
from scanloom.stages.levels.switching import judge_switching
from scanloom.stages.timing import ImageWindow, RasterTiming

__all__ = ["BufferCount", "ChannelLevels", "LevelPlan", "Switching", "SyncLevel", "judge_levels"]


def judge_levels(
    reading: Reading, lanes: LaneMap, raster: Known[RasterTiming] | None, image: Known[ImageWindow] | None
) -> Outcome[LevelPlan]:
    """Levels and currents of one rig.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    lanes : LaneMap
        Its word and pins.
    raster : Known or None
        Its raster, for the average current only.
    image : Known or None
        The picture in the raster.

    Returns
    -------
    Outcome
        Levels of every channel and sync that is known, and the sums.
    """
    verdicts: list[Verdict] = []
    channels: list[Known[ChannelLevels]] = []
    missing = False
    for known in lanes.channels:
        if not known.value.driven:
            continue
        own = reading.fork()
        twins = [one for one in lanes.channels if one is not known and one.value.pins == known.value.pins]
        for twin in twins:  # that they share pins rests on the pins of each
            own(twin)
        made = judge_channel(own, known, reading.plan.displays[known.value.display], verdicts, 1 + len(twins))
        if made is None:
            missing = True
        else:
            channels.append(made)
    plugs = {c.plugs.value: c.plugs for c in reading.plan.connectors if c.plugs is not None}
    displays = tuple(d for d in reading.plan.displays.values() if d.name in plugs)
    syncs, sync_a = judge_syncs(reading.fork(), displays, plugs, verdicts)
    pins_a = judge_pins_total(reading, lanes, channels, sync_a, missing, verdicts)
    buffers = judge_packages(reading, channels, verdicts)
    inlet_a, heat_w = judge_supply(reading, lanes, channels, sync_a, missing, verdicts)
    judge_mismatch(reading, channels, verdicts)
    judge_edges(reading, channels, raster, verdicts)
    switching = judge_switching(reading, channels, missing, verdicts)
    share = 0.0
    if raster is not None and image is not None:
        lit = image.value.picture_px * image.value.image_rows * image.value.line_repeat
        share = lit / (raster.value.h.total_px * raster.value.v.total_lines)
    result = LevelPlan(tuple(k.value for k in channels), syncs, pins_a, inlet_a, heat_w, share, buffers, switching)
    return Outcome(result, tuple(verdicts))
