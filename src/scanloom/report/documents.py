"""Shapes of what commands print as JSON; their schemas are made from here."""

from __future__ import annotations

from typing import Any, NotRequired

from typing_extensions import TypedDict

from scanloom.report.fit_documents import FitDoc, NewDoc
from scanloom.report.parts_documents import BoardLevelsDoc, NoPartsDoc, PartsDoc
from scanloom.report.picture_documents import PictureDoc
from scanloom.report.pins_documents import PinsDoc
from scanloom.report.review_documents import ReviewDoc
from scanloom.report.stage_documents import ClockDoc, RigDoc, TimingDoc
from scanloom.report.verdict_documents import State


class LevelsDoc(TypedDict):
    """Result of `levels --parts`."""

    style: str
    parts_ohm: list[float]
    level_v: list[float]
    level_low_v: list[float]
    level_high_v: list[float]
    full_scale_v: float
    inl_lsb: float | None
    dnl_min_lsb: float | None
    dnl_max_lsb: float | None
    monotonic_guaranteed: bool | None
    source_ohm: float
    pin_current_a: list[float]
    white_current_a: float
    termination_w: float


class ChipDoc(TypedDict):
    """Result of `chip`: the whole record, and the sources its rows name."""

    name: str
    record: dict[str, Any]
    sources: dict[str, dict[str, str]]


class ChipNamesDoc(TypedDict):
    """Result of `chip` without a name."""

    names: list[str]


class CountsDoc(TypedDict):
    """Checks by state."""

    holds: int
    fails: int
    unknown: int
    accepted: int
    stale: int
    on_guess: int


class ChangeDoc(TypedDict):
    """A check that a tried change moves."""

    code: str
    subject: str
    rig: str
    before: State | None
    after: State | None


class TriedDoc(TypedDict):
    """What a tried change does."""

    patches: dict[str, str]
    mended: list[ChangeDoc]
    broken: list[ChangeDoc]
    moved: list[ChangeDoc]
    written: bool


class CheckDoc(TypedDict):
    """Result of `check`."""

    file: str
    title: str
    ready: bool
    counts: CountsDoc
    rigs: list[RigDoc]
    tried: NotRequired[TriedDoc]


class SchemaDoc(TypedDict):
    """Result of `schema` with --json."""

    name: str
    json_schema: dict[str, Any]


class OpenDoc(TypedDict):
    """Result of `open`: where the page is."""

    file: str
    address: str


class ReportDoc(TypedDict):
    """Result of `report`: what was written."""

    file: str
    sha256: str
    pdf: str | None


RESULTS: dict[str, Any] = {
    "check": CheckDoc,
    "open": OpenDoc,
    "report": ReportDoc,
    "pins": PinsDoc,
    "picture": PictureDoc,
    "review": ReviewDoc,
    "timing": TimingDoc,
    "clock": ClockDoc,
    "levels": LevelsDoc | PartsDoc | NoPartsDoc | BoardLevelsDoc,
    "chip": ChipDoc | ChipNamesDoc,
    "fit": FitDoc,
    "new": NewDoc,
    "schema": SchemaDoc,
}
"""Shape of the result of each command."""
