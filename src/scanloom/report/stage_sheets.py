"""The sheets of page and report: one a stage, in the order of the survey. Another stage joins with one more entry."""

from __future__ import annotations

from collections.abc import Callable

from scanloom.basis.record import record
from scanloom.basis.verdict import Verdict
from scanloom.dossier.plan import Plan
from scanloom.report.drawings import Drawing
from scanloom.report.drawings.clock import edge_lattice, rate_line
from scanloom.report.drawings.lanes import lane_tangle
from scanloom.report.drawings.locks import lock_rows
from scanloom.report.drawings.memory import block_map, transfer_strip
from scanloom.report.drawings.network import resistor_network
from scanloom.report.drawings.raster import raster_map
from scanloom.report.drawings.screens import display_agreement, panel_scaling
from scanloom.report.drawings.spans import Row, span_rows
from scanloom.report.on_request import OnRequest
from scanloom.report.requested import PASSINGS, SHOWN
from scanloom.report.stage_lines import WAITS, stage_lines
from scanloom.survey import RigSurvey, Survey


@record
class SheetInput:
    """What a sheet is drawn from.

    Parameters
    ----------
    plan : Plan
        The dossier.
    survey : Survey
        Survey of all rigs.
    rig : RigSurvey
        The rig that is shown.
    display : str
        The display that is looked at; empty for none.
    """

    plan: Plan
    survey: Survey
    rig: RigSurvey
    display: str

    def verdicts(self, *codes: str) -> tuple[Verdict, ...]:
        """Checks of this rig.

        Parameters
        ----------
        *codes : str
            Codes wanted.

        Returns
        -------
        tuple of Verdict
            In survey order.
        """
        return tuple(v for v in self.survey.verdicts if v.code in codes and v.rig in ("", self.rig.name))


Fields = Callable[[SheetInput], tuple[str, ...]]
"""Places in the dossier, as people say them, whose values a sheet shows for editing."""


@record
class Sheet:
    """One sheet.

    Parameters
    ----------
    name : str
        Name of the stage, part of the address.
    title : str
        Its heading.
    asks : str
        The question it answers, in one sentence.
    draw : callable
        Its drawings.
    fields : callable
        Places in the dossier whose values it shows for editing.
    by_display : bool
        Whether it is about one display at a time.
    requests : tuple of OnRequest
        What it works out only when asked.
    """

    name: str
    title: str
    asks: str
    draw: Callable[[SheetInput], tuple[Drawing | None, ...]]
    fields: Fields
    by_display: bool = False
    requests: tuple[OnRequest, ...] = ()

    def drawings(self, given: SheetInput) -> tuple[Drawing, ...]:
        """Its drawings, those that cannot be made left out.

        Parameters
        ----------
        given : SheetInput
            What to draw.

        Returns
        -------
        tuple of Drawing
            In their order.
        """
        return tuple(one for one in self.draw(given) if one is not None)

    def verdicts(self, given: SheetInput) -> tuple[Verdict, ...]:
        """All checks of the stage for the rig.

        Parameters
        ----------
        given : SheetInput
            What is shown.

        Returns
        -------
        tuple of Verdict
            In survey order.
        """
        mine = (v for v in given.survey.verdicts if v.rig in ("", given.rig.name))
        return tuple(v for v in mine if v.code.startswith(f"{self.name}."))

    def line(self, given: SheetInput) -> str:
        """What the stage found, in one line.

        Parameters
        ----------
        given : SheetInput
            What is shown.

        Returns
        -------
        str
            The line, or what it waits on.
        """
        words = dict(stage_lines(given.rig)).get(self.name, WAITS)
        waits = waits_on(given, self.name)
        return f"waits on {waits}" if words == WAITS and waits else words


def waits_on(given: SheetInput, stage: str) -> str:
    """Stage that another one waits on.

    Parameters
    ----------
    given : SheetInput
        What is shown.
    stage : str
        The stage that may wait.

    Returns
    -------
    str
        Empty when it does not wait.
    """
    for v in given.verdicts("survey.waits-on"):
        if v.subject == f"rigs.{given.rig.name}.{stage}":
            return v.says.removesuffix(".").rpartition(" waits on ")[2]
    return ""


