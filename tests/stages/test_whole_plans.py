"""Small whole plans, each judged through the survey: figures of the job, with where each comes from."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from scanloom.basis.verdict import Verdict
from scanloom.dossier.reading import Reading
from scanloom.formats.dossier_file import read_dossier, read_dossier_text
from scanloom.stages.lanes import find_stream
from scanloom.stages.lanes.verdicts import judge_word_rate
from scanloom.survey import Survey, survey_plan

EXAMPLES = Path(__file__).parents[2] / "examples" / "deep-station"
HEAD = "[dossier]\nformat = 1\n"
RAM = "113800, 110500, 63200, 14000 B; measured"


def survey(text: str) -> Survey:
    return survey_plan(read_dossier_text(HEAD + text, EXAMPLES / "test.toml").plan)


def one(found: Survey, code: str, subject: str = "", rig: str = "") -> Verdict:
    """The one verdict of a code, or the first about a subject."""
    match = [v for v in found.verdicts if v.code == code and subject in v.subject and rig in ("", v.rig)]
    assert match, f"no {code} about {subject!r}"
    return match[0]


def plan(chip: str, displays: str, board: str, levels: str, rig: str) -> str:
    return f"{chip}\n{displays}\n[board]\n{board}\n[levels]\n{levels}\n[[rigs]]\nname = 'r'\n{rig}\n"


def one_display(part: str, chip_extra: str = "", load: str = "75 ohm; measured") -> Survey:
    """One green display on one pin of wifi240."""
    return survey(
        plan(
            f"[chip]\nlike = 'wifi240'\n{chip_extra}",
            f"[[displays]]\nname = 'a'\nline_rate = '30 .. 60 kHz'\nframe_rate = '50 .. 75 Hz'\ncolour_load = '{load}'\nsync_load = '2.2 kohm; measured'",
            "sync = { h = 26, v = 27 }\nconnectors = [{ name = 'J1', plugs = 'a', green = 32 }]",
            f"colour = {part}\nsync = {{ style = 'series', part = '100 ohm' }}",
            "firmware = 'radio-off'\nstream = '8 lanes'\nraster = { parent = '640x480@60', divide = 2, repeat = 2, picture = '320x240' }\ndepth = { a = { green = 1 } }",
        )
    )


MEASURED = "pin_high = '20 .. 40 ohm; measured'\nrail = '3.25 .. 3.35 V; measured'"


@pytest.mark.parametrize(
    ("part", "load", "low", "high", "state"),
    [  # Ohm's law by hand; window 0.665 to 0.770 V from the CRT DAC table of chipset datasheet 317607
        ("240 ohm ± 1 %", "75 ohm", 0.682, 0.755, "holds"),
        ("240 ohm ± 1 %", "75 ohm ± 2 %", 0.671, 0.767, "holds"),
        ("270 ohm ± 1 %", "75 ohm", 0.629, 0.693, "fails"),
    ],
)
def test_white_of_one_part(part: str, load: str, low: float, high: float, state: str) -> None:
    found = one(one_display(f"{{ style = 'series', part = '{part}' }}", MEASURED, load + "; measured"), "levels.white")
    assert found.found is not None
    assert (found.found.low, found.found.high) == pytest.approx((low, high), abs=5e-4)
    assert (found.state, found.weight, found.on_guess) == (state, "stop", False)
    assert found.sources[0].standing == "datasheet"


def test_a_straight_wire_is_far_too_bright_and_overloads_its_pin() -> None:
    """3.3 V through 25 ohm into 75 ohm: 2.475 V and 33 mA, by hand."""
    wire = one_display("{ style = 'direct' }", "pin_high = '25 ohm; measured'\nrail = '3.3 V; measured'")
    white, pin = one(wire, "levels.white"), one(wire, "levels.pin-current")
    assert white.found is not None and pin.found is not None
    assert (white.found.typical, white.state, white.weight) == (pytest.approx(2.475, abs=1e-9), "fails", "stop")
    assert (pin.found.typical, pin.state, pin.weight) == (pytest.approx(0.033, abs=1e-9), "fails", "stop")
    assert wire.exit_code() == 1


def six(load: str, levels: str = "sync = { style = 'series', part = '100 ohm; measured' }") -> Survey:
    displays = "\n".join(
        f"[[displays]]\nname = 'd{i}'\nline_rate = '30 .. 60 kHz'\nframe_rate = '50 .. 75 Hz'\ncolour_load = '75 ohm; measured'\nsync_load = '{load}; measured'\nsync_pull = 'none; measured'"
        for i in range(6)
    )
    connectors = ", ".join(
        f"{{ name = 'J{i}', plugs = 'd{i}', green = {p} }}" for i, p in enumerate((32, 33, 25, 13, 4, 18))
    )
    return survey(
        plan(
            "[chip]\nlike = 'wifi240'\npin_high = '25 ohm; measured'\npin_low = '20 ohm; measured'\nrail = '3.3 V; measured'",
            displays,
            f"sync = {{ h = 26, v = 27 }}\nconnectors = [{connectors}]",
            f"colour = {{ style = 'series', part = '240 ohm ± 1 %' }}\n{levels}",
            "stream = '8 lanes'\nfirmware = 'radio-off'\nraster = { parent = '640x480@60' }\ndepth = { "
            + ", ".join(f"d{i} = {{ green = 1 }}" for i in range(6))
            + " }",
        )
    )


@pytest.mark.parametrize(("load", "volts", "state"), [("2.2 kohm", 2.461, "holds"), ("1 kohm", 1.886, "fails")])
def test_a_shared_sync_sags_under_six_inputs(load: str, volts: float, state: str) -> None:
    """3.3 V through 125 ohm into six loads side by side, by hand; 2.0 V from a guide on TTL separate sync."""
    found = one(six(load), "levels.sync-high", "d3")
    assert found.found is not None
    assert (found.found.typical, found.state, found.weight) == (pytest.approx(volts, abs=5e-4), state, "stop")


def test_a_pull_up_in_one_display_lifts_the_low_level_of_all() -> None:
    """A 100 ohm pull to 5 V against 120 ohm of the driver cannot be pulled below 0.8 V."""
    quiet = one(six("2.2 kohm"), "levels.sync-low", "d0")
    assert (quiet.state, quiet.found.typical if quiet.found else None) == ("holds", 0.0)
    pulled = survey(
        plan(
            "[chip]\nlike = 'wifi240'\npin_high = '25 ohm'\npin_low = '20 ohm'\nrail = '3.3 V'",
            "[[displays]]\nname = 'a'\nsync_load = '2.2 kohm'\nsync_pull = '100 ohm to 5 V'\ncolour_load = '75 ohm'",
            "sync = { h = 26, v = 27 }\nconnectors = [{ name = 'J1', plugs = 'a', green = 32 }]",
            "colour = { style = 'series', part = '240 ohm' }\nsync = { style = 'series', part = '100 ohm' }",
            "stream = '8 lanes'\nraster = { parent = '640x480@60' }\ndepth = { a = { green = 1 } }",
        )
    )
    found = one(pulled, "levels.sync-low")
    assert found.state == "fails"


RP = "[chip]\nlike = 'rp2040'\ndrive = '12 mA; because'\npin_high = '25 ohm; measured'\npin_low = '20 ohm; measured'\nrail = '3.3 V; measured'"


def rgb(count: int) -> Survey:
    """RGB displays on rp2040, one bit a colour, consecutive pins."""
    displays = "\n".join(
        f"[[displays]]\nname = 'd{i}'\nline_rate = '30 .. 60 kHz'\nframe_rate = '50 .. 75 Hz'\ncolour_load = '75 ohm; measured'\nsync_load = '10 kohm; measured'\nsync_pull = 'none; measured'"
        for i in range(count)
    )
    connectors = ", ".join(
        f"{{ name = 'J{i}', plugs = 'd{i}', red = {3 * i}, green = {3 * i + 1}, blue = {3 * i + 2} }}"
        for i in range(count)
    )
    return survey(
        plan(
            RP,
            displays,
            f"sync = {{ h = {3 * count}, v = {3 * count + 1} }}\nconnectors = [{connectors}]",
            "colour = { style = 'series', part = '253.5714 ohm; measured' }\nsync = { style = 'buffered', buffer = 'LVC', outputs = 'one' }",
            "stream = '8 lanes'\nraster = { parent = '800x600@60', divide = 2, repeat = 2 }\ndepth = { "
            + ", ".join(f"d{i} = {{ red = 1, green = 1, blue = 1 }}" for i in range(count))
            + " }",
        )
    )


def test_two_rgb_displays_at_white_exceed_the_total_of_rp2040() -> None:
    """Six channels of 0.700 V into 75 ohm are 56 mA; 50 mA is the total of the datasheet's section 5.2.3."""
    total = one(rgb(2), "levels.chip-current")
    assert total.found is not None and total.limit is not None and total.found.low is not None
    assert total.limit.high == pytest.approx(0.050)
    assert total.found.low > 6 * 0.7 / 75
    assert (total.state, total.weight) == ("fails", "stop")
    alone = one(rgb(1), "levels.chip-current")
    assert (alone.state, alone.on_guess) == ("holds", True)  # the flash pins' own current is a guess


