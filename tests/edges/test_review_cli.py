"""`scanloom review` as a script or a person meets it."""

from __future__ import annotations

import io
import json
import re
import zipfile
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import pytest
from board_sets import folder_of, good
from jsonschema import Draft202012Validator

from demo_board import toolpaths
from demo_board.mistakes import MISTAKES
from demo_board.planting import carried_out
from scanloom.cli.app import run
from scanloom.report.schemas import schema_of

ROOT = Path(__file__).resolve().parents[2]
DOSSIER = ROOT / "examples" / "deep-station" / "final.toml"
FOLDER = ROOT / "examples" / "deep-station" / "fab" / "rev-b"


def said(*arguments: object) -> tuple[int, str, str]:
    """Exit code, output and complaints."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = run(["review", *map(str, arguments)])
    return code, out.getvalue(), err.getvalue()


@pytest.fixture
def wrong() -> Iterator[Path]:
    """A set with a bridge between two tracks."""
    board, files = good()
    planted = carried_out(next(m for m in MISTAKES if m.name == "tracks-bridged"), board, files)
    with folder_of(planted.files) as folder:
        yield folder


def test_good_set_of_the_example() -> None:
    code, out, _ = said(FOLDER, DOSSIER)
    assert code == 0
    assert "top copper" in out and "Nothing keeps this plan from being ready." in out


def test_json_fits_its_schema() -> None:
    code, out, _ = said(FOLDER, DOSSIER, "--json")
    envelope = json.loads(out)
    Draft202012Validator(schema_of("review")).validate(envelope)
    assert code == 0 and envelope["result"]["ready"] and len(envelope["result"]["files"]) == 14
    assert {v["state"] for v in envelope["verdicts"]} == {"holds"}


def test_without_a_dossier_only_files_are_judged() -> None:
    code, out, _ = said(FOLDER, "--json")
    envelope = json.loads(out)
    assert code == 0, [v["says"] for v in envelope["verdicts"] if v["state"] != "holds"]
    open_ones = {v["code"] for v in envelope["verdicts"] if v["state"] != "holds"}
    assert open_ones <= {"board.lane-path", "board.boot-pin"}


def test_what_changed_since_an_earlier_review(wrong: Path, tmp_path: Path) -> None:
    before = tmp_path / "before.json"
    before.write_text(said(wrong, DOSSIER, "--json")[1], encoding="utf-8")
    result = json.loads(said(FOLDER, DOSSIER, "--before", before, "--json")[1])["result"]
    assert any(name.startswith("board.short") for name in result["since"]["mended"]) and result["since"]["new"] == []
    before.write_text(said(FOLDER, DOSSIER, "--json")[1], encoding="utf-8")
    code, out, _ = said(wrong, DOSSIER, "--before", before)
    assert code == 1 and re.search(r"new +board\.short", out)


def test_page_needs_nothing_else_and_draws_the_place(wrong: Path, tmp_path: Path) -> None:
    page = tmp_path / "review.html"
    code, _, err = said(wrong, DOSSIER, "-o", page)
    text = page.read_text(encoding="utf-8")
    assert code == 1 and str(page) in err
    assert not re.search(r"(src|href)=|url\(|@import|<script", text)
    assert text.count('<svg class="board-crop"') == 1 and 'class="mark"' in text and "Seen from below" in text
    assert "are one piece of copper" in text


def test_prototype_page_has_sheets_differences_and_rescue(tmp_path: Path) -> None:
    files = toolpaths.milled("flipped")
    page = tmp_path / "prototype.html"
    with folder_of(files) as folder:
        code, out, _ = said(folder, folder / "prototype.toml", "--final", DOSSIER, "-o", page)
    text = page.read_text(encoding="utf-8")
    assert (
        code == 1
        and "What this prototype does not prove" in out
        and "buffered on the final board" in " ".join(out.split())
    )
    assert text.count('<svg class="board-sheet"') == 2
    width, height = (
        float(x) for x in re.search(r'board-sheet"[^>]*width="([\d.]+)mm" height="([\d.]+)mm"', text).groups()
    )  # type: ignore[union-attr]
    assert (width, height) == (60.0 + 16, 66.0 + 16 + 17), "1:1 in millimetres"
    assert (
        "as seen from the component side, not mirrored" in text
        and "mirrored left to right, since it lies below" in text
    )
    assert "U1 pin 1" in text and "from the other side" in text and "50 mm: measure this on paper" in text


def test_roles_by_hand(tmp_path: Path) -> None:
    board_files = dict(good()[1])
    odd = {("x1.art" if name.endswith("top-copper.gbr") else name): data for name, data in board_files.items()}
    with folder_of(odd) as folder:
        result = json.loads(said(folder, "--role", "x1.art=top copper", "--json")[1])["result"]
        assert next(f for f in result["files"] if f["file"] == "x1.art")["decided_by"] == "you"
        code, _, err = said(folder, "--role", "x1.art=chocolate")
        assert code == 2 and "names no role" in err
        code, _, err = said(folder, "--role", "nowhere.gbr=outline")
        assert code == 2 and "no such file" in err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("nowhere",), "no such folder"),
        ((DOSSIER,), "a single file that is no zip"),
        ((FOLDER, "nowhere.toml"), "no such file"),
        ((FOLDER, "--before", "nowhere.json"), "no such file"),
        ((FOLDER, "--before", DOSSIER), "not such an answer"),
        ((FOLDER, "-o", "nowhere/at/all.html"), "cannot be written"),
    ],
)
def test_input_that_cannot_be_read_is_told_in_one_sentence(arguments: tuple[object, ...], words: str) -> None:
    code, out, err = said(*arguments)
    assert code == 2 and out == "" and words in err and err.count(";") >= 2
    code, out, _ = said(*arguments, "--json")
    Draft202012Validator(schema_of("review")).validate(json.loads(out))
    assert code == 2 and json.loads(out)["errors"]


def test_acceptance_is_written_with_its_mark(wrong: Path, tmp_path: Path) -> None:
    dossier = tmp_path / "mine.toml"
    dossier.write_text(DOSSIER.read_text(encoding="utf-8").replace('files = "fab/rev-b"\n', ""), encoding="utf-8")
    found = json.loads(said(wrong, dossier, "--json")[1])["verdicts"]
    short = next(v for v in found if v["code"] == "board.short" and v["state"] == "fails")
    code, out, _ = said(
        wrong, dossier, "--accept", short["code"], short["subject"], "--because", "joined on purpose", "--json"
    )
    states = {(v["code"], v["subject"]): v["state"] for v in json.loads(out)["verdicts"]}
    assert code == 0 and states["board.short", short["subject"]] == "accepted"
    assert 'because = "joined on purpose"' in dossier.read_text(encoding="utf-8") and said(wrong, dossier)[0] == 0
    assert said(wrong, dossier, "--accept", "board.open", "board.files", "--because", "x")[0] == 2
    assert said(wrong, "--accept", "board.short", "x", "--because", "x")[0] == 2


def test_zip_with_nothing_of_a_board(tmp_path: Path) -> None:
    path = tmp_path / "x.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("readme.md", "tea")
    code, _, err = said(path)
    assert code == 2 and "no file of a board" in err
