"""Clock chains and questions that make no sense are refused in words; a chain without any rate is no fault."""

from __future__ import annotations

from typing import Any

import pytest

from scanloom.handbook.clock_chain import ClockChain
from scanloom.stages.clock.enumerate import best_rate, enumerate_rates

Step = dict[str, Any]
DIVIDE: Step = {"name": "d", "op": "divide", "first": 1, "last": 9}


def chain_of(steps: list[Step]) -> ClockChain:
    """A 100 Hz chain of these steps."""
    return ClockChain.model_validate(
        {"name": "c", "reference_hz": 100, "source": "recalled", "place": "none", "steps": steps}
    )


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"target_hz": 0}, "allowed is above 0"),
        ({"h_total_px": 0}, "give the horizontal total"),
        ({"limit": 0}, "give the rows wanted"),
        ({"system_hz": (2, 1)}, "give low, then high"),
    ],
)
def test_questions_refused(options: dict[str, Any], words: str) -> None:
    """Numbers that ask for nothing."""
    asked: dict[str, Any] = {"target_hz": 25, "h_total_px": 800} | options
    with pytest.raises(ValueError, match=words):
        enumerate_rates(chain_of([DIVIDE]), **asked)


@pytest.mark.parametrize(
    ("steps", "words"),
    [
        ([DIVIDE | {"last": 0}], "greater than or equal to 1"),
        ([DIVIDE | {"step": 3}], "is not reached"),
        ([DIVIDE | {"low_hz": 9, "high_hz": 8}], "give low, then high"),
        ([DIVIDE | {"per": 2}], "takes per = 1"),
        ([DIVIDE | {"edges": "pattern"}], "`over` above 1"),
        ([DIVIDE | {"edges": "sigma-delta", "per": 4}], "takes a multiply"),
        ([DIVIDE | {"op": "multiply", "edges": "accumulator", "per": 4}], "takes a divide"),
        ([DIVIDE, DIVIDE], "give each its own name"),
        ([DIVIDE | {"most": "d"}], "names no earlier step"),
        ([DIVIDE | {"rated": True}, DIVIDE | {"name": "e", "rated": True}], "are all rated"),
        (
            [DIVIDE | {"edges": "accumulator", "per": 4}, DIVIDE | {"name": "e", "op": "multiply"}],
            "only whole dividers",
        ),
        ([DIVIDE | {"speed": 3}], "Extra inputs"),
        ([], "at least 1 item"),
    ],
)
def test_chains_refused(steps: list[Step], words: str) -> None:
    """Steps that do not fit themselves or one another."""
    with pytest.raises(ValueError, match=words):
        chain_of(steps)


def test_chain_too_large_to_tabulate_refused() -> None:
    """800 x 800 settings beside the solved step are more than a table holds."""
    large = chain_of([DIVIDE | {"name": name, "last": 800} for name in "abc"])
    with pytest.raises(ValueError, match="more than 500000 settings beside step 'a'"):
        enumerate_rates(large, 1, h_total_px=800)


def test_chain_without_a_rate_is_an_empty_answer() -> None:
    """No setting inside the range of the system clock: nothing to show, and no fault."""
    chain = chain_of([DIVIDE | {"rated": True}])
    assert enumerate_rates(chain, 25, h_total_px=800, system_hz=(1, 2)) == ()
    assert best_rate(chain, 25, h_total_px=800, system_hz=(1, 2)) is None
    assert best_rate(chain, 25, h_total_px=800, system_hz=(20, 21)) is not None
