"""Identification blocks through the survey: what they promise, allow and refuse, and what rests on them."""

from __future__ import annotations

from pathlib import Path

import edid_blocks as make
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scanloom.basis.verdict import Verdict
from scanloom.dossier.leaf import plant
from scanloom.dossier.model import Dossier
from scanloom.dossier.plan import make_plan
from scanloom.formats.dossier_file import read_dossier_text
from scanloom.formats.edid import read_edid
from scanloom.formats.input_error import InputError
from scanloom.handbook.chips import chip, display_classes
from scanloom.handbook.sources import source
from scanloom.survey import Survey, survey_plan

DESK = make.base(video=0x08, established="2108c0", descriptors=[make.ranges((50, 75), (30, 60), 8)])
"""640x480@60, 800x600@60, 1024x768@60; 50 to 75 Hz, 30 to 60 kHz, 80 MHz; separate syncs."""
LISTED_ONLY = make.base(video=0x08, established="a00000")
"""640x480@60 and 720x400@70, no range limits."""


def survey(folder: Path, displays: str, parent: str = "640x480@60", divide: int = 1, **blocks: bytes) -> Survey:
    """Survey of a dossier beside which blocks lie as files."""
    for name, data in blocks.items():
        (folder / f"{name}.bin").write_bytes(data)
    text = (
        "[dossier]\nformat = 1\n[chip]\nlike = 'rp2040'\n"
        f"{displays}\n[[rigs]]\nname = 'r'\nraster = {{ parent = '{parent}', divide = {divide} }}\n"
    )
    return survey_plan(read_dossier_text(text, folder / "dossier.toml").plan)


def one_display(extra: str = "") -> str:
    return f"[[displays]]\nname = 'a'\nedid = 'a.bin'\n{extra}"


def one(found: Survey, code: str, subject: str) -> Verdict:
    (verdict,) = (v for v in found.verdicts if (v.code, v.subject) == (code, subject))
    return verdict


def status(found: Survey, name: str = "a") -> str:
    screens = found.rigs[0].screens
    assert screens is not None
    return next(a.status for a in screens.answers if a.display == name)


def codes(found: Survey) -> set[str]:
    return {v.code for v in found.verdicts}


@pytest.mark.parametrize(
    ("parent", "expected"),
    [
        ("640x480@60", "promised"),
        ("800x600@56", "promised"),
        ("1024x768@75", "promised"),
        ("640x350@70", "allowed by range, not promised"),  # as two manuals of small projectors leave them out too
        ("640x400@70", "allowed by range, not promised"),
        ("720x400@70", "allowed by range, not promised"),
        ("848x480@60", "allowed by range, not promised"),
        ("1920x1200@85", "refused"),  # 281.25 MHz and 107 kHz
    ],
)
def test_what_one_projector_publishes(tmp_path: Path, parent: str, expected: str) -> None:
    found = survey(tmp_path, one_display(), parent, a=make.PROJECTOR)
    assert status(found) == expected


def test_a_promise_of_the_block_holds_without_a_guess(tmp_path: Path) -> None:
    found = survey(tmp_path, one_display(), "640x480@60", 2, a=make.PROJECTOR)
    promise = one(found, "screens.not-promised", "displays.a")
    assert (promise.state, promise.on_guess, promise.says) == (
        "holds", False, "The identification block of a lists 640x480@60.",
    )  # fmt: skip
    for what in ("line_rate", "frame_rate", "pixel_clock"):
        rate = one(found, "screens.rate", f"displays.a.{what}")
        assert rate.state == "holds"
        assert any(f.key == "displays.a.edid" and f.origin == "sheet" for f in rate.rests_on), what


def test_a_raster_allowed_by_range_is_held_against_the_range(tmp_path: Path) -> None:
    found = survey(tmp_path, one_display(), "720x400@70", a=make.PROJECTOR)
    for what, low, high, typical in (
        ("line_rate", 30e3, 100e3, 31469.0),
        ("frame_rate", 50, 120, 70.09),
        ("pixel_clock", None, 170e6, 28.322e6),
    ):
        rate = one(found, "screens.rate", f"displays.a.{what}")
        assert rate.limit is not None and rate.found is not None
        assert (rate.state, rate.weight, rate.limit.low, rate.limit.high) == ("holds", "stop", low, high)
        assert rate.found.typical == pytest.approx(typical, rel=5e-3)
    not_promised = one(found, "screens.not-promised", "displays.a")
    assert (not_promised.state, not_promised.weight) == ("fails", "caution")


