"""Whether each display locks, and whether its white clips: cheap enough for every change."""

from __future__ import annotations

from collections.abc import Sequence

from scanloom.basis.fact import Known, merged
from scanloom.basis.outcome import Outcome
from scanloom.basis.span import Span
from scanloom.basis.verdict import Patch, Settle, Verdict
from scanloom.dossier.reading import Reading
from scanloom.handbook.limits import known_limit
from scanloom.stages.clock import ClockPlan
from scanloom.stages.levels import LevelPlan
from scanloom.stages.picture.lock import LockFault, edge_faults, said_faults, sync_faults
from scanloom.stages.picture.outlook import DisplayOutlook, PictureOutlook
from scanloom.stages.picture.syncs import planned_syncs
from scanloom.stages.screens import ScreenAnswers
from scanloom.stages.timing import RasterTiming

_LOCK_CODES = ("screens.rate", "screens.separate-sync", "levels.sync-high", "levels.sync-low")


_NOTHING = LockFault("holds", "nothing speaks against it", "a steady picture")


def judge_picture(
    reading: Reading,
    raster_known: Known[RasterTiming],
    clock: Known[ClockPlan],
    screens: ScreenAnswers,
    levels: LevelPlan,
    said: Sequence[Verdict],
) -> Outcome[PictureOutlook]:
    """What each display will do with the rig's signal, short of drawing it.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    raster_known : Known
        The raster as published.
    clock : Known
        The raster as really made.
    screens : ScreenAnswers
        What the displays say to it.
    levels : LevelPlan
        Levels of every channel.
    said : sequence of Verdict
        Verdicts of screens and levels on this rig, whose facts these verdicts inherit.

    Returns
    -------
    Outcome
        One outlook a display, in the order of the dossier.
    """
    plugged = {c.plugs.value for c in reading.plan.connectors if c.plugs is not None}
    outlooks: list[DisplayOutlook] = []
    verdicts: list[Verdict] = []
    by_display: dict[str, list[Verdict]] = {}
    for one in said:
        parts = one.subject.split(".")
        if parts[0] == "displays" and len(parts) > 1:
            by_display.setdefault(parts[1], []).append(one)
    wobble_px = clock.value.candidate.wobble_px
    faults = sync_faults(planned_syncs(clock.value.made), raster_known.value, wobble_px)
    for answer in screens.answers:
        name = answer.display
        mine = by_display.get(name, [])
        about_lock = tuple(v for v in mine if v.code in _LOCK_CODES)
        about_edges = tuple(v for v in mine if v.code == "levels.sync-edge")
        read = _inherits(reading, (*about_lock, *about_edges))
        read(raster_known)
        read(clock)
        held = (*said_faults(about_lock), *edge_faults(about_edges), *faults)
        wired = name in plugged and any(v.code == "levels.sync-high" for v in about_lock)
        if not wired:
            held = (*held, LockFault("unknown", "its sync levels are not known", "a dark screen or a message"))
        remedy = [patch for v in about_lock if v.judged != "holds" for patch in v.remedy]
        settle = next((v.settle for v in about_lock if v.judged != "holds" and v.settle is not None), None)
        verdicts.append(_locks(read, name, held, remedy, settle))
        whites = [c.white_v for c in levels.channels if c.display == name]
        about_white = tuple(v for v in mine if v.code == "levels.white")
        white = max(whites, key=lambda span: span.high, default=None)
        known = white is not None and all(v.found is not None for v in about_white)
        verdicts.append(_clips(_inherits(reading, about_white), name, white if known else None))
        state = verdicts[-2].judged
        why = "; ".join(f"{f.reason}; it would show {f.shows}" for f in held)
        outlooks.append(
            DisplayOutlook(name, {"holds": True, "fails": False, "unknown": None}[state], why, white if known else None)
        )
    return Outcome(PictureOutlook(tuple(outlooks)), tuple(verdicts))


def _inherits(reading: Reading, verdicts: Sequence[Verdict]) -> Reading:
    """A reading that has read what earlier verdicts rest on."""
    read = reading.fork()
    read(Known(None, merged(fact for v in verdicts for fact in v.rests_on)))
    return read


def _locks(
    read: Reading, name: str, faults: Sequence[LockFault], remedy: Sequence[Patch], settle: Settle | None
) -> Verdict:
    """Whether the display follows the syncs; what would settle an earlier stage's doubt settles this one's."""
    failing = [f for f in faults if f.state == "fails"]
    first = next(iter([*failing, *faults]), _NOTHING)
    return read.verdict(
        "picture.locks",
        f"displays.{name}",
        "stop",
        {
            "holds": f"{name} locks: rates, sync levels, widths and polarities are such as it takes.",
            "fails": f"{name} does not lock: {first.reason}. It would show {first.shows}.",
            "unknown": f"{name} may not lock: {first.reason}. It would show {first.shows}.",
        },
        state="fails" if failing else "unknown" if faults else "holds",
        remedy=remedy,
        settle=settle
        or Settle(
            f"Plug {name} into a bench board that sends this raster and watch it for an hour.",
            "a steady picture: write it into proved",
            "no lock, or it drops out",
            60,
            f"displays.{name}.proved",
        ),
    )  # fmt: skip


def _clips(read: Reading, name: str, white: Span | None) -> Verdict:
    """White against the largest full scale that an input can be set to; what a cable takes off is left out."""
    limit = known_limit("full-scale")
    return read.verdict(
        "picture.clipping",
        f"displays.{name}",
        "caution",
        {
            "holds": f"White of {name} lies inside what an input can be set to.",
            "fails": f"White of {name} clips at every setting of its input: fine detail leaves shadows beside it.",
            "unknown": f"Whether white of {name} clips is not known.",
        },
        found=white,
        unit="V",
        high=limit.value.high,
        limit=limit,
        settle=Settle(
            f"Measure white at the plug of {name} with 75 ohm in it.",
            "1.0 V or less", "more", 5, f"displays.{name}.colour_load",
        ),
    )  # fmt: skip