def _rig(*keys: str) -> Fields:
    """Fields of the rig that is shown."""
    return lambda given: tuple(f"rigs.{given.rig.name}.{key}" for key in keys)


def _both(*parts: Fields) -> Fields:
    """Fields of several kinds, one after the other."""
    return lambda given: tuple(key for part in parts for key in part(given))


def _plain(*keys: str) -> Fields:
    """Fields that no rig changes."""
    return lambda given: keys


def _display(*keys: str) -> Fields:
    """Fields of the display that is looked at."""
    return lambda given: tuple(f"displays.{given.display}.{key}" for key in keys) if given.display else ()


def _pins(given: SheetInput) -> tuple[str, ...]:
    """Pins of every connector that is wired, and of the syncs."""
    board = given.plan.dossier.board
    made = ["board.sync.h", "board.sync.v"] if board is not None else []
    for connector in given.plan.connectors:
        made.append(f"board.connectors.{connector.name}.plugs")
        wired = (c for c in ("red", "green", "blue") if getattr(connector, c) is not None)
        made.extend(f"board.connectors.{connector.name}.{channel}" for channel in wired)
    return tuple(made)


def _depth(given: SheetInput) -> tuple[str, ...]:
    """Bits of each group and channel of the rig."""
    rig = next((r for r in given.plan.rigs if r.name == given.rig.name), None)
    if rig is None:
        return ()
    named = ((group, channel) for group, channels in rig.depth.items() for channel in channels)
    return tuple(f"rigs.{rig.name}.depth.{group}.{channel}" for group, channel in named)


def _free(given: SheetInput) -> tuple[str, ...]:
    """Free blocks of the firmware state of the rig."""
    rig = next((r for r in given.plan.rigs if r.name == given.rig.name), None)
    return () if rig is None or rig.firmware is None else (f"chip.free.{rig.firmware.value}",)


def _whites(given: SheetInput) -> Drawing | None:
    """White of every channel against its window."""
    rows = [
        Row(v.subject.removeprefix("displays."), v, v.subject.rpartition(".")[2]) for v in given.verdicts("levels.white")
    ]  # fmt: skip
    bad = sum(row.verdict.state != "holds" for row in rows)
    result = (
        f"{bad} of {len(rows)} channels are not sure to stay inside."
        if bad
        else f"All {len(rows)} channels stay inside."
    )
    return span_rows(
        "white", "White against its window", "Level at the connector into the display's load.", result, rows
    )


def _syncs(given: SheetInput, which: str, words: str) -> Drawing | None:
    """One sync level at every display against its threshold."""
    rows = [
        Row(v.subject.removeprefix("displays.").removesuffix(".sync"), v) for v in given.verdicts(f"levels.sync-{which}")
    ]  # fmt: skip
    bad = sum(row.verdict.state != "holds" for row in rows)
    result = f"Not sure at {bad} of {len(rows)} displays." if bad else "Every display reads it rightly."
    return span_rows(f"sync-{which}", f"Shared sync, {which}", words, result, rows)


def _edges(given: SheetInput) -> Drawing | None:
    """Time that a sync edge spends between both levels at every display."""
    rows = [
        Row(v.subject.removeprefix("displays.").removesuffix(".sync"), v) for v in given.verdicts("levels.sync-edge")
    ]  # fmt: skip
    bad = sum(row.verdict.state != "holds" for row in rows)
    result = f"Not sure at {bad} of {len(rows)} displays." if bad else "Every edge passes in one go."
    says = "Time between 0.8 and 2.0 V; an edge that stays longer or turns back may count twice."
    return span_rows("sync-edge", "Shared sync, edges", says, result, rows)


def _clips(given: SheetInput) -> Drawing | None:
    """White at each input against the largest full scale."""
    rows = [Row(v.subject.removeprefix("displays."), v) for v in given.verdicts("picture.clipping")]
    bad = sum(row.verdict.state != "holds" for row in rows)
    result = f"Not sure at {bad} of {len(rows)} displays." if bad else "No display clips white."
    says = "White of the brightest channel against the largest full scale that an input can be set to."
    return span_rows("clipping", "White at each input", says, result, rows)


