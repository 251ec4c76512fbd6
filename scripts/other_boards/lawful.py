"""Lawful changes to the circuits, such as good boards have; none may fail with weight stop, some can only be asked about."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from demo_board import footprints as fp
from demo_board.nouns import BOTTOM
from other_boards import lists
from other_boards.bench import Circuit, chip, dense15, micro_b, pins, row, sot, usb_c
from other_boards.mistakes import CIRCUITS, field, nets, swap, together
from other_boards.video import BRIDGE, number_of


@dataclass(frozen=True, slots=True)
class Lawful:
    """A change, and the checks that can then only ask."""

    name: str
    circuit: str
    make: Callable[[Circuit], object]
    asks: tuple[str, ...] = ()

    def carried_out(self) -> Circuit:
        """The circuit with the change in it."""
        made = CIRCUITS[self.circuit]()
        self.make(made)
        return made


def returns_on(net: str) -> Callable[[Circuit], object]:
    """Put the returns of the one display's connector on a ground of their own."""
    return nets("X1", _5=net, _6=net, _7=net, _8=net, _10=net)


def in_series(
    ref: str, value: str, pin: tuple[str, str], footprint: object = fp.RESISTOR
) -> Callable[[Circuit], object]:
    """Put a part of two ends into the net of a pin."""

    def make(c: Circuit) -> None:
        old = next(part for part in c.parts if part.ref == pin[0]).nets[pin[1]]
        c.change(pin[0], nets={pin[1]: f"{old}_FAR"})
        c.add(ref, value, footprint, {"1": old, "2": f"{old}_FAR"})  # type: ignore[arg-type]

    return make


def shifter(c: Circuit) -> None:
    """A level shifter in place of the resistors of the serial pair."""
    for ref in ("R13", "R14"):
        c.drop(ref)
    c.add("U8", "TXS-like", chip(8), pins("GND", "+3V3", "U0TXD", "U0RXD", "BR_TXD", "BR_RXD", "+3V3", "+3V3"))


def choices(c: Circuit) -> None:
    """Two rows of three pins by which the serial pair is chosen."""
    for ref in ("R13", "R14"):
        c.drop(ref)
    c.add("JP1", "1x3", row(3), pins("BR_TXD", "U0RXD", "EXT_TX"), fit="hand")
    c.add("JP2", "1x3", row(3), pins("BR_RXD", "U0TXD", "EXT_RX"), fit="hand")


def second_bridge(c: Circuit) -> None:
    """A bridge on a second serial port of the chip."""
    c.add(
        "U12",
        "serial bridge",
        BRIDGE,
        {**pins("", "", "GND"), "6": "+3V3", "7": "+3V3", "25": "GND", "21": "U1TXD", "22": "U1RXD"},
    )
    c.change("MOD1", nets={number_of(17): "U1TXD", number_of(16): "U1RXD"})
    c.dossier = c.dossier.replace("J9 = {", 'U12 = { is = "serial bridge", talks = "22", hears = "21" }\nJ9 = {')


def pack(c: Circuit) -> None:
    """Both pulls of the inlet in one package of four resistors."""
    for ref in ("R16", "R17"):
        c.drop(ref)
    c.add("RN1", "5k1 x4", chip(8), pins("CC1", "CC2", "", "", "", "", "GND", "GND"))


def row_pack(c: Circuit) -> None:
    """Both pulls in one row with a common pin."""
    for ref in ("R16", "R17"):
        c.drop(ref)
    c.add("RN1", "5k1 x4", row(5), pins("GND", "CC1", "CC2", "", ""))


def colour_pack(c: Circuit) -> None:
    """The three series resistors in one pack of four."""
    for ref in ("R1", "R2", "R3"):
        c.drop(ref)
    c.add("RN1", "240R", chip(8), pins("IO25", "IO26", "IO27", "", "", "VGA_BLUE", "VGA_GREEN", "VGA_RED"))


