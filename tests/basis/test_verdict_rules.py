"""The rule of design: holds, fails, unknown; margins; facts and what counts as a guess; readings that collect."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanloom.basis.fact import Fact, Known, copied, merged
from scanloom.basis.span import Span
from scanloom.basis.verdict import judge
from scanloom.dossier.reading import RECALLED_MAY_STOP, Reading
from scanloom.formats.dossier_file import read_dossier
from scanloom.survey import survey_plan

EXAMPLES = Path(__file__).parents[2] / "examples" / "deep-station"


@pytest.mark.parametrize(("found", "low", "high", "state", "margin"), [
    (Span(1, 2, 3), None, 4, "holds", 0.25), (Span(1, 2, 4), None, 4, "holds", 0.0), (Span(1, 2, 5), None, 4, "unknown", -0.25),
    (Span(1, 4.5, 5), None, 4, "fails", -0.25), (Span(2, 3, 4), 1, None, "holds", 1.0), (Span(0.5, 3, 4), 1, None, "unknown", -0.5),
    (Span(0.5, 0.9, 4), 1, None, "fails", -0.5), (Span(0.682, 0.717, 0.755), 0.665, 0.770, "holds", 0.015 / 0.0525),
    (Span(0.6, 0.7, 0.8), 0.665, 0.770, "unknown", -0.065 / 0.0525), (None, 0, 1, "unknown", None), (Span(0, 0, 0), None, 0, "holds", None),
])  # fmt: skip
def test_the_rule(found: Span | None, low: float | None, high: float | None, state: str, margin: float | None) -> None:
    got_state, got_margin = judge(found, low, high)
    assert got_state == state
    assert got_margin == (None if margin is None else pytest.approx(margin))


def test_a_judgement_needs_a_limit() -> None:
    with pytest.raises(ValueError, match="without a limit"):
        judge(Span.exact(1), None, None)
    with pytest.raises(ValueError, match="downwards"):
        judge(Span.exact(1), 2, 1)


@given(
    st.lists(st.floats(-10, 10), min_size=3, max_size=3).map(sorted),
    st.floats(-10, 10),
    st.floats(0, 5),
    st.floats(0, 3),
)
def test_a_wider_span_never_holds_where_a_narrower_did_not(
    bounds: list[float], low: float, width: float, more: float
) -> None:
    narrow = Span(*bounds)
    wide = Span(bounds[0] - more, bounds[1], bounds[2] + more)
    if judge(narrow, low, low + width)[0] != "holds":
        assert judge(wide, low, low + width)[0] != "holds"
    if judge(wide, low, low + width)[0] == "holds":
        assert judge(narrow, low, low + width)[0] == "holds"


def test_what_is_copied_falls_to_said_and_a_guess_stays_one() -> None:
    via = Fact("displays.b.same_as", "a", "said")
    measured = copied(Known(1.0, (Fact("k", "1 V", "measured"),)), via)
    assert [f.origin for f in measured.facts] == ["said", "said"]
    assert copied(Known(1.0, (Fact("k", "1 V", "guess"),)), via).facts[0].is_guess
    assert copied(Known(1.0, (Fact("k", "1 V", "said", class_value=True),)), via).facts[0].is_guess


def test_of_two_origins_for_one_key_the_weaker_stays() -> None:
    facts = merged((Fact("a", "1", "measured"), Fact("b", "2", "said"), Fact("a", "1", "guess")))
    assert [(f.key, f.origin) for f in facts] == [("a", "guess"), ("b", "said")]


@pytest.mark.parametrize(("origin", "guess"), [
    ("measured", False), ("sheet", False), ("standard", False), ("said", False), ("because", False), ("guess", True),
    ("datasheet", False), ("handbook", True), ("derived", True), ("common practice", True), ("recalled", True),
])  # fmt: skip
def test_which_origins_are_guesses(origin: str, guess: bool) -> None:
    assert Fact("k", "v", origin).is_guess is guess  # type: ignore[arg-type]


def test_a_reading_collects_and_a_fork_goes_its_own_way() -> None:
    read = Reading(read_dossier(EXAMPLES / "final.toml").plan)
    first, second = Known(1, (Fact("a", "1", "measured"),)), Known(2, (Fact("b", "2", "guess"),))
    assert read(first) == 1
    branch = read.fork()
    branch(second)
    assert [f.key for f in read.facts] == ["a"]
    assert [f.key for f in branch.facts] == ["a", "b"]
    assert branch.known("x").facts == branch.facts
    assert read.maybe(None) is None
    assert read.assume("c", 3, "3", "why not") == 3
    assert read.facts[-1].is_guess


@pytest.mark.parametrize("name", ["first-evening", "final"])
def test_no_recalled_limit_alone_makes_a_stop(name: str) -> None:
    for verdict in survey_plan(read_dossier(EXAMPLES / f"{name}.toml").plan).verdicts:
        if verdict.weight == "stop" and verdict.sources and verdict.code not in RECALLED_MAY_STOP:
            assert any(s.standing != "recalled" for s in verdict.sources), verdict


@pytest.mark.parametrize("name", ["first-evening", "final"])
def test_every_verdict_is_whole(name: str) -> None:
    verdicts = survey_plan(read_dossier(EXAMPLES / f"{name}.toml").plan).verdicts
    assert len({(v.code, v.subject, v.rig) for v in verdicts}) == len(verdicts)
    for v in verdicts:
        assert v.says.endswith(".") and "  " not in v.says, v
        assert v.code.count(".") == 1 and " " not in v.subject
        if v.found is not None:
            assert v.limit is not None and v.found.unit == v.limit.unit
        if v.state == "unknown" and v.weight != "note":
            assert v.settle is not None or v.code in ("levels.chip-current",), v
        if v.state != "holds" and not v.code.startswith("survey."):
            assert v.rests_on, v
