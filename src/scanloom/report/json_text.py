"""Results and verdicts as JSON, in one envelope for every command."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from scanloom import __version__
from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.basis.verdict import Amount, Verdict
from scanloom.formats.input_error import InputFault
from scanloom.handbook.chip import Chip
from scanloom.report import documents as d
from scanloom.stages.clock import ClockCandidate, ClockPlan
from scanloom.stages.lanes import LaneMap
from scanloom.stages.levels import LevelPlan
from scanloom.stages.memory import MemoryPlan
from scanloom.stages.screens import ScreenAnswers
from scanloom.stages.timing import ImageWindow, RasterTiming
from scanloom.survey import RigSurvey, Survey, Trial


def envelope(
    command: str, result: Any, verdicts: Iterable[Verdict] = (), errors: Iterable[InputFault] | None = None
) -> str:
    """The one shape that every command prints.

    Parameters
    ----------
    command : str
        The command.
    result : object
        Its result, None when its input could not be read.
    verdicts : iterable of Verdict
        What it judged.
    errors : iterable of InputFault or None
        Faults of an unreadable input.

    Returns
    -------
    str
        JSON text with a final line end.
    """
    made: dict[str, Any] = {
        "tool": "scanloom",
        "version": __version__,
        "command": command,
        "result": result,
        "verdicts": [verdict_doc(v) for v in verdicts],
    }
    if errors is not None:
        made["errors"] = [
            d.ErrorDoc(file=e.file, line=e.line, column=e.column, path=e.path, text=e.text) for e in errors
        ]
    return json.dumps(made, ensure_ascii=False, indent=2, allow_nan=False) + "\n"


def verdict_doc(verdict: Verdict) -> d.VerdictDoc:
    """One verdict.

    Parameters
    ----------
    verdict : Verdict
        The verdict.

    Returns
    -------
    VerdictDoc
        For JSON.
    """
    settle, place = verdict.settle, verdict.place
    return d.VerdictDoc(
        code=verdict.code,
        subject=verdict.subject,
        rig=verdict.rig,
        state=verdict.state,
        judged=verdict.judged,
        weight=verdict.weight,
        says=verdict.says,
        found=_amount(verdict.found),
        limit=_amount(verdict.limit),
        margin=verdict.margin,
        rests_on=[
            d.FactDoc(key=f.key, text=f.text, origin=f.origin, detail=f.detail, source=f.source, guess=f.is_guess)
            for f in verdict.rests_on
        ],
        on_guess=verdict.on_guess,
        settle=None
        if settle is None
        else d.SettleDoc(
            what=settle.what,
            holds_if=settle.holds_if,
            fails_if=settle.fails_if,
            minutes=settle.minutes,
            fact=settle.fact,
        ),
        remedy=[d.PatchDoc(key=p.key, value=p.value, says=p.says) for p in verdict.remedy],
        sources=[d.SourceDoc(title=s.title, place=s.place, standing=s.standing) for s in verdict.sources],
        place=None
        if place is None
        else d.PlaceDoc(file=place.file, layer=place.layer, x_mm=place.x_mm, y_mm=place.y_mm, pin=place.pin),
        because=verdict.because,
    )


def timing_doc(raster: RasterTiming, image: ImageWindow | None, source: str, place: str) -> d.TimingDoc:
    """One raster and the picture in it.

    Parameters
    ----------
    raster : RasterTiming
        The raster.
    image : ImageWindow or None
        The picture.
    source : str
        Title of the source of the parent.
    place : str
        Place in it.

    Returns
    -------
    TimingDoc
        For JSON.
    """
    h, v = raster.h, raster.v
    return d.TimingDoc(
        parent=raster.parent,
        parent_id=raster.parent_id,
        divide=raster.divide,
        h=d.HorizontalDoc(
            active_px=h.active_px,
            front_px=h.front_px,
            sync_px=h.sync_px,
            back_px=h.back_px,
            total_px=h.total_px,
            polarity=h.polarity,
        ),
        v=d.VerticalDoc(
            active_lines=v.active_lines,
            front_lines=v.front_lines,
            sync_lines=v.sync_lines,
            back_lines=v.back_lines,
            total_lines=v.total_lines,
            polarity=v.polarity,
        ),
        pixel_clock_hz=float(raster.pixel_clock_hz),
        line_rate_hz=float(raster.line_rate_hz),
        frame_rate_hz=float(raster.frame_rate_hz),
        interlaced=raster.interlaced,
        image_rows=image.image_rows if image else None,
        line_repeat=image.line_repeat if image else 1,
        picture_px=image.picture_px if image else None,
        borders=[image.left_px, image.right_px, image.top_lines, image.bottom_lines] if image else None,
        source=source,
        place=place,
    )


def clock_doc(chip: str, target_hz: float, h_total_px: int, candidates: Iterable[ClockCandidate]) -> d.ClockDoc:
    """Rates near a target.

    Parameters
    ----------
    chip : str
        The chip.
    target_hz : float
        Rate asked for. [Hz]
    h_total_px : int
        Pixels of a whole line. [1]
    candidates : iterable of ClockCandidate
        Rates, best first.

    Returns
    -------
    ClockDoc
        For JSON.
    """
    return d.ClockDoc(
        chip=chip,
        target_hz=target_hz,
        h_total_px=h_total_px,
        candidates=[
            d.CandidateDoc(
                achieved_hz=float(c.achieved_hz),
                error_ppm=float(c.error_ppm),
                wobble_px=float(c.wobble_px),
                lines_repeat_after=c.lines_repeat_after,
                system_hz=None if c.system_hz is None else float(c.system_hz),
                within=c.within,
                noise_known=c.noise_known,
                chain=c.chain,
                recipe=c.recipe,
                settings=dict(c.settings),
            )
            for c in candidates
        ],
    )


def chip_doc(chip: Chip) -> d.ChipDoc:
    """A whole chip record.

    Parameters
    ----------
    chip : Chip
        The chip.

    Returns
    -------
    ChipDoc
        For JSON.
    """
    return d.ChipDoc(
        name=chip.name,
        record=_plain(chip.table.model_dump(exclude_none=True)),
        sources={
            key: {"title": s.title, "edition": s.edition, "standing": s.standing, "read": s.read}
            for key, s in sorted(chip.sources.items())
        },
    )


def check_doc(file: str, title: str, survey: Survey, chip: str, *, strict: bool = False) -> d.CheckDoc:
    """A whole survey.

    Parameters
    ----------
    file : str
        The dossier's file.
    title : str
        Its title.
    survey : Survey
        The survey.
    chip : str
        Name of the chip.
    strict : bool
        Whether a stop that holds on a guess counts as unknown.

    Returns
    -------
    CheckDoc
        For JSON.
    """
    return d.CheckDoc(
        file=file,
        title=title,
        ready=survey.exit_code(strict=strict) == 0,
        counts=counts_doc(survey),
        rigs=[d.RigDoc(name=rig.name, stages=_stages(rig, chip)) for rig in survey.rigs],
    )


def counts_doc(survey: Survey) -> d.CountsDoc:
    """Checks by state.

    Parameters
    ----------
    survey : Survey
        The survey.

    Returns
    -------
    CountsDoc
        For JSON.
    """
    states = [v.state for v in survey.verdicts]
    return d.CountsDoc(
        holds=states.count("holds"),
        fails=states.count("fails"),
        unknown=states.count("unknown"),
        accepted=states.count("accepted"),
        stale=states.count("stale"),
        on_guess=len(survey.on_guess),
    )


def tried_doc(patches: Mapping[str, str], trial: Trial, *, written: bool) -> d.TriedDoc:
    """What a tried change does.

    Parameters
    ----------
    patches : Mapping
        Places and new values.
    trial : Trial
        The trial.
    written : bool
        Whether the change was written in the end.

    Returns
    -------
    TriedDoc
        For JSON.
    """

    def listed(changes: Iterable[Any]) -> list[d.ChangeDoc]:
        made: list[d.ChangeDoc] = []
        for change in changes:
            one = change.after or change.before
            made.append(
                d.ChangeDoc(
                    code=one.code,
                    subject=one.subject,
                    rig=one.rig,
                    before=change.before.state if change.before else None,
                    after=change.after.state if change.after else None,
                )
            )
        return made

    return d.TriedDoc(
        patches=dict(patches),
        mended=listed(trial.mended),
        broken=listed(trial.broken),
        moved=listed(trial.moved),
        written=written,
    )


def _stages(rig: RigSurvey, chip: str) -> d.StagesDoc:
    """Results of one rig's stages."""
    timing: d.TimingDoc | None = None
    if rig.timing is not None:
        timing = timing_doc(rig.timing.raster.value, rig.timing.image.value if rig.timing.image else None, "", "")
        for fact in rig.timing.raster.facts:
            if fact.source:
                timing["source"], timing["place"] = fact.source, fact.detail
    return d.StagesDoc(
        timing=timing,
        clock=_clock(rig.clock, chip),
        screens=_screens(rig.screens),
        lanes=_lanes(rig.lanes),
        memory=_memory(rig.memory),
        levels=_levels(rig.levels),
    )


