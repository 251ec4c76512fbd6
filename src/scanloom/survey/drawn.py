"""Pictures of a whole rig, on request: from a surveyed rig to what each display shows, beside what it should show."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from scanloom.basis.arrays import held
from scanloom.basis.verdict import Verdict
from scanloom.dossier.model import Rig
from scanloom.dossier.plan import Plan
from scanloom.dossier.reading import Reading
from scanloom.stages.clock import ClockPlan
from scanloom.stages.lanes import LaneMap
from scanloom.stages.memory import MemoryPlan, SyncBits
from scanloom.stages.picture.convert import picture_numbers
from scanloom.stages.picture.effects import Effects, no_effects
from scanloom.stages.picture.figures import display_sight
from scanloom.stages.picture.frame import (
    ChannelKey,
    colour_table,
    colour_words,
    frame_bytes,
    raster_words,
    sent_words,
)
from scanloom.stages.picture.lock import sync_faults
from scanloom.stages.picture.look import distance
from scanloom.stages.picture.model import FrontEnd
from scanloom.stages.picture.outlook import DisplayOutlook, PictureOutlook
from scanloom.stages.picture.paths import display_paths, source_clocks
from scanloom.stages.picture.patterns import PatternName, lane_fields, pattern
from scanloom.stages.picture.show import show_rig
from scanloom.stages.picture.sight_verdicts import judge_sight
from scanloom.stages.picture.sizes import EffectSize, effect_sizes
from scanloom.stages.picture.syncs import seen_syncs
from scanloom.survey.drawn_model import DrawnDisplay, DrawnRig, NothingToDraw
from scanloom.survey.run import RigSurvey, Survey

__all__ = [
    "DrawnDisplay",
    "DrawnRig",
    "NothingToDraw",
    "draw_brightness",
    "draw_numbers",
    "draw_pattern",
    "frame_on_pins",
    "needed_results",
    "picture_size",
    "weigh_effects",
]

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def picture_size(rig: RigSurvey) -> tuple[int, int, float]:
    """Size of the picture that a rig stores, and the shape of its pixels.

    Parameters
    ----------
    rig : RigSurvey
        The rig.

    Returns
    -------
    tuple
        Pixels of a row, rows, and width of a pixel over its height. [1]

    Raises
    ------
    NothingToDraw
        If timing gave no picture.
    """
    if rig.timing is None or rig.timing.image is None:
        raise NothingToDraw(f"rig {rig.name}: no raster or no picture in it; scanloom check says what is missing")
    image, raster = rig.timing.image.value, rig.timing.raster.value
    return image.picture_px, image.image_rows, raster.divide / image.line_repeat


def draw_pattern(
    plan: Plan,
    survey: Survey,
    rig: RigSurvey,
    name: PatternName,
    effects: Effects,
    front: FrontEnd,
    only: Iterable[str] = (),
) -> DrawnRig:
    """A built-in picture on the displays of a rig.

    Parameters
    ----------
    plan : Plan
        The dossier made ready.
    survey : Survey
        Its survey.
    rig : RigSurvey
        The rig.
    name : str
        The picture.
    effects : Effects
        What counts.
    front : FrontEnd
        Knobs that no dossier states.
    only : iterable of str
        Displays to draw; empty for all.

    Returns
    -------
    DrawnRig
        The pictures.

    Raises
    ------
    NothingToDraw
        If the rig's plan is too incomplete.
    """
    width, rows, _ = picture_size(rig)
    if name == "lanes":
        lanes = needed_results(rig)[0].lanes
        return draw_numbers(plan, survey, rig, lane_fields(lanes, width, rows), effects, front, only)
    return draw_brightness(plan, survey, rig, pattern(name, width, rows), effects, front, only)


def draw_brightness(
    plan: Plan,
    survey: Survey,
    rig: RigSurvey,
    brightness: NDArray[np.float64],
    effects: Effects,
    front: FrontEnd,
    only: Iterable[str] = (),
) -> DrawnRig:
    """A picture of brightness on the displays of a rig, each channel at its nearest level.

    Parameters
    ----------
    plan : Plan
        The dossier made ready.
    survey : Survey
        Its survey.
    rig : RigSurvey
        The rig.
    brightness : ndarray of float, shape (rows, pixels, 3)
        Red, green, blue, 0 to 1, at the size that is stored. [1]
    effects : Effects
        What counts.
    front : FrontEnd
        Knobs that no dossier states.
    only : iterable of str
        Displays to draw; empty for all.

    Returns
    -------
    DrawnRig
        The pictures.

    Raises
    ------
    NothingToDraw
        If the rig's plan is too incomplete.
    """
    lanes, _ = needed_results(rig)
    assert rig.levels is not None
    paths = [known.value for known in display_paths(Reading(plan, _rig_of(plan, rig.name)), rig.levels)]
    numbers = picture_numbers(brightness, paths, lanes.lanes)
    return draw_numbers(plan, survey, rig, numbers, effects, front, only)


def draw_numbers(
    plan: Plan,
    survey: Survey,
    rig: RigSurvey,
    numbers: Mapping[ChannelKey, NDArray[np.uint16]],
    effects: Effects,
    front: FrontEnd,
    only: Iterable[str] = (),
) -> DrawnRig:
    """Levels of every channel on the displays of a rig.

    Parameters
    ----------
    plan : Plan
        The dossier made ready.
    survey : Survey
        Its survey.
    rig : RigSurvey
        The rig.
    numbers : Mapping
        Numbers by display and what its lanes carry, shape (rows, pixels). [1]
    effects : Effects
        What counts.
    front : FrontEnd
        Knobs that no dossier states.
    only : iterable of str
        Displays to draw; empty for all. What all share, such as the supply, still counts all.

    Returns
    -------
    DrawnRig
        The pictures.

    Raises
    ------
    NothingToDraw
        If the rig's plan is too incomplete, or there is nothing to show.
    """
    lanes, memory = needed_results(rig)
    assert rig.clock is not None and rig.levels is not None and rig.picture is not None
    if not numbers:
        raise NothingToDraw(f"rig {rig.name}: no lane carries a colour whose levels are known; scanloom check says why")
    made = rig.clock.value.made
    sync = SyncBits(lanes.mask("h"), lanes.mask("v"), made.h.polarity, made.v.polarity)
    words = frame_on_pins(numbers, lanes, memory, sync)
    reading = Reading(plan, _rig_of(plan, rig.name))
    known_paths = display_paths(reading, rig.levels)
    paths = [known.value for known in known_paths]
    clocks = source_clocks(rig.clock.value)
    shown = show_rig(paths, words, lanes.lanes, made, effects, front, clocks)
    ideal = show_rig(paths, words, lanes.lanes, made, no_effects(), front)
    outlooks = _outlooks(rig.picture, lanes, rig.clock.value, words, sync)
    wanted = set(only) or {path.name for path in paths}
    said = [v for v in survey.verdicts if v.rig == rig.name]
    drawn: list[DrawnDisplay] = []
    verdicts = [v for v in said if v.code.startswith("picture.") and v.subject.split(".")[1] in wanted]
    for known, one, best in zip(known_paths, shown, ideal, strict=True):
        path = known.value
        if path.name not in wanted:
            continue
        sight = display_sight(path, made, effects, front)
        drawn.append(DrawnDisplay(outlooks[path.name], path, one, best, sight, distance(one.native, best.native)))
        verdicts.extend(judge_sight(reading, known, rig.clock, sight, effects, said))
    mark = _mark(words, effects, front, verdicts)
    return DrawnRig(rig.name, tuple(drawn), held(words, words.shape), tuple(verdicts), mark)


def weigh_effects(rig: RigSurvey, drawn: DrawnRig, effects: Effects, front: FrontEnd) -> tuple[EffectSize, ...]:
    """How much each effect does to a picture that was drawn.

    Parameters
    ----------
    rig : RigSurvey
        The rig.
    drawn : DrawnRig
        Its pictures.
    effects : Effects
        What counts.
    front : FrontEnd
        Knobs that no dossier states.

    Returns
    -------
    tuple of EffectSize
        By effect, then by display; what displays share counts those drawn alone.
    """
    lanes, _ = needed_results(rig)
    assert rig.clock is not None
    clock = rig.clock.value
    paths = [one.path for one in drawn.displays]
    return effect_sizes(paths, drawn.words, lanes.lanes, clock.made, effects, front, source_clocks(clock))


def frame_on_pins(
    numbers: Mapping[ChannelKey, NDArray[np.uint16]], lanes: LaneMap, memory: MemoryPlan, syncs: SyncBits
) -> NDArray[np.uint32]:
    """Words of a frame as they leave the pins, packed into RAM and sent by the plan's own list.

    Parameters
    ----------
    numbers : Mapping
        Numbers by display and what its lanes carry, shape (rows, pixels). [1]
    lanes : LaneMap
        The word.
    memory : MemoryPlan
        The transfer list.
    syncs : SyncBits
        Where the syncs are.

    Returns
    -------
    ndarray of uint32, shape (lines, pixels)
        The whole raster, each line from its first active pixel. [1]

    Raises
    ------
    ValueError
        If the picture has another size than the plan, or more colours than a colour table holds.
    """
    stream = lanes.stream.value
    words = colour_words(lanes.lanes, numbers)
    table = None
    if stream.table is not None:
        table, words = colour_table(words, stream.table)
    stores = frame_bytes(words, memory.transfer_list, syncs, stream)
    sent = sent_words(stores, memory.transfer_list, stream)
    if table is not None:
        sent = table[sent]
    return raster_words(sent, memory.shape, hardware_syncs=stream.sync == "hardware")


def _outlooks(
    picture: PictureOutlook, lanes: LaneMap, clock: ClockPlan, words: NDArray[np.uint32], syncs: SyncBits
) -> dict[str, DisplayOutlook]:
    """Outlook of each display, held against the syncs that really leave the pins."""
    outlooks = {one.display: one for one in picture.displays}
    if lanes.stream.value.sync == "hardware":
        return outlooks
    seen = seen_syncs(words, syncs.h_mask, syncs.v_mask)
    wrong = [f for f in sync_faults(seen, clock.made, clock.candidate.wobble_px) if f.state == "fails"]
    if not wrong:
        return outlooks
    why = "; ".join(f"as sent: {fault.reason}; it would show {fault.shows}" for fault in wrong)
    return {name: replace(one, locks=False, why_not=why) for name, one in outlooks.items()}


def needed_results(rig: RigSurvey) -> tuple[LaneMap, MemoryPlan]:
    """Results that a picture cannot do without.

    Parameters
    ----------
    rig : RigSurvey
        The rig.

    Returns
    -------
    tuple
        The word and the transfer list; all others are there, too.

    Raises
    ------
    NothingToDraw
        If one of them is missing.
    """
    for name in ("timing", "clock", "screens", "lanes", "memory", "levels", "picture"):
        if getattr(rig, name) is None:
            raise NothingToDraw(f"rig {rig.name}: the picture waits on {name}; scanloom check says what is missing")
    assert rig.lanes is not None and rig.memory is not None
    return rig.lanes, rig.memory


def _rig_of(plan: Plan, name: str) -> Rig:
    """Rig of the dossier by name."""
    return next(rig for rig in plan.rigs if rig.name == name)


def _mark(words: NDArray[np.uint32], effects: Effects, front: FrontEnd, verdicts: Sequence[Verdict]) -> str:
    """Fingerprint of all that the pictures rest on."""
    told = hashlib.sha256(words.tobytes())
    told.update(repr((effects.on, front)).encode())
    for verdict in verdicts:
        told.update("".join(f"{f.key}\t{f.text}\t{f.origin}\n" for f in verdict.rests_on).encode())
    return told.hexdigest()[:12]
