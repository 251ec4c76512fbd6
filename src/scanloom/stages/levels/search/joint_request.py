"""What a joint search is asked: every channel and every sync that shares one set of values."""

from __future__ import annotations

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.circuit.line import UniformLine
from scanloom.stages.levels.search.answer import FoundNetwork, Leg
from scanloom.stages.levels.search.request import NO_PIN, USUAL_LOAD, USUAL_RAIL, WHITE, Objective, PartsRequest
from scanloom.stages.levels.sync import SharedSync

MOST_SHARED = 4
"""Largest set of values that is searched for. [1]"""


@record
class JointChannel:
    """One colour channel of a board.

    Parameters
    ----------
    name : str
        Its place, such as displays.hero-left.red.
    bits : int
        Its pins. [1]
    pin_high_ohm : Span
        Resistance of a pin driven high. [ohm]
    pin_low_ohm : Span
        Resistance of a pin driven low. [ohm]
    rail_v : Span
        Supply of the pins. [V]
    load_ohm : Span
        Termination inside the display. [ohm]
    """

    name: str
    bits: int
    pin_high_ohm: Span = NO_PIN
    pin_low_ohm: Span = NO_PIN
    rail_v: Span = USUAL_RAIL
    load_ohm: Span = USUAL_LOAD


@record
class JointSync:
    """One sync output whose branch part comes from the same set.

    Parameters
    ----------
    name : str
        Its place, such as displays.hero-left.sync.
    shared : SharedSync
        Driver and inputs; a branch that an input states is replaced by the one searched for.
    branches : int
        Branch parts to fit: one an input and wire. [1]
    wires : int
        Outputs like this one: 2 for both syncs. [1]
    pin_most_a : float or None
        Most current of the driver. [A]
    cables : tuple or None
        Line and length of each input's cable; then only branches with clean edges count, if there are any. [m]
    """

    name: str
    shared: SharedSync
    branches: int = 1
    wires: int = 2
    pin_most_a: float | None = None
    cables: tuple[tuple[UniformLine, Span], ...] | None = None


@record
class CurrentCap:
    """Most current of a bank, or of the whole chip, all channels at white and all syncs high.

    Parameters
    ----------
    name : str
        What it holds for.
    most_a : float
        The most. [A]
    members : tuple of str
        Names of the channels and syncs that count.
    own_a : float
        What is drawn already. [A]
    """

    name: str
    most_a: float
    members: tuple[str, ...]
    own_a: float = 0.0


