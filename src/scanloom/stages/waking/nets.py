"""Which pins carry colour or sync, and what hangs on each while the chip starts, from what dossier and handbook state."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

from scanloom.basis.fact import Known
from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.basis.verdict import Patch
from scanloom.dossier.model import CHANNELS, ColourStage, Connector, Display
from scanloom.dossier.plan import Plan
from scanloom.dossier.reading import Reading
from scanloom.handbook.chip import Chip, Logic, Pin
from scanloom.handbook.limits import known_limit
from scanloom.stages.lanes.verdicts import free_pins
from scanloom.stages.levels.network import Missing, colour_parts, colour_stage, pin_rail, sync_input
from scanloom.stages.levels.shared import sync_part, sync_stage
from scanloom.stages.levels.wiring import known_style
from scanloom.stages.waking.chain import LadderNet, ladder_level, ladder_worst
from scanloom.stages.waking.node import NONE, PinNet, Strand, pin_level, worst_level


@record
class Net:
    """Pins that the board wires to one colour channel or one sync.

    Parameters
    ----------
    key : str
        Place in the dossier where the pins stand.
    carries : {"red", "green", "blue", "h", "v"}
        What they carry.
    stated : Known
        The pins, most significant first. [1]
    connector : Connector or None
        Connector of a colour; None for a sync.
    """

    key: str
    carries: Literal["red", "green", "blue", "h", "v"]
    stated: Known[tuple[int, ...]]
    connector: Connector | None

    @property
    def is_sync(self) -> bool:
        """Whether the pins carry a sync."""
        return self.connector is None

    def subject(self, pin: int) -> str:
        """Place of one pin, told apart from the other bits of its channel.

        Parameters
        ----------
        pin : int
            One of the pins. [1]

        Returns
        -------
        str
            The place.
        """
        return f"{self.key}.pin-{pin}" if len(self.stated.value) > 1 else self.key

    def words(self, plan: Plan) -> str:
        """What hangs on the net, for a sentence.

        Parameters
        ----------
        plan : Plan
            Names the displays.

        Returns
        -------
        str
            The colour of a display, or the sync.
        """
        if self.connector is None:
            return f"{'horizontal' if self.carries == 'h' else 'vertical'} sync"
        if self.connector.plugs is None:
            return f"{self.carries} of {self.connector.name}"
        return f"{self.carries} of {self.connector.plugs.value}"


def nets_of(plan: Plan) -> tuple[Net, ...]:
    """Every channel and sync that has pins, in the order of the board.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    tuple of Net
        Colours by connector, then the syncs; no rig changes them.
    """
    made: list[Net] = []
    for connector in plan.connectors:
        for channel in CHANNELS:
            stated = getattr(connector, channel)
            if stated is not None:
                made.append(Net(f"board.connectors.{connector.name}.{channel}", channel, stated, connector))
    board = plan.dossier.board
    sync = board.sync if board is not None else None
    if sync is not None and sync.h is not None:
        made.append(Net("board.sync.h", "h", Known((sync.h.value,), sync.h.facts), None))
    if sync is not None and sync.v is not None:
        made.append(Net("board.sync.v", "v", Known((sync.v.value,), sync.v.facts), None))
    return tuple(made)


def rows_on(chip: Chip, nets: Sequence[Net]) -> Iterator[tuple[Net, int, Pin]]:
    """What the chip's record says of every pin that is wired.

    Parameters
    ----------
    chip : Chip
        Record of the chip.
    nets : sequence of Net
        All nets of the board.

    Returns
    -------
    Iterator
        Net, pin and a row on the pin; each pin's rows in the order of the record. [1]
    """
    for net in nets:
        for pin in net.stated.value:
            for row in chip.pin_rows(pin):
                yield net, pin, row


def moved(read: Reading, chip: Chip, net: Net, pin: int) -> tuple[Patch, ...]:
    """The remedy of giving a net another pin, if a quiet one without a boot role is free.

    Parameters
    ----------
    read : Reading
        Gives the plan; nothing is noted.
    chip : Chip
        Record of the chip.
    net : Net
        The net.
    pin : int
        Pin that it should leave. [1]

    Returns
    -------
    tuple of Patch
        One, or none.
    """
    free = [p for p in free_pins(read, chip, net.is_sync) if not any(row.boot or row.role for row in chip.pin_rows(p))]
    if not free:
        return ()
    pins = [free[0] if p == pin else p for p in net.stated.value]
    value = str(pins[0]) if len(pins) == 1 else f"[{', '.join(map(str, pins))}]"
    return (Patch(net.key, value, f"move it to pin {free[0]}, which is quiet and not read while the chip starts"),)


@record
class Hanging:
    """What hangs on one pin while the chip starts.

    Parameters
    ----------
    circuit : PinNet or LadderNet
        The pin and what it leads to.
    buffered : bool
        Whether that is the input of a buffer and nothing else.
    """

    circuit: PinNet | LadderNet
    buffered: bool = False

    def level(self, *, plugged: bool) -> Span | None:
        """Level of the pin with all displays plugged in, or none.

        Parameters
        ----------
        plugged : bool
            Whether they are.

        Returns
        -------
        Span or None
            The level; None when nothing holds the pin. [V]
        """
        if isinstance(self.circuit, LadderNet):
            return ladder_level(self.circuit, plugged=plugged)
        return pin_level(self.circuit, plugged=plugged)

    def worst(self, *, highest: bool) -> Span | None:
        """Level of the pin with the displays plugged in that move it farthest.

        Parameters
        ----------
        highest : bool
            Whether farthest means up.

        Returns
        -------
        Span or None
            The level; None when nothing ever holds the pin. [V]
        """
        if isinstance(self.circuit, LadderNet):
            return ladder_worst(self.circuit, highest=highest)
        return worst_level(self.circuit, highest=highest)


def hanging(read: Reading, chip: Chip, logic: Logic, net: Net, pin: int) -> Hanging:
    """What hangs on a pin while the chip starts.

    Parameters
    ----------
    read : Reading
        Has read the pin and the chip's logic; notes the rest.
    chip : Chip
        Record of the chip.
    logic : Logic
        Its internal pull.
    net : Net
        Net of the pin.
    pin : int
        The pin. [1]

    Returns
    -------
    Hanging
        The pin and what it leads to.

    Raises
    ------
    Missing
        If a fact is not stated.
    """
    if net.connector is not None:
        return _colour(read, chip, logic, net, net.connector, pin)
    return _sync(read, chip, logic, pin)


def _colour(read: Reading, chip: Chip, logic: Logic, net: Net, connector: Connector, pin: int) -> Hanging:
    """A colour pin: its part, the other bits of the channel, the display's load."""
    name = read.maybe(connector.plugs)
    display = None if name is None else read.plan.displays.get(name)
    stage, key = colour_stage(read, display)
    if stage is None or stage.style is None:
        raise Missing("how the colour pins are wired is not stated", key, "State style and part of the colour stage.")
    style = known_style(read, stage, key)
    if style == "buffered":
        return Hanging(PinNet(_own(read, chip, logic, pin, NONE)), buffered=True)
    pins = net.stated.value
    parts = colour_parts(read, stage, style, len(pins), key)
    place = pins.index(pin)
    fed = _sharing(read, net, connector)
    if style == "amplified":  # the amplifier stands between the pin and the display
        shunts = (Strand(load_ohm=_shunt(read, stage, style, key)),)
        if fed > 1:
            raise Missing("a pin that feeds several amplifiers is not judged", f"{key}.style", "Measure the pin.")
        arms = [_own(read, chip, logic, one, part) for one, part in zip(pins, parts, strict=True)]
        return Hanging(PinNet(arms[place], (*(a for n, a in enumerate(arms) if n != place), *shunts)))
    load = _load(read, connector, display)
    if fed > 1:
        if len(pins) > 1 or style == "matched":
            raise Missing(
                "several pins that feed several inputs each are not judged",
                net.key,
                "Give each colour pins of its own.",
            )
        inputs = (Strand(parts[0], load),) * fed
        return Hanging(PinNet(_own(read, chip, logic, pin, NONE), (), inputs))
    if style == "ladder":
        rung, leg = parts
        legs = tuple(_own(read, chip, logic, one, leg) for one in pins)
        return Hanging(LadderNet(legs, place, (rung,) * (len(pins) - 1), leg, load))
    arms = [_own(read, chip, logic, one, part) for one, part in zip(pins, parts, strict=True)]
    others = tuple(arm for number, arm in enumerate(arms) if number != place)
    if style == "matched":  # it is there with the display or without
        others = (*others, Strand(load_ohm=_shunt(read, stage, style, key)))
    return Hanging(PinNet(arms[place], others, (Strand(load_ohm=load),)))


