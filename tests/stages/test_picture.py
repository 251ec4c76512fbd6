"""The stand-in display: what it says of a bare pin and of a right part, when it locks, and ways to look at its pictures."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console
from strategies_picture import channel_network, raster_of

from scanloom.basis.verdict import Verdict
from scanloom.formats.dossier_file import read_dossier
from scanloom.report.picture_text import picture_sheet, side_by_side
from scanloom.stages.lanes import Lane
from scanloom.stages.memory import ScanShape
from scanloom.stages.picture.convert import picture_numbers
from scanloom.stages.picture.effects import Effects, chosen_effects, effect_names, no_effects
from scanloom.stages.picture.figures import ChannelSight, channel_sight
from scanloom.stages.picture.front import supply_sag
from scanloom.stages.picture.lock import edge_faults, sync_faults
from scanloom.stages.picture.look import active_volts, difference, level_histogram, loupe, on_panel
from scanloom.stages.picture.model import COLOURS, ChannelPath, DisplayPath, InputCable, usual_front_end
from scanloom.stages.picture.patterns import PATTERNS, lane_fields, pattern
from scanloom.stages.picture.sampling import divider_lateness
from scanloom.stages.picture.show import show_display
from scanloom.stages.picture.syncs import planned_syncs
from scanloom.stages.timing import child_raster, raster_at_clock, timing_named
from scanloom.survey import Survey, survey_plan
from scanloom.survey.drawn import DrawnRig, NothingToDraw, draw_pattern, picture_size

ROOT = Path(__file__).resolve().parents[2]
FINAL = (ROOT / "examples" / "deep-station" / "final.toml").read_text(encoding="utf-8")
FRONT = usual_front_end()
RASTER = child_raster(timing_named("640x480@60"), 1)
SHORT = InputCable(75.0, 0.66, 0.065, 0.24, 0.02, 0.5)


def sight(
    part_ohm: float, channel: str = "green", cable: InputCable | None = SHORT, effects: Effects | None = None
) -> ChannelSight:
    path = ChannelPath("d", channel, channel_network(1, 25.0, 25.0, part_ohm))
    return channel_sight(DisplayPath("d", (path,), cable), path, RASTER, effects or Effects(), FRONT)


@pytest.mark.parametrize("length_m", [0.5, 2.0, 10.0])
@pytest.mark.parametrize("channel", COLOURS)
def test_bare_pin_clips_and_leaves_shadows(channel: str, length_m: float) -> None:
    """25 ohm into 75 ohm: 3.3 x 75 / 100 = 2.475 V, which no front end takes."""
    bare = sight(0.0, channel, replace(SHORT, length_m=length_m))
    assert sight(0.0, channel, None).white_v == pytest.approx(2.475, rel=1e-12)
    assert bare.white_v > 1.0
    assert bare.worst_tail > 0.02
    assert bare.recovery_tail > 0.01


@pytest.mark.parametrize("channel", COLOURS)
def test_right_part_leaves_less_than_a_code(channel: str) -> None:
    """On half a metre of thin cable; past a metre the cable itself leaves more, whatever the part."""
    right = sight(240.0, channel)
    assert 0.665 < right.white_v < 0.770
    assert right.worst_tail < 1.0 / 255.0
    assert right.recovery_tail == pytest.approx(0.0, abs=1e-9)
    assert sight(240.0, channel, replace(SHORT, length_m=10.0)).worst_tail > 1.0 / 255.0


def test_tints_differ_by_channel_only_under_overload() -> None:
    bare = {c: sight(0.0, c, effects=chosen_effects(without=["lane-skew"])).recovery_tail for c in COLOURS}
    assert bare["blue"] > bare["red"] > bare["green"]
    right = {c: sight(240.0, c, effects=chosen_effects(without=["lane-skew"])).worst_tail for c in COLOURS}
    assert len({round(value, 9) for value in right.values()}) == 1


def test_without_any_effect_nothing_is_left_beside_a_pixel() -> None:
    ideal = sight(0.0, effects=no_effects())
    assert (ideal.tails, ideal.alternating_contrast, ideal.echo_bound_v) == ((), 1.0, 0.0)


@pytest.mark.parametrize(("fault", "load_ohm"), [("double-termination", 37.5), ("missing-termination", 1e6)])
def test_faults_of_termination_are_their_divider(fault: str, load_ohm: float) -> None:
    wrong = sight(240.0, cable=None, effects=chosen_effects(add=[fault]))
    assert wrong.white_v == pytest.approx(3.3 * load_ohm / (load_ohm + 265.0), rel=1e-9)


def test_cable_resistance_takes_its_share() -> None:
    long = replace(SHORT, length_m=20.0)
    with_it = sight(240.0, cable=long, effects=chosen_effects(only=["cable-resistance"])).white_v
    assert with_it == pytest.approx(3.3 * 75.0 / (265.0 + 0.24 * 20.0 + 75.0), rel=1e-9)


def test_supply_sag_is_load_regulation_times_current() -> None:
    """18 channels at white, 168 mA, behind 0.1 ohm: 17 mV after some microseconds, and the capacitors' 0.02 ohm at once."""
    drawn_a = np.zeros(4000)
    drawn_a[1000:] = 0.168
    sag_v = supply_sag(drawn_a, 40e-9, 0.1, 1e-6, 0.02)
    assert sag_v[1000] == pytest.approx(0.168 * 0.02, rel=1e-3)
    assert sag_v[-1] == pytest.approx(0.168 * 0.12, rel=1e-6)
    assert sag_v[999] == pytest.approx(0.0, abs=1e-12)
    quarter = 1000 + round(1e-6 / 40e-9)
    assert sag_v[quarter] - 0.168 * 0.02 == pytest.approx(0.0168 * (1.0 - np.exp(-1.0)), rel=1e-6)


