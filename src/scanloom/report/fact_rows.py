"""Facts with their origin and how much rests on each, decisions with their reasons."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel

from scanloom.basis.fact import Fact, Known
from scanloom.basis.record import record
from scanloom.dossier.plan import Plan
from scanloom.survey import Survey

_WEAKEST = {"guess": 0, "recalled": 0, "common practice": 1, "derived": 1, "handbook": 1, "said": 2, "because": 3}


@record
class FactRow:
    """One fact and the checks that rest on it.

    Parameters
    ----------
    fact : Fact
        The fact.
    checks : int
        Checks that rest on it. [1]
    open : int
        Of these, checks that are open. [1]
    """

    fact: Fact
    checks: int
    open: int


def fact_rows(plan: Plan, survey: Survey) -> tuple[FactRow, ...]:
    """All facts, stated or taken from the handbook, the weakest first and among those the one with most on it.

    Parameters
    ----------
    plan : Plan
        The dossier.
    survey : Survey
        Its survey.

    Returns
    -------
    tuple of FactRow
        Decisions left out.
    """
    facts: dict[str, Fact] = {fact.key: fact for fact in stated(plan)}
    checks: dict[str, set[tuple[str, str, str]]] = {}
    opened: dict[str, set[tuple[str, str, str]]] = {}
    for v in survey.verdicts:
        one = (v.code, v.subject, v.rig)
        for fact in v.rests_on:
            facts.setdefault(fact.key, fact)
            checks.setdefault(fact.key, set()).add(one)
            if v.is_open and v.weight != "note":
                opened.setdefault(fact.key, set()).add(one)
    rows = [
        FactRow(fact, len(checks.get(key, ())), len(opened.get(key, ())))
        for key, fact in facts.items()
        if fact.origin != "because"
    ]
    return tuple(sorted(rows, key=lambda r: (not r.fact.is_guess, -r.open, -r.checks, _weakness(r.fact), r.fact.key)))


def decisions(plan: Plan) -> tuple[Fact, ...]:
    """What the maker decided, each with its reason.

    Parameters
    ----------
    plan : Plan
        The dossier.

    Returns
    -------
    tuple of Fact
        In the order of the dossier.
    """
    return tuple(fact for fact in stated(plan) if fact.origin == "because")


def stated(plan: Plan) -> Iterator[Fact]:
    """Everything that the dossier states as a value with an origin.

    Parameters
    ----------
    plan : Plan
        The dossier.

    Yields
    ------
    Fact
        In the order of the models.
    """
    yield from _within(plan.dossier)


def _within(value: Any) -> Iterator[Fact]:
    """Facts inside a table, a list or a value."""
    if isinstance(value, Known):
        yield from value.facts[:1]
    elif isinstance(value, BaseModel):
        for name in type(value).model_fields:
            yield from _within(getattr(value, name))
    elif isinstance(value, dict):
        for inner in value.values():
            yield from _within(inner)
    elif isinstance(value, tuple | list):
        for inner in value:
            yield from _within(inner)


def _weakness(fact: Fact) -> int:
    """Rank of an origin, the weakest first."""
    return 0 if fact.class_value else _WEAKEST.get(fact.origin, 4)
