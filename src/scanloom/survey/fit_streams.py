"""Which streams of a chip are worth a look for a wish, and the pixel rate each makes; answers are remembered."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from scanloom.handbook.chip import Chip, Stream
from scanloom.handbook.clock_chain import ClockChain
from scanloom.stages.clock import ClockCandidate, chains_for, enumerate_chains


@dataclass(frozen=True, slots=True, eq=False)
class ChipKey:
    """A chip as a key: told apart by the record itself, so that two files of one name stay apart.

    Parameters
    ----------
    chip : Chip
        The chip.
    """

    chip: Chip

    def __eq__(self, other: object) -> bool:
        """Whether it is the very same record."""
        return isinstance(other, ChipKey) and other.chip is self.chip

    def __hash__(self) -> int:
        """Place of the record in memory."""
        return id(self.chip)


def fitting_streams(chip: Chip, colour_lanes: int) -> tuple[Stream, ...]:
    """Streams worth a look: of each kind of sync the narrowest that holds the word, and where none does the widest.

    Parameters
    ----------
    chip : Chip
        The chip.
    colour_lanes : int
        Lanes for colours. [1]

    Returns
    -------
    tuple of Stream
        In the order of the record.
    """
    kept: dict[tuple[object, ...], Stream] = {}
    for stream in sorted(chip.table.stream, key=lambda s: s.lanes):
        routing = chip.routing_of(stream.name)
        kind = (stream.sync, stream.table is None, routing.rule if routing else "", routing.pins if routing else None)
        enough = stream.lanes >= colour_lanes + (2 if stream.sync == "word" else 0)
        old = kept.get(kind)
        if old is None or old.lanes < colour_lanes + (2 if old.sync == "word" else 0):
            if enough or old is None or stream.lanes > old.lanes:
                kept[kind] = stream
    return tuple(kept.values())


def best_clock(chip: Chip, stream: str, target_hz: Fraction, h_total_px: int) -> ClockCandidate | None:
    """Best pixel rate of a stream, remembered by the chains that serve it.

    Parameters
    ----------
    chip : Chip
        The chip.
    stream : str
        The stream.
    target_hz : Fraction
        Rate of the raster. [Hz]
    h_total_px : int
        Pixels of a whole line. [1]

    Returns
    -------
    ClockCandidate or None
        None when the chip's clocks are not on record.
    """
    return _of_chip(ChipKey(chip), stream, target_hz, h_total_px)


@lru_cache(maxsize=4096)
def _of_chip(key: ChipKey, stream: str, target_hz: Fraction, h_total_px: int) -> ClockCandidate | None:
    """Best pixel rate of one chip: quick to look up."""
    return _of_chains(chains_for(key.chip, stream), target_hz, h_total_px)


@lru_cache(maxsize=4096)
def _of_chains(chains: tuple[ClockChain, ...], target_hz: Fraction, h_total_px: int) -> ClockCandidate | None:
    """Best pixel rate of some chains, which several streams and chips of one family may share."""
    for whole_only in (True, False):
        found = enumerate_chains(chains, target_hz, h_total_px=h_total_px, whole_only=whole_only, limit=1)
        if found and (found[0].within or not whole_only):
            return found[0]
    return None
