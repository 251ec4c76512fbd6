"""All stages in their order for every rig."""

from __future__ import annotations

from scanloom.basis.fact import Fact, Known
from scanloom.basis.record import record
from scanloom.basis.verdict import Verdict
from scanloom.dossier.model import Rig
from scanloom.dossier.plan import Plan
from scanloom.dossier.reading import Reading
from scanloom.stages.clock import ClockPlan, judge_clock
from scanloom.stages.lanes import LaneMap, judge_lanes
from scanloom.stages.levels import LevelPlan, judge_levels
from scanloom.stages.memory import MemoryPlan, judge_memory
from scanloom.stages.picture import PictureOutlook, judge_picture
from scanloom.stages.screens import ScreenAnswers, judge_screens
from scanloom.stages.timing import RasterPlan, judge_timing
from scanloom.stages.waking import WakingPlan, judge_waking
from scanloom.survey.acceptance import accept

STAGES = ("timing", "clock", "screens", "lanes", "memory", "levels", "waking", "picture")
"""Stages that are built, in the order they run."""


@record
class RigSurvey:
    """Results of one rig; a stage that could not run has none.

    Parameters
    ----------
    name : str
        The rig.
    timing : RasterPlan or None
        Its raster.
    clock : Known or None
        Its pixel clock.
    screens : ScreenAnswers or None
        What the displays say.
    lanes : LaneMap or None
        Its word and pins.
    memory : MemoryPlan or None
        Its frame in RAM.
    levels : LevelPlan or None
        Its levels and currents.
    waking : WakingPlan or None
        Its reset and power.
    picture : PictureOutlook or None
        What its displays will do.
    """

    name: str
    timing: RasterPlan | None
    clock: Known[ClockPlan] | None
    screens: ScreenAnswers | None
    lanes: LaneMap | None
    memory: MemoryPlan | None
    levels: LevelPlan | None
    waking: WakingPlan | None
    picture: PictureOutlook | None = None


@record
class Survey:
    """Everything computed and judged for one dossier.

    Parameters
    ----------
    rigs : tuple of RigSurvey
        Results of each rig.
    verdicts : tuple of Verdict
        Every check made, those that hold too, in stage order rig by rig.
    """

    rigs: tuple[RigSurvey, ...]
    verdicts: tuple[Verdict, ...]

    def count(self, *states: str) -> int:
        """Checks in some states; what one acceptance covers in several rigs counts once.

        Parameters
        ----------
        *states : str
            States to count.

        Returns
        -------
        int
            How many. [1]
        """
        return len({self._once(v) for v in self.verdicts if v.state in states})

    @staticmethod
    def _once(verdict: Verdict) -> tuple[str, str, str]:
        """What makes a verdict one of its own; one that was accepted is one with its like in other rigs."""
        rig = "" if verdict.because else verdict.rig
        return verdict.code, verdict.subject, rig

    def blocking(self, *, strict: bool = False) -> tuple[Verdict, ...]:
        """Verdicts that keep the plan from being ready, each acceptance once.

        Parameters
        ----------
        strict : bool
            Whether a stop that holds on a guess counts as unknown.

        Returns
        -------
        tuple of Verdict
            In survey order.
        """
        found = {self._once(v): v for v in self.verdicts if self.blocks(v, strict=strict)}
        return tuple(found.values())

    @property
    def holding(self) -> tuple[Verdict, ...]:
        """Verdicts that hold."""
        return tuple(v for v in self.verdicts if v.state == "holds")

    @property
    def on_guess(self) -> tuple[Verdict, ...]:
        """Verdicts that hold only on a guess."""
        return tuple(v for v in self.holding if v.on_guess)

    def blocks(self, verdict: Verdict, *, strict: bool = False) -> bool:
        """Whether a verdict keeps the plan from being ready.

        Parameters
        ----------
        verdict : Verdict
            One of this survey.
        strict : bool
            Whether a stop that holds on a guess counts as unknown.

        Returns
        -------
        bool
            True for a stop or caution that fails and for a stop that is unknown; accepted counts as settled, stale as if
            never accepted; notes never count.
        """
        if verdict.weight == "note" or verdict.state == "accepted":
            return False
        if verdict.judged == "fails":
            return True
        unsure = verdict.judged == "unknown" or (strict and verdict.on_guess)
        return verdict.weight == "stop" and unsure

    def exit_code(self, *, strict: bool = False) -> int:
        """0 when nothing blocks, else 1.

        Parameters
        ----------
        strict : bool
            Whether a stop that holds on a guess counts as unknown.

        Returns
        -------
        int
            Exit code of a command that surveys. [1]
        """
        return int(any(self.blocks(v, strict=strict) for v in self.verdicts))