def test_a_listed_720x400_promises_no_640x400(tmp_path: Path) -> None:
    """They differ in clock and width only, and that is enough: the display samples at its own idea of the total."""
    assert status(survey(tmp_path, one_display(), "720x400@70", a=LISTED_ONLY)) == "promised"
    found = survey(tmp_path, one_display(), "640x400@70", a=LISTED_ONLY)
    assert status(found) == "unknown"


def test_without_range_limits_an_unlisted_raster_is_unknown(tmp_path: Path) -> None:
    found = survey(tmp_path, one_display(), "800x600@60", a=LISTED_ONLY)
    assert status(found) == "unknown"
    for what in ("line_rate", "frame_rate"):
        assert one(found, "screens.rate", f"displays.a.{what}").state == "unknown"
    assert one(found, "screens.not-promised", "displays.a").state == "unknown"
    assert not [v for v in found.verdicts if v.subject == "displays.a.pixel_clock"]


@pytest.mark.parametrize(
    ("clock", "state"), [(4, "holds"), (3, "fails")]  # 36 MHz under 40 and over 30
)  # fmt: skip
def test_a_child_is_sampled_at_the_clock_of_its_parent(tmp_path: Path, clock: int, state: str) -> None:
    """A half-clock child of 800x600@56 has pixels of 18 MHz, and the display samples 36 MHz all the same."""
    block = make.base(video=0x08, descriptors=[make.ranges((50, 75), (30, 60), clock)])
    found = survey(tmp_path, one_display(), "800x600@56", 2, a=block)
    rate = one(found, "screens.rate", "displays.a.pixel_clock")
    assert rate.found is not None and rate.found.typical == pytest.approx(36e6)
    assert (rate.state, status(found) == "refused") == (state, state == "fails")


def test_ways_out_keep_under_the_highest_clock(tmp_path: Path) -> None:
    block = make.base(video=0x08, descriptors=[make.ranges((50, 90), (30, 60), 4)])
    found = survey(tmp_path, one_display(), "1024x768@60", a=block)
    screens = found.rigs[0].screens
    assert screens is not None and screens.blockers == ("a",)
    assert screens.parents_for_all[:2] == ("640x480@60", "800x600@60")
    assert "1024x768@60" not in screens.parents_for_all
    refusal = one(found, "screens.rate", "displays.a.pixel_clock")
    assert refusal.state == "fails" and refusal.remedy[0].value == '"640x480@60"'


def test_a_listed_timing_outweighs_the_whole_numbers_of_the_ranges(tmp_path: Path) -> None:
    """60.004 Hz is beyond 60 Hz and 59.94 Hz below it, and a block that lists both timings means to take them."""
    listed = make.base(video=0x08, established="200800", descriptors=[make.ranges((60, 60), (31, 48), 8)])
    for parent in ("640x480@60", "1024x768@60"):
        assert status(survey(tmp_path, one_display(), parent, a=listed)) == "promised"
    unlisted = make.base(video=0x08, descriptors=[make.ranges((60, 60), (31, 48), 8)])
    found = survey(tmp_path, one_display(), "640x480@60", a=unlisted)
    assert one(found, "screens.rate", "displays.a.line_rate").state == "holds"
    assert one(found, "screens.rate", "displays.a.frame_rate").state == "unknown"
    assert status(found) == "unknown"
    assert one(
        survey(tmp_path, one_display(), "640x480@72", a=unlisted), "screens.rate", "displays.a.frame_rate"
    ).state == ("fails")


def test_a_detailed_timing_promises_the_listed_parent_that_it_is(tmp_path: Path) -> None:
    part = make.detailed(25_180_000, (640, 160, 16, 96), (480, 45, 10, 2))
    found = survey(tmp_path, one_display(), "640x480@60", 2, a=make.base(video=0x08, descriptors=[part]))
    assert status(found) == "promised"
    assert one(found, "screens.not-promised", "displays.a").says == "The identification block of a lists 640x480@60."


