"""Boards that have nothing to do with displays, and boards of inlets."""

# ruff: noqa: E501  the circuits read like tables

from __future__ import annotations

from dataclasses import replace

from demo_board import footprints as fp
from demo_board.nouns import BOTTOM
from other_boards import lists
from other_boards.bench import Circuit, chip, micro_b, pins, quad, row, sot, two_row_d, usb_c, usb_c_nets
from other_boards.netlists import Habit

LAMP = fp.LAMP


def sensor() -> Circuit:
    """A weather sensor: micro-B, regulator, bare chip, two-wire sensor, lamp, test points without references."""
    c = Circuit(
        "weather",
        Habit(names="first", case="as drawn", open_pins="unconnected", extra=True, probe_ref=False),
        lists.Habit(bill="left out", origin_um=(0, 90_000)),
    )
    c.add("J1", "micro-B", micro_b(), {**pins("VBUS", "/USB_DM", "/USB_DP", "", "GND"), "6": "Net-(J1-Shield)"})
    c.two("R9", "1M", "Net-(J1-Shield)", "GND")
    c.two("C9", "4n7/100V", "Net-(J1-Shield)", "GND")
    c.add("U1", "LDO-3.3", sot(5, ("VIN", "GND", "EN", "NC", "VOUT")), pins("VBUS", "GND", "VBUS", "", "+3V3"))
    nets = dict.fromkeys(("1", "9", "24"), "+3V3") | dict.fromkeys(("8", "23"), "GND")
    nets |= {"2": "/SDA", "3": "/SCL", "18": "/USB_DM", "19": "/USB_DP", "26": "/NRST", "27": "/BOOT0", "5": "/LED"}
    c.add("U2", "M0 controller", quad(32, ground="33"), {**nets, "33": "GND"})
    c.add("U3", "humidity", chip(8), pins("+3V3", "GND", "/SDA", "/SCL"))
    for number, (value, one, other) in enumerate(
        (("4k7", "/SDA", "+3V3"), ("4k7", "/SCL", "+3V3"), ("10k", "/BOOT0", "GND"), ("470R", "/LED", "Net-(D1-A)")), 1
    ):
        c.two(f"R{number}", value, one, other)
    for number, value in enumerate(("100nF/50V X7R", "1uF", "4u7", "100n"), 1):
        c.two(f"C{number}", value, "+3V3" if number != 2 else "VBUS", "GND", side=BOTTOM if number > 2 else "top")
    c.add("D1", "LED", LAMP, {"1": "GND", "2": "Net-(D1-A)"})
    c.add("TP1", "TP", fp.TEST_PAD, {"1": "/NRST"})
    c.add(
        "J2", "Conn_02x05", row(10, rows=2), pins("+3V3", "/SWDIO", "GND", "/SWCLK", "GND", "", "", "", "GND", "/NRST")
    )
    c.vias += ["GND", "GND", "+3V3"]
    return c


def keyboard() -> Circuit:
    """A keyboard: USB-C of 12 pads, 22 ohm in the pair, guard array, matrix on the bottom, mirrored bottom places."""
    c = Circuit(
        "keys",
        Habit(names="last", case="upper", padding="0", columns=80, ends="\r\n"),
        lists.Habit(bill="per part", bottom="mirrored", turns="signed"),
    )
    kind = usb_c("12", ("SH", "SH", "SH", "SH"))
    c.add("USB1", "TYPE-C-12", kind, usb_c_nets("12", data=("USB_C_D_P", "USB_C_D_N"), shell="SHIELD_GND"))
    c.two("R1", "5.1k", "CC1", "GND", side=BOTTOM)
    c.two("R2", "5.1k", "CC2", "GND", side=BOTTOM)
    c.two("FB1", "470R at 100 MHz", "SHIELD_GND", "GND", side=BOTTOM)
    c.add("U2", "guard array", sot(6), pins("USB_C_D_P", "GND", "USB_C_D_N", "USB_C_D_N", "VBUS", "USB_C_D_P"))
    c.two("R3", "22", "USB_C_D_P", "USB_DP")
    c.two("R4", "22", "USB_C_D_N", "USB_DN")
    c.add("F1", "500mA PTC", fp.CAPACITOR_LARGE, {"1": "VBUS", "2": "5V"})
    rows, cols = [f"ROW{n}" for n in range(4)], [f"COL{n}" for n in range(5)]
    nets = {str(n): net for n, net in enumerate([*rows, *cols], 3)}
    nets |= {"14": "5V", "24": "5V", "15": "GND", "23": "GND", "28": "USB_DP", "29": "USB_DN", "13": "RESET"}
    c.add("U1", "USB controller", quad(44), nets)
    switch = replace(row(2, 6_350), name="key switch")
    for number in range(20):
        r, k = divmod(number, 5)
        c.add(f"SW{number + 1}", "MX", switch, {"1": cols[k], "2": f"Net-(D{number + 1}-Pad2)"}, fit="hand")
        c.add(
            f"D{number + 1}",
            "1N4148W",
            LAMP,
            {"1": rows[r], "2": f"Net-(D{number + 1}-Pad2)"},
            side=BOTTOM,
            turn_deg=90 * (number % 4),
        )
    c.two("R5", "10k", "RESET", "5V")
    for n in range(1, 5):
        c.two(f"C{n}", "0.1uF", "5V", "GND", side=BOTTOM)
    return c


