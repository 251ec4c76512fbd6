"""Boards with 15-pin connectors of a picture: sources, a board that receives, adapters."""

# ruff: noqa: E501  the circuits read like tables

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from demo_board import footprints as fp
from demo_board.nouns import BOTTOM, Footprint, Pad
from other_boards import lists
from other_boards.bench import Circuit, Pins, chip, dense15, micro_b, pins, quad, row, sot, usb_c, usb_c_nets
from other_boards.netlists import Habit

CHANNELS = ("R", "G", "B")


def edge(turn: bool = True, x_um: int = 30_000) -> dict[str, object]:
    """Where an angled connector sits at the near edge."""
    return {"at": (x_um, 9_000), "fit": "hand"} if turn else {"fit": "hand"}


def screen(
    out: Pins, *, shell: str = "GND", ground: str = "GND", power: str = "", ddc: bool = False, pin5: bool = True
) -> Pins:
    """Nets of a picture connector; `out` by R, G, B, H, V."""
    nets = {pin: out[name] for pin, name in zip(("1", "2", "3", "13", "14"), "RGBHV", strict=True) if out.get(name)}
    nets |= dict.fromkeys(("6", "7", "8", "10"), ground) | {
        "0": shell,
        "SH": shell,
        "S1": shell,
        "S2": shell,
        "MH1": shell,
    }
    if pin5:
        nets["5"] = ground
    if power:
        nets["9"] = power
    if ddc:
        nets |= {"12": "DDC_SDA", "15": "DDC_SCL"}
    return {pin: net for pin, net in nets.items() if net}


def outs(prefix: str = "") -> Pins:
    """Usual names of the nets at the connector."""
    return {
        "R": f"{prefix}VGA_RED",
        "G": f"{prefix}VGA_GREEN",
        "B": f"{prefix}VGA_BLUE",
        "H": f"{prefix}HSYNC_OUT",
        "V": f"{prefix}VSYNC_OUT",
    }


def capture() -> Circuit:
    """Receives a picture: 75 ohm to ground at each colour, clamps, coupling capacitors, identification memory, no source."""
    c = Circuit("capture", Habit(case="upper"), lists.Habit(bill="left out"))
    c.add("J1", "HD15 F", dense15(), screen(outs("IN_"), power="VGA_5V", ddc=True), **edge())
    for n, k in enumerate(CHANNELS, 1):
        net = outs("IN_")[k]
        c.two(f"R{n}", "75R 1%", net, "GND")
        c.add(f"D{n}", "clamp pair", sot(3), pins("GND", "3V3A", net))
        c.two(f"C{n}", "47nF", net, f"AFE_{k}")
    c.two("R4", "100R", "IN_HSYNC_OUT", "AFE_H")
    c.two("R5", "100R", "IN_VSYNC_OUT", "AFE_V")
    c.two("R6", "2k2", "AFE_H", "GND")
    c.add("U1", "triple converter", quad(80), {"10": "AFE_R", "14": "AFE_G", "18": "AFE_B", "30": "AFE_H", "31": "AFE_V", "1": "3V3A", "20": "GND", "40": "GND", "60": "3V3A"})  # fmt: skip
    c.add("U2", "identification memory", chip(8), pins("GND", "GND", "GND", "GND", "DDC_SDA", "DDC_SCL", "", "VGA_5V"))
    c.two("R7", "10k", "DDC_SDA", "VGA_5V")
    c.two("R8", "10k", "DDC_SCL", "VGA_5V")
    c.add("J2", "pins 2x20", row(40, rows=2), {"1": "3V3A", "6": "GND", "9": "GND", "39": "GND"}, fit="hand")
    return c