def survey_plan(plan: Plan) -> Survey:
    """Run every stage for every rig.

    Parameters
    ----------
    plan : Plan
        A dossier made ready.

    Returns
    -------
    Survey
        All results and verdicts, acceptances applied.
    """
    rigs: list[RigSurvey] = []
    verdicts: list[Verdict] = []
    for rig in plan.rigs:
        rigs.append(_survey_rig(plan, rig, verdicts))
    if not plan.rigs:
        verdicts.append(_waits("", "timing", "a rig, and the dossier states none"))
    verdicts.extend(_not_built(fact) for fact in plan.pending)
    own = [one for one in plan.dossier.accepted if not one.code.startswith("board.")]  # those are the review's
    return Survey(tuple(rigs), accept(verdicts, own))


def _survey_rig(plan: Plan, rig: Rig, verdicts: list[Verdict]) -> RigSurvey:
    """Run every stage for one rig; a stage whose input is missing waits and says on what."""
    reading = Reading(plan, rig)
    timing = judge_timing(reading)
    verdicts.extend(timing.verdicts)
    raster = timing.result.raster if timing.result else None
    image = timing.result.image if timing.result else None
    clock: Known[ClockPlan] | None = None
    if raster is None:
        verdicts.append(_waits(rig.name, "clock", "timing"))
    else:
        clock_outcome = judge_clock(reading, raster)
        verdicts.extend(clock_outcome.verdicts)
        clock = clock_outcome.result
    screens: ScreenAnswers | None = None
    if raster is None or clock is None:
        verdicts.append(_waits(rig.name, "screens", "clock"))
    else:
        screens_outcome = judge_screens(reading, raster, clock)
        verdicts.extend(screens_outcome.verdicts)
        screens = screens_outcome.result
    rate = Known(clock.value.candidate.achieved_hz, clock.facts) if clock else None
    lanes_outcome = judge_lanes(reading, rate)
    verdicts.extend(lanes_outcome.verdicts)
    lanes = lanes_outcome.result
    memory: MemoryPlan | None = None
    if raster is None or image is None or lanes is None:
        verdicts.append(_waits(rig.name, "memory", "timing" if raster is None or image is None else "lanes"))
    else:
        memory_outcome = judge_memory(reading, raster, image, lanes.stream, clock, lanes.colour_bits)
        verdicts.extend(memory_outcome.verdicts)
        memory = memory_outcome.result
    levels: LevelPlan | None = None
    if lanes is None:
        verdicts.append(_waits(rig.name, "levels", "lanes"))
    else:
        levels_outcome = judge_levels(reading, lanes, raster, image)
        verdicts.extend(levels_outcome.verdicts)
        levels = levels_outcome.result
    waking = judge_waking(reading, levels)
    verdicts.extend(waking.verdicts)
    if waking.result is None:
        verdicts.append(_waits(rig.name, "waking", "lanes"))
    picture: PictureOutlook | None = None
    if raster is None or clock is None or screens is None or levels is None:
        verdicts.append(_waits(rig.name, "picture", "levels" if screens is not None else "screens"))
    else:
        picture_outcome = judge_picture(
            reading, raster, clock, screens, levels, (*screens_outcome.verdicts, *levels_outcome.verdicts)
        )
        verdicts.extend(picture_outcome.verdicts)
        picture = picture_outcome.result
    return RigSurvey(rig.name, timing.result, clock, screens, lanes, memory, levels, waking.result, picture)


def _waits(rig: str, stage: str, on: str) -> Verdict:
    """A stage that could not run."""
    return Verdict(
        code="survey.waits-on",
        subject=f"rigs.{rig}.{stage}" if rig else "rigs",
        rig=rig,
        state="unknown",
        weight="stop",
        says=f"{stage[:1].upper() + stage[1:]} waits on {on}.",
        judged="unknown",
    )


def _not_built(fact: Fact) -> Verdict:
    """Something the dossier states that this version reads but does not judge here."""
    if fact.key == "board.files":
        return Verdict(
            code="survey.on-request",
            subject=fact.key,
            rig="",
            state="unknown",
            weight="note",
            says="The fabrication files are judged on request: scanloom review FOLDER DOSSIER.",
            judged="unknown",
            rests_on=(fact,),
        )
    return Verdict(
        code="survey.not-judged",
        subject=fact.key,
        rig="",
        state="unknown",
        weight="note",
        says=f"[{fact.key}] is read and kept, but this version does not judge {fact.text} yet.",
        judged="unknown",
        rests_on=(fact,),
    )