def motor() -> Circuit:
    """A motor driver: J1 has 15 pins in one row, J2 a two-row 15-pin connector; differential bus, sense resistors."""
    c = Circuit("stepper", Habit(names="c", unit=1, columns=80), lists.Habit(bill="order numbers", unit="inch"))
    c.add("J1", "header 15", row(15), pins(*"VM VM GND GND A+ A- B+ B- STEP DIR EN FAULT VCC GND GND".split()))
    c.add(
        "J2",
        "DA15",
        two_row_d(15),
        {**pins(*"A+ A- B+ B- GND GND HOME LIM VCC".split()), "13": "STEP", "14": "DIR", "0": "EARTH"},
    )
    c.two("C20", "10nF/2kV", "EARTH", "GND")
    c.add("U1", "bridge driver", quad(28, ground="EP"), {**pins("VM", "A+", "SENSE_A", "A-", "B-", "SENSE_B", "B+", "VM"), "16": "STEP", "17": "DIR", "18": "EN", "19": "FAULT", "20": "VCC", "EP": "GND"})  # fmt: skip
    c.two("R1", "R010", "SENSE_A", "GND")
    c.two("R2", "R010", "SENSE_B", "GND")
    c.add("U2", "bus transceiver", chip(8, ("RO", "RE", "DE", "DI", "GND", "A", "B", "VCC")), pins("MCU_RXD", "TXEN", "TXEN", "MCU_TXD", "GND", "BUS_A", "BUS_B", "VCC"))  # fmt: skip
    c.two("R3", "120R", "BUS_A", "BUS_B")
    c.two("R4", "680R", "BUS_A", "VCC")
    c.two("R5", "680R", "BUS_B", "GND")
    mcu = {"1": "VCC", "8": "GND", "10": "MCU_TXD", "11": "MCU_RXD", "12": "TXEN", "14": "STEP", "15": "DIR", "16": "EN", "17": "FAULT", "18": "HOME", "19": "LIM", "31": "MCU_BOOT"}  # fmt: skip
    c.add("U3", "controller", quad(32, ground="EP"), {**mcu, "EP": "GND"})
    c.two("R6", "100k", "MCU_BOOT", "GND")
    c.two("R7", "10k", "FAULT", "VCC")
    for n in range(1, 6):
        c.two(f"C{n}", "100nF", "VCC" if n < 4 else "VM", "GND")
    c.add("J3", "screw", row(3, 5_080), pins("BUS_A", "BUS_B", "GND"), fit="hand")
    return c


def amplifier() -> Circuit:
    """An audio amplifier: no net is called ground; two supplies; a long net name with letters of other scripts."""
    c = Circuit(
        "amp", Habit(names="p", padding=" ", encoding="utf-8", mask="none"), lists.Habit(bill="plain", delimiter=";")
    )
    c.add("U1", "TL072", chip(8), pins("OUT_L", "FB_L", "IN_L", "-12V", "IN_R", "FB_R", "OUT_R", "+12V"))
    jack = replace(row(3, 5_000), name="jack 3.5")
    c.add("J1", "jack", jack, pins("0V", "Eingang links gefiltert \u00e4", "Eingang rechts gefiltert"), fit="hand")
    c.add("J2", "jack", jack, pins("0V", "OUT_L", "OUT_R"), fit="hand")
    c.add("J3", "screw", row(3, 5_080), pins("+12V", "0V", "-12V"), fit="hand")
    for n, side in enumerate("LR"):
        long = "Eingang links gefiltert \u00e4" if side == "L" else "Eingang rechts gefiltert"
        c.two(f"C{10 + n}", "1u film", long, f"IN_{side}")
        c.two(f"R{10 + n}", "100k", f"IN_{side}", "0V")
        c.two(f"R{20 + n}", "1k", f"FB_{side}", "0V")
        c.two(f"R{30 + n}", "10k 1%", f"FB_{side}", f"OUT_{side}")
    for n, rail in enumerate(("+12V", "-12V"), 1):
        c.two(f"C{n}", "100n", rail, "0V")
    return c