def _clock(known: Known[ClockPlan] | None, chip: str) -> d.ClockDoc | None:
    """The pixel clock in use."""
    if known is None:
        return None
    plan = known.value
    return clock_doc(chip, float(plan.target_hz), plan.made.h.total_px, [plan.candidate])


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
    )


def _levels(levels: LevelPlan | None) -> d.LevelPlanDoc | None:
    """Levels and currents."""
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
                source_ohm=c.figures.source_ohm,
            )
            for c in levels.channels
        ],
        syncs=[
            d.SyncDoc(display=s.display, high_v=_span(s.high_v, "V"), low_v=_span(s.low_v, "V")) for s in levels.syncs
        ],
        pins_a=None if levels.pins_a is None else _span(levels.pins_a, "A"),
        inlet_a=None if levels.inlet_a is None else _span(levels.inlet_a, "A"),
        regulator_w=None if levels.regulator_w is None else _span(levels.regulator_w, "W"),
        white_average=levels.white_average,
    )


def _amount(one: Amount | None) -> d.AmountDoc | None:
    """An amount, if there is one."""
    return None if one is None else d.AmountDoc(low=one.low, typical=one.typical, high=one.high, unit=one.unit)


def _span(span: Span, unit: str) -> d.AmountDoc:
    """A span with its unit."""
    return d.AmountDoc(low=span.low, typical=span.typical, high=span.high, unit=unit)


def _plain(value: Any) -> Any:
    """Plain JSON of a record: decimals as numbers, spans as three numbers."""
    if isinstance(value, dict):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, Span):
        return [value.low, value.typical, value.high]
    if isinstance(value, (list, tuple)):
        return [_plain(v) for v in value]
    if value is None or isinstance(value, (str, int, float, bool)):
        return value
    return float(value)
