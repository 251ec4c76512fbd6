"""The ways of a rig's channels put together from what the dossier, the handbook and earlier stages state."""

from __future__ import annotations

from fractions import Fraction

from scanloom.basis.fact import Known, merged
from scanloom.dossier.model import Display
from scanloom.dossier.reading import Reading
from scanloom.handbook.cables import cable, known_cable
from scanloom.handbook.front_end import front_end_row
from scanloom.stages.clock import ClockPlan
from scanloom.stages.clock.wobble import wobble_px
from scanloom.stages.levels import LevelPlan
from scanloom.stages.picture.model import COLOURS, ChannelPath, DisplayPath, InputCable


def display_paths(reading: Reading, levels: LevelPlan) -> tuple[Known[DisplayPath], ...]:
    """Displays of a rig with the channels that its lanes drive.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    levels : LevelPlan
        Levels of every channel.

    Returns
    -------
    tuple of Known
        One a display, in the order of the dossier, resting on its cable and panel.
    """
    made: list[Known[DisplayPath]] = []
    for name, display in reading.plan.displays.items():
        read = reading.fork()
        channels = sorted(
            (ChannelPath(c.display, c.channel, c.network) for c in levels.channels if c.display == name),
            key=lambda one: COLOURS.index(one.channel),
        )
        run = input_cable(read, display)
        panel = read.maybe(display.panel)
        made.append(read.known(DisplayPath(name, tuple(channels), run, panel)))
    return tuple(made)


def input_cable(read: Reading, display: Display) -> InputCable | None:
    """Cable of a display with typical figures.

    Parameters
    ----------
    read : Reading
        Notes the cable and its row.
    display : Display
        The display.

    Returns
    -------
    InputCable or None
        None when the dossier states none.
    """
    if display.cable is None:
        read.assume(f"displays.{display.name}.cable", None, "none", "no cable is stated, so none is taken")
        return None
    run = read(display.cable)
    row = cable(run.kind)
    line = read(known_cable(run.kind))
    shield = row.shield_ohm_per_m
    if shield is None:
        common = read(front_end_row("return-ohm")).typical or 0.0
    else:
        common = shield / len(COLOURS)  # three shields side by side, joined at both ends
    return InputCable(
        row.impedance_ohm,
        row.velocity_factor,
        row.attenuation_db_per_m,
        line.resistance_ohm_per_m,
        common,
        run.length_m.typical,
    )


def source_clocks(clock: ClockPlan) -> Fraction | None:
    """Source clocks of a pixel where a fractional divider makes it.

    Parameters
    ----------
    clock : ClockPlan
        Clock of the rig.

    Returns
    -------
    Fraction or None
        None for even pixels, and for a divider whose order of long and short pixels is not known. [1]
    """
    best = clock.candidate
    if not best.wobble_px or best.system_hz is None:
        return None
    ratio = best.system_hz / best.achieved_hz
    return ratio if wobble_px(ratio) == best.wobble_px else None


def facts_of(paths: tuple[Known[DisplayPath], ...], name: str) -> Known[None]:
    """What the way of one display rests on.

    Parameters
    ----------
    paths : tuple of Known
        All displays.
    name : str
        The display.

    Returns
    -------
    Known
        Its facts alone.
    """
    return Known(None, merged(fact for path in paths if path.value.name == name for fact in path.facts))