def dac_card() -> Circuit:
    """A programmable-logic board: triple converter with 75 ohm at its outputs, syncs straight from it, fused 5 V at pin 9."""
    c = Circuit("logic-video", Habit(names="last", case="upper", lowest=10), lists.Habit(bill="order numbers"))
    c.add("P1", "HD15", dense15(shell=("S1", "S2")), screen(outs(), power="VGA_PWR", ddc=True), **edge())
    c.add("F1", "500 mA", fp.CAPACITOR_LARGE, {"1": "+5V", "2": "VGA_PWR"})
    for n, k in enumerate(CHANNELS, 1):
        c.two(f"R{n}", "75", outs()[k], "GND")
        c.two(f"L{n}", "bead", f"DAC_{k}", outs()[k])
    c.two("R4", "33R", "FPGA_HS", "HSYNC_OUT")
    c.two("R5", "33R", "FPGA_VS", "VSYNC_OUT")
    c.two("R6", "2k2", "DDC_SDA", "+5V")
    c.two("R7", "2k2", "DDC_SCL", "+5V")
    c.add(
        "U2",
        "triple DAC",
        quad(48),
        {"33": "DAC_R", "29": "DAC_G", "25": "DAC_B", "36": "RSET", "13": "+3V3", "24": "GND", "30": "+3V3"},
    )
    c.two("R8", "560R", "RSET", "GND")
    c.add(
        "U1",
        "logic",
        quad(144),
        {"7": "FPGA_HS", "8": "FPGA_VS", "40": "+3V3", "41": "GND", "90": "GND", "91": "DDC_SDA", "92": "DDC_SCL"},
    )
    c.two("C1", "100n", "+3V3", "GND")
    return c


def weighted() -> Circuit:
    """Three bits each of red and green, two of blue, by weighted resistors from a bare chip; ground pin 5 open; male plug."""
    c = Circuit("weighted", Habit(names="first", open_pins="unconnected"), lists.Habit(bill="plain"))
    c.add("J1", "HD15 plug", dense15(male=True), screen(outs(), pin5=False, shell="Net-(J1-Pad0)"), **edge())
    c.two("R20", "0R", "Net-(J1-Pad0)", "GND")
    bits, number = {"R": 3, "G": 3, "B": 2}, 1
    nets, pin = {"1": "+3V3", "42": "+3V3", "57": "GND", "56": "USB_N", "55": "USB_P"}, 2
    for k, count in bits.items():
        for bit in range(count):
            c.two(f"R{number}", ("2k", "1k", "499R")[bit + 3 - count], f"{k}{bit}", outs()[k])
            nets[str(pin)] = f"{k}{bit}"
            number, pin = number + 1, pin + 1
    for k in "HV":
        c.two(f"R{number}", "47R", f"{k}_MCU", outs()[k])
        nets[str(pin)] = f"{k}_MCU"
        number, pin = number + 1, pin + 1
    c.add("U1", "two-core chip", quad(56, ground="57", pitch_um=400), nets)
    c.add("J2", "micro-B", micro_b(), {**pins("VBUS", "USB_CN", "USB_CP", "", "GND"), "6": "GND"})
    c.two("R11", "27R", "USB_CN", "USB_N")
    c.two("R12", "27R", "USB_CP", "USB_P")
    c.add("U2", "LDO", sot(5), pins("VBUS", "GND", "VBUS", "", "+3V3"))
    return c


def rungs() -> Circuit:
    """R-2R ladders of four bits, buffers behind them with 75 ohm, syncs through a level shifter; connector on the bottom."""
    c = Circuit("rungs", Habit(names="p", padding=" ", mask="same side"), lists.Habit(bill="fitted", turns="signed"))
    c.add("CN1", "HD15", dense15(), screen(outs()), at=(30_000, 9_000), fit="hand", side=BOTTOM, swapped_sides=True)
    n, pin, nets = 1, 2, {"1": "3V3", "32": "GND"}
    for k in CHANNELS:
        steps = [f"{k}_RUNG{s}" for s in range(4)]
        c.two(f"R{n}", "2k", steps[0], "GND")
        n += 1
        for s in range(4):
            c.two(f"R{n}", "2k", f"{k}{s}", steps[s])
            nets[str(pin)] = f"{k}{s}"
            n, pin = n + 1, pin + 1
            if s < 3:
                c.two(f"R{n}", "1k", steps[s], steps[s + 1])
                n += 1
        c.two(f"R{n}", "75R", f"{k}_BUF", outs()[k])
        n += 1
    c.add(
        "U2",
        "triple video buffer",
        chip(8),
        pins("R_RUNG3", "G_RUNG3", "B_RUNG3", "5V", "GND", "B_BUF", "G_BUF", "R_BUF"),
    )
    nets |= {"20": "H_3V", "21": "V_3V", "22": "SCL", "23": "SDA"}
    c.add("U1", "controller", quad(48), nets)
    c.add("U3", "level shifter", chip(8), pins("GND", "3V3", "H_3V", "V_3V", "V_5V", "H_5V", "5V", "5V"))
    c.two("R60", "100R", "H_5V", outs()["H"])
    c.two("R61", "100R", "V_5V", outs()["V"])
    c.add("J2", "pins", row(4), pins("5V", "GND", "SCL", "SDA"), fit="hand")
    return c


