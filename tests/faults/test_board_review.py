"""The demo board's planted mistakes, random mutations and dialects against the review, which its planters have not seen."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from math import hypot
from pathlib import Path
from xml.etree import ElementTree

import pytest
from board_sets import DOSSIER, failing, good, plan_of, read_set, reviewed

from demo_board import sets, toolpaths
from demo_board.footprints import PAD_OF
from demo_board.mistakes import MISTAKES
from demo_board.mistakes_sizes import SIZES
from demo_board.mutations import Mutation, mutations
from demo_board.planting import Mistake, Where, carried_out
from demo_board.told import WHOLE_FILE, told_there
from demo_board.variants import VARIANTS
from scanloom.basis.verdict import Place
from scanloom.dossier.plan import Plan
from scanloom.dossier.reading import Reading
from scanloom.formats.dossier_file import read_dossier_text
from scanloom.report.board_whole import whole_board
from scanloom.stages.board import judge_board
from scanloom.survey.acceptance import mark_of
from scanloom.survey.review import review_board

# What else follows by necessity and the planters did not list, each with its reason.
ALSO = {
    "old-drills": {"board.ring"},  # its holes run through ends of tracks and edges of pads
    "old-outline": {"board.outline", "board.clearance"},  # the smaller outline cuts off pads
    "old-netlist": {"board.netlist-differs"},  # the copper's own pads disagree with it
    "not-bought": {"board.sync-path"},  # without its branch resistor the sync does not arrive
    "socket-mirrored": {"board.placement-middle"},  # its tracks push C5 aside, and the centroid file is kept as it was
}
FEW = 25


def test_good_set_has_nothing_against_it() -> None:
    outcome = reviewed(good()[1])
    assert [v.code for v in outcome.verdicts if v.judged != "holds"] == []
    assert len({(v.code, v.subject) for v in outcome.verdicts}) == len(outcome.verdicts) > 80
    assert outcome.stands and outcome.result is not None
    assert outcome.result.size_mm == pytest.approx((200.0, 90.0), abs=0.01)
    assert {p.as_built_ohm for p in outcome.result.lane_paths} == {240.0}


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda one: one.name)
def test_planted_mistake_is_found_and_nothing_else(mistake: Mistake) -> None:
    board, files = good()
    planted = carried_out(mistake, board, files)
    outcome = reviewed(planted.files)
    found = failing(outcome)
    codes = {v.code for v in found}
    assert codes & {mistake.code, *mistake.or_else}, f"{mistake.planted}: found {sorted(codes)}"
    extra = codes - {mistake.code, *mistake.or_else, *mistake.follows} - ALSO.get(mistake.name, set())
    assert not extra, [(v.code, v.subject, v.says) for v in found if v.code in extra]
    assert all(v.place is not None or v.code.endswith("revisions") for v in found)
    assert all(v.settle is not None for v in found), "why it could be a false alarm"


@cache
def few() -> list[Mutation]:
    """The first mutations of a seed; `scripts/board_mutations.py` tries two hundred."""
    return mutations(good()[0], FEW, 2031)


@pytest.mark.parametrize("number", range(FEW))
def test_random_mutation(number: int) -> None:
    files = good()[1]
    mutation = few()[number]
    outcome = reviewed(mutation.files(files))
    found = failing(outcome)
    if not mutation.changes_truth:
        assert not found, [(v.code, v.says) for v in found]
        return
    assert found, mutation.done
    board = good()[0]
    astray = [(v.code, v.place, v.says) for v in found if not told_there(board, mutation, v)]
    if mutation.kind in WHOLE_FILE:  # what follows from a file that lies wrong may be told of its neighbours, too
        assert len(astray) < len(found), mutation.done
    else:
        assert not astray, mutation.done


@pytest.mark.parametrize("mistake", SIZES, ids=lambda one: one.name)
def test_planted_spot_is_told_at_its_place(mistake: Mistake) -> None:
    """By a review that has never heard of the set: at the spot or pin, or else in the file, that was altered."""
    board, files = good()
    planted = carried_out(mistake, board, files)
    seen = [v.place for v in failing(reviewed(planted.files)) if v.code == mistake.code and v.place is not None]
    assert any(_at(where, place) for where in planted.where for place in seen), seen


@pytest.mark.parametrize("name", ["axes-exchanged", "unplated-aside", "outline-gap"])
def test_fault_of_a_whole_file_is_drawn_whole(name: str) -> None:
    """Rings and crosses, one each for every place of the file; a fault of one spot gets its crop instead."""
    board, files = good()
    mistake = next(one for one in SIZES if one.name == name)
    made = read_set(carried_out(mistake, board, files).files)
    found = [
        v for v in judge_board(Reading(plan_of()), made).verdicts if v.code == mistake.code and v.judged == "fails"
    ]
    svg, words = whole_board(made, found[0])
    if name == "outline-gap":
        assert svg == words == ""
        return
    lying = sets.name(board, mistake.roles[0])
    assert found[0].place is not None and found[0].place.file == lying and lying in words
    layers = [layer for layer in made.layers if layer.role.file == lying]
    spots = {(o.x_mm, o.y_mm) for layer in layers for o in layer.drawn if o.kind == "flash" and o.dark}
    spots |= {(h.x_mm, h.y_mm) for drill in made.drills if drill.role.file == lying for h in drill.holes}
    assert svg.count("h4.8M") == len(spots) > 3
    assert "nan" not in svg and ElementTree.fromstring(svg).tag == "svg"


def _at(where: Where, place: Place) -> bool:
    """Whether a place is one that was planted."""
    if where.x_mm is not None and where.y_mm is not None:
        return (
            place.x_mm is not None and hypot(place.x_mm - where.x_mm, (place.y_mm or 0) - where.y_mm) <= where.within_mm
        )
    return place.pin == where.pin if where.pin else place.file == sets.name(good()[0], where.role)


def test_places_tell_right_from_wrong() -> None:
    """The oracle of places itself: a finding moved elsewhere, or to another file, is astray."""
    board, files = good()
    for mutation in (one for one in few() if one.changes_truth and one.kind in ("bridge-tracks", "negate-axis")):
        found = failing(reviewed(mutation.files(files)))
        there = next(v for v in found if told_there(board, mutation, v))
        away = replace(there, place=Place("other.gbr", "copper", 1.0, 1.0, "H1"), says="")
        assert not told_there(board, mutation, away)


@pytest.mark.parametrize("name", sorted(set(VARIANTS) - {"bare-header"}))
def test_dialect_of_the_good_board_has_nothing_against_it(name: str) -> None:
    board, dialects = VARIANTS[name]()
    outcome = reviewed(sets.files(board, dialects))
    assert [(v.code, v.says) for v in failing(outcome)] == []
    unsure = {v.code for v in outcome.verdicts if v.judged == "unknown" and v.weight == "stop"}
    assert unsure <= {"board.lane-path", "board.serial-crossed"}, (
        "only what pads are called may stay open, where no file says it"
    )
    if unsure:
        told = reviewed(sets.files(board, dialects), plan_with_pads())
        assert not [v for v in told.verdicts if v.judged != "holds" and v.weight != "note"]


@cache
def plan_with_pads() -> Plan:
    """The demo's dossier, which also states what the module calls its pads."""
    text = DOSSIER.read_text(encoding="utf-8")
    pads = ", ".join(f'{pad} = "{name}"' for name, pad in sorted(PAD_OF.items()))
    row = 'U1 = { is = "chip", '
    assert row in text
    return read_dossier_text(text.replace(row, f"{row}pins = {{ {pads} }}, "), DOSSIER).plan


