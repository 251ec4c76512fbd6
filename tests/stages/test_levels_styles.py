"""Colour stages of every style through the survey: holds, fails and unknown, and remedies that mend."""

from __future__ import annotations

from pathlib import Path

import pytest

from scanloom.basis.verdict import Verdict
from scanloom.formats.dossier_file import read_dossier_text
from scanloom.formats.input_error import InputError
from scanloom.survey import Survey, survey_plan

HERE = Path(__file__)
PINS = "pin_high = '25 ohm; measured'\npin_low = '20 ohm; measured'\nrail = '3.3 V; measured'"
HELD = "pin_high = '20 .. 25 .. 30 ohm; measured'\npin_low = '20 ohm; measured'\nrail = '3.25 .. 3.35 V; measured'"


def survey(
    colour: str,
    *,
    pins: str = "green = 32",
    depth: str = "green = 1",
    displays: int = 1,
    chip: str = f"like = 'wifi240'\n{PINS}",
    board: str = "",
    supply: str = "",
    raster: str = "{ parent = '640x480@60', divide = 2, repeat = 2, picture = '320x240' }",
    load: str = "75 ohm; measured",
    stream: str = "16 lanes",
) -> Survey:
    """Displays a0, a1 and so on; a list of pins a display, parted by a bar."""
    each = pins.split("|")
    shown = "\n".join(
        f"[[displays]]\nname = 'a{at}'\nline_rate = '30 .. 60 kHz'\nframe_rate = '50 .. 75 Hz'\ncolour_load = '{load}'\n"
        "sync_load = '2.2 kohm; measured'\nsync_pull = 'none; measured'"
        for at in range(displays)
    )
    wired = ", ".join(f"{{ name = 'J{at}', plugs = 'a{at}', {each[at % len(each)]} }}" for at in range(displays))
    deep = ", ".join(f"a{at} = {{ {depth} }}" for at in range(displays))
    text = (
        f"[dossier]\nformat = 1\n[chip]\n{chip}\n{shown}\n[supply]\n{supply}\n[board]\nsync = {{ h = 26, v = 27 }}\n"
        f"{board}\nconnectors = [{wired}]\n[levels]\ncolour = {colour}\nsync = {{ style = 'series', part = '100 ohm' }}\n"
        f"[[rigs]]\nname = 'r'\nfirmware = 'radio-off'\nstream = '{stream}'\nraster = {raster}\ndepth = {{ {deep} }}\n"
    )
    return survey_plan(read_dossier_text(text, HERE).plan)


def one(found: Survey, code: str, subject: str = "") -> Verdict:
    match = [v for v in found.verdicts if v.code == code and subject in v.subject]
    assert match, f"no {code} about {subject!r}"
    return match[0]


def typical(verdict: Verdict) -> float:
    assert verdict.found is not None and verdict.found.typical is not None
    return verdict.found.typical


# --- matched ---------------------------------------------------------------------------------------------------------


def test_a_matched_source_gives_white_and_swallows_the_echo() -> None:
    """176.79 and 130.26 ohm, 14.71 mA: series 75 x 3.3 / 1.4 with the pin, shunt 75 x 3.3 / 1.9, by hand."""
    found = survey("{ style = 'matched', part = '151.786 ohm', shunt = '130.263 ohm' }")
    assert typical(one(found, "levels.white")) == pytest.approx(0.7, abs=1e-5)
    assert typical(one(found, "levels.pin-current")) == pytest.approx(14.707e-3, abs=1e-6)
    match = one(found, "levels.source-match")
    assert (match.state, match.weight, typical(match)) == ("holds", "note", pytest.approx(0.0, abs=1e-5))


def test_a_wrong_shunt_does_not_match() -> None:
    """151.8 + 25 ohm beside 620 ohm shows 137.6 ohm: 0.294 comes back, by hand."""
    match = one(survey("{ style = 'matched', part = '151.786 ohm', shunt = '620 ohm' }"), "levels.source-match")
    assert (match.state, typical(match)) == ("fails", pytest.approx(0.294, abs=1e-3))