def test_wobble_is_that_of_the_clock_stage() -> None:
    from scanloom.stages.clock.wobble import wobble_px

    for clocks in (Fraction(25, 8), Fraction(4 * 256 + 247, 256), Fraction(4)):
        late = divider_lateness(clocks, 4096)
        assert np.ptp(late) == pytest.approx(float(wobble_px(clocks)), abs=1e-12)
        assert late.mean() == pytest.approx(0.0, abs=2e-3)


TINY = raster_of(ScanShape(32, 2, 4, 10, 8, 1, 1, 2, 32, 8, 1), "--", 1)


def shown_tiny(front: object = FRONT, effects: Effects | None = None, seed: int = 1):  # type: ignore[no-untyped-def]
    rng = np.random.default_rng(seed)
    numbers = np.zeros((TINY.v.total_lines, TINY.h.total_px), dtype=np.uint16)
    numbers[:8, :32] = rng.integers(0, 2, (8, 32))
    display = DisplayPath("d", (ChannelPath("d", "green", channel_network(1)),), SHORT, (64, 24))
    return show_display(display, {"green": numbers}, TINY, effects or no_effects(), front), numbers  # type: ignore[arg-type]


def test_display_with_another_total_resamples() -> None:
    """Two samples more in a line than the raster has pixels: some pixels are seen twice, none at a wrong value."""
    shown, numbers = shown_tiny(replace(FRONT, total_px=TINY.h.total_px + 2))
    place = np.floor((np.arange(TINY.h.total_px + 2) + FRONT.phase) * TINY.h.total_px / (TINY.h.total_px + 2)).astype(
        int
    )
    assert np.array_equal(shown.traces[0].input_v > 0.3, numbers[:, place] == 1)
    plain, _ = shown_tiny()
    assert (shown.native != plain.native).any()


def test_panel_repeats_whole_multiples_and_blends_others() -> None:
    picture = np.random.default_rng(1).integers(0, 256, (4, 6, 3)).astype(np.uint8)
    assert np.array_equal(on_panel(picture, (12, 12)), picture.repeat(3, axis=0).repeat(2, axis=1))
    blended = on_panel(picture, (9, 5))
    assert blended.shape == (5, 9, 3)
    assert picture.min() <= blended.min() <= blended.max() <= picture.max()
    flat = np.full((4, 6, 3), 77, dtype=np.uint8)
    assert (on_panel(flat, (13, 7)) == 77).all()
    with pytest.raises(ValueError, match="1x1 and more"):
        on_panel(picture, (0, 4))


def test_ways_to_look() -> None:
    shown, numbers = shown_tiny()
    counts, bounds = level_histogram(shown, "green", 4)
    assert counts.tolist() == [int((numbers[:8, :32] == 0).sum()), 0, 0, int(numbers.sum())]
    assert bounds[-1] == pytest.approx(active_volts(shown, "green").max())
    seen = loupe(shown, 30, 6, 5, 5)["green"]
    assert seen.shape == (2, 2)
    assert np.array_equal(seen, shown.traces[0].input_v[6:8, 30:32])
    assert difference(shown, shown).worst == 0
    other, _ = shown_tiny(seed=2)
    assert difference(shown, other).worst == 255
    for wrong in (
        lambda: level_histogram(shown, "red"),
        lambda: loupe(shown, 32, 0),
        lambda: level_histogram(shown, "green", 0),
    ):
        with pytest.raises(ValueError, match=r"named?|begin|allowed"):
            wrong()
    with pytest.raises(ValueError, match="read-only"):
        shown.native[0, 0, 0] = 1


