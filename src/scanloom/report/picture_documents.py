"""Shape of what `picture` prints as JSON."""

from __future__ import annotations

from typing_extensions import TypedDict


class GhostDoc(TypedDict):
    """What a lone white pixel leaves behind it, over full scale; negative for darker than black."""

    delay_px: float
    share: float


class ApartDoc(TypedDict):
    """Distance from the same picture with all effects off, in steps of 255."""

    mean: float
    worst: int
    share: float


class SightDoc(TypedDict):
    """Figures of one channel."""

    channel: str
    white_v: float
    converter_v: float
    alternating_contrast: float
    width_s: float
    worst_tail: float
    cable_tail: float
    recovery_tail: float
    dark_share: float
    ghost: list[GhostDoc]
    echoes: list[GhostDoc]
    echo_bound_v: float | None


class ShownDoc(TypedDict):
    """One display; figures of its worst channel stand first, null where no channel is driven. `loupe` holds volts by line."""

    name: str
    locks: bool | None
    why_not: str
    white_v: float | None
    alternating_contrast: float | None
    ghost: list[GhostDoc]
    clipped_share: float
    effects: list[str]
    channels: list[SightDoc]
    apart: ApartDoc
    size: list[int]
    panel: list[int] | None
    loupe: dict[str, list[list[float]]]


class EffectSizeDoc(TypedDict):
    """What one effect does to the picture of one display."""

    effect: str
    display: str
    mean_v: float
    most_v: float
    mean_lsb: float


class PictureDoc(TypedDict):
    """Result of `picture`; `illustration` names effects that rest on assumed constants, each with its knob."""

    file: str
    rig: str
    shows: str
    size: list[int]
    displays: list[ShownDoc]
    illustration: dict[str, str]
    sizes: list[EffectSizeDoc]
    out: str | None
    mark: str
