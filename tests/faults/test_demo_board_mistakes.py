"""Planted mistakes and seeded mutations of the demo board: each differs from the good set where its record says, and only there."""

from __future__ import annotations

import json
import subprocess
import sys
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

from demo_board import sets, truth
from demo_board.board import board_of, good_board
from demo_board.mistakes import MISTAKES
from demo_board.mistakes_layout import LAYOUT
from demo_board.mutations import KINDS, Mutation, mutations
from demo_board.nouns import Board
from demo_board.planting import Mistake, carried_out
from demo_board.sets import Files

ROOT = Path(__file__).resolve().parents[2]
LISTED = (  # the codes that the board review promises
    "roles side-mirrored sides-swapped mixed-revisions open short no-series-part lane-level lane-path serial-crossed connector-side "
    "connector-function returns inlet-pulls shell-floating boot-pin mask-web placement-side placement-rotated placement-origin "
    "part-missing clearance"
).split()
OWN = (
    "registration revision inlet-data inlet sync-path hole-size pad-without-hole ring mask-covers mask-opening outline-open outline scale supply-pins "
    "part-unsure part-value"
).split()
FEW = 24


@cache
def good() -> tuple[Board, Files]:
    board = good_board()
    return board, sets.files(board)


@cache
def few() -> list[Mutation]:
    return mutations(good()[0], FEW)


def named(mistakes: tuple[Mistake, ...]) -> list[object]:
    return [pytest.param(mistake, id=mistake.name) for mistake in mistakes]


@pytest.mark.parametrize("mistake", named(MISTAKES))
def test_a_set_differs_in_the_files_it_names(mistake: Mistake) -> None:
    board, files = good()
    planted = carried_out(mistake, board, files)
    assert sets.differing(planted.files, files) == {sets.name(board, role) for role in mistake.roles}
    assert planted.where, "a record without a place cannot be checked"
    pins = {f"{ref}-{number}" for ref, number in board.pins()} | {part.ref for part in board.parts}
    for where in planted.where:
        assert not where.pin or where.pin in pins
        assert not where.role or where.role in mistake.roles
        assert not where.net or set(where.net.split(" ")) <= {pad.net for pad in board.pads}


def test_names_and_codes_of_mistakes() -> None:
    assert len(MISTAKES) >= 25
    assert len({mistake.name for mistake in MISTAKES}) == len(MISTAKES)
    known = {f"board.{name}" for name in (*LISTED, *OWN)}
    for mistake in MISTAKES:
        assert {mistake.code, *mistake.follows, *mistake.or_else} <= known
        assert mistake.code not in mistake.or_else
    missing = set(LISTED) - {mistake.code.removeprefix("board.") for mistake in MISTAKES}
    assert not missing, "every promised code has a mistake that raises it"


@pytest.mark.parametrize("mistake", named(LAYOUT[2:]))
def test_wrong_circuits_are_drawn_without_a_fault(mistake: Mistake, monkeypatch: pytest.MonkeyPatch) -> None:
    """A mistake of the circuit is consistent: the copper joins what its own netlist says, nothing more or less."""
    made: list[Board] = []

    def kept(*arguments: object) -> Board:
        made.append(board_of(*arguments))  # type: ignore[arg-type]
        return made[-1]

    monkeypatch.setattr("demo_board.planting.board_of", kept)
    mistake.make(good()[0])
    assert [truth.opens_and_shorts(board) for board in made] == [(set(), set())]
    assert made[0].pins() != good()[0].pins() or mistake.name == "socket-mirrored"


def test_cut_and_bridge_change_just_what_they_say() -> None:
    board, files = good()
    by_name = {mistake.name: carried_out(mistake, board, files) for mistake in LAYOUT[:2]}
    assert by_name["track-cut"].where[0].net == "J1-red-chip"
    assert len(by_name["tracks-bridged"].where[0].net.split(" ")) == 2


@pytest.mark.parametrize("number", range(FEW))
def test_mutation_is_what_its_record_says(number: int) -> None:
    board, files = good()
    one = few()[number]
    changed = sets.differing(one.files(files), files)
    assert changed and changed <= set(one.changed)
    assert one.where and (one.codes or not one.changes_truth)
    if one.kind in ("negate-axis", "move-drills"):
        assert changed == {sets.name(board, one.where[0].role)}
    if one.kind in ("delete-track", "bridge-tracks"):
        assert len(changed) == 1
        assert one.where[0].x_mm is not None and 0 < one.where[0].x_mm < 200
        assert one.changes_truth or one.kind == "delete-track"


def test_mutations_take_every_kind_in_turn() -> None:
    kinds = Counter(one.kind for one in few())
    assert set(kinds) == set(KINDS) and max(kinds.values()) - min(kinds.values()) <= 1
    assert {one.changes_truth for one in few()} == {True, False}


def test_a_seed_gives_the_same_mutations() -> None:
    again = mutations(good()[0], 8)
    assert again == few()[:8] and [one.changed for one in again] == [one.changed for one in few()[:8]]
    assert [one.done for one in mutations(good()[0], 8, seed=5)] != [one.done for one in again]


def test_bytes_do_not_hang_on_the_run(tmp_path: Path) -> None:
    """Two runs with other hash seeds write the same bytes."""
    wanted = ["plain", "serial-crossed", "tracks-bridged", "milled"]
    for seed in "12":
        command = [sys.executable, "scripts/demo_board", *wanted, "--to", str(tmp_path / seed)]
        subprocess.run(command, cwd=ROOT, env={"PYTHONHASHSEED": seed}, check=True)
    first = {
        path.relative_to(tmp_path / "1"): path.read_bytes() for path in (tmp_path / "1").rglob("*.*") if path.is_file()
    }
    second = {
        path.relative_to(tmp_path / "2"): path.read_bytes() for path in (tmp_path / "2").rglob("*.*") if path.is_file()
    }
    assert first == second and len(first) > 50
    record = json.loads(first[Path("serial-crossed.json")])
    assert record["code"] == "board.serial-crossed" and record["where"][0]["pin"] == "U2-4"


def test_door_refuses_an_unknown_set(tmp_path: Path) -> None:
    command = [sys.executable, "scripts/demo_board", "no-such-set", "--to", str(tmp_path / "x")]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 2 and "no-such-set" in done.stderr and not (tmp_path / "x").exists()
