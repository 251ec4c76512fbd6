"""The dossier: facts and decisions of one job, one model a table.

Each table belongs to one stage, named in its docstring; others read it through the Reading.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema

from scanloom.dossier import fields as f
from scanloom.dossier.leaf import Leaf, refuse_odd_text


def _bare(raw: Any) -> Any:
    """Value of a Leaf whose origin does not matter: names, codes, reasons."""
    value = raw.raw if isinstance(raw, Leaf) else raw
    if isinstance(value, str):
        refuse_odd_text(value)
    return value


def _name(text: str) -> str:
    """Refuse names that would not survive in a key."""
    if not f.NAME.fullmatch(text):
        raise ValueError(f"{text!r} is not a name; lower-case words joined by hyphens are; write it as 'hero-left'")
    return text


_TEXT_SCHEMA = WithJsonSchema({"type": "string"})
Text = Annotated[str, BeforeValidator(_bare), _TEXT_SCHEMA]
Name = Annotated[
    str,
    AfterValidator(_name),
    BeforeValidator(_bare),
    WithJsonSchema({"type": "string", "pattern": f"^{f.NAME.pattern}$"}),
]
Version = Annotated[Literal[1], BeforeValidator(_bare), WithJsonSchema({"const": 1})]
Channel = Literal["red", "green", "blue"]
CHANNELS: tuple[Channel, ...] = ("red", "green", "blue")


class Table(BaseModel):
    """Any table of the dossier: unknown keys are refused, nothing can be changed after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Head(Table):
    """[dossier], owned by the survey."""

    format: Version = Field(description="version of this file's layout")
    title: Text = Field("", description="title of the job")


class Event(Table):
    """[event], owned by the survey."""

    date: f.Day | None = Field(None, description="the day it must work")
    ceiling: f.Price | None = Field(None, description="most it may cost")


class ChipFacts(Table):
    """[chip]: clock owns like and system, levels drive to rail, memory external, keep_back and free."""

    like: f.Words | None = Field(None, description="chip of the handbook, or a path to your own chip file")
    system: f.HertzSpan | None = Field(None, description="system clocks the firmware may use")
    drive: f.Amperes | None = Field(None, description="drive setting")
    pin_high: f.OhmSpan | None = Field(None, description="output resistance of a pin driven high")
    pin_low: f.OhmSpan | None = Field(None, description="output resistance of a pin driven low")
    rail: f.VoltSpan | None = Field(None, description="voltage of the pins' supply")
    external: f.Bytes | None = Field(None, description="external RAM that the stream's DMA can read")
    keep_back: f.Bytes | None = Field(None, description="RAM kept in one piece for everything else")
    free: dict[str, f.Blocks] = Field(default_factory=dict, description="free blocks by firmware state")


class Display(Table):
    """[[displays]]: screens owns the rates, levels the loads, picture the cable."""

    name: Name = Field(description="what messages and other tables call it")
    group: f.Words | None = Field(None, description="displays treated alike")
    like: f.Words | None = Field(None, description="class of the handbook whose values stand in")
    same_as: f.Words | None = Field(None, description="display whose facts fill what is absent here")
    edid: f.Words | None = Field(None, description="file with the display's EDID block")
    line_rate: f.HertzSpan | None = Field(None, description="line rates it accepts")
    frame_rate: f.HertzSpan | None = Field(None, description="frame rates it accepts")
    promised: f.WordList | None = Field(None, description="rasters its sheet lists")
    proved: f.WordList | None = Field(None, description="rasters seen to work on this very display")
    panel: f.Size | None = Field(None, description="its own pixels")
    colour_load: f.OhmSpan | None = Field(None, description="termination of a colour input")
    sync_load: f.OhmSpan | None = Field(None, description="load of a sync input")
    sync_pull: f.PullTo | None = Field(None, description="pull of a sync input to a supply")
    cable: f.Cable | None = Field(None, description="kind and length of its cable")


