"""A stop on over-current is accepted by a named person only, and stays printed first in page and report."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from scanloom.formats.dossier_file import read_dossier
from scanloom.report.html_report import html_report
from scanloom.report.open_verdicts import accepted_harm
from scanloom.survey import survey_plan
from scanloom.survey.accepting import NotAcceptable, accepted_text
from scanloom.web.desk import Desk
from scanloom.web.edit import Refused
from scanloom.web.routes import Pages
from scanloom.web.view import address
from scanloom.web.watch import Watch

ROOT = Path(__file__).resolve().parents[2]
CODE, SUBJECT = "levels.pin-current", "displays.hero-left.red"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Hardly any resistance between pin and a load of 20 ohm: over any rating."""
    text = (ROOT / "examples/deep-station/final.toml").read_text(encoding="utf-8")
    text = text.replace('part = "240 ohm ± 1 %"', 'part = "1 ohm ± 1 %"').replace('"75 ohm ± 2 %;', '"20 ohm ± 2 %;')
    target = tmp_path / "hot.toml"
    target.write_text(text, encoding="utf-8")
    return target


def test_without_a_name_it_is_refused_with_one_it_counts_and_comes_first(path: Path) -> None:
    desk = Desk(path, "hot.toml")
    desk.reload()
    with pytest.raises(Refused, match="must be named"):
        desk.accept(CODE, SUBJECT, "only for a minute", None, " ")
    desk.accept(CODE, SUBJECT, "only for a minute", None, "Ilse")
    entry = tomllib.loads(path.read_text(encoding="utf-8"))["accepted"][-1]
    assert (entry["by"], entry["because"]) == ("Ilse", "only for a minute")
    assert desk.good is not None
    accepted = [v for v in desk.good.survey.verdicts if (v.code, v.subject) == (CODE, SUBJECT)]
    assert {v.state for v in accepted} == {"accepted"}
    assert len(accepted_harm(desk.good.survey)) == 1
    report = html_report(desk.good.file, desk.good.survey)
    assert report.index("only for a minute (Ilse)") < report.index('id="open"')
    at = address(desk, "timing", "", "")
    assert at is not None
    page = Pages(desk, Watch(desk), "token")._page(at)
    assert page.index("only for a minute (Ilse)") < page.index('id="strip"')


def test_one_whose_name_was_taken_out_by_hand_does_not_count(path: Path) -> None:
    file = read_dossier(path)
    text = accepted_text(file, survey_plan(file.plan), CODE, SUBJECT, "only for a minute", by="Ilse")
    path.write_text(text.replace('by = "Ilse"\n', ""), encoding="utf-8")
    survey = survey_plan(read_dossier(path).plan)
    verdict = next(v for v in survey.verdicts if (v.code, v.subject) == (CODE, SUBJECT))
    assert verdict.state == "stale" and verdict.settle is not None and 'by = "name"' in verdict.settle.what
    assert survey.blocks(verdict)


def test_other_checks_need_no_name(path: Path) -> None:
    file = read_dossier(path)
    survey = survey_plan(file.plan)
    text = accepted_text(file, survey, "levels.white", SUBJECT, "looks well enough")
    assert "by" not in tomllib.loads(text)["accepted"][-1]
    with pytest.raises(NotAcceptable, match="is no check of this survey"):
        accepted_text(file, survey, "levels.whit", SUBJECT, "x")
