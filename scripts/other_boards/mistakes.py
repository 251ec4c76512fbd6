"""Single mistakes such as cost real boards, planted in the circuits, with the finding that each must raise and where."""

# ruff: noqa: E501  the circuits read like tables

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from demo_board import footprints as fp
from demo_board.nouns import BOTTOM, TOP
from other_boards.bench import Circuit, chip, pins
from other_boards.plain import PLAIN
from other_boards.video import VIDEO, number_of

CIRCUITS = {**PLAIN, **VIDEO}


@dataclass(frozen=True, slots=True)
class Slip:
    """A mistake: the circuit, what is done to it, codes of which one must fail, and parts of which one must be named."""

    name: str
    circuit: str
    make: Callable[[Circuit], object]
    codes: tuple[str, ...]
    at: tuple[str, ...]
    follows: tuple[str, ...] = ()

    def carried_out(self) -> Circuit:
        """The circuit with the mistake in it."""
        made = CIRCUITS[self.circuit]()
        self.make(made)
        return made


def swap(ref: str, one: str, other: str) -> Callable[[Circuit], object]:
    """Exchange the nets of two pins."""

    def make(c: Circuit) -> None:
        nets = next(part for part in c.parts if part.ref == ref).nets
        c.change(ref, nets={one: nets.get(other, ""), other: nets.get(one, "")})

    return make


def nets(ref: str, **pins: str) -> Callable[[Circuit], object]:
    """Put pins on other nets; `_4` is pin 4."""
    return lambda c: c.change(ref, nets={pin.removeprefix("_"): net for pin, net in pins.items()})


def field(ref: str, **fields: object) -> Callable[[Circuit], object]:
    """Alter a part."""
    return lambda c: c.change(ref, **fields)


def told(ref: str, **fields: object) -> Callable[[Circuit], object]:
    """Have the tables say something else of a part than the board does."""
    return lambda c: c.told.update({ref: fields})


def together(*makes: Callable[[Circuit], object]) -> Callable[[Circuit], object]:
    """Several changes that make one mistake."""
    return lambda c: [make(c) for make in makes]


def bridged(ref: str, one: str, other: str) -> Callable[[Circuit], object]:
    """A resistor left out, its nets joined."""

    def make(c: Circuit) -> None:
        c.drop(ref)
        c.join(one, other)

    return make


