"""Mistakes of circuit and layout: every file agrees with every other, and all of them are wrong together."""

from __future__ import annotations

from dataclasses import replace

from demo_board import sets
from demo_board.circuit import changed, renetted
from demo_board.footprints import PAD_OF
from demo_board.nouns import Board, Part, Track
from demo_board.planting import ALL, ROUTED, Made, Mistake, Where, joined, relaid, without
from demo_board.truth import neighbours

PARTS_GONE = tuple(
    role for role in ALL if role not in ("outline", "unplated", "bottom-paste", "bottom-legend", "bottom-mask")
)
"""Files that change when a part is taken off the top."""


def crossed(good: Board, ref: str, one: str, other: str) -> tuple[Part, ...]:
    """Two pins of a part on each other's net."""
    nets = good.part(ref).nets
    return renetted(good.parts, ref, **{f"_{one}": nets[other], f"_{other}": nets[one]})


def no_part(good: Board, ref: str, keep: str, drop: str) -> tuple[Part, ...]:
    """A part taken off and its two nets joined."""
    return joined(without(good.parts, ref), drop, keep)


def cut_track(good: Board) -> Made:
    """The long track of red to J1 is gone on top."""
    net = "J1-red-chip"
    track = max(
        (one for one in good.tracks if one.net == net and one.layer == "top"), key=lambda one: one.end[0] - one.start[0]
    )
    rest = replace(good, tracks=tuple(one for one in good.tracks if one is not track))
    x, y = (track.start[0] + track.end[0]) / 2_000, track.start[1] / 1_000
    return Made(sets.files(rest, only=["top-copper"]), (Where("top-copper", "", net, x, y),))


def bridge(good: Board) -> Made:
    """A short stretch of copper between two neighbouring columns of the bottom."""
    one, other, start, end = neighbours(good, "J2-green-chip", "bottom")
    more = replace(good, tracks=(*good.tracks, Track("bottom", start, end, 250, one)))
    spot = ((start[0] + end[0]) / 2_000, (start[1] + end[1]) / 2_000)
    return Made(sets.files(more, only=["bottom-copper"]), (Where("bottom-copper", "", f"{one} {other}", *spot),))


def boot_taken(good: Board) -> tuple[Part, ...]:
    """J6's green lane on boot pin GPIO0, whose pull and link stay where they are."""
    parts = renetted(good.parts, "U1", **{f"_{PAD_OF['GPIO0']}": "J6-green-chip", f"_{PAD_OF['GPIO23']}": ""})
    return joined(parts, "boot-0", "J6-green-chip")


def one_pull(good: Board) -> tuple[Part, ...]:
    """One pull for both contacts of the inlet."""
    return renetted(without(good.parts, "R30"), "J7", _B5="cc-1")