def _sharing(read: Reading, net: Net, connector: Connector) -> int:
    """Colours of the connector that hang on the very pins of a net."""
    others = [stated for stated in (connector.red, connector.green, connector.blue) if stated is not None]
    return sum(read(stated) == net.stated.value for stated in others if stated.value == net.stated.value)


def _shunt(read: Reading, stage: ColourStage, style: str, key: str) -> Span:
    """Part from where the others meet to ground."""
    if stage.shunt is None:
        raise Missing(
            f"the shunt of the {style} colour stage is not stated",
            f"{key}.shunt",
            "Read the parts list, or measure it.",
        )
    return read(stage.shunt)


def _load(read: Reading, connector: Connector, display: Display | None) -> Span:
    """Load of the display, or the usual one where none is plugged in yet."""
    if display is None:
        usual = known_limit("termination").value.typical
        assert usual is not None
        return read.assume(
            f"board.connectors.{connector.name}.plugs",
            Span.exact(usual),
            f"{usual:g} ohm",
            "any display that may be plugged in loads a colour with about that much",
        )
    if display.colour_load is None:
        raise Missing(
            f"the colour load of {display.name} is not known",
            f"displays.{display.name}.colour_load",
            f"Measure pin 1 to pin 6 of {display.name}'s plug with an ohmmeter, display off.",
        )
    return read(display.colour_load)