SLIPS = (
    Slip("pair crossed", "one_display", swap("U2", "21", "22"), ("board.serial-crossed",), ("U2", "MOD1")),
    Slip("pair crossed behind 470 ohm", "one_display", together(nets("R13", _2="U0TXD"), nets("R14", _1="U0RXD")), ("board.serial-crossed",), ("U2", "MOD1")),
    Slip("series part bridged", "one_display", bridged("R2", "IO26", "VGA_GREEN"), ("board.no-series-part", "board.lane-path"), ("X1", "MOD1"), ("board.lane-level", "board.part-missing")),
    Slip("return open", "one_display", nets("X1", _7=""), ("board.returns",), ("X1",)),
    Slip("H and V exchanged", "one_display", swap("X1", "13", "14"), ("board.connector-function",), ("X1",), ("board.sync-path",)),
    Slip("red and blue exchanged", "one_display", swap("X1", "1", "3"), ("board.lane-path", "board.connector-function"), ("X1",)),
    Slip("socket seen from below", "one_display", field("X1", swapped_sides=True), ("board.connector-side",), ("X1",), ("board.connector-faces",)),
    Slip("CC joined", "one_display", together(nets("J9", B5="CC1"), nets("R17", _1="CC1")), ("board.inlet-pulls",), ("J9",)),
    Slip("pull of 56k", "one_display", field("R16", value="56k"), ("board.inlet-pulls",), ("R16", "J9")),
    Slip("pull to the supply", "one_display", nets("R17", _2="VBUS"), ("board.inlet-pulls",), ("R17", "J9")),
    Slip("data pair open on one side", "one_display", nets("J9", B6=""), ("board.inlet-data",), ("J9",)),
    Slip("lamp at a boot pin", "one_display", lambda c: (c.two("R77", "330", "IO12", "LEDX"), c.add("D77", "LED", fp.LAMP, {"1": "LEDX", "2": "+3V3"}), c.change("MOD1", nets={number_of(12): "IO12"})), ("board.boot-pin",), ("MOD1",)),
    Slip("boot pin 12 pulled up", "three_displays", nets("R3", _2="3V3"), ("board.boot-pin",), ("RADIO1", "R3")),
    Slip("boot pin 0 pulled down", "six_one_bit", nets("R91", _2="GND"), ("board.boot-pin",), ("U7", "R91")),
    Slip("shell open", "one_display", lambda c: c.drop("R15"), ("board.shell-floating",), ("J9",)),
    Slip("part on the wrong side", "one_display", told("C4", side=TOP), ("board.placement-side",), ("C4",)),
    Slip("one lane's resistor is 24 ohm", "three_displays", field("RV4", value="24"), ("board.part-value", "board.lane-level"), ("RV4", "VID_B"), ("board.lane-level",)),
    Slip("lane on the neighbour's pin", "three_displays", together(nets("RV4", _1="IO22"), nets("RV6", _1="IO19")), ("board.lane-path",), ("VID_B", "RV4", "RADIO1")),
    Slip("pin 10 open", "six_one_bit", nets("CON4", _10=""), ("board.returns",), ("CON4",)),
    Slip("sync branch dropped", "six_one_bit", lambda c: c.drop("R9"), ("board.sync-path",), ("CON2",)),
    Slip("buffer of the other sense", "six_one_bit", field("U8", value="74LVC126A"), ("board.buffer-pins",), ("U8",)),
    Slip("buffer asleep", "six_one_bit", nets("U8", _1="+3V3"), ("board.buffer-pins", "board.sync-path", "board.supply-pins"), ("U8",)),
    Slip("H and V exchanged behind the buffer", "six_one_bit", swap("U8", "3", "6"), ("board.connector-function",), ("CON1", "U8"), ("board.sync-path",)),
    Slip("CC joined, no dossier", "keyboard", together(nets("USB1", B5="CC1"), nets("R2", _1="CC1")), ("board.inlet-pulls",), ("USB1",)),
    Slip("a contact of ground open, no dossier", "radio", nets("USB1", A12=""), ("board.inlet-supply",), ("USB1",)),
    Slip("pull missing, no dossier", "charger", lambda c: c.drop("R2"), ("board.inlet-pulls",), ("P1",)),
    Slip("socket seen from below, no dossier", "amplified", field("J2", swapped_sides=True, fit="machine"), ("board.connector-side",), ("J2",), ("board.connector-faces",)),
    Slip("return open, no dossier", "amplified", nets("J2", _6=""), ("board.returns",), ("J2",)),
    Slip("part told on the bottom", "three_displays", told("U9", side=BOTTOM), ("board.placement-side",), ("U9",)),
    Slip("quarter turn", "three_displays", told("RV5", turn_deg=90), ("board.placement-rotated",), ("RV5",)),
    Slip("half turn of a diode", "keyboard", told("D7", turn_deg=270), ("board.placement-rotated",), ("D7",)),
    Slip("chip's boot pin loaded by a lamp to ground", "one_display", lambda c: (c.two("R77", "330", "IO0", "LEDX"), c.add("D77", "LED", fp.LAMP, {"1": "GND", "2": "LEDX"})), ("board.boot-pin",), ("MOD1",)),
    Slip("shield of the inlet open, no dossier", "keyboard", lambda c: c.drop("FB1"), ("board.shell-floating",), ("USB1",)),
    Slip("pull of 10k, no dossier", "radio", field("R3", value="10k"), ("board.inlet-pulls",), ("R3", "USB1")),
    Slip("all returns on a net of their own", "one_display", nets("X1", _5="LOST", _6="LOST", _7="LOST", _8="LOST", _10="LOST"), ("board.returns",), ("X1",)),
    Slip("serial line goes nowhere", "one_display", lambda c: c.drop("R13"), ("board.serial-open",), ("U2",)),
    Slip("bead of the shell on the wrong net", "keyboard", nets("FB1", _2="COL1"), ("board.shell-floating",), ("USB1",)),
    Slip("series part not fitted", "one_display", told("R3", fit="none"), ("board.lane-path", "board.no-series-part"), ("X1", "R3"), ("board.lane-level",)),
    Slip("colour and its return exchanged", "one_display", swap("X1", "2", "7"), ("board.lane-path", "board.returns"), ("X1",)),
    Slip("data lines exchanged", "one_display", swap("U2", "4", "5"), ("board.inlet-data",), ("J9", "U2")),
    Slip("two pulls on one contact", "radio", nets("R3", _1="CC1"), ("board.inlet-pulls",), ("USB1",)),
    Slip("supply contact on another net", "keyboard", nets("USB1", A4B9="5V"), ("board.inlet-supply",), ("USB1",)),
    Slip("chip without ground", "one_display", nets("MOD1", _1="", _15="", _38="", _39=""), ("board.supply-pins",), ("MOD1",)),
    Slip("supply of the bridge on ground", "one_display", nets("U2", _7="GND"), ("board.supply-pins",), ("U2",)),
    Slip("boot pin 2 pulled up", "one_display", lambda c: c.two("R80", "4k7", "IO2", "+3V3"), ("board.boot-pin",), ("MOD1", "R80")),
    Slip("boot pin 0 drives a colour", "one_display", together(nets("R1", _1="IO0"), lambda c: setattr(c, "dossier", c.dossier.replace("red = 25", "red = 0"))), ("board.boot-pin",), ("MOD1",)),
    Slip("connector of another name", "three_displays", lambda c: setattr(c, "dossier", c.dossier.replace('"VID_B"', '"VID_D"')), ("board.part-missing", "board.lane-path"), ("VID_D",)),
    Slip("two connectors exchanged", "three_displays", lambda c: setattr(c, "dossier", c.dossier.replace('"VID_B"', '"VID_X"').replace('"VID_C"', '"VID_B"').replace('"VID_X"', '"VID_C"')), ("board.lane-path",), ("VID_B",)),
    Slip("sync branch of 470 ohm", "six_one_bit", field("R4", value="470R"), ("board.sync-path", "board.part-value"), ("R4", "CON1")),
    Slip("sync past the buffer", "six_one_bit", nets("R5", _1="V_CHIP"), ("board.sync-path",), ("CON1",)),
    Slip(
        "colours exchanged in a pack",
        "one_display",
        lambda c: (
            [c.drop(ref) for ref in ("R1", "R2", "R3")],
            c.add("RN1", "240R", chip(8), pins("IO25", "IO26", "IO27", "", "", "VGA_GREEN", "VGA_BLUE", "VGA_RED")),
        ),
        ("board.lane-path",),
        ("X1",),
    ),
    Slip(
        "boot pin pulled up by a pack",
        "one_display",
        lambda c: c.add("RN1", "4k7", chip(8), pins("IO12", "", "", "", "", "", "", "+3V3")),
        ("board.boot-pin",),
        ("MOD1",),
    ),
    Slip(
        "socket on top seen from below, drawn on top",
        "one_display",
        together(field("X1", swapped_sides=True), lambda c: c.inked.update(X1=TOP)),
        ("board.connector-side",),
        ("X1",),
    ),
    Slip("part not listed", "three_displays", lambda c: c.drop("RV1"), ("board.lane-path",), ("VID_A",)),
)  # fmt: skip
