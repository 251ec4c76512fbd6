"""Quantities as text: read exactly, once, at the door."""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation

from scanloom.basis.record import record
from scanloom.basis.span import Span
from scanloom.basis.unit_table import EXAMPLES, UNITS

_MOST_EXPONENT = 12
_MOST_DIGITS = 24
_MOST_CHARACTERS = 400
_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_LETTER_AS_POINT = re.compile(r"(\d+)([RrkKM])(\d*)", re.ASCII)
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf(?:inity)?)\b", re.IGNORECASE)
_DECIMAL_COMMA = re.compile(r"\d,\d")
_DASH = re.compile(r"([\d.]+)\s*[-–]\s*([\d.]+\s*\S*)", re.ASCII)
_PLUS_MINUS = re.compile(r"\s*(?:±|\+/-|\+-)\s*")
_RANGE = re.compile(r"\s*\.\.\s*")


class QuantityError(ValueError):
    """Text that is not a quantity of the wanted kind: says what was given, what is allowed, what to do."""


@record
class ExactSpan:
    """Low, typical and high as exact decimals, as read from text.

    Parameters
    ----------
    low : Decimal
        Smallest value that may occur. [unit]
    typical : Decimal
        Value expected most often. [unit]
    high : Decimal
        Largest value that may occur. [unit]
    """

    low: Decimal
    typical: Decimal
    high: Decimal

    def span(self) -> Span:
        """Bounds as floats, for the sums.

        Returns
        -------
        Span
            Low, typical, high in the base unit. [unit]
        """
        return Span(float(self.low), float(self.typical), float(self.high))


def example(unit: str) -> str:
    """Accepted text of a quantity, for messages.

    Parameters
    ----------
    unit : str
        Base unit, such as ``ohm``.

    Returns
    -------
    str
        Example text.
    """
    return EXAMPLES.get(unit, f"12 {unit}")


def read(text: str, unit: str) -> Decimal:
    """Read one quantity exactly.

    Parameters
    ----------
    text : str
        Number and unit, such as ``25.175 MHz`` or ``4k7``.
    unit : str
        Base unit wanted.

    Returns
    -------
    Decimal
        Value in the base unit. [unit]

    Raises
    ------
    QuantityError
        If the text is no such quantity.

    Examples
    --------
    >>> read("25.175 MHz", "Hz")
    Decimal('25175000')
    >>> read("4k7", "ohm")
    Decimal('4700')

    References
    ----------
    [letter] IEC 60062: letter code for resistance values.
    """
    number, symbol = _number_and_symbol(text, unit)
    return _plain(number * _factor(symbol, text, unit))


def read_span(text: str, unit: str) -> ExactSpan:
    """Read a quantity with its bounds.

    Parameters
    ----------
    text : str
        ``75 ohm``, ``75 ohm ± 2 %``, ``20 .. 40 ohm`` or ``20 .. 28 .. 40 ohm``.
    unit : str
        Base unit wanted.

    Returns
    -------
    ExactSpan
        Low, typical, high; the typical of two numbers is their middle. [unit]

    Raises
    ------
    QuantityError
        If the text is no such quantity or its bounds are out of order.
    """
    spans = read_spans(text, unit)
    if len(spans) != 1:
        raise QuantityError(f"{text!r} lists {len(spans)} values; one is allowed here; write it as '{example(unit)}'")
    return spans[0]


def read_spans(text: str, unit: str) -> tuple[ExactSpan, ...]:
    """Read a list of quantities whose last item carries the unit.

    Parameters
    ----------
    text : str
        ``510, 1000, 2000 ohm ± 1 %``: comma and space between items, the tolerance holds for all.
    unit : str
        Base unit wanted.

    Returns
    -------
    tuple of ExactSpan
        One span an item. [unit]

    Raises
    ------
    QuantityError
        If an item is no such quantity.
    """
    refuse_long(text)
    body, *tolerance = _PLUS_MINUS.split(text.strip())
    if len(tolerance) > 1:
        raise QuantityError(f"{text!r} has two tolerances; one is allowed; write it as '{example(unit)} ± 1 %'")
    _refuse_comma(body, unit)
    if tolerance and not _split(_RANGE.split(body)[-1])[1] and _split(tolerance[0])[1] not in ("", "%"):
        body += f" {_split(tolerance[0])[1]}"  # "75 ± 2 ohm": the unit stands once, behind both
    items = [item.strip() for item in re.split(r",\s+", body)]
    symbol = _last_symbol(items[-1], text, unit)
    spans = tuple(_one_span(item, symbol, text, unit) for item in items)
    return spans if not tolerance else tuple(_toleranced(s, tolerance[0], text, unit) for s in spans)


