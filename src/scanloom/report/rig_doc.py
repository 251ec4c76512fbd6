"""Results of one rig's stages as JSON."""

from __future__ import annotations

from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.report import stage_documents as d
from scanloom.report.timing_doc import clock_doc, timing_doc
from scanloom.report.verdict_documents import AmountDoc
from scanloom.stages.clock import ClockPlan
from scanloom.stages.lanes import LaneMap
from scanloom.stages.levels import LevelPlan
from scanloom.stages.memory import MemoryPlan
from scanloom.stages.picture import PictureOutlook
from scanloom.stages.screens import ScreenAnswers
from scanloom.stages.waking import WakingPlan
from scanloom.survey import RigSurvey


def stages_doc(rig: RigSurvey, chip: str) -> d.StagesDoc:
    """Results of one rig's stages.

    Parameters
    ----------
    rig : RigSurvey
        The rig.
    chip : str
        Name of the chip.

    Returns
    -------
    StagesDoc
        For JSON; null where a stage could not run.
    """
    timing: d.TimingDoc | None = None
    if rig.timing is not None:
        image = rig.timing.image.value if rig.timing.image else None
        timing = timing_doc(rig.timing.raster.value, image, "", "", rig.timing.cautions)
        for fact in rig.timing.raster.facts:
            if fact.source:
                timing["source"], timing["place"] = fact.source, fact.detail
    return d.StagesDoc(
        timing=timing,
        clock=_clock(rig.clock, chip),
        screens=_screens(rig.screens),
        lanes=_lanes(rig.lanes),
        memory=_memory(rig.memory),
        levels=levels_plan_doc(rig.levels),
        waking=_waking(rig.waking),
        picture=_picture(rig.picture),
    )


def _clock(known: Known[ClockPlan] | None, chip: str) -> d.ClockDoc | None:
    """The pixel clock in use."""
    if known is None:
        return None
    plan = known.value
    return clock_doc(chip, plan.target_hz, plan.made.h.total_px, [plan.candidate])


def _screens(screens: ScreenAnswers | None) -> d.ScreensDoc | None:
    """Answers of the displays."""
    if screens is None:
        return None
    return d.ScreensDoc(
        line_rate_hz=float(screens.line_rate_hz),
        frame_rate_hz=float(screens.frame_rate_hz),
        answers=[
            d.AnswerDoc(
                display=a.display,
                status=a.status,
                scaling=None if a.scaling is None else [float(a.scaling.across), float(a.scaling.down)],
            )
            for a in screens.answers
        ],
        blockers=list(screens.blockers),
        parents_for_all=list(screens.parents_for_all),
    )


def _lanes(lanes: LaneMap | None) -> d.LanesDoc | None:
    """The word."""
    if lanes is None:
        return None
    return d.LanesDoc(
        stream=lanes.stream.value.name,
        used=lanes.used_lanes,
        lanes=[d.LaneDoc(bit=lane.bit, name=lane.name, pins=list(lane.pins)) for lane in lanes.lanes],
        incomplete=list(lanes.incomplete),
        crossings=lanes.crossings,
    )


def _memory(memory: MemoryPlan | None) -> d.MemoryDoc | None:
    """The frame in RAM."""
    if memory is None:
        return None
    p, draw = memory.placement, memory.drawing
    return d.MemoryDoc(
        entries=len(memory.transfer_list.entries),
        stores=len(memory.transfer_list.stores),
        blank_form=memory.transfer_list.blank_form,
        fits=p.fits if p else None,
        picture_bytes=p.picture_bytes if p else None,
        blank_bytes=p.blank_bytes if p else None,
        entry_bytes=p.entry_bytes if p else None,
        overhead_bytes=p.overhead_bytes if p else None,
        keep_back_bytes=p.keep_back_bytes if p else None,
        used_bytes=p.used_bytes if p else None,
        free_bytes=p.free_bytes if p else None,
        lines_missing=p.lines_missing if p else None,
        frames_that_fit=p.frames_that_fit if p else None,
        blocks=[
            d.BlockDoc(rows=rows, left_bytes=left, items=[s.name for s in p.specials if s.block == number])
            for number, (rows, left) in enumerate(zip(p.lines_per_block, p.left_bytes, strict=True))
        ]
        if p
        else None,
        blank_window_s=draw.blank_window_s if draw else None,
        behind_beam_s=draw.behind_beam_s if draw else None,
        line_cycles=draw.line_cycles if draw else None,
        pixel_cycles=draw.pixel_cycles if draw else None,
        cures=[d.CureDoc(what=c.what, used_bytes=c.used_bytes, fits=c.fits, cost=c.cost) for c in memory.cures],
    )


