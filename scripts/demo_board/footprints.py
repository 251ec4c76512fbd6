"""Footprints of the demo boards; sizes are usual ones, common practice, no source."""

from __future__ import annotations

from demo_board.nouns import Footprint, Pad, Shape

# Pads of the module, counter-clockwise from the upper left; numbers are chip pins. The order is the handbook's.
POWER = {1: "GND", 2: "3V3", 3: "EN", 15: "GND", 32: "", 38: "GND", 39: "GND"}
RING = (
    36,
    39,
    34,
    35,
    32,
    33,
    25,
    26,
    27,
    14,
    12,
    13,
    9,
    10,
    11,
    6,
    7,
    8,
    15,
    2,
    0,
    4,
    16,
    17,
    5,
    18,
    19,
    21,
    3,
    1,
    22,
    23,
)
FUNCTIONS = dict(POWER)
FUNCTIONS |= dict(zip((n for n in range(1, 39) if n not in POWER), (f"GPIO{pin}" for pin in RING), strict=True))
PAD_OF = {function: str(number) for number, function in FUNCTIONS.items() if function.startswith("GPIO")}
"""Pad number of the module for each of its pins, `GPIO32` to `8`."""

ROW_UM, PITCH_UM = 2_540, 2_290


def two_pads(name: str, apart_um: int, w_um: int, h_um: int, functions: tuple[str, str] = ("", "")) -> Footprint:
    """A resistor, capacitor or lamp with one pad at either end."""
    shape = Shape("R", w_um, h_um)
    ends = enumerate(zip((-apart_um // 2, apart_um // 2), functions, strict=True), 1)
    pads = tuple(Pad(str(n), x, 0, shape, leave="N", function=function) for n, (x, function) in ends)
    return Footprint(name, pads, apart_um, h_um)


def two_rows(name: str, functions: tuple[str, ...], apart_um: int, pitch_um: int = 1_270) -> Footprint:
    """A small outline with pins down the left and up the right."""
    half = len(functions) // 2
    pads = []
    for index, function in enumerate(functions):
        left = index < half
        step = index if left else len(functions) - 1 - index
        y = (half - 1) * pitch_um // 2 - step * pitch_um
        x = -apart_um // 2 if left else apart_um // 2
        leave = "L" if left else "R"
        pads.append(Pad(str(index + 1), x, y, Shape("R", 1_600, 600), leave=leave, function=function))
    return Footprint(name, tuple(pads), apart_um - 2_000, half * pitch_um)


def module() -> Footprint:
    """The radio module: fourteen pads left and right, ten at the lower end, one below."""
    side, foot = Shape("R", 1_500, 900), Shape("R", 900, 1_500)
    pads = []
    for number in range(1, 15):
        pads.append((number, -8_750, 8_255 - (number - 1) * 1_270, side, "L"))
    for number in range(15, 25):
        pads.append((number, -5_715 + (number - 15) * 1_270, -9_900, foot, "D"))
    for number in range(25, 39):
        pads.append((number, 8_750, -8_255 + (number - 25) * 1_270, side, "R"))
    pads.append((39, -1_000, 2_000, Shape("R", 5_000, 5_000), "V"))
    return Footprint(
        "radio module, 38 pads",
        tuple(Pad(str(n), x, y, shape, leave=leave, function=FUNCTIONS[n]) for n, x, y, shape, leave in pads),
        18_000, 25_500, 1_900,
    )  # fmt: skip


def socket() -> Footprint:
    """15-pin socket for an edge, plug side down: pin 1 right, row 11 to 15 nearest the edge."""
    pads = []
    for number in range(1, 16):
        row, place = divmod(number - 1, 5)
        x = 2 * PITCH_UM - place * PITCH_UM - (PITCH_UM // 2 if row == 1 else 0)
        y = ROW_UM * (1 - row)
        path: tuple[tuple[int, int], ...] = ()
        if row == 2:  # between two pins of the middle row, then between two of the far one
            path = ((x, 460), (x - PITCH_UM // 2, 1_610))
        leave = "H" if row != 1 else ""
        pads.append(Pad(str(number), x, y, Shape("C", 1_500, 1_500), 1_000, leave=leave, path=path))
    pads += [Pad("0", x, 0, Shape("C", 4_600, 4_600), 3_200) for x in (-12_500, 12_500)]
    return Footprint("15-pin socket, right angle", tuple(pads), 30_800, 12_500)


def inlet() -> Footprint:
    """USB-C inlet with sixteen contacts on twelve pads, and four shell pins; plug side up."""
    rows = {
        -3_200: ("A1", "B12"), -2_400: ("A4", "B9"), -1_750: ("B8",), -1_250: ("A5",), -750: ("B7",), -250: ("A6",),
        250: ("A7",), 750: ("B6",), 1_250: ("A8",), 1_750: ("B5",), 2_400: ("B4", "A9"), 3_200: ("B1", "A12"),
    }  # fmt: skip
    pads = []
    for x, names in rows.items():
        shape = Shape("R", 550 if len(names) == 2 else 300, 1_150)
        pads += [Pad(name, x, 0, shape, leave="D" if place == 0 else "") for place, name in enumerate(names)]
    for x in (-4_320, 4_320):
        pads.append(Pad("S1", x, 500, Shape("O", 1_000, 2_100), 600, 1_100, leave="H"))
        pads.append(Pad("S1", x, 4_680, Shape("O", 1_000, 1_800), 600, 800, leave="H"))
    return Footprint("USB-C inlet, 16 contacts", tuple(pads), 8_900, 7_300, 5_000)


def regulator() -> Footprint:
    """Three pads and a tab; the tab is on the net of pin 2."""
    feet = ((1, -2_300, "GND"), (2, 0, "OUT"), (3, 2_300, "IN"))
    shape = Shape("R", 1_200, 1_800)
    pads = tuple(Pad(str(n), x, -3_150, shape, leave="D", function=function) for n, x, function in feet)
    tab = Pad("4", 0, 3_150, Shape("R", 3_600, 1_800), path=((0, -3_150),), function="OUT")
    return Footprint("regulator, tab of three", (*pads, tab), 6_700, 3_700, 2_000)


def header(count: int, pitch_um: int = 2_540) -> Footprint:
    """Pins in one row."""
    pads = tuple(Pad(str(n + 1), n * pitch_um, 0, Shape("C", 1_700, 1_700), 1_000, leave="H") for n in range(count))
    return Footprint(f"pins, one row of {count}", pads, count * pitch_um, 2_500)


RESISTOR = two_pads("0603 resistor", 1_600, 800, 900)
CAPACITOR = two_pads("0603 capacitor", 1_600, 800, 900)
CAPACITOR_LARGE = two_pads("1206 capacitor", 3_000, 1_100, 1_700)
LAMP = two_pads("0805 lamp", 1_900, 1_000, 1_200, ("K", "A"))
TEST_PAD = Footprint("test pad", (Pad("1", 0, 0, Shape("C", 1_000, 1_000), leave="N"),), 1_000, 1_000)
FIDUCIAL = Footprint("fiducial", (Pad("1", 0, 0, Shape("C", 1_000, 1_000)),), 1_000, 1_000)
BRIDGE = two_rows("small outline, 8 pins", ("D+", "D-", "GND", "TXD", "RXD", "VIO", "VBUS", "RST"), 5_400)
BUFFER = two_rows(
    "small outline, 14 pins",
    ("OE1", "A1", "Y1", "OE2", "A2", "Y2", "GND", "Y3", "A3", "OE3", "Y4", "A4", "OE4", "VCC"),
    5_400,
)
