"""What a survey must obey, whatever the dossier says."""

from __future__ import annotations

from typing import Any

import pytest
from dossier_laws import by_key, example, facts_of, names, plain, spoken, surveyed, value_at, with_value, without
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from strategies_dossier import dossiers, other_values

from scanloom.formats.input_error import InputError
from scanloom.survey import Survey

MANY = settings(
    max_examples=200, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much], deadline=None
)
EXAMPLES = ("first-evening.toml", "final.toml")


def after(data: dict[str, Any]) -> Survey | None:
    """Survey of changed data, or None when the reader rightly refuses it."""
    try:
        return surveyed(data)
    except InputError:
        return None


def deletion_faults(before: Survey, data: dict[str, Any], path: tuple[str | int, ...]) -> list[str]:
    """Checks that hold on facts alone only because a fact went away."""
    now = after(without(data, path))
    if now is None:
        return []
    old = by_key(before)
    return [
        f"{key}: {old[key].state} -> holds"
        for key, v in by_key(now).items()
        if plain(v) and key in old and not plain(old[key])
    ]


def change_faults(before: Survey, now: Survey, key: str) -> list[str]:
    """Checks that moved although neither before nor after they rest on the fact that changed."""
    old, new = by_key(before), by_key(now)
    faults: list[str] = []
    for one in old.keys() & new.keys():
        was, is_now = old[one], new[one]
        moved = (was.found, was.limit, was.state, was.weight) != (
            is_now.found,
            is_now.limit,
            is_now.state,
            is_now.weight,
        )
        if moved and not names(was, key) and not names(is_now, key):
            faults.append(f"{one}: {was.state} {was.found} -> {is_now.state} {is_now.found}")
    return faults


@MANY
@given(dossiers(), st.data())
def test_deleting_a_fact_never_makes_a_check_hold_plainly(data: dict[str, Any], draw: st.DataObject) -> None:
    before = after(data)
    assume(before is not None)
    assert before is not None
    places = list(facts_of(data))
    for path in draw.draw(st.lists(st.sampled_from(places), min_size=3, max_size=3, unique=True)):
        assert deletion_faults(before, data, path) == [], f"deleted {spoken(data, path)}"


@MANY
@given(dossiers(), st.data())
def test_changing_a_fact_moves_only_checks_that_rest_on_it(data: dict[str, Any], draw: st.DataObject) -> None:
    before = after(data)
    assume(before is not None)
    assert before is not None
    places = [p for p in facts_of(data) if p[-1] not in ("name", "format")]
    for path in draw.draw(st.lists(st.sampled_from(places), min_size=3, max_size=3, unique=True)):
        changed = with_value(data, path, draw.draw(other_values(value_at(data, path))))
        now = after(changed)
        if now is not None:
            assert change_faults(before, now, spoken(data, path)) == [], f"changed {spoken(data, path)}"


@pytest.mark.parametrize("name", EXAMPLES)
def test_deleting_any_fact_of_the_demo(name: str) -> None:
    data = example(name)
    before = surveyed(data)
    faults = {spoken(data, path): deletion_faults(before, data, path) for path in facts_of(data)}
    assert {key: found for key, found in faults.items() if found} == {}


@pytest.mark.parametrize("name", EXAMPLES)
def test_each_named_fact_of_the_demo_matters(name: str) -> None:
    """Deleting a fact that a check names moves the check: found, limit, state or origins, or it can no longer be made."""
    data = example(name)
    before = by_key(surveyed(data))
    idle: list[str] = []
    for path in facts_of(data):
        key = spoken(data, path)
        now = after(without(data, path))
        if now is None:
            continue  # the reader refuses the rest: it mattered to everything
        new = by_key(now)
        for one, was in before.items():
            if not names(was, key) or one not in new:
                continue
            is_now = new[one]
            origins = [sorted((f.key, f.origin) for f in v.rests_on) for v in (was, is_now)]
            if (was.found, was.limit, was.state) == (is_now.found, is_now.limit, is_now.state) and origins[
                0
            ] == origins[1]:
                idle.append(f"{one} names {key}, which does not matter to it")
    assert idle == []


@pytest.mark.parametrize("name", EXAMPLES)
def test_hardware_belongs_to_all_rigs_and_lane_orders_to_one(name: str) -> None:
    data = example(name)
    before = by_key(surveyed(data))
    part = by_key(surveyed(with_value(data, ("levels", "colour", "part"), "300 ohm ± 1 %")))
    moved = {key[2] for key, v in part.items() if key in before and v.found != before[key].found}
    assert moved == {"two-and-four", "six-one-bit"}
    pin = by_key(surveyed(with_value(data, ("board", "connectors", 0, "red"), 5)))
    rested = {k[2] for k, v in pin.items() if k in before and v.rests_on != before[k].rests_on}
    assert rested == {"two-and-four", "six-one-bit"}
    lanes = [*(lane.name for lane in surveyed(data).rigs[1].lanes.lanes)][::-1]  # type: ignore[union-attr]
    data["rigs"][1]["lanes"] = lanes
    turned = by_key(surveyed(data))
    changed = {k[2] for k, v in turned.items() if k in before and v.rests_on != before[k].rests_on}
    assert changed == {"six-one-bit"}