def supply() -> Circuit:
    """A step-down supply without any chip that computes; power-only USB-C of six contacts; net tie."""
    c = Circuit("buck", Habit(case="lower", pins=2, unit=2, refs=6), lists.Habit(bill="fitted", unit="mil"))
    c.add(
        "USBC1",
        "USB-C 6P",
        usb_c("6", ("MH1", "MH1", "MH2", "MH2")),
        usb_c_nets("6", gnd="PGND", vbus="VIN", shell="PGND"),
    )
    c.two("R1", "5K1", "CC1", "PGND")
    c.two("R2", "5K1", "CC2", "PGND")
    c.add("U1", "buck", sot(6), pins("BST", "PGND", "FB", "EN", "VIN", "SW"))
    c.two("L1", "4.7uH", "SW", "VOUT")
    c.two("C1", "22uF/25V", "VIN", "PGND")
    c.two("C2", "22uF", "VOUT", "PGND")
    c.two("C3", "100nF", "BST", "SW")
    c.two("R3", "52k3", "VOUT", "FB")
    c.two("R4", "10k", "FB", "PGND")
    c.two("R5", "100k", "VIN", "EN")
    c.two("R6", "0R", "PGND", "AGND")
    c.add("J1", "screw", row(2, 5_080), pins("VOUT", "PGND"), fit="hand")
    c.add("NT1", "net tie", fp.RESISTOR, {"1": "PGND", "2": "SGND"}, fit="none")
    return c


def radio() -> Circuit:
    """A radio node on a module with castellated pads: antenna shorted to ground by its shape, boot button, long references."""
    c = Circuit("radio", Habit(names="last", case="upper", lowest=4), lists.Habit(bill="left out"))
    pads = "GND 3V3 EN IO4 IO5 IO6 IO7 IO15 IO16 IO17 IO18 IO8 IO19 IO20 IO3 IO46 IO9 IO10 IO11 IO12 IO13 IO14 IO21 IO47 IO48 IO45 IO0 IO35 IO36 IO37 IO38 IO39 IO40 IO41 IO42 RXD0 TXD0 IO2 IO1 GND".split()  # fmt: skip
    nets = {
        "1": "GND",
        "40": "GND",
        "2": "+3V3",
        "3": "EN",
        "27": "BOOT",
        "36": "U0RXD",
        "37": "U0TXD",
        "13": "USB_D-",
        "14": "USB_D+",
    }
    module = replace(quad(40, tuple(pads), ground="41", pitch_um=1_270), name="radio module S")
    c.add("MODULE1", "radio module S", module, {**nets, "41": "GND"})
    c.add("BUTTON1", "tact", fp.RESISTOR, {"1": "EN", "2": "GND"})
    c.add("BUTTON2", "tact", fp.RESISTOR, {"1": "BOOT", "2": "GND"})
    c.two("R1", "10k", "EN", "+3V3")
    c.two("C1", "1uF", "EN", "GND")
    c.add("USB1", "USB-C", usb_c("16"), usb_c_nets(data=("USB_D+", "USB_D-")))
    c.two("R2", "5k1", "CC1", "GND")
    c.two("R3", "5k1", "CC2", "GND")
    c.add("U2", "LDO", sot(5), pins("VBUS", "GND", "VBUS", "", "+3V3"))
    c.add(
        "AE1", "antenna", replace(row(2, 3_000, surface=True), name="inverted F"), {"1": "ANT", "2": "GND"}, fit="none"
    )
    c.two("C2", "1p5", "ANT", "GND")
    c.add("CONNECTOR1", "UART", row(6), pins("GND", "", "+3V3", "U0TXD", "U0RXD", ""), fit="hand")
    return c


def game_port() -> Circuit:
    """A sound card of old: two-row 15-pin game port, 9-pin serial, no video; joystick timers at pins 3, 6, 11, 13."""
    c = Circuit("game", Habit(names="first", columns=72, unit=None), lists.Habit())
    pin = pins(
        "+5V",
        "BTN1",
        "AX1",
        "GND",
        "GND",
        "AX2",
        "BTN2",
        "+5V",
        "+5V",
        "BTN3",
        "AX3",
        "MIDI_OUT",
        "AX4",
        "BTN4",
        "MIDI_IN",
    )
    c.add("J1", "DA15 female", two_row_d(15), {**pin, "0": "GND"}, fit="hand")
    c.add(
        "J2", "DE9", two_row_d(9), {**pins("", "RXD", "TXD", "DTR", "GND", "DSR", "RTS", "CTS"), "0": "GND"}, fit="hand"
    )
    for n in range(1, 5):
        c.two(f"R{n}", "2k2", f"AX{n}", f"T{n}")
        c.two(f"C{n}", "10n", f"T{n}", "GND")
        c.two(f"R{n + 4}", "4k7", f"BTN{n}", "+5V")
    c.add("U1", "timer", chip(14), {**pins("T1", "T2", "T3", "T4", "BTN1", "BTN2", "GND", "BTN3", "BTN4"), "14": "+5V"})
    c.add(
        "U2",
        "line driver",
        chip(16),
        {"13": "RXD", "14": "TXD", "11": "TX_TTL", "12": "RX_TTL", "15": "GND", "16": "+5V", "7": "RTS", "8": "CTS"},
    )
    c.add(
        "U3",
        "UART",
        quad(44),
        {"5": "RX_TTL", "11": "TX_TTL", "12": "MIDI_OUT", "13": "MIDI_IN", "22": "GND", "44": "+5V"},
    )
    return c


