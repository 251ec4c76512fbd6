"""Parts and nets of the Deep Station board as the example dossier states them, revision B, each in its place."""

from __future__ import annotations

from dataclasses import replace

from demo_board import footprints as fp
from demo_board.nouns import BOTTOM, TOP, Footprint, Part

HEROES = {
    "J1": ("hero-left", {"red": 32, "green": 33, "blue": 25}),
    "J2": ("hero-right", {"red": 13, "green": 4, "blue": 18}),
}
RELAYS = {
    "J3": ("relay-1", {"green": 19}),
    "J4": ("relay-2", {"green": 21}),
    "J5": ("relay-3", {"green": 22}),
    "J6": ("relay-4", {"green": 23}),
}
CONNECTORS = HEROES | RELAYS
COLOUR_PIN = {"red": "1", "green": "2", "blue": "3"}
GROUND_PINS = ("0", "5", "6", "7", "8", "10")
H_PIN, V_PIN = "13", "14"
CELL_UM, FIRST_UM = 32_000, 20_000
WIDTH_UM = 200_000
SOUTH_UM, NORTH_UM, HIGH_UM = 26_000, 54_000, 90_000
"""Channel between the resistors and the chip's half; height of the board."""
LEFT_PLACES, RIGHT_PLACES = (-13_400, -10_200, -7_000), (7_000, 10_200)

Two = dict[str, str]


def lane(connector: str, colour: str, end: str) -> str:
    """Net of a colour on one side of its resistor, `chip` or `out`."""
    return f"{connector}-{colour}-{end}"


def sync_bus(axis: str, connector: str) -> str:
    """Net between a buffer output and the branches of its group."""
    return f"sync-{axis}-{'heroes' if connector in HEROES else 'relays'}-bus"


def parts() -> tuple[Part, ...]:
    """All parts of the good board."""
    return (*sockets(), *branches(), *chips(), *around(), *marks())


def sockets() -> list[Part]:
    """The six connectors, left to right, plug side towards you."""
    made = []
    for index, (name, (_, colours)) in enumerate(CONNECTORS.items()):
        nets = dict.fromkeys(GROUND_PINS, "GND")
        nets |= {COLOUR_PIN[colour]: lane(name, colour, "out") for colour in colours}
        nets |= {H_PIN: f"sync-h-{name}-out", V_PIN: f"sync-v-{name}-out"}
        x = FIRST_UM + index * CELL_UM
        made.append(Part(name, "15-pin socket", fp.socket(), nets, x, 8_940, fit="hand"))
    return made


def branches() -> list[Part]:
    """Series resistors of the colours, branch resistors of the syncs, and a test pad behind each."""
    colours = [(name, colour) for name, (_, wired) in CONNECTORS.items() for colour in wired]
    syncs = [(name, axis) for axis in "hv" for name in CONNECTORS]
    made, probe = [], 1
    for number, (name, colour) in enumerate(colours, 1):
        x = middle(name) + LEFT_PLACES[list(COLOUR_PIN).index(colour) if name in HEROES else 2]
        ends = {"1": lane(name, colour, "out"), "2": lane(name, colour, "chip")}
        made.append(Part(f"R{number}", "240", fp.RESISTOR, ends, x, 17_000))
        made.append(test_pad(probe, ends["1"], x - 800, 21_000))
        probe += 1
    for number, (name, axis) in enumerate(syncs, len(colours) + 1):
        x = middle(name) + RIGHT_PLACES["hv".index(axis)]
        ends = {"1": sync_bus(axis, name), "2": f"sync-{axis}-{name}-out"}
        made.append(Part(f"R{number}", "47", fp.RESISTOR, ends, x, 17_000, 180))
        made.append(test_pad(probe, ends["2"], x - 800, 21_000))
        probe += 1
    return made


def middle(connector: str) -> int:
    """Middle of a connector along the edge."""
    return FIRST_UM + list(CONNECTORS).index(connector) * CELL_UM


def test_pad(number: int, net: str, x_um: int, y_um: int, side: str = TOP) -> Part:
    """A place for a probe."""
    return Part(f"TP{number}", "test pad", fp.TEST_PAD, {"1": net}, x_um, y_um, fit="none", side=side)


