"""Shape of what `review` prints as JSON."""

from __future__ import annotations

from typing import Literal

from typing_extensions import TypedDict


class ReviewFileDoc(TypedDict):
    """A file and what it was taken for."""

    file: str
    role: str
    side: str
    decided_by: str
    sha256: str
    remarks: list[str]
    damage: str


class LanePathDoc(TypedDict):
    """What stands between one colour pin and its connector; no ohms where no list gives them."""

    connector: str
    channel: str
    chip_pin: int
    reached: list[str]
    through: str
    as_built_ohm: float | None


class LyingDoc(TypedDict):
    """A file that does not lie as it is, and its shift in millimetres."""

    file: str
    map: Literal["as it is", "mirrored left to right", "mirrored top to bottom", "turned half round"]
    along_mm: float
    across_mm: float


class SinceDoc(TypedDict):
    """Code and subject of what changed since the earlier review."""

    mended: list[str]
    new: list[str]


class ReviewCountsDoc(TypedDict):
    """Checks by state."""

    holds: int
    fails: int
    unknown: int
    accepted: int
    stale: int


class MilledDoc(TypedDict):
    """What a tool path does, and whether the copper comes out right."""

    file: str
    kind: Literal["isolation", "drilling", "outline"]
    map: str | None
    mirror_state: Literal["good", "flipped", "flipped twice", "unknown"]
    side: str


class FittingDoc(TypedDict):
    """How a part goes onto a board that came out mirrored; each pin beside the pin whose pad it meets."""

    part: str
    way: str
    proof: list[list[str]]
    remark: str


class DifferenceDoc(TypedDict):
    """What the prototype has otherwise than the final board."""

    rank: int
    key: str
    here: str
    there: str
    why: str


class BuiltWhiteDoc(TypedDict):
    """White of one colour at the display's input, as meant and as built, null where nothing arrives."""

    channel: str
    shows: Literal["own", "other", "dark", "mixed"]
    meant_v: float | None
    built_v: float | None


class BuiltApartDoc(TypedDict):
    """Distance of the two pictures, in steps of 255."""

    mean: float
    worst: int
    share: float


class BuiltDisplayDoc(TypedDict):
    """What one display would show with the board as the files have it, and the findings (code, subject) that ask for it."""

    display: str
    connector: str
    rig: str
    findings: list[list[str]]
    words: list[str]
    locks: bool | None
    apart: BuiltApartDoc
    white: list[BuiltWhiteDoc]


class BuiltShownDoc(TypedDict):
    """Displays that would show something else than is meant; `not_drawn` says why one is not drawn, by its connector."""

    displays: list[BuiltDisplayDoc]
    not_drawn: dict[str, str]


class ReviewDoc(TypedDict):
    """Result of `review`; `since` is null without an earlier review, `report` without a page."""

    folder: str
    dossier: str
    ready: bool
    counts: ReviewCountsDoc
    files: list[ReviewFileDoc]
    size_mm: list[float] | None
    parts: int
    nets: int
    holes: int
    lanes: list[LanePathDoc]
    hand_parts: list[str]
    lying: list[LyingDoc]
    milled: list[MilledDoc]
    fittings: list[FittingDoc]
    differences: list[DifferenceDoc]
    shown: BuiltShownDoc
    since: SinceDoc | None
    report: str | None
