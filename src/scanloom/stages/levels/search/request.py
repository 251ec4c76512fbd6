"""What a search for parts is asked."""

from __future__ import annotations

import math
from typing import Literal

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.handbook.limits import limit
from scanloom.handbook.series import series_names, values

Objective = Literal["nominal", "worst", "yield"]
OBJECTIVES: tuple[Objective, ...] = ("nominal", "worst", "yield")
MOST_BITS = 6
"""Deepest channel that is searched. [1]"""
MOST_ANSWERS = 64
"""Most answers that may be asked for. [1]"""

NO_PIN = Span.exact(0.0)
USUAL_RAIL = Span.exact(3.3)
_LOAD = limit("termination").typical
assert _LOAD is not None
USUAL_LOAD = Span.exact(_LOAD)
WHITE = limit("white").span()
"""White as the handbook has it. [V]"""


@record
class PartsRequest:
    """One colour channel whose parts are wanted: legs of a weighted network, each to the connector.

    Parameters
    ----------
    bits : int
        Colour bits. [1]
    series : str
        Series of IEC 60063 that the values come from; not used with `stock_ohm`.
    stock_ohm : tuple of float, optional
        Values at hand, instead of a series. [ohm]
    least_part_ohm : float
        Smallest value for a leg. [ohm]
    most_part_ohm : float, optional
        Largest value; without it 10 kohm, 22 kohm for 6 bits. [ohm]
    pairs : bool
        Whether a leg may be two equal parts, in parallel or in series.
    pin_high_ohm : Span
        Resistance of a pin driven high; each pin may lie anywhere in it. [ohm]
    pin_low_ohm : Span, optional
        Resistance of a pin driven low; without it as when high. [ohm]
    rail_v : Span
        Supply of the pins. [V]
    load_ohm : Span
        Termination inside the display. [ohm]
    white_v : float
        Level of white that the error is measured from. [V]
    white_low_v : float
        Least typical white that may be proposed; for objective yield, of every good board. [V]
    white_high_v : float
        Most typical white; for objective yield, of every good board. [V]
    tolerance_percent : float
        Tolerance of the parts. [%]
    guaranteed : bool
        Whether every step must rise with every copy that tolerance, pins and load allow.
    match_percent : float, optional
        How far the source resistance at white may lie from the line's; allows a shunt. Without it there is none. [%]
    line_ohm : float
        Characteristic resistance of the cable. [ohm]
    shunt_low_ohm : float
        Smallest value for the shunt. [ohm]
    distinct_most : int, optional
        Most distinct values, shunt included. [1]
    parts_most : int, optional
        Most parts, shunt included. [1]
    pin_most_a : float, optional
        Most current of a pin, every element at its worst. [A]
    objective : {"nominal", "worst", "yield"}
        What is made best: typical error, error at the worst corner, or the share of good boards.
    answers : int
        How many ranked answers are wanted. [1]
    boards : int
        Boards made up for objective yield. [1]
    seed : int
        Which boards these are. [1]

    Raises
    ------
    ValueError
        If some of it cannot be, or two demands contradict each other.
    """

    bits: int
    series: str = "E24"
    stock_ohm: tuple[float, ...] | None = None
    least_part_ohm: float = 100.0
    most_part_ohm: float | None = None
    pairs: bool = True
    pin_high_ohm: Span = NO_PIN
    pin_low_ohm: Span | None = None
    rail_v: Span = USUAL_RAIL
    load_ohm: Span = USUAL_LOAD
    white_v: float = WHITE.typical
    white_low_v: float = WHITE.low
    white_high_v: float = WHITE.high
    tolerance_percent: float = 1.0
    guaranteed: bool = False
    match_percent: float | None = None
    line_ohm: float = 75.0
    shunt_low_ohm: float = 10.0
    distinct_most: int | None = None
    parts_most: int | None = None
    pin_most_a: float | None = None
    objective: Objective = "nominal"
    answers: int = 3
    boards: int = 2000
    seed: int = 1

    def __post_init__(self) -> None:
        """Refuse what cannot be searched, each with the nearest request that can."""
        if not 1 <= self.bits <= MOST_BITS:
            nearest = min(max(self.bits, 1), MOST_BITS)
            raise ValueError(f"{self.bits} bits; allowed are 1 to {MOST_BITS}; the nearest is {nearest} bits")
        if self.stock_ohm is None:
            if self.series not in series_names():
                raise ValueError(f"series {self.series!r}; allowed are {', '.join(series_names())}; choose one")
        elif not self.stock_ohm:
            raise ValueError("the stock list is empty; allowed is one value or more; list them, or name a series")
        self._refuse_amounts()
        self._refuse_counts()
        if not self.leg_values_ohm:
            raise ValueError(self._no_value())

    def _refuse_amounts(self) -> None:
        """Refuse amounts with which nothing can be computed."""
        above_zero = [("white_v", self.white_v, "V"), ("least_part_ohm", self.least_part_ohm, "ohm")]
        above_zero += [("line_ohm", self.line_ohm, "ohm"), ("shunt_low_ohm", self.shunt_low_ohm, "ohm")]
        above_zero += [("most_part_ohm", self.most_ohm, "ohm"), ("rail_v", self.rail_v.low, "V")]
        above_zero += [("load_ohm", self.load_ohm.low, "ohm")]
        above_zero += [("stock_ohm", ohm, "ohm") for ohm in self.stock_ohm or ()]
        if self.match_percent is not None:
            above_zero.append(("match_percent", self.match_percent, "%"))
        if self.pin_most_a is not None:
            above_zero.append(("pin_most_a", self.pin_most_a, "A"))
        for name, amount, unit in above_zero:
            if not 0.0 < amount < math.inf:
                raise ValueError(f"{name}: {amount:g} {unit}; allowed is above zero; give the real one")
        for name, span in (("pin_high_ohm", self.pin_high_ohm), ("pin_low_ohm", self.low_pin_ohm)):
            if span.low < 0.0:
                raise ValueError(f"{name}: as low as {span.low:g} ohm; allowed is zero or more; give its real bounds")
        if not 0.0 <= self.tolerance_percent < 100.0:
            raise ValueError(
                f"tolerance {self.tolerance_percent:g} %; allowed is 0 to below 100; give the parts' grade"
            )
        if not self.least_part_ohm <= self.most_ohm:
            raise ValueError(
                f"values from {self.least_part_ohm:g} to {self.most_ohm:g} ohm; give the smaller bound first"
            )
        if not self.white_low_v <= self.white_v <= self.white_high_v:
            raise ValueError(
                f"white {self.white_v:g} V outside its window {self.white_low_v:g} to {self.white_high_v:g} V; "
                "allowed is a target inside; move one of them"
            )
        if self.white_high_v >= self.rail_v.low:
            raise ValueError(
                f"white up to {self.white_high_v:g} V from a rail of {self.rail_v.low:g} V; allowed is less than the rail; "
                "lower white or raise the rail"
            )

    def _refuse_counts(self) -> None:
        """Refuse counts that leave no network."""
        least = self.bits + (1 if self.match_percent is not None else 0)
        if self.distinct_most is not None and self.distinct_most < 1:
            raise ValueError(f"{self.distinct_most} distinct values; allowed is 1 or more; the nearest is 1")
        if self.parts_most is not None and self.parts_most < least:
            raise ValueError(
                f"{self.parts_most} parts for {self.bits} bits{' and a shunt' if least > self.bits else ''}; "
                f"each needs one; the nearest is {least} parts"
            )
        if self.objective not in OBJECTIVES:
            raise ValueError(f"objective {self.objective!r}; allowed are {', '.join(OBJECTIVES)}; choose one")
        if not 1 <= self.answers <= MOST_ANSWERS:
            nearest = min(max(self.answers, 1), MOST_ANSWERS)
            raise ValueError(f"{self.answers} answers; allowed are 1 to {MOST_ANSWERS}; the nearest is {nearest}")
        if not 1 <= self.boards <= 1_000_000:
            raise ValueError(f"{self.boards} boards; allowed are 1 to 1000000; 2000 tell a share to about 1 %")
        if self.objective == "yield" and self.match_percent is not None:
            raise ValueError(
                "objective yield together with a shunt is not built; search by worst case with the shunt, "
                "or by yield without it"
            )

    def _no_value(self) -> str:
        """Nothing listed lies in the range: says which value is nearest to it."""
        if self.stock_ohm is None:
            near = values(self.series, self.least_part_ohm / 10.0, self.most_ohm * 10.0)
            what = f"series {self.series}"
        else:
            near, what = tuple(sorted(self.stock_ohm)), "the stock list"
        best = min(near, key=lambda ohm: max(ohm / self.most_ohm, self.least_part_ohm / ohm))
        return (
            f"no value of {what} lies from {self.least_part_ohm:g} to {self.most_ohm:g} ohm; "
            f"the nearest is {best:g} ohm; widen the range to it"
        )

    @property
    def most_ohm(self) -> float:
        """Largest value for a leg [ohm]."""
        if self.most_part_ohm is not None:
            return self.most_part_ohm
        return 22_000.0 if self.bits == MOST_BITS else 10_000.0

    @property
    def low_pin_ohm(self) -> Span:
        """Resistance of a pin driven low [ohm]."""
        return self.pin_high_ohm if self.pin_low_ohm is None else self.pin_low_ohm

    @property
    def leg_values_ohm(self) -> tuple[float, ...]:
        """Values that a leg may have, in rising order [ohm]."""
        return self._between(self.least_part_ohm)

    @property
    def shunt_values_ohm(self) -> tuple[float, ...]:
        """Values that the shunt may have, in rising order; none without a demand on the match [ohm]."""
        return () if self.match_percent is None else self._between(min(self.shunt_low_ohm, self.least_part_ohm))

    def _between(self, least_part_ohm: float) -> tuple[float, ...]:
        """Values of series or stock from a bound on."""
        if self.stock_ohm is None:
            return values(self.series, least_part_ohm, self.most_ohm)
        return tuple(sorted({ohm for ohm in self.stock_ohm if least_part_ohm <= ohm <= self.most_ohm}))


def usual_window() -> tuple[float, float, float]:
    """White that displays expect.

    Returns
    -------
    tuple of float
        Least, target and most. [V]
    """
    row = limit("white")
    assert row.low is not None and row.typical is not None and row.high is not None
    return row.low, row.typical, row.high
