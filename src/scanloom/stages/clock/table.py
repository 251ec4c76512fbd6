"""All settings of a chain but for one step, each with what that step may still be: made once per chain, and kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache, partial
from math import gcd
from typing import Final

from scanloom.basis.record import record
from scanloom.handbook.clock_chain import ClockChain, ClockStep

LARGEST_TABLE: Final = 500_000
"""Settings a table may hold; beyond it a chain wants narrower windows. [1]"""

Bounds = tuple[int, int, int, int]
"""Bounds of a value as low numerator, low denominator, high numerator, high denominator."""


@record
class Way:
    """One setting of every step but the solved one; settings that come to the same are one way.

    Parameters
    ----------
    up : int
        Numerator of what the solved step's value is per rate (multiply) or per period (divide). [1]
    down : int
        Its denominator. [1]
    span : tuple of int
        What limits, windows and `most` leave of the solved step's value. [1]
    after : int
        Whole divide after the splitting divider, the fixed one included; 1 without such a divider. [1]
    system : tuple of int or None
        System clock as numerator and denominator; per unit of the value if the solved step stands before it. [Hz]
    numbers : tuple of int
        n of each step, 0 for the solved one; of settings that come to the same, the smallest. [1]
    """

    up: int
    down: int
    span: Bounds
    after: int
    system: tuple[int, int] | None
    numbers: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class RateTable:
    """The ways of a chain in rising order of rate.

    Parameters
    ----------
    chain : ClockChain
        The chain.
    solved : int
        Index of the step that is solved for: the splitting divider, else the step with most values. [1]
    system_turn : int
        How the system clock goes with the solved value: 1 with it, -1 against it, 0 not at all. [1]
    rows : tuple of (int, int, Way)
        up, down and way, in rising order of slope. [1]
    slopes : tuple of float
        Rate at a solved value of 1, for each row. [Hz]
    lowest : float
        Smallest solved value any way allows. [1]
    highest : float
        Largest solved value any way allows. [1]
    """

    chain: ClockChain
    solved: int
    system_turn: int
    rows: tuple[tuple[int, int, Way], ...]
    slopes: tuple[float, ...]
    lowest: float
    highest: float

    @property
    def step(self) -> ClockStep:
        """The step that is solved for."""
        return self.chain.steps[self.solved]

    def values(self, way: Way, value: Fraction) -> tuple[Fraction, ...]:
        """Value of every step.

        Parameters
        ----------
        way : Way
            All steps but the solved one.
        value : Fraction
            Value of the solved step. [1]

        Returns
        -------
        tuple of Fraction
            The values in the order of the chain. [1]
        """
        pairs = zip(self.chain.steps, way.numbers, strict=True)
        return tuple(value if i == self.solved else Fraction(n, step.per) for i, (step, n) in enumerate(pairs))

    def system_hz(self, way: Way, value: Fraction) -> Fraction | None:
        """System clock of a setting.

        Parameters
        ----------
        way : Way
            All steps but the solved one.
        value : Fraction
            Value of the solved step. [1]

        Returns
        -------
        Fraction or None
            The system clock; none in a chain apart from it. [Hz]
        """
        return None if way.system is None else Fraction(*way.system) * value**self.system_turn


_State = tuple[int, int, Bounds, int, tuple[int, int] | None, tuple[int, ...]]
"""A setting of the first few steps: numerator and denominator of the rate, then as in a `Way`."""
_Window = tuple[Fraction | None, Fraction | None]


@lru_cache(maxsize=128)
def rate_table(chain: ClockChain, system_hz: tuple[Fraction, Fraction] | None) -> RateTable:
    """Work out every setting of a chain but for its finest step.

    Parameters
    ----------
    chain : ClockChain
        The chain.
    system_hz : tuple of Fraction or None
        Lowest and highest system clock, in place of the rated range. [Hz]

    Returns
    -------
    RateTable
        The ways, in rising order of rate.

    Raises
    ------
    ValueError
        If the chain has more settings than a table may hold.

    References
    ----------
    [exact] Derived: whole numbers throughout; `slopes`, `lowest` and `highest` only say where to look.
    """
    solved, split, turn, system_turn = _solved_step(chain), chain.splitting_step, 0, 0
    reference = chain.reference
    states: list[_State] = [(reference.numerator, reference.denominator, (0, 1, 1, 1), 1, None, ())]
    for i, step in enumerate(chain.steps):
        if i == solved:
            states = _leave_open(chain, step, states)
            turn = 1 if step.op == "multiply" else -1
        else:
            states = _set_step(chain, step, states, whole_after=split is not None and i > split, solved=solved)
        states = _inside_window(states, _window(step, system_hz), turn)
        if step.rated:
            system_turn = turn
            states = [(num, den, span, after, (num, den), numbers) for num, den, span, after, _, numbers in states]
    ways = _as_ways(states, turn, fixed=chain.fixed, splits=split is not None)
    ordered = sorted(ways, key=partial(_slope, turn=turn))
    return RateTable(
        chain=chain,
        solved=solved,
        system_turn=system_turn,
        rows=tuple((way.up, way.down, way) for way in ordered),
        slopes=tuple(_slope(way, turn=turn) for way in ordered),
        lowest=min((way.span[0] / way.span[1] for way in ordered), default=0.0),
        highest=max((way.span[2] / way.span[3] for way in ordered), default=0.0),
    )


def _slope(way: Way, *, turn: int) -> float:
    """Rate of a way at a solved value of 1, as a float."""
    return way.down / way.up if turn > 0 else way.up / way.down


def _solved_step(chain: ClockChain) -> int:
    """The splitting divider, else the step with most values."""
    split = chain.splitting_step
    counts = [len(range(step.first, step.last + 1, step.step)) for step in chain.steps]
    return counts.index(max(counts)) if split is None else split


def _set_step(
    chain: ClockChain, step: ClockStep, states: list[_State], *, whole_after: bool, solved: int
) -> list[_State]:
    """Every state with every value of one step."""
    most = _most(chain, step)
    values = range(step.first, step.last + 1, step.step)
    per, multiply = step.per, step.op == "multiply"
    out: list[_State] = []
    for num, den, span, after, system, numbers in states:
        fits = values
        if most == solved:  # not above a value still open: the open value not below this one
            spans = [_above(span, n, per) for n in values]
        elif most is not None:
            largest = numbers[most] * per // chain.steps[most].per
            fits = values[: max(0, (largest - step.first) // step.step + 1)]
        for n in fits:
            if most == solved:
                span = spans[(n - step.first) // step.step]
            out.append(
                (
                    num * n if multiply else num * per,
                    den * per if multiply else den * n,
                    span,
                    after * n if whole_after else after,
                    system,
                    (*numbers, n),
                )
            )
        if len(out) > LARGEST_TABLE:
            raise ValueError(
                f"chain {chain.name!r}: more than {LARGEST_TABLE} settings beside step {chain.steps[solved].name!r}; "
                "allowed is up to that; narrow the steps or their windows"
            )
    return [state for state in out if _holds(state[2])] if most == solved else out


def _leave_open(chain: ClockChain, step: ClockStep, states: list[_State]) -> list[_State]:
    """Every state with the solved step's whole range."""
    if step.edges == "pattern":
        full = (step.first, 1, (step.last + 1) * step.over - 1, step.over)
    else:
        full = (step.first, step.per, step.last, step.per)
    most = _most(chain, step)
    if most is None:
        return [(num, den, full, after, system, (*n, 0)) for num, den, _, after, system, n in states]
    per = chain.steps[most].per
    return [(num, den, _below(full, n[most], per), after, system, (*n, 0)) for num, den, _, after, system, n in states]