def test_eighteen_channels_take_168_milliampere() -> None:
    """18 x 0.7 V / 75 ohm, by hand."""
    pins = (32, 33, 25, 13, 4, 18, 19, 21, 22, 23, 14, 5, 15, 16, 17, 2, 12, 1)
    displays = "\n".join(
        f"[[displays]]\nname = 'd{i}'\ncolour_load = '75 ohm; measured'\nsync_load = '10 kohm; measured'\nsync_pull = 'none'"
        for i in range(6)
    )
    connectors = ", ".join(
        f"{{ name = 'J{i}', plugs = 'd{i}', red = {pins[3 * i]}, green = {pins[3 * i + 1]}, blue = {pins[3 * i + 2]} }}"
        for i in range(6)
    )
    found = survey(
        plan(
            "[chip]\nlike = 'wifi240'\npin_high = '25 ohm; measured'\nrail = '3.3 V; measured'",
            displays,
            f"sync = {{ h = 26, v = 27 }}\nconnectors = [{connectors}]",
            "colour = { style = 'series', part = '253.5714 ohm; measured' }\nsync = { style = 'buffered', buffer = 'LVC', outputs = 'one' }",
            "stream = '8 lanes'\nraster = { parent = '640x480@60' }\ndepth = { "
            + ", ".join(f"d{i} = {{ white = 1 }}" for i in range(6))
            + " }",
        )
    )
    total = one(found, "levels.chip-current")
    assert total.found is not None
    assert total.found.typical == pytest.approx(0.168, abs=1e-6)