def _sync(read: Reading, chip: Chip, logic: Logic, pin: int) -> Hanging:
    """A sync pin: its part, and the branch and input of each display; behind a buffer nothing of that."""
    stage, style = sync_stage(read)
    if style == "buffered":
        return Hanging(PinNet(_own(read, chip, logic, pin, NONE)), buffered=True)
    part = sync_part(read, stage, style)
    branch = read.maybe(stage.branch)
    inputs = [sync_input(read, display, branch) for display in read.plan.displays.values()]
    arms = tuple(Strand(one.branch_ohm or NONE, one.load_ohm, one.pull_ohm, one.pull_v) for one in inputs)
    return Hanging(PinNet(_own(read, chip, logic, pin, part or NONE), (), arms))


def _own(read: Reading, chip: Chip, logic: Logic, pin: int, part: Span) -> Strand:
    """A pin with its internal pull, and the part that leads away from it."""
    pull = _pull(read, chip, pin)
    if pull == "up":
        return Strand(part, pull_ohm=logic.pull, pull_v=pin_rail(read))
    return Strand(part, load_ohm=logic.pull if pull == "down" else None)


def _pull(read: Reading, chip: Chip, pin: int) -> Literal["up", "down", "none"]:
    """Internal pull of a pin at reset: by its own row, else by the list of all pins."""
    for row in chip.pin_rows(pin):
        if row.pull is not None:
            return read(chip.known("pin", row)).pull or "none"
    return "none" if chip.table.pins is None else read(chip.known("pins", chip.table.pins)).pull
