"""Pins proposed for whole dossiers: what the six-display job asks for, kept pins, runs, and what cannot be."""

from __future__ import annotations

from pathlib import Path

import pytest

from scanloom.formats.dossier_file import DossierFile, read_dossier, read_dossier_text
from scanloom.stages.lanes.propose import proposal_patches, propose_pins
from scanloom.stages.lanes.propose_answer import NoPinMap, PinCost, PinProposal
from scanloom.stages.lanes.propose_plan import wish_for
from scanloom.stages.lanes.propose_wish import ChannelWish, PinWish, RingPin, SyncWish, WordNeed
from scanloom.survey import Trial, try_patches

EXAMPLES = Path(__file__).parents[2] / "examples" / "deep-station"
BUFFERED = '{ style = "buffered", buffer = "LVC", outputs = "one per display", branch = "47 ohm ± 5 %" }'
SERIES = '{ style = "series", part = "100 ohm ± 5 %" }'


def job(
    displays: int, sync: str = BUFFERED, *, chip: str = "wifi240", board: str = "", depth: str = "white = 1",
    stream: str = "8 lanes", colour: str = '{ style = "series", part = "240 ohm ± 1 %" }', extra: str = "",
) -> DossierFile:  # fmt: skip
    """So many RGB displays in a row, by default white: one lane feeds three pins."""
    listed = "".join(
        f"[[displays]]\nname = 'd{n}'\nline_rate = '30 .. 60 kHz'\nframe_rate = '50 .. 75 Hz'\n"
        "colour_load = '75 ohm ± 2 %; measured'\nsync_load = '2.2 kohm; measured'\n"
        for n in range(1, displays + 1)
    )
    rows = ", ".join(f"{{ name = 'J{n}', plugs = 'd{n}' }}" for n in range(1, displays + 1))
    depths = ", ".join(f"d{n} = {{ {depth} }}" for n in range(1, displays + 1))
    text = (
        f"[dossier]\nformat = 1\n[chip]\nlike = '{chip}'\n{listed}[board]\n{board or f'connectors = [{rows}]'}\n"
        f"[levels]\ncolour = {colour}\nsync = {sync}\n"
        f"[[rigs]]\nname = 'r'\nfirmware = 'radio-off'\nstream = '{stream}'\n"
        f"raster = {{ parent = '640x480@60', picture = '640x400' }}\ndepth = {{ {depths} }}\n{extra}"
    )
    return read_dossier_text(text, EXAMPLES / "test.toml")


def proposed(file: DossierFile, **options: object) -> PinProposal:
    answer = propose_pins(wish_for(file.plan, **options))  # type: ignore[arg-type]
    assert isinstance(answer, PinProposal), answer
    return answer


def tried(file: DossierFile, proposal: PinProposal) -> Trial:
    return try_patches(file, [(patch.key, patch.value) for patch in proposal_patches(proposal)])


def kinds(trial: Trial, *codes: str) -> set[tuple[str, str, str]]:
    """Code, subject and state of pin checks that do not hold."""
    wanted = codes or ("lanes.pin-kind", "lanes.pins", "lanes.routing", "lanes.crossings", "lanes.sync")
    return {(v.code, v.subject, v.state) for v in trial.survey.verdicts if v.code in wanted and v.state != "holds"}


# Six RGB displays on wifi240: 18 colour pins and two syncs on a module with 19 pins that nothing speaks against.
# The pins are those of the class's record (from memory): 22 outputs reach the edge, 20 without the serial port,
# 19 without pin 0 either.


@pytest.mark.parametrize("sync", [BUFFERED, SERIES])
def test_six_rgb_displays_fit_with_a_buffered_sync_on_a_boot_pin(sync: str) -> None:
    file = job(6, sync)
    proposal = proposed(file)
    assert proposal.cost == PinCost(0, int(sync == SERIES), 0, 4) and proposal.proved
    assert proposal.buffer_stage == (sync == SERIES)
    on_boot = [one for one in proposal.given if one.pin == 0]
    assert [(one.channel, one.buffered) for one in on_boot] == [("h", True)]
    assert any("h on pin 0 must go through a buffer" in line for line in proposal.says)
    trial = tried(file, proposal)
    assert kinds(trial) == set()
    boot = [v for v in trial.survey.verdicts if v.code == "waking.boot-pin" and v.weight == "stop"]
    assert {v.subject for v in boot} >= {"board.sync.h"}
    assert {v.state for v in boot} == {"holds"}