def test_a_detailed_timing_of_its_own_promises_itself_alone(tmp_path: Path) -> None:
    """1000x600 by the formula of CVT stands in no list; a block that states its figures promises it."""
    block = {"a": make.base(video=0x08, descriptors=[make.DUMMY])}
    asked = "1000x600@60', formula = 'cvt"
    found = survey(tmp_path, one_display(), asked, **block)
    made = found.rigs[0].timing
    if made is None:
        pytest.fail("\n".join(v.says for v in found.verdicts))
    assert status(found) == "unknown"
    r = made.raster.value
    flags = 0x18 | (4 if r.v.polarity == "+" else 0) | (2 if r.h.polarity == "+" else 0)
    part = make.detailed(
        int(r.pixel_clock_hz),
        (r.h.active_px, r.h.total_px - r.h.active_px, r.h.front_px, r.h.sync_px),
        (r.v.active_lines, r.v.total_lines - r.v.active_lines, r.v.front_lines, r.v.sync_lines),
        flags=flags,
    )
    own = {"a": make.base(video=0x08, descriptors=[part])}
    found = survey(tmp_path, one_display(), asked, 2, **own)
    assert status(found) == "promised"
    assert "figure by figure" in one(found, "screens.not-promised", "displays.a").says
    assert status(survey(tmp_path, one_display(), "800x600@60", **own)) == "unknown"


@pytest.mark.parametrize(
    ("video", "state", "words", "answer"),
    [
        (0x08, "holds", "takes separate syncs", "promised"),
        (0x0E, "holds", "takes separate syncs", "promised"),
        (0x04, "fails", "takes composite sync, not the separate syncs", "refused"),
        (0x02, "fails", "takes sync on green, not", "refused"),
        (0x06, "fails", "takes composite sync and sync on green, not", "refused"),
        (0x00, "fails", "takes no sync at all, not", "refused"),
        (0x80, "fails", "digital input, and the 15-pin connector", "unknown"),
        (0x8E, "fails", "digital input, and the 15-pin connector", "unknown"),
    ],
)
def test_separate_syncs(tmp_path: Path, video: int, state: str, words: str, answer: str) -> None:
    found = survey(tmp_path, one_display(), a=make.base(video=video, established="200000"))
    verdict = one(found, "screens.separate-sync", "displays.a")
    assert (verdict.state, verdict.weight, status(found)) == (state, "stop", answer)
    assert words in verdict.says
    assert [f.key for f in verdict.rests_on] == ["displays.a.edid"]
    assert (found.exit_code() == 1) or state == "holds"


def test_nothing_is_taken_from_the_block_of_a_digital_input(tmp_path: Path) -> None:
    block = make.base(video=0x80, established="ffff80", descriptors=[make.ranges((50, 120), (30, 100), 1)])
    found = survey(tmp_path, one_display("like = 'monitor, 15 inch'"), a=block)
    rate = one(found, "screens.rate", "displays.a.line_rate")
    assert rate.on_guess and not any(f.key == "displays.a.edid" for f in rate.rests_on)
    assert status(found) == "allowed by range, not promised"
    assert not [v for v in found.verdicts if v.subject == "displays.a.pixel_clock"]


def test_without_a_block_nobody_speaks_of_one(tmp_path: Path) -> None:
    found = survey(tmp_path, "[[displays]]\nname = 'a'\nlike = 'monitor, 15 inch'")
    assert not {"screens.separate-sync", "screens.checksum", "screens.edid"} & codes(found)
    assert "displays.edid" not in {v.subject for v in found.verdicts}


def test_a_wrong_checksum_is_a_caution_and_makes_all_it_states_a_guess(tmp_path: Path) -> None:
    assert one(survey(tmp_path, one_display(), a=DESK), "screens.checksum", "displays.a.edid").state == "holds"
    bad = DESK[:-1] + bytes(((DESK[-1] + 1) % 256,))
    found = survey(tmp_path, one_display(), a=bad)
    verdict = one(found, "screens.checksum", "displays.a.edid")
    assert (verdict.state, verdict.weight, found.exit_code()) == ("fails", "caution", 1)
    for v in found.verdicts:
        if v.code in ("screens.rate", "screens.not-promised", "screens.separate-sync"):
            assert v.state == "holds" and v.on_guess, v


@pytest.mark.parametrize(
    ("block", "words"),
    [
        (make.base(extensions=1), "1 extension block is passed over"),
        (make.base(extensions=2), "2 extension blocks are passed over"),
        (make.base(version=(1, 1)), "version 1.1, older than 1.3, and read as far as that goes"),
        (make.base(version=(1, 9)), "version 1.9, newer than 1.4, and read as if of 1.4"),
        (make.base(descriptors=[make.ranges((0, 0), (0, 0), 0)]), "passed over: range limits that start at zero"),
        (make.base(descriptors=[bytes((0, 0, 0, 0xF8)) + bytes(14)]), "passed over: codes of CVT timings"),
    ],
)
def test_what_is_not_read_is_noted(tmp_path: Path, block: bytes, words: str) -> None:
    note = one(survey(tmp_path, one_display(), a=block), "screens.edid", "displays.a.edid")
    assert (note.state, note.weight) == ("unknown", "note")
    assert words in note.says


