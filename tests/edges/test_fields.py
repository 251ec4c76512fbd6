"""What a typed value becomes in the file, and what is told when it cannot."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from scanloom.formats.dossier_file import read_dossier
from scanloom.report.stage_sheets import SHEETS, SheetInput
from scanloom.survey import survey_plan
from scanloom.web.edit import Conflict, Refused, edited
from scanloom.web.fields import ABSENT, Typed, as_written, falls, field_views

ROOT = Path(__file__).resolve().parents[2]
FINAL = ROOT / "examples/deep-station/final.toml"


def typed(key: str, value: str, note: str = "", was: tuple[str, str] = ("", ""), item: int | None = None) -> Typed:
    return Typed(key, item, value, note, *was)


@pytest.mark.parametrize(
    ("one", "raw", "written"),
    [
        (typed("chip.rail", "3.3 V", "measured Ilse"), ABSENT, "3.3 V; measured Ilse"),
        (typed("chip.rail", "3.3 V"), "x", "3.3 V"),
        (typed("chip.rail", "  3.3   V "), "x", "3.3 V"),
        (typed("chip.rail", "3.3 V; measured Ilse", "guess"), "x", "3.3 V; measured Ilse"),
        (typed("chip.rail", " "), "x", ABSENT),
        (typed("chip.rail", "3.3 V", "measured Ilse", ("3.2 V", "measured Ilse")), "x", "3.3 V"),
        (typed("chip.rail", "3.3 V", "guess", ("3.2 V", "guess")), "x", "3.3 V; guess"),
        (typed("chip.rail", "3.2 V", "sheet, page 2", ("3.2 V", "guess")), "x", "3.2 V; sheet, page 2"),
        (typed("board.sync.h", "26"), 25, 26),
        (typed("board.connectors.J1.red", "[5, 4, 3]"), 32, [5, 4, 3]),
        (typed("rigs.two-and-four.raster.divide", "4"), 2, 4),
        (typed("rigs.two-and-four.raster.divide", "four"), 2, "four"),
        (typed("chip.rail", "75"), ABSENT, "75"),
    ],
)
def test_what_is_typed_becomes_toml(one: Typed, raw: object, written: object) -> None:
    """The last one stays text, so that the reader asks for the unit and not for quotes."""
    assert as_written(one, raw) == written


def test_only_a_value_that_changes_alone_loses_its_measurement() -> None:
    assert falls(typed("chip.rail", "2 V", "measured", ("1 V", "measured")))
    assert not falls(typed("chip.rail", "1 V", "measured", ("1 V", "measured")))
    assert not falls(typed("chip.rail", "2 V", "measured again", ("1 V", "measured")))
    assert not falls(typed("chip.rail", "2 V", "because of it", ("1 V", "because of it")))


def test_every_field_of_every_sheet_has_its_place_and_its_words() -> None:
    file = read_dossier(FINAL)
    survey = survey_plan(file.plan)
    for sheet in SHEETS:
        keys = sheet.fields(SheetInput(file.plan, survey, survey.rigs[0], "relay-4"))
        assert keys
        for key in keys:
            views = field_views(key, file.data, file.plan)
            assert views, f"{sheet.name}: {key} leads nowhere"
            assert all(view.label and view.hint for view in views)
    shown = field_views("displays.relay-4.frame_rate", file.data, file.plan)[0]
    assert shown.value == "" and "class value, a guess" in shown.stand_in


def test_edits_touch_one_value_or_say_why_not() -> None:
    file = read_dossier(FINAL)
    rail = ("3.25 .. 3.35 V", "measured 2031-01-09 Ilse, white picture")
    text = edited(file, typed("chip.rail", "3.2 .. 3.3 V", "guess", rail))
    assert text == file.text.replace("3.25 .. 3.35 V; measured 2031-01-09 Ilse, white picture", "3.2 .. 3.3 V; guess")
    assert edited(file, typed("chip.rail", *rail, ("something old", ""))) == file.text, "the file says so already"
    with pytest.raises(Conflict) as both:
        edited(file, typed("chip.rail", "3.2 V", "", ("3.0 V", "")))
    assert (both.value.value, both.value.note) == rail
    for key in ("chip", "no.such", "dossier.title", "accepted.mark", "displays.nobody.cable", ""):
        with pytest.raises(Refused):
            edited(file, typed(key, "x"))


def test_open_says_what_is_wrong_and_stops_with_the_keyboard(tmp_path: Path) -> None:
    surroundings = os.environ | {"PYTHONPATH": str(ROOT / "src")}
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = f"{taken.getsockname()[1]}"
        command = [sys.executable, "-m", "scanloom", "open", str(FINAL), "--no-browser"]
        done = subprocess.run(
            [*command, "--port", port], capture_output=True, env=surroundings, encoding="utf-8", check=False
        )
        assert done.returncode == 2 and "leave it out for any free one" in done.stderr
    process = subprocess.Popen(command, stdout=subprocess.PIPE, env=surroundings, encoding="utf-8")
    assert process.stdout is not None
    assert "is open at http://127.0.0.1:" in process.stdout.readline()
    process.send_signal(signal.SIGINT)
    assert process.wait(10) == 0
    process.stdout.close()