def test_the_same_pin_without_a_buffer_stops() -> None:
    file = job(6, SERIES)
    patches = [(p.key, p.value) for p in proposal_patches(proposed(file)) if p.key != "levels.sync"]
    trial = try_patches(file, patches)
    assert kinds(trial, "lanes.pin-kind") == {("lanes.pin-kind", "board.sync.h", "fails")}


def test_six_rgb_displays_without_a_buffer_take_one_last_resort() -> None:
    proposal = proposed(job(6, SERIES), may_buffer=False)
    assert proposal.cost.key == proposal.bound.key == (1, 0, 0, 3)
    assert [one.pin for one in proposal.given if one.fit == "last"] == [3]
    assert any("20 lanes share 19 pins without a reservation" in line for line in proposal.says)


def test_seven_rgb_displays_have_too_few_pins() -> None:
    answer = propose_pins(wish_for(job(7).plan))
    assert isinstance(answer, NoPinMap) and answer.proved
    assert (len(answer.lanes), len(answer.pins)) == (23, 22)
    assert "21 colour lanes and 2 syncs need a pin each, and only 22 pins" in answer.says[0]
    assert "6, 7, 8, 9, 10, 11 (the program's flash hangs on it)" in answer.says[1]


def test_direct_syncs_alone_can_be_the_crowd() -> None:
    """Three pins that two colours may use, and none that a direct sync may."""
    ring = (RingPin(1, sync="no"), RingPin(2, sync="no"), RingPin(3, sync="no", why="it starts the loader"))
    colours = (ChannelWish("J1", "red"), ChannelWish("J1", "green"))
    answer = propose_pins(PinWish(ring, colours, (SyncWish("h"),)))
    assert isinstance(answer, NoPinMap)
    assert (answer.proved, answer.lanes, answer.pins) == (True, ("h",), ())
    assert answer.says[0].startswith("1 lane (h) need a pin each, and no pin may carry any of them")
    assert "Through a buffer a sync could also go on pins 1, 2, 3." in answer.says
    buffered = propose_pins(PinWish(ring, colours, (SyncWish("h", "either"),)))
    assert isinstance(buffered, PinProposal) and buffered.cost.added_buffers == 1


def test_twenty_lanes_are_searched_in_few_steps_whatever_is_kept() -> None:
    """A count, not a time: some thousand partial maps are some hundredths of a second."""
    file = job(6)
    first = proposed(file)
    pins = {f"{one.connector}.{one.channel}": one.pin for one in first.given}
    rows = ", ".join(
        f"{{ name = 'J{n}', plugs = 'd{n}'"
        + "".join(f", {c} = {pins[f'J{7 - n}.{c}']}" for c in ("red", "green", "blue"))
        + " }"
        for n in range(1, 7)
    )
    backward = job(6, board=f"sync = {{ h = 0, v = {pins['.v']} }}\nconnectors = [{rows}]")
    assert first.searched < 5000
    for keep in ((), ("J2", "J5"), ("J1", "J3", "J6", "sync"), ("all",)):
        proposal = proposed(backward, keep=keep)
        assert proposal.proved and proposal.searched < 100_000
        assert (proposal.cost.crossings > 0) == (len(keep) > 2 or "all" in keep)
        for one in proposal.given:
            assert one.kept == (one.connector in keep or "all" in keep or (not one.connector and "sync" in keep))
            assert not one.kept or one.pin == one.now
    # by hand: of the 15 pairs of connectors a cut in the middle puts 9 right; the other 6 cross with 3 tracks each way
    assert proposed(backward, keep=("all",)).cost.crossings == 6 * 3 * 3


# Demo dossiers


