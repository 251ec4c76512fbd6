"""A buffered stage as an exporter writes it, netlist and parts list, through the readers to the same verdicts."""

from __future__ import annotations

from pathlib import Path

import pytest
from board_circuits import Board, dossier_of, files_of, judged, lane

from scanloom.dossier.reading import Reading
from scanloom.formats.board_files import read_board_files
from scanloom.formats.dossier_file import read_dossier_text
from scanloom.stages.board import judge_board

COLOURS = {"red": 4, "green": 5}


def buffered() -> Board:
    """Two colours through a buffer told by its value, one leg in a pack."""
    board = Board(
        'style = "buffered", part = "249 ohm ± 1 %", buffer = "LVC"', {c: (pin,) for c, pin in COLOURS.items()}
    )
    board.stated = 'U5 = { is = "video buffer" }'
    board.parts["U5"] = {
        "1": "GND", "2": lane(4), "3": "drive-red", "4": "GND", "5": lane(5), "6": "drive-green", "7": "GND", "14": "3V3",
    }  # fmt: skip
    board.values["U5"] = "74LVC125"
    board.resistor("R1", "drive-red", "out-red", "249R 1%")
    board.parts["RN1"] = {"1": "drive-green", "2": "", "3": "", "4": "out-green"}
    board.values["RN1"] = "249"
    return board


def written(board: Board, folder: Path) -> None:
    """Netlist and parts list in a folder, by the columns of IPC-D-356A."""
    files = files_of(board)
    rows = [
        f"327{point.net or 'N/C':<14}   {point.part:<6}-{point.pin_name:<4}       PA01X+{int(point.x_mm * 1000):06d}Y+000000X0500Y0500R000 S2"
        for point in files.netlists[0].points
    ]
    folder.joinpath("lamps.ipc").write_text("\n".join(["P  UNITS CUST 1", *rows, "999", ""]), encoding="ascii")
    lines = [f"{'; '.join(line.parts)},{line.value_text}" for line in files.parts_lists[0].lines_listed]
    folder.joinpath("lamps-bom.csv").write_text("\n".join(["Reference,Value", *lines, ""]), encoding="utf-8")


@pytest.mark.parametrize("wrong", [False, True])
def test_readers_lead_to_the_same_verdicts(tmp_path: Path, wrong: bool) -> None:
    board = buffered().changed("U5", _3="drive-green", _6="drive-red") if wrong else buffered()
    written(board, tmp_path)
    plan = read_dossier_text(dossier_of(board), Path("lamps.toml")).plan
    outcome = judge_board(Reading(plan), read_board_files(tmp_path, "lamps", {}))
    own = {v.code for v in judged(board).verdicts}
    told = [(v.code, v.subject, v.judged, v.found) for v in outcome.verdicts if v.code in own]
    assert sorted(told, key=str) == sorted(
        ((v.code, v.subject, v.judged, v.found) for v in judged(board).verdicts), key=str
    )
    assert ("fails" in {state for _, _, state, _ in told}) == wrong
    assert outcome.result is not None
    assert outcome.result.channels == judged(board).channels
