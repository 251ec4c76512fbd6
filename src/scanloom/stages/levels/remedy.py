"""The cure for pins that carry too much: buffers between the chip and the displays, as a patch."""

from __future__ import annotations

from functools import lru_cache

from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.basis.verdict import Patch
from scanloom.dossier.model import Display
from scanloom.dossier.reading import Reading
from scanloom.handbook.limits import limit
from scanloom.handbook.series import nearest, values
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.network import (
    DriverFacts,
    Missing,
    buffer_driver,
    colour_parts,
    colour_stage,
    pin_driver,
)
from scanloom.stages.levels.tolerance import white_span

FAMILY = "LVC"
"""Family that is offered: the strongest of the handbook on the chip's own rail."""

_GRADES = (("E24", 1.0), ("E96", 1.0), ("E96", 0.5), ("E96", 0.1))
"""Parts to try, cheapest first: series, and tolerance. [%]"""


def buffered_colour(read: Reading, display: Display | None, bits: int) -> tuple[Patch, ...]:
    """The patch that puts buffers between the colour pins and a display, with parts that put white back.

    Parameters
    ----------
    read : Reading
        Gives the plan; nothing is noted, since what is merely offered is no ground of a verdict.
    display : Display or None
        The display; None for a connector that no display is plugged in.
    bits : int
        Pins of one of its channels. [1]

    Returns
    -------
    tuple of Patch
        One, or none where there are buffers already, where the parts are a ladder's, or where a fact is missing.
    """
    aside = read.fork()
    stage, key = colour_stage(aside, display)
    if stage is None or stage.style is None or display is None or display.colour_load is None:
        return ()
    style = stage.style.value
    try:
        driver = buffer_driver(aside, Known(FAMILY, ()))
        if style in ("series", "direct"):
            part = _one_part(driver, display.colour_load.value)
        elif style == "weighted" and stage.part is not None:
            pin_ohm = pin_driver(aside).high_ohm.typical
            parts = colour_parts(aside, stage, style, bits, key)
            part = _many_parts([p.typical + pin_ohm - driver.high_ohm.typical for p in parts])
        else:
            return ()
    except (Missing, ValueError):
        return ()
    value = f'{{ style = "buffered", buffer = "{FAMILY}", part = "{part}" }}'
    return (Patch(key, value, f"put {FAMILY} buffers between the pins and the displays, with {part} behind them"),)


@lru_cache(maxsize=64)
def _one_part(driver: DriverFacts, load: Span) -> str:
    """Cheapest part that keeps white inside its window; else the one that comes closest to it."""
    window = limit("white")
    assert window.low is not None and window.high is not None
    middle = (window.low + window.high) / 2.0
    rail_v, load_ohm = driver.rail_v.typical, load.typical
    ideal = load_ohm * (rail_v / middle - 1.0) - driver.high_ohm.typical
    if ideal <= 0.0:
        raise ValueError(f"white {middle} V is out of reach of {rail_v} V; a higher rail is needed; none is offered")
    best, best_room = "", -float("inf")
    for series, percent in _GRADES:
        for ohm in values(series, 0.9 * ideal, 1.1 * ideal):
            net = OutputNetwork(
                "series", (Span.exact(ohm).relative(percent),), driver.high_ohm, driver.low_ohm, driver.rail_v, load
            )
            white = white_span(net)
            room = min(white.low - window.low, window.high - white.high)
            if room > best_room:
                best, best_room = f"{ohm:g} ohm ± {percent:g} %", room
        if best_room >= 0.0:
            break
    return best


def _many_parts(ideal_ohm: list[float]) -> str:
    """Nearest parts of 1 %, most significant first."""
    listed = ", ".join([f"{nearest('E96', ohm):g}" for ohm in ideal_ohm])
    return f"{listed} ohm ± 1 %"
