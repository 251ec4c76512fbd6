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


def fitting_streams(chip: Chip, colour_lanes: int, active_px: int = 0, total_px: int = 0) -> tuple[Stream, ...]:
    """Streams worth a look: of each kind of sync and routing the narrowest that holds the word and reads lines whole.

    Where none reads this line whole, the narrowest that holds the word; where none holds it, the widest.

    Parameters
    ----------
    chip : Chip
        The chip.
    colour_lanes : int
        Lanes for colours. [1]
    active_px : int
        Stored pixels of a row; 0 leaves the length of lines aside. [1]
    total_px : int
        Pixels of a whole line, blanking included. [1]

    Returns
    -------
    tuple of Stream
        In the order of lanes.
    """
    kept: dict[tuple[object, ...], Stream] = {}
    for kind, streams in _kinds(ChipKey(chip)):
        enough = [s for s in streams if s.lanes >= colour_lanes + (2 if s.sync == "word" else 0)]
        whole = (s for s in enough if not active_px % s.words_per_read and not _lines(s, total_px) % s.words_per_read)
        kept[kind] = next(whole, enough[0] if enough else streams[-1])
    return tuple(sorted(kept.values(), key=lambda s: s.lanes))


def _lines(stream: Stream, total_px: int) -> int:
    """Words of a line that are read from RAM, blanking included where the syncs are in the word."""
    return total_px if stream.sync == "word" else 0


@lru_cache(maxsize=64)
def _kinds(key: ChipKey) -> tuple[tuple[tuple[object, ...], tuple[Stream, ...]], ...]:
    """Streams of a chip by kind of sync and routing, the narrowest first."""
    made: dict[tuple[object, ...], list[Stream]] = {}
    for stream in sorted(key.chip.table.stream, key=lambda s: s.lanes):
        routing = key.chip.routing_of(stream.name)
        kind = (stream.sync, stream.table is None, routing.rule if routing else "", routing.pins if routing else None)
        made.setdefault(kind, []).append(stream)
    return tuple((kind, tuple(streams)) for kind, streams in made.items())


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
