"""Netlists for electrical test, IPC-D-356A, in the dialects that programs are known to write.

`cut` keeps the last fourteen characters of a net in capitals, `noted` puts long names into comments, `listed` into
parameters, with numbers padded by blanks; `layers` is the number of the lowest layer.
"""

from __future__ import annotations

from demo_board.nouns import BOTTOM, NO_NET, Board, PlacedPad

DIALECTS = ("cut", "noted", "listed")


class Names:
    """Short names of nets in one dialect, with the lines that explain them."""

    def __init__(self, board: Board, dialect: str) -> None:
        self.dialect = dialect
        self.lines: list[str] = []
        self.short: dict[str, str] = {NO_NET: NO_NET}
        for net in sorted({pad.net for pad in board.pads} - {NO_NET}):
            self.short[net] = self.name(net)

    def name(self, net: str) -> str:
        """Fourteen characters that stand for a net."""
        if self.dialect == "cut":
            return net.upper().replace(" ", "?")[-14:]
        if len(net) <= 14 and " " not in net:
            return net
        count = len(self.lines)
        if self.dialect == "noted":
            self.lines.append(f"C  NNAMEm{count:04} {net}")
            return f"m{count:04}"
        self.lines.append(f"P  NNAME{count + 1} {net}")
        return f"NNAME{count + 1}"


def netlist(board: Board, dialect: str = "cut") -> str:
    """The whole file."""
    if dialect not in DIALECTS:
        raise ValueError(f"dialect {dialect!r}: it is one of {', '.join(DIALECTS)}")
    names, metric = Names(board, dialect), dialect == "noted"
    lines = list(HEADS[dialect])
    lines += names.lines
    for pad in board.pads:
        lines.append(record(board, names, pad, metric))
    for via in board.vias:
        text = f"317{names.short.get(via.net, via.net):<14}   {'VIA':<6}     "
        text += f"D{number(via.drill_um, 4, metric, dialect)}PA00{place(via.x_um, via.y_um, metric, dialect)}"
        lines.append(
            text + f"X{number(via.pad_um, 4, metric, dialect)}Y{number(0, 4, metric, dialect)}R{turn(0, dialect)} S3"
        )
    for hole in board.holes:
        text = f"367{NO_NET:<14}   {'':<6}     D{number(hole.drill_um, 4, metric, dialect)}UA00"
        text += place(hole.x_um, hole.y_um, metric, dialect)
        lines.append(
            text + f"X{number(hole.drill_um, 4, metric, dialect)}Y{number(0, 4, metric, dialect)}R{turn(0, dialect)} S0"
        )
    lines.append("999")
    if dialect == "noted":
        lines = [line.ljust(80) for line in lines]
    return "\n".join(lines) + "\n"


HEADS = {
    "cut": ("P  CODE 00", "P  UNITS CUST 0", "P  arrayDim   N"),
    "noted": (
        "C  Deep Station control room, an invented board", "C  nets with long names stand below, by number",
        "P  JOB   deep-station", "P  UNITS CUST 1",
    ),
    "listed": ("P  JOB   deep-station", "P  VER   IPC-D-356A", "P  IMAGE PRIMARY", "P  UNITS CUST 0"),
}  # fmt: skip


def record(board: Board, names: Names, pad: PlacedPad, metric: bool) -> str:
    """Record of one pad."""
    dialect = names.dialect
    text = "317" if pad.drill_um else "327"
    text += f"{names.short[pad.net]:<14}   {pad.ref[:6]:<6}-{pad.number[:4]:<4} "
    text += f"D{number(pad.drill_um, 4, metric, dialect)}{'P' if board.plated else 'U'}" if pad.drill_um else " " * 6
    low = pad.side == BOTTOM
    text += "A00" if pad.drill_um else f"A{2 + len(board.inner) if low else 1:02}"
    high = 0 if pad.shape.kind == "C" else pad.shape.h_um
    text += place(pad.x_um, pad.y_um, metric, dialect)
    text += f"X{number(pad.shape.w_um, 4, metric, dialect)}Y{number(high, 4, metric, dialect)}R{turn(0, dialect)} "
    if pad.drill_um:
        return text + "S0"
    return text + ("S1" if (dialect == "noted") != low else "S2")  # programs disagree on what the number means


def number(um: int, digits: int, metric: bool, dialect: str) -> str:
    """A length in the unit of the file: a thousandth of a millimetre, or a ten-thousandth of an inch."""
    value = um if metric else round(um / 2.54)
    value = min(value, 10**digits - 1)
    return f"{value:{digits}d}" if dialect == "listed" else f"{value:0{digits}d}"


def place(x_um: int, y_um: int, metric: bool, dialect: str) -> str:
    """Coordinates; one dialect leaves plus signs and zeros out."""
    text = ""
    for axis, um in (("X", x_um), ("Y", y_um)):
        value = um if metric else round(um / 2.54)
        text += f"{axis}{value:7d}" if dialect == "listed" else f"{axis}{'-' if value < 0 else '+'}{abs(value):06d}"
    return text


def turn(deg: int, dialect: str) -> str:
    """Three digits of an angle."""
    return f"{deg:3d}" if dialect == "listed" else f"{deg:03d}"