def levels_plan_doc(levels: LevelPlan | None) -> d.LevelPlanDoc | None:
    """Levels and currents of one rig.

    Parameters
    ----------
    levels : LevelPlan or None
        What the stage found.

    Returns
    -------
    LevelPlanDoc or None
        For JSON.
    """
    if levels is None:
        return None
    return d.LevelPlanDoc(
        channels=[
            d.ChannelDoc(
                display=c.display,
                channel=c.channel,
                level_v=list(c.figures.level_v),
                white_v=_span(c.white_v, "V"),
                pin_a=_span(c.pin_a, "A"),
                white_a=_span(c.white_a, "A"),
                chip_a=_span(c.chip_a, "A"),
                output_a=_span(c.output_a, "A"),
                style=c.wiring.style,
                source_ohm=c.figures.source_ohm,
            )
            for c in levels.channels
        ],
        syncs=[
            d.SyncDoc(display=s.display, high_v=_span(s.high_v, "V"), low_v=_span(s.low_v, "V")) for s in levels.syncs
        ],
        pins_a=None if levels.pins_a is None else _span(levels.pins_a, "A"),
        inlet_a=None if levels.inlet_a is None else _span(levels.inlet_a.value, "A"),
        regulator_w=None if levels.regulator_w is None else _span(levels.regulator_w, "W"),
        white_average=levels.white_average,
        buffers=[
            d.BufferDoc(
                family=b.family,
                outputs=b.outputs,
                per_package=b.per_package,
                packages=b.packages,
                spare=b.spare,
                package_a=_span(b.package_a, "A"),
            )
            for b in levels.buffers
        ],
        switching=None
        if levels.switching is None
        else d.SwitchingDoc(
            dark_v=_span(levels.switching.dark_v, "V"),
            dip_v=_span(levels.switching.dip_v, "V"),
            sag_v=_span(levels.switching.sag_v, "V"),
            white_lost=_span(levels.switching.white_lost, "1"),
        ),
    )


def _waking(waking: WakingPlan | None) -> d.WakingDoc | None:
    """Reset and power."""
    if waking is None:
        return None
    return d.WakingDoc(
        boots=[
            d.BootDoc(
                subject=b.subject,
                pin=b.start_pin,
                wants=b.wants,
                detached_v=_maybe(b.detached_v, "V"),
                attached_v=_maybe(b.attached_v, "V"),
                worst_v=_maybe(b.worst_v, "V"),
            )
            for b in waking.boots
        ],
        back_feeds=[
            d.BackFeedDoc(subject=f.subject, fed_a=_span(f.fed_a, "A"), lift_v=_span(f.lift_v, "V"))
            for f in waking.back_feeds
        ],
        glitches=[d.GlitchDoc(subject=g.subject, pin=g.start_pin, noise=g.noise) for g in waking.glitches],
        start_a=_maybe(waking.start_a, "A"),
    )


def _picture(picture: PictureOutlook | None) -> d.PictureOutlookDoc | None:
    """What the displays will do."""
    if picture is None:
        return None
    return d.PictureOutlookDoc(
        displays=[
            d.OutlookDoc(display=o.display, locks=o.locks, why_not=o.why_not, white_v=_maybe(o.white_v, "V"))
            for o in picture.displays
        ]
    )


def _maybe(span: Span | None, unit: str) -> AmountDoc | None:
    """A span with its unit, if there is one."""
    return None if span is None else _span(span, unit)


def _span(span: Span, unit: str) -> AmountDoc:
    """A span with its unit."""
    return AmountDoc(low=span.low, typical=span.typical, high=span.high, unit=unit)
