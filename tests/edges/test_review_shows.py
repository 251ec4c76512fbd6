"""What displays would show, as a script, a person and a page meet it; a review without such a finding loads nothing of it."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
import time
from base64 import b64decode
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from html import unescape
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from board_sets import folder_of, good, plan_of, read_set
from jsonschema import Draft202012Validator
from PIL import Image

from demo_board.mistakes import MISTAKES
from demo_board.planting import carried_out
from scanloom.cli.app import run
from scanloom.report.schemas import schema_of
from scanloom.survey.review import review_board, shown_as_built

ROOT = Path(__file__).resolve().parents[2]
DOSSIER = ROOT / "examples" / "deep-station" / "final.toml"
FOLDER = ROOT / "examples" / "deep-station" / "fab" / "rev-b"


def said(*arguments: object) -> tuple[int, str]:
    """Exit code and output."""
    out = io.StringIO()
    with redirect_stdout(out), redirect_stderr(io.StringIO()):
        code = run(["review", *map(str, arguments)])
    return code, out.getvalue()


@pytest.fixture(scope="module")
def crossed() -> Iterator[Path]:
    """A set with red and blue of J1 exchanged."""
    board, files = good()
    planted = carried_out(next(m for m in MISTAKES if m.name == "lanes-crossed"), board, files)
    with folder_of(planted.files) as folder:
        yield folder


def test_json_carries_words_and_figures_and_no_picture(crossed: Path) -> None:
    code, out = said(crossed, DOSSIER, "--json")
    answer = json.loads(out)
    Draft202012Validator(schema_of("review")).validate(answer)
    (one,) = answer["result"]["shown"]["displays"]
    assert code == 1 and one["display"] == "hero-left" and one["rig"] == "two-and-four" and one["locks"]
    assert one["words"][0] == "red and blue exchanged" and one["apart"]["mean"] > 5 and one["apart"]["worst"] == 255
    assert [w["shows"] for w in one["white"]] == ["other", "own", "other"]
    assert {tuple(f) for f in one["findings"]} == {
        ("board.lane-path", "board.connectors.J1.red"), ("board.lane-path", "board.connectors.J1.blue"),
    }  # fmt: skip
    assert "data:image" not in out and len(out) < 300_000
    assert json.loads(said(FOLDER, DOSSIER, "--json")[1])["result"]["shown"] == {"displays": [], "not_drawn": {}}


def test_terminal_has_a_line_below_the_finding(crossed: Path) -> None:
    text = " ".join(said(crossed, DOSSIER)[1].split())
    assert text.count("hero-left would show: red and blue exchanged") == 2
    assert "would show" not in said(FOLDER, DOSSIER, "--all")[1]


def test_page_has_the_pair_with_words_for_who_does_not_see_it(crossed: Path, tmp_path: Path) -> None:
    page = tmp_path / "review.html"
    said(crossed, DOSSIER, "-o", page)
    text = page.read_text(encoding="utf-8")
    found = re.findall(r'<img src="data:image/png;base64,([^"]+)" alt="([^"]+)">', text)
    assert len(found) == 2, "one pair; the second finding of the display refers to it"
    meant, built = (np.asarray(Image.open(BytesIO(b64decode(data)))) for data, _ in found)
    assert meant.shape == built.shape == (240, 320, 3)
    # both were sampled with noise of their own colours, so the planes are alike and not the same
    assert np.abs(meant[:, :, ::-1].astype(int) - built.astype(int)).mean() < 2.0
    assert np.abs(meant.astype(int) - built.astype(int)).mean() > 8.0
    assert "red and blue exchanged" in unescape(found[1][1]) and "hero-left should show" in found[0][1]
    assert text.count("red and blue exchanged") == 3, "alternative text, caption, and the other finding"


def test_a_good_set_loads_nothing_of_the_picture() -> None:
    probe = (
        "import sys; from scanloom.cli.app import run\n"
        f"code = run(['review', {str(FOLDER)!r}, {str(DOSSIER)!r}, '--json'])\n"
        "loaded = [m for m in sys.modules if m.split('.')[0] == 'numba' or m.startswith('scanloom.survey.as_built')\n"
        "         or m in ('scanloom.stages.picture.show', 'scanloom.survey.drawn')]\n"
        "print(code, sorted(loaded), file=sys.stderr)\n"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert done.stderr.strip().endswith("0 []"), done.stderr


def test_a_good_review_is_not_slower_for_it() -> None:
    files = read_set(good()[1])
    begin = time.perf_counter()
    one = review_board(plan_of(), files)
    middle = time.perf_counter()
    assert shown_as_built(plan_of(), one) is None
    assert time.perf_counter() - middle < 0.02 * (middle - begin), (
        "measured in one run, so a busy machine does not matter"
    )


def test_what_is_not_drawn_says_why_at_its_finding(crossed: Path, tmp_path: Path) -> None:
    text = DOSSIER.read_text(encoding="utf-8")
    head, _, rest = text.partition("[[rigs]]")
    dossier = tmp_path / "bare.toml"
    dossier.write_text(head.replace('files = "fab/rev-b"\n', "") + rest[rest.index("[batch]") :], encoding="utf-8")
    out = " ".join(said(crossed, dossier)[1].split())
    assert out.count("What a display at J1 would show is not drawn: the dossier states no rig") == 2
    page = tmp_path / "review.html"
    said(crossed, dossier, "-o", page)
    assert "is not drawn: the dossier states no rig" in page.read_text(encoding="utf-8")