def _one_span(item: str, symbol: str, text: str, unit: str) -> ExactSpan:
    """One item of a list: a value or a range; the unit stands on the last item only."""
    parts = _RANGE.split(item)
    values: list[Decimal] = []
    for part in parts:
        if _LETTER_AS_POINT.fullmatch(part) and unit == "ohm":
            values.append(read(part, unit))
            continue
        number, own = _split(part)
        values.append(_plain(bounded_number(number, text, unit) * _factor(own or symbol, text, unit)))
    return bounds(values, text, unit)


def bounds(values: list[Decimal], text: str, unit: str) -> ExactSpan:
    """Span of one, two or three numbers in order.

    Parameters
    ----------
    values : list of Decimal
        Numbers as written. [unit]
    text : str
        The whole text, for messages.
    unit : str
        Unit, for messages.

    Returns
    -------
    ExactSpan
        Low, typical, high; the typical of two numbers is their middle. [unit]

    Raises
    ------
    QuantityError
        If there are more than three, or they are not in order.
    """
    if len(values) > 3:
        raise QuantityError(
            f"{text!r} has {len(values)} bounds; two or three are allowed; write '20 .. 28 .. 40 {unit}'"
        )
    if len(values) == 3 and values[0] <= values[2] and values != sorted(values):
        raise QuantityError(
            f"{text!r}: the middle value lies outside the others; bounds go from small to large; put it between"
        )
    if values != sorted(values):
        raise QuantityError(f"{text!r} runs downwards; bounds go from small to large; swap them")
    if len(values) == 1:
        return ExactSpan(values[0], values[0], values[0])
    typical = values[1] if len(values) == 3 else (values[0] + values[1]) / 2
    return ExactSpan(values[0], typical, values[-1])


def _toleranced(span: ExactSpan, tolerance: str, text: str, unit: str) -> ExactSpan:
    """Span widened by a tolerance in percent or in the unit itself."""
    number, symbol = _split(tolerance)
    if not symbol:
        raise QuantityError(f"{text!r} has a tolerance without unit; percent or {unit} is allowed; write '± 1 %'")
    amount = bounded_number(number, text, unit)
    if amount < 0 or (symbol == "%" and amount >= 100):
        raise QuantityError(f"{text!r} has an impossible tolerance; 0 up to 100 % is allowed; write '± 1 %'")
    if symbol == "%":
        return ExactSpan(span.low * (1 - amount / 100), span.typical, span.high * (1 + amount / 100))
    by = amount * _factor(symbol, text, unit)
    return ExactSpan(span.low - by, span.typical, span.high + by)


def _number_and_symbol(text: str, unit: str) -> tuple[Decimal, str]:
    """Number and unit symbol of one quantity, the letter code included."""
    bare = text.strip()
    refuse_long(text)
    _refuse_comma(bare, unit)
    letter = _LETTER_AS_POINT.fullmatch(bare)
    if letter and unit == "ohm":
        whole, code, part = letter.groups()
        return Decimal(f"{whole}.{part or 0}"), {"R": "ohm", "K": "kohm", "M": "Mohm"}[code.upper()]
    number, symbol = _split(bare)
    if not symbol:
        value = bounded_number(number, text, unit)
        raise QuantityError(f"{text!r} has no unit; a number with {unit} is allowed; write it as '{value} {unit}'")
    return bounded_number(number, text, unit), symbol


