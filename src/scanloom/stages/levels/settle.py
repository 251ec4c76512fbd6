"""What would decide white, or tighten it most: one reading, or one better part."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from scanloom.basis.verdict import Settle
from scanloom.dossier.model import Display
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.sensitivity import Influence, white_influences
from scanloom.stages.levels.wired import ColourWiring

_influences: Callable[[OutputNetwork], tuple[Influence, ...]] = lru_cache(maxsize=256)(white_influences)


def white_settle(wiring: ColourWiring, low_v: float, high_v: float, display: Display, key: str) -> Settle:
    """The reading that decides white; where none does, the one that narrows it most.

    Parameters
    ----------
    wiring : ColourWiring
        The channel.
    low_v : float
        Least white. [V]
    high_v : float
        Most white. [V]
    display : Display
        The display.
    key : str
        Place of the colour stage in the dossier.

    Returns
    -------
    Settle
        The load by an ohmmeter where white holds between two readings of it, everything else at its worst; else what
        has the largest share in the width of white.
    """
    what = f"Measure pin 1 to pin 6 of {display.name}'s plug with an ohmmeter, display off."
    fact = f"displays.{display.name}.colour_load"
    bounds = _load_between(wiring, low_v, high_v)
    if bounds is not None:
        return Settle(what, f"{bounds[0]:.1f} to {bounds[1]:.1f} ohm", "outside that", 2, fact)
    for one in _influences(wiring.network):
        if one.spread_v == 0.0 or one.element == "load":
            break
        share = f": it makes {one.share:.0%} of white's width."
        if one.element == "pin high" and wiring.buffer is None:
            how = "Load a pin that is driven high with 100 ohm to ground and read its voltage, R = 100 (rail / reading - 1)"
            return Settle(how + share, minutes=5, fact="chip.pin_high")
        if one.element == "rail":
            how = "Read the pins' supply with a multimeter, white picture on all displays"
            return Settle(how + share, minutes=5, fact="chip.rail")
        if one.element.startswith("part"):
            return Settle(f"Fit {one.element} of a tighter tolerance{share}", minutes=5, fact=f"{key}.part")
        if one.element == "shunt":
            return Settle(f"Fit a shunt of a tighter tolerance{share}", minutes=5, fact=f"{key}.shunt")
    return Settle(what, "close to 75 ohm", "far from it", 2, fact)


def _load_between(wiring: ColourWiring, low_v: float, high_v: float) -> tuple[float, float] | None:
    """Loads between which white holds with everything else at its worst; None where there are none, or two stages."""
    net = wiring.network
    if wiring.style not in ("direct", "series") or net.rail_v.low <= low_v or net.rail_v.high <= high_v:
        return None
    weak = net.part_ohm[0].high + net.pin_high_ohm.high
    strong = net.part_ohm[0].low + net.pin_high_ohm.low
    # V = rail x load / (load + rest), solved for the load at either limit
    least = low_v * weak / (net.rail_v.low - low_v)
    most = high_v * strong / (net.rail_v.high - high_v)
    return None if least > most else (least, most)
