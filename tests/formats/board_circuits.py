"""Small boards of nets and values alone, and dossiers for them, that the tests of traced stages share."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from scanloom.basis.verdict import Verdict
from scanloom.dossier.reading import Reading
from scanloom.formats.dossier_file import read_dossier_text
from scanloom.stages.board.built import BuiltChannel
from scanloom.stages.board.lane_paths import LanePath, judge_lane_paths
from scanloom.stages.board.model import BoardFiles, FileRole, Listed, Netlist, NetPoint, PartsList
from scanloom.stages.board.sight import Sight
from scanloom.stages.board.sync_paths import judge_sync_paths

Nets = Mapping[str, str]
PIN_OF = {"red": "1", "green": "2", "blue": "3"}
DOSSIER = """
[dossier]
format = 1
title = "Lamp room"

[chip]
like = "wifi240"
pin_high = "30 ohm; measured 2031-01-09 Ilse"
pin_low = "20 ohm; measured 2031-01-09 Ilse"
rail = "3.3 V; measured 2031-01-09 Ilse"

[[displays]]
name = "screen"
like = "monitor, 15 inch"
colour_load = "75 ohm; measured 2031-01-10 Ilse"

[board]
{sync}
connectors = [{connectors}]

[board.parts]
U1 = {{ is = "chip", pins = {{ {pins} }} }}
{parts}

[levels]
colour = {{ {colour} }}
{levels}
"""


@dataclass
class Board:
    """Nets and values of a board, and the lines of its dossier that are not always the same."""

    colour: str
    wired: dict[str, tuple[int, ...]] = field(default_factory=lambda: {"red": (4,)})
    parts: dict[str, dict[str, str]] = field(default_factory=dict)
    values: dict[str, str] = field(default_factory=dict)
    stated: str = ""
    levels: str = ""
    sync: str = ""

    def resistor(self, name: str, a: str, b: str, value: str) -> None:
        """Put a part of two pins on the board."""
        self.parts[name] = {"1": a, "2": b}
        self.values[name] = value

    def without(self, *names: str) -> Board:
        """The same board, some parts never placed."""
        return replace(
            self,
            parts={n: p for n, p in self.parts.items() if n not in names},
            values={n: v for n, v in self.values.items() if n not in names},
        )

    def changed(self, part: str, **nets: str) -> Board:
        """The same board, pins of one part on other nets; write `_4` for pin 4."""
        return replace(
            self,
            parts={
                **self.parts,
                part: {**self.parts.get(part, {}), **{pin.strip("_"): net for pin, net in nets.items()}},
            },
        )

    def joined(self, name: str, a: str, b: str, value: str) -> Board:
        """The same board with one more part of two pins."""
        return replace(self, parts={**self.parts, name: {"1": a, "2": b}}, values={**self.values, name: value})

    def valued(self, **values: str) -> Board:
        """The same board with other values."""
        return replace(self, values={**self.values, **values})


def lane(pin: int) -> str:
    """Net of a chip pin."""
    return f"lane-{pin}"


def files_of(board: Board) -> BoardFiles:
    """The board's files: a netlist and a parts list. Ground and supply hang on enough parts to be told."""
    chips = {pin for pins in board.wired.values() for pin in pins} | {
        int(n[5:]) for p in board.parts.values() for n in p.values() if n.startswith("lane-")
    }
    parts: dict[str, Nets] = {
        "U1": {str(pin): lane(pin) for pin in sorted(chips)} | {"98": "GND", "99": "3V3"},
        "J1": {PIN_OF[channel]: f"out-{channel}" for channel in PIN_OF} | {"6": "GND", "7": "GND", "8": "GND", "13": "out-h", "14": "out-v"},
        "C91": {"1": "3V3", "2": "GND"},
        "C92": {"1": "3V3", "2": "GND"},
    }  # fmt: skip
    for name, nets in board.parts.items():
        parts[name] = {**parts.get(name, {}), **nets}
    role = FileRole("netlist.ipc", "netlist", "")
    points = tuple(
        NetPoint(net, part, pin, float(i), 0.0, "top") for i, (part, nets) in enumerate(parts.items()) for pin, net in nets.items()
    )  # fmt: skip
    listed = FileRole("bom.csv", "parts-list", "")
    rows = {**dict.fromkeys(("U1", "J1", "C91", "C92"), "x"), **board.values}
    bom = PartsList(listed, tuple(Listed((part,), value, fitted=value != "not fitted") for part, value in rows.items()))
    return BoardFiles((role, listed), netlists=(Netlist(role, points),), parts_lists=(bom,))


def dossier_of(board: Board) -> str:
    """Text of the board's dossier."""
    colours = ", ".join(f"{channel} = {list(pins)}" for channel, pins in board.wired.items())
    chips = {pin for pins in board.wired.values() for pin in pins} | {
        int(n[5:]) for p in board.parts.values() for n in p.values() if n.startswith("lane-")
    }
    return DOSSIER.format(
        connectors=f'{{ name = "J1", plugs = "screen", {colours} }}', pins=", ".join(f'{pin} = "GPIO{pin}"' for pin in sorted(chips)),
        parts=board.stated, colour=board.colour, levels=board.levels, sync=board.sync,
    )  # fmt: skip


@dataclass
class Judged:
    """What the review says of a board's lanes."""

    verdicts: list[Verdict]
    paths: tuple[LanePath, ...]
    channels: tuple[BuiltChannel, ...]
    reading: Reading

    def against(self) -> list[tuple[str, str]]:
        """Codes and states of all that does not hold."""
        return [(v.code, v.judged) for v in self.verdicts if v.judged != "holds"]

    def says(self, code: str) -> str:
        """Sentence of the first verdict of a code that does not hold."""
        return next(v.says for v in self.verdicts if v.code == code and v.judged != "holds")


def judged(board: Board) -> Judged:
    """Colours and syncs of a board, judged."""
    plan = read_dossier_text(dossier_of(board), Path("lamps.toml")).plan
    sight = Sight(Reading(plan), files_of(board))
    paths, channels = judge_lane_paths(sight)
    judge_sync_paths(sight)
    return Judged(sight.verdicts, paths, channels, Reading(plan))
