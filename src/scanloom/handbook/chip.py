"""What a chip record holds; the handbook's own chips and a maker's file pass the same checks."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal, Protocol, TypeVar

from pydantic import BaseModel, ConfigDict, Field

from scanloom.basis.fact import Fact, Known
from scanloom.basis.source import Source, Standing
from scanloom.handbook.clock_chain import ClockChain
from scanloom.handbook.fields import Amperes, AmpereSpan, ByteBlocks, Hertz, OhmSpan, Volts, VoltSpan


class Row(BaseModel):
    """One sourced row of a chip record."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    source: str = Field(description="key of the source the row is from")
    place: str = Field(description="table, section or page in that source")


class ChipHead(Row):
    """Name and nature of the chip."""

    name: str
    title: str
    kind: Literal["part", "class"] = Field(description="one order code, or typical values of a class")
    processor: Hertz | None = Field(None, description="rated processor clock")


class FirmwareState(Row):
    """Free RAM that the stream's DMA can read, in one situation of the firmware."""

    name: str
    free: ByteBlocks = Field(description="free blocks, each in one piece")


class Stream(Row):
    """One way of sending words to pins."""

    name: str
    lanes: int = Field(gt=0, le=64)
    words_per_read: int = Field(gt=0, description="words in one read of the DMA")
    read_bytes: int = Field(gt=0, description="bytes of one read of the DMA")
    slot_bits: int = Field(gt=0, description="bits that one word occupies in the read unit, lowest slot first")
    order: tuple[int, ...] = Field(description="slot within the read unit that each word in turn is stored in")
    planned: Hertz = Field(description="word rate to plan with")
    hard: Hertz = Field(description="highest word rate")
    limited_by: str
    sync: Literal["word", "hardware"] = Field(
        "word", description="syncs are bits of the word, or made by hardware of their own"
    )
    table: int | None = Field(
        None, gt=1, description="entries of a colour table; each stored word is then an index into it"
    )

    @property
    def stored_bits(self) -> int:
        """Bits of a stored word [1]."""
        return self.lanes if self.table is None else (self.table - 1).bit_length()

    @property
    def word_bytes(self) -> float:
        """Bytes of RAM for each word [B]."""
        return self.read_bytes / self.words_per_read


class Transfer(Row):
    """Rules of the DMA's list of runs."""

    entry_bytes: int = Field(gt=0)
    longest_run_bytes: int = Field(gt=0)
    allocation_bytes: int = Field(ge=0, description="the allocator's own bytes for each allocation")


class Routing(Row):
    """How the lanes of some streams reach pins."""

    streams: tuple[str, ...] = Field((), description="streams it holds for; empty: all")
    rule: Literal["any", "run", "fixed"] = Field(
        description="any lane to any of the pins; one consecutive run in the order of the word; a fixed choice for each lane"
    )
    fan_out: bool = Field(description="whether one lane may feed several pins")
    pins: tuple[int, ...] | None = Field(None, description="pins the lanes can reach; absent: all")
    windows: tuple[tuple[int, int], ...] = Field(
        (), description="first and last pin of the stretches a run must lie in"
    )
    bases: tuple[int, ...] = Field((), description="pins that lane 0 of a run may leave on; empty: any")
    choices: tuple[tuple[int, ...], ...] = Field(
        (), description="for a fixed choice: pins of lane 0, lane 1, and so on"
    )
    h: tuple[int, ...] = Field((), description="pins of a hardware horizontal sync; empty: as the lanes")
    v: tuple[int, ...] = Field((), description="pins of a hardware vertical sync; empty: as the lanes")


class External(Row):
    """Memory outside the chip that the stream's DMA can read."""

    size_bytes: int = Field(gt=0)
    planned_bytes_per_s: float = Field(gt=0, description="rate to plan with")
    hard_bytes_per_s: float = Field(gt=0, description="highest rate ever seen")


class Drive(Row):
    """One drive setting."""

    name: str
    high: OhmSpan = Field(description="output resistance when high: low, typical, guaranteed")
    low: OhmSpan = Field(description="output resistance when low: low, typical, guaranteed")
    at_reset: bool = False


class Currents(Row):
    """Currents the chip may carry."""

    name: str
    amount: Amperes
    over: Literal["each pin", "all pins"] = Field(description="what the figure is the limit of")
    pins: tuple[int, ...] | None = Field(None, description="pins of the bank; absent: all")


class OwnPins(Row):
    """Current of the chip's own pins, such as those of its flash, that counts in the limit over all pins."""

    amount: AmpereSpan


class Supply(Row):
    """Supply of the pins and the chip's own need."""

    rail: VoltSpan
    running: AmpereSpan = Field(description="current of the chip with the picture running, outputs apart")
    burst: AmpereSpan | None = Field(None, description="the same while its radio sends; absent: not known, or no radio")


class Logic(Row):
    """Input thresholds and internal pulls."""

    low_most: Volts = Field(description="highest voltage read as low")
    high_least: Volts = Field(description="lowest voltage read as high")
    pull: OhmSpan = Field(description="internal pull to either side")


