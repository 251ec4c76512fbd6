"""Parts as people type them on a command line, and money in any currency."""

from __future__ import annotations

import re
from decimal import Decimal

from scanloom.basis.units import ExactSpan, QuantityError, bounded_number, bounds, read, refuse_long


def read_part(text: str) -> Decimal:
    """Read the value of a resistor as people type it on a command line.

    Parameters
    ----------
    text : str
        ``510``, ``1k``, ``3.9k``, ``3k9``, ``470R`` or ``240 ohm``.

    Returns
    -------
    Decimal
        Resistance, larger than zero. [ohm]

    Raises
    ------
    QuantityError
        If the text is no resistance or not larger than zero.
    """
    bare = text.strip()
    if re.fullmatch(r"[+-]?\d+(\.\d+)?", bare, re.ASCII):
        bare += " ohm"
    elif re.fullmatch(r"\d+(\.\d+)?[kM]", bare, re.ASCII):
        bare = f"{bare[:-1]} {bare[-1]}ohm"
    value = read(bare, "ohm")
    if value <= 0:
        raise QuantityError(f"{text!r} is not larger than zero; a part needs a resistance; write it as '240 ohm'")
    return value


def read_money(text: str) -> tuple[ExactSpan, str]:
    """Read an amount of money in any currency word.

    Parameters
    ----------
    text : str
        ``8.00 crowns`` or ``6 .. 14 crowns``.

    Returns
    -------
    tuple
        The span and the currency word. [currency]

    Raises
    ------
    QuantityError
        If the number or the currency word is missing.
    """
    refuse_long(text)
    match = re.fullmatch(r"(?P<body>.*?)\s*(?P<word>[^\W\d_]+|[€$£])", text.strip())
    if not match:
        raise QuantityError(
            f"{text!r} is not an amount of money; a number and a currency word are; write '8.00 crowns'"
        )
    word = match["word"]
    numbers = [bounded_number(part, text, word) for part in re.split(r"\s*\.\.\s*", match["body"])]
    return bounds(numbers, text, word), word