def test_what_is_good_stays_as_it_is() -> None:
    proposal = proposed(read_dossier(EXAMPLES / "final.toml"))
    assert (proposal.cost.key, proposal.moved, proposal.crossings_now) == ((0, 0, 0, 0), 0, 0)
    assert proposal_patches(proposal) == ()


def test_two_swapped_pins_are_swapped_back_and_no_other_moves() -> None:
    file = read_dossier(EXAMPLES / "first-evening.toml")
    proposal = proposed(file)
    assert (proposal.crossings_now, proposal.cost.crossings, proposal.moved) == (3, 0, 2)
    assert [(p.key, p.value) for p in proposal_patches(proposal)] == [
        ("board.connectors.J4.green", "21"),
        ("board.connectors.J6.green", "23"),
    ]
    assert kinds(tried(file, proposal)) == set()


@pytest.mark.parametrize("keep", [(), ("J1",), ("J4", "J6"), ("J2", "sync"), ("all",)])
def test_the_same_question_has_the_same_answer(keep: tuple[str, ...]) -> None:
    plan = read_dossier(EXAMPLES / "first-evening.toml").plan
    answers = [propose_pins(wish_for(plan, keep=keep)) for _ in range(3)]
    assert answers[0] == answers[1] == answers[2]


# Runs, windows, bits of their own


@pytest.mark.parametrize(("chip", "around"), [("rp2040", True), ("rp2350b", False), ("stm32f407", False)])
def test_a_run_of_pins_routes(chip: str, around: bool) -> None:
    depth = "red = 1, green = 1, blue = 1"
    file = job(4, chip=chip, depth=depth, stream="16 lanes")
    proposal = proposed(file)
    assert proposal.proved and proposal.ring_known == around
    assert proposal.cost.crossings == 0
    assert kinds(tried(file, proposal), "lanes.pin-kind", "lanes.routing", "lanes.pins") == set()


def test_a_run_states_the_order_of_its_word() -> None:
    """Blue to red along the walk: only another order of the word brings the lanes to consecutive pins without a crossing."""
    board = (
        "around = [5, 4, 3, 2, 1, 0, 6, 7, 8, 9, 10, 11, 12]\n"
        "connectors = [{ name = 'J1', plugs = 'd1' }, { name = 'J2', plugs = 'd2' }]"
    )
    file = job(2, chip="rp2040", depth="red = 1, green = 1, blue = 1", stream="8 lanes", board=board)
    proposal = proposed(file)
    assert proposal.cost.key == (0, 0, 0, 0)
    order = proposal.orders[0]
    assert order.changed and set(order.lanes) == {
        "h",
        "v",
        *(f"d{n}.{c}" for n in (1, 2) for c in ("red", "green", "blue")),
    }
    assert kinds(tried(file, proposal)) == set()


def test_a_word_wider_than_its_stream_has_no_map() -> None:
    answer = propose_pins(wish_for(job(3, chip="rp2040", depth="red = 1, green = 1, blue = 1", stream="10 lanes").plan))
    assert isinstance(answer, NoPinMap) and answer.proved
    assert answer.says[0] == (
        "The word of r wants 11 lanes, each on one pin, and its stream has 10; one lane carries one thing, so there is no map."
    )


def test_a_run_over_a_gap_has_no_map() -> None:
    """Six lanes in a run of six, and no six pins in a row."""
    ring = tuple(RingPin(pin) for pin in (0, 1, 2, 3, 5, 6, 7, 9))
    lanes = ("J1.red", "J1.green", "J1.blue", "J2.red", "J2.green", "h")
    colours = tuple(ChannelWish(*lane.split(".")) for lane in lanes[:5])
    need = WordNeed("r", "run", tuple((lane, lane) for lane in lanes), 6)
    answer = propose_pins(PinWish(ring, colours, (SyncWish("h"),), (need,)))
    assert isinstance(answer, NoPinMap) and answer.proved
    assert "has pins for 5 of 6 lanes" in answer.says[0]
    wider = propose_pins(PinWish(ring, colours, (SyncWish("h"),), (WordNeed("r", "run", need.word, 7),)))
    assert isinstance(wider, PinProposal)
    assert any("spare" in order.lanes for order in wider.orders), "the lane over the gap is spare"