LAYOUT = (
    Mistake("track-cut", "the row of red to J1 missing", "board.open", ("top-copper",), cut_track),
    Mistake("tracks-bridged", "two columns joined on the bottom", "board.short", ("bottom-copper",), bridge),
    Mistake(
        "no-series-part",
        "R8 left out and its nets joined: GPIO21 straight on J4 green",
        "board.no-series-part",
        PARTS_GONE,
        lambda good: relaid(good, no_part(good, "R8", "J4-green-chip", "J4-green-out"), PARTS_GONE),
        (Where(pin="J4-2"), Where(pin="U1-33")),
        ("board.lane-level",),
    ),
    Mistake(
        "no-branch-part",
        "R17 left out: a buffer output straight on J1 vertical sync",
        "board.no-series-part",
        PARTS_GONE,
        lambda good: relaid(good, no_part(good, "R17", "sync-v-heroes-bus", "sync-v-J1-out"), PARTS_GONE),
        (Where(pin="J1-14"),),
        (),
        ("board.sync-path", "board.lane-path"),
    ),
    Mistake(
        "lanes-crossed",
        "GPIO32 and GPIO25 exchanged: red and blue of J1",
        "board.lane-path",
        ROUTED,
        lambda good: relaid(good, crossed(good, "U1", PAD_OF["GPIO32"], PAD_OF["GPIO25"]), ROUTED),
        (Where(pin="J1-1"), Where(pin="J1-3")),
    ),
    Mistake(
        "displays-crossed",
        "greens of J4 and J5 exchanged at the chip",
        "board.lane-path",
        ROUTED,
        lambda good: relaid(good, crossed(good, "U1", PAD_OF["GPIO21"], PAD_OF["GPIO22"]), ROUTED),
        (Where(pin="J4-2"), Where(pin="J5-2")),
    ),
    Mistake(
        "serial-crossed",
        "the bridge's talker on the chip's talker",
        "board.serial-crossed",
        ROUTED,
        lambda good: relaid(good, crossed(good, "U2", "4", "5"), ROUTED),
        (Where(pin="U2-4"), Where(pin="U1-35")),
    ),
    Mistake(
        "socket-mirrored",
        "J5 numbered from the wrong side",
        "board.connector-side",
        (*ROUTED, "top-mask", "bottom-mask"),
        lambda good: relaid(good, changed(good.parts, "J5", swapped_sides=True), (*ROUTED, "top-mask", "bottom-mask")),
        (Where(pin="J5"),),
    ),
    Mistake(
        "syncs-exchanged",
        "horizontal and vertical sync exchanged at J6",
        "board.connector-function",
        ROUTED,
        lambda good: relaid(good, crossed(good, "J6", "13", "14"), ROUTED),
        (Where(pin="J6-13"), Where(pin="J6-14")),
        ("board.lane-path",),
    ),
    Mistake(
        "return-missing",
        "the return of green at J2 not joined to ground",
        "board.returns",
        ("top-copper", "bottom-copper", "netlist"),
        lambda good: relaid(good, renetted(good.parts, "J2", _7=""), ("top-copper", "bottom-copper", "netlist")),
        (Where(pin="J2-7"),),
        ("board.connector-function",),
    ),
    Mistake(
        "one-pull",
        "both contacts of the inlet on one pull",
        "board.inlet-pulls",
        PARTS_GONE,
        lambda good: relaid(good, one_pull(good), PARTS_GONE),
        (Where(pin="J7-A5"), Where(pin="J7-B5")),
    ),
    Mistake(
        "shell-floating",
        "the shell of the inlet on no net",
        "board.shell-floating",
        ROUTED,
        lambda good: relaid(good, renetted(good.parts, "J7", _S1=""), ROUTED),
        (Where(pin="J7-S1"),),
    ),
    Mistake(
        "boot-pulled-wrong",
        "GPIO12 pulled up in place of down",
        "board.boot-pin",
        ROUTED,
        lambda good: relaid(good, renetted(good.parts, "R25", _2="3V3"), ROUTED),
        (Where(pin="U1-14"), Where(pin="R25")),
    ),
    Mistake(
        "boot-pin-loaded",
        "J6 green on GPIO0: its display holds the boot pin low",
        "board.boot-pin",
        ROUTED,
        lambda good: relaid(good, boot_taken(good), ROUTED),
        (Where(pin="U1-25"), Where(pin="J6-2")),
        ("board.lane-path", "board.lane-level"),
    ),
    Mistake(
        "buffer-bypassed",
        "J3's horizontal branch on the chip's pin, not on the buffer",
        "board.lane-path",
        ROUTED,
        lambda good: relaid(good, renetted(good.parts, "R13", _1="sync-h-chip"), ROUTED),
        (Where(pin="R13"), Where(pin="J3-13")),
        (),
        ("board.sync-path", "board.connector-function"),
    ),
    Mistake(
        "data-crossed",
        "the data pair of the inlet exchanged on one row of contacts",
        "board.inlet-data",
        ROUTED,
        lambda good: relaid(good, crossed(good, "J7", "A6", "A7"), ROUTED),
        (Where(pin="J7-A6"), Where(pin="J7-A7")),
        (),
        ("board.inlet-pulls", "board.inlet"),
    ),
)