def _boots(given: SheetInput) -> Drawing | None:
    """Levels of the pins that the chip reads while it starts."""
    rows = [
        Row(v.subject.removeprefix("board.connectors."), v)
        for v in given.verdicts("waking.boot-pin")
        if v.found is not None and v.found.unit == "V"
    ]
    bad = sum(row.verdict.state != "holds" for row in rows)
    result = f"{bad} of {len(rows)} may start the board wrongly." if bad else "All are read as the chip wants them."
    says = "Level that the chip finds while it starts, with those displays plugged in that spoil it most."
    return span_rows("boot-pins", "Pins read at the start", says, result, rows)


def _inlets(given: SheetInput) -> Drawing | None:
    """What the board draws from its inlet, running and at the start."""
    names = {"levels.inlet": "running, all white", "waking.brown-out": "at the start"}
    rows = [Row(names[v.code], v) for v in given.verdicts(*names)]
    bad = sum(row.verdict.state != "holds" for row in rows)
    result = "It may ask for more than the inlet gives." if bad else "The inlet gives enough, both times."
    return span_rows("inlet", "Current from the inlet", "What the whole board draws, worst case.", result, rows)


SHEETS: tuple[Sheet, ...] = (
    Sheet(
        "timing", "Timing", "Which raster do the displays see, and where in it does the picture lie?",
        lambda g: (raster_map(g.rig),),
        _rig("raster.parent", "raster.divide", "raster.repeat", "raster.picture", "raster.formula"),
    ),
    Sheet(
        "clock", "Clock", "Which pixel clock can the chip really make, and are its edges steady?",
        lambda g: (rate_line(g.rig, g.plan), edge_lattice(g.rig, g.plan)),
        _both(_plain("chip.like", "chip.system"), _rig("clock")),
    ),
    Sheet(
        "screens", "Screens", "Do all the displays accept this raster, and how sure is that?",
        lambda g: (display_agreement(g.rig, g.plan), panel_scaling(g.rig, g.plan)),
        _display("like", "group", "same_as", "edid", "line_rate", "frame_rate", "panel", "proved", "promised"), by_display=True,
    ),
    Sheet(
        "lanes", "Lanes", "Which bit of the word reaches which pin and which connector?",
        lambda g: (lane_tangle(g.rig, g.plan),),
        _both(_rig("stream"), _depth, _pins, _rig("lanes"), _plain("board.around")),
    ),
    Sheet(
        "memory", "Memory", "Does a frame fit into the free RAM, and how long may drawing take?",
        lambda g: (block_map(g.rig), transfer_strip(g.rig)),
        _both(_rig("firmware", "redraw", "frames"), _plain("chip.keep_back"), _free),
    ),
    Sheet(
        "levels", "Levels", "Is white white and sync readable at every display, and does no pin carry too much?",
        lambda g: (
            resistor_network(g.rig, g.plan, g.display), _whites(g),
            _syncs(g, "high", "Level of a high sync at each display; at least this much is read as high."),
            _syncs(g, "low", "Level of a low sync at each display; at most this much is read as low."), _edges(g),
        ),
        _both(
            _plain("chip.drive", "chip.pin_high", "chip.pin_low", "chip.rail", "levels.colour.style", "levels.colour.part",
                   "levels.sync.style", "levels.sync.buffer", "levels.sync.outputs", "levels.sync.branch"),
            _display("colour_load", "sync_load", "sync_pull", "cable"),
        ), by_display=True, requests=(PASSINGS,),
    ),
    Sheet(
        "waking", "Waking", "Does the board start with displays attached, and do they push current into it?",
        lambda g: (_boots(g), _inlets(g)),
        _plain("supply.inlet", "supply.inlet_voltage", "supply.chip_current", "supply.regulator_rise", "supply.air"),
    ),
    Sheet(
        "picture", "Picture", "What will each display show: does it lock, does it clip, what does the cable leave of fine detail?",
        lambda g: (lock_rows(g.rig), _clips(g)),
        _display("cable", "colour_load", "panel"), by_display=True, requests=(SHOWN,),
    ),
)  # fmt: skip
"""Sheets in the order of the survey; page and report show them all, and ask nothing else of a stage."""