class Pin(Row):
    """What differs from an ordinary, quiet, free output."""

    pins: tuple[int, ...]
    allow: Literal["any", "colour", "last", "none"] = "any"
    reason: str = ""
    boot: Literal["must be high", "must be low", "high by default"] | None = None
    boot_effect: str = ""
    pull: Literal["up", "down", "none"] | None = None
    noise: str = Field("", description="what the pin does by itself while the chip starts")
    role: Literal["serial out", "serial in", "flash", "absent", "input only"] | None = None
    most: Amperes | None = Field(None, description="current limit of these pins where it differs")


class PinRange(Row):
    """All pins there are, and their pull at reset."""

    pins: tuple[int, ...]
    pull: Literal["up", "down", "none"] = "none"


class Around(Row):
    """Pins in the order met around the common module, numbered counter-clockwise seen from the component side."""

    pins: tuple[int, ...]


class OwnSource(BaseModel):
    """A source that a maker's own chip file lists."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    title: str
    edition: str = ""
    standing: Standing
    read: str = ""


class ChipTable(BaseModel):
    """A whole chip record; a part left out stays unknown, never assumed."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    sources: dict[str, OwnSource] = Field(default_factory=dict, description="sources besides the handbook's")
    chip: ChipHead
    state: tuple[FirmwareState, ...] = ()
    stream: tuple[Stream, ...] = ()
    transfer: Transfer | None = None
    clock: tuple[ClockChain, ...] = ()
    routing: tuple[Routing, ...] = ()
    external: External | None = None
    drive: tuple[Drive, ...] = ()
    current: tuple[Currents, ...] = ()
    own_pins: OwnPins | None = None
    supply: Supply | None = None
    logic: Logic | None = None
    pins: PinRange | None = None
    pin: tuple[Pin, ...] = ()
    around: Around | None = None


class Sourced(Protocol):
    """Any row that says where it is from."""

    @property
    def source(self) -> str:
        """Key of its source."""

    @property
    def place(self) -> str:
        """Place in that source."""

    def model_dump_json(self, *, exclude: set[str], exclude_none: bool) -> str:
        """Text of the row, for its fingerprint.

        Parameters
        ----------
        exclude : set of str
            Fields to leave out.
        exclude_none : bool
            Whether to leave out fields that are not stated.

        Returns
        -------
        str
            The row as JSON.
        """


R = TypeVar("R", bound=Sourced)


@dataclass(frozen=True, slots=True, eq=False)
class Chip:
    """A chip record with its sources, whose rows are handed out together with where they are from.

    Parameters
    ----------
    table : ChipTable
        The record.
    sources : Mapping
        Sources its rows name, by key.
    """

    table: ChipTable
    sources: Mapping[str, Source] = field(default_factory=lambda: MappingProxyType({}))
    _texts: dict[str, str] = field(default_factory=dict, repr=False)

    @property
    def name(self) -> str:
        """Name of the chip."""
        return self.table.chip.name

    def known(self, kind: str, row: R) -> Known[R]:
        """One row with its origin.

        Parameters
        ----------
        kind : str
            Table of the row, such as ``stream``.
        row : Row
            A row of this record.

        Returns
        -------
        Known
            The row and the fact it is.
        """
        name = getattr(row, "name", "") or "-".join(str(p) for p in getattr(row, "pins", None) or ())[:24]
        if kind == "routing":
            name = " ".join(getattr(row, "streams", ()))
        if kind in ("pins", "around"):
            name = ""  # one row a chip: its pins would only make a long name
        slug = re.sub(r"[^a-z0-9.]+", "-", name.lower()).strip("-")
        key = f"handbook.chips.{self.name}.{kind}" + (f".{slug}" if slug else "")
        if key not in self._texts:
            self._texts[key] = row.model_dump_json(exclude={"source"}, exclude_none=True)
        source = self.sources[row.source]
        return Known(row, (Fact(key, self._texts[key], source.standing, row.place, source.key),))

    def routing_of(self, stream: str) -> Routing | None:
        """How the lanes of a stream reach pins.

        Parameters
        ----------
        stream : str
            Name of the stream.

        Returns
        -------
        Routing or None
            The row that names the stream, or the row for all.
        """
        named = [row for row in self.table.routing if stream in row.streams]
        return next(iter([*named, *(row for row in self.table.routing if not row.streams)]), None)

    def pin_rows(self, pin: int) -> tuple[Pin, ...]:
        """Rows that say something about one pin.

        Parameters
        ----------
        pin : int
            Pin number. [1]

        Returns
        -------
        tuple of Pin
            Rows that name it, each with a current limit of its own where that differs. [A]
        """
        return tuple(row for row in self.table.pin if pin in row.pins)

    def exists(self, pin: int) -> bool | None:
        """Whether the chip has the pin.

        Parameters
        ----------
        pin : int
            Pin number. [1]

        Returns
        -------
        bool or None
            None when the record does not list its pins.
        """
        return None if self.table.pins is None else pin in self.table.pins.pins