def through() -> Circuit:
    """A splitter with nothing that computes: socket to socket, ferrites, screw terminals."""
    c = Circuit("through", Habit(), lists.Habit())
    c.add("J1", "HD15 F", dense15(), screen(outs(), power="PWR", ddc=True), **edge())
    c.add("J2", "HD15 F", dense15(shell=()), screen(outs(), power="PWR", ddc=True), **edge(x_um=70_000))
    c.add(
        "J3",
        "screw",
        row(6, 5_080),
        pins("VGA_RED", "VGA_GREEN", "VGA_BLUE", "HSYNC_OUT", "VSYNC_OUT", "GND"),
        fit="hand",
    )
    return c


def module_pads(names: str = "IO{}") -> Footprint:
    """The radio module, its pads called by function in the netlist too."""
    made = []
    for pad in fp.module().pads:
        function = fp.FUNCTIONS[int(pad.number)] or "NC"
        if function.startswith("GPIO"):
            function = names.format(function[4:])
        made.append(Pad(function, pad.x_um, pad.y_um, pad.shape, function=function))
    return replace(fp.module(), pads=tuple(made))


def number_of(pin: int) -> str:
    """Pad number of a chip pin of the module."""
    return fp.PAD_OF[f"GPIO{pin}"]


HEAD = """
[dossier]
format = 1
title = "{title}"
[chip]
like = "wifi240"
drive = "20 mA; because"
pin_high = "20 .. 40 ohm; measured"
pin_low = "15 .. 30 ohm; measured"
rail = "3.25 .. 3.35 V; measured"
"""


def displays(names: dict[str, str]) -> str:
    """Displays by name and class."""
    return "".join(
        f'[[displays]]\nname = "{name}"\ngroup = "{name.rstrip("0123456789-")}"\nlike = "{like}"\n'
        'colour_load = "75 ohm \u00b1 2 %; measured"\ncable = "thin, 2 m; said"\nproved = ["640x480@60; measured"]\n'
        for name, like in names.items()
    )


def auto_reset(c: Circuit, boot: str = "IO0", enable: str = "EN") -> None:
    """Two transistors by which a serial bridge starts the chip's loader."""
    c.add("Q1", "NPN", sot(3, ("B", "E", "C")), pins("Q1_B", "RTS", enable))
    c.add("Q2", "NPN", sot(3, ("B", "E", "C")), pins("Q2_B", "DTR", boot))
    c.two("R91", "10k", "DTR", "Q1_B")
    c.two("R92", "10k", "RTS", "Q2_B")


BRIDGE = quad(24, ("DCD", "RI", "GND", "D+", "D-", "VIO", "VDD", "REGIN", "VBUS", "RST", "NC", "SUSP", "NC", "NC", "NC", "NC", "NC", "SUSPB", "CTS", "RTS", "RXD", "TXD", "DSR", "DTR"), ground="25")  # fmt: skip


def bridge(c: Circuit, ref: str = "U2", gives: str = "UART_RXD0", takes: str = "UART_TXD0") -> None:
    """A serial bridge with its inlet."""
    nets = {
        "3": "GND",
        "4": "USB_DP",
        "5": "USB_DN",
        "6": "+3V3",
        "7": "+3V3",
        "8": "VBUS",
        "9": "VBUS",
        "20": "RTS",
        "24": "DTR",
        "25": "GND",
    }
    c.add(ref, "serial bridge", BRIDGE, {**nets, "21": takes, "22": gives})


