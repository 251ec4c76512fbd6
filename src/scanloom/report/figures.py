"""Numbers and units the way the trade writes them."""

from __future__ import annotations

import math

from scanloom.basis.verdict import Amount, Verdict

_STEPS: dict[str, tuple[tuple[float, str], ...]] = {
    "Hz": ((1e6, "MHz"), (1e3, "kHz"), (1.0, "Hz")),
    "A": ((1.0, "A"), (1e-3, "mA"), (1e-6, "uA")),
    "s": ((1.0, "s"), (1e-3, "ms"), (1e-6, "us"), (1e-9, "ns")),
    "ohm": ((1e6, "Mohm"), (1e3, "kohm"), (1.0, "ohm")),
    "B/s": ((1e6, "MB/s"), (1e3, "kB/s"), (1.0, "B/s")),
    "W": ((1.0, "W"), (1e-3, "mW")),
    "F": ((1e-6, "uF"), (1e-9, "nF"), (1e-12, "pF")),
    "V/s": ((1e6, "V/us"), (1.0, "V/s")),
}
_PLACES = {"V": 3, "LSB": 3, "ppm": 1, "degC": 0, "%": 1, "pixel": 3}
_WHOLE = frozenset({"rows", "lines", "lanes", "frames", "crossings", "entries", "B"})


def figure(value: float, unit: str) -> str:
    """One number with its unit.

    Parameters
    ----------
    value : float
        The number in the base unit. [unit]
    unit : str
        Base unit.

    Returns
    -------
    str
        Text such as ``12.5875 MHz``.
    """
    factor, word = _scale(abs(value), unit)
    return f"{_digits(value / factor, unit)} {word}".rstrip()


def amount(one: Amount) -> str:
    """Up to three numbers with one unit.

    Parameters
    ----------
    one : Amount
        A found value or a limit. [unit]

    Returns
    -------
    str
        ``0.682 .. 0.717 .. 0.755 V``; equal numbers once.
    """
    numbers = [x for x in (one.low, one.typical, one.high) if x is not None]
    if not numbers:
        return ""
    factor, word = _scale(max(abs(x) for x in numbers), one.unit)
    texts: list[str] = []
    for number in numbers:
        text = _digits(number / factor, one.unit)
        if text not in texts:
            texts.append(text)
    return f"{' .. '.join(texts)} {word}".rstrip()


def limit(one: Amount) -> str:
    """A limit in words.

    Parameters
    ----------
    one : Amount
        The limit. [unit]

    Returns
    -------
    str
        ``at most``, ``at least`` or the band.
    """
    if one.low is None and one.high is not None:
        return f"at most {figure(one.high, one.unit)}"
    if one.high is None and one.low is not None:
        return f"at least {figure(one.low, one.unit)}"
    return amount(Amount(one.low, None, one.high, one.unit))


def is_tight(verdict: Verdict, least: float) -> bool:
    """Whether a check holds with little room.

    Parameters
    ----------
    verdict : Verdict
        The check.
    least : float
        Margin below which it is tight. [1]

    Returns
    -------
    bool
        False for what does not hold, and for limits that are met whole or not at all.
    """
    if verdict.state != "holds" or verdict.margin is None or verdict.found is None:
        return False
    return verdict.margin < least and verdict.found.unit not in ("lines", "crossings")


def _scale(size: float, unit: str) -> tuple[float, str]:
    """Factor and word of the step that suits a size."""
    steps = _STEPS.get(unit)
    if steps is None or size == 0:
        return 1.0, "" if unit == "1" else unit
    for factor, word in steps:
        if size >= factor * 0.9995:
            return factor, word
    return steps[-1]


def _digits(value: float, unit: str) -> str:
    """As many digits as say something: counts whole, the rest with three or more that count."""
    if unit in _WHOLE and value == int(value):
        return f"{int(value)}"
    if unit in _PLACES:
        return f"{value:.{_PLACES[unit]}f}"
    if value == 0:
        return "0"
    places = 6 if unit == "Hz" else max(0, 3 - math.floor(math.log10(abs(value))) - 1)
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