def _last_symbol(item: str, text: str, unit: str) -> str:
    """Unit symbol of the last item, which serves all items before it."""
    last = _RANGE.split(item)[-1]
    if _LETTER_AS_POINT.fullmatch(last) and unit == "ohm":
        return "ohm"
    number, symbol = _split(last)
    if not symbol:
        value = bounded_number(number, text, unit)
        raise QuantityError(f"{text!r} has no unit; a number with {unit} is allowed; write it as '{value} {unit}'")
    return symbol


def _split(text: str) -> tuple[str, str]:
    """Number part and unit part of a text, either possibly empty."""
    bare = text.strip()
    match = _NUMBER.match(bare) or _NOT_FINITE.match(bare)
    if not match:
        return bare, ""
    return match[0], bare[match.end() :].strip()


def bounded_number(text: str, whole: str, unit: str) -> Decimal:
    """Exact number, bounded in size so that no sum can overflow.

    Parameters
    ----------
    text : str
        The number.
    whole : str
        The text it is from, for messages.
    unit : str
        Unit, for messages.

    Returns
    -------
    Decimal
        The number. [1]

    Raises
    ------
    QuantityError
        If it is no finite number of a size that anybody means.
    """
    if _NOT_FINITE.fullmatch(text.strip()):
        raise QuantityError(
            f"{whole!r} is not a finite number; a plain number is allowed; write it as '{example(unit)}'"
        )
    try:
        value = Decimal(text.strip())
    except InvalidOperation:
        if _NUMBER.fullmatch(text.strip()):  # an exponent beyond what the library holds
            raise QuantityError(
                f"{whole!r} has an absurd size; up to 10^{_MOST_EXPONENT} is allowed; write it as '{example(unit)}'"
            ) from None
        raise QuantityError(
            f"{whole!r} is not a number with a unit; such a quantity is allowed here; write it as '{example(unit)}'"
        ) from None
    if value and (abs(value.adjusted()) > _MOST_EXPONENT or len(value.as_tuple().digits) > _MOST_DIGITS):
        raise QuantityError(
            f"{whole!r} has an absurd size; up to 10^{_MOST_EXPONENT} is allowed; write it as '{example(unit)}'"
        )
    return value


def _factor(symbol: str, text: str, unit: str) -> Decimal:
    """How many base units the symbol stands for."""
    table = UNITS[unit]
    if symbol in table:
        return table[symbol]
    kinds = [kind for kind, known in UNITS.items() if symbol in known]
    if kinds:
        raise QuantityError(
            f"{text!r} is in {kinds[0]}; a value in {unit} is allowed here; write it as '{example(unit)}'"
        )
    dash = _DASH.fullmatch(text.strip())
    if dash:
        raise QuantityError(
            f"{text!r} has a dash between numbers; a span with two dots is allowed; write it as '{dash[1]} .. {dash[2]}'"
        )
    raise QuantityError(
        f"{text!r}: the unit {symbol!r} is not known; {', '.join(list(table)[:5])} are allowed; write it as '{example(unit)}'"
    )


def refuse_long(text: str) -> None:
    """Refuse what no quantity needs, before a message repeats it.

    Parameters
    ----------
    text : str
        Any text.

    Raises
    ------
    QuantityError
        If it is longer than any quantity.
    """
    if len(text) > _MOST_CHARACTERS:
        raise QuantityError(
            f"{text[:40]!r} and so on is {len(text)} characters long; up to {_MOST_CHARACTERS} are allowed; shorten it"
        )


def _refuse_comma(text: str, unit: str) -> None:
    """Refuse a comma between digits: some read it as a point, some as a thousands mark."""
    if _DECIMAL_COMMA.search(text):
        raise QuantityError(
            f"{text!r} has a comma inside a number; a point marks decimals and lists take comma and space; "
            f"write it as '{example(unit)}'"
        )


def _plain(value: Decimal) -> Decimal:
    """Decimal without exponent notation, so that equal values look equal."""
    normal = value.normalize()
    return normal.quantize(Decimal(1)) if normal == normal.to_integral_value() else normal