def one_display() -> Circuit:
    """One display in colour from a module: 240 ohm each, syncs by 100 ohm, auto-reset pair, bridge through 0 and 470 ohm."""
    c = Circuit(
        "terminal",
        Habit(names="last", case="upper", open_pins="unconnected"),
        lists.Habit(bill="left out"),
        copper=True,
    )
    lanes = {"R": 25, "G": 26, "B": 27, "H": 32, "V": 33}
    c.add("X1", "HD15 F", dense15(shell=("SH", "SH")), screen(outs(), power="VGA_5V"), **edge())
    c.add("F1", "PTC 0.5A", fp.CAPACITOR_LARGE, {"1": "VBUS", "2": "VGA_5V"})
    ring = {number_of(pin): f"IO{pin}" for pin in (*lanes.values(), 0, 2, 12, 15, 5)} | {
        "1": "GND",
        "15": "GND",
        "38": "GND",
        "39": "GND",
        "2": "+3V3",
        "3": "EN",
    }
    ring |= {number_of(1): "U0TXD", number_of(3): "U0RXD"}
    c.add("MOD1", "radio module", fp.module(), ring)
    for n, (k, pin) in enumerate(lanes.items(), 1):
        c.two(f"R{n}", "240R" if k in CHANNELS else "100R", f"IO{pin}", outs()[k])
    c.two("R10", "10k", "EN", "+3V3")
    c.two("C1", "1uF", "EN", "GND")
    c.two("R12", "10k", "IO0", "+3V3")
    c.add("SW1", "tact", fp.RESISTOR, {"1": "IO0", "2": "GND"})
    auto_reset(c)
    bridge(c, gives="BR_TXD", takes="BR_RXD")
    c.two("R13", "0R", "BR_TXD", "U0RXD")
    c.two("R14", "470R", "U0TXD", "BR_RXD")
    c.add("J9", "USB-C", usb_c("16"), usb_c_nets(data=("USB_DP", "USB_DN"), shell="SHLD"))
    c.two("R15", "1M", "SHLD", "GND")
    c.two("R16", "5k1", "CC1", "GND")
    c.two("R17", "5k1", "CC2", "GND")
    c.add("U3", "LDO", replace(fp.regulator(), name="SOT-223"), {"1": "GND", "2": "+3V3", "3": "VBUS", "4": "+3V3"})
    c.two("C3", "10uF", "+3V3", "GND")
    c.two("C4", "10uF", "VBUS", "GND", side=BOTTOM)
    c.dossier = HEAD.format(title="terminal") + displays({"desk": "monitor, 15 inch"}) + """
[board]
sync = { h = 32, v = 33 }
connectors = [{ name = "X1", plugs = "desk", red = 25, green = 26, blue = 27 }]
[board.parts]
MOD1 = { is = "chip", talks = "GPIO1", hears = "GPIO3" }
U2 = { is = "serial bridge", talks = "22", hears = "21" }
J9 = { is = "inlet" }
[levels]
colour = { style = "series", part = "240 ohm \u00b1 1 %" }
sync = { style = "series", part = "100 ohm \u00b1 5 %" }
[[rigs]]
name = "text"
firmware = "radio-off"
stream = "8 lanes"
raster = { parent = "640x480@60", divide = 2, repeat = 2, picture = "320x240" }
depth = { desk = { red = 1, green = 1, blue = 1 } }
"""  # fmt: skip
    return c