@pytest.mark.parametrize("name", PATTERNS[:-1])
@pytest.mark.parametrize("size", [(320, 240), (1, 1), (17, 9)])
def test_patterns_of_every_size(name: str, size: tuple[int, int]) -> None:
    made = pattern(name, *size)  # type: ignore[arg-type]
    assert made.shape == (size[1], size[0], 3)
    assert made.min() >= 0.0
    assert 0.0 < made.max() <= 1.0 or name == "text"


def test_patterns_are_what_they_are_called() -> None:
    checker = pattern("checker", 8, 8)[:, :, 0]
    assert (checker[:, 1:] != checker[:, :-1]).all()
    assert (checker[1:] != checker[:-1]).all()
    bars = pattern("bars", 64, 2)[0, :, 0]
    assert bars.tolist() == [1.0] * 16 + [0.0] * 16 + [1.0] * 16 + [0.0] * 16
    assert pattern("column", 9, 3)[:, :, 1].sum(axis=0).tolist() == [0, 0, 0, 0, 3, 0, 0, 0, 0]
    border = pattern("border", 40, 30)[:, :, 0]
    assert border[0].all() and border[-1].all() and border[:, 0].all() and border[:, -1].all()
    assert 0.05 < pattern("text", 320, 240).mean() < 0.5
    with pytest.raises(ValueError, match="no picture of brightness"):
        pattern("lanes", 4, 4)


def test_lane_fields_light_one_lane_each() -> None:
    lanes = (Lane(0, "red", "a", 1), Lane(1, "h"), Lane(2, "red", "a", 0), Lane(3, "white", "b"))
    made = lane_fields(lanes, 30, 2)
    assert made["a", "red"][0].tolist() == [2] * 10 + [1] * 10 + [0] * 10
    assert made["b", "white"][0].tolist() == [0] * 20 + [1] * 10


def test_colours_and_brightness() -> None:
    red = np.zeros((1, 1, 3))
    red[0, 0, 0] = 1.0
    colour = DisplayPath("c", tuple(ChannelPath("c", c, channel_network(1)) for c in COLOURS), None)
    single = DisplayPath("s", (ChannelPath("s", "green", channel_network(1)),), None)
    lanes = (*(Lane(i, c, "c") for i, c in enumerate(COLOURS)), Lane(3, "green", "s"))  # type: ignore[arg-type]
    got = picture_numbers(red, (colour, single), lanes)
    assert [int(got["c", c][0, 0]) for c in COLOURS] == [1, 0, 0]
    assert int(got["s", "green"][0, 0]) == 0  # pure red is dark: 0.299 of white
    white = picture_numbers(np.ones((1, 1, 3)), (colour, single), lanes)
    assert all(int(v[0, 0]) == 1 for v in white.values())


def test_effects_by_name() -> None:
    assert len(effect_names()) == 15
    assert chosen_effects(only=["cable"], without=["cable"]).on == ()
    assert "noise" not in chosen_effects(without=["noise"]).on
    with pytest.raises(ValueError, match="'ghosts' is no effect; edges, cable"):
        chosen_effects(without=["ghosts"])
    with pytest.raises(ValueError, match="choose one"):
        chosen_effects(add=["double-termination", "missing-termination"])


# --- syncs and locking


def test_syncs_as_planned_have_no_fault() -> None:
    assert sync_faults(planned_syncs(RASTER), RASTER, Fraction(0)) == ()


@pytest.mark.parametrize(
    ("change", "state", "words", "shows"),
    [
        ({"line_px": 799}, "fails", "line of 799 pixels; 800", "rolling"),
        ({"frame_lines": 449}, "fails", "frame of 449 lines; 525", "rolling"),
        ({"h_sync_px": 40}, "unknown", "horizontal sync of 40 pixels; 96", "rolling"),
        ({"h_sync_px": 500}, "fails", "62% of the time", "rolling"),
        ({"h_polarity": "+"}, "fails", "+ - stands for 350 lines", "wrong height"),
        ({"v_polarity": "+"}, "fails", "- + stands for 400 lines", "wrong height"),
        ({"h_polarity": "+", "v_polarity": "+"}, "unknown", "polarities + +", "dark"),
        ({"steady": False}, "fails", "unequal length", "rolling"),
    ],
)
def test_each_fault_of_a_sync(change: dict[str, object], state: str, words: str, shows: str) -> None:
    seen = replace(planned_syncs(RASTER), **change)  # type: ignore[arg-type]
    found = sync_faults(seen, RASTER, Fraction(0))
    assert any(f.state == state and words in f.reason and shows in f.shows for f in found), found


