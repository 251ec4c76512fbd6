"""Clock chains as data: a reference and the steps that turn it into a pixel rate."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

Edges = Literal["whole", "accumulator", "pattern", "sigma-delta"]
_Count = Annotated[int, Field(strict=True, ge=1)]
_Text = Annotated[str, Field(min_length=1)]
_Rate = Annotated[Decimal, Field(gt=0)]


class ClockStep(BaseModel):
    """One multiplier or divider of a chain.

    Its values are n / per for n = first, first + step, ... last; those of a pattern divider are N + b/a for
    N = first ... last, a = 1 ... over and b = 0 ... a - 1.

    Parameters
    ----------
    name : str
        What the chip's manual calls it, unlike that of any other step of the chain.
    op : str
        `multiply` or `divide`.
    first : int
        Smallest n. [1]
    last : int
        Largest n. [1]
    step : int
        From one n to the next. [1]
    per : int
        The value is n over this. [1]
    over : int
        Largest denominator of a pattern divider. [1]
    most : str or None
        An earlier step whose value this one may not exceed.
    low_hz : Decimal or None
        Lowest rate allowed after the step. [Hz]
    high_hz : Decimal or None
        Highest rate allowed after the step. [Hz]
    rated : bool
        Whether the rate after the step is the system clock; the two limits above are then its rated range.
    edges : str
        Where its output edges fall. `whole`: no divider steps. `accumulator`: on the last source clock before the
        ideal place. `pattern`: z times (x times N, then N + 1), then y times N. `sigma-delta`: a multiplier whose word
        is dithered and filtered; no divider steps, and noise without a published figure.
    edges_published : bool
        Whether the order of its edges is published for this very chip.
    register_first : int or None
        What the register holds for the first value, rising by one from value to value; absent, it holds the value. [1]

    Raises
    ------
    ValueError
        If the numbers do not fit one another or the kind of edges.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: _Text
    op: Literal["multiply", "divide"]
    first: _Count
    last: _Count
    step: _Count = 1
    per: _Count = 1
    over: _Count = 1
    most: str | None = None
    low_hz: _Rate | None = None
    high_hz: _Rate | None = None
    rated: bool = False
    edges: Edges = "whole"
    edges_published: bool = True
    register_first: Annotated[int, Field(strict=True, ge=0)] | None = None

    @model_validator(mode="after")
    def _numbers_fit(self) -> Self:
        """Refuse a progression or a window that holds nothing."""
        if self.last < self.first or (self.last - self.first) % self.step:
            raise ValueError(
                f"step {self.name!r}: last {self.last} is not reached from first {self.first} by steps of {self.step}; "
                "give a last that is"
            )
        if self.low_hz is not None and self.high_hz is not None and self.low_hz > self.high_hz:
            raise ValueError(
                f"step {self.name!r}: low_hz {self.low_hz} lies above high_hz {self.high_hz}; give low, then high"
            )
        return self

    @model_validator(mode="after")
    def _edges_fit(self) -> Self:
        """Refuse a kind of edges that such a step cannot have."""
        allowed = {
            "whole": (self.per == 1 and self.over == 1, "per = 1 and no `over`"),
            "accumulator": (
                self.op == "divide" and self.per > 1 and self.step == 1 and self.over == 1,
                "a divide with per above 1, step = 1 and no `over`",
            ),
            "pattern": (
                self.op == "divide"
                and self.per == 1
                and self.step == 1
                and self.over > 1
                and self.register_first is None,
                "a divide with per = 1, step = 1, `over` above 1 and no register_first",
            ),
            "sigma-delta": (
                self.op == "multiply" and self.per > 1 and self.over == 1,
                "a multiply with per above 1 and no `over`",
            ),
        }
        fits, needs = allowed[self.edges]
        if not fits:
            raise ValueError(
                f"step {self.name!r}: {self.op} with per {self.per}, step {self.step}, over {self.over} has not "
                f"{self.edges!r} edges; that takes {needs}"
            )
        return self

    @property
    def splits_clocks(self) -> bool:
        """Whether its edges may fall beside their ideal place."""
        return self.edges in ("accumulator", "pattern")


class ClockChain(BaseModel):
    """A reference, the steps after it, and the streams that run on the outcome.

    Parameters
    ----------
    name : str
        The trade's word for the chain.
    reference_hz : Decimal
        Rate before the first step. [Hz]
    source : str
        Key of the source of the limits.
    place : str
        Page, table or clause in that source.
    streams : tuple of str
        Names of the streams the chain serves; empty: all of the chip.
    fixed : int
        Whole divide after the last step that no register moves. [1]
    steps : tuple of ClockStep
        Multipliers and dividers, in the order the clock runs through them.

    Raises
    ------
    ValueError
        If the steps do not fit one another.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: _Text
    reference_hz: _Rate
    source: _Text
    place: _Text
    streams: tuple[str, ...] = ()
    fixed: _Count = 1
    steps: Annotated[tuple[ClockStep, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def _names_fit(self) -> Self:
        """Refuse a name used twice, a `most` that names no earlier step, two system clocks."""
        earlier: set[str] = set()
        for step in self.steps:
            if step.name in earlier:
                raise ValueError(f"chain {self.name!r}: two steps are named {step.name!r}; give each its own name")
            if step.most is not None and step.most not in earlier:
                raise ValueError(
                    f"chain {self.name!r}, step {step.name!r}: most = {step.most!r} names no earlier step; "
                    f"give one of {sorted(earlier)} or leave it out"
                )
            earlier.add(step.name)
        rated = [step.name for step in self.steps if step.rated]
        if len(rated) > 1:
            raise ValueError(f"chain {self.name!r}: steps {rated} are all rated; one at most gives the system clock")
        return self

    @model_validator(mode="after")
    def _edges_survive(self) -> Self:
        """Refuse steps after a splitting divider whose effect on the edges nobody has worked out."""
        at = self.splitting_step
        if at is None:
            return self
        for step in self.steps[at + 1 :]:
            if step.op != "divide" or step.edges != "whole":
                raise ValueError(
                    f"chain {self.name!r}: step {step.name!r} follows the {self.steps[at].edges} divider "
                    f"{self.steps[at].name!r}; only whole dividers may"
                )
        return self

    @property
    def reference(self) -> Fraction:
        """Reference rate as an exact fraction."""
        return Fraction(self.reference_hz)

    @property
    def splitting_step(self) -> int | None:
        """Index of the divider whose edges may fall beside their ideal place."""
        return next((i for i, step in enumerate(self.steps) if step.splits_clocks), None)
