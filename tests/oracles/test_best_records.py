"""The project's earlier records of best networks, found by another program: each is matched, or it is none."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from parts_tried import allowed, made_of

from scanloom.basis.span import Span
from scanloom.stages.levels.figures import channel_figures
from scanloom.stages.levels.search import (
    JointChannel,
    JointProposal,
    JointRequest,
    PartsProposal,
    PartsRequest,
    propose_joint,
)
from scanloom.stages.levels.search.answer import Leg
from scanloom.stages.levels.search.single import Ruled, find_parts

DATA = Path(__file__).parent / "data"
HOWS = {"single": "single", "2par": "parallel", "2ser": "series"}
exact = Span.exact


def records(name: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads((DATA / name).read_text(encoding="utf-8"))["results"]
    return found


def request_of(record: dict[str, Any]) -> PartsRequest:
    """The request behind a record: white within 5 % of 0.7 V."""
    least, most = record.get("value_range", (100.0, 10_000.0))
    matched = record["rp"] is not None
    return PartsRequest(
        record["n"],
        record["series"],
        least_part_ohm=float(least),
        most_part_ohm=float(most),
        pairs=record["pairs"],
        pin_high_ohm=exact(record["ron"]),
        rail_v=exact(record["vdd"]),
        load_ohm=exact(record["rt"]),
        white_low_v=0.665,
        white_high_v=0.735,
        distinct_most=None if matched else record["kmax"],
        match_percent=5.0 if matched else None,
        shunt_low_ohm=float(record.get("shunt_range", (10.0,))[0]),
        answers=1,
    )


def legs_of(record: dict[str, Any]) -> tuple[Leg, ...]:
    return tuple(Leg(leg["value"], HOWS[leg["how"]]) for leg in record["legs_msb_first"])  # type: ignore[arg-type]


def rises(record: dict[str, Any]) -> bool:
    """Whether the steps of a record's network rise at all; those that do not may not be proposed."""
    net = made_of(legs_of(record), record["rp"], 0.0).network(request_of(record))
    levels = channel_figures(net).level_v
    return bool((np.diff(levels) > 1e-9).all())


def test_each_single_channel() -> None:
    matched, none = 0, 0
    for record in records("network_best.json"):
        request, found = request_of(record), find_parts(request_of(record))
        if not rises(record):
            none += 1
            # its figure is out of reach for a network whose steps rise; where there is none at all, see below
            assert isinstance(found, Ruled) or found.answers[0].error_v * 1e3 > record["err_max_mV"]
            continue
        assert isinstance(found, PartsProposal), record
        assert found.proved
        best = found.answers[0]
        assert best.error_v * 1e3 <= record["err_max_mV"] + 1e-5, record
        # nor is it beaten: both programs claim the optimum
        assert best.error_v * 1e3 == pytest.approx(record["err_max_mV"], abs=1e-5)
        if record["rp"] is None and request.distinct_most == record["distinct"]:
            assert (best.distinct, best.parts) <= (record["distinct"], record["parts"])
        matched += 1
    assert (matched, none) == (120, 16)


@pytest.mark.parametrize(
    "record", [r for r in records("network_best.json") if not rises(r) and r["kmax"] == 1], ids=str
)
def test_one_value_for_four_bits_does_not_rise(record: dict[str, Any]) -> None:
    """Brute force over each value: no network of one value with 4 bits or more has steps that all rise."""
    request = request_of(record)
    bits = min(request.bits, 4)  # with 5 legs out of 3 kinds two are equal, so 4 are the harder case
    for ohm in request.leg_values_ohm:
        one = PartsRequest(
            bits, stock_ohm=(ohm,), pin_high_ohm=request.pin_high_ohm, white_low_v=0.001, white_v=0.7, white_high_v=3.0
        )
        assert allowed(one) == []
    assert isinstance(find_parts(request), Ruled)


@pytest.mark.parametrize("record", records("joint_best.json"), ids=lambda r: f"{r['series']}-{r['bits']}")
def test_each_joint_set(record: dict[str, Any]) -> None:
    pin = exact(record["ron"])
    channels = tuple(
        JointChannel(f"channel-{place}", bits, pin, pin, exact(record["vdd"]))
        for place, bits in enumerate(record["bits"])
    )
    found = propose_joint(
        JointRequest(
            channels, distinct_most=record["distinct"], series=record["series"], white_low_v=0.665, white_high_v=0.735
        )
    )
    assert isinstance(found, JointProposal)
    assert found.proved
    assert found.sets == record["sets"]
    assert found.error_v * 1e3 == pytest.approx(record["worst_channel_err_mV"], abs=1e-9)
    assert list(found.values_ohm) == record["values"]
