"""The review on the page: it runs in a thread, is kept by what it rests on, goes stale, and never leaves the folder."""

from __future__ import annotations

import shutil
import time
from pathlib import Path

import pytest
from board_sets import good

from demo_board.mistakes import MISTAKES
from demo_board.planting import carried_out
from scanloom.survey.review import grounds_mark
from scanloom.web.desk import Desk
from scanloom.web.edit import Refused

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = ROOT / "examples" / "deep-station"
NETLIST = "fab/rev-b/deep-station-netlist.ipc"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    shutil.copy(EXAMPLE / "final.toml", tmp_path / "dossier.toml")
    shutil.copytree(EXAMPLE / "fab", tmp_path / "fab")
    one = Desk(tmp_path / "dossier.toml", "dossier.toml")
    one.reload()
    return one


def run(desk: Desk) -> None:
    """Review, and wait for the end."""
    assert desk.good is not None
    desk.board.start(desk.good)
    with pytest.raises(Refused, match="runs already"):
        desk.board.start(desk.good)
    until = time.monotonic() + 60
    while not desk.board.collect():
        assert time.monotonic() < until
        time.sleep(0.02)


def change(desk: Desk, old: str, new: str) -> None:
    """Another editor changes the dossier."""
    text = desk.path.read_text(encoding="utf-8")
    assert text.count(old) >= 1
    desk.path.write_text(text.replace(old, new), encoding="utf-8")
    assert desk.reload() and not desk.faults


def test_a_review_stands_until_files_or_facts_become_others(desk: Desk) -> None:
    good = desk.good
    assert good is not None
    assert desk.board.view(good).state == "unknown" and "not reviewed yet" in desk.board.view(good).line
    run(desk)
    view = desk.board.view(good)
    assert (
        view.state in ("holds", "guess")
        and not view.stale
        and view.line == f"{len(view.held)} hold"
        and len(view.held) > 90
    )
    assert view.closing(["Nothing."])[-1] == "Nothing is open in the board's files."

    # a fact that no file is held against leaves it alone; one it rests on does not; taken back, the kept one stands again
    change(desk, 'redraw = "1.1 ms', 'redraw = "1.2 ms')
    assert desk.good is not None and not desk.board.view(desk.good).stale
    change(desk, "240 ohm", "249 ohm")
    stale = desk.board.view(desk.good)
    assert stale.state == "stale" and "facts of the dossier" in stale.stale[0]
    change(desk, "249 ohm", "240 ohm")
    assert not desk.board.view(desk.good).stale

    # a file touched is the same file; a byte more makes it another
    netlist = desk.path.parent / NETLIST
    before = netlist.read_bytes()
    netlist.write_bytes(before)
    assert not desk.board.look_at_files(desk.good) and not desk.board.view(desk.good).stale
    netlist.write_bytes(before + b"C  another line of comment\n")
    assert desk.board.look_at_files(desk.good)
    assert desk.board.view(desk.good).stale == ("the files",)
    shutil.rmtree(desk.path.parent / "fab")
    assert desk.board.look_at_files(desk.good) and desk.board.view(desk.good).state == "stale"


