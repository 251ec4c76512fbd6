"""IPC-D-356 in the habits of several exporters: names, units, padding, sides, records that most never write."""

from __future__ import annotations

from dataclasses import dataclass

from demo_board.nouns import BOTTOM, NO_NET, Board, PlacedPad

UM = {0: 2.54, 1: 1.0, 2: 2.54, None: 2.54}
"""Length of one unit of a file, by the number behind CUST."""


@dataclass(frozen=True, slots=True)
class Habit:
    """What one exporter does."""

    names: str = "last"  # last or first fourteen characters, `c` or `p` aliases
    case: str = "as drawn"  # or upper, lower
    unit: int | None = 0
    padding: str = "0"  # or a blank, then without plus signs
    lowest: int = 2  # number of the bottom layer
    mask: str = "other side"  # or same side, none
    refs: int = 6  # characters of a reference; more push the rest to the right
    pins: int = 0  # digits of a pin's number, 0 as it is
    via_ref: str = "VIA"
    columns: int = 0  # records padded, or cut where shorter
    ends: str = "\n"
    encoding: str = "utf-8"
    head: tuple[str, ...] = ()
    extra: bool = False  # conductor, adjacency, outline and continuation records
    open_pins: str = "N/C"  # or unconnected, for a net of its own
    middles: bool = False  # M at parts that are not the end of a net
    probe_ref: bool = True  # whether a test pad's record names it


def netlist(board: Board, habit: Habit) -> bytes:
    """The whole file."""
    names, lines = short_names(board, habit)
    lines = [*habit.head, *([] if habit.unit is None else [f"P  UNITS CUST {habit.unit}"]), *lines]
    seen: dict[str, int] = {}
    for pad in board.pads:
        net = names[open_net(pad, habit)]
        seen[net] = seen.get(net, 0) + 1
        lines.append(record(pad, net, habit, habit.middles and seen[net] > 1))
        if habit.extra and pad.drill_um and seen[net] == 1:
            lines.append(f"017{net:<14}   {'':<6}      {'':6}A{habit.lowest:02}{spot(pad.x_um, pad.y_um, habit)}")
    for via in board.vias:
        hole = f"D{digits(via.drill_um, 4, habit)}PA00{spot(via.x_um, via.y_um, habit)}"
        size = f"X{digits(via.pad_um, 4, habit)}Y{digits(0, 4, habit)}R{turn(habit)} S3"
        lines.append(f"317{names.get(via.net, via.net):<14}   {habit.via_ref:<6}      {hole}{size}")
    for hole_ in board.holes:
        text = f"D{digits(hole_.drill_um, 4, habit)}UA00{spot(hole_.x_um, hole_.y_um, habit)}"
        text += f"X{digits(hole_.drill_um, 4, habit)}Y{digits(0, 4, habit)}R{turn(habit)} S0"
        lines.append(f"367{NO_NET:<14}   {'':<6}      {text}")
    if habit.extra:
        some = sorted(set(names.values()) - {NO_NET})[:2]
        lines += [f"378{some[0]:<14} L01 X0060Y0000 X+001000Y+001000 X+002000Y+001000", "078 X+002000Y+003000 X+002500"]
        lines += [
            f"379{some[0]:<14} {some[-1]}",
            "389BOARD_EDGE     X+000000Y+000000 X+030000 Y+020000",
            "089 X+000000",
        ]
    lines.append("999")
    if habit.columns:
        lines = [line[: habit.columns].ljust(habit.columns) for line in lines]
    return (habit.ends.join(lines) + habit.ends).encode(habit.encoding)


def open_net(pad: PlacedPad, habit: Habit) -> str:
    """Net of a pad, one of its own where it has none and the exporter makes one."""
    if pad.net == NO_NET and habit.open_pins == "unconnected":
        return f"unconnected-({pad.ref}-Pad{pad.number})"
    return pad.net


def short_names(board: Board, habit: Habit) -> tuple[dict[str, str], list[str]]:
    """What each net is called in fourteen characters, and the lines that say what that stands for."""
    change = {"upper": str.upper, "lower": str.lower}.get(habit.case, str)
    names, lines = {NO_NET: NO_NET}, []
    for net in sorted({open_net(pad, habit) for pad in board.pads} - {NO_NET}):
        text = change(net)
        if habit.names == "last":
            names[net] = text.replace(" ", "?")[-14:]
        elif habit.names == "first":
            names[net] = text.replace(" ", "_")[:14]
        elif len(text) <= 14 and " " not in text:
            names[net] = text
        elif habit.names == "c":
            names[net] = f"m{len(lines):04}"
            lines.append(f"C  NNAME{names[net]} {text}")
        else:
            names[net] = f"NNAME{len(lines) + 1}"
            lines.append(f"P  {names[net]} {text}")
    return names, lines


def record(pad: PlacedPad, net: str, habit: Habit, middle: bool) -> str:
    """Record of one pad."""
    pin = pad.number.zfill(habit.pins) if pad.number.isdigit() else pad.number
    ref, joint = pad.ref[: habit.refs], f"-{pin[:4]:<4}" if pin else " " * 5
    if ref.startswith("TP") and not habit.probe_ref:
        ref, joint = "", " " * 5
    text = f"{'317' if pad.drill_um else '327'}{net:<14}   {ref:<6}{joint}{'M' if middle else ' '}"
    text += f"D{digits(pad.drill_um, 4, habit)}P" if pad.drill_um else " " * 6
    low = pad.side == BOTTOM
    text += "A00" if pad.drill_um else f"A{habit.lowest if low else 1:02}"
    high = 0 if pad.shape.kind == "C" else pad.shape.h_um
    text += (
        f"{spot(pad.x_um, pad.y_um, habit)}X{digits(pad.shape.w_um, 4, habit)}Y{digits(high, 4, habit)}R{turn(habit)}"
    )
    if habit.mask == "none":
        return text
    if pad.drill_um:
        return f"{text} S0"
    return f"{text} S{1 if low == (habit.mask == 'other side') else 2}"


def digits(um: int, count: int, habit: Habit) -> str:
    """A length in the unit of the file."""
    value = min(round(um / UM[habit.unit]), 10**count - 1)
    return f"{value:{habit.padding if habit.padding == '0' else ''}{count}d}"


def spot(x_um: int, y_um: int, habit: Habit) -> str:
    """Coordinates."""
    text = ""
    for axis, um in (("X", x_um), ("Y", y_um)):
        value = round(um / UM[habit.unit])
        text += f"{axis}{value:7d}" if habit.padding == " " else f"{axis}{'-' if value < 0 else '+'}{abs(value):06d}"
    return text


def turn(habit: Habit) -> str:
    """No turn, in three digits."""
    return "000" if habit.padding == "0" else "  0"
