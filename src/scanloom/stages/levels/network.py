"""Output networks and sync drivers put together from what the dossier and the handbook state."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from scanloom.basis import units
from scanloom.basis.fact import Fact, Known
from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.dossier.model import ColourStage, Display
from scanloom.dossier.reading import Reading
from scanloom.handbook.buffers import buffer
from scanloom.handbook.chip import Drive
from scanloom.handbook.sources import row_fact
from scanloom.stages.levels.sync import SyncInput

STYLES = ("direct", "series", "weighted", "ladder", "matched", "buffered", "amplified")


class Missing(Exception):
    """A fact that a network needs is not stated; says which, and how to come by it.

    Parameters
    ----------
    says : str
        What is missing, as a sentence without its full stop.
    fact : str
        Key of the fact.
    measure : str
        How to come by it.
    wrong : bool
        Whether the fact is stated but cannot be, so that the check fails; else it is unknown.
    """

    def __init__(self, says: str, fact: str, measure: str, *, wrong: bool = False) -> None:
        super().__init__(says)
        self.says, self.fact, self.measure, self.wrong = says, fact, measure, wrong


@record
class DriverFacts:
    """Output resistances and supply of the chip's pins.

    Parameters
    ----------
    high_ohm : Span
        Driven high. [ohm]
    low_ohm : Span
        Driven low. [ohm]
    rail_v : Span
        Supply. [V]
    """

    high_ohm: Span
    low_ohm: Span
    rail_v: Span


def pin_driver(read: Reading, *, sinks: bool = True) -> DriverFacts:
    """Resistances and rail of the pins: as measured, or the handbook's for the drive setting.

    Parameters
    ----------
    read : Reading
        Notes what is read.
    sinks : bool
        Whether any pin is low while another is high; else its resistance low does not matter and is not read.

    Returns
    -------
    DriverFacts
        The pins.

    Raises
    ------
    Missing
        If neither dossier nor handbook knows one of them.
    """
    facts = read.plan.dossier.chip
    high = read.maybe(facts.pin_high) if facts else None
    low = read.maybe(facts.pin_low) if facts and sinks else None
    if high is None or (sinks and low is None):
        row = _drive_row(read)
        high = high if high is not None else row.high
        low = low if low is not None else row.low
    return DriverFacts(high, low if low is not None else high, pin_rail(read))


def pin_rail(read: Reading) -> Span:
    """Supply of the pins.

    Parameters
    ----------
    read : Reading
        Notes what is read.

    Returns
    -------
    Span
        The rail. [V]

    Raises
    ------
    Missing
        If neither dossier nor handbook knows it.
    """
    facts, chip = read.plan.dossier.chip, read.plan.chip
    if facts is not None and facts.rail is not None:
        return read(facts.rail)
    if chip is not None and chip.table.supply is not None and facts is not None:
        read.maybe(facts.like)
        return read(chip.known("supply", chip.table.supply)).rail
    raise Missing(
        "The voltage of the pins' supply is not known",
        "chip.rail",
        "Read the 3.3 V rail with a multimeter, white picture on all displays.",
    )


def sync_input(read: Reading, display: Display, branch: Span | None) -> SyncInput:
    """Sync input of one display.

    Parameters
    ----------
    read : Reading
        Notes what is read.
    display : Display
        The display.
    branch : Span or None
        Part of its branch. [ohm]

    Returns
    -------
    SyncInput
        Load, branch and pull.

    Raises
    ------
    Missing
        If the load is not known.
    """
    if display.sync_load is None:
        raise Missing(
            f"The sync load of {display.name} is not known",
            f"displays.{display.name}.sync_load",
            f"Measure pin 13 to pin 10 of {display.name}'s plug with an ohmmeter, display off.",
        )
    load = read(display.sync_load)
    if display.sync_pull is None:
        pull = read.assume(f"displays.{display.name}.sync_pull", None, "none", "most inputs load to ground only")
    else:
        pull = read(display.sync_pull)
    if pull is None:
        return SyncInput(load, branch)
    return SyncInput(load, branch, pull.part_ohm, pull.to_v)


def buffer_driver(read: Reading, family: Known[str], key: str = "levels.sync.buffer") -> DriverFacts:
    """Output of a buffer on the chip's own rail.

    Parameters
    ----------
    read : Reading
        Notes what is read.
    family : Known
        Logic family as stated.
    key : str
        Place where it is stated.

    Returns
    -------
    DriverFacts
        The output.

    Raises
    ------
    Missing
        If the handbook does not know the family, or nobody knows the rail.
    """
    name = read(family)
    try:
        row = buffer(name)
    except ValueError as error:
        raise Missing(str(error)[:1].upper() + str(error)[1:], key, "Choose one of them.", wrong=True) from None
    typical, most_high, most_low = row.resistance.typical, row.most_high.high, row.most_low.high
    assert typical is not None and most_high is not None and most_low is not None
    for part in (row.resistance, row.most_high, row.most_low):
        text = f"{part.typical or part.high:g} {part.unit}"
        read(Known(None, (_row_fact(part.name, text, part.source, part.place),)))
    # no sheet gives a least resistance; two thirds of typical, as for the drive rows
    least = typical * 2 / 3
    return DriverFacts(
        Span(least, typical, max(most_high, typical)), Span(least, typical, max(most_low, typical)), pin_rail(read)
    )


def _row_fact(name: str, text: str, source: str, place: str) -> Fact:
    """Fact of one figure of a buffer."""
    return row_fact(f"handbook.buffers.{name}", text, source, place)


def colour_stage(read: Reading, display: Display | None) -> tuple[ColourStage | None, str]:
    """Colour stage of a display: its group's own, or the one of the board.

    Parameters
    ----------
    read : Reading
        Notes the group where it decides.
    display : Display or None
        The display; None for a connector that no display is plugged in.

    Returns
    -------
    tuple
        The stage, None when it is not stated, and its place in the dossier.
    """
    levels = read.plan.dossier.levels
    if levels is None:
        return None, "levels.colour"
    if display is not None and display.group is not None and display.group.value in levels.groups:
        return levels.groups[read(display.group)], f"levels.groups.{display.group.value}"
    return levels.colour, "levels.colour"


def colour_parts(read: Reading, stage: ColourStage, style: str, bits: int, key: str) -> Sequence[Span]:
    """Parts of a channel.

    Parameters
    ----------
    read : Reading
        Has read the style; notes the parts.
    stage : ColourStage
        The colour stage.
    style : str
        One of the styles that there are.
    bits : int
        Pins of the channel. [1]
    key : str
        Place of the stage in the dossier.

    Returns
    -------
    sequence of Span
        One a pin, most significant first; R and 2R for a ladder. [ohm]

    Raises
    ------
    Missing
        If the parts are not stated, or do not match the pins.
    """
    if style == "direct":
        if bits != 1:
            raise Missing(
                f"A direct wire joins {bits} pins", f"{key}.style", "Give each pin a part: style weighted.", wrong=True
            )
        return (Span.exact(0.0),)
    if stage.part is None:
        raise Missing(
            "The parts of the colour stage are not stated", f"{key}.part", "Read the parts list, or measure one."
        )
    parts = read(stage.part)
    wanted = 2 if style == "ladder" else 1 if style == "series" else bits
    if len(parts) != wanted:
        what = (
            "two values, R and 2R," if style == "ladder" else f"{wanted} value{'s' if wanted > 1 else ''}, one a pin,"
        )
        raise Missing(
            f"{len(parts)} parts are listed; {what} belong here",
            f"{key}.part",
            "List them most significant first.",
            wrong=True,
        )
    if style == "series" and bits != 1:
        raise Missing(
            f"Style series has one pin a channel, not {bits}", f"{key}.style", "Use style weighted.", wrong=True
        )
    return parts


def _drive_row(read: Reading) -> Drive:
    """Drive setting of the handbook: the one stated, or the one at reset."""
    chip, facts = read.plan.chip, read.plan.dossier.chip
    ask = "Load a pin that is driven high with 100 ohm to ground and read its voltage: R = 100 (rail / reading - 1)."
    if chip is None or facts is None or not chip.table.drive:
        raise Missing("The resistance of the pins is not known", "chip.pin_high", ask)
    read.maybe(facts.like)
    wanted: Decimal | None = read.maybe(facts.drive)
    if wanted is None:
        row = next((d for d in chip.table.drive if d.at_reset), chip.table.drive[0])
        read.assume("chip.drive", row.name, row.name, "the setting after reset")
    else:
        row_or_none = next((d for d in chip.table.drive if units.read(d.name, "A") == wanted), None)
        if row_or_none is None:
            names = ", ".join(d.name for d in chip.table.drive)
            raise Missing(
                f"{chip.name} has no such drive setting; {names} are", "chip.drive", "Choose one of them.", wrong=True
            )
        row = row_or_none
    return read(chip.known("drive", row))
