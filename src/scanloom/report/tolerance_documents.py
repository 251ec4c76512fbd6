"""Shapes of tolerance in depth as JSON: yield, influences, looser parts."""

from __future__ import annotations

from typing_extensions import TypedDict


class PercentilesDoc(TypedDict):
    """How one figure is spread."""

    least: float
    p1: float
    p50: float
    p99: float
    most: float
    mean: float
    deviation: float


class YieldDoc(TypedDict):
    """Boards that turn out good, as shares."""

    boards: int
    good: float
    good_error: float
    white: float
    monotonic: float
    inl: float
    mismatch: float
    white_v: PercentilesDoc
    inl_lsb: PercentilesDoc
    mismatch_share: PercentilesDoc


class InfluenceDoc(TypedDict):
    """What one element does."""

    element: str
    per_percent_v: float
    spread_v: float
    share: float


class LooserDoc(TypedDict):
    """A part that may be looser."""

    leg: int
    now_percent: float
    may_percent: float


class ChannelToleranceDoc(TypedDict):
    """Tolerance of channels that are built alike."""

    channels: list[str]
    white: list[InfluenceDoc]
    worst_step: list[InfluenceDoc]
    looser: list[LooserDoc]
    says: str


class ToleranceDoc(TypedDict):
    """Tolerance of one rig's colours."""

    lot: YieldDoc
    alike: list[ChannelToleranceDoc]
