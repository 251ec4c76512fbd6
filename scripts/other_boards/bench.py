"""A bench to draw circuits on: parts by pins and nets, put down in rows, and written out as a set of files."""

# ruff: noqa: E501  the circuits read like tables

from __future__ import annotations

from dataclasses import dataclass, field, replace

from demo_board import drills, gerber
from demo_board import footprints as fp
from demo_board.nouns import TOP, Board, Footprint, Hole, Pad, Part, Shape, Stroke, Via, placed
from other_boards import lists, netlists

WIDE_UM = 120_000
Pins = dict[str, str]


@dataclass(slots=True)
class Circuit:
    """Parts as they are drawn, and how their files are written."""

    name: str
    netlist: netlists.Habit = field(default_factory=netlists.Habit)
    tables: lists.Habit = field(default_factory=lists.Habit)
    parts: list[Part] = field(default_factory=list)
    vias: list[str] = field(default_factory=list)  # nets that also have a via
    inked: dict[str, str] = field(default_factory=dict)  # side on which the outline of a part is drawn
    dossier: str = ""
    told: dict[str, dict[str, object]] = field(default_factory=dict)  # what the tables say otherwise of a part
    copper: bool = False  # whether the pads are written as copper, too, with names and nets

    def add(self, ref: str, value: str, footprint: Footprint, nets: Pins, **how: object) -> None:
        """Put a part down behind the last one; `at` puts it elsewhere."""
        place = how.pop("at", None)
        self.parts.append(Part(ref, value, footprint, nets, *(place or (-1, -1)), **how))  # type: ignore[misc, arg-type]

    def two(self, ref: str, value: str, one: str, other: str, **how: object) -> None:
        """A part with two ends."""
        self.add(ref, value, fp.RESISTOR if ref[0] in "RLF" else fp.CAPACITOR, {"1": one, "2": other}, **how)

    def change(self, ref: str, /, **fields: object) -> None:
        """Alter a part; `nets` are merged, an empty net takes a pin off."""
        for index, part in enumerate(self.parts):
            if part.ref == ref:
                nets = {**part.nets, **fields.pop("nets", {})}  # type: ignore[dict-item]
                nets = {pin: net for pin, net in nets.items() if net}
                self.parts[index] = replace(part, nets=nets, **fields)  # type: ignore[arg-type]
                return
        raise KeyError(ref)

    def drop(self, ref: str) -> None:
        """Take a part off the board."""
        self.parts = [part for part in self.parts if part.ref != ref]

    def join(self, old: str, new: str) -> None:
        """Make one net of two."""
        for index, part in enumerate(self.parts):
            nets = {pin: new if net == old else net for pin, net in part.nets.items()}
            self.parts[index] = replace(part, nets=nets)

    def board(self) -> Board:
        """The board with all parts in their places."""
        x, y, made, high = 6_000, 26_000, [], 26_000
        fixed = [part.y_um for part in self.parts if part.y_um >= 0]
        for part in self.parts:
            if (part.x_um, part.y_um) == (-1, -1):
                pads = part.footprint.pads
                left, right = min(p.x_um for p in pads), max(p.x_um for p in pads)
                low, up = min(p.y_um for p in pads), max(p.y_um for p in pads)
                reach = max(right, -left, up, -low, 1_000) + 1_500
                if x + 2 * reach > WIDE_UM:
                    x, y = 6_000, high + 1_000
                part = replace(part, x_um=x + reach, y_um=y + reach)
                x, high = x + 2 * reach, max(high, y + 2 * reach)
            made.append(part)
        high = max([high, *fixed]) + 9_000
        pads = tuple(pad for part in made for pad in placed(part))
        vias = tuple(Via(4_000 + 2_000 * n, high - 4_000, net) for n, net in enumerate(self.vias))
        return Board(
            self.name, "1", "2031-02-03T10:00:00+01:00", ((0, 0), (WIDE_UM, 0), (WIDE_UM, high), (0, high)),
            tuple(made), pads, (), vias, strokes=self.strokes(made), holes=(Hole(3_000, high - 3_000, 3_200), Hole(WIDE_UM - 3_000, high - 3_000, 3_200)),
        )  # fmt: skip

    def strokes(self, parts: list[Part]) -> tuple[Stroke, ...]:
        """Outlines of the parts that have one."""
        drawn = []
        for part in parts:
            if part.ref in self.inked:
                half = part.footprint.body_w_um // 2, part.footprint.body_h_um // 2
                corners = [part.at((x * half[0], y * half[1])) for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
                ends = zip(corners, [*corners[1:], corners[0]], strict=True)
                drawn += [Stroke(self.inked[part.ref], one, other) for one, other in ends]
        return tuple(drawn)

    def files(self) -> dict[str, bytes]:
        """The set as it would be sent."""
        board = self.board()
        parts = (replace(part, **self.told.get(part.ref, {})) for part in board.parts)  # type: ignore[arg-type]
        listed = replace(board, parts=tuple(parts))
        made = {
            f"{self.name}.ipc": netlists.netlist(board, self.netlist),
            f"{self.name}-bom.csv": lists.bill(listed, self.tables),
            f"{self.name}-pos.csv": lists.places(listed, self.tables),
            f"{self.name}-outline.gbr": gerber.outline(board, gerber.Style()).encode(),
            f"{self.name}-plated.drl": drills.drill_file(
                board, drills.plated_hits(board), plated=True, dialect="xnc"
            ).encode(),
        }
        for side in dict.fromkeys(self.inked.values()):
            made[f"{self.name}-{side}-legend.gbr"] = gerber.legend(board, side, gerber.Style()).encode()
        if self.copper:
            for side in (TOP, "bottom"):
                made[f"{self.name}-{side}-copper.gbr"] = gerber.copper(board, side, gerber.Style()).encode()
        return made


def pins(*names: str, start: int = 1) -> Pins:
    """Nets of pins 1, 2, 3 and on; an empty name leaves one out."""
    return {str(number): name for number, name in enumerate(names, start) if name}


def chip(count: int, functions: tuple[str, ...] = (), apart_um: int = 5_400, pitch_um: int = 1_270) -> Footprint:
    """A small outline."""
    names = functions or ("",) * count
    return replace(fp.two_rows(f"SOIC-{count}", names, apart_um, pitch_um), name=f"SOIC-{count}")


def quad(count: int, functions: tuple[str, ...] = (), ground: str = "", pitch_um: int = 500) -> Footprint:
    """A square outline with pins on four sides, counter-clockwise from the upper left, and one pad below."""
    names, side, pads = functions or ("",) * count, count // 4, []
    reach, first = side * pitch_um // 2 + 1_000, (side - 1) * pitch_um // 2
    for number in range(count):
        edge, step = divmod(number, side)
        along = first - step * pitch_um
        x, y = ((-reach, along), (-along, -reach), (reach, -along), (along, reach))[edge]
        shape = Shape("R", 800, 280) if edge % 2 == 0 else Shape("R", 280, 800)
        pads.append(Pad(str(number + 1), x, y, shape, function=names[number]))
    if ground:
        pads.append(Pad(ground, 0, 0, Shape("R", 2 * reach - 2_400, 2 * reach - 2_400), function="GND"))
    return Footprint(f"QFN-{count}", tuple(pads), 2 * reach, 2 * reach)


def row(count: int, pitch_um: int = 2_540, surface: bool = False, rows: int = 1) -> Footprint:
    """Pins in one or two rows, in holes or on the surface."""
    drill, shape = (0, Shape("R", pitch_um // 2, 2_000)) if surface else (1_000, Shape("C", 1_700, 1_700))
    pads = tuple(Pad(str(n + 1), n // rows * pitch_um, n % rows * -pitch_um, shape, drill) for n in range(count))
    return Footprint(f"pins {rows}x{count // rows}", pads, count // rows * pitch_um, 2_500)


def dense15(
    *, male: bool = False, shell: tuple[str, ...] = ("0", "0"), pitch_um: int = 2_290, row_um: int = 2_540
) -> Footprint:
    """High-density 15-pin connector, plug side down, as a socket on top or as a plug."""
    pads = []
    for number in range(1, 16):
        line, place = divmod(number - 1, 5)
        x = 2 * pitch_um - place * pitch_um - (pitch_um // 2 if line == 1 else 0)
        pads.append(Pad(str(number), -x if male else x, row_um * (1 - line), Shape("C", 1_600, 1_600), 1_000))
    ears = (-12_500, 12_500)
    pads += [Pad(name, x, 0, Shape("C", 4_600, 4_600), 3_200) for name, x in zip(shell, ears, strict=False)]
    return Footprint("HD15 angled", tuple(pads), 30_800, 12_500)


def two_row_d(count: int) -> Footprint:
    """Two-row connector with 9 or 15 pins of the usual pitch."""
    far, pads = (count + 1) // 2, []
    for number in range(count):
        line, place = divmod(number, far)
        x = (far - 1) * 1_385 - place * 2_770 - line * 1_385
        pads.append(Pad(str(number + 1), x, 1_420 - 2_840 * line, Shape("C", 1_600, 1_600), 1_000))
    pads += [Pad("0", x, 0, Shape("C", 4_600, 4_600), 3_200) for x in (-far * 2_200, far * 2_200)]
    return Footprint(f"D{count} angled", tuple(pads), 30_000, 12_000)


def usb_c(kind: str = "16", shell: tuple[str, ...] = ("S1", "S1", "S1", "S1")) -> Footprint:
    """USB-C socket: 16 contacts apart, 12 pads with joined names, all 24, or 6 for power alone."""
    wide = {
        "16": ("A1", "B12", "A4", "B9", "B8", "A5", "B7", "A6", "A7", "B6", "A8", "B5", "B4", "A9", "B1", "A12"),
        "12": ("A1B12", "A4B9", "B8", "A5", "B7", "A6", "A7", "B6", "A8", "B5", "B4A9", "B1A12"),
        "6": ("B12", "B9", "A5", "B5", "A9", "A12"),
    }
    rows = [wide.get(kind, tuple(f"A{n}" for n in range(1, 13)))]
    if kind == "24":
        rows.append(tuple(f"B{n}" for n in range(12, 0, -1)))
    pads = [
        Pad(name, x * 500 - 250 * len(line), 1_000 - 2_000 * y, Shape("R", 300, 1_100))
        for y, line in enumerate(rows)
        for x, name in enumerate(line)
    ]
    places = ((-4_320, -1_500), (4_320, -1_500), (-4_320, -5_500), (4_320, -5_500))
    pads += [Pad(name, x, y, Shape("O", 1_000, 1_800), 600, 800) for name, (x, y) in zip(shell, places, strict=False)]
    return Footprint(f"USB-C {kind}", tuple(pads), 8_900, 7_300)


def usb_c_nets(kind: str = "16", *, gnd: str = "GND", vbus: str = "VBUS", cc: tuple[str, str] = ("CC1", "CC2"), data: tuple[str, str] = ("D+", "D-"), shell: str = "GND") -> Pins:  # fmt: skip
    """Nets of such a socket, by contact."""
    one = {"A5": cc[0], "B5": cc[1], "A6": data[0], "B6": data[0], "A7": data[1], "B7": data[1]}
    one |= dict.fromkeys(("A1", "A12", "B1", "B12"), gnd) | dict.fromkeys(("A4", "A9", "B4", "B9"), vbus)
    one |= {
        "A1B12": gnd,
        "B1A12": gnd,
        "A4B9": vbus,
        "B4A9": vbus,
        "S1": shell,
        "SH": shell,
        "MH1": shell,
        "MH2": shell,
    }
    names = {pad.number for pad in usb_c(kind).pads} | {"SH", "MH1", "MH2", "S1"}
    return {pin: net for pin, net in one.items() if net and pin in names}


def micro_b(shell: str = "6") -> Footprint:
    """Five contacts and a shell."""
    pads = [Pad(str(n + 1), n * 650 - 1_300, 1_300, Shape("R", 400, 1_350)) for n in range(5)]
    pads += [Pad(shell, x, -1_000, Shape("O", 1_200, 1_900), 700, 600) for x in (-3_500, 3_500)]
    return Footprint("USB micro-B", tuple(pads), 7_500, 5_000)


def sot(count: int, functions: tuple[str, ...] = ()) -> Footprint:
    """Three, five or six small pins."""
    names = functions or ("",) * count
    left = (count + 1) // 2
    spots = [(-1_100, 950 - 950 * n) for n in range(left)] if count > 3 else [(-1_100, 950), (-1_100, -950)]
    rest = count - len(spots)
    spots += [(1_100, -950 + n * 1_900 // max(rest - 1, 1)) for n in range(rest)] if count > 3 else [(1_100, 0)]
    pads = tuple(Pad(str(n + 1), x, y, Shape("R", 1_000, 600), function=names[n]) for n, (x, y) in enumerate(spots))
    return Footprint(f"SOT-{count}", pads, 2_900, 1_600)
