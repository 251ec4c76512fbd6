"""Verdicts that need a display's figures: fine detail and what it leaves beside it. Made on request, with the picture.

They are notes: they are not made at every survey, so that an acceptance of one could meet nothing there.
"""

from __future__ import annotations

from collections.abc import Sequence

from scanloom.basis.fact import Known, merged
from scanloom.basis.span import Span
from scanloom.basis.verdict import Settle, Verdict
from scanloom.dossier.reading import Reading
from scanloom.handbook.front_end import front_end_row
from scanloom.handbook.limits import known_limit
from scanloom.stages.clock import ClockPlan
from scanloom.stages.picture.effects import ILLUSTRATED, Effects
from scanloom.stages.picture.figures import ChannelSight, DisplaySight
from scanloom.stages.picture.model import DisplayPath


def judge_sight(
    reading: Reading,
    path: Known[DisplayPath],
    clock: Known[ClockPlan],
    sight: DisplaySight,
    effects: Effects,
    said: Sequence[Verdict],
) -> tuple[Verdict, ...]:
    """What fine detail looks like on one display.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    path : Known
        The display's channels and cable.
    clock : Known
        The raster as really made.
    sight : DisplaySight
        Its figures.
    effects : Effects
        What they count.
    said : sequence of Verdict
        Verdicts of earlier stages, whose facts these inherit.

    Returns
    -------
    tuple of Verdict
        On ghosts and on contrast; none for a display without channels.
    """
    if not sight.channels:
        return ()
    read = reading.fork()
    shown = read(path)
    name = shown.name
    read(clock)
    white = f"displays.{name}."
    read(
        Known(
            None,
            merged(f for v in said if v.code == "levels.white" and v.subject.startswith(white) for f in v.rests_on),
        )
    )
    for effect in effects.on:
        if effect in ILLUSTRATED:
            read(front_end_row(ILLUSTRATED[effect]))
    bare = shown.cable is None
    return _ghost(read.fork(), name, sight.channels, bare), _contrast(read.fork(), name, sight.channels, bare)


def _ghost(read: Reading, name: str, channels: Sequence[ChannelSight], bare: bool) -> Verdict:
    """What white pixels leave on the black ones between and behind them; a cable that nobody stated may leave more."""
    worst = max(channels, key=lambda one: one.worst_tail)
    limit = known_limit("ghost")
    lone = worst.cable_tail + worst.recovery_tail
    parts = (
        f"beside one-pixel detail {worst.channel} keeps {worst.worst_tail:.1%} of full scale; behind a lone pixel {lone:.1%}, "
        f"{worst.cable_tail:+.1%} by circuit and cable, {worst.recovery_tail:+.1%} by recovery from overload (illustration)"
    )
    return read.verdict(
        "picture.ghost",
        f"displays.{name}",
        "note",
        {
            "holds": f"Fine detail of {name} stays clean: {parts}.",
            "fails": f"Fine detail of {name} leaves shadows: {parts}.",
            "unknown": f"Without a cable fine detail of {name} would stay clean, but its cable is not stated.",
        },
        state="unknown" if bare and worst.worst_tail * 100.0 <= (limit.value.high or 0.0) else None,
        found=Span.exact(worst.worst_tail * 100.0),
        unit="%",
        high=limit.value.high,
        limit=limit,
        settle=Settle(
            f"Show the one-pixel checker on {name} and look at its right edge.", fact=f"displays.{name}.cable"
        ),
    )


def _contrast(read: Reading, name: str, channels: Sequence[ChannelSight], bare: bool) -> Verdict:
    """Swing of alternating pixels; a cable that nobody stated may take more of it."""
    worst = min(channels, key=lambda one: one.alternating_contrast)
    limit = known_limit("alternating-contrast")
    return read.verdict(
        "picture.contrast",
        f"displays.{name}",
        "note",
        {
            "holds": f"Single pixels of {name} keep {worst.alternating_contrast:.0%} of their contrast.",
            "fails": f"Single pixels of {name} keep only {worst.alternating_contrast:.0%} of their contrast: "
            "a shorter or better cable.",
            "unknown": f"Without a cable single pixels of {name} would keep their contrast, but its cable is not stated.",
        },
        state="unknown" if bare and worst.alternating_contrast >= (limit.value.low or 0.0) else None,
        found=Span.exact(worst.alternating_contrast),
        unit="1",
        low=limit.value.low,
        limit=limit,
        settle=Settle(f"Measure the cable of {name}, kind and length.", fact=f"displays.{name}.cable"),
    )
