"""Boards that no one would draw: parts of every kind thrown between few nets; the review must answer, and in step."""

from __future__ import annotations

from random import Random

import pytest
from board_circuits import Board, judged

STYLES = (
    'style = "weighted", part = "240, 470 ohm ± 1 %"',
    'style = "ladder", part = "240, 470 ohm ± 1 %"',
    'style = "buffered", part = "240, 470 ohm ± 1 %", buffer = "LVC"',
    'style = "amplified", part = "240, 470 ohm ± 1 %", shunt = "75 ohm"',
    'style = "matched", part = "240, 470 ohm ± 1 %", shunt = "75 ohm"',
    'style = "direct"',
    'style = "odd"',
    'part = "3 ohm"',
)
NETS = (
    "GND",
    "3V3",
    "lane-4",
    "lane-5",
    "lane-12",
    "out-red",
    "out-green",
    "out-h",
    "out-v",
    "a",
    "b",
    "c",
    "d",
    "e",
    "",
)
KINDS = ("R", "R", "R", "RN", "FB", "JP", "NT", "U", "Q", "D", "C", "RA", "L", "SJ", "TP")
VALUES = ("240", "0", "4k7", "100n", "74LVC125", "74AHC541", "?", "not fitted", "1K 1%", "470R 99%")


def tangle(rng: Random) -> Board:
    """One such board."""
    board = Board(rng.choice(STYLES), {"red": (4, 5), "green": (12,)}, sync="sync = { h = 26, v = 27 }")
    for number in range(50, 50 + rng.randint(1, 14)):
        name = f"{(kind := rng.choice(KINDS))}{number}"
        board.parts[name] = {str(pin + 1): rng.choice(NETS) for pin in range(rng.choice((1, 2, 2, 2, 3, 4, 5, 8, 14)))}
        if rng.random() < 0.8:
            board.values[name] = rng.choice(VALUES)
        if kind == "U" and rng.random() < 0.5:
            what = rng.choice(("video buffer", "video amplifier", "sync buffer"))
            board.stated += f'\n{name} = {{ is = "{what}", pins = {{ 1 = "1A", 2 = "1Y" }} }}'
        if kind == "JP" and rng.random() < 0.5:
            board.stated += f'\n{name} = {{ is = "closed link" }}'
    return board


@pytest.mark.parametrize("seed", range(4))
def test_every_tangle_gets_an_answer(seed: int) -> None:
    rng = Random(seed)
    for _ in range(60):
        found = judged(tangle(rng))
        assert {v.subject.partition("#")[0] for v in found.verdicts} >= {
            f"board.connectors.J1.{channel}" for channel in ("red", "green")
        }
        for built in found.channels:
            assert built.network is None or len(built.network.part_ohm) == len(built.fed_by)
            level = [v for v in found.verdicts if v.code == "board.lane-level" and v.subject.endswith(built.channel)]
            assert built.network is not None or all(v.judged == "unknown" for v in level)