@pytest.mark.parametrize(
    ("colour", "fact"),
    [
        ("{ style = 'matched', part = '150 ohm' }", "levels.colour.shunt"),
        ("{ style = 'amplified', part = '2 kohm' }", "levels.colour.shunt"),
        ("{ style = 'buffered', part = '249 ohm' }", "levels.colour.buffer"),
        ("{ style = 'buffered', buffer = 'HC', part = '249 ohm' }", "levels.colour.buffer"),
        ("{ style = 'buffered', buffer = 'LVC' }", "levels.colour.part"),
    ],
)
def test_what_is_missing_makes_white_unknown(colour: str, fact: str) -> None:
    white = one(survey(colour), "levels.white")
    assert white.state == "unknown"
    assert white.settle is not None and white.settle.fact == fact


def test_a_family_that_nobody_knows_fails() -> None:
    white = one(survey("{ style = 'buffered', buffer = 'XYZ', part = '249 ohm' }"), "levels.white")
    assert white.state == "fails" and "LVC" in white.says


# --- buffered ----------------------------------------------------------------------------------------------------------

BUFFERED = "{ style = 'buffered', buffer = 'LVC', part = '249 ohm ± 1 %' }"
RGB = "red = 2, green = 3, blue = 4|red = 5, green = 6, blue = 7"
RP = f"like = 'rp2040'\ndrive = '12 mA; because'\n{PINS}"


def test_a_buffer_takes_the_current_off_the_pins() -> None:
    """249 + 12 ohm into 75 ohm from 3.3 V: 0.7366 V and 9.82 mA, by hand."""
    found = survey(BUFFERED)
    assert typical(one(found, "levels.white")) == pytest.approx(0.73661, abs=1e-5)
    assert typical(one(found, "levels.buffer-current", "green")) == pytest.approx(9.8214e-3, abs=1e-7)
    pin = one(found, "levels.pin-current")
    assert pin.state == "holds" and pin.found is not None and pin.found.high is not None
    assert pin.found.high <= 10e-6
    package = one(found, "levels.buffer-package")
    assert (package.state, package.weight) == ("holds", "caution")


def test_packages_are_counted_and_judged() -> None:
    """Ten outputs of 9.8 mA typical, 10.1 mA at most: 8 on LVC's 100 mA, so two packages; on one they find no room."""
    pins = "|".join(f"green = {p}" for p in (32, 33, 25, 13, 4, 18, 19, 21, 22, 23))
    rig = survey(BUFFERED, pins=pins, displays=10)
    [count] = [levels.buffers[0] for levels in [rig.rigs[0].levels] if levels is not None]
    assert (count.outputs, count.per_package, count.packages, count.spare) == (10, 8, 2, 6)
    assert one(rig, "levels.buffer-package").state == "holds"
    crowded = survey(BUFFERED.replace("LVC'", "LVC', packages = 1"), pins=pins, displays=10)
    package = one(crowded, "levels.buffer-package")
    assert (package.state, [p.value for p in package.remedy]) == ("fails", ["2"])
    assert (
        one(
            survey(BUFFERED.replace("LVC'", "LVC', packages = 2"), pins=pins, displays=10), "levels.buffer-package"
        ).state
        == "holds"
    )


def test_a_weak_family_is_overloaded_eight_to_a_package() -> None:
    """AHC: 35 ohm typical; 3.3 / (226 + 35 + 75) = 9.8 mA each, eight of them over the 75 mA of its sheet."""
    pins = "|".join(f"green = {p}" for p in (32, 33, 25, 13, 4, 18, 19, 21))
    weak = "{ style = 'buffered', buffer = 'AHC', packages = 1, part = '226 ohm ± 1 %' }"
    assert one(survey(weak, pins=pins, displays=8), "levels.buffer-package").state == "fails"
    two = survey(weak.replace("packages = 1", "packages = 2"), pins=pins, displays=8)
    assert one(two, "levels.buffer-package").state == "holds"


def test_a_package_that_unlucky_parts_overload_is_unknown() -> None:
    """Seven of AHC: 7 x 3.3 / 325 = 71 mA typical, 77 mA where outputs and parts are strongest and the rail high."""
    pins = "|".join(f"green = {p}" for p in (32, 33, 25, 13, 4, 18, 19))
    weak = "{ style = 'buffered', buffer = 'AHC', packages = 1, part = '215 ohm ± 5 %' }"
    found = survey(weak, pins=pins, displays=7, chip=f"like = 'wifi240'\n{HELD}")
    package = one(found, "levels.buffer-package")
    assert package.state == "unknown"
    assert [p.value for p in package.remedy] == ["2"]


def test_an_output_that_carries_too_much_fails() -> None:
    output = one(survey("{ style = 'buffered', buffer = 'LVC', part = '10 ohm' }"), "levels.buffer-current", "green")
    assert (output.state, output.weight) == ("fails", "caution")