def test_what_changed_since_the_review_before_and_an_acceptance(desk: Desk) -> None:
    run(desk)
    listed = desk.path.parent / "fab/rev-b/deep-station-top-copper.gbr"
    whole = listed.read_bytes()
    listed.write_bytes(whole[: len(whole) // 2])
    assert desk.good is not None
    desk.board.look_at_files(desk.good)
    with pytest.raises(Refused, match="review them first"):
        desk.accept("board.file-damaged", "board.files", "because", None, "")
    run(desk)
    view = desk.board.view(desk.good)
    assert view.run is not None and view.run.since is not None
    assert any(one.startswith("board.file-damaged") for one in view.run.since.new) and not view.run.since.mended
    assert view.state == "fails" and view.closing(["Nothing keeps this plan from being ready."])[0].startswith(
        "Not ready"
    )
    damaged = next(v for v in view.opened if v.code == "board.file-damaged")
    beside = [v for v in view.with_board(desk.good.survey).verdicts if v.code == damaged.code]
    assert beside and not any(fact.key.startswith("files.") for v in beside for fact in v.rests_on)

    desk.accept(damaged.code, damaged.subject, "the fabricator has the whole one", None, "Ilse")
    assert desk.good is not None
    after = desk.board.view(desk.good)  # nothing ran again
    assert not after.stale and not after.running
    again = next(v for v in after.opened if v.code == damaged.code and v.subject == damaged.subject)
    assert again.state == "accepted" and again.because == "the fabricator has the whole one (Ilse)"

    listed.write_bytes(whole)
    desk.board.look_at_files(desk.good)
    assert not desk.board.view(desk.good).stale, "the first review is kept, and these are its files"
    run(desk)
    mended = desk.board.view(desk.good)
    assert mended.run is not None and mended.run.since is not None and not mended.run.since.new


@pytest.mark.parametrize("name", ["../elsewhere", "/etc", "link"])
def test_a_folder_outside_is_not_read(desk: Desk, name: str, tmp_path_factory: pytest.TempPathFactory) -> None:
    (desk.path.parent / "link").symlink_to(tmp_path_factory.mktemp("outside"))
    change(desk, 'files = "fab/rev-b"', f'files = "{name}"')
    assert desk.good is not None
    with pytest.raises(Refused, match="outside the dossier's folder"):
        desk.board.start(desk.good)
    assert not desk.board.running


def test_a_final_dossier_is_one_of_the_list(desk: Desk, tmp_path: Path) -> None:
    assert desk.good is not None
    for name in ("../final.toml", "/etc/passwd", "nothing.toml"):
        with pytest.raises(Refused, match="beside this one"):
            desk.board.start(desk.good, name)


def test_files_that_cannot_be_read_are_said(desk: Desk) -> None:
    change(desk, 'files = "fab/rev-b"', 'files = "nowhere"')
    run(desk)
    assert desk.good is not None
    view = desk.board.view(desk.good)
    assert view.state == "unknown" and "no such folder" in view.faults[0] and view.run is None


def test_grounds_hold_every_fact_that_a_verdict_rests_on(desk: Desk) -> None:
    """Whatever the verdicts name lies in a table whose change changes the fingerprint."""
    run(desk)
    assert desk.good is not None
    view = desk.board.view(desk.good)
    assert view.survey is not None
    named = {fact.key.partition(".")[0] for v in view.survey.verdicts for fact in v.rests_on}
    assert named - {"files", "handbook"} <= {"board", "levels", "chip", "displays"}
    assert {"board", "levels", "displays"} <= named
    marks = {grounds_mark(desk.good.file.plan)}
    for old, new in (('revision = "B"', 'revision = "C"'), ("240 ohm", "243 ohm"), ("20 .. 40 ohm", "20 .. 41 ohm")):
        text = desk.good.file.text
        assert old in text
        marks.add(grounds_mark(desk.survey_of(text.replace(old, new)).file.plan))
    assert len(marks) == 4


def test_pictures_are_kept_with_the_review_and_old_once_the_rigs_change(desk: Desk) -> None:
    board, files = good()
    planted = carried_out(next(m for m in MISTAKES if m.name == "lanes-crossed"), board, files)
    for name, data in planted.files.items():
        (desk.path.parent / "fab/rev-b" / name).write_bytes(data)
    run(desk)
    assert desk.good is not None
    view = desk.board.view(desk.good)
    assert view.run is not None and not view.redraw and not view.stale
    made = view.run.built["board.lane-path", "board.connectors.J1.red"]
    assert made.count("<img ") == 2 and "red and blue exchanged" in made
    change(desk, "divide = 2, repeat = 2", "divide = 1, repeat = 1")
    after = desk.board.view(desk.good)
    assert after.redraw and not after.stale, "the findings stand, the pictures do not"
    change(desk, 'divide = 1, repeat = 1, picture = "320x240"', 'divide = 2, repeat = 2, picture = "320x240"')
    assert not desk.board.view(desk.good).redraw
