"""Circuits such as other people draw: nothing stops a good one, with a dossier or without, and each single mistake is found."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from board_sets import read_set

from demo_board import circuit, sets
from demo_board.board import board_of
from other_boards.bench import Circuit
from other_boards.lawful import LAWFUL, Lawful
from other_boards.mistakes import CIRCUITS, SLIPS, Slip
from other_boards.netlists import Habit
from scanloom.basis.verdict import Verdict
from scanloom.dossier.model import Dossier, Head
from scanloom.dossier.plan import Plan
from scanloom.dossier.reading import Reading
from scanloom.formats.dossier_file import read_dossier_text
from scanloom.stages.board import judge_board
from scanloom.stages.board.full_names import with_full_parts
from scanloom.stages.board.graph import pin_graph

NO_TRACKS = "board.open"  # the sets hold pads and no tracks: what joins them is not the matter here
HABITS = {
    "last fourteen letters": Habit(case="upper", open_pins="unconnected"),
    "first fourteen letters": Habit(names="first", open_pins="unconnected"),
    "names in comments": Habit(names="c", unit=1, columns=80),
    "names in parameters, blanks for noughts": Habit(names="p", padding=" ", mask="none"),
    "lower case": Habit(case="lower"),
    "radians": Habit(unit=2),
    "no unit stated": Habit(unit=None),
    "carriage returns alone": Habit(ends="\r"),
    "both line ends": Habit(ends="\r\n"),
    "72 columns": Habit(columns=72),
    "pins of two digits": Habit(pins=2),
    "records that few write": Habit(extra=True, middles=True, via_ref=""),
    "test pads without names": Habit(probe_ref=False),
    "small p": Habit(head=("C  another export", "p  job  one", "p  units CUST 0"), unit=None),
}


def verdicts(drawn: Circuit, dossier: bool = True, pads: bool = False) -> tuple[Verdict, ...]:
    """The review of a circuit, held against its dossier where it has one; by its netlist, or by what its `pads` say alone."""
    plan = Plan(Dossier(dossier=Head(format=1)))
    if dossier and drawn.dossier:
        plan = read_dossier_text(drawn.dossier, Path("other.toml")).plan
    drawn.copper = drawn.copper or pads
    files = {name: data for name, data in drawn.files().items() if not (pads and name.endswith(".ipc"))}
    return judge_board(Reading(plan), read_set(files)).verdicts


def failing(made: tuple[Verdict, ...]) -> list[Verdict]:
    """What fails and is more than a note."""
    return [v for v in made if v.judged == "fails" and v.weight != "note" and v.code != NO_TRACKS]


@cache
def clean(name: str, pads: bool) -> frozenset[tuple[str, str]]:
    """What is told of a good circuit all the same."""
    return frozenset((v.code, v.subject) for v in failing(verdicts(CIRCUITS[name](), pads=pads)))


@pytest.mark.parametrize("pads", [False, True], ids=["by netlist", "by pads"])
@pytest.mark.parametrize("name", CIRCUITS)
def test_nothing_stops_a_good_board_without_a_dossier(name: str, pads: bool) -> None:
    made = verdicts(CIRCUITS[name](), dossier=False, pads=pads)
    assert [(v.code, v.says) for v in failing(made) if v.weight == "stop"] == []
    assert {v.code for v in made if v.judged == "unknown" and v.weight == "stop"} <= {"board.short", NO_TRACKS}


@pytest.mark.parametrize("name", [name for name, make in CIRCUITS.items() if make().dossier])
def test_nothing_stops_a_good_board_with_its_dossier(name: str) -> None:
    made = verdicts(CIRCUITS[name]())
    assert [(v.code, v.says) for v in failing(made) if v.weight == "stop"] == []
    told = {v.code for v in made if v.judged == "holds"}
    assert {"board.lane-path", "board.lane-level", "board.returns", "board.connector-side", "board.sync-path"} <= told


@pytest.mark.parametrize("pads", [False, True], ids=["by netlist", "by pads"])
@pytest.mark.parametrize("lawful", LAWFUL, ids=lambda one: one.name)
def test_what_good_boards_do_otherwise_stops_none(lawful: Lawful, pads: bool) -> None:
    made = verdicts(lawful.carried_out(), pads=pads)
    assert [(v.code, v.says) for v in failing(made) if v.weight == "stop"] == []
    asked = {v.code for v in made if v.judged == "unknown" and v.weight == "stop"} - {"board.short", NO_TRACKS}
    assert asked == set(lawful.asks)
    assert all(v.settle is not None for v in made if v.code in asked and v.judged == "unknown"), (
        "what to read or export"
    )


@pytest.mark.parametrize("pads", [False, True], ids=["by netlist", "by pads"])
@pytest.mark.parametrize("slip", SLIPS, ids=lambda one: one.name)
def test_a_single_mistake_is_found_at_its_place_and_nothing_else(slip: Slip, pads: bool) -> None:
    found = [
        v
        for v in failing(verdicts(slip.carried_out(), pads=pads))
        if (v.code, v.subject) not in clean(slip.circuit, pads)
    ]
    named = [v for v in found if v.code in slip.codes and any(part in f"{v.says} {v.place}" for part in slip.at)]
    assert named, [(v.code, v.says) for v in found]
    assert {v.code for v in found} <= {*slip.codes, *slip.follows}, [(v.code, v.says) for v in found]


@pytest.mark.parametrize("name", HABITS)
def test_every_habit_of_an_exporter_reads_as_the_same_board(name: str) -> None:
    drawn = CIRCUITS["one_display"]()
    usual = {(v.code, v.subject, v.judged) for v in verdicts(drawn) if v.code != NO_TRACKS}
    drawn.netlist = HABITS[name]
    made = {(v.code, v.subject, v.judged) for v in verdicts(drawn) if v.code != NO_TRACKS}
    assert made == usual


@pytest.mark.parametrize("letters", [6, 20])
def test_long_designators_are_told_apart_whether_cut_or_not(letters: int) -> None:
    drawn = CIRCUITS["radio"]()
    drawn.netlist = Habit(case="upper", lowest=4, refs=letters)
    found = {v.code for v in failing(verdicts(drawn))}
    assert not found, "two buttons that share six letters are two parts"
    drawn.change("BUTTON2", nets={"1": ""})
    graph = pin_graph(with_full_parts(read_set(drawn.files())))
    assert graph.nets[("BUTTON1", "1")] == "EN" and graph.nets[("BUTTON2", "1")] == ""


@pytest.mark.parametrize("names", ["plain", "no-attributes"])
def test_two_nets_whose_names_are_cut_alike_are_no_break(names: str) -> None:
    alike = {
        "sync-h-J3-out": "to the left: sync at its connector",
        "sync-v-J4-out": "to the right: sync at its connector",
    }
    parts = circuit.parts()
    board = board_of(tuple(replace(p, nets={pin: alike.get(net, net) for pin, net in p.nets.items()}) for p in parts))
    made = judge_board(
        Reading(Plan(Dossier(dossier=Head(format=1)))), read_set(sets.files(board, sets.NAMED[names]))
    ).verdicts
    opens = {v.judged for v in made if v.code == "board.open"}
    assert opens == ({"holds"} if names == "plain" else {"unknown"})
    assert not [v.says for v in made if v.judged == "fails" and v.weight == "stop"]
