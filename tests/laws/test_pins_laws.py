"""What a proposed map of pins must obey, whatever is asked."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from dossier_laws import dumped
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from strategies_dossier import dossiers
from strategies_pins import wishes

from scanloom.dossier.model import CHANNELS
from scanloom.formats.dossier_file import read_dossier, read_dossier_text
from scanloom.handbook.chips import chip, chip_names
from scanloom.stages.lanes.propose import proposal_patches, propose_pins
from scanloom.stages.lanes.propose_answer import NoPinMap, PinProposal
from scanloom.stages.lanes.propose_plan import wish_for
from scanloom.stages.lanes.propose_wish import ChannelWish, PinWish, RingPin
from scanloom.survey import survey_plan, try_patches

EXAMPLES = Path(__file__).parents[2] / "examples" / "deep-station"
MANY = settings(max_examples=80, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])


@MANY
@given(wishes(12, 9))
def test_no_pin_twice_none_forbidden_and_what_is_kept_stays(wish: PinWish) -> None:
    answer = propose_pins(wish)
    if isinstance(answer, NoPinMap):
        return
    ring = {one.pin: one for one in wish.ring}
    pins = [one.pin for one in answer.given]
    assert len(set(pins)) == len(pins) == sum(one.bits for one in wish.channels) + len(wish.syncs)
    for one in answer.given:
        fit = ring[one.pin].fit_for(sync=not one.connector, buffered=one.buffered)
        assert fit == one.fit != "no"
        assert not one.kept or one.pin == one.now
    for channel in wish.channels:
        own = answer.pins(channel.connector, channel.channel)
        assert len(own) == channel.bits
        assert not channel.kept or own == channel.now
        assert all(
            g.buffered == channel.buffered
            for g in answer.given
            if g.lane.startswith(f"{channel.connector}.{channel.channel}")
        )
    for sync in wish.syncs:
        (given_,) = [one for one in answer.given if one.lane == sync.name]
        assert given_.buffered in sync.ways
    assert answer.bound.key <= answer.cost.key
    assert answer.proved == (answer.bound == answer.cost)


@MANY
@given(wishes(12, 9), st.integers(0, 11))
def test_where_the_walk_starts_does_not_matter(wish: PinWish, start: int) -> None:
    turned = replace(wish, ring=(*wish.ring[start:], *wish.ring[:start]))
    one, other = propose_pins(wish), propose_pins(turned)
    if isinstance(one, NoPinMap):
        assert isinstance(other, NoPinMap)
    else:
        assert isinstance(other, PinProposal) and other.cost == one.cost


@MANY
@given(wishes(12, 9))
def test_letting_go_of_what_is_kept_never_costs(wish: PinWish) -> None:
    loose = replace(
        wish,
        channels=tuple(replace(one, kept=False) for one in wish.channels),
        syncs=tuple(replace(one, kept=False) for one in wish.syncs),
    )
    one, other = propose_pins(wish), propose_pins(loose)
    if isinstance(one, PinProposal):
        assert isinstance(other, PinProposal) and other.cost.key <= one.cost.key


@MANY
@given(wishes(12, 9))
def test_the_best_map_kept_as_a_whole_is_the_answer_again(wish: PinWish) -> None:
    one = propose_pins(wish)
    if not isinstance(one, PinProposal):
        return
    syncs = tuple(replace(s, now=one.pins("", s.name)[0], kept=True) for s in wish.syncs)
    channels = tuple(replace(c, now=one.pins(c.connector, c.channel), kept=True) for c in wish.channels)
    again = propose_pins(replace(wish, channels=channels, syncs=syncs))
    assert isinstance(again, PinProposal)
    assert (again.cost, again.moved) == (one.cost, 0)
    assert [g.pin for g in again.given] == [g.pin for g in one.given]


@settings(max_examples=60)
@given(st.integers(1, 20), st.sets(st.integers(0, 25), max_size=6), st.integers(0, 25))
def test_free_lanes_on_free_pins_never_cross(lanes: int, spoilt: set[int], start: int) -> None:
    """Any pins taken in walking order do; 20 lanes leave six of 26 pins over."""
    ring = tuple(RingPin(pin, "no" if pin in spoilt else "fit") for pin in (*range(start, 26), *range(start)))
    answer = propose_pins(PinWish(ring, tuple(ChannelWish(f"J{n}", "green") for n in range(lanes))))
    assert isinstance(answer, PinProposal) and answer.proved
    assert answer.cost.key == (0, 0, 0, 0)


@pytest.mark.parametrize("name", chip_names())
def test_every_chip_of_the_handbook_takes_one_display(name: str) -> None:
    """Its pins as listed: boot pins, flash and the rest are kept clear of."""
    record = chip(name)
    pins = record.table.pins
    assert pins is not None
    for stream in record.table.stream:
        if stream.lanes < 5:
            continue
        data: dict[str, Any] = {
            "dossier": {"format": 1},
            "chip": {"like": name},
            "displays": [{"name": "d"}],
            "board": {"connectors": [{"name": "J1", "plugs": "d"}]},
            "rigs": [{"name": "r", "stream": stream.name, "depth": {"d": dict.fromkeys(CHANNELS, 1)}}],
        }
        file = read_dossier_text(dumped(data), EXAMPLES / "law.toml")
        answer = propose_pins(wish_for(file.plan))
        assert isinstance(answer, PinProposal), answer
        assert {one.pin for one in answer.given} <= set(pins.pins)
        assert answer.cost.last_resort == 0
        for one in answer.given:
            assert all(row.role not in ("flash", "absent", "input only") for row in record.pin_rows(one.pin))
        after = try_patches(file, [(one.key, one.value) for one in proposal_patches(answer)]).survey
        assert [v.state for v in after.verdicts if v.code == "lanes.routing"] == ["holds"], stream.name


@pytest.mark.parametrize("name", ["first-evening", "final"])
@pytest.mark.parametrize("keep", [(), ("J1",), ("J2", "J4"), ("sync",), ("all",)])
def test_a_demo_with_its_proposal_has_fit_pins(name: str, keep: tuple[str, ...]) -> None:
    file = read_dossier(EXAMPLES / f"{name}.toml")
    answer = propose_pins(wish_for(file.plan, keep=keep))
    assert isinstance(answer, PinProposal)
    found = survey_plan(file.plan)
    patches = [(one.key, one.value) for one in proposal_patches(answer)]
    after = try_patches(file, patches, found).survey if patches else found
    for verdict in after.verdicts:
        if verdict.code in ("lanes.pin-kind", "lanes.pins", "lanes.routing", "lanes.sync"):
            assert verdict.state == "holds", verdict.says
        if verdict.code == "lanes.crossings":
            assert verdict.found is not None and verdict.found.typical == answer.cost.crossings


@settings(max_examples=30, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(dossiers())
def test_a_random_dossier_with_its_proposal_has_fit_pins(data: dict[str, Any]) -> None:
    """The patches bring just the map that was proposed, and the survey finds its pins as fit as the proposal does."""
    file = read_dossier_text(dumped(data), EXAMPLES / "law.toml")
    answer = propose_pins(wish_for(file.plan))
    assume(isinstance(answer, PinProposal))
    assert isinstance(answer, PinProposal)
    found = survey_plan(file.plan)
    patches = [(one.key, one.value) for one in proposal_patches(answer)]
    trial = try_patches(file, patches, found) if patches else None
    after = trial.survey if trial else found
    plan = read_dossier_text(trial.text, EXAMPLES / "law.toml").plan if trial else file.plan
    for connector in plan.connectors:
        for channel in CHANNELS:
            stated = getattr(connector, channel)
            assert answer.pins(connector.name, channel) == (stated.value if stated else ())
    for verdict in after.verdicts:
        if verdict.code == "lanes.pin-kind":
            own = [one for one in answer.given if verdict.subject.endswith(f".{one.connector or 'sync'}.{one.channel}")]
            assert own
            assert verdict.state == ("fails" if any(one.fit == "last" for one in own) else "holds"), verdict.says
            assert verdict.weight == ("caution" if verdict.state == "fails" else "stop")
        if verdict.code == "lanes.routing" and not wish_for(plan).notes:
            assert verdict.state == "holds", verdict.says