def rig_of(raster: str, stream: str = "8 lanes", free: str = RAM, extra: str = "") -> Survey:
    return survey(
        plan(
            f"[chip]\nlike = 'wifi240'\nkeep_back = '24000 B; because'\nfree.radio-off = '{free}'",
            "[[displays]]\nname = 'a'\nline_rate = '30 .. 60 kHz'\nframe_rate = '50 .. 75 Hz'",
            "sync = { h = 26, v = 27 }\nconnectors = [{ name = 'J1', plugs = 'a', green = 32 }]",
            "colour = { style = 'series', part = '240 ohm' }",
            f"firmware = 'radio-off'\nstream = '{stream}'\nraster = {raster}\ndepth = {{ a = {{ green = 1 }} }}\n{extra}",
        )
    )


FULL = "{ parent = '640x480@60', divide = 1, repeat = 1, picture = '640x%d' }"


@pytest.mark.parametrize(
    ("rows", "free", "state"),
    [
        (400, RAM, "holds"),
        (480, RAM, "fails"),
        (400, "45300, 31400, 27500, 26500, 25800, 21900, 20000, 18800, 16000, 13600, 11600, 9600, 8400, 7100, 6400, 5100, 3800, 2700 B", "fails"),
    ],
)  # fmt: skip
def test_a_frame_in_blocks(rows: int, free: str, state: str) -> None:
    """Both block lists hold 301,500 B; the second is cut so that lines do not pack."""
    blocks = one(rig_of(FULL % rows, free=free), "memory.blocks")
    assert (blocks.state, blocks.weight) == (state, "stop")
    assert bool(blocks.remedy) == (state == "fails")


