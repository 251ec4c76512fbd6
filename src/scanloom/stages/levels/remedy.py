"""The cure for pins that carry too much: buffers between the chip and the displays, as a patch."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.basis.verdict import Patch
from scanloom.dossier.model import Display
from scanloom.dossier.reading import Reading
from scanloom.handbook.buffers import buffer
from scanloom.handbook.limits import limit
from scanloom.handbook.series import nearest, values
from scanloom.stages.levels.buffers import buffer_count
from scanloom.stages.levels.model import OutputNetwork, parallel
from scanloom.stages.levels.network import (
    Missing,
    buffer_driver,
    colour_parts,
    colour_stage,
    pin_driver,
)
from scanloom.stages.levels.tolerance import pin_current_spans, white_span

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
    style, load = stage.style.value, display.colour_load.value
    try:
        driver = buffer_driver(aside, Known(FAMILY, ()))
        if style in ("series", "direct"):
            bare = OutputNetwork("series", (Span.exact(1.0),), driver.high_ohm, driver.low_ohm, driver.rail_v, load)
            fitted = best_part(bare)
            if fitted is None:
                return ()
            part, net = fitted[0], replace(bare, part_ohm=(fitted[1],))
        elif style == "weighted" and stage.part is not None:
            lacks_ohm = pin_driver(aside).high_ohm.typical - driver.high_ohm.typical
            parts = colour_parts(aside, stage, style, bits, key)
            part, spans = _many_parts([one.typical + lacks_ohm for one in parts])
            net = OutputNetwork("weighted", spans, driver.high_ohm, driver.low_ohm, driver.rail_v, load)
        else:
            return ()
    except (Missing, ValueError):
        return ()
    worst = max((pin.source_a for pin in pin_current_spans(net)), key=lambda span: span.high)
    count = buffer_count(buffer(FAMILY), worst, _outputs(aside, key))
    many = f"{count.packages} package{'s' if count.packages > 1 else ''} for {count.outputs} outputs"
    value = f'{{ style = "buffered", buffer = "{FAMILY}", part = "{part}" }}'
    says = f"put {FAMILY} buffers between the pins and the displays, {many}, with {part} behind them"
    return (Patch(key, value, says),)


def _outputs(read: Reading, key: str) -> int:
    """Pins of all colours that one colour stage of the dossier wires."""
    found = 0
    for connector in read.plan.connectors:
        plugged = None if connector.plugs is None else read.plan.displays.get(connector.plugs.value)
        if colour_stage(read.fork(), plugged)[1] == key:
            found += sum(
                len(pins.value) for pins in (connector.red, connector.green, connector.blue) if pins is not None
            )
    return max(found, 1)


@lru_cache(maxsize=64)
def best_part(net: OutputNetwork) -> tuple[str, Span] | None:
    """Cheapest part of a channel of one bit that keeps white inside its window; else the one that comes closest to it.

    Parameters
    ----------
    net : OutputNetwork
        The channel; its own part is not read.

    Returns
    -------
    tuple or None
        Part with its tolerance, as the dossier takes it and as a span; None where white is out of reach. [ohm]

    References
    ----------
    [corners] Every candidate is judged by the exact worst case, `white_span`.
    """
    window = limit("white")
    assert window.low is not None and window.high is not None
    middle = (window.low + window.high) / 2.0
    ground_ohm = parallel(net.load_ohm.typical, None if net.shunt_ohm is None else net.shunt_ohm.typical)
    ideal = ground_ohm * (net.rail_v.typical / middle - 1.0) - net.pin_high_ohm.typical
    if ideal <= 0.0:
        return None
    best: tuple[str, Span] | None = None
    best_room = -float("inf")
    for series, percent in _GRADES:
        for ohm in values(series, 0.9 * ideal, 1.1 * ideal):
            part = Span.exact(ohm).relative(percent)
            white = white_span(replace(net, part_ohm=(part,)))
            room = min(white.low - window.low, window.high - white.high)
            if room > best_room:
                best, best_room = (f"{ohm:g} ohm ± {percent:g} %", part), room
        if best_room >= 0.0:
            break
    return best


def _many_parts(ideal_ohm: list[float]) -> tuple[str, tuple[Span, ...]]:
    """Nearest parts of 1 %, most significant first, as the dossier takes them and as spans."""
    ohms = [nearest("E96", ohm) for ohm in ideal_ohm]
    return f"{', '.join([f'{ohm:g}' for ohm in ohms])} ohm ± 1 %", tuple(
        [Span.exact(ohm).relative(1.0) for ohm in ohms]
    )
