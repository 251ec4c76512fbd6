"""A page and a text editor write one file at the same time: 200 edits, none lost silently, the file always whole."""

from __future__ import annotations

import random
import re
import threading
import tomllib
from pathlib import Path

import pytest

from scanloom.formats.text_file import FileFault, read_text
from scanloom.formats.text_write import file_sha256, write_text_atomically
from scanloom.web.desk import Desk
from scanloom.web.edit import Conflict, Refused
from scanloom.web.fields import Typed, as_shown, read_at

ROOT = Path(__file__).resolve().parents[2]
EDITS = 100
"""Of each editor. [1]"""
ROUNDS = 15
"""Edits of each value when nobody waits for anybody. [1]"""
PAGE_KEYS = ("chip.rail", "chip.pin_high", "supply.air", "chip.keep_back")
VALUES = {
    "chip.rail": "{:.3f} .. 3.400 V; guess",
    "chip.pin_high": "{:.3f} .. 40 ohm; guess",
    "supply.air": "{:.3f} degC; guess",
    "chip.keep_back": "{} B; because tried",
}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    target = tmp_path / "dossier.toml"
    # without its rigs, so that a survey costs next to nothing: here it is the file that matters
    text = (ROOT / "examples/deep-station/final.toml").read_text(encoding="utf-8").split("[[rigs]]")[0]
    target.write_text(text, encoding="utf-8")
    return target


def new_value(key: str, number: int) -> str:
    if key == "chip.keep_back":
        return VALUES[key].format(20_000 + 4 * number)
    number %= 300  # so that spans stay in order
    return VALUES[key].format(3 + number / 1000 if key == "chip.rail" else 20 + number / 100)


def page_edit(desk: Desk, key: str, number: int, was: tuple[str, str]) -> str:
    """One edit as the page sends it: written, refused, or in conflict."""
    value, _, note = new_value(key, number).partition("; ")
    try:
        desk.write(Typed(key, None, value, note, *was))
    except Conflict:
        return "conflict"
    except Refused as error:
        return f"refused: {error}"
    return "written"


def shown(desk: Desk, key: str) -> tuple[str, str]:
    assert desk.good is not None
    return as_shown(read_at(desk.good.file.data, tuple(key.split("."))))


def editor_edit(path: Path, key: str, number: int) -> None:
    """What a careful text editor does: it saves over nothing that it has not shown."""
    for _ in range(1000):
        text = read_text(path)
        name = key.rpartition(".")[2]
        changed = re.sub(
            rf'^({name} = )"[^"\n]*"', rf'\g<1>"{new_value(key, number)}"', text, count=1, flags=re.MULTILINE
        )
        try:
            write_text_atomically(path, changed, file_sha256(text))
        except FileFault:
            continue
        return
    raise AssertionError("the text editor never got its turn")


def test_two_hundred_interleaved_edits(path: Path) -> None:
    """Both change the same four values; each keeps a log, and the log explains the file."""
    original = path.read_text(encoding="utf-8")
    comments = re.findall(r"#[^\n]*", original)
    desk = Desk(path, "dossier.toml")
    desk.reload()
    chance = random.Random(11)
    log: list[tuple[str, str, str]] = []
    for number in range(EDITS):
        key = chance.choice(PAGE_KEYS)
        was = shown(desk, key)
        theirs = chance.choice(PAGE_KEYS)
        editor_edit(path, theirs, 5000 + number)  # after the page was painted, before its edit arrives
        log.append(("editor", theirs, new_value(theirs, 5000 + number)))
        outcome = page_edit(desk, key, number, was)
        # a value that both changed is never written over unseen; any other goes through
        assert outcome == ("conflict" if theirs == key else "written"), outcome
        if outcome == "written":
            log.append(("page", key, new_value(key, number)))
        desk.reload()
        text = path.read_text(encoding="utf-8")
        data = tomllib.loads(text)
        last = {key: value for _, key, value in log}
        for name, value in last.items():
            assert read_at(data, tuple(name.split("."))) == value
        assert re.findall(r"#[^\n]*", text) == comments
    assert sum(who == "editor" for who, *_ in log) == EDITS
    changed = [
        (a, b)
        for a, b in zip(original.splitlines(), path.read_text(encoding="utf-8").splitlines(), strict=True)
        if a != b
    ]
    assert len(changed) == len(PAGE_KEYS), "only the edited lines differ"


def test_edits_at_the_very_same_time(path: Path) -> None:
    """Two threads without any order between them, each on values of its own: every edit is in the file or was told."""
    comments = re.findall(r"#[^\n]*", path.read_text(encoding="utf-8"))
    desk = Desk(path, "dossier.toml")
    desk.reload()
    stop, seen_whole = threading.Event(), []

    def editor() -> None:
        for number in range(ROUNDS):
            editor_edit(path, "supply.air", number)
            editor_edit(path, "chip.rail", number)

    def reader() -> None:
        while not stop.is_set():
            text = path.read_text(encoding="utf-8")
            seen_whole.append(bool(tomllib.loads(text)) and re.findall(r"#[^\n]*", text) == comments)

    threads = [threading.Thread(target=editor), threading.Thread(target=reader)]
    for thread in threads:
        thread.start()
    outcomes = []
    for number in range(ROUNDS):
        for key in ("chip.pin_high", "chip.keep_back"):
            outcome = page_edit(desk, key, number, shown(desk, key))
            outcomes.append((key, number, outcome))
    threads[0].join(60)
    stop.set()
    threads[1].join(10)
    assert not threads[0].is_alive() and seen_whole and all(seen_whole)
    assert {outcome for *_, outcome in outcomes} <= {
        "written",
        "refused: another editor writes all the time; one at a time may; try again in a moment",
    }
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    last = {"supply.air": ROUNDS - 1, "chip.rail": ROUNDS - 1}
    last |= {key: number for key, number, outcome in outcomes if outcome == "written"}
    for key, number in last.items():
        assert read_at(data, tuple(key.split("."))) == new_value(key, number)


def test_undo_never_takes_back_what_another_editor_wrote(path: Path) -> None:
    desk = Desk(path, "dossier.toml")
    desk.reload()
    before = path.read_text(encoding="utf-8")
    assert page_edit(desk, "chip.rail", 1, shown(desk, "chip.rail")) == "written"
    editor_edit(path, "supply.air", 7)
    with pytest.raises(Refused, match="has changed since in another editor"):
        desk.undo()
    assert new_value("supply.air", 7) in path.read_text(encoding="utf-8")
    editor_edit_back = path.read_text(encoding="utf-8").replace(new_value("supply.air", 7), "35 degC; guess")
    path.write_text(editor_edit_back, encoding="utf-8")
    desk.reload()
    desk.undo()
    assert path.read_text(encoding="utf-8") == before
