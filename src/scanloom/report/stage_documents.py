"""Shapes of the stages' results as JSON."""

from __future__ import annotations

from typing import Literal

from typing_extensions import TypedDict

from scanloom.report.verdict_documents import AmountDoc


class HorizontalDoc(TypedDict):
    """Horizontal figures in pixels of the child."""

    active_px: int
    front_px: int
    sync_px: int
    back_px: int
    total_px: int
    polarity: Literal["+", "-"]


class VerticalDoc(TypedDict):
    """Vertical figures in lines."""

    active_lines: int
    front_lines: int
    sync_lines: int
    back_lines: int
    total_lines: int
    polarity: Literal["+", "-"]


class TimingDoc(TypedDict):
    """Result of `timing`."""

    parent: str
    parent_id: str
    formula: Literal["cvt", "cvt-rb1", "cvt-rb2", "gtf"] | None
    divide: int
    h: HorizontalDoc
    v: VerticalDoc
    pixel_clock_hz: float
    line_rate_hz: float
    frame_rate_hz: float
    interlaced: bool
    image_rows: int | None
    line_repeat: int
    picture_px: int | None
    borders: list[int] | None
    source: str
    place: str
    cautions: list[str]


class CandidateDoc(TypedDict):
    """One rate the chip can make."""

    achieved_hz: float
    error_ppm: float
    wobble_px: float
    lines_repeat_after: int
    system_hz: float | None
    within: bool
    noise_known: bool
    chain: str
    recipe: str
    settings: dict[str, int | str]


class ClockDoc(TypedDict):
    """Result of `clock`."""

    chip: str
    target_hz: float
    h_total_px: int
    candidates: list[CandidateDoc]


class AnswerDoc(TypedDict):
    """What one display says."""

    display: str
    status: str
    scaling: list[float] | None


class ScreensDoc(TypedDict):
    """What all displays say."""

    line_rate_hz: float
    frame_rate_hz: float
    answers: list[AnswerDoc]
    blockers: list[str]
    parents_for_all: list[str]


class LaneDoc(TypedDict):
    """One bit of the word."""

    bit: int
    name: str
    pins: list[int]


class LanesDoc(TypedDict):
    """The word and its pins."""

    stream: str
    used: int
    lanes: list[LaneDoc]
    incomplete: list[str]
    crossings: int | None


class BlockDoc(TypedDict):
    """One block of RAM."""

    rows: int
    left_bytes: int
    items: list[str]


class CureDoc(TypedDict):
    """One way out of a frame that does not fit."""

    what: str
    used_bytes: int
    fits: bool
    cost: str


class MemoryDoc(TypedDict):
    """The frame in RAM, item by item."""

    entries: int
    stores: int
    blank_form: str
    fits: bool | None
    picture_bytes: int | None
    blank_bytes: int | None
    entry_bytes: int | None
    overhead_bytes: int | None
    keep_back_bytes: int | None
    used_bytes: int | None
    free_bytes: int | None
    lines_missing: int | None
    frames_that_fit: int | None
    blocks: list[BlockDoc] | None
    blank_window_s: float | None
    behind_beam_s: float | None
    line_cycles: float | None
    pixel_cycles: float | None
    cures: list[CureDoc]


class ChannelDoc(TypedDict):
    """Levels of one channel."""

    display: str
    channel: str
    level_v: list[float]
    white_v: AmountDoc
    pin_a: AmountDoc
    white_a: AmountDoc
    chip_a: AmountDoc
    output_a: AmountDoc
    style: str
    source_ohm: float


class SyncDoc(TypedDict):
    """Sync levels at one display."""

    display: str
    high_v: AmountDoc
    low_v: AmountDoc


class BufferDoc(TypedDict):
    """Packages of colour buffers of one stage."""

    family: str
    outputs: int
    per_package: int
    packages: int
    spare: int
    package_a: AmountDoc


class SwitchingDoc(TypedDict):
    """What switching all channels at once does."""

    dark_v: AmountDoc
    dip_v: AmountDoc
    sag_v: AmountDoc
    white_lost: AmountDoc


class LevelPlanDoc(TypedDict):
    """Levels and currents of a rig."""

    channels: list[ChannelDoc]
    syncs: list[SyncDoc]
    pins_a: AmountDoc | None
    inlet_a: AmountDoc | None
    regulator_w: AmountDoc | None
    white_average: float
    buffers: list[BufferDoc]
    switching: SwitchingDoc | None


class BootDoc(TypedDict):
    """A pin that the chip reads while it starts; null where nothing holds it."""

    subject: str
    pin: int
    wants: Literal["high", "low"]
    detached_v: AmountDoc | None
    attached_v: AmountDoc | None
    worst_v: AmountDoc | None


class BackFeedDoc(TypedDict):
    """What displays push into the unpowered board through one sync."""

    subject: str
    fed_a: AmountDoc
    lift_v: AmountDoc


class GlitchDoc(TypedDict):
    """A pin that moves by itself while the chip starts."""

    subject: str
    pin: int
    noise: str


class WakingDoc(TypedDict):
    """Reset and power of a rig, displays attached."""

    boots: list[BootDoc]
    back_feeds: list[BackFeedDoc]
    glitches: list[GlitchDoc]
    start_a: AmountDoc | None


class OutlookDoc(TypedDict):
    """What one display will do; null where that is not known."""

    display: str
    locks: bool | None
    why_not: str
    white_v: AmountDoc | None


class PictureOutlookDoc(TypedDict):
    """What all displays will do."""

    displays: list[OutlookDoc]


class StagesDoc(TypedDict):
    """Results of the stages of one rig; null where a stage could not run."""

    timing: TimingDoc | None
    clock: ClockDoc | None
    screens: ScreensDoc | None
    lanes: LanesDoc | None
    memory: MemoryDoc | None
    levels: LevelPlanDoc | None
    waking: WakingDoc | None
    picture: PictureOutlookDoc | None


class RigDoc(TypedDict):
    """One rig."""

    name: str
    stages: StagesDoc
