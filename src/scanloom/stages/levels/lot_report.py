"""Tolerance of a rig's colours in depth, on request: yield, what moves white, and which parts may be looser."""

from __future__ import annotations

from scanloom.basis.record import record
from scanloom.stages.levels.chance import LotYield, Spread, lot_of, measure_yield
from scanloom.stages.levels.result import ChannelLevels, LevelPlan
from scanloom.stages.levels.sensitivity import (
    Influence,
    LooserPart,
    looser_parts,
    looser_words,
    step_influences,
    white_influences,
)
from scanloom.stages.levels.wired import ColourWiring


@record
class ChannelTolerance:
    """What tolerance does to channels that are built alike.

    Parameters
    ----------
    built_alike : tuple of str
        The channels, each as display and colour.
    white_moved : tuple of Influence
        What each element does to white, the strongest first; before an amplifier, what it does to the level there. [V]
    step_moved : tuple of Influence
        What each does to the smallest step; none for a single bit. [V]
    looser : tuple of LooserPart
        Parts that may be of a looser grade, all together. [%]
    grades_say : str
        The grade of each part, as a sentence.
    """

    built_alike: tuple[str, ...]
    white_moved: tuple[Influence, ...]
    step_moved: tuple[Influence, ...]
    looser: tuple[LooserPart, ...]
    grades_say: str


@record
class LevelTolerance:
    """What tolerance does to the boards of one rig.

    Parameters
    ----------
    lot : LotYield
        How many turn out good.
    alike : tuple of ChannelTolerance
        Channels by how they are built, in the order of the board.
    """

    lot: LotYield
    alike: tuple[ChannelTolerance, ...]


def measure_tolerance(
    plan: LevelPlan, boards: int = 100_000, seed: int = 1, spread: Spread = "even", *, pins_alike: bool = True
) -> LevelTolerance:
    """Tolerance of a rig's colours in depth; a survey does not wait for it.

    Parameters
    ----------
    plan : LevelPlan
        Levels of the rig.
    boards : int, optional
        Boards to draw. [1]
    seed : int, optional
        Any number from 0. [1]
    spread : {"even", "normal"}, optional
        How values lie in their spans.
    pins_alike : bool, optional
        Whether all pins of a board are alike.

    Returns
    -------
    LevelTolerance
        Yield, influences, looser parts.

    Raises
    ------
    ValueError
        If the plan has no channel, or the number of boards or the seed is out of its bounds.

    References
    ----------
    [parts] `measure_yield`, `white_influences`, `step_influences` and `looser_parts`.
    """
    lot = measure_yield(lot_of(plan, spread, pins_alike=pins_alike), boards, seed)
    alike: dict[ColourWiring, list[ChannelLevels]] = {}
    for channel in plan.channels:
        alike.setdefault(channel.wiring, []).append(channel)
    return LevelTolerance(lot, tuple([_channel(wiring, members) for wiring, members in alike.items()]))


def _channel(wiring: ColourWiring, members: list[ChannelLevels]) -> ChannelTolerance:
    """Tolerance of channels that are built alike."""
    net = wiring.network
    # in front of an amplifier the window is that of its input, and a shared pin's own bounds are not the network's
    plain = wiring.amplifier is None and not wiring.is_shared
    looser = looser_parts(net) if plain else ()
    return ChannelTolerance(
        tuple(f"{one.display}.{one.channel}" for one in members),
        white_influences(net),
        step_influences(net) if net.bits > 1 else (),
        looser,
        looser_words(net, looser),
    )