def three_displays() -> Circuit:
    """Three displays, named pads in the netlist, a cable header whose pins are named from the cable's view, no bridge."""
    c = Circuit(
        "triptych",
        Habit(names="c", unit=1, columns=80, lowest=4),
        lists.Habit(bill="per part", origin_um=(-50_800, -25_400)),
    )
    lanes = {"VID_A": (13, 14, 18), "VID_B": (19, 21, 22), "VID_C": (23, 4, 16)}
    ring = {
        "GND": "GND",
        "3V3": "3V3",
        "EN": "RST",
        "IO26": "HS",
        "IO27": "VS",
        "IO1": "TO CABLE RX",
        "IO3": "FROM CABLE TX",
        "IO0": "BOOT",
        "IO12": "STRAP12",
        "IO2": "STRAP2",
    }
    number = 1
    for place, (name, wired) in enumerate(lanes.items()):
        nets = {k: f"{name} {k.lower()} at the connector" for k in CHANNELS} | {"H": "HS", "V": "VS"}
        c.add(
            name,
            "HD15 F",
            dense15(shell=("MH1", "MH1")),
            screen({**nets, "H": "HS OUT", "V": "VS OUT"}),
            **edge(x_um=17_000 + 33_000 * place),
        )
        for k, pin in zip(CHANNELS, wired, strict=True):
            c.two(f"RV{number}", "240", f"IO{pin}", nets[k])
            ring[f"IO{pin}"] = f"IO{pin}"
            number += 1
    c.two("RS1", "47R", "HS", "HS OUT")
    c.two("RS2", "47R", "VS", "VS OUT")
    c.add("RADIO1", "radio module", module_pads(), ring)
    c.two("R1", "10k", "RST", "3V3")
    c.two("R2", "10k", "BOOT", "3V3")
    c.two("R3", "10k", "STRAP12", "GND")
    c.two("R4", "10k", "STRAP2", "GND")
    c.add("J5", "cable", row(6), pins("GND", "", "5V", "FROM CABLE TX", "TO CABLE RX", ""), fit="hand")
    c.add("U9", "LDO", replace(fp.regulator(), name="SOT-223"), {"1": "GND", "2": "3V3", "3": "5V", "4": "3V3"})
    c.dossier = HEAD.format(title="triptych") + displays({"wing-1": "monitor, 15 inch", "wing-2": "monitor, 15 inch", "wing-3": "monitor, 15 inch"}) + """
[board]
sync = { h = 26, v = 27 }
connectors = [
  { name = "VID_A", plugs = "wing-1", red = 13, green = 14, blue = 18 },
  { name = "VID_B", plugs = "wing-2", red = 19, green = 21, blue = 22 },
  { name = "VID_C", plugs = "wing-3", red = 23, green = 4, blue = 16 },
]
[board.parts]
RADIO1 = { is = "chip", talks = "IO1", hears = "IO3" }
[levels]
colour = { style = "series", part = "240 ohm \u00b1 1 %" }
sync = { style = "series", part = "47 ohm \u00b1 5 %" }
[[rigs]]
name = "altar"
firmware = "radio-off"
stream = "16 lanes"
raster = { parent = "640x480@60", divide = 2, repeat = 2, picture = "320x240" }
depth = { wing = { red = 1, green = 1, blue = 1 } }
"""  # fmt: skip
    return c


