"""Verdicts on pins that do something by themselves while the chip starts: the serial port, and pins that glitch."""

from __future__ import annotations

from collections.abc import Sequence

from scanloom.basis.verdict import Settle, Verdict
from scanloom.dossier.reading import Reading
from scanloom.handbook.chip import Chip, Pin
from scanloom.stages.waking.model import Glitch
from scanloom.stages.waking.nets import Net, moved, rows_on


def judge_serial(reading: Reading, chip: Chip, nets: Sequence[Net], verdicts: list[Verdict]) -> bool:
    """Colours and syncs on the pins of the serial port that the board is programmed through.

    Parameters
    ----------
    reading : Reading
        Of one rig; has read nothing.
    chip : Chip
        Record of the chip.
    nets : sequence of Net
        All nets of the board.
    verdicts : list of Verdict
        Where the verdicts go.

    Returns
    -------
    bool
        Whether any sits on one.
    """
    found = False
    for net, pin, row in rows_on(chip, nets):
        if row.role in ("serial out", "serial in"):
            verdicts.append(_serial(reading, chip, net, pin, row))
            found = True
    return found


def judge_glitches(reading: Reading, chip: Chip, nets: Sequence[Net], verdicts: list[Verdict]) -> tuple[Glitch, ...]:
    """Pins that move by themselves while the chip starts, the serial port apart.

    Parameters
    ----------
    reading : Reading
        Of one rig; has read nothing.
    chip : Chip
        Record of the chip.
    nets : sequence of Net
        All nets of the board.
    verdicts : list of Verdict
        Where the verdicts go.

    Returns
    -------
    tuple of Glitch
        The pins.
    """
    made: list[Glitch] = []
    for net, pin, row in rows_on(chip, nets):
        if not row.noise or row.role == "serial out":
            continue
        read = _on_pin(reading, chip, net)
        carried = net.words(reading.plan)
        shows = "displays lose lock and look for it anew" if net.is_sync else f"{carried} flashes"
        verdicts.append(
            read.verdict(
                "waking.glitch", net.subject(pin), "note",
                f"While the chip starts, pin {pin} makes {row.noise} by itself: {shows} until the program takes the pin over, "
                "most often within a second; how long just this takes is on no record.",
                state="fails", limit=chip.known("pin", row), remedy=moved(reading, chip, net, pin),
                settle=Settle(f"Watch the display, or pin {pin} on an oscilloscope, while the board starts."),
            )
        )  # fmt: skip
        made.append(Glitch(net.subject(pin), pin, row.noise))
    return tuple(made)


def _serial(reading: Reading, chip: Chip, net: Net, pin: int, row: Pin) -> Verdict:
    """One net on the serial port."""
    read = _on_pin(reading, chip, net)
    carried = net.words(reading.plan)
    if row.role == "serial out":
        shows = "makes displays lose lock" if net.is_sync else "shows as bright lines"
        says = f"Pin {pin} sends the serial port: boot text {shows} on {carried}, and nobody reads the port once the picture runs."
    else:
        says = (
            f"Pin {pin} hears the serial port: the bridge's output and {carried} work against each other, and programming "
            "may fail while a display is plugged in."
        )
    return read.verdict(
        "waking.serial", net.subject(pin), "caution", says, state="fails", limit=chip.known("pin", row),
        remedy=moved(reading, chip, net, pin),
        settle=Settle(
            "Program the board with all displays plugged in, and watch them while it starts.",
            "it takes the program, displays stay dark", "it does not, or lines show", 10,
        ),
    )  # fmt: skip


def _on_pin(reading: Reading, chip: Chip, net: Net) -> Reading:
    """A reading of one net's pins and of which chip it is."""
    read = reading.fork()
    if reading.plan.dossier.chip is not None:
        read.maybe(reading.plan.dossier.chip.like)
    read(net.stated)
    return read