def test_chip_current_of_buffered_colours_is_next_to_nothing_and_the_inlet_still_pays() -> None:
    supply = "inlet = '500 mA; standard'\nchip_current = '50 mA; measured'"
    bare = survey(
        "{ style = 'series', part = '240 ohm' }",
        chip=RP,
        pins=RGB,
        depth="red = 1, green = 1, blue = 1",
        displays=2,
        supply=supply,
    )
    eased = survey(BUFFERED, chip=RP, pins=RGB, depth="red = 1, green = 1, blue = 1", displays=2, supply=supply)
    assert one(bare, "levels.chip-current").state == "fails"
    assert one(eased, "levels.chip-current").state == "holds"
    assert typical(one(eased, "levels.chip-current")) < typical(one(bare, "levels.chip-current")) - 0.05
    assert typical(one(eased, "levels.inlet")) == pytest.approx(typical(one(bare, "levels.inlet")), rel=0.05)


def mended(found: Survey, code: str, remedy_key: str = "levels.colour", **changes: str | int) -> Verdict:
    """The check again, with the remedy it offers put in place of the colour stage."""
    offered = [p for p in one(found, code).remedy if p.key == remedy_key]
    assert offered, f"{code} offers no buffers"
    return one(survey(offered[0].value, **changes), code)  # type: ignore[arg-type]


def test_buffers_offered_for_a_pin_that_carries_too_much_mend_it() -> None:
    weak = survey("{ style = 'direct' }", chip=f"like = 'wifi240'\n{HELD}")
    assert one(weak, "levels.pin-current").state == "fails"
    assert mended(weak, "levels.pin-current", chip=f"like = 'wifi240'\n{HELD}").state == "holds"
    part = one(weak, "levels.pin-current").remedy[0].value
    assert one(survey(part, chip=f"like = 'wifi240'\n{HELD}"), "levels.white").state == "holds"


def test_buffers_offered_for_the_chip_mend_it() -> None:
    bare = "{ style = 'series', part = '240 ohm' }"
    six = {"chip": RP, "pins": RGB, "depth": "red = 1, green = 1, blue = 1", "displays": 2}
    found = survey(bare, **six)  # type: ignore[arg-type]
    assert one(found, "levels.chip-current").state == "fails"
    assert mended(found, "levels.chip-current", **six).state == "holds"  # type: ignore[arg-type]
    assert "1 package for 6 outputs" in one(found, "levels.chip-current").remedy[0].says
    white = one(survey(one(found, "levels.chip-current").remedy[0].value, **six), "levels.white")  # type: ignore[arg-type]
    assert white.state == "holds"


def test_buffers_offered_for_several_bits_keep_their_levels_even() -> None:
    """The parts make up for what the buffers' outputs lack: 390 and 820 ohm behind 25 ohm become 402 and 825 behind 12."""
    wide = {
        "chip": RP,
        "pins": "red = [2, 3], green = [4, 5], blue = [6, 7]|red = [8, 9], green = [10, 11], blue = [12, 13]",
        "depth": "red = 2, green = 2, blue = 2",
        "displays": 2,
    }
    found = survey("{ style = 'weighted', part = '390, 820 ohm ± 1 %' }", **wide)  # type: ignore[arg-type]
    assert one(found, "levels.chip-current").state == "fails"
    value = one(found, "levels.chip-current").remedy[0].value
    assert "402, 825 ohm" in value
    after = survey(value, **wide)  # type: ignore[arg-type]
    assert one(after, "levels.chip-current").state == "holds"
    assert typical(one(after, "levels.white")) == pytest.approx(typical(one(found, "levels.white")), rel=0.01)
    assert typical(one(after, "levels.linearity")) < 0.05


def test_buffers_offered_at_a_boot_pin_mend_it() -> None:
    found = survey("{ style = 'series', part = '240 ohm' }", pins="green = 0")
    assert one(found, "waking.boot-pin").state == "fails"
    assert mended(found, "waking.boot-pin", pins="green = 0").state == "holds"


def test_no_buffers_are_offered_where_there_are_some_or_nothing_is_wrong() -> None:
    assert one(survey(BUFFERED), "levels.pin-current").remedy == ()
    assert one(survey("{ style = 'series', part = '240 ohm' }"), "levels.pin-current").remedy == ()


