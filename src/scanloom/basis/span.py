"""A number known only within bounds: low, typical, high."""

from __future__ import annotations

import math
from collections.abc import Callable

from scanloom.basis.record import record


@record
class Span:
    """Bounds of a number and the value expected most often.

    The unit is that of the field that holds the span; a span itself carries none, so that sums stay plain arithmetic.

    Parameters
    ----------
    low : float
        Smallest value that may occur. [unit]
    typical : float
        Value expected most often. [unit]
    high : float
        Largest value that may occur. [unit]

    Raises
    ------
    ValueError
        If the three are not finite and in order.
    """

    low: float
    typical: float
    high: float

    def __post_init__(self) -> None:
        """Refuse bounds that are not finite or not in order."""
        if not all(math.isfinite(x) for x in (self.low, self.typical, self.high)):
            raise ValueError(f"span {self.low!r}, {self.typical!r}, {self.high!r}: not finite; give finite numbers")
        if not self.low <= self.typical <= self.high:
            raise ValueError(
                f"span {self.low!r}, {self.typical!r}, {self.high!r}: not in order; give low, typical, high from small to large"
            )

    @classmethod
    def exact(cls, value: float) -> Span:
        """Span of a number known exactly.

        Parameters
        ----------
        value : float
            The number. [unit]

        Returns
        -------
        Span
            All three bounds equal. [unit]
        """
        return cls(value, value, value)

    @classmethod
    def of(cls, low: float, high: float) -> Span:
        """Span of two bounds, typical in the middle.

        Parameters
        ----------
        low : float
            Smaller bound. [unit]
        high : float
            Larger bound. [unit]

        Returns
        -------
        Span
            The bounds with their middle. [unit]

        Raises
        ------
        ValueError
            If the bounds are out of order.
        """
        # min/max: the rounded mean of two nearly equal floats can fall an ulp outside them
        return cls(low, min(max((low + high) / 2.0, low), high), high)

    @property
    def is_exact(self) -> bool:
        """Whether the bounds coincide."""
        return self.low == self.high

    def relative(self, percent: float) -> Span:
        """Widen by a tolerance in percent of each bound.

        Parameters
        ----------
        percent : float
            Tolerance, not negative, below 100. [%]

        Returns
        -------
        Span
            Widened span, typical kept. [unit]

        Raises
        ------
        ValueError
            If the tolerance is negative or 100 and more.
        """
        if not 0.0 <= percent < 100.0:
            raise ValueError(f"tolerance {percent!r} %: allowed is 0 up to 100; give the part's tolerance in percent")
        share = percent / 100.0
        return Span(self.low * (1 - share), self.typical, self.high * (1 + share))

    def map(self, rise: Callable[[float], float]) -> Span:
        """Carry a function that never falls through the three bounds.

        Parameters
        ----------
        rise : callable
            Function of one number that does not fall between low and high.

        Returns
        -------
        Span
            The function of each bound. [unit]

        Raises
        ------
        ValueError
            If the function falls, so that the bounds come out of order.
        """
        return Span(rise(self.low), rise(self.typical), rise(self.high))
