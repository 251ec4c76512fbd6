"""Shape of what `pins` prints as JSON."""

from __future__ import annotations

from typing import Literal

from typing_extensions import TypedDict


class PinGivenDoc(TypedDict):
    """The pin of one lane."""

    lane: str
    connector: str
    channel: str
    pin: int
    ring_place: int | None
    now: int | None
    kept: bool
    last_resort: bool
    buffered: bool
    noise: str
    says: str


class PinCostDoc(TypedDict):
    """What a map costs, the dearest first; crossings are null where the walking order is not known."""

    last_resort: int
    added_buffers: int
    crossings: int | None
    noisy: int


class WordOrderDoc(TypedDict):
    """Order of a word that its pins ask for."""

    rig: str
    lanes: list[str]
    changed: bool


class PinPatchDoc(TypedDict):
    """A change of the dossier that belongs to the map."""

    key: str
    value: str
    says: str


class PinsDoc(TypedDict):
    """Result of `pins`: a map, or that there is none; `crowd` then names lanes that want more pins than `crowd_pins`."""

    file: str
    chip: str
    found: Literal["map", "no map", "nothing yet"]
    given: list[PinGivenDoc]
    cost: PinCostDoc | None
    bound: PinCostDoc | None
    proved: bool
    crossings_now: int | None
    moved: int
    searched: int
    orders: list[WordOrderDoc]
    patches: list[PinPatchDoc]
    try_line: str
    crowd: list[str]
    crowd_pins: list[int]
    says: list[str]
