"""Waking: reset and power with displays attached.

While the chip starts, every colour pin is an input, and a display holds it at ground: the picture is black until the
program runs. That is as it should be and no verdict.
"""

from __future__ import annotations

from collections.abc import Sequence

from scanloom.basis.outcome import Outcome
from scanloom.basis.verdict import Judged, Settle, Verdict, Weight
from scanloom.dossier.reading import Reading
from scanloom.handbook.chip import Chip
from scanloom.stages.levels import LevelPlan
from scanloom.stages.waking.back_feed import judge_back_feed
from scanloom.stages.waking.boot import judge_boot
from scanloom.stages.waking.brown_out import judge_brown_out
from scanloom.stages.waking.model import BackFeed, BootLevel, Glitch, WakingPlan
from scanloom.stages.waking.nets import Net, nets_of, rows_on
from scanloom.stages.waking.start_up import judge_glitches, judge_serial

__all__ = ["BackFeed", "BootLevel", "Glitch", "WakingPlan", "judge_waking"]


def judge_waking(reading: Reading, levels: LevelPlan | None) -> Outcome[WakingPlan]:
    """Reset and power of one rig, displays attached.

    Parameters
    ----------
    reading : Reading
        Of one rig.
    levels : LevelPlan or None
        Its levels and currents, for the current at the start only.

    Returns
    -------
    Outcome
        Levels at boot pins, current into the unpowered board, pins that glitch; none while chip or pins are not stated.
    """
    chip = reading.plan.chip
    nets = nets_of(reading.plan)
    if chip is None or not nets:
        return Outcome(None, ())
    verdicts: list[Verdict] = []
    boots = judge_boot(reading, chip, nets, verdicts)
    if not any(verdict.code == "waking.boot-pin" for verdict in verdicts):
        verdicts.append(
            _quiet(reading, chip, nets, "waking.boot-pin", "stop", "is one that the chip reads while it starts")
        )
    if not judge_serial(reading, chip, nets, verdicts):
        verdicts.append(_quiet(reading, chip, nets, "waking.serial", "caution", "belongs to the serial port"))
    glitches = judge_glitches(reading, chip, nets, verdicts)
    if not any(row.noise for _, _, row in rows_on(chip, nets)):
        verdicts.append(_quiet(reading, chip, nets, "waking.glitch", "note", "moves by itself while the chip starts"))
    feeds = [judge_back_feed(reading, net, verdicts) for net in nets if net.is_sync]
    start = judge_brown_out(reading, levels, verdicts)
    return Outcome(WakingPlan(boots, tuple(f for f in feeds if f is not None), glitches, start), tuple(verdicts))


def _quiet(reading: Reading, chip: Chip, nets: Sequence[Net], code: str, weight: Weight, what: str) -> Verdict:
    """No pin of the board is of some kind, as far as the chip's list of pins is known."""
    read = reading.fork()
    if reading.plan.dossier.chip is not None:
        read.maybe(reading.plan.dossier.chip.like)
    for net in nets:
        read(net.stated)
    says: str
    state: Judged
    if chip.table.pins is None:
        says, state = (
            f"The chip's list of pins is not known, so nobody can say whether a pin that carries colour or sync {what}.",
            "unknown",
        )
    else:
        read(chip.known("pins", chip.table.pins))
        says, state = f"None of the pins that carry colour or sync {what}.", "holds"
    settle = Settle("Read the pin list of the chip's datasheet into a chip file.", fact="chip.like")
    return read.verdict(code, "board", weight, says, state=state, settle=settle if state == "unknown" else None)