@pytest.mark.parametrize("version", [(1, 3), (1, 4)])
def test_a_block_read_whole_needs_no_note(tmp_path: Path, version: tuple[int, int]) -> None:
    assert "screens.edid" not in codes(survey(tmp_path, one_display(), a=make.base(version=version)))


def test_the_makers_own_statement_comes_first(tmp_path: Path) -> None:
    own = "line_rate = '35 .. 40 kHz; measured'\npromised = ['800x600@60; sheet']"
    found = survey(tmp_path, one_display(own), a=DESK)
    rate = one(found, "screens.rate", "displays.a.line_rate")
    assert rate.state == "fails" and rate.limit is not None and rate.limit.low == 35e3
    assert not any(f.key == "displays.a.edid" for f in rate.rests_on)
    frame = one(found, "screens.rate", "displays.a.frame_rate")
    assert any(f.key == "displays.a.edid" for f in frame.rests_on)
    # what the sheet lists and what the block lists stand side by side
    wide = survey(tmp_path, one_display("promised = ['640x480@72; sheet']"), "640x480@72", a=DESK)
    assert one(wide, "screens.not-promised", "displays.a").says == "The sheet of a lists 640x480@72."
    assert status(survey(tmp_path, one_display("promised = ['640x480@72; sheet']"), a=DESK)) == "promised"


def test_a_proof_comes_before_everything(tmp_path: Path) -> None:
    proof = one_display("proved = ['1024x768@85; measured']")
    found = survey(tmp_path, proof, "1024x768@85", a=DESK)  # 94.5 MHz and 68.7 kHz: beyond all its ranges
    assert status(found) == "proved"
    assert {v.state for v in found.verdicts if v.code == "screens.rate"} == {"holds"}


def test_the_block_comes_before_the_class(tmp_path: Path) -> None:
    found = survey(tmp_path, one_display("like = 'monitor, green, 12 inch'"), "800x600@60", a=DESK)
    assert status(found) == "promised"
    assert not one(found, "screens.rate", "displays.a.line_rate").on_guess


TWO = "[[displays]]\nname = 'a'\nedid = 'a.bin'\n[[displays]]\nname = 'b'\nsame_as = 'a'\n"


def test_a_copied_block_serves_and_falls_to_said(tmp_path: Path) -> None:
    found = survey(tmp_path, TWO, a=DESK)
    assert status(found, "b") == "promised"
    for code in ("screens.not-promised", "screens.separate-sync"):
        verdict = one(found, code, "displays.b")
        origins = {f.key: f.origin for f in verdict.rests_on}
        assert (origins["displays.a.edid"], origins["displays.b.same_as"], verdict.on_guess) == ("said", "said", False)
    assert {v.subject for v in found.verdicts if v.code == "screens.checksum"} == {"displays.a.edid"}


def test_its_own_block_comes_before_copied_facts(tmp_path: Path) -> None:
    model = "[[displays]]\nname = 'a'\nline_rate = '30 .. 110 kHz; sheet'\nframe_rate = '50 .. 120 Hz; sheet'\n"
    other = "[[displays]]\nname = 'b'\nsame_as = 'a'\nedid = 'b.bin'\n"
    found = survey(tmp_path, model + other, "1024x768@85", b=DESK)
    assert (status(found, "a"), status(found, "b")) == ("allowed by range, not promised", "refused")
    assert (
        one(found, "screens.rate", "displays.b.line_rate").limit
        == one(
            survey(tmp_path, "[[displays]]\nname = 'b'\nedid = 'b.bin'", "1024x768@85", b=DESK),
            "screens.rate",
            "displays.b.line_rate",
        ).limit
    )


def test_a_copied_statement_comes_before_the_copied_block(tmp_path: Path) -> None:
    model = "[[displays]]\nname = 'a'\nedid = 'a.bin'\nline_rate = '35 .. 40 kHz; sheet'\n"
    found = survey(tmp_path, model + "[[displays]]\nname = 'b'\nsame_as = 'a'\n", a=DESK)
    rate = one(found, "screens.rate", "displays.b.line_rate")
    assert rate.limit is not None and rate.limit.low == 35e3


def test_a_guessed_file_is_a_guess(tmp_path: Path) -> None:
    displays = "[[displays]]\nname = 'a'\nedid = 'a.bin; guess'\n"
    assert one(survey(tmp_path, displays, a=DESK), "screens.not-promised", "displays.a").on_guess


