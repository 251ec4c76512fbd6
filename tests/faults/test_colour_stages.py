"""Mistakes in every style of colour stage, each beside its clean twin."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from board_circuits import Board, files_of, judged, lane


def weighted() -> Board:
    """Two bits through parts of their own."""
    board = Board('style = "weighted", part = "360, 750 ohm ± 1 %"', {"red": (4, 5)})
    board.resistor("R1", lane(4), "out-red", "360")
    board.resistor("R2", lane(5), "out-red", "750")
    return board


def ladder() -> Board:
    """Three bits on a ladder, its 2R parts made of two R for the middle bit."""
    board = Board('style = "ladder", part = "220, 440 ohm ± 1 %"', {"red": (4, 5, 12)})
    board.resistor("R1", lane(4), "out-red", "440")
    board.resistor("R2", lane(5), "half", "220")
    board.resistor("R3", "half", "tap-1", "220")
    board.resistor("R4", lane(12), "tap-2", "440")
    board.resistor("R5", "out-red", "tap-1", "220")
    board.resistor("R6", "tap-1", "tap-2", "220")
    board.resistor("R7", "tap-2", "GND", "440")
    return board


def matched() -> Board:
    """One bit through a part and a shunt that together show the cable 75 ohm."""
    board = Board('style = "matched", part = "150 ohm ± 1 %", shunt = "150 ohm ± 1 %"')
    board.resistor("R1", lane(4), "out-red", "150")
    board.resistor("R2", "out-red", "GND", "150")
    return board


def buffered() -> Board:
    """Two colours through a buffer of four."""
    board = Board(
        'style = "buffered", part = "249 ohm ± 1 %", buffer = "LVC"', {"red": (4,), "green": (5,)},
        stated='U5 = { is = "video buffer" }',
    )  # fmt: skip
    board.parts["U5"] = {
        "1": "GND", "2": lane(4), "3": "drive-red", "4": "GND", "5": lane(5), "6": "drive-green", "7": "GND", "8": "", "9": "GND",
        "10": "GND", "11": "", "12": "GND", "13": "GND", "14": "3V3",
    }  # fmt: skip
    board.values["U5"] = "74LVC125"
    board.resistor("R1", "drive-red", "out-red", "249")
    board.resistor("R2", "drive-green", "out-green", "249")
    return board


def amplified() -> Board:
    """Two bits into an amplifier of gain two, its pins named in the dossier."""
    board = Board(
        'style = "amplified", part = "330, 680 ohm ± 1 %", shunt = "68 ohm ± 1 %", amplifier = { gain = 2, back = "75 ohm ± 1 %" }',
        {"red": (4, 5)}, stated='U6 = { is = "video amplifier", pins = { 1 = "IN1", 8 = "OUT1" } }',
    )  # fmt: skip
    board.parts["U6"] = {"1": "sum", "2": "GND", "5": "3V3", "8": "strong"}
    board.values["U6"] = "three amplifiers"
    board.resistor("R1", lane(4), "sum", "330")
    board.resistor("R2", lane(5), "sum", "680")
    board.resistor("R3", "sum", "GND", "68")
    board.resistor("R4", "strong", "out-red", "75")
    return board


def packed() -> Board:
    """Three colours through one pack of four separate resistors."""
    board = Board('style = "series", part = "240 ohm ± 1 %"', {"red": (4,), "green": (5,), "blue": (12,)})
    board.parts["RN1"] = {
        "1": lane(4), "2": lane(5), "3": lane(12), "4": "", "5": "", "6": "out-blue", "7": "out-green", "8": "out-red",
    }  # fmt: skip
    board.values["RN1"] = "240R"
    return board


def unstyled() -> Board:
    """A stage of which the dossier says nothing but its parts."""
    board = weighted()
    board.colour = 'part = "360, 750 ohm ± 1 %"'
    return board


def undecided(board: Board) -> Board:
    """The same board, whose dossier decided plain parts."""
    board.colour = 'style = "series", part = "249 ohm ± 1 %"'
    return board


def direct() -> Board:
    """A bare pin, as decided."""
    board = Board('style = "direct"')
    board.parts["U1"] = {"4": "out-red", "98": "GND", "99": "3V3"}
    return board


def synced() -> Board:
    """Both syncs through one gate each and a pack."""
    board = Board(
        'style = "series", part = "240 ohm ± 1 %"', sync="sync = { h = 26, v = 27 }",
        stated='U3 = { is = "sync buffer" }', levels='sync = { style = "buffered", buffer = "LVC", outputs = "one", branch = "47 ohm ± 5 %" }',
    )  # fmt: skip
    board.resistor("R1", lane(4), "out-red", "240")
    board.parts["U3"] = {
        "1": "GND", "2": "into-h", "3": "bus-h", "4": "GND", "5": lane(27), "6": "bus-v", "7": "GND", "14": "3V3", "10": "GND", "13": "GND",
    }  # fmt: skip
    board.values["U3"] = "74AHC125"
    board.resistor("FB1", lane(26), "into-h", "600R at 100 MHz")
    board.parts["RN2"] = {"1": "bus-h", "2": "bus-v", "3": "out-v", "4": "out-h"}
    board.values["RN2"] = "47"
    return board


def unbuffered(board: Board) -> Board:
    """The same board, whose dossier decided a plain part for the syncs."""
    board.levels = 'sync = { style = "series", part = "47 ohm ± 5 %" }'
    return board


CLEAN = (weighted, ladder, matched, buffered, amplified, packed, synced)


@pytest.mark.parametrize("make", CLEAN, ids=lambda one: one.__name__)
def test_clean_stage_has_nothing_against_it(make: Callable[[], Board]) -> None:
    found = judged(make())
    assert found.against() == [], [v.says for v in found.verdicts if v.judged != "holds"]
    assert all(one.network is not None and not one.unsure and not one.straight for one in found.channels)
    assert [one.fed_by for one in found.channels] == list(make().wired.values())


FAULTS: dict[str, tuple[Board, str, str]] = {
    "legs exchanged": (weighted().valued(R1="750", R2="360"), "board.lane-path", "exchanged"),
    "leg missing": (weighted().without("R2"), "board.lane-path", "Pin 5 of U1 does not arrive"),
    "leg wrong": (weighted().valued(R2="820"), "board.part-value", "R2 is not the part"),
    "leg by ten": (weighted().valued(R1="36"), "board.lane-level", "outside the window"),
    "leg to supply": (weighted().changed("R2", _1="3V3"), "board.lane-path", "Pin 5 of U1 does not arrive"),
    "rung missing": (ladder().without("R6"), "board.lane-path", "Pin 12 of U1 does not arrive"),
    "rung wrong": (ladder().valued(R6="240"), "board.part-value", "R6 is not the part"),
    "tap pins exchanged": (ladder().changed("R1", _1=lane(12)).changed("R4", _1=lane(4)), "board.lane-path", "exchanged"),
    "ladder without its end": (ladder().without("R7"), "board.colour-parts", "no part to ground ends"),
    "rung bridged": (ladder().changed("R6", _2="out-red"), "board.lane-path", "does not arrive"),
    "shunt missing": (matched().without("R2"), "board.colour-parts", "part to ground before J1-1 is missing"),
    "shunt not fitted": (matched().valued(R2="not fitted"), "board.colour-parts", "part to ground before J1-1 is missing"),
    "shunt wrong": (matched().valued(R2="160"), "board.part-value", "R2 is not the part"),
    "shunt on the chip's side": (matched().changed("R2", _1=lane(4)), "board.colour-parts", "R2 leads to ground on the chip's side"),
    "part behind the shunt": (
        matched().changed("R1", _2="sum").changed("R2", _1="sum").joined("R3", "sum", "out-red", "22"), "board.colour-parts",
        "R3 stands between the connector and where",
    ),
    "shunt not decided": (weighted().joined("R3", "out-red", "GND", "2k2"), "board.colour-parts", "R3 leads from J1-1 to ground"),
    "lanes joined": (weighted().joined("R3", lane(4), lane(5), "100"), "board.colour-parts", "R3 joins two lanes"),
    "pull to supply": (weighted().joined("R3", "out-red", "3V3", "1k"), "board.colour-parts", "R3 leads to 3V3"),
    "another lane, too": (weighted().joined("R3", lane(21), "out-red", "1k"), "board.lane-path", "fed by pin 21 of U1, too"),
    "two colours on one net": (packed().changed("J1", _3="out-green").changed("RN1", _6="out-green"), "board.lane-path", "too"),
    "ladder where legs were decided": (weighted().joined("R3", "half", "GND", "470").changed("R2", _2="half").joined("R4", "half", "out-red", "240"), "board.colour-parts", "a ladder"),
    "legs where a ladder was decided": (ladder().changed("R5", _2="tap-2").without("R6", "R7", "R3", "R2").joined("R2", lane(5), "out-red", "440").changed("R4", _2="out-red"), "board.colour-parts", "no part to ground ends it"),
    "buffer not decided": (undecided(buffered()), "board.colour-parts", "has no buffer"),
    "bare pin": (direct(), "board.lane-level", "from the bare pin lies outside"),
    "buffer crossed": (
        buffered().changed("U5", _3="drive-green", _6="drive-red"), "board.lane-path", "Pin 4 of U1 arrives at J1-2 instead",
    ),
    "past the buffer": (buffered().changed("R1", _1=lane(4)), "board.lane-path", "past the buffer"),
    "part before the buffer missing": (
        buffered().joined("R8", lane(4), "into", "not fitted").changed("U5", _2="into"), "board.lane-path", "Pin 4 of U1 does not arrive",
    ),
    "enable on the supply": (buffered().changed("U5", _1="3V3"), "board.buffer-pins", "U5-1 does not switch"),
    "enable in the air": (buffered().changed("U5", _4="nowhere"), "board.buffer-pins", "hangs in the air"),
    "supply pin on ground": (buffered().changed("U5", _14="GND"), "board.buffer-pins", "U5-14 is the supply pin"),
    "no part behind the buffer": (buffered().without("R1").changed("U5", _3="out-red"), "board.no-series-part", "Output 3 of U5"),
    "past the amplifier": (
        amplified().changed("R4", _1="sum"), "board.lane-path", "past the amplifier",
    ),
    "amplifier's shunt missing": (amplified().without("R3"), "board.colour-parts", "part to ground"),
    "buffer not fitted": (buffered().valued(U5="not fitted"), "board.lane-path", "U5 of the dossier is not on the board"),
    "amplifier straight": (amplified().without("R4").changed("U6", _8="out-red"), "board.no-series-part", "matches the cable"),
    "amplifier's part wrong": (amplified().valued(R4="82"), "board.part-value", "R4 is not the part"),
    "pack pins exchanged": (packed().changed("RN1", _8="out-green", _7="out-red"), "board.lane-path", "arrives at J1-2 instead"),
    "sync gates crossed": (synced().changed("U3", _3="bus-v", _6="bus-h"), "board.connector-function", "the other sync"),
    "sync pack wrong": (synced().valued(RN2="470"), "board.sync-path", "not the one"),
    "sync enable wrong": (synced().changed("U3", _4="3V3"), "board.buffer-pins", "U3-4 does not switch"),
    "sync past the buffer": (synced().changed("RN2", _1=lane(26)), "board.sync-path", "past the buffer"),
    "sync buffer not decided": (unbuffered(synced()), "board.sync-path", "has no sync buffer"),
    "lane straight": (packed().changed("RN1", _1="").changed("RN1", _8=""), "board.lane-path", "does not arrive"),
}  # fmt: skip


@pytest.mark.parametrize("name", FAULTS)
def test_fault_is_found(name: str) -> None:
    board, code, says = FAULTS[name]
    found = judged(board)
    fails = [v for v in found.verdicts if v.judged == "fails"]
    assert code in {v.code for v in fails}, [(v.code, v.judged, v.says) for v in found.verdicts if v.judged != "holds"]
    assert says in found.says(code)
    named = re.match(r"(R\d+) is not the part", found.says(code))
    if named:  # told where the part is, and not where the connector is
        at = next(p for p in files_of(board).netlists[0].points if p.part == named[1])
        assert [(v.place.x_mm, v.place.pin) for v in fails if v.code == code and v.place] == [(at.x_mm, named[1])]
    assert all(v.place is not None and v.settle is not None and v.subject.startswith("board.") for v in fails)


UNKNOWN: dict[str, tuple[Board, str, str]] = {
    "buffer not named": (
        buffered().valued(U5="x"), "board.lane-path", "U5 drives which output is not known",
    ),
    "two outputs for one pin": (
        buffered().changed("U5", _9=lane(4), _8="more").joined("R9", "more", "out-red", "249"), "board.lane-level", "one pin drives meet",
    ),
    "buffer not told": (buffered(), "board.lane-path", "Which part is the buffer"),
    "link perhaps open": (
        matched().changed("R1", _2="near").joined("JP1", "near", "out-red", "x"), "board.lane-path", "Whether JP1+R1 joins",
    ),
    "pack with pin 1 on ground": (packed().changed("RN1", _1="GND", _8="", _4=lane(4), _5="out-red"), "board.lane-path", "joins its two nets is not known"),
    "style not stated": (unstyled(), "board.lane-level", "How the colour pins are wired is not stated"),
    "value missing": (matched().valued(R2="see note"), "board.lane-level", "R2 is not known"),
    "amplifier's pins not told": (amplified(), "board.lane-path", "U6 drives which output is not known"),
    "enable driven": (buffered().changed("U5", _4=lane(21)), "board.buffer-pins", "may be off"),
}  # fmt: skip


@pytest.mark.parametrize("name", UNKNOWN)
def test_what_is_not_known_is_not_passed(name: str) -> None:
    board, code, says = UNKNOWN[name]
    if name == "amplifier's pins not told":
        board.stated = 'U6 = { is = "video amplifier" }'
    if name == "buffer not told":
        sync = {"2": lane(26), "3": "bus-h", "4": "GND", "7": "GND", "14": "3V3", "1": "GND", "10": "GND", "13": "GND"}
        board.parts["U3"], board.values["U3"], board.values["U5"] = sync, "74LVC125", "four of them"
        board.stated = 'U3 = { is = "sync buffer" }'
    if name == "buffer not named":  # five outputs and an odd package: nothing tells its function
        board = board.changed("U5", _15="x", _16="y", _17="z")
    found = judged(board)
    if code == "board.lane-path":
        assert all(one.network is None and one.unsure for one in found.channels if one.channel == "red")
    states = {v.judged for v in found.verdicts if v.code == code and v.judged != "holds"}
    assert states == {"unknown"}, [(v.code, v.judged, v.says) for v in found.verdicts if v.judged != "holds"]
    assert says in found.says(code)
    settle = next(v.settle for v in found.verdicts if v.code == code and v.judged == "unknown")
    helps = ("board.parts", "parts list", "drives low", "style", "by eye")
    assert settle is not None and any(word in settle.what for word in helps)