def ribbon() -> Circuit:
    """A camera adapter: J1 is a 15-pin ribbon connector in the usual numbering, with its pair of supply pins."""
    c = Circuit("ribbon", Habit(names="last", case="upper"), lists.Habit(bill="per part"))
    lines = pins("GND", "D0N", "D0P", "GND", "D1N", "D1P", "GND", "CN", "CP", "GND", "IO0", "IO1", "SCL", "SDA", "3V3")
    c.add("J1", "FFC 15", row(15, 1_000, surface=True), lines)
    c.add("J2", "FFC 15", row(15, 1_000, surface=True), lines)
    c.add("J3", "header", row(4), pins("3V3", "GND", "SCL", "SDA"), fit="hand")
    return c


def inlets() -> Circuit:
    """Two inlets: one whose controller chip holds CC, with a common-mode choke and guards, shell through R and C; a host's type A."""
    c = Circuit("hub", Habit(names="c", unit=1, lowest=4, columns=80), lists.Habit(bill="left out"))
    c.add("J1", "USB-C 24", usb_c("24"), usb_c_nets("24", data=("UP_DP", "UP_DN"), shell="CHASSIS"))
    c.two("R1", "1M", "CHASSIS", "GND")
    c.two("C1", "4.7nF 1kV", "CHASSIS", "GND")
    choke = replace(chip(4), name="choke")
    c.add("L1", "90R choke", choke, pins("UP_DP", "UP_DN", "HUB_DN", "HUB_DP"))
    c.add("D1", "guard", sot(3), pins("UP_DP", "UP_DN", "GND"))
    c.add(
        "U1",
        "port controller",
        quad(16, ground="17"),
        {"1": "CC1", "2": "CC2", "4": "VBUS", "8": "GND", "12": "3V3", "17": "GND"},
    )
    hub = {
        "1": "HUB_DP",
        "2": "HUB_DN",
        "5": "DN1_P",
        "6": "DN1_N",
        "7": "DN2_P",
        "8": "DN2_N",
        "12": "3V3",
        "24": "GND",
        "25": "GND",
    }
    c.add("U2", "hub chip", quad(24, ground="25"), hub)
    kind = replace(row(4, 2_000), name="USB-A")
    c.add("J2", "USB-A", kind, pins("VBUS", "DN1_N", "DN1_P", "GND"), fit="hand")
    c.add(
        "J3",
        "USB-C 16",
        usb_c("16"),
        usb_c_nets(vbus="5V_OUT", cc=("SRC_CC1", "SRC_CC2"), data=("DN2_P", "DN2_N"), shell="CHASSIS"),
    )
    c.two("R2", "56k", "SRC_CC1", "5V_OUT")
    c.two("R3", "56k", "SRC_CC2", "5V_OUT")
    c.add("F1", "PTC", fp.CAPACITOR_LARGE, {"1": "VBUS", "2": "5V_OUT"})
    c.add("U3", "LDO", sot(5), pins("VBUS", "GND", "VBUS", "", "3V3"))
    return c


def charger() -> Circuit:
    """USB-C for charging alone: data contacts open, A6 to A7 joined as a charging port asks; charge chip, cell."""
    c = Circuit("charge", Habit(), lists.Habit(bill="fitted"))
    nets = usb_c_nets(data=("", ""))
    c.add("P1", "USB-C", usb_c("16"), nets)
    c.two("R1", "5.1K 1%", "CC1", "GND")
    c.two("R2", "5.1K 1%", "CC2", "GND")
    c.add("U1", "charger", chip(8), pins("GND", "PROG", "GND", "VBUS", "VBAT", "STDBY", "CHRG", "VBUS"))
    c.two("R3", "1.2k", "PROG", "GND")
    for n, net in enumerate(("STDBY", "CHRG"), 1):
        c.add(f"D{n}", "LED", LAMP, {"1": net, "2": f"LED{n}"})
        c.two(f"R{3 + n}", "1k", "VBUS", f"LED{n}")
    c.add("BT1", "cell", row(2, 2_000), pins("VBAT", "GND"), fit="hand")
    return c


PLAIN = {
    one.__name__: one for one in (sensor, keyboard, motor, amplifier, supply, radio, game_port, ribbon, inlets, charger)
}
