"""What a search for parts finds."""

from __future__ import annotations

from typing import Literal

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.stages.levels.model import OutputNetwork
from scanloom.stages.levels.search.request import PartsRequest

How = Literal["single", "parallel", "series"]


@record
class Leg:
    """Part or parts between one pin and the connector.

    Parameters
    ----------
    ohm : float
        Value of each part. [ohm]
    how : {"single", "parallel", "series"}
        One part, or two equal ones side by side or one after the other.
    """

    ohm: float
    how: How

    @property
    def whole_ohm(self) -> float:
        """Resistance of the leg [ohm]."""
        return self.ohm / 2.0 if self.how == "parallel" else self.ohm * 2.0 if self.how == "series" else self.ohm

    @property
    def parts(self) -> int:
        """Parts in it [1]."""
        return 1 if self.how == "single" else 2

    def __str__(self) -> str:
        """As a parts list would write it."""
        ohm = f"{self.ohm:g}"
        return ohm if self.how == "single" else f"2 x {ohm} in {self.how}"


@record
class FoundNetwork:
    """One network that meets a request, with what it does.

    Parameters
    ----------
    legs : tuple of Leg
        Most significant first.
    shunt_ohm : float or None
        Part from the connector to ground. [ohm]
    error_v : float
        Largest distance of a typical level from its target. [V]
    worst_error_v : float
        The same with every element where it moves that level furthest. [V]
    full_scale_v : float
        Typical level of white. [V]
    inl_lsb : float
        Largest distance from the line through both ends. [LSB]
    dnl_min_lsb : float
        Smallest step, less one even step. [LSB]
    dnl_max_lsb : float
        Largest step, less one even step. [LSB]
    monotonic_at_percent : float
        Largest tolerance of the parts at which every step is sure to rise, pins and load typical. [%]
    source_ohm : float
        Resistance the connector shows to the cable at white. [ohm]
    pin_current_a : float
        Most typical current of any pin, out of it or into it. [A]
    pin_worst_a : float
        The same with every element at its worst. [A]
    white_current_a : float
        Typical current from the rail at white. [A]
    distinct : int
        Distinct values, shunt included. [1]
    parts : int
        Parts, shunt included. [1]
    good_share : float or None
        Share of made-up boards with white in the window and every step rising; None unless asked for. [1]
    why : str
        Why it has its rank.
    """

    legs: tuple[Leg, ...]
    shunt_ohm: float | None
    error_v: float
    worst_error_v: float
    full_scale_v: float
    inl_lsb: float
    dnl_min_lsb: float
    dnl_max_lsb: float
    monotonic_at_percent: float
    source_ohm: float
    pin_current_a: float
    pin_worst_a: float
    white_current_a: float
    distinct: int
    parts: int
    good_share: float | None = None
    why: str = ""

    def network(self, request: PartsRequest) -> OutputNetwork:
        """The network as the other sums of this stage take it.

        Parameters
        ----------
        request : PartsRequest
            What it was found for: pins, rail, load, tolerance.

        Returns
        -------
        OutputNetwork
            Parts with their tolerance. [ohm, V]
        """

        def part(ohm: float) -> Span:
            return Span.exact(ohm).relative(request.tolerance_percent)

        return OutputNetwork(
            "weighted",
            tuple([part(leg.whole_ohm) for leg in self.legs]),
            request.pin_high_ohm,
            request.low_pin_ohm,
            request.rail_v,
            request.load_ohm,
            None if self.shunt_ohm is None else part(self.shunt_ohm),
        )


@record
class Trade:
    """What a changed request would bring.

    Parameters
    ----------
    change : str
        The change, in words.
    option : str
        The option of the command that asks for it.
    best : FoundNetwork
        Best network of the changed request.
    gain_v : float
        How much smaller its error is; negative where it is larger. [V]
    """

    change: str
    option: str
    best: FoundNetwork
    gain_v: float


@record
class PartsProposal:
    """Ranked answers to a request.

    Parameters
    ----------
    request : PartsRequest
        What was asked.
    answers : tuple of FoundNetwork
        Best first.
    proved : bool
        Whether no network of the request is better than the first, by the objective asked for.
    bound_v : float
        Error that no network of the request undercuts: typical, or at the worst corner where that is the objective. [V]
    most_share : float or None
        Share of good boards that no network of the request exceeds; None but for objective yield. [1]
    searched : int
        Nodes that the search looked at. [1]
    networks : float
        Networks that the request allows, if all were tried. [1]
    trades : tuple of Trade
        What a changed request would bring, the largest gain first.
    """

    request: PartsRequest
    answers: tuple[FoundNetwork, ...]
    proved: bool
    bound_v: float
    most_share: float | None
    searched: int
    networks: float
    trades: tuple[Trade, ...] = ()


@record
class NoNetwork:
    """No network meets the request.

    Parameters
    ----------
    request : PartsRequest
        What was asked.
    says : str
        What was asked, and the nearest request that has an answer.
    option : str
        Option of the command that makes it so; empty when none was found.
    nearest : PartsRequest or None
        That request.
    proved : bool
        Whether every network was ruled out; else the search gave up first.
    """

    request: PartsRequest
    says: str
    option: str
    nearest: PartsRequest | None
    proved: bool