def test_two_frames_do_not_fit_and_the_window_is_stated() -> None:
    found = rig_of(FULL % 400, extra="frames = 2\nredraw = '5 ms; measured'")
    assert one(found, "memory.frames").state == "fails"
    assert one(found, "memory.blocks").state == "holds"
    memory = found.rigs[0].memory
    assert memory is not None and memory.drawing is not None
    # 125 lines of 800 words at 25.175 MHz
    assert memory.drawing.blank_window_s == pytest.approx(125 * 800 / 25.175e6, rel=1e-6)
    assert one(found, "memory.drawing-time").state == "fails"
    assert "behind the beam" in one(found, "memory.drawing-time").says
    quick = one(rig_of(FULL % 400, extra="redraw = '3.9 ms; measured'"), "memory.drawing-time")
    assert (quick.state, quick.weight) == ("holds", "caution")


def test_a_line_that_is_no_whole_number_of_reads_fails() -> None:
    """360x400 at half the 28.322 MHz clock: 450 words of one byte."""
    found = one(rig_of("{ parent = '720x400@70', divide = 2 }"), "memory.alignment")
    assert (found.state, found.weight) == ("fails", "stop")


@pytest.mark.parametrize(("parent", "stream", "state", "weight"), [
    ("640x480@60", "8 lanes", "holds", "stop"), ("800x600@60", "8 lanes", "holds", "stop"),
    ("800x600@72", "8 lanes", "fails", "caution"), ("1024x768@60", "8 lanes", "fails", "stop"),
])  # fmt: skip
def test_word_rate_at_the_limit_holds_over_it_cautions_then_stops(
    parent: str, stream: str, state: str, weight: str
) -> None:
    """wifi240 plans 40 MHz, sends 62.5 MHz: both recalled, so even the hard rate alone never stops."""
    found = one(rig_of(f"{{ parent = '{parent}' }}", stream), "lanes.word-rate")
    assert found.state == state
    assert found.weight == ("caution" if weight == "stop" else weight)


def test_word_rate_of_a_printed_limit_stops() -> None:
    """rp2040: one word per system clock, 133 MHz by its datasheet; planned half of it; at a limit it still holds."""
    text = plan(
        "[chip]\nlike = 'rp2040'",
        "[[displays]]\nname = 'a'",
        "sync = { h = 1, v = 2 }\nconnectors = [{ name = 'J1', plugs = 'a', green = 0 }]",
        "colour = { style = 'series', part = '240 ohm' }",
        "stream = '4 lanes'\nraster = { parent = '640x480@60' }\ndepth = { a = { green = 1 } }",
    )
    ready = read_dossier_text(HEAD + text, EXAMPLES / "test.toml").plan
    reading = Reading(ready, ready.rigs[0])
    stream = find_stream(reading.fork())
    assert not isinstance(stream, Verdict)
    table = {
        66_500_000: ("holds", "stop"),
        66_500_001: ("fails", "caution"),
        133_000_000: ("fails", "caution"),
        133_000_001: ("fails", "stop"),
    }
    for rate, wanted in table.items():
        found = judge_word_rate(reading.fork(), Fraction(rate), stream)
        assert (found.state, found.weight) == wanted, rate
    assert judge_word_rate(reading.fork(), None, stream).state == "unknown"


def test_a_display_narrowed_to_one_rate_takes_only_the_best_clock() -> None:
    """On the 12 MHz chain: 25.178571 gives 31.473 kHz; 25.166667 and 25.2 MHz lie outside 31.46 to 31.48 kHz."""

    def narrowed(clock: str) -> Survey:
        return survey(
            plan(
                "[chip]\nlike = 'rp2040'",
                "[[displays]]\nname = 'a'\nline_rate = '31.46 .. 31.48 kHz; measured'\nframe_rate = '50 .. 75 Hz'",
                "sync = { h = 1, v = 2 }\nconnectors = [{ name = 'J1', plugs = 'a', green = 0 }]",
                "colour = { style = 'series', part = '240 ohm' }",
                f"stream = '4 lanes'\nraster = {{ parent = '640x480@60' }}\ndepth = {{ a = {{ green = 1 }} }}\n{clock}",
            )
        )

    best = narrowed("")
    assert best.rigs[0].screens is not None
    assert float(best.rigs[0].screens.line_rate_hz) == pytest.approx(31473.2, abs=0.1)
    assert one(best, "screens.rate", "line_rate").state == "holds"
    for fixed in ("25.166667 MHz", "25.2 MHz"):
        worse = narrowed(f"clock = '{fixed}; because'")
        assert one(worse, "clock.chosen").state == "holds"
        assert one(worse, "screens.rate", "line_rate").state == "fails"
        assert worse.rigs[0].screens is not None and worse.rigs[0].screens.blockers == ("a",)