def held_inside(c: Circuit) -> None:
    """Pulls inside a chip."""
    for ref in ("R16", "R17"):
        c.drop(ref)
    c.add("U8", "port chip", chip(8), pins("CC1", "CC2", "VBUS", "GND"))


def small_inlet(c: Circuit) -> None:
    """A micro-B in place of the USB-C."""
    for ref in ("R16", "R17", "R15"):
        c.drop(ref)
    c.change(
        "J9",
        footprint=micro_b(),
        nets=dict.fromkeys(usb_pads(), "") | {**pins("VBUS", "USB_DN", "USB_DP", "", "GND"), "6": "GND"},
    )


def usb_pads() -> set[str]:
    """Names of all pads of a USB-C socket."""
    return {pad.number for pad in usb_c("16").pads}


def joined_pads(c: Circuit) -> None:
    """Supply and ground contacts as pads of two names."""
    part = next(part for part in c.parts if part.ref == "J9")
    c.change(
        "J9", footprint=usb_c("12"), nets={"A1B12": "GND", "B1A12": "GND", "A4B9": "VBUS", "B4A9": "VBUS", **part.nets}
    )


def all_contacts(c: Circuit) -> None:
    """All 24 contacts, the fast pairs open."""
    c.change("J9", footprint=usb_c("24"))


def cable_header(c: Circuit) -> None:
    """A row of 15 pins for a cable in place of the connector."""
    c.change("X1", footprint=row(15))


def long_names(c: Circuit) -> None:
    """Six connectors whose names are alike in their first six letters, placed by the machine."""
    for n in range(1, 7):
        c.change(f"CON{n}", ref=f"SCREEN{n}", fit="machine")
        c.dossier = c.dossier.replace(f'"CON{n}"', f'"SCREEN{n}"')


def hand_list(c: Circuit) -> None:
    """A parts list for the machine alone: what sits in holes is not on it."""
    c.told |= {part.ref: {"ref": f"TP{900 + n}"} for n, part in enumerate(c.parts) if part.fit == "hand"}


