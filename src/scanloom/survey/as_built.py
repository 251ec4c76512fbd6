"""The forward model fed as the board's files have it: who arrives at each connector pin, through which parts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from scanloom.basis.verdict import Verdict
from scanloom.dossier.model import CHANNELS
from scanloom.dossier.plan import Plan
from scanloom.dossier.reading import Reading
from scanloom.stages.lanes import Lane
from scanloom.stages.lanes.model import Carries
from scanloom.stages.memory import SyncBits
from scanloom.stages.picture.convert import picture_numbers
from scanloom.stages.picture.effects import Effects
from scanloom.stages.picture.frame import ChannelKey
from scanloom.stages.picture.look import distance
from scanloom.stages.picture.model import ChannelPath, DisplayPath, FrontEnd, ShownPicture, usual_front_end
from scanloom.stages.picture.paths import display_paths, source_clocks
from scanloom.stages.picture.patterns import named_card, pattern
from scanloom.stages.picture.show import show_rig
from scanloom.survey.as_built_colours import built_colour, white_area
from scanloom.survey.as_built_lock import built_lock
from scanloom.survey.as_built_model import BuiltDisplay, BuiltLock, BuiltShown, Finding
from scanloom.survey.drawn import NothingToDraw, frame_on_pins, needed_results, picture_size
from scanloom.survey.review import concerned
from scanloom.survey.run import RigSurvey, survey_plan

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanloom.stages.board import BoardReview
    from scanloom.stages.board.built import BuiltChannel
    from scanloom.stages.levels.model import OutputNetwork


def draw_as_built(
    plan: Plan,
    review: BoardReview,
    verdicts: Iterable[Verdict],
    effects: Effects | None = None,
    front: FrontEnd | None = None,
) -> BuiltShown:
    """What each display that a finding concerns would show, beside what it should show.

    Parameters
    ----------
    plan : Plan
        The dossier made ready.
    review : BoardReview
        The board as the files have it.
    verdicts : iterable of Verdict
        Verdicts of the review.
    effects : Effects or None
        What counts; None for the usual.
    front : FrontEnd or None
        Knobs that no dossier states; None for the usual.

    Returns
    -------
    BuiltShown
        The pictures; a display is drawn in the first rig that shows a difference, else in the first that can be drawn.
    """
    asked = concerned(verdicts)
    displays = {c.plugs.value: c.name for c in plan.connectors if c.plugs is not None and c.name in asked}
    refused = {
        name: f"{name}: the dossier plugs no display in here." for name in asked if name not in displays.values()
    }
    if not displays:
        return BuiltShown((), refused, asked)
    kept: dict[str, BuiltDisplay] = {}
    reasons: dict[str, str] = {}
    survey = survey_plan(plan)
    for rig in survey.rigs:
        open_ones = [name for name in displays if name not in kept or not kept[name].differs]
        if not open_ones:
            break
        try:
            pair = _Pair(plan, rig, review, effects or Effects(), front or usual_front_end())
            for name in open_ones:
                unknown = pair.unknown.get(name)
                if unknown and any(
                    f".{colour}" in subject for colour in unknown for _, subject in asked[displays[name]]
                ):
                    reasons[name] = f"the value of a part of {', '.join(unknown)} is not known, so {name} is not drawn."
                    continue
                made = pair.display(name, displays[name], asked[displays[name]])
                if name not in kept or made.differs:
                    kept[name] = made
        except ValueError as error:  # NothingToDraw, or a picture that a plan at fault cannot send
            reasons.update(dict.fromkeys(open_ones, f"{error}."))
    for name, connector in displays.items():
        if name not in kept:
            refused[connector] = reasons.get(name, "the dossier states no rig, so no picture is sent.")
    return BuiltShown(tuple(kept[name] for name in displays if name in kept), refused, asked)


class _Pair:
    """One rig drawn twice from the same words: as meant, and as built."""

    def __init__(self, plan: Plan, rig: RigSurvey, review: BoardReview, effects: Effects, front: FrontEnd) -> None:
        lanes, _ = needed_results(rig)
        assert rig.clock is not None and rig.levels is not None and rig.picture is not None
        self.plan, self.rig, self.review, self.effects, self.front = plan, rig, review, effects, front
        self.made = rig.clock.value.made
        self.syncs = SyncBits(lanes.mask("h"), lanes.mask("v"), self.made.h.polarity, self.made.v.polarity)
        stated = next(one for one in plan.rigs if one.name == rig.name)
        self.paths = [known.value for known in display_paths(Reading(plan, stated), rig.levels)]
        width, rows, _ = picture_size(rig)
        named = {path.name: named_card(path.name, width, rows) for path in self.paths}
        try:
            self.words = self._frame(named)
        except ValueError:  # names take more colours than a colour table may hold
            self.words = self._frame(dict.fromkeys(named, pattern("card", width, rows)))
        self.unknown: dict[str, tuple[str, ...]] = {}
        arriving = list(lanes.lanes)
        self.built_paths = [self._fed(path, arriving) for path in self.paths]
        clocks = source_clocks(rig.clock.value)
        self.meant = show_rig(self.paths, self.words, lanes.lanes, self.made, effects, front, clocks)
        self.built = show_rig(self.built_paths, self.words, arriving, self.made, effects, front, clocks)

    def _frame(self, cards: Mapping[str, NDArray[np.float64]]) -> NDArray[np.uint32]:
        """Words of a frame with a card for each display."""
        lanes, memory = needed_results(self.rig)
        numbers: dict[ChannelKey, NDArray[np.uint16]] = {}
        for path in self.paths:
            numbers.update(picture_numbers(cards[path.name], [path], lanes.lanes))
        if not numbers:
            raise NothingToDraw(f"rig {self.rig.name}: no lane carries a colour whose levels are known")
        return frame_on_pins(numbers, lanes, memory, self.syncs)

    def _fed(self, path: DisplayPath, arriving: list[Lane]) -> DisplayPath:
        """A display with the colours that arrive; puts the lanes that they come by in place of the plan's."""
        names = {c.name for c in self.plan.connectors if c.plugs is not None and c.plugs.value == path.name}
        own = {one.channel: one for one in path.channels}
        traced = {one.channel: one for one in self.review.channels if one.connector in names}
        lanes, _ = needed_results(self.rig)
        by_pin = {pin: lane for lane in lanes.lanes for pin in lane.pins}
        made: list[ChannelPath] = []
        unknown: list[str] = []
        mine = [lane for lane in arriving if lane.display == path.name]
        for lane in mine:  # one lane may feed several colours: each gets its own, so that one can be fed otherwise
            arriving.remove(lane)
        for colour in CHANNELS:
            meant, found = own.get(colour), traced.get(colour)
            if found is None:
                if meant is not None:
                    made.append(meant)
                    arriving.extend(_carried(mine, colour))
                continue
            if not found.fed_by or (meant is None and not any(pin in by_pin for pin in found.fed_by)):
                continue
            network = _network(meant, found)
            if network is None:
                unknown.append(colour)
                if meant is not None:
                    made.append(meant)
                    arriving.extend(_carried(mine, colour))
                continue
            made.append(ChannelPath(path.name, colour, network))
            for place, pin in enumerate(reversed(found.fed_by)):
                if pin in by_pin:
                    arriving.append(replace(by_pin[pin], carries=colour, display=path.name, level_bit=place))
        if unknown:
            self.unknown[path.name] = tuple(unknown)
        return replace(path, channels=tuple(made))

    def display(self, name: str, connector: str, findings: tuple[Finding, ...]) -> BuiltDisplay:
        """One display, as meant and as built."""
        at = next(place for place, path in enumerate(self.paths) if path.name == name)
        outlook = next(one for one in self.rig.picture.displays if one.display == name)  # type: ignore[union-attr]
        lock = self._lock(connector, outlook.locks, outlook.why_not)
        meant = _lit(self.meant[at], outlook.locks)
        built = _lit(self.built[at], lock.locks)
        white = white_area(self.meant[at], self.made)
        colours = tuple(
            built_colour(
                colour, at, self.meant, self.built, self.paths, self.built_paths, self.made, self.effects, self.front
            )
            for colour in CHANNELS
            if any(one.channel == colour for path in (self.paths[at], self.built_paths[at]) for one in path.channels)
        )
        return BuiltDisplay(
            name, connector, self.rig.name, findings, meant, built, distance(built, meant), colours,
            _mean(self.meant[at], white), _mean(self.built[at], white), lock,
        )  # fmt: skip

    def _lock(self, connector: str, locks: bool | None, why_not: str) -> BuiltLock:
        """The syncs as they arrive; the plan's own outlook where they arrive as meant."""
        board = self.plan.dossier.board
        sync = board.sync if board is not None else None
        own = [one for one in self.review.syncs if one.connector == connector]
        lost = [one.axis.upper() for one in own if not one.traced]
        if lost:
            why = f"no file shows what drives its {' and '.join(lost)} sync"
            return BuiltLock(locks if locks is False else None, False, (), None, why)
        found = {one.axis: one for one in own}
        if sync is None or sync.h is None or sync.v is None or len(found) < 2:
            return BuiltLock(locks, False, (), None, why_not, as_meant=True)
        pins = (sync.h.value, sync.v.value)
        fed = (found["h"].fed_by, found["v"].fed_by)
        if fed == ((pins[0],), (pins[1],)):
            return BuiltLock(locks, False, (), None, why_not, as_meant=True)
        assert self.rig.clock is not None
        lanes, _ = needed_results(self.rig)
        hardware = lanes.stream.value.sync == "hardware"
        display = next(one for one in self.plan.connectors if one.name == connector).plugs
        assert display is not None
        takes = self.plan.displays[display.value].line_rate
        accepted = None if not takes else takes[0].value if isinstance(takes, tuple) else takes.value
        return built_lock(
            pins, fed, None if hardware else self.words, lanes.lanes, self.rig.clock.value, accepted
        )  # fmt: skip


def _carried(lanes: Sequence[Lane], colour: Carries) -> list[Lane]:
    """Lanes of one colour; a lane of white stands for each of them."""
    return [replace(lane, carries=colour) for lane in lanes if lane.carries in (colour, "white")]


def _network(meant: ChannelPath | None, found: BuiltChannel) -> OutputNetwork | None:
    """The rig's own network with the parts as built, so that what both share, such as a pin's load, stays."""
    made = found.network
    if made is None or meant is None:
        return made
    own = meant.network
    if made.style != own.style or made.bits != own.bits:
        return made
    return replace(
        own,
        part_ohm=made.part_ohm,
        shunt_ohm=made.shunt_ohm,
        rung_ohm=made.rung_ohm,
        terminator_ohm=made.terminator_ohm,
    )


def _lit(shown: ShownPicture, locks: bool | None) -> NDArray[np.uint8]:
    """The picture; black where the display does not lock."""
    return shown.native if locks is not False else np.zeros_like(shown.native)


def _mean(shown: ShownPicture, area: NDArray[np.bool_]) -> tuple[float, ...]:
    """Mean colour of an area."""
    return tuple(float(x) for x in shown.native[area].mean(axis=0)) if area.any() else (0.0, 0.0, 0.0)
