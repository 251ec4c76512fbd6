"""Work that a sheet does only when asked: it says what the stages say, is kept, goes stale, and never slows an edit."""

from __future__ import annotations

import asyncio
import io
import re
import shutil
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import numpy as np
import pytest
from drawing_laws import check_drawing
from PIL import Image

from scanloom.dossier.reading import Reading
from scanloom.formats.dossier_file import read_dossier
from scanloom.report.drawings.locks import lock_rows
from scanloom.report.on_request import inputs_mark
from scanloom.report.requested import APART_TIMES, PICTURES, answer_passings, answer_pictures, averaged_down
from scanloom.report.stage_sheets import SheetInput
from scanloom.stages.levels.edges_plan import measure_sync_edges, measure_sync_passings
from scanloom.stages.picture.effects import Effects
from scanloom.stages.picture.model import usual_front_end
from scanloom.stages.picture.patterns import PATTERNS
from scanloom.survey import survey_plan
from scanloom.survey.drawn import draw_pattern
from scanloom.web.desk import Desk
from scanloom.web.routes import Pages
from scanloom.web.watch import Watch

FINAL = Path(__file__).resolve().parents[2] / "examples/deep-station/final.toml"
FILE = read_dossier(FINAL)
SURVEY = survey_plan(FILE.plan)
GIVEN = SheetInput(FILE.plan, SURVEY, SURVEY.rigs[0], "hero-left")
ASK = {"sheet": "picture", "rig": "two-and-four", "display": "hero-left", "request": "shown", "choice": "bars"}


class Asked:
    """The page of a copy of the demo, asked without a socket; what guards it is tested elsewhere."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "dossier.toml"
        shutil.copy(FINAL, self.path)
        self.desk = Desk(self.path, "dossier.toml")
        self.desk.reload()
        self.app = Pages(self.desk, Watch(self.desk), "token").app()

    def get(self, path: str) -> tuple[int, str]:
        return self._ask("GET", path, b"")

    def post(self, path: str, form: dict[str, str]) -> tuple[int, str]:
        return self._ask("POST", path, urlencode(form).encode())

    def _ask(self, method: str, path: str, body: bytes) -> tuple[int, str]:
        """One request by the rules of ASGI 3."""
        sent: list[Any] = []
        place, _, query = path.partition("?")
        scope = {
            **{"type": "http", "method": method, "path": place, "query_string": query.encode(), "http_version": "1.1"},
            "headers": [(b"content-type", b"application/x-www-form-urlencoded"), (b"host", b"127.0.0.1")],
        }

        async def receive() -> Any:
            return {"type": "http.request", "body": body, "more_body": False}

        async def send(message: Any) -> None:
            sent.append(message)

        async def call() -> None:
            await self.app(scope, receive, send)

        with ThreadPoolExecutor(1) as pool:  # a thread of its own: a browser test may have left a loop in this one
            pool.submit(lambda: asyncio.run(call())).result()
        text = b"".join(message.get("body", b"") for message in sent[1:])
        return sent[0]["status"], text.decode("utf-8", "replace")


@pytest.fixture
def live(tmp_path: Path) -> Asked:
    return Asked(tmp_path)


def test_pictures_on_offer_are_those_there_are() -> None:
    assert tuple(PICTURES) == PATTERNS


def test_passings_are_the_edges_of_the_command() -> None:
    """Two roads to the same figures: the edge's own times, and what the command prints."""
    reading = Reading(FILE.plan, FILE.plan.rigs[0])
    assert GIVEN.rig.levels is not None
    channels = GIVEN.rig.levels.channels
    passings = measure_sync_passings(reading, channels)
    edges = {one.display: one.edges.value for one in measure_sync_edges(reading, channels)}
    assert [one.display for one in passings] == list(edges)
    for one in passings:
        found, told = one.passings.value, edges[one.display]
        both = (found.rising, found.falling)
        assert max(edge.between_s or 0.0 for edge in both) == told.between_s
        assert found.colour_s is not None and told.rise_after_s is not None
        assert found.rising.middle_s == pytest.approx(found.colour_s + told.rise_after_s)
        assert all(
            edge.first_s is not None and edge.middle_s is not None and edge.last_s is not None
            and edge.first_s < edge.middle_s < edge.last_s
            for edge in both
        )  # fmt: skip


def test_passings_are_drawn_at_both_widths_or_the_reason_is_told() -> None:
    (one,) = answer_passings(GIVEN, "").drawings
    check_drawing(one)
    assert one.table is not None and len(one.table.rows) == 12
    with pytest.raises(ValueError, match="what is missing"):
        answer_passings(replace(GIVEN, rig=replace(GIVEN.rig, levels=None)), "")


