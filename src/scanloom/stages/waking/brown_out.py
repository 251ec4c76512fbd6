"""Verdicts on the supply at the moment of starting."""

from __future__ import annotations

from scanloom.basis.span import Span
from scanloom.basis.verdict import Settle, Verdict
from scanloom.dossier.reading import Reading
from scanloom.stages.levels import LevelPlan
from scanloom.stages.levels.supply import running_current

RADIO = ("network", "two-radios")
"""Firmware states of the handbook in which the radio sends."""


def judge_brown_out(reading: Reading, levels: LevelPlan | None, verdicts: list[Verdict]) -> Span | None:
    """Current at the start, all at white and the radio, where it is on, in a burst, against the inlet.

    The sum is that of the levels; only the chip's own current gives way to that of a burst.

    Parameters
    ----------
    reading : Reading
        Of one rig; has read nothing.
    levels : LevelPlan or None
        Its levels and currents.
    verdicts : list of Verdict
        Where the verdicts go.

    Returns
    -------
    Span or None
        The current; None when unknown. [A]
    """
    read = reading.fork()
    supply = read.plan.dossier.supply
    if supply is not None and supply.inlet is not None:
        rush = reading.fork()
        rush(supply.inlet)
        verdicts.append(_inrush(rush))
    if levels is None:  # the survey says what that waits on
        return None
    if levels.inlet_a is None:
        verdicts.append(_unknown(read, "what the board draws is not known in all parts", "supply.chip_current"))
        return None
    total = read(levels.inlet_a)
    burst = _burst(read)
    if isinstance(burst, str):
        verdicts.append(_unknown(read, burst, "supply.chip_current"))
        return None
    if burst is not None:
        total = _in_burst(total, running_current(read), burst)
    if supply is None or supply.inlet is None:
        verdicts.append(_unknown(read, "what the inlet may give is not stated", "supply.inlet"))
        return total
    most = read(supply.inlet)
    sends = " and the radio in a burst" if burst is not None else ""
    verdicts.append(
        read.verdict(
            "waking.brown-out",
            "supply.inlet",
            "caution",
            {
                "holds": f"Started into white{sends}, the board draws no more than the inlet may give.",
                "fails": f"Started into white{sends}, the board draws more than the inlet may give: the rail sags and "
                "the chip starts over and over.",
                "unknown": f"Started into white{sends}, the board may draw more than the inlet may give.",
            },
            found=total,
            unit="A",
            high=most.low,
            settle=Settle(
                "Watch the rail on an oscilloscope while the board starts into a white picture on all displays.",
                "it rises once and stays level", "it dips or rises more than once", 15, "supply.chip_current",
            ),
        )
    )  # fmt: skip
    return total


def _burst(read: Reading) -> Span | str | None:
    """The chip's current in a burst of its radio; None when the radio is off, a sentence when nobody knows."""
    firmware = read.maybe(read.rig.firmware)
    if firmware is None:
        read.assume(f"rigs.{read.rig_name}.firmware", None, "no radio", "no firmware state is stated")
    if firmware not in RADIO:
        return None
    chip, facts = read.plan.chip, read.plan.dossier.chip
    row = chip.table.supply if chip is not None else None
    if chip is None or facts is None or row is None or row.burst is None:
        return "no figure is on record for what the radio draws in a burst"
    read.maybe(facts.like)
    return read(chip.known("supply", row)).burst


def _in_burst(total: Span, running: Span | None, burst: Span) -> Span:
    """Total with the chip's current raised to that of a burst."""
    if running is None:
        return total
    return Span(
        total.low + max(0.0, burst.low - running.low),
        total.typical + max(0.0, burst.typical - running.typical),
        total.high + max(0.0, burst.high - running.high),
    )


def _unknown(read: Reading, why: str, fact: str) -> Verdict:
    """A supply that cannot be judged."""
    return read.verdict(
        "waking.brown-out", "supply.inlet", "caution", f"Whether the rail stands the start cannot be said: {why}.", state="unknown",
        settle=Settle("Watch the rail on an oscilloscope while the board starts into a white picture on all displays.",
                      "it rises once and stays level", "it dips or rises more than once", 15, fact),
    )  # fmt: skip


def _inrush(read: Reading) -> Verdict:
    """What plugging in draws for an instant: the dossier has no place for it, so it is only said."""
    return read.verdict(
        "waking.inrush", "supply.inlet", "note",
        "What charging the board's capacitors draws at plug-in is not judged: their sum is not stated. USB 2.0 allows 10 microfarad "
        "beside 44 ohm, clause 7.2.4.1, from memory.",
        state="unknown",
        settle=Settle("Add up the capacitors between the inlet and ground on the parts list.", "10 microfarad or less", "more"),
    )  # fmt: skip
