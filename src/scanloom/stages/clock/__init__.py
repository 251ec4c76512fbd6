"""Clock: pixel rates the chip can really make."""

from __future__ import annotations

from fractions import Fraction

from scanloom.basis.fact import Known
from scanloom.basis.outcome import Outcome
from scanloom.basis.record import record
from scanloom.basis.verdict import Verdict
from scanloom.dossier.reading import Reading
from scanloom.handbook.chip import Chip
from scanloom.handbook.clock_chain import ClockChain
from scanloom.stages.clock.enumerate import best_rate, enumerate_chains, enumerate_rates
from scanloom.stages.clock.model import WITHIN_PPM, ClockCandidate
from scanloom.stages.clock.nearest import nearest_rate
from scanloom.stages.clock.verdicts import judge_chosen, judge_error, judge_wobble, no_chain
from scanloom.stages.timing import RasterTiming, raster_at_clock

__all__ = [
    "WITHIN_PPM",
    "ClockCandidate",
    "ClockPlan",
    "best_rate",
    "chains_for",
    "enumerate_chains",
    "enumerate_rates",
    "judge_clock",
    "nearest_rate",
]


@record
class ClockPlan:
    """The pixel clock of one rig as the chip makes it.

    Parameters
    ----------
    target_hz : Fraction
        Rate the raster asks for. [Hz]
    candidate : ClockCandidate
        Rate and recipe in use.
    made : RasterTiming
        The raster with rates as they really are.
    """

    target_hz: Fraction
    candidate: ClockCandidate
    made: RasterTiming


def chains_for(chip: Chip, stream: str | None) -> tuple[ClockChain, ...]:
    """Clock chains that serve a stream.

    Parameters
    ----------
    chip : Chip
        The chip.
    stream : str or None
        Name of the stream; None for every chain.

    Returns
    -------
    tuple of ClockChain
        In the order of the record.
    """
    return tuple(c for c in chip.table.clock if stream is None or not c.streams or stream in c.streams)


def judge_clock(reading: Reading, raster_known: Known[RasterTiming]) -> Outcome[Known[ClockPlan]]:
    """Best pixel clock of one rig, or the one it fixes.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    raster_known : Known
        Raster as published.

    Returns
    -------
    Outcome
        The clock plan, or none when the chip or its clocks are not known.
    """
    read = reading.fork()
    raster = read(raster_known)
    chip, facts, rig = read.plan.chip, read.plan.dossier.chip, reading.rig
    if chip is None or facts is None or facts.like is None:
        return Outcome(None, (no_chain(read, "The chip is not stated, so nobody knows which clocks it makes."),))
    read(facts.like)
    stream: str | None = None
    if any(chain.streams for chain in chip.table.clock):
        # only then does the choice of the stream change what clocks there are
        if rig.stream is None:
            return Outcome(None, (no_chain(read, "The stream is not stated, and this chip's clocks depend on it."),))
        stream = " ".join(read(rig.stream).split())
    chains = chains_for(chip, stream)
    if not chains:
        return Outcome(None, (no_chain(read, f"How {chip.name} makes its clocks is not on record for this stream."),))
    for chain in chains:
        read(chip.known("clock", chain))
    system = read.maybe(facts.system)
    bounds = None if system is None else (Fraction(system.low), Fraction(system.high))
    wanted = read.maybe(rig.clock)
    target = raster.pixel_clock_hz
    verdicts: list[Verdict] = []
    best = (
        _best(chains, target, raster.h.total_px, bounds)
        if wanted is None
        else nearest_rate(chains, Fraction(wanted), h_total_px=raster.h.total_px, system_hz=bounds)
    )
    if best is None:
        return Outcome(None, (no_chain(read, "No setting of the clocks stays inside the stated system clocks."),))
    if wanted is not None:
        verdicts.append(judge_chosen(read.fork(), Fraction(wanted), best))
    verdicts.append(judge_error(read.fork(), best, target))
    verdicts.extend(judge_wobble(read.fork(), best))
    plan = ClockPlan(target, best, raster_at_clock(raster, best.achieved_hz))
    return Outcome(read.known(plan), tuple(verdicts))


def _best(
    chains: tuple[ClockChain, ...], target_hz: Fraction, h_total_px: int, bounds: tuple[Fraction, Fraction] | None
) -> ClockCandidate | None:
    """The best rate of all chains.

    A steady rate within 5000 ppm beats every rate whose edges wobble, so fractional dividers are searched only without one.
    """
    for whole_only in (True, False):
        found = enumerate_chains(
            chains, target_hz, h_total_px=h_total_px, system_hz=bounds, whole_only=whole_only, limit=1
        )
        if found and (found[0].within or not whole_only):
            return found[0]
    return None