class Supply(Table):
    """[supply], owned by levels."""

    inlet: f.AmpereSpan | None = Field(None, description="current the inlet may give")
    inlet_voltage: f.VoltSpan | None = Field(None, description="voltage of the inlet")
    chip_current: f.AmpereSpan | None = Field(None, description="current of the chip, outputs apart")
    regulator_rise: f.RiseSpan | None = Field(None, description="degrees above air for each watt")
    air: f.AirSpan | None = Field(None, description="temperature of the air around the board")
    decoupling: f.FaradSpans | None = Field(None, description="every capacitor close to the chip's supply pins")
    ground_path: f.HenrySpan | None = Field(
        None, description="inductance from the chip's ground to that of the connectors"
    )


class SyncPins(Table):
    """[board.sync]: chip pins of the shared syncs."""

    h: f.Pin | None = Field(None, description="horizontal sync")
    v: f.Pin | None = Field(None, description="vertical sync")


class Connector(Table):
    """[[board.connectors]]: one 15-pin connector, left to right, plug side towards you."""

    name: Text = Field(description="what stands beside it on the board")
    plugs: f.Words | None = Field(None, description="display that is plugged in here")
    red: f.Pins | None = Field(None, description="pins of red")
    green: f.Pins | None = Field(None, description="pins of green")
    blue: f.Pins | None = Field(None, description="pins of blue")


class Part(Table):
    """[board.parts]: what no file can tell of a part; pin names are the part's own."""

    is_: Annotated[str, BeforeValidator(_bare)] = Field(
        alias="is",
        description="what it does: chip, inlet, serial bridge, sync buffer, video buffer, video amplifier, closed link, "
        "open link, resistors common pin, resistors separate",
    )
    talks: Text | None = Field(None, description="the pin it sends on, by the part's own name")
    hears: Text | None = Field(None, description="the pin it listens on, by the part's own name")
    pins: dict[str, Text] = Field(
        default_factory=dict,
        description="what the part calls its pads, by their numbers, where no file tells: GPIO25 of the chip, 1A and 1Y of a "
        "buffer, IN1 and OUT1 of an amplifier",
    )


class Board(Table):
    """[board]: lanes owns sync, connectors and around; the board review files and parts."""

    revision: f.Words | None = Field(None, description="revision of the board")
    files: f.Words | None = Field(None, description="folder of fabrication files")
    sync: SyncPins | None = None
    connectors: tuple[Connector, ...] = ()
    around: f.PinOrder | None = Field(None, description="pins as met around the module, counter-clockwise from above")
    protection: f.FaradSpan | None = Field(
        None, description="capacitance of the part that guards each colour against static discharge, owned by levels"
    )
    parts: dict[str, Part] = Field(default_factory=dict)


class Amplifier(Table):
    """[levels] colour.amplifier: a video amplifier between the resistors and each colour output."""

    gain: f.Count | None = Field(None, description="how many times it amplifies")
    back: f.OhmSpan | None = Field(None, description="resistor from its output to the connector")
    bandwidth: f.HertzSpan | None = Field(None, description="bandwidth at that gain, down 3 dB")
    slew: f.SlewSpan | None = Field(None, description="steepest edge it can make")
    current: f.AmpereSpan | None = Field(None, description="its own current, one channel at rest")


class ColourStage(Table):
    """[levels] colour."""

    style: f.Words | None = Field(None, description="direct, series, weighted, ladder, matched, buffered or amplified")
    part: f.OhmSpans | None = Field(None, description="resistors, most significant first; ladder: R and 2R")
    shunt: f.OhmSpan | None = Field(
        None, description="resistor from where the parts meet to ground: matched, amplified; may be there when buffered"
    )
    buffer: f.Words | None = Field(None, description="logic family of the buffers, when buffered")
    packages: f.Count | None = Field(
        None, description="packages that the buffers' outputs are spread over evenly; absent: the fewest that carry it"
    )
    amplifier: Amplifier | None = Field(None, description="the video amplifier, when amplified")


class SyncStage(Table):
    """[levels] sync."""

    style: f.Words | None = Field(None, description="series, direct or buffered")
    part: f.OhmSpan | None = Field(None, description="one resistor between the pin and all displays")
    buffer: f.Words | None = Field(None, description="logic family of the buffer")
    outputs: f.Words | None = Field(None, description="one, one per group or one per display")
    branch: f.OhmSpan | None = Field(None, description="resistor of each display's branch")


