"""Verdicts on how alike the colours of one display are."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import permutations

from scanloom.basis.fact import Known
from scanloom.basis.span import Span
from scanloom.basis.verdict import Settle, Verdict
from scanloom.dossier.reading import Reading
from scanloom.handbook.limits import known_limit
from scanloom.stages.levels.result import ChannelLevels
from scanloom.stages.levels.wired import ColourWiring, wired_white


def white_on_one_rail(wiring: ColourWiring) -> Span:
    """Bounds of white with the rail at its typical value: it is the same for all channels of a board.

    Parameters
    ----------
    wiring : ColourWiring
        The channel.

    Returns
    -------
    Span
        Level into the display's load. [V]

    References
    ----------
    [ratio] Every level is in proportion to the rail, so a common rail leaves no mark on how levels compare.
    """
    net = wiring.network
    return wired_white(replace(wiring, network=replace(net, rail_v=Span.exact(net.rail_v.typical))))


_white_of: Callable[[ColourWiring], Span] = lru_cache(maxsize=256)(white_on_one_rail)


def colour_mismatch(whites_v: Sequence[Span]) -> Span:
    """Largest less smallest white over the mean of the two, every element anywhere in its span.

    Parameters
    ----------
    whites_v : sequence of Span
        White of each colour on one rail, two or more. [V]

    Returns
    -------
    Span
        The mismatch; bounds are reached where each pin lies anywhere. [1]

    Raises
    ------
    ValueError
        If there are fewer than two colours.

    References
    ----------
    [corners] One colour at its highest and another at its lowest is the worst; where two spans overlap they may agree.
    """
    if len(whites_v) < 2:
        raise ValueError(f"{len(whites_v)} colours; allowed are two or more; one alone matches itself")
    pairs = list(permutations(whites_v, 2))
    typical = max(_apart(one.typical, other.typical) for one, other in pairs)
    return Span(
        max(_apart(one.low, other.high) if one.low > other.high else 0.0 for one, other in pairs),
        typical,
        max(typical, *(_apart(one.high, other.low) for one, other in pairs)),
    )


def judge_mismatch(reading: Reading, channels: Sequence[Known[ChannelLevels]], verdicts: list[Verdict]) -> None:
    """Colours of each display against one another.

    Parameters
    ----------
    reading : Reading
        Of one rig; has read nothing.
    channels : sequence of Known
        Channels whose levels are known.
    verdicts : list of Verdict
        Where the verdicts go.
    """
    shown: dict[str, list[Known[ChannelLevels]]] = {}
    for known in channels:
        shown.setdefault(known.value.display, []).append(known)
    limit = known_limit("channel-mismatch")
    for display, members in shown.items():
        if len(members) < 2:
            continue
        read = reading.fork()
        apart = colour_mismatch([_white_of(read(known).wiring) for known in members])
        verdicts.append(
            read.verdict(
                "levels.channel-mismatch",
                f"displays.{display}",
                "note",
                {
                    "holds": f"The colours of {display} are alike: grey has no tint.",
                    "fails": f"The colours of {display} differ: grey has a tint.",
                    "unknown": f"The colours of {display} may differ with unlucky parts, loads and pins: grey would have a tint.",
                },
                found=Span(100.0 * apart.low, 100.0 * apart.typical, 100.0 * apart.high),
                unit="%",
                high=limit.value.high,
                limit=limit,
                settle=Settle(
                    f"Measure white of each colour at {display}'s plug with the display on and a white picture.",
                    "all within 6 % of one another", "farther apart", 10, f"displays.{display}.colour_load",
                ),
            )
        )  # fmt: skip


def _apart(one_v: float, other_v: float) -> float:
    """Difference of two levels over their mean, as a magnitude."""
    return abs(one_v - other_v) * 2.0 / (one_v + other_v)
