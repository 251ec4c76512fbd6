"""Mistakes of sizes and single spots, planted by text edits of finished files before anybody looked at the checks."""

from __future__ import annotations

import re
from collections.abc import Callable

from demo_board import sets
from demo_board.nouns import Board
from demo_board.planting import Made, Mistake, Where, file_only


def edited(good: Board, role: str, *pairs: tuple[str, str]) -> Made:
    """One file of the good set with some text exchanged; each must stand there."""
    text = sets.written(good, role).decode()
    for old, new in pairs:
        if old not in text:
            raise ValueError(f"{role}: no {old!r}")
        text = text.replace(old, new)
    return Made({sets.name(good, role): text.encode()})


def both_masks(good: Board) -> Made:
    """Openings over the sockets' pins half as wide as their pads."""
    made: dict[str, bytes] = {}
    for role in ("top-mask", "bottom-mask"):
        made |= edited(good, role, ("ADD10C,1.600000", "ADD10C,0.800000")).files
    return Made(made)


def crossed_at_bridge(good: Board) -> Made:
    """Pins 4 and 5 of U2 renumbered in copper and netlist together: no two files disagree."""
    four, five, spare = "TO.P,U2,4", "TO.P,U2,5", "TO.P,U2,Q"
    made = dict(edited(good, "top-copper", (four, spare), (five, four), (spare, five)).files)
    made |= edited(
        good, "netlist", ("U2    -4 ", "U2    -Q "), ("U2    -5 ", "U2    -4 "), ("U2    -Q ", "U2    -5 ")
    ).files
    return Made(made)


def rewritten(good: Board, role: str, pattern: str, made: Callable[[re.Match[str]], str]) -> Made:
    """One file of the good set with every coordinate written otherwise."""
    text = sets.written(good, role).decode()
    return Made({sets.name(good, role): re.sub(pattern, made, text, flags=re.MULTILINE).encode()})


SCALED = (
    Mistake(
        "axes-exchanged",
        "the bottom copper has X and Y exchanged",
        "board.scale",
        ("bottom-copper",),
        lambda good: rewritten(good, "bottom-copper", r"^X(-?\d+)Y(-?\d+)D", lambda hit: f"X{hit[2]}Y{hit[1]}D"),
        file_only("bottom-copper"),
        ("board.open", "board.short", "board.outline"),
    ),
    Mistake(
        "netlist-in-micrometres",
        "the netlist counts in 0.0001 inch and says 0.001 mm",
        "board.scale",
        ("netlist",),
        lambda good: edited(good, "netlist", ("UNITS CUST 0", "UNITS CUST 1")),
        file_only("netlist"),
        ("board.open", "board.short"),
    ),
)
SIZES = (
    *SCALED,
    Mistake(
        "holes-narrow",
        "the drill of the sockets' pins is 0.6 mm in place of 1.0",
        "board.hole-size",
        ("plated",),
        lambda good: edited(good, "plated", ("T03C1.000", "T03C0.600")),
        (Where(role="plated"),),
    ),
    Mistake(
        "shell-holes-narrow",
        "the drill of the shells is 1.2 mm in place of 3.2",
        "board.hole-size",
        ("plated",),
        lambda good: edited(good, "plated", ("T04C3.200", "T04C1.200")),
        (Where(role="plated"),),
    ),
    Mistake(
        "via-hole-dropped",
        "the drill file lacks a via of ground",
        "board.pad-without-hole",
        ("plated",),
        lambda good: edited(good, "plated", ("X15.420Y28.000\n", "")),
        (Where(role="plated", net="GND", x_mm=15.42, y_mm=28.0),),
    ),
    Mistake(
        "via-pad-dropped",
        "the bottom copper lacks the pad of a via",
        "board.ring",
        ("bottom-copper",),
        lambda good: edited(good, "bottom-copper", ("X15420000Y28000000D03*\n", "")),
        (Where(role="bottom-copper", x_mm=15.42, y_mm=28.0),),
    ),
    Mistake(
        "mask-shut",
        "the top mask lacks the opening over R1-2",
        "board.mask-covers",
        ("top-mask",),
        lambda good: edited(good, "top-mask", ("X7400000Y17000000D03*\n", "")),
        (Where(role="top-mask", pin="R1-2", x_mm=7.4, y_mm=17.0),),
    ),
    Mistake(
        "mask-half-open",
        "both masks open the sockets' pins by half their width",
        "board.mask-opening",
        ("top-mask", "bottom-mask"),
        both_masks,
        (Where(pin="J1-1", x_mm=24.58, y_mm=11.48),),
    ),
    Mistake(
        "track-short-of-pad",
        "a track ends 0.3 mm before the pad of U3-1",
        "board.open",
        ("top-copper",),
        lambda good: edited(good, "top-copper", ("X57300000Y73810000D02", "X56000000Y73810000D02")),
        (Where(role="top-copper", pin="U3-1", net="GND", x_mm=56.35, y_mm=73.81, within_mm=0.1),),
    ),
    Mistake(
        "outline-gap",
        "the outline lacks its right side",
        "board.outline-open",
        ("outline",),
        lambda good: edited(good, "outline", ("X200000000Y0D02*\nX200000000Y90000000D01*\n", "")),
        (Where(role="outline", x_mm=200.0, y_mm=0.0),),
    ),
    Mistake(
        "listed-unfitted",
        "the parts table marks the pulls of the boot pins as not fitted, the centroid file places them",
        "board.part-unsure",
        ("bom",),
        lambda good: edited(good, "bom", ('R28",10k,0603 resistor,machine,', 'R28",10k,0603 resistor,machine,DNP')),
        (Where(pin="R23"), Where(pin="R28")),
    ),
    Mistake(
        "one-pull-wrong",
        "R29 is 51 kilohm in the parts table alone",
        "board.inlet-pulls",
        ("bom",),
        lambda good: edited(
            good,
            "bom",
            (
                '2,"R29,R30",5k1,0603 resistor,machine,',
                "1,R29,51k,0603 resistor,machine,\r\n1,R30,5k1,0603 resistor,machine,",
            ),
        ),
        (Where(pin="J7-A5"),),
        ("board.part-value",),
    ),
    Mistake(
        "bridge-renumbered",
        "pins 4 and 5 of U2 are numbered crosswise in copper and netlist together",
        "board.serial-crossed",
        ("top-copper", "netlist"),
        crossed_at_bridge,
        (Where(pin="U2-4"), Where(pin="U1-35")),
    ),
    Mistake(
        "bridge-supply-on-data",
        "U2's pins called D- and VBUS have each other's pad",
        "board.supply-pins",
        ("top-copper",),
        lambda good: edited(
            good, "top-copper", ("TO.P,U2,2,D-*", "TO.P,U2,2,VBUS*"), ("TO.P,U2,7,VBUS*", "TO.P,U2,7,D-*")
        ),
        (Where(pin="U2-2"), Where(pin="U2-7")),
    ),
    Mistake(
        "unplated-aside",
        "the holes without plating moved by 5 mm",
        "board.registration",
        ("unplated",),
        lambda good: edited(good, "unplated", ("X3.500", "X8.500"), ("X196.500", "X201.500")),
        file_only("unplated"),
        ("board.outline", "board.open", "board.short", "board.clearance"),
    ),
)