def test_a_wrong_part_behind_a_buffer_is_offered_a_right_one() -> None:
    dim = survey("{ style = 'buffered', buffer = 'LVC', part = '330 ohm ± 1 %' }")
    white = one(dim, "levels.white")
    assert (white.state, [p.key for p in white.remedy]) == ("fails", ["levels.colour.part"])
    part = white.remedy[0].value.strip('"')
    assert one(survey(f"{{ style = 'buffered', buffer = 'LVC', part = '{part}' }}"), "levels.white").state == "holds"


# --- one pin for several colours ------------------------------------------------------------------------------------------


def test_one_pin_to_three_inputs_is_refused_with_its_number() -> None:
    """0.7 V at each of three inputs is 28.0 mA out of one pin; 203.57 = 75 (3.3 / 0.7 - 1) - 3 x 25 ohm, by hand."""
    found = survey(
        "{ style = 'series', part = '203.571 ohm' }", pins="red = 32, green = 32, blue = 32", depth="white = 1"
    )
    pin = one(found, "levels.pin-current", "red")
    assert (pin.state, pin.weight) == ("fails", "stop")
    assert typical(pin) == pytest.approx(28.0e-3, abs=1e-7)
    assert "feeds 3 inputs" in pin.says
    assert typical(one(found, "levels.white", "red")) == pytest.approx(0.7, abs=1e-6)
    assert typical(one(found, "levels.chip-current")) == pytest.approx(28.0e-3 + 2 * 3.3 / 2325.0, abs=2e-6)
    offered = [p for p in pin.remedy if p.key == "levels.colour"]
    eased = survey(offered[0].value, pins="red = 32, green = 32, blue = 32", depth="white = 1")
    assert one(eased, "levels.pin-current", "red").state == "holds"
    assert one(eased, "levels.buffer-current", "red").state == "holds"


def test_three_pins_of_their_own_carry_it() -> None:
    found = survey("{ style = 'series', part = '240 ohm' }", pins="red = 32, green = 33, blue = 25", depth="white = 1")
    assert one(found, "levels.pin-current", "red").state == "holds"
    assert "feeds" not in one(found, "levels.pin-current", "red").says


def test_colours_of_one_pin_have_one_lane() -> None:
    apart = survey("{ style = 'series', part = '203 ohm' }", pins="red = 32, green = 32", depth="red = 1, green = 1")
    assert one(apart, "lanes.pins").state == "fails"
    assert "state white as the depth" in one(apart, "lanes.pins").says
    with pytest.raises(InputError, match="asked for twice"):
        survey("{ style = 'series', part = '203 ohm' }", pins="red = [32, 33], green = 32", depth="white = 1")


def test_a_boot_pin_sees_every_input_that_it_feeds() -> None:
    """45 kohm up against three arms of 203 + 75 ohm: 3.3 x 92.7 / 45093 = 6.8 mV, by hand."""
    found = survey("{ style = 'series', part = '203 ohm' }", pins="red = 0, green = 0, blue = 0", depth="white = 1")
    boot = one(found, "waking.boot-pin")
    assert (boot.state, typical(boot)) == ("fails", pytest.approx(6.78e-3, abs=2e-5))


# --- amplified ---------------------------------------------------------------------------------------------------------

AMPLIFIED = (
    "{ style = 'amplified', part = '2.7 kohm ± 1 %', shunt = '750 ohm ± 1 %', amplifier = { gain = 2, back = '75 ohm ± 1 %', "
    "bandwidth = '100 MHz; sheet', slew = '300 V/us; sheet', current = '8 mA; sheet' } }"
)


def test_an_amplifier_halves_what_it_doubles() -> None:
    """3.3 x 750 / 3475 = 0.7122 V in and, twice that through 75 into 75 ohm, out; 0.95 mA from the pin, by hand."""
    found = survey(AMPLIFIED, supply="inlet = '500 mA; standard'\nchip_current = '50 mA; measured'")
    white = one(found, "levels.white")
    assert (typical(white), white.state) == (pytest.approx(0.71223, abs=1e-5), "holds")
    assert typical(one(found, "levels.pin-current")) == pytest.approx(0.9496e-3, abs=1e-7)
    assert typical(one(found, "levels.source-match")) == pytest.approx(0.0, abs=1e-12)
    sync_a = 3.3 / (125.0 + 2200.0)
    assert typical(one(found, "levels.inlet")) == pytest.approx(
        50e-3 + 0.9496e-3 + 9.4964e-3 + 8e-3 + 2 * sync_a, abs=3e-5
    )


