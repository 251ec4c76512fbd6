"""Colour stages of every style drawn at random onto a small board, each part in one of the ways that boards have."""

from __future__ import annotations

from dataclasses import dataclass, field

from board_circuits import Board, lane
from hypothesis import strategies as st

WAYS = (
    "plain",
    "two in a row",
    "two side by side",
    "link before",
    "bead after",
    "closed link",
    "pack",
    "pack with a common pin",
)
VALUES = st.integers(47, 1500)
Element = tuple[str, str, float]


@dataclass
class Drawn:
    """A board and what was meant by it."""

    board: Board
    elements: list[Element] = field(default_factory=list)
    gates: list[tuple[str, str, float]] = field(default_factory=list)
    """Input net, output net, gain; 0 for a buffer."""


class Maker:
    """Puts parts on a board, numbering them as it goes."""

    def __init__(self, drawn: Drawn, draw: st.DrawFn) -> None:
        self.drawn, self.draw, self.count = drawn, draw, 0

    def name(self, kind: str) -> str:
        """The next designator of a kind."""
        self.count += 1
        return f"{kind}{self.count}"

    def two(self, a: str, b: str, ohm: float) -> None:
        """A plain resistor."""
        self.drawn.board.resistor(self.name("R"), a, b, f"{ohm} ohm 1%")
        self.drawn.elements.append((a, b, ohm))

    def part(self, a: str, b: str, ohm: float) -> None:
        """A resistance between two nets, in one of the ways that boards have."""
        board, between = self.drawn.board, self.name("n-")
        way = self.draw(st.sampled_from(WAYS))
        if way == "two in a row":
            self.two(a, between, ohm / 4)
            self.two(between, b, 3 * ohm / 4)
        elif way == "two side by side":
            self.two(a, b, 2 * ohm)
            self.two(b, a, 2 * ohm)
        elif way == "link before":
            self.two(a, between, 0.0)
            self.two(between, b, ohm)
        elif way in ("bead after", "closed link"):
            name = self.name("FB" if way == "bead after" else "JP")
            self.two(a, between, ohm)
            board.resistor(name, between, b, "600R at 100 MHz")
            self.drawn.elements.append((between, b, 0.0))
            if way == "closed link":
                board.stated += f'\n{name} = {{ is = "closed link" }}'
        elif way == "pack":
            name = self.name("RN")
            board.parts[name] = (
                {"1": "", "2": a, "3": b, "4": ""} if self.draw(st.booleans()) else {"1": a, "2": "", "3": "", "4": b}
            )
            board.values[name] = f"{ohm} ohm 1%"
            board.stated += f'\n{name} = {{ is = "resistors, separate" }}'
            self.drawn.elements.append((a, b, ohm))
        elif way == "pack with a common pin":
            name = self.name("RN")
            board.parts[name] = {"1": a, "2": "", "3": b, "4": "", "5": ""}
            board.values[name] = f"{ohm} ohm 1%"
            self.drawn.elements.append((a, b, ohm))
        else:
            self.two(a, b, ohm)

    def around(self, net: str) -> None:
        """What hangs on lanes and carries nothing: a test point, a clamp, a capacitor."""
        board = self.drawn.board
        if self.draw(st.booleans()):
            board.parts[self.name("TP")] = {"1": net}
        if self.draw(st.booleans()):
            board.parts[self.name("D")] = {"1": net, "2": "GND", "3": "3V3"}
        if self.draw(st.booleans()):
            board.parts[self.name("C")] = {"1": net, "2": "GND"}


@st.composite
def stages(
    draw: st.DrawFn,
    styles: tuple[str, ...] = ("direct", "series", "weighted", "ladder", "matched", "buffered", "amplified"),
) -> Drawn:
    """A stage of one of the styles on red, as its dossier states it."""
    style = draw(st.sampled_from(styles))
    bits = 1 if style in ("direct", "series") else draw(st.integers(2 if style == "weighted" else 1, 4))
    pins = tuple(draw(st.permutations((4, 5, 12, 13)))[:bits])
    sizes = [float(draw(VALUES)) for _ in range(2 if style == "ladder" else bits)]
    shunt = (
        float(draw(VALUES))
        if style in ("matched", "amplified") or (style == "buffered" and draw(st.booleans()))
        else None
    )
    colour = f'style = "{style}"'
    if style != "direct":
        colour += f', part = "{", ".join(f"{v:g}" for v in sizes)} ohm ± 1 %"'
    colour += f', shunt = "{shunt:g} ohm ± 1 %"' if shunt is not None else ""
    colour += ', buffer = "AHC"' if style == "buffered" else ""
    back = float(draw(st.integers(50, 100)))
    gain = draw(st.integers(1, 4))
    colour += f', amplifier = {{ gain = {gain}, back = "{back:g} ohm ± 1 %" }}' if style == "amplified" else ""
    drawn = Drawn(Board(colour, {"red": pins}))
    make = Maker(drawn, draw)
    meet = "sum" if style == "amplified" else "out-red"
    drives = {pin: lane(pin) for pin in pins}
    if style == "buffered":
        drives = _buffers(drawn, make, pins)
    if style == "direct":
        drawn.board.parts["U1"] = {str(pins[0]): "out-red", "98": "GND", "99": "3V3"}
    elif style == "ladder":
        _ladder(make, list(drives.values()), sizes)
    else:
        for net, ohm in zip(drives.values(), sizes, strict=True):
            make.part(net, meet, ohm)
            make.around(net)
    if shunt is not None:
        make.part(meet, "GND", shunt)
    if style == "amplified":
        drawn.board.parts["U6"] = {"3": "sum", "1": "strong", "2": "GND", "5": "3V3"}
        drawn.board.stated += '\nU6 = { is = "video amplifier", pins = { 3 = "IN", 1 = "OUT" } }'
        drawn.gates.append(("sum", "strong", float(gain)))
        make.part("strong", "out-red", back)
    make.around("out-red")
    return drawn


def _buffers(drawn: Drawn, make: Maker, pins: tuple[int, ...]) -> dict[int, str]:
    """One package whose pins have names, each input perhaps behind a part."""
    nets: dict[str, str] = {}
    names = []
    outs: dict[int, str] = {}
    for index, pin in enumerate(pins):
        into = lane(pin)
        if make.draw(st.booleans()):
            into = f"into-{pin}"
            make.two(lane(pin), into, 33.0)
        outs[pin] = f"drive-{pin}"
        nets |= {f"{2 * index + 1}": into, f"{2 * index + 2}": outs[pin]}
        names += [f'{2 * index + 1} = "{index + 1}A"', f'{2 * index + 2} = "{index + 1}Y"']
        drawn.gates.append((into, outs[pin], 0.0))
    drawn.board.parts["U5"] = nets
    drawn.board.stated += f'\nU5 = {{ is = "video buffer", pins = {{ {", ".join(names)} }} }}'
    return outs


def _ladder(make: Maker, nets: list[str], sizes: list[float]) -> None:
    """Legs, rungs and the part that ends them, from the connector on."""
    rung, leg = sizes
    tap = "out-red"
    for index, net in enumerate(nets):
        make.part(net, tap, leg)
        if index < len(nets) - 1:
            make.part(tap, f"tap-{index}", rung)
            tap = f"tap-{index}"
            make.around(tap)
    make.part(tap, "GND", leg)