def test_bits_with_pins_of_their_own_route() -> None:
    depth = "red = 8, green = 8, blue = 8"
    ladder = '{ style = "ladder", part = "180, 360 ohm ± 1 %" }'
    file = job(1, chip="stm32h743", depth=depth, stream="24 lanes", colour=ladder)
    proposal = proposed(file)
    assert len({one.pin for one in proposal.given}) == 26
    assert kinds(tried(file, proposal), "lanes.pin-kind", "lanes.routing", "lanes.pins") == set()


def test_white_on_a_chip_without_fan_out_is_said() -> None:
    proposal = proposed(job(2, chip="rp2040"))
    assert any("white lanes, each on three pins" in line for line in proposal.says)


# What is kept


def test_a_kept_pin_that_must_not_is_named() -> None:
    board = "connectors = [{ name = 'J1', plugs = 'd1', red = 6, green = 32, blue = 33 }]"
    answer = propose_pins(wish_for(job(1, board=board).plan, keep=("J1",)))
    assert isinstance(answer, NoPinMap) and answer.proved
    assert answer.says[0] == (
        "J1.red is kept on pin 6, which must not carry it: the program's flash hangs on it; let it move."
    )
    assert propose_pins(wish_for(job(1, board=board).plan)).proved


def test_a_kept_sync_may_hang_either_way() -> None:
    """Pin 0 is for a buffered sync only, and it is enough that one way will do."""
    ring = (RingPin(0, "no", "no"), RingPin(1), RingPin(2))
    wish = PinWish(ring, (ChannelWish("J1", "green"),), (SyncWish("h", "either", 0, True),))
    answer = propose_pins(wish)
    assert isinstance(answer, PinProposal) and answer.cost.added_buffers == 1
    assert answer.pins("", "h") == (0,)


def test_the_rigs_want_pins_together() -> None:
    """One rig has two bits of red, the other green alone: the board needs both."""
    extra = (
        "[[rigs]]\nname = 's'\nstream = '8 lanes'\nraster = { parent = '640x480@60' }\ndepth = { d1 = { green = 1 } }\n"
    )
    wish = wish_for(job(1, depth="red = 2", extra=extra).plan)
    assert [(one.channel, one.bits) for one in wish.channels] == [("red", 2), ("green", 1)]
    answer = propose_pins(wish)
    assert isinstance(answer, PinProposal)
    assert ("board.connectors.J1.red", "[32, 33]") in [(p.key, p.value) for p in proposal_patches(answer)]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[chip]\nlike = 'wifi240'\n", "no connector is stated"),
        ("[board]\nconnectors = [{ name = 'J1' }]\n", "no chip is stated"),
    ],
)
def test_what_a_wish_cannot_do_without(text: str, message: str) -> None:
    plan = read_dossier_text(f"[dossier]\nformat = 1\n{text}", EXAMPLES / "test.toml").plan
    with pytest.raises(ValueError, match=message):
        wish_for(plan)


def test_a_connector_that_is_not_there_cannot_be_kept() -> None:
    with pytest.raises(ValueError, match="J9 names no connector; J1, sync or all are allowed"):
        wish_for(job(1).plan, keep=("J9",))


def test_a_wish_that_contradicts_itself_is_refused() -> None:
    ring = (RingPin(1), RingPin(2))
    with pytest.raises(ValueError, match="name one twice"):
        PinWish((RingPin(1), RingPin(1)))
    with pytest.raises(ValueError, match="wants 2 bits and keeps 1 pins"):
        PinWish(ring, (ChannelWish("J1", "red", 2, now=(1,), kept=True),))
    with pytest.raises(ValueError, match="name one twice"):
        PinWish(ring, (ChannelWish("J1", "red"), ChannelWish("J1", "red")))
    with pytest.raises(ValueError, match="kept without a pin"):
        PinWish(ring, (), (SyncWish("h", kept=True),))
    with pytest.raises(ValueError, match="which nothing wishes"):
        PinWish(ring, (ChannelWish("J1", "red"),), (), (WordNeed("r", "run", (("v", "v"),), 2),))
