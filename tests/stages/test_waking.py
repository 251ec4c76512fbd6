"""Reset and power with displays attached, judged through the survey. Figures by hand beside each, Ohm's law only.

Boot roles, pulls and thresholds of wifi240 are its record's, from memory: pull 30 to 45 to 80 kohm, low below 0.825 V,
high from 2.475 V. So is what a clamp may take, 5 mA, and its drop, 0.3 to 0.6 to 0.7 V.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from scanloom.basis.verdict import Verdict
from scanloom.dossier.plan import Plan
from scanloom.formats.dossier_file import read_dossier_text
from scanloom.handbook.chip import Chip
from scanloom.handbook.chips import chip
from scanloom.survey import Survey, survey_plan

HERE = Path(__file__).parent
COLOUR = "colour = { style = 'series', part = '330 ohm; measured' }"
SYNC = "sync = { style = 'series', part = '100 ohm; measured' }"
CHIP = "like = 'wifi240'\nrail = '3.3 V; measured'"
LOADS = "colour_load = '75 ohm; measured'\nsync_load = '2.2 kohm; measured'\nsync_pull = 'none; measured'"


def plan(
    pins: str = "green = 32",
    *,
    h: int = 26,
    displays: str = f"[[displays]]\nname = 'a'\n{LOADS}",
    colour: str = COLOUR,
    sync: str = SYNC,
    head: str = CHIP,
    bits: int = 1,
    rig: str = "firmware = 'radio-off'",
    rest: str = "",
    plugs: str = "plugs = 'a', ",
) -> Plan:
    """One connector, by default with display a on one ordinary pin."""
    names = [line.split("'")[1] for line in displays.splitlines() if line.startswith("name")]
    more = ", ".join(
        f"{{ name = 'K{i}', plugs = '{n}', green = {p} }}"
        for i, (n, p) in enumerate(zip(names[1:], (33, 25, 18, 19, 21), strict=False))
    )
    depth = ", ".join([f"a = {{ green = {bits} }}", *(f"{n} = {{ green = 1 }}" for n in names[1:])])
    return read_dossier_text(
        f"[dossier]\nformat = 1\n[chip]\n{head}\n{displays}\n{rest}\n[board]\nsync = {{ h = {h}, v = 27 }}\n"
        f"connectors = [{{ name = 'J1', {plugs}{pins} }}{', ' + more if more else ''}]\n[levels]\n{colour}\n{sync}\n"
        f"[[rigs]]\nname = 'r'\nstream = '8 lanes'\nraster = {{ parent = '640x480@60', divide = 2, repeat = 2 }}\ndepth = {{ {depth} }}\n{rig}\n",
        HERE / "test.toml",
    ).plan


def of(found: Survey, code: str) -> list[Verdict]:
    return [v for v in found.verdicts if v.code == code]


def boot(made: Plan) -> Verdict:
    """The one verdict on a boot pin."""
    (found,) = of(survey_plan(made), "waking.boot-pin")
    return found


def volts(verdict: Verdict) -> tuple[float | None, float | None, float | None]:
    assert verdict.found is not None
    return verdict.found.low, verdict.found.typical, verdict.found.high


# boot pins


def test_a_colour_on_a_must_be_high_pin_starts_the_loader() -> None:
    """3.3 V x 405 / 45405 = 29.4 mV; with 80 and 30 kohm 16.6 and 44.0 mV."""
    found = boot(plan("green = 0"))
    assert volts(found) == pytest.approx((3.3 * 405 / 80405, 0.029435, 3.3 * 405 / 30405), abs=1e-6)
    assert (found.state, found.weight, found.subject) == ("fails", "stop", "board.connectors.J1.green")
    assert found.limit is not None and found.limit.low == pytest.approx(2.475)
    assert found.says.startswith("Pin 0 must be high while the chip starts, but green of a holds it low: low at reset")
    assert {f.key for f in found.rests_on} >= {
        "board.connectors.J1.green",
        "board.connectors.J1.plugs",
        "levels.colour.part",
        "displays.a.colour_load",
        "chip.rail",
    }
    # only with the display: without it the pull alone makes it high
    (level,) = survey_plan(plan("green = 0")).rigs[0].waking.boots  # type: ignore[union-attr]
    assert level.detached_v is not None and level.detached_v.low == pytest.approx(3.3)
    assert level.attached_v is not None and level.attached_v.typical == pytest.approx(0.029435, abs=1e-6)


def test_the_pull_that_would_help_is_named_and_refused() -> None:
    """2.475 V into 405 ohm take 6.111 mA, of which 80 kohm bring 0.010: 0.825 V / 6.101 mA = 135 ohm; 130 can be bought.

    Driven low by 22 ohm against that pull, beside 405 ohm, the pin stands at 0.44 V, of which the load sees 75 / 405.
    """
    says = boot(plan("green = 0")).says
    assert "It would take a pull-up of 130 ohm or less to bring it to 2.475 V, too strong to be of use" in says
    pin_v = 3.3 / 130 / (1 / 130 + 1 / 22 + 1 / 405)
    assert f"black would rise to {pin_v * 75 / 405 * 1e3:.0f} mV" in says


def test_the_remedy_moves_the_lane_and_then_nothing_is_read() -> None:
    found = boot(plan("green = 0"))
    assert [p.key for p in found.remedy] == ["board.connectors.J1.green", "levels.colour"]
    pin = int(found.remedy[0].value)
    assert not any(row.boot or row.role or row.noise for row in chip("wifi240").pin_rows(pin))
    clean = boot(plan(f"green = {pin}"))
    assert (clean.state, clean.subject) == ("holds", "board")


def test_a_buffered_colour_leaves_the_pin_to_its_pull() -> None:
    found = boot(plan("green = 0", colour="colour = { style = 'buffered' }"))
    assert (found.state, volts(found)) == ("holds", (3.3, 3.3, 3.3))
    assert "only a buffer hangs on it" in found.says
    assert "displays.a.colour_load" not in {f.key for f in found.rests_on}


def test_a_colour_may_sit_on_a_must_be_low_pin() -> None:
    """Everything pulls to ground."""
    found = boot(plan("green = 12"))
    assert (found.state, volts(found), found.weight) == ("holds", (0.0, 0.0, 0.0), "stop")


def test_high_by_default_is_only_a_note() -> None:
    found = boot(plan("green = 15"))
    assert (found.state, found.weight) == ("fails", "note")
    assert "low only silences the boot text" in found.says
    assert survey_plan(plan("green = 15")).exit_code() == survey_plan(plan()).exit_code()


PULLING = "colour_load = '75 ohm; measured'\nsync_load = '100 kohm; measured'\nsync_pull = '2.2 kohm to 5 V; measured'"


def test_a_sync_that_displays_pull_up_must_not_sit_on_a_must_be_low_pin() -> None:
    """5 V through 2.2 kohm beside 100 kohm is 4.892 V behind 2153 ohm; then 100 ohm and 45 kohm to ground: 4.660 V."""
    displays = f"[[displays]]\nname = 'a'\n{PULLING}"
    found = boot(plan(h=12, displays=displays))
    assert volts(found)[1] == pytest.approx(4.660, abs=1e-3)
    assert (found.state, found.weight, found.subject) == ("fails", "stop", "board.sync.h")
    assert "selects a 1.8 V flash supply" in found.says
    # 0.825 V at the pin draw (4.892 - 0.825) / 2253 = 1.805 mA, of which 80 kohm take 0.010: 460 ohm, 430 to buy
    assert "a pull-down of 430 ohm or less" in found.says
    assert {p.key for p in found.remedy} == {"board.sync.h", "levels.sync"}
    quiet = boot(plan(h=12))
    assert (quiet.state, volts(quiet)) == ("holds", (0.0, 0.0, 0.0))
    buffered = "sync = { style = 'buffered', buffer = 'LVC', outputs = 'one per display' }"
    assert boot(plan(h=12, displays=displays, sync=buffered)).state == "holds"


def test_a_sync_load_spoils_a_must_be_high_pin() -> None:
    """3.3 V x 2300 / 47300 = 0.160 V; behind a buffer the pull alone holds it."""
    found = boot(plan(h=0))
    assert volts(found)[1] == pytest.approx(3.3 * 2300 / 47300, abs=1e-6)
    assert found.state == "fails"
    assert boot(plan(h=0, sync="sync = { style = 'buffered', buffer = 'AHC' }")).state == "holds"


def test_the_worst_mix_of_displays_is_judged() -> None:
    """Display b loads hard and would hide what a does; plugged in alone, a lifts the pin."""
    b = "[[displays]]\nname = 'b'\ncolour_load = '75 ohm'\nsync_load = '150 ohm; measured'\nsync_pull = 'none; measured'"
    made = survey_plan(plan(h=12, displays=f"[[displays]]\nname = 'a'\n{PULLING}\n{b}"))
    (found,) = of(made, "waking.boot-pin")
    level = made.rigs[0].waking.boots[0]  # type: ignore[union-attr]
    # 4.892 V behind 2153 ohm into 150 ohm: 0.319 V
    assert level.attached_v is not None and level.attached_v.typical == pytest.approx(0.318, abs=1e-3)
    assert level.worst_v is not None and level.worst_v.typical == pytest.approx(4.660, abs=1e-3)
    assert found.state == "fails"


def test_two_bits_pull_against_each_other_without_a_display() -> None:
    """45 kohm down and 45 kohm up through 820 + 390 ohm: 3.3 x 45000 / 91210 = 1.628 V, with the display some millivolts."""
    weighted = "colour = { style = 'weighted', part = '390, 820 ohm; measured' }"
    made = survey_plan(plan("green = [14, 12]", colour=weighted, bits=2))
    (found,) = of(made, "waking.boot-pin")
    assert volts(found)[1] == pytest.approx(3.3 * 45000 / 91210, abs=1e-6)
    assert (found.state, found.subject) == ("fails", "board.connectors.J1.green.pin-12")
    assert "without a display the pulls of the channel's other pins hold it high" in found.says
    level = made.rigs[0].waking.boots[0]  # type: ignore[union-attr]
    assert level.attached_v is not None and level.attached_v.high < 0.02
    assert found.remedy[0].value.startswith("[14, ")
    clean = boot(plan("green = [13, 12]", colour=weighted, bits=2))  # pin 13 pulls down, too
    assert (clean.state, volts(clean)) == ("holds", (0.0, 0.0, 0.0))


def test_a_ladder_is_solved_tap_by_tap() -> None:
    """Pin 0 pulls up by 45 kohm through 360 ohm to the first tap, where 75 ohm and the rest of the ladder load it.

    The other pin has no pull, so its tap only joins rung and terminator: 180 + 360 ohm beside 75 ohm are 65.85 ohm.
    """
    found = boot(
        plan("green = [0, 32]", colour="colour = { style = 'ladder', part = '180, 360 ohm; measured' }", bits=2)
    )
    below = 360 + 1 / (1 / 75 + 1 / 540)
    assert volts(found)[1] == pytest.approx(3.3 * below / (45000 + below), abs=1e-9)
    assert found.state == "fails"


@pytest.mark.parametrize(
    ("changed", "fact"),
    [
        ({"pins": "green = 0", "displays": "[[displays]]\nname = 'a'"}, "displays.a.colour_load"),
        ({"pins": "green = 12", "displays": "[[displays]]\nname = 'a'"}, "displays.a.colour_load"),
        ({"pins": "green = 12", "colour": "colour = { style = 'series' }"}, "levels.colour.part"),
        ({"pins": "green = 12", "colour": ""}, "levels.colour"),
        ({"pins": "green = 12", "colour": "colour = { style = 'amplified', part = '2 kohm' }"}, "levels.colour.shunt"),
        ({"pins": "green = 12", "colour": "colour = { style = 'matched', part = '180 ohm' }"}, "levels.colour.shunt"),
        ({"h": 12, "displays": "[[displays]]\nname = 'a'"}, "displays.a.sync_load"),
        ({"h": 12, "sync": "sync = { style = 'series' }"}, "levels.sync.part"),
        ({"h": 12, "sync": ""}, "levels.sync"),
    ],
)
def test_what_is_missing_makes_it_unknown(changed: dict[str, object], fact: str) -> None:
    found = boot(plan(**changed))  # type: ignore[arg-type]
    assert (found.state, found.weight) == ("unknown", "stop")
    assert found.settle is not None and found.settle.fact == fact


def test_a_connector_without_a_display_is_taken_to_get_one() -> None:
    found = boot(plan("green = 0", plugs=""))
    assert volts(found)[1] == pytest.approx(0.029435, abs=1e-6)
    assert (found.state, found.on_guess) == ("fails", True)


def with_chip(made: Plan, **pin: object) -> Plan:
    """The plan with the row of pin 0 changed."""
    record = chip("wifi240")
    rows = tuple(row.model_copy(update=pin) if row.pins == (0,) else row for row in record.table.pin)
    return replace(made, chip=Chip(record.table.model_copy(update={"pin": rows}), record.sources))


def test_a_pin_that_nothing_holds_is_unknown() -> None:
    floating = boot(with_chip(plan("green = 0"), pull="none", boot="must be low"))
    assert (floating.state, volts(floating)) == ("unknown", (0.0, 0.0, 0.0))
    assert "nothing holds it while no display is plugged in" in floating.says
    held = boot(with_chip(plan("green = 0"), pull="down", boot="must be low"))
    assert held.state == "holds"
    # behind a buffer, against 30 kohm down: 0.825 V / (2.475 V / 30 kohm) = 10 kohm to the rail
    alone = boot(with_chip(plan("green = 0", colour="colour = { style = 'buffered' }"), pull="down"))
    assert (alone.state, volts(alone)) == ("fails", (0.0, 0.0, 0.0))
    assert "but its own pull holds it low" in alone.says and "a pull-up of 10000 ohm or less" in alone.says
    low = boot(with_chip(plan("green = 0"), pull="none"))  # must be high, and the load holds it low
    assert low.state == "fails"


def test_without_thresholds_or_a_list_of_pins_nobody_can_say() -> None:
    record = chip("wifi240")
    made = plan("green = 0")
    no_logic = boot(replace(made, chip=Chip(record.table.model_copy(update={"logic": None}), record.sources)))
    assert (no_logic.state, no_logic.weight) == ("unknown", "stop")
    bare = replace(plan(), chip=Chip(record.table.model_copy(update={"pins": None, "pin": ()}), record.sources))
    assert (boot(bare).state, boot(bare).subject) == ("unknown", "board")


# current into the dead board


def pulling(
    count: int, sync: str, *, load: str = "sync_load = '1 Mohm; measured'\n", pull: str = "2.2 kohm to 5 V; measured"
) -> list[Verdict]:
    """Verdicts on back-feeding with so many displays that pull up."""
    displays = "\n".join(
        f"[[displays]]\nname = '{name}'\ncolour_load = '75 ohm'\n{load}" + (f"sync_pull = '{pull}'" if pull else "")
        for name in "abcdef"[:count]
    )
    return of(survey_plan(plan(displays=displays, sync=sync)), "waking.back-fed")


@pytest.mark.parametrize(
    ("count", "sync", "milliampere", "state"),
    [
        (6, "sync = { style = 'direct' }", 12.0, "fails"),  # 6 x (5 - 0.6) V / 2200 ohm
        (6, SYNC, 9.43, "fails"),  # 4.4 V / (2200 / 6 + 100) ohm
        (
            6,
            "sync = { style = 'series', part = '100 ohm', branch = '10 kohm' }",
            2.05,
            "holds",
        ),  # 4.4 / (12200 / 6 + 100)
        (1, "sync = { style = 'direct' }", 2.0, "holds"),
        (6, "sync = { style = 'buffered', buffer = 'AHC', outputs = 'one' }", 12.0, "fails"),
        (6, "sync = { style = 'buffered', buffer = 'AHC', outputs = 'one per display' }", 2.0, "holds"),
        (6, "sync = { style = 'buffered', buffer = 'LVC', outputs = 'one' }", 1e-4, "holds"),  # shut without supply
    ],
)
def test_displays_that_pull_up_feed_a_dead_board(count: int, sync: str, milliampere: float, state: str) -> None:
    found = pulling(count, sync)
    assert [v.subject for v in found] == ["board.sync.h", "board.sync.v"]
    for verdict in found:
        assert volts(verdict)[1] == pytest.approx(milliampere * 1e-3, rel=4e-3)
        assert (verdict.state, verdict.weight) == (state, "stop")
        assert verdict.limit is not None and verdict.limit.high == pytest.approx(5e-3)
        assert verdict.sources[0].standing == "recalled"
    if state == "fails":
        assert "The sync inputs of a, b, c, d, e, f push more" in found[0].says
        assert "towards 4.4 V" in found[0].says  # 5 V less a clamp's drop
        assert found[0].remedy[0].key == "levels.sync"


def test_the_display_s_own_load_takes_part_of_it() -> None:
    """2.2 kohm to 5 V with 2.2 kohm to ground is 2.5 V behind 1.1 kohm: 1.9 V / 1100 ohm = 1.727 mA a display."""
    found = pulling(6, "sync = { style = 'direct' }", load="sync_load = '2.2 kohm; measured'\n")[0]
    assert volts(found)[1] == pytest.approx(6 * 1.9 / 1100, rel=1e-6)


def test_no_pull_known_holds_on_a_guess_and_a_measured_none_holds() -> None:
    guessed = pulling(6, SYNC, pull="")[0]
    assert (guessed.state, guessed.on_guess) == ("holds", True)
    measured = pulling(6, SYNC, pull="none; measured")[0]
    assert (measured.state, measured.on_guess) == ("holds", False)


@pytest.mark.parametrize(
    ("sync", "load", "fact"),
    [
        ("", "sync_load = '1 Mohm'\n", "levels.sync"),
        ("sync = { style = 'series' }", "sync_load = '1 Mohm'\n", "levels.sync.part"),
        ("sync = { style = 'buffered' }", "sync_load = '1 Mohm'\n", "levels.sync.buffer"),
        (SYNC, "", "displays.a.sync_load"),
    ],
)
def test_back_feeding_is_unknown_while_a_fact_is_missing(sync: str, load: str, fact: str) -> None:
    found = pulling(1, sync, load=load)[0]
    assert (found.state, found.weight) == ("unknown", "stop")
    assert found.settle is not None and found.settle.fact == fact


# supply at the start


SUPPLY = "[supply]\ninlet = '%s; sheet'\nchip_current = '30 .. 70 mA; measured'"


def brown_out(
    inlet: str, firmware: str = "radio-off", head: str = CHIP, pins: str = "green = 32", h: int = 26
) -> Verdict:
    made = plan(pins, h=h, head=head, rig=f"firmware = '{firmware}'", rest=SUPPLY % inlet if inlet else "")
    (found,) = of(survey_plan(made), "waking.brown-out")
    return found


def test_the_start_is_the_sum_of_the_levels() -> None:
    made = survey_plan(plan(rest=SUPPLY % "500 mA"))
    (start,), (steady,) = of(made, "waking.brown-out"), of(made, "levels.inlet")
    assert (start.found, start.state, start.weight) == (steady.found, "holds", "caution")
    assert brown_out("60 mA").state == "fails"


def test_a_radio_adds_its_burst() -> None:
    """180 to 240 mA of the record in place of 30 to 70 mA."""
    off, on = volts(brown_out("500 mA")), volts(brown_out("500 mA", "network"))
    assert [b - a for a, b in zip(off, on, strict=True) if a is not None and b is not None] == pytest.approx(
        [0.150, 0.160, 0.170]
    )
    assert brown_out("200 mA").state == "holds"
    assert brown_out("200 mA", "network").state == "fails"


def test_a_burst_without_a_figure_is_unknown() -> None:
    rp = "like = 'rp2040'\nrail = '3.3 V; measured'"
    assert brown_out("500 mA", "network", rp, "green = 0", 1).state == "unknown"
    assert brown_out("500 mA", "bare", rp, "green = 0", 1).state == "holds"
    assert brown_out("").state == "unknown"


def test_the_rush_into_capacitors_is_only_said() -> None:
    (found,) = of(survey_plan(plan(rest=SUPPLY % "500 mA")), "waking.inrush")
    assert (found.state, found.weight) == ("unknown", "note")


# serial port and glitches


@pytest.mark.parametrize(("pin", "words"), [(1, "bright lines"), (3, "bridge's output")])
def test_the_serial_port_is_cautioned(pin: int, words: str) -> None:
    (found,) = of(survey_plan(plan(f"green = {pin}")), "waking.serial")
    assert (found.state, found.weight, found.subject) == ("fails", "caution", "board.connectors.J1.green")
    assert words in found.says
    # boot text is said once, here, and not as a glitch besides
    glitches = of(survey_plan(plan(f"green = {pin}")), "waking.glitch")
    assert [v.state for v in glitches] == ([] if pin == 1 else ["holds"])
    (clean,) = of(survey_plan(plan(f"green = {found.remedy[0].value}")), "waking.serial")
    assert (clean.state, clean.subject) == ("holds", "board")


def test_flash_pins_are_said_once_by_the_lanes() -> None:
    made = survey_plan(plan("green = 6"))
    assert {v.code for v in made.verdicts if v.state == "fails" and v.subject == "board.connectors.J1.green"} == {
        "lanes.pin-kind"
    }


def test_a_pin_that_glitches_is_noted() -> None:
    made = survey_plan(plan("green = 14"))
    (found,) = of(made, "waking.glitch")
    assert (found.state, found.weight) == ("fails", "note")
    assert "pin 14 makes high pulses by itself: green of a flashes" in found.says
    assert [g.start_pin for g in made.rigs[0].waking.glitches] == [14]  # type: ignore[union-attr]
    (sync,) = of(survey_plan(plan(h=14)), "waking.glitch")
    assert "displays lose lock" in sync.says
    (clean,) = of(survey_plan(plan()), "waking.glitch")
    assert (clean.state, clean.subject) == ("holds", "board")


def test_without_pins_or_a_chip_waking_waits() -> None:
    found = survey_plan(replace(plan(), chip=None))
    assert found.rigs[0].waking is None
    assert "Waking waits on lanes." in [v.says for v in found.verdicts]