def six_one_bit() -> Circuit:
    """Six displays of one bit, all green: a lane each through its resistor, plugs, sync buffer in one package."""
    c = Circuit(
        "six",
        Habit(names="last", case="upper", lowest=2, extra=True),
        lists.Habit(bill="plain", unit="inch"),
        copper=True,
    )
    lanes = dict(zip([f"CON{n}" for n in range(1, 7)], (13, 14, 18, 19, 21, 22), strict=True))
    ring = {
        "1": "GND",
        "15": "GND",
        "38": "GND",
        "39": "GND",
        "2": "+3V3",
        "3": "EN",
        number_of(26): "H_CHIP",
        number_of(27): "V_CHIP",
        number_of(0): "IO0",
        number_of(12): "IO12",
        number_of(2): "IO2",
    }
    n = 1
    for place, (name, pin) in enumerate(lanes.items()):
        nets = {k: f"{name}_{k}" for k in CHANNELS} | {k: f"{name}_{k}S" for k in "HV"}
        x, y = 17_000 + 33_000 * (place % 3), 9_000 + 110_000 * (place // 3)
        c.add(name, "HD15 F", dense15(), screen(nets), at=(x, y), fit="hand", turn_deg=0 if place < 3 else 180)
        c.two(f"R{n + 1}", "240R 1%", f"LANE{pin}", nets["G"])
        n += 3
        for k in "HV":
            c.two(f"R{n}", "33R", f"{k}_BUF", nets[k])
            n += 1
        ring[number_of(pin)] = f"LANE{pin}"
    c.add("U7", "radio module", fp.module(), ring)
    buffer = replace(fp.BUFFER, name="SO-14")
    c.add("U8", "74LVC125A", buffer, {"1": "GND", "2": "H_CHIP", "3": "H_BUF", "4": "GND", "5": "V_CHIP", "6": "V_BUF", "7": "GND", "9": "GND", "10": "GND", "12": "GND", "13": "GND", "14": "+3V3"})  # fmt: skip
    c.two("R90", "10k", "EN", "+3V3")
    c.two("R91", "10k", "IO0", "+3V3")
    c.two("R92", "10k", "IO12", "GND")
    c.two("C1", "100n", "+3V3", "GND")
    c.add("PWR1", "screw", row(2, 5_080), pins("+3V3", "GND"), fit="hand")
    c.dossier = HEAD.format(title="six") + displays({f"wall-{n}": "monitor, 15 inch" for n in range(1, 7)}) + """
[board]
sync = { h = 26, v = 27 }
connectors = [
""" + "".join(f'  {{ name = "{name}", plugs = "wall-{i}", green = {pin} }},\n' for i, (name, pin) in enumerate(lanes.items(), 1)) + """]
[board.parts]
U7 = { is = "chip" }
U8 = { is = "sync buffer" }
[levels]
colour = { style = "series", part = "240 ohm \u00b1 1 %" }
sync = { style = "buffered", buffer = "LVC", outputs = "one", branch = "33 ohm \u00b1 5 %" }
[[rigs]]
name = "letters"
firmware = "radio-off"
stream = "8 lanes"
raster = { parent = "640x480@60", picture = "640x400" }
depth = { wall = { white = 1 } }
"""  # fmt: skip
    return c


def amplified() -> Circuit:
    """Video amplifiers of gain two with 75 ohm behind and in front; ferrite beads and guard arrays at the connector; no dossier."""
    c = Circuit("amplified", Habit(names="last", case="upper", lowest=4), lists.Habit(bill="left out"))
    c.add("J2", "HD15 F", dense15(shell=("S1", "S2"), row_um=1_980), screen(outs(), shell="CHASSIS"), **edge())
    c.two("R30", "1M", "CHASSIS", "GND")
    c.two("C30", "10n 1kV", "CHASSIS", "GND")
    for n, k in enumerate(CHANNELS, 1):
        c.two(f"R{n}", "1k1", f"IO_{k}", f"AMP_{k}")
        c.two(f"R{n + 10}", "300R", f"AMP_{k}", "GND")
        c.two(f"R{n + 20}", "75R", f"DRV_{k}", f"FLT_{k}")
        c.two(f"FB{n}", "bead 47R", f"FLT_{k}", outs()[k])
    c.add("D1", "guard array", sot(6), pins(outs()["R"], "GND", outs()["G"], outs()["B"], "+5V", ""))
    c.add(
        "U2",
        "triple video amplifier",
        chip(14),
        pins("AMP_R", "DRV_R", "AMP_G", "DRV_G", "AMP_B", "DRV_B", "GND", *[""] * 6, "+5V"),
    )
    c.add("U3", "dual buffer", sot(6), pins("H_IO", "GND", "V_IO", "V_B", "+5V", "H_B"))
    c.two("R40", "33", "H_B", outs()["H"])
    c.two("R41", "33", "V_B", outs()["V"])
    c.add(
        "U1",
        "chip",
        quad(56, ground="57"),
        {"2": "IO_R", "3": "IO_G", "4": "IO_B", "5": "H_IO", "6": "V_IO", "57": "GND", "1": "+3V3"},
    )
    c.two("C1", "100nF", "+3V3", "GND")
    return c


VIDEO: dict[str, Callable[[], Circuit]] = {
    one.__name__: one
    for one in (capture, dac_card, weighted, rungs, through, amplified, one_display, three_displays, six_one_bit)
}