@pytest.mark.parametrize(
    ("clock", "needs_hz"),
    [
        ("640x480@60", 26e6),
        ("800x600@60", 42e6),
        ("1024x768@60", 68e6),
    ],  # rise of a third of a pixel: 1.05 x 25.2, 40, 65 MHz
)
def test_bandwidth_that_a_pixel_needs(clock: str, needs_hz: float) -> None:
    found = survey(AMPLIFIED, raster=f"{{ parent = '{clock}' }}")
    wide = one(found, "levels.amplifier-bandwidth")
    assert wide.limit is not None and wide.limit.low == pytest.approx(needs_hz, rel=0.02)
    assert wide.state == "holds"


def test_a_slow_amplifier_fails_and_an_unknown_one_is_unknown() -> None:
    slow = survey(
        AMPLIFIED.replace("100 MHz", "20 MHz").replace("300 V/us", "50 V/us"), raster="{ parent = '640x480@60' }"
    )
    assert one(slow, "levels.amplifier-bandwidth").state == "fails"
    assert one(slow, "levels.amplifier-slew").state == "fails"
    bare = survey("{ style = 'amplified', part = '2.7 kohm', shunt = '750 ohm' }")
    assert one(bare, "levels.amplifier-bandwidth").state == "unknown"
    assert one(bare, "levels.amplifier-slew").state == "unknown"
    white = one(bare, "levels.white")
    assert white.on_guess and white.state == "holds"


def test_slew_is_that_of_a_single_pole() -> None:
    """1.4 V rising 10 to 90 % in a third of 39.7 ns: 1.4 x 2.197 / 13.2 ns = 232 V/us, by hand."""
    found = survey(AMPLIFIED.replace("2.7 kohm ± 1 %", "2760.7 ohm"), raster="{ parent = '640x480@60' }")
    slew = one(found, "levels.amplifier-slew")
    assert slew.limit is not None and slew.limit.low == pytest.approx(232e6, rel=0.01)


def test_at_a_boot_pin_an_amplifier_shields_it_from_the_display_but_not_from_its_own_shunt() -> None:
    found = survey(AMPLIFIED, pins="green = 0")
    boot = one(found, "waking.boot-pin")
    assert boot.state == "fails"
    assert "displays.a0.colour_load" not in {f.key for f in boot.rests_on}


# --- what would settle white ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("chip", "part", "load", "fact"),
    [
        ("pin_high = '10 .. 25 .. 60 ohm; guess'\nrail = '3.3 V; measured'", "240 ohm ± 1 %", "75 ohm; measured", "chip.pin_high"),
        ("pin_high = '25 ohm; measured'\nrail = '2.9 .. 3.7 V; guess'", "240 ohm ± 1 %", "75 ohm; measured", "chip.rail"),
        ("pin_high = '25 ohm; measured'\nrail = '3.3 V; measured'", "240 ohm ± 20 %", "75 ohm; measured", "levels.colour.part"),
        ("pin_high = '25 ohm; measured'\nrail = '3.3 V; measured'", "240 ohm ± 1 %", "75 ohm ± 9 %; guess", "displays.a0.colour_load"),
    ],
)  # fmt: skip
def test_what_widens_white_most_is_what_settles_it(chip: str, part: str, load: str, fact: str) -> None:
    white = one(
        survey(f"{{ style = 'series', part = '{part}' }}", chip=f"like = 'wifi240'\n{chip}", load=load), "levels.white"
    )
    assert white.state == "unknown"
    assert white.settle is not None and white.settle.fact == fact
    assert ("of white's width" in white.settle.what) == (fact != "displays.a0.colour_load")


# --- colours of one display -----------------------------------------------------------------------------------------------

RGB_OF_ONE = {"pins": "red = 32, green = 33, blue = 25", "depth": "red = 1, green = 1, blue = 1"}


@pytest.mark.parametrize(
    ("part", "load", "most_percent", "state"),
    [
        ("240 ohm ± 1 %", "75 ohm; measured", 1.41, "holds"),
        ("240 ohm ± 5 %", "75 ohm ± 2 %; measured", 10.17, "unknown"),
    ],
)
def test_colours_of_one_display_match(part: str, load: str, most_percent: float, state: str) -> None:
    """White is rail x load / (load + part + 25): strongest against weakest, over their mean, by hand."""
    found = one(survey(f"{{ style = 'series', part = '{part}' }}", load=load, **RGB_OF_ONE), "levels.channel-mismatch")
    assert (found.state, found.weight, typical(found)) == (state, "note", 0.0)
    assert found.found is not None and found.found.high == pytest.approx(most_percent, abs=0.01)