@record
class JointRequest:
    """Channels and syncs that are to share one set of values.

    Parameters
    ----------
    channels : tuple of JointChannel
        Colour channels.
    syncs : tuple of JointSync
        Sync outputs.
    distinct_most : int
        Size of the set. [1]
    series : str
        Series of IEC 60063; not used with `stock_ohm`.
    stock_ohm : tuple of float, optional
        Values at hand. [ohm]
    least_part_ohm : float
        Smallest value. [ohm]
    most_part_ohm : float, optional
        Largest value; without it 10 kohm, 22 kohm where a channel has 6 bits. [ohm]
    pairs : bool
        Whether a leg, or a branch, may be two equal parts.
    white_v : float
        Level of white that errors are measured from. [V]
    white_low_v : float
        Least typical white. [V]
    white_high_v : float
        Most typical white. [V]
    tolerance_percent : float
        Tolerance of the parts. [%]
    guaranteed : bool
        Whether every step must rise with every copy.
    pin_most_a : float, optional
        Most current of a colour pin. [A]
    objective : {"nominal", "worst"}
        Whether errors are typical or at the worst corner.
    caps : tuple of CurrentCap
        Currents that must not be exceeded.
    line_ohm : float
        Characteristic resistance of the cable, which driver and branch of a sync come near if they can. [ohm]

    Raises
    ------
    ValueError
        If there is no channel, a cap names none, or a number cannot be.
    """

    channels: tuple[JointChannel, ...]
    syncs: tuple[JointSync, ...] = ()
    distinct_most: int = 2
    series: str = "E24"
    stock_ohm: tuple[float, ...] | None = None
    least_part_ohm: float = 100.0
    most_part_ohm: float | None = None
    pairs: bool = True
    white_v: float = WHITE.typical
    white_low_v: float = WHITE.low
    white_high_v: float = WHITE.high
    tolerance_percent: float = 1.0
    guaranteed: bool = False
    pin_most_a: float | None = None
    objective: Objective = "nominal"
    caps: tuple[CurrentCap, ...] = ()
    line_ohm: float = 75.0

    def __post_init__(self) -> None:
        """Refuse what cannot be searched."""
        if not self.channels:
            raise ValueError("joint search: no channel; allowed is one or more; give the colour channels")
        if not 1 <= self.distinct_most <= MOST_SHARED:
            nearest = min(max(self.distinct_most, 1), MOST_SHARED)
            raise ValueError(
                f"{self.distinct_most} shared values; allowed are 1 to {MOST_SHARED}; the nearest is {nearest}"
            )
        if self.objective == "yield":
            raise ValueError("objective yield for several channels; allowed are nominal and worst; choose one")
        names = {one.name for one in self.channels} | {one.name for one in self.syncs}
        if len(names) != len(self.channels) + len(self.syncs):
            raise ValueError("joint search: two channels or syncs have one name; allowed is one each; rename them")
        for cap in self.caps:
            if strange := sorted(set(cap.members) - names):
                raise ValueError(f"cap {cap.name}: {', '.join(strange)} is none of the channels or syncs; name those")
        for kind in self.kinds():
            self.single(kind)

    @property
    def most_ohm(self) -> float:
        """Largest value [ohm]."""
        if self.most_part_ohm is not None:
            return self.most_part_ohm
        return PartsRequest(max(one.bits for one in self.channels)).most_ohm

    def kinds(self) -> tuple[JointChannel, ...]:
        """Channels that differ in more than their name, the deepest first: one of each.

        Returns
        -------
        tuple of JointChannel
            One channel for each kind.
        """
        found: dict[tuple[object, ...], JointChannel] = {}
        for one in self.channels:
            found.setdefault(kind_of(one), one)
        return tuple(sorted(found.values(), key=lambda one: -one.bits))

    def single(self, channel: JointChannel) -> PartsRequest:
        """The request that one channel alone would make.

        Parameters
        ----------
        channel : JointChannel
            One of the channels.

        Returns
        -------
        PartsRequest
            With the same values and demands.
        """
        return PartsRequest(
            channel.bits,
            self.series,
            self.stock_ohm,
            self.least_part_ohm,
            self.most_ohm,
            self.pairs,
            channel.pin_high_ohm,
            channel.pin_low_ohm,
            channel.rail_v,
            channel.load_ohm,
            self.white_v,
            self.white_low_v,
            self.white_high_v,
            self.tolerance_percent,
            self.guaranteed,
            pin_most_a=self.pin_most_a,
            objective=self.objective,
            answers=1,
        )


def kind_of(channel: JointChannel) -> tuple[object, ...]:
    """All of a channel but its name.

    Parameters
    ----------
    channel : JointChannel
        The channel.

    Returns
    -------
    tuple
        Equal for channels that get equal parts.
    """
    return (channel.bits, channel.pin_high_ohm, channel.pin_low_ohm, channel.rail_v, channel.load_ohm)


@record
class JointProposal:
    """One set of values for everything.

    Parameters
    ----------
    request : JointRequest
        What was asked.
    values_ohm : tuple of float
        The values in use, in rising order. [ohm]
    channels : tuple of FoundNetwork
        Network of each channel, in the order of the request.
    branches : tuple of Leg
        Branch part of each sync, in the order of the request.
    error_v : float
        Error of the worst channel. [V]
    parts : int
        Parts in all, those of every channel and branch. [1]
    caps_a : tuple of float
        Current under each cap, every element at its worst. [A]
    sets : int
        Sets of values that were tried. [1]
    proved : bool
        Whether every set was; then no other set has a better worst channel.
    """

    request: JointRequest
    values_ohm: tuple[float, ...]
    channels: tuple[FoundNetwork, ...]
    branches: tuple[Leg, ...]
    error_v: float
    parts: int
    caps_a: tuple[float, ...]
    sets: int
    proved: bool


@record
class NoJointSet:
    """No set of values does for everything.

    Parameters
    ----------
    request : JointRequest
        What was asked.
    says : str
        Why, and the nearest request that has an answer.
    option : str
        Option of the command that makes it so; empty when none was found.
    nearest : JointRequest or None
        That request.
    """

    request: JointRequest
    says: str
    option: str
    nearest: JointRequest | None