LAWFUL = (
    Lawful(
        "returns on a ground tied by 0 ohm",
        "one_display",
        together(returns_on("VGA_GND"), lambda c: c.two("R80", "0R", "VGA_GND", "GND")),
    ),
    Lawful(
        "returns on a ground tied by a bead",
        "one_display",
        together(returns_on("AGND"), lambda c: c.two("FB1", "bead 470R", "AGND", "GND")),
    ),
    Lawful(
        "returns on a ground tied in copper",
        "one_display",
        together(
            returns_on("AGND"), lambda c: c.add("NT1", "net tie", fp.RESISTOR, {"1": "AGND", "2": "GND"}, fit="none")
        ),
    ),
    Lawful("returns on a ground that no file ties", "one_display", returns_on("AGND"), ("board.returns",)),
    Lawful("pin 5 open", "one_display", nets("X1", _5="")),
    Lawful("shell floats", "one_display", nets("X1", SH="")),
    Lawful(
        "pins 4, 11, 12, 15 pulled up",
        "one_display",
        together(
            nets("X1", _12="SDA", _15="SCL"),
            lambda c: (c.two("R80", "2k2", "SDA", "VGA_5V"), c.two("R81", "2k2", "SCL", "VGA_5V")),
        ),
    ),
    Lawful("bead in a sync", "one_display", in_series("FB1", "bead 470R", ("X1", "13"))),
    Lawful(
        "guards at the connector",
        "one_display",
        lambda c: c.add(
            "D9", "guard array", sot(6), pins("VGA_RED", "GND", "VGA_GREEN", "VGA_BLUE", "+3V3", "HSYNC_OUT")
        ),
    ),
    Lawful("two resistors in a serial line", "one_display", in_series("R80", "100R", ("U2", "22"))),
    Lawful("bridge of solder in a serial line", "one_display", in_series("JP1", "closed", ("U2", "22"))),
    Lawful("level shifter in the serial pair", "one_display", shifter, ("board.serial-crossed",)),
    Lawful("links choose the serial pair", "one_display", choices, ("board.serial-crossed",)),
    Lawful("bridge on a second port", "one_display", second_bridge),
    Lawful("pack of pulls", "one_display", pack),
    Lawful("pack of pulls in one row", "one_display", row_pack, ("board.inlet-pulls",)),
    Lawful("colours through one pack", "one_display", colour_pack),
    Lawful("pulls inside a chip", "one_display", held_inside, ("board.inlet-pulls",)),
    Lawful("pull of 5.6 kohm", "one_display", field("R16", value="5k6")),
    Lawful("micro-B as inlet", "one_display", small_inlet),
    Lawful("pads of two contacts", "one_display", joined_pads),
    Lawful("24 contacts", "one_display", all_contacts),
    Lawful("shell through R and C", "one_display", lambda c: c.two("C80", "4n7", "SHLD", "GND")),
    Lawful(
        "inlet's own ground",
        "one_display",
        together(
            nets("J9", A1="PGND", A12="PGND", B1="PGND", B12="PGND"), lambda c: c.two("L80", "10uH", "PGND", "GND")
        ),
    ),
    Lawful("pair turned at the socket", "one_display", together(swap("R13", "1", "2"), swap("R14", "1", "2"))),
    Lawful("header for a cable", "one_display", cable_header, ("board.connector-side",)),
    Lawful(
        "plug, and called so",
        "one_display",
        field("X1", footprint=dense15(male=True, shell=("SH", "SH")), value="HD15 male"),
    ),
    Lawful("socket fitted from below", "one_display", field("X1", side=BOTTOM, swapped_sides=True, fit="machine")),
    Lawful(
        "socket soldered by hand from below, drawn there",
        "one_display",
        together(field("X1", side=BOTTOM, swapped_sides=True), lambda c: c.inked.update(X1="bottom")),
    ),
    Lawful("boot pin on a switch and a bridge's pair", "one_display", lambda c: c.two("R80", "1k", "IO0", "BOOT_KEY")),
    Lawful("boot pin straight on ground", "one_display", nets("MOD1", **{f"_{number_of(2)}": "GND"})),
    Lawful(
        "lamp that helps a boot pin",
        "one_display",
        lambda c: (c.two("R80", "1k", "IO2", "LMP"), c.add("D80", "LED", fp.LAMP, {"1": "GND", "2": "LMP"})),
    ),
    Lawful("pull-up that is not fitted", "one_display", lambda c: c.two("R80", "10k", "IO12", "+3V3", fit="none")),
    Lawful("no parts list values", "one_display", lambda c: setattr(c, "tables", lists.Habit(bill="order numbers"))),
    Lawful("list for the machine alone", "one_display", hand_list),
    Lawful(
        "shifter unnamed in the syncs",
        "six_one_bit",
        lambda c: setattr(
            c,
            "dossier",
            c.dossier.replace('U8 = { is = "sync buffer" }', 'U9 = { is = "other" }').replace("U9", "PWR1"),
        ),
        ("board.sync-path",),
    ),
    Lawful("long names that are cut alike", "six_one_bit", long_names),
    Lawful(
        "buffer that is on when high",
        "six_one_bit",
        together(field("U8", value="74LVC126A"), nets("U8", _1="+3V3", _4="+3V3", _10="+3V3", _13="+3V3")),
    ),
    Lawful("one gate each", "six_one_bit", field("U8", value="74AHCT125PWR")),
    Lawful(
        "table counted from a far corner",
        "six_one_bit",
        lambda c: setattr(c, "tables", lists.Habit(bill="left out", origin_um=(-100_000, 30_000))),
    ),
    Lawful(
        "table in thousandths of an inch, turned signs",
        "three_displays",
        lambda c: setattr(c, "tables", lists.Habit(bill="left out", unit="mil", turns="signed")),
    ),
)