class LevelStage(Table):
    """[levels], owned by levels."""

    colour: ColourStage | None = Field(None, description="how the colour pins are wired")
    groups: dict[str, ColourStage] = Field(
        default_factory=dict, description="other colour stages, by group of displays"
    )
    sync: SyncStage | None = Field(None, description="how the shared syncs are driven")


class RasterChoice(Table):
    """[[rigs]] raster, owned by timing."""

    parent: f.Words | None = Field(None, description="timing the display sees; beside a formula, its size and rate")
    formula: f.Words | None = Field(
        None,
        description="formula that makes the parent where no list holds it: cvt, cvt-rb1, cvt-rb2 or gtf; "
        "proved and promised call such a raster 1000x600@60 by cvt",
    )
    divide: f.Count | None = Field(None, description="clock and horizontal figures divided by this")
    repeat: f.Count | None = Field(None, description="times each image row is sent")
    picture: f.Size | None = Field(None, description="stored pixels by image rows; absent: the whole active area")


class Rig(Table):
    """[[rigs]]: timing owns raster, lanes depth and lanes, memory firmware, frames, frame_in and redraw, clock the clock."""

    name: Name = Field(description="what messages call it")
    firmware: f.Words | None = Field(None, description="firmware state, as in chip.free")
    stream: f.Words | None = Field(None, description="stream by its lanes, such as 8 lanes")
    raster: RasterChoice | None = Field(None, description="what the displays see, and the picture in it")
    clock: f.Hertz | None = Field(None, description="pixel clock to use instead of the best one")
    depth: dict[str, dict[Literal["red", "green", "blue", "white"], f.Depth]] = Field(
        default_factory=dict, description="bits by group or display, then by channel"
    )
    lanes: f.LaneNames | None = Field(None, description="what each lane carries, from bit 0 upward")
    frames: f.Count | None = Field(None, description="frames kept in RAM at once")
    frame_in: f.Words | None = Field(None, description="internal or external RAM")
    redraw: f.SecondSpan | None = Field(None, description="time the firmware needs to draw one picture")


class BoardCount(Table):
    """[batch] boards."""

    need: f.Amount | None = Field(None, description="boards that must work")
    spare: f.Amount | None = Field(None, description="boards to have besides")


class Batch(Table):
    """[batch], owned by batch."""

    boards: BoardCount | None = Field(None, description="how many boards")
    set_up: f.Price | None = Field(None, description="charge for each order, however many boards")
    per_distinct_part: f.Price | None = Field(None, description="charge for each different part that is placed")
    bare: dict[str, f.Price] = Field(default_factory=dict, description="price of so many bare boards, by their number")
    post: f.Price | None = Field(None, description="postage")


class Room(Table):
    """[room], owned by places."""

    seats: dict[str, f.Point] = Field(
        default_factory=dict, description="eyes, by name: right, away from the displays, up"
    )
    places: dict[str, f.Point] = Field(
        default_factory=dict, description="displays, by name: right, away from the displays, up"
    )


class Flash(Table):
    """[[cues]] flash."""

    colour: f.Words | None = Field(None, description="colour that flashes")
    rate: f.RateSpan | None = Field(None, description="flashes in a second")


class Cue(Table):
    """[[cues]], owned by content."""

    name: Name = Field(description="what messages call it")
    on: f.WordList = Field((), description="groups or displays that show it")
    flash: Flash | None = Field(None, description="what flashes, and how fast")


class Accepted(Table):
    """[[accepted]], owned by the survey."""

    code: Text = Field(description="code of the check")
    subject: Text = Field(description="subject of the check")
    because: Text = Field(description="the reason")
    rig: Text = Field("", description="the rig it is for; absent: every rig")
    by: Text = Field("", description="who accepts it; must be named where a limit on current is passed")
    mark: Text = Field("", description="fingerprint of what the verdict rested on when it was accepted")


class Dossier(Table):
    """One job: facts with their origins, decisions with their reasons, no computed value but the marks."""

    dossier: Head
    event: Event | None = None
    chip: ChipFacts | None = None
    displays: tuple[Display, ...] = ()
    supply: Supply | None = None
    board: Board | None = None
    levels: LevelStage | None = None
    rigs: tuple[Rig, ...] = ()
    batch: Batch | None = None
    room: Room | None = None
    cues: tuple[Cue, ...] = ()
    accepted: tuple[Accepted, ...] = ()