def test_a_rail_that_varies_tints_nothing() -> None:
    chip = f"like = 'wifi240'\n{PINS.replace('3.3 V', '3.0 .. 3.6 V')}"
    wide = one(
        survey("{ style = 'series', part = '240 ohm ± 1 %' }", chip=chip, **RGB_OF_ONE), "levels.channel-mismatch"
    )
    assert wide.state == "holds"
    alone = survey("{ style = 'series', part = '240 ohm ± 1 %' }")
    assert not [v for v in alone.verdicts if v.code == "levels.channel-mismatch"]


# --- heat, edges, switching -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("colour", "heat_w", "state"),
    [
        ("{ style = 'series', part = '240 ohm' }", 7.06e-3, "holds"),
        ("{ style = 'direct' }", 81.675e-3, "fails"),  # 2.475 V on 75 ohm, over the 62.5 mW of an 0402
    ],
)
def test_heat_in_the_displays_termination(colour: str, heat_w: float, state: str) -> None:
    heat = one(survey(colour), "levels.load-heat")
    assert (typical(heat), heat.state, heat.weight) == (pytest.approx(heat_w, rel=2e-3), state, "caution")
    assert heat.on_guess and heat.sources[0].standing == "recalled"


@pytest.mark.parametrize(
    ("guard", "state", "alone"), [("5 pF", "holds", "holds"), ("100 pF", "fails", "fails"), ("", "holds", "")]
)
def test_a_guarding_part_slows_the_colours(guard: str, state: str, alone: str) -> None:
    board = f"protection = '{guard}; sheet'" if guard else ""
    found = survey("{ style = 'series', part = '240 ohm' }", board=board, raster="{ parent = '640x480@60' }")
    edge = one(found, "levels.colour-edge")
    assert (edge.state, edge.weight) == (state, "caution" if guard else "note")
    assert [v.state for v in found.verdicts if v.code == "levels.protection"] == ([alone] if alone else [])


def ten(**changes: str) -> Survey:
    """Ten green channels of 9.3 mA: nine of them against one that stays dark."""
    pins = "|".join(f"green = {p}" for p in (32, 33, 25, 13, 4, 18, 19, 21, 22, 23))
    return survey("{ style = 'series', part = '253.571 ohm' }", pins=pins, displays=10, **changes)


def test_switching_together_lands_on_a_dark_channel() -> None:
    """9 x 9.333 mA through 4 nH in 2 ns: 168 mV, and 1.7 mV in 20 mohm; 75 / 353.6 of it on screen, by hand."""
    found = ten(supply="ground_path = '4 nH; measured'")
    bounce = one(found, "levels.dark-bounce")
    assert typical(bounce) == pytest.approx((0.168 + 0.00168) * 75.0 / 353.571 / 0.7 * 100.0, rel=2e-3)
    assert (bounce.state, bounce.weight) == ("fails", "caution")
    assert one(ten(), "levels.dark-bounce").weight == "note"
    assert one(ten(supply="ground_path = '0.3 nH; measured'"), "levels.dark-bounce").state == "holds"
    assert "supply.ground_path" not in {f.key for f in one(found, "levels.supply-dip").rests_on}


def test_few_capacitors_let_white_fall() -> None:
    """93.3 mA for 1 us from 1 uF: 93 mV before the regulator answers; from 11 uF a tenth."""
    poor = one(ten(supply="decoupling = '1000 nF; sheet'"), "levels.supply-dip")
    assert (poor.state, poor.weight) == ("fails", "caution")
    assert typical(poor) == pytest.approx((93.33e-3 * (1.0 + 0.02 + 0.1)) / 3.3 * 100.0, rel=2e-3)
    rich = one(ten(supply="decoupling = '100, 100, 100, 100, 22000, 22000 nF; sheet'"), "levels.supply-dip")
    assert typical(rich) < typical(poor) / 2.0
    few = survey("{ style = 'series', part = '253.571 ohm' }", supply="decoupling = '100, 100, 22000, 22000 nF; sheet'")
    assert one(few, "levels.supply-dip").state == "holds"


def test_unknown_levels_leave_switching_unknown() -> None:
    assert one(survey("{ style = 'matched', part = '150 ohm' }"), "levels.dark-bounce").state == "unknown"
