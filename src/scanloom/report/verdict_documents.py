"""Shapes of verdicts and faults as JSON."""

from __future__ import annotations

from typing import Literal

from typing_extensions import TypedDict

State = Literal["holds", "fails", "unknown", "accepted", "stale"]
Weight = Literal["stop", "caution", "note"]


class AmountDoc(TypedDict):
    """Low, typical and high with a unit; a bound that nobody sets is null."""

    low: float | None
    typical: float | None
    high: float | None
    unit: str


class FactDoc(TypedDict):
    """One fact that a verdict rests on."""

    key: str
    text: str
    origin: str
    detail: str
    source: str
    guess: bool


class SettleDoc(TypedDict):
    """The measurement that would decide."""

    what: str
    holds_if: str
    fails_if: str
    minutes: float
    fact: str


class PatchDoc(TypedDict):
    """A change that would mend."""

    key: str
    value: str
    says: str


class SourceDoc(TypedDict):
    """Where a limit is printed."""

    title: str
    place: str
    standing: str


class PlaceDoc(TypedDict):
    """Where in an outside file something was seen."""

    file: str
    layer: str
    x_mm: float | None
    y_mm: float | None
    pin: str


class VerdictDoc(TypedDict):
    """One check; code, subject and rig identify it."""

    code: str
    subject: str
    rig: str
    state: State
    judged: Literal["holds", "fails", "unknown"]
    weight: Weight
    says: str
    found: AmountDoc | None
    limit: AmountDoc | None
    margin: float | None
    rests_on: list[FactDoc]
    on_guess: bool
    settle: SettleDoc | None
    remedy: list[PatchDoc]
    sources: list[SourceDoc]
    place: PlaceDoc | None
    because: str


class ErrorDoc(TypedDict):
    """One fault of a file that could not be read."""

    file: str
    line: int
    column: int
    path: str
    text: str