def _most(chain: ClockChain, step: ClockStep) -> int | None:
    """Index of the step whose value this one may not exceed."""
    return next((i for i, other in enumerate(chain.steps) if other.name == step.most), None)


def _window(step: ClockStep, system_hz: tuple[Fraction, Fraction] | None) -> _Window:
    """Rates allowed after a step."""
    if step.rated and system_hz is not None:
        return system_hz
    return (
        None if step.low_hz is None else Fraction(step.low_hz),
        None if step.high_hz is None else Fraction(step.high_hz),
    )


def _inside_window(states: list[_State], window: _Window, turn: int) -> list[_State]:
    """States whose rate lies in the window, or can by choice of the solved value; the others go."""
    low, high = window
    if low is not None:
        a, b = low.numerator, low.denominator
        if turn == 0:
            states = [state for state in states if state[0] * b >= state[1] * a]
        else:
            cut = _above if turn > 0 else _below
            states = [_cut(state, cut, state[1] * a, state[0] * b, turn) for state in states]
    if high is not None:
        a, b = high.numerator, high.denominator
        if turn == 0:
            states = [state for state in states if state[0] * b <= state[1] * a]
        else:
            cut = _below if turn > 0 else _above
            states = [_cut(state, cut, state[1] * a, state[0] * b, turn) for state in states]
    return states if turn == 0 else [state for state in states if _holds(state[2])]


def _cut(state: _State, cut: Callable[[Bounds, int, int], Bounds], num: int, den: int, turn: int) -> _State:
    """A state with its span cut where the value is num / den, or its reciprocal if the rate falls with the value."""
    span = cut(state[2], num, den) if turn > 0 else cut(state[2], den, num)
    return state[0], state[1], span, state[3], state[4], state[5]


def _above(span: Bounds, num: int, den: int) -> Bounds:
    """A span cut off below num / den."""
    return (num, den, span[2], span[3]) if num * span[1] > span[0] * den else span


def _below(span: Bounds, num: int, den: int) -> Bounds:
    """A span cut off above num / den."""
    return (span[0], span[1], num, den) if num * span[3] < span[2] * den else span


def _holds(span: Bounds) -> bool:
    """Whether anything lies between the bounds."""
    return span[0] * span[3] <= span[2] * span[1]


def _as_ways(states: list[_State], turn: int, *, fixed: int, splits: bool) -> list[Way]:
    """Finished states in lowest terms, those that come to the same as one."""
    best: dict[tuple[int, int, Bounds, int, tuple[int, int] | None], tuple[int, ...]] = {}
    for num, den, span, after, system, numbers in states:
        if system is not None:
            common = gcd(*system)
            system = (system[0] // common, system[1] // common)
        den *= fixed
        common = gcd(num, den)
        key = (num // common, den // common, span, after * fixed if splits else 1, system)
        old = best.get(key)
        if old is None or numbers < old:
            best[key] = numbers
    return [
        Way(*((den, num) if turn > 0 else (num, den)), span, after, system, numbers)
        for (num, den, span, after, system), numbers in best.items()
    ]
