"""Computed rasters in a dossier: what is said of them, who must have seen them, and the ways back to a listed parent."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from scanloom.basis.verdict import Verdict
from scanloom.formats.dossier_file import read_dossier_text
from scanloom.formats.input_error import InputError
from scanloom.handbook.formulas import FORMULAS, aspect_sync_lines, formula_named
from scanloom.handbook.sources import source
from scanloom.stages.timing import asked_timing, formula_cautions, formula_row, formula_timing, timing_named
from scanloom.stages.timing.formula_words import known_parent
from scanloom.survey import Survey, survey_plan
from scanloom.survey.trial import Trial, try_patches

HERE = Path(__file__).parent / "test.toml"


def text(raster: str, *, proved: str = "[]", rates: str = "30 .. 60 kHz; sheet", rig: str = "") -> str:
    return f"""
[dossier]
format = 1
[chip]
like = "rp2040"
drive = "12 mA; because"
[[displays]]
name = "a"
line_rate = "{rates}"
frame_rate = "50 .. 75 Hz; sheet"
colour_load = "75 ohm; measured"
proved = {proved}
[board]
sync = {{ h = 6, v = 7 }}
connectors = [{{ name = "J1", plugs = "a", red = 0, green = 1, blue = 2 }}]
[[rigs]]
name = "r"
stream = "8 lanes"
firmware = "bare"
raster = {{ {raster} }}
depth = {{ a = {{ red = 1, green = 1, blue = 1 }} }}
{rig}
"""


def survey(raster: str, **more: str) -> Survey:
    return survey_plan(read_dossier_text(text(raster, **more), HERE).plan)


def one(found: Survey, code: str) -> Verdict:
    (match,) = [v for v in found.verdicts if v.code == code]
    return match


def tried(raster: str, verdict: Verdict, number: int = 0, **more: str) -> Trial:
    patch = verdict.remedy[number]
    return try_patches(read_dossier_text(text(raster, **more), HERE), [(patch.key, patch.value)])


WIDE = 'parent = "1000x600@60", formula = "cvt"'
SMALL = 'parent = "320x240@60", formula = "cvt-rb1"'


def test_a_computed_raster_is_a_caution_that_rests_on_parent_formula_and_the_handbook() -> None:
    found = survey(WIDE)
    said = one(found, "timing.formula")
    assert (said.subject, said.rig, said.state, said.weight) == ("rigs.r.raster.formula", "r", "fails", "caution")
    assert "1000x600@60 by cvt is computed and in no display's list" in said.says
    keys = [fact.key for fact in said.rests_on]
    assert keys == ["rigs.r.raster.parent", "rigs.r.raster.formula", "handbook.formulas.cvt"]
    assert said.on_guess and not said.remedy  # from memory; no listed timing is meant
    assert not [v for v in found.verdicts if v.code == "timing.parent"]
    plan = found.rigs[0].timing
    assert plan is not None and plan.cautions == (said.says,)
    assert (plan.raster.value.parent, plan.raster.value.formula) == ("1000x600@60 by cvt", "cvt")


def test_a_listed_parent_says_nothing_of_formulas() -> None:
    found = survey('parent = "800x600@60"')
    assert not [v for v in found.verdicts if v.code == "timing.formula"]
    plan = found.rigs[0].timing
    assert plan is not None and plan.cautions == () and plan.raster.value.formula is None


def test_it_may_be_accepted() -> None:
    accepted = '[[accepted]]\ncode = "timing.formula"\nsubject = "rigs.r.raster.formula"\nbecause = "ran an hour"\n'
    stale = survey(WIDE, rig=accepted)
    assert one(stale, "timing.formula").state == "stale"
    settle = one(stale, "timing.formula").settle
    assert settle is not None
    mark = settle.what.partition('mark = "')[2].partition('"')[0]
    assert one(survey(WIDE, rig=f'{accepted}mark = "{mark}"\n'), "timing.formula").state == "accepted"
    narrow = survey('parent = "1000x600@56", formula = "cvt"', rig=f'{accepted}mark = "{mark}"\n')
    assert one(narrow, "timing.formula").state == "stale"


def test_a_small_one_is_sent_back_to_a_child_with_the_same_picture() -> None:
    said = one(survey(SMALL), "timing.formula")
    assert "Never compute a timing below about 640x480: use a child of a standard parent" in said.says
    assert 'for example parent = "640x480@60", divide = 2, repeat = 2' in said.says
    (patch,) = said.remedy
    assert (patch.key, patch.value) == ("rigs.r.raster", '{ parent = "640x480@60", divide = 2, repeat = 2 }')
    then = tried(SMALL, said).survey
    assert one(then, "timing.parent").state == "holds"
    image = then.rigs[0].timing.image if then.rigs[0].timing else None
    assert image is not None and (image.value.picture_px, image.value.image_rows) == (320, 240)


def test_the_stored_picture_decides_which_child() -> None:
    divided = 'parent = "512x384@60", formula = "cvt", divide = 2, repeat = 2'
    then = tried(divided, one(survey(divided), "timing.formula")).survey
    image = then.rigs[0].timing.image if then.rigs[0].timing else None
    assert image is not None and (image.value.picture_px, image.value.image_rows) == (256, 192)
    assert one(then, "timing.divide").state == "holds"


def test_a_listed_one_is_named_instead_and_keeps_the_rest_of_the_raster() -> None:
    raster = 'parent = "1280x800@60", formula = "cvt", divide = 2, repeat = 2, picture = "600x400"'
    said = one(survey(raster, rates="30 .. 90 kHz; sheet"), "timing.formula")
    assert "is the published timing 1280x800@60: name that" in said.says
    assert said.remedy[0].value == '{ parent = "dmt:0x1C", divide = 2, repeat = 2, picture = "600x400" }'
    then = tried(raster, said, rates="30 .. 90 kHz; sheet").survey
    assert one(then, "timing.parent").state == "holds"
    assert then.rigs[0].timing is not None
    assert then.rigs[0].timing.raster.value.pixel_clock_hz == Fraction(83_500_000, 2)


@pytest.mark.parametrize(
    ("raster", "words"),
    [
        ('parent = "640x360@60", formula = "gtf"', "front porch 0, so there is no such raster"),
        ('parent = "0x600@60", formula = "cvt"', "8 to 16384 pixels"),
        ('parent = "800x600@1200", formula = "cvt"', "1 to 1000 frames a second"),
        ('parent = "dmt:0x09", formula = "cvt"', "a formula takes a size and a rate"),
        ('parent = "1280x768@60-rb", formula = "cvt"', "a formula takes a size and a rate"),
    ],
)
def test_no_raster_no_plan(raster: str, words: str) -> None:
    found = survey(raster)
    said = one(found, "timing.formula")
    assert (said.state, said.weight) == ("fails", "stop")
    assert words in said.says
    assert found.rigs[0].timing is None
    assert any(v.code == "survey.waits-on" for v in found.verdicts)


def test_a_computed_name_alone_is_no_parent() -> None:
    said = one(survey('parent = "1000x600@60 by cvt"'), "timing.parent")
    assert said.state == "fails"
    assert 'write parent = "1000x600@60", formula = "cvt"' in said.says


def test_rounded_width_is_told() -> None:
    found = survey('parent = "1366x768@60", formula = "cvt"', rates="30 .. 90 kHz; sheet")
    assert "1366 pixels are no multiple of 8, so the formula makes them 1360." in one(found, "timing.formula").says
    assert found.rigs[0].timing is not None and found.rigs[0].timing.raster.value.h.active_px == 1360


@pytest.mark.parametrize(
    ("raster", "proved", "state"),
    [
        (WIDE, '["1000x600@60 by cvt; measured"]', "holds"),
        (WIDE, '["1000x600@60 BY CVT; measured"]', "holds"),
        (WIDE, '["1007x600@60 by cvt; measured"]', "holds"),  # rounded to the same cells: the same raster
        (WIDE, '["1000x600@60 by cvt-rb1; measured"]', "fails"),  # other porches
        (WIDE, '["1000x600@56 by cvt; measured"]', "fails"),
        (WIDE, '["800x600@60; measured"]', "fails"),
        ('parent = "800x600@60", formula = "cvt"', '["800x600@60; measured"]', "fails"),  # DMT has another one
        ('parent = "1280x800@60", formula = "cvt"', '["1280x800@60; measured"]', "holds"),  # DMT has this very one
        ('parent = "1280x800@60"', '["1280x800@60 by cvt; measured"]', "holds"),
        ('parent = "800x600@60"', '["1000x600@60 by cvt; measured"]', "fails"),
    ],
)
def test_a_proof_covers_the_same_raster_and_no_other(raster: str, proved: str, state: str) -> None:
    found = survey(raster, proved=proved)
    assert one(found, "screens.not-promised").state == state
    # a proof does not take the caution away: accepting it is the maker's word
    assert [v.state for v in found.verdicts if v.code == "timing.formula"] in ([], ["fails"])


def test_the_rate_of_a_proof_counts_where_only_a_class_speaks() -> None:
    plain = text(WIDE, proved='["1000x600@60 by cvt; measured"]')
    classed = plain.replace('line_rate = "30 .. 60 kHz; sheet"\n', 'like = "monitor, green, 12 inch"\n')
    found = survey_plan(read_dossier_text(classed, HERE).plan)
    (line,) = [v for v in found.verdicts if v.code == "screens.rate" and v.subject.endswith("line_rate")]
    assert line.state == "holds" and "1000x600@60 by cvt" in line.says


def test_a_refused_raster_is_left_with_its_formula() -> None:
    """The other parents that all displays accept are listed ones: the formula must not go with them."""
    raster = f'{WIDE}, divide = 2, repeat = 2, picture = "400x240"'
    rates = "31 .. 32 kHz; sheet"
    found = survey(raster, rates=rates)
    (line,) = [v for v in found.verdicts if v.code == "screens.rate" and v.subject.endswith("line_rate")]
    assert line.state == "fails" and line.remedy
    for patch in line.remedy:
        assert patch.key == "rigs.r.raster" and "formula" not in patch.value
        assert 'divide = 2, repeat = 2, picture = "400x240"' in patch.value
    then = tried(raster, line, rates=rates).survey
    assert not [v for v in then.verdicts if v.code == "timing.formula"]
    assert one(then, "timing.parent").state == "holds"


def test_a_smaller_picture_keeps_the_formula() -> None:
    found = survey(WIDE, rig="frames = 1")
    blocks = one(found, "memory.blocks")
    assert blocks.state == "fails" and blocks.remedy
    for patch in blocks.remedy:
        assert 'parent = "1000x600@60", formula = "cvt", ' in patch.value
        file = read_dossier_text(text(WIDE, rig="frames = 1"), HERE)
        assert try_patches(file, [(patch.key, patch.value)]).survey.rigs[0].timing is not None


@pytest.mark.parametrize(
    ("raster", "proved", "words"),
    [
        ('parent = "1000x600@60", formula = "cvt-rb3"', "[]", "'cvt-rb3' is no formula; 'cvt', 'cvt-rb1', 'cvt-rb2', 'gtf'"),
        (WIDE, '["1000x600@60 by cvt3"]', "formula 'cvt3': not in the handbook; cvt, cvt-rb1, cvt-rb2, gtf are allowed"),
        (WIDE, '["640x360@60 by gtf"]', "front porch 0, so there is no such raster"),
        (WIDE, '["wide by cvt"]', "a formula takes a size and a rate"),
    ],
)  # fmt: skip
def test_names_that_lead_nowhere_are_faults_of_the_file(raster: str, proved: str, words: str) -> None:
    with pytest.raises(InputError) as error:
        read_dossier_text(text(raster, proved=proved), HERE)
    (fault,) = error.value.faults
    assert words in fault.text and fault.line > 0


def test_rates_are_taken_to_the_last_digit() -> None:
    assert asked_timing("1000×600@59.94") == (1000, 600, Fraction("59.94"))
    assert timing_named("4096x2160@59.94 by cvt-rb2").pixel_clock_hz == 556_187_000  # 59.94 is not 60000 / 1001
    for given in ("1000x600", "1000x600@", "1000x600@60i", "1000 by 600", "1000x600@59.9400001", "-8x600@60"):
        with pytest.raises(ValueError, match="a formula takes a size and a rate, with up to six decimals"):
            asked_timing(given)


def test_least_porch_of_nothing_is_refused_and_still_computed() -> None:
    """GTF at 320x200 and 60 Hz has a front porch of -16 pixels: so the formula has it."""
    assert formula_row(formula_named("gtf"), 320, 200, Fraction(60)).h_front_px == -16
    with pytest.raises(ValueError, match=r"^320x200@60 by gtf: the formula makes horizontal front porch -16"):
        formula_timing("gtf", 320, 200, Fraction(60))


def test_a_raster_without_a_clock_is_refused() -> None:
    with pytest.raises(ValueError, match="pixel clock 0"):
        formula_timing("cvt-rb1", 8, 1, Fraction(1))


def test_formulas_are_known_from_memory_and_count_as_guesses() -> None:
    for name in FORMULAS:
        formula = formula_named(name)
        assert source(formula.source).standing == "recalled"
        assert (formula.curve is None) != (formula.h_blank_px is None)
        assert known_parent("1000x600@60", name).facts[0].is_guess
    with pytest.raises(ValueError, match="formula 'cvt2': not in the handbook; cvt, cvt-rb1, cvt-rb2, gtf are allowed"):
        formula_named("cvt2")


@pytest.mark.parametrize(
    ("px", "lines", "sync"),
    [  # VESA CVT, from memory: lines of vertical sync for 4:3, 16:9, 16:10, 5:4, 15:9 and any other
        (640, 480, 4), (1360, 768, 5), (848, 480, 5), (1280, 800, 6), (1280, 1024, 7), (1280, 768, 7), (720, 400, 10),
    ],
)  # fmt: skip
def test_sync_tells_the_aspect_ratio(px: int, lines: int, sync: int) -> None:
    assert aspect_sync_lines(px, lines, 8) == sync


def test_a_missed_rate_is_told() -> None:
    told = formula_cautions(formula_timing("cvt", 320, 200, Fraction(50)))
    assert told[1] == "It comes to 46.296 frames a second, not to the 50 asked for."
    assert len(formula_cautions(formula_timing("cvt-rb2", 1000, 600, Fraction(60)))) == 1
    assert formula_cautions(timing_named("640x480@60")) == ()
