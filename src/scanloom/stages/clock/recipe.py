"""A setting of a chain in words and in register values."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from scanloom.handbook.clock_chain import ClockChain, ClockStep


def write_recipe(chain: ClockChain, values: Sequence[Fraction]) -> str:
    """Sum that leads from the reference to the pixel rate.

    Parameters
    ----------
    chain : ClockChain
        The chain.
    values : sequence of Fraction
        Value of each step, in order. [1]

    Returns
    -------
    str
        Such as `12 MHz / 2 x 235 / (7 x 2) = 100.714 MHz, / 4`: what stands before the comma is the system clock or, in
        a chain without one, the rate into the last divider.

    References
    ----------
    [wording] The project's own.
    """
    pause = _pause(chain)
    rate, parts, divides = chain.reference, [_rate_words(chain.reference)], []
    for i, (step, value) in enumerate(zip(chain.steps, values, strict=True)):
        if step.op == "divide":
            rate /= value
            divides.append(_factor_words(step, value))
        else:
            rate *= value
            parts += [_divide_words(divides), "" if value == 1 else f"x {_factor_words(step, value)}"]
            divides = []
        if i == pause:
            parts += [_divide_words(divides), f"= {_rate_words(rate)},"]
            divides = []
    if chain.fixed > 1:
        divides.append(str(chain.fixed))
    last = _divide_words(divides)
    if not last and pause is not None:
        last = "/ 1"
    return " ".join(part for part in [*parts, last] if part)


def register_values(chain: ClockChain, values: Sequence[Fraction]) -> tuple[tuple[str, int | str], ...]:
    """What goes into the registers of a chain.

    Parameters
    ----------
    chain : ClockChain
        The chain.
    values : sequence of Fraction
        Value of each step, in order. [1]

    Returns
    -------
    tuple of (str, int or str)
        Name of each step with its register as an integer, or as `5+71/256` where a whole and a fraction are apart.

    References
    ----------
    [chain] `register_first` of each step.
    """
    return tuple((step.name, _register(step, value)) for step, value in zip(chain.steps, values, strict=True))


def _register(step: ClockStep, value: Fraction) -> int | str:
    """What the register of one step holds for a value."""
    if step.register_first is not None:
        return step.register_first + int(value * step.per - step.first) // step.step
    whole, part, per = _split(step, value)
    return f"{whole}+{part}/{per}" if part else whole


def _split(step: ClockStep, value: Fraction) -> tuple[int, int, int]:
    """Whole part, numerator and denominator of the fraction; an accumulator's fraction is not reduced."""
    per = value.denominator if step.edges == "pattern" else step.per
    whole, part = divmod(int(value * per), per)
    return whole, part, per


def _factor_words(step: ClockStep, value: Fraction) -> str:
    """A value as a factor of a sum."""
    whole, part, per = _split(step, value)
    return f"({whole} + {part}/{per})" if part else str(whole)


def _divide_words(factors: Sequence[str]) -> str:
    """Dividers in a row as one divide; those by 1 left out."""
    told = [factor for factor in factors if factor != "1"]
    if not told:
        return ""
    return f"/ {told[0]}" if len(told) == 1 else f"/ ({' x '.join(told)})"


def _rate_words(rate_hz: Fraction) -> str:
    """A rate to three decimals, in megahertz where it reaches one."""
    unit, name = (10**6, "MHz") if rate_hz >= 10**6 else (10**3, "kHz")
    words = f"{float(rate_hz / unit):.3f}"
    return f"{words.rstrip('0').rstrip('.')} {name}"


def _pause(chain: ClockChain) -> int | None:
    """Step after which the running rate is told: the rated one, else the one before the last divider."""
    last = len(chain.steps) - 1
    for i, step in enumerate(chain.steps):
        if step.rated:
            return i
    return last - 1 if last > 0 and chain.steps[last].op == "divide" else None