def test_wobble_of_more_than_half_a_pixel_may_break_the_lock() -> None:
    assert sync_faults(planned_syncs(RASTER), RASTER, Fraction(1, 2)) == ()
    (found,) = sync_faults(planned_syncs(RASTER), RASTER, Fraction(51, 100))
    assert (found.state, found.shows) == ("unknown", "trembling edges")


def test_edges_that_count_twice_may_break_the_lock() -> None:
    def edge(state: str) -> Verdict:
        return Verdict("levels.sync-edge", "displays.d.sync", "r", state, "caution", f"Edges {state}.", state)  # type: ignore[arg-type]

    assert edge_faults((edge("holds"), edge("unknown"))) == ()
    (found,) = edge_faults((edge("fails"),))
    assert (found.state, found.reason, found.shows) == ("unknown", "Edges fails", "a rolling or torn picture")


Surveyed = Callable[..., tuple[object, Survey]]


@pytest.fixture
def surveyed(tmp_path: Path) -> Callable[..., Survey]:
    """Function that surveys the demo with some of its text changed."""

    def make(*changes: tuple[str, str]) -> Survey:
        text = FINAL
        for old, new in changes:
            assert old in text, old
            text = text.replace(old, new)
        path = tmp_path / "job.toml"
        path.write_text(text, encoding="utf-8")
        return survey_plan(read_dossier(path, "job.toml").plan)

    return make


def said(survey: Survey, code: str, display: str, rig: str = "two-and-four") -> Verdict:
    (found,) = [v for v in survey.verdicts if (v.code, v.subject, v.rig) == (code, f"displays.{display}", rig)]
    return found


def test_the_demo_locks_and_does_not_clip(surveyed: Callable[..., Survey]) -> None:
    survey = surveyed()
    for rig in ("two-and-four", "six-one-bit"):
        for display in ("hero-left", "hero-right", "relay-1", "relay-2", "relay-3", "relay-4"):
            assert said(survey, "picture.locks", display, rig).state == "holds"
            assert said(survey, "picture.clipping", display, rig).state == "holds"
    assert survey.rigs[0].picture is not None
    assert [one.locks for one in survey.rigs[0].picture.displays] == [True] * 6


def test_a_refused_rate_names_value_and_range(surveyed: Callable[..., Survey]) -> None:
    survey = surveyed(
        ("31.4 .. 31.6 kHz; said, label", "36 .. 60 kHz; measured"),
        ('proved = ["640x480@60; measured 2031-01-11 Ilse"]\n\n[supply]', "\n[supply]"),
    )
    verdict = said(survey, "picture.locks", "relay-4")
    assert (verdict.state, verdict.weight) == ("fails", "stop")
    assert "36000 to 60000 Hz is accepted" in verdict.says
    assert "It would show a dark screen or a message" in verdict.says
    assert said(survey, "picture.locks", "relay-3").state == "holds"
    assert any(f.key == "displays.relay-4.line_rate" for f in verdict.rests_on)


def test_a_weak_sync_breaks_the_lock(surveyed: Callable[..., Survey]) -> None:
    weak = (
        'sync = { style = "buffered", buffer = "LVC", outputs = "one per group", branch = "47 ohm ± 5 %" }',
        'sync = { style = "series", part = "1 kohm ± 5 %" }',
    )
    survey = surveyed(weak)
    verdict = said(survey, "picture.locks", "hero-left")
    assert verdict.state == "fails"
    assert "at least 2 V is accepted" in verdict.says


def test_unknown_rates_and_loads_stay_unknown(surveyed: Callable[..., Survey]) -> None:
    survey = surveyed(
        ("sync = { h = 26, v = 27 }", "sync = { h = 26, v = 27 }"),
        ('sync = { style = "buffered", buffer = "LVC", outputs = "one per group", branch = "47 ohm ± 5 %" }', ""),
    )
    assert said(survey, "picture.locks", "hero-left").state == "unknown"
    survey = surveyed(('colour = { style = "series", part = "240 ohm ± 1 %" }', ""))
    assert said(survey, "picture.clipping", "hero-left").state == "unknown"


def test_clipping_fails_on_a_bare_pin_and_is_unknown_between(surveyed: Callable[..., Survey]) -> None:
    bare = surveyed(('style = "series", part = "240 ohm ± 1 %"', 'style = "direct"'))
    verdict = said(bare, "picture.clipping", "relay-2")
    assert (verdict.state, verdict.weight) == ("fails", "caution")
    assert verdict.limit is not None and verdict.limit.high == 1.0
    between = surveyed(('part = "240 ohm ± 1 %"', 'part = "150 .. 240 ohm"'))
    assert said(between, "picture.clipping", "relay-2").state == "unknown"