def test_bare_header_cannot_be_told_and_says_so() -> None:
    board, dialects = VARIANTS["bare-header"]()
    outcome = reviewed(sets.files(board, dialects))
    sides = [v for v in outcome.verdicts if v.code == "board.side-mirrored"]
    assert sides and {v.judged for v in sides} == {"unknown"}


@pytest.mark.parametrize("name", sorted(toolpaths.MILLED))
def test_tool_paths_by_their_net_mirror_state(name: str, tmp_path: Path) -> None:
    state, gerber_mirrored, wrong = toolpaths.MILLED[name]
    files = toolpaths.milled(state, gerber_mirrored)
    dossier = tmp_path / "prototype.toml"
    dossier.write_bytes(files["prototype.toml"])
    outcome = reviewed(files, plan_of(dossier))
    assert outcome.result is not None
    cut = next(one for one in outcome.result.milled if one.kind == "isolation")
    codes = {v.code for v in failing(outcome)}
    if not wrong:
        assert cut.mirror_state == "good" and not codes and not outcome.result.fittings
    elif name == "milled-drilling-flipped":
        assert cut.mirror_state == "good" and codes == {"board.tool-path-apart"}
    else:
        assert cut.mirror_state == ("flipped twice" if gerber_mirrored else "flipped")
        assert "board.tool-path-mirrored" in codes
        ways = {one.part: one.way for one in outcome.result.fittings}
        assert ways["U1"] == ways["J1"] == "from the other side" and ways["R1"] == "as planned"


def test_acceptance_goes_stale_when_a_file_changes(tmp_path: Path) -> None:
    board, files = good()
    planted = carried_out(next(m for m in MISTAKES if m.name == "shell-floating"), board, files)
    first = review_board(plan_of(), read_set(planted.files)).survey
    verdict = next(v for v in first.verdicts if v.code == "board.shell-floating")
    text = DOSSIER.read_text(encoding="utf-8")
    entry = {"code": verdict.code, "subject": verdict.subject, "because": "no cable screen", "mark": mark_of([verdict])}
    text += "\n[[accepted]]\n" + "".join(f"{key} = {json.dumps(value)}\n" for key, value in entry.items())
    dossier = tmp_path / "accepted.toml"
    dossier.write_text(text.replace('files = "fab/rev-b"\n', ""), encoding="utf-8")
    plan = plan_of(dossier)
    again = review_board(plan, read_set(planted.files)).survey
    assert [v.state for v in again.verdicts if v.code == verdict.code] == ["accepted"]
    name = next(n for n in planted.files if n.endswith("netlist.ipc"))
    changed = {**planted.files, name: planted.files[name].replace(b"\n999", b"\nC   another export\n999")}
    assert changed[name] != planted.files[name]
    later = review_board(plan, read_set(changed)).survey
    assert [v.state for v in later.verdicts if v.code == verdict.code] == ["stale"]


def test_a_boot_pin_is_unknown_without_the_values_of_its_resistors() -> None:
    """Where no table gives values nobody knows what holds a boot pin; the same set with them holds, see above."""
    files = {name: data for name, data in good()[1].items() if not name.endswith(("bom.csv", "centroid.csv"))}
    found = [v for v in reviewed(files).verdicts if v.code == "board.boot-pin"]
    assert found and not [v for v in found if v.judged == "fails"]
    assert [v for v in found if v.judged == "unknown" and "is not known, so the level of boot pin" in v.says]
