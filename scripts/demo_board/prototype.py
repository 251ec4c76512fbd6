"""The prototype: one display, one copper side, every part with wires, so that a mill can make it in an evening.

Seen from the parts the module's pins run red, green, blue, h, v from left to right, and the socket wants them the other
way round. Each lane has a row of its own; its resistor hops over the rows above, and the rows nest, so that one layer
is enough and no wire bridge is needed. Against the final board: no sync buffer, one series part of 100 ohm for each
sync, one display, and no serial bridge, inlet or boot parts, since the module brings its own.
"""

from __future__ import annotations

import itertools

from demo_board import footprints as fp
from demo_board.nouns import BOTTOM, Board, Footprint, Hole, Pad, Part, Shape, Track, placed

MADE = "2031-01-06T19:00:00+01:00"
WIDE_UM, HIGH_UM = 60_000, 66_000
HEADER_UM, UPPER_UM, FIRST_ROW_UM, PITCH_UM = 38_000, 33_000, 26_000, 2_540
MIDDLE_UM, SOCKET_UM, BUS_UM = 42_000, 8_940, 3_600
LANES = (
    ("red", "GPIO32", "1"),
    ("green", "GPIO33", "2"),
    ("blue", "GPIO25", "3"),
    ("h", "GPIO26", "13"),
    ("v", "GPIO27", "14"),
)
TRACK_UM = 300

DOSSIER = """# The prototype of Deep Station: one display, milled on one side. Everything here is invented.

[dossier]
format = 1
title = "Deep Station, milled prototype"

[chip]
like = "wifi240"
drive = "20 mA; because the final board has it"
pin_high = "20 .. 40 ohm; measured 2031-01-09 Ilse, 3 pins"
pin_low = "15 .. 30 ohm; measured 2031-01-09 Ilse, 3 pins"
rail = "3.25 .. 3.35 V; measured 2031-01-09 Ilse, white picture"

[[displays]]
name = "hero-left"
group = "heroes"
like = "monitor, 15 inch"
colour_load = "75 ohm ± 2 %; measured 2031-01-10 Ilse"
cable = "thin, 2 m; said"
proved = ["640x480@60; measured 2031-01-10 Ilse"]

[board]
revision = "P"
files = "."
sync = { h = 26, v = 27 }
connectors = [{ name = "J1", plugs = "hero-left", red = 32, green = 33, blue = 25 }]

[board.parts]
U1 = { is = "chip", talks = "GPIO1", hears = "GPIO3" }

[levels]
colour = { style = "series", part = "240 ohm ± 1 %" }
sync = { style = "series", part = "100 ohm ± 5 %" }

[[rigs]]
name = "one"
firmware = "radio-off"
stream = "8 lanes"
raster = { parent = "640x480@60", divide = 2, repeat = 2, picture = "320x240" }
depth = { heroes = { red = 1, green = 1, blue = 1 } }
"""


def carrier() -> Footprint:
    """The module on its carrier: two rows of nineteen pins, numbered as the module's pads."""
    shape = Shape("C", 1_700, 1_700)
    near = [Pad(str(n), (n - 1) * PITCH_UM, 0, shape, 1_000, function=fp.FUNCTIONS[n]) for n in range(1, 20)]
    far = [
        Pad(str(n), (38 - n) * PITCH_UM, 9 * PITCH_UM, shape, 1_000, function=fp.FUNCTIONS[n]) for n in range(20, 39)
    ]
    return Footprint("module on a carrier, 2 rows of 19", (*near, *far), 48_000, 26_000)


def small_socket() -> Footprint:
    """The 15-pin socket with pads that leave a mill more room."""
    pads = tuple(
        Pad(p.number, p.x_um, p.y_um, Shape("C", 1_400, 1_400) if p.number != "0" else p.shape, p.drill_um, path=p.path)
        for p in fp.socket().pads
    )
    return Footprint("15-pin socket, right angle", pads, 30_800, 12_500)


def prototype() -> Board:
    """The one-sided board, seen from the parts; its copper lies below."""
    ring = {"1": "GND"} | {fp.PAD_OF[pin]: f"{lane}-chip" for lane, pin, _ in LANES}
    outs = dict.fromkeys(("0", "5", "6", "7", "8", "10"), "GND") | {pin: f"{lane}-out" for lane, _, pin in LANES}
    module = Part("U1", "wifi240", carrier(), ring, 6_000, HEADER_UM, fit="hand")
    socket = Part("J1", "15-pin socket", small_socket(), outs, MIDDLE_UM, SOCKET_UM, fit="hand")
    parts, tracks = [module, socket], []
    for number, (lane, pin, contact) in enumerate(LANES):
        x = 6_000 + (int(fp.PAD_OF[pin]) - 1) * PITCH_UM
        low = FIRST_ROW_UM - number * PITCH_UM
        shape = Shape("C", 1_700, 1_700)
        wires = (Pad("1", 0, UPPER_UM - low, shape, 800), Pad("2", 0, 0, shape, 800))
        value = "240" if number < 3 else "100"
        kind = Footprint(f"resistor with wires, {(UPPER_UM - low) / 1_000:.2f} mm", wires, 2_500, UPPER_UM - low)
        parts.append(Part(f"R{number + 1}", value, kind, {"1": f"{lane}-chip", "2": f"{lane}-out"}, x, low, fit="hand"))
        tracks += run(f"{lane}-chip", (x, HEADER_UM), (x, UPPER_UM))
        pad = next(pad for pad in socket.footprint.pads if pad.number == contact)
        way = [socket.at((pad.x_um, pad.y_um)), *(socket.at(point) for point in pad.path)]
        tracks += run(f"{lane}-out", (x, low), (way[-1][0], low), *reversed(way))
    tracks += ground(socket)
    corners = ((0, 0), (WIDE_UM, 0), (WIDE_UM, HIGH_UM), (0, HIGH_UM))
    holes = (
        Hole(2_500, 33_000, 2_000),
        Hole(WIDE_UM - 2_500, 33_000, 2_000),
    )  # pins that hold the board when it is turned
    pads = tuple(pad for part in parts for pad in placed(part))
    return Board(
        "prototype", "P", MADE, corners, tuple(parts), pads, tuple(tracks), (), (), holes, plated=False,
    )  # fmt: skip


def run(net: str, *points: tuple[int, int]) -> list[Track]:
    """Tracks along points on the copper side."""
    return [Track(BOTTOM, a, b, TRACK_UM, net) for a, b in itertools.pairwise(points) if a != b]


def ground(socket: Part) -> list[Track]:
    """Ground from the module round the edge to the socket: middle row and shell from outside, pin 5 from pin 10."""
    at = {pad.number: socket.at((pad.x_um, pad.y_um)) for pad in socket.footprint.pads}
    shells = [socket.at((pad.x_um, pad.y_um)) for pad in socket.footprint.pads if pad.number == "0"]
    right = max(x for x, _ in shells)
    made = run("GND", (6_000, HEADER_UM), (6_000, BUS_UM), (right, BUS_UM))
    for x, y in [at["6"], at["7"], at["8"], at["10"], *shells]:
        made += run("GND", (x, y), (x, BUS_UM))
    return made + run("GND", at["5"], at["10"])