@pytest.mark.parametrize(("locks", "word"), [(True, "locks"), (False, "no lock"), (None, "perhaps")])
def test_each_kind_of_lock_has_a_word_and_a_shape(locks: bool | None, word: str) -> None:
    picture = GIVEN.rig.picture
    assert picture is not None
    first = replace(
        picture.displays[0], locks=locks, why_not="" if locks else "the line rate is refused; it would stay dark"
    )
    one = lock_rows(replace(GIVEN.rig, picture=replace(picture, displays=(first,))))
    assert one is not None
    check_drawing(one)
    assert f">{word}<" in one.wide and f">{word}<" in one.narrow
    assert one.wide.count('class="sp"') == (4 if locks else 0)
    assert one.wide.count('class="sp gs"') == (4 if locks is None else 0)


def test_pictures_are_those_of_the_stand_in_display() -> None:
    answer = answer_pictures(GIVEN, "text")
    drawn = draw_pattern(FILE.plan, SURVEY, GIVEN.rig, "text", Effects(), usual_front_end({}))
    for one in drawn.displays:
        read = {
            kind: np.asarray(Image.open(io.BytesIO(answer.of(kind, one.path.name)[0].png)))
            for kind in ("shown", "ideal", "apart")
        }
        assert np.array_equal(read["shown"], one.shown.native)
        assert np.array_equal(read["ideal"], one.ideal.native)
        apart = np.abs(read["shown"].astype(int) - read["ideal"].astype(int))
        assert np.array_equal(read["apart"], np.minimum(apart * APART_TIMES, 255))
    assert answer.table is not None and len(answer.table.rows) == len(drawn.displays)
    assert any("illustration" in words for words in answer.words)
    assert {v.weight for v in answer.verdicts} == {"note"}


@pytest.mark.parametrize("sent", [1, 2])
def test_overview_of_a_fine_checker_is_even_grey(sent: int) -> None:
    checker = np.repeat(
        ((np.indices((480, 640)) // sent).sum(axis=0) % 2 * 255).astype(np.uint8)[:, :, None], 3, axis=2
    )
    small, side = averaged_down(checker)
    assert side == 4 and small.shape == (120, 160, 3)
    assert set(np.unique(small)) == {128}


def test_mark_moves_with_the_signal_and_with_nothing_else() -> None:
    before = inputs_mark(GIVEN, FILE.data)
    assert inputs_mark(GIVEN, FILE.data | {"room": {"seats": {}}, "batch": {}}) == before
    assert inputs_mark(GIVEN, FILE.data | {"levels": {}}) != before
    assert inputs_mark(replace(GIVEN, rig=SURVEY.rigs[1]), FILE.data) != before


def test_answer_is_kept_goes_stale_and_comes_back(live: Asked) -> None:
    assert "Draw the pictures" in live.get("/sheet/picture")[1]
    status, text = live.post("/ask", ASK)
    assert status == 200 and "furthest from what it should show" in text
    names = set(re.findall(r"/picture/([0-9a-f]+)", text))
    assert len(names) >= 4
    assert live.get("/picture/none")[0] == 404
    again = live.get("/sheet/picture?rig=two-and-four&display=hero-left")[1]
    assert names <= set(re.findall(r"/picture/([0-9a-f]+)", again)) and "has changed since" not in again
    good = live.path.read_text(encoding="utf-8")
    edit = {
        "key": "levels.colour.part",
        "value": "249 ohm ± 1 %",
        "was-value": "240 ohm ± 1 %",
        "note": "",
        "was-note": "",
    }
    assert "has changed since" in live.post("/look", ASK | edit)[1], "even before it is written"
    live.post("/write", ASK | edit)
    assert "249" in live.path.read_text(encoding="utf-8")
    assert "has changed since" in live.get("/sheet/picture?rig=two-and-four")[1]
    live.post("/undo", ASK)
    assert live.path.read_text(encoding="utf-8") == good
    assert "has changed since" not in live.get("/sheet/picture?rig=two-and-four")[1]


def test_what_no_sheet_offers_is_not_done(live: Asked) -> None:
    assert live.post("/ask", ASK | {"request": "passings"})[0] == 400
    assert live.post("/ask", ASK | {"sheet": "facts"})[0] == 400


def test_nothing_to_draw_is_told_in_words(live: Asked) -> None:
    live.path.write_text('[dossier]\nformat = 1\n[[rigs]]\nname = "two-and-four"\n', encoding="utf-8")
    live.desk.reload()
    told = live.post("/ask", ASK)[1]
    assert "Nothing to show: " in told and "/picture/" not in told