def test_another_file_makes_an_acceptance_stale(tmp_path: Path) -> None:
    accepted = "[[accepted]]\ncode = 'screens.not-promised'\nsubject = 'displays.a'\nbecause = 'it ran an hour'\n"
    displays = one_display()
    first = survey(tmp_path, accepted + displays, "720x400@70", a=DESK)
    stale = one(first, "screens.not-promised", "displays.a")
    assert stale.state == "stale" and stale.settle is not None
    mark = stale.settle.what.split('mark = "')[1][:12]
    marked = accepted + f"mark = '{mark}'\n" + displays
    assert one(survey(tmp_path, marked, "720x400@70", a=DESK), "screens.not-promised", "displays.a").state == "accepted"
    again = make.base(video=0x08, established="2108c0", descriptors=[make.ranges((50, 76), (30, 60), 8)])
    assert one(survey(tmp_path, marked, "720x400@70", a=again), "screens.not-promised", "displays.a").state == "stale"


def test_what_moves_with_the_block_rests_on_it(tmp_path: Path) -> None:
    """The law of changes, for a fact that is a file: four blocks and none, two by two."""
    blocks = {
        "none": None,
        "desk": DESK,
        "listed": LISTED_ONLY,
        "narrow": make.base(video=0x08, established="200000", descriptors=[make.ranges((56, 60), (31, 38), 3)]),
        "composite": make.base(video=0x04, descriptors=[make.ranges((40, 55), (15, 20), 2)]),
    }
    like = "like = 'monitor, 15 inch'\n"
    for parent in ("640x480@60", "800x600@60", "640x400@70", "1024x768@60"):
        for proved in ("", "proved = ['800x600@60; measured']\n"):
            surveys = []
            for block in blocks.values():
                lines = f"[[displays]]\nname = 'a'\n{like}{proved}" if block is None else one_display(like + proved)
                made = survey(tmp_path, lines, parent, **({} if block is None else {"a": block}))
                surveys.append({(v.code, v.subject, v.rig): v for v in made.verdicts})
            for before in surveys:
                for after in surveys:
                    for key in before.keys() & after.keys():
                        was, now = before[key], after[key]
                        if (was.state, was.found, was.limit, was.weight) != (
                            now.state,
                            now.found,
                            now.limit,
                            now.weight,
                        ):
                            assert any(f.key == "displays.a.edid" for v in (was, now) for f in v.rests_on), key


@pytest.mark.parametrize(
    ("data", "given"), [(DESK[:100], "100 B, cut short"), (bytes(128), "every byte is 00"), (DESK * 2 + b"x", "257 B")]
)
def test_a_file_that_is_no_block_is_one_fault_at_its_line(tmp_path: Path, data: bytes, given: str) -> None:
    with pytest.raises(InputError) as caught:
        survey(tmp_path, one_display("line_rate = '30 .. 60 kHz'"), a=data)
    (fault,) = caught.value.faults
    assert (fault.path, fault.line, fault.column) == ("displays.a.edid", 7, 8)
    assert given in fault.text and "'a.bin' cannot be used: " in fault.text
    assert fault.source == "edid = 'a.bin'"


def test_it_is_told_beside_other_faults(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        survey(tmp_path, one_display("line_rate = '30 kHzz'"), a=DESK[:100])
    assert {f.path for f in caught.value.faults} == {"displays.a.edid", "displays.a.line_rate"}


STANDINGS = {str(row["source"]): source(str(row["source"])).standing for row in display_classes().values()}


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(st.binary(min_size=108, max_size=108), st.sampled_from(["640x480@60", "1024x768@75", "640x400@70"]))
def test_any_block_is_surveyed(rest: bytes, parent: str) -> None:
    block = read_edid(make.HEADER + bytes(10) + bytes((1, 4)) + rest)
    data = {
        "dossier": {"format": 1},
        "chip": {"like": "rp2040"},
        "displays": [{"name": "a", "edid": "a.bin"}, {"name": "b", "same_as": "a"}],
        "rigs": [{"name": "r", "raster": {"parent": parent}}],
    }
    plan = make_plan(Dossier.model_validate(plant(data)), chip("rp2040"), display_classes(), STANDINGS, {"a": block})
    found = survey_plan(plan)
    assert {"a", "b"} == {a.display for a in found.rigs[0].screens.answers}  # type: ignore[union-attr]
    assert one(found, "screens.separate-sync", "displays.b").judged in ("holds", "fails")
