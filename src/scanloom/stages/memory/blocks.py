"""Which RAM a frame may lie in: the blocks of a firmware state, or external memory at its real rate."""

from __future__ import annotations

from fractions import Fraction

from scanloom.basis.span import Span
from scanloom.basis.verdict import Patch, Settle, Verdict
from scanloom.dossier.reading import Reading
from scanloom.handbook.chip import Stream

PLACES = ("internal", "external")


def frame_place(read: Reading) -> str:
    """Where the rig keeps its frame.

    Parameters
    ----------
    read : Reading
        Of one rig; notes what is stated, or assumed where the chip has a choice.

    Returns
    -------
    str
        ``internal`` or ``external``, or the word that the rig states in their place.
    """
    if read.rig.frame_in is not None:
        return read(read.rig.frame_in)
    if read.plan.chip is not None and read.plan.chip.table.external is not None:
        return read.assume(f"rigs.{read.rig_name}.frame_in", "internal", "internal", "the RAM on the chip")
    return "internal"


def free_blocks(read: Reading) -> tuple[tuple[int, ...] | None, str | None]:
    """Free blocks of the rig's firmware state: as measured, or the handbook's.

    Parameters
    ----------
    read : Reading
        Of one rig with a chip; notes state and blocks.

    Returns
    -------
    tuple
        The blocks, None when nobody knows them, and the name of the state. [B]
    """
    chip, facts = read.plan.chip, read.plan.dossier.chip
    assert chip is not None and facts is not None
    if frame_place(read) == "external":
        return _external(read), "external"
    names = [state.name for state in chip.table.state]
    name = read.maybe(read.rig.firmware)
    if name is None:
        if len(names) > 1 or len(facts.free) > 1:
            if "bare" not in names:
                return None, None
            name = "bare"
        else:
            name = next(iter([*facts.free, *names]), "bare")
        name = read.assume(f"rigs.{read.rig_name}.firmware", name, name, "the chip has no radio")
    if name in facts.free:
        return read(facts.free[name]), name
    for state in chip.table.state:
        if state.name == name:
            return read(chip.known("state", state)).free, name
    return None, name


def judge_place(read: Reading) -> Verdict | None:
    """Whether the DMA can read the memory that the rig names.

    Parameters
    ----------
    read : Reading
        Of one rig with a chip.

    Returns
    -------
    Verdict or None
        ``memory.place`` where the rig names a place; None where it does not.
    """
    if read.rig.frame_in is None:
        return None
    subject = f"rigs.{read.rig_name}.frame_in"
    place = read(read.rig.frame_in)
    chip, facts = read.plan.chip, read.plan.dossier.chip
    read.maybe(facts.like if facts else None)
    remedy = (Patch(subject, '"internal"', "keep the frame in the RAM on the chip"),)
    if place not in PLACES:
        says = f"{place!r} is no place for a frame; internal or external is."
        return read.verdict("memory.place", subject, "stop", says, state="fails", remedy=remedy)
    if place == "internal":
        return read.verdict("memory.place", subject, "stop", "The frame lies in the RAM on the chip.", state="holds")
    if chip is None or chip.table.external is None:
        says = "No memory outside this chip is on record that the stream's DMA can read."
        return read.verdict("memory.place", subject, "stop", says, state="fails", remedy=remedy)
    row = chip.known("external", chip.table.external)
    return read.verdict(
        "memory.place", subject, "stop", "The DMA can read this external memory.", state="holds", limit=row
    )


def judge_external_rate(read: Reading, word_rate_hz: Fraction, stream: Stream) -> Verdict | None:
    """Whether external memory keeps up: over the planning rate is a caution, over the highest rate seen a stop.

    Parameters
    ----------
    read : Reading
        Has read word rate and stream; notes the memory.
    word_rate_hz : Fraction
        Words a second while the picture is sent. [Hz]
    stream : Stream
        The stream.

    Returns
    -------
    Verdict or None
        ``memory.external-rate``; None when the chip has no such memory.
    """
    chip = read.plan.chip
    row = chip.table.external if chip else None
    if chip is None or row is None:
        return None
    rate = float(word_rate_hz) * stream.word_bytes
    over_hard = rate > row.hard_bytes_per_s
    over_planned = not over_hard and rate > row.planned_bytes_per_s
    return read.verdict(
        "memory.external-rate",
        f"rigs.{read.rig_name}.frame_in",
        "caution" if over_planned else "stop",
        {
            "holds": "External memory keeps up with the stream.",
            "fails": f"External memory is {'too slow for' if over_hard else 'planned slower than'} the stream: the picture shifts.",
            "unknown": "",
        },
        found=Span.exact(rate),
        unit="B/s",
        high=row.hard_bytes_per_s if over_hard else row.planned_bytes_per_s,
        limit=chip.known("external", row),
        settle=Settle(
            "Run the picture for an hour while the processor writes too, and look for shifts.", "none", "any", 60
        ),
    )


def _external(read: Reading) -> tuple[int, ...] | None:
    """External memory as one block: as stated, or the handbook's."""
    chip, facts = read.plan.chip, read.plan.dossier.chip
    if chip is None or facts is None or chip.table.external is None:
        return None
    if facts.external is not None:
        return (read(facts.external),)
    return (read(chip.known("external", chip.table.external)).size_bytes,)
