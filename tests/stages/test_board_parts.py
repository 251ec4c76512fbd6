"""A joint request gathered from a dossier, and the patches that write its answer back."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from scanloom.dossier.reading import Reading
from scanloom.formats.dossier_file import read_dossier_text
from scanloom.stages.levels.search import (
    BoardParts,
    JointChannel,
    JointProposal,
    JointRequest,
    NoJointSet,
    board_parts,
    joint_patches,
    propose_board,
    propose_joint,
)
from scanloom.survey import survey_plan

ROOT = Path(__file__).resolve().parents[2]
FINAL = (ROOT / "examples/deep-station/final.toml").read_text(encoding="utf-8")
WISH = JointRequest((JointChannel("any", 1),), least_part_ohm=22.0, objective="worst", white_v=0.7175)


def board_of(text: str, wish: JointRequest = WISH) -> BoardParts:
    """The request of a dossier."""
    plan = read_dossier_text(text, ROOT / "x.toml", "x.toml").plan
    survey = survey_plan(plan)
    rigs = [(Reading(plan, rig), one.lanes) for rig, one in zip(plan.rigs, survey.rigs, strict=True) if one.lanes]
    return board_parts(rigs, wish)


def test_every_channel_once_though_two_rigs_use_it() -> None:
    board = board_of(FINAL)
    assert board.request is not None
    assert len(board.request.channels) == 10
    assert set(board.stage_of) == {"levels.colour"}
    assert board.left_out == ()
    # one output per group: the heroes' two inputs and the relays' four
    assert sorted(len(sync.shared.inputs) for sync in board.request.syncs) == [2, 4]
    assert sorted(sync.branches for sync in board.request.syncs) == [4, 8]
    # channels that share a list of parts are one kind, into a load that lies anywhere
    assert len(board.request.kinds()) == 1
    # buffered syncs do not load the chip
    assert all("sync" not in name for cap in board.request.caps for name in cap.members)


def test_deeper_channels_get_lists_and_a_line_that_reads_back() -> None:
    """Two pins a hero channel: two kinds of channel on one stage cannot be listed, in a group of their own they can."""
    text = FINAL.replace("red = 32, green = 33, blue = 25 }", "red = [32, 5], green = [33, 12], blue = [25, 14] }")
    text = text.replace('name = "hero-right"\n', 'name = "hero-right"\ngroup = "sides"\n')
    text = text.replace(
        "{ heroes = { red = 1, green = 1, blue = 1 }",
        "{ heroes = { red = 2, green = 2, blue = 2 }, sides = { red = 1, green = 1, blue = 1 }",
    )
    text = text.replace("{ heroes = { white = 1 }", "{ heroes = { white = 2 }, sides = { white = 1 }")
    text = text.replace('stream = "8 lanes"', 'stream = "16 lanes"').replace(
        'on = ["heroes"]', 'on = ["heroes", "sides"]'
    )
    board = board_of(text)
    assert board.request is not None
    assert sorted({channel.bits for channel in board.request.channels}) == [1, 2]
    found, _ = propose_board(board.request)
    assert found is not None
    patches, says = joint_patches(board, found)
    assert [one.key for one in patches] == ["levels.sync.branch"]
    assert len(says) == 1
    assert "levels.colour" in says[0]
    apart = text.replace(
        "[levels]\n", '[levels]\ngroups.heroes = { style = "weighted", part = "360, 750 ohm ± 1 %" }\n'
    )
    board = board_of(apart)
    assert board.request is not None
    assert set(board.stage_of) == {"levels.colour", "levels.groups.heroes"}
    found, _ = propose_board(board.request)
    assert found is not None
    patches, says = joint_patches(board, found)
    assert (len(patches), says) == (3, ())
    listed = {one.key: tomllib.loads(f"x = {one.value}")["x"] for one in patches}
    assert listed["levels.groups.heroes"]["style"] == "weighted"
    assert listed["levels.groups.heroes"]["part"].partition(" ohm")[0].count(",") == 1


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('{ style = "series", part = "240 ohm ± 1 %" }', '{ style = "ladder", part = "270, 540 ohm ± 1 %" }', "ladder"),
        ('buffer = "LVC", ', "", "logic family"),
        ('colour = { style = "series", part = "240 ohm ± 1 %" }\n', "", ""),
    ],
    ids=["a style that is not searched", "a fact that is missing", "no parts yet"],
)
def test_what_is_left_out_is_said(old: str, new: str, says: str) -> None:
    assert old in FINAL
    board = board_of(FINAL.replace(old, new))
    assert bool(board.left_out) == bool(says)
    assert all(says in line for line in board.left_out)
    if not says:  # parts need not be stated to be searched for
        assert board.request is not None
        assert propose_board(board.request)[0] is not None


def test_a_cap_that_no_set_keeps_is_told_with_its_number() -> None:
    board = board_of(FINAL)
    assert board.request is not None
    [cap] = board.request.caps
    tight = JointRequest(board.request.channels, caps=(type(cap)(cap.name, 0.05, cap.members, cap.own_a),))
    found = propose_joint(tight)
    assert isinstance(found, NoJointSet)
    assert "50 mA" in found.says
    shown, says = propose_board(tight)
    assert isinstance(shown, JointProposal)
    assert shown.caps_a[0] > 0.05
    assert len(says) == 1


def test_a_search_that_is_stopped_is_not_proved() -> None:
    request = JointRequest((JointChannel("deep", 3),), series="E24")
    shares: list[float] = []

    def go_on(share: float) -> bool:
        shares.append(share)
        return share < 0.5

    found = propose_joint(request, go_on)
    assert isinstance(found, JointProposal)
    assert not found.proved
    assert found.sets < 1176
    assert shares == sorted(shares)
    whole = propose_joint(request)
    assert isinstance(whole, JointProposal)
    assert whole.proved
    assert whole.error_v <= found.error_v


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"channels": ()}, "no channel"),
        ({"distinct_most": 0}, "the nearest is 1"),
        ({"distinct_most": 5}, "the nearest is 4"),
        ({"objective": "yield"}, "nominal and worst"),
        ({"stock_ohm": ()}, "empty"),
        ({"channels": (JointChannel("one", 7),)}, "allowed are 1 to 6"),
        ({"channels": (JointChannel("one", 1), JointChannel("one", 2))}, "rename"),
    ],
)
def test_requests_that_cannot_be(change: dict[str, object], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        JointRequest(**({"channels": (JointChannel("one", 1),)} | change))  # type: ignore[arg-type]


def test_syncs_that_no_branch_helps_leave_the_channels_their_set() -> None:
    """Six inputs on a weak pin: no branch brings them to 2.0 V, which is said, and the colour parts are found all the same."""
    text = (ROOT / "examples/deep-station/first-evening.toml").read_text(encoding="utf-8")
    board = board_of(text)
    assert board.request is not None
    assert board.request.syncs
    found, says = propose_board(board.request)
    assert found is not None
    assert found.branches == ()
    assert len(found.channels) == 10
    assert len(says) == 1
    assert "give the syncs a buffer" in says[0]
    patches, _ = joint_patches(board, found)
    assert [one.key for one in patches] == ["levels.colour"]