# --- whole rigs


def drawn(tmp_path: Path, name: str = "checker", effects: Effects | None = None, *changes: tuple[str, str]) -> DrawnRig:
    text = FINAL
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    plan = read_dossier(path, "job.toml").plan
    survey = survey_plan(plan)
    return draw_pattern(plan, survey, survey.rigs[0], name, effects or Effects(), FRONT)  # type: ignore[arg-type]


def text_of(rig: DrawnRig, effects: Effects | None = None) -> str:
    console = Console(width=500, record=True, file=io.StringIO())
    console.print(picture_sheet("job", "checker", rig, effects or Effects()))
    return console.export_text()


def test_words_and_numbers_of_a_bare_pin(tmp_path: Path) -> None:
    rig = drawn(tmp_path, "checker", None, ('style = "series", part = "240 ohm ± 1 %"', 'style = "direct"'))
    text = text_of(rig)
    assert "clips; an input takes 1.0 V at most" in text
    assert "by recovery from overload" in text
    for one in rig.displays:
        assert one.shown.clipped_share == pytest.approx(0.5 * len(one.path.channels) / len(one.path.channels), abs=0.05)
        assert max(c.worst_tail for c in one.sight.channels) > 0.02
    assert {v.code for v in rig.verdicts if v.state == "fails"} == {"picture.clipping", "picture.ghost"}
    assert {v.weight for v in rig.verdicts if v.code == "picture.ghost"} == {"note"}


def test_a_cable_that_nobody_stated_leaves_detail_unknown(tmp_path: Path) -> None:
    rig = drawn(tmp_path, "checker", None, ('cable = "thin, 2 m; said"\n', ""))
    states = {(v.code, v.subject): v.state for v in rig.verdicts}
    assert states["picture.ghost", "displays.relay-1"] == "unknown"
    assert states["picture.contrast", "displays.relay-1"] == "unknown"
    assert states["picture.contrast", "displays.hero-left"] == "holds"
    assert "relay-1, relay-2, relay-3, relay-4: no cable is stated" in text_of(rig)


def test_all_off_is_the_ideal(tmp_path: Path) -> None:
    rig = drawn(tmp_path, "lanes", no_effects())
    assert all(one.apart.worst == 0 for one in rig.displays)
    assert all(np.array_equal(one.shown.native, one.ideal.native) for one in rig.displays)


def test_a_display_that_refuses_stays_dark(tmp_path: Path) -> None:
    rig = drawn(tmp_path, "bars", None, ("31.4 .. 31.6 kHz; said, label", "36 .. 60 kHz; measured"))
    lit = {one.path.name: one.lit().any() for one in rig.displays}
    assert lit == {name: name != "relay-4" for name in lit}
    assert "relay-4: no lock, line rate" in text_of(rig)


def test_the_mark_tells_when_a_picture_is_stale(tmp_path: Path) -> None:
    first, again = drawn(tmp_path), drawn(tmp_path)
    assert first.mark == again.mark
    assert drawn(tmp_path, "bars").mark != first.mark
    assert drawn(tmp_path, "checker", no_effects()).mark != first.mark
    assert drawn(tmp_path, "checker", None, ("thin, 2 m; said", "thin, 3 m; said")).mark != first.mark


def test_an_incomplete_plan_says_what_it_waits_on(tmp_path: Path) -> None:
    with pytest.raises(NothingToDraw, match="no raster or no picture"):
        drawn(tmp_path, "bars", None, ('parent = "640x480@60", divide = 2, repeat = 2,', "divide = 2, repeat = 2,"))
    path = tmp_path / "job.toml"
    path.write_text(FINAL, encoding="utf-8")
    survey = survey_plan(read_dossier(path, "job.toml").plan)
    assert picture_size(survey.rigs[0]) == (320, 240, 1.0)


def test_pictures_side_by_side() -> None:
    one, other = np.full((20, 30, 3), 200, np.uint8), np.full((10, 40, 3), 100, np.uint8)
    sheet = side_by_side([("hero-1", one), ("relay", other), ("third", one)], across=2)
    assert sheet.shape[1] >= 2 * 40
    assert (sheet == 200).all(axis=2).sum() == 2 * 600
    assert (sheet == 100).all(axis=2).sum() == 400


def test_made_raster_keeps_its_own_rates() -> None:
    slow = raster_at_clock(RASTER, Fraction(25_000_000))
    assert sync_faults(planned_syncs(slow), RASTER, Fraction(0)) == ()
