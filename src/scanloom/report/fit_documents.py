"""Shapes of plans for a wish, and of a starter, as JSON."""

from __future__ import annotations

from typing_extensions import TypedDict


class WishedDoc(TypedDict):
    """Displays wished for alike."""

    count: int
    colour: str
    bits: int | None


class FitRowDoc(TypedDict):
    """One plan for a wish."""

    chip: str
    parent: str
    divide: int
    repeat: int
    picture: str
    stream: str
    depth: list[int]
    bytes_used: int
    bytes_free: int
    word_rate_hz: float
    frame_rate_hz: float
    pins: int
    current_a: float
    state: str
    first_failure: str
    cure: str


class FitDoc(TypedDict):
    """Result of `fit`."""

    wish: str
    groups: list[WishedDoc]
    fitting: int
    nearly: int
    reason: str
    rows: list[FitRowDoc]


class ToMeasureDoc(TypedDict):
    """Something to measure."""

    minutes: int
    where: str
    what: str


class NewDoc(TypedDict):
    """Result of `new`."""

    file: str
    row: FitRowDoc
    to_measure: list[ToMeasureDoc]