def test_a_fractional_clock_is_cautioned() -> None:
    """A fixed 125 MHz system clock and 4 + 247/256: 0.20 pixels of wobble and lines that repeat after 8."""
    found = survey(
        plan(
            "[chip]\nlike = 'rp2040'\nsystem = '125 .. 125 MHz; because the rest of the firmware needs it'",
            "[[displays]]\nname = 'a'",
            "sync = { h = 1, v = 2 }\nconnectors = [{ name = 'J1', plugs = 'a', green = 0 }]",
            "colour = { style = 'series', part = '240 ohm' }",
            "stream = '4 lanes'\nraster = { parent = '640x480@60' }\ndepth = { a = { green = 1 } }\nclock = '25.177026 MHz; because it is nearest'",
        )
    )
    wobble = one(found, "clock.wobble")
    assert wobble.found is not None and wobble.found.typical == pytest.approx(0.2006, abs=1e-3)
    assert wobble.state == "fails" and wobble.weight == "caution"
    assert one(found, "clock.repeat").state == "fails"


def test_the_blocker_is_named_with_ways_out() -> None:
    first = survey_plan(read_dossier(EXAMPLES / "first-evening.toml").plan)
    blocked = [v for v in first.verdicts if v.code == "screens.rate" and v.state == "fails"]
    assert [v.subject for v in blocked] == ["displays.relay-4.line_rate"]
    assert "640x480@60" in blocked[0].says and "swap relay-4" in blocked[0].says
    assert blocked[0].remedy[0].value == '"640x480@60"'


def test_final_is_ready_and_first_evening_shows_its_faults() -> None:
    final = survey_plan(read_dossier(EXAMPLES / "final.toml").plan)
    assert final.exit_code() == 0
    assert [v for v in final.verdicts if v.judged == "fails" and v.state != "accepted"] == []
    assert [v for v in final.verdicts if v.judged == "unknown" and v.weight != "note"] == []
    assert len({(v.code, v.subject) for v in final.verdicts if v.state == "accepted"}) == 1
    assert not [v for v in final.verdicts if v.state == "stale"]
    first = survey_plan(read_dossier(EXAMPLES / "first-evening.toml").plan)
    assert first.exit_code() == 1
    failing = {v.code for v in first.verdicts if v.state == "fails" and v.weight != "note"}
    assert {"screens.rate", "levels.white", "memory.blocks"} <= failing
    assert first.on_guess


def test_one_pin_to_three_channels_takes_28_milliampere() -> None:
    """A white lane on one pin of each colour is three pins; but three displays' worth on one pin is refused: 28 mA > 20 mA."""
    direct = one_display(
        "{ style = 'series', part = '67.857 ohm' }", "pin_high = '25 ohm'\nrail = '3.3 V'", "25 ohm; measured"
    )
    pin = one(direct, "levels.pin-current")
    assert pin.found is not None and pin.found.typical == pytest.approx(0.028, abs=1e-5)
    assert pin.state == "fails"


def test_white_on_a_chip_without_fan_out_is_refused_with_a_way_out() -> None:

    text = plan(
        "[chip]\nlike = 'rp2040'",
        "[[displays]]\nname = 'a'",
        "sync = { h = 3, v = 4 }\nconnectors = [{ name = 'J1', plugs = 'a', red = 0, green = 1, blue = 2 }]",
        "colour = { style = 'series', part = '240 ohm' }",
        "stream = '8 lanes'\nraster = { parent = '640x480@60' }\ndepth = { a = { white = 1 } }",
    )
    routing = one(survey(text), "lanes.routing")
    assert (routing.state, routing.weight) == ("fails", "stop")
    assert routing.remedy[0].key == "rigs.r.depth.a"
