"""Shapes of what a search for parts prints as JSON."""

from __future__ import annotations

from typing import Literal

from typing_extensions import TypedDict

from scanloom.report.stage_documents import LevelPlanDoc
from scanloom.report.tolerance_documents import ToleranceDoc


class LegDoc(TypedDict):
    """Part or parts between one pin and the connector."""

    ohm: float
    how: Literal["single", "parallel", "series"]


class FoundDoc(TypedDict):
    """One network and what it does.

    `error_v` typical, `worst_error_v` at the worst corner; `pin_current_a` a leg, most over all codes, typical;
    `pin_worst_a` that of the hardest worked pin at the worst corner.
    """

    legs: list[LegDoc]
    shunt_ohm: float | None
    error_v: float
    worst_error_v: float
    full_scale_v: float
    inl_lsb: float
    dnl_min_lsb: float
    dnl_max_lsb: float
    monotonic_at: float
    source_ohm: float
    pin_current_a: list[float]
    pin_worst_a: float
    white_current_a: float
    distinct: int
    parts: int
    good_share: float | None
    why: str


class TradeDoc(TypedDict):
    """What a changed request would bring."""

    change: str
    option: str
    gain_v: float
    error_v: float
    distinct: int
    parts: int


class PartsDoc(FoundDoc):
    """Result of `levels --bits`: the best network, then the answers behind it."""

    objective: Literal["nominal", "worst", "yield"]
    proved: bool
    bound_v: float
    most_share: float | None
    networks: float
    searched: int
    others: list[FoundDoc]
    trades: list[TradeDoc]


class NoPartsDoc(TypedDict):
    """Result of `levels --bits` where no network meets the request: why, and the option that brings one."""

    found: Literal["nothing"]
    says: str
    option: str
    proved: bool


class SyncEdgeDoc(TypedDict):
    """Edges of the sync at one display, solved with losses and all echoes; null where an edge never gets there."""

    display: str
    between_s: float | None
    slope_v_per_s: float
    again: int
    overshoot_v: float
    rise_after_s: float | None
    fall_after_s: float | None


class RigLevelsDoc(TypedDict):
    """Levels of one rig; null where the stage waits on another, tolerance where no boards were asked for."""

    rig: str
    levels: LevelPlanDoc | None
    sync_edges: list[SyncEdgeDoc]
    tolerance: ToleranceDoc | None


class JointChannelDoc(TypedDict):
    """One channel of a joint proposal."""

    channel: str
    legs: list[LegDoc]
    error_v: float
    worst_error_v: float
    full_scale_v: float
    monotonic_at: float


class JointBranchDoc(TypedDict):
    """Branch part of one sync."""

    sync: str
    leg: LegDoc


class CapDoc(TypedDict):
    """A current that must not be exceeded, and what is drawn at worst."""

    name: str
    drawn_a: float
    most_a: float


class PartPatchDoc(TypedDict):
    """A change of the dossier."""

    key: str
    value: str
    says: str


class JointDoc(TypedDict):
    """One set of values for all channels and syncs; caps are those of the chip, kept to or not."""

    values_ohm: list[float]
    channels: list[JointChannelDoc]
    branches: list[JointBranchDoc]
    error_v: float
    parts: int
    caps: list[CapDoc]
    sets: int
    proved: bool
    patches: list[PartPatchDoc]
    try_line: str


class SyncBranchDoc(TypedDict):
    """Branch part that gives the syncs the cleanest edges; 0 ohm is a wire."""

    branch_ohm: float
    sharing: str
    overshoot_v: float
    between_s: float
    tried: int
    proved: bool
    patch: PartPatchDoc
    try_line: str


class BoardLevelsDoc(TypedDict):
    """Result of `levels DOSSIER`; `joint` is null where no set of values does, `sync_branch` where no part does."""

    file: str
    rigs: list[RigLevelsDoc]
    sync_branch: SyncBranchDoc | None
    joint: JointDoc | None
    says: list[str]