def chips() -> list[Part]:
    """Module, serial bridge, sync buffer, regulator and inlet."""
    ring = {
        fp.PAD_OF[f"GPIO{pin}"]: lane(name, colour, "chip")
        for name, (_, wired) in CONNECTORS.items()
        for colour, pin in wired.items()
    }
    ring |= {fp.PAD_OF["GPIO26"]: "sync-h-chip", fp.PAD_OF["GPIO27"]: "sync-v-chip"}
    ring |= {fp.PAD_OF["GPIO1"]: "serial out of the chip", fp.PAD_OF["GPIO3"]: "serial out of the bridge"}
    ring |= {fp.PAD_OF[f"GPIO{pin}"]: f"boot-{pin}" for pin in (0, 2, 5, 12, 15)}
    ring |= {"1": "GND", "15": "GND", "38": "GND", "39": "GND", "2": "3V3", "3": "enable"}
    bridge = {
        "1": "data+", "2": "data-", "3": "GND", "4": "serial out of the bridge", "5": "serial out of the chip",
        "6": "3V3", "7": "5V", "8": "3V3",
    }  # fmt: skip
    buffer = {
        "1": "GND", "2": "sync-h-chip", "3": "sync-h-heroes-bus", "4": "GND", "5": "sync-h-chip", "6": "sync-h-relays-bus",
        "7": "GND", "8": "sync-v-heroes-bus", "9": "sync-v-chip", "10": "GND", "11": "sync-v-relays-bus",
        "12": "sync-v-chip", "13": "GND", "14": "3V3",
    }  # fmt: skip
    inlet = dict.fromkeys(("A1", "A12", "B1", "B12", "S1"), "GND") | dict.fromkeys(("A4", "A9", "B4", "B9"), "5V")
    inlet |= {"A5": "cc-1", "B5": "cc-2", "A6": "data+", "B6": "data+", "A7": "data-", "B7": "data-"}
    north = NORTH_UM
    return [
        Part("U1", "wifi240", fp.module(), ring, 101_600, north + 18_000),
        Part("U2", "serial bridge", fp.BRIDGE, bridge, 136_000, north + 30_000, 180),
        Part("U3", "LVC, four buffers", fp.BUFFER, buffer, 60_000, north + 16_000),
        Part("U4", "3.3 V regulator", fp.regulator(), {"1": "GND", "2": "3V3", "3": "5V", "4": "3V3"}, 194_500, north + 12_000),
        Part("J7", "USB-C inlet", fp.inlet(), inlet, 165_600, north + 29_500),
    ]  # fmt: skip


def around() -> list[Part]:
    """Boot straps, pulls of the inlet, decoupling, lamp, links and the test pads of supply and serial pair."""
    low, high = NORTH_UM + 4_000, NORTH_UM + 24_000

    def two(ref: str, value: str, kind: Footprint, ends: tuple[str, str], x: int, y: int = low, turn: int = 0) -> Part:
        return Part(ref, value, kind, {"1": ends[0], "2": ends[1]}, x, y, turn)

    r, c, large = fp.RESISTOR, fp.CAPACITOR, fp.CAPACITOR_LARGE
    return [
        two("R23", "10k", r, ("boot-0", "3V3"), 18_000),
        two("R24", "10k", r, ("boot-2", "GND"), 23_000),
        two("R25", "10k", r, ("boot-12", "GND"), 28_000),
        two("R26", "10k", r, ("boot-5", "3V3"), 33_000),
        two("R27", "10k", r, ("boot-15", "3V3"), 38_000, low, 180),
        two("R28", "10k", r, ("enable", "3V3"), 43_000, low, 180),
        two("R29", "5k1", r, ("cc-1", "GND"), 160_000),
        two("R30", "5k1", r, ("cc-2", "GND"), 170_000),
        two("R31", "1k", r, ("3V3", "lamp"), 12_500),
        two("D1", "green", fp.LAMP, ("GND", "lamp"), 7_500),
        two("R32", "1k", r, ("5V", "lamp-inlet"), 104_000),
        two("D2", "green", fp.LAMP, ("GND", "lamp-inlet"), 108_000),
        two("R33", "1k", r, ("3V3", "lamp-night"), 88_000),
        two("D3", "green", fp.LAMP, ("GND", "lamp-night"), 84_000, low, 180),
        two("C1", "10u", large, ("5V", "GND"), 178_000),
        two("C2", "10u", large, ("3V3", "GND"), 193_000),
        two("C3", "100n", c, ("3V3", "GND"), 77_000, low, 180),
        two("C4", "100n", c, ("3V3", "GND"), 73_000),
        two("C5", "100n", c, ("5V", "GND"), 148_000),
        two("C6", "1u", c, ("enable", "GND"), 48_000),
        Part("J8", "boot link", fp.header(2), {"1": "boot-0", "2": "GND"}, 32_500, high, fit="hand"),
        Part("J9", "reset link", fp.header(2), {"1": "enable", "2": "GND"}, 64_500, high, fit="hand"),
        test_pad(23, "GND", 122_000, low),
        test_pad(24, "3V3", 125_000, low),
        test_pad(25, "5V", 174_000, low),
        test_pad(26, "serial out of the chip", 128_000, low, BOTTOM),
        test_pad(27, "serial out of the bridge", 131_000, low, BOTTOM),
        test_pad(28, "sync-h-chip", 52_500, low, BOTTOM),
        test_pad(29, "sync-v-chip", 69_500, low, BOTTOM),
    ]


def marks() -> list[Part]:
    """Marks for the placing machine."""
    places = ((8_000, HIGH_UM - 6_000), (192_000, HIGH_UM - 6_000), (4_000, 22_000))
    return [Part(f"FID{n}", "mark", fp.FIDUCIAL, {}, x, y, fit="none") for n, (x, y) in enumerate(places, 1)]


def changed(made: tuple[Part, ...], ref: str, **fields: object) -> tuple[Part, ...]:
    """The parts with one of them altered."""
    return tuple(replace(part, **fields) if part.ref == ref else part for part in made)  # type: ignore[arg-type]


def renetted(made: tuple[Part, ...], ref: str, **nets: str) -> tuple[Part, ...]:
    """The parts with pins of one of them on other nets; write `_4` for pin 4, an empty name for none."""
    old = next(part for part in made if part.ref == ref).nets
    new = dict(old) | {pin.removeprefix("_"): net for pin, net in nets.items()}
    return changed(made, ref, nets={pin: net for pin, net in new.items() if net})
